//! What monitors leave on a coil: healthy, each shorted in turn, together.

use super::Levels;
use super::find::Situation;
use crate::Study;
use fiftytwo_circuit::{BenchFault, Ends, Fault, Setup};
use fiftytwo_scheme::{Light, PartId, PartKind};
use serde::Serialize;

/// What monitors leave on a coil, at the corner of most current: supply high, coil,
/// conductors and monitors cold, what stands beside the coil at its most ohms.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Load {
    /// The rest position.
    pub position: String,
    /// The coil's own relay stands picked up: may it let go?
    pub held: bool,
    /// What is shorted.
    pub shorted: Vec<String>,
    /// What this case is.
    pub case: Case,
    /// It is a resistor that is shorted: resistors break (common practice, no source).
    pub unlikely: bool,
    /// Its current as volts on the coil at the temperature that its resistance is told for (20 °C
    /// unless it says so), as pickup and dropout are told.
    pub volts: f64,
    /// That temperature, °C, where the coil stands at another one.
    pub celsius: Option<f64>,
    /// Current through it, A.
    pub amps: f64,
    /// As a share of the voltage below which it surely does not operate.
    pub of_pickup: f64,
    /// As a share of the voltage below which it surely lets go.
    pub of_dropout: f64,
    /// What stands beside the coil at its most ohms; all else is cold.
    pub beside: Vec<String>,
    #[serde(skip)]
    pub(super) ids: Vec<PartId>,
}

/// What is broken in a [`Load`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Case {
    /// Nothing.
    Healthy,
    /// Nothing, but filaments have not warmed up: for a fraction of a second.
    FilamentsCold,
    /// One lamp, input, relay or resistor is shorted.
    OneShorted,
    /// All lamps, inputs and relays are shorted, resistors are whole.
    AllLightsShorted,
    /// Everything is shorted, resistors too: the full voltage.
    EverythingShorted,
}

/// All cases of one coil in one position.
pub(super) fn of(
    study: &Study<'_, '_>,
    situation: &Situation,
    levels: &Levels,
) -> Result<Vec<Load>, BenchFault> {
    let scheme = study.scheme();
    let lights = &situation.feeders;
    let series = situation.in_series(lights);
    let all: Vec<PartId> = lights.iter().chain(&series).copied().collect();
    let filaments = lights.iter().any(|part| {
        matches!(&scheme.parts[*part].kind, PartKind::Lamp(lamp)
            if lamp.light == Light::Filament || lamp.cold.is_some())
    });
    let mut cases = vec![(Case::Healthy, Vec::new())];
    if filaments {
        cases.push((Case::FilamentsCold, Vec::new()));
    }
    cases.extend(all.iter().map(|part| (Case::OneShorted, vec![*part])));
    if lights.len() > 1 {
        cases.push((Case::AllLightsShorted, lights.clone()));
    }
    if all.len() > lights.len() {
        cases.push((Case::EverythingShorted, all));
    }
    let mut loads = Vec::new();
    for (case, shorted) in cases {
        let mut setup = worst(situation, &shorted);
        setup.filaments_cold = case == Case::FilamentsCold;
        let readings = match study.bench.solve(&setup) {
            Ok(readings) => readings,
            // Everything shorted may short the supply through another coil's monitors too: that is
            // more than full voltage can say.
            Err(_) if case == Case::EverythingShorted => continue,
            Err(fault) => return Err(fault),
        };
        let volts = readings.across(situation.coil).unwrap_or(0.0).abs() * levels.from_cold;
        loads.push(Load {
            position: situation.name.clone(),
            held: situation.held,
            shorted: shorted.iter().map(|part| scheme.parts[*part].name.clone()).collect(),
            case,
            unlikely: case == Case::OneShorted
                && shorted
                    .iter()
                    .all(|part| matches!(scheme.parts[*part].kind, PartKind::Resistor { .. })),
            volts,
            celsius: levels.celsius,
            amps: readings.amps(situation.coil).unwrap_or(0.0).abs(),
            of_pickup: volts / levels.pickup_from,
            of_dropout: volts / levels.releases_below,
            beside: situation.beside.iter().map(|(id, _)| scheme.parts[*id].name.clone()).collect(),
            ids: shorted,
        });
    }
    Ok(loads)
}

/// The corner of most current through the coil, with these parts shorted: all cold but for what stands
/// beside the coil.
pub(super) fn worst(situation: &Situation, shorted: &[PartId]) -> Setup {
    let mut setup = situation.setup.clone().at(Ends::MOST);
    setup.apart.extend(situation.beside.iter().copied());
    setup.faults.extend(shorted.iter().map(|part| Fault::Shorted(*part)));
    setup
}
