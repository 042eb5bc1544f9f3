//! What can be done from outside, as a person finds it: handles, buttons, orders, conditions,
//! supplies, grouped by where they are and who may.
//!
//! **In:** a scheme, and a state. **Out:** bands of handles with their positions, and acts for
//! [`fiftytwo_motion::act_out`]. **Never here:** what an act leads to.

use crate::answer::Refusal;
use fiftytwo_motion::Acting;
use fiftytwo_motion::acting::refusal;
use fiftytwo_motion::machine::Look;
use fiftytwo_scheme::{
    Act, Atom, ConditionId, DeviceId, DeviceKind, LogicRule, MayDo, OrderId, PartId, PartKind,
    ResetBy, Scheme, Span, Statement, Story, SupplyId, TurnedBy,
};
use serde::{Deserialize, Serialize};

/// A group of handles: one place and its persons, or the outside.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Band {
    /// Such as "Control house · operator".
    pub title: String,
    /// The place, by its short name.
    pub place: Option<String>,
    /// The person who may, if it is one.
    pub person: Option<String>,
    /// The handles.
    pub handles: Vec<Handle>,
}

/// One thing that can be done something to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Handle {
    /// Lasting name: "device:52CS".
    pub id: String,
    /// Such as "52CS".
    pub name: String,
    /// What it is.
    pub title: String,
    /// Its positions, in order.
    pub positions: Vec<Position>,
    /// Where it stands now.
    pub at: String,
    /// handle, button, lockout, latch, order, condition, supply, energy, overload, fuse or link.
    pub kind: &'static str,
    /// Why it can't be moved now, if it can't.
    pub refused: Option<String>,
    /// Where it is written.
    pub line: usize,
}

/// A position.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Position {
    /// Its name.
    pub name: String,
    /// Where it springs back to when let go.
    pub returns_to: Option<String>,
}

/// What a handle stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// A device with positions.
    Device(DeviceId),
    /// A condition.
    Condition(ConditionId),
    /// An order.
    Order(OrderId),
    /// A supply.
    Supply(SupplyId),
    /// The stored energy of a breaker.
    Energy(DeviceId),
    /// A fuse or a link.
    Part(PartId),
}

/// An act as the page says it.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Said {
    /// When, µs.
    pub at_us: i64,
    /// Who.
    #[serde(default)]
    pub by: Option<String>,
    /// press, release, set, lose, return or reset.
    #[serde(rename = "do")]
    pub deed: String,
    /// The handle's id.
    pub what: String,
    /// To which position.
    #[serde(default)]
    pub to: Option<String>,
}

/// Two words for what has no positions of its own.
const ORDER: [&str; 2] = ["not given", "given"];
const YES_NO: [&str; 2] = ["no", "yes"];
const SUPPLY: [&str; 2] = ["lost", "live"];
const ENERGY: [&str; 2] = ["discharged", "charged"];
const FUSE: [&str; 2] = ["whole", "blown"];
const LINK: [&str; 2] = ["closed", "open"];

