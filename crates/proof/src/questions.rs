//! The claims a scheme makes by its matrix, as questions to search.
//!
//! Each built-in claim reads the matrix; the designer's own claims are put beside them.

mod backup;
mod energy;
mod supplies;

use crate::monitor::{Aim, MOST_COUNTED, Monitor, Quiet};
use fiftytwo_scheme::{
    Atom, Claim, ClaimBody, CloseBy, CoilChoice, DeviceId, DeviceKind, Expr, Matrix, PartId,
    PartKind, Scheme, Span, Statement, TimeRange, TripBy,
};
use fiftytwo_scheme::{CurrentKind, SupplyId};

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
    /// Asked across the loss and return of this supply, beside the claim itself.
    pub across: Option<SupplyId>,
    /// What must be seen to happen besides the claim's own premise, so that it is not empty.
    pub shows: Vec<(String, Expr)>,
    /// What else is so while it is asked.
    pub setting: Setting,
}

/// What is so while a question is asked, beside what every verdict assumes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Setting {
    /// These supplies may be lost and come back at any time.
    pub fails: Vec<SupplyId>,
    /// The stored energy of this breaker is full at the start and never recharged.
    pub unrecharged: Option<DeviceId>,
    /// One source is asked for itself, while what others read stands still.
    pub alone: Option<Alone>,
    /// What has to come of a premise: if it never comes in any run the claim is empty.
    pub reaches: Option<(String, Expr)>,
}

/// One closing source, opened by few trips; conditions, orders and logic that only others read stand
/// still.
#[derive(Debug, Clone, PartialEq)]
pub struct Alone {
    /// The source.
    pub source: Expr,
    /// The trips in their order: the first may come, and the first that the source waits for.
    pub trips: Vec<Expr>,
    /// The other sources.
    pub others: Vec<Expr>,
}

impl Question {
    /// A question of a built-in claim.
    fn built_in(claim: &str, asks: String, monitor: Monitor, at: Span, about: &str) -> Self {
        Self {
            claim: claim.to_owned(),
            asks,
            monitor: Some(monitor),
            at,
            about: about.to_owned(),
            covers: "",
            not_asked: None,
            loose: false,
            own: false,
            across: None,
            setting: Setting::default(),
            shows: Vec::new(),
        }
    }
    /// Whether a breaker left alone closes a second time: asked for others, told nowhere.
    pub(crate) fn closes_alone(breaker: DeviceId, by_hand: Expr, at: Span) -> Self {
        let claim = "closes alone";
        Self::built_in(
            claim,
            claim.to_owned(),
            Monitor::ClosesAlone { breaker, by_hand },
            at,
            claim,
        )
    }
    fn covering(self, covers: &'static str) -> Self {
        Self { covers, ..self }
    }
    /// What is not asked, and why.
    fn not_asked(claim: &str, asks: &str, at: Span, because: String) -> Self {
        let nothing = Monitor::Holds { what: Expr::Any(Vec::new()) };
        Self {
            monitor: None,
            not_asked: Some(because),
            ..Self::built_in(claim, asks.to_owned(), nothing, at, claim)
        }
    }
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
    /// Lamps and inputs say what is so.
    pub const HONEST: &str = "monitors are honest";
    /// Nothing is left driven for ever that must not be.
    pub const HANGS: &str = "nothing hangs";
    /// No trip coil is driven without a trip.
    pub const UNASKED: &str = "no trip unasked";
    /// Nothing closes after a lockout until a person resets it.
    pub const LOCKED_OUT: &str = "locked out stays out";
    /// The duty is done without recharging, then nothing half-moves.
    pub const ENERGY: &str = "stored energy";
    /// The backup clears a fault in time, and does not act while the breaker obeys.
    pub const BACKUP: &str = "backup works in time";
    /// No path joins two supplies; with either lost the breaker still trips.
    pub const APART: &str = "two supplies stay apart";
    /// No contact breaks what it is not made for.
    pub const BREAKS: &str = "nothing breaks what it can't";
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
        unasked(scheme, matrix, &mut all);
        all.extend(energy::questions(scheme, matrix));
        all.extend(backup::questions(scheme, matrix));
        all.extend(supplies::questions(scheme, matrix));
    }
    let across = across_losses(scheme, &all);
    all.extend(across);
    honest(scheme, &mut all);
    left_driven(scheme, &mut all);
    all.extend(comes_to_rest(scheme));
    for claim in &scheme.claims {
        let too_short = own_is_too_short(scheme, claim);
        let monitor = own_claim(claim).filter(|_| too_short.is_none());
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
        let during = claim.during.as_ref().map(|during| format!(" during {}", during.text));
        let asks = asks + &during.unwrap_or_default();
        all.push(Question {
            claim: claim.name.clone(),
            asks,
            monitor: monitor.clone(),
            at: claim.span,
            about: claim.name.clone(),
            covers: match &claim.body {
                ClaimBody::IfThen { within: Some(_), .. } => {
                    "the designer's own words, while the premise stands: one that ends sooner asks nothing"
                }
                ClaimBody::IfThen { within: None, .. } => {
                    "the designer's own words, at rest while the premise stands"
                }
                _ => "the designer's own words, in every state",
            },
            not_asked: too_short.clone().or_else(|| {
                monitor.is_none().then(|| "more times than can be counted".to_owned())
            }),
            loose: too_short.is_some(),
            own: true,
            across: None,
            setting: Setting { reaches: own_reaches(claim), ..Setting::default() },
            shows: own_shows(claim),
        });
    }
    all
}

