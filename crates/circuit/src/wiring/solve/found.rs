//! The intervals found so far.

use super::{Ends, NO_CURRENT, Reach, Undeclared};
use crate::corner::{Battery, Corner, Heat, Method, Others};
use crate::wiring::Drive;
use crate::wiring::compile::{EdgeKind, Section};

/// An interval that moving resistances one by one widens by less than this part of itself is still
/// that of a named corner.
const STILL_NAMED: f64 = 1e-3;

/// One interval for each load.
pub(super) struct Found {
    intervals: Vec<Interval>,
}

/// The voltage across one load.
#[derive(Debug, Clone)]
pub(super) struct Interval {
    pub(super) lo: f64,
    pub(super) hi: f64,
    pub(super) ends_lo: Ends,
    pub(super) ends_hi: Ends,
    corner_lo: Corner,
    corner_hi: Corner,
    sign: f64,
    straight: bool,
    method: Method,
    /// Without the undeclared loads in series its ends float.
    pub(super) floats: bool,
    seen: bool,
}

impl Found {
    pub(super) fn new(section: &Section, reach: &Reach) -> Self {
        let ends = Ends { conductors: Heat::Hot, coils: Heat::Cold, undeclared: Undeclared::Open };
        let corner = Corner {
            battery: Battery::Low,
            conductors: ends.conductors,
            coils: ends.coils,
            others: Others::On,
        };
        let nothing = Interval {
            lo: 0.0,
            hi: 0.0,
            ends_lo: ends,
            ends_hi: ends,
            corner_lo: corner,
            corner_hi: corner,
            sign: 0.0,
            straight: false,
            method: Method::Corners,
            floats: false,
            seen: false,
        };
        let mut intervals = vec![nothing; section.loads.len()];
        for (edge, drive) in section.asked() {
            let (a, b) = section.ends(edge);
            intervals[drive].straight = reach.is_straight(a, b);
            if matches!(edge.kind, EdgeKind::Unknown { .. }) {
                intervals[drive].method = Method::Undeclared;
            }
        }
        Self { intervals }
    }

    pub(super) fn of(&mut self, drive: usize) -> &mut Interval {
        &mut self.intervals[drive]
    }

    /// A load without a declared resistance in series with something may take anything from none
    /// of the voltage to what stands across it when it is open.
    pub(super) fn widen_undeclared(&mut self, section: &Section, reach: &Reach, most: f64) {
        for (edge, drive) in section.asked() {
            let (a, b) = section.ends(edge);
            if matches!(edge.kind, EdgeKind::Unknown { .. }) && !reach.is_straight(a, b) {
                let interval = &mut self.intervals[drive];
                interval.lo = 0.0;
                if interval.floats && interval.hi > NO_CURRENT * section.nominal[drive] {
                    interval.hi = most;
                }
            }
        }
    }

    pub(super) fn into_drives(self, section: &Section) -> Vec<Drive> {
        let loads = section.loads.iter().zip(&section.nominal).zip(&section.needs);
        loads
            .zip(self.intervals)
            .map(|(((&part, &nominal), &needs), interval)| {
                let connected = interval.hi > NO_CURRENT * nominal;
                Drive {
                    part,
                    volts_lo: if connected { interval.lo } else { 0.0 },
                    volts_hi: if connected { interval.hi } else { 0.0 },
                    connected,
                    straight: interval.straight && connected,
                    nominal,
                    needs,
                    corner_lo: interval.corner_lo,
                    corner_hi: interval.corner_hi,
                    method: interval.method,
                }
            })
            .collect()
    }
}

impl Interval {
    pub(super) fn is_straight(&self) -> bool {
        self.straight
    }

    pub(super) fn is_declared(&self) -> bool {
        !matches!(self.method, Method::Undeclared | Method::Unsolved)
    }

    /// Only the named corners are tried.
    pub(super) fn is_sampled(&mut self) {
        if matches!(self.method, Method::Corners | Method::Widened) {
            self.method = Method::Sampled;
        }
    }

    /// Takes in the voltage at a corner.
    pub(super) fn take(&mut self, volt: f64, ends: Ends, corner: Corner) {
        let size = volt.abs();
        // A voltage that changes its direction passes through 0.
        if self.seen && self.sign * volt < 0.0 {
            self.lo = 0.0;
        }
        if volt != 0.0 {
            self.sign = volt;
        }
        let undeclared = self.seen && ends.undeclared == Undeclared::Least;
        if !self.seen || size < self.lo {
            (self.lo, self.ends_lo, self.corner_lo) = (size, ends, corner);
            self.note_undeclared(undeclared);
        }
        if !self.seen || size > self.hi {
            (self.hi, self.ends_hi, self.corner_hi) = (size, ends, corner);
            self.note_undeclared(undeclared);
        }
        self.seen = true;
    }

    /// No voltage was found at a corner: anything up to `most`, V.
    pub(super) fn may_be_anything(&mut self, most: f64, ends: Ends, corner: Corner) {
        self.take(0.0, ends, corner);
        self.take(most, ends, corner);
        self.method = Method::Unsolved;
    }

    fn note_undeclared(&mut self, undeclared: bool) {
        if undeclared {
            self.method = Method::Undeclared;
        }
    }

    /// Its least and greatest voltage as far as found, in the direction of the greatest.
    pub(super) fn signed(&self) -> (f64, f64) {
        let sign = if self.sign < 0.0 { -1.0 } else { 1.0 };
        (sign * self.lo, sign * self.hi)
    }

    /// Takes in a lower voltage, each resistance at its own end.
    pub(super) fn lower_to(&mut self, volt: f64) {
        if volt < self.lo * (1.0 - STILL_NAMED) {
            (self.corner_lo.conductors, self.corner_lo.coils) = (Heat::Each, Heat::Each);
            self.method = Method::Widened;
        }
        self.lo = self.lo.min(volt);
    }

    /// Takes in a higher voltage, each resistance at its own end.
    pub(super) fn raise_to(&mut self, volt: f64) {
        if volt > self.hi * (1.0 + STILL_NAMED) {
            (self.corner_hi.conductors, self.corner_hi.coils) = (Heat::Each, Heat::Each);
            self.method = Method::Widened;
        }
        self.hi = self.hi.max(volt);
    }
}
