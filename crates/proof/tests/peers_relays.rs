//! Published relay circuits (`checks/relays.json`, each with its source) as schemes in our own
//! language: contact networks by the volts at a coil, sequential circuits by every run.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod schemes;

use fiftytwo_motion::Machine;
use fiftytwo_motion::machine::{Evaluator, Scope, State, Tri};
use fiftytwo_motion::play::{PlayOptions, still};
use fiftytwo_scheme::{PartKind, Scheme};
use schemes::{any_order, device, nothing, scheme};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fmt::Write;

fn checks() -> Value {
    serde_json::from_str(include_str!("../../../checks/relays.json")).unwrap()
}

/// A sum of products of letters.
#[derive(Debug, Clone)]
enum Net {
    Contact { letter: char, make: bool },
    Product(Vec<Net>),
    Sum(Vec<Net>),
}

/// Reads `x(yz+y'z')`.
fn net(text: &str) -> Net {
    let letters: Vec<char> = text.chars().collect();
    let mut at = 0;
    let net = sum(&letters, &mut at);
    assert_eq!(at, letters.len(), "{text}");
    net
}

fn sum(text: &[char], at: &mut usize) -> Net {
    let mut items = vec![product(text, at)];
    while text.get(*at) == Some(&'+') {
        *at += 1;
        items.push(product(text, at));
    }
    if items.len() == 1 { items.remove(0) } else { Net::Sum(items) }
}

fn product(text: &[char], at: &mut usize) -> Net {
    let mut items = Vec::new();
    while let Some(&letter) = text.get(*at).filter(|letter| !matches!(letter, '+' | ')')) {
        *at += 1;
        if letter == '(' {
            items.push(sum(text, at));
            assert_eq!(text.get(*at), Some(&')'));
            *at += 1;
        } else {
            let make = text.get(*at) != Some(&'\'');
            *at += usize::from(!make);
            items.push(Net::Contact { letter, make });
        }
    }
    if items.len() == 1 { items.remove(0) } else { Net::Product(items) }
}

impl Net {
    fn contacts(&self) -> usize {
        match self {
            Self::Contact { .. } => 1,
            Self::Product(items) | Self::Sum(items) => items.iter().map(Self::contacts).sum(),
        }
    }
    /// With `dual`, a sum is series and a product parallel.
    fn write(&self, dual: bool, legs: &mut String, used: &mut Vec<(char, bool)>) {
        match self {
            Self::Contact { letter, make } => {
                writeln!(legs, "contact \"P{letter}\" \"k{}\"", used.len()).unwrap();
                used.push((*letter, *make));
            }
            Self::Product(items) | Self::Sum(items) if matches!(self, Self::Product(_)) != dual => {
                items.iter().for_each(|item| item.write(dual, legs, used));
            }
            Self::Product(items) | Self::Sum(items) if items.len() == 1 => {
                items.iter().for_each(|item| item.write(dual, legs, used));
            }
            Self::Product(items) | Self::Sum(items) => {
                legs.push_str("parallel {\n");
                for item in items {
                    legs.push_str("branch {\n");
                    item.write(dual, legs, used);
                    legs.push_str("}\n");
                }
                legs.push_str("}\n");
            }
        }
    }
}

const HEAD: &str = "scheme \"Network\"\nplace \"PANEL\" \"Panel\"\n\
    supply \"DC1\" \"125 V DC\" range=\"105 to 140 V\" resistance=\"20 mohm\" place=\"PANEL\"\n";
const COIL: &str = "coil resistance=\"2400 ohm\" works=\"85 to 140 V\" pickup=\"60 to 80 V\" \
    dropout=\"15 to 45 V\"";

/// A scheme with a button for each input, contacts as they are used, and legs that end at a coil.
fn wired(inputs: &str, used: &[(char, bool)], legs: &str) -> Scheme {
    let mut text = String::from(HEAD);
    for input in inputs.chars() {
        writeln!(text, "button \"P{input}\" place=\"PANEL\" {{").unwrap();
        for (k, (_, make)) in used.iter().enumerate().filter(|(_, (letter, _))| *letter == input) {
            let when = if *make { "pressed" } else { "released" };
            writeln!(text, "contact \"k{k}\" closed-when=\"{when}\"").unwrap();
        }
        text.push_str("}\n");
    }
    writeln!(
        text,
        "relay \"K\" place=\"PANEL\" {{ {COIL} }}\ncircuit \"C\" supply=\"DC1\" {{\n\
         feed {{ fuse \"F1\" \"10 A\"; wire \"P\" }}\nreturn {{ wire \"N\"; fuse \"F2\" \"10 A\" }}\n\
         {legs}}}"
    )
    .unwrap();
    scheme(&text)
}