/// What a claim of the designer's own is empty without: each part of what must never come together,
/// what may not last.
fn own_shows(claim: &Claim) -> Vec<(String, Expr)> {
    let (text, breaks, lasts) = match &claim.body {
        ClaimBody::Never { what, longer_than } => {
            (&what.text, plain(&what.expr, true), longer_than.is_some())
        }
        ClaimBody::Always(what) => (&what.text, plain(&what.expr, false), false),
        _ => return Vec::new(),
    };
    let during = claim.during.as_ref().map(|during| (during.text.clone(), during.expr.clone()));
    let mut parts: Vec<(String, Expr)> = during.into_iter().collect();
    let mut seen = Vec::new();
    let ways = match &breaks {
        Expr::Any(ways) => ways.iter().collect(),
        one => vec![one],
    };
    for way in ways {
        match way {
            Expr::All(items) => seen.extend(items.iter().cloned()),
            only if lasts => seen.push(only.clone()),
            _ => {}
        }
    }
    match seen.as_slice() {
        [only] if lasts => parts.push((text.clone(), only.clone())),
        some => {
            let part = |(index, item): (usize, &Expr)| {
                (format!("part {} of \"{text}\"", index + 1), item.clone())
            };
            parts.extend(some.iter().enumerate().map(part));
        }
    }
    parts
}

/// A statement, or its contrary, with every "not" at an atom and what is side by side in one list.
fn plain(expr: &Expr, so: bool) -> Expr {
    let inside = |items: &[Expr], alike: fn(Expr) -> Result<Vec<Expr>, Expr>| -> Vec<Expr> {
        let each = items.iter().map(|item| alike(plain(item, so)));
        each.flat_map(|item| item.unwrap_or_else(|other| vec![other])).collect()
    };
    let all_of = |expr: Expr| match expr {
        Expr::All(items) => Ok(items),
        other => Err(other),
    };
    let any_of = |expr: Expr| match expr {
        Expr::Any(items) => Ok(items),
        other => Err(other),
    };
    match (expr, so) {
        (Expr::Not(inner), _) => plain(inner, !so),
        (Expr::All(items), true) | (Expr::Any(items), false) => Expr::All(inside(items, all_of)),
        (Expr::Any(items), true) | (Expr::All(items), false) => Expr::Any(inside(items, any_of)),
        (Expr::Atom(_), true) => expr.clone(),
        (Expr::Atom(_), false) => not(expr.clone()),
    }
}

fn own_reaches(claim: &Claim) -> Option<(String, Expr)> {
    match &claim.body {
        ClaimBody::IfThen { then, .. } => Some((then.text.clone(), then.expr.clone())),
        _ => None,
    }
}

/// Why a premise can't stand as long as its claim waits: a part of it is an order that ends sooner.
fn too_short(scheme: &Scheme, premise: &Expr, time: i64) -> Option<String> {
    let parts = match premise {
        Expr::All(items) => items.as_slice(),
        one => std::slice::from_ref(one),
    };
    parts.iter().find_map(|part| match part {
        Expr::All(_) => too_short(scheme, part, time),
        Expr::Atom(Atom::Order(order)) => {
            let order = &scheme.orders[*order];
            let lasts = order.lasts.as_ref().filter(|lasts| lasts.hi <= time)?;
            Some(format!(
                "\"{}\" lasts {}: it is over before {} have passed, so nothing is asked; write a \
                 shorter time",
                order.name,
                lasts.written,
                crate::report::in_ms(time)
            ))
        }
        _ => None,
    })
}

