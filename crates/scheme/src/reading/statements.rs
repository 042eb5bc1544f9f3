//! Statements: which phrase means what, and what is wrong with those that mean nothing.
//!
//! Every phrase that can be said is written into a book once; a statement's phrases are then
//! looked up word for word, so that a second meaning can never hide.

use super::desk::{Desk, Name};
use super::frame::Arg;
use super::names::{listed, nearest, suggestion};
use crate::device::{DeviceKind, LogicRule};
use crate::finding::Finding;
use crate::ids::{ConditionId, DeviceId, LogicId, PartId};
use crate::part::PartKind;
use crate::source::Span;
use crate::statement::{Atom, Expr, Statement};
use crate::text::{self, Raw};
use std::collections::BTreeMap;
use std::ops::Range;

/// Where a statement that waits for all names belongs.
#[derive(Debug, Clone, Copy)]
pub(super) enum Slot {
    /// When a contact is closed.
    ClosedWhen(PartId),
    /// When a line of logic is true.
    LogicWhen(LogicId),
    /// What sets it.
    LogicSet(LogicId),
    /// What clears it.
    LogicClear(LogicId),
    /// When a condition becomes something: the nth rule.
    Becomes(ConditionId, usize),
    /// What a lamp or input must mean.
    Shows(PartId),
}

/// A statement waiting until all names are known.
#[derive(Debug)]
pub(super) struct Pending {
    text: String,
    span: Span,
    scope: Option<DeviceId>,
    slot: Slot,
}

/// A statement that says nothing yet.
pub(super) fn nothing(span: Span) -> Statement {
    Statement { text: String::new(), expr: Expr::All(Vec::new()), span }
}

/// Lets a statement wait until all names are known. Inside `scope` its own words need no name.
pub(super) fn wait(desk: &mut Desk, arg: &Arg, scope: Option<DeviceId>, slot: Slot) {
    if let Some(Name { text, span }) = desk.name(arg) {
        desk.pending.push(Pending { text, span, scope, slot });
    }
}

/// Reads all waiting statements.
pub(super) fn settle(desk: &mut Desk, book: &Book) {
    for Pending { text, span, scope, slot } in std::mem::take(&mut desk.pending) {
        let Some(statement) = book.read(desk, &Name { text, span }, scope) else { continue };
        let scheme = &mut desk.scheme;
        match slot {
            Slot::ClosedWhen(part) => {
                if let PartKind::Contact(contact) = &mut scheme.parts[part].kind {
                    contact.closed_when = statement;
                }
            }
            Slot::LogicWhen(id) => {
                if let LogicRule::When { when, .. } = &mut scheme.logics[id].rule {
                    *when = statement;
                }
            }
            Slot::LogicSet(id) => {
                if let LogicRule::Memory { set, .. } = &mut scheme.logics[id].rule {
                    *set = statement;
                }
            }
            Slot::LogicClear(id) => {
                if let LogicRule::Memory { clear, .. } = &mut scheme.logics[id].rule {
                    *clear = statement;
                }
            }
            Slot::Becomes(id, nth) => {
                if let Some(rule) = scheme.conditions[id].becomes.get_mut(nth) {
                    rule.when = statement;
                }
            }
            Slot::Shows(part) => scheme.parts[part].shows = Some(statement),
        }
    }
}

/// One meaning of a phrase.
#[derive(Debug, Clone)]
struct Meaning {
    expr: Expr,
    /// Such as "the position \"close\" of 52CS".
    told: String,
}

/// Something a phrase can begin with.
#[derive(Debug, Default)]
struct Subject {
    /// What it is, such as "breaker" or "contact".
    what: &'static str,
    /// What can follow; an empty one: it stands alone.
    states: Vec<String>,
    /// The device it belongs to.
    device: Option<DeviceId>,
}

/// Every phrase that can be said.
#[derive(Debug, Default)]
pub(super) struct Book {
    phrases: BTreeMap<String, Vec<Meaning>>,
    own: BTreeMap<DeviceId, BTreeMap<String, Vec<Meaning>>>,
    subjects: BTreeMap<String, Vec<Subject>>,
}

