//! Stories: where they begin, what is done from outside, what must come.

use super::card::{Card, Words};
use super::desk::{Desk, Name};
use super::frame::Line;
use super::statements::Book;
use super::world::{take_notes, twice};
use crate::device::{DeviceKind, ResetBy, TurnedBy};
use crate::finding::Finding;
use crate::intent::{Act, Expect, ExpectBody, Story, StoryStep};
use crate::statement::{Atom, Expr};

/// `story NAME`.
pub(super) fn story(desk: &mut Desk, book: &Book, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &[], lines: &["given", "at", "expect"] });
    let Some(name) = card.name(desk, 0, "The story's name") else { return };
    card.no_more(desk, 1);
    take_notes(desk, &card);
    let mut story = Story {
        name: name.text.clone(),
        given: Vec::new(),
        steps: Vec::new(),
        expects: Vec::new(),
        span: name.span,
    };
    for line in card.all_lines() {
        match line.word.as_str() {
            "given" => given(desk, book, line, &mut story.given),
            "at" => story.steps.extend(step(desk, book, line)),
            _ => story.expects.extend(expect(desk, book, line)),
        }
    }
    if card.holds_nothing() {
        let message = format!("In the story {:?} nothing happens.", name.text);
        desk.error("story-empty", name.span, "nothing in its braces", message);
    }
    let first =
        desk.scheme.stories.iter().find(|known| known.name == name.text).map(|known| known.span);
    if !twice(desk, "story", &name, first) {
        desk.scheme.stories.push(story);
    }
}

fn given(desk: &mut Desk, book: &Book, line: &Line, into: &mut Vec<Act>) {
    let card = Card::open(desk, line, &Words { props: &[], lines: &[] });
    take_notes(desk, &card);
    if line.args.is_empty() {
        card.name(desk, 0, "Where the story begins");
    }
    for arg in &line.args {
        let Some(name) = desk.name(arg) else { continue };
        let acts = acts(desk, book, &name);
        for act in acts {
            if let Some(reason) = not_given(act.atom) {
                refuse(desk, &act, "A story can't begin with", reason);
            } else if let Some(first) = into.iter().find(|first| clash(first, &act)) {
                let message = format!("{:?} and {:?} can't both be given.", first.text, act.text);
                let finding = Finding::error("given-twice", message)
                    .at(act.span, "the other")
                    .and_at(first.span, "the one");
                desk.report(finding);
            } else {
                into.push(act);
            }
        }
    }
}

/// Two beginnings for one thing.
fn clash(first: &Act, second: &Act) -> bool {
    match (first.atom, second.atom) {
        (Atom::Position(a, one), Atom::Position(b, two)) if a == b => {
            first.so && second.so && one != two || one == two && first.so != second.so
        }
        (Atom::Condition(a, one), Atom::Condition(b, two)) if a == b => {
            first.so && second.so && one != two || one == two && first.so != second.so
        }
        (a, b) => a == b && first.so != second.so,
    }
}

fn step(desk: &mut Desk, book: &Book, line: &Line) -> Option<StoryStep> {
    let card = Card::open(desk, line, &Words { props: &["held"], lines: &[] });
    take_notes(desk, &card);
    let Some(first) = line.args.first() else {
        card.name(desk, 0, "The time");
        return None;
    };
    let at = desk.instant(first);
    let held_arg = card.prop("held");
    let held = held_arg.and_then(|arg| desk.instant(arg));
    if line.args.len() < 2 {
        desk.report(
            Finding::error("value-missing", "Nothing happens at this time.")
                .at(first.span, "nothing follows")
                .help(format!("write at {:?} \"…\" with what is done", first.text)),
        );
    }
    let mut done = Vec::new();
    for arg in line.args.iter().skip(1) {
        let Some(name) = desk.name(arg) else { continue };
        for act in acts(desk, book, &name) {
            if let Some(reason) = not_done(desk, &act) {
                refuse(desk, &act, "Nobody outside can bring about", &reason);
                continue;
            }
            if let (Some(held), Some(reason)) = (held_arg, not_held(desk, &act)) {
                desk.report(
                    Finding::error("not-held", format!("{:?} can't be held for a time.", act.text))
                        .at(held.span, "nothing springs back")
                        .help(reason),
                );
            }
            done.push(act);
        }
    }
    Some(StoryStep { at: at?, acts: done, held, span: line.span })
}

/// A statement as single things that are so or not so.
fn acts(desk: &mut Desk, book: &Book, name: &Name) -> Vec<Act> {
    let Some(statement) = book.read(desk, name, None) else { return Vec::new() };
    let mut acts = Vec::new();
    if !flatten(&statement.expr, true, name, &mut acts) {
        desk.report(
            Finding::error("act-choice", format!("{:?} leaves open what is done.", name.text))
                .at(name.span, "a choice")
                .help("name one thing after the other, each in its own quotes"),
        );
        return Vec::new();
    }
    acts
}