fn own_is_too_short(scheme: &Scheme, claim: &Claim) -> Option<String> {
    match &claim.body {
        ClaimBody::IfThen { premise, within: Some(time), .. } => {
            too_short(scheme, &premise.expr, time.hi)
        }
        _ => None,
    }
}

/// Whether a statement reads orders that end by themselves, and nothing else.
fn ends_by_itself(scheme: &Scheme, expr: &Expr) -> bool {
    let (mut some, mut only) = (false, true);
    expr.atoms(&mut |atom| match atom {
        Atom::Order(order) if scheme.orders[order].lasts.is_some() => some = true,
        _ => only = false,
    });
    some && only
}

/// What breaks a claim of the designer's own.
fn own_claim(claim: &Claim) -> Option<Monitor> {
    let always = || Expr::All(Vec::new());
    let during = |what: Expr| match &claim.during {
        Some(during) => all(vec![during.expr.clone(), what]),
        None => what,
    };
    Some(match &claim.body {
        ClaimBody::Never { what, longer_than: None } => {
            Monitor::Holds { what: during(what.expr.clone()) }
        }
        ClaimBody::Never { what, longer_than: Some(time) } => Monitor::Longer {
            what: during(what.expr.clone()),
            time: time.hi,
            premise: always(),
            held: None,
            quiet: Quiet::No,
        },
        ClaimBody::Always(what) => Monitor::Holds { what: during(not(what.expr.clone())) },
        ClaimBody::IfThen { premise, then, within } => {
            let what = all(vec![during(premise.expr.clone()), not(then.expr.clone())]);
            let premise = during(premise.expr.clone());
            match within {
                Some(time) => {
                    Monitor::Longer { what, time: time.hi, premise, held: None, quiet: Quiet::No }
                }
                None => Monitor::AtRest { what, premise, held: None },
            }
        }
        ClaimBody::AtMost { times, of } => Monitor::MoreThan {
            times: u8::try_from(*times).ok().filter(|times| *times <= MOST_COUNTED)?,
            of: of.expr.clone(),
            during: claim.during.as_ref().map(|during| during.expr.clone()),
        },
    })
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

/// A trip as a question names it: with what it needs, since it is asked only while that is so.
fn told_whole(trip: &TripBy) -> String {
    let needs: Vec<String> = trip.needs.iter().map(|need| format!("\"{}\"", need.text)).collect();
    let with = match needs.len() {
        0 => String::new(),
        1 => " with its need ".to_owned(),
        _ => " with its needs ".to_owned(),
    };
    format!("\"{}\"{with}{}", trip.by.text, needs.join(" and "))
}

/// All sources of closing, each at the hand: a need that is the position of a handle (a selector)
/// ends the order when it is turned away; contacts, relays and conditions don't.
fn union(scheme: &Scheme, matrix: &Matrix) -> Expr {
    let order = |source: &CloseBy| {
        let mut all_of = vec![at_the_hand(&source.by.expr, matrix.breaker)];
        let by_hand = source.needs.iter().filter(|need| is_by_hand(scheme, &need.expr));
        all_of.extend(by_hand.map(|need| need.expr.clone()));
        all(all_of)
    };
    Expr::Any(matrix.close_by.iter().map(order).collect())
}

/// A source without what it says of the breaker itself: an order does not end because the breaker obeys it.
fn at_the_hand(source: &Expr, breaker: DeviceId) -> Expr {
    let Expr::All(items) = source else { return source.clone() };
    let of_itself = |item: &&Expr| {
        let (mut any, mut only) = (false, true);
        item.atoms(&mut |atom| {
            any = true;
            only &= matches!(atom, Atom::Position(device, _) if device == breaker);
        });
        any && only
    };
    let kept: Vec<Expr> = items.iter().filter(|item| !of_itself(item)).cloned().collect();
    if kept.is_empty() { source.clone() } else { all(kept) }
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
        if let Some(time) = &need.longer_than {
            let driven = coils.iter().map(|coil| Expr::Atom(Atom::Driven(*coil))).collect();
            questions.push(Question {
                claim: names::PERMISSIVES.to_owned(),
                asks: format!(
                    "without \"{}\" no source drives the close coil of {breaker} for longer than {}",
                    need.need.text, time.written
                ),
                monitor: Some(Monitor::Longer {
                    what: all(vec![not(need.need.expr.clone()), Expr::Any(driven)]),
                    time: time.hi,
                    premise: not(need.need.expr.clone()),
                    held: None,
                    quiet: Quiet::No,
                }),
                at: need.need.span,
                about: need.need.text.clone(),
                covers: "every source, declared or not, in every state, but for the time allowed",
                not_asked: None,
                loose: false,
                own: false,
                across: None,
                setting: Setting::default(),
                shows: Vec::new(),
            });
            continue;
        }
        let at_rest = is_outside(&need.need.expr);
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
            across: None,
            setting: Setting::default(),
            shows: Vec::new(),
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
                across: None,
                setting: Setting::default(),
                shows: Vec::new(),
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
                needs: needs.clone(),
                aim: Aim::Close,
                only_first: false,
            }),
            at: source.span,
            about: source.by.text.clone(),
            covers: "a fresh order given at rest to an open, charged breaker, while it and all \
                     needs stand: the main contacts touch",
            not_asked: None,
            loose: false,
            own: false,
            across: None,
            setting: Setting::default(),
            shows: Vec::new(),
        });
        if ends_by_itself(scheme, &source.by.expr) {
            let monitor = Monitor::RefusesOrder {
                breaker: matrix.breaker,
                source: with_needs(&source.by, &source.needs),
                union: union(scheme, matrix),
                needs,
                aim: Aim::CloseAllTheSame,
                only_first: false,
            };
            let asks = format!(
                "all needs met and nothing tripping, \"{}\" closes {breaker} even if the order ends \
                 meanwhile",
                source.by.text
            );
            let about = &source.by.text;
            let question =
                Question::built_in(names::PERMISSIVES, asks, monitor, source.span, about);
            questions.push(question.covering(
                "a fresh order given at rest to an open, charged breaker, lasting its declared time, \
                 while all needs stand: the main contacts touch",
            ));
        }
    }
    questions.extend(needs_across_losses(scheme, matrix));
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
        across: None,
        setting: Setting::default(),
        shows: Vec::new(),
    });
}

