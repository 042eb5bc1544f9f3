//! Whatever the text: no panic, the same findings every time, and no model with a loose end.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test fails by panicking")]

use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::testing::scheme_text;
use fiftytwo_scheme::{
    Atom, Chain, CoilChoice, DeviceKind, Expr, PartKind, Points, Reading, Scheme, Severity,
    Statement, Step, format, read_text,
};
use proptest::prelude::*;

fn examples() -> Vec<String> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let mut texts = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let Ok(mut text) = std::fs::read_to_string(path.join("scheme.kdl")) else { continue };
        text.push_str(&std::fs::read_to_string(path.join("stories.kdl")).unwrap_or_default());
        texts.push(text);
    }
    texts.sort();
    assert!(texts.len() >= 5);
    texts
}

fn errors(reading: &Reading) -> Vec<String> {
    reading
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error)
        .map(|finding| {
            let at = finding.at.map(|at| reading.sources.place(at)).unwrap_or_default();
            format!("{at} {} {}", finding.id, finding.message)
        })
        .collect()
}

/// The model in words, without its sources and without any place in the text.
fn without_places(mut scheme: Scheme) -> String {
    scheme.sources = Default::default();
    let told = format!("{scheme:?}");
    let mut words = String::new();
    let mut rest = told.as_str();
    while let Some(at) = rest.find("Span { ") {
        words.push_str(&rest[..at]);
        rest = &rest[at..];
        rest = &rest[rest.find('}').unwrap() + 1..];
    }
    words.push_str(rest);
    words
}

/// Every id points at something; every part of a chain stands where the chain says.
fn is_whole(scheme: &Scheme) {
    fn atom(scheme: &Scheme, atom: Atom) {
        match atom {
            Atom::Position(device, position) => {
                assert!(usize::from(position) < scheme.devices[device].positions.len());
            }
            Atom::Charged(device) => {
                let kind = &scheme.devices[device].kind;
                assert!(matches!(kind, DeviceKind::Breaker { energy: Some(_), .. }));
            }
            Atom::Driven(part) => {
                assert!(matches!(scheme.parts[part].kind, PartKind::Coil(_)));
            }
            Atom::Closed(part) => {
                assert!(matches!(scheme.parts[part].kind, PartKind::Contact(_)));
            }
            Atom::InputOn(part) => {
                assert!(matches!(scheme.parts[part].kind, PartKind::Input(_)));
            }
            Atom::Logic(logic) => assert!(logic.index() < scheme.logics.len()),
            Atom::Order(order) => assert!(order.index() < scheme.orders.len()),
            Atom::Condition(condition, state) => {
                assert!(usize::from(state) < scheme.conditions[condition].states.len());
            }
            Atom::Lit(part) | Atom::Running(part) | Atom::Blown(part) | Atom::LinkOpen(part) => {
                assert!(part.index() < scheme.parts.len());
            }
            Atom::Live(supply) => assert!(supply.index() < scheme.supplies.len()),
        }
    }
    fn never_empty(expr: &Expr) {
        match expr {
            Expr::Atom(_) => {}
            Expr::Not(inner) => never_empty(inner),
            Expr::All(items) | Expr::Any(items) => {
                assert!(!items.is_empty());
                items.iter().for_each(never_empty);
            }
        }
    }
    let said = |statement: &Statement| {
        never_empty(&statement.expr);
        statement.expr.atoms(&mut |one| atom(scheme, one));
    };
    fn walk(
        scheme: &Scheme,
        chain: &Chain,
        from: fiftytwo_scheme::NodeId,
        to: fiftytwo_scheme::NodeId,
    ) {
        let mut at = from;
        let mut steps = chain.steps.iter().peekable();
        while let Some(step) = steps.next() {
            match step {
                Step::Part(part) => {
                    let placed = scheme.parts[*part].at.expect("a part in a chain is placed");
                    assert_eq!(placed.from, at, "{}", scheme.parts[*part].name);
                    at = placed.to;
                }
                Step::Wire(node) => assert_eq!(*node, at),
                Step::Parallel(ways) => {
                    let next = match steps.peek() {
                        None => to,
                        Some(Step::Wire(node)) => *node,
                        Some(Step::Part(part)) => scheme.parts[*part].at.unwrap().from,
                        Some(Step::Parallel(_)) => end_of(scheme, &ways[0], at),
                    };
                    for way in ways {
                        walk(scheme, way, at, next);
                    }
                    at = next;
                }
            }
        }
        assert!(chain.steps.is_empty() || at == to);
    }
    fn end_of(
        scheme: &Scheme,
        chain: &Chain,
        from: fiftytwo_scheme::NodeId,
    ) -> fiftytwo_scheme::NodeId {
        match chain.steps.last() {
            None => from,
            Some(Step::Part(part)) => scheme.parts[*part].at.unwrap().to,
            Some(Step::Wire(node)) => *node,
            Some(Step::Parallel(ways)) => end_of(scheme, &ways[0], from),
        }
    }
    for (_, place) in scheme.nodes.iter() {
        assert!(place.place.index() < scheme.places.len());
    }
    for (_, cable) in scheme.cables.iter() {
        assert!(cable.from.index() < scheme.places.len() && cable.to.index() < scheme.places.len());
    }
    for (id, device) in scheme.devices.iter() {
        assert!(device.place.index() < scheme.places.len());
        assert!(device.positions.is_empty() || usize::from(device.drawn) < device.positions.len());
        assert!(device.parts.iter().all(|part| scheme.parts[*part].device == Some(id)));
        assert!(device.logics.iter().all(|logic| scheme.logics[*logic].device == id));
    }
    for (_, part) in scheme.parts.iter() {
        match &part.kind {
            PartKind::Contact(contact) => said(&contact.closed_when),
            PartKind::Coil(coil) => {
                let owner = &scheme.devices[part.device.unwrap()];
                assert!(usize::from(coil.drives_to) < owner.positions.len());
            }
            PartKind::Core(core) => {
                let at = part.at.expect("a core stands where it is written");
                assert_eq!(scheme.nodes[at.to].place, core.into);
                assert!(
                    core.cores.iter().all(|core| *core <= scheme.cables[core_cable(part)].cores)
                );
            }
            _ => {}
        }
        let follows = match &part.kind {
            PartKind::Fuse { curve, .. } => *curve,
            PartKind::Lamp(lamp) => lamp.curve,
            PartKind::Diode(diode) => diode.curve,
            PartKind::Varistor(varistor) => varistor.curve,
            PartKind::Input(input) => input.curve,
            _ => None,
        };
        if let Some(curve) = follows {
            let is_fuse = matches!(part.kind, PartKind::Fuse { .. });
            match &scheme.curves[curve].points {
                Points::VoltsAmps(points) => assert!(!is_fuse && points.len() > 1),
                Points::AmpsSeconds(points) => assert!(is_fuse && points.len() > 1),
            }
        }
        part.shows.iter().for_each(said);
        if let Some(at) = part.at {
            assert_eq!(scheme.nodes[at.from].place, at.place, "{}", part.name);
            assert!(at.circuit.index() < scheme.circuits.len());
        }
    }
    for (_, logic) in scheme.logics.iter() {
        match &logic.rule {
            fiftytwo_scheme::LogicRule::When { when, .. } => said(when),
            fiftytwo_scheme::LogicRule::Memory { set, clear } => {
                [set, clear].into_iter().for_each(said)
            }
        }
    }
    for (id, circuit) in scheme.circuits.iter() {
        assert!(circuit.supply.index() < scheme.supplies.len());
        walk(scheme, &circuit.feed.chain, circuit.feed.from, circuit.feed.to);
        walk(scheme, &circuit.back.chain, circuit.back.from, circuit.back.to);
        for leg in &circuit.legs {
            let leg = &scheme.legs[*leg];
            assert_eq!(leg.circuit, id);
            walk(scheme, &leg.strand.chain, leg.strand.from, leg.strand.to);
        }
    }
    for matrix in &scheme.matrices {
        assert!(matches!(scheme.devices[matrix.breaker].kind, DeviceKind::Breaker { .. }));
        for trip in &matrix.trip_by {
            let (CoilChoice::All(coils) | CoilChoice::Any(coils)) = &trip.coils;
            assert!(!coils.is_empty());
        }
    }
}