impl Target {
    /// By a handle's id.
    pub fn find(scheme: &Scheme, id: &str) -> Option<Self> {
        let (kind, name) = id.split_once(':')?;
        match kind {
            "device" => scheme.device_named(name).map(Self::Device),
            "energy" => scheme.device_named(name).map(Self::Energy),
            "part" => scheme.part_named(name).map(Self::Part),
            "condition" => {
                let mut all = scheme.conditions.iter();
                all.find(|(_, it)| it.name == name).map(|(id, _)| Self::Condition(id))
            }
            "order" => {
                let mut all = scheme.orders.iter();
                all.find(|(_, it)| it.name == name).map(|(id, _)| Self::Order(id))
            }
            "supply" => {
                let mut all = scheme.supplies.iter();
                all.find(|(_, it)| it.name == name).map(|(id, _)| Self::Supply(id))
            }
            _ => None,
        }
    }
    /// Everything that a scheme's outside can do something to.
    pub fn all(scheme: &Scheme) -> Vec<Self> {
        let devices = scheme.devices.iter().filter(|(_, it)| !it.positions.is_empty());
        let energies = scheme
            .devices
            .iter()
            .filter(|(_, it)| matches!(it.kind, DeviceKind::Breaker { energy: Some(_), .. }));
        let parts = scheme
            .parts
            .iter()
            .filter(|(_, it)| matches!(it.kind, PartKind::Fuse { .. } | PartKind::Link));
        devices
            .map(|(id, _)| Self::Device(id))
            .chain(energies.map(|(id, _)| Self::Energy(id)))
            .chain(scheme.conditions.ids().map(Self::Condition))
            .chain(scheme.orders.ids().map(Self::Order))
            .chain(scheme.supplies.ids().map(Self::Supply))
            .chain(parts.map(|(id, _)| Self::Part(id)))
            .collect()
    }
    /// What an act is done to, and into which position it brings it.
    pub fn of(act: &Act) -> Option<(Self, u8)> {
        let yes = u8::from(act.so);
        Some(match act.atom {
            Atom::Position(device, position) if act.so => (Self::Device(device), position),
            Atom::Position(device, position) => {
                (Self::Device(device), 1_u8.saturating_sub(position))
            }
            Atom::Condition(id, state) if act.so => (Self::Condition(id), state),
            Atom::Condition(id, state) => (Self::Condition(id), u8::from(state == 0)),
            Atom::Order(id) => (Self::Order(id), yes),
            Atom::Live(id) => (Self::Supply(id), yes),
            Atom::Charged(id) => (Self::Energy(id), yes),
            Atom::Blown(id) | Atom::LinkOpen(id) => (Self::Part(id), yes),
            _ => return None,
        })
    }
    /// Its lasting name.
    pub fn id(self, scheme: &Scheme) -> String {
        let kind = match self {
            Self::Device(_) => "device",
            Self::Condition(_) => "condition",
            Self::Order(_) => "order",
            Self::Supply(_) => "supply",
            Self::Energy(_) => "energy",
            Self::Part(_) => "part",
        };
        format!("{kind}:{}", self.name(scheme))
    }
    /// Its name in the text.
    pub fn name(self, scheme: &Scheme) -> &str {
        match self {
            Self::Device(id) | Self::Energy(id) => &scheme.devices[id].name,
            Self::Condition(id) => &scheme.conditions[id].name,
            Self::Order(id) => &scheme.orders[id].name,
            Self::Supply(id) => &scheme.supplies[id].name,
            Self::Part(id) => &scheme.parts[id].name,
        }
    }
    fn span(self, scheme: &Scheme) -> Span {
        match self {
            Self::Device(id) | Self::Energy(id) => scheme.devices[id].span,
            Self::Condition(id) => scheme.conditions[id].span,
            Self::Order(id) => scheme.orders[id].span,
            Self::Supply(id) => scheme.supplies[id].span,
            Self::Part(id) => scheme.parts[id].span,
        }
    }
    fn positions(self, scheme: &Scheme) -> Vec<String> {
        let two = |words: [&str; 2]| words.map(str::to_owned).to_vec();
        match self {
            Self::Device(id) => scheme.devices[id].positions.clone(),
            Self::Condition(id) if scheme.conditions[id].yes_no => two(YES_NO),
            Self::Condition(id) => scheme.conditions[id].states.clone(),
            Self::Order(_) => two(ORDER),
            Self::Supply(_) => two(SUPPLY),
            Self::Energy(_) => two(ENERGY),
            Self::Part(id) if matches!(scheme.parts[id].kind, PartKind::Link) => two(LINK),
            Self::Part(_) => two(FUSE),
        }
    }
    fn atom(self, scheme: &Scheme, position: u8) -> (Atom, bool) {
        let second = position == 1;
        match self {
            Self::Device(id) => (Atom::Position(id, position), true),
            Self::Condition(id) => (Atom::Condition(id, position), true),
            Self::Order(id) => (Atom::Order(id), second),
            Self::Supply(id) => (Atom::Live(id), second),
            Self::Energy(id) => (Atom::Charged(id), second),
            Self::Part(id) if matches!(scheme.parts[id].kind, PartKind::Link) => {
                (Atom::LinkOpen(id), second)
            }
            Self::Part(id) => (Atom::Blown(id), second),
        }
    }
    /// The act that brings it into a position.
    pub fn act(self, scheme: &Scheme, position: usize) -> Option<Act> {
        let name = self.positions(scheme).get(position)?.clone();
        let (atom, so) = self.atom(scheme, u8::try_from(position).ok()?);
        let text = format!("{} {name}", self.name(scheme));
        Some(Act { atom, so, text, span: self.span(scheme) })
    }
    /// The index of a position by its name.
    fn index(self, scheme: &Scheme, name: &str) -> Option<usize> {
        self.positions(scheme).iter().position(|position| position == name)
    }
    fn now(self, scheme: &Scheme, look: &Look<'_, '_, '_>) -> usize {
        let positions = self.positions(scheme).len();
        let stands = |index: &usize| {
            let (atom, so) = self.atom(scheme, u8::try_from(*index).unwrap_or(u8::MAX));
            let truth = look.atom(atom);
            if so { truth.sure() } else { !truth.possible() }
        };
        (0..positions).find(stands).unwrap_or(0)
    }
}