fn trip_free(scheme: &Scheme, matrix: &Matrix, questions: &mut Vec<Question>) {
    let breaker = &scheme.devices[matrix.breaker].name;
    for trip in &matrix.trip_by {
        questions.push(Question {
            claim: names::TRIP_FREE.to_owned(),
            asks: format!("while {} stands, {breaker} comes to rest open", told_whole(trip)),
            monitor: Some(Monitor::StaysClosed {
                breaker: matrix.breaker,
                trip: with_needs(&trip.by, &trip.needs),
            }),
            at: trip.span,
            about: trip.by.text.clone(),
            covers: "a trip that stands, at rest; not a short pulse, not the time it takes. Where devices need not \
                     rest it fails if they go round without end or the breaker closes twice under the trip \
                     though nobody moves, and is not proven else",
            not_asked: None,
            loose: false,
            own: false,
            across: None,
            setting: Setting::default(),
            shows: Vec::new(),
        });
        if ends_by_itself(scheme, &trip.by.expr) {
            let source = with_needs(&trip.by, &trip.needs);
            let monitor = Monitor::RefusesOrder {
                breaker: matrix.breaker,
                union: source.clone(),
                source,
                needs: trip.needs.iter().map(|need| need.expr.clone()).collect(),
                aim: Aim::OpenAllTheSame,
                only_first: false,
            };
            let asks =
                format!("{} opens {breaker} even if the order ends meanwhile", told_whole(trip));
            let question =
                Question::built_in(names::TRIP_FREE, asks, monitor, trip.span, &trip.by.text);
            questions.push(question.covering(
                "an order given at rest with the breaker closed, lasting its declared time, while its \
                 needs stand: the main contacts part",
            ));
        }
    }
}

