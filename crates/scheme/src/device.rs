//! Devices and what they think.

use crate::ids::{DeviceId, LogicId, PartId, PlaceId};
use crate::quantity::TimeRange;
use crate::source::Span;
use crate::statement::Statement;

/// A device: one name, one place, any number of parts.
#[derive(Debug, Clone, PartialEq)]
pub struct Device {
    /// Its name, such as "52Y".
    pub name: String,
    /// What it is.
    pub description: String,
    /// Kind, with what only that kind has.
    pub kind: DeviceKind,
    /// Where it stands.
    pub place: PlaceId,
    /// IEEE C37.2 function number as data; never read from the name.
    pub function: Option<String>,
    /// Its positions in the trade's words, in order: breaker open, closed; relay dropped out,
    /// picked up; timer waiting, timed out; lockout and overload reset, operated; button
    /// released, pressed; handle and latch: as written. Sensors and programmed devices: none.
    pub positions: Vec<String>,
    /// The position drawn, and where a story begins (index into `positions`).
    pub drawn: u8,
    /// Its parts, in source order, spares included.
    pub parts: Vec<PartId>,
    /// Its lines of logic.
    pub logics: Vec<LogicId>,
    /// Handles and buttons: once turned or pressed it is not turned back before this time (its `lo`
    /// counts); at any moment if not given.
    pub stays: Option<TimeRange>,
    /// Notes for the sheet.
    pub notes: Vec<String>,
    /// Where it is written (its name).
    pub span: Span,
}

/// What only one kind of device has.
#[derive(Debug, Clone, PartialEq)]
pub enum DeviceKind {
    /// Main contacts with a trip-free mechanism.
    Breaker {
        /// From the close order to touch, `goes-after` included.
        closing_time: TimeRange,
        /// From the trip order to parting, `goes-after` included.
        opening_time: TimeRange,
        /// What a close uses up; none: a close needs only its coil.
        energy: Option<Energy>,
    },
    /// A switch turned by a person, one step at a time.
    Handle {
        /// For each position: where it springs back to when let go.
        returns_to: Vec<Option<u8>>,
    },
    /// Pressed while pressed.
    Button,
    /// Follows its coil.
    Relay,
    /// Follows its coil after a chosen delay.
    Timer {
        /// The chosen delay.
        set: TimeRange,
    },
    /// Operates and stays.
    Lockout {
        /// How it is reset.
        reset_by: ResetBy,
    },
    /// Keeps the position of its last coil or hand.
    Latch {
        /// What turns it.
        turned_by: TurnedBy,
    },
    /// Opens by current.
    Overload,
    /// Contacts that follow conditions.
    Sensor,
    /// Anything programmed.
    Ied {
        /// Who sees its inputs.
        reports_to: Option<String>,
        /// After its feed has come back its contacts are as without supply for this long. Only a
        /// device that says so is dead without its feed in runs.
        starts_in: Option<TimeRange>,
    },
}

impl DeviceKind {
    /// Whether its coils move a breaker or lock one out: made for a moment, and the first to be asked
    /// whether they may move unasked.
    pub fn is_breaker_or_lockout(&self) -> bool {
        matches!(self, Self::Breaker { .. } | Self::Lockout { .. })
    }
}

/// How a lockout is reset.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ResetBy {
    /// By a person's hand.
    Hand,
    /// By a coil of its own.
    Coil,
    /// By either.
    HandOrCoil,
}

/// What turns a latch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TurnedBy {
    /// Its coils only.
    Coil,
    /// A hand or its coils.
    HandOrCoil,
}

/// What a close uses up.
#[derive(Debug, Clone, PartialEq)]
pub struct Energy {
    /// Its name, such as "spring".
    pub name: String,
    /// How many closings a full charge holds (1 if not given).
    pub closings: u32,
    /// Time for a full charge; any time if not given.
    pub charged_in: Option<TimeRange>,
    /// The motor that charges it; none: it charges by itself.
    pub charged_by: Option<PartId>,
    /// What a full charge has to do without being recharged ("O-CO" if not given).
    pub duty: Duty,
    /// Where it is written.
    pub span: Span,
}

/// Operations one after the other, without recharging.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Duty {
    /// How many of them are closings; at most [`Duty::MOST_CLOSINGS`].
    pub closings: u8,
    /// As written: "O-CO".
    pub written: String,
}

impl Duty {
    /// More closings than these are no duty of a stored energy.
    pub const MOST_CLOSINGS: u8 = 12;
}

impl Default for Duty {
    /// Open, close, open.
    fn default() -> Self {
        Self { closings: 1, written: "O-CO".to_owned() }
    }
}

/// A line of thought in a programmed device.
#[derive(Debug, Clone, PartialEq)]
pub struct Logic {
    /// The device.
    pub device: DeviceId,
    /// Its name within the device.
    pub name: String,
    /// What it does.
    pub rule: LogicRule,
    /// Where it is written.
    pub span: Span,
}

/// When a line of logic is true.
#[derive(Debug, Clone, PartialEq)]
pub enum LogicRule {
    /// True while `when` stands, after its delays. A delay starts anew when `when` flickers.
    When {
        /// The statement.
        when: Statement,
        /// From `when` true to the line true (0 if not given).
        on_delay: TimeRange,
        /// From `when` false to the line false (0 if not given).
        off_delay: TimeRange,
    },
    /// Set and cleared; clear wins.
    Memory {
        /// Sets it.
        set: Statement,
        /// Clears it.
        clear: Statement,
    },
}
