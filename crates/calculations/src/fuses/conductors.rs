//! What current a conductor may be protected at, and how long it stands a short.
//!
//! **In:** a size and a material. **Out:** the largest fuse before it, and the energy it stands.
//! **Never here:** the conductor's voltage drop.
//!
//! AWG and kcmil: 18 to 10 AWG copper, 12 and 10 AWG aluminium by NEC 240.4(D) (read in public
//! reprints); thicker ones the 60 °C column of NEC table 310.16 (from memory). mm²: two loaded
//! copper conductors with PVC in conduit on a wall, method B2 of IEC 60364-5-52 (from memory);
//! below 1.5 mm² flexible cords (from memory); aluminium 0.78 times copper (common practice, no
//! source).
//!
//! A short: `I² t ≤ k² S²` for at most 5 s, k = 115 A √s / mm² for copper and 76 for aluminium with
//! PVC (IEC 60364-4-43, from memory).

use fiftytwo_circuit::conductor::area_mm2;
use fiftytwo_scheme::{Material, WireSize};

/// Copper and aluminium by gauge, A.
const AWG: [(i32, f64, Option<f64>); 15] = [
    (18, 7.0, None),
    (16, 10.0, None),
    (14, 15.0, None),
    (12, 20.0, Some(15.0)),
    (10, 30.0, Some(25.0)),
    (8, 40.0, Some(35.0)),
    (6, 55.0, Some(40.0)),
    (4, 70.0, Some(55.0)),
    (3, 85.0, Some(65.0)),
    (2, 95.0, Some(75.0)),
    (1, 110.0, Some(85.0)),
    (0, 125.0, Some(100.0)),
    (-1, 145.0, Some(115.0)),
    (-2, 165.0, Some(130.0)),
    (-3, 195.0, Some(150.0)),
];
/// Copper and aluminium by kcmil, A.
const KCMIL: [(f64, f64, f64); 5] = [
    (250.0, 215.0, 170.0),
    (300.0, 240.0, 195.0),
    (350.0, 260.0, 210.0),
    (400.0, 280.0, 225.0),
    (500.0, 320.0, 260.0),
];
/// Copper by mm², A.
const MM2: [(f64, f64); 12] = [
    (0.5, 3.0),
    (0.75, 6.0),
    (1.0, 10.0),
    (1.5, 16.5),
    (2.5, 23.0),
    (4.0, 30.0),
    (6.0, 38.0),
    (10.0, 52.0),
    (16.0, 69.0),
    (25.0, 90.0),
    (35.0, 111.0),
    (50.0, 133.0),
];
/// Aluminium against copper of the same mm².
const ALUMINIUM: f64 = 0.78;

/// The largest fuse before one conductor of that size, A; none: not in the tables.
pub(crate) fn largest_fuse(size: WireSize, material: Material) -> Option<f64> {
    let copper = material == Material::Copper;
    match size {
        WireSize::Awg(gauge) => {
            let row = AWG.iter().find(|row| row.0 == gauge)?;
            if copper { Some(row.1) } else { row.2 }
        }
        WireSize::Kcmil(kcmil) => {
            let row = KCMIL.iter().find(|row| (row.0 - kcmil).abs() < 1e-9)?;
            Some(if copper { row.1 } else { row.2 })
        }
        WireSize::Mm2(area) => {
            let row = MM2.iter().find(|row| (row.0 - area).abs() < 1e-9)?;
            Some(if copper { row.1 } else { row.1 * ALUMINIUM })
        }
    }
}

/// Where the value comes from, in words.
pub(super) fn source(size: WireSize, material: Material) -> &'static str {
    let small = match (size, material) {
        (WireSize::Awg(gauge), Material::Copper) => gauge >= 10,
        (WireSize::Awg(gauge), Material::Aluminium) => gauge == 10 || gauge == 12,
        _ => false,
    };
    match size {
        _ if small => "NEC 240.4(D)",
        WireSize::Awg(_) | WireSize::Kcmil(_) => "NEC table 310.16, 60 C, from memory",
        WireSize::Mm2(_) => "IEC 60364-5-52, method B2, from memory",
    }
}

/// The energy that a conductor stands in a short, A² s.
pub(super) fn stands(size: WireSize, material: Material, side_by_side: f64) -> f64 {
    let k = match material {
        Material::Copper => 115.0,
        Material::Aluminium => 76.0,
    };
    (k * area_mm2(size) * side_by_side).powi(2)
}
