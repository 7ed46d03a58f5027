//! The tack half of a plan as a sheet of its own: from loose tubes in the fixture to a tacked frame
//! that measures right.

use super::fill::{Say, row, title};
use super::sheet::{Block, Column, Sheet, Table};
use super::understood::shape_in;
use super::view::View;
use super::{facts, pictures, places};
use crate::plan::{Act, Line, WeldPlan};
use crate::units;

/// A gap that has opened by more than this where a tack is to be laid is worth a word, mm (common
/// practice, no source).
const OPEN_WORTH_A_WORD_MM: f64 = 0.5;

/// The lines of a plan up to the first pass: clamps, vents, tacks, the reading as tacked.
pub fn lines(plan: &WeldPlan) -> &[Line] {
    let end = plan.lines.iter().position(|l| matches!(l.act, Act::Pass { .. } | Act::Turn { .. }));
    // A wait before the first pass belongs to the weld-out.
    let mut end = end.unwrap_or(plan.lines.len());
    while end > 0 && matches!(plan.lines[end - 1].act, Act::Wait { .. }) {
        end -= 1;
    }
    &plan.lines[..end]
}

/// The sheet. `date` is printed as given.
pub fn sheet(plan: &WeldPlan, date: &str) -> Sheet {
    let mut sheet = Sheet::new(title(plan, date), &facts::facts(plan));
    sheet.cover = cover(plan);
    sheet.rows = lines(plan).iter().map(|l| row(plan, l)).collect();
    sheet.further = further(plan);
    super::units::put(&mut sheet, plan.frame.units);
    sheet
}

fn cover(plan: &WeldPlan) -> Vec<Block> {
    let mut out = vec![Block::Words(summary(plan)), Block::Words(HOW_IT_HOLDS.into())];
    for m in plan.remarks.iter().filter(|m| m.first || matches!(m.code.as_str(), "W325" | "W326")) {
        out.push(Block::Words(m.text.clone()));
    }
    out.push(Block::Table(tubes(plan)));
    out.push(Block::Words(
        "Lengths are those of the centre lines: add what the notch needs, fit, and keep the centre line. The axes are X, Y \
         and Z of the frame; the small cross beside each view of it shows where they point."
            .into(),
    ));
    if !plan.frame.controls.is_empty() {
        out.push(Block::Table(controls(plan)));
        out.push(Block::Words(
            "Tacks: what tacking is predicted to change, clamps off and cold. Tacks and welds: the same after the \
             weld-out of this plan. Give or take: one standard deviation of that. Set to: what to set in the fixture \
             before the first tack, against nominal; it takes up tacks and welds together. Write down what you read \
             as tacked: the weld-out starts from there."
                .into(),
        ));
        out.push(Block::Table(places::measured(plan)));
        out.extend(super::build_to::blocks(plan));
    }
    out.extend(places::blocks(plan));
    out.push(Block::Words(places::CLOCK.into()));
    for view in [View::ThreeQuarter, View::Top] {
        out.push(Block::Picture {
            drawing: pictures::weld_map(plan, view, (180.0, pictures::height(plan, view, 180.0, 110.0))),
            caption: format!("Where the joints are, {}", view.word()),
        });
    }
    out
}

/// How tacks hold, for a person with a loose tube in the hand.
const HOW_IT_HOLDS: &str = "One tack: the tube swings about it. Two: it hinges about the line through them. Three, not on \
    one line: it holds. The words under a tack say what can still move when it is laid; push it true then, not later. \
    A cracked tack is ground out and laid again, never welded over.";

fn summary(plan: &WeldPlan) -> String {
    let tacks = plan.tacks.as_ref().map_or(0, |t| t.tacks.len());
    let t = plan.tacking.clone().unwrap_or_default();
    let wait: f64 = t.wait_s.iter().sum();
    let datum = crate::tack::datum(&plan.frame, &plan.joints);
    format!(
        "Tacks only, from loose tubes: {tacks} tacks on {} seams, about {} from the first to the last, of that {} waiting. \
         Start at {}, go outwards, left and right in turn; first two tacks opposite each other on every seam, then check, \
         then the two between. The weld-out of plan {} follows on a sheet of its own.",
        plan.seams.seams.len(),
        units::time(t.end_s),
        units::time(wait),
        plan.joints.joints.get(datum).map_or("the first joint", |j| j.name.as_str()),
        plan.plan_id
    )
}

