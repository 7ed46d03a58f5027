//! Heat lost to still air: convection and radiation, linearised at a stated temperature.

use crate::frame::{Section, Shape};
use crate::library::Material;

/// Stefan–Boltzmann constant, W/(m²K⁴) (CODATA).
const SIGMA: f64 = 5.670_374_419e-8;
/// 0 °C in kelvin.
const KELVIN: f64 = 273.15;

/// Heat-transfer coefficient of natural convection round a horizontal cylinder, W/(m²K).
///
/// ```text
/// h = 1.32·(ΔT/D)^¼       ΔT  surface above air, K     D  outside diameter, m
/// ```
///
/// Holds for: laminar flow in air at about 1 bar, 1e4 < Gr·Pr < 1e9 (tubes of a shop). Used for
/// square tube with its height for D (an approximation).
/// Source: Holman, Heat Transfer, simplified equations for air; from memory.
pub fn convection_w_m2k(rise_k: f64, size_mm: f64) -> f64 {
    1.32 * (rise_k.max(0.0) / (size_mm * 1e-3)).powf(0.25)
}

/// Heat-transfer coefficient that stands for radiation to surroundings at air temperature, W/(m²K).
///
/// ```text
/// h = ε·σ·(Ts² + Ta²)·(Ts + Ta)     ε  emissivity     Ts, Ta  surface and air, K
/// ```
///
/// Source: Stefan and Boltzmann's law; exact for a small body in a large room.
pub fn radiation_w_m2k(emissivity: f64, surface_c: f64, ambient_c: f64) -> f64 {
    let (s, a) = (surface_c + KELVIN, ambient_c + KELVIN);
    emissivity * SIGMA * (s * s + a * a) * (s + a)
}

/// Both together, W/(m²K).
pub fn combined_w_m2k(emissivity: f64, surface_c: f64, ambient_c: f64, size_mm: f64) -> f64 {
    convection_w_m2k(surface_c - ambient_c, size_mm) + radiation_w_m2k(emissivity, surface_c, ambient_c)
}

/// The surface temperature at which the loss of a metal is linearised, °C: half-way between the air
/// and the metal's interpass limit, at least 20 K above the air. Hotter metal loses more than the
/// straight line says, cooler metal less.
pub fn mean_surface_c(material: &Material, ambient_c: f64) -> f64 {
    (0.5 * (material.interpass_c + ambient_c)).max(ambient_c + 20.0)
}

/// Default loss coefficient of a section in still air, W/(m²K).
pub fn usual_loss_w_m2k(section: &Section, material: &Material, ambient_c: f64) -> f64 {
    let surface = mean_surface_c(material, ambient_c);
    combined_w_m2k(material.emissivity, surface, ambient_c, size_mm(&section.shape))
}

/// The size that drives convection, mm: outside diameter, height, or width of a flat bar.
fn size_mm(shape: &Shape) -> f64 {
    match *shape {
        Shape::Round { od, .. } | Shape::Solid { od } => od,
        Shape::Box { height, .. } => height,
        Shape::Flat { width, .. } => width,
    }
}

/// Time constant of a tube that cools as a whole, s.
///
/// ```text
/// τ = ρ·c·A / (h·P)       ρ·c  J/(mm³K)    A  steel, mm²    h  W/(mm²K)    P  perimeter in the air, mm
/// ```
///
/// From T1 to T2 in air at Ta it takes τ·ln((T1 − Ta)/(T2 − Ta)).
pub fn time_constant_s(rho_c_j_mm3k: f64, area_mm2: f64, loss_w_m2k: f64, perimeter_mm: f64) -> f64 {
    rho_c_j_mm3k * area_mm2 / (loss_w_m2k * 1e-6 * perimeter_mm)
}

/// Steel in the cross-section, mm².
pub fn steel_area_mm2(shape: &Shape) -> f64 {
    use std::f64::consts::PI;
    match *shape {
        Shape::Round { od, wall } => PI * wall * (od - wall),
        Shape::Solid { od } => 0.25 * PI * od * od,
        Shape::Flat { width, thickness } => width * thickness,
        Shape::Box { height, width, wall, corner } => {
            let inner = (corner - wall).max(0.0);
            let outside = height * width - (4.0 - PI) * corner * corner;
            let inside = (height - 2.0 * wall) * (width - 2.0 * wall) - (4.0 - PI) * inner * inner;
            outside - inside
        }
    }
}

/// Perimeter that meets the air, mm. The inside of a tube counts as closed: its air moves little
/// heat.
pub fn air_perimeter_mm(shape: &Shape) -> f64 {
    use std::f64::consts::PI;
    match *shape {
        Shape::Round { od, .. } | Shape::Solid { od } => PI * od,
        Shape::Flat { width, thickness } => 2.0 * (width + thickness),
        Shape::Box { height, width, corner, .. } => 2.0 * (height + width) - (8.0 - 2.0 * PI) * corner,
    }
}
