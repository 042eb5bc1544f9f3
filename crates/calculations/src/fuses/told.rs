//! Findings about fuses, in the designer's words.

use super::{CLEARS_WITHIN, FuseReport, Selective, ShortReport};
use crate::figures::{digits, listed};
use fiftytwo_scheme::{Cable, CableId, Finding, PartId, PartKind, Scheme, Severity};

/// The share of its melting that moments may use up (common practice, no source).
const MOST_USED: f64 = 1.0;

fn amps(value: f64) -> String {
    digits(value, 3)
}

fn time(seconds: f64) -> String {
    if seconds < 1.0 {
        format!("{} ms", digits(seconds * 1e3, 2))
    } else {
        format!("{} s", digits(seconds, 2))
    }
}

fn placed(scheme: &Scheme, id: PartId, finding: Finding, label: String) -> Finding {
    let part = &scheme.parts[id];
    let finding = finding.device(&part.name);
    match part.at {
        Some(at) => finding.at(at.span, label),
        None => finding.at(part.span, label),
    }
}

/// A fuse in the loop of a short.
pub(super) struct InLoop {
    pub(super) fuse: PartId,
    pub(super) rating: f64,
    /// The greatest current of one load behind it, A.
    pub(super) needs: f64,
    pub(super) has_points: bool,
    /// It stands in the pole of the core.
    pub(super) own_pole: bool,
    /// The least current at which it surely clears in time, A.
    pub(super) opens_at: Option<f64>,
}

/// The loop of a short: the lowest voltage of its supply, V, and what the cores of the cable that is to be
/// changed take of it, hot, ohm. Everything else of the loop stays.
#[derive(Clone, Copy)]
pub(super) struct Round {
    pub(super) volts: f64,
    pub(super) cable: f64,
}

impl Round {
    /// What the conductors of a cable must be for at least so many amperes instead of `least`. A
    /// twentieth is kept for tables that do not follow the area quite.
    fn for_amps(self, cable: &Cable, least: f64, amps: f64) -> String {
        let others = self.volts / least - self.cable;
        let share = 0.95 * (self.volts / amps - others) / self.cable;
        if !share.is_finite() || share <= 0.0 {
            return format!(
                "less resistance before {}: no conductors of its own do ({} A at the most)",
                cable.name,
                digits(self.volts / others, 3)
            );
        }
        format!(
            "cores in {} of {} times the area or a run of at most {} m ({} A, a twentieth to spare)",
            cable.name,
            digits(1.0 / share, 2),
            digits((cable.length.hi * share).floor(), 3),
            digits(amps, 3)
        )
    }
}

/// A finding about a short at the far end of a core.
pub(super) struct OfCore {
    pub(super) cable: CableId,
    /// The nearest fuse.
    pub(super) fuse: Option<PartId>,
    pub(super) core: String,
    pub(super) least: f64,
    pub(super) finding: Finding,
}

/// Of the findings of one kind about the cores of one cable behind one fuse, that of the least
/// current, which names the others.
pub(super) fn once_for_each_cable(found: Vec<OfCore>) -> Vec<Finding> {
    let mut groups: Vec<Vec<OfCore>> = Vec::new();
    for item in found {
        let same = |first: &OfCore| {
            (first.cable, first.fuse, first.finding.id) == (item.cable, item.fuse, item.finding.id)
        };
        match groups.iter_mut().find(|group| group.first().is_some_and(same)) {
            Some(group) => group.push(item),
            None => groups.push(vec![item]),
        }
    }
    let told = groups.into_iter().filter_map(|mut group| {
        group.sort_by(|a, b| a.least.total_cmp(&b.least));
        let mut items = group.into_iter();
        let mut worst = items.next()?.finding;
        let others: Vec<String> = items.map(|item| item.core).collect();
        if !others.is_empty() {
            let also = format!("the same holds for {}", listed(&others));
            worst.why =
                Some(worst.why.map_or_else(|| also.clone(), |why| format!("{why}; {also}")));
            worst.devices.extend(others);
        }
        Some(worst)
    });
    told.collect()
}