fn core_cable(part: &fiftytwo_scheme::Part) -> fiftytwo_scheme::CableId {
    match &part.kind {
        PartKind::Core(core) => core.cable,
        _ => panic!("no core"),
    }
}

#[test]
fn the_examples_are_whole() {
    for text in examples() {
        let reading = read_text("x.kdl", &text);
        assert_eq!(errors(&reading), Vec::<String>::new());
        is_whole(&reading.scheme.unwrap());
    }
}

#[test]
fn laying_out_an_example_changes_nothing_in_it() {
    for text in examples() {
        let laid_out = format("x.kdl", &text).unwrap();
        let before = without_places(read_text("x.kdl", &text).scheme.unwrap());
        let after = without_places(read_text("x.kdl", &laid_out).scheme.unwrap());
        assert!(before == after);
    }
}

#[test]
fn a_changed_number_is_seen_by_the_comparison() {
    let text = examples().remove(0);
    let changed = text.replacen("105 to 140 V", "105 to 141 V", 1);
    assert_ne!(text, changed);
    let before = without_places(read_text("x.kdl", &text).scheme.unwrap());
    let after = without_places(read_text("x.kdl", &changed).scheme.unwrap());
    assert!(before != after);
}

/// A piece of one text put somewhere into another.
fn mutated(texts: &[String], picks: &[(usize, usize, usize, usize)]) -> String {
    let mut text = texts[picks[0].0 % texts.len()].clone();
    for (from, at, length, to) in picks {
        let donor = &texts[from % texts.len()];
        let start = floor(donor, at % donor.len());
        let end = floor(donor, (start + length).min(donor.len()));
        let to = floor(&text, to % (text.len() + 1));
        if length % 3 == 0 {
            let end = floor(&text, (to + length).min(text.len()));
            text.replace_range(to..end, "");
        } else {
            text.insert_str(to, &donor[start..end]);
        }
    }
    text
}