/// Each trip drives its coils, each asked with the mechanism held closed: else the quicker coil
/// would hide that the other one is dead.
fn every_trip(scheme: &Scheme, matrix: &Matrix, questions: &mut Vec<Question>) {
    for trip in &matrix.trip_by {
        let (asked, joint): (Vec<Vec<PartId>>, &str) = match &trip.coils {
            CoilChoice::All(coils) => (coils.iter().map(|coil| vec![*coil]).collect(), " and "),
            CoilChoice::Any(coils) => (vec![coils.clone()], " or "),
        };
        let within = trip_limit(scheme, trip);
        for coils in asked {
            let names: Vec<&str> =
                coils.iter().map(|coil| scheme.parts[*coil].name.as_str()).collect();
            let placed: Vec<PartId> =
                coils.iter().copied().filter(|coil| scheme.parts[*coil].at.is_some()).collect();
            let driven =
                Expr::Any(placed.iter().map(|coil| Expr::Atom(Atom::Driven(*coil))).collect());
            let closed = Expr::Atom(Atom::Position(matrix.breaker, 1));
            let premise = all(vec![with_needs(&trip.by, &trip.needs), closed]);
            let what = all(vec![premise.clone(), not(driven)]);
            let held = Some(matrix.breaker);
            let monitor = match within {
                Some(time) => {
                    Monitor::Longer { what, time: time.hi, premise, held, quiet: Quiet::No }
                }
                None => Monitor::AtRest { what, premise, held },
            };
            let too_short = within.and_then(|time| too_short(scheme, &trip.by.expr, time.hi));
            let limit = within.map_or_else(
                || " in the end".to_owned(),
                |time| format!(" within {}", time.written),
            );
            let loose = placed.is_empty();
            questions.push(Question {
                claim: names::EVERY_TRIP.to_owned(),
                asks: format!("{} drives {}{limit}", told_whole(trip), names.join(joint)),
                monitor: (!loose && too_short.is_none()).then_some(monitor),
                at: trip.span,
                about: trip.by.text.clone(),
                covers: "from every state with the breaker standing closed, however it came to, while \
                         the trip stands: the coil is surely driven, with the mechanism kept from \
                         opening meanwhile so that no other coil hides it; not a shorter trip, not the \
                         opening itself",
                loose: loose || too_short.is_some(),
                not_asked: loose
                    .then(|| format!("{} stands in no circuit, so nothing drives it", names.join(joint)))
                    .or(too_short),
                own: false,
                across: None,
                setting: Setting::default(),
                shows: Vec::new(),
            });
        }
    }
}

/// How fast a trip drives its coils.
fn trip_limit<'s>(scheme: &'s Scheme, trip: &'s TripBy) -> Option<&'s TimeRange> {
    let tuned = scheme.tunes.iter().find(|tune| tune.claim == names::EVERY_TRIP);
    tuned.and_then(|tune| tune.within.as_ref()).or(trip.within.as_ref())
}

/// No trip coil is driven unless some source of the matrix has asked.
fn unasked(scheme: &Scheme, matrix: &Matrix, questions: &mut Vec<Question>) {
    let asked =
        Expr::Any(matrix.trip_by.iter().map(|trip| with_needs(&trip.by, &trip.needs)).collect());
    for &coil in &scheme.devices[matrix.breaker].parts {
        let part = &scheme.parts[coil];
        let PartKind::Coil(opens) = &part.kind else { continue };
        if opens.drives_to != 0 || part.at.is_none() || matrix.trip_by.is_empty() {
            continue;
        }
        questions.push(Question {
            claim: names::UNASKED.to_owned(),
            asks: format!("no trip of the matrix: {} is not driven", part.name),
            monitor: Some(Monitor::Unasked { coils: vec![coil], asked: asked.clone() }),
            at: matrix.span,
            about: part.name.clone(),
            covers: "from every start until some source of the matrix first asks; no part faulty",
            not_asked: None,
            loose: false,
            own: false,
            across: None,
            setting: Setting::default(),
            shows: vec![("some trip of the matrix".to_owned(), asked.clone())],
        });
    }
}

/// The claims that a lost supply may break, asked again with each DC supply of a coil lost and back at
/// any time.
fn across_losses(scheme: &Scheme, asked: &[Question]) -> Vec<Question> {
    let supplies = dc_supplies(scheme);
    let matters = |question: &&Question| {
        [names::NO_PUMPING, names::LOCKED_OUT, names::UNASKED].contains(&question.claim.as_str())
    };
    asked
        .iter()
        .filter(matters)
        .flat_map(|question| {
            supplies.iter().map(move |supply| Question {
                asks: format!(
                    "{}, across loss and return of {}",
                    question.asks, scheme.supplies[*supply].name
                ),
                covers: "the supply gone and back at any time, even for an instant; the others on",
                across: Some(*supply),
                ..question.clone()
            })
        })
        .collect()
}

