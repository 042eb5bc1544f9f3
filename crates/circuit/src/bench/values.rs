//! What each part does to current: its resistance at both ends of its tolerance.
//!
//! Resistances follow `docs/circuit.md`, sections 1, 3 and 4. Where none is declared a typical one
//! stands in, and is listed.

use super::Warmth;
use crate::conductor;
use fiftytwo_scheme::{
    Ampere, Core, CurrentKind, DeviceKind, Lamp, Material, Ohm, Part, PartId, PartKind, Placement,
    Quantity, Scheme,
};

/// Nothing is a better conductor than this, ohm.
const LEAST: f64 = 1e-9;

/// A resistance that is not declared, and what stands in for it.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Assumed {
    /// The part.
    #[serde(skip)]
    pub part: PartId,
    /// Its name.
    pub name: String,
    /// What was taken, in words, with its mark.
    pub words: String,
}

/// A resistance, ohm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Range {
    cold: f64,
    room: f64,
    hot: f64,
}

impl Range {
    fn new(cold: f64, room: f64, hot: f64) -> Self {
        Self { cold: cold.max(LEAST), room: room.max(LEAST), hot: hot.max(LEAST) }
    }
    /// At the voltage `volt`, by its greatest, middle and least current.
    fn by_amps(volt: f64, most: f64, middle: f64, least: f64) -> Self {
        let ohm = |amps: f64| volt / amps.max(1e-9);
        Self::new(ohm(most), ohm(middle), ohm(least))
    }
    fn of(ohm: &Quantity<Ohm>) -> Self {
        Self::new(ohm.lo, ohm.middle(), ohm.hi)
    }
    pub(super) fn at(self, warmth: Warmth) -> f64 {
        match warmth {
            Warmth::Cold => self.cold,
            Warmth::Room => self.room,
            Warmth::Hot => self.hot,
        }
    }
}

/// What a part does to current.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Law {
    /// Always one wire.
    Wire,
    /// Open or closed by hand or device.
    Switch,
    /// A conductor.
    Conductor(Range),
    /// A load.
    Load(Range),
    /// A filament: its resistance when it glows and when it has not warmed up.
    Filament { hot: Range, cold: f64 },
    /// A motor: running and starting.
    Motor { runs: Range, starts: Range },
    /// Lets current down the leg.
    Diode,
    /// No direct current.
    Open,
}

/// The law of one part.
pub(super) fn law(scheme: &Scheme, id: PartId, part: &Part, assumed: &mut Vec<Assumed>) -> Law {
    let Some(at) = part.at else { return Law::Open };
    let supply = &scheme.supplies[scheme.circuits[at.circuit].supply];
    let nominal = supply.nominal.middle();
    let mut typical = |range: Range, words: String| {
        assumed.push(Assumed { part: id, name: part.name.clone(), words });
        Law::Load(range)
    };
    match &part.kind {
        PartKind::Contact(_) | PartKind::Link | PartKind::Fuse { .. } => Law::Switch,
        PartKind::Terminal | PartKind::Jumper => Law::Wire,
        PartKind::Core(core) => Law::Conductor(of_core(scheme, core)),
        PartKind::Coil(coil) => match &coil.resistance {
            Some(ohm) if ohm.hi > 0.0 => {
                let wound = supply.current == CurrentKind::Dc;
                Law::Load(of_coil(scheme, ohm, at, wound))
            }
            _ => {
                let (most, middle, least, class) = typical_coil(scheme, part);
                let range = Range::by_amps(nominal, most, middle, least);
                typical(range, format!("{least} to {most} A at {nominal} V, {class}"))
            }
        },
        PartKind::Input(input) => match &input.resistance {
            Some(ohm) if ohm.hi > 0.0 => Law::Load(Range::of(ohm)),
            _ => typical(
                Range::by_amps(nominal, 4e-3, 2e-3, 1e-3),
                format!("1 to 4 mA at {nominal} V, typical opto input (manuals of line relays)"),
            ),
        },
        PartKind::Lamp(lamp) => of_lamp(lamp, nominal),
        PartKind::Motor(motor) => {
            let amps =
                |amps: &Quantity<Ampere>| Range::by_amps(nominal, amps.hi, amps.middle(), amps.lo);
            let runs = amps(&motor.rating);
            Law::Motor { runs, starts: motor.inrush.as_ref().map_or(runs, amps) }
        }
        PartKind::Power { burden } => match burden {
            Some(watt) if watt.hi > 0.0 => {
                Law::Load(by_watts(nominal, watt.lo, watt.middle(), watt.hi))
            }
            _ => typical(
                by_watts(nominal, 5.0, 15.0, 30.0),
                "5 to 30 W, typical feed of a programmed device (from memory)".to_owned(),
            ),
        },
        PartKind::Heater { power } => {
            Law::Load(by_watts(nominal, power.lo, power.middle(), power.hi))
        }
        PartKind::Resistor { resistance, .. } if resistance.hi > 0.0 => {
            Law::Load(Range::of(resistance))
        }
        PartKind::Element { resistance: Some(ohm), .. } if ohm.hi > 0.0 => {
            Law::Conductor(Range::of(ohm))
        }
        PartKind::Resistor { .. } | PartKind::Element { .. } => Law::Wire,
        PartKind::Diode(_) => Law::Diode,
        PartKind::Capacitor { .. } | PartKind::Varistor(_) => Law::Open,
    }
}

