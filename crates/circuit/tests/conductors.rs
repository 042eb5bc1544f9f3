//! Standard conductors: thick copper and aluminium, and the series of sizes. The data stand in
//! `checks/conductors.json`, each with its source.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its data has failed")]

use fiftytwo_circuit::conductor::{
    Sizes, area_mm2, is_published, ohm_per_metre, size_name, solid_ohm_per_metre,
};
use fiftytwo_scheme::Material::{Aluminium, Copper};
use fiftytwo_scheme::{Material, WireSize};
use serde_json::Value;

const KFT: f64 = 304.8;

fn checks() -> Value {
    let path = format!("{}/../../checks/conductors.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn size(value: &Value) -> WireSize {
    match value.as_str() {
        Some(text) => match text.strip_suffix("/0") {
            Some(zeros) => WireSize::Awg(1 - zeros.parse::<i32>().unwrap()),
            None => WireSize::Awg(text.parse().unwrap()),
        },
        None => WireSize::Kcmil(value.as_f64().unwrap()),
    }
}

fn assert_printed(found: f64, printed: &str, what: &str) {
    let decimals = printed.split_once('.').map_or(0, |(_, after)| after.len());
    let half = 0.5 * 10_f64.powi(-i32::try_from(decimals).unwrap());
    let off = (found - printed.parse::<f64>().unwrap()).abs();
    assert!(off <= half * 1.000_001, "{what}: {found} where {printed} is printed");
}

fn bounds(table: &Value) -> std::ops::RangeInclusive<f64> {
    table["over_solid"][0].as_f64().unwrap()..=table["over_solid"][1].as_f64().unwrap()
}

/// A value typed wrong shows here: every conductor is a little worse than a solid wire of its area.
fn assert_a_little_worse(size: WireSize, material: Material, celsius: f64, table: &Value) {
    let over =
        ohm_per_metre(size, material, celsius) / solid_ohm_per_metre(size, material, celsius);
    assert!(bounds(table).contains(&over), "{size:?} {material:?}: {over}");
}

#[test]
fn thick_and_aluminium_awg_is_the_published_table() {
    let data = checks();
    for name in ["table_8_thick", "table_8_from_memory"] {
        let table = &data[name];
        for row in table["rows"].as_array().unwrap() {
            let size = size(&row[0]);
            let cmil = area_mm2(size) / (std::f64::consts::PI / 4.0 * 0.0254 * 0.0254);
            let printed = row[1].as_f64().unwrap();
            assert!((cmil / printed - 1.0).abs() < 3e-3, "{row}: {cmil} circular mils");
            for (column, material) in [(2, Copper), (3, Aluminium)] {
                let Some(printed) = row[column].as_str() else { continue };
                assert!(is_published(size, material));
                assert_printed(
                    ohm_per_metre(size, material, 75.0) * KFT,
                    printed,
                    &row.to_string(),
                );
                assert_a_little_worse(size, material, 75.0, table);
            }
        }
    }
}

#[test]
fn the_solid_column_is_not_taken_for_the_stranded_one() {
    // Some public reprints print 3.07, 1.93, 1.21 and 0.764 (solid) as stranded.
    for (gauge, solid) in [(14, 3.07), (12, 1.93), (10, 1.21), (8, 0.764)] {
        let stranded = ohm_per_metre(WireSize::Awg(gauge), Copper, 75.0) * KFT;
        assert!((1.015..1.03).contains(&(stranded / solid)), "{gauge} AWG: {stranded}");
    }
}

#[test]
fn thick_and_aluminium_metric_conductors_are_the_published_table() {
    let data = checks();
    let table = &data["class_2_thick"];
    for row in table["rows"].as_array().unwrap() {
        let size = WireSize::Mm2(row[0].as_f64().unwrap());
        for (column, material) in [(1, Copper), (2, Aluminium)] {
            let found = ohm_per_metre(size, material, 20.0) * 1000.0;
            assert_printed(found, row[column].as_str().unwrap(), &row.to_string());
            assert_a_little_worse(size, material, 20.0, table);
        }
    }
}

#[test]
fn the_series_of_standard_sizes_run_from_thin_to_thick() {
    let names = |sizes: Sizes, material| -> Vec<String> {
        sizes.standard(material).into_iter().map(size_name).collect()
    };
    let awg = names(Sizes::Awg, Copper);
    assert_eq!(awg[..4], ["18 AWG", "16 AWG", "14 AWG", "12 AWG"]);
    assert_eq!(awg[10..16], ["1 AWG", "1/0 AWG", "2/0 AWG", "3/0 AWG", "4/0 AWG", "250 kcmil"]);
    assert_eq!(names(Sizes::Awg, Aluminium)[0], "12 AWG");
    let metric = names(Sizes::Mm2, Copper);
    assert_eq!((metric[0].as_str(), metric[3].as_str()), ("0.5 mm2", "1.5 mm2"));
    assert_eq!(metric.last().unwrap(), "240 mm2");
    assert_eq!(names(Sizes::Mm2, Aluminium)[0], "10 mm2");
    for sizes in [Sizes::Awg, Sizes::Mm2] {
        for material in [Copper, Aluminium] {
            let standard = sizes.standard(material);
            assert!(standard.iter().all(|size| Sizes::of(*size) == sizes));
            for pair in standard.windows(2) {
                assert!(area_mm2(pair[0]) < area_mm2(pair[1]), "{pair:?}");
                let ohm = |size| ohm_per_metre(size, material, 50.0);
                assert!(ohm(pair[0]) > ohm(pair[1]), "{pair:?}");
            }
        }
    }
}