impl Book {
    /// Writes down every phrase of a scheme.
    pub fn of(desk: &Desk) -> Self {
        let mut book = Self::default();
        let scheme = &desk.scheme;
        for (id, device) in scheme.devices.iter() {
            for (index, position) in device.positions.iter().enumerate() {
                let atom = Atom::Position(id, u8::try_from(index).unwrap_or(u8::MAX));
                let told = format!("the position {position:?} of {}", device.name);
                book.own_phrase(id, position, Expr::Atom(atom), &told);
                book.phrase(&device.name, position, Expr::Atom(atom), told);
            }
            book.subject(&device.name, "device", device.positions.clone(), Some(id));
            if let DeviceKind::Breaker { energy: Some(energy), .. } = &device.kind {
                let charged = Expr::Atom(Atom::Charged(id));
                let full = format!("{} {}", device.name, energy.name);
                for (state, expr) in
                    [("charged", charged.clone()), ("discharged", Expr::Not(Box::new(charged)))]
                {
                    let told = format!("the energy {:?} of {} {state}", energy.name, device.name);
                    let own = format!("{} {state}", energy.name);
                    book.own_phrase(id, &own, expr.clone(), &told);
                    book.phrase(&full, state, expr, told);
                }
                let states = vec!["charged".to_owned(), "discharged".to_owned()];
                book.subject(&full, "energy", states, Some(id));
            }
        }
        for (id, logic) in scheme.logics.iter() {
            let owner = &scheme.devices[logic.device].name;
            let told = format!("the line of logic {:?} of {owner}", logic.name);
            let expr = Expr::Atom(Atom::Logic(id));
            let full = format!("{owner} {}", logic.name);
            book.own_phrase(logic.device, &logic.name, expr.clone(), &told);
            book.phrase(&full, "", expr, told);
            book.subject(&full, "line of logic", vec![String::new()], Some(logic.device));
        }
        for (id, part) in scheme.parts.iter() {
            let (state, atom) = match &part.kind {
                PartKind::Coil(_) => ("driven", Atom::Driven(id)),
                PartKind::Contact(_) => ("closed", Atom::Closed(id)),
                PartKind::Input(_) => ("", Atom::InputOn(id)),
                PartKind::Lamp(_) => ("lit", Atom::Lit(id)),
                PartKind::Motor(_) => ("running", Atom::Running(id)),
                PartKind::Fuse { .. } => ("blown", Atom::Blown(id)),
                PartKind::Link => ("open", Atom::LinkOpen(id)),
                _ => continue,
            };
            let what = part.kind.word();
            let told = format!("the {what} {:?}", part.name);
            if let (PartKind::Input(_), Some(device)) = (&part.kind, part.device) {
                book.own_phrase(device, &part.own_name, Expr::Atom(atom), &told);
            }
            book.phrase(&part.name, state, Expr::Atom(atom), told);
            book.subject(&part.name, what, vec![state.to_owned()], part.device);
        }
        for (id, order) in scheme.orders.iter() {
            let told = format!("the order {:?}", order.name);
            book.phrase(&order.name, "", Expr::Atom(Atom::Order(id)), told);
            book.subject(&order.name, "order", vec![String::new()], None);
        }
        for (id, condition) in scheme.conditions.iter() {
            let what = "condition";
            if condition.yes_no {
                let told = format!("the condition {:?}", condition.name);
                book.phrase(&condition.name, "", Expr::Atom(Atom::Condition(id, 1)), told);
                book.subject(&condition.name, what, vec![String::new()], None);
                continue;
            }
            for (index, state) in condition.states.iter().enumerate() {
                let told = format!("the condition {:?}, {state}", condition.name);
                let atom = Atom::Condition(id, u8::try_from(index).unwrap_or(u8::MAX));
                book.phrase(&condition.name, state, Expr::Atom(atom), told);
            }
            book.subject(&condition.name, what, condition.states.clone(), None);
        }
        for (id, supply) in scheme.supplies.iter() {
            let told = format!("the supply {:?}", supply.name);
            book.phrase(&supply.name, "live", Expr::Atom(Atom::Live(id)), told);
            book.subject(&supply.name, "supply", vec!["live".to_owned()], None);
        }
        book
    }

