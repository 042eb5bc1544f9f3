//! What was asked for: matrix, claims, waivers, limits, and who may do what.

use super::card::{Card, Words};
use super::desk::{Desk, Name, Thing, owned};
use super::frame::{Arg, Line};
use super::lookup;
use super::names::{listed, suggestion};
use super::statements::Book;
use super::world::{take_notes, twice};
use crate::device::DeviceKind;
use crate::finding::Finding;
use crate::ids::{DeviceId, PartId};
use crate::intent::{
    Claim, ClaimBody, CloseBy, CloseNeed, CoilChoice, Matrix, TripBy, Tune, Waiver,
};
use crate::part::{Part, PartKind};
use crate::quantity::TimeRange;
use crate::statement::{Atom, Expr, Statement};
use crate::text::{self, Raw};
use crate::world::{May, MayDo, Person};

/// `person NAME`.
pub(super) fn person(desk: &mut Desk, book: &Book, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &["place"], lines: &["may"] });
    let Some(name) = card.name(desk, 0, "The person's name") else { return };
    card.no_more(desk, 1);
    take_notes(desk, &card);
    let place = card.prop("place").and_then(|arg| desk.place(arg));
    let mut may = Vec::new();
    for line in card.lines("may") {
        let card = Card::open(desk, line, &Words { props: &["when"], lines: &[] });
        take_notes(desk, &card);
        if line.args.is_empty() {
            card.name(desk, 0, "What the person may do");
        }
        let when = card.prop("when").and_then(|arg| book.read_arg(desk, arg));
        for arg in &line.args {
            let Some(what) = desk.name(arg) else { continue };
            if let Some(does) = may_do(desk, book, &what) {
                may.push(May { does, when: when.clone(), span: what.span });
            }
        }
    }
    let first =
        desk.scheme.persons.values().find(|known| known.name == name.text).map(|known| known.span);
    if !twice(desk, "person", &name, first) {
        desk.scheme.persons.push(Person { name: name.text, place, may, span: name.span });
    }
}

/// What a hand can turn or press.
fn by_hand(desk: &Desk, device: DeviceId) -> bool {
    use crate::device::{ResetBy, TurnedBy};
    match &desk.scheme.devices[device].kind {
        DeviceKind::Handle { .. } | DeviceKind::Button | DeviceKind::Overload => true,
        DeviceKind::Latch { turned_by } => *turned_by == TurnedBy::HandOrCoil,
        DeviceKind::Lockout { reset_by } => *reset_by != ResetBy::Coil,
        _ => false,
    }
}

fn may_do(desk: &mut Desk, book: &Book, what: &Name) -> Option<MayDo> {
    if let Some(order) = desk.orders.get(&what.text) {
        return Some(MayDo::Give(order));
    }
    if let Some(device) = desk.devices.get(&what.text) {
        let owner = &desk.scheme.devices[device];
        if desk.incomplete.contains(&device) {
            return None;
        }
        let resets = matches!(owner.kind, DeviceKind::Lockout { .. } | DeviceKind::Overload);
        if by_hand(desk, device) && !resets {
            return Some(MayDo::Operate(device));
        }
        let help = match owner.kind {
            DeviceKind::Latch { .. } => {
                format!("if a hand turns it, give {:?} turned-by=\"hand or coil\"", owner.name)
            }
            _ if resets => format!("write \"{} reset\"", what.text),
            _ => {
                "a person turns handles and latches, presses buttons, resets lockouts, gives orders"
                    .to_owned()
            }
        };
        cannot(desk, what, help);
        return None;
    }
    let statement = book.read(desk, what, None)?;
    match statement.expr {
        Expr::Atom(Atom::Position(device, position)) if by_hand(desk, device) => {
            let owner = &desk.scheme.devices[device];
            let resets = matches!(owner.kind, DeviceKind::Lockout { .. } | DeviceKind::Overload);
            if resets && position != 0 {
                cannot(desk, what, format!("write \"{} reset\"", owner.name));
                return None;
            }
            Some(MayDo::Bring(device, position))
        }
        Expr::Atom(Atom::Order(order)) => Some(MayDo::Give(order)),
        Expr::Atom(Atom::Position(device, _)) => {
            let owner = &desk.scheme.devices[device];
            let help = match owner.kind {
                DeviceKind::Latch { .. } => {
                    format!("if a hand turns it, give {:?} turned-by=\"hand or coil\"", owner.name)
                }
                DeviceKind::Lockout { .. } => {
                    format!("if a hand resets it, give {:?} reset-by=\"hand\"", owner.name)
                }
                _ => "only its coils move it".to_owned(),
            };
            cannot(desk, what, help);
            None
        }
        _ => {
            cannot(desk, what, "a person turns handles and latches, presses buttons, resets lockouts, gives orders".to_owned());
            None
        }
    }
}