/// Whether the coil is driven, for each position of the buttons, counted upward in binary.
fn closed(scheme: &Scheme, inputs: &str) -> String {
    let machine = Machine::new(scheme).unwrap();
    let scope = Scope::whole(&machine);
    let evaluator = Evaluator::new(&machine, &scope);
    let coil = scheme.coils().find(|(_, part, _)| part.name == "K").unwrap().0;
    let n = inputs.len();
    (0..1_usize << n)
        .map(|number| {
            let mut state = machine.drawn();
            for (place, input) in inputs.chars().enumerate() {
                let unit = machine.device_unit(device(scheme, &format!("P{input}"))).unwrap();
                state.set(unit, (number >> (n - 1 - place) & 1) as u8);
            }
            match evaluator.look(&state).pickup(coil) {
                Tri::Yes => '1',
                Tri::No => '0',
                Tri::Perhaps => '?',
            }
        })
        .collect()
}

fn of_net(inputs: &str, net: &Net, dual: bool) -> String {
    let (mut legs, mut used) = (String::from("leg \"L\" {\n"), Vec::new());
    net.write(dual, &mut legs, &mut used);
    legs.push_str("coil \"K\"\n}\n");
    closed(&wired(inputs, &used, &legs), inputs)
}

#[test]
fn published_networks_conduct_as_published() {
    for check in checks()["networks"].as_array().unwrap() {
        let text = |key: &str| check[key].as_str().unwrap();
        let net = net(text("net"));
        let dual = text("convention") == "hindrance";
        assert_eq!(of_net(text("inputs"), &net, dual), text("closed"), "{}", text("name"));
        if let Some(contacts) = check["contacts"].as_u64() {
            assert_eq!(net.contacts() as u64, contacts, "{}", text("name"));
        }
    }
}

#[test]
fn equal_expressions_are_equal_circuits_in_both_conventions() {
    for check in checks()["equal"].as_array().unwrap() {
        let text = |key: &str| check[key].as_str().unwrap();
        for dual in [false, true] {
            let both = ["left", "right"].map(|side| of_net(text("inputs"), &net(text(side)), dual));
            assert_eq!(both[0], both[1], "{}, dual: {dual}", text("name"));
        }
    }
}

#[test]
fn the_bridge_conducts_both_ways_through_its_middle() {
    let check = &checks()["bridge"];
    let inputs = "rstuv";
    let (mut legs, mut used) = (String::new(), Vec::new());
    for edge in check["edges"].as_array().unwrap() {
        let word = |at: usize| edge[at].as_str().unwrap();
        let node = |name: &str| if name == "a" { "P".to_owned() } else { name.to_uppercase() };
        let letter = word(0).to_lowercase().chars().next().unwrap();
        writeln!(
            legs,
            "leg \"{}\" from=\"{}\" to=\"{}\" {{ contact \"P{letter}\" \"k{}\" }}",
            word(0),
            node(word(1)),
            node(word(2)),
            used.len()
        )
        .unwrap();
        used.push((letter, true));
    }
    legs.push_str("leg \"Coil\" from=\"B\" to=\"N\" { coil \"K\" }\n");
    let bridge = closed(&wired(inputs, &used, &legs), inputs);
    for form in ["sum", "product"] {
        let flat = of_net(inputs, &net(check[form].as_str().unwrap()), false);
        assert_eq!(bridge, flat, "{form}");
    }
    let mut by_count = [0_i64; 6];
    for (number, _) in bridge.chars().enumerate().filter(|(_, closed)| *closed == '1') {
        by_count[number.count_ones() as usize] += 1;
    }
    assert_eq!(by_count.iter().sum::<i64>(), check["conducting"].as_i64().unwrap());
    // With independent probability p: sum of n_k p^k (1 - p)^(5 - k), as powers of p.
    let mut powers = [0_i64; 6];
    for (k, n) in by_count.iter().enumerate() {
        let mut choose = 1_i64;
        for j in 0..=(5 - k) {
            let sign = if j % 2 == 0 { 1 } else { -1 };
            powers[k + j] += n * choose * sign;
            choose = choose * (5 - k - j) as i64 / (j + 1) as i64;
        }
    }
    let published: Vec<i64> =
        check["probability"].as_array().unwrap().iter().map(|it| it.as_i64().unwrap()).collect();
    assert_eq!(powers.to_vec(), published);
}

