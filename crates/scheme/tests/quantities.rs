//! Quantities as written on a print.
#![allow(clippy::unwrap_used, reason = "a test that cannot read its own example must fail")]

use fiftytwo_scheme::text::{
    Kind, Spelling, Stroke, amperes, celsius, count, duration, farads, instant, joules, metres,
    ohms, stroke_offset, supply_voltage, unquoted, volts, volts_or_percent, watts, wire_size,
};
use fiftytwo_scheme::{CurrentKind, WireSize};

fn bounds<U>(quantity: &fiftytwo_scheme::Quantity<U>) -> (f64, f64) {
    (quantity.lo, quantity.hi)
}

#[test]
fn a_quantity_reads_as_on_a_print() {
    assert_eq!(bounds(&ohms("41 ohm").unwrap()), (41.0, 41.0));
    assert_eq!(bounds(&volts("105 to 140 V").unwrap()), (105.0, 140.0));
    assert_eq!(bounds(&celsius("-30 to 50 C").unwrap()), (-30.0, 50.0));
    assert_eq!(bounds(&ohms("14 mohm").unwrap()), (0.014, 0.014));
    assert_eq!(bounds(&ohms("2.7 kohm").unwrap()), (2700.0, 2700.0));
    assert_eq!(bounds(&ohms("1 Mohm").unwrap()), (1e6, 1e6));
    assert_eq!(bounds(&amperes("8 mA").unwrap()), (0.008, 0.008));
    assert_eq!(bounds(&farads("10 uF").unwrap()), (1e-5, 1e-5));
    assert_eq!(bounds(&joules("20 J").unwrap()), (20.0, 20.0));
    assert_eq!(bounds(&joules("0.4 kJ").unwrap()), (400.0, 400.0));
    assert_eq!(bounds(&watts("1.5 kW").unwrap()), (1500.0, 1500.0));
    assert_eq!(bounds(&volts("0.5 to 1.2 kV").unwrap()), (500.0, 1200.0));
    assert_eq!(bounds(&ohms("900 ohm to 1.2 kohm").unwrap()), (900.0, 1200.0));
    assert_eq!(volts("105 to 140 V").unwrap().written, "105 to 140 V");
}

#[test]
fn north_american_units_are_equals() {
    // The international foot is 0.3048 m, the Fahrenheit scale 9/5 C + 32: both by definition.
    assert_eq!(bounds(&metres("1150 ft").unwrap()), (350.52, 350.52));
    assert_eq!(bounds(&metres("0.35 km").unwrap()), (350.0, 350.0));
    assert_eq!(bounds(&celsius("-22 to 122 F").unwrap()), (-30.0, 50.0));
    assert!((celsius("293.15 K").unwrap().lo - 20.0).abs() < 1e-9);
}

#[test]
fn typical_and_at_a_temperature_are_kept() {
    let typical = amperes("18 A typical").unwrap();
    assert!(typical.typical && typical.lo == 18.0);
    let warm = ohms("22 ohm at 75 C").unwrap();
    assert_eq!((warm.lo, warm.at, warm.typical), (22.0, Some(75.0), false));
    let both = ohms("22 ohm typical at 68 F").unwrap();
    assert_eq!((both.at, both.typical), (Some(20.0), true));
}

#[test]
fn signs_of_a_print_are_read() {
    assert_eq!(ohms("41 Ω").unwrap().lo, 41.0);
    assert_eq!(ohms("2.7 kΩ").unwrap().lo, 2700.0);
    assert_eq!(farads("10 µF").unwrap().lo, 1e-5);
    assert_eq!(celsius("\u{2212}30 to 50 °C").unwrap().lo, -30.0);
    assert_eq!(wire_size("2.5 mm²").unwrap(), WireSize::Mm2(2.5));
    assert_eq!(volts("125V").unwrap().lo, 125.0);
}

#[test]
fn times_are_whole_microseconds_rounded_outward() {
    let time = |text| duration(text, 60.0).map(|time| (time.lo, time.hi)).unwrap();
    assert_eq!(time("12 to 20 ms"), (12_000, 20_000));
    assert_eq!(time("0.4 s"), (400_000, 400_000));
    assert_eq!(time("11.1 s"), (11_100_000, 11_100_000));
    assert_eq!(time("3 to 4 min"), (180_000_000, 240_000_000));
    assert_eq!(time("1 h"), (3_600_000_000, 3_600_000_000));
    // 3 cycles of 60 Hz are 50 ms; 2 cycles are 33 333.3 µs.
    assert_eq!(time("3 cycles"), (50_000, 50_000));
    assert_eq!(time("2 to 5 cycles"), (33_333, 83_334));
    assert_eq!(time("1 cycle"), (16_666, 16_667));
    assert_eq!(time("0.0005 ms"), (0, 1));
    assert_eq!(time("10 ms to 2 cycles"), (10_000, 33_334));
    assert_eq!(duration("2 cycles", 50.0).unwrap().hi, 40_000);
    assert_eq!(instant("11.1 s", 60.0).unwrap(), 11_100_000);
    assert_eq!(instant("1 cycle", 60.0).unwrap(), 16_667);
    assert_eq!(instant("0 ms", 60.0).unwrap(), 0);
}

