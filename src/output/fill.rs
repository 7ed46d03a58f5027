//! From a plan to its sheet: every word and number that a person gets to see.

use super::facts;
use super::pictures;
use super::places;
use super::sheet::{Block, CheckRow, Column, Reading, RowKind, Sheet, Table, Title};
use super::tack_sheet;
use super::understood::count;
use super::view::View;
use crate::frame::Control;
use crate::plan::{Act, Line, WeldPlan};
use crate::units::{self, Units};

/// The sheet of a plan. `date` is printed as given; an empty one leaves the place free.
pub fn sheet(plan: &WeldPlan, date: &str) -> Sheet {
    let mut sheet = Sheet::new(title(plan, date), &facts::facts(plan));
    sheet.cover = cover(plan);
    sheet.rows = plan.lines.iter().map(|l| row(plan, l)).collect();
    sheet.further = further(plan);
    super::units::put(&mut sheet, plan.frame.units);
    sheet
}

/// What stands at the head of each page of a plan's sheets.
pub(super) fn title(plan: &WeldPlan, date: &str) -> Title {
    Title {
        frame: plan.frame.name.clone(),
        plan_id: plan.plan_id.clone(),
        revision: plan.revision,
        date: date.into(),
        program: format!("holdtrue {}", env!("CARGO_PKG_VERSION")),
        find_again: format!("{} {} seed {}", plan.frame.name, plan.plan_id, plan.seed),
    }
}

fn cover(plan: &WeldPlan) -> Vec<Block> {
    let mut out = vec![Block::Words(summary(plan))];
    if !plan.frame.rules.balance {
        out.push(Block::Words("Side balance is off, as the frame file asks.".into()));
    } else if plan.joints.symmetry.is_none() {
        out.push(Block::Words(
            "Side balance is off: the frame has no plane of symmetry, so no weld is on the left or on the right.".into(),
        ));
    }
    for m in plan.remarks.iter().filter(|m| m.first) {
        out.push(Block::Words(m.text.clone()));
    }
    if plan.pull.level == "none" && !plan.frame.controls.is_empty() {
        out.push(Block::Table(plain_controls(plan)));
    } else if !plan.frame.controls.is_empty() {
        out.push(Block::Table(controls(plan)));
        out.push(Block::Words(
            "Pull: what welding is predicted to change. Give or take: one standard deviation, before this shop has \
             calibrated the model. Set to: what to set in the fixture beforehand, against nominal. Left: what then \
             remains. Differences smaller than the give-or-take are no real differences."
                .into(),
        ));
        out.extend(super::build_to::blocks(plan));
    }
    out.push(Block::Words(places::CLOCK.into()));
    for view in [View::ThreeQuarter, View::Side, View::Top, View::Front] {
        out.push(Block::Picture {
            drawing: pictures::weld_map(plan, view, (180.0, pictures::height(plan, view, 180.0, 110.0))),
            caption: format!("Weld map, {}", view.word()),
        });
    }
    out
}

fn summary(plan: &WeldPlan) -> String {
    let p = &plan.passes.passes;
    let arc: f64 = p.iter().map(|p| p.arc_s).sum();
    let wait: f64 = plan.timeline.wait_s.iter().sum();
    let turns = plan.turns();
    format!(
        "{}, {}, {}. {:.2} m of weld, {:.0} g of filler. Arc time {}, from first arc to last {}, of \
         that {} waiting. {}",
        count(plan.joints.joints.len(), "joint", "joints"),
        count(plan.seams.seams.len(), "seam", "seams"),
        count(p.len(), "pass", "passes"),
        plan.seams.seams.iter().map(|s| s.length_mm).sum::<f64>() / 1000.0,
        p.iter().map(|p| p.filler_g).sum::<f64>(),
        units::time(arc),
        units::time(plan.timeline.end_s),
        units::time(wait),
        match turns {
            0 => "The frame is not turned.".to_string(),
            1 => "The frame is turned once.".to_string(),
            n => format!("The frame is turned {n} times."),
        }
    )
}

