//! The settings of one seam: what the user said, and for the rest starting values from published
//! tables.

use super::Settings;
use super::consumables::{butt_area_mm2, fillet_area_mm2, throat_of_leg_mm};
use super::heat_input::heat_input_j_per_mm;
use crate::frame::{Frame, ProcedureWish};
use crate::library::{self, Material, MaterialGroup, Practice};

/// What the settings of a seam are chosen from.
pub(super) struct Seat<'a> {
    /// Material of the branch, then of the carriers (at least one).
    pub materials: Vec<&'a Material>,
    /// Wall of branch and carrier, mm.
    pub walls_mm: [f64; 2],
    /// Fillet or butt.
    pub fillet: bool,
    /// Root gap, mm.
    pub gap_mm: f64,
    /// The procedure that holds here.
    pub wish: &'a ProcedureWish,
}

impl Seat<'_> {
    /// The thinner of the two walls, mm: the one that burns through.
    pub fn wall_mm(&self) -> f64 {
        self.walls_mm[0].min(self.walls_mm[1])
    }
}

/// The first procedure of the frame that holds for these sections (branch, carriers).
pub(super) fn wish_for<'a>(frame: &'a Frame, branch: usize, carriers: &[usize]) -> &'a ProcedureWish {
    let fits = |w: &&ProcedureWish| match w.between[..] {
        [] => true,
        [only] => only == branch || carriers.contains(&only),
        [a, b, ..] => (a == branch && carriers.contains(&b)) || (b == branch && carriers.contains(&a)),
    };
    frame.procedures.iter().find(fits).expect("the last procedure of a frame fits every seam")
}

/// Net heat input over wall found in published sheet tables, J/mm² (Panasonic, OTC, NIMI CITS and
/// others; seen). Pipe roots welded slowly by hand reach two to three times the upper end.
pub const Q_OVER_T: [f64; 2] = [60.0, 141.0];
/// Walls those tables cover, mm.
pub const Q_OVER_T_WALLS_MM: [f64; 2] = [1.2, 4.8];
/// Used to find a travel speed where nothing is printed: the middle of [`Q_OVER_T`], J/mm².
const Q_OVER_T_MIDDLE: f64 = 100.0;
/// One ampere for every thousandth of an inch of wall (rule of thumb, seen in several places).
const AMPS_PER_MM: f64 = 1.0 / 0.0254;
/// No more than this is proposed where nothing is printed, A (common practice, no source).
const MOST_AMPS: f64 = 200.0;

/// Volts, amps, travel and gas.
#[derive(Debug, Clone, PartialEq)]
struct Arc {
    volts: f64,
    amps: f64,
    speed_mm_s: f64,
    gas_l_min: f64,
    source: String,
}

/// Starting values for a process on a wall.
///
/// Between two printed walls the middles of the ranges are interpolated; below the first wall the
/// current of the first row is scaled with the wall, so that thin tube does not burn through; above
/// the last wall the last row holds (further layers do the rest). Where nothing is printed: one
/// ampere per thousandth of an inch, the conventional load voltage, and the travel speed at which
/// q/t is in the middle of the published tables.
fn starting_arc(process: u16, group: MaterialGroup, wall_mm: f64, fillet: bool, k: f64) -> Arc {
    let Some(table) = library::starting_table(process, group, fillet) else {
        return arc_by_rule(process, wall_mm, k);
    };
    let middle = |r: [f64; 2]| 0.5 * (r[0] + r[1]);
    let (first, last) = (table.rows[0], table.rows[table.rows.len() - 1]);
    let upper = table.rows.iter().position(|r| r.wall_mm >= wall_mm);
    let (low, high, share, amps_factor, remark) = match upper {
        None => (last, last, 0.0, 1.0, format!("; wall above the table, its row for {} mm", last.wall_mm)),
        Some(0) if wall_mm < first.wall_mm => (
            first,
            first,
            0.0,
            wall_mm / first.wall_mm,
            format!(
                "; wall below the table, current of its row for {} mm scaled with the wall",
                first.wall_mm
            ),
        ),
        Some(0) => (first, first, 0.0, 1.0, String::new()),
        Some(i) => {
            let (a, b) = (table.rows[i - 1], table.rows[i]);
            (a, b, (wall_mm - a.wall_mm) / (b.wall_mm - a.wall_mm), 1.0, String::new())
        }
    };
    let between = |of: fn(&library::StartingRow) -> [f64; 2]| {
        let (a, b) = (middle(of(&low)), middle(of(&high)));
        a + (b - a) * share
    };
    Arc {
        volts: between(|r| r.volts),
        amps: between(|r| r.amps) * amps_factor,
        // cm/min as printed
        speed_mm_s: between(|r| r.cm_min) / 6.0,
        gas_l_min: between(|r| r.gas_l_min),
        source: format!("{}{remark}", table.source),
    }
}

