//! The interval of a drive against every corner there is, one by one.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]

mod common;

use common::{Bench, coil, quantity};
use fiftytwo_circuit::conductor::ohm_per_metre;
use fiftytwo_circuit::{Heat, Method, Network, Positions, Supplies, Wiring};
use fiftytwo_scheme::{Material, PartId, PartKind, WireSize};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

/// A random net between the poles (nodes 0 and 1): cores and coils.
#[derive(Debug, Clone)]
struct Net {
    nodes: usize,
    cores: Vec<(usize, usize, f64)>,
    coils: Vec<(usize, usize, f64, f64)>,
    supply_ohm: f64,
}

fn net() -> impl Strategy<Value = Net> {
    (3..7_usize).prop_flat_map(|nodes| {
        let node = 0..nodes;
        let cores = proptest::collection::vec((node.clone(), node.clone(), 50.0..2000.0), 1..5);
        let coils = proptest::collection::vec((node.clone(), node, 10.0..3000.0, 1.0..2.0), 1..6);
        (cores, coils, 0.0..2.0).prop_map(move |(cores, coils, supply_ohm)| Net {
            nodes,
            cores: cores.into_iter().filter(|(a, b, _)| a != b).collect(),
            coils: coils
                .into_iter()
                .filter(|(a, b, ..)| a != b)
                .map(|(a, b, ohm, wide)| (a, b, ohm, ohm * wide))
                .collect(),
            supply_ohm,
        })
    })
}

fn name(node: usize) -> String {
    match node {
        0 => "DC1+".into(),
        1 => "DC1-".into(),
        other => format!("{other}"),
    }
}

const SIZE: WireSize = WireSize::Awg(14);
const COLD: f64 = -30.0;
const HOT: f64 = 75.0;

fn bench(net: &Net) -> (Bench, Vec<PartId>) {
    let mut bench = Bench::new();
    bench.supply("DC1", 125.0, 105.0, 140.0, net.supply_ohm);
    let yard = bench.place("YARD", COLD, HOT);
    for (index, &(a, b, metre)) in net.cores.iter().enumerate() {
        let cable = bench.cable(&format!("C{index}"), metre, SIZE, yard);
        bench.core(&format!("C{index}/1"), &name(a), &name(b), cable);
    }
    let mut parts = Vec::new();
    for (index, &(a, b, lo, hi)) in net.coils.iter().enumerate() {
        let mut made = coil(None);
        made.resistance = Some(quantity(lo, hi));
        let kind = PartKind::Coil(made);
        parts.push(bench.part(&format!("K{index}"), &name(a), &name(b), kind));
    }
    (bench, parts)
}

/// Whether conductors alone join the poles: a fault, which the drive of other sections leaves out.
fn is_shorted(net: &Net) -> bool {
    let mut from_plus = vec![false; net.nodes];
    from_plus[0] = true;
    for _ in 0..net.nodes {
        for &(a, b, _) in &net.cores {
            let either = from_plus[a] || from_plus[b];
            (from_plus[a], from_plus[b]) = (either, either);
        }
    }
    from_plus[1]
}

