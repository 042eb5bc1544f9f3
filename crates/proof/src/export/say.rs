//! Statements, contacts and loads in the words of the model.

use super::Refusal;
use super::logic::{Bool, Tri};
use super::volts::{self, Seen};
use super::ways::{Ground, Section};
use fiftytwo_motion::machine::{Machine, Scope, UnitId, UnitKind};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Atom, DeviceId, DeviceKind, Expr, LogicRule, PartId, PartKind, Scheme};
use std::collections::BTreeMap;

/// Phases of a relay, as the model names them.
pub(super) mod relay {
    pub(crate) const DROPPED: u8 = 0;
    pub(crate) const DROPPED_WARM: u8 = 1;
    pub(crate) const RISING: u8 = 2;
    pub(crate) const RISING_WARM: u8 = 3;
    pub(crate) const PICKED: u8 = 4;
    pub(crate) const PICKED_WARM: u8 = 5;
    pub(crate) const FALLING: u8 = 6;
    pub(crate) const FALLING_WARM: u8 = 7;
}

/// Contacts of one breaker that change together.
#[derive(Debug, Clone)]
pub(super) struct Together {
    pub(super) contacts: Vec<PartId>,
    pub(super) closed_when_open: bool,
    /// Offset from touch, µs.
    pub(super) on_close: (i64, i64),
    /// Offset from parting, µs.
    pub(super) on_open: (i64, i64),
}

/// Says things in the words of the model.
pub(super) struct Speaker<'m, 's> {
    pub(super) machine: &'m Machine<'s>,
    pub(super) scheme: &'s Scheme,
    pub(super) scope: &'m Scope,
    pub(super) timed: bool,
    names: Vec<String>,
    ground: Ground<'s>,
    sections: BTreeMap<PartId, Option<std::rc::Rc<Section>>>,
    seen: BTreeMap<PartId, Seen>,
    together: BTreeMap<DeviceId, Vec<Together>>,
    /// Loads with how they were judged.
    pub(super) notes: Vec<String>,
    /// Names with what they stand for.
    pub(super) defined: Vec<(String, Bool)>,
}

