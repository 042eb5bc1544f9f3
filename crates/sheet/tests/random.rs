//! Schemes that nobody would design, drawn and looked at by the verifier.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_sheet::{Legs, Options, Paper, Symbols, draw, verify, whole_svg};
use std::fmt::Write;

/// A small generator of its own, so that a seed says all.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        // Steele, Lea and Flood's splitmix64.
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        usize::try_from((z ^ (z >> 31)) % u64::try_from(sides.max(1)).unwrap()).unwrap()
    }
    fn one_in(&mut self, sides: usize) -> bool {
        self.roll(sides) == 0
    }
}

/// Writes a scheme with two places and every kind of part.
struct Author {
    dice: Dice,
    text: String,
    /// Free contacts by place: house, yard.
    contacts: [Vec<(String, String)>; 2],
    /// Free coils by place.
    coils: [Vec<(String, String)>; 2],
    core: usize,
    single: usize,
    wire: usize,
}

const PLACES: [&str; 2] = ["HOUSE", "YARD"];

impl Author {
    fn new(seed: u64) -> Self {
        Self {
            dice: Dice(seed),
            text: String::new(),
            contacts: [Vec::new(), Vec::new()],
            coils: [Vec::new(), Vec::new()],
            core: 0,
            single: 0,
            wire: 0,
        }
    }
    fn name(&mut self, stem: &str) -> String {
        self.single += 1;
        // Some names are long, to try the breaking of lines and the widths of columns.
        if self.dice.one_in(9) {
            format!("{stem}-{}-of the far bay", self.single)
        } else {
            format!("{stem}{}", self.single)
        }
    }
    fn devices(&mut self) {
        let count = 6 + self.dice.roll(14);
        for index in 0..count {
            let place = self.dice.roll(2);
            let name = if self.dice.one_in(8) {
                format!("52X{index} auxiliary")
            } else {
                format!("K{index}")
            };
            let about = ["Anti-pump", "Low gas, supply 1", "Close permission at the breaker", ""];
            let about = about[self.dice.roll(about.len())];
            let mut contacts = String::new();
            for contact in 0..1 + self.dice.roll(6) {
                let own = if self.dice.one_in(7) {
                    format!("interposing {contact}")
                } else {
                    format!("a{contact}")
                };
                let when = if self.dice.one_in(2) { "picked up" } else { "dropped out" };
                let _ = writeln!(contacts, "    contact \"{own}\" closed-when=\"{when}\"");
                self.contacts[place].push((name.clone(), own));
            }
            if self.dice.one_in(2) {
                contacts.push_str("    terminals a0=\"11-12\"\n");
                if !contacts.contains("\"a0\"") {
                    contacts = contacts.replace("    terminals a0=\"11-12\"\n", "");
                }
            }
            let _ = writeln!(
                self.text,
                "relay \"{name}\" \"{about}\" place=\"{}\" {{\n    coil resistance=\"2000 ohm\" \
                 works=\"70 to 140 V\" pickup=\"50 to 68 V\" dropout=\"15 to 40 V\"\n{contacts}}}",
                PLACES[place]
            );
            self.coils[place].push((name, String::new()));
        }
        for place in 0..2 {
            self.contacts[place].reverse();
        }
    }
    /// One line of a chain in a place; none if there is nothing left.
    fn part(&mut self, place: usize) -> String {
        match self.dice.roll(12) {
            0 => format!("resistor \"{}\" \"2.7 kohm\"", self.name("R")),
            1 => format!("fuse \"{}\" \"6 A\"", self.name("F")),
            2 => format!("diode \"{}\"", self.name("D")),
            3 => {
                self.single += 1;
                format!("terminal \"TB\" {}", self.single)
            }
            4 => {
                self.single += 1;
                format!("link \"TS\" {}", self.single)
            }
            5 => format!("varistor \"{}\" \"200 V\"", self.name("V")),
            _ => match self.contacts[place].pop() {
                Some((device, own)) => format!("contact \"{device}\" \"{own}\""),
                None => format!("resistor \"{}\" \"1 kohm\"", self.name("R")),
            },
        }
    }
    fn load(&mut self, place: usize) -> String {
        match self.dice.roll(6) {
            0 => format!("lamp \"RED {}\" \"8 mA\"", self.name("")),
            1 => format!("heater \"{}\" \"150 W\"", self.name("H")),
            2 => format!("capacitor \"{}\" \"10 uF\"", self.name("C")),
            _ => match self.coils[place].pop() {
                Some((device, _)) => format!("coil \"{device}\""),
                None => format!("lamp \"GREEN {}\" \"8 mA\"", self.name("")),
            },
        }
    }
    fn chain(&mut self, place: usize, deep: usize, lines: &mut Vec<String>) {
        for _ in 0..1 + self.dice.roll(3) {
            if deep < 2 && self.dice.one_in(4) {
                lines.push("parallel {".to_owned());
                for _ in 0..2 + self.dice.roll(2) {
                    if self.dice.one_in(2) {
                        lines.push("branch {".to_owned());
                        self.chain(place, deep + 1, lines);
                        lines.push("}".to_owned());
                    } else {
                        let part = self.part(place);
                        lines.push(part);
                    }
                }
                lines.push("}".to_owned());
            } else {
                let part = self.part(place);
                lines.push(part);
            }
        }
    }
    fn core(&mut self, into: usize) -> String {
        self.core += 1;
        format!("core \"C1\" {} into=\"{}\"", self.core, PLACES[into])
    }
    fn circuit(&mut self, index: usize) {
        let _ = writeln!(self.text, "circuit \"Circuit {index}\" supply=\"DC1\" {{");
        let _ =
            writeln!(self.text, "    feed {{ fuse \"FP{index}\" \"15 A\"; wire \"P{index}\" }}");
        let _ =
            writeln!(self.text, "    return {{ wire \"N{index}\"; fuse \"FN{index}\" \"15 A\" }}");
        // Wires that later legs may join, with their places.
        let mut joins: Vec<(String, usize)> = Vec::new();
        let (plus, minus) = (format!("P{index}"), format!("N{index}"));
        for leg in 0..1 + self.dice.roll(9) {
            let mut lines = Vec::new();
            let from = if joins.is_empty() || self.dice.one_in(2) {
                (plus.clone(), 0)
            } else {
                joins[self.dice.roll(joins.len())].clone()
            };
            let mut place = from.1;
            self.chain(place, 0, &mut lines);
            if self.dice.one_in(2) {
                self.wire += 1;
                let wire = format!("W{}", self.wire);
                lines.push(format!("wire \"{wire}\""));
                joins.push((wire, place));
                let part = self.part(place);
                lines.push(part);
            }
            if self.dice.one_in(3) {
                lines.push(self.core(1 - place));
                place = 1 - place;
                self.chain(place, 1, &mut lines);
            }
            let to = if self.dice.one_in(4) && !joins.is_empty() {
                joins[self.dice.roll(joins.len())].clone()
            } else {
                (minus.clone(), 0)
            };
            if to.0 == minus {
                let load = self.load(place);
                lines.push(load);
            }
            if self.dice.one_in(4) {
                let part = self.part(place);
                lines.push(part);
            }
            if place != to.1 {
                lines.push(self.core(to.1));
            }
            if from.0 == to.0 {
                continue;
            }
            let name = if self.dice.one_in(6) {
                format!("Low gas supervision relay {leg}")
            } else {
                format!("Leg {leg}")
            };
            let _ = writeln!(
                self.text,
                "    leg \"{name}\" from=\"{}\" to=\"{}\" {{\n{}\n    }}",
                from.0,
                to.0,
                lines.join("\n")
            );
        }
        if joins.len() > 2 && self.dice.one_in(2) {
            let (a, b) = (&joins[0], &joins[1]);
            if a.1 == b.1 {
                let _ = writeln!(self.text, "    jumper \"{}\" \"{}\"", a.0, b.0);
            }
        }
        let _ = writeln!(self.text, "}}");
    }
    fn scheme(mut self) -> String {
        self.text.push_str(
            "scheme \"Random\" revision=\"A\" { revision \"A\" date=\"2026-01-12\" \"First issue\" }\n\
             place \"HOUSE\" \"Control house\"\nplace \"YARD\" \"Breaker cabinet\"\n\
             supply \"DC1\" \"125 V DC\" range=\"105 to 140 V\" place=\"HOUSE\"\n\
             cable \"C1\" \"All\" from=\"HOUSE\" to=\"YARD\" length=\"350 m\" size=\"10 AWG\" cores=99\n",
        );
        self.devices();
        for index in 0..1 + self.dice.roll(3) {
            self.circuit(index);
        }
        self.text
    }
}

