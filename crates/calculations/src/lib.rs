//! What a senior checker computes by hand, or doesn't for want of time.
//!
//! **In:** a checked [`Scheme`]. **Out:** for every coil, contact, lamp,
//! input, fuse, conductor and wire its worst case, its margin, the corner that causes it, and a
//! finding with a cure where something falls short: typed data, of which the terminal, JSON and
//! the papers are views.
//! **Never here:** how a network is solved (that is `circuit`), how a run goes (`motion`), verdicts
//! over every run (`proof`), printing.
//!
//! A topic is one module: a function from a [`Study`] to its own result, which serialises and lists
//! its findings. Add the module, its field in [`Calculations`] and its line in
//! [`Calculations::findings`].

mod burdens;
pub mod cables;
pub mod charging;
pub mod clearing;
pub mod contradictions;
pub mod duty;
pub mod fuses;
pub mod gather;
pub mod grounds;
pub mod loads;
pub mod meter;
pub mod methods;
pub mod monitors;
pub mod rest;
pub mod shorts;
pub mod shown;
pub mod suppression;
pub mod ties;

mod figures;
mod stand_in;
mod unlikely;
mod words;

pub use cables::Cables;
pub use clearing::Clearing;
use fiftytwo_circuit::Bench;
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{Finding, Scheme};
pub use fuses::Fuses;
pub use rest::{RestPosition, rest_positions};
use serde::Serialize;
use std::collections::BTreeMap;

/// What every topic starts from, made once.
#[derive(Debug)]
pub struct Study<'a, 's> {
    /// The machine, with the scheme and its wiring.
    pub machine: &'a Machine<'s>,
    /// The scheme on the test bench.
    pub bench: Bench<'s>,
    /// Where everything stands when nothing moves.
    pub rest: Vec<RestPosition>,
}

impl<'a, 's> Study<'a, 's> {
    /// Prepares a study.
    pub fn new(machine: &'a Machine<'s>) -> Self {
        Self { machine, bench: Bench::new(machine.scheme), rest: rest_positions(machine) }
    }
    /// The scheme.
    pub fn scheme(&self) -> &'s Scheme {
        self.machine.scheme
    }
}

/// Every topic's result.
#[derive(Debug, Clone, Serialize)]
pub struct Calculations {
    /// Where everything stands when nothing moves.
    pub rest: Vec<RestPosition>,
    /// Monitors of coils, and resistors.
    pub monitors: monitors::Monitors,
    /// Lamps and inputs: enough to be surely on, no more than they stand.
    pub loads: loads::Loads,
    /// Long cables: what the coils behind them get, and the conductors that would do.
    pub cables: Cables,
    /// Several coils at once through one feeder or supply.
    pub clearing: Clearing,
    /// Fuses: loads, shorts, selectivity.
    pub fuses: Fuses,
    /// What stands across coils: release delay, energy, voltage left.
    pub suppression: Vec<suppression::Suppression>,
    /// Capacitors that charge through coils when a supply comes back.
    pub charging: charging::Charging,
    /// What contacts make, carry and break, and coils made for a moment.
    pub duty: duty::Duty,
    /// Contacts that short a supply.
    pub shorts: shorts::Shorts,
    /// Paths that join two supplies.
    pub ties: ties::Ties,
    /// Grounds: what one and two of them do, the detectors, where coils rest.
    pub grounds: grounds::Grounds,
    /// What a meter shows at every point.
    pub meter: meter::MeterTable,
    /// Data that contradict one another.
    #[serde(skip)]
    pub contradictions: Vec<Finding>,
    /// By supply the names of all that hangs on it.
    #[serde(skip)]
    pub(crate) on_supply: BTreeMap<String, Vec<String>>,
    /// How each topic's numbers were got.
    pub methods: Vec<methods::TopicMethod>,
    /// Typical data in use where nothing is declared, in words.
    pub typical: Vec<String>,
}

