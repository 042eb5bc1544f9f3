//! *Two supplies stay apart*, the half that is a question of every run: with either supply lost, a
//! trip that has coils on two still trips. That no path joins them is a calculation over all positions.

use super::{Question, Setting, all, names, not, told_whole, trip_limit, with_needs};
use crate::monitor::{Monitor, Quiet};
use fiftytwo_scheme::{Atom, CoilChoice, Expr, Matrix, PartId, Scheme, SupplyId, TripBy};

pub(super) fn questions(scheme: &Scheme, matrix: &Matrix) -> Vec<Question> {
    let asked: Vec<Question> = matrix
        .trip_by
        .iter()
        .flat_map(|trip| {
            let supplies = supplies_of(scheme, trip);
            let several = supplies.len() > 1;
            supplies
                .into_iter()
                .filter(move |_| several)
                .map(move |supply| still_trips(scheme, matrix, trip, supply))
        })
        .collect();
    if !asked.is_empty() {
        return asked;
    }
    vec![Question::not_asked(
        names::APART,
        &format!("with either supply lost, {} still trips", scheme.devices[matrix.breaker].name),
        matrix.span,
        "no trip of the matrix has coils on two supplies".to_owned(),
    )]
}

fn coils_of(trip: &TripBy) -> &[PartId] {
    match &trip.coils {
        CoilChoice::All(coils) | CoilChoice::Any(coils) => coils,
    }
}

fn supply_of(scheme: &Scheme, coil: PartId) -> Option<SupplyId> {
    scheme.parts[coil].at.map(|at| scheme.circuits[at.circuit].supply)
}

fn supplies_of(scheme: &Scheme, trip: &TripBy) -> Vec<SupplyId> {
    let mut found: Vec<SupplyId> =
        coils_of(trip).iter().filter_map(|coil| supply_of(scheme, *coil)).collect();
    found.sort_unstable();
    found.dedup();
    found
}

fn still_trips(scheme: &Scheme, matrix: &Matrix, trip: &TripBy, lost: SupplyId) -> Question {
    let others: Vec<PartId> = coils_of(trip)
        .iter()
        .copied()
        .filter(|coil| supply_of(scheme, *coil).is_some_and(|supply| supply != lost))
        .collect();
    let names: Vec<&str> = others.iter().map(|coil| scheme.parts[*coil].name.as_str()).collect();
    let name = &scheme.supplies[lost].name;
    let within = trip_limit(scheme, trip);
    let limit = within.map_or_else(String::new, |time| format!(" within {}", time.written));
    let closed = Expr::Atom(Atom::Position(matrix.breaker, 1));
    let dead = not(Expr::Atom(Atom::Live(lost)));
    let premise = all(vec![with_needs(&trip.by, &trip.needs), closed, dead]);
    let driven = Expr::Any(others.iter().map(|coil| Expr::Atom(Atom::Driven(*coil))).collect());
    let what = all(vec![premise.clone(), not(driven)]);
    let held = Some(matrix.breaker);
    let monitor = match within {
        Some(time) => Monitor::Longer { what, time: time.hi, premise, held, quiet: Quiet::No },
        None => Monitor::AtRest { what, premise, held },
    };
    let asks = format!("{name} lost: {} drives {}{limit}", told_whole(trip), names.join(" or "));
    Question {
        setting: Setting { fails: vec![lost], ..Setting::default() },
        ..Question::built_in(names::APART, asks, monitor, trip.span, &trip.by.text)
    }
    .covering(
        "from every state with the breaker standing closed, while the trip stands and that supply is \
         gone for at least the time; the others on. Supplies without a coil of the trip are not asked; a \
         programmed device that says no starts-in is taken as alive",
    )
}