/// Each DC supply with a coil on it.
fn dc_supplies(scheme: &Scheme) -> Vec<SupplyId> {
    let mut supplies: Vec<SupplyId> = Vec::new();
    for (_, part, _) in scheme.coils() {
        let Some(at) = part.at else { continue };
        let supply = scheme.circuits[at.circuit].supply;
        let is_dc = scheme.supplies[supply].current == CurrentKind::Dc;
        if is_dc && !supplies.contains(&supply) {
            supplies.push(supply);
        }
    }
    supplies
}

/// That the needs are not asked across the loss of a supply.
fn needs_across_losses(scheme: &Scheme, matrix: &Matrix) -> Option<Question> {
    let supplies = dc_supplies(scheme);
    if supplies.is_empty() || matrix.close_needs.is_empty() {
        return None;
    }
    let names: Vec<&str> =
        supplies.iter().map(|supply| scheme.supplies[*supply].name.as_str()).collect();
    let asks = format!("the needs across loss and return of {}", names.join(" or "));
    let because = "a lost supply is not searched for this claim; look by hand at each relay that has \
                   to be energised to block";
    Some(Question::not_asked(names::PERMISSIVES, &asks, matrix.span, because.to_owned()))
}

/// What a lamp or an input says is so, and it says all that is so.
fn honest(scheme: &Scheme, questions: &mut Vec<Question>) {
    for (id, part) in scheme.placed() {
        let Some(shows) = &part.shows else { continue };
        let lit = match part.kind {
            PartKind::Lamp(_) => Expr::Atom(Atom::Lit(id)),
            PartKind::Input(_) => Expr::Atom(Atom::InputOn(id)),
            _ => continue,
        };
        let dark = all(vec![shows.expr.clone(), not(lit.clone())]);
        let false_light = all(vec![not(shows.expr.clone()), lit]);
        questions.push(Question {
            claim: names::HONEST.to_owned(),
            asks: format!("at rest {} says \"{}\", no more and no less", part.name, shows.text),
            monitor: Some(Monitor::AtRest {
                what: Expr::Any(vec![dark, false_light]),
                premise: Expr::All(Vec::new()),
                held: None,
            }),
            at: shows.span,
            about: part.name.clone(),
            covers: "at rest, no part faulty, supplies on; not the moments while something moves",
            not_asked: None,
            loose: false,
            own: false,
            across: None,
            setting: Setting::default(),
            shows: vec![
                (format!("\"{}\"", shows.text), shows.expr.clone()),
                (format!("not \"{}\"", shows.text), not(shows.expr.clone())),
            ],
        });
    }
}

/// No relay buzzes.
fn comes_to_rest(scheme: &Scheme) -> Option<Question> {
    let matrix = scheme.matrices.first().map(|matrix| matrix.span);
    let at = matrix.or_else(|| scheme.claims.first().map(|claim| claim.span))?;
    let asks = "left alone, relays, latches and logic come to rest: none buzzes".to_owned();
    Some(
        Question::built_in(names::HANGS, asks, Monitor::ComesToRest, at, names::HANGS).covering(
            "what acts on itself, with everything else standing still in any combination of its \
             positions; moves that surely come. A coil that is only perhaps driven may flutter; a breaker \
             that goes on closing and opening is asked under no pumping. A latch keeps its position \
             without supply, and one on its way goes through",
        ),
    )
}

/// No coil for a moment's duty stays driven.
fn left_driven(scheme: &Scheme, questions: &mut Vec<Question>) {
    for (id, part, coil) in scheme.coils() {
        let Some(most) = coil.max_on.as_ref().filter(|_| part.at.is_some()) else { continue };
        let driven = Expr::Atom(Atom::Driven(id));
        questions.push(Question {
            claim: names::HANGS.to_owned(),
            asks: format!(
                "{} is not left driven, however long an order stands (it may be on for {})",
                part.name, most.written
            ),
            monitor: Some(Monitor::Longer {
                what: driven.clone(),
                time: most.hi,
                premise: driven,
                held: None,
                quiet: Quiet::Yes,
            }),
            at: part.span,
            about: part.name.clone(),
            covers: "at rest, or while nothing moves but what may take longer than that time (a charging, \
                     a timer); hands and orders standing as long as they like; not how long the coil is \
                     on before its own contact cuts it off",
            not_asked: None,
            loose: false,
            own: false,
            across: None,
            setting: Setting::default(),
            shows: Vec::new(),
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
            across: None,
            setting: Setting::default(),
            shows: Vec::new(),
        });
    }
}
