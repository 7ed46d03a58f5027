//! Finding what names in controls, clamps and wishes refer to.

use super::materials::Parts;
use super::reader::{At, Bad, unknown};
use super::{Point, Spot, Tube};
use crate::fault::Fault;
use glam::DVec3;

/// What names in controls, clamps and wishes refer to.
pub(super) struct Look<'l> {
    pub up: DVec3,
    pub forward: DVec3,
    pub points: &'l [At<Point>],
    pub tubes: &'l [Tube],
    pub parts: &'l Parts,
    /// False if some tube has a fault: then what is not found is not reported.
    pub complete: bool,
}

impl Look<'_> {
    /// Index of a tube by name.
    pub fn tube(&self, said: &At<&str>, bad: &mut Bad) -> Option<usize> {
        let found = self.tubes.iter().position(|t| t.name == said.v);
        if found.is_none() && self.complete {
            bad.push(unknown("tube", said, self.tubes.iter().map(|t| t.name.as_str()), "the tubes"));
        }
        found
    }

    /// Index of a point by name.
    pub fn point(&self, said: &At<&str>, bad: &mut Bad) -> Option<usize> {
        let found = self.points.iter().position(|p| p.v.name == said.v);
        if found.is_none() && self.complete {
            bad.push(unknown("point", said, self.points.iter().map(|p| p.v.name.as_str()), "[points]"));
        }
        found
    }

    /// A place on a tube: a point's name, `tube:start`, `tube:middle`, `tube:end`, `tube:point` or
    /// `tube@350`.
    pub fn spot(&self, said: &At<&str>, bad: &mut Bad) -> Option<Spot> {
        if let Some((tube, s)) = said.v.split_once('@') {
            let tube = self.tube(&At { v: tube.trim(), span: said.span.clone() }, bad)?;
            let length = self.tubes[tube].length_mm();
            let s = s.trim().trim_end_matches("mm").trim().parse::<f64>().ok().filter(|s| s.is_finite());
            return match s {
                Some(s) if (0.0..=length + 1e-6).contains(&s) => Some(Spot { tube, s_mm: s.min(length) }),
                Some(s) => {
                    bad.push(
                        Fault::new("E137", format!("{s} mm is not on \"{}\"", self.tubes[tube].name))
                            .at(said.span.clone(), format!("it is {length:.1} mm long"))
                            .help(format!("between 0 and {length:.1}, measured from its start")),
                    );
                    None
                }
                None => {
                    bad.push(
                        Fault::new("E112", format!("\"{}\" is no place", said.v))
                            .at(said.span.clone(), "a number wanted after `@`")
                            .help("write for instance \"rail@350\": mm from the start of the rail"),
                    );
                    None
                }
            };
        }
        if let Some((tube, place)) = said.v.split_once(':') {
            let tube = self.tube(&At { v: tube.trim(), span: said.span.clone() }, bad)?;
            let length = self.tubes[tube].length_mm();
            let s_mm = match place.trim() {
                "start" => 0.0,
                "middle" => length / 2.0,
                "end" => length,
                name => {
                    let p = self.point(&At { v: name, span: said.span.clone() }, bad)?;
                    self.on_tube(p, tube).or_else(|| {
                        bad.extend(self.not_on(p, said, Some(tube)));
                        None
                    })?
                }
            };
            return Some(Spot { tube, s_mm });
        }
        if !self.points.iter().any(|p| p.v.name == said.v) && self.tubes.iter().any(|t| t.name == said.v) {
            bad.push(
                Fault::new("E112", format!("\"{}\" is a tube, not a place", said.v))
                    .at(said.span.clone(), "where on it?")
                    .help(format!("write \"{0}:start\", \"{0}:end\", \"{0}:middle\" or \"{0}@350\"", said.v)),
            );
            return None;
        }
        let p = self.point(said, bad)?;
        self.on_some_tube(p).or_else(|| {
            bad.extend(self.not_on(p, said, None));
            None
        })
    }

    /// The tube a point belongs to: first one whose run passes through it, then one whose run begins
    /// or ends there, then one inside whose outside it lies.
    pub fn on_some_tube(&self, p: usize) -> Option<Spot> {
        let on_run = |inner: bool| {
            self.tubes.iter().enumerate().find_map(|(tube, t)| {
                let (_, s_mm) = *t.on_run.iter().find(|(q, _)| *q == p)?;
                let is_inner = s_mm > 0.01 && s_mm < t.length_mm() - 0.01;
                (is_inner == inner).then_some(Spot { tube, s_mm })
            })
        };
        let inside = || {
            let all =
                (0..self.tubes.len()).filter_map(|tube| Some(Spot { tube, s_mm: self.on_tube(p, tube)? }));
            let far = |s: &Spot| self.tubes[s.tube].nearest(self.points[p].v.at).1;
            all.min_by(|a, b| far(a).total_cmp(&far(b)))
        };
        on_run(true).or_else(|| on_run(false)).or_else(inside)
    }

    /// Arc length of a point on a tube, if it lies within the tube's outside (0.5 mm allowed).
    fn on_tube(&self, p: usize, tube: usize) -> Option<f64> {
        let (t, at) = (&self.tubes[tube], self.points[p].v.at);
        (t.outside_mm(at, &self.parts.sections[t.section]) <= 0.5).then(|| t.nearest(at).0)
    }

    fn not_on(&self, p: usize, said: &At<&str>, tube: Option<usize>) -> Option<Fault> {
        if !self.complete {
            return None;
        }
        let point = &self.points[p];
        let miss = |t: &Tube| t.outside_mm(point.v.at, &self.parts.sections[t.section]);
        let near = match tube {
            Some(t) => Some(&self.tubes[t]),
            None => self.tubes.iter().min_by(|a, b| miss(a).total_cmp(&miss(b))),
        };
        let of = tube.map_or("any tube".to_string(), |t| format!("\"{}\"", self.tubes[t].name));
        let fault = Fault::new("E150", format!("point \"{}\" does not lie on {of}", point.v.name))
            .at(said.span.clone(), "nothing to measure there")
            .also(point.span.clone(), "the point");
        Some(match near {
            Some(t) => fault.help(format!(
                "it misses the outside of \"{0}\" by {1:.1} mm; name a place on a tube, such as \"{0}:end\" or \"{0}@350\"",
                t.name,
                miss(t)
            )),
            None => fault,
        })
    }
}