/// One variable after another: x with the rest even, or not x with the rest odd.
fn parity(inputs: &[char], odd: bool) -> Net {
    let (first, rest) = inputs.split_first().unwrap();
    let contact = |make| Net::Contact { letter: *first, make };
    if rest.is_empty() {
        return contact(odd);
    }
    Net::Sum(vec![
        Net::Product(vec![contact(true), parity(rest, !odd)]),
        Net::Product(vec![contact(false), parity(rest, odd)]),
    ])
}

#[test]
fn the_sum_modulo_two_has_as_many_contacts_as_the_theorem_says() {
    for (n, contacts) in checks()["parity"]["contacts"].as_array().unwrap().iter().enumerate() {
        let inputs: Vec<char> = "vwxyz".chars().take(n + 1).collect();
        let net = parity(&inputs, true);
        assert_eq!(net.contacts() as u64, contacts.as_u64().unwrap());
        let text: String = inputs.iter().collect();
        let expected: String = (0..1_u32 << inputs.len())
            .map(|number| if number.count_ones() % 2 == 1 { '1' } else { '0' })
            .collect();
        assert_eq!(of_net(&text, &net, false), expected);
    }
}

#[test]
fn every_function_of_three_expands_by_its_first_variable() {
    let contact = |letter: char, make: bool| Net::Contact { letter, make };
    let minterm = |letters: &str, number: usize| {
        let n = letters.len();
        let bit = |place: usize| number >> (n - 1 - place) & 1 == 1;
        Net::Product(letters.chars().enumerate().map(|(k, it)| contact(it, bit(k))).collect())
    };
    // Constants need no contacts and are left to the postulates.
    for function in 1..255_usize {
        let value = |row: usize| function >> (7 - row) & 1 == 1;
        let whole =
            Net::Sum((0..8).filter(|row| value(*row)).map(|row| minterm("xyz", row)).collect());
        let mut halves = Vec::new();
        for x in [true, false] {
            let rows: Vec<usize> = (0..4).filter(|row| value(row + 4 * usize::from(x))).collect();
            if !rows.is_empty() {
                let rest = Net::Sum(rows.into_iter().map(|row| minterm("yz", row)).collect());
                halves.push(Net::Product(vec![contact('x', x), rest]));
            }
        }
        let table: String = (0..8).map(|row| if value(row) { '1' } else { '0' }).collect();
        assert_eq!(of_net("xyz", &whole, false), table);
        assert_eq!(of_net("xyz", &Net::Sum(halves), false), table);
    }
}

#[test]
fn seal_ins_without_reset_settle_in_powers_of_three() {
    let check = &checks()["sequential"]["seal_in_set_only"];
    for n in 1..=3 {
        let mut text = String::from(HEAD);
        let (mut may, mut devices, mut legs) = (String::new(), String::new(), String::new());
        for k in 1..=n {
            write!(may, " \"S{k}\"").unwrap();
            writeln!(
                devices,
                "button \"S{k}\" place=\"PANEL\" {{ contact \"a\" closed-when=\"pressed\" }}\n\
                 relay \"K{k}\" place=\"PANEL\" {{ {COIL}\ncontact \"a\" closed-when=\"picked up\" }}"
            )
            .unwrap();
            writeln!(
                legs,
                "leg \"L{k}\" {{ parallel {{ contact \"S{k}\" \"a\"; contact \"K{k}\" \"a\" }}; coil \"K{k}\" }}"
            )
            .unwrap();
        }
        writeln!(
            text,
            "person \"operator\" place=\"PANEL\" {{ may{may} }}\n{devices}\
             circuit \"C\" supply=\"DC1\" {{\nfeed {{ fuse \"F1\" \"10 A\"; wire \"P\" }}\n\
             return {{ wire \"N\"; fuse \"F2\" \"10 A\" }}\n{legs}}}"
        )
        .unwrap();
        let scheme = scheme(&text);
        let found = any_order(&scheme, nothing(&scheme));
        let counts = (found.settled.len() as u64, found.ends.len() as u64);
        let published = |key: &str| check[key][n - 1].as_u64().unwrap();
        assert_eq!(counts, (published("settled"), published("moves")), "{n} seal-ins");
        assert!(found.ends.iter().all(|ends| *ends == 1));
    }
}

