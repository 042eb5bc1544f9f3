//! Moves in words, and why they came.

use super::eval::Look;
use super::relay::RelayPhase;
use super::stroke::Direction;
use super::{Action, Agent, Deed, Machine, Stayer, UnitKind};
use fiftytwo_scheme::{DeviceId, DeviceKind, LogicRule, MayDo, PartId, PartKind, Span};

/// Tells moves in the designer's words.
#[derive(Debug)]
pub struct Teller<'m, 's> {
    machine: &'m Machine<'s>,
}

/// Why a move came.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Why {
    /// In words.
    pub words: String,
    /// The conducting path from plus to minus, part by part; empty if no coil was driven.
    pub path: Vec<String>,
    /// The same as parts.
    pub parts: Vec<PartId>,
    /// Volts at the coil, least and greatest over the corners.
    pub volts: Option<(f64, f64)>,
}

impl<'m, 's> Teller<'m, 's> {
    /// A teller.
    pub fn new(machine: &'m Machine<'s>) -> Self {
        Self { machine }
    }
    fn device(&self, device: DeviceId) -> &'m str {
        &self.machine.scheme.devices[device].name
    }
    fn part(&self, part: PartId) -> &'m str {
        &self.machine.scheme.parts[part].name
    }
    /// Who may do that to a device, for "the operator turns …".
    fn who(&self, test: impl Fn(MayDo) -> bool) -> String {
        let persons = self.machine.scheme.persons.values();
        let names: Vec<&str> = persons
            .filter(|person| person.may.iter().any(|may| test(may.does)))
            .map(|person| person.name.as_str())
            .collect();
        if names.is_empty() { "somebody".to_owned() } else { names.join(" or ") }
    }
    /// What happens, one short sentence.
    pub fn what(&self, before: &Look<'_, '_, '_>, action: &Action) -> String {
        let machine = self.machine;
        let phase = before.state.phase(action.unit);
        let to = action.to;
        match (&machine.units[action.unit].kind, action.deed) {
            (UnitKind::Condition(id), _) => self.condition(*id, to),
            (UnitKind::Order(id), _) => {
                let order = &machine.scheme.orders[*id].name;
                if to == 1 {
                    format!("{} gives {order}", self.who(|does| does == MayDo::Give(*id)))
                } else {
                    format!("{order} ends")
                }
            }
            (UnitKind::Hand(id), _) => self.hand(*id, phase, to),
            (UnitKind::Relay(id), Deed::Begin(coil)) => {
                let verb = if coil.is_some() { "begins to pick up" } else { "begins to drop out" };
                format!("{} {verb}", self.device(*id))
            }
            (UnitKind::Relay(id), Deed::Arrive(_)) => {
                let picked = RelayPhase::from_u8(to).is_picked();
                let device = &machine.scheme.devices[*id];
                let position = &device.positions[usize::from(picked)];
                match (picked, device.positions[1] == "picked up") {
                    (true, true) => format!("{} picks up", device.name),
                    (false, true) => format!("{} drops out", device.name),
                    _ => format!("{} is {position}", device.name),
                }
            }
            (UnitKind::Relay(id), _) => format!("{} has come to rest", self.device(*id)),
            (UnitKind::Bistable(id), Deed::Begin(_)) => {
                let positions = machine.scheme.devices[*id].positions.len();
                let target = usize::from(to).saturating_sub(positions);
                format!("{} leaves for {}", self.device(*id), self.position(*id, target))
            }
            (UnitKind::Bistable(id), Deed::Bring) => {
                let who = self.who(|does| {
                    matches!(does, MayDo::Bring(device, _) | MayDo::Operate(device) if device == *id)
                });
                let position = self.position(*id, usize::from(to));
                if position == "reset" {
                    format!("{who} resets {}", self.device(*id))
                } else {
                    format!("{who} brings {} to {position}", self.device(*id))
                }
            }
            (UnitKind::Bistable(id) | UnitKind::Overload(id), _) => {
                format!("{} is {}", self.device(*id), self.position(*id, usize::from(to)))
            }
            (UnitKind::Stroke(id), deed) => self.stroke(*id, phase, to, deed),
            (UnitKind::Energy(id), _) => {
                let name = match &machine.scheme.devices[*id].kind {
                    DeviceKind::Breaker { energy: Some(energy), .. } => energy.name.as_str(),
                    _ => "energy",
                };
                let charge = machine.charge_of(action.unit, to);
                format!("{} {name} charged for {charge}", self.device(*id))
            }
            (UnitKind::Input(id), _) if self.is_feed(*id) => {
                let name = &machine.units[action.unit].name;
                if to == 1 { format!("{name} has started") } else { format!("{name} is dead") }
            }
            (UnitKind::Stay(_), _) => {
                format!("{} for its shortest time", machine.units[action.unit].name)
            }
            (UnitKind::Logic(_) | UnitKind::Input(_), _) => {
                let name = &machine.units[action.unit].name;
                if to == 1 { format!("{name} comes on") } else { format!("{name} goes off") }
            }
            (UnitKind::Contact(id), Deed::Settle) if phase & 1 == to => {
                format!("{} has come to rest", self.part(*id))
            }
            (UnitKind::Contact(id), deed) => {
                let verb = if to & 1 == 1 { "closes" } else { "opens" };
                let bounces = if deed == Deed::Bounce { ", bouncing" } else { "" };
                format!("{} {verb}{bounces}", self.part(*id))
            }
            (UnitKind::Supply(id), _) => {
                let name = &machine.scheme.supplies[*id].name;
                if to == 1 { format!("{name} returns") } else { format!("{name} is lost") }
            }
            (UnitKind::Fuse(id), _) => {
                format!("{} {}", self.part(*id), if to == 1 { "blows" } else { "is replaced" })
            }
            (UnitKind::Link(id), _) => {
                format!("{} is {}", self.part(*id), if to == 1 { "opened" } else { "closed" })
            }
        }
    }
    /// Whether its device is without supply or still starting.
    fn is_dead(&self, look: &Look<'_, '_, '_>, part: PartId) -> bool {
        let start = self.machine.start_of_part(part);
        start.is_some_and(|unit| look.phase(unit) == Some(0))
    }
    fn is_feed(&self, part: PartId) -> bool {
        matches!(self.machine.scheme.parts[part].kind, PartKind::Power { .. })
    }
    fn position(&self, device: DeviceId, index: usize) -> &'m str {
        self.machine.scheme.devices[device].positions.get(index).map_or("?", String::as_str)
    }
    fn condition(&self, id: fiftytwo_scheme::ConditionId, to: u8) -> String {
        let condition = &self.machine.scheme.conditions[id];
        match (condition.yes_no, to) {
            (true, 1) => format!("{} comes", condition.name),
            (true, _) => format!("{} goes", condition.name),
            (false, _) => {
                let state = condition.states.get(usize::from(to)).map_or("?", String::as_str);
                format!("{} becomes {state}", condition.name)
            }
        }
    }
    fn hand(&self, id: DeviceId, from: u8, to: u8) -> String {
        let device = &self.machine.scheme.devices[id];
        let position = self.position(id, usize::from(to));
        let who = self.who(
            |does| matches!(does, MayDo::Operate(other) | MayDo::Bring(other, _) if other == id),
        );
        match &device.kind {
            DeviceKind::Button if to == 1 => format!("{who} presses {}", device.name),
            DeviceKind::Button => format!("{who} lets {} go", device.name),
            DeviceKind::Handle { returns_to }
                if returns_to.get(usize::from(from)).copied().flatten() == Some(to) =>
            {
                format!("{} is let go and springs back to {position}", device.name)
            }
            _ => format!("{who} turns {} to {position}", device.name),
        }
    }
    fn stroke(&self, id: DeviceId, from: u8, to: u8, deed: Deed) -> String {
        let name = self.device(id);
        let Some(table) = self.machine.stroke(id) else { return name.to_owned() };
        match deed {
            Deed::Release(coil) => {
                let opening = table.trip_coils.contains(&coil);
                if opening {
                    format!("{name} trip latch goes ({})", self.own_name(coil))
                } else {
                    format!("{name} close latch goes: a closing begins")
                }
            }
            Deed::Auxiliary(group) => {
                let group = &table.groups[usize::from(group)];
                let closed = group
                    .contacts
                    .first()
                    .and_then(|contact| table.contact_closed(*contact, to))
                    .unwrap_or(false);
                let names: Vec<&str> =
                    group.contacts.iter().map(|part| self.own_name(*part)).collect();
                let verb = match (closed, names.len() > 1) {
                    (true, true) => "close",
                    (true, false) => "closes",
                    (false, true) => "open",
                    (false, false) => "opens",
                };
                format!("{name} {} {verb}", names.join(", "))
            }
            Deed::Touch => format!("{name} closed: main contacts touch"),
            Deed::Part => format!("{name} open: main contacts part"),
            Deed::FallBack => format!("{name} loses its drive and falls back"),
            _ => {
                let direction = table.phase(from).direction;
                let word = if direction == Direction::Up { "closes" } else { "opens" };
                format!("{name} {word}")
            }
        }
    }
    fn own_name(&self, part: PartId) -> &'m str {
        let part = &self.machine.scheme.parts[part];
        if part.own_name.is_empty() { &part.name } else { &part.own_name }
    }
    /// Why it happens: the path that drives it, or the statement that stands.
    pub fn why(&self, before: &Look<'_, '_, '_>, action: &Action) -> Why {
        match (&self.machine.units[action.unit].kind, action.deed) {
            (UnitKind::Bistable(_), Deed::Arrive(Some(coil)))
                if !before.pickup(coil).possible() =>
            {
                let words = format!(
                    "it had begun and goes through; {} is no longer driven",
                    self.part(coil)
                );
                Why { words, ..Why::default() }
            }
            (_, Deed::Begin(Some(coil)) | Deed::Arrive(Some(coil)) | Deed::Release(coil)) => {
                self.driven(before, coil)
            }
            (UnitKind::Relay(device), Deed::Begin(None) | Deed::Arrive(None)) => {
                let coil = self.machine.lone_coil(*device);
                coil.map_or_else(Why::default, |coil| self.not_driven(before, coil))
            }
            (UnitKind::Input(part), Deed::Sense) if action.to == 1 => self.driven(before, *part),
            (UnitKind::Input(part), Deed::Sense) => self.not_driven(before, *part),
            (UnitKind::Condition(id), Deed::Follow(rule)) => {
                let rule = &self.machine.scheme.conditions[*id].becomes[usize::from(rule)];
                said(&rule.when.text, true)
            }
            (UnitKind::Contact(id), Deed::Switch) if self.is_dead(before, *id) => {
                let device = self.machine.scheme.parts[*id].device;
                let name = device.map_or("", |device| self.device(device));
                Why { words: format!("{name} has no supply, or has not started"), ..Why::default() }
            }
            (UnitKind::Logic(id), _) => match &self.machine.scheme.logics[*id].rule {
                LogicRule::When { when, .. } => said(&when.text, action.to == 1),
                LogicRule::Memory { set, clear } => {
                    said(if action.to == 1 { &set.text } else { &clear.text }, true)
                }
            },
            (UnitKind::Contact(id), deed) => match &self.machine.scheme.parts[*id].kind {
                PartKind::Contact(fiftytwo_scheme::Contact { bounce: Some(time), .. })
                    if matches!(deed, Deed::Bounce | Deed::Settle) =>
                {
                    let words = format!("it may bounce for {}", time.written);
                    Why { words, ..Why::default() }
                }
                PartKind::Contact(contact) => {
                    let statement = &contact.closed_when;
                    said(&statement.text, action.to & 1 == 1)
                }
                _ => Why::default(),
            },
            (UnitKind::Energy(device), _) => match &self.machine.scheme.devices[*device].kind {
                DeviceKind::Breaker { energy: Some(energy), .. } => match energy.charged_by {
                    Some(motor) => self.driven(before, motor),
                    None => Why { words: "it charges by itself".to_owned(), ..Why::default() },
                },
                _ => Why::default(),
            },
            (UnitKind::Stroke(_), Deed::Auxiliary(_) | Deed::Touch | Deed::Part) => {
                Why { words: "the stroke goes on by itself".to_owned(), ..Why::default() }
            }
            _ if action.agent == Agent::World => {
                Why { words: "from outside".to_owned(), ..Why::default() }
            }
            (UnitKind::Order(_), _) => {
                Why { words: "its time is over".to_owned(), ..Why::default() }
            }
            _ => Why::default(),
        }
    }
    /// The path that drives a coil, in words.
    pub fn driven(&self, look: &Look<'_, '_, '_>, coil: PartId) -> Why {
        let machine = self.machine;
        let Some(section) = machine.wiring.section_of(coil) else { return Why::default() };
        let positions = look.positions(section);
        let path = machine.wiring.path(section, &positions, look.live(), coil);
        let names: Vec<String> = path.iter().map(|part| self.part(*part).to_owned()).collect();
        let drives = machine.wiring.drive(section, &positions, look.live());
        let volts = drives
            .iter()
            .find(|drive| drive.part == coil)
            .map(|drive| (drive.volts_lo, drive.volts_hi));
        let words = match volts {
            Some((lo, hi)) if !names.is_empty() => {
                format!(
                    "{} has {} through {}",
                    self.part(coil),
                    volts_text(lo, hi),
                    names.join(" – ")
                )
            }
            _ => format!("{} is driven", self.part(coil)),
        };
        Why { words, path: names, parts: path, volts }
    }
    fn not_driven(&self, look: &Look<'_, '_, '_>, coil: PartId) -> Why {
        let words = super::undriven::why(look, coil);
        Why { words: words.unwrap_or_default(), ..Why::default() }
    }
    /// Where the thing that moves is written.
    pub fn span(&self, action: &Action) -> Option<Span> {
        let scheme = self.machine.scheme;
        Some(match self.machine.units[action.unit].kind {
            UnitKind::Condition(id) => scheme.conditions[id].span,
            UnitKind::Order(id) => scheme.orders[id].span,
            UnitKind::Hand(id)
            | UnitKind::Relay(id)
            | UnitKind::Bistable(id)
            | UnitKind::Stroke(id)
            | UnitKind::Energy(id)
            | UnitKind::Overload(id) => scheme.devices[id].span,
            UnitKind::Logic(id) => scheme.logics[id].span,
            UnitKind::Contact(id)
            | UnitKind::Input(id)
            | UnitKind::Fuse(id)
            | UnitKind::Link(id) => scheme.parts[id].span,
            UnitKind::Supply(id) => scheme.supplies[id].span,
            UnitKind::Stay(Stayer::Condition(id)) => scheme.conditions[id].span,
            UnitKind::Stay(Stayer::Hand(id)) => scheme.devices[id].span,
        })
    }
    /// The device a unit belongs to, by name; else the unit's own name.
    pub fn device_name(&self, action: &Action) -> &'m str {
        let scheme = self.machine.scheme;
        let of_part = |part: PartId| {
            scheme.parts[part]
                .device
                .map_or(scheme.parts[part].name.as_str(), |device| self.device(device))
        };
        match self.machine.units[action.unit].kind {
            UnitKind::Hand(id)
            | UnitKind::Relay(id)
            | UnitKind::Bistable(id)
            | UnitKind::Stroke(id)
            | UnitKind::Energy(id)
            | UnitKind::Overload(id) => self.device(id),
            UnitKind::Logic(id) => self.device(scheme.logics[id].device),
            UnitKind::Contact(id)
            | UnitKind::Input(id)
            | UnitKind::Fuse(id)
            | UnitKind::Link(id) => of_part(id),
            UnitKind::Condition(_)
            | UnitKind::Order(_)
            | UnitKind::Supply(_)
            | UnitKind::Stay(_) => &self.machine.units[action.unit].name,
        }
    }
}

fn said(text: &str, so: bool) -> Why {
    let words = if so { format!("because {text}") } else { format!("because no longer {text}") };
    Why { words, ..Why::default() }
}

/// "105.2 to 138.0 V".
pub fn volts_text(lo: f64, hi: f64) -> String {
    if (hi - lo).abs() < 0.05 { format!("{hi:.1} V") } else { format!("{lo:.1} to {hi:.1} V") }
}