/// The tubes in the order in which their first tack comes, with what they land on.
fn tubes(plan: &WeldPlan) -> Table {
    let mut order: Vec<usize> = Vec::new();
    for t in plan.tacks.iter().flat_map(|t| &t.tacks) {
        let m = &plan.joints.meets[t.seam];
        for tube in m.carriers.iter().map(|c| c.0).chain([m.branch.0]) {
            if !order.contains(&tube) {
                order.push(tube);
            }
        }
    }
    let rows = order
        .iter()
        .map(|&tube| {
            let t = &plan.frame.tubes[tube];
            let seams: Vec<&str> = (0..plan.seams.seams.len())
                .filter(|&s| plan.joints.meets[s].branch.0 == tube)
                .map(|s| plan.seams.seams[s].name.as_str())
                .collect();
            let section = &plan.frame.sections[t.section];
            vec![
                t.name.clone(),
                shape_in(&section.shape, plan.frame.units),
                plan.frame.materials[section.material].name.clone(),
                units::trim(t.s.last().copied().unwrap_or(0.0), 0),
                if seams.is_empty() { "runs through".into() } else { seams.join(" ") },
            ]
        })
        .collect();
    Table {
        title: "Tubes in the order in which they are tacked (length of the centre line)".into(),
        columns: vec![
            Column::words("Tube"),
            Column::words("Section"),
            Column::words("Material"),
            Column::numbers("Length mm"),
            Column::words("Its ends are seams"),
        ],
        rows,
    }
}

fn controls(plan: &WeldPlan) -> Table {
    let tacking = plan.tacking.clone().unwrap_or_default();
    let rows = plan
        .frame
        .controls
        .iter()
        .enumerate()
        .map(|(r, c)| {
            let say = Say::of(c, plan.frame.units);
            let tacks = tacking.pull.get(r);
            let all = plan.pull.controls.get(r);
            let signed = |v: Option<f64>| v.map_or("–".into(), |v| say.change(v));
            vec![
                c.name.clone(),
                say.nominal(c.nominal),
                say.band(c.tolerance, 2),
                signed(tacks.map(|p| p.pull)),
                tacks.map_or("–".into(), |p| say.band(p.scatter, say.digits)),
                signed(all.map(|p| p.pull)),
                signed(all.map(|p| p.set_to)),
                say.unit.into(),
            ]
        })
        .collect();
    let mut columns = vec![Column::words("Control")];
    columns.extend(
        ["Nominal", "Tol. ±", "Tacks", "Give or take", "Tacks and welds", "Set to"].map(Column::numbers),
    );
    columns.push(Column::write("Tacked"));
    Table { title: "Dimensions that must come out true".into(), columns, rows }
}

/// Where the tack defaults are from.
pub fn about_the_defaults(plan: &WeldPlan) -> String {
    let mut from: Vec<&str> = Vec::new();
    for n in plan.tacking.iter().flat_map(|t| &t.numbers) {
        for f in [n.length_from, n.number_from] {
            if !from.contains(&f) {
                from.push(f);
            }
        }
    }
    format!(
        "Length and number: {}. Arc time and heat: the tack laid like a short pass, with the settings of its seam's first \
         layer (assumption); heat is net, the efficiency of the process included. A tack pulls less than a pass for each \
         of its millimetres, because the heat of a short bead flows off all round: worked out from the widths that the \
         two heat (assumption, conduction in thin plate). Tacks are no thinner than the root run and of the same filler \
         (makers' advice).",
        from.join("; ")
    )
}