/// What is wrong with a short at the far end of a core.
pub(super) fn short(
    scheme: &Scheme,
    core: PartId,
    cable: &Cable,
    report: &ShortReport,
    fuses: &[InLoop],
    round: Round,
) -> Vec<Finding> {
    let Some([least, greatest]) = report.amps else { return Vec::new() };
    let here = format!("a short at the far end of {} ({})", report.core, report.place);
    let (current, most) = (amps(least), amps(greatest));
    // With the fuses of its loop, so that the cores of one loop are one trouble.
    let told = |finding: Finding| {
        let finding = placed(scheme, core, finding, format!("{current} A in a short"));
        report.fuses.iter().fold(finding, |finding, fuse| finding.device(fuse))
    };
    let Some(smallest) = fuses.iter().min_by(|a, b| a.rating.total_cmp(&b.rating)) else {
        let finding = Finding::new(
            "cable-unfused",
            Severity::Finding,
            format!("{} has no fuse before it: {here} draws {current} to {most} A", report.core),
        )
        .help(format!(
            "a fuse near the supply that opens at {current} A, if none is left out on purpose"
        ));
        return vec![placed(scheme, core, finding, "no fuse before it".to_owned())];
    };
    let (fuse, rating) = (&scheme.parts[smallest.fuse].name, smallest.rating);
    let mut findings = Vec::new();
    // What a fuse without points surely carries, and may carry for an hour and more.
    let times = |times: f64| if smallest.has_points { rating } else { rating * times };
    if least <= times(CARRIES_UP_TO) {
        let carries = if least <= rating {
            format!("{fuse} carries {} A for ever", amps(rating))
        } else {
            format!(
                "{fuse} carries {} A for an hour and more (general-purpose fuse of {} A, typical)",
                amps(times(CARRIES_UP_TO)),
                amps(rating)
            )
        };
        let finding = Finding::new(
            "short-not-cleared",
            Severity::Finding,
            format!("{here} draws only {current} A, and {carries}"),
        )
        .why(format!("supply low, conductors hot; at the most it draws {most} A"))
        .help(smaller(smallest, least, fuse, (cable, round)));
        findings.push(told(finding));
        return findings;
    }
    findings.extend(carried_by_its_own(scheme, core, (cable, round), report, fuses));
    if least < times(OPENS_FROM) {
        let finding = Finding::note(
            "short-may-last",
            format!(
                "{here} draws only {current} A: whether {fuse} ({} A) opens within an hour is not \
                 sure below {} A (general-purpose fuse, typical)",
                amps(rating),
                amps(times(OPENS_FROM))
            ),
        )
        .why(format!("supply low, conductors hot; at the most it draws {most} A"))
        .help(smaller(smallest, least, fuse, (cable, round)));
        findings.push(placed(scheme, core, finding, format!("{current} A in a short")));
    }
    // One without points may clear it sooner than the others: then nothing is said of its time.
    let judged = fuses.iter().all(|fuse| fuse.has_points);
    match report.cleared_within {
        Some([seconds, _]) if seconds <= CLEARS_WITHIN => {}
        _ if !judged => {}
        late => {
            let when = late.map_or_else(
                || "may never be cleared".to_owned(),
                |[seconds, _]| format!("may stand for {}", time(seconds)),
            );
            let finding = Finding::new(
                "short-not-cleared",
                Severity::Finding,
                format!("{here} {when}: it draws only {current} A"),
            )
            .why(format!(
                "supply low, conductors hot; the fuses in its loop are {}; it should be cleared \
                 within {CLEARS_WITHIN} s",
                listed(&report.fuses)
            ))
            .help(format!(
                "a fuse that opens within {CLEARS_WITHIN} s at {current} A{}; or {}",
                soonest(scheme, fuses).map_or_else(String::new, |(name, amps)| format!(
                    " ({name} does so from {} A)",
                    digits(amps, 3)
                )),
                soonest(scheme, fuses).map_or_else(
                    || format!("thicker cores in {} or a shorter run", cable.name),
                    |(_, amps)| round.for_amps(cable, least, amps)
                )
            ));
            findings.push(told(finding));
        }
    }
    if let (Some(heats), Some([seconds, _])) = (report.heats, report.cleared_within)
        && heats > 1.0
        && seconds <= CLEARS_WITHIN
    {
        let finding = Finding::new(
            "short-overheats-cable",
            Severity::Finding,
            format!(
                "{here} heats {} to {} times what its conductor stands",
                report.cable,
                digits(heats, 3)
            ),
        )
        .why(
            "energy until the fuse has cleared against 115 A and root s for one mm2 of copper"
                .to_owned(),
        )
        .help(format!(
            "a faster fuse than {}, or conductors of {} times the area",
            report.cleared_by.as_ref().unwrap_or(fuse),
            digits((heats.sqrt() * 20.0).ceil() / 20.0, 3)
        ));
        findings.push(placed(scheme, core, finding, format!("{current} to {most} A")));
    }
    findings
}