/// An act said by the page, as motion takes it.
///
/// # Errors
/// What is named does not exist, or has no such position.
pub fn acting(scheme: &Scheme, said: &Said) -> Result<Acting, Refusal> {
    let Said { at_us, by, deed, what, to } = said;
    let target = Target::find(scheme, what)
        .ok_or_else(|| Refusal::unclear(format!("There is no {what:?} in this text.")))?;
    let named = match to {
        Some(name) => Some(target.index(scheme, name).ok_or_else(|| {
            Refusal::unclear(format!("{} has no position {name:?}.", target.name(scheme)))
        })?),
        None => None,
    };
    let position = match deed.as_str() {
        "press" => named.unwrap_or(1),
        "release" => named.unwrap_or(1),
        "set" => named.ok_or_else(|| Refusal::unclear("It is not said to which position."))?,
        "reset" => target.index(scheme, "reset").unwrap_or(0),
        "lose" => usize::from(!matches!(target, Target::Supply(_))),
        "return" => usize::from(matches!(target, Target::Supply(_))),
        _ => return Err(Refusal::unclear(format!("{deed:?} is nothing that can be done."))),
    };
    let act = target
        .act(scheme, position)
        .ok_or_else(|| Refusal::unclear("There is no such position."))?;
    let lets_go = deed == "release";
    Ok(Acting { at: (*at_us).max(0), act, lets_go, by: by.clone() })
}

/// The acts of a story as the page says them.
pub fn said(scheme: &Scheme, story: &Story) -> Vec<Said> {
    let mut all = Vec::new();
    for step in &story.steps {
        for act in &step.acts {
            let Some((target, position)) = Target::of(act) else { continue };
            let said = |at_us: i64, deed: &str, to: Option<String>| Said {
                at_us,
                by: None,
                deed: deed.to_owned(),
                what: target.id(scheme),
                to,
            };
            let to = target.positions(scheme).get(usize::from(position)).cloned();
            all.push(said(step.at, "set", to));
            if let Some(held) = step.held {
                let at = step.at.saturating_add(held);
                let back =
                    || target.positions(scheme).get(usize::from(1 - position.min(1))).cloned();
                all.push(match target {
                    Target::Device(_) | Target::Order(_) => said(at, "release", None),
                    _ => said(at, "set", back()),
                });
            }
        }
    }
    all.sort_by_key(|said| said.at_us);
    all
}