impl<'m, 's> Speaker<'m, 's> {
    pub(super) fn new(machine: &'m Machine<'s>, scope: &'m Scope, timed: bool) -> Self {
        let scheme = machine.scheme;
        let mut names: Vec<String> = Vec::new();
        for item in machine.units.values() {
            let plain = plain(&item.name);
            let mut name = format!("u_{plain}");
            let mut more = 2;
            while names.contains(&name) {
                name = format!("u_{plain}_{more}");
                more += 1;
            }
            names.push(name);
        }
        let together = scheme
            .devices
            .iter()
            .filter(|(_, device)| matches!(device.kind, DeviceKind::Breaker { .. }))
            .map(|(id, _)| (id, together(scheme, id)))
            .collect();
        Self {
            machine,
            scheme,
            scope,
            timed,
            names,
            ground: Ground::new(scheme),
            sections: BTreeMap::new(),
            seen: BTreeMap::new(),
            together,
            notes: Vec::new(),
            defined: Vec::new(),
        }
    }
    /// The variable of a unit.
    pub(super) fn name(&self, unit: UnitId) -> &str {
        &self.names[unit.index()]
    }
    pub(super) fn groups(&self, breaker: DeviceId) -> &[Together] {
        self.together.get(&breaker).map_or(&[], Vec::as_slice)
    }
    /// The variable that says whether the main contacts touch.
    pub(super) fn touch(&self, unit: UnitId) -> String {
        format!("{}_touch", self.name(unit))
    }
    /// The variable that says whether a group of auxiliary contacts has changed.
    pub(super) fn changed(&self, unit: UnitId, group: usize) -> String {
        format!("{}_aux{group}", self.name(unit))
    }
    /// The variable that says which way a breaker moves.
    pub(super) fn way(&self, unit: UnitId) -> String {
        format!("{}_way", self.name(unit))
    }
    fn knows(&self, unit: UnitId) -> Result<(), Refusal> {
        if self.scope.knows(unit) {
            Ok(())
        } else {
            Err(Refusal(format!(
                "it depends on {}, which is left out of the search",
                self.machine.units[unit].name
            )))
        }
    }
    fn at(&self, unit: UnitId, phase: u8) -> Result<Tri, Refusal> {
        self.knows(unit)?;
        let item = &self.machine.units[unit];
        Ok(if crate::cone::never_moves(&item.kind) {
            Tri::is(item.drawn == phase)
        } else {
            Tri::known(Bool::equals(self.name(unit), phase))
        })
    }
    /// A statement.
    pub(super) fn expr(&mut self, expr: &Expr) -> Result<Tri, Refusal> {
        match expr {
            Expr::Atom(atom) => self.atom(*atom),
            Expr::Not(inner) => Ok(self.expr(inner)?.not()),
            Expr::All(items) => {
                let items: Result<Vec<Tri>, Refusal> =
                    items.iter().map(|item| self.expr(item)).collect();
                Ok(Tri::all(items?))
            }
            Expr::Any(items) => {
                let items: Result<Vec<Tri>, Refusal> =
                    items.iter().map(|item| self.expr(item)).collect();
                Ok(Tri::any(items?))
            }
        }
    }
    fn atom(&mut self, atom: Atom) -> Result<Tri, Refusal> {
        match atom {
            Atom::Position(device, position) => self.position(device, position),
            Atom::Charged(device) => match self.machine.energy_unit(device) {
                Some(unit) => {
                    self.knows(unit)?;
                    Ok(Tri::known(self.charged(unit)))
                }
                None => Ok(Tri::is(true)),
            },
            Atom::Driven(part) | Atom::Lit(part) | Atom::Running(part) => {
                Ok(self.seen(part)?.pickup)
            }
            Atom::Closed(part) => self.closed(part),
            Atom::InputOn(part) | Atom::Blown(part) | Atom::LinkOpen(part) => {
                match self.machine.part_unit(part) {
                    Some(unit) => self.at(unit, 1),
                    None => Ok(Tri::is(false)),
                }
            }
            Atom::Logic(logic) => match self.machine.logic_unit(logic) {
                Some(unit) => self.at(unit, 1),
                None => match &self.scheme.logics[logic].rule {
                    LogicRule::When { when, .. } => self.expr(&when.expr),
                    LogicRule::Memory { .. } => {
                        Err(Refusal("a memory of a programmed device stands nowhere".to_owned()))
                    }
                },
            },
            Atom::Order(order) => self.at(self.machine.order_unit(order), 1),
            Atom::Condition(condition, state) => {
                self.at(self.machine.condition_unit(condition), state)
            }
            Atom::Live(supply) => self.at(self.machine.supply_unit(supply), 1),
        }
    }
    fn position(&mut self, device: DeviceId, position: u8) -> Result<Tri, Refusal> {
        let Some(unit) = self.machine.device_unit(device) else {
            return Ok(Tri::is(position == self.scheme.devices[device].drawn));
        };
        match self.machine.units[unit].kind {
            UnitKind::Relay(_) => {
                self.knows(unit)?;
                let name = self.name(unit);
                let (cold, warm) = match position {
                    0 => (relay::DROPPED, relay::DROPPED_WARM),
                    _ => (relay::PICKED, relay::PICKED_WARM),
                };
                let cold = Bool::equals(name, cold);
                Ok(Tri::known(match self.timed {
                    true => cold.or(Bool::equals(name, warm)),
                    false => cold,
                }))
            }
            UnitKind::Stroke(_) => {
                self.knows(unit)?;
                let touch = Bool::word(self.touch(unit));
                Ok(Tri::known(if position == 1 { touch } else { touch.negated() }))
            }
            _ => self.at(unit, position),
        }
    }
    /// At least one closing is charged. With `n` closings a variable above `n` is a charge whose
    /// recharge was broken off.
    pub(super) fn charged(&self, unit: UnitId) -> Bool {
        let levels = self.machine.units[unit].phases / 2;
        let name = self.name(unit);
        Bool::Not(Box::new(if self.timed {
            Bool::word(format!("({name} == 0 || {name} == {levels})"))
        } else {
            Bool::equals(name, 0)
        }))
    }
    /// Whether a contact, fuse or link conducts.
    pub(super) fn closed(&mut self, part: PartId) -> Result<Tri, Refusal> {
        let item = &self.scheme.parts[part];
        match &item.kind {
            PartKind::Fuse { .. } | PartKind::Link => match self.machine.part_unit(part) {
                Some(unit) => self.at(unit, 0),
                None => Ok(Tri::is(true)),
            },
            PartKind::Contact(contact) => {
                if let Some(unit) = self.machine.part_unit(part) {
                    return self.at(unit, 1);
                }
                if let Some(device) = item.device
                    && let Some(unit) = self.machine.device_unit(device)
                {
                    let found = self
                        .groups(device)
                        .iter()
                        .position(|group| group.contacts.contains(&part))
                        .map(|group| (group, self.groups(device)[group].closed_when_open));
                    if let Some((group, closed_when_open)) = found {
                        self.knows(unit)?;
                        let changed = Bool::word(self.changed(unit, group));
                        return Ok(Tri::known(if closed_when_open {
                            changed.negated()
                        } else {
                            changed
                        }));
                    }
                }
                self.expr(&contact.closed_when.expr)
            }
            _ => Ok(Tri::is(true)),
        }
    }
    /// What a coil, input, lamp or motor does.
    pub(super) fn seen(&mut self, part: PartId) -> Result<Seen, Refusal> {
        if let Some(seen) = self.seen.get(&part) {
            return Ok(seen.clone());
        }
        let seen = match self.section(part)? {
            None => volts::dead(),
            Some(section) => {
                let scheme = self.scheme;
                volts::judge(scheme, &section, part, |switch| self.closed(switch))?
            }
        };
        let name = &self.scheme.parts[part].name;
        self.notes.push(format!("{name}: {}", seen.words));
        let plain = plain(name);
        let opposite = seen.dropout == seen.pickup.clone().not();
        let pickup = self.define(&format!("on_{plain}"), seen.pickup);
        let dropout = match opposite {
            true => pickup.clone().not(),
            false => self.define(&format!("off_{plain}"), seen.dropout),
        };
        let seen = Seen { pickup, dropout, words: seen.words };
        self.seen.insert(part, seen.clone());
        Ok(seen)
    }
    fn section(&mut self, part: PartId) -> Result<Option<std::rc::Rc<Section>>, Refusal> {
        if self.scheme.parts[part].at.is_none() {
            return Ok(None);
        }
        if let Some(known) = self.sections.get(&part) {
            return Ok(known.clone());
        }
        let section = self.ground.section(part)?.map(std::rc::Rc::new);
        for other in self.ground.together_with(part) {
            self.sections.insert(other, section.clone());
        }
        Ok(section)
    }
    /// Gives an expression a name, so that it is printed once.
    pub(super) fn define(&mut self, name: &str, so: Tri) -> Tri {
        let known = so.is_known();
        let mut one = |name: String, value: Bool| {
            if matches!(value, Bool::Is(_)) {
                return value;
            }
            let taken = |name: &str| self.defined.iter().any(|(other, _)| other == name);
            let mut unique = name.clone();
            let mut more = 2;
            while taken(&unique) {
                unique = format!("{name}_{more}");
                more += 1;
            }
            self.defined.push((unique.clone(), value));
            Bool::word(unique)
        };
        if known {
            return Tri::known(one(name.to_owned(), so.may));
        }
        Tri { may: one(format!("{name}_may"), so.may), sure: one(format!("{name}_sure"), so.sure) }
    }
}