/// The dimensions of a frame whose pull is not predicted: only what to read.
fn plain_controls(plan: &WeldPlan) -> Table {
    let columns = vec![
        Column::words("Control"),
        Column::numbers("Nominal"),
        Column::numbers("Tol. ±"),
        Column::write("Tacked"),
        Column::write("Welded"),
    ];
    let rows = plan
        .frame
        .controls
        .iter()
        .map(|c| {
            let say = Say::of(c, plan.frame.units);
            vec![
                c.name.clone(),
                say.nominal(c.nominal),
                say.band(c.tolerance, 2),
                say.unit.into(),
                say.unit.into(),
            ]
        })
        .collect();
    Table { title: "Dimensions that must come out true".into(), columns, rows }
}

fn controls(plan: &WeldPlan) -> Table {
    let mut columns = vec![Column::words("Control")];
    columns.extend(["Nominal", "Tol. ±", "Pull", "Give or take", "Set to", "Left"].map(Column::numbers));
    columns.extend(["Tacked", "Welded"].map(Column::write));
    let rows = plan
        .frame
        .controls
        .iter()
        .zip(&plan.pull.controls)
        .map(|(c, p)| {
            let say = Say::of(c, plan.frame.units);
            vec![
                c.name.clone(),
                say.nominal(c.nominal),
                say.band(c.tolerance, 2),
                say.change(p.pull),
                say.band(p.scatter, say.digits),
                if p.set_to == 0.0 { "0".into() } else { say.change(p.set_to) },
                say.change(p.residual),
                say.unit.into(),
                say.unit.into(),
            ]
        })
        .collect();
    Table { title: "Dimensions that must come out true".into(), columns, rows }
}

/// How the values of a control are said in the unit of the sheet.
pub(super) struct Say {
    units: Units,
    /// Beside a box to write in.
    pub unit: &'static str,
    /// Decimals in mm or degrees.
    pub digits: usize,
}

impl Say {
    pub fn of(c: &Control, units: Units) -> Say {
        match (c.kind.unit(), units) {
            ("deg", _) => Say { units: Units::Mm, unit: "°", digits: 2 },
            (_, Units::Mm) => Say { units, unit: "mm", digits: 1 },
            (_, Units::Inch) => Say { units, unit: "in", digits: 1 },
        }
    }
    pub fn nominal(&self, v: f64) -> String {
        match self.units {
            Units::Mm => format!("{} {}", units::trim(v, self.digits), self.unit),
            Units::Inch => self.units.reading(v),
        }
    }
    fn reading(&self, v: f64) -> String {
        match self.units {
            Units::Mm => units::trim(v, 1),
            Units::Inch => self.units.reading(v),
        }
    }
    pub fn change(&self, v: f64) -> String {
        match self.units {
            Units::Mm => units::signed_to(v, self.digits),
            Units::Inch => self.units.change(v),
        }
    }
    pub fn band(&self, v: f64, digits: usize) -> String {
        match self.units {
            Units::Mm => units::trim(v, digits),
            Units::Inch => self.units.band(v),
        }
    }
}

fn further(plan: &WeldPlan) -> Vec<Block> {
    let mut out = vec![];
    if plan.tacking.is_some() {
        out.push(Block::Table(tack_sheet::defaults(plan)));
        out.push(Block::Words(tack_sheet::about_the_defaults(plan)));
        out.extend(places::blocks(plan));
    }
    if !plan.frame.controls.is_empty() {
        out.push(Block::Table(places::measured(plan)));
    }
    out.push(Block::Heading("Seams close up".into()));
    for seam in 0..plan.seams.seams.len() {
        out.push(Block::Picture { drawing: pictures::close_up(plan, seam), caption: String::new() });
    }
    if !plan.pull.controls.is_empty() {
        out.push(Block::Heading("Where the frame goes".into()));
        let view = View::ThreeQuarter;
        out.push(Block::Picture {
            drawing: pictures::pull(plan, view, (180.0, pictures::height(plan, view, 180.0, 120.0))),
            caption: "Nominal frame and, exaggerated, the frame as the welds pull it before anything is set"
                .into(),
        });
        for plot in pictures::paths(plan) {
            out.push(Block::Picture { drawing: plot, caption: String::new() });
        }
    }
    out.push(Block::Heading("Heat".into()));
    for plot in [pictures::heat(plan), pictures::sides(plan)] {
        out.push(Block::Picture { drawing: plot, caption: String::new() });
    }
    let rest: Vec<&str> = plan.remarks.iter().filter(|m| !m.first).map(|m| m.text.as_str()).collect();
    if !rest.is_empty() {
        out.push(Block::Heading("What the program noticed".into()));
        out.extend(rest.into_iter().map(|t| Block::Words(t.into())));
    }
    if !plan.order.relaxed.is_empty() {
        out.push(Block::Table(relaxed(plan)));
    }
    out
}