fn of_lamp(lamp: &Lamp, nominal: f64) -> Law {
    let rated = lamp.rated.as_ref().map_or(nominal, Quantity::middle);
    let hot = Range::by_amps(rated, lamp.current.hi, lamp.current.middle(), lamp.current.lo);
    match &lamp.cold {
        Some(cold) => Law::Filament { hot, cold: cold.lo.max(LEAST) },
        None => Law::Load(hot),
    }
}

/// Greatest, middle and least current at nominal voltage, A, and the class.
fn typical_coil(scheme: &Scheme, part: &Part) -> (f64, f64, f64, &'static str) {
    let kind = part.device.map(|device| &scheme.devices[device].kind);
    match kind {
        Some(DeviceKind::Breaker { .. }) => {
            (6.0, 4.0, 2.0, "typical trip or close coil (from memory)")
        }
        Some(DeviceKind::Lockout { .. }) => {
            (10.0, 6.0, 2.0, "typical coil of a lockout (from memory)")
        }
        _ => (0.065, 0.040, 0.015, "typical auxiliary relay (from memory)"),
    }
}

fn by_watts(volt: f64, least: f64, middle: f64, most: f64) -> Range {
    let ohm = |watt: f64| volt * volt / watt.max(1e-9);
    Range::new(ohm(most), ohm(middle), ohm(least))
}

fn of_core(scheme: &Scheme, core: &Core) -> Range {
    let cable = &scheme.cables[core.cable];
    let ends = [&scheme.places[cable.from].ambient, &scheme.places[cable.to].ambient];
    let side_by_side = u32::try_from(core.cores.len().max(1)).map_or(f64::MAX, f64::from);
    let ohm = |celsius: f64, length: f64| {
        conductor::ohm_per_metre(cable.size, cable.material, celsius) * length / side_by_side
    };
    Range::new(
        ohm(ends[0].lo.min(ends[1].lo), cable.length.lo),
        ohm(20.0, cable.length.middle()),
        ohm(ends[0].hi.max(ends[1].hi), cable.length.hi),
    )
}

fn of_coil(scheme: &Scheme, ohm: &Quantity<Ohm>, at: Placement, wound: bool) -> Range {
    if !wound {
        return Range::of(ohm);
    }
    let ambient = &scheme.places[at.place].ambient;
    let given = ohm.at.unwrap_or(20.0);
    let factor = |celsius| conductor::temperature_factor(Material::Copper, given, celsius);
    Range::new(
        ohm.lo * factor(ambient.lo),
        ohm.middle() * factor(20.0),
        ohm.hi * factor(ambient.hi),
    )
}