/// What a phrase such as "52CS close" or "not line fault" brings about.
///
/// # Errors
/// It names nothing of the scheme.
pub fn phrase(scheme: &Scheme, phrase: &str) -> Result<Vec<Act>, Refusal> {
    let all = Target::all(scheme);
    phrase
        .split(" and ")
        .map(|part| {
            let part = part.trim();
            one_phrase(scheme, &all, part).ok_or_else(|| {
                Refusal::unclear(format!("{part:?} is nothing that a run can begin with."))
            })
        })
        .collect()
}

fn one_phrase(scheme: &Scheme, all: &[Target], phrase: &str) -> Option<Act> {
    let (said, so) = match phrase.strip_prefix("not ") {
        Some(rest) => (rest, false),
        None => (phrase, true),
    };
    let act = all.iter().find_map(|target| {
        let name = target.name(scheme);
        let rest = said.strip_prefix(name)?.trim();
        let position = match *target {
            Target::Order(_) if rest.is_empty() => 1,
            Target::Condition(id) if rest.is_empty() && scheme.conditions[id].yes_no => 1,
            Target::Energy(id) => {
                let DeviceKind::Breaker { energy: Some(energy), .. } = &scheme.devices[id].kind
                else {
                    return None;
                };
                let state = rest.strip_prefix(energy.name.as_str())?.trim();
                target.index(scheme, state)?
            }
            _ => target.index(scheme, rest)?,
        };
        target.act(scheme, position)
    })?;
    Some(Act { so: act.so == so, text: phrase.to_owned(), ..act })
}

/// All bands, as they stand in a state.
pub fn bands(scheme: &Scheme, look: &Look<'_, '_, '_>, line: impl Fn(Span) -> usize) -> Vec<Band> {
    let mut bands: Vec<Band> = Vec::new();
    let mut put =
        |title: String, place: Option<String>, person: Option<String>, handle: Handle| match bands
            .iter_mut()
            .find(|band| band.title == title)
        {
            Some(band) => band.handles.push(handle),
            None => bands.push(Band { title, place, person, handles: vec![handle] }),
        };
    for (id, device) in scheme.devices.iter() {
        let by_hand = match &device.kind {
            DeviceKind::Handle { .. } | DeviceKind::Button => true,
            DeviceKind::Lockout { reset_by } => *reset_by != ResetBy::Coil,
            DeviceKind::Latch { turned_by } => *turned_by == TurnedBy::HandOrCoil,
            DeviceKind::Overload => true,
            _ => false,
        };
        if !by_hand {
            continue;
        }
        let persons = who(
            scheme,
            |does| matches!(does, MayDo::Operate(other) | MayDo::Bring(other, _) if other == id),
        );
        let place = &scheme.places[device.place];
        let said = if persons.is_empty() { "nobody".to_owned() } else { persons.join(", ") };
        let title = if matches!(device.kind, DeviceKind::Overload) && persons.is_empty() {
            OUTSIDE.to_owned()
        } else {
            format!("{} · {said}", short(place))
        };
        let person = (persons.len() == 1).then(|| persons.concat());
        let handle = handle(scheme, look, Target::Device(id), &line);
        put(title, Some(place.name.clone()), person, handle);
    }
    for id in scheme.orders.ids() {
        let persons = who(scheme, |does| does == MayDo::Give(id));
        let said = if persons.is_empty() { "nobody".to_owned() } else { persons.join(", ") };
        let person = (persons.len() == 1).then(|| persons.concat());
        let handle = handle(scheme, look, Target::Order(id), &line);
        put(format!("From afar · {said}"), None, person, handle);
    }
    let outside = scheme.conditions.ids().map(|id| (OUTSIDE, Target::Condition(id)));
    let supplies = scheme.supplies.ids().map(|id| ("Supply", Target::Supply(id)));
    for (title, target) in outside.chain(supplies) {
        put(title.to_owned(), None, None, handle(scheme, look, target, &line));
    }
    bands
}

const OUTSIDE: &str = "Outside · nobody decides";

fn who(scheme: &Scheme, test: impl Fn(MayDo) -> bool) -> Vec<String> {
    let persons = scheme.persons.values();
    persons
        .filter(|person| person.may.iter().any(|may| test(may.does)))
        .map(|person| person.name.clone())
        .collect()
}

