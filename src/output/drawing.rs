//! A flat drawing that knows nothing of its medium: lines, polygons, circles and text, in mm.
//!
//! x runs to the right, y runs down, the origin is the upper left corner. Every picture and every
//! page is one of these; SVG, PNG and PDF are three ways to write it down.

use super::font;

/// A place on the drawing, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pt {
    /// To the right, mm.
    pub x: f64,
    /// Down, mm.
    pub y: f64,
}

/// Short for a [`Pt`].
pub const fn pt(x: f64, y: f64) -> Pt {
    Pt { x, y }
}

impl std::ops::Add for Pt {
    type Output = Pt;
    fn add(self, other: Pt) -> Pt {
        pt(self.x + other.x, self.y + other.y)
    }
}

impl std::ops::Sub for Pt {
    type Output = Pt;
    fn sub(self, other: Pt) -> Pt {
        pt(self.x - other.x, self.y - other.y)
    }
}

impl std::ops::Mul<f64> for Pt {
    type Output = Pt;
    fn mul(self, factor: f64) -> Pt {
        pt(self.x * factor, self.y * factor)
    }
}

impl Pt {
    /// Distance from the origin, mm.
    pub fn length(self) -> f64 {
        self.x.hypot(self.y)
    }
    /// The same direction with length 1; `None` for a vector too short to have a direction.
    pub fn unit(self) -> Option<Pt> {
        let length = self.length();
        (length > 1e-9).then(|| self * (1.0 / length))
    }
    /// A quarter turn (clockwise to the eye, as y runs down).
    pub fn across(self) -> Pt {
        pt(-self.y, self.x)
    }
}

/// A tone of grey, 0 black to 255 white.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Grey(pub u8);

/// A colour that some things get on a drawing in colour. It is never the only thing that tells them
/// apart: a drawing is made for black and white.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tint {
    /// What is to be welded, and what welding does.
    Weld,
    /// The left side of the frame.
    Left,
    /// The right side of the frame.
    Right,
    /// Stop here.
    Stop,
}

impl Tint {
    /// Red, green and blue: a palette that the colour-blind tell apart (Okabe and Ito, 2008), two of its
    /// colours made darker for thin lines on white.
    fn rgb(self) -> [u8; 3] {
        match self {
            Tint::Weld => [0xC0, 0x4A, 0x00],
            Tint::Left => [0x00, 0x72, 0xB2],
            Tint::Right => [0x00, 0x7A, 0x5A],
            Tint::Stop => [0xB0, 0x2A, 0x00],
        }
    }
}

/// What a tone looks like under a tint: black takes its colour, white stays white.
pub fn rgb(Grey(g): Grey, tint: Option<Tint>) -> [u8; 3] {
    let mix = |c: u8| (f64::from(c) + (255.0 - f64::from(c)) * f64::from(g) / 255.0).round() as u8;
    tint.map_or([g; 3], |t| t.rgb().map(mix))
}

/// Black.
pub const BLACK: Grey = Grey(0);
/// White.
pub const WHITE: Grey = Grey(255);

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    /// Width, mm.
    pub width_mm: f64,
    /// Tone.
    pub grey: Grey,
    /// Dash and gap, mm; `None` for a full line.
    pub dash_mm: Option<(f64, f64)>,
}

impl Pen {
    /// A full black line.
    pub const fn black(width_mm: f64) -> Pen {
        Pen { width_mm, grey: BLACK, dash_mm: None }
    }
    /// A full line of another tone.
    pub const fn grey(width_mm: f64, grey: u8) -> Pen {
        Pen { width_mm, grey: Grey(grey), dash_mm: None }
    }
    /// The same line, dashed.
    pub const fn dashed(self, dash_mm: f64, gap_mm: f64) -> Pen {
        Pen { dash_mm: Some((dash_mm, gap_mm)), ..self }
    }
}

/// Which part of a text its place means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Left,
    /// Its middle.
    Middle,
    /// Its right end.
    Right,
}

/// One line of text. Its place is on the base line.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Place of the anchor on the base line.
    pub at: Pt,
    /// The words; characters that the font lacks already replaced.
    pub words: String,
    /// Size of the font (its em), mm.
    pub size_mm: f64,
    /// Which part of it is at the place.
    pub anchor: Anchor,
    /// Bold.
    pub bold: bool,
    /// Tone.
    pub grey: Grey,
}

