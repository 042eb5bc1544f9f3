//! Three-valued drive: surely, perhaps, not.
//!
//! **In:** a [`Drive`] (the interval of volts across a part) and the part's own thresholds.
//! **Out:** a [`Certainty`].
//! **Never here:** positions of devices, time, memory. A coil that neither reaches pickup nor
//! falls below dropout stays where it is; that is the caller's to keep.

use crate::wiring::Drive;
use fiftytwo_scheme::{Coil, Input};
use serde::Serialize;

/// Over all corners: surely, perhaps, or surely not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Certainty {
    /// At no corner.
    Not,
    /// At some corner, or the data do not decide.
    Perhaps,
    /// At every corner.
    Surely,
}

/// A relay without a declared dropout surely lets go below this part of its rated voltage (release
/// voltage of d.c. relays; from memory of IEC 61810-1).
pub const RELEASE_SHARE: f64 = 0.05;
/// A lamp is surely lit, a motor surely turns, from this part of the nominal voltage (common
/// practice, no source).
pub const LIT_SHARE: f64 = 0.5;
/// A lamp is surely dark, a motor surely stands, below this part of the nominal voltage (common
/// practice, no source).
pub const DARK_SHARE: f64 = 0.05;

fn between(from: bool, below: bool) -> Certainty {
    match (from, below) {
        (true, _) => Certainty::Surely,
        (false, true) => Certainty::Not,
        (false, false) => Certainty::Perhaps,
    }
}

/// Whether a coil reaches its pickup: surely from low `works` (else high `pickup`), surely not
/// below low `pickup`. A coil that declares neither is judged by its connections: surely if
/// contacts and conductors alone join it to both poles of a living supply, else perhaps. A coil
/// without current is not driven.
pub fn reaches_pickup(drive: &Drive, coil: &Coil) -> Certainty {
    if !drive.connected {
        return Certainty::Not;
    }
    coil.surely_from().map_or(between(drive.straight, false), |surely| {
        between(drive.volts_lo >= surely, drive.volts_hi < coil.surely_not_below())
    })
}

/// Whether a coil falls below its dropout: surely without current, and below low `dropout`; surely
/// not above high `dropout`. Without a declared dropout: surely below [`RELEASE_SHARE`] of `rated`
/// (else of the voltage it surely picks up from), surely not while it surely reaches pickup,
/// perhaps in between.
pub fn falls_below_dropout(drive: &Drive, coil: &Coil) -> Certainty {
    if !drive.connected {
        return Certainty::Surely;
    }
    if let Some(dropout) = &coil.dropout {
        return between(drive.volts_hi < dropout.lo, drive.volts_lo > dropout.hi);
    }
    let rated = coil.rated.as_ref().map(|rated| rated.lo).or_else(|| coil.surely_from());
    let release = rated.unwrap_or(drive.nominal) * RELEASE_SHARE;
    between(drive.volts_hi < release, reaches_pickup(drive, coil) == Certainty::Surely)
}

/// Whether an opto input is on: surely from high `on-above`, surely not below low `off-below`
/// (else low `on-above`); between the two it may be either. An input with a `least` current must
/// carry that as well. Without thresholds it is judged by its connections, as a coil is.
pub fn input_on(drive: &Drive, input: &Input) -> Certainty {
    if !drive.connected {
        return Certainty::Not;
    }
    let on = input.on_above.as_ref().or(input.off_below.as_ref()).map(|on| on.hi);
    let off = input.off_below.as_ref().or(input.on_above.as_ref()).map(|off| off.lo);
    let (never_below, surely_from) = drive.needs.unzip();
    let greater = |one: Option<f64>, other: Option<f64>| match (one, other) {
        (Some(one), Some(other)) => Some(one.max(other)),
        (one, other) => one.or(other),
    };
    greater(on, surely_from)
        .zip(greater(off, never_below))
        .map_or(between(drive.straight, false), |(on, off)| {
            between(drive.volts_lo >= on, drive.volts_hi < off)
        })
}

/// Whether a lamp is lit, a motor turns, a programmed device lives: surely from [`LIT_SHARE`] of
/// the lamp's rated voltage (else of the supply's nominal one), surely not below [`DARK_SHARE`].
pub fn lit(drive: &Drive) -> Certainty {
    if !drive.connected {
        return Certainty::Not;
    }
    between(
        drive.volts_lo >= LIT_SHARE * drive.nominal,
        drive.volts_hi < DARK_SHARE * drive.nominal,
    )
}
