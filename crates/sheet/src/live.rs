//! A state to be shown on the sheets. **In:** wires and parts as somebody else found them. **Out:**
//! nothing but that. **Never here:** how a state comes about, volts computed, any opinion.

use fiftytwo_scheme::{NodeId, PartId, SupplyId};
use std::collections::{BTreeMap, BTreeSet};

/// Where a wire lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// At plus (above 95 % of its supply).
    Plus,
    /// At minus (below 5 % of its supply).
    Minus,
    /// Between.
    Between,
    /// No way, however weak, leads to a pole.
    Floating,
}

/// A wire now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WireNow {
    /// Where it lies.
    pub level: Level,
    /// V above the minus pole of its supply; none: it floats.
    pub volts: Option<f64>,
}

/// A part now.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PartNow {
    /// For what switches: whether it is closed.
    pub closed: Option<bool>,
    /// For what acts: whether it does (driven, lit, running).
    pub on: Option<bool>,
    /// Stands beside it instead of its rating: "118 V, 2.9 A".
    pub note: Option<String>,
    /// A, positive from its upper end to its lower as written; none: not known.
    pub amps: Option<f64>,
    /// Gets a pointer: what that means says [`Live::pointer`].
    pub pointed_at: bool,
}

/// The state of a scheme at one moment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Live {
    /// Stands over the sheet: "State at 351 ms: …".
    pub title: String,
    /// All wires that are known.
    pub wires: BTreeMap<NodeId, WireNow>,
    /// All parts that are known.
    pub parts: BTreeMap<PartId, PartNow>,
    /// Supplies that are lost: the sheets say so where they feed.
    pub lost: BTreeSet<SupplyId>,
    /// Current above which a part counts as conducting, A.
    pub conducts_from: f64,
    /// What a pointer means: "not as drawn at rest", "changed since the step before".
    pub pointer: String,
    /// Notes that stand on every sheet, such as at which battery voltage this was computed.
    pub notes: Vec<String>,
}

impl Live {
    /// The direction of the current through a part: whether it flows from its upper end to its
    /// lower. None: less than counts.
    pub fn flow(&self, part: PartId) -> Option<bool> {
        let amps = self.parts.get(&part)?.amps?;
        (amps.abs() >= self.conducts_from).then_some(amps > 0.0)
    }
    /// Levels that occur, for the legend.
    pub fn levels(&self) -> BTreeSet<Level> {
        self.wires.values().map(|wire| wire.level).collect()
    }
    /// The words behind the number of a wire: "17 V", "float".
    pub fn said(&self, node: NodeId) -> Option<String> {
        let wire = self.wires.get(&node)?;
        Some(match wire.volts {
            Some(volts) if wire.level != Level::Floating => shown_volts(volts),
            _ => "float".to_owned(),
        })
    }
}

/// Volts as they stand on a sheet: whole, below 10 V with one decimal where there is one.
pub fn shown_volts(volts: f64) -> String {
    let text = if volts.abs() < 9.95 { format!("{volts:.1}") } else { format!("{volts:.0}") };
    let text = text.strip_suffix(".0").unwrap_or(&text).to_owned();
    let text = if text == "-0" { "0".to_owned() } else { text.replace('-', "−") };
    format!("{text} V")
}