    fn phrase(&mut self, name: &str, state: &str, expr: Expr, told: String) {
        let phrase = if state.is_empty() { name.to_owned() } else { format!("{name} {state}") };
        self.phrases.entry(phrase).or_default().push(Meaning { expr, told });
    }

    fn own_phrase(&mut self, device: DeviceId, phrase: &str, expr: Expr, told: &str) {
        let meaning = Meaning { expr, told: told.to_owned() };
        self.own.entry(device).or_default().entry(phrase.to_owned()).or_default().push(meaning);
    }

    fn subject(
        &mut self,
        name: &str,
        what: &'static str,
        states: Vec<String>,
        device: Option<DeviceId>,
    ) {
        let subject = Subject { what, states, device };
        self.subjects.entry(name.to_owned()).or_default().push(subject);
    }

    /// Reads a statement, reporting every phrase that has no meaning or two.
    pub fn read(&self, desk: &mut Desk, name: &Name, scope: Option<DeviceId>) -> Option<Statement> {
        let raw = match text::statement(&name.text) {
            Ok(raw) => raw,
            Err((spelling, range)) => {
                let at = inside(name, &range);
                desk.report(spelling.finding("statement", at, "can't be read"));
                return None;
            }
        };
        let expr = self.expr(desk, name, &raw, scope)?;
        Some(Statement { text: name.text.clone(), expr, span: name.span })
    }

    /// Reads the statement of a value.
    pub fn read_arg(&self, desk: &mut Desk, arg: &Arg) -> Option<Statement> {
        let name = desk.name(arg)?;
        self.read(desk, &name, None)
    }

    fn expr(
        &self,
        desk: &mut Desk,
        name: &Name,
        raw: &Raw,
        scope: Option<DeviceId>,
    ) -> Option<Expr> {
        match raw {
            Raw::Phrase { text, range } => self.look_up(desk, text, inside(name, range), scope),
            Raw::Not(inner) => Some(Expr::Not(Box::new(self.expr(desk, name, inner, scope)?))),
            Raw::All(items) => self.items(desk, name, items, scope).map(Expr::All),
            Raw::Any(items) => self.items(desk, name, items, scope).map(Expr::Any),
        }
    }

    fn items(
        &self,
        desk: &mut Desk,
        name: &Name,
        items: &[Raw],
        scope: Option<DeviceId>,
    ) -> Option<Vec<Expr>> {
        // Each item is read, even after one failed, so that all errors show at once.
        let read: Vec<Option<Expr>> =
            items.iter().map(|item| self.expr(desk, name, item, scope)).collect();
        read.into_iter().collect()
    }

    fn look_up(
        &self,
        desk: &mut Desk,
        phrase: &str,
        at: Span,
        scope: Option<DeviceId>,
    ) -> Option<Expr> {
        let own = scope.and_then(|device| self.own.get(&device)).and_then(|own| own.get(phrase));
        let all = self.phrases.get(phrase);
        let meanings: Vec<&Meaning> = own.into_iter().chain(all).flatten().collect();
        match meanings.as_slice() {
            [only] => Some(only.expr.clone()),
            [] => {
                self.unknown(desk, phrase, at, scope);
                None
            }
            [first, second, ..] => {
                if desk.first_time("phrase with two meanings", phrase) {
                    desk.report(
                        Finding::error("two-meanings", format!("{phrase:?} has two meanings."))
                            .at(at, "which of the two?")
                            .help(format!(
                                "it means {} and {}: give one of them another name, or write the full name",
                                first.told, second.told
                            )),
                    );
                }
                None
            }
        }
    }