/// Which fuse of the loop opens in time at the least current, as far as points tell.
fn soonest<'s>(scheme: &'s Scheme, fuses: &[InLoop]) -> Option<(&'s str, f64)> {
    let known = fuses.iter().filter_map(|fuse| Some((fuse.fuse, fuse.opens_at?)));
    let (fuse, opens_at) = known.min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((&scheme.parts[fuse].name, opens_at))
}

/// A general-purpose fuse does not open within the conventional time (an hour and more) at so many
/// times its rating (conventional non-fusing current, from memory of IEC 60269).
const CARRIES_UP_TO: f64 = 1.25;

/// A general-purpose fuse surely opens only from 1.6 times its rating (conventional fusing current,
/// from memory of IEC 60269): below so many times what one load draws no fuse is a cure.
const OPENS_FROM: f64 = 1.6;

/// A smaller fuse, if one can carry its loads too, or less resistance.
fn smaller(own: &InLoop, least: f64, name: &str, (cable, round): (&Cable, Round)) -> String {
    let opens_from = own.opens_at.unwrap_or(own.rating * OPENS_FROM);
    let conductors = round.for_amps(cable, least, opens_from);
    let least_amps = amps(least);
    if own.needs * OPENS_FROM < least {
        format!("{name} of well under {least_amps} A, or {conductors}")
    } else {
        let needs = amps(own.needs);
        format!("{conductors}; a smaller fuse is no cure: {name} has to carry {needs} A")
    }
}

/// The nearest fuse on the core's own pole carries the short for ever, and only another one opens.
fn carried_by_its_own(
    scheme: &Scheme,
    core: PartId,
    at: (&Cable, Round),
    report: &ShortReport,
    fuses: &[InLoop],
) -> Option<Finding> {
    let [least, _] = report.amps?;
    let own = fuses.first().filter(|own| own.own_pole && least <= own.rating)?;
    let others = fuses.iter().filter(|other| least > other.rating);
    let others: Vec<String> = others.map(|other| scheme.parts[other.fuse].name.clone()).collect();
    let (name, rating) = (&scheme.parts[own.fuse].name, amps(own.rating));
    let finding = Finding::new(
        "short-not-cleared",
        Severity::Finding,
        format!(
            "{name} carries {rating} A for ever, and a short at the far end of {} ({}) may draw \
             only {} A: {} alone may open",
            report.core,
            report.place,
            amps(least),
            listed(&others)
        ),
    )
    .why("a ground on each pole may short the circuit past one of its fuses")
    .help(smaller(own, least, name, at));
    Some(placed(scheme, core, finding, format!("{} A in a short", amps(least))))
}

