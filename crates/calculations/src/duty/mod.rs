//! The duty of every contact and of coils made for a moment: what is made, carried and broken, who
//! breaks it, and how long a coil is on.
//!
//! **In:** a [`Study`] and what stands across the coils. **Out:** a [`Duty`]: for each contact its
//! greatest currents in the stories and in any order of events, judged by its ratings; for each coil
//! its energy, who cut it off and by how much first, and its time on; findings.
//! **Never here:** verdicts over every run in time (that is `proof`); devices that do not obey their
//! coils; the wear of contacts.
//!
//! Two views stand beside each other. The *stories* tell who does break a current, at nine ends of
//! delays and volts. *Any order* tells who may ([`Order`]). Currents are those of the corner of
//! greatest current (supplies high, conductors and loads cold), steady; AC in rms values, without
//! power factor.

mod coil_findings;
mod currents;
mod cutoff;
mod findings;
pub mod inductance;
mod loads;
mod order;
mod player;
pub mod ratings;
mod report;
mod stories;

use crate::Study;
use crate::suppression::Suppression;
use currents::Currents;
use fiftytwo_scheme::Finding;
use loads::Loads;
use serde::Serialize;

pub use order::Order;
pub use ratings::{Judged, Verdict};
pub use stories::{ARC_VOLTS, Moment};

/// A current at a moment of a story.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Current {
    /// Amperes.
    pub amps: f64,
    /// The loads that were switched.
    pub loads: Vec<String>,
    /// Contacts in series with it that moved in the same instant: any of them may have been first.
    pub with: Vec<String>,
    /// Greatest L/R of the loads, ms; 0: resistive.
    pub time_constant_ms: f64,
    /// Magnetic energy of the loads at their currents, J: what an arc or a suppressor has to take at
    /// least.
    pub energy_j: f64,
    /// When.
    pub at: Moment,
    /// Against the ratings.
    pub judged: Judged,
}

/// What is carried in the stories.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Carries {
    /// The greatest current, A.
    pub amps: f64,
    /// When it began.
    pub at: Moment,
    /// Against the ratings, with the times it stood.
    pub judged: Judged,
}

/// What a contact may do in any order of events.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Behind {
    /// The load.
    pub load: String,
    /// The most it draws through the contact, A.
    pub amps: f64,
    /// The most it draws when it is switched on, A.
    pub starting_amps: f64,
    /// Other loads that are wired together with it behind this contact; their current counts.
    pub together: Vec<String>,
    /// Whether the contact may be the one that breaks it.
    pub order: Order,
    /// Why, in words.
    pub because: String,
    /// Against the break ratings.
    pub judged: Judged,
}

/// The duty of one contact or link.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ContactDuty {
    /// Its name.
    pub contact: String,
    /// Nominal volts of its supply.
    pub nominal_volts: f64,
    /// What it makes in the stories, for each set of loads the greatest.
    pub makes: Vec<Current>,
    /// The most it carries in the stories.
    pub carries: Option<Carries>,
    /// What it breaks in the stories, for each set of loads the greatest.
    pub breaks: Vec<Current>,
    /// In any order of events, load by load.
    pub any_order: Vec<Behind>,
    /// All these loads at once, starting, A.
    pub makes_at_most: f64,
    /// What such contacts usually break, where nothing is declared. Never used for a verdict.
    pub typical: Option<String>,
}

/// Who cut a coil off in the stories.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CutOff {
    /// The contacts that opened in that instant; empty: the supply went, or a fuse.
    pub by: Vec<String>,
    /// The coil's current, A, at most.
    pub amps: f64,
    /// In how many plays' cut-offs.
    pub times: u32,
    /// The next contact of its way to open after that, the nearest of all plays.
    pub next: Option<String>,
    /// By so many ms the first was ahead of it.
    pub ahead_ms: Option<f64>,
    /// The moment of the greatest current.
    pub at: Moment,
}

/// A coil made for a moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Momentary {
    /// How long it may be on, ms, as declared (least, greatest).
    pub max_on_ms: [f64; 2],
    /// The longest it was on in the stories, ms; none: it never was.
    pub longest_ms: Option<f64>,
    /// It was still on when the story ended.
    pub endless: bool,
    /// When that began.
    pub at: Option<Moment>,
    /// Its ways: what cuts it off on each when it has done its work.
    pub ways: Vec<MomentaryWay>,
}

/// One way of a coil made for a moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MomentaryWay {
    /// The contacts of the way.
    pub contacts: Vec<String>,
    /// Those that open when the device has moved, and stay open.
    pub cut_off_by: Vec<String>,
    /// Those that open for a while (a spring switch, until the spring is charged again).
    pub for_a_while: Vec<String>,
}

/// The duty of one coil.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoilDuty {
    /// Its name.
    pub coil: String,
    /// The most it draws, A.
    pub amps: f64,
    /// L/R, least and greatest, ms; none: AC.
    pub time_constant_ms: Option<[f64; 2]>,
    /// Magnetic energy at that current, J: what the contact that opens has to take up at least, if
    /// nothing stands across the coil.
    pub energy_j: f64,
    /// At most so many volts across the contact that opens; none: nothing bounds them but the arc.
    pub peak_volts: Option<f64>,
    /// Who cut it off in the stories.
    pub cut_off: Vec<CutOff>,
    /// Contacts that may break its current in any order of events.
    pub may_break: Vec<String>,
    /// What is declared for a moment.
    pub momentary: Option<Momentary>,
    /// There are more ways than were followed.
    pub more_ways: bool,
}

/// The duty of all contacts and coils.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Duty {
    /// Contacts and links, in source order.
    pub contacts: Vec<ContactDuty>,
    /// Coils, in source order.
    pub coils: Vec<CoilDuty>,
    /// Typical values that were used.
    pub typical: Vec<String>,
    /// What these results cover and what not.
    pub covers: Vec<&'static str>,
    /// What falls short.
    #[serde(skip)]
    pub findings: Vec<Finding>,
}

/// Said with every result.
const COVERS: [&str; 5] = [
    "currents are those of supplies high, conductors and loads cold, steady: a coil driven for less \
     than a few times its L/R carries less",
    "the stories tell who breaks a current at nine ends of delays and volts; in any order of events \
     every contact of a way may, unless the coil's own cut-off surely opens first",
    "a breaker that does not obey its coil is not covered: then whatever opens breaks the current",
    "a contact counts as holding if it made the current itself; one that was about to open when \
     another contact made it may still be first",
    "alternating current: rms values, without power factor; L/R of motors is not known",
];

/// Works out the duty of every contact and coil.
pub fn duty(study: &Study<'_, '_>, suppression: &[Suppression]) -> Duty {
    let loads = Loads::new(study.scheme(), &study.machine.wiring);
    let mut currents = Currents::new(&study.bench);
    let orders = order::any_order(&loads, &mut currents);
    let seen = stories::play_all(study.machine, &loads, &mut currents);
    let report = report::Report { loads: &loads, orders: &orders, seen: &seen, suppression };
    let contacts = report.contacts();
    let coils = report.coils();
    let findings = findings::Find { report: &report }.all();
    Duty { contacts, coils, typical: report.typical(), covers: COVERS.to_vec(), findings }
}
