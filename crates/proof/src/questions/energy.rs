//! *Stored energy*: the duty without recharging, and no half move when it is spent.

use super::{Alone, Question, Setting, all, close_coils, names, union, with_needs};
use crate::monitor::Monitor;
use fiftytwo_scheme::{
    Atom, CloseBy, DeviceId, DeviceKind, Energy, Expr, Matrix, PartId, PartKind, Scheme, SupplyId,
};

pub(super) fn questions(scheme: &Scheme, matrix: &Matrix) -> Vec<Question> {
    let breaker = &scheme.devices[matrix.breaker];
    let DeviceKind::Breaker { energy: Some(energy), .. } = &breaker.kind else {
        return vec![Question::not_asked(
            names::ENERGY,
            &format!("{} does its duty without recharging", breaker.name),
            matrix.span,
            "no energy is declared that a close uses up".to_owned(),
        )];
    };
    let coils = close_coils(scheme, matrix);
    if coils.is_empty() || matrix.close_by.is_empty() {
        return Vec::new();
    }
    let setting = Setting {
        fails: source_of(scheme, matrix.breaker, energy).into_iter().collect(),
        unrecharged: Some(matrix.breaker),
        ..Setting::default()
    };
    let sources = matrix.close_by.iter();
    let mut asked: Vec<Question> =
        sources.map(|source| duty(scheme, matrix, energy, source, &setting)).collect();
    let spent = refuses(scheme, matrix, energy, coils);
    asked.push(Question { setting, ..spent });
    if energy.charged_by.is_some() {
        asked.push(Question::not_asked(
            names::ENERGY,
            &format!("the {} of {} is recharged after each use", energy.name, breaker.name),
            matrix.span,
            "no question asks that its motor starts; write a claim: if=\"not charged\" then=\"... \
             running\""
                .to_owned(),
        ));
    }
    asked
}

/// Fresh orders of one source, at rest, close the breaker as often as the duty has closings.
fn duty(
    scheme: &Scheme,
    matrix: &Matrix,
    energy: &Energy,
    source: &CloseBy,
    setting: &Setting,
) -> Question {
    let name = &scheme.devices[matrix.breaker].name;
    let common = matrix.close_needs.iter().map(|need| need.need.expr.clone());
    let needs = common.map(|need| charged(need, matrix.breaker)).collect();
    let monitor = Monitor::FailsDuty {
        breaker: matrix.breaker,
        orders: charged(with_needs(&source.by, &source.needs), matrix.breaker),
        union: union(scheme, matrix),
        needs,
        closings: energy.duty.closings,
    };
    let by = match matrix.close_by.len() {
        1 => String::new(),
        _ => format!(", closed by \"{}\"", source.by.text),
    };
    let asks =
        format!("{name} does {} without recharging its {}{by}", energy.duty.written, energy.name);
    let others = matrix.close_by.iter().filter(|other| other.span != source.span);
    let alone = Alone {
        source: source.by.expr.clone(),
        trips: matrix.trip_by.iter().map(|trip| trip.by.expr.clone()).collect(),
        others: others.map(|other| other.by.expr.clone()).collect(),
    };
    let setting = Setting { alone: Some(alone), ..setting.clone() };
    let question = Question::built_in(names::ENERGY, asks, monitor, matrix.span, name).covering(
        "a full charge at the start and none after it, the supply of the recharging lost and back at \
         any time: each fresh order of this source at rest with its needs met, nothing tripping, closes \
         an open breaker until the closings of the duty are done; openings use none. It is opened by the \
         first trip of the matrix, and by the first that this source waits for; the other sources, and \
         the conditions and orders they read, stand still. Leaks, and the energy that one operation \
         takes, are the maker's word",
    );
    Question { setting, ..question }
}

/// Once it is spent no source drives the close coil: nothing is half-moved, nothing burns.
fn refuses(scheme: &Scheme, matrix: &Matrix, energy: &Energy, coils: Vec<PartId>) -> Question {
    let name = &scheme.devices[matrix.breaker].name;
    let asks = format!(
        "{} spent and not recharged, no source drives the close coil of {name}",
        energy.name
    );
    let needs = matrix.close_needs.iter().map(|need| &need.need).find(|need| {
        let mut speaks = false;
        need.expr.atoms(&mut |atom| speaks |= atom == Atom::Charged(matrix.breaker));
        speaks
    });
    let Some(needs) = needs else {
        return Question::not_asked(
            names::ENERGY,
            &asks,
            matrix.span,
            format!(
                "no close-needs says \"{name} {} charged\": a mechanism that is driven without \
                 energy is taken to stand still, which is its maker's word",
                energy.name
            ),
        );
    };
    let need = Expr::Atom(Atom::Charged(matrix.breaker));
    let monitor = Monitor::DrivenWithout { coils, need, at_rest: true };
    Question::built_in(names::ENERGY, asks, monitor, needs.span, name).covering(
        "every source, declared or not, from the first rest with the energy spent; the mechanism \
         itself without energy is taken to stand still",
    )
}

/// A statement in which this breaker counts as charged.
fn charged(expr: Expr, breaker: DeviceId) -> Expr {
    let inside = |items: Vec<Expr>| items.into_iter().map(|it| charged(it, breaker)).collect();
    match expr {
        Expr::Atom(Atom::Charged(device)) if device == breaker => all(Vec::new()),
        Expr::Atom(atom) => Expr::Atom(atom),
        Expr::Not(inner) => Expr::Not(Box::new(charged(*inner, breaker))),
        Expr::All(items) => Expr::All(inside(items)),
        Expr::Any(items) => Expr::Any(inside(items)),
    }
}

/// The supply of the recharging motor, unless the breaker's own coils hang on it too.
fn source_of(scheme: &Scheme, breaker: DeviceId, energy: &Energy) -> Option<SupplyId> {
    let of = |part: PartId| scheme.parts[part].at.map(|at| scheme.circuits[at.circuit].supply);
    let supply = of(energy.charged_by?)?;
    let coils = scheme.devices[breaker].parts.iter().copied();
    let shared = coils
        .filter(|part| matches!(scheme.parts[*part].kind, PartKind::Coil(_)))
        .any(|part| of(part) == Some(supply));
    (!shared).then_some(supply)
}
