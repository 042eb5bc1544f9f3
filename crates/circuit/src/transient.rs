//! The current of one coil in time, in closed form.
//!
//! **In:** the coil's resistance and inductance; what it is joined to from one instant to the next:
//! a source behind a resistance ([`Feed`]), or, let go, the part beside it that takes its current
//! over ([`Clamp`]: diode, varistor, resistor, any rising characteristic).
//! **Out:** the current and the volts at any instant, and when it reaches a current ([`Course`]).
//! **Never here:** which contact moves when; pickup and dropout; arcs; a coil whose inductance
//! changes as its armature moves; coils that lean on each other (for each, take the others as
//! resistances in its [`Feed`]: right at rest, an approximation while they change).
//!
//! Between two changes the current of a coil behind resistances is
//! `end + (start - end) exp(-t / tau)` with `tau = L / (R + r)` (any textbook on time constants).
//! A bent characteristic is straight piece by piece, and each piece has its own end and tau, so
//! nothing is stepped and nothing but rounding is lost.

use crate::curve::Characteristic;
use crate::network::{Branch, Network, NetworkError, resistance_between};
use crate::series::{exp, ln};
use std::fmt;

/// A coil: a resistance and an inductance in series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coil {
    /// Resistance, ohm, above 0.
    pub ohm: f64,
    /// Inductance, H, above 0.
    pub henry: f64,
}

impl Coil {
    /// A coil by its time constant L / R, s.
    pub fn with_time_constant(ohm: f64, seconds: f64) -> Self {
        Self { ohm, henry: ohm * seconds }
    }
}

/// What feeds a coil: an equivalent source, its coil taken out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Feed {
    /// Volts at the coil's ends without the coil.
    pub volt: f64,
    /// Resistance seen from the coil's ends, ohm, 0 or more.
    pub ohm: f64,
}

impl Feed {
    /// What a coil sees at two nodes of a network from which the coil itself is left out: the
    /// equivalent source. None: no way joins the two ends, the coil is cut off.
    ///
    /// # Errors
    /// [`TransientError::Bent`] for a branch that is not linear, [`TransientError::Network`] if
    /// the network has no answer.
    pub fn seen(network: &Network, a: usize, b: usize) -> Result<Option<Self>, TransientError> {
        let (mut nodes, mut passive) = (a.max(b) + 1, Vec::new());
        for (branch, what) in network.branches().iter().enumerate() {
            let (from, to, ohm) = match *what {
                Branch::Resistor { a, b, ohm } => (a, b, ohm),
                Branch::Switch { a, b, closed: true } => (a, b, 0.0),
                Branch::Source { plus, minus, ohm, .. } => (plus, minus, ohm),
                Branch::Switch { .. } | Branch::Current { .. } => continue,
                _ => return Err(TransientError::Bent { branch }),
            };
            nodes = nodes.max(from + 1).max(to + 1);
            passive.push((from, to, ohm));
        }
        let mut dead = Network::new(nodes);
        passive.iter().for_each(|&(from, to, ohm)| _ = dead.resistor(from, to, ohm));
        let failed = TransientError::Network;
        let Some(ohm) = resistance_between(&dead, a, b).map_err(failed)? else { return Ok(None) };
        let volt = network.solve().map_err(failed)?.voltage(a, b).unwrap_or(0.0);
        Ok(Some(Self { volt, ohm }))
    }
}

/// A part beside a coil that takes its current over when the coil is let go: the volts across it by
/// the current through it, in straight pieces from (0 A, the volts at which it begins to conduct).
#[derive(Debug, Clone, PartialEq)]
pub struct Clamp {
    /// Rising: A, V; the last piece goes on.
    points: Vec<(f64, f64)>,
    either_way: bool,
}

