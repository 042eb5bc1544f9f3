//! A scheme becomes units.

use super::clocks::ClockTable;
use super::stroke;
use super::{Evaluator, Machine, Scope, Stayer, Switch, Tri, Unit, UnitId, UnitKind};
use fiftytwo_circuit::Wiring;
use fiftytwo_scheme::{
    Arena, Atom, DeviceId, DeviceKind, Expr, Finding, LogicId, LogicRule, PartId, PartKind, Scheme,
};

/// Most closings an energy store may hold, and most positions of a handle or latch.
const MOST_STEPS: usize = 60;

pub(super) fn build(scheme: &Scheme) -> Result<Machine<'_>, Vec<Finding>> {
    let wiring = Wiring::new(scheme)?;
    let mut builder = Builder {
        scheme,
        units: Arena::default(),
        clocks: ClockTable::default(),
        findings: Vec::new(),
    };
    let of_condition = scheme
        .conditions
        .iter()
        .map(|(id, condition)| {
            let clocks = condition
                .becomes
                .iter()
                .map(|rule| {
                    format!("{} becomes {}", condition.name, condition.states[rule.state as usize])
                })
                .collect();
            let phases = condition.states.len();
            builder.unit(UnitKind::Condition(id), &condition.name, 0, phases, clocks)
        })
        .collect();
    let of_order = scheme
        .orders
        .iter()
        .map(|(id, order)| {
            let clocks = vec![format!("{} lasts", order.name)];
            builder.unit(UnitKind::Order(id), &order.name, 0, 2, clocks)
        })
        .collect();
    let of_supply = scheme
        .supplies
        .iter()
        .map(|(id, supply)| builder.unit(UnitKind::Supply(id), &supply.name, 1, 2, Vec::new()))
        .collect();
    let mut strokes = Vec::new();
    let mut of_device = Vec::new();
    let mut of_energy = Vec::new();
    for (id, _) in scheme.devices.iter() {
        let table = builder.stroke_table(id);
        of_device.push(builder.device(id, table.as_ref()));
        of_energy.push(builder.energy(id));
        strokes.push(table);
    }
    let of_logic = scheme.logics.ids().map(|id| builder.logic(id)).collect();
    let of_part: Vec<Option<UnitId>> = scheme.parts.ids().map(|id| builder.part(id)).collect();
    let start_of = scheme.devices.ids().map(|id| start_of(scheme, id, &of_part)).collect();
    // After what they hold: a stopwatch that both ask is theirs.
    let stay_of_condition = scheme
        .conditions
        .iter()
        .map(|(id, item)| {
            let stays = item.stays.is_some();
            stays.then(|| builder.stay(Stayer::Condition(id), &item.name))
        })
        .collect();
    let stay_of_device = scheme
        .devices
        .iter()
        .map(|(id, item)| item.stays.is_some().then(|| builder.stay(Stayer::Hand(id), &item.name)))
        .collect();
    let Builder { units, clocks, findings, .. } = builder;
    if !findings.is_empty() {
        return Err(findings);
    }
    let mut machine = Machine {
        scheme,
        wiring,
        units,
        of_condition,
        of_order,
        of_supply,
        of_device,
        of_energy,
        of_logic,
        of_part,
        stay_of_condition,
        stay_of_device,
        start_of,
        strokes,
        switch_of: Vec::new(),
        follows: Vec::new(),
        load_of: Vec::new(),
        moved_of: Vec::new(),
        clocks,
        readings: std::sync::OnceLock::new(),
        solved: std::sync::Arc::default(),
    };
    machine.moved_of = machine.units.values().map(|unit| moved(&machine, &unit.kind)).collect();
    machine.follows = scheme.parts.ids().map(|part| followed(&machine, part)).collect();
    machine.switch_of = scheme.parts.ids().map(|part| switch(&machine, part)).collect();
    machine.load_of = scheme.parts.ids().map(|part| load(&machine, part)).collect();
    for (unit, phase) in closed_as_drawn(&machine) {
        machine.units[unit].drawn = phase;
    }
    Ok(machine)
}