fn cannot(desk: &mut Desk, what: &Name, help: String) {
    desk.report(
        Finding::error("may-not", format!("No person can do {:?} by hand.", what.text))
            .at(what.span, "nothing a hand can do")
            .help(help),
    );
}

/// `matrix BREAKER`.
pub(super) fn matrix(desk: &mut Desk, book: &Book, line: &Line) {
    let words = Words { props: &[], lines: &["close-by", "close-needs", "trip-by", "backup-by"] };
    let card = Card::open(desk, line, &words);
    let Some(name) = card.name(desk, 0, "The breaker's name") else { return };
    card.no_more(desk, 1);
    take_notes(desk, &card);
    let device = lookup::device(desk, &name);
    let breaker =
        device.filter(|id| matches!(desk.scheme.devices[*id].kind, DeviceKind::Breaker { .. }));
    if let (Some(device), None) = (device, breaker) {
        let span = desk.scheme.devices[device].span;
        desk.report(
            Finding::error("matrix-breaker", format!("{:?} is no breaker.", name.text))
                .at(name.span, "a matrix is for a breaker")
                .and_at(span, "declared here")
                .device(&name.text),
        );
    }
    let mut matrix = Matrix {
        breaker: breaker.unwrap_or(crate::arena::Id::from_index(usize::MAX)),
        close_by: Vec::new(),
        close_needs: Vec::new(),
        trip_by: Vec::new(),
        backup_by: Vec::new(),
        span: name.span,
    };
    for line in card.all_lines() {
        match line.word.as_str() {
            "close-by" => matrix.close_by.extend(close_by(desk, book, line)),
            "close-needs" => close_needs(desk, book, line, &mut matrix.close_needs),
            "backup-by" => matrix.backup_by.extend(super::backup::backup_by(desk, book, line)),
            _ => matrix.trip_by.extend(trip_by(desk, book, line, breaker)),
        }
    }
    let Some(breaker) = breaker else { return };
    let first =
        desk.scheme.matrices.iter().find(|known| known.breaker == breaker).map(|known| known.span);
    match first {
        Some(first) => desk.report(
            Finding::error("matrix-twice", format!("{:?} has two matrices.", name.text))
                .at(name.span, "the second")
                .and_at(first, "the first")
                .help("put the lines of both into one")
                .device(&name.text),
        ),
        None => desk.scheme.matrices.push(matrix),
    }
}

pub(super) fn statement_of(
    desk: &mut Desk,
    book: &Book,
    card: &Card<'_>,
    what: &str,
) -> Option<Statement> {
    let arg = card.line.args.first();
    if arg.is_none() {
        card.name(desk, 0, what);
    }
    book.read_arg(desk, arg?)
}

fn close_by(desk: &mut Desk, book: &Book, line: &Line) -> Option<CloseBy> {
    let card = Card::open(desk, line, &Words { props: &["needs"], lines: &[] });
    let by = statement_of(desk, book, &card, "Who closes");
    card.no_more(desk, 1);
    take_notes(desk, &card);
    let needs = card.prop("needs").and_then(|arg| book.read_arg(desk, arg));
    Some(CloseBy { by: by?, needs: needs.into_iter().collect(), span: line.span })
}