/// What is wrong with a fuse.
pub(super) fn fuse(scheme: &Scheme, id: PartId, report: &FuseReport) -> Vec<Finding> {
    let name = &report.fuse;
    let rating = amps(report.rating);
    let mut findings = Vec::new();
    let carries = &report.carries;
    if let Some(begin) = report.points_begin.filter(|begin| *begin <= report.rating) {
        let begin = amps(begin);
        let finding = Finding::new(
            "fuse-points-below-rating",
            Severity::Finding,
            format!("{name} is rated {rating} A, and its points say that it may open at {begin} A"),
        )
        .help(format!("the rating of that curve, or the points of a fuse of {rating} A"));
        findings.push(placed(scheme, id, finding, format!("{rating} A")));
    }
    if carries.steady > report.rating {
        let steady = amps(carries.steady);
        let finding = Finding::new(
            "fuse-overloaded",
            Severity::Finding,
            format!("{name} ({rating} A) may have to carry {steady} A for ever"),
        )
        .why("every load behind it at once, at the supply's highest voltage".to_owned())
        .help(format!(
            "{} A or more, if the conductors behind it allow, or fewer loads behind it",
            up(carries.steady)
        ));
        let finding = placed(scheme, id, finding, format!("{rating} A"));
        findings.push(mostly(finding, carries.greatest_steady.as_ref()));
    }
    if report.has_points && carries.used.is_some_and(|used| used > MOST_USED) {
        let longest = carries.moments.last().map_or(0.0, |moment| moment.seconds);
        let loads: Vec<String> = carries.moments.iter().map(|moment| moment.load.clone()).collect();
        let finding = Finding::new(
            "fuse-melts-at-inrush",
            Severity::Finding,
            format!(
                "{name} ({rating} A) may open while its loads draw {} A for up to {}",
                amps(carries.most),
                time(longest)
            ),
        )
        .why(format!("{} at once, at the supply's highest voltage", listed(&loads)))
        .help(format!(
            "a fuse that stands {} A for {}, or the loads on fuses of their own",
            up(carries.most),
            time(longest)
        ));
        let greatest = carries.moments.iter().max_by(|a, b| a.amps.total_cmp(&b.amps));
        let greatest = greatest.map(|moment| (moment.load.clone(), moment.amps));
        let finding = placed(scheme, id, finding, format!("{rating} A"));
        findings.push(mostly(finding, greatest.as_ref()));
    }
    let below = below_load(scheme, id, report);
    if below.is_none() {
        findings.extend(inrush_not_judged(scheme, id, report));
    }
    findings.extend(below);
    if let Some(thin) = &report.thinnest
        && report.rating > thin.largest * (1.0 + 1e-9)
    {
        let beside = match thin.side_by_side {
            1 => String::new(),
            count => format!("{} ", crate::cables::counted(count)),
        };
        let largest = amps(thin.largest);
        let finding = Finding::new(
            "fuse-too-large",
            Severity::Finding,
            format!(
                "{name} ({rating} A) is too large for {} ({beside}{}): at most {largest} A",
                thin.cable, thin.size
            ),
        )
        .why(format!("{} is behind it; limit by {}", thin.core, thin.source))
        .help(format!("{largest} A or less, or conductors that allow {rating} A"));
        findings.push(placed(scheme, id, finding, format!("{rating} A")));
    }
    findings.extend(not_selective(scheme, id, report));
    findings.extend(selectivity_not_known(scheme, id, report));
    findings
}

/// The load that draws the most, named.
fn mostly(mut finding: Finding, greatest: Option<&(String, f64)>) -> Finding {
    if let Some((load, draws)) = greatest {
        let most = format!("the most of it {load}, {} A", amps(*draws));
        finding.why =
            Some(finding.why.map_or_else(|| most.clone(), |why| format!("{why}; {most}")));
        finding.devices.push(load.clone());
    }
    finding
}

/// A fuse without points that is rated less than one coil behind it draws alone.
fn below_load(scheme: &Scheme, id: PartId, report: &FuseReport) -> Option<Finding> {
    let (coil, draws, lasts) = report.largest.as_ref()?;
    if report.has_points || *draws <= report.rating {
        return None;
    }
    let (name, rating, up_to) = (&report.fuse, amps(report.rating), up(*draws));
    let (draws, lasts) = (amps(*draws), time(*lasts));
    let finding = Finding::new(
        "fuse-below-load",
        Severity::Finding,
        format!(
            "{name} ({rating} A) is rated less than {coil} alone draws, {draws} A for up to {lasts}, \
             and has no time-current points that say it stands that"
        ),
    )
    .why("at the supply's highest voltage, the coil and the conductors at their coldest")
    .help(format!(
        "{up_to} A or more, if the conductors behind it allow; or the points of a fuse that stands \
         {up_to} A for {lasts}"
    ));
    Some(placed(scheme, id, finding, format!("{rating} A")).device(coil))
}

/// Three figures, never less than the value.
fn up(value: f64) -> String {
    amps(crate::words::up(value))
}

/// A fuse without points whose loads draw more than its rating for a while. Typical times only
/// silence it: they never say that it melts.
fn inrush_not_judged(scheme: &Scheme, id: PartId, report: &FuseReport) -> Option<Finding> {
    let carries = &report.carries;
    let stands = carries.used.is_some_and(|used| used <= MOST_USED);
    if report.has_points || carries.most <= report.rating || stands {
        return None;
    }
    let longest = carries.moments.last()?;
    let (name, rating, most) = (&report.fuse, amps(report.rating), amps(carries.most));
    let finding = Finding::note(
        "fuse-inrush-not-judged",
        format!(
            "{name} ({rating} A) has to stand {most} A for up to {}, and has no time-current points",
            time(longest.seconds)
        ),
    )
    .why("every load behind it at once, at the supply's highest voltage")
    .help(format!(
        "give {name} the points of a fuse that stands {most} A for {}",
        time(longest.seconds)
    ));
    Some(placed(scheme, id, finding, format!("{rating} A")))
}