/// Least and greatest voltage across each coil over all 2^n corners and points inside the
/// tolerances, by the general solver.
fn brute(net: &Net, inside: &[Vec<f64>]) -> Vec<(f64, f64)> {
    let per_metre = |celsius| ohm_per_metre(SIZE, Material::Copper, celsius);
    let ends: Vec<(f64, f64)> = net
        .cores
        .iter()
        .map(|&(_, _, metre)| (metre * per_metre(COLD), metre * per_metre(HOT)))
        .chain(net.coils.iter().map(|&(_, _, lo, hi)| (lo, hi)))
        .collect();
    let between: Vec<(usize, usize)> = net
        .cores
        .iter()
        .map(|&(a, b, _)| (a, b))
        .chain(net.coils.iter().map(|&(a, b, ..)| (a, b)))
        .collect();
    let mut found = vec![(f64::INFINITY, f64::NEG_INFINITY); net.coils.len()];
    let corners = (0..1_u32 << ends.len()).map(|corner| {
        let end = |(index, &(lo, hi)): (usize, &(f64, f64))| {
            if corner >> index & 1 == 1 { hi } else { lo }
        };
        ends.iter().enumerate().map(end).collect::<Vec<f64>>()
    });
    let within = inside.iter().map(|shares| {
        let between = |(&(lo, hi), share): (&(f64, f64), &f64)| lo + share * (hi - lo);
        ends.iter().zip(shares).map(between).collect::<Vec<f64>>()
    });
    for ohms in corners.chain(within) {
        for volt in [105.0, 123.0, 140.0] {
            let mut network = Network::new(net.nodes);
            network.source(0, 1, volt, net.supply_ohm);
            for (&(a, b), &ohm) in between.iter().zip(&ohms) {
                network.resistor(a, b, ohm);
            }
            let solution = network.solve().unwrap();
            for (at, &(a, b, ..)) in net.coils.iter().enumerate() {
                let across = solution.voltage(a, b).unwrap_or(0.0);
                found[at].0 = across.min(found[at].0);
                found[at].1 = across.max(found[at].1);
            }
        }
    }
    // Without its direction; what takes both directions passes through 0.
    let sizes = found.into_iter().map(|(least, most)| {
        let lo = if least * most <= 0.0 { 0.0 } else { least.abs().min(most.abs()) };
        (lo, least.abs().max(most.abs()))
    });
    sizes.collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, max_global_rejects: 1_000_000, ..ProptestConfig::default() })]

    #[test]
    fn no_resistances_leave_the_interval_and_some_reach_its_ends(
        net in net(),
        inside in proptest::collection::vec(proptest::collection::vec(0.0..1.0_f64, 12), 16),
    ) {
        prop_assume!(!is_shorted(&net));
        let (bench, parts) = bench(&net);
        let wiring = Wiring::new(&bench.scheme).unwrap();
        let brute = brute(&net, &inside);
        for (part, (lo, hi)) in parts.iter().zip(brute) {
            let section = wiring.section_of(*part).unwrap();
            let drives = wiring.drive(section, &Positions::OPEN, Supplies::ALL);
            let drive = drives.iter().find(|drive| drive.part == *part).unwrap();
            // Other sections of the supply pull its voltage down by what they may draw.
            let alone = wiring.sections().len() == 1;
            let slack = 1e-9 * 140.0;
            prop_assert!(drive.volts_lo <= lo + slack, "{:?}: {} below", drive, lo);
            prop_assert!(drive.volts_hi >= hi - slack, "{:?}: {} above", drive, hi);
            if alone {
                // Around a bridge a bound within a thousandth of the supply is close enough.
                let close = if drive.straight { slack } else { 0.141 };
                prop_assert!(drive.volts_lo >= lo - close, "{:?}: {} at least", drive, lo);
                prop_assert!(drive.volts_hi <= hi + close, "{:?}: {} at most", drive, hi);
            }
        }
    }
}

