//! The characteristic of a scheme's part.

use super::{Characteristic, Conducts, CurveFault, STEEPEST};
use crate::corner::Heat;
use crate::typical::{
    COLD_FILAMENT, DIODE_DROP, DIODE_DROP_MIDDLE, FILAMENT_EXPONENT, LED_DROP, Typical,
};
use fiftytwo_scheme::{
    CurveId, Diode, Lamp, Light, PartId, PartKind, Points, Quantity, Scheme, Varistor,
};

/// How hot filaments are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, serde::Serialize)]
pub enum Filament {
    /// As hot as the current keeps them: lamps that have been lit, or are just dark.
    #[default]
    AtRest,
    /// Cold: the inrush of the first milliseconds, a resistance.
    Cold,
}

/// The characteristic of a part, with what of it is typical and not declared.
#[derive(Debug, Clone, PartialEq)]
pub struct PartCurve {
    /// Volts from its upper end to its lower, amperes down the leg.
    pub curve: Characteristic,
    /// Typical values it was made with.
    pub typical: Vec<Typical>,
}

/// The characteristic of a lamp, diode, varistor or opto input; none for other parts, and for an
/// input without resistance or curve. `nominal` is the nominal voltage of its supply, V; `heat` the
/// end of its tolerance: cold conducts most, hot least (the middle of a typical range has no end of
/// its own). Lamps, inputs and varistors conduct in the same manner either way (the worse for a
/// sneak path: nothing in a scheme says that a lamp has a polarity), diodes down the leg only.
///
/// # Errors
/// Points or values of the part that make no characteristic.
pub fn part_curve(
    scheme: &Scheme,
    part: PartId,
    nominal: f64,
    heat: Heat,
    filament: Filament,
) -> Result<Option<PartCurve>, CurveFault> {
    let end = End { scheme, heat };
    match &scheme.parts[part].kind {
        PartKind::Lamp(lamp) => end.lamp(lamp, nominal, filament).map(Some),
        PartKind::Diode(diode) => end.diode(diode).map(Some),
        PartKind::Varistor(varistor) => end.varistor(varistor).map(Some),
        PartKind::Input(input) => match (input.curve, &input.resistance) {
            (Some(curve), _) => end.points(curve, Conducts::BothWays).map(Some),
            (None, Some(ohm)) if ohm.lo > 0.0 => {
                let curve = Characteristic::resistance(end.most_when_low(ohm));
                Ok(Some(PartCurve { curve, typical: Vec::new() }))
            }
            _ => Ok(None),
        },
        _ => Ok(None),
    }
}

/// One end of a part's tolerance.
struct End<'s> {
    scheme: &'s Scheme,
    heat: Heat,
}

impl End<'_> {
    /// Of a value that lets more current through when it is low.
    fn most_when_low<U>(&self, value: &Quantity<U>) -> f64 {
        if self.heat == Heat::Cold { value.lo } else { value.hi }
    }

    fn most_when_high<U>(&self, value: &Quantity<U>) -> f64 {
        if self.heat == Heat::Cold { value.hi } else { value.lo }
    }

    fn points(&self, curve: CurveId, way: Conducts) -> Result<PartCurve, CurveFault> {
        let Points::VoltsAmps(points) = &self.scheme.curves[curve].points else {
            return Err(CurveFault::Empty);
        };
        Ok(PartCurve { curve: Characteristic::through(points, way)?, typical: Vec::new() })
    }

    fn diode(&self, diode: &Diode) -> Result<PartCurve, CurveFault> {
        if let Some(curve) = diode.curve {
            return self.points(curve, Conducts::OneWay);
        }
        let (drop, typical) = match (&diode.drop, self.heat) {
            (Some(drop), _) => (self.most_when_low(drop), Vec::new()),
            (None, Heat::Cold) => (DIODE_DROP.lo, vec![DIODE_DROP]),
            (None, Heat::Hot) => (DIODE_DROP.hi, vec![DIODE_DROP]),
            (None, Heat::Each) => (DIODE_DROP_MIDDLE, vec![DIODE_DROP]),
        };
        Ok(PartCurve { curve: Characteristic::drop(drop, STEEPEST.recip()), typical })
    }

    fn varistor(&self, varistor: &Varistor) -> Result<PartCurve, CurveFault> {
        if let Some(curve) = varistor.curve {
            return self.points(curve, Conducts::BothWays);
        }
        let clamp = self.most_when_low(&varistor.clamp);
        Ok(PartCurve { curve: Characteristic::clamp(clamp, STEEPEST.recip()), typical: Vec::new() })
    }

    fn lamp(&self, lamp: &Lamp, nominal: f64, filament: Filament) -> Result<PartCurve, CurveFault> {
        if let Some(curve) = lamp.curve
            && !(lamp.light == Light::Filament && filament == Filament::Cold)
        {
            return self.points(curve, Conducts::BothWays);
        }
        let rated = lamp.rated.as_ref().map_or(nominal, Quantity::middle);
        let ampere = self.most_when_high(&lamp.current);
        if !(rated > 0.0 && ampere > 0.0) {
            return Err(CurveFault::Empty);
        }
        match lamp.light {
            Light::NotSaid => Ok(PartCurve {
                curve: Characteristic::resistance(rated / ampere),
                typical: Vec::new(),
            }),
            Light::Led => self.led(lamp, rated, ampere),
            Light::Filament => {
                let hot = rated / ampere;
                let (cold, mut typical) = match &lamp.cold {
                    Some(cold) if cold.lo > 0.0 => (self.most_when_low(cold), Vec::new()),
                    _ => (hot * COLD_FILAMENT.lo, vec![COLD_FILAMENT]),
                };
                let curve = if filament == Filament::Cold {
                    Characteristic::resistance(cold.min(hot))
                } else {
                    typical.push(FILAMENT_EXPONENT);
                    Characteristic::filament(rated, ampere, cold)?
                };
                Ok(PartCurve { curve, typical })
            }
        }
    }

    fn led(&self, lamp: &Lamp, rated: f64, ampere: f64) -> Result<PartCurve, CurveFault> {
        let (drop, typical) = match (&lamp.drop, self.heat) {
            (Some(drop), _) => (self.most_when_low(drop), Vec::new()),
            (None, Heat::Cold) => (LED_DROP.lo, vec![LED_DROP]),
            (None, Heat::Hot) => (LED_DROP.hi, vec![LED_DROP]),
            (None, Heat::Each) => (LED_DROP.middle(), vec![LED_DROP]),
        };
        let curve = Characteristic::through(&[(drop, 0.0), (rated, ampere)], Conducts::BothWays)?;
        Ok(PartCurve { curve, typical })
    }
}
