//! Why something does not come: what stands in the way of a coil or a device, what else it needs, and
//! what changes by itself.
//!
//! **In:** a state, a goal, what is under way. **Out:** the smallest set of contacts that bars it,
//! each in the designer's words, and whether closing them is enough, asked of the circuit.
//! **Never here:** whether somebody may close them.

use crate::acting::Pending;
use crate::machine::{Evaluator, Look, State, UnitKind, volts_text};
use crate::play::ms;
use fiftytwo_circuit::{Certainty, Positions, SectionId, Way, falls_below_dropout, reaches_pickup};
use fiftytwo_scheme::{Atom, Coil, DeviceId, DeviceKind, PartId, PartKind, Scheme};

/// What is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Goal {
    /// A coil driven.
    Coil(PartId),
    /// A device in a position (index into its positions).
    Position(DeviceId, u8),
}

/// One thing in the way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bar {
    /// The contact, link or fuse.
    pub part: PartId,
    /// It and why, in words.
    pub words: String,
}

/// What stands in the way.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WhyNot {
    /// What was wanted, "52 closed".
    pub goal: String,
    /// The coil that was looked at.
    pub coil: Option<PartId>,
    /// One sentence.
    pub sentence: String,
    /// One more beside it.
    pub beside: String,
    /// The smallest set of contacts in the way.
    pub bars: Vec<Bar>,
    /// Of these one is enough: ways in parallel.
    pub one_of: Vec<Bar>,
    /// Closing the bars, and one of `one_of` if there are any, drives the coil.
    pub enough: bool,
    /// What then still stands in the way.
    pub then: Vec<String>,
    /// What changes by itself, and when.
    pub soon: Vec<String>,
}

/// Named at most.
const MOST_NAMED: usize = 5;

/// What stands in the way of a goal.
pub fn why_not(
    evaluator: &Evaluator<'_, '_>,
    state: &State,
    goal: Goal,
    (now, pending): (i64, &[Pending]),
) -> WhyNot {
    let look = evaluator.look(state);
    let ask = Ask { evaluator, look: &look, scheme: evaluator.machine.scheme, now, pending };
    match goal {
        Goal::Coil(coil) => ask.coil(format!("{} driven", ask.scheme.parts[coil].name), coil),
        Goal::Position(device, position) => ask.position(device, position),
    }
}

struct Ask<'a, 'e, 'm, 's> {
    evaluator: &'a Evaluator<'m, 's>,
    look: &'a Look<'e, 'm, 's>,
    scheme: &'s Scheme,
    now: i64,
    pending: &'a [Pending],
}