/// Shortfalls, one row per rule and kind of reason.
fn relaxed(plan: &WeldPlan) -> Table {
    let rows = plan
        .order
        .relaxed
        .iter()
        .map(|x| {
            // Of the rules only the distance is a length.
            let asked = |v: f64| match (plan.frame.units, x.rule.to_string().as_str()) {
                (Units::Inch, "distance") => plan.frame.units.length(v),
                _ => units::trim(v, 1),
            };
            vec![
                x.rule.to_string(),
                plan.passes.passes[x.pass].label.clone(),
                asked(x.required),
                asked(x.actual),
                x.why.clone(),
            ]
        })
        .collect();
    let how = if plan.order.proved { "no order does better" } else { "the best found" };
    Table {
        title: format!("Where this frame forces a house rule to give way ({how})"),
        columns: vec![
            Column::words("Rule"),
            Column::words("Pass"),
            Column::numbers("Asked"),
            Column::numbers("Got"),
            Column::words("Why"),
        ],
        rows,
    }
}

pub(super) fn row(plan: &WeldPlan, line: &Line) -> CheckRow {
    CheckRow { picture: pictures::beside(plan, &line.act), ..worded(plan, line) }
}

fn worded(plan: &WeldPlan, line: &Line) -> CheckRow {
    let f = &plan.frame;
    match &line.act {
        Act::Pass { pass, step, welder, forward, setup } => {
            pass_row(plan, line.number, *pass, *step, *welder, *forward, *setup)
        }
        Act::Stage { stage } => {
            let mut r = CheckRow::new(line.number, RowKind::Stage);
            let s = &f.stages[*stage];
            let names: Vec<&str> = s.tubes.iter().map(|&t| f.tubes[t].name.as_str()).collect();
            let after = if s.weld_out || stage + 1 == f.stages.len() { "welded out" } else { "tacked only" };
            r.label = s.name.clone();
            r.say = format!(
                "{} of {}, {}: put in {}. Then {after}.",
                stage + 1,
                f.stages.len(),
                s.name,
                names.join(", ")
            );
            r
        }
        Act::Tack { seam, tack, clock, length_mm } => {
            let mut r = CheckRow::new(line.number, RowKind::Tack);
            r.label = plan.tack_label(*seam, *tack);
            r.joint = seam_words(plan, *seam);
            r.start = clock.clone();
            r.direction = tack_sheet::how(plan, *seam, *length_mm);
            r.reason = tack_sheet::note(plan, *seam, *tack);
            r
        }
        Act::Wait { minutes, joint, under_c } => {
            let mut r = CheckRow::new(line.number, RowKind::Wait);
            r.label = plan.joints.joints[*joint].name.clone();
            r.under = units::celsius_limit(*under_c);
            r.wait = units::time(minutes * 60.0);
            r.say = format!("About {}: until {} is under {}. Measure it.", r.wait, r.label, r.under);
            r
        }
        Act::Hold { controls, expect, clamped, why } => {
            let mut r = CheckRow::new(line.number, RowKind::Hold);
            r.say = format!("{}{}.", if *clamped { "With the clamps closed, " } else { "" }, why);
            r.readings = controls
                .iter()
                .enumerate()
                .map(|(i, &c)| {
                    let control = &f.controls[c];
                    let say = Say::of(control, f.units);
                    let expect = match expect.get(i) {
                        Some((e, band)) => {
                            format!("{} ± {}", say.reading(control.nominal + e), say.band(*band, 1))
                        }
                        None => say.reading(control.nominal),
                    };
                    Reading { name: control.name.clone(), expect, unit: say.unit.into() }
                })
                .collect();
            r
        }
        Act::Clamp { clamp } => {
            let mut r = CheckRow::new(line.number, RowKind::Clamp);
            r.label = f.clamps[*clamp].name.clone();
            let tube = &f.tubes[f.clamps[*clamp].tube].name;
            r.say = match f.clamps[*clamp].one_way {
                false => format!("Close clamp {} on {tube}.", r.label),
                true => format!("Set stop {} against {tube}; it only pushes.", r.label),
            };
            r
        }
        Act::Release { clamp, force_n } => {
            let mut r = CheckRow::new(line.number, RowKind::Release);
            r.label = f.clamps[*clamp].name.clone();
            r.say = format!(
                "Open clamp {}. It holds about {} N: stand clear, it springs.",
                r.label,
                units::trim((force_n / 10.0).round() * 10.0, 0)
            );
            r
        }
        Act::Turn { setup } => {
            let mut r = CheckRow::new(line.number, RowKind::Turn);
            r.label = f.setups[*setup].name.clone();
            r.say = format!("Turn the frame: {}. Lift it with help; look at every tack first.", r.label);
            r
        }
        Act::VentOpen { tube } => {
            let mut r = CheckRow::new(line.number, RowKind::Vent);
            r.label = f.tubes[*tube].name.clone();
            r.say = format!("3 mm hole in {}, out of sight.", r.label);
            r
        }
        Act::VentClose { tube } => {
            let mut r = CheckRow::new(line.number, RowKind::CloseVent);
            r.label = f.tubes[*tube].name.clone();
            r.say = format!("{}; leave it open for galvanizing.", r.label);
            r
        }
    }
}

