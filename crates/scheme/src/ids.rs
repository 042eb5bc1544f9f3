//! Typed ids of everything a scheme holds.

use crate::id_type;

id_type!(/// A place.
    PlaceId);
id_type!(/// A supply.
    SupplyId);
id_type!(/// A curve given as points.
    CurveId);
id_type!(/// A cable.
    CableId);
id_type!(/// A condition of the outside world.
    ConditionId);
id_type!(/// An order from afar.
    OrderId);
id_type!(/// A person.
    PersonId);
id_type!(/// A device.
    DeviceId);
id_type!(/// A line of logic in a programmed device.
    LogicId);
id_type!(/// A part: a coil, contact, lamp, fuse, core …, placed or spare.
    PartId);
id_type!(/// An electrical node: a point that keeps one potential whatever the contacts do.
    NodeId);
id_type!(/// A circuit: what shares fuses.
    CircuitId);
id_type!(/// A leg of a circuit.
    LegId);
