//! One trouble, one finding: what follows from a thin cable, a reversed diode, a coil that draws too
//! much or a fuse that is too large is told with it, in its `why`, not beside it.
//!
//! **In:** the findings of all topics. **Out:** the same troubles, fewer findings; nothing is
//! dropped without being named. **Never here:** new numbers.

mod current;

use crate::{Cables, Calculations, calculate_on};
use current::OF_A_CONTACT;
use fiftytwo_circuit::{CoilReport, coil_report};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::{Finding, Severity};
use std::collections::BTreeMap;

/// So many sentences of what follows are told; the rest is counted.
const MOST_TOLD: usize = 6;
/// What a coil that moves too slowly or not at all brings about.
const OF_A_COIL: [&str; 5] = [
    "too-low-together",
    "coil-on-too-long",
    "contact-may-break-too-much",
    "contact-breaks-too-much",
    "watches-nothing",
];

/// Everything that is worked out of one scheme without any run.
#[derive(Debug)]
pub struct WorkedOut {
    /// The volts of every coil.
    pub coils: Vec<CoilReport>,
    /// Everything else.
    pub calculations: Calculations,
}

impl WorkedOut {
    /// Works everything out.
    pub fn of(machine: &Machine<'_>) -> Self {
        Self { coils: coil_report(&machine.wiring), calculations: calculate_on(machine) }
    }
    /// What is told of it: the findings of its coils and of all topics, gathered, in a fixed order.
    pub fn findings(&self) -> Vec<Finding> {
        let calculations = &self.calculations;
        gathered(
            &self.coils,
            calculations.findings(),
            &calculations.cables,
            &calculations.on_supply,
        )
    }
}

fn gathered(
    coils: &[CoilReport],
    rest: Vec<Finding>,
    cables: &Cables,
    on_supply: &BTreeMap<String, Vec<String>>,
) -> Vec<Finding> {
    let of_coils = coils.iter().flat_map(|coil| coil.findings.iter().cloned());
    let mut pool: Vec<Option<Finding>> = of_coils.chain(rest).map(Some).collect();
    reversed_diodes(&mut pool);
    cable_cures(&mut pool);
    thin_cables(&mut pool, cables);
    points_below_rating(&mut pool);
    large_fuses(&mut pool);
    unlike_pairs(&mut pool);
    slow_coils(&mut pool);
    tied_supplies(&mut pool);
    lamps_without_resistor(&mut pool);
    low_thresholds(&mut pool);
    no_cut_off(&mut pool);
    alike(&mut pool);
    coils.iter().for_each(|coil| current::draws_too_much(&mut pool, coils, coil));
    unlikely_values(&mut pool, on_supply);
    pool.into_iter().flatten().collect()
}

/// Takes out of the pool what passes, but for the one that it follows from.
fn take(pool: &mut [Option<Finding>], but: usize, is: impl Fn(&Finding) -> bool) -> Vec<Finding> {
    let slots = pool
        .iter_mut()
        .enumerate()
        .filter(|(index, slot)| *index != but && slot.as_ref().is_some_and(&is));
    slots.filter_map(|(_, slot)| slot.take()).collect()
}

fn places(pool: &[Option<Finding>], id: &str) -> Vec<usize> {
    let of = |slot: &Option<Finding>| slot.as_ref().is_some_and(|it| it.id == id);
    (0..pool.len()).filter(|index| of(&pool[*index])).collect()
}

/// Adds what follows to the reason, and the places and names of it.
fn follow(head: &mut Finding, what: &str, followers: Vec<Finding>) {
    if followers.is_empty() {
        return;
    }
    let mut told: Vec<String> =
        followers.iter().take(MOST_TOLD).map(|it| it.message.clone()).collect();
    if let Some(more @ 1..) = followers.len().checked_sub(MOST_TOLD) {
        told.push(format!("and {more} more of that kind"));
    }
    let follows = format!("{what}: {}", told.join("; "));
    head.why = Some(match head.why.take() {
        Some(why) => format!("{why}. {follows}"),
        None => follows,
    });
    for follower in followers {
        let new: Vec<String> =
            follower.devices.into_iter().filter(|it| !head.devices.contains(it)).collect();
        head.devices.extend(new);
    }
}

