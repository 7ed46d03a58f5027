//! Finds room for labels on a drawing, so that none covers another or leaves the drawing.

use super::drawing::{Area, Pt, pt};

/// A label that wants a place near the point it belongs to.
#[derive(Debug, Clone, PartialEq)]
pub struct Tag {
    /// The point that it belongs to.
    pub anchor: Pt,
    /// Room that it needs.
    pub width: f64,
    /// Room that it needs.
    pub height: f64,
}

/// Where labels may go and what they should leave free.
#[derive(Debug, Clone)]
pub struct Room {
    /// No label leaves this.
    pub area: Area,
    /// No label covers any of these.
    pub taken: Vec<Area>,
    /// Points that labels had better not cover: samples of the lines on the drawing.
    pub busy: Vec<Pt>,
    /// No label is farther from its point than this, mm.
    pub reach_mm: f64,
}

/// Space kept free between labels, mm.
const APART_MM: f64 = 0.7;

/// Places labels one after another, each where it costs least; `None` for one that finds no room
/// within reach. Labels are placed in the order of how crowded their points are, so that those with
/// little choice choose first; the answer is in the order given.
pub fn place(tags: &[Tag], room: &Room) -> Vec<Option<Area>> {
    let crowd = |t: &Tag| {
        let near = |o: &&Tag| (o.anchor - t.anchor).length() < 25.0;
        tags.iter().filter(near).count()
    };
    let mut order: Vec<(usize, usize)> = tags.iter().map(crowd).zip(0..).collect();
    order.sort_by_key(|(crowd, index)| (usize::MAX - crowd, *index));
    let busy = Busy::new(&room.busy, room.area);
    let mut placed: Vec<Option<Area>> = vec![None; tags.len()];
    let mut leaders: Vec<(Pt, Pt)> = vec![];
    for (_, index) in order {
        let tag = &tags[index];
        let mut best: Option<(f64, Area)> = None;
        for spot in spots(tag, room.reach_mm) {
            if !room.area.holds(&spot, 0.0) {
                continue;
            }
            let wide = spot.grown(APART_MM);
            if room.taken.iter().chain(placed.iter().flatten()).any(|a| a.overlaps(&wide)) {
                continue;
            }
            let leader = (tag.anchor, spot.middle());
            let crossed = leaders.iter().filter(|l| cross(**l, leader)).count();
            let covered = placed.iter().flatten().filter(|a| passes(leader, a)).count();
            let hides = tags.iter().filter(|t| wide.overlaps(&Area::around(t.anchor, 0.5, 0.5))).count();
            let cost = (spot.middle() - tag.anchor).length()
                + 1.2 * busy.count(&spot)
                + 14.0 * crossed as f64
                + 20.0 * covered as f64
                + 10.0 * hides as f64;
            if best.is_none_or(|(least, _)| cost < least) {
                best = Some((cost, spot));
            }
        }
        if let Some((_, spot)) = best {
            leaders.push((tag.anchor, spot.middle()));
            placed[index] = Some(spot);
        }
    }
    placed
}

/// Places around a point, near ones first.
fn spots(tag: &Tag, reach: f64) -> Vec<Area> {
    let mut spots = vec![];
    let mut r = 3.0;
    while r <= reach {
        let count = if r < 30.0 { 24 } else { 40 };
        for i in 0..count {
            let (sin, cos) = (f64::from(i) / f64::from(count) * std::f64::consts::TAU).sin_cos();
            // The nearest border is at distance r, whatever the label's shape.
            let off = pt(cos * (r + tag.width / 2.0), sin * (r + tag.height / 2.0));
            spots.push(Area::around(tag.anchor + off, tag.width, tag.height));
        }
        r *= 1.3;
    }
    spots
}

/// How many busy points lie in an area, by counting in a grid of 1 mm.
struct Busy {
    origin: Pt,
    columns: usize,
    rows: usize,
    cells: Vec<bool>,
}

impl Busy {
    fn new(points: &[Pt], area: Area) -> Busy {
        let (columns, rows) = (area.width().ceil().max(1.0) as usize, area.height().ceil().max(1.0) as usize);
        let mut busy =
            Busy { origin: pt(area.left, area.top), columns, rows, cells: vec![false; columns * rows] };
        for p in points {
            let (x, y) = ((p.x - busy.origin.x).floor(), (p.y - busy.origin.y).floor());
            if x >= 0.0 && y >= 0.0 && (x as usize) < columns && (y as usize) < rows {
                busy.cells[y as usize * columns + x as usize] = true;
            }
        }
        busy
    }
    fn count(&self, area: &Area) -> f64 {
        let cell = |v: f64, most: usize| v.floor().clamp(0.0, most as f64 - 1.0) as usize;
        let x =
            cell(area.left - self.origin.x, self.columns)..=cell(area.right - self.origin.x, self.columns);
        let y = cell(area.top - self.origin.y, self.rows)..=cell(area.bottom - self.origin.y, self.rows);
        y.map(|y| x.clone().filter(|x| self.cells[y * self.columns + x]).count()).sum::<usize>() as f64
    }
}

/// Whether two lines cross.
fn cross((a, b): (Pt, Pt), (c, d): (Pt, Pt)) -> bool {
    let turn = |p: Pt, q: Pt, r: Pt| (q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x);
    turn(a, b, c) * turn(a, b, d) < 0.0 && turn(c, d, a) * turn(c, d, b) < 0.0
}

/// Whether a line goes through an area, looked at in twelve places.
fn passes((a, b): (Pt, Pt), area: &Area) -> bool {
    (0..=12).any(|i| {
        let p = a + (b - a) * (f64::from(i) / 12.0);
        p.x > area.left && p.x < area.right && p.y > area.top && p.y < area.bottom
    })
}

/// Where the line from a point to a label's middle enters the label.
pub fn leader_end(anchor: Pt, area: &Area) -> Pt {
    let middle = area.middle();
    let d = anchor - middle;
    let reach = |d: f64, half: f64| if d.abs() < 1e-9 { f64::INFINITY } else { half / d.abs() };
    let t = reach(d.x, area.width() / 2.0).min(reach(d.y, area.height() / 2.0)).min(1.0);
    middle + d * t
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crowded_labels_share_the_room_without_touching() {
        let area = Area { left: 0.0, top: 0.0, right: 120.0, bottom: 80.0 };
        let tags: Vec<Tag> = (0..40)
            .map(|i| Tag {
                anchor: pt(55.0 + f64::from(i % 8), 35.0 + f64::from(i / 8)),
                width: 10.0,
                height: 6.0,
            })
            .collect();
        let room = Room { area, taken: vec![], busy: vec![], reach_mm: 200.0 };
        let placed = place(&tags, &room);
        assert!(placed.iter().all(Option::is_some));
        let placed: Vec<Area> = placed.into_iter().flatten().collect();
        for (i, a) in placed.iter().enumerate() {
            assert!(area.holds(a, 0.0));
            assert!(placed[..i].iter().all(|b| !a.overlaps(b)));
        }
    }

    #[test]
    fn a_label_without_room_says_so() {
        let area = Area { left: 0.0, top: 0.0, right: 12.0, bottom: 8.0 };
        let tags = vec![Tag { anchor: pt(6.0, 4.0), width: 10.0, height: 6.0 }; 2];
        let room = Room { area, taken: vec![], busy: vec![], reach_mm: 50.0 };
        assert!(place(&tags, &room).iter().filter(|p| p.is_some()).count() < 2);
    }
}