fn arc_by_rule(process: u16, wall_mm: f64, k: f64) -> Arc {
    let practice = library::practice(process);
    let [a, b] = practice.map_or([14.0, 0.05], |p| p.volts_at);
    let amps = (wall_mm * AMPS_PER_MM).min(MOST_AMPS);
    let volts = a + b * amps;
    let wall_for_heat = wall_mm.min(Q_OVER_T_WALLS_MM[1]);
    Arc {
        volts,
        amps,
        speed_mm_s: k * volts * amps / (Q_OVER_T_MIDDLE * wall_for_heat),
        gas_l_min: match process {
            131..=139 => 12.5,
            141 | 142 | 15 => 6.0,
            _ => 0.0,
        },
        source: format!(
            "no published row for process {process} on this metal: 1 A per 0.025 mm of wall (rule of \
             thumb), conventional load voltage (EN 60974-1, from memory), travel for a net heat input \
             of {Q_OVER_T_MIDDLE} J/mm per mm of wall, the middle of published tables"
        ),
    }
}

/// Fillet leg where the user gave none, mm: the thinner wall, up to the next half millimetre, at
/// least 2 mm.
///
/// A fillet as large as the thinner wall is common practice on thin tube (no source): less metal,
/// less heat, less pull. It is not a full-strength weld by calculation: for that EN 1993-1-8, 7.3.1
/// asks a throat of about 0.92 t (S235) to 1.1 t (S355), a leg of 1.3 t to 1.6 t (from memory).
pub fn usual_leg_mm(thinner_wall_mm: f64) -> f64 {
    ((thinner_wall_mm * 2.0 - 1e-9).ceil() / 2.0).max(2.0)
}

/// Weld metal of a butt with its cap, mm²: square edges up to 4 mm, above that a V of 60° with 2 mm
/// root face; the bead stands 1 mm proud and is as much wider than its groove as the wall is thick
/// and 2 mm more (common practice, no source).
fn whole_butt_mm2(gap_mm: f64, wall_mm: f64) -> f64 {
    let face = if wall_mm > 4.0 { 2.0 } else { wall_mm };
    let angle = 60f64.to_radians();
    let width = gap_mm + 2.0 * (wall_mm - face) * (0.5 * angle).tan() + wall_mm + 2.0;
    butt_area_mm2(gap_mm, wall_mm, face, angle) + 2.0 / 3.0 * width
}

/// Weld metal of a seam over all its layers, mm²; a gap is filled as deep as the leg (fillet) or the
/// wall (butt).
fn metal_mm2(seat: &Seat, leg_mm: f64, gap_mm: f64) -> f64 {
    if seat.fillet {
        fillet_area_mm2(leg_mm) + gap_mm * leg_mm
    } else {
        whole_butt_mm2(gap_mm, seat.wall_mm())
    }
}

/// How much more metal a seam takes with one gap than with another, both in mm.
pub(super) fn more_metal(seat: &Seat, leg_mm: f64, gap_mm: f64, than_mm: f64) -> f64 {
    metal_mm2(seat, leg_mm, gap_mm) / metal_mm2(seat, leg_mm, than_mm)
}