    fn unknown(&self, desk: &mut Desk, phrase: &str, at: Span, scope: Option<DeviceId>) {
        let cut = phrase
            .char_indices()
            .filter(|(_, sign)| *sign == ' ')
            .map(|(index, _)| index)
            .chain([phrase.len()])
            .rev()
            .find_map(|end| {
                let (head, rest) = phrase.split_at_checked(end)?;
                self.subjects.get(head).map(|subjects| (head, rest.trim_start(), subjects))
            });
        if let Some((_, _, subjects)) = &cut
            && subjects.iter().any(|subject| {
                subject.device.is_some_and(|device| desk.incomplete.contains(&device))
            })
        {
            return;
        }
        if scope.is_some_and(|device| desk.incomplete.contains(&device)) {
            return;
        }
        if !desk.first_time("phrase", phrase) {
            return;
        }
        match cut {
            Some((head, rest, subjects)) => self.wrong_state(desk, (head, rest), at, subjects),
            None => self.unknown_name(desk, phrase, at, scope),
        }
    }

    fn wrong_state(&self, desk: &mut Desk, cut: (&str, &str), at: Span, subjects: &[Subject]) {
        let (head, rest) = cut;
        let what = subjects.iter().map(|subject| subject.what).collect::<Vec<_>>().join(" and ");
        // Longer names that begin alike: "52 spring charged" beside "52 closed".
        let longer = self
            .phrases
            .keys()
            .filter_map(|phrase| phrase.strip_prefix(head)?.strip_prefix(' '))
            .collect::<Vec<_>>();
        let mut states: Vec<&str> = subjects
            .iter()
            .flat_map(|subject| subject.states.iter().map(String::as_str))
            .filter(|state| !state.is_empty())
            .collect();
        states.dedup();
        let mut all: Vec<&str> = states.iter().copied().chain(longer).collect();
        all.sort_unstable();
        all.dedup();
        let finding = if rest.is_empty() {
            Finding::error("state-missing", format!("{head:?} says no state."))
                .at(at, format!("{} {what}", super::names::article(&what)))
        } else {
            Finding::error("state-unknown", format!("{head:?} has no state {rest:?}."))
                .at(at, "unknown state")
        };
        let near = nearest(rest, all.iter().copied());
        let help = match (near, states.as_slice()) {
            (Some(near), _) => format!("did you mean \"{head} {near}\"?"),
            (None, [only]) => format!("write \"{head} {only}\""),
            (None, []) if all.is_empty() => format!("write {head:?} alone"),
            (None, []) => format!("known: {}", listed(all.iter().copied())),
            (None, several) => format!("its states: {}", listed(several.iter().copied())),
        };
        desk.report(finding.help(help));
    }

    fn unknown_name(&self, desk: &mut Desk, phrase: &str, at: Span, scope: Option<DeviceId>) {
        let own = scope.and_then(|device| self.own.get(&device));
        let mut known: Vec<&str> = self.phrases.keys().map(String::as_str).collect();
        known.extend(own.into_iter().flat_map(|own| own.keys().map(String::as_str)));
        known.sort_unstable();
        let help = match nearest(phrase, known.iter().copied()) {
            Some(near) => format!("did you mean {near:?}?"),
            None => {
                let first = phrase.split(' ').next().unwrap_or_default();
                let mut names: Vec<&str> = self.subjects.keys().map(String::as_str).collect();
                names.sort_unstable();
                match (nearest(first, names.iter().copied()), own) {
                    (Some(near), _) => format!("did you mean {near:?}?"),
                    (None, Some(own)) => {
                        let mut own: Vec<&str> = own.keys().map(String::as_str).collect();
                        own.sort_unstable();
                        format!("write NAME STATE; known here without a name: {}", listed(own))
                    }
                    (None, None) => suggestion(first, names, "name"),
                }
            }
        };
        desk.report(
            Finding::error("statement-unknown", format!("{phrase:?} names nothing that is known."))
                .at(at, "no known name")
                .help(help),
        );
    }
}

/// The place of a stretch inside a text in quotes; the whole text where it has escapes.
fn inside(name: &Name, range: &Range<usize>) -> Span {
    let written = (name.span.end.saturating_sub(name.span.start)) as usize;
    if written != name.text.len() + 2 {
        return name.span;
    }
    let place = |at: usize| name.span.start + 1 + u32::try_from(at).unwrap_or(0);
    Span { start: place(range.start), end: place(range.end), ..name.span }
}
