//! The claims a scheme makes by its matrix, as questions to search.
//!
//! Each built-in claim reads the matrix; the designer's own claims are put beside them.

use crate::monitor::Monitor;
use fiftytwo_scheme::{
    Atom, ClaimBody, CloseBy, CoilChoice, DeviceId, DeviceKind, Expr, Matrix, PartId, PartKind,
    Scheme, Span, Statement,
};

/// One question.
#[derive(Debug, Clone)]
pub struct Question {
    /// The claim it belongs to, such as "no pumping".
    pub claim: String,
    /// What exactly is asked.
    pub asks: String,
    /// What breaks it; none: this form is not searched.
    pub monitor: Option<Monitor>,
    /// Where the intent is written.
    pub at: Span,
    /// The device or part a waiver may name.
    pub about: String,
    /// What the verdict covers and what not.
    pub covers: &'static str,
    /// Why it is not searched, or can't be so.
    pub not_asked: Option<String>,
    /// It speaks of a coil that stands in no circuit.
    pub loose: bool,
    /// The designer's own claim.
    pub own: bool,
}

/// Name of a built-in claim.
pub mod names {
    /// Each need alone stops every source; all met, each source closes.
    pub const PERMISSIVES: &str = "permissives";
    /// One order, at most one closing.
    pub const NO_PUMPING: &str = "no pumping";
    /// A standing trip ends with the breaker open.
    pub const TRIP_FREE: &str = "trip-free";
    /// Each trip drives its coils in time.
    pub const EVERY_TRIP: &str = "every trip trips";
    /// Nothing closes after a lockout until a person resets it.
    pub const LOCKED_OUT: &str = "locked out stays out";
}

/// All questions of a scheme, in the order they are reported.
pub fn questions(scheme: &Scheme) -> Vec<Question> {
    let mut all = Vec::new();
    for matrix in &scheme.matrices {
        permissives(scheme, matrix, &mut all);
        no_pumping(scheme, matrix, &mut all);
        trip_free(scheme, matrix, &mut all);
        every_trip(scheme, matrix, &mut all);
        locked_out(scheme, matrix, &mut all);
    }
    for claim in &scheme.claims {
        let monitor = match (&claim.body, &claim.during) {
            (ClaimBody::Never { what, longer_than: None }, None) => {
                Some(Monitor::Holds { what: what.expr.clone() })
            }
            (ClaimBody::Always(what), None) => {
                Some(Monitor::Holds { what: Expr::Not(Box::new(what.expr.clone())) })
            }
            _ => None,
        };
        let asks = match &claim.body {
            ClaimBody::Never { what, longer_than: None } => format!("never: {}", what.text),
            ClaimBody::Never { what, longer_than: Some(time) } => {
                format!("never: {} longer than {}", what.text, time.written)
            }
            ClaimBody::Always(what) => format!("always: {}", what.text),
            ClaimBody::IfThen { premise, then, within } => {
                let within = within.as_ref().map(|time| format!(" within {}", time.written));
                format!("if {} then {}{}", premise.text, then.text, within.unwrap_or_default())
            }
            ClaimBody::AtMost { times, of } => format!("at most {times} × {}", of.text),
        };
        all.push(Question {
            claim: claim.name.clone(),
            asks,
            monitor,
            at: claim.span,
            about: claim.name.clone(),
            covers: "the designer's own words, in every state",
            not_asked: Some("claims of this form are not searched yet".to_owned()),
            loose: false,
            own: true,
        });
    }
    all
}

fn close_coils(scheme: &Scheme, matrix: &Matrix) -> Vec<PartId> {
    let parts = &scheme.devices[matrix.breaker].parts;
    parts
        .iter()
        .copied()
        .filter(|part| match &scheme.parts[*part].kind {
            PartKind::Coil(coil) => coil.drives_to == 1 && scheme.parts[*part].at.is_some(),
            _ => false,
        })
        .collect()
}

fn all(mut items: Vec<Expr>) -> Expr {
    match items.pop() {
        Some(only) if items.is_empty() => only,
        Some(last) => {
            items.push(last);
            Expr::All(items)
        }
        None => Expr::All(items),
    }
}

fn not(expr: Expr) -> Expr {
    Expr::Not(Box::new(expr))
}

fn with_needs(by: &Statement, needs: &[Statement]) -> Expr {
    all(std::iter::once(by).chain(needs).map(|statement| statement.expr.clone()).collect())
}

