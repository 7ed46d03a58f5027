//! `draw`: a picture of the frame or of what the plan does to it, as SVG or PNG.

use super::args::{Common, DrawArgs, ViewArg};
use super::exit::{Exit, Stop};
use super::files;
use crate::output::drawing::Drawing;
use crate::output::view::View;
use crate::output::{pictures, png, svg};
use crate::plan::WeldPlan;
use std::io::Write;

/// 300 dots per inch.
const PX_PER_MM: f64 = 12.0;
/// Size of a drawing of the whole frame, mm: A4 across less margins.
const SIZE_MM: (f64, f64) = (270.0, 180.0);

pub fn run(a: &DrawArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let ending = a.out.extension().and_then(|e| e.to_str()).unwrap_or("").to_lowercase();
    if ending != "svg" && ending != "png" {
        return Err(Stop::new(
            Exit::Usage,
            format!("error: {} must end in .svg or .png: the ending says what to draw", a.out.display()),
        ));
    }
    files::free(&a.out, common.force)?;
    let (_, plan) = super::plan::make(&a.common, common, err)?;
    let drawing = drawing(a, &plan)?.in_colour(a.colour);
    let bytes = if ending == "svg" {
        svg::svg(&drawing).into_bytes()
    } else {
        png::png(&drawing, PX_PER_MM).map_err(|e| Stop::new(Exit::CannotCreate, format!("error: {e}")))?
    };
    files::write(&a.out, &bytes, common.force, out)?;
    if !common.quiet {
        writeln!(err, "wrote {}", a.out.display())?;
    }
    Ok(())
}

fn drawing(a: &DrawArgs, plan: &WeldPlan) -> Result<Drawing, Stop> {
    if let Some(name) = &a.joint {
        let seams: Vec<Drawing> = plan
            .seams
            .seams
            .iter()
            .enumerate()
            .filter(|(_, s)| {
                s.name.eq_ignore_ascii_case(name)
                    || plan.joints.joints[s.joint].name.eq_ignore_ascii_case(name)
            })
            .map(|(i, _)| pictures::close_up(plan, i))
            .collect();
        if seams.is_empty() {
            let names: Vec<&str> = plan.joints.joints.iter().map(|j| j.name.as_str()).collect();
            return Err(Stop::new(
                Exit::Usage,
                format!("error: this frame has no joint or seam \"{name}\"; joints are {}", names.join(", ")),
            ));
        }
        return Ok(pictures::stacked(name, &seams));
    }
    let view = match a.view {
        ViewArg::Side => View::Side,
        ViewArg::Top => View::Top,
        ViewArg::Front => View::Front,
        _ => View::ThreeQuarter,
    };
    if matches!(a.view, ViewArg::Pull | ViewArg::Path) && plan.pull.controls.is_empty() {
        return Err(Stop::new(
            Exit::BadInput,
            "error: no pull is predicted for this frame: it has no [[control]], or is too large for the pull model",
        ));
    }
    Ok(match a.view {
        ViewArg::Pull => pictures::pull(plan, view, SIZE_MM),
        ViewArg::Path => pictures::stacked("Pull of each control", &pictures::paths(plan)),
        ViewArg::Heat => pictures::heat(plan),
        ViewArg::Balance => pictures::sides(plan),
        _ => pictures::weld_map(plan, view, SIZE_MM),
    })
}