/// How far the bounds beside bridges lie beyond what a corner reaches. Measured once, 20,000 nets of
/// this file, 14,288 coils beside a bridge on 105 to 140 V: half of them 0 V, nine of ten at most 1.4e-14
/// V, 99 of 100 at most 3.8e-14 V (rounding), 999 of 1,000 at most 0.095 V, the worst 0.140 V; none past
/// 0.141 V. The search stops at a thousandth of the highest supply volts, 0.140 V, or after 192 boxes
/// (wiring/solve/bridge.rs): 0.141 V is what the first promises, and no net needed the second.
#[test]
#[ignore = "figures for a person: 20,000 nets take minutes"]
#[allow(clippy::print_stdout, reason = "the figures are what it is for")]
fn how_loose_the_bounds_are() {
    let mut runner = TestRunner::deterministic();
    let (mut nets, mut straight, mut loose) = (0, 0, Vec::new());
    while nets < 20_000 {
        let net = net().new_tree(&mut runner).unwrap().current();
        if is_shorted(&net) {
            continue;
        }
        nets += 1;
        let (bench, parts) = bench(&net);
        let wiring = Wiring::new(&bench.scheme).unwrap();
        if wiring.sections().len() != 1 {
            continue;
        }
        for (part, (lo, hi)) in parts.iter().zip(brute(&net, &[])) {
            let section = wiring.section_of(*part).unwrap();
            let drives = wiring.drive(section, &Positions::OPEN, Supplies::ALL);
            let drive = drives.iter().find(|drive| drive.part == *part).unwrap();
            if drive.straight {
                straight += 1;
            } else {
                loose.push((lo - drive.volts_lo).max(drive.volts_hi - hi));
            }
        }
    }
    loose.sort_by(f64::total_cmp);
    println!("{nets} nets; {straight} coils without a bridge, {} beside one", loose.len());
    for share in [0.5, 0.9, 0.99, 0.999, 1.0] {
        let at = ((loose.len() - 1) as f64 * share) as usize;
        println!("{share}: {:.2e} V", loose[at]);
    }
    let past = loose.iter().filter(|volts| **volts > 0.141).count();
    println!("past 0.141 V: {past}");
}

#[test]
fn a_shared_return_is_worst_with_the_other_leg_cold() {
    // Two coils on one return core; the second coil has a core of its own. Cold, that core lets the
    // second coil draw more through the shared return, so the first coil is worst off with its own
    // cores hot and the other's cold: no named corner.
    let net = Net {
        nodes: 5,
        cores: vec![(0, 2, 500.0), (0, 3, 500.0), (4, 1, 500.0)],
        coils: vec![(2, 4, 41.0, 41.0), (3, 4, 5.0, 5.0)],
        supply_ohm: 0.014,
    };
    let (bench, parts) = bench(&net);
    let wiring = Wiring::new(&bench.scheme).unwrap();
    let section = wiring.section_of(parts[0]).unwrap();
    let drives = wiring.drive(section, &Positions::OPEN, Supplies::ALL);
    let brute = brute(&net, &[]);
    assert!((drives[0].volts_lo - brute[0].0).abs() < 1e-9);
    assert_eq!(drives[0].method, Method::Widened);
    assert_eq!(drives[0].corner_lo.conductors, Heat::Each);
}

/// A bridge in which the current through K2 may run either way: at most 0.023 V over all corners. The
/// bound of the least was once the start of the search for the most the other way round, so that two
/// bounds of a thousandth lay one upon the other: 0.200 V.
#[test]
fn a_bridge_that_may_turn_round_is_bounded_once() {
    let net = Net {
        nodes: 5,
        cores: vec![(2, 3, 50.0), (1, 3, 362.439_750_742_950_14)],
        coils: vec![
            (4, 2, 2_294.850_682_403_857_7, 2_294.850_682_403_857_7),
            (3, 4, 590.822_913_759_627_1, 927.710_257_248_699_1),
            (0, 3, 2_884.245_998_694_154_4, 5_103.131_794_149_517),
            (2, 0, 2_538.783_104_173_425_7, 3_325.879_767_224_677),
        ],
        supply_ohm: 0.0,
    };
    let (bench, parts) = bench(&net);
    let wiring = Wiring::new(&bench.scheme).unwrap();
    let section = wiring.section_of(parts[0]).unwrap();
    let drives = wiring.drive(section, &Positions::OPEN, Supplies::ALL);
    for (part, (lo, hi)) in parts.iter().zip(brute(&net, &[])) {
        let drive = drives.iter().find(|drive| drive.part == *part).unwrap();
        assert!(drive.volts_lo <= lo + 1e-9 && drive.volts_lo >= lo - 0.141, "{drive:?}: {lo}");
        assert!(drive.volts_hi >= hi - 1e-9 && drive.volts_hi <= hi + 0.141, "{drive:?}: {hi}");
    }
}