impl<'s> Ask<'_, '_, '_, 's> {
    fn position(&self, device: DeviceId, position: u8) -> WhyNot {
        let item = &self.scheme.devices[device];
        let word = item.positions.get(usize::from(position)).map_or("?", String::as_str);
        let goal = format!("{} {word}", item.name);
        let there = self.look.atom(Atom::Position(device, position)).sure();
        if there {
            let sentence = format!("{} is {word} already.", item.name);
            return WhyNot { goal, sentence, enough: true, ..WhyNot::default() };
        }
        let coils = item.parts.iter().copied().filter(|part| {
            let placed = self.scheme.parts[*part].at.is_some();
            placed
                && matches!(&self.scheme.parts[*part].kind,
                            PartKind::Coil(coil) if coil.drives_to == position)
        });
        let mut answers: Vec<WhyNot> = coils.map(|coil| self.coil(goal.clone(), coil)).collect();
        answers.sort_by_key(|answer| answer.bars.len() + usize::from(!answer.one_of.is_empty()));
        if let Some(mut first) = answers.into_iter().next() {
            self.mechanism(device, position, &mut first);
            return first;
        }
        let follows = matches!(item.kind, DeviceKind::Relay | DeviceKind::Timer { .. });
        let sentence = if follows && position == 0 {
            let driven = item.parts.iter().copied().find(|part| self.look.pickup(*part).possible());
            driven.map_or_else(
                || format!("{} is on its way to {word}.", item.name),
                |coil| format!("{} is still driven.", self.scheme.parts[coil].name),
            )
        } else {
            format!("No coil in a circuit drives {} to {word}.", item.name)
        };
        WhyNot { goal, sentence, soon: self.moves_of(device), ..WhyNot::default() }
    }

    /// What a driven coil alone does not bring about.
    fn mechanism(&self, device: DeviceId, position: u8, answer: &mut WhyNot) {
        let item = &self.scheme.devices[device];
        if let (DeviceKind::Breaker { energy: Some(energy), .. }, 1) = (&item.kind, position)
            && !self.look.atom(Atom::Charged(device)).sure()
        {
            answer.then.push(format!("the {} of {} is not charged", energy.name, item.name));
        }
        if position == 1 && matches!(item.kind, DeviceKind::Breaker { .. }) {
            let trips = item.parts.iter().copied().filter(|part| {
                matches!(&self.scheme.parts[*part].kind,
                         PartKind::Coil(coil) if coil.drives_to == 0)
                    && self.look.pickup(*part).possible()
            });
            answer.then.extend(trips.map(|coil| {
                format!("{} is driven: it would trip at once", self.scheme.parts[coil].name)
            }));
        }
        answer.soon.extend(self.moves_of(device));
        answer.soon.dedup();
        self.beside(answer);
    }

    fn moves_of(&self, device: DeviceId) -> Vec<String> {
        let machine = self.evaluator.machine;
        let own = |pending: &&Pending| match machine.units[pending.unit].kind {
            UnitKind::Relay(id)
            | UnitKind::Bistable(id)
            | UnitKind::Stroke(id)
            | UnitKind::Energy(id) => id == device,
            _ => false,
        };
        self.pending.iter().filter(own).map(|pending| self.when(pending)).collect()
    }

    fn when(&self, pending: &Pending) -> String {
        let from = ms((pending.earliest - self.now).max(0));
        let what = &pending.what;
        match pending.latest.map(|latest| ms((latest - self.now).max(0))) {
            Some(to) if (to - from).abs() < f64::EPSILON => format!("{what} in {to} ms"),
            Some(to) => format!("{what} in {from} to {to} ms"),
            None => format!("{what}, from {from} ms on"),
        }
    }

    fn coil(&self, goal: String, coil: PartId) -> WhyNot {
        let wiring = &self.evaluator.machine.wiring;
        let name = &self.scheme.parts[coil].name;
        let base = WhyNot { goal, coil: Some(coil), ..WhyNot::default() };
        let Some(section) = wiring.section_of(coil) else {
            return WhyNot { sentence: format!("{name} stands in no circuit."), ..base };
        };
        if self.look.pickup(coil).sure() {
            let sentence = format!("Nothing stands in the way of its coil: {name} is driven.");
            return WhyNot { sentence, enough: true, soon: self.moves_of_coil(coil), ..base };
        }
        let ways = wiring.ways(coil);
        if ways.list.is_empty() {
            let sentence = format!("No way leads from a supply through {name} and back.");
            return WhyNot { sentence, ..base };
        }
        let key = self.look.positions(section);
        let live = self.look.live();
        let mut dead: Vec<&str> = Vec::new();
        let mut sets: Vec<Vec<PartId>> = Vec::new();
        for way in &ways.list {
            if !live.lives(way.supply) {
                let supply = self.scheme.supplies[way.supply].name.as_str();
                if !dead.contains(&supply) {
                    dead.push(supply);
                }
                continue;
            }
            let open = self.open_on(way, section, &key);
            if !sets.contains(&open) {
                sets.push(open);
            }
        }
        if sets.is_empty() {
            let sentence = format!("{} is lost: nothing drives {name}.", dead.join(", "));
            let then = dead.iter().map(|supply| format!("{supply} is lost")).collect();
            return WhyNot { sentence, then, ..base };
        }
        let fewest = sets.iter().map(Vec::len).min().unwrap_or(0);
        if fewest == 0 {
            return self.weak(base, coil, section, &key);
        }
        sets.retain(|set| set.len() == fewest);
        let (bars, one_of) = split(&sets);
        let mut tried = key;
        for part in bars.iter().chain(one_of.first()) {
            self.close(section, &mut tried, *part);
        }
        let enough = self.drives(section, &tried, coil);
        let bar = |part: &PartId| Bar { part: *part, words: self.words(*part) };
        let mut answer = WhyNot {
            bars: bars.iter().map(bar).collect(),
            one_of: one_of.iter().map(bar).collect(),
            enough,
            ..base
        };
        if !enough {
            answer.then.push(format!("{name} gets too little voltage, or a contact bypasses it"));
        }
        answer.sentence = sentence(&answer);
        answer.soon = self.soon(&answer);
        self.beside(&mut answer);
        answer
    }

    /// A way is whole and still the coil does not surely move.
    fn weak(&self, base: WhyNot, coil: PartId, section: SectionId, key: &Positions) -> WhyNot {
        let wiring = &self.evaluator.machine.wiring;
        let name = &self.scheme.parts[coil].name;
        let drives = wiring.drive(section, key, self.look.live());
        let volts = drives.iter().find(|drive| drive.part == coil);
        let PartKind::Coil(data) = &self.scheme.parts[coil].kind else { return base };
        let needs = data.surely_from().map_or_else(String::new, |from| {
            format!(", which is not surely enough: it works from {from:.0} V")
        });
        let (sentence, then) = match volts {
            Some(drive) if drive.connected => (
                format!(
                    "No contact stands in the way, but {name} has {}{needs}.",
                    volts_text(drive.volts_lo, drive.volts_hi),
                ),
                vec!["the voltage is too low".to_owned()],
            ),
            _ => (
                format!("No contact stands in the way, but {name} is bypassed or has no current."),
                vec!["it is bypassed".to_owned()],
            ),
        };
        WhyNot { sentence, then, ..base }
    }

    fn moves_of_coil(&self, coil: PartId) -> Vec<String> {
        self.scheme.parts[coil].device.map(|device| self.moves_of(device)).unwrap_or_default()
    }

    fn open_on(&self, way: &Way, section: SectionId, key: &Positions) -> Vec<PartId> {
        let switches = self.evaluator.machine.wiring.switches(section);
        let open = way.parts.iter().copied().filter(|part| {
            let bit = switches.iter().position(|switch| switch == part);
            bit.is_some_and(|bit| !key.is_closed(bit))
        });
        open.collect()
    }

    fn close(&self, section: SectionId, key: &mut Positions, part: PartId) {
        let switches = self.evaluator.machine.wiring.switches(section);
        if let Some(bit) = switches.iter().position(|switch| *switch == part) {
            key.set(bit, true);
        }
    }

    fn drives(&self, section: SectionId, key: &Positions, coil: PartId) -> bool {
        let wiring = &self.evaluator.machine.wiring;
        let drives = wiring.drive(section, key, self.look.live());
        let data: Option<&Coil> = match &self.scheme.parts[coil].kind {
            PartKind::Coil(data) => Some(data),
            _ => None,
        };
        drives.iter().find(|drive| drive.part == coil).zip(data).is_some_and(|(drive, data)| {
            reaches_pickup(drive, data) != Certainty::Not
                && falls_below_dropout(drive, data) != Certainty::Surely
        })
    }

    /// A contact that is open, and why.
    fn words(&self, part: PartId) -> String {
        let item = &self.scheme.parts[part];
        let own = if item.own_name.is_empty() { &item.name } else { &item.own_name };
        let contact = match &item.kind {
            PartKind::Contact(contact) => contact,
            PartKind::Fuse { .. } => return format!("{} is blown", item.name),
            PartKind::Link => return format!("{} is opened", item.name),
            _ => return format!("{} is open", item.name),
        };
        if self.look.holds(&contact.closed_when.expr).sure() {
            return format!("{} has not closed yet", item.name);
        }
        let device = item.device.map(|id| (id, &self.scheme.devices[id]));
        let mut of_device = false;
        contact.closed_when.expr.atoms(&mut |atom| {
            of_device |= matches!(atom, Atom::Position(it, _) if Some(it) == item.device);
        });
        match device.filter(|_| of_device) {
            Some((id, device)) => {
                let stands = device.positions.iter().enumerate().find(|(index, _)| {
                    let index = u8::try_from(*index).unwrap_or(u8::MAX);
                    self.look.atom(Atom::Position(id, index)).sure()
                });
                let name = &device.name;
                let is = match (&device.kind, stands) {
                    (DeviceKind::Handle { .. } | DeviceKind::Latch { .. }, Some((_, word))) => {
                        format!("stands in {word}")
                    }
                    (_, Some((_, word))) => format!("is {word}"),
                    (_, None) => "is under way".to_owned(),
                };
                format!("{name} {is} and keeps its {own} open")
            }
            None => format!("{} is open: it closes when {}", item.name, contact.closed_when.text),
        }
    }

    /// Bars that go by themselves.
    fn soon(&self, answer: &WhyNot) -> Vec<String> {
        let mut soon = Vec::new();
        for pending in self.pending {
            let mut after = self.look.state.clone();
            after.set(pending.unit, pending.to);
            let look = self.evaluator.look(&after);
            let mut bars = answer.bars.iter().chain(&answer.one_of);
            if bars.any(|bar| look.closed(bar.part).sure()) {
                soon.push(self.when(pending));
            }
        }
        soon.truncate(MOST_NAMED);
        soon
    }

    fn beside(&self, answer: &mut WhyNot) {
        let mut words = Vec::new();
        if !answer.bars.is_empty() || !answer.one_of.is_empty() {
            if answer.then.is_empty() {
                words.push("Nothing else stands in the way.".to_owned());
            } else {
                words.push(format!("Then still: {}.", answer.then.join("; ")));
            }
        } else if !answer.then.is_empty() {
            words.push(format!("But {}.", answer.then.join("; ")));
        }
        if !answer.soon.is_empty() {
            words.push(format!("By itself: {}.", answer.soon.join("; ")));
        }
        answer.beside = words.join(" ");
    }
}

