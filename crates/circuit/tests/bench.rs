//! The bench against values worked out elsewhere.
//!
//! Lamp strings, ground detectors: Kirchhoff's laws for one loop and for two loops, worked out by
//! hand (no source needed). The whole of an example: the engine that motion and proof use, which is
//! written apart (`Wiring`, checked against published networks in `published.rs`).
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

mod common;

use common::{Bench as ByHand, quantity};
use fiftytwo_circuit::bench::{Bench, BenchFault, Charge, Ends, Fault, Setup, Warmth};
use fiftytwo_circuit::{Battery, Heat, Wiring};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{GroundDetector, Light, PartId, PartKind, Scheme, read_path};
use serde_json::Value;

fn near(value: Option<f64>, expected: f64) {
    let value = value.unwrap();
    assert!((value - expected).abs() < 1e-4 * expected.abs().max(1e-3), "{value} not {expected}");
}

/// A lamp of 24 V, 35 mA, taken as a resistance, with 2900 ohm in front of a trip coil of 125 V, 6 A, in which a contact is
/// open.
fn lamp_string() -> ByHand {
    let mut by_hand = ByHand::new();
    by_hand.supply("DC", 125.0, 105.0, 140.0, 0.0);
    by_hand.resistor("R1", "DC+", "1", 2900.0);
    let lamp = by_hand.lamp("RED", "1", "2", 0.035);
    if let PartKind::Lamp(lamp) = &mut by_hand.scheme.parts[lamp].kind {
        lamp.rated = Some(quantity(24.0, 24.0));
    }
    by_hand.contact("trip", "DC+", "2");
    by_hand.coil("TC", "2", "DC-", Some(125.0 / 6.0));
    by_hand
}

#[test]
fn a_lamp_with_its_resistor_in_front_of_a_trip_coil() {
    let by_hand = lamp_string();
    let bench = Bench::new(&by_hand.scheme);
    let part = |name| by_hand.scheme.part_named(name).unwrap();
    let (lamp, resistor, coil) = (part("RED"), part("R1"), part("TC"));
    let path = format!("{}/../../checks/networks.json", env!("CARGO_MANIFEST_DIR"));
    let data: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let data = &data["lamp_through_coil"];
    let number = |value: &Value| value.as_str().unwrap().parse::<f64>().unwrap();
    let rows = data["rows"].as_array().unwrap();
    let volts: Vec<f64> = rows.iter().map(|row| number(&row[0])).collect();
    assert_eq!(volts, [140.0, 132.0, 125.0, 105.0]);
    for row in rows {
        // The lowest and the highest of a battery that charges at so many volts.
        let mut by_hand = lamp_string();
        let supply = by_hand.scheme.supplies.ids().next().unwrap();
        by_hand.scheme.supplies[supply].range = quantity(105.0, number(&row[0]));
        let bench = Bench::new(&by_hand.scheme);
        let setup = bench.setup().at(Ends { battery: Charge::High, ..Ends::NOMINAL });
        let readings = bench.solve(&setup).unwrap();
        // Half a unit of the last printed digit.
        let watts = |amps: Option<f64>, printed: f64| {
            let off = amps.unwrap().powi(2).mul_add(2900.0, -printed).abs();
            assert!(off <= 0.000_501, "{printed} W: off by {off}");
        };
        near(readings.amps(lamp).map(|amps| amps * 1e3), number(&row[1]));
        near(readings.across(lamp), number(&row[2]));
        near(readings.across(coil), number(&row[3]));
        watts(readings.amps(resistor), number(&row[6]));
        let shorted = bench.solve(&setup.clone().with_fault(Fault::Shorted(lamp))).unwrap();
        near(shorted.amps(coil).map(|amps| amps * 1e3), number(&row[4]));
        near(shorted.across(coil), number(&row[5]));
        watts(shorted.amps(resistor), number(&row[7]));
    }
    let setup = bench.setup().at(Ends { battery: Charge::High, ..Ends::NOMINAL });
    let readings = bench.solve(&setup.with_fault(Fault::Shorted(resistor))).unwrap();
    near(readings.amps(coil).map(|amps| amps * 1e3), number(&data["resistor_shorted_at_140"][0]));
    near(readings.across(coil), number(&data["resistor_shorted_at_140"][1]));
}