fn faults_of(seed: u64) -> Option<Vec<String>> {
    let text = Author::new(seed).scheme();
    let reading = fiftytwo_scheme::read_text("random.kdl", &text);
    let scheme = reading.scheme?;
    let mut faults = Vec::new();
    let plain = Options::default();
    let (iec, across) = (Symbols::Iec60617, Legs::Across);
    // The plain sheet of every scheme, and one of the others in turn.
    let other = match seed % 4 {
        0 => Options { paper: Paper::IsoA3, ..plain },
        1 => Options { symbols: iec, ..plain },
        2 => Options { legs: across, ..plain },
        _ => Options { symbols: iec, legs: across, paper: Paper::IsoA3, ..plain },
    };
    for options in [plain, other] {
        let drawing = draw(&scheme, &options);
        roxmltree::Document::parse(&whole_svg(&drawing)).unwrap();
        faults.extend(
            verify(&drawing, &scheme)
                .into_iter()
                .map(|fault| format!("{options:?}, sheet {}: {}", fault.sheet, fault.words)),
        );
    }
    Some(faults)
}

#[test]
fn most_random_schemes_can_be_read() {
    let read = (0..200_u64)
        .filter(|seed| {
            let text = Author::new(*seed).scheme();
            fiftytwo_scheme::read_text("random.kdl", &text).scheme.is_some()
        })
        .count();
    assert!(read >= 100, "only {read} of 200 random schemes are schemes");
}

#[test]
fn a_checker_finds_nothing_on_500_random_schemes() {
    let (mut drawn, mut found) = (0, Vec::new());
    for seed in 0_u64.. {
        let Some(faults) = faults_of(seed) else { continue };
        drawn += 1;
        found.extend(faults.into_iter().map(|fault| format!("seed {seed}: {fault}")));
        if drawn == 500 {
            break;
        }
    }
    assert!(found.is_empty(), "{} faults: {:#?}", found.len(), &found[..found.len().min(40)]);
}
