//! Whether the loss of a supply is told by something that still lives.
//!
//! **In:** the rest positions with a supply lost. **Out:** a finding for a lamp or an input that is to
//! show the loss and dies with it; a note for a supply whose loss nothing shows. **Never here:** how long
//! an alarm takes, whether anybody looks at it.
//!
//! A lamp or an input that is to be on while the supply lives and goes off with it tells the loss. One
//! that is to be on when the supply is lost has to be fed from another one.

use crate::Study;
use crate::figures::listed;
use crate::rest::{Change, RestPosition};
use crate::shown::{Shown, Thresholds};

use fiftytwo_motion::Tri;
use fiftytwo_motion::machine::{Evaluator, Scope};
use fiftytwo_scheme::{Atom, Finding, Part, PartId, PartKind, Scheme, Severity, Supply, SupplyId};

/// What one lamp or input does when a supply is lost.
#[derive(PartialEq)]
enum Does {
    /// It shows something else than before, and that is so.
    Tells,
    /// It is to be on and is off.
    Dies,
    /// It shows something else than before, which is not what it is to show: a lamp that goes dark.
    Changes,
    Nothing,
}

pub(super) fn findings(study: &Study<'_, '_>) -> Vec<Finding> {
    let scheme = study.scheme();
    let scope = Scope::whole(study.machine);
    let evaluator = Evaluator::new(study.machine, &scope);
    let (mut findings, mut unseen) = (Vec::new(), Vec::new());
    for (supply, data) in scheme.supplies.iter() {
        let mut dying: Vec<PartId> = Vec::new();
        let (mut told, mut seen) = (false, false);
        let lost = |rest: &&RestPosition| rest.change == Change::Lost(supply) && rest.stays;
        for rest in study.rest.iter().filter(lost) {
            let before = study
                .rest
                .iter()
                .find(|it| it.is_healthy() && it.stays && it.breaker == rest.breaker);
            let Some(before) = before else { continue };
            let solved = |rest: &RestPosition| study.bench.solve(&rest.setup(&study.bench));
            let (Ok(was), Ok(is)) = (solved(before), solved(rest)) else { continue };
            let looks = (evaluator.look(&before.state), evaluator.look(&rest.state));
            for (id, part) in scheme.placed() {
                if !matches!(part.kind, PartKind::Lamp(_) | PartKind::Input(_)) {
                    continue;
                }
                let Some(thresholds) = Thresholds::of(scheme, part) else { continue };
                let shown = (thresholds.shown(&was, id), thresholds.shown(&is, id));
                let so = part
                    .shows
                    .as_ref()
                    .map(|shows| (looks.0.holds(&shows.expr), looks.1.holds(&shows.expr)));
                match does(shown, so) {
                    Does::Tells => told = true,
                    Does::Changes => seen = true,
                    Does::Dies if !dying.contains(&id) => dying.push(id),
                    _ => {}
                }
            }
        }
        let of_loss = |id: &PartId| mentions(scheme, *id, supply);
        dying.retain(|id| of_loss(id) || !told);
        told |= !dying.is_empty();
        for id in dying {
            findings.push(dies(&scheme.parts[id], &data.name, of_loss(&id)));
        }
        let used = scheme.placed().any(|(_, part)| {
            let on = part.at.is_some_and(|at| scheme.circuits[at.circuit].supply == supply);
            on && matches!(part.kind, PartKind::Coil(_))
        });
        if used && !told && !seen {
            unseen.push(data);
        }
    }
    findings.extend(nothing_shows(&unseen));
    findings
}

/// One note for all supplies whose loss no lamp and no input changes with.
fn nothing_shows(supplies: &[&Supply]) -> Option<Finding> {
    let first = supplies.first()?;
    let names: Vec<String> = supplies.iter().map(|supply| supply.name.clone()).collect();
    let (which, are) = (listed(&names), if names.len() == 1 { "is" } else { "are" });
    let note = Finding::note(
        "supply-loss-unseen",
        format!("nothing shows that {which} {are} lost: no lamp, no input changes"),
    )
    .why("a battery that is gone is found when a trip is asked for")
    .help(format!(
        "1 input, fed from another supply or off when it is lost, with shows=\"{} live\"",
        first.name
    ))
    .at(first.span, "its loss");
    Some(names.iter().fold(note, Finding::device))
}

fn does((was, is): (Shown, Shown), so: Option<(Tri, Tri)>) -> Does {
    match so {
        None if was != is => Does::Tells,
        Some((before, now)) if is == Shown::Off && now.sure() && !before.possible() => Does::Dies,
        Some((_, now)) if was != is => {
            let right = (is == Shown::On && now.sure()) || (is == Shown::Off && !now.possible());
            if right { Does::Tells } else { Does::Changes }
        }
        _ => Does::Nothing,
    }
}

/// Its `shows` speaks of the supply itself.
fn mentions(scheme: &Scheme, id: PartId, supply: SupplyId) -> bool {
    let mut found = false;
    if let Some(shows) = &scheme.parts[id].shows {
        shows.expr.atoms(&mut |atom| found |= atom == Atom::Live(supply));
    }
    found
}

fn dies(part: &Part, supply: &str, itself: bool) -> Finding {
    let shows = part.shows.as_ref().map_or("", |shows| shows.text.as_str());
    let name = &part.name;
    let only = if itself { "" } else { ", and nothing else shows the loss" };
    Finding::new(
        "alarm-lost-with-supply",
        Severity::Finding,
        format!(
            "{name} is to show \"{shows}\", and with {supply} lost, when that is so, it is off: {supply} feeds \
             it{only}"
        ),
    )
    .why("an alarm of a lost supply that the lost supply feeds never comes")
    .help(format!(
        "feed {name} from another supply, or lead it over a contact that is closed while {supply} lives, with \
         1 shows=\"{supply} live\""
    ))
    .at(part.span, "dead with it")
    .device(name)
    .device(supply)
}