/// Both have points, and these do not reach far enough.
fn selectivity_not_known(scheme: &Scheme, id: PartId, report: &FuseReport) -> Option<Finding> {
    let upstream = report.upstream.as_ref()?;
    let Selective::Unknown { why, cure } = &upstream.selective else { return None };
    let both = report.has_points
        && scheme.part_named(&upstream.fuse).is_some_and(|above| {
            matches!(scheme.parts[above].kind, PartKind::Fuse { curve: Some(_), .. })
        });
    let finding = Finding::note(
        "selectivity-not-known",
        format!("whether {} opens before {} is not known: {why}", report.fuse, upstream.fuse),
    )
    .help(cure.clone());
    both.then(|| placed(scheme, id, finding, format!("upstream of it: {}", upstream.fuse)))
}

fn not_selective(scheme: &Scheme, id: PartId, report: &FuseReport) -> Option<Finding> {
    let upstream = report.upstream.as_ref()?;
    let (name, above) = (&report.fuse, &upstream.fuse);
    if let Selective::Never { why } = &upstream.selective {
        return Some(never_selective(scheme, id, report, (above, why)));
    }
    let Selective::No { from, clears, melts } = &upstream.selective else { return None };
    let typical = !upstream.typical.is_empty();
    let clears = clears.map_or_else(|| "never".to_owned(), time);
    let text = format!(
        "{name} and {above} may both open: at {} A {name} may need {clears}, {above} may melt after {}",
        amps(*from),
        time(*melts)
    );
    let severity = if typical { Severity::Note } else { Severity::Finding };
    let mut why = format!(
        "a short right behind {name} draws up to {} A; everything behind {above} then goes dead",
        amps(upstream.greatest)
    );
    if typical {
        why.push_str("; by typical curves: ");
        why.push_str(&upstream.typical.join("; "));
    }
    let finding = Finding::new("fuses-not-selective", severity, text).why(why).help(format!(
        "{above} should not melt within {clears} at {} A: a larger or slower one, or a faster {name}",
        amps(*from)
    ));
    Some(placed(scheme, id, finding, format!("upstream of it: {above}")))
}

/// The downstream fuse is no smaller than the one upstream, or both are alike.
fn never_selective(
    scheme: &Scheme,
    id: PartId,
    report: &FuseReport,
    (above, why): (&str, &str),
) -> Finding {
    let name = &report.fuse;
    let rating = scheme.part_named(above).and_then(|part| match &scheme.parts[part].kind {
        PartKind::Fuse { rating, .. } => Some(rating.lo),
        _ => None,
    });
    let help = match rating {
        Some(rating) => format!(
            "{above} of {} A or more, if the conductors behind it allow, or {name} of {} A or less, \
             if its loads allow (1 to 1.6)",
            up(report.rating * OPENS_FROM),
            digits(rating / OPENS_FROM, 3)
        ),
        None => format!("a slower {above} or a faster {name}"),
    };
    let finding = Finding::new(
        "fuses-not-selective",
        Severity::Finding,
        format!("{name} and {above} open together: {why}"),
    )
    .why(format!("after a short behind {name} everything behind {above} goes dead"))
    .help(help);
    placed(scheme, id, finding, format!("upstream of it: {above}"))
}

/// One note for all fuses that have no points.
pub(super) fn without_points(names: &[String]) -> Option<Finding> {
    let first = names.first()?;
    let have = if names.len() == 1 { "has" } else { "have" };
    let finding = Finding::note(
        "fuse-not-judged",
        format!(
            "{} {have} no time-current points: when {} a short, and what {} at inrush, is not \
             judged",
            listed(names),
            if names.len() == 1 { "it clears" } else { "they clear" },
            if names.len() == 1 { "it stands" } else { "they stand" },
        ),
    )
    .help(
        "give each a curve with points from its data sheet, such as point \"30 A\" \"20 to 100 s\"",
    );
    Some(finding.device(first))
}
