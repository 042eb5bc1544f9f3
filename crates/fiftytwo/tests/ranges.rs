//! What is printed of ranges: what coils get, and the volts to expect at every point, against numbers
//! worked by hand (dividers at both ends of the battery and of each tolerance; everything at 20 C, no
//! cables, the battery without resistance of its own).
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::Run;
use std::fs;

const SCHEME: &str = r#"
scheme "Ranges" revision="A"
place "HOUSE" "Control house" ambient="20 C"
supply "DC1" "125 V DC" range="105 to 140 V" place="HOUSE"
ground "DC1" plus="40 kohm" minus="60 kohm"
breaker "52" place="HOUSE" closing-time="45 to 60 ms" opening-time="22 to 28 ms" {
    coil "trip" drives-to="open" resistance="22 ohm" works="70 to 140 V" pickup="50 to 68 V" dropout="10 to 30 V"
    contact "a1" closed-when="closed"
    contact "b1" closed-when="open"
}
button "PB" "Trip" place="HOUSE" { contact "a1" "a2" closed-when="pressed" }
relay "K" place="HOUSE" {
    coil resistance="3000 ohm" works="70 to 140 V" pickup="50 to 68 V" dropout="15 to 40 V" pickup-time="25 to 40 ms" dropout-time="5 to 60 ms"
    contact "a1" closed-when="picked up"
}
ied "RTU" place="HOUSE" { input "in" resistance="25 to 60 kohm" on-above="60 V" off-below="45 V" }
circuit "A" supply="DC1" {
    feed { fuse "F1" "15 A"; wire "P" }
    return { wire "N"; fuse "F2" "15 A" }
    leg "Trip" { contact "PB" "a1"; contact "52" "a1"; coil "52" "trip" }
    leg "Relay" { contact "PB" "a2"; wire "W"; resistor "R1" "1 kohm" power="30 W"; wire "V"; coil "K" }
    leg "Input" { contact "52" "b1"; wire "X"; resistor "R2" "18 kohm" power="5 W"; wire "Y"; input "RTU" "in" }
}
"#;

fn run() -> (tempfile::TempDir, Run) {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("ranges.kdl"), SCHEME).unwrap();
    let run = Run::of(folder.path(), &["check", "ranges.kdl", "--out", "out"]);
    assert!(matches!(run.code, 0 | 1), "{}", run.err);
    (folder, run)
}

/// K behind 1 kohm has 3/4 of the battery: 78.75 to 105 V of 70 to 140 V. A cell of the bar is
/// 70 V / 22 = 3.18 V wide; the first whose middle lies at 78.75 V or above is the fourth (81.1 V), the
/// last at 105 V or below the eleventh (103.4 V).
#[test]
fn the_range_of_a_coil_is_printed_with_both_ends() {
    let (_folder, run) = run();
    let line = run.out.lines().find(|line| line.trim_start().starts_with("K ")).unwrap();
    let words: Vec<&str> = line.split_whitespace().collect();
    let bar = format!("├{}{}{}┤", "─".repeat(3), "█".repeat(8), "─".repeat(11));
    assert_eq!(words, ["K", "78.8", "V", "70", &bar, "140", "105.0", "V"], "{}", run.out);
}

/// The block of one point, its position lines and its volts.
fn block<'t>(table: &'t str, head: &str) -> Vec<&'t str> {
    let lines = table.lines().skip_while(|line| line.trim() != head);
    let lines = lines.skip(1).take_while(|line| line.starts_with("    "));
    lines.map(str::trim).collect()
}

fn columns(line: &str) -> Vec<&str> {
    line.split("  ").map(str::trim).filter(|column| !column.is_empty()).collect()
}

/// The poles stand at 125 (105 to 140) V; the detector's legs of 40 and 60 kohm put plus 0.4 and minus
/// 0.6 of that from ground: +50 (42 to 56) and -75 (-84 to -63) V.
#[test]
fn the_poles_are_printed_with_both_ends_of_the_battery() {
    let (folder, _run) = run();
    let table = fs::read_to_string(folder.path().join("out/ranges-volts.txt")).unwrap();
    let plus = block(&table, "P of DC1");
    assert_eq!(plus[0], "52 open; 52 closed:", "{table}");
    assert_eq!(columns(plus[1]), ["125.0 [105.0 140.0]", "0.0", "50.0 [42.0 56.0]"], "{table}");
    let minus = block(&table, "N of DC1");
    assert_eq!(
        columns(minus[1]),
        ["0.0", "-125.0 [-140.0 -105.0]", "-75.0 [-84.0 -63.0]"],
        "{table}"
    );
}

/// Y lies between 18 kohm and an input of 25 to 60 (middle 42.5) kohm. Nominal 125 x 42.5/60.5 = 87.8 V;
/// least 105 x 25/43 = 61.0, most 140 x 60/78 = 107.7. To plus: -37.2; most negative -140 x 18/43 =
/// -58.6, least -105 x 18/78 = -24.2. To ground, 0.6 of the battery less: 87.8 - 75 = 12.8; at 140 V
/// 81.4 - 84 = -2.6 and 107.7 - 84 = 23.7 (at 105 V -2.0 and 17.8). With 52 b1 open it hangs on minus.
#[test]
fn a_point_behind_an_input_of_wide_tolerance_is_printed_with_its_own_ends() {
    let (folder, _run) = run();
    let table = fs::read_to_string(folder.path().join("out/ranges-volts.txt")).unwrap();
    let block = block(&table, "Y of DC1");
    let under = |position: &str| {
        let at = block.iter().position(|line| line.starts_with(position)).unwrap();
        let rest = &block[at + 1..];
        columns(rest.iter().find(|line| !line.ends_with(':')).unwrap())
    };
    assert_eq!(
        under("52 open"),
        ["87.8 [61.0 107.7]", "-37.2 [-58.6 -24.2]", "12.8 [-2.6 23.7]"],
        "{table}"
    );
    assert_eq!(
        under("52 closed"),
        ["0.0", "-125.0 [-140.0 -105.0]", "-75.0 [-84.0 -63.0]"],
        "{table}"
    );
    let sheet = fs::read_to_string(folder.path().join("out/ranges-volts.csv")).unwrap();
    let line = sheet.lines().find(|line| line.contains(",\"Y\",") && line.contains("\"52 open\""));
    let (_, numbers) = line.unwrap().split_once("\"52 open\",").unwrap();
    assert_eq!(numbers, "87.81,61.05,107.69,-37.19,-58.60,-24.23,12.81,-2.60,23.69");
}

/// The lockout's contacts are used by no story that stands in the scheme itself, and a lockout stays
/// operated, so that the breaker's contacts open first.
#[test]
fn contacts_without_a_line_are_named() {
    let path = common::example("quillmere");
    let words = ["check".as_ref(), path.as_os_str(), "--full".as_ref()];
    let run = Run::of(std::path::Path::new("."), &words);
    let out: Vec<&str> = run.out.split_whitespace().collect();
    assert!(out.join(" ").contains("No line for 86 a1, 86 a2, 86 a3"), "{}", run.out);
}