#[test]
fn before_touch_is_negative_and_reads_both_ways() {
    let close = |text| stroke_offset(text, Stroke::Closing, 60.0).map(|at| (at.lo, at.hi)).unwrap();
    let open = |text| stroke_offset(text, Stroke::Opening, 60.0).map(|at| (at.lo, at.hi)).unwrap();
    assert_eq!(close("3 to 8 ms before touch"), (-8_000, -3_000));
    assert_eq!(close("10 to 5 ms before touch"), (-10_000, -5_000));
    assert_eq!(close("4 to 12 ms after touch"), (4_000, 12_000));
    assert_eq!(close("0 to 10 ms after touch"), (0, 10_000));
    assert_eq!(close("2 ms before to 3 ms after touch"), (-2_000, 3_000));
    assert_eq!(close("1 cycle to 10 ms before touch"), (-16_667, -10_000));
    assert_eq!(close("at touch"), (0, 0));
    assert_eq!(open("2 to 6 ms after parting"), (2_000, 6_000));
    assert_eq!(open("20 to 10 ms before parting"), (-20_000, -10_000));
}

#[test]
fn conductors_have_their_trade_sizes() {
    assert_eq!(wire_size("10 AWG").unwrap(), WireSize::Awg(10));
    assert_eq!(wire_size("1/0 AWG").unwrap(), WireSize::Awg(0));
    assert_eq!(wire_size("4/0 AWG").unwrap(), WireSize::Awg(-3));
    assert_eq!(wire_size("350 kcmil").unwrap(), WireSize::Kcmil(350.0));
    assert_eq!(wire_size("2.5 mm2").unwrap(), WireSize::Mm2(2.5));
}

#[test]
fn a_supply_says_direct_or_alternating() {
    let (battery, kind) = supply_voltage("125 V DC").unwrap();
    assert_eq!((battery.lo, kind), (125.0, CurrentKind::Dc));
    assert_eq!(supply_voltage("120 V AC").unwrap().1, CurrentKind::Ac);
}

#[test]
fn percent_is_of_a_known_voltage() {
    let range = volts_or_percent("70 to 110 %", Some(125.0)).unwrap();
    assert_eq!(bounds(&range), (87.5, 137.5));
    assert_eq!(volts_or_percent("90 to 140 V", None).unwrap().lo, 90.0);
}

