//! Writes a scheme of so many bays side by side, to see how a proof grows: `bays N > scheme.kdl`.
//!
//! Each bay is that of `examples/dunmarrow-repaired`, its devices renamed; all hang on one supply and share
//! one bus protection with its lockout, whose contacts trip every breaker and keep every close circuit open.

#![allow(clippy::print_stdout, reason = "it writes a scheme")]

const BAY: &str = include_str!("../../../examples/dunmarrow-repaired/scheme.kdl");

/// What belongs to the station, not to a bay.
const SHARED: [&str; 7] =
    ["scheme ", "place ", "supply ", "condition \"bus\"", "person ", "waive ", "//"];
const NAMES: [&str; 7] = ["52CS", "52Y", "52", "25", "21", "D1", "line fault"];

fn main() {
    let bays: usize = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(1);
    let end = BAY.find("story ").unwrap_or(BAY.len());
    let lines: Vec<&str> = BAY[..end].lines().filter(|line| !line.trim().is_empty()).collect();
    let (shared, own): (Vec<&str>, Vec<&str>) =
        lines.into_iter().partition(|line| SHARED.iter().any(|word| line.starts_with(word)));
    let operator: Vec<String> = (1..=bays).map(|k| format!("\"52CS-{k}\"")).collect();
    for line in shared.iter().filter(|line| !line.starts_with("//") && !line.starts_with("waive")) {
        let may = format!("may \"86 reset\" {}", operator.join(" "));
        println!("{}", line.replace("may \"52CS\"", &may));
    }
    println!(
        "condition \"bus fault\"\n\
         ied \"87B\" place=\"HOUSE\" {{\n    logic \"trip\" when=\"bus fault\" on-delay=\"8 to 16 ms\"\n    \
         contact \"trip\" closed-when=\"trip\" opens-in=\"4 to 10 ms\" closes-in=\"2 to 4 ms\" makes=\"30 A\"\n}}\n\
         lockout \"86\" place=\"HOUSE\" reset-by=\"hand\" {{\n    coil \"operate\" drives-to=\"operated\" \
         resistance=\"26 ohm\" works=\"70 to 140 V\" pickup-time=\"8 to 16 ms\" max-on=\"1 s\""
    );
    let list = |kind: char, from: usize, to: usize| {
        (from..=to).map(|k| format!(" \"{kind}{k}\"")).collect::<String>()
    };
    println!("    contact{} closed-when=\"operated\" breaks=\"10 A\"", list('a', 1, bays));
    println!("    contact{} closed-when=\"reset\" breaks=\"10 A\"\n}}", list('b', 0, bays));
    println!(
        "circuit \"Lockout\" supply=\"DC1\" {{\n    feed {{ fuse \"F86\" \"20 A\"; wire \"P86\" }}\n    \
         return {{ wire \"N86\"; fuse \"FN86\" \"20 A\" }}\n    \
         leg \"Lockout\" {{ contact \"87B\" \"trip\"; contact \"86\" \"b0\"; coil \"86\" \"operate\" }}\n}}"
    );
    for k in 1..=bays {
        for line in &own {
            println!("{}", of_bay(line, k));
        }
        println!(
            "waive \"nothing hangs\" for=\"52-{k} close\" because=\"With the air spent a held switch drives it until the air is back\""
        );
    }
}

/// A line of the bay with its devices, wires and fuses renamed.
fn of_bay(line: &str, k: usize) -> String {
    let mut text = line.to_owned();
    if line.contains("resistance \"") {
        return text;
    }
    if line.contains("contact \"21\" \"trip\" }") {
        text = text
            .replace("\"21\" \"trip\" }", &format!("\"21\" \"trip\"; contact \"86\" \"a{k}\" }}"));
    }
    if line.trim_start() == "wire \"C2\"" {
        text = format!("{text}\n        contact \"86\" \"b{k}\"\n        wire \"C2b\"");
    }
    if line.trim_start().starts_with("close-needs") {
        text = text.replace("close-needs", "close-needs \"86 reset\"");
    }
    if line.trim_start().starts_with("trip-by \"line fault") {
        text = format!("{text}\n    trip-by \"86 operated\" coils=\"trip\" within=\"60 ms\"");
    }
    for name in ["P", "N", "NY", "C1", "C2", "C2b", "C3", "F1", "F2", "Close and trip"] {
        text = text.replace(&format!("\"{name}\""), &format!("\"{name}-{k}\""));
    }
    for name in NAMES {
        text = text.replace(&format!("\"{name}\""), &format!("\"{name}-{k}\""));
        text = text.replace(&format!("\"{name} "), &format!("\"{name}-{k} "));
        text = text.replace(&format!(" {name} "), &format!(" {name}-{k} "));
    }
    let line_of_bay = format!("line-{k}");
    for (old, new) in [("\"line\"", "\"LINE\""), (" line ", " LINE ")] {
        text = text.replace(old, &new.replace("LINE", &line_of_bay));
    }
    text
}