/// What may follow from one wrong number: amperes, volts and watts, not how the wiring is drawn.
const OF_A_NUMBER: [&str; 41] = [
    "cable-too-thin",
    "capacitor-operates-coil",
    "coil-driven-at-rest",
    "coil-power",
    "drive-too-high",
    "drive-too-low",
    "element-overloaded",
    "element-too-large",
    "fuse-below-load",
    "fuse-inrush-not-judged",
    "fuse-melts-at-inrush",
    "fuse-overloaded",
    "fuse-too-large",
    "ground-detector-too-strong",
    "ground-holds",
    "ground-moves",
    "heater-volts-low",
    "input-current",
    "input-not-off",
    "input-too-little",
    "lamp-dim",
    "lamp-inrush-operates",
    "lamp-overloaded",
    "momentary-coil-kept-on",
    "monitor-alone",
    "monitor-dark",
    "monitor-holds-coil",
    "monitor-near-pickup",
    "monitor-operates-coil",
    "monitor-short-holds-coil",
    "monitor-short-operates",
    "monitor-weak",
    "motor-start-weak",
    "motor-volts-low",
    "no-conductor-helps",
    "part-keeps-relay",
    "relay-may-not-hold",
    "resistor-keeps-relay",
    "resistor-power",
    "short-may-last",
    "short-not-cleared",
];

/// A value that can hardly be: what gets, draws and burns too much or too little follows from that.
fn unlikely_values(pool: &mut [Option<Finding>], on_supply: &BTreeMap<String, Vec<String>>) {
    for place in places(pool, "value-unlikely") {
        let Some(mut head) = pool[place].take() else { continue };
        let of_supply = head.devices.first().and_then(|name| on_supply.get(name));
        let followers = take(pool, place, |it| {
            let number = OF_A_NUMBER.contains(&it.id) || OF_A_COIL.contains(&it.id);
            let switched = OF_A_CONTACT.contains(&it.id);
            let first = it.devices.first();
            let named = match of_supply {
                Some(parts) => first.is_some_and(|first| parts.contains(first)),
                None => it.devices.iter().any(|name| head.devices.contains(name)),
            };
            // A detector's legs and the stray capacitance move grounds only; a supply's own volts make
            // coils' amperes unlikely as well.
            if of_supply.is_some() {
                let grounds =
                    head.message.contains("detector") || head.message.contains("stray capacitance");
                if grounds {
                    return it.id.starts_with("ground-") && named;
                }
                let draws = it.id == "value-unlikely" && it.message.contains(" and draws ");
                if draws && named {
                    return true;
                }
            }
            // A contact's own rating brings about nothing at the contact but what is told of it.
            let own = first.is_some_and(|first| head.devices.contains(first));
            named && (number || (switched && !own))
        });
        follow(&mut head, "So come about", followers);
        pool[place] = Some(head);
    }
}

/// A diode the wrong way round shorts its supply: what its coil and the coils beside it get, what
/// contacts break and what monitors see follows from that.
fn reversed_diodes(pool: &mut [Option<Finding>]) {
    for place in places(pool, "diode-reversed") {
        let Some(mut head) = pool[place].take() else { continue };
        let Some((coil, diodes)) = head
            .devices
            .clone()
            .split_first()
            .map(|(coil, diodes)| (coil.clone(), diodes.to_vec()))
        else {
            continue;
        };
        let by_diode = |it: &Finding| {
            diodes.iter().any(|diode| {
                let turned = format!("turn {diode} round");
                let cured = it.help.as_ref().is_some_and(|help| help.starts_with(&turned));
                it.devices.contains(diode) || (it.id == "drive-too-low" && cured)
            })
        };
        let of_coil = |it: &Finding| {
            it.devices.contains(&coil)
                && (OF_A_COIL.contains(&it.id)
                    || current::OF_A_FUSE.contains(&it.id)
                    || OF_A_CONTACT.contains(&it.id)
                    || matches!(it.id, "drive-too-low" | "coil-power"))
        };
        // Whatever draws together with this coil draws beside a short.
        let beside = |it: &Finding| it.id == "too-low-together" && it.message.contains(&coil);
        let followers = take(pool, place, |it| {
            it.id != "diode-reversed" && (by_diode(it) || of_coil(it) || beside(it))
        });
        follow(&mut head, "So come about", followers);
        pool[place] = Some(head);
    }
}

/// The cable's cure in numbers becomes that of the coil behind it.
fn cable_cures(pool: &mut [Option<Finding>]) {
    for place in places(pool, "drive-too-low") {
        let Some(mut coil) = pool[place].take() else { continue };
        let same = |it: &Finding| {
            matches!(it.id, "cable-too-thin" | "no-conductor-helps") && it.devices == coil.devices
        };
        let cable = take(pool, place, same).into_iter().next();
        if let Some(cable) = cable {
            let what = cable.message.split(": ").next().unwrap_or_default();
            coil.help = cable.help.map(|cure| format!("{what}: {cure}"));
            if let Some(at) = cable.at.filter(|_| cable.id == "cable-too-thin") {
                coil.others.push((at, cable.label));
            }
        }
        pool[place] = Some(coil);
    }
}

