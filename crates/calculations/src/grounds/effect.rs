//! What one part does under a ground: moves, holds, or stands a little too short for it.
//!
//! **In:** a part's volts before the ground, in its first instant and in the end. **Out:** a
//! [`Moved`], or nothing. **Never here:** networks, what follows from the move.

use super::assumed::{
    Threshold, drops_below, input_off_below, input_on_from, input_stays_from, stays_from,
    still_below,
};
use super::discharge::{Above, Discharge};
use fiftytwo_circuit::warmth::coil_warmth;
use fiftytwo_scheme::{DeviceKind, Part, PartId, PartKind, Scheme, TimeRange};
use serde::Serialize;

/// How a part moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum How {
    /// A coil that is idle may pick up.
    PicksUp,
    /// A coil that is driven may drop out.
    DropsOut,
    /// A relay that has picked up may not let go any more.
    StaysPickedUp,
    /// An input that is off may go on.
    GoesOn,
    /// An input that is on may go off.
    GoesOff,
    /// An input that was on may not go off any more.
    StaysOn,
}

/// Shorter stretches move nothing, s: an input looks for at least some tenths of a millisecond
/// (manuals of line relays: recognised within 2 ms; common practice, no source for the least).
pub const LEAST_TIME: f64 = 0.1e-3;

/// A part that a ground moves.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Moved {
    /// The part.
    #[serde(skip)]
    pub id: PartId,
    /// Its name.
    pub part: String,
    /// How it moves.
    pub how: How,
    /// Volts across it in the first instant, V.
    pub first: f64,
    /// Volts across it when the stray capacitance has settled, V.
    pub last: f64,
    /// The threshold passed, V.
    pub threshold: f64,
    /// Whether the threshold is declared.
    pub declared: bool,
    /// How long it stands beyond the threshold, s; none: for ever.
    pub lasts: Option<f64>,
    /// How long it must to move, s: the least time the part declares (0 if none).
    pub needs: f64,
    /// The coil's resistance over that at the temperature its volts are told for; the threshold is
    /// so many times the declared one.
    #[serde(skip)]
    pub warm: f64,
}

/// How warm a coil is: for what it may do with more current, and with less. As factors on its
/// resistance; 1 for an input.
#[derive(Debug, Clone, Copy)]
pub(super) struct Warm {
    /// For picking up and for staying.
    pub rises: f64,
    /// For dropping out.
    pub falls: f64,
}

impl Warm {
    /// At one end of the temperatures of its place.
    pub(super) fn at(scheme: &Scheme, id: PartId, hot: bool) -> Self {
        let (cold, warm) = coil_warmth(scheme, &scheme.parts[id]);
        let is = if hot { warm } else { cold };
        Self { rises: is, falls: is }
    }
    /// At the worse end for each.
    pub(super) fn worst(scheme: &Scheme, id: PartId) -> Self {
        let (cold, hot) = coil_warmth(scheme, &scheme.parts[id]);
        Self { rises: cold, falls: hot }
    }
}

/// The same, told apart from what stands beyond the threshold too short to move.
pub(super) enum Judged {
    Still,
    TooShort,
    Moves(Moved),
}

fn seconds(time: &TimeRange) -> f64 {
    time.lo as f64 * 1e-6
}

/// The least time a coil must be driven, s.
pub(crate) fn pickup_time(scheme: &Scheme, part: &Part) -> f64 {
    let PartKind::Coil(coil) = &part.kind else { return 0.0 };
    let own = coil.pickup_time.as_ref().map_or(0.0, seconds);
    let latch = match &coil.goes_after {
        Some(fiftytwo_scheme::GoesAfter::After(time)) => seconds(time),
        _ => 0.0,
    };
    let set = match part.device.map(|device| &scheme.devices[device].kind) {
        Some(DeviceKind::Timer { set }) => seconds(set),
        _ => 0.0,
    };
    own.max(latch) + set
}

/// Volts a coil or an input must not reach while it is idle; none for anything else.
pub(super) fn idle_threshold(part: &Part, nominal: f64, warm: Warm) -> Option<Threshold> {
    match &part.kind {
        PartKind::Coil(coil) => Some(still_below(coil, nominal).warmed(warm.rises)),
        PartKind::Input(input) => Some(input_on_from(input, nominal)),
        _ => None,
    }
}

/// Judges one coil or input.
pub(super) fn judge(
    scheme: &Scheme,
    id: PartId,
    (nominal, before): (f64, f64),
    volts: Discharge,
    warm: Warm,
) -> Judged {
    let part = &scheme.parts[id];
    let moved = |how, threshold: Threshold, above: f64, needs| {
        let falls = matches!(how, How::DropsOut | How::GoesOff);
        Judged::Moves(Moved {
            id,
            part: part.name.clone(),
            how,
            first: volts.first.abs(),
            last: volts.last.abs(),
            threshold: threshold.volts,
            declared: threshold.declared,
            lasts: above.is_finite().then_some(above),
            needs,
            warm: if falls { warm.falls } else { warm.rises },
        })
    };
    let rises = |how, threshold: Threshold, needs: f64| {
        let above = volts.above(threshold.volts).longest();
        if above >= needs.max(LEAST_TIME) {
            moved(how, threshold, above, needs)
        } else if above > 0.0 {
            Judged::TooShort
        } else {
            Judged::Still
        }
    };
    let falls = |how, threshold: Threshold, needs: f64| {
        let below = below(volts.above(threshold.volts));
        if before >= threshold.volts && below >= needs.max(LEAST_TIME) {
            moved(how, threshold, below, needs)
        } else {
            Judged::Still
        }
    };
    let held = |how, threshold: Threshold| {
        if before < threshold.volts && volts.last.abs() >= threshold.volts {
            moved(how, threshold, f64::INFINITY, 0.0)
        } else {
            Judged::Still
        }
    };
    let or = |first: Judged, then: &dyn Fn() -> Judged| match first {
        Judged::Moves(_) => first,
        other => match then() {
            Judged::Still => other,
            more => more,
        },
    };
    match &part.kind {
        PartKind::Coil(coil) => {
            let lets_go = matches!(
                part.device.map(|device| &scheme.devices[device].kind),
                Some(DeviceKind::Relay | DeviceKind::Timer { .. })
            );
            let still = still_below(coil, nominal).warmed(warm.rises);
            if before < still.volts {
                let needs = pickup_time(scheme, part);
                let picks = rises(How::PicksUp, still, needs);
                let holds =
                    || held(How::StaysPickedUp, stays_from(coil, nominal).warmed(warm.rises));
                if lets_go { or(picks, &holds) } else { picks }
            } else if lets_go {
                let needs = coil.dropout_time.as_ref().map_or(0.0, seconds);
                falls(How::DropsOut, drops_below(coil, nominal).warmed(warm.falls), needs)
            } else {
                Judged::Still
            }
        }
        PartKind::Input(input) => {
            if before < input_on_from(input, nominal).volts {
                let goes_on = rises(How::GoesOn, input_on_from(input, nominal), 0.0);
                or(goes_on, &|| held(How::StaysOn, input_stays_from(input, nominal)))
            } else {
                falls(How::GoesOff, input_off_below(input, nominal), 0.0)
            }
        }
        _ => Judged::Still,
    }
}

/// The longest stretch below a threshold, from the time above it.
fn below(above: Above) -> f64 {
    match above {
        Above::Never | Above::For(_) => f64::INFINITY,
        Above::From(seconds) => seconds,
        Above::ForAndFrom(from, until) => until - from,
    }
}
