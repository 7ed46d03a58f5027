//! Curves that read in grey: pull of a control pass by pass, temperatures, heat of left and right.

use super::drawing::{Area, Drawing, Grey, Pen, Pt, Text, Tint, pt};
use super::font;
use super::tags::{self, Room, Tag};

/// One curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Name at its end.
    pub name: String,
    /// Points (x, y), x growing. Points that are not finite are left out.
    pub points: Vec<(f64, f64)>,
}

/// A plot.
#[derive(Debug, Clone, PartialEq)]
pub struct Plot {
    /// Title, also for those who cannot see it.
    pub title: String,
    /// What runs to the right, with its unit.
    pub x_name: String,
    /// What runs upwards, with its unit.
    pub y_name: String,
    /// Curves, at most four told apart by their lines; more share the four.
    pub curves: Vec<Curve>,
    /// A band that should not be left, as a grey field: (low, high, name).
    pub band: Option<(f64, f64, String)>,
    /// Width and height on paper, mm.
    pub size_mm: (f64, f64),
}

/// The pull of one control after each pass: the plan's path, and another order's beside it.
///
/// Values in the control's unit, from the state as tacked; `tolerance` is ± the same unit.
pub fn pull_plot(
    control: &str,
    unit: &str,
    tolerance: f64,
    plan: &[f64],
    other: Option<(&str, &[f64])>,
) -> Drawing {
    let steps = |values: &[f64]| -> Vec<(f64, f64)> {
        std::iter::once((0.0, 0.0))
            .chain(values.iter().enumerate().map(|(i, y)| (i as f64 + 1.0, *y)))
            .collect()
    };
    let mut curves = vec![Curve { name: "this plan".into(), points: steps(plan) }];
    if let Some((name, values)) = other {
        curves.push(Curve { name: name.into(), points: steps(values) });
    }
    draw(&Plot {
        title: control.into(),
        x_name: "passes welded".into(),
        y_name: format!("pull, {unit}"),
        curves,
        band: Some((-tolerance, tolerance, format!("tolerance ± {tolerance} {unit}"))),
        size_mm: (91.0, 62.0),
    })
}

/// Temperatures of joints just before their passes: (joint, [(minutes, °C)]), with the limit.
pub fn temperature_plot(joints: &[Curve], limit_c: f64) -> Drawing {
    draw(&Plot {
        title: "The hottest joints".into(),
        x_name: "minutes".into(),
        y_name: "°C".into(),
        curves: joints.to_vec(),
        band: Some((0.0, limit_c, format!("limit {limit_c:.0} °C"))),
        size_mm: (186.0, 80.0),
    })
}

/// Net heat put into the left and the right side, kJ, after each pass.
pub fn side_heat_plot(left_kj: &[f64], right_kj: &[f64]) -> Drawing {
    let curve = |name: &str, values: &[f64]| Curve {
        name: name.into(),
        points: std::iter::once((0.0, 0.0))
            .chain(values.iter().enumerate().map(|(i, y)| (i as f64 + 1.0, *y)))
            .collect(),
    };
    draw(&Plot {
        title: "Heat of left and right".into(),
        x_name: "passes welded".into(),
        y_name: "kJ".into(),
        curves: vec![curve("left", left_kj), curve("right", right_kj)],
        band: None,
        size_mm: (91.0, 62.0),
    })
}

/// Lines that are told apart without colour.
const PENS: [Pen; 4] = [
    Pen::black(0.7),
    Pen::black(0.45).dashed(2.4, 1.3),
    Pen { width_mm: 0.6, grey: Grey(115), dash_mm: None },
    Pen::black(0.5).dashed(0.5, 1.1),
];

