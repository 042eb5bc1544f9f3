//! Schemes in the tests: reading them, and asking for every position in any order.

#![allow(dead_code, reason = "each test uses a part of it")]
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use fiftytwo_motion::Machine;
use fiftytwo_motion::machine::{Agent, Scope, State};
use fiftytwo_proof::monitor::Monitor;
use fiftytwo_proof::search::{Limits, Outcome, Search, Space};
use fiftytwo_proof::space::{ANY_NUMBER, Place, Product, Step};
use fiftytwo_scheme::{Atom, DeviceId, Expr, Scheme, Severity, read_text};
use rustc_hash::FxHashSet;

/// A scheme that must have no slip.
pub fn scheme(text: &str) -> Scheme {
    let reading = read_text("scheme.kdl", text);
    let errors: Vec<_> =
        reading.findings.iter().filter(|f| f.severity == Severity::Error).collect();
    assert!(errors.is_empty(), "{errors:?}\n{text}");
    reading.scheme.unwrap()
}

/// A device by its name.
pub fn device(scheme: &Scheme, name: &str) -> DeviceId {
    scheme.devices.iter().find(|(_, device)| device.name == name).unwrap().0
}

/// The devices are all in these positions.
pub fn all(scheme: &Scheme, positions: &[(&str, u8)]) -> Expr {
    let atom = |&(name, at): &(&str, u8)| Expr::Atom(Atom::Position(device(scheme, name), at));
    Expr::All(positions.iter().map(atom).collect())
}

/// Never: some device both in a position and not.
pub fn nothing(scheme: &Scheme) -> Expr {
    let first = Expr::Atom(Atom::Position(scheme.devices.ids().next().unwrap(), 0));
    Expr::All(vec![first.clone(), Expr::Not(Box::new(first))])
}

/// What a search in any order found, from the scheme as drawn.
pub struct Found {
    pub outcome: Outcome<Step>,
    /// Positions in which no device is on its way.
    pub settled: Vec<Place>,
    /// From each settled position, each move from outside: how many settled positions it may end in.
    pub ends: Vec<usize>,
}

/// Everything in any order; `wrong` must never hold.
pub fn any_order(scheme: &Scheme, wrong: Expr) -> Found {
    let machine = Machine::new(scheme).unwrap();
    let scope = Scope::whole(&machine);
    let monitor = Monitor::Holds { what: wrong };
    let starts: [State; 1] = [machine.drawn()];
    let product = Product::new(&machine, &scope, &monitor, &starts, false, ANY_NUMBER).unwrap();
    let search = Search::run(&product, &Limits::USUAL);
    let steps = |place: &Place, agent: Agent| {
        let mut steps = Vec::new();
        product.steps(place, &mut steps);
        steps.retain(|(step, _)| step.agent == agent);
        steps.into_iter().map(|(_, to)| to).collect::<Vec<Place>>()
    };
    let rests = |place: &Place| steps(place, Agent::Device).is_empty();
    let settled: Vec<Place> = search.places().iter().filter(|p| rests(p)).cloned().collect();
    let ends = settled
        .iter()
        .flat_map(|place| steps(place, Agent::World))
        .map(|moved| {
            let mut seen = FxHashSet::default();
            let mut waiting = vec![moved];
            let mut ends = 0;
            while let Some(place) = waiting.pop() {
                if seen.insert(place.clone()) {
                    let onward = steps(&place, Agent::Device);
                    ends += usize::from(onward.is_empty());
                    waiting.extend(onward);
                }
            }
            ends
        })
        .collect();
    Found { outcome: search.outcome(), settled, ends }
}