/// What bounces has come to rest as it is drawn.
fn closed_as_drawn(machine: &Machine<'_>) -> Vec<(UnitId, u8)> {
    let scope = Scope::whole(machine);
    let evaluator = Evaluator::new(machine, &scope);
    let drawn = machine.drawn();
    let look = evaluator.look(&drawn);
    let bouncing = machine.units.iter().filter_map(|(unit, item)| match item.kind {
        UnitKind::Contact(part) if item.phases > 2 => Some((unit, part)),
        _ => None,
    });
    bouncing.map(|(unit, part)| (unit, u8::from(look.followed(part) == Tri::Yes))).collect()
}

/// The unit of the feed of a device that takes a time to start.
fn start_of(scheme: &Scheme, id: DeviceId, of_part: &[Option<UnitId>]) -> Option<UnitId> {
    let DeviceKind::Ied { starts_in: Some(_), .. } = &scheme.devices[id].kind else { return None };
    let parts = scheme.devices[id].parts.iter();
    let feeds = parts.filter(|part| matches!(scheme.parts[**part].kind, PartKind::Power { .. }));
    feeds.filter_map(|part| of_part[fiftytwo_scheme::arena::Id::index(*part)]).next()
}

fn moved(machine: &Machine<'_>, kind: &UnitKind) -> Vec<u8> {
    match kind {
        UnitKind::Stroke(device) => machine
            .stroke(*device)
            .map(|table| table.phases.iter().map(|phase| phase.moved).collect())
            .unwrap_or_default(),
        _ => Vec::new(),
    }
}

fn switch(machine: &Machine<'_>, id: PartId) -> Switch {
    match (&machine.scheme.parts[id].kind, machine.part_unit(id)) {
        (PartKind::Contact(_), Some(unit)) => Switch::Unit { unit, closed_phase: 1 },
        _ => machine.follows[fiftytwo_scheme::arena::Id::index(id)],
    }
}

fn followed(machine: &Machine<'_>, id: PartId) -> Switch {
    let part = &machine.scheme.parts[id];
    match &part.kind {
        PartKind::Contact(_) => {
            let stroke = part.device.and_then(|device| {
                let table = machine.stroke(device)?;
                let unit = machine.device_unit(device)?;
                let group = table.group_of.iter().find(|(contact, _)| *contact == id)?.1;
                let closed_when_open = table.groups[usize::from(group)].closed_when_open;
                Some(Switch::Stroke { unit, bit: stroke::bit(group), closed_when_open })
            });
            stroke.unwrap_or(Switch::Statement)
        }
        PartKind::Fuse { .. } | PartKind::Link => match machine.part_unit(id) {
            Some(unit) => Switch::Unit { unit, closed_phase: 0 },
            None => Switch::Always,
        },
        _ => Switch::Always,
    }
}

fn load(machine: &Machine<'_>, id: PartId) -> Option<(fiftytwo_circuit::SectionId, usize)> {
    let section = machine.wiring.section_of(id)?;
    let slot = machine.wiring.loads(section).iter().position(|load| *load == id)?;
    Some((section, slot))
}

struct Builder<'s> {
    scheme: &'s Scheme,
    units: Arena<UnitId, Unit>,
    clocks: ClockTable,
    findings: Vec<Finding>,
}