/// Draws a plot.
pub fn draw(plot: &Plot) -> Drawing {
    let (width, height) = plot.size_mm;
    let mut drawing =
        Drawing::new(format!("{}: {} over {}", plot.title, plot.y_name, plot.x_name), width, height);
    drawing.text(Text::new(pt(1.0, 4.6), font::fit(&plot.title, 4.2, true, width - 2.0), 4.2).bold());
    let curves: Vec<(Vec<(f64, f64)>, &str)> = plot
        .curves
        .iter()
        .map(|c| {
            let sound = c.points.iter().copied().filter(|(x, y)| x.is_finite() && y.is_finite());
            (sound.collect(), c.name.as_str())
        })
        .collect();
    let points = || curves.iter().flat_map(|(points, _)| points.iter().copied());
    let band_ys = plot.band.iter().flat_map(|(low, high, _)| [*low, *high]);
    // To the right the plot ends where the curves do.
    let xs = Axis::over(points().map(|p| p.0)).cut(points().map(|p| p.0).fold(0.0, f64::max));
    let ys = Axis::over(points().map(|p| p.1).chain(band_ys));
    let y_labels: Vec<String> = ys.ticks().iter().map(|t| ys.label(*t)).collect();
    let y_room = y_labels.iter().map(|l| font::width_mm(l, 3.0, false)).fold(0.0, f64::max) + 2.5;
    let field = Area { left: 1.0 + y_room, top: 12.5, right: width - 3.0, bottom: height - 10.5 };
    let at = |x: f64, y: f64| {
        pt(field.left + xs.share(x) * field.width(), field.bottom - ys.share(y) * field.height())
    };
    drawing.text(Text::new(pt(1.0, 10.0), font::fit(&plot.y_name, 3.0, false, width / 2.0), 3.0));
    let x_name =
        Text::new(pt(field.right, height - 1.6), font::fit(&plot.x_name, 3.0, false, width / 2.0), 3.0);
    drawing.text(x_name.right());
    let mut room = Room { area: field.grown(-0.3), taken: vec![], busy: vec![], reach_mm: width };
    let mut tags = vec![];
    let mut names = vec![];
    if let Some((low, high, name)) = &plot.band {
        let band =
            Area { left: field.left, right: field.right, top: at(0.0, *high).y, bottom: at(0.0, *low).y };
        drawing.rectangle(band, None, Some(Grey(228)));
        for y in [band.top, band.bottom] {
            drawing.line(pt(field.left, y), pt(field.right, y), Pen::grey(0.2, 150));
        }
        let text = Text::new(pt(field.right, 10.0), font::fit(name, 3.0, false, width * 0.55), 3.0).right();
        let swatch = Area::around(pt(text.start().x - 3.4, 9.0), 4.0, 2.6);
        drawing.rectangle(swatch, Some(Pen::grey(0.2, 150)), Some(Grey(228)));
        drawing.text(text);
    }
    for (tick, label) in ys.ticks().iter().zip(&y_labels) {
        let p = at(xs.low, *tick);
        drawing.line(pt(field.left, p.y), pt(field.right, p.y), Pen::grey(0.12, 190));
        drawing.text(Text::new(pt(field.left - 1.2, p.y + 1.1), label, 3.0).right());
    }
    for tick in xs.ticks() {
        let p = at(tick, ys.low);
        drawing.line(pt(p.x, field.bottom), pt(p.x, field.bottom + 1.0), Pen::black(0.25));
        drawing.text(Text::new(pt(p.x, field.bottom + 4.6), xs.label(tick), 3.0).middle());
    }
    for (n, (points, name)) in curves.iter().enumerate() {
        let line: Vec<Pt> = points.iter().map(|(x, y)| at(*x, *y)).collect();
        for pair in line.windows(2) {
            let count = ((pair[1] - pair[0]).length() / 0.8).ceil().max(1.0) as usize;
            room.busy.extend((0..=count).map(|i| pair[0] + (pair[1] - pair[0]) * (i as f64 / count as f64)));
        }
        if let Some(end) = line.last() {
            let text = Text::new(pt(0.0, 0.0), font::fit(name, 3.2, true, 40.0), 3.2).bold();
            // Names point at the middle of the last third, where curves have parted.
            let anchor = line.get(line.len() * 5 / 6).unwrap_or(end);
            tags.push(Tag { anchor: *anchor, width: text.width_mm() + 0.8, height: 4.0 });
            names.push(text);
        }
        match n {
            0 => drawing.tinted(Tint::Weld, |d| d.path(line, PENS[0])),
            _ => drawing.path(line, PENS[n % PENS.len()]),
        }
    }
    drawing.rectangle(field, Some(Pen::black(0.3)), None);
    for ((tag, place), text) in tags.iter().zip(tags::place(&tags, &room)).zip(names) {
        let Some(place) = place else { continue };
        let end = tags::leader_end(tag.anchor, &place);
        if (end - tag.anchor).length() > 1.0 {
            drawing.line(tag.anchor, end, Pen::black(0.15));
        }
        drawing.text(Text { at: pt(place.middle().x, place.top + 3.0), ..text.middle() });
    }
    drawing
}

/// An axis with round ticks.
struct Axis {
    low: f64,
    high: f64,
    step: f64,
}

impl Axis {
    /// An axis that holds all values and zero.
    fn over(values: impl Iterator<Item = f64>) -> Axis {
        let (low, high) = values.fold((0.0_f64, 0.0_f64), |(l, h), v| (l.min(v), h.max(v)));
        let spread = if high > low { high - low } else { 1.0 };
        let rough = spread / 5.0;
        let decade = 10f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].map(|f| f * decade).into_iter().find(|s| *s >= rough);
        let step = step.unwrap_or(10.0 * decade);
        let low = (low / step + 1e-9).floor() * step;
        let high = (high.max(low + step) / step - 1e-9).ceil() * step;
        Axis { low, high, step }
    }
    /// The same axis, ending at a value above its first tick.
    fn cut(self, high: f64) -> Axis {
        Axis { high: if high > self.low + 0.5 * self.step { high } else { self.high }, ..self }
    }
    fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }
    fn ticks(&self) -> Vec<f64> {
        let count = ((self.high - self.low) / self.step + 1e-6).floor() as usize;
        (0..=count).map(|i| self.low + i as f64 * self.step).collect()
    }
    fn label(&self, tick: f64) -> String {
        let decimals = (-self.step.log10().floor()).clamp(0.0, 6.0) as usize;
        let tick = if tick.abs() < self.step * 1e-6 { 0.0 } else { tick };
        format!("{tick:.decimals$}").replace('-', "−")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_hold_their_values_with_round_ticks() {
        for (low, high) in [(0.0, 0.0), (-1.3, 4.7), (0.0, 99.0), (-0.004, 0.0), (250.0, 260.0), (0.0, 1e7)] {
            let axis = Axis::over([low, high].into_iter());
            assert!(axis.low <= low && axis.high >= high, "{low} to {high}");
            assert!(
                (3..=9).contains(&axis.ticks().len()) || high == low,
                "{low} to {high}: {:?}",
                axis.ticks()
            );
            assert!(axis.ticks().iter().any(|t| t.abs() < 1e-9 * axis.step.max(1.0)), "no zero");
        }
    }

    #[test]
    fn nonsense_values_are_left_out() {
        let drawing = pull_plot("x", "mm", 1.0, &[0.1, f64::NAN, 0.3, f64::INFINITY], None);
        let inked = drawing.inked().unwrap();
        assert!(drawing.area().holds(&inked, 0.0), "{inked:?}");
    }
}
