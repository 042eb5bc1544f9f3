//! Time and current of a fuse or small breaker.
//!
//! **In:** its points: at a current the least time it melts in and the greatest it clears in.
//! **Out:** bounds on the time at any current. **Never here:** which current flows.
//!
//! Between two points straight lines are laid in the logarithms of current and time (a straight
//! line there is a power law, as on the trade's log-log paper). Below the first point nothing is
//! known but that it takes at least as long; it may never open. Beyond the last point it takes at
//! most as long; how soon it melts there is not known.

use super::gates;
use fiftytwo_circuit::series::{exp, ln};
use fiftytwo_scheme::{Curve, Points};

/// Nothing opens faster than is worth telling, s.
const SHORTEST: f64 = 1e-6;

/// What is known of a fuse's times.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct TimeCurrent {
    /// A, least time to melt (or to start opening), s.
    least: Vec<(f64, f64)>,
    /// A, greatest time to clear, s.
    greatest: Vec<(f64, f64)>,
    /// What it carries for ever, A.
    rating: f64,
    /// What it is, where it is not the scheme's own curve.
    pub(crate) typical: Option<String>,
}

impl TimeCurrent {
    /// From points given as data. None for a curve of volts and amperes.
    pub(crate) fn declared(curve: &Curve, rating: f64) -> Option<Self> {
        let Points::AmpsSeconds(points) = &curve.points else { return None };
        Some(Self {
            least: points.iter().map(|(amps, least, _)| (*amps, *least)).collect(),
            greatest: points.iter().map(|(amps, _, greatest)| (*amps, *greatest)).collect(),
            rating,
            typical: curve.typical.then(|| format!("curve {}", curve.name)),
        })
    }

    /// The gates that a general-purpose fuse of that rating must pass; none outside the table.
    pub(crate) fn general_purpose(rating: f64) -> Option<Self> {
        let (least, greatest) = gates::general_purpose(rating)?;
        let typical = format!(
            "general-purpose (gG) fuse of {} A, from the gates of IEC 60269 (from memory)",
            crate::figures::volts(rating)
        );
        Some(Self { least, greatest, rating, typical: Some(typical) })
    }

    /// It surely does not open sooner than this, s; infinite up to its rating. 0: not known.
    pub(crate) fn melts_not_before(&self, amps: f64) -> f64 {
        if amps <= self.rating {
            return f64::INFINITY;
        }
        match (self.least.first(), self.least.last()) {
            (Some(first), _) if amps <= first.0 => first.1,
            (_, Some(last)) if amps > last.0 * (1.0 + 1e-12) => 0.0,
            _ => between(&self.least, amps),
        }
    }

    /// It has surely opened by this time, s; infinite: it may never open.
    pub(crate) fn clears_within(&self, amps: f64) -> f64 {
        match (self.greatest.first(), self.greatest.last()) {
            (Some(first), _) if amps < first.0 * (1.0 - 1e-12) => f64::INFINITY,
            (_, Some(last)) if amps >= last.0 => last.1,
            (Some(_), _) => between(&self.greatest, amps),
            (None, _) => f64::INFINITY,
        }
    }

    /// The least current at which it surely opens within a time, A.
    pub(crate) fn opens_within(&self, seconds: f64) -> Option<f64> {
        let after = self.greatest.iter().position(|(_, time)| *time <= seconds)?;
        let (amps, time) = self.greatest[after];
        let Some(&(before, longer)) = after.checked_sub(1).and_then(|at| self.greatest.get(at))
        else {
            return Some(amps);
        };
        let share = ln(longer.max(SHORTEST) / seconds.max(SHORTEST))
            / ln(longer.max(SHORTEST) / time.max(SHORTEST));
        Some(before * exp(share.clamp(0.0, 1.0) * ln(amps / before)))
    }

    /// The first current at which it surely opens at all, A.
    pub(crate) fn opens_from(&self) -> Option<f64> {
        self.greatest.first().map(|point| point.0)
    }

    /// The current up to which its melting is known, A.
    pub(crate) fn known_up_to(&self) -> Option<f64> {
        self.least.last().map(|point| point.0)
    }

    /// The current up to which its clearing is known, A; at more it takes at most as long.
    pub(crate) fn opens_known_up_to(&self) -> f64 {
        self.greatest.last().map_or(0.0, |point| point.0)
    }

    /// What it carries for ever, A.
    pub(crate) fn rating(&self) -> f64 {
        self.rating
    }

    /// The currents at which its curves bend.
    pub(crate) fn bends(&self) -> impl Iterator<Item = f64> + '_ {
        self.least.iter().chain(&self.greatest).map(|point| point.0)
    }
}

/// On straight lines in log and log.
fn between(points: &[(f64, f64)], amps: f64) -> f64 {
    let pair = points.windows(2).find(|pair| amps <= pair[1].0);
    let Some([(a, at_a), (b, at_b)]) = pair else {
        return points.last().map_or(f64::INFINITY, |point| point.1);
    };
    if amps <= *a {
        return *at_a;
    }
    let share = ln(amps / a) / ln(b / a);
    let (from, to) = (at_a.max(SHORTEST), at_b.max(SHORTEST));
    from * exp(share * ln(to / from))
}