impl Clamp {
    /// A diode with a forward drop, V, and the resistance in its way, ohm.
    pub fn diode(drop: f64, ohm: f64) -> Self {
        Self { points: vec![(0.0, drop), (1.0, drop + ohm)], either_way: false }
    }
    /// A varistor, or two Zener diodes back to back: a voltage whatever the current.
    pub fn varistor(volt: f64) -> Self {
        Self { points: vec![(0.0, volt), (1.0, volt)], either_way: true }
    }
    /// A resistor across the coil.
    pub fn resistor(ohm: f64) -> Self {
        Self { points: vec![(0.0, 0.0), (1.0, ohm)], either_way: true }
    }
    /// Any rising characteristic through these points (A, V); the first stands at 0 A, the last
    /// piece goes on. `either_way`: the same for a current the other way; else that is blocked.
    ///
    /// # Errors
    /// [`TransientError::Points`]: fewer than two, not rising, or not from 0 A and 0 V or more.
    pub fn curve(points: Vec<(f64, f64)>, either_way: bool) -> Result<Self, TransientError> {
        let starts = points.first().is_some_and(|&(amp, volt)| amp == 0.0 && volt >= 0.0);
        let rises = points.windows(2).all(|pair| pair[0].0 < pair[1].0 && pair[0].1 <= pair[1].1);
        let finite = points.iter().all(|&(amp, volt)| amp.is_finite() && volt.is_finite());
        if points.len() < 2 || !starts || !rises || !finite {
            return Err(TransientError::Points);
        }
        Ok(Self { points, either_way })
    }
    /// A part's characteristic above 0 V; either way if it is the same below.
    ///
    /// # Errors
    /// [`TransientError::Points`]: its current does not grow with its voltage at the end, so that
    /// no voltage takes over a greater one.
    pub fn of(part: &Characteristic) -> Result<Self, TransientError> {
        let mut points: Vec<(f64, f64)> = Vec::new();
        for &(volt, amp) in part.points().iter().filter(|(volt, _)| *volt >= 0.0) {
            match points.last_mut() {
                // The greatest voltage without more current is where the next one begins.
                Some(last) if last.0 >= amp => last.1 = volt,
                _ => points.push((amp, volt)),
            }
        }
        let (&(amp, volt), &slope) =
            points.last().zip(part.slopes().last()).ok_or(TransientError::Points)?;
        points.push((amp + 1.0, volt + slope.recip()));
        Self::curve(points, *part == part.both_ways())
    }
    /// A junction `v = nvt ln(1 + i / saturation) + ohm i` up to a current (A), in straight pieces
    /// between currents that grow by a fifth from a millionth of it: nowhere off by more than
    /// `nvt (ln 1.2)^2 / 8`, 0.4 % of `nvt`, but for currents below the first point.
    ///
    /// # Errors
    /// [`TransientError::Points`]: a value is not above 0 (the resistance: below 0).
    pub fn junction(
        saturation: f64,
        nvt: f64,
        ohm: f64,
        up_to: f64,
    ) -> Result<Self, TransientError> {
        const GROWS: f64 = 1.2;
        const LEAST: f64 = 1e-6;
        let sound = [saturation, nvt, up_to].iter().all(|value| value.is_finite() && *value > 0.0);
        if !(sound && ohm.is_finite() && ohm >= 0.0) {
            return Err(TransientError::Points);
        }
        let mut points = vec![(0.0, 0.0)];
        let mut amp = up_to * LEAST;
        while amp < up_to * GROWS {
            points.push((amp, nvt * ln(1.0 + amp / saturation) + ohm * amp));
            amp *= GROWS;
        }
        Self::curve(points, false)
    }
}

/// What a coil is joined to.
#[derive(Debug, Clone, PartialEq)]
pub enum Joined {
    /// A source.
    Fed(Feed),
    /// Only the part beside it.
    LetGo(Clamp),
}

/// Why there is no course. Branches are named by their number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TransientError {
    /// A resistance or inductance of the coil is not above 0, a value of its feed is unusable, or
    /// the instants do not rise.
    Invalid,
    /// The points of a characteristic are unusable.
    Points,
    /// The part beside the coil blocks the current that runs in it: it would arc.
    Blocked {
        /// At this instant, s.
        at: f64,
    },
    /// A branch of the network is not linear.
    Bent {
        /// The branch.
        branch: usize,
    },
    /// The network has no answer.
    Network(NetworkError),
}

impl fmt::Display for TransientError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Invalid => {
                write!(f, "the values of the coil, its feed or the instants are unusable")
            }
            Self::Points => write!(f, "the points of a characteristic are unusable"),
            Self::Blocked { at } => {
                write!(f, "the part beside the coil blocks its current at {at} s")
            }
            Self::Bent { branch } => write!(f, "branch {branch} is not linear"),
            Self::Network(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for TransientError {}

/// One piece of a course: `end + (start - end) exp(-(t - from) / tau)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// From this instant, s.
    pub from: f64,
    /// Current then, A.
    pub start: f64,
    /// Current that it goes to, A (the next piece may come before).
    pub end: f64,
    /// Time constant, s.
    pub tau: f64,
}

impl Piece {
    fn at(&self, t: f64) -> f64 {
        self.end + (self.start - self.end) * exp(-(t - self.from) / self.tau)
    }
    /// When it reaches a current, s; none: it never does.
    pub fn reaches(&self, ampere: f64) -> Option<f64> {
        let ratio = (self.start - self.end) / (ampere - self.end);
        (ratio >= 1.0 && ratio.is_finite()).then(|| self.from + self.tau * ln(ratio))
    }
}