impl Builder<'_> {
    fn unit(
        &mut self,
        kind: UnitKind,
        name: &str,
        drawn: u8,
        phases: usize,
        clocks: Vec<String>,
    ) -> UnitId {
        self.clocks.reserve(clocks);
        let phases = u8::try_from(phases).unwrap_or(u8::MAX);
        self.units.push(Unit { kind, name: name.to_owned(), drawn, phases })
    }
    fn stroke_table(&mut self, id: DeviceId) -> Option<stroke::StrokeTable> {
        let device = &self.scheme.devices[id];
        if !matches!(device.kind, DeviceKind::Breaker { .. }) {
            return None;
        }
        match stroke::table(self.scheme, id) {
            Ok(table) => Some(table),
            Err(message) => {
                let finding = Finding::error("too-many-offsets", message)
                    .at(device.span, "this breaker")
                    .help("Give contacts that change together the same on-close and on-open.")
                    .device(&device.name);
                self.findings.push(finding);
                None
            }
        }
    }
    fn device(&mut self, id: DeviceId, table: Option<&stroke::StrokeTable>) -> Option<UnitId> {
        let scheme = self.scheme;
        let device = &scheme.devices[id];
        let name = &device.name;
        let positions = device.positions.len();
        if positions > MOST_STEPS {
            self.too_many(id, positions);
            return None;
        }
        match &device.kind {
            DeviceKind::Breaker { .. } => {
                let table = table?;
                let phases = table.phases.len();
                let mut clocks = vec![
                    format!("{name} since its close latch went"),
                    format!("{name} since touch"),
                    format!("{name} since its trip latch went"),
                    format!("{name} since parting"),
                ];
                for direction in ["closing", "opening"] {
                    for group in &table.groups {
                        clocks.push(format!(
                            "{name} {direction}, {}",
                            self.contacts(&group.contacts)
                        ));
                    }
                }
                for coil in table.close_coils.iter().chain(&table.trip_coils) {
                    clocks.push(scheme.parts[*coil].name.clone());
                }
                for coil in &table.trip_coils {
                    clocks.push(format!("{} driven", scheme.parts[*coil].name));
                }
                let drawn = if device.drawn == 0 { 0 } else { table.closed };
                Some(self.unit(UnitKind::Stroke(id), name, drawn, phases, clocks))
            }
            DeviceKind::Handle { .. } | DeviceKind::Button => {
                Some(self.unit(UnitKind::Hand(id), name, device.drawn, positions, Vec::new()))
            }
            DeviceKind::Relay | DeviceKind::Timer { .. } => {
                let clocks = vec![
                    format!("{name} picks up"),
                    format!("{name} drops out"),
                    format!("{name} subsides"),
                ];
                let drawn = if device.drawn == 0 { 0 } else { super::RelayPhase::Picked as u8 };
                Some(self.unit(UnitKind::Relay(id), name, drawn, 8, clocks))
            }
            DeviceKind::Lockout { .. } | DeviceKind::Latch { .. } => {
                let clocks = device
                    .positions
                    .iter()
                    .map(|position| format!("{name} goes to {position}"))
                    .collect();
                let phases = positions * 2;
                Some(self.unit(UnitKind::Bistable(id), name, device.drawn, phases, clocks))
            }
            DeviceKind::Overload => {
                Some(self.unit(UnitKind::Overload(id), name, device.drawn, positions, Vec::new()))
            }
            DeviceKind::Sensor | DeviceKind::Ied { .. } => None,
        }
    }
    fn too_many(&mut self, id: DeviceId, positions: usize) {
        let device = &self.scheme.devices[id];
        let message = format!("{} has {positions} positions, more than {MOST_STEPS}", device.name);
        let finding = Finding::error("too-many-positions", message)
            .at(device.span, "this device")
            .help(format!("Write at most {MOST_STEPS} positions."))
            .device(&device.name);
        self.findings.push(finding);
    }
    fn contacts(&self, contacts: &[PartId]) -> String {
        let names: Vec<&str> =
            contacts.iter().map(|part| self.scheme.parts[*part].own_name.as_str()).collect();
        names.join(", ")
    }
    fn energy(&mut self, id: DeviceId) -> Option<UnitId> {
        let device = &self.scheme.devices[id];
        let DeviceKind::Breaker { energy: Some(energy), .. } = &device.kind else { return None };
        let closings = energy.closings as usize;
        if closings > MOST_STEPS {
            self.too_many(id, closings);
            return None;
        }
        let name = format!("{} {}", device.name, energy.name);
        let clocks = vec![format!("{name} is charged")];
        Some(self.unit(UnitKind::Energy(id), &name, 0, closings * 2 + 2, clocks))
    }
    fn logic(&mut self, id: LogicId) -> Option<UnitId> {
        let logic = &self.scheme.logics[id];
        let name = format!("{} {}", self.scheme.devices[logic.device].name, logic.name);
        let by_itself = match &logic.rule {
            LogicRule::Memory { .. } => true,
            LogicRule::When { when, on_delay, off_delay } => {
                on_delay.hi > 0
                    || off_delay.hi > 0
                    || asks_the_circuit(&when.expr)
                    || self.comes_round(id)
            }
        };
        by_itself.then(|| {
            let clocks = vec![format!("{name} comes on"), format!("{name} goes off")];
            self.unit(UnitKind::Logic(id), &name, 0, 2, clocks)
        })
    }
    fn stay(&mut self, of: Stayer, name: &str) -> UnitId {
        let name = format!("{name} stays");
        let clocks = vec![name.clone()];
        self.unit(UnitKind::Stay(of), &name, 0, 3, clocks)
    }
    /// Whether a line of logic without delay leads back to itself.
    fn comes_round(&self, start: LogicId) -> bool {
        let mut waiting = vec![start];
        let mut visited = Vec::new();
        while let Some(id) = waiting.pop() {
            if let LogicRule::When { when, .. } = &self.scheme.logics[id].rule {
                let mut found = false;
                when.expr.atoms(&mut |atom| {
                    if let Atom::Logic(next) = atom {
                        found |= next == start;
                        if !visited.contains(&next) {
                            visited.push(next);
                            waiting.push(next);
                        }
                    }
                });
                if found {
                    return true;
                }
            }
        }
        false
    }
    fn part(&mut self, id: PartId) -> Option<UnitId> {
        let part = &self.scheme.parts[id];
        // A contact that stands in no leg here leads to another panel: it takes its time all the same.
        if part.at.is_none() && !matches!(part.kind, PartKind::Contact(_)) {
            return None;
        }
        let name = part.name.clone();
        match &part.kind {
            PartKind::Contact(contact) => {
                let timed = |time: &Option<fiftytwo_scheme::TimeRange>| {
                    time.as_ref().is_some_and(|time| time.hi > 0)
                };
                let by_itself = timed(&contact.closes_in)
                    || timed(&contact.opens_in)
                    || asks_the_circuit(&contact.closed_when.expr);
                let bounces = contact.bounce.is_some();
                (by_itself || bounces).then(|| {
                    let mut clocks = vec![format!("{name} closes"), format!("{name} opens")];
                    if bounces {
                        clocks.extend(
                            ["closing", "opening"].map(|it| format!("{name} rests after {it}")),
                        );
                    }
                    let phases = if bounces { 6 } else { 2 };
                    self.unit(UnitKind::Contact(id), &name, 0, phases, clocks)
                })
            }
            PartKind::Power { .. } => {
                let device = &self.scheme.devices[part.device?];
                let DeviceKind::Ied { starts_in: Some(_), .. } = &device.kind else { return None };
                let name = &device.name;
                let clocks = vec![format!("{name} starts"), format!("{name} stops")];
                Some(self.unit(UnitKind::Input(id), name, 1, 2, clocks))
            }
            PartKind::Input(_) => {
                let clocks = vec![format!("{name} goes on"), format!("{name} goes off")];
                Some(self.unit(UnitKind::Input(id), &name, 0, 2, clocks))
            }
            PartKind::Fuse { .. } => Some(self.unit(UnitKind::Fuse(id), &name, 0, 2, Vec::new())),
            PartKind::Link => Some(self.unit(UnitKind::Link(id), &name, 0, 2, Vec::new())),
            _ => None,
        }
    }
}

/// Whether a statement depends on volts or on a contact, so that following it at once could
/// run in a circle.
fn asks_the_circuit(expr: &Expr) -> bool {
    let mut asks = false;
    expr.atoms(&mut |atom| {
        asks |= matches!(atom, Atom::Driven(_) | Atom::Lit(_) | Atom::Running(_) | Atom::Closed(_));
    });
    asks
}