/// The cable that a cure names: "C4-1 is too thin or too long: …", and the cure.
fn named_cable(finding: &Finding) -> Option<(&str, &str)> {
    let starved = ["drive-too-low", "motor-volts-low", "heater-volts-low"].contains(&finding.id);
    let help = finding.help.as_deref().filter(|_| starved)?;
    help.split_once(" is too thin or too long: ")
}

/// The metres of "a run of 410 m at the most"; infinite where no run is told.
fn allowed_run(finding: &Finding) -> f64 {
    let cure = named_cable(finding).and_then(|(_, cure)| cure.split_once(" m at the most"));
    let run = cure.and_then(|(before, _)| before.rsplit_once("a run of ")).map(|(_, run)| run);
    run.and_then(|metres| metres.parse().ok()).unwrap_or(f64::INFINITY)
}

/// All coils, motors and heaters that one cable starves are one finding, with the cure that does for
/// all of them; shorts at its end and what the weak coils bring about are told with it.
fn thin_cables(pool: &mut [Option<Finding>], cables: &Cables) {
    let mut names: Vec<String> = Vec::new();
    for (name, _) in pool.iter().flatten().filter_map(named_cable) {
        if !names.iter().any(|known| known == name) {
            names.push(name.to_owned());
        }
    }
    for name in names {
        let of_cable = |it: &Finding| named_cable(it).is_some_and(|(cable, _)| cable == name);
        let starved: Vec<usize> =
            (0..pool.len()).filter(|index| pool[*index].as_ref().is_some_and(of_cable)).collect();
        let cable = cables.cables.iter().find(|it| it.cable == name);
        let deciding = cable.and_then(|cable| cable.coils.get(cable.deciding?)).map(|it| &it.coil);
        // A note (a typical value) leads only where nothing graver does; then the least run; then the
        // coil that decides.
        let rank = |index: &usize| {
            let it = pool[*index].as_ref();
            let run = it.map_or(f64::INFINITY, allowed_run);
            let note = it.is_some_and(|it| it.severity == Severity::Note);
            let decides = it.is_some_and(|it| it.devices.first() == deciding);
            (note, run, !decides)
        };
        let before = |a: &usize, b: &usize| {
            let (a, b) = (rank(a), rank(b));
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2))
        };
        let Some(place) = starved.iter().copied().min_by(before) else { continue };
        let strictest = starved
            .iter()
            .filter_map(|index| pool[*index].as_ref())
            .min_by(|a, b| allowed_run(a).total_cmp(&allowed_run(b)));
        let stricter = strictest
            .filter(|it| {
                pool[place].as_ref().is_some_and(|head| allowed_run(it) < allowed_run(head))
            })
            .and_then(|it| Some((named_cable(it)?.1.to_owned(), it.devices.first()?.clone())));
        let Some(mut head) = pool[place].take() else { continue };
        if let (Some((cure, part)), Some(help)) = (stricter, &mut head.help) {
            help.push_str(&format!("; for {part}: {cure}"));
        }
        let others = take(pool, place, of_cable);
        let coils: Vec<String> =
            others.iter().chain([&head]).filter_map(|it| it.devices.first().cloned()).collect();
        follow(&mut head, "Through the same cable", others);
        // A note swallows no finding.
        if head.severity == Severity::Note {
            pool[place] = Some(head);
            continue;
        }
        let brought = take(pool, place, |it| {
            OF_A_COIL.contains(&it.id) && it.devices.iter().any(|name| coils.contains(name))
        });
        follow(&mut head, "So come about", brought);
        let core = format!("{name}/");
        let shorts = take(pool, place, |it| {
            it.id == "short-not-cleared"
                && it.devices.first().is_some_and(|it| it.starts_with(&core))
        });
        let also = shorts.iter().filter_map(|it| it.help.as_ref());
        let also = also.min_by(|a, b| longest_run(a).total_cmp(&longest_run(b)));
        if let (Some(help), Some(also)) = (&mut head.help, also) {
            help.push_str("; for its fuses to see a short at its end ");
            help.push_str(also);
        }
        follow(&mut head, "Its fuses do not see a short at its end", shorts);
        pool[place] = Some(head);
    }
}