/// All sources of closing, each at the hand: a need that is the position of a handle (a selector)
/// ends the order when it is turned away; contacts, relays and conditions don't.
fn union(scheme: &Scheme, matrix: &Matrix) -> Expr {
    let order = |source: &CloseBy| {
        let by_hand: Vec<Statement> =
            source.needs.iter().filter(|need| is_by_hand(scheme, &need.expr)).cloned().collect();
        with_needs(&source.by, &by_hand)
    };
    Expr::Any(matrix.close_by.iter().map(order).collect())
}

fn is_by_hand(scheme: &Scheme, expr: &Expr) -> bool {
    let mut by_hand = true;
    expr.atoms(&mut |atom| {
        by_hand &= matches!(atom, Atom::Position(device, _)
            if matches!(scheme.devices[device].kind, DeviceKind::Handle { .. } | DeviceKind::Button));
    });
    by_hand
}

/// Whether a need speaks of the outside, which no contact can follow at once.
fn is_outside(expr: &Expr) -> bool {
    let mut outside = false;
    expr.atoms(&mut |atom| {
        outside |= matches!(atom, Atom::Condition(..) | Atom::Order(_) | Atom::Live(_));
    });
    outside
}

fn permissives(scheme: &Scheme, matrix: &Matrix, questions: &mut Vec<Question>) {
    let breaker = &scheme.devices[matrix.breaker].name;
    let coils = close_coils(scheme, matrix);
    if coils.is_empty() || matrix.close_by.is_empty() {
        return;
    }
    for need in &matrix.close_needs {
        let at_rest = is_outside(&need.need.expr) || need.longer_than.is_some();
        let when =
            if at_rest { "once devices have come to rest without it" } else { "in every state" };
        questions.push(Question {
            claim: names::PERMISSIVES.to_owned(),
            asks: format!(
                "without \"{}\" no source drives the close coil of {breaker} ({when})",
                need.need.text
            ),
            monitor: Some(Monitor::DrivenWithout {
                coils: coils.clone(),
                need: need.need.expr.clone(),
                at_rest,
            }),
            at: need.need.span,
            about: need.need.text.clone(),
            covers: if at_rest {
                "every source, declared or not, from the first rest without it; while relays are \
                 still on their way the coil may be driven for their time"
            } else {
                "every source, declared or not, in every state"
            },
            not_asked: None,
            loose: false,
            own: false,
        });
    }
    for (index, source) in matrix.close_by.iter().enumerate() {
        for need in &source.needs {
            let others = matrix.close_by.iter().enumerate().filter(|(other, _)| *other != index);
            let mut ways = vec![not(source.by.expr.clone()), need.expr.clone()];
            ways.extend(others.map(|(_, other)| with_needs(&other.by, &other.needs)));
            let at_rest = is_outside(&need.expr);
            questions.push(Question {
                claim: names::PERMISSIVES.to_owned(),
                asks: format!(
                    "\"{}\" alone does not close {breaker} without \"{}\"",
                    source.by.text, need.text
                ),
                monitor: Some(Monitor::DrivenWithout {
                    coils: coils.clone(),
                    need: Expr::Any(ways),
                    at_rest,
                }),
                at: need.span,
                about: need.text.clone(),
                covers: "this source while no other source stands with its own needs",
                not_asked: None,
                loose: false,
                own: false,
            });
        }
        let mut needs: Vec<Expr> =
            matrix.close_needs.iter().map(|need| need.need.expr.clone()).collect();
        needs.extend(source.needs.iter().map(|need| need.expr.clone()));
        questions.push(Question {
            claim: names::PERMISSIVES.to_owned(),
            asks: format!(
                "all needs met and nothing tripping, \"{}\" closes {breaker}",
                source.by.text
            ),
            monitor: Some(Monitor::RefusesOrder {
                breaker: matrix.breaker,
                source: with_needs(&source.by, &source.needs),
                union: union(scheme, matrix),
                needs,
            }),
            at: source.span,
            about: source.by.text.clone(),
            covers: "a fresh order given at rest to an open, charged breaker, while it and all \
                     needs stand",
            not_asked: None,
            loose: false,
            own: false,
        });
    }
}