fn flatten(expr: &Expr, so: bool, name: &Name, into: &mut Vec<Act>) -> bool {
    match expr {
        Expr::Atom(atom) => {
            into.push(Act { atom: *atom, so, text: name.text.clone(), span: name.span });
            true
        }
        Expr::Not(inner) => flatten(inner, !so, name, into),
        Expr::All(items) if so => items.iter().all(|item| flatten(item, so, name, into)),
        Expr::Any(items) if !so => items.iter().all(|item| flatten(item, so, name, into)),
        Expr::All(_) | Expr::Any(_) => false,
    }
}

fn refuse(desk: &mut Desk, act: &Act, opening: &str, reason: &str) {
    desk.report(
        Finding::error("act", format!("{opening} {:?}.", act.text))
            .at(act.span, "the circuit decides this")
            .help(reason.to_owned()),
    );
}

/// Why a story can't begin so.
fn not_given(atom: Atom) -> Option<&'static str> {
    match atom {
        Atom::Driven(_)
        | Atom::Closed(_)
        | Atom::InputOn(_)
        | Atom::Logic(_)
        | Atom::Lit(_)
        | Atom::Running(_) => {
            Some("it follows from positions, conditions and supplies: give those")
        }
        _ => None,
    }
}

/// Why nobody outside can bring this about.
fn not_done(desk: &Desk, act: &Act) -> Option<String> {
    match act.atom {
        Atom::Position(device, position) => {
            let owner = &desk.scheme.devices[device];
            let by_hand = match &owner.kind {
                DeviceKind::Handle { .. } | DeviceKind::Button => true,
                DeviceKind::Latch { turned_by } => *turned_by == TurnedBy::HandOrCoil,
                DeviceKind::Lockout { reset_by } => *reset_by != ResetBy::Coil && position == 0,
                DeviceKind::Overload => position == 0,
                _ => false,
            };
            match (by_hand, act.so) {
                (true, true) => None,
                (true, false) => Some("say the position it is brought into".to_owned()),
                (false, _) => Some(format!(
                    "{:?} is moved by its own circuit: expect it, or give it at the beginning",
                    owner.name
                )),
            }
        }
        Atom::Order(_) | Atom::LinkOpen(_) | Atom::Live(_) | Atom::Blown(_) => None,
        Atom::Condition(condition, _) => {
            let owner = &desk.scheme.conditions[condition];
            (!act.so && !owner.yes_no).then(|| "say the state it changes to".to_owned())
        }
        Atom::Charged(_) => Some(
            "charging is done by the motor or in its time: give it at the beginning".to_owned(),
        ),
        _ => Some("it follows from positions, conditions and supplies: change those".to_owned()),
    }
}

/// Why this can't be held for a time.
fn not_held(desk: &Desk, act: &Act) -> Option<String> {
    match act.atom {
        Atom::Position(device, position) => match &desk.scheme.devices[device].kind {
            DeviceKind::Handle { returns_to } => {
                let springs = returns_to.get(usize::from(position)).copied().flatten().is_some();
                (!springs).then(|| "this position has no returns-to: take held out and turn it back in a later line".to_owned())
            }
            DeviceKind::Button if position == 1 => None,
            _ => Some("take held out and say what happens in a later line".to_owned()),
        },
        Atom::Condition(condition, _) if !desk.scheme.conditions[condition].yes_no => {
            Some("take held out and say the next state in a later line".to_owned())
        }
        Atom::Blown(_) => Some("a blown fuse stays blown".to_owned()),
        _ => None,
    }
}

fn expect(desk: &mut Desk, book: &Book, line: &Line) -> Option<Expect> {
    let card = Card::open(desk, line, &Words { props: &["by", "at-most", "of"], lines: &[] });
    take_notes(desk, &card);
    card.no_more(desk, 1);
    let (most, of) = (card.prop("at-most"), card.prop("of"));
    let by = card.prop("by").and_then(|arg| desk.instant(arg));
    let body = match (line.args.first(), most, of) {
        (Some(arg), None, None) => {
            book.read_arg(desk, arg).map(|statement| ExpectBody::By { statement, by })
        }
        (None, Some(most), Some(of)) if card.prop("by").is_none() => {
            let times = desk.count(most, "at-most", 0);
            let of = book.read_arg(desk, of);
            times.zip(of).map(|(times, of)| ExpectBody::AtMost { times, of })
        }
        _ => {
            desk.report(
                Finding::error("expect-shape", "It is not clear what is expected.")
                    .at(line.span, "no expectation")
                    .help("write expect \"52 open\" by=\"400 ms\", or expect at-most=1 of=\"52 closed\""),
            );
            None
        }
    };
    body.map(|body| Expect { body, span: line.span })
}