impl Text {
    /// Black text of normal weight that begins at a place.
    pub fn new(at: Pt, words: impl AsRef<str>, size_mm: f64) -> Text {
        let words = font::printable(words.as_ref()).0;
        Text { at, words, size_mm, anchor: Anchor::Left, bold: false, grey: BLACK }
    }
    /// The same, bold.
    pub fn bold(mut self) -> Text {
        self.bold = true;
        self
    }
    /// The same, with its middle at the place.
    pub fn middle(mut self) -> Text {
        self.anchor = Anchor::Middle;
        self
    }
    /// The same, with its right end at the place.
    pub fn right(mut self) -> Text {
        self.anchor = Anchor::Right;
        self
    }
    /// The same in another tone.
    pub fn grey(mut self, grey: u8) -> Text {
        self.grey = Grey(grey);
        self
    }
    /// Its width, mm.
    pub fn width_mm(&self) -> f64 {
        font::width_mm(&self.words, self.size_mm, self.bold)
    }
    /// Its left end on the base line.
    pub fn start(&self) -> Pt {
        let back = match self.anchor {
            Anchor::Left => 0.0,
            Anchor::Middle => self.width_mm() / 2.0,
            Anchor::Right => self.width_mm(),
        };
        pt(self.at.x - back, self.at.y)
    }
    /// The space that its letters take, from ascenders to descenders.
    pub fn area(&self) -> Area {
        let start = self.start();
        Area {
            left: start.x,
            top: start.y - font::ASCENT * self.size_mm,
            right: start.x + self.width_mm(),
            bottom: start.y + font::DESCENT * self.size_mm,
        }
    }
}

/// One thing on a drawing.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A line through points, or a polygon.
    Path {
        /// Corners.
        points: Vec<Pt>,
        /// Whether the last corner is joined to the first.
        closed: bool,
        /// Outline, if any.
        pen: Option<Pen>,
        /// Filling, if any.
        fill: Option<Grey>,
    },
    /// A circle.
    Circle {
        /// Centre.
        centre: Pt,
        /// Radius, mm.
        r_mm: f64,
        /// Outline, if any.
        pen: Option<Pen>,
        /// Filling, if any.
        fill: Option<Grey>,
    },
    /// A line of text.
    Text(Text),
    /// Things that belong together, with a name by which an output may find them (`J7`).
    Group {
        /// Name, unique on its drawing or empty.
        name: String,
        /// Its colour on a drawing in colour; `None` for that of the group around it.
        tint: Option<Tint>,
        /// What is in it.
        items: Vec<Item>,
    },
}

/// A rectangle along the axes, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Smallest x.
    pub left: f64,
    /// Smallest y.
    pub top: f64,
    /// Largest x.
    pub right: f64,
    /// Largest y.
    pub bottom: f64,
}

impl Area {
    /// The rectangle around a middle.
    pub fn around(middle: Pt, width: f64, height: f64) -> Area {
        Area {
            left: middle.x - width / 2.0,
            top: middle.y - height / 2.0,
            right: middle.x + width / 2.0,
            bottom: middle.y + height / 2.0,
        }
    }
    /// Width, mm.
    pub fn width(&self) -> f64 {
        self.right - self.left
    }
    /// Height, mm.
    pub fn height(&self) -> f64 {
        self.bottom - self.top
    }
    /// Middle.
    pub fn middle(&self) -> Pt {
        pt((self.left + self.right) / 2.0, (self.top + self.bottom) / 2.0)
    }
    /// True if the two share more than a border.
    pub fn overlaps(&self, other: &Area) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }
    /// True if the other lies wholly in this one, give or take `slack` mm.
    pub fn holds(&self, other: &Area, slack: f64) -> bool {
        other.left >= self.left - slack
            && other.right <= self.right + slack
            && other.top >= self.top - slack
            && other.bottom <= self.bottom + slack
    }
    /// The same, larger by `by` mm on each side.
    pub fn grown(&self, by: f64) -> Area {
        Area { left: self.left - by, top: self.top - by, right: self.right + by, bottom: self.bottom + by }
    }
    /// The smallest area that holds both.
    pub fn with(&self, other: &Area) -> Area {
        Area {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }
}

/// A drawing of a given size.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// What it shows, in words, also for those who cannot see it.
    pub title: String,
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// Whether tints are seen.
    pub colour: bool,
    /// What is on it, the first lowest.
    pub items: Vec<Item>,
}