fn close_needs(desk: &mut Desk, book: &Book, line: &Line, into: &mut Vec<CloseNeed>) {
    let card = Card::open(desk, line, &Words { props: &["longer-than"], lines: &[] });
    take_notes(desk, &card);
    if line.args.is_empty() {
        card.name(desk, 0, "What closing needs");
    }
    let longer_than = card.prop("longer-than").and_then(|arg| desk.time(arg));
    for arg in &line.args {
        let Some(need) = book.read_arg(desk, arg) else { continue };
        into.push(CloseNeed { need, longer_than: longer_than.clone(), span: arg.span });
    }
}

fn trip_by(desk: &mut Desk, book: &Book, line: &Line, breaker: Option<DeviceId>) -> Option<TripBy> {
    let card = Card::open(desk, line, &Words { props: &["needs", "coils", "within"], lines: &[] });
    let by = statement_of(desk, book, &card, "What trips");
    card.no_more(desk, 1);
    take_notes(desk, &card);
    let needs = card.prop("needs").and_then(|arg| book.read_arg(desk, arg));
    let within = card.prop("within").and_then(|arg| limit(desk, arg));
    let coils = breaker.and_then(|breaker| coils(desk, &card, breaker));
    Some(TripBy {
        by: by?,
        needs: needs.into_iter().collect(),
        coils: coils.unwrap_or(CoilChoice::All(Vec::new())),
        within,
        span: line.span,
    })
}

/// A limit is one time.
fn limit(desk: &mut Desk, arg: &Arg) -> Option<TimeRange> {
    desk.time(arg)
}

fn trip_coils(desk: &Desk, breaker: DeviceId) -> Vec<PartId> {
    let parts = desk.scheme.devices[breaker].parts.iter().copied();
    parts
        .filter(|part| match &desk.scheme.parts[*part].kind {
            PartKind::Coil(coil) => coil.drives_to == 0,
            _ => false,
        })
        .collect()
}

fn coils(desk: &mut Desk, card: &Card<'_>, breaker: DeviceId) -> Option<CoilChoice> {
    let all = trip_coils(desk, breaker);
    let Some(name) = card.prop("coils").and_then(|arg| desk.name(arg)) else {
        if card.prop("coils").is_none() && all.is_empty() && !desk.incomplete.contains(&breaker) {
            let owner = desk.scheme.devices[breaker].name.clone();
            desk.report(
                Finding::error(
                    "coil-unknown",
                    format!("{owner:?} has no coil that drives to open."),
                )
                .at(card.line.span, "nothing could trip it")
                .help("declare one in the breaker: coil \"trip\" drives-to=\"open\"")
                .device(owner),
            );
        }
        if card.prop("coils").is_none() && all.len() > 1 {
            let names = listed(all.iter().map(|part| desk.scheme.parts[*part].own_name.as_str()));
            desk.report(
                Finding::note(
                    "unsaid-coils",
                    format!("It is not said which coils this drives: all are taken, {names}."),
                )
                .at(card.line.span, "no coils"),
            );
        }
        return Some(CoilChoice::All(all));
    };
    let raw = match text::statement(&name.text) {
        Ok(raw) => raw,
        Err((spelling, _)) => {
            desk.report(spelling.finding("statement", name.span, "can't be read"));
            return None;
        }
    };
    let listed_coils = match raw {
        Raw::Phrase { text, .. } => Some((vec![text], false)),
        Raw::All(items) => phrases(items).map(|words| (words, false)),
        Raw::Any(items) => phrases(items).map(|words| (words, true)),
        Raw::Not(_) => None,
    };
    let Some((words, any)) = listed_coils else {
        desk.report(
            Finding::error("statement", format!("{:?} is no list of coils.", name.text))
                .at(name.span, "coils are joined by and, or by or")
                .help("write \"trip 1 and trip 2\" if all must be driven, \"trip 1 or trip 2\" if one is enough"),
        );
        return None;
    };
    let mut coils = Vec::new();
    for word in words {
        match coil_of(desk, breaker, &word) {
            Some(coil) if coils.contains(&coil) => {
                desk.error(
                    "coil-twice",
                    name.span,
                    "named twice",
                    format!("{word:?} is named twice."),
                );
            }
            Some(coil) => coils.push(coil),
            None if desk.incomplete.contains(&breaker) => {}
            None => {
                let owner = &desk.scheme.devices[breaker];
                let known =
                    listed(all.iter().map(|part| desk.scheme.parts[*part].own_name.as_str()));
                let finding = Finding::error(
                    "coil-unknown",
                    format!("{:?} has no trip coil {word:?}.", owner.name),
                )
                .at(name.span, "unknown coil")
                .help(if known.is_empty() {
                    "none of its coils drives to open".to_owned()
                } else {
                    format!("its trip coils: {known}")
                })
                .device(&owner.name);
                desk.report(finding);
            }
        }
    }
    Some(if any { CoilChoice::Any(coils) } else { CoilChoice::All(coils) })
}