/// The metres of "a run of at most 276 m"; infinite where no run is told.
fn longest_run(cure: &str) -> f64 {
    let run = cure.split_once("a run of at most ").and_then(|(_, rest)| rest.split_once(" m"));
    run.and_then(|(metres, _)| metres.parse().ok()).unwrap_or(f64::INFINITY)
}

/// A rating that its own points contradict: what follows from the rating follows from that.
fn points_below_rating(pool: &mut [Option<Finding>]) {
    for place in places(pool, "fuse-points-below-rating") {
        let Some(mut head) = pool[place].take() else { continue };
        let fuse = head.devices.first().cloned().unwrap_or_default();
        let carries = format!("{fuse} carries ");
        let followers = take(pool, place, |it| match it.id {
            "fuse-too-large" => it.devices.first() == Some(&fuse),
            "short-not-cleared" => {
                it.message.starts_with(&carries) || it.message.contains(&format!(", and {carries}"))
            }
            _ => false,
        });
        follow(&mut head, "By its rating alone", followers);
        pool[place] = Some(head);
    }
}

/// One of a pair of fuses that something else is said of already.
fn unlike_pairs(pool: &mut [Option<Finding>]) {
    for place in places(pool, "fuses-of-a-pair-differ") {
        let Some(pair) = pool[place].take() else { continue };
        let told = pool.iter_mut().flatten().find(|it| {
            let first = it.devices.first();
            it.severity != Severity::Note
                && it.id.starts_with("fuse")
                && first.is_some_and(|first| pair.devices.contains(first))
        });
        match told {
            Some(head) => follow(head, "Besides", vec![pair]),
            None => pool[place] = Some(pair),
        }
    }
}

/// A fuse that is too large for its conductor is not told again for the shorts that it carries.
fn large_fuses(pool: &mut [Option<Finding>]) {
    for place in places(pool, "fuse-too-large") {
        let Some(mut head) = pool[place].take() else { continue };
        let fuse = head.devices.first().cloned().unwrap_or_default();
        let (begins, within) = (format!("{fuse} carries "), format!("and {fuse} carries "));
        let cable = head.message.split_once(" is too large for ").map(|(_, rest)| rest);
        let cable = cable.and_then(|rest| rest.split(" (").next()).unwrap_or_default();
        let core = format!("{cable}/");
        let shorts = take(pool, place, |it| {
            let carried = it.id == "short-not-cleared"
                && (it.message.starts_with(&begins) || it.message.contains(&within));
            let heats = it.id == "short-overheats-cable"
                && it.devices.iter().any(|name| name.starts_with(&core));
            carried || heats
        });
        follow(&mut head, "A short at the end of its cable", shorts);
        let slower = take(pool, place, |it| {
            it.id == "fuses-not-selective" && it.devices.first() == Some(&fuse)
        });
        follow(&mut head, "So large it is also slower than what stands before it", slower);
        pool[place] = Some(head);
    }
}

/// A lamp whose resistor is missing or too small burns, and shorted it puts too much on its coil or
/// its resistor: one resistor cures it all.
fn lamps_without_resistor(pool: &mut [Option<Finding>]) {
    for place in places(pool, "monitor-alone") {
        let Some(mut head) = pool[place].take() else { continue };
        let burns = take(pool, place, |it| {
            it.id == "lamp-overloaded" && it.devices.iter().all(|it| head.devices.contains(it))
        });
        follow(&mut head, "As it is", burns);
        pool[place] = Some(head);
    }
    for place in places(pool, "monitor-short-operates") {
        let Some(mut head) = pool[place].take() else { continue };
        let burns = take(pool, place, |it| {
            let named = || it.devices.iter().all(|it| head.devices.contains(it));
            let shorted = || {
                head.devices
                    .iter()
                    .any(|lamp| it.message.contains(&format!(" with {lamp} shorted;")))
            };
            (it.id == "lamp-overloaded" && named()) || (it.id == "resistor-power" && shorted())
        });
        follow(&mut head, "As it is", burns);
        pool[place] = Some(head);
    }
    // What is off because too much stands in front of it is the same trouble as getting too little.
    for place in places(pool, "monitor-dark") {
        let Some(mut head) = pool[place].take() else { continue };
        let part = head.devices.first().cloned();
        let weak = take(pool, place, |it| {
            matches!(it.id, "lamp-dim" | "input-too-little") && it.devices.first() == part.as_ref()
        });
        follow(&mut head, "In any order", weak);
        pool[place] = Some(head);
    }
    for place in places(pool, "lamp-overloaded") {
        let Some(mut head) = pool[place].take() else { continue };
        let lamp = head.devices.first().cloned().unwrap_or_default();
        let shorted = format!(" with {lamp} shorted;");
        let burns =
            take(pool, place, |it| it.id == "resistor-power" && it.message.contains(&shorted));
        follow(&mut head, "In front of it", burns);
        pool[place] = Some(head);
    }
}

