//! Claims that are shown over all positions of the contacts, not by a search: they are calculated and
//! stand among the proven ones with their verdict.
//!
//! **In:** ties and duty as calculated. **Out:** reports as the proof has them. **Never here:** a
//! calculation of its own.

use fiftytwo_calculations::duty::{self, ContactDuty, Duty, Order};
use fiftytwo_calculations::ties::{Pair, Ties};
use fiftytwo_calculations::{Study, suppression};
use fiftytwo_motion::Machine;
use fiftytwo_proof::questions::names;
use fiftytwo_proof::{Proof, Report, Verdict};
use fiftytwo_scheme::{Finding, Scheme, Span};

/// So many names are told.
const SHOWN: usize = 6;
const APART_COVERS: &str = "calculated over all positions of the contacts: any closed way between two \
                            poles counts, through loads too; an opto input's two sides and grounds are none";
const BREAKS_COVERS: &str = "calculated: in the stories at nine ends of delays and volts, and in any \
                             order of events unless the coil's own cut-off surely opens first, against \
                             declared ratings; a breaker that does not obey its coil is not covered";

/// Puts the calculated claims of a scheme with a matrix to its proof.
///
/// # Errors
/// Findings where the scheme can't be set in motion.
pub fn join(scheme: &Scheme, proof: &mut Proof) -> Result<(), Vec<Finding>> {
    for report in calculated(scheme)? {
        let same = proof.reports.iter().rposition(|other| other.claim == report.claim);
        match same {
            Some(at) => proof.reports.insert(at + 1, report),
            None => proof.reports.push(report),
        }
    }
    Ok(())
}

/// The calculated claims of a scheme with a matrix; none without one.
///
/// # Errors
/// Findings where the scheme can't be set in motion.
pub fn calculated(scheme: &Scheme) -> Result<Vec<Report>, Vec<Finding>> {
    let Some(matrix) = scheme.matrices.first() else { return Ok(Vec::new()) };
    let machine = Machine::new(scheme)?;
    let across = suppression::suppression(&machine.wiring);
    let duty = duty::duty(&Study::new(&machine), &across);
    let ties = fiftytwo_calculations::ties::ties(scheme);
    let units = machine.units.len();
    let mut calculated = apart(&ties, matrix.span);
    calculated.extend(breaks(&duty, matrix.span));
    for report in &mut calculated {
        report.known = (0, units);
        let waiver = scheme.waivers.iter().find(|waiver| {
            waiver.claim == report.claim
                && waiver.for_name.as_ref().is_none_or(|name| report.about.contains(name))
        });
        if let Some(waiver) = waiver {
            report.verdict = Verdict::Waived;
            report.because = Some(waiver.because.clone());
        }
    }
    Ok(calculated)
}

fn report(claim: &str, asks: String, about: String, covers: &str, at: Span) -> Report {
    Report {
        across: None,
        claim: claim.to_owned(),
        asks,
        about,
        verdict: Verdict::NotAsked,
        because: None,
        own: false,
        covers: covers.to_owned(),
        positions: 0,
        known: (0, 0),
        searches: Vec::new(),
        margins: Vec::new(),
        story: None,
        witnesses: Vec::new(),
        at,
    }
}

fn apart(ties: &Ties, at: Span) -> Vec<Report> {
    if ties.pairs.is_empty() {
        let asks = "no path joins two supplies".to_owned();
        let report = report(names::APART, asks, String::new(), APART_COVERS, at);
        return vec![Report { because: Some("there is one supply".to_owned()), ..report }];
    }
    ties.pairs.iter().map(|pair| of_pair(pair, at)).collect()
}

fn of_pair(pair: &Pair, at: Span) -> Report {
    let (one, other) = (&pair.one, &pair.other);
    let asks = format!("no path joins {one} and {other}, whatever the contacts do");
    let report = report(names::APART, asks, format!("{one}, {other}"), APART_COVERS, at);
    let (verdict, because) = match pair.ties.first() {
        None if pair.apart => {
            (Verdict::HoldsInAnyOrder, "calculated over all positions of the contacts".to_owned())
        }
        None => (Verdict::NotProven, "the search for paths was given up".to_owned()),
        Some(tie) => {
            let path = format!("from {} to {} by {}", tie.from, tie.to, listed(&tie.path));
            let apart = tie.kept_apart_by.as_ref().map_or_else(String::new, |[one, other]| {
                format!("; only {one} and {other} keep them apart")
            });
            (Verdict::Fails, format!("calculated: {path}{apart}"))
        }
    };
    Report { verdict, because: Some(because), ..report }
}

/// What a contact may break, and how that stands against its ratings.
fn judged(contact: &ContactDuty) -> impl Iterator<Item = (f64, &duty::Judged)> {
    let told = contact.breaks.iter().map(|it| (it.amps, &it.judged));
    let may = contact.any_order.iter().filter(|it| it.order >= Order::CutsOff);
    told.chain(may.map(|it| (it.amps, &it.judged)))
}

fn breaks(duty: &Duty, at: Span) -> Vec<Report> {
    let asks = |what: &str| format!("no contact breaks more than its rating: {what}");
    let new =
        |what: &str, about: String| report(names::BREAKS, asks(what), about, BREAKS_COVERS, at);
    let (mut within, mut undeclared) = (Vec::new(), Vec::new());
    let mut reports = Vec::new();
    for contact in duty.contacts.iter().filter(|contact| judged(contact).next().is_some()) {
        let short = judged(contact)
            .filter(|(_, judged)| judged.falls_short())
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let unsure =
            |verdict| matches!(verdict, duty::Verdict::NotDeclared | duty::Verdict::ResistiveOnly);
        if let Some((amps, judged)) = short {
            let rating =
                judged.rating.clone().unwrap_or_else(|| "no rating reaches so far".to_owned());
            reports.push(Report {
                verdict: Verdict::Fails,
                because: Some(format!("calculated: it may break {amps:.2} A; rated {rating}")),
                ..new(&contact.contact, contact.contact.clone())
            });
        } else if judged(contact).any(|(_, judged)| unsure(judged.verdict)) {
            undeclared.push(contact.contact.clone());
        } else {
            within.push(contact.contact.clone());
        }
    }
    if !within.is_empty() {
        reports.push(Report {
            verdict: Verdict::HoldsInAnyOrder,
            because: Some(format!("calculated for {}", listed(&within))),
            ..new("those with a rating for what they may break", listed(&within))
        });
    }
    if !undeclared.is_empty() {
        reports.push(Report {
            because: Some(format!(
                "no rating for what they may break is declared: {}",
                listed(&undeclared)
            )),
            ..new("those without such a rating", listed(&undeclared))
        });
    }
    reports
}

fn listed(names: &[String]) -> String {
    let told: Vec<&str> = names.iter().take(SHOWN).map(String::as_str).collect();
    match names.len().saturating_sub(SHOWN) {
        0 => told.join(", "),
        more => format!("{} and {more} more", told.join(", ")),
    }
}