fn coil_of(desk: &Desk, breaker: DeviceId, word: &str) -> Option<PartId> {
    let coils = trip_coils(desk, breaker).into_iter();
    coils.into_iter().find(|part| {
        [&desk.scheme.parts[*part].own_name, &desk.scheme.parts[*part].name]
            .iter()
            .any(|name| *name == word)
    })
}

fn phrases(items: Vec<Raw>) -> Option<Vec<String>> {
    items
        .into_iter()
        .map(|item| match item {
            Raw::Phrase { text, .. } => Some(text),
            _ => None,
        })
        .collect()
}

/// `claim NAME`.
pub(super) fn claim(desk: &mut Desk, book: &Book, line: &Line) {
    let words = Words {
        props: &[
            "never",
            "longer-than",
            "always",
            "if",
            "then",
            "within",
            "during",
            "at-most",
            "of",
        ],
        lines: &[],
    };
    let card = Card::open(desk, line, &words);
    let Some(name) = card.name(desk, 0, "The claim's name") else { return };
    card.no_more(desk, 1);
    take_notes(desk, &card);
    let statement =
        |desk: &mut Desk, word: &str| card.prop(word).and_then(|arg| book.read_arg(desk, arg));
    let has = |word: &str| card.prop(word).is_some();
    let during = statement(desk, "during");
    let said: Vec<&str> =
        ["never", "always", "if", "at-most"].into_iter().filter(|word| has(word)).collect();
    let belongs: &[(&str, &str)] =
        &[("longer-than", "never"), ("then", "if"), ("within", "if"), ("of", "at-most")];
    let stray = belongs.iter().find(|(word, to)| has(word) && !has(to));
    let body = match (said.as_slice(), stray) {
        (["never"], None) => {
            let longer_than = card.prop("longer-than").and_then(|arg| desk.time(arg));
            statement(desk, "never").map(|what| ClaimBody::Never { what, longer_than })
        }
        (["always"], None) => statement(desk, "always").map(ClaimBody::Always),
        (["if"], None) if has("then") => {
            let within = card.prop("within").and_then(|arg| desk.time(arg));
            let (premise, then) = (statement(desk, "if"), statement(desk, "then"));
            premise.zip(then).map(|(premise, then)| ClaimBody::IfThen { premise, then, within })
        }
        (["at-most"], None) if has("of") => {
            let times = card.prop("at-most").and_then(|arg| desk.count(arg, "at-most", 0));
            let of = statement(desk, "of");
            times.zip(of).map(|(times, of)| ClaimBody::AtMost { times, of })
        }
        _ => {
            desk.report(
                Finding::error("claim-shape", misshapen(&name.text, &said, stray))
                    .at(name.span, "no claim")
                    .help("write never=… [longer-than=…], or always=…, or if=… then=… [within=…], or at-most=… of=… [during=…]"),
            );
            None
        }
    };
    let first =
        desk.scheme.claims.iter().find(|known| known.name == name.text).map(|known| known.span);
    if !twice(desk, "claim", &name, first)
        && let Some(body) = body
    {
        desk.scheme.claims.push(Claim { name: name.text, body, during, span: name.span });
    }
}

