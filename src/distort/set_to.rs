//! What to set in the fixture so that a control is right after the pull.

use crate::frame::{Control, SetBy};

/// The amount to set a control off before welding: −pull, rounded to the control's step, cut at its
/// limit; zero if it cannot be set. Unit of the control.
pub fn set_to(control: &Control, pull: f64) -> f64 {
    if control.set_by == SetBy::None {
        return 0.0;
    }
    let step = control.step;
    let want = if step > 0.0 { (-pull / step).round() * step } else { -pull };
    let limit = if step > 0.0 { (control.limit / step + 1e-9).floor() * step } else { control.limit };
    // + 0.0 turns a negative zero into zero.
    want.clamp(-limit, limit) + 0.0
}