/// The current of a coil from its first instant on.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    coil: Coil,
    pieces: Vec<Piece>,
}

impl Course {
    /// The course of a coil that carries `start` amperes at the first instant and is joined to
    /// something new at each instant (s, rising).
    ///
    /// # Errors
    /// [`TransientError::Invalid`], [`TransientError::Blocked`].
    pub fn new(coil: Coil, start: f64, changes: &[(f64, Joined)]) -> Result<Self, TransientError> {
        let is_positive = |value: f64| value > 0.0 && value.is_finite();
        let rising = changes.windows(2).all(|pair| pair[0].0 <= pair[1].0);
        let finite = start.is_finite() && changes.iter().all(|(at, _)| at.is_finite());
        if !is_positive(coil.ohm) || !is_positive(coil.henry) || !rising || !finite {
            return Err(TransientError::Invalid);
        }
        let mut course = Self { coil, pieces: Vec::new() };
        let mut now = start;
        for (index, (at, joined)) in changes.iter().enumerate() {
            let until = changes.get(index + 1).map_or(f64::INFINITY, |next| next.0);
            match joined {
                Joined::Fed(feed) => {
                    if !(feed.volt.is_finite() && feed.ohm.is_finite() && feed.ohm >= 0.0) {
                        return Err(TransientError::Invalid);
                    }
                    course.push(*at, now, feed.volt, feed.ohm);
                }
                Joined::LetGo(clamp) => course.let_go(*at, now, clamp, until)?,
            }
            now = course.current(until);
        }
        Ok(course)
    }

    fn push(&mut self, from: f64, start: f64, volt: f64, ohm: f64) -> Piece {
        let total = self.coil.ohm + ohm;
        let piece = Piece { from, start, end: volt / total, tau: self.coil.henry / total };
        self.pieces.push(piece);
        piece
    }

    /// Down the pieces of a characteristic until the current is gone.
    fn let_go(
        &mut self,
        at: f64,
        start: f64,
        clamp: &Clamp,
        until: f64,
    ) -> Result<(), TransientError> {
        if start < 0.0 && !clamp.either_way {
            return Err(TransientError::Blocked { at });
        }
        let sign = if start < 0.0 { -1.0 } else { 1.0 };
        let (mut from, mut now) = (at, start.abs());
        for pair in clamp.points.windows(2).rev() {
            let ((low, volt), (high, above)) = (pair[0], pair[1]);
            if now <= low || from >= until {
                continue;
            }
            // The piece as a source against the current, behind a resistance.
            let ohm = (above - volt) / (high - low);
            let against = volt - ohm * low;
            let piece = self.push(from, sign * now, -sign * against, ohm);
            match piece.reaches(sign * low) {
                Some(then) => (from, now) = (then, low),
                None => return Ok(()),
            }
        }
        if now <= 0.0 && from < until {
            self.push(from, 0.0, 0.0, 0.0);
        }
        Ok(())
    }

    fn piece(&self, t: f64) -> Option<&Piece> {
        let after = self.pieces.partition_point(|piece| piece.from <= t);
        self.pieces.get(after.saturating_sub(1))
    }

    /// The current at an instant, A (before the first: as at the first; 0 without changes).
    pub fn current(&self, t: f64) -> f64 {
        self.piece(t).map_or(0.0, |piece| piece.at(t.max(piece.from)))
    }

    /// The volts across the coil, resistance and inductance, at an instant; just after it where
    /// something changes.
    pub fn volts(&self, t: f64) -> f64 {
        self.piece(t).map_or(0.0, |piece| {
            let ampere = piece.at(t.max(piece.from));
            self.coil.ohm * ampere + self.coil.henry * (piece.end - ampere) / piece.tau
        })
    }

    /// The first instant from `after` on at which the current is `ampere`, s; none: never.
    pub fn reaches(&self, ampere: f64, after: f64) -> Option<f64> {
        self.pieces.iter().enumerate().find_map(|(index, piece)| {
            let until = self.pieces.get(index + 1).map_or(f64::INFINITY, |next| next.from);
            let from = piece.from.max(after);
            if from > until {
                return None;
            }
            let rest = Piece { from, start: piece.at(from), ..*piece };
            let then = if rest.start == ampere { Some(from) } else { rest.reaches(ampere) };
            then.filter(|&then| then <= until)
        })
    }

    /// Its pieces in order of time.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }
}