/// What is wrong with the words of a claim.
fn misshapen(name: &str, said: &[&str], stray: Option<&(&str, &str)>) -> String {
    match (said, stray) {
        (_, Some((word, to))) => format!("The claim {name:?} says {word} without {to}."),
        ([first, second, ..], _) => {
            format!("The claim {name:?} says both {first} and {second}: that is two claims.")
        }
        (["if"], _) => format!("The claim {name:?} says if, but not what then."),
        (["at-most"], _) => format!("The claim {name:?} says at-most, but not of what."),
        _ => format!("The claim {name:?} says nothing that can be asked."),
    }
}

/// The claims every scheme is asked, by name.
pub(super) const BUILT_IN: &[&str] = &[
    "permissives",
    "no pumping",
    "trip-free",
    "every trip trips",
    "locked out stays out",
    "no trip unasked",
    "stored energy",
    "monitors are honest",
    "nothing hangs",
    "two supplies stay apart",
    "nothing breaks what it can't",
    "backup works in time",
];

fn known_claim(desk: &mut Desk, name: &Name) {
    let own = desk.scheme.claims.iter().map(|claim| claim.name.clone());
    let known: Vec<String> = BUILT_IN.iter().map(|name| (*name).to_owned()).chain(own).collect();
    if !known.contains(&name.text) {
        desk.unknown("claim", "claim-unknown", name, &known);
    }
}

/// `waive CLAIM`.
pub(super) fn waive(desk: &mut Desk, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &["for", "because"], lines: &[] });
    let Some(name) = card.name(desk, 0, "The claim's name") else { return };
    card.no_more(desk, 1);
    take_notes(desk, &card);
    known_claim(desk, &name);
    let for_name = card.prop("for").and_then(|arg| desk.name(arg));
    if let Some(who) = &for_name {
        waived_for(desk, &name.text, who);
    }
    let because = card.prop("because").and_then(|arg| desk.name(arg)).map(|name| name.text);
    if card.prop("because").is_none()
        || because.as_deref().is_some_and(|text| text.trim().is_empty())
    {
        desk.report(
            Finding::error(
                "waive-reason",
                format!("No reason is given for leaving out {:?}.", name.text),
            )
            .at(name.span, "no because")
            .why("a claim left out is printed in every report together with its reason")
            .help("add because=\"…\""),
        );
    }
    desk.scheme.waivers.push(Waiver {
        claim: name.text,
        for_name: for_name.map(|name| name.text),
        because: because.unwrap_or_default(),
        span: name.span,
    });
}