/// Which devices a condition matters to: "seen by 25 Synchronism check".
fn seen_by(scheme: &Scheme, id: ConditionId) -> String {
    let mut seen: Vec<DeviceId> = Vec::new();
    let mut look = |device: DeviceId, statement: &Statement| {
        statement.expr.atoms(&mut |atom| {
            let is_it = matches!(atom, Atom::Condition(other, _) if other == id);
            if is_it && !seen.contains(&device) {
                seen.push(device);
            }
        });
    };
    for part in scheme.parts.values() {
        if let (PartKind::Contact(contact), Some(device)) = (&part.kind, part.device) {
            look(device, &contact.closed_when);
        }
    }
    for logic in scheme.logics.values() {
        match &logic.rule {
            LogicRule::When { when, .. } => look(logic.device, when),
            LogicRule::Memory { set, clear } => {
                look(logic.device, set);
                look(logic.device, clear);
            }
        }
    }
    let name = |id: &DeviceId| {
        let device = &scheme.devices[*id];
        format!("{} {}", device.name, device.description).trim().to_owned()
    };
    match &seen[..] {
        [] => String::new(),
        some => format!("seen by {}", some.iter().map(name).collect::<Vec<_>>().join(", ")),
    }
}

/// What a place is, in few words.
fn short(place: &fiftytwo_scheme::Place) -> &str {
    let about = place.description.split(',').next().unwrap_or_default().trim();
    if about.is_empty() { &place.name } else { about }
}

fn handle(
    scheme: &Scheme,
    look: &Look<'_, '_, '_>,
    target: Target,
    line: impl Fn(Span) -> usize,
) -> Handle {
    let names = target.positions(scheme);
    let at = target.now(scheme, look);
    let name = target.name(scheme).to_owned();
    let (kind, title) = match target {
        Target::Device(id) => {
            let device = &scheme.devices[id];
            let kind = match device.kind {
                DeviceKind::Button => "button",
                DeviceKind::Lockout { .. } => "lockout",
                DeviceKind::Latch { .. } => "latch",
                DeviceKind::Overload => "overload",
                _ => "handle",
            };
            (kind, device.description.clone())
        }
        Target::Condition(id) => ("condition", seen_by(scheme, id)),
        Target::Order(_) => ("order", String::new()),
        Target::Supply(id) => ("supply", scheme.supplies[id].description.clone()),
        Target::Energy(_) => ("energy", String::new()),
        Target::Part(id) if matches!(scheme.parts[id].kind, PartKind::Link) => {
            ("link", String::new())
        }
        Target::Part(_) => ("fuse", String::new()),
    };
    let back = |index: usize| match target {
        Target::Device(id) => match &scheme.devices[id].kind {
            DeviceKind::Handle { returns_to } => {
                let to = returns_to.get(index).copied().flatten()?;
                names.get(usize::from(to)).cloned()
            }
            DeviceKind::Button if index == 1 => names.first().cloned(),
            _ => None,
        },
        _ => None,
    };
    let refusals: Vec<Option<String>> = (0..names.len())
        .filter(|index| *index != at)
        .filter_map(|index| target.act(scheme, index))
        .map(|act| refusal(look, &Acting { at: 0, act, lets_go: false, by: None }))
        .collect();
    // A lockout that is reset waits for its coil: there is nothing to refuse.
    let at_rest = kind == "lockout" && names.get(at).is_some_and(|name| name == "reset");
    let refused = if !at_rest && refusals.iter().all(Option::is_some) {
        refusals.into_iter().flatten().next()
    } else {
        None
    };
    let positions = names.iter().enumerate();
    let positions = positions
        .map(|(index, name)| Position { name: name.clone(), returns_to: back(index) })
        .collect();
    Handle {
        id: target.id(scheme),
        title: if title == name { String::new() } else { title },
        positions,
        at: names.get(at).cloned().unwrap_or_default(),
        kind,
        refused,
        line: line(target.span(scheme)),
        name,
    }
}