fn floor(text: &str, mut at: usize) -> usize {
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// A whole line of an example left out, doubled or moved: most such texts can still be taken
/// apart, so the errors come from the reading itself.
fn relined(text: &str, picks: &[(usize, usize, u8)]) -> String {
    let mut lines: Vec<&str> = text.lines().collect();
    for (from, to, what) in picks {
        if lines.is_empty() {
            break;
        }
        let (from, to) = (from % lines.len(), to % lines.len());
        match what % 3 {
            0 => {
                lines.remove(from);
            }
            1 => lines.insert(to, lines[from]),
            _ => lines.swap(from, to),
        }
    }
    lines.join("\n")
}

fn judged(text: &str) {
    let first = read_text("x.kdl", text);
    let second = read_text("x.kdl", text);
    assert_eq!(first.findings, second.findings);
    assert_eq!(first.scheme.is_some(), errors(&first).is_empty());
    for finding in &first.findings {
        assert!(!finding.message.contains("Id("), "{finding:?}");
        let spans = finding.at.iter().chain(finding.others.iter().map(|(span, _)| span));
        for span in spans {
            assert!(span.start <= span.end && span.end as usize <= text.len(), "{finding:?}");
        }
    }
    if let Some(scheme) = &first.scheme {
        is_whole(scheme);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(256) })]

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        judged(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn random_words_of_the_language_never_panic(words in prop::collection::vec(0_usize..40, 0..80)) {
        const WORDS: [&str; 40] = [
            "scheme", "place", "\"HOUSE\"", "supply", "\"DC1\"", "\"125 V DC\"", "{", "}", "\n", ";",
            "cable", "from=\"HOUSE\"", "to=\"X\"", "cores=3", "relay", "coil", "contact", "\"a1\"",
            "closed-when=\"a1\"", "closed-when=\"open\"", "breaker", "\"52\"", "circuit", "feed",
            "return", "leg", "wire", "parallel", "branch", "core", "5", "matrix", "close-by",
            "story", "at", "\"0 ms\"", "given", "pattern", "apply", "use",
        ];
        let text: Vec<&str> = words.iter().map(|word| WORDS[*word]).collect();
        judged(&text.join(" "));
    }

    #[test]
    fn mutated_examples_never_panic(
        picks in prop::collection::vec((0_usize..9, any::<usize>(), 0_usize..60, any::<usize>()), 1..6),
    ) {
        judged(&mutated(&examples(), &picks));
    }

    #[test]
    fn examples_with_lines_out_of_place_never_panic(
        which in 0_usize..9,
        picks in prop::collection::vec((any::<usize>(), any::<usize>(), any::<u8>()), 1..4),
    ) {
        let texts = examples();
        judged(&relined(&texts[which % texts.len()], &picks));
    }

    #[test]
    fn random_right_schemes_are_read(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let text = scheme_text(&bytes);
        let reading = read_text("x.kdl", &text);
        prop_assert_eq!(errors(&reading), Vec::<String>::new(), "{}", text);
        let scheme = reading.scheme.unwrap();
        is_whole(&scheme);
        let laid_out = format("x.kdl", &text).unwrap();
        let again = read_text("x.kdl", &laid_out).scheme.unwrap();
        prop_assert!(without_places(scheme) == without_places(again), "{}", text);
    }
}

#[test]
fn an_example_without_any_one_of_its_lines_is_judged() {
    for text in examples().iter().filter(|text| !text.contains("Quillmere")) {
        let lines: Vec<&str> = text.lines().collect();
        for index in 0..lines.len() {
            let mut fewer = lines.clone();
            fewer.remove(index);
            judged(&fewer.join("\n"));
        }
    }
}

#[test]
fn random_right_schemes_hold_every_kind_of_thing() {
    let mut seen = std::collections::BTreeSet::new();
    let mut most = 0;
    for seed in 0..200_u32 {
        // A small generator of our own is enough to spread the choices.
        let mut state = seed.wrapping_mul(2_654_435_761).wrapping_add(1);
        let bytes: Vec<u8> = (0..200)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (state >> 24) as u8
            })
            .collect();
        let scheme = read_text("x.kdl", &scheme_text(&bytes)).scheme.unwrap();
        most = most.max(scheme.placed().count());
        for (_, part) in scheme.placed() {
            seen.insert(match &part.kind {
                PartKind::Contact(_) => "contact",
                PartKind::Coil(_) => "coil",
                PartKind::Input(_) => "input",
                PartKind::Core(_) => "core",
                PartKind::Lamp(_) => "lamp",
                PartKind::Diode(_) => "diode",
                PartKind::Resistor { .. } => "resistor",
                _ => "other",
            });
        }
    }
    assert_eq!(seen.len(), 8, "{seen:?}");
    assert!(most >= 25, "{most}");
}
