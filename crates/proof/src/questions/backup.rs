//! *Backup works in time*: the fault is cleared when the breaker fails, and the backup stays away
//! while it obeys.

use super::{Question, all, names, not};
use crate::monitor::{Monitor, Quiet};
use crate::report::in_ms;
use fiftytwo_scheme::{
    Atom, BackupBy, DeviceId, Expr, LogicRule, Matrix, PartKind, Scheme, TimeRange, Waits,
};

/// Least that must be left before a timer runs out: a tie counts against it, µs.
const LEAST_LEFT: i64 = 1;

pub(super) fn questions(scheme: &Scheme, matrix: &Matrix) -> Vec<Question> {
    let name = &scheme.devices[matrix.breaker].name;
    if matrix.backup_by.is_empty() {
        return vec![Question::not_asked(
            names::BACKUP,
            &format!("when {name} does not open, a backup clears the fault in time"),
            matrix.span,
            "no backup-by is written".to_owned(),
        )];
    }
    let backups = matrix.backup_by.iter();
    backups
        .flat_map(|backup| [clears(scheme, matrix, backup), stays_away(scheme, matrix, backup)])
        .collect()
}

/// With the mechanism stuck closed, the backup acts early enough.
fn clears(scheme: &Scheme, matrix: &Matrix, backup: &BackupBy) -> Question {
    let name = &scheme.devices[matrix.breaker].name;
    let Some(critical) = &backup.critical else {
        return not_asked(
            backup,
            &format!("{name} stuck closed: \"{}\" comes in time", backup.by.text),
            "no critical time is written",
        );
    };
    let left = critical.lo - backup.clears_in.hi;
    let asks = format!(
        "{name} stuck closed: \"{}\" is cleared by the backup within {}: \"{}\" within {}, its \
         breakers {} more",
        backup.when.text,
        critical.written,
        backup.by.text,
        in_ms(left),
        in_ms(backup.clears_in.hi),
    );
    let closed = Expr::Atom(Atom::Position(matrix.breaker, 1));
    let premise = all(vec![backup.when.expr.clone(), closed]);
    let what = all(vec![premise.clone(), not(backup.by.expr.clone())]);
    let held = Some(matrix.breaker);
    let monitor = Monitor::Longer { what, time: left, premise, held, quiet: Quiet::No };
    Question::built_in(names::BACKUP, asks, monitor, backup.span, &backup.by.text).covering(
        "from every state with the breaker standing closed and stuck there, while the fault stands; \
         the breakers around are taken at the time declared; a re-trip is not asked",
    )
}

/// While the breaker obeys, the timer has its margin left.
fn stays_away(scheme: &Scheme, matrix: &Matrix, backup: &BackupBy) -> Question {
    let name = &scheme.devices[matrix.breaker].name;
    let Some(timer) = &backup.timer else {
        return not_asked(
            backup,
            &format!("while {name} obeys, the backup's timer does not run out"),
            "no timer is named",
        );
    };
    let Some((runs, least)) = running(scheme, timer.which) else {
        return not_asked(
            backup,
            &format!("while {name} obeys, \"{}\" does not come", timer.text),
            "the timer has no coil in a circuit",
        );
    };
    let asks = format!(
        "while {name} obeys, more than {} is left of the {} of \"{}\"",
        in_ms(timer.margin.hi),
        in_ms(least),
        timer.text
    );
    let monitor = Monitor::Longer {
        what: runs.clone(),
        time: (least - timer.margin.hi - LEAST_LEFT).max(0),
        premise: runs,
        held: None,
        quiet: Quiet::No,
    };
    Question::built_in(names::BACKUP, asks, monitor, backup.span, &backup.by.text).covering(
        "every run in which breaker, relays and contacts keep their declared times: how long the timer \
         is driven in one go; a current that flows through an open breaker is a run too, unless the \
         condition is written to follow the breaker",
    )
}

fn not_asked(backup: &BackupBy, asks: &str, because: &str) -> Question {
    Question {
        about: backup.by.text.clone(),
        ..Question::not_asked(names::BACKUP, asks, backup.span, because.to_owned())
    }
}

/// While this stands the timer runs, and its least time, µs.
fn running(scheme: &Scheme, which: Waits) -> Option<(Expr, i64)> {
    match which {
        Waits::Timer(device) => {
            let coil = coil_of(scheme, device)?;
            Some((Expr::Atom(Atom::Driven(coil)), set_of(scheme, device)?.lo))
        }
        Waits::Logic(logic) => match &scheme.logics[logic].rule {
            LogicRule::When { when, on_delay, .. } => Some((when.expr.clone(), on_delay.lo)),
            LogicRule::Memory { .. } => None,
        },
    }
}

fn coil_of(scheme: &Scheme, device: DeviceId) -> Option<fiftytwo_scheme::PartId> {
    let parts = scheme.devices[device].parts.iter().copied();
    parts.into_iter().find(|part| {
        let part = &scheme.parts[*part];
        matches!(part.kind, PartKind::Coil(_)) && part.at.is_some()
    })
}

fn set_of(scheme: &Scheme, device: DeviceId) -> Option<&TimeRange> {
    match &scheme.devices[device].kind {
        fiftytwo_scheme::DeviceKind::Timer { set } => Some(set),
        _ => None,
    }
}
