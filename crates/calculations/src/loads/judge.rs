//! What falls short at a lamp or an input, in the designer's words, with a cure in numbers.

use super::corner::{Extreme, lacking};
use super::less::{instead, largest_in_series, most_ohm};
use super::{Gets, LoadRow, MOST_OF_INPUT, MOST_OF_RATED, Solved, of};
use crate::Study;
use crate::shown::Thresholds;
use crate::words::{
    amps, down, ohms, percent, standard_ohm, standard_watt, standing, up, volts, watts,
};
use fiftytwo_circuit::{Ends, Fault, Setup};
use fiftytwo_scheme::{CurrentKind, Finding, Part, PartId, PartKind, Severity};

/// An input must surely be off below this share of nominal voltage at the least (common practice, no
/// source).
const LEAST_OFF: f64 = 0.1;

/// The findings of one lamp or input.
pub(super) fn tell(
    study: &Study<'_, '_>,
    row: &LoadRow,
    thresholds: &Thresholds,
    all: &[&Solved<'_>],
    told: bool,
    findings: &mut Vec<Finding>,
) {
    let teller = Teller { study, row, part: &study.scheme().parts[row.id], all };
    findings.extend(teller.overloaded());
    findings.extend(teller.takes_too_much());
    if !told {
        findings.extend(if thresholds.by_current {
            teller.dim()
        } else {
            teller.too_little(thresholds)
        });
    }
    findings.extend(teller.threshold_low());
    findings.extend(teller.never_surely_off());
}

/// An input that may stay on where it is to be off.
pub(super) fn not_off(part: &Part, position: &str, gets: f64, below: f64, cure: String) -> Finding {
    Finding::new(
        "input-not-off",
        Severity::Finding,
        format!(
            "{} may stay on where it is to be off: it gets {}, and is surely off only below {}",
            part.name,
            volts(gets),
            volts(below)
        ),
    )
    .at(part.span, format!("{} at the most", volts(gets)))
    .why(format!(
        "{}, supplies at their highest, each resistance at its worse end",
        standing(position)
    ))
    .help(cure)
    .device(&part.name)
}

/// An input without thresholds that gets more than where inputs are usually surely off.
pub(super) fn not_off_typical(part: &Part, position: &str, gets: f64, below: f64) -> Finding {
    Finding::note(
        "input-not-off",
        format!(
            "{} may stay on where it is to be off: it gets {}; it declares no thresholds, and inputs \
             are usually surely off only below {} (typical)",
            part.name,
            volts(gets),
            volts(below)
        ),
    )
    .at(part.span, format!("{} at the most", volts(gets)))
    .why(format!(
        "{}, supplies at their highest, each resistance at its worse end",
        standing(position)
    ))
    .help("write its on-above and off-below, and take out what leads current past its contacts")
    .device(&part.name)
}

/// An input that gets all of its supply's volts where it is to be off.
pub(super) fn on_instead(part: &Part, position: &str, gets: f64) -> Finding {
    Finding::new(
        "input-not-off",
        Severity::Finding,
        format!("{} is on where it is to be off: it gets at least {}", part.name, volts(gets)),
    )
    .at(part.span, format!("{} at the least", volts(gets)))
    .why(format!("{}: there what it shows is not so", standing(position)))
    .help("turn round what it shows, or open its way there: 1 contact that is open then")
    .device(&part.name)
}

/// Seen from a part's two ends the rest is a voltage behind a resistance (Thévenin).
#[derive(Debug, Clone, Copy)]
struct Behind {
    volts: f64,
    ohm: f64,
}

impl Behind {
    fn of(study: &Study<'_, '_>, setup: &Setup, part: PartId) -> Option<Self> {
        let open = study.bench.solve(&setup.clone().with_fault(Fault::Open(part))).ok()?;
        let volts = of(&open, part, false);
        // Shorted it shorts the supply: nothing stands in series with it.
        let most = study
            .bench
            .solve(&setup.clone().with_fault(Fault::Shorted(part)))
            .map_or(f64::INFINITY, |short| of(&short, part, true));
        (most > 0.0).then(|| Self { volts, ohm: volts / most })
    }
}

/// A resistor in series with a lamp so that it gets its rated current at the nominal voltage: its
/// ohms (a standard value) and watts, or how many ohms less; none: the lamp is for more volts than
/// there are.
pub(crate) fn series_resistor(
    study: &Study<'_, '_>,
    setup: &Setup,
    lamp: PartId,
    rated: (f64, f64),
) -> Option<(f64, f64)> {
    let behind = Behind::of(study, &setup.clone().at(Ends::NOMINAL), lamp)?;
    let high = Behind::of(study, &setup.clone().at(Ends::MOST), lamp)?;
    let more = (behind.volts - rated.0) / rated.1 - behind.ohm;
    if more <= 0.0 {
        // No more can go than stands there; and where the lamp is for far more volts, that is no cure.
        return (behind.volts >= 0.8 * rated.0).then_some((more.max(-behind.ohm), 0.0));
    }
    let ohm = standard_ohm(more);
    // With the lamp shorted; twice its load, as for every resistor.
    let amps = high.volts / (ohm + high.ohm);
    Some((ohm, standard_watt(2.0 * amps * amps * ohm)))
}

struct Teller<'a, 's> {
    study: &'a Study<'a, 's>,
    row: &'a LoadRow,
    part: &'a Part,
    all: &'a [&'a Solved<'a>],
}

impl Teller<'_, '_> {
    fn setup(&self, at: usize) -> Option<&Setup> {
        self.all.get(at).map(|it| &it.setup)
    }

    fn rated(&self) -> Option<(f64, f64)> {
        self.row.rated_volts.zip(self.row.rated_amps)
    }

    fn overloaded(&self) -> Option<Finding> {
        let most = self.row.most.as_ref()?;
        self.row.of_rated.filter(|share| *share > MOST_OF_RATED)?;
        let (rated_volts, rated_amps) = self.rated()?;
        let cure = self
            .setup(most.at)
            .and_then(|setup| {
                series_resistor(self.study, setup, self.row.id, (rated_volts, rated_amps))
            })
            .filter(|(ohm, _)| *ohm > 0.0);
        let help = match cure {
            Some((ohm, power)) => format!(
                "a resistor of {} ({}) more in series with it: {} at the nominal voltage",
                ohms(ohm),
                watts(power),
                amps(rated_amps)
            ),
            None => format!("a lamp rated {}", volts(most.volts)),
        };
        Some(
            Finding::new(
                "lamp-overloaded",
                Severity::Finding,
                format!(
                    "{} may get {} at {}; it is rated {} at {}",
                    self.row.part,
                    amps(most.amps.unwrap_or(0.0)),
                    volts(most.volts),
                    amps(rated_amps),
                    volts(rated_volts)
                ),
            )
            .at(self.part.span, format!("{} at the most", amps(most.amps.unwrap_or(0.0))))
            .why(format!(
                "{}, supplies at their highest, everything cold",
                standing(&most.position)
            ))
            .help(help)
            .device(&self.row.part),
        )
    }

    /// An input of so few ohms that it takes a load's current: most likely a slip of the pen.
    fn takes_too_much(&self) -> Option<Finding> {
        let PartKind::Input(_) = &self.part.kind else { return None };
        let most = self.row.most.as_ref()?;
        let takes = most.amps.filter(|amps| *amps > MOST_OF_INPUT)?;
        let watt = watts(takes * most.volts);
        Some(
            Finding::new(
                "input-current",
                Severity::Finding,
                format!(
                    "{} takes {} at {} ({watt}); inputs take at most {}",
                    self.row.part,
                    amps(takes),
                    volts(most.volts),
                    amps(MOST_OF_INPUT)
                ),
            )
            .at(self.part.span, format!("{} at the most", amps(takes)))
            .why(format!(
                "{}, supplies at their highest; the bound is common practice, no source",
                standing(&most.position)
            ))
            .help(
                self.input_of(most)
                    .unwrap_or_else(|| format!("an input for at most {}", amps(MOST_OF_INPUT))),
            )
            .device(&self.row.part),
        )
    }

    /// The least ohms of an input that takes no more than inputs do; none: it is told by a curve.
    fn input_of(&self, most: &Gets) -> Option<String> {
        let PartKind::Input(input) = &self.part.kind else { return None };
        let setup = self.setup(most.at)?.clone().at(Ends::MOST);
        let behind = Behind::of(self.study, &setup, self.row.id)?;
        let least = up(behind.volts / MOST_OF_INPUT - behind.ohm);
        input.curve.is_none().then(|| format!("an input of {} or more", ohms(least)))
    }

    /// The ohms of the largest resistor in series with it; 0: none is there to be made smaller.
    fn stands_in_front(&self, at: usize) -> f64 {
        let largest = self
            .setup(at)
            .and_then(|setup| largest_in_series(self.study, setup, self.row.id).ok().flatten());
        largest.map_or(0.0, |(_, ohm)| ohm)
    }

    fn dim(&self) -> Option<Finding> {
        let least = self.row.least.as_ref()?;
        self.row.of_needed.filter(|share| *share < 1.0)?;
        let rated = self.rated()?;
        let gets = least.amps.unwrap_or(0.0);
        let cure = self
            .setup(least.at)
            .and_then(|setup| series_resistor(self.study, setup, self.row.id, rated))
            .filter(|(more, _)| *more < 0.0 && self.stands_in_front(least.at) >= -more * 0.999);
        let help = match cure {
            Some((more, _)) => format!("{} less in series with it", ohms(-more)),
            None => format!("a lamp that is rated {} or less", volts(2.0 * least.volts)),
        };
        Some(
            Finding::new(
                "lamp-dim",
                Severity::Finding,
                format!(
                    "{} may stay dark with its way closed: it gets {}, and surely lights from {}, \
                     half its rated current",
                    self.row.part,
                    amps(gets),
                    amps(self.row.on_from)
                ),
            )
            .at(self.part.span, format!("{} at the least", amps(gets)))
            .why(format!("{}, supplies at their lowest, everything hot", standing(&least.position)))
            .help(help)
            .device(&self.row.part),
        )
    }

    fn too_little(&self, thresholds: &Thresholds) -> Option<Finding> {
        let least = self.row.least.as_ref()?;
        self.row.of_needed.filter(|share| *share < 1.0)?;
        let extreme = Extreme { volts: least.volts, amps: least.amps.unwrap_or(0.0) };
        let lacks = lacking(extreme, thresholds);
        let tell = |value: f64| if lacks.in_amps { amps(value) } else { volts(value) };
        let (gets, needs) = (tell(lacks.gets), tell(lacks.needs));
        let help = self.less(least.at, thresholds).unwrap_or_else(|| {
            let instead = instead(self.study, self.row.id, &lacks);
            if lacks.in_amps && least.volts >= thresholds.on {
                let beside = down(least.volts / (lacks.needs - lacks.gets));
                format!("{instead}, or {} beside it that draws the rest", ohms(beside))
            } else {
                instead
            }
        });
        let severity = if thresholds.typical { Severity::Note } else { Severity::Finding };
        Some(
            Finding::new(
                "input-too-little",
                severity,
                format!(
                    "{} may stay off with its way closed: it gets {gets}, and is surely on only \
                     from {needs}",
                    self.row.part
                ),
            )
            .at(self.part.span, format!("{gets} at the least"))
            .why(format!(
                "{}, supplies at their lowest, each resistance at its worse end",
                standing(&least.position)
            ))
            .help(help)
            .device(&self.row.part),
        )
    }

    /// A resistor in front of it with fewer ohms.
    fn less(&self, at: usize, thresholds: &Thresholds) -> Option<String> {
        let setup = self.setup(at)?;
        let resistor = largest_in_series(self.study, setup, self.row.id).ok()??;
        let most = most_ohm(self.study, setup, resistor, self.row.id, thresholds).ok()??;
        let name = &self.study.scheme().parts[resistor.0].name;
        Some(format!("{name} may have at most {}, everything else as it is", ohms(down(most))))
    }

    /// What leaks past open contacts and outputs may stand on an input that nothing drives.
    fn never_surely_off(&self) -> Option<Finding> {
        let PartKind::Input(input) = &self.part.kind else { return None };
        let off = input.off_below.as_ref()?.lo;
        let scheme = self.study.scheme();
        let supply = &scheme.supplies[scheme.circuits[self.part.at?.circuit].supply];
        let needs = LEAST_OFF * supply.nominal.middle();
        if off >= needs {
            return None;
        }
        Some(
            Finding::new(
                "input-off-too-low",
                Severity::Finding,
                format!(
                    "{} surely goes off only below {}: what leaks past open contacts may keep it on",
                    self.row.part,
                    volts(off)
                ),
            )
            .at(self.part.span, format!("surely off below {}", volts(off)))
            .why(format!(
                "less than {} of {}'s nominal voltage (common practice, no source)",
                percent(LEAST_OFF),
                supply.name
            ))
            .help(format!("an input that is surely off below {} or more", volts(needs)))
            .device(&self.row.part),
        )
    }

    /// A ground on one wire of a floating supply puts half its voltage on anything.
    fn threshold_low(&self) -> Option<Finding> {
        let PartKind::Input(input) = &self.part.kind else { return None };
        let on = input.on_above.as_ref()?.lo;
        let scheme = self.study.scheme();
        let supply = &scheme.supplies[scheme.circuits[self.part.at?.circuit].supply];
        let half = supply.range.hi / 2.0;
        if supply.current == CurrentKind::Ac || on >= half {
            return None;
        }
        Some(
            Finding::new(
                "input-threshold-low",
                Severity::Finding,
                format!(
                    "{} may go on from {}: a single ground can put {}, half of {}, on it",
                    self.row.part,
                    volts(on),
                    volts(half),
                    supply.name
                ),
            )
            .at(self.part.span, format!("may go on from {}", volts(on)))
            .why(format!(
                "{} at {}, its middle at ground; long wires and open outputs leak as well",
                supply.name,
                volts(supply.range.hi)
            ))
            .help(match self.row.least.as_ref().filter(|least| least.volts > half) {
                Some(least) => format!(
                    "a threshold above {} and up to {}, which is what it gets at the least",
                    volts(half),
                    volts(down(least.volts))
                ),
                None => format!(
                    "a threshold above {}; it gets less than that now: less in front of it too",
                    volts(half)
                ),
            })
            .device(&self.row.part),
        )
    }
}
