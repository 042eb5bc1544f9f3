//! The pure parts against published and derived values; the data stand in `checks/`.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its data has failed")]
#![allow(
    clippy::disallowed_methods,
    reason = "the system's own functions are what is compared with"
)]

use super::bridge::{Legs, Pole};
use super::discharge::{Above, Discharge, energy};
use super::field::{Added, Bend, Field, FieldFault, Link, Parts, Piece};
use fiftytwo_circuit::Network;
use fiftytwo_circuit::series::ln;
use serde_json::Value;

fn checks(name: &str) -> Value {
    let path = format!("{}/../../checks/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn list<'v>(value: &'v Value, of: &str) -> &'v Vec<Value> {
    value[of].as_array().unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn index(value: &Value) -> usize {
    usize::try_from(value.as_u64().unwrap()).unwrap()
}

fn legs(value: &Value) -> Legs {
    Legs { plus: number(&value[0]), minus: number(&value[1]) }
}

/// Half a unit of the last printed digit.
fn assert_printed(found: f64, printed: &Value, what: &Value) {
    let text = printed.as_str().unwrap();
    let decimals = text.split_once('.').map_or(0, |(_, after)| after.len());
    let half = 0.5 * 10_f64.powi(-i32::try_from(decimals).unwrap());
    let off = (found - text.parse::<f64>().unwrap()).abs();
    assert!(off <= half * 1.000_001, "{what}: {found} where {text} is printed");
}

#[test]
fn a_detector_divides_the_supply_about_ground() {
    for case in list(&checks("grounds"), "bridge") {
        let mut legs = legs(&case["legs"]);
        if let Some(ground) = case["ground"].as_array() {
            let pole = if ground[0] == "plus" { Pole::Plus } else { Pole::Minus };
            legs = legs.with_ground(pole, number(&ground[1]));
        }
        let found = legs.divide(number(&case["volt"]));
        assert_printed(found.plus, &case["plus_to_ground"], &case["name"]);
        assert_printed(found.minus, &case["ground_to_minus"], &case["name"]);
    }
}

/// The same cases with the circuit crate's nodal analysis and with the field.
#[test]
fn a_ground_behind_a_contact_lifts_a_coil() {
    for case in list(&checks("grounds"), "coil_behind_ground") {
        let (volt, coil) = (number(&case["volt"]), number(&case["coil"]));
        let legs = legs(&case["legs"]);
        // Ground 0, plus 1, minus 2, the wire between contact and coil 3.
        let mut network = Network::new(4);
        network.source(1, 2, volt, 0.0);
        network.resistor(1, 0, legs.plus);
        network.resistor(2, 0, legs.minus);
        network.resistor(3, 2, coil);
        network.switch(3, 0, true);
        let solved = network.solve().unwrap().voltage(3, 2).unwrap();
        assert_printed(solved, &case["volts"], &case["name"]);
        let field = battery_and_coil(volt, legs, coil);
        let alone = field.with(&[]).unwrap();
        assert!(alone.between(0, 3).is_some_and(|at| (at - volt / 2.0).abs() < 1e-9));
        let grounded = field.with(&[Added { a: 3, b: 0, ohm: 0.0, volt: 0.0 }]).unwrap();
        let found = grounded.between(3, 2).unwrap();
        assert_printed(found, &case["volts"], &case["name"]);
        assert!((found - solved).abs() < 1e-9);
    }
}

fn resistor(a: usize, b: usize, ohm: f64) -> Link {
    Link { a, b, siemens: ohm.recip(), amps: 0.0 }
}

fn battery_and_coil(volt: f64, legs: Legs, coil: f64) -> Field {
    Field::new(&Parts {
        nodes: 4,
        reference: 2,
        joins: vec![(1, 2, volt)],
        links: vec![resistor(1, 0, legs.plus), resistor(2, 0, legs.minus), resistor(3, 2, coil)],
        ..Parts::default()
    })
    .unwrap()
}

#[test]
fn a_stray_capacitance_holds_an_input_for_a_while() {
    for case in list(&checks("grounds"), "discharge") {
        let tau = number(&case["farad"]) * number(&case["ohm"]);
        let discharge = Discharge { first: number(&case["volt"]), last: 0.0, tau };
        let above = discharge.above(number(&case["threshold"]));
        assert_printed(above.longest() * 1e3, &case["milliseconds"], &case["name"]);
    }
    for case in list(&checks("grounds"), "energy") {
        let joule = energy(number(&case["farad"]), number(&case["volt"]), 0.0);
        assert_printed(joule * 1e3, &case["millijoules"], &case["name"]);
    }
}

#[test]
fn a_second_detector_makes_the_first_one_deaf() {
    for case in list(&checks("grounds"), "two_detectors") {
        let one = legs(&case["legs"]);
        let both = one.beside(legs(&case["other"]));
        for pole in [Pole::Plus, Pole::Minus] {
            let found = one.alarm_beside(both, pole, number(&case["alarms_below"]));
            assert_printed(found, &case["with_both"], &case["name"]);
        }
    }
}

/// A uneven second detector may move the ground beyond the alarm by itself or never reach it.
#[test]
fn an_uneven_second_detector_may_blind_the_first() {
    let one = Legs { plus: 50e3, minus: 50e3 };
    let both = one.beside(Legs { plus: 1e3, minus: 100e3 });
    assert_eq!(one.alarm_beside(both, Pole::Plus, 5e3), 0.0);
}

#[test]
fn the_time_above_a_threshold_has_every_shape() {
    let at = |first, last, threshold| Discharge { first, last, tau: 1.0 }.above(threshold);
    assert_eq!(at(10.0, 0.0, 11.0), Above::Never);
    assert_eq!(at(10.0, 8.0, 8.0), Above::From(0.0));
    assert_eq!(at(0.0, 0.0, 0.0), Above::From(0.0));
    let Above::From(from) = at(0.0, 10.0, 5.0) else { panic!("rises to it") };
    assert!((from - std::f64::consts::LN_2).abs() < 1e-15);
    let Above::ForAndFrom(down, up) = at(10.0, -10.0, 5.0) else { panic!("passes through zero") };
    assert!((down - (20.0_f64 / 15.0).ln()).abs() < 1e-15 && (up - 4.0_f64.ln()).abs() < 1e-15);
    let Above::From(turned) = at(1.0, -10.0, 5.0) else { panic!("turns over") };
    assert!((turned - 2.2_f64.ln()).abs() < 1e-15);
    assert_eq!(at(-10.0, 0.0, 5.0).longest(), at(10.0, 0.0, 5.0).longest());
    // Without a capacitance only the end counts.
    assert_eq!(Discharge { first: 90.0, last: 10.0, tau: 0.0 }.above(50.0), Above::Never);
}

#[test]
fn logarithm_and_decay_agree_with_the_systems() {
    for step in 1..4000 {
        let x = f64::from(step) * 0.037;
        assert!((ln(x) - x.ln()).abs() <= 1e-15 * (1.0 + x.ln().abs()), "{x}");
        let decays = Discharge { first: 1.0, last: 0.0, tau: 1.0 }.at(x);
        assert!((decays - (-x).exp()).abs() < 1e-13, "{x}");
    }
    assert!((ln(1e300) - 1e300_f64.ln()).abs() < 1e-12 && (ln(1e-300) + ln(1e300)).abs() < 1e-12);
}

/// A discharge read back at the end of its stretch stands at the threshold.
#[test]
fn what_stands_above_a_threshold_ends_on_it() {
    let discharge = Discharge { first: 70.0, last: 18.0, tau: 0.125 };
    let Above::For(seconds) = discharge.above(60.0) else { panic!("falls through it") };
    assert!((discharge.at(seconds) - 60.0).abs() < 1e-9);
}

/// Published networks (their sources stand in the file), node 0 as ground.
#[test]
fn the_field_solves_published_networks() {
    let mut checked = 0;
    for case in list(&checks("networks"), "networks") {
        let mut parts = Parts { nodes: 10, reference: 0, ..Parts::default() };
        for branch in list(case, "branches") {
            let (a, b) = (index(&branch[1]), index(&branch[2]));
            match branch[0].as_str().unwrap() {
                "resistor" if number(&branch[3]) == 0.0 => parts.joins.push((a, b, 0.0)),
                "resistor" => parts.links.push(resistor(a, b, number(&branch[3]))),
                "source" if number(&branch[4]) == 0.0 => {
                    parts.joins.push((a, b, number(&branch[3])));
                }
                "source" => {
                    let siemens = number(&branch[4]).recip();
                    let amps = -number(&branch[3]) * siemens;
                    parts.links.push(Link { a, b, siemens, amps });
                }
                "current" => {
                    parts.links.push(Link { a, b, siemens: 0.0, amps: number(&branch[3]) });
                }
                other => panic!("{other}"),
            }
        }
        let field = Field::new(&parts).unwrap_or_else(|fault| panic!("{case}: {fault:?}"));
        for value in list(case, "exact").iter().filter(|value| value[0] == "volt") {
            let (over, under) = value[3].as_str().unwrap().split_once('/').unwrap();
            let exact = over.parse::<f64>().unwrap() / under.parse::<f64>().unwrap();
            let alone = field.with(&[]).unwrap();
            let at = |node: &Value| alone.potential(index(node)).unwrap();
            let found = at(&value[1]) - at(&value[2]);
            assert!((found - exact).abs() < 1e-9 * exact.abs().max(1.0), "{case}: {found}");
            checked += 1;
        }
    }
    assert!(checked >= 8, "{checked}");
}

/// Random networks with grounds, a pair of grounds and a diode or two: the field's shortcut
/// against a full matrix written here, solved anew for each case.
#[test]
fn additions_agree_with_a_full_matrix_solved_anew() {
    let mut seed = 0x9E37_79B9_7F4A_7C15_u64;
    let mut random = move |below: u64| {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        usize::try_from(seed % below).unwrap()
    };
    let mut compared = 0;
    for _ in 0..300 {
        let nodes = 5 + random(9);
        // Ground 0, plus 1, minus 2, with 20 milliohm inside and a detector.
        let mut links = vec![
            Link { a: 1, b: 2, siemens: 50.0, amps: -140.0 * 50.0 },
            resistor(1, 0, 40e3),
            resistor(2, 0, 60e3),
        ];
        for node in 3..nodes {
            let ohm = [0.4, 22.0, 1800.0, 12e3, 40e3][random(5)];
            links.push(resistor(node, 1 + random(node as u64 - 1), ohm));
        }
        for _ in 0..random(4) {
            let (a, b) = (1 + random(nodes as u64 - 1), 1 + random(nodes as u64 - 1));
            if a != b {
                links.push(resistor(a, b, 3e3));
            }
        }
        let diode = |a, b| Bend {
            a,
            b,
            pieces: vec![
                Piece { until: 0.0, siemens: 1e-9, amps: 0.0 },
                Piece { until: f64::INFINITY, siemens: 0.5, amps: 0.0 },
            ],
        };
        let bends: Vec<Bend> = (0..random(3))
            .map(|_| diode(1 + random(nodes as u64 - 1), 3 + random(nodes as u64 - 3)))
            .filter(|bend| bend.a != bend.b)
            .collect();
        let parts = Parts { nodes, reference: 2, joins: Vec::new(), links, bends, whole: None };
        let field = Field::new(&parts).unwrap();
        let (a, b) = (3 + random(nodes as u64 - 3), 1 + random(nodes as u64 - 1));
        let ohm = [1.0, 1e3, 5e3, 20e3][random(4)];
        let ground = Added { a, b: 0, ohm, volt: 0.0 };
        let join = Added { a, b, ohm: 0.5, volt: 0.0 };
        let cases = [vec![ground], if a == b { vec![] } else { vec![join] }];
        for added in cases {
            let changed = field.with(&added).unwrap();
            let anew = full_matrix(&parts, &added);
            for (node, anew) in anew.iter().enumerate() {
                let off = (changed.potential(node).unwrap() - anew).abs();
                // Within 1e-9 V of its bend a diode of 2 ohm may keep its state: 0.5 nA, which
                // makes some ten microvolts in 30 kohm.
                assert!(off < 5e-5, "{off} V at {node} with {added:?} in {parts:?}");
                compared += 1;
            }
        }
    }
    assert!(compared > 3000, "{compared}");
}

/// Every node but one as an unknown, Gaussian elimination, every state of the diodes tried.
fn full_matrix(parts: &Parts, added: &[Added]) -> Vec<f64> {
    for states in 0..1_usize << parts.bends.len() {
        let mut links = parts.links.clone();
        links.extend(added.iter().map(|added| resistor(added.a, added.b, added.ohm)));
        for (index, bend) in parts.bends.iter().enumerate() {
            let piece = bend.pieces[states >> index & 1];
            links.push(Link { a: bend.a, b: bend.b, siemens: piece.siemens, amps: piece.amps });
        }
        let volts = eliminate(parts.nodes, parts.reference, &links);
        let fits = parts.bends.iter().enumerate().all(|(index, bend)| {
            let forward = volts[bend.a] - volts[bend.b];
            if states >> index & 1 == 1 { forward > -1e-9 } else { forward < 1e-9 }
        });
        if fits {
            return volts;
        }
    }
    panic!("no state of the diodes fits")
}

fn eliminate(nodes: usize, reference: usize, links: &[Link]) -> Vec<f64> {
    let mut rows = vec![vec![0.0; nodes + 1]; nodes];
    for link in links {
        for (from, to, sign) in [(link.a, link.b, 1.0), (link.b, link.a, -1.0)] {
            rows[from][from] += link.siemens;
            rows[from][to] -= link.siemens;
            rows[from][nodes] -= sign * link.amps;
        }
    }
    rows[reference] = vec![0.0; nodes + 1];
    rows[reference][reference] = 1.0;
    for pivot in 0..nodes {
        let best = (pivot..nodes)
            .max_by(|a, b| rows[*a][pivot].abs().total_cmp(&rows[*b][pivot].abs()))
            .unwrap();
        rows.swap(pivot, best);
        for row in 0..nodes {
            if row != pivot {
                let factor = rows[row][pivot] / rows[pivot][pivot];
                let from = rows[pivot].clone();
                rows[row].iter_mut().zip(&from).for_each(|(entry, from)| *entry -= factor * from);
            }
        }
    }
    (0..nodes).map(|row| rows[row][nodes] / rows[row][row]).collect()
}

/// A capacitance at a pole of the detector circuit sees both legs and the ground side by side.
#[test]
fn a_capacitance_discharges_through_legs_and_ground_side_by_side() {
    let field = battery_and_coil(125.0, Legs { plus: 10e3, minus: 10e3 }, 2000.0);
    assert!((field.with(&[]).unwrap().ohm_at(0) - 5e3).abs() < 1e-6);
    let grounded = field.with(&[Added { a: 3, b: 0, ohm: 0.0, volt: 0.0 }]).unwrap();
    let expected = 1.0 / (1.0 / 5e3 + 1.0 / 2e3);
    assert!((grounded.ohm_at(0) - expected).abs() < 1e-6);
}

#[test]
fn an_ideal_supply_that_is_shorted_has_no_answer() {
    let mut parts = Parts { nodes: 3, reference: 0, ..Parts::default() };
    parts.joins = vec![(1, 2, 125.0), (1, 2, 0.0)];
    assert_eq!(Field::new(&parts).unwrap_err(), FieldFault::Shorted);
    let field = battery_and_coil(125.0, Legs { plus: 10e3, minus: 10e3 }, 2000.0);
    let short = [Added { a: 1, b: 2, ohm: 0.0, volt: 0.0 }];
    assert_eq!(field.with(&short).unwrap_err(), FieldFault::Contradiction);
}

/// Ground on a wire that nothing holds moves nothing.
#[test]
fn what_floats_moves_nothing_and_has_no_number() {
    let mut parts = Parts { nodes: 5, reference: 2, ..Parts::default() };
    parts.joins = vec![(1, 2, 125.0)];
    parts.links = vec![resistor(1, 0, 1e4), resistor(2, 0, 1e4), resistor(3, 4, 10.0)];
    let field = Field::new(&parts).unwrap();
    let grounded = field.with(&[Added { a: 3, b: 0, ohm: 0.0, volt: 0.0 }]).unwrap();
    assert_eq!(grounded.potential(3), None);
    assert!((grounded.potential(0).unwrap() - 62.5).abs() < 1e-9);
}

/// The island's shortcut against the whole scheme solved anew on the bench: every tenth wire of
/// the largest example, at every rest position, with a solid ground, 5 kohm, and joined to another
/// wire.
#[test]
fn islands_agree_with_the_bench() {
    use super::island::islands;
    use fiftytwo_circuit::bench::Fault;
    use fiftytwo_scheme::read_text;

    let path = format!("{}/../../examples/quillmere/scheme.kdl", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap()
        + "ground \"DC1\" plus=\"40 kohm\" minus=\"60 kohm\" capacitance=\"5 uF\"\n\
           ground \"DC2\" plus=\"25 kohm\" minus=\"25 kohm\" capacitance=\"5 uF\"\n";
    let scheme = read_text("scheme.kdl", &text).scheme.unwrap();
    let machine = fiftytwo_motion::Machine::new(&scheme).unwrap();
    let study = crate::Study::new(&machine);
    let (detectors, _) = super::assumed::detectors(&scheme);
    let all: Vec<_> = scheme.supplies.ids().collect();
    let mut compared = 0;
    for (number, rest) in study.rest.iter().enumerate() {
        let (ends, _) = super::CORNERS[number % 3];
        let setup = rest.setup(&study.bench).at(ends);
        let islands = islands(&study.bench, &setup, &detectors, &all, None).unwrap();
        for island in &islands {
            for (index, point) in island.points.iter().enumerate().skip(number % 10).step_by(10) {
                let node = point[0];
                let other = island.points[(index + 7) % island.points.len()][0];
                if other == node {
                    continue;
                }
                let ground = |ohm| (island.grounded(node, ohm), Fault::Ground { at: node, ohm });
                let join = Added {
                    a: fiftytwo_scheme::arena::Id::index(node),
                    b: fiftytwo_scheme::arena::Id::index(other),
                    ohm: 0.0,
                    volt: 0.0,
                };
                for (added, fault) in [ground(0.0), ground(5e3), (join, Fault::Joined(node, other))]
                {
                    let quick = island.field.with(&[added]).unwrap();
                    let anew = study.bench.solve(&setup.clone().with_fault(fault)).unwrap();
                    for &part in &island.parts {
                        let quick = island.across(&study.bench, part, &quick).unwrap();
                        let anew = anew.across(part).unwrap();
                        assert!(
                            (quick - anew).abs() < 1e-5,
                            "{}: {quick} V, anew {anew} V, {fault:?} at {}",
                            scheme.parts[part].name,
                            rest.name
                        );
                        compared += 1;
                    }
                }
            }
        }
    }
    assert!(compared > 1000, "{compared}");
}

/// A light-emitting diode and a limiter have neighbouring pieces of one slope, and a limiter two
/// that differ in current alone. By hand: 100 V behind 10 kohm and the part.
#[test]
fn pieces_of_one_slope_are_no_exception() {
    let piece = |until, siemens, amps| Piece { until, siemens, amps };
    let inf = f64::INFINITY;
    let light = vec![
        piece(-2.0, 1e-3, 2e-3),
        piece(0.0, 1e-12, 0.0),
        piece(2.0, 1e-12, 0.0),
        piece(inf, 1e-3, -2e-3),
    ];
    // 2 mA from 1 V on, either way.
    let limiter = vec![piece(-1.0, 0.0, -2e-3), piece(1.0, 2e-3, 0.0), piece(inf, 0.0, 2e-3)];
    for (pieces, volts) in [(light, 2.0 + 98.0 / 11.0), (limiter, 80.0)] {
        let field = Field::new(&Parts {
            nodes: 4,
            reference: 0,
            joins: vec![(1, 0, 100.0)],
            links: vec![
                Link { a: 1, b: 2, siemens: 1e-4, amps: 0.0 },
                Link { a: 3, b: 0, siemens: 1.0, amps: 0.0 },
            ],
            bends: vec![Bend { a: 2, b: 3, pieces }],
            whole: None,
        })
        .unwrap();
        let healthy = field.with(&[]).unwrap().between(2, 3).unwrap();
        assert!((healthy - volts).abs() < 0.01, "{healthy} for {volts}");
        // Its wire strapped to minus, then to plus: nothing across it, and all.
        let strap = |to| Added { a: 2, b: to, ohm: 0.0, volt: 0.0 };
        let dark = field.with(&[strap(0)]).unwrap().between(2, 3).unwrap();
        assert!(dark.abs() < 1e-3, "{dark}");
        let bright = field.with(&[strap(1)]).unwrap().between(2, 3).unwrap();
        assert!((bright - 100.0).abs() < 0.5, "{bright}");
    }
}