#[test]
fn a_filament_draws_ten_times_its_current_while_it_warms_up() {
    let mut by_hand = ByHand::new();
    by_hand.supply("DC", 24.0, 24.0, 24.0, 0.0);
    let lamp = by_hand.lamp("RED", "DC+", "DC-", 0.035);
    if let PartKind::Lamp(lamp) = &mut by_hand.scheme.parts[lamp].kind {
        lamp.light = Light::Filament;
        lamp.cold = Some(quantity(70.0, 70.0));
    }
    let bench = Bench::new(&by_hand.scheme);
    let setup = bench.setup();
    near(bench.solve(&setup).unwrap().amps(lamp), 0.035);
    let cold = bench.solve(&Setup { filaments_cold: true, ..setup }).unwrap();
    near(cold.amps(lamp), 24.0 / 70.0);
}

#[test]
fn a_diode_has_its_drop_one_way_and_nothing_the_other() {
    let mut by_hand = ByHand::new();
    by_hand.supply("DC", 10.0, 10.0, 10.0, 0.0);
    let mut diode = |name, from, to| {
        let id = by_hand.diode(name, from, to);
        if let PartKind::Diode(diode) = &mut by_hand.scheme.parts[id].kind {
            diode.drop = Some(quantity(0.7, 0.7));
        }
        id
    };
    let (down, up) = (diode("V1", "DC+", "1"), diode("V2", "2", "DC+"));
    by_hand.resistor("R1", "1", "DC-", 1000.0);
    by_hand.resistor("R2", "2", "DC-", 1000.0);
    let bench = Bench::new(&by_hand.scheme);
    let readings = bench.solve(&bench.setup()).unwrap();
    near(readings.amps(down), 9.3e-3);
    assert!(readings.amps(up).unwrap().abs() < 1e-12);
    assert!(bench.assumed().is_empty(), "the drop is declared");
}

#[test]
fn a_wire_off_its_screw_leaves_the_part_dead_and_the_rest_as_with_the_part_broken() {
    let by_hand = lamp_string();
    let bench = Bench::new(&by_hand.scheme);
    let part = |name| by_hand.scheme.part_named(name).unwrap();
    let coil = part("TC");
    let broken = bench.solve(&bench.setup().with_fault(Fault::Open(coil))).unwrap();
    near(broken.across(coil), 125.0);
    assert_eq!(broken.amps(coil), Some(0.0));
    let loose =
        bench.solve(&bench.setup().with_fault(Fault::Loose { part: coil, upper: true })).unwrap();
    near(loose.across(coil), 0.0);
    near(loose.potential(by_hand.scheme.node_named("2").unwrap()), 125.0);
    let dead = bench.setup().without(by_hand.scheme.supplies.ids().next().unwrap());
    let dead = bench.solve(&dead).unwrap();
    assert_eq!(dead.potential(by_hand.scheme.node_named("2").unwrap()), None);
    assert_eq!(dead.across(coil), None);
}

#[test]
fn a_shorted_supply_is_named() {
    let by_hand = lamp_string();
    let bench = Bench::new(&by_hand.scheme);
    let supply = by_hand.scheme.supplies.ids().next().unwrap();
    let shorted = bench
        .setup()
        .with_closed(by_hand.scheme.part_named("trip").unwrap(), true)
        .with_fault(Fault::Shorted(by_hand.scheme.part_named("TC").unwrap()));
    let fault = bench.solve(&shorted).unwrap_err();
    assert_eq!(fault, BenchFault::Shorted(supply));
    assert!(fault.finding(&by_hand.scheme).message.contains("short DC"));
}

fn with_detector(ohm: f64) -> ByHand {
    let mut by_hand = ByHand::new();
    let supply = by_hand.supply("DC", 125.0, 125.0, 125.0, 0.0);
    by_hand.contact("c", "DC+", "1");
    by_hand.coil("K", "1", "DC-", Some(2000.0));
    let span = by_hand.span();
    by_hand.scheme.supplies[supply].grounds.push(GroundDetector {
        plus: quantity(ohm, ohm),
        minus: quantity(ohm, ohm),
        capacitance: None,
        alarms_below: None,
        span,
    });
    by_hand
}