/// Reports a `for` that the claim never speaks of: such a line would leave nothing out.
fn waived_for(desk: &mut Desk, claim: &str, who: &Name) {
    let scheme = &desk.scheme;
    let breakers = scheme.matrices.iter().map(|matrix| &scheme.devices[matrix.breaker].name);
    let of_kind = |wanted: fn(&DeviceKind) -> bool| {
        scheme.devices.values().filter(move |device| wanted(&device.kind))
    };
    let (sort, known): (_, Vec<String>) = match claim {
        "permissives" => ("need or source of closing", closing(&scheme.matrices)),
        "no pumping" | "trip-free" => ("breaker with a matrix", breakers.cloned().collect()),
        "stored energy" => {
            let has = |id: &&DeviceId| {
                matches!(scheme.devices[**id].kind, DeviceKind::Breaker { energy: Some(_), .. })
            };
            let ids: Vec<DeviceId> = scheme.matrices.iter().map(|matrix| matrix.breaker).collect();
            let named = ids.iter().filter(has).map(|id| scheme.devices[*id].name.clone());
            ("breaker with an energy", named.collect())
        }
        "backup works in time" => {
            let backups = scheme.matrices.iter().flat_map(|matrix| &matrix.backup_by);
            ("backup", backups.map(|backup| backup.by.text.clone()).collect())
        }
        "every trip trips" => {
            let trips = scheme.matrices.iter().flat_map(|matrix| &matrix.trip_by);
            ("source of a trip", trips.map(|trip| trip.by.text.clone()).collect())
        }
        "two supplies stay apart" => {
            let trips = scheme.matrices.iter().flat_map(|matrix| &matrix.trip_by);
            let supplies = scheme.supplies.values().map(|supply| supply.name.clone());
            let named = trips.map(|trip| trip.by.text.clone()).chain(supplies);
            ("source of a trip or supply", named.collect())
        }
        "locked out stays out" => {
            let lockouts = of_kind(|kind| matches!(kind, DeviceKind::Lockout { .. }));
            ("lockout", lockouts.map(|device| device.name.clone()).collect())
        }
        "monitors are honest" => {
            let shows = |part: &&Part| matches!(part.kind, PartKind::Lamp(_) | PartKind::Input(_));
            let parts = scheme.parts.values().filter(shows);
            ("lamp or input", parts.map(|part| part.name.clone()).collect())
        }
        own if scheme.claims.iter().any(|claim| claim.name == own) => {
            ("claim", vec![own.to_owned()])
        }
        _ => ("device or part", owned(desk.things.names())),
    };
    if known.contains(&who.text) {
        return;
    }
    let message = format!("{claim:?} says nothing of {:?}.", who.text);
    let help = suggestion(&who.text, known.iter().map(String::as_str), sort);
    desk.report(
        Finding::error("waive-for", message)
            .at(who.span, format!("no {sort}"))
            .why("such a line would leave nothing out")
            .help(help),
    );
}

/// What the claim "permissives" is asked about, in the words of the matrices.
fn closing(matrices: &[Matrix]) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for matrix in matrices {
        said.extend(matrix.close_needs.iter().map(|need| need.need.text.clone()));
        for source in &matrix.close_by {
            said.push(source.by.text.clone());
            said.extend(source.needs.iter().map(|need| need.text.clone()));
        }
    }
    said
}

/// `tune CLAIM`.
pub(super) fn tune(desk: &mut Desk, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &["within"], lines: &[] });
    let Some(name) = card.name(desk, 0, "The claim's name") else { return };
    card.no_more(desk, 1);
    take_notes(desk, &card);
    known_claim(desk, &name);
    let within = card.prop("within").and_then(|arg| desk.time(arg));
    if card.prop("within").is_none() {
        let message = format!("Nothing of {:?} is changed.", name.text);
        desk.error("value-missing", name.span, "no limit", message);
    }
    desk.scheme.tunes.push(Tune { claim: name.text, within, span: name.span });
}

/// Guarded coils, charging motors and what else waits for all names.
pub(super) fn settle(desk: &mut Desk) {
    for (part, name) in std::mem::take(&mut desk.watches) {
        if let Some(coil) = lookup::coil(desk, &name) {
            desk.scheme.parts[part].watches = Some(coil);
        }
    }
    for (breaker, name) in std::mem::take(&mut desk.chargers) {
        let owner = desk.scheme.devices[breaker].name.clone();
        let full = format!("{owner} {}", name.text);
        let found = desk.things.get(&full).or_else(|| desk.things.get(&name.text));
        let motor = match found {
            Some(Thing::Part(part)) => Some(part)
                .filter(|part| matches!(desk.scheme.parts[*part].kind, PartKind::Motor(_))),
            _ => None,
        };
        match motor {
            Some(motor) => {
                if let DeviceKind::Breaker { energy: Some(energy), .. } =
                    &mut desk.scheme.devices[breaker].kind
                {
                    energy.charged_by = Some(motor);
                }
            }
            None => {
                let known: Vec<String> = desk
                    .scheme
                    .parts
                    .values()
                    .filter(|part| matches!(part.kind, PartKind::Motor(_)))
                    .map(|part| part.own_name.clone())
                    .collect();
                desk.unknown("motor", "motor-unknown", &name, &known);
            }
        }
    }
}