/// Settings of one seam.
///
/// A root gap takes more metal; laid with the same arc and the same wire, that takes more time, so the
/// travel is slower by the ratio of the cross-sections of a layer and the heat for each millimetre
/// higher by it (assumption), whoever gave the speed: it is the speed for parts that touch.
pub(super) fn settings(seat: &Seat) -> Settings {
    let wish = seat.wish;
    let (process, wall) = (&wish.process, seat.wall_mm());
    let arc = starting_arc(process.number, seat.materials[0].group, wall, seat.fillet, process.k);
    let volts = wish.volts.unwrap_or(arc.volts);
    let amps = wish.amps.unwrap_or(arc.amps);
    let speed_mm_s = wish.speed_mm_s.unwrap_or(arc.speed_mm_s);
    let starting_values = wish.volts.is_none() || wish.amps.is_none() || wish.speed_mm_s.is_none();

    let leg_mm = if seat.fillet { wish.leg_mm.unwrap_or_else(|| usual_leg_mm(wall)) } else { 0.0 };
    let throat_mm = if seat.fillet { throat_of_leg_mm(leg_mm) } else { wall };
    let metal_mm2 = metal_mm2(seat, leg_mm, seat.gap_mm);
    let layers_of =
        |metal: f64| wish.layers.unwrap_or_else(|| layers(metal, library::practice(process.number))).max(1);
    let layers = layers_of(metal_mm2);
    let close_mm2 = self::metal_mm2(seat, leg_mm, 0.0);
    let more = (metal_mm2 / f64::from(layers)) / (close_mm2 / f64::from(layers_of(close_mm2)));
    let speed_mm_s = speed_mm_s / more.max(1.0);
    let heat = heat_input_j_per_mm(process.k, volts, amps, speed_mm_s);
    Settings {
        process: process.number,
        volts,
        amps,
        speed_mm_s,
        k: process.k,
        leg_mm,
        throat_mm,
        area_mm2: metal_mm2 / f64::from(layers),
        layers,
        starting_values,
        source: if starting_values { arc.source } else { "given in the frame file".into() },
        interpass_c: interpass_c(seat),
        preheat_c: preheat_c(seat, heat),
        gas_l_min: arc.gas_l_min,
    }
}

/// Layers: the weld's cross-section over what one layer holds.
pub(super) fn layers(metal_mm2: f64, practice: Option<&Practice>) -> u8 {
    let one = practice.map_or(12.5, |p| p.layer_mm2);
    // Up to 50 layers; more than that is not a frame of tubes.
    (metal_mm2 / one - 1e-9).ceil().clamp(1.0, 50.0) as u8
}

/// Highest interpass temperature of a seam, °C: the user's, or the lowest of its materials'.
fn interpass_c(seat: &Seat) -> f64 {
    let of_metal = seat.materials.iter().map(|m| m.interpass_c).fold(f64::INFINITY, f64::min);
    seat.wish.interpass_c.unwrap_or(of_metal)
}

/// Wall from which chrome-molybdenum tube is warmed, mm, and to what, °C.
///
/// Source: Lincoln Electric, "TIG weld 4130", June 2000: below 0.120 in the usual 300 to 400 °F is
/// not typically required; seen. (Hobart Institute, 2011, recommends 250 °F on 4130 in general; seen.)
pub const CHROME_MOLY_WARM: (f64, f64) = (3.048, 149.0);

/// Preheat, °C: the user's; or method B where it holds; or, for chrome-molybdenum tube with a thick
/// wall, the maker's advice. `None`: none asked for by these, which is not a proof that none is
/// needed.
fn preheat_c(seat: &Seat, heat_j_mm: f64) -> Option<f64> {
    if seat.wish.preheat_c.is_some() {
        return seat.wish.preheat_c;
    }
    let thick = seat.walls_mm[0].max(seat.walls_mm[1]);
    let steels = super::numbers::steels(seat, heat_j_mm);
    let mut warmest: Option<f64> = None;
    for m in &seat.materials {
        let by_b = steels.iter().find(|s| s.name == m.name).and_then(|s| s.method_b_c.clone().ok());
        let by_maker = (m.group == MaterialGroup::ChromeMoly && thick >= CHROME_MOLY_WARM.0)
            .then_some(CHROME_MOLY_WARM.1);
        for tp in [by_b, by_maker].into_iter().flatten().filter(|tp| *tp > m.min_start_c) {
            warmest = Some(warmest.map_or(tp, |w| w.max(tp)));
        }
    }
    // Rounded up to 5 °C: nobody holds a torch to a tenth of a degree.
    warmest.map(|tp| (tp / 5.0).ceil() * 5.0)
}
