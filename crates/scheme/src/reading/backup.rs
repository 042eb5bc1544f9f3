//! `backup-by`: what clears a fault when the breaker does not open.

use super::card::{Card, Words};
use super::desk::{Desk, no_time};
use super::frame::{Arg, Line};
use super::intent::statement_of;
use super::statements::Book;
use crate::device::{DeviceKind, LogicRule};
use crate::finding::Finding;
use crate::intent::{BackupBy, BackupTimer, Waits};
use crate::statement::{Atom, Expr};

pub(super) fn backup_by(desk: &mut Desk, book: &Book, line: &Line) -> Option<BackupBy> {
    let props = &["when", "timer", "margin", "clears-in", "critical"];
    let card = Card::open(desk, line, &Words { props, lines: &[] });
    let by = statement_of(desk, book, &card, "What trips the breakers around");
    card.no_more(desk, 1);
    super::world::take_notes(desk, &card);
    let when = card.prop("when").and_then(|arg| book.read_arg(desk, arg));
    if card.prop("when").is_none() {
        desk.report(
            Finding::error("value-missing", "It is not said for which fault this backup is.")
                .at(line.span, "no when")
                .help("add when=\"…\": the critical time runs from there"),
        );
    }
    let time = |desk: &mut Desk, word: &str| card.prop(word).and_then(|arg| desk.time(arg));
    let margin = time(desk, "margin");
    let clears_in = time(desk, "clears-in").unwrap_or_else(no_time);
    let critical = time(desk, "critical");
    if let (Some(arg), None) = (card.prop("margin"), card.prop("timer")) {
        desk.report(
            Finding::error("backup-timer", "A margin is given, but not of which timer.")
                .at(arg.span, "margin of what?")
                .help("add timer=\"… timed out\""),
        );
    }
    if let Some(critical) = critical.as_ref().filter(|critical| critical.lo <= clears_in.hi) {
        desk.report(
            Finding::error(
                "backup-late",
                format!(
                    "The breakers around take {}, the fault must be cleared within {}.",
                    clears_in.written, critical.written
                ),
            )
            .at(line.span, "nothing is left for the backup itself"),
        );
    }
    let timer = card.prop("timer").and_then(|arg| timer(desk, book, arg));
    let timer = timer.map(|(which, text)| BackupTimer {
        which,
        text,
        margin: margin.unwrap_or_else(no_time),
    });
    Some(BackupBy { by: by?, when: when?, timer, clears_in, critical, span: line.span })
}

/// A timer by the statement that its time is over: "62 timed out", or a line of logic.
fn timer(desk: &mut Desk, book: &Book, arg: &Arg) -> Option<(Waits, String)> {
    let statement = book.read_arg(desk, arg)?;
    let scheme = &desk.scheme;
    let found = match statement.expr {
        Expr::Atom(Atom::Position(device, 1))
            if matches!(scheme.devices[device].kind, DeviceKind::Timer { .. }) =>
        {
            Some(Waits::Timer(device))
        }
        Expr::Atom(Atom::Logic(logic))
            if matches!(scheme.logics[logic].rule, LogicRule::When { .. }) =>
        {
            Some(Waits::Logic(logic))
        }
        _ => None,
    };
    if found.is_none() {
        desk.report(
            Finding::error("backup-timer", format!("{:?} is no timer.", statement.text))
                .at(statement.span, "nothing that waits")
                .help("name a timer that has \"timed out\", or a line of logic with an on-delay"),
        );
    }
    Some((found?, statement.text))
}