/// What a ground does to an input that goes on at less than half of its supply.
fn low_thresholds(pool: &mut [Option<Finding>]) {
    for place in places(pool, "input-threshold-low") {
        let Some(mut head) = pool[place].take() else { continue };
        let moved = take(pool, place, |it| {
            let moves = it.id == "ground-moves" && it.message.contains(" may go on");
            (moves || it.id == "input-off-too-low") && it.devices == head.devices
        });
        follow(&mut head, "So it may come", moved);
        pool[place] = Some(head);
    }
}

/// Two batteries that hang together have both their ground detectors side by side: the tie is the trouble.
fn tied_supplies(pool: &mut [Option<Finding>]) {
    for place in places(pool, "supplies-tied") {
        let Some(mut head) = pool[place].take() else { continue };
        let pair = head.message.split(" are ").next().unwrap_or_default().to_owned();
        let detectors = take(pool, place, |it| {
            it.id == "two-ground-detectors"
                && it.message.contains("measures another supply's wires")
                && it.devices.iter().all(|supply| pair.split(" and ").any(|one| one == supply))
        });
        follow(&mut head, "So comes about", detectors);
        pool[place] = Some(head);
    }
}

/// What follows from a finding of this name: of its coil, as `belongs` says.
fn of_its_coil(
    pool: &mut [Option<Finding>],
    id: &str,
    words: &str,
    belongs: impl Fn(&str, &Finding) -> bool,
) {
    for place in places(pool, id) {
        let Some(mut head) = pool[place].take() else { continue };
        let coil = head.devices.first().cloned().unwrap_or_default();
        let followed = take(pool, place, |it| belongs(&coil, it));
        follow(&mut head, words, followed);
        pool[place] = Some(head);
    }
}

/// A coil that does not surely move leaves its current to whatever opens first.
fn slow_coils(pool: &mut [Option<Finding>]) {
    of_its_coil(pool, "drive-too-low", "So comes about", |coil, it| {
        let slow = format!("at its least volts {coil} does not surely move");
        it.id == "contact-may-break-too-much"
            && it.why.as_ref().is_some_and(|why| why.starts_with(&slow))
    });
}

/// A momentary coil that nothing cuts off leaves its current to whatever opens first.
fn no_cut_off(pool: &mut [Option<Finding>]) {
    of_its_coil(pool, "momentary-coil-without-cut-off", "So come about", |coil, it| {
        matches!(it.id, "contact-may-break-too-much" | "coil-on-too-long")
            && it.devices.iter().any(|device| device == coil)
    });
}

/// Two fuses, one in each pole, or two contacts of one line, of which the same is said.
fn alike(pool: &mut [Option<Finding>]) {
    for place in 0..pool.len() {
        let Some(mut head) = pool[place].take() else { continue };
        let counts = ["fuse-", "contact-", "short-overheats", "short-not-cleared", "coil-power"]
            .iter()
            .any(|it| head.id.starts_with(it));
        if counts && !head.devices.is_empty() {
            let told = without_names(&head);
            let same = |it: &Finding| it.id == head.id && without_names(it) == told;
            let others: Vec<String> = take(pool, place, same)
                .into_iter()
                .filter_map(|it| it.devices.into_iter().next())
                .collect();
            if !others.is_empty() {
                let also = format!("the same holds for {}", others.join(" and "));
                head.why = Some(match head.why.take() {
                    Some(why) => format!("{why}; {also}"),
                    None => also,
                });
                head.devices.extend(others);
            }
        }
        pool[place] = Some(head);
    }
}

/// What is said, without the names of what it is said of.
fn without_names(finding: &Finding) -> (String, String) {
    let mut names: Vec<&String> = finding.devices.iter().collect();
    names.sort_by_key(|name| std::cmp::Reverse(name.len()));
    let bare =
        |text: &str| names.iter().fold(text.to_owned(), |text, name| text.replace(*name, ""));
    (bare(&finding.message), bare(finding.help.as_deref().unwrap_or_default()))
}
