//! Resistance of conductors by size, material and temperature.
//!
//! **In:** a size (AWG, kcmil, mm²), a material, a temperature. **Out:** ohm per metre; the
//! standard sizes from thin to thick. **Never here:** cables, schemes.
//!
//! Which value is used for a core, in this order:
//! 1. AWG and kcmil, copper (18 AWG to 750 kcmil, uncoated) and aluminium (14 AWG to 750 kcmil):
//!    the published stranded value (NEC chapter 9 table 8, d.c. at 75 °C), brought to the
//!    temperature asked for.
//! 2. mm² sizes of IEC 60228, copper (0.5 to 240) and aluminium (10 to 240): the published
//!    greatest value of class 2 (d.c. at 20 °C), likewise.
//! 3. Anything else: resistivity over area; times 1.02 for the lay of the strands of an AWG or
//!    kcmil size, times 1.07 for a mm² size (the published tables lie 1.8 to 2.5 % and 4.4 to 7.4 %
//!    above a solid wire of the nominal area).
//!
//! Temperature law: `R(t) = R(ref) (1 + α20 (t - 20)) / (1 + α20 (ref - 20))`. For copper
//! α20 = 0.00393 / K and 0.017241 Ω mm²/m (the international annealed copper standard, from memory
//! of IEC 60028); for aluminium 0.00403 / K and 0.028264 Ω mm²/m (from memory of IEC 60889).

mod tables;

use fiftytwo_scheme::{Material, WireSize};

/// Lay of the strands of AWG and kcmil conductors.
const LAY_AWG: f64 = 1.02;
/// Nominal against metallic area and lay of mm² conductors.
const LAY_MM2: f64 = 1.07;

/// From one gauge to the next thicker: the 39th root of 92.
const AWG_STEP: f64 = 1.122_932_196_532_281_4;

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
    let lay = if matches!(size, WireSize::Mm2(_)) { LAY_MM2 } else { LAY_AWG };
    tables::published(size, material).map_or_else(
        || solid_ohm_per_metre(size, material, celsius) * lay,
        |published| {
            published.ohm_per_metre * temperature_factor(material, published.celsius, celsius)
        },
    )
}

/// Whether the resistance of that size is a published value, and not worked out from its area.
pub fn is_published(size: WireSize, material: Material) -> bool {
    tables::published(size, material).is_some()
}

/// In which system conductors are sized.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sizes {
    /// AWG and kcmil.
    Awg,
    /// Square millimetres.
    Mm2,
}

impl Sizes {
    /// The system a size is written in.
    pub fn of(size: WireSize) -> Self {
        match size {
            WireSize::Awg(_) | WireSize::Kcmil(_) => Self::Awg,
            WireSize::Mm2(_) => Self::Mm2,
        }
    }

    /// The standard sizes of a material, the thinnest first. Copper 18 AWG to 750 kcmil and 0.5 to
    /// 240 mm²; aluminium from 12 AWG (the thinnest that NEC 310 lets be used, from memory) and
    /// from 10 mm² (where the table of IEC 60228 begins).
    pub fn standard(self, material: Material) -> Vec<WireSize> {
        tables::standard(self, material)
    }
}

/// A size as the trade writes it: "8 AWG", "1/0 AWG", "250 kcmil", "2.5 mm2".
pub fn size_name(size: WireSize) -> String {
    match size {
        WireSize::Awg(gauge) if gauge <= 0 => format!("{}/0 AWG", 1 - gauge),
        WireSize::Awg(gauge) => format!("{gauge} AWG"),
        WireSize::Kcmil(kcmil) => format!("{kcmil} kcmil"),
        WireSize::Mm2(area) => format!("{area} mm2"),
    }
}