/// Every slip, with the words its message and its help must contain.
#[test]
fn a_slip_is_answered_with_the_right_spelling() {
    let close = |text: &str| stroke_offset(text, Stroke::Closing, 60.0).map(drop);
    let time = |text: &str| duration(text, 60.0).map(drop);
    let volt = |text: &str| volts(text).map(drop);
    let ohm = |text: &str| ohms(text).map(drop);
    let cases: Vec<(Result<(), Spelling>, &str, &str)> = vec![
        (volt(""), "nothing", "105 to 140 V"),
        (volt("  "), "nothing", "105 to 140 V"),
        (volt("125"), "no unit", "125 V"),
        (volt("105 to 140"), "no unit", "105 to 140 V"),
        (volt("125 volts"), "not how the unit", "did you mean V?"),
        (volt("125 v"), "not how the unit", "did you mean V?"),
        (volt("125 KV"), "not how the unit", "did you mean kV?"),
        (volt("41 ohm"), "unit of a resistance", "V, kV or mV"),
        (volt("140 to 105 V"), "backwards", "105 to 140 V"),
        (volt("-5 V"), "negative", "minus"),
        (volt("-30 to 5 V"), "negative", "minus"),
        (volt("inf V"), "not a value", "105 to 140 V"),
        (volt("NaN V"), "not a value", "105 to 140 V"),
        (volt("70 %"), "percent of what", "105 to 140 V"),
        (volt("about 5 V"), "number is missing", "105 to 140 V"),
        (volt("5 V 6 V"), "number too many", "\"to\""),
        (volt("105 to V"), "number is missing", "105 to 140 V"),
        (volt("5 V at 20 C"), "not given at a temperature", "22 ohm at 75 C"),
        (volt("> 5 V"), "\">\" has no meaning", "105 to 140 V"),
        (ohm("41"), "no unit", "41 ohm"),
        (ohm("41 Ohm"), "not how the unit", "did you mean ohm?"),
        (ohm("41 omh"), "not how the unit", "did you mean ohm?"),
        (ohm("12 k"), "not how the unit", "did you mean kohm?"),
        (ohm("1e3 ohm"), "exponent", "kohm"),
        (ohm("1e-3 ohm"), "exponent", "in full"),
        (ohm(".5 ohm"), "no digit before", "0.5 ohm"),
        (ohm("22 ohm at 75"), "without a unit", "22 ohm at 75 C"),
        (ohm("1,150 ohm"), "comma", "1150 ohm"),
        (time("8-14 ms"), "\"to\", not with \"-\"", "8 to 14 ms"),
        (time("8–14 ms"), "\"to\", not with \"–\"", "8 to 14 ms"),
        (time("8..14 ms"), "\"to\", not with \"..\"", "8 to 14 ms"),
        (time("2,5 ms"), "comma", "2.5 ms"),
        (time("5 us"), "microseconds", "0.5 ms"),
        (time("5 sec"), "not how the unit", "did you mean s?"),
        (time("20 to 12 ms"), "backwards", "12 to 20 ms"),
        (time("1 s to 20 ms"), "backwards", "20 ms to 1 s"),
        (time("2000000 h"), "hundred years", "unit"),
        (time("12345678901234567890 ms"), "more digits", "15 digits"),
        (duration("3 cycles", 0.0).map(drop), "frequency", "60 Hz"),
        (instant("1 to 2 s", 60.0).map(drop), "range", "1 s"),
        (close("3 to 8 ms before"), "from when", "before touch"),
        (close("3 to 8 ms before parting"), "counted from touch", "before touch"),
        (close("3 to 8 ms touch"), "neither before nor after", "before touch"),
        (close("-8 to -3 ms after touch"), "negative", "minus"),
        (close("8 to 3 ms after touch"), "backwards", "3 to 8 ms"),
        (wire_size("10").map(drop), "no unit", "10 AWG"),
        (wire_size("#10").map(drop), "without #", "10 AWG"),
        (wire_size("00 AWG").map(drop), "fraction", "2/0 AWG"),
        (wire_size("1/0").map(drop), "no unit", "1/0 AWG"),
        (wire_size("5/0 AWG").map(drop), "not a conductor size", "4/0 AWG"),
        (wire_size("55 AWG").map(drop), "there is no", "40"),
        (wire_size("250 MCM").map(drop), "not how the unit", "did you mean kcmil?"),
        (wire_size("8 to 10 AWG").map(drop), "one size", "10 AWG"),
        (wire_size("0 mm2").map(drop), "no size", "2.5 mm2"),
        (supply_voltage("125 V").map(drop), "DC or AC", "125 V DC"),
        (supply_voltage("125 V dc").map(drop), "capitals", "125 V DC"),
        (supply_voltage("105 to 140 V DC").map(drop), "one nominal", "range="),
        (supply_voltage("0 V DC").map(drop), "no voltage", "125 V DC"),
        (volts_or_percent("70 to 110 %", None).map(drop), "percent of what", "rated="),
        (volts_or_percent("70 % to 110 V", Some(125.0)).map(drop), "one bound", "same unit"),
        (celsius("-300 C").map(drop), "colder", "unit"),
        (Err(unquoted("41", Kind::Resistance)), "41 of what", "41 ohm"),
        (Err(unquoted("41 ohm", Kind::Resistance)), "quotes are missing", "\"41 ohm\""),
        (Err(count("\"7\"", "cores")), "stands in quotes", "bare, without quotes: 7"),
        (Err(count("7.5", "cores")), "whole number", "such as 7"),
    ];
    for (result, message, help) in cases {
        let wrong = result.unwrap_err();
        let said = wrong.help.clone().unwrap_or_default();
        assert!(wrong.message.contains(message), "{message:?} is not in {wrong:?}");
        assert!(said.contains(help), "{help:?} is not in {wrong:?}");
    }
}

/// Cells of 1.75 to 2.33 V: 60 of them 105 to 139.8 V, 24 of them 42 to 55.9 V, 120 of them 210 to
/// 279.6 V (from memory of IEEE 485); 110 V by the share of 125 V: 92.4 to 123.2 V.
#[test]
fn a_battery_without_a_range_has_the_typical_one_of_its_volts() {
    let range = |text: &str| {
        let text =
            format!("scheme \"S\"\nplace \"H\" \"House\"\nsupply \"B\" {text} place=\"H\"\n");
        let reading = fiftytwo_scheme::read_text("battery.kdl", &text);
        let told = reading.findings.iter().any(|finding| finding.id == "unsaid-range");
        let scheme = reading.scheme.unwrap();
        let supply = scheme.supplies.values().next().unwrap();
        ((supply.range.lo * 10.0).round() / 10.0, (supply.range.hi * 10.0).round() / 10.0, told)
    };
    assert_eq!(range("\"125 V DC\""), (105.0, 140.0, true));
    assert_eq!(range("\"48 V DC\""), (42.0, 56.0, true));
    assert_eq!(range("\"250 V DC\""), (210.0, 280.0, true));
    assert_eq!(range("\"24 V DC\""), (21.0, 28.0, true));
    assert_eq!(range("\"110 V DC\""), (92.4, 123.2, true));
    assert_eq!(range("\"125 V DC\" range=\"110 to 130 V\""), (110.0, 130.0, false));
    assert_eq!(range("\"125 V DC\" range=\"105 to 140 V typical\""), (105.0, 140.0, false));
    assert_eq!(range("\"120 V AC\""), (120.0, 120.0, false), "an AC supply keeps its own");
}
