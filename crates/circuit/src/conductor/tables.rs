//! Published resistances of standard conductors.

use super::Sizes;
use fiftytwo_scheme::{Material, WireSize};

/// Metres in 1000 ft.
const METRES_PER_KFT: f64 = 304.8;
/// Temperature of NEC chapter 9 table 8, °C.
const NEC_CELSIUS: f64 = 75.0;
/// Temperature of IEC 60228, °C.
const IEC_CELSIUS: f64 = 20.0;
/// The thinnest aluminium wire that NEC 310 lets be used (from memory).
const THINNEST_ALUMINIUM: i32 = 12;

/// NEC chapter 9 table 8, stranded, d.c. Ω per 1000 ft at 75 °C: uncoated copper, aluminium.
///
/// Read in public reprints: copper 14 AWG and thicker, aluminium 6 AWG and thicker (some reprints
/// print the solid column for 14 to 8 AWG: 3.07, 1.93, 1.21, 0.764). From memory: copper 18 and
/// 16 AWG, aluminium 14 to 8 AWG.
#[expect(clippy::approx_constant, reason = "3.14 is a resistance")]
const NEC_AWG: [(i32, f64, Option<f64>); 15] = [
    (18, 7.95, None),
    (16, 4.99, None),
    (14, 3.14, Some(5.17)),
    (12, 1.98, Some(3.25)),
    (10, 1.24, Some(2.04)),
    (8, 0.778, Some(1.28)),
    (6, 0.491, Some(0.808)),
    (4, 0.308, Some(0.508)),
    (3, 0.245, Some(0.403)),
    (2, 0.194, Some(0.319)),
    (1, 0.154, Some(0.253)),
    (0, 0.122, Some(0.201)),
    (-1, 0.0967, Some(0.159)),
    (-2, 0.0766, Some(0.126)),
    (-3, 0.0608, Some(0.1)),
];

/// The same for kcmil; 600 and 750 kcmil from memory.
const NEC_KCMIL: [(f64, f64, Option<f64>); 7] = [
    (250.0, 0.0515, Some(0.0847)),
    (300.0, 0.0429, Some(0.0707)),
    (350.0, 0.0367, Some(0.0605)),
    (400.0, 0.0321, Some(0.0529)),
    (500.0, 0.0258, Some(0.0424)),
    (600.0, 0.0214, Some(0.0353)),
    (750.0, 0.0171, Some(0.0282)),
];

/// IEC 60228 class 2, greatest d.c. Ω per km at 20 °C: plain copper, aluminium. Read in public
/// tables of the standard.
const IEC_CLASS_2: [(f64, f64, Option<f64>); 18] = [
    (0.5, 36.0, None),
    (0.75, 24.5, None),
    (1.0, 18.1, None),
    (1.5, 12.1, None),
    (2.5, 7.41, None),
    (4.0, 4.61, None),
    (6.0, 3.08, None),
    (10.0, 1.83, Some(3.08)),
    (16.0, 1.15, Some(1.91)),
    (25.0, 0.727, Some(1.2)),
    (35.0, 0.524, Some(0.868)),
    (50.0, 0.387, Some(0.641)),
    (70.0, 0.268, Some(0.443)),
    (95.0, 0.193, Some(0.32)),
    (120.0, 0.153, Some(0.253)),
    (150.0, 0.124, Some(0.206)),
    (185.0, 0.0991, Some(0.164)),
    (240.0, 0.0754, Some(0.125)),
];

/// A published value, with the temperature it holds at.
pub(super) struct Published {
    pub(super) ohm_per_metre: f64,
    pub(super) celsius: f64,
}

pub(super) fn published(size: WireSize, material: Material) -> Option<Published> {
    let of = |copper: f64, aluminium: Option<f64>| match material {
        Material::Copper => Some(copper),
        Material::Aluminium => aluminium,
    };
    let by_area = |table: &[(f64, f64, Option<f64>)], area: f64| {
        let row = table.iter().find(|(size, ..)| (size - area).abs() < 1e-9)?;
        of(row.1, row.2)
    };
    let nec =
        |per_kft: f64| Published { ohm_per_metre: per_kft / METRES_PER_KFT, celsius: NEC_CELSIUS };
    match size {
        WireSize::Awg(gauge) => {
            let row = NEC_AWG.iter().find(|(size, ..)| *size == gauge)?;
            of(row.1, row.2).map(nec)
        }
        WireSize::Kcmil(kcmil) => by_area(&NEC_KCMIL, kcmil).map(nec),
        WireSize::Mm2(area) => by_area(&IEC_CLASS_2, area)
            .map(|per_km| Published { ohm_per_metre: per_km / 1000.0, celsius: IEC_CELSIUS }),
    }
}

pub(super) fn standard(sizes: Sizes, material: Material) -> Vec<WireSize> {
    let copper = material == Material::Copper;
    match sizes {
        Sizes::Awg => {
            let gauges = NEC_AWG.iter().map(|(gauge, ..)| *gauge);
            let gauges = gauges.filter(|gauge| copper || *gauge <= THINNEST_ALUMINIUM);
            let kcmil = NEC_KCMIL.iter().map(|(kcmil, ..)| WireSize::Kcmil(*kcmil));
            gauges.map(WireSize::Awg).chain(kcmil).collect()
        }
        Sizes::Mm2 => {
            let sizes = IEC_CLASS_2.iter().filter(|(.., aluminium)| copper || aluminium.is_some());
            sizes.map(|(area, ..)| WireSize::Mm2(*area)).collect()
        }
    }
}
