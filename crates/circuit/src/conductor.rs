//! Resistance of conductors by size, material and temperature.
//!
//! **In:** a size (AWG, kcmil, mm²), a material, a temperature. **Out:** ohm per metre.
//! **Never here:** cables, schemes.
//!
//! Which value is used for a core, in this order:
//! 1. AWG 14 to 1/0, copper: the published uncoated stranded value (NEC chapter 9 table 8, d.c.
//!    at 75 °C), brought to the temperature asked for.
//! 2. mm² sizes of IEC 60228, copper: the published greatest value of class 1 and 2 (d.c. at
//!    20 °C), likewise.
//! 3. Anything else: resistivity over area; times 1.02 for the lay of the strands of an AWG or
//!    kcmil size, times 1.07 for a mm² size (the published tables lie 1.8 to 2.5 % and 4.4 to 7.4 %
//!    above a solid wire of the nominal area).
//!
//! Temperature law: `R(t) = R(ref) (1 + α20 (t - 20)) / (1 + α20 (ref - 20))`. For copper
//! α20 = 0.00393 / K and 0.017241 Ω mm²/m (the international annealed copper standard, from memory
//! of IEC 60028); for aluminium 0.00403 / K and 0.028264 Ω mm²/m (from memory of IEC 60889).

use fiftytwo_scheme::{Material, WireSize};

/// Metres in 1000 ft.
const METRES_PER_KFT: f64 = 304.8;
/// Temperature of NEC chapter 9 table 8, °C.
const NEC_CELSIUS: f64 = 75.0;
/// Temperature of IEC 60228, °C.
const IEC_CELSIUS: f64 = 20.0;
/// Lay of the strands of AWG and kcmil conductors.
const LAY_AWG: f64 = 1.02;
/// Nominal against metallic area and lay of mm² conductors.
const LAY_MM2: f64 = 1.07;

/// From one gauge to the next thicker: the 39th root of 92.
const AWG_STEP: f64 = 1.122_932_196_532_281_4;

/// NEC chapter 9 table 8, uncoated stranded copper, d.c. Ω per 1000 ft at 75 °C.
#[expect(clippy::approx_constant, reason = "3.14 is a resistance")]
const NEC_STRANDED: [(i32, f64); 10] = [
    (14, 3.14),
    (12, 1.98),
    (10, 1.24),
    (8, 0.778),
    (6, 0.491),
    (4, 0.308),
    (3, 0.245),
    (2, 0.194),
    (1, 0.154),
    (0, 0.122),
];

/// IEC 60228, plain copper, class 1 and 2, greatest d.c. Ω per km at 20 °C.
const IEC_CLASS_2: [(f64, f64); 10] = [
    (0.5, 36.0),
    (0.75, 24.5),
    (1.0, 18.1),
    (1.5, 12.1),
    (2.5, 7.41),
    (4.0, 4.61),
    (6.0, 3.08),
    (10.0, 1.83),
    (16.0, 1.15),
    (25.0, 0.727),
];

/// Resistivity at 20 °C, Ω mm²/m.
pub fn resistivity_20(material: Material) -> f64 {
    match material {
        Material::Copper => 0.017_241,
        Material::Aluminium => 0.028_264,
    }
}

/// Temperature coefficient of resistance referred to 20 °C, 1/K.
pub fn alpha_20(material: Material) -> f64 {
    match material {
        Material::Copper => 0.003_93,
        Material::Aluminium => 0.004_03,
    }
}

/// The factor by which a resistance grows from `from` to `to` °C. Never below 1e-6, so that a
/// temperature near the law's zero (−234 °C for copper) can't make a resistance vanish.
pub fn temperature_factor(material: Material, from: f64, to: f64) -> f64 {
    let alpha = alpha_20(material);
    let at = |celsius: f64| (1.0 + alpha * (celsius - 20.0)).max(1e-3);
    (at(to) / at(from)).max(1e-6)
}

/// Diameter of a solid AWG wire, mm: `0.127 * 92^((36 - n) / 39)`; 1/0 is 0, 4/0 is -3.
pub fn awg_diameter_mm(gauge: i32) -> f64 {
    0.127 * AWG_STEP.powi(36 - gauge)
}

/// Cross-section of a conductor, mm² (nominal for mm² sizes).
pub fn area_mm2(size: WireSize) -> f64 {
    match size {
        WireSize::Awg(gauge) => {
            let diameter = awg_diameter_mm(gauge);
            std::f64::consts::PI / 4.0 * diameter * diameter
        }
        // A circular mil is π/4 (25.4e-3 mm)².
        WireSize::Kcmil(kcmil) => kcmil * 1000.0 * std::f64::consts::PI / 4.0 * 0.0254 * 0.0254,
        WireSize::Mm2(area) => area,
    }
}

/// Resistance of a solid wire of that area, Ω/m: resistivity over area.
pub fn solid_ohm_per_metre(size: WireSize, material: Material, celsius: f64) -> f64 {
    resistivity_20(material) / area_mm2(size) * temperature_factor(material, 20.0, celsius)
}

/// Resistance of a cable core, Ω/m, at a conductor temperature in °C.
pub fn ohm_per_metre(size: WireSize, material: Material, celsius: f64) -> f64 {
    let (published, at) = match (size, material) {
        (WireSize::Awg(gauge), Material::Copper) => (
            NEC_STRANDED
                .iter()
                .find(|(size, _)| *size == gauge)
                .map(|(_, per_kft)| per_kft / METRES_PER_KFT),
            NEC_CELSIUS,
        ),
        (WireSize::Mm2(area), Material::Copper) => (
            IEC_CLASS_2
                .iter()
                .find(|(size, _)| (size - area).abs() < 1e-9)
                .map(|(_, per_km)| per_km / 1000.0),
            IEC_CELSIUS,
        ),
        _ => (None, IEC_CELSIUS),
    };
    let lay = if matches!(size, WireSize::Mm2(_)) { LAY_MM2 } else { LAY_AWG };
    published.map_or_else(
        || solid_ohm_per_metre(size, material, celsius) * lay,
        |ohm| ohm * temperature_factor(material, at, celsius),
    )
}
