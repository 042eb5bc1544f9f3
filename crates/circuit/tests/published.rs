//! Published and exactly known values. The data stand in `checks/`, each with its source.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its data has failed")]

use fiftytwo_circuit::conductor::{
    area_mm2, awg_diameter_mm, ohm_per_metre, resistivity_20, solid_ohm_per_metre,
    temperature_factor,
};
use fiftytwo_circuit::network::{Branch, Network, resistance_between};
use fiftytwo_scheme::Material::{Aluminium, Copper};
use fiftytwo_scheme::WireSize;
use serde_json::Value;

const FOOT: f64 = 0.3048;

fn checks(name: &str) -> Value {
    let path = format!("{}/../../checks/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().or_else(|| value.as_str().map(|text| text.parse().unwrap())).unwrap()
}

fn index(value: &Value) -> usize {
    usize::try_from(value.as_u64().unwrap()).unwrap()
}

fn gauge(value: &Value) -> i32 {
    i32::try_from(value.as_i64().unwrap()).unwrap()
}

fn fraction(value: &Value) -> f64 {
    let (over, under) = value.as_str().unwrap().split_once('/').unwrap();
    over.parse::<f64>().unwrap() / under.parse::<f64>().unwrap()
}

/// Half a unit of the last printed digit.
fn assert_printed(found: f64, printed: &Value, what: &str) {
    let text = printed.as_str().unwrap();
    let decimals = text.split_once('.').map_or(0, |(_, after)| after.len());
    let half = 0.5 * 10_f64.powi(-i32::try_from(decimals).unwrap());
    let off = (found - text.parse::<f64>().unwrap()).abs();
    assert!(off <= half * 1.000_001, "{what}: {found} where {text} is printed");
}

fn assert_exact(found: f64, expected: f64, what: &str) {
    let off = (found - expected).abs();
    assert!(off <= 1e-12 * expected.abs().max(1e-12), "{what}: {found} instead of {expected}");
}

fn network(branches: &Value) -> Network {
    let mut network = Network::new(4);
    for branch in list(branches) {
        let (a, b) = (index(&branch[1]), index(&branch[2]));
        match branch[0].as_str().unwrap() {
            "resistor" => network.resistor(a, b, number(&branch[3])),
            "source" => network.source(a, b, number(&branch[3]), number(&branch[4])),
            "current" => {
                network.add(Branch::Current { from: a, to: b, ampere: number(&branch[3]) })
            }
            other => panic!("{other}"),
        };
    }
    network
}

#[test]
fn solved_networks() {
    for case in list(&checks("networks")["networks"]) {
        let name = case["name"].as_str().unwrap();
        let network = network(&case["branches"]);
        for between in case["between"].as_array().into_iter().flatten() {
            let mut bare = Network::new(4);
            for branch in network.branches() {
                if let Branch::Resistor { .. } = branch {
                    bare.add(*branch);
                }
            }
            let found = resistance_between(&bare, index(&between[0]), index(&between[1]));
            assert_exact(found.unwrap().unwrap(), fraction(&between[2]), name);
        }
        if case["printed"] == Value::Array(vec![]) {
            continue;
        }
        let solution = network.solve().unwrap();
        let found = |value: &Value| match value[0].as_str().unwrap() {
            "volt" => {
                (solution.voltage(index(&value[1]), index(&value[2])).unwrap(), value[3].clone())
            }
            _ => (solution.current(index(&value[1])).unwrap(), value[2].clone()),
        };
        for value in list(&case["printed"]) {
            let (found, printed) = found(value);
            assert_printed(found, &printed, name);
        }
        for value in list(&case["exact"]) {
            let (found, exact) = found(value);
            assert_exact(found, fraction(&exact), name);
        }
        power_balances(&network, name);
    }
}

/// What the sources deliver is what the resistances take.
fn power_balances(network: &Network, what: &str) {
    let solution = network.solve().unwrap();
    let (mut taken, mut largest) = (0.0, 0.0_f64);
    for (branch, data) in network.branches().iter().enumerate() {
        let current = solution.current(branch).unwrap();
        let power = match *data {
            Branch::Resistor { ohm, .. } => ohm * current * current,
            Branch::Source { volt, ohm, .. } => (volt + ohm * current) * current,
            Branch::Current { from, to, ampere } => solution.voltage(from, to).unwrap() * ampere,
            Branch::Switch { .. } | Branch::Diode { .. } | Branch::Curve { .. } => 0.0,
        };
        taken += power;
        largest = largest.max(power.abs());
    }
    assert!(taken.abs() <= 1e-12 * largest, "{what}: {taken} W out of balance");
}

#[test]
fn most_power_goes_into_a_load_equal_to_the_inner_resistance() {
    // Values worked out from the equivalent source of 11.2 V behind 0.8 ohm (open textbook).
    let power = |ohm: f64| {
        let mut network = Network::new(3);
        network.source(1, 0, 28.0, 4.0);
        network.source(1, 0, 7.0, 1.0);
        let load = network.resistor(1, 0, ohm);
        ohm * network.solve().unwrap().current(load).unwrap().powi(2)
    };
    assert_printed(power(0.8), &"39.2".into(), "0.8 ohm");
    assert_printed(power(0.5), &"37.112426".into(), "0.5 ohm");
    assert_printed(power(1.1), &"38.222715".into(), "1.1 ohm");
}

#[test]
fn ladders_are_ratios_of_fibonacci_numbers() {
    let data = &checks("networks")["ladders"];
    let ladder = |sections: usize| {
        let mut network = Network::new(sections + 2);
        for section in 0..sections {
            let from = if section == 0 { 1 } else { section + 1 };
            network.resistor(from, section + 2, 1.0);
            network.resistor(section + 2, 0, 1.0);
        }
        network
    };
    for (at, input) in list(&data["input_ohm"]).iter().enumerate() {
        let mut network = ladder(at + 1);
        let found = resistance_between(&network, 1, 0).unwrap().unwrap();
        assert_exact(found, fraction(input), "input resistance");
        network.source(1, 0, 1.0, 0.0);
        let end = network.solve().unwrap().voltage(at + 2, 0).unwrap();
        assert_exact(end, fraction(&data["end_volt"][at]), "end of the ladder");
    }
    let mut four = ladder(4);
    four.source(1, 0, 1.0, 0.0);
    let solution = four.solve().unwrap();
    for (at, node) in list(&data["four_nodes"]).iter().enumerate() {
        assert_exact(solution.voltage(at + 2, 0).unwrap(), fraction(node), "four sections");
    }
    // The law itself, up to thirty sections: F(61) is 2 504 730 781 961.
    let mut fibonacci = vec![0_u64, 1];
    while fibonacci.len() < 62 {
        fibonacci.push(fibonacci[fibonacci.len() - 1] + fibonacci[fibonacci.len() - 2]);
    }
    assert_eq!(fibonacci[61], 2_504_730_781_961);
    for sections in 1..=30 {
        let mut network = ladder(sections);
        network.source(1, 0, 1.0, 0.0);
        let end = network.solve().unwrap().voltage(sections + 1, 0).unwrap();
        assert_exact(end * fibonacci[2 * sections + 1] as f64, 1.0, "long ladder");
    }
}

fn edges(family: &str, size: usize) -> (usize, Vec<(usize, usize)>) {
    let pairs = |nodes: usize| (0..nodes).flat_map(move |b| (0..b).map(move |a| (a, b)));
    match family {
        "cube" => (8, pairs(8).filter(|(a, b)| (a ^ b).count_ones() == 1).collect()),
        // Opposite corners are 0 and 1, 2 and 3, 4 and 5.
        "octahedron" => (6, pairs(6).filter(|(a, b)| a / 2 != b / 2).collect()),
        "complete" => (size, pairs(size).collect()),
        "ring" => (size, (0..size).map(|node| (node, (node + 1) % size)).collect()),
        "grid" => {
            let right = (0..size * size).filter(|n| n % size + 1 < size).map(|n| (n, n + 1));
            let down = (0..size * (size - 1)).map(|n| (n, n + size));
            (size * size, right.chain(down).collect())
        }
        other => panic!("{other}"),
    }
}

#[test]
fn two_point_resistances_of_regular_networks() {
    for case in list(&checks("networks")["two_points"]["cases"]) {
        let family = case[0].as_str().unwrap();
        let (nodes, edges) = edges(family, index(&case[1]));
        let mut network = Network::new(nodes);
        for &(a, b) in &edges {
            network.resistor(a, b, 3.0);
        }
        let between = |a, b| resistance_between(&network, a, b).unwrap().unwrap() / 3.0;
        assert_exact(between(index(&case[2]), index(&case[3])), fraction(&case[4]), family);
        // Foster's law: over all branches, the share that the rest of the network takes adds up
        // to one less than the number of nodes.
        let shares: f64 = edges.iter().map(|&(a, b)| between(a, b)).sum();
        assert_exact(shares, (nodes - 1) as f64, family);
    }
}

#[test]
fn a_breaker_gets_too_little_while_its_battery_is_operable() {
    let data = &checks("networks")["voltage_drop_notice"];
    let load = 41.0;
    let line = fraction(&data["line_to_load"]) * load;
    for row in list(&data["at_breaker"]) {
        let mut network = Network::new(4);
        network.source(1, 0, number(&row[0]), 0.0);
        network.resistor(1, 2, line / 2.0);
        network.resistor(2, 3, load);
        network.resistor(3, 0, line / 2.0);
        let found = network.solve().unwrap().voltage(2, 3).unwrap();
        assert_printed(found, &row[1], "voltage at the breaker");
    }
}

#[test]
fn a_lamp_through_a_trip_coil() {
    let data = &checks("networks")["lamp_through_coil"];
    let series = |volt: f64, lamp: f64, resistor: f64| {
        let mut network = Network::new(4);
        network.source(1, 0, volt, 0.0);
        let lamp = network.resistor(1, 2, lamp);
        network.resistor(2, 3, resistor);
        network.resistor(3, 0, 125.0 / 6.0);
        let solution = network.solve().unwrap();
        let ampere = solution.current(lamp).unwrap();
        (ampere, solution.voltage(1, 2).unwrap(), solution.voltage(3, 0).unwrap())
    };
    let lamp = 24.0 / 0.035;
    for row in list(&data["rows"]) {
        let volt = number(&row[0]);
        let (ampere, on_lamp, on_coil) = series(volt, lamp, 2900.0);
        assert_printed(ampere * 1e3, &row[1], "lamp current");
        assert_printed(on_lamp, &row[2], "lamp voltage");
        assert_printed(on_coil, &row[3], "coil voltage");
        assert_printed(ampere * ampere * 2900.0, &row[6], "resistor power");
        let (ampere, _, on_coil) = series(volt, 0.0, 2900.0);
        assert_printed(ampere * 1e3, &row[4], "bulb shorted, current");
        assert_printed(on_coil, &row[5], "bulb shorted, coil");
        assert_printed(ampere * ampere * 2900.0, &row[7], "bulb shorted, resistor");
    }
    let (ampere, _, on_coil) = series(140.0, lamp, 0.0);
    assert_printed(ampere * 1e3, &data["resistor_shorted_at_140"][0], "resistor shorted");
    assert_printed(on_coil, &data["resistor_shorted_at_140"][1], "resistor shorted, coil");
}

#[test]
fn stranded_copper_by_gauge_is_the_published_table() {
    let data = &checks("conductors")["table_8"];
    let per_kft = 1000.0 * FOOT;
    let ratio = &data["stranded_over_solid"];
    for (at, row) in list(&data["rows"]).iter().enumerate() {
        let size = WireSize::Awg(gauge(&row[0]));
        let found = ohm_per_metre(size, Copper, 75.0) * per_kft;
        assert_printed(found, &row[3], "stranded");
        let area = WireSize::Kcmil(number(&row[1]) / 1000.0);
        let solid = solid_ohm_per_metre(size, Copper, 75.0) * per_kft;
        assert_printed(solid, &row[4], "solid, worked out");
        assert!((area_mm2(area) / area_mm2(size) - 1.0).abs() < 2e-3, "area of {size:?}");
        if row[2].is_null() {
            let lay = found / solid;
            assert!(lay >= number(&ratio[0]) - 5e-4 && lay <= number(&ratio[1]) + 5e-4, "{lay}");
        } else {
            // The solid column is not the stranded one: a reprint that mixes them up is caught.
            let off = (number(&row[2]) / solid - 1.0) * 100.0;
            let published = number(&data["solid_off_percent"][at]);
            assert!((off - published).abs() < 6e-3, "{size:?}: {off} %");
            assert!(found / number(&row[2]) > 1.017, "{size:?}");
        }
    }
    let six = ohm_per_metre(WireSize::Awg(6), Copper, 75.0) * 1000.0;
    assert_printed(six, &data["six_per_km"], "per km");
}

#[test]
fn the_gauge_law_gives_the_published_diameters_and_areas() {
    let data = checks("conductors");
    for row in list(&data["awg_law"]["inch"]) {
        assert_printed(awg_diameter_mm(gauge(&row[0])) / 25.4, &row[1], "diameter");
    }
    let area = |gauge| area_mm2(WireSize::Awg(gauge));
    for row in list(&data["awg_areas"]["mm2"]) {
        assert_printed(area(gauge(&row[0])), &row[1], "area");
    }
    assert_printed(area(10) / area(13), &data["awg_areas"]["three_sizes"], "three sizes");
    assert_printed(area(10) / area(20), &data["awg_areas"]["ten_sizes"], "ten sizes");
    for row in list(&data["solid_20"]["ohm_per_km"]) {
        let found = solid_ohm_per_metre(WireSize::Awg(gauge(&row[0])), Copper, 20.0) * 1000.0;
        assert_printed(found, &row[1], "solid at 20 C");
    }
    let mil = solid_ohm_per_metre(WireSize::Kcmil(0.001), Copper, 20.0) * FOOT;
    let expected = &data["ohm_cmil_per_ft"];
    assert!((mil / number(&expected["value"]) - 1.0).abs() < number(&expected["relative"]));
}

#[test]
fn copper_follows_its_temperature_law() {
    let data = checks("conductors");
    let exact = &data["temperature"];
    for row in list(&exact["alpha_at"]) {
        let at = number(&row[0]);
        assert_printed(temperature_factor(Copper, at, at + 1.0) - 1.0, &row[1], "alpha");
    }
    for row in list(&exact["factors"]) {
        let found = temperature_factor(Copper, number(&row[0]), number(&row[1]));
        assert_printed(found, &row[2], "factor");
    }
    let nec = &data["temperature_nec"];
    for (name, material) in [("copper", Copper), ("aluminium", Aluminium)] {
        let alpha = temperature_factor(material, 75.0, 76.0) - 1.0;
        assert_printed(alpha, &nec["alpha_75"][name], name);
    }
    for row in list(&nec["factors"]) {
        let found = temperature_factor(Copper, number(&row[0]), number(&row[1]));
        assert!((found - number(&row[2])).abs() < number(&nec["within"]), "{row}: {found}");
    }
    for law in ["temperature_exact", "temperature_approximate"] {
        for row in list(&data[law]["to_20"]) {
            let found = temperature_factor(Copper, number(&row[0]), 20.0);
            let off = (found - number(&row[1])).abs();
            assert!(off < number(&data[law]["within"]), "{law} {row}: {found}");
        }
    }
}

#[test]
fn metric_copper_is_the_published_table() {
    let data = &checks("conductors")["class_2"];
    let bounds = &data["over_ideal"];
    for row in list(&data["rows"]) {
        let size = WireSize::Mm2(number(&row[0]));
        let at = |celsius| ohm_per_metre(size, Copper, celsius) * 1000.0;
        assert_printed(at(20.0), &row[1], "at 20 C");
        let ideal = resistivity_20(Copper) * 1000.0 / area_mm2(size);
        assert_printed(ideal, &row[2], "solid wire of the nominal area");
        assert_printed(at(75.0), &row[3], "at 75 C");
        let over = at(20.0) / ideal;
        assert!(over >= number(&bounds[0]) - 5e-4 && over <= number(&bounds[1]) + 5e-4, "{over}");
    }
}

#[test]
fn a_size_outside_the_tables_is_a_little_worse_than_a_solid_wire() {
    for (size, lay) in
        [(WireSize::Awg(20), 1.02), (WireSize::Kcmil(450.0), 1.02), (WireSize::Mm2(30.0), 1.07)]
    {
        let ratio = ohm_per_metre(size, Copper, 50.0) / solid_ohm_per_metre(size, Copper, 50.0);
        assert!((ratio - lay).abs() < 1e-12, "{size:?}: {ratio}");
    }
}

#[test]
fn worked_voltage_drops() {
    let coil = 125.0 / 6.0;
    for row in list(&checks("conductors")["drops"]["rows"]) {
        let per_metre = ohm_per_metre(WireSize::Awg(gauge(&row[0])), Copper, 75.0);
        let fed = |feet: f64| {
            let wire = per_metre * feet * FOOT;
            let mut network = Network::new(4);
            network.source(1, 0, 105.0, 0.0);
            network.resistor(1, 2, wire);
            let load = network.resistor(2, 3, coil);
            network.resistor(3, 0, wire);
            let solution = network.solve().unwrap();
            (2.0 * wire, solution.current(load).unwrap(), solution.voltage(2, 3).unwrap())
        };
        let (loop_ohm, ampere, volt) = fed(400.0);
        assert_printed(loop_ohm, &row[1], "loop");
        assert_printed(loop_ohm * 6.0, &row[2], "drop at 6 A");
        assert_printed(ampere, &row[3], "coil current");
        assert_printed(volt, &row[4], "coil voltage");
        for (column, limit) in [(5, 90.0), (6, 70.0)] {
            if !row[column].is_null() {
                let (near, far) = (number(&row[column]) - 0.06, number(&row[column]) + 0.06);
                assert!(fed(near).2 > limit && fed(far).2 < limit, "{row}");
            }
        }
    }
}

#[test]
fn a_textbook_feeder() {
    let data = &checks("conductors")["textbook_drop"];
    // 10.09 ohm circular mils per foot is the book's copper; area in circular mils from ours.
    let wire = |cmil: f64| 10.09 * 2300.0 / cmil;
    let cmil = |gauge: i32| (awg_diameter_mm(gauge) / 0.0254).powi(2);
    let needed = 10.09 * 2300.0 / ((230.0 - 220.0) / 25.0 / 2.0);
    assert_printed(needed, &data["cmil_needed"], "needed area");
    assert!(cmil(gauge(&data["fits"])) > needed && cmil(gauge(&data["does_not_fit"])) < needed);
    let thin = &data["with_14_awg"];
    let thin_wire = wire(number(&thin["cmil"]));
    assert!((cmil(14) / number(&thin["cmil"]) - 1.0).abs() < 1e-4);
    assert_printed(thin_wire, &thin["wire_ohm"], "wire");
    let mut network = Network::new(3);
    network.source(1, 0, 230.0, 0.0);
    let out = network.resistor(1, 2, thin_wire);
    network.resistor(2, 0, thin_wire);
    let short = network.solve().unwrap().current(out).unwrap();
    assert_printed(230.0 / short, &thin["loop_ohm"], "loop");
    assert_printed(short, &thin["short_ampere"], "dead short");
}

#[test]
fn an_aluminium_bar() {
    // Open textbook, specific resistance: 4 x 3 x 125 cm of 2.65 microohm centimetres is 27.604
    // microohm. Ours is a little worse aluminium (0.028264 against 0.0265).
    let bar = solid_ohm_per_metre(WireSize::Mm2(1200.0), Aluminium, 20.0) * 1.25;
    let book = bar * 0.0265 / resistivity_20(Aluminium);
    assert_printed(book * 1e6, &"27.604".into(), "bar");
}