fn no_pumping(scheme: &Scheme, matrix: &Matrix, questions: &mut Vec<Question>) {
    if matrix.close_by.is_empty() || close_coils(scheme, matrix).is_empty() {
        return;
    }
    let breaker = &scheme.devices[matrix.breaker].name;
    questions.push(Question {
        claim: names::NO_PUMPING.to_owned(),
        asks: format!("one order, however long, closes {breaker} at most once"),
        monitor: Some(Monitor::ClosesTwice { breaker: matrix.breaker, union: union(scheme, matrix) }),
        at: matrix.span,
        about: breaker.clone(),
        covers: "an order counted at the hand, over all sources of the matrix; only turning a \
                 selector away ends it sooner; a closing counts from the release of its latch. Not across a loss of supply",
        not_asked: None,
        loose: false,
        own: false,
    });
}

fn trip_free(scheme: &Scheme, matrix: &Matrix, questions: &mut Vec<Question>) {
    let breaker = &scheme.devices[matrix.breaker].name;
    for trip in &matrix.trip_by {
        questions.push(Question {
            claim: names::TRIP_FREE.to_owned(),
            asks: format!("while \"{}\" stands, {breaker} comes to rest open", trip.by.text),
            monitor: Some(Monitor::StaysClosed {
                breaker: matrix.breaker,
                trip: with_needs(&trip.by, &trip.needs),
            }),
            at: trip.span,
            about: trip.by.text.clone(),
            covers: "a trip that stands, at rest; not a short pulse, not the time it takes, and \
                     nothing where the devices never rest",
            not_asked: None,
            loose: false,
            own: false,
        });
    }
}

/// Which coils a trip drives, and how fast, is not searched yet: it is listed, not dropped.
fn every_trip(scheme: &Scheme, matrix: &Matrix, questions: &mut Vec<Question>) {
    for trip in &matrix.trip_by {
        let (coils, joint) = match &trip.coils {
            CoilChoice::All(coils) => (coils, " and "),
            CoilChoice::Any(coils) => (coils, " or "),
        };
        let names: Vec<&str> = coils.iter().map(|coil| scheme.parts[*coil].name.as_str()).collect();
        let within = trip.within.as_ref().map(|time| format!(" within {}", time.written));
        let loose: Vec<&str> = coils
            .iter()
            .filter(|coil| scheme.parts[**coil].at.is_none())
            .map(|coil| scheme.parts[*coil].name.as_str())
            .collect();
        let not_asked = if loose.is_empty() {
            "which coils a trip drives, and how fast, is not searched yet".to_owned()
        } else {
            format!("{} stands in no circuit, so nothing drives it", loose.join(" and "))
        };
        questions.push(Question {
            claim: names::EVERY_TRIP.to_owned(),
            asks: format!(
                "\"{}\" drives {}{}",
                trip.by.text,
                names.join(joint),
                within.unwrap_or_default()
            ),
            monitor: None,
            at: trip.span,
            about: trip.by.text.clone(),
            covers: "nothing yet",
            not_asked: Some(not_asked),
            loose: !loose.is_empty(),
            own: false,
        });
    }
}

fn locked_out(scheme: &Scheme, matrix: &Matrix, questions: &mut Vec<Question>) {
    let breaker = &scheme.devices[matrix.breaker].name;
    if close_coils(scheme, matrix).is_empty() {
        return;
    }
    let mut lockouts: Vec<(DeviceId, Span)> = Vec::new();
    let common = matrix.close_needs.iter().map(|need| &need.need);
    for need in common.chain(matrix.close_by.iter().flat_map(|source| &source.needs)) {
        need.expr.atoms(&mut |atom| {
            if let Atom::Position(device, _) = atom
                && matches!(scheme.devices[device].kind, DeviceKind::Lockout { .. })
                && !lockouts.iter().any(|(known, _)| *known == device)
            {
                lockouts.push((device, need.span));
            }
        });
    }
    for (device, at) in lockouts {
        let name = &scheme.devices[device].name;
        questions.push(Question {
            claim: names::LOCKED_OUT.to_owned(),
            asks: format!(
                "after {name} has operated, nothing closes {breaker} until a person resets it"
            ),
            monitor: Some(Monitor::ClosesLockedOut {
                breaker: matrix.breaker,
                lockout: device,
                locked: Expr::Atom(Atom::Position(device, 1)),
            }),
            at,
            about: name.clone(),
            covers: "every closing that begins after the lockout has operated, until a person resets it; \
                     a reset by a coil is none",
            not_asked: None,
            loose: false,
            own: false,
        });
    }
}