/// The published lock with relays of our own choosing: one for each step, one that waits until the
/// buttons of the step are let go, and one that follows the alarm and takes the steps their feed.
struct Lock {
    scheme: Scheme,
}

impl Lock {
    fn new() -> Self {
        let contacts = |when: &str, letter: &str, n: usize| {
            let names: String = (0..n).map(|k| format!(" \"{letter}{k}\"")).collect();
            format!("contact{names} closed-when=\"{when}\"\n")
        };
        let mut text = String::from(HEAD);
        for button in ["a", "b", "c", "d", "e", "g", "h"] {
            writeln!(
                text,
                "button \"P{button}\" place=\"PANEL\" {{\n{}{}}}",
                contacts("pressed", "m", 12),
                contacts("released", "n", 12)
            )
            .unwrap();
        }
        for relay in ["W", "W2", "X", "X2", "Y", "Y2", "Z", "U", "V"] {
            writeln!(
                text,
                "relay \"{relay}\" place=\"PANEL\" {{ {COIL}\n{}{}}}",
                contacts("picked up", "m", 6),
                contacts("dropped out", "n", 6)
            )
            .unwrap();
        }
        let mut next: BTreeMap<String, usize> = BTreeMap::new();
        let mut put = |names: &str| -> String {
            // "c a' W": a contact of each, in series.
            let one = |word: &str| {
                let (name, kind) = match word.strip_suffix('\'') {
                    Some(name) => (name, "n"),
                    None => (word, "m"),
                };
                let is_button = name.chars().all(|letter| letter.is_ascii_lowercase());
                let device = if is_button { format!("P{name}") } else { name.to_owned() };
                let k = next.entry(format!("{device} {kind}")).or_insert(0);
                *k += 1;
                format!("contact \"{device}\" \"{kind}{}\"\n", *k - 1)
            };
            names.split(' ').map(one).collect()
        };
        let mut legs = String::new();
        let mut leg = |name: &str, from: &str, ways: &[String]| {
            let branches: String = ways.iter().map(|way| format!("branch {{\n{way}}}\n")).collect();
            let net = match ways {
                [only] => only.clone(),
                _ => format!("parallel {{\n{branches}}}\n"),
            };
            writeln!(legs, "leg \"{name}\" from=\"{from}\" to=\"N\" {{\n{net}coil \"{name}\"\n}}")
                .unwrap();
        };
        let released = "a' b' c' d' e'";
        for (relay, step) in [
            ("W", "c a' b' d' e'".to_owned()),
            ("W2", format!("W {released}")),
            ("X", "W2 b a' c' d' e'".to_owned()),
            ("X2", format!("X {released}")),
            ("Y", "X2 a c b' d' e'".to_owned()),
            ("Y2", format!("Y {released}")),
            ("Z", "Y2 d a' b' c' e'".to_owned()),
        ] {
            let ways = [put(&step), put(relay)];
            leg(relay, "L", &ways);
        }
        let mut parallel = |items: &[&str]| -> String {
            let branches: String =
                items.iter().map(|item| format!("branch {{\n{}}}\n", put(item))).collect();
            format!("parallel {{\n{branches}}}\n")
        };
        let first = parallel(&["a", "b", "d", "e"]);
        let second = parallel(&["a", "c", "d", "e"]);
        let third = parallel(&["b", "d", "e", "a c'", "c a'"]);
        let fourth = parallel(&["a", "b", "c", "e"]);
        let ways = [
            format!("{}{first}", put("W'")),
            format!("{}{second}", put("W2 X'")),
            format!("{}{third}", put("X2 Y'")),
            format!("{}{fourth}", put("Y2 Z'")),
            put("U"),
        ];
        leg("U", "H", &ways);
        // The alarm's own b contact would open before its a contact seals: V follows it.
        let follows = [put("U")];
        leg("V", "P", &follows);
        let (lock, alarm) = (put("V' g'"), put("h'"));
        writeln!(
            text,
            "circuit \"C\" supply=\"DC1\" {{\nfeed {{ fuse \"F1\" \"10 A\"; wire \"P\" }}\n\
             return {{ wire \"N\"; fuse \"F2\" \"10 A\" }}\n\
             leg \"Lock\" from=\"P\" to=\"L\" {{\n{lock}}}\nleg \"Alarm\" from=\"P\" to=\"H\" {{\n{alarm}}}\n\
             {legs}}}"
        )
        .unwrap();
        Self { scheme: scheme(&text) }
    }
}

