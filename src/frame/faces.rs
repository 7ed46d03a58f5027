//! The sides of a tube: which one is meant by "top", "inner", "left".

use super::raw::Face;
use super::reader::{At, Bad};
use super::{Section, Tube};
use crate::fault::Fault;
use glam::DVec3;

/// What the words refer to.
pub(super) struct Looks {
    /// Up in use.
    pub up: DVec3,
    /// Forward in use.
    pub forward: DVec3,
    /// Middle of the frame: inner faces look towards it.
    pub middle: DVec3,
}

/// A face at a place along a tube.
pub(super) struct FaceAt {
    /// Outward unit normal.
    pub normal: DVec3,
    /// Unit vector in the face, square to the tube: offsets count along it.
    pub across: DVec3,
    /// Distance from the axis to the face, mm.
    pub half: f64,
    /// Distance from the axis to the sides of the face, mm.
    pub half_across: f64,
    /// A round tube: the face is curved.
    pub round: bool,
}

impl Looks {
    /// The face of `tube` at arc length `s` that is meant.
    ///
    /// The offset's direction: towards up on a side face; towards the left (or, if the tube itself
    /// runs left to right, forward) on a top or bottom face.
    pub fn face(
        &self,
        tube: &Tube,
        section: &Section,
        s: f64,
        face: &At<Face>,
        bad: &mut Bad,
    ) -> Option<FaceAt> {
        let (t, h) = (tube.tangent_at(s), tube.height_at(s));
        let w = t.cross(h);
        let wish = match face.v {
            Face::Towards(d) => d,
            Face::Inner => self.middle - tube.point_at(s),
            Face::Outer => tube.point_at(s) - self.middle,
        };
        let square = wish - t * wish.dot(t);
        // Towards: at least 30 degrees off the tube's axis. Inner, outer: not through the middle.
        let enough = if matches!(face.v, Face::Towards(_)) { 0.5 } else { 1.0 };
        if square.length() < enough {
            let why = match face.v {
                Face::Towards(_) => "the tube itself runs that way",
                _ => "the tube runs through the middle of the frame",
            };
            bad.push(
                Fault::new("E139", format!("\"{}\" has no such face: {why}", tube.name))
                    .at(face.span.clone(), "which face?")
                    .help("write another one of top, bottom, left, right, front, back"),
            );
            return None;
        }
        let wish = square.normalize();
        let [half_h, half_w] = section.shape.half_mm();
        let round = section.shape.round_od().is_some();
        let (normal, half, half_across) = if round {
            (wish, half_h, half_h)
        } else {
            let up_down = wish.dot(h).abs();
            let sideways = wish.dot(w).abs();
            if (up_down - sideways).abs() < 0.05 {
                bad.push(
                    Fault::new("E139", format!("two faces of \"{}\" look that way equally", tube.name))
                        .at(face.span.clone(), "which of the two?")
                        .help("name a direction square to one of its faces, such as \"left\" or \"-Y\""),
                );
                return None;
            }
            if up_down > sideways {
                (h * wish.dot(h).signum(), half_h, half_w)
            } else {
                (w * wish.dot(w).signum(), half_w, half_h)
            }
        };
        Some(FaceAt { normal, across: self.across(normal.cross(t)), half, half_across, round })
    }

    /// The given line with the sense that people expect: up, else left, else forward.
    fn across(&self, line: DVec3) -> DVec3 {
        let left = self.up.cross(self.forward);
        let parts = [line.dot(self.up), line.dot(left), line.dot(self.forward)];
        let lead = parts.into_iter().find(|p| p.abs() > 0.5).unwrap_or(1.0);
        line * lead.signum()
    }
}