impl Calculations {
    /// The findings of all topics, in a fixed order.
    pub fn findings(&self) -> Vec<Finding> {
        let topics = [
            &self.contradictions,
            &self.monitors.findings,
            &self.loads.findings,
            &self.cables.findings,
            &self.clearing.findings,
            &self.fuses.findings,
            &self.charging.findings,
            &self.duty.findings,
            &self.shorts.findings,
            &self.ties.findings,
            &self.grounds.findings,
            &self.meter.findings,
        ];
        let of_coils = self.suppression.iter().flat_map(|chain| &chain.findings);
        topics.into_iter().flatten().chain(of_coils).cloned().collect()
    }
}

/// Calculates everything.
///
/// # Errors
/// Findings where the wiring can't be solved at all or a breaker's contacts can't be represented.
pub fn calculate(scheme: &Scheme) -> Result<Calculations, Vec<Finding>> {
    Ok(calculate_on(&Machine::new(scheme)?))
}

/// Calculates everything for a machine that is there already. Coils without a resistance stand in it
/// with a typical one, which a note says.
pub fn calculate_on(machine: &Machine<'_>) -> Calculations {
    let Some(stand_in) = stand_in::of(machine.scheme) else { return worked_out(machine) };
    let mut found = match Machine::new(&stand_in.scheme) {
        Ok(with_typical) => worked_out(&with_typical),
        Err(_) => worked_out(machine),
    };
    found.contradictions = contradictions::contradictions(machine.scheme);
    found.contradictions.push(stand_in.note);
    for line in stand_in.typical {
        if !found.typical.contains(&line) {
            found.typical.push(line);
        }
    }
    found
}

fn worked_out(machine: &Machine<'_>) -> Calculations {
    let study = Study::new(machine);
    let assumed = study.bench.assumed();
    let suppression = suppression::suppression(&machine.wiring);
    let duty = duty::duty(&study, &suppression);
    let grounds = grounds::grounds(&study);
    let mut typical: Vec<String> =
        assumed.iter().map(|it| format!("{}: {}", it.name, it.words)).collect();
    let of_coils = suppression.iter().flat_map(|chain| &chain.typical);
    for words in duty.typical.iter().chain(of_coils).chain(&grounds.typical) {
        if !typical.contains(words) {
            typical.push(words.clone());
        }
    }
    let fuses = fuses::fuses(&study);
    let monitors = monitors::monitors(&study);
    let meter = meter::table(&study);
    let of_monitors = monitors.coils.iter().flat_map(|coil| &coil.typical);
    for words in fuses.typical.iter().chain(of_monitors).chain(&meter.typical) {
        if !typical.contains(words) {
            typical.push(words.clone());
        }
    }
    let loads = loads::loads(&study, &monitors.weak(), &fuses);
    for words in limits_in_use(&loads, &duty) {
        if !typical.contains(&words) {
            typical.push(words);
        }
    }
    Calculations {
        loads,
        cables: cables::cables(&study, &fuses),
        clearing: clearing::clearing(&study),
        charging: charging::charging(&study),
        fuses,
        monitors,
        meter,
        grounds,
        duty,
        suppression,
        shorts: shorts::shorts(&study),
        ties: ties::ties(machine.scheme),
        rest: study.rest,
        contradictions: contradictions::contradictions(machine.scheme),
        on_supply: unlikely::behind(machine.scheme),
        methods: methods::all(),
        typical,
    }
}

/// Typical limits that rows are held against.
fn limits_in_use(loads: &loads::Loads, duty: &duty::Duty) -> Vec<String> {
    let mut told = Vec::new();
    if loads.rows.iter().any(|row| row.kind == "input") {
        told.push(format!(
            "inputs: at most {} each (typical; common practice, no source)",
            words::amps(loads::MOST_OF_INPUT)
        ));
    }
    if loads.motors.iter().any(|row| row.typical) {
        told.push(
            "motors and heaters that say no works: 80 % of nominal in direct current (typical; \
             instruction books of breakers), 85 % in alternating (typical; from memory of IEC \
             62271-1)"
                .to_owned(),
        );
    }
    let mut contacts: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for contact in &duty.contacts {
        if let Some(typical) = &contact.typical {
            contacts.entry(typical).or_default().push(&contact.contact);
        }
    }
    told.extend(contacts.iter().map(|(typical, names)| format!("{}: {typical}", names.join(", "))));
    told
}