#[test]
fn the_combination_lock_opens_for_one_word_of_four() {
    let check = &checks()["sequential"]["lock"];
    let lock = Lock::new();
    let machine = Machine::new(&lock.scheme).unwrap();
    let scope = Scope::whole(&machine);
    let evaluator = Evaluator::new(&machine, &scope);
    let unit = |name: &str| machine.device_unit(device(&lock.scheme, name)).unwrap();
    // Pressed together, seen through, let go together, seen through.
    let press = |state: &State, buttons: &str| {
        let mut state = state.clone();
        for to in [1, 0] {
            buttons.chars().for_each(|button| state.set(unit(&format!("P{button}")), to));
            state = still(&evaluator, state, PlayOptions::default());
        }
        state
    };
    let picked = |state: &State, relay: &str| {
        let look = evaluator.look(state);
        let coil = device(&lock.scheme, relay);
        look.atom(fiftytwo_scheme::Atom::Position(coil, 1)) == Tri::Yes
    };
    let start = still(&evaluator, machine.drawn(), PlayOptions::default());
    let symbols: Vec<String> = (1..32_u32)
        .map(|set| {
            "abcde".chars().enumerate().filter(|(k, _)| set >> k & 1 == 1).map(|it| it.1).collect()
        })
        .collect();
    let mut words: BTreeMap<State, Vec<Vec<&str>>> =
        BTreeMap::from([(start.clone(), vec![vec![]])]);
    let right: Vec<&str> =
        check["word"].as_array().unwrap().iter().map(|it| it.as_str().unwrap()).collect();
    for length in 1..=4 {
        let mut longer: BTreeMap<State, Vec<Vec<&str>>> = BTreeMap::new();
        for (state, ways) in &words {
            for symbol in &symbols {
                let after = press(state, symbol);
                let list = longer.entry(after).or_default();
                for way in ways {
                    let mut word = way.clone();
                    word.push(symbol);
                    list.push(word);
                }
            }
        }
        words = longer;
        for (state, ways) in &words {
            let is_right = |word: &Vec<&str>| right[..length] == word[..];
            assert_eq!(picked(state, "Z"), length == 4 && ways.iter().any(is_right));
            for word in ways {
                assert_eq!(picked(state, "U"), !is_right(word), "{word:?}");
            }
        }
    }
    let accepted: usize =
        words.iter().filter(|(state, _)| picked(state, "Z")).map(|(_, ways)| ways.len()).sum();
    assert_eq!(accepted as u64, check["accepted_of_length_four"].as_u64().unwrap());
    let all: usize = words.values().map(Vec::len).sum();
    assert_eq!(all, 31_usize.pow(4));
    // After a wrong press nothing unlocks until the alarm is cleared; relocking forgets.
    let alarmed = press(&start, "a");
    let tried = right.iter().fold(alarmed.clone(), |state, symbol| press(&state, symbol));
    assert!(picked(&tried, "U") && !picked(&tried, "Z"));
    let cleared = press(&alarmed, "h");
    let opened = right.iter().fold(cleared, |state, symbol| press(&state, symbol));
    assert!(picked(&opened, "Z") && !picked(&opened, "U"));
    assert!(!picked(&press(&opened, "g"), "Z"));
    assert!(lock.scheme.parts.values().any(|part| matches!(part.kind, PartKind::Coil(_))));
}