impl Drawing {
    /// An empty drawing.
    pub fn new(title: impl Into<String>, width_mm: f64, height_mm: f64) -> Drawing {
        Drawing { title: title.into(), width_mm, height_mm, colour: false, items: vec![] }
    }
    /// The same drawing in colour or without.
    pub fn in_colour(self, colour: bool) -> Drawing {
        Drawing { colour, ..self }
    }
    /// What `draw` adds, in a tint.
    pub fn tinted(&mut self, tint: Tint, draw: impl FnOnce(&mut Drawing)) {
        let before = self.items.len();
        draw(self);
        let items = self.items.split_off(before);
        self.items.push(Item::Group { name: String::new(), tint: Some(tint), items });
    }
    /// Its whole area.
    pub fn area(&self) -> Area {
        Area { left: 0.0, top: 0.0, right: self.width_mm, bottom: self.height_mm }
    }
    /// A straight line.
    pub fn line(&mut self, from: Pt, to: Pt, pen: Pen) {
        self.path(vec![from, to], pen);
    }
    /// A line through points.
    pub fn path(&mut self, points: Vec<Pt>, pen: Pen) {
        self.items.push(Item::Path { points, closed: false, pen: Some(pen), fill: None });
    }
    /// A polygon.
    pub fn polygon(&mut self, points: Vec<Pt>, pen: Option<Pen>, fill: Option<Grey>) {
        self.items.push(Item::Path { points, closed: true, pen, fill });
    }
    /// A rectangle along the axes.
    pub fn rectangle(&mut self, area: Area, pen: Option<Pen>, fill: Option<Grey>) {
        let corners = vec![
            pt(area.left, area.top),
            pt(area.right, area.top),
            pt(area.right, area.bottom),
            pt(area.left, area.bottom),
        ];
        self.polygon(corners, pen, fill);
    }
    /// A circle.
    pub fn circle(&mut self, centre: Pt, r_mm: f64, pen: Option<Pen>, fill: Option<Grey>) {
        self.items.push(Item::Circle { centre, r_mm, pen, fill });
    }
    /// A line of text.
    pub fn text(&mut self, text: Text) {
        self.items.push(Item::Text(text));
    }
    /// A line with a filled head at its end. The head is `head_mm` long; a line too short for it is
    /// all head.
    pub fn arrow(&mut self, points: &[Pt], head_mm: f64, pen: Pen) {
        let Some((&tip, rest)) = points.split_last() else { return };
        let Some(&before) = rest.last() else { return };
        let Some(along) = (tip - before).unit() else { return };
        let neck = tip - along * head_mm;
        let mut shaft = rest.to_vec();
        // The shaft ends inside the head, so that a thick line does not stick out at the tip.
        if (tip - before).length() > head_mm {
            shaft.push(tip - along * (head_mm * 0.8));
        }
        if shaft.len() > 1 {
            self.path(shaft, pen);
        }
        let side = along.across() * (head_mm * 0.38);
        self.polygon(vec![tip, neck + side, neck - side], None, Some(pen.grey));
    }
    /// Another drawing, put on this one with its upper left corner at a place.
    pub fn place(&mut self, other: &Drawing, at: Pt, scale: f64) {
        let items = other.items.iter().map(|item| moved(item, at, scale)).collect();
        self.items.push(Item::Group { name: String::new(), tint: None, items });
    }
    /// All texts, those in groups too.
    pub fn texts(&self) -> Vec<&Text> {
        let mut found = vec![];
        gather(&self.items, &mut found);
        found
    }
    /// The smallest area that holds all that is drawn; `None` if nothing is.
    pub fn inked(&self) -> Option<Area> {
        extent(&self.items)
    }
}

fn gather<'a>(items: &'a [Item], found: &mut Vec<&'a Text>) {
    for item in items {
        match item {
            Item::Text(text) => found.push(text),
            Item::Group { items, .. } => gather(items, found),
            _ => {}
        }
    }
}

fn extent(items: &[Item]) -> Option<Area> {
    let mut all: Option<Area> = None;
    let mut add = |area: Area| all = Some(all.map_or(area, |a| a.with(&area)));
    for item in items {
        match item {
            Item::Path { points, pen, .. } => {
                let half = pen.map_or(0.0, |p| p.width_mm / 2.0);
                for p in points {
                    add(Area::around(*p, 2.0 * half, 2.0 * half));
                }
            }
            Item::Circle { centre, r_mm, pen, .. } => {
                let size = 2.0 * r_mm + pen.map_or(0.0, |p| p.width_mm);
                add(Area::around(*centre, size, size));
            }
            Item::Text(text) => add(text.area()),
            Item::Group { items, .. } => {
                if let Some(area) = extent(items) {
                    add(area);
                }
            }
        }
    }
    all
}

fn moved(item: &Item, at: Pt, scale: f64) -> Item {
    let to = |p: &Pt| *p * scale + at;
    // Line widths do not scale: a thin line stays thin enough and thick enough to print.
    match item {
        Item::Path { points, closed, pen, fill } => {
            Item::Path { points: points.iter().map(to).collect(), closed: *closed, pen: *pen, fill: *fill }
        }
        Item::Circle { centre, r_mm, pen, fill } => {
            Item::Circle { centre: to(centre), r_mm: r_mm * scale, pen: *pen, fill: *fill }
        }
        Item::Text(text) => {
            Item::Text(Text { at: to(&text.at), size_mm: text.size_mm * scale, ..text.clone() })
        }
        Item::Group { name, tint, items } => Item::Group {
            name: name.clone(),
            tint: *tint,
            items: items.iter().map(|i| moved(i, at, scale)).collect(),
        },
    }
}