#[test]
fn grounds_move_both_poles_and_an_idle_coil() {
    let by_hand = with_detector(10e3);
    let bench = Bench::new(&by_hand.scheme);
    let node = |name| by_hand.scheme.node_named(name).unwrap();
    let (plus, minus) = (node("DC+"), node("DC-"));
    let poles = |ohm, at| {
        let readings = bench.solve(&bench.setup().with_fault(Fault::Ground { at, ohm })).unwrap();
        (readings.to_ground(plus), readings.to_ground(minus))
    };
    // Two equal legs R, a fault Rf on plus: V+g = V (R||Rf) / (R + R||Rf).
    for (ohm, at, expected) in [
        (10e3, plus, (41.667, -83.333)),
        (5e3, plus, (31.25, -93.75)),
        (0.0, plus, (0.0, -125.0)),
        (20e3, minus, (75.0, -50.0)),
    ] {
        let (to_plus, to_minus) = poles(ohm, at);
        near(to_plus, expected.0);
        near(to_minus, expected.1);
    }
    // A solid ground behind the open contact: 2 kohm beside one leg, in series with the other.
    let coil = by_hand.scheme.part_named("K").unwrap();
    let ground = Fault::Ground { at: node("1"), ohm: 0.0 };
    let readings = bench.solve(&bench.setup().with_fault(ground)).unwrap();
    near(readings.across(coil), 17.857);
    // A second ground on plus: the full voltage.
    let both = bench.setup().with_fault(ground).with_fault(Fault::Ground { at: plus, ohm: 0.0 });
    near(bench.solve(&both).unwrap().across(coil), 125.0);
}

#[test]
fn the_bench_and_the_engine_of_motion_agree_on_every_leg_of_the_examples() {
    for name in ["quillmere", "harrowfen", "dunmarrow", "latches"] {
        let path = format!("{}/../../examples/{name}/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
        let scheme: Scheme = read_path(path.as_ref()).scheme.unwrap();
        let bench = Bench::new(&scheme);
        let wiring = Wiring::new(&scheme).unwrap();
        let undeclared: Vec<PartId> = bench.assumed().iter().map(|assumed| assumed.part).collect();
        let mut compared = 0;
        for section in wiring.sections() {
            for seed in 0..40_u32 {
                let closed = |part: PartId| match scheme.parts[part].kind {
                    PartKind::Contact(_) => {
                        let mixed = (part.index() as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
                        mixed.rotate_left(seed).wrapping_mul(0xD1B5_4A32_D192_ED03) >> 62 < 3
                    }
                    _ => true,
                };
                let Some(mut corner) =
                    wiring.at_corner(section, Battery::High, Heat::Cold, Heat::Hot)
                else {
                    continue;
                };
                let key = wiring.positions(section, closed);
                let volts = corner.volts(&key).to_vec();
                // The other sections of the supply stand still in one and draw in the other: only
                // this one's contacts and fuses are closed.
                let mut setup = bench.setup().at(Ends {
                    battery: Charge::High,
                    conductors: Warmth::Cold,
                    coils: Warmth::Hot,
                });
                for part in scheme.parts.ids() {
                    let here = wiring.section_of(part) == Some(section);
                    setup = setup.with_closed(part, here && closed(part));
                }
                // `Wiring` leaves out what says no resistance.
                setup.faults.extend(undeclared.iter().map(|part| Fault::Open(*part)));
                let Ok(readings) = bench.solve(&setup) else { continue };
                for (&load, volts) in wiring.loads(section).iter().zip(volts) {
                    if undeclared.contains(&load) {
                        continue;
                    }
                    let across = readings.across(load).unwrap_or(0.0);
                    assert!(
                        (across - volts).abs() < 1e-6,
                        "{name}, {}: {across} and {volts}",
                        scheme.parts[load].name
                    );
                    compared += 1;
                }
            }
        }
        assert!(compared > 40, "{name}: {compared}");
    }
}