/// The tack defaults in use.
pub fn defaults(plan: &WeldPlan) -> Table {
    let rows = plan
        .tacking
        .iter()
        .flat_map(|t| &t.numbers)
        .map(|n| {
            let s = &plan.passes.settings[n.settings];
            let section = &plan.frame.sections[n.section];
            let length = if n.length_mm < n.rule_mm - 1e-9 {
                format!("{} (rule {})", units::trim(n.length_mm, 0), units::trim(n.rule_mm, 0))
            } else {
                units::trim(n.length_mm, 0)
            };
            vec![
                format!(
                    "{}, {}",
                    shape_in(&section.shape, plan.frame.units),
                    plan.frame.materials[section.material].name
                ),
                format!("{} on {}", units::trim(n.walls_mm[0], 1), units::trim(n.walls_mm[1], 1)),
                n.number.to_string(),
                length,
                units::trim(n.arc_s, 1),
                units::trim(n.heat_j / 1000.0, 1),
                format!("{} · {} A · {} V", s.process, units::trim(s.amps, 0), units::trim(s.volts, 1)),
                n.seams.iter().map(|&s| plan.seams.seams[s].name.as_str()).collect::<Vec<_>>().join(" "),
            ]
        })
        .collect();
    Table {
        title: "Tack defaults in use".into(),
        columns: vec![
            Column::words("Branch"),
            Column::words("Walls mm"),
            Column::numbers("Each seam"),
            Column::numbers("mm long"),
            Column::numbers("Arc s"),
            Column::numbers("kJ"),
            Column::words("Settings"),
            Column::words("Seams"),
        ],
        rows,
    }
}

fn further(plan: &WeldPlan) -> Vec<Block> {
    let mut out = vec![Block::Table(defaults(plan)), Block::Words(about_the_defaults(plan))];
    let rest: Vec<&str> = plan
        .remarks
        .iter()
        .filter(|m| !m.first && m.code.starts_with("W6"))
        .map(|m| m.text.as_str())
        .collect();
    if !rest.is_empty() {
        out.push(Block::Heading("What the program noticed about the tacks".into()));
        out.extend(rest.into_iter().map(|t| Block::Words(t.into())));
    }
    out.push(Block::Heading("Seams close up".into()));
    for seam in 0..plan.seams.seams.len() {
        out.push(Block::Picture { drawing: pictures::tacks_close_up(plan, seam), caption: String::new() });
    }
    out
}

/// Length and arc time of a tack, `8 mm long, 3 s`.
pub(super) fn how(plan: &WeldPlan, seam: usize, length_mm: f64) -> String {
    let first = plan.passes.passes.iter().find(|p| p.seam == seam);
    let speed = first.map(|p| plan.passes.settings[p.settings].speed_mm_s);
    let time = speed.map_or(String::new(), |v| format!(", {} s", units::trim(length_mm / v, 0)));
    format!("{} mm long{time}", units::trim(length_mm, 0))
}

/// The tubes that come in with a tack: no clamp holds them, and no earlier tack.
fn put_in(plan: &WeldPlan, tack: usize) -> Vec<usize> {
    let Some(tacks) = &plan.tacks else { return vec![] };
    let tubes = |seam: usize| {
        let m = &plan.joints.meets[seam];
        m.carriers.iter().map(|c| c.0).chain([m.branch.0])
    };
    let earlier = |t: usize| tacks.tacks[..tack].iter().any(|k| tubes(k.seam).any(|o| o == t));
    let clamped = |t: usize| plan.frame.clamps.iter().any(|c| c.tube == t);
    tubes(tacks.tacks[tack].seam).filter(|&t| !earlier(t) && !clamped(t)).collect()
}

/// What a tack holds and what can still move, and whether its gap has opened.
pub(super) fn note(plan: &WeldPlan, seam: usize, tack: usize) -> String {
    let (Some(tacks), Some(tacking)) = (&plan.tacks, &plan.tacking) else { return String::new() };
    let Some(i) = tacks.tacks.iter().position(|t| t.seam == seam && t.number == tack) else {
        return String::new();
    };
    let mut words = tacking.notes.get(i).cloned().unwrap_or_default();
    let loose: Vec<&str> = put_in(plan, i).into_iter().map(|t| plan.frame.tubes[t].name.as_str()).collect();
    if !loose.is_empty() {
        words = match words.as_str() {
            "" => format!("put {} in", loose.join(" and ")),
            w => format!("put {} in; {w}", loose.join(" and ")),
        };
    }
    // Only before the first tack of a seam can it still be pushed together.
    if let Some(open) = tacking.opening_mm.get(i).filter(|o| tack == 1 && **o > OPEN_WORTH_A_WORD_MM) {
        let gap = format!(
            "the earlier tacks have opened the gap here by {} mm: push it together first",
            units::trim(*open, 1)
        );
        words = if words.is_empty() { gap } else { format!("{gap}; {words}") };
    }
    words
}
