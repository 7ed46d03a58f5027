//! What makes a timeline impossible, said before it is asked for.

use crate::fault::Fault;
use crate::frame::Frame;
use crate::procedure::Passes;
use std::collections::BTreeSet;

/// Faults of shop and settings that leave heat without an answer.
pub fn check(frame: &Frame, passes: &Passes) -> Vec<Fault> {
    let mut faults = Vec::new();
    air_below_the_limit(frame, passes, &mut faults);
    some_loss(frame, &mut faults);
    some_speed(passes, &mut faults);
    preheat_below_the_limit(passes, &mut faults);
    faults
}

/// Seams that use a settings entry, as `J1a, J1b`; at most four are named.
fn seams_with(passes: &Passes, settings: usize) -> String {
    let named: BTreeSet<(usize, &str)> = passes
        .passes
        .iter()
        .filter(|p| p.settings == settings)
        .map(|p| (p.seam, p.label.split('-').next().unwrap_or_default()))
        .collect();
    let mut names: Vec<&str> = named.iter().take(4).map(|n| n.1).collect();
    if named.len() > 4 {
        names.push("…");
    }
    names.join(", ")
}

/// E401: the air is as warm as the interpass limit, so that a joint never cools below it.
fn air_below_the_limit(frame: &Frame, passes: &Passes, faults: &mut Vec<Fault>) {
    let air = frame.shop.ambient_c;
    for (i, s) in passes.settings.iter().enumerate() {
        if air >= s.interpass_c || !s.interpass_c.is_finite() || !air.is_finite() {
            faults.push(
                Fault::new(
                    "E401",
                    format!(
                        "air at {air} °C is not below the interpass limit of {} °C for {}: these joints never cool \
                         below their limit",
                        s.interpass_c,
                        seams_with(passes, i)
                    ),
                )
                .help("give the temperature of the shop in °C in `shop.ambient`, or a higher interpass limit"),
            );
        }
    }
}

/// E402: nothing takes the heat away.
fn some_loss(frame: &Frame, faults: &mut Vec<Fault>) {
    let Some(loss) = frame.shop.loss_w_m2k else { return };
    if loss == 0.0 {
        faults.push(
            Fault::new(
                "E402",
                "heat loss of 0 W/(m²K): the frame would never cool, so no wait can be worked out",
            )
            .help("leave `shop.loss` out (still air is worked out), or give 10 to 25 W/(m²K)"),
        );
    } else if !(loss > 0.0 && loss.is_finite()) {
        faults.push(
            Fault::new("E402", format!("heat loss of {loss} W/(m²K) is no such value"))
                .help("leave `shop.loss` out (still air is worked out), or give 10 to 25 W/(m²K)"),
        );
    }
}

/// E403: travel speed, volts or amps at which heat input has no meaning.
fn some_speed(passes: &Passes, faults: &mut Vec<Fault>) {
    for (i, s) in passes.settings.iter().enumerate() {
        for (what, value, unit) in
            [("travel speed", s.speed_mm_s, "mm/s"), ("volts", s.volts, "V"), ("amps", s.amps, "A")]
        {
            if !(value > 0.0 && value.is_finite()) {
                faults.push(
                    Fault::new(
                        "E403",
                        format!(
                            "{what} of {value} {unit} for {}: heat input has no value",
                            seams_with(passes, i)
                        ),
                    )
                    .help(format!("give {what} above zero, or leave it out to get a starting value")),
                );
            }
        }
    }
}

/// E404: a joint that must be warmer than it may be.
fn preheat_below_the_limit(passes: &Passes, faults: &mut Vec<Fault>) {
    for (i, s) in passes.settings.iter().enumerate() {
        if let Some(preheat) = s.preheat_c.filter(|p| *p >= s.interpass_c) {
            faults.push(
                Fault::new(
                    "E404",
                    format!(
                        "preheat of {preheat} °C is not below the interpass limit of {} °C for {}",
                        s.interpass_c,
                        seams_with(passes, i)
                    ),
                )
                .help("check both temperatures in the procedure"),
            );
        }
    }
}