/// Letters and digits only.
pub(super) fn plain(name: &str) -> String {
    name.chars().map(|letter| if letter.is_ascii_alphanumeric() { letter } else { '_' }).collect()
}

/// The auxiliary contacts of a breaker by when they change: those that say open or closed, alike
/// in that and in both offsets.
fn together(scheme: &Scheme, breaker: DeviceId) -> Vec<Together> {
    let mut groups: Vec<Together> = Vec::new();
    for &part in &scheme.devices[breaker].parts {
        let PartKind::Contact(contact) = &scheme.parts[part].kind else { continue };
        let Some(closed_when_open) = when_open(&contact.closed_when.expr, breaker) else {
            continue;
        };
        let offset = |offset: &Option<fiftytwo_scheme::StrokeOffset>| {
            offset.as_ref().map_or((0, 0), |offset| (offset.lo, offset.hi))
        };
        let (on_close, on_open) = (offset(&contact.on_close), offset(&contact.on_open));
        let same = |group: &&mut Together| {
            (group.closed_when_open, group.on_close, group.on_open)
                == (closed_when_open, on_close, on_open)
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.contacts.push(part),
            None => {
                groups.push(Together { contacts: vec![part], closed_when_open, on_close, on_open });
            }
        }
    }
    groups
}

fn when_open(expr: &Expr, breaker: DeviceId) -> Option<bool> {
    match expr {
        Expr::Atom(Atom::Position(device, position)) if *device == breaker => Some(*position == 0),
        Expr::Not(inner) => when_open(inner, breaker).map(|open| !open),
        _ => None,
    }
}