/// What all sets share, and, where each has just one more, these.
fn split(sets: &[Vec<PartId>]) -> (Vec<PartId>, Vec<PartId>) {
    let Some((first, rest)) = sets.split_first() else { return (Vec::new(), Vec::new()) };
    if rest.is_empty() {
        return (first.clone(), Vec::new());
    }
    let shared: Vec<PartId> =
        first.iter().copied().filter(|part| rest.iter().all(|set| set.contains(part))).collect();
    let more: Vec<Vec<PartId>> = sets
        .iter()
        .map(|set| set.iter().copied().filter(|part| !shared.contains(part)).collect())
        .collect();
    if more.iter().all(|more: &Vec<PartId>| more.len() == 1) {
        (shared, more.concat())
    } else {
        (first.clone(), Vec::new())
    }
}

fn sentence(answer: &WhyNot) -> String {
    let named = |bars: &[Bar], between: &str| {
        let mut words: Vec<String> =
            bars.iter().take(MOST_NAMED).map(|bar| bar.words.clone()).collect();
        if bars.len() > MOST_NAMED {
            words.push(format!("and {} more", bars.len() - MOST_NAMED));
        }
        words.join(between)
    };
    let all = named(&answer.bars, "; ");
    let one = named(&answer.one_of, ", or ");
    match (answer.bars.len(), answer.one_of.len()) {
        (0, _) => format!("One of these would be enough: {one}."),
        (1, 0) => format!("One contact stands in the way: {all}."),
        (count, 0) => format!("{count} contacts stand in the way: {all}."),
        (_, _) => format!("In the way: {all}; and of these one would be enough: {one}."),
    }
}
