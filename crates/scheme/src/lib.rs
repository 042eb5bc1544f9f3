//! From a scheme's text to a checked, immutable model.
//!
//! **In:** the text of a scheme (KDL 2 with trade words) and the files it uses.
//! **Out:** a [`Scheme`] in which every name is resolved and every element knows its
//! place in the source, or all [`Finding`]s of the text in one go.
//! **Never here:** volts, time, verdicts, drawing, printing. A checked scheme never makes an
//! engine panic: every id in it points at something.

pub mod arena;
pub mod circuits;
pub mod device;
pub mod edit;
pub mod finding;
pub mod format;
pub mod intent;
pub mod part;
pub mod quantity;
pub mod source;
pub mod statement;
#[cfg(feature = "testing")]
pub mod testing;
pub mod text;
pub mod world;

mod curve;
mod ids;
mod model;
mod reading;

pub use arena::Arena;
pub use circuits::{Chain, Circuit, DaisyChain, Leg, Node, Step, Strand};
pub use curve::{Curve, Points};
pub use device::{Device, DeviceKind, Duty, Energy, Logic, LogicRule, ResetBy, TurnedBy};
pub use finding::{Finding, Severity};
pub use format::format;
pub use ids::{
    CableId, CircuitId, ConditionId, CurveId, DeviceId, LegId, LogicId, NodeId, OrderId, PartId,
    PersonId, PlaceId, SupplyId,
};
pub use intent::{
    Act, BackupBy, BackupTimer, Claim, ClaimBody, CloseBy, CloseNeed, CoilChoice, Expect,
    ExpectBody, Matrix, Story, StoryStep, TripBy, Tune, Waits, Waiver,
};
pub use model::{Revision, Scheme};
pub use part::{
    Coil, Contact, ContactRating, Core, Diode, GoesAfter, Input, Lamp, Light, Motor, Part,
    PartKind, Placement, StrokeOffset, Varistor,
};
pub use quantity::{
    Ampere, Celsius, Farad, Joule, Metre, Ohm, Quantity, TimeRange, Volt, Watt, WireSize,
};
pub use reading::{Reading, read_path, read_text, read_text_beside, read_texts};
pub use source::{FileId, Position, SourceFile, Sources, Span};
pub use statement::{Atom, Expr, Statement};
pub use world::{
    Becomes, Cable, Condition, CurrentKind, GroundDetector, Landing, Material, May, MayDo, Moves,
    Order, Person, Place, Supply,
};
