//! What each part does to current: its resistance at both ends of its tolerance.
//!
//! Resistances follow `docs/circuit.md`, sections 1, 3 and 4. Where none is declared a typical one
//! stands in, and is listed.

use super::Warmth;
use crate::conductor;
use crate::corner::Heat;
use crate::curve::{Characteristic, Filament, part_curve};
use fiftytwo_scheme::{
    Ampere, Core, CurrentKind, DeviceKind, Light, Material, Ohm, Part, PartId, PartKind, Placement,
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
    pub(super) fn spreads(self) -> bool {
        self.hot > self.cold * (1.0 + 1e-9)
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
    /// A motor: running and starting.
    Motor { runs: Range, starts: Range },
    /// A part given by volts and amperes.
    Curve(Box<Curves>),
    /// Its values make no characteristic.
    Unusable,
    /// No direct current.
    Open,
}

/// The characteristic of a part at both ends of its tolerance.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Curves {
    cold: Characteristic,
    room: Characteristic,
    hot: Characteristic,
    /// The filament has not warmed up; none: it has no filament.
    inrush: Option<Characteristic>,
}

impl Curves {
    pub(super) fn spread(&self) -> bool {
        self.cold != self.hot
    }
    pub(super) fn at(&self, warmth: Warmth, filaments_cold: bool) -> &Characteristic {
        match (&self.inrush, warmth) {
            (Some(inrush), _) if filaments_cold => inrush,
            (_, Warmth::Cold) => &self.cold,
            (_, Warmth::Room) => &self.room,
            (_, Warmth::Hot) => &self.hot,
        }
    }
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
        PartKind::Input(input) if input.curve.is_some() => curves(scheme, id, nominal, assumed),
        PartKind::Input(input) => match &input.resistance {
            Some(ohm) if ohm.hi > 0.0 => Law::Load(Range::of(ohm)),
            _ => typical(
                Range::by_amps(nominal, 4e-3, 2e-3, 1e-3),
                format!("1 to 4 mA at {nominal} V, typical opto input (manuals of line relays)"),
            ),
        },
        PartKind::Lamp(lamp) if lamp.light == Light::NotSaid && lamp.curve.is_none() => {
            let rated = lamp.rated.as_ref().map_or(nominal, Quantity::middle);
            let amps = &lamp.current;
            Law::Load(Range::by_amps(rated, amps.hi, amps.middle(), amps.lo))
        }
        PartKind::Lamp(_) | PartKind::Diode(_) | PartKind::Varistor(_) => {
            curves(scheme, id, nominal, assumed)
        }
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
        PartKind::Capacitor { .. } => Law::Open,
    }
}

/// A lamp with a light of its own sort, a diode, a varistor, an input with a curve.
fn curves(scheme: &Scheme, id: PartId, nominal: f64, assumed: &mut Vec<Assumed>) -> Law {
    let of = |heat, filament| part_curve(scheme, id, nominal, heat, filament);
    let ends = (
        of(Heat::Cold, Filament::AtRest),
        of(Heat::Each, Filament::AtRest),
        of(Heat::Hot, Filament::AtRest),
    );
    let (Ok(Some(cold)), Ok(Some(room)), Ok(Some(hot))) = ends else { return Law::Unusable };
    let part = &scheme.parts[id];
    assumed.extend(room.typical.iter().map(|typical| Assumed {
        part: id,
        name: part.name.clone(),
        words: typical.to_string(),
    }));
    let filament = matches!(&part.kind, PartKind::Lamp(lamp) if lamp.light == Light::Filament);
    let inrush = match of(Heat::Cold, Filament::Cold) {
        Ok(inrush) if filament => inrush.map(|inrush| inrush.curve),
        Ok(_) => None,
        Err(_) => return Law::Unusable,
    };
    Law::Curve(Box::new(Curves { cold: cold.curve, room: room.curve, hot: hot.curve, inrush }))
}

/// The typical current of a coil at nominal voltage (from memory): greatest, middle and least, A, and
/// of what.
pub fn typical_coil(scheme: &Scheme, part: &Part) -> (f64, f64, f64, &'static str) {
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
