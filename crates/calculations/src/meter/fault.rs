//! The single faults that readings are held against.
//!
//! **In:** a scheme and a rest position. **Out:** every [`SingleFault`] that can show there.
//! **Never here:** volts.

use crate::rest::RestPosition;
use fiftytwo_circuit::bench::{Fault, Setup};
use fiftytwo_scheme::{NodeId, PartId, PartKind, Scheme, SupplyId};
use serde::Serialize;

/// The kinds of fault, the likelier first (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FaultKind {
    /// Nothing is broken.
    None,
    /// A fuse has blown or a link stands open.
    FuseOpen,
    /// A supply is lost.
    SupplyLost,
    /// A contact that should be closed is open, or a wire at it.
    ContactOpen,
    /// A core, terminal or jumper is interrupted.
    WireOpen,
    /// A coil, lamp, input, resistor … is open inside.
    LoadOpen,
    /// A wire touches ground.
    Ground,
    /// A contact that should be open is closed: welded, or bridged.
    ContactWelded,
    /// A coil, lamp, input, resistor … is shorted.
    LoadShorted,
}

/// A single fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum SingleFault {
    None,
    Open(PartId),
    Shorted(PartId),
    Ground(NodeId, f64),
    Lost(SupplyId),
}

/// Resistances of a ground that are tried, ohm.
const GROUNDS: [f64; 3] = [0.0, 5e3, 20e3];

impl SingleFault {
    pub fn kind(self, scheme: &Scheme) -> FaultKind {
        let of = |part: PartId| &scheme.parts[part].kind;
        match self {
            Self::None => FaultKind::None,
            Self::Lost(_) => FaultKind::SupplyLost,
            Self::Ground(..) => FaultKind::Ground,
            Self::Open(part) => match of(part) {
                PartKind::Fuse { .. } | PartKind::Link => FaultKind::FuseOpen,
                PartKind::Contact(_) => FaultKind::ContactOpen,
                PartKind::Core(_) | PartKind::Terminal | PartKind::Jumper => FaultKind::WireOpen,
                _ => FaultKind::LoadOpen,
            },
            Self::Shorted(part) => match of(part) {
                PartKind::Contact(_) => FaultKind::ContactWelded,
                _ => FaultKind::LoadShorted,
            },
        }
    }

    pub fn words(self, scheme: &Scheme, wire: &dyn Fn(NodeId) -> String) -> String {
        let name = |part: PartId| scheme.parts[part].name.as_str();
        match self {
            Self::None => "nothing is broken".to_owned(),
            Self::Lost(supply) => format!("{} is lost", scheme.supplies[supply].name),
            Self::Ground(node, 0.0) => format!("{} is solidly grounded", wire(node)),
            Self::Ground(node, ohm) => {
                format!("{} is grounded through about {} kohm", wire(node), ohm / 1e3)
            }
            Self::Open(part) => match self.kind(scheme) {
                FaultKind::FuseOpen => format!("{} is blown or open", name(part)),
                FaultKind::ContactOpen => {
                    format!("{} does not make, or a wire at it is off", name(part))
                }
                FaultKind::WireOpen => format!("{} is interrupted", name(part)),
                _ => format!("{} is open inside, or a wire at it is off", name(part)),
            },
            Self::Shorted(part) => match self.kind(scheme) {
                FaultKind::ContactWelded => format!("{} is closed: welded or bridged", name(part)),
                _ => format!("{} is shorted", name(part)),
            },
        }
    }

    pub fn part(self) -> Option<PartId> {
        match self {
            Self::Open(part) | Self::Shorted(part) => Some(part),
            _ => None,
        }
    }

    pub fn ground(self) -> Option<(NodeId, f64)> {
        match self {
            Self::Ground(node, ohm) => Some((node, ohm)),
            _ => None,
        }
    }

    /// The bench with this fault.
    pub fn put(self, setup: Setup) -> Setup {
        match self {
            Self::None => setup,
            Self::Open(part) => setup.with_fault(Fault::Open(part)),
            Self::Shorted(part) => setup.with_fault(Fault::Shorted(part)),
            Self::Ground(at, ohm) => setup.with_fault(Fault::Ground { at, ohm }),
            Self::Lost(supply) => setup.without(supply),
        }
    }
}

/// Every fault of what hangs together with some wires (`near`), where everything stands as in a
/// rest position.
pub(super) fn faults(
    scheme: &Scheme,
    rest: &RestPosition,
    near: &dyn Fn(NodeId) -> bool,
) -> Vec<SingleFault> {
    let mut faults = vec![SingleFault::None];
    for (id, supply) in scheme.supplies.iter() {
        if near(supply.minus) && rest.live.get(fiftytwo_scheme::arena::Id::index(id)) == Some(&true)
        {
            faults.push(SingleFault::Lost(id));
        }
    }
    for (id, part) in scheme.placed() {
        if !part.at.is_some_and(|at| near(at.from)) {
            continue;
        }
        match &part.kind {
            PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. } => {
                faults.push(if rest.is_closed(id) {
                    SingleFault::Open(id)
                } else {
                    SingleFault::Shorted(id)
                });
            }
            PartKind::Core(_) | PartKind::Terminal | PartKind::Jumper => {
                faults.push(SingleFault::Open(id));
            }
            PartKind::Capacitor { .. } | PartKind::Varistor(_) => {
                faults.push(SingleFault::Shorted(id));
            }
            _ => faults.extend([SingleFault::Open(id), SingleFault::Shorted(id)]),
        }
    }
    for node in scheme.nodes.ids().filter(|node| near(*node)) {
        faults.extend(GROUNDS.iter().map(|ohm| SingleFault::Ground(node, *ohm)));
    }
    faults
}