fn pass_row(
    plan: &WeldPlan,
    number: usize,
    pass: usize,
    step: usize,
    welder: usize,
    forward: bool,
    setup: usize,
) -> CheckRow {
    let p = &plan.passes.passes[pass];
    let s = &plan.passes.settings[p.settings];
    let seam = &plan.seams.seams[p.seam];
    let (from, to) = plan.clock(pass, forward);
    let mut r = CheckRow::new(number, RowKind::Pass);
    r.label = p.label.clone();
    r.joint = seam_words(plan, p.seam);
    r.segment = format!("{} of {}", p.segment + 1, seam.segments.len());
    r.start = from.into();
    // A short line along the branch begins and ends at the same hour.
    r.end = if from == to { String::new() } else { to.into() };
    r.clockwise = seam.closed.then_some(forward);
    r.layer = match (p.layer, s.layers) {
        (_, 0 | 1) => String::new(),
        (0, _) => "root".into(),
        (l, n) if l + 1 == n => "cap".into(),
        (l, n) => format!("{} of {n}", l + 1),
    };
    r.position = plan.position(pass, setup, forward).into();
    r.direction = match r.position.as_str() {
        "PF" => "upwards".into(),
        "PG" => "downwards".into(),
        _ if seam.closed => if forward { "clockwise" } else { "anticlockwise" }.into(),
        _ => String::new(),
    };
    r.settings = format!(
        "{} · {} A · {} V · {} mm/s",
        s.process,
        units::trim(s.amps, 0),
        units::trim(s.volts, 1),
        units::trim(s.speed_mm_s, 1)
    );
    r.heat_input = units::kj_per_mm(p.heat_input_j_per_mm);
    r.under = units::celsius_limit(s.interpass_c);
    r.reason = plan.reasons[pass].clone();
    if plan.frame.shop.welders > 1 {
        r.welder = char::from(b'A' + welder as u8).to_string();
    }
    r.with_above = plan.order.steps[step].passes.first().is_some_and(|l| l.pass != pass);
    r
}

/// `J7a: stay on spine`.
pub(super) fn seam_words(plan: &WeldPlan, seam: usize) -> String {
    let m = &plan.joints.meets[seam];
    let name = |t: usize| plan.frame.tubes[t].name.as_str();
    let onto: Vec<&str> = m.carriers.iter().map(|c| name(c.0)).collect();
    format!("{} on {}", name(m.branch.0), onto.join(" and "))
}
