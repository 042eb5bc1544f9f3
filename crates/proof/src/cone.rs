//! Which units a claim needs: first few, then more. What is left out is unknown, so everything
//! that depends on it is perhaps, which can only add runs: a claim that holds with few units
//! known holds with all.

use crate::monitor::{Aim, Monitor};
use crate::questions::Alone;
use fiftytwo_circuit::SectionId;
use fiftytwo_motion::machine::{Machine, Scope, Stuck, UnitId, UnitKind};
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{Atom, DeviceId, DeviceKind, Expr, LogicRule, PartId, PartKind, SupplyId};
use std::collections::BTreeSet;

/// Who depends on whom.
pub struct Dependencies<'m, 's> {
    machine: &'m Machine<'s>,
    /// Through anything in the same section: loads side by side share a voltage drop.
    of: Vec<BTreeSet<UnitId>>,
    /// Only through what stands on a way that drives: good enough to choose what to try first.
    on_ways: Vec<BTreeSet<UnitId>>,
    /// Only through the shortest way of each coil: the first guess.
    on_shortest: Vec<BTreeSet<UnitId>>,
}

/// How far a coil's dependence is followed.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Reach {
    /// Not at all.
    Coil,
    Section,
    Ways,
    Shortest,
}

impl<'m, 's> Dependencies<'m, 's> {
    /// Reads them off the machine.
    pub fn new(machine: &'m Machine<'s>) -> Self {
        let read = |reach: Reach| {
            machine
                .units
                .iter()
                .map(|(unit, item)| of_unit(machine, unit, &item.kind, reach))
                .collect()
        };
        Self {
            machine,
            of: read(Reach::Section),
            on_ways: read(Reach::Ways),
            on_shortest: read(Reach::Shortest),
        }
    }
    /// The units that what moves `unit` depends on.
    pub fn of(&self, unit: UnitId) -> &BTreeSet<UnitId> {
        &self.of[unit.index()]
    }
    /// The same only through what stands on a way that drives.
    pub(crate) fn on_ways(&self, unit: UnitId) -> &BTreeSet<UnitId> {
        &self.on_ways[unit.index()]
    }
    /// Everything that some unit of `from` depends on in the end.
    pub fn backward(&self, from: &BTreeSet<UnitId>) -> BTreeSet<UnitId> {
        closure(from, &BTreeSet::new(), |unit| self.of(unit))
    }
    /// What stands still while one source is asked for itself: conditions, orders and logic that the
    /// other sources read, and the trips but for the first and the first that the source waits for.
    pub(crate) fn stands_still(&self, alone: &Alone) -> BTreeSet<UnitId> {
        let machine = self.machine;
        let outside = |expr: &Expr| {
            let mut read = BTreeSet::new();
            units_of_expr(machine, expr, &mut read);
            read.retain(|unit| {
                matches!(
                    machine.units[*unit].kind,
                    UnitKind::Condition(_) | UnitKind::Order(_) | UnitKind::Logic(_)
                )
            });
            read
        };
        let strokes: BTreeSet<UnitId> = machine
            .units
            .iter()
            .filter(|(_, item)| matches!(item.kind, UnitKind::Stroke(_)))
            .map(|(unit, _)| unit)
            .collect();
        let mut source = BTreeSet::new();
        units_of_expr(machine, &alone.source, &mut source);
        let behind = closure(&source, &strokes, |unit| self.on_ways(unit));
        let waits_for = alone
            .trips
            .iter()
            .position(|trip| outside(trip).iter().any(|unit| behind.contains(unit)));
        let mut still: BTreeSet<UnitId> = alone.others.iter().flat_map(outside).collect();
        let trips = alone.trips.iter().enumerate();
        let held = trips.filter(|(index, _)| *index != 0 && Some(*index) != waits_for);
        still.extend(held.flat_map(|(_, trip)| outside(trip)));
        let mut free = source;
        for index in [Some(0), waits_for].into_iter().flatten() {
            free.extend(alone.trips.get(index).into_iter().flat_map(outside));
        }
        still.retain(|unit| !free.contains(unit));
        still
    }
    /// Whether the loss of a supply can change anything for the known units or for what a claim
    /// reads: some section that drives a known unit, or a load of the claim, hangs on it.
    pub(crate) fn feels(
        &self,
        scope: &Scope,
        monitor: &Monitor,
        still: &BTreeSet<UnitId>,
        supply: SupplyId,
    ) -> bool {
        let machine = self.machine;
        let mut read = BTreeSet::new();
        for expr in monitor.statements() {
            units_of_expr(machine, expr, &mut read);
        }
        if let Monitor::DrivenWithout { coils, .. } | Monitor::Unasked { coils, .. } = monitor {
            for coil in coils {
                units_of_coil(machine, *coil, Reach::Section, &mut read);
            }
        }
        let moved = machine.units.ids().filter(|unit| scope.knows(*unit) && !still.contains(unit));
        for unit in moved {
            read.extend(self.of(unit));
        }
        read.contains(&machine.supply_unit(supply))
    }
    /// Everything that some way leads to from a unit of `from`.
    pub(crate) fn forward(&self, from: &BTreeSet<UnitId>) -> BTreeSet<UnitId> {
        let stands = |unit: &UnitId| never_moves(&self.machine.units[*unit].kind);
        let mut found: BTreeSet<UnitId> = from.iter().copied().filter(|it| !stands(it)).collect();
        loop {
            let more: Vec<UnitId> = self
                .machine
                .units
                .ids()
                .filter(|unit| !found.contains(unit))
                .filter(|unit| self.on_ways(*unit).iter().any(|other| found.contains(other)))
                .collect();
            if more.is_empty() {
                return found;
            }
            found.extend(more);
        }
    }
    /// The scopes to try for a claim, each containing the one before; the last is the whole cone.
    pub fn ladder(&self, monitor: &Monitor) -> Vec<Scope> {
        self.ladder_while(monitor, &BTreeSet::new())
    }
    /// The same while some units move by nothing but the moves of others: what would move them does
    /// not matter.
    pub(crate) fn ladder_while(&self, monitor: &Monitor, still: &BTreeSet<UnitId>) -> Vec<Scope> {
        let machine = self.machine;
        let mut base = BTreeSet::new();
        let by_time = matches!(monitor, Monitor::AtRest { .. } | Monitor::Longer { .. });
        let mut driven = Vec::new();
        for expr in monitor.statements() {
            if by_time {
                expr.atoms(&mut |atom| match atom {
                    Atom::Driven(part) | Atom::Lit(part) | Atom::InputOn(part) => driven.push(part),
                    other => units_of_atom(machine, other, &mut base),
                });
            } else {
                units_of_expr(machine, expr, &mut base);
            }
        }
        if let Monitor::Unasked { coils, .. } = monitor {
            return self.ladder_to(&base, coils, None);
        }
        if by_time {
            return self.ladder_to(&base, &driven, monitor.premise_that_holds());
        }
        if let Monitor::ClosesAlone { breaker, .. } = monitor {
            return self.ladder_round(*breaker, &base);
        }
        let breaker = monitor.breaker(machine).and_then(|device| machine.device_unit(device));
        let mut first = base.clone();
        first.extend(breaker);
        let mut sets = vec![first.clone()];
        let mut at_will_rungs = 0;
        let (closes, trips) = monitor
            .breaker(machine)
            .and_then(|device| machine.stroke(device))
            .map(|table| (table.close_coils.clone(), table.trip_coils.clone()))
            .unwrap_or_default();
        let on_coils = |coils: &[PartId]| units_on_ways(machine, coils);
        let (to_close, to_trip) = (on_coils(&closes), on_coils(&trips));
        let behind_trip =
            closure(&to_trip, &breaker.into_iter().collect(), |unit| self.on_ways(unit));
        let opens = matches!(
            monitor,
            Monitor::StaysClosed { .. }
                | Monitor::ClosesUnder { .. }
                | Monitor::RefusesOrder { aim: Aim::OpenAllTheSame, .. }
        );
        if opens {
            // What leads from the trip to the breaker.
            let ahead = self.forward(&base);
            let mut chain = first.clone();
            chain.extend(behind_trip.intersection(&ahead));
            sets.push(chain);
        } else {
            // Relays on the way to the closing coil that the breaker itself moves: the anti-pump.
            let mut own = first.clone();
            own.extend(self.relays_moved_by(breaker, &to_close));
            sets.push(own.clone());
            at_will_rungs = sets.len();
            // Relays on the way to it that repeat what is read.
            let repeats = self.forward(&base);
            own.extend(self.relays(&to_close).filter(|unit| repeats.contains(unit)));
            sets.push(own.clone());
            // What trips because the breaker has closed.
            let ahead = self.forward(&breaker.into_iter().collect());
            let mut answering = own.clone();
            answering.extend(behind_trip.intersection(&ahead));
            sets.push(answering.clone());
            answering.extend(to_close);
            sets.push(answering.clone());
            if let Monitor::RefusesOrder { .. } | Monitor::FailsDuty { .. } = monitor {
                // An order need not be obeyed while something trips.
                answering.extend(to_trip);
                sets.push(answering);
            }
        }
        let whole = closure(&first, still, |unit| self.of(unit));
        let mut grown = sets.last().cloned().unwrap_or_default();
        for _ in 0..2 {
            let moved = grown.iter().filter(|unit| !still.contains(unit));
            let next: BTreeSet<UnitId> =
                moved.flat_map(|unit| self.on_ways(*unit).iter().copied()).collect();
            grown.extend(next);
            sets.push(grown.clone());
        }
        sets.push(whole);
        // How long an order lasts is the question where it may end meanwhile.
        let mut asked_whole = BTreeSet::new();
        if let Monitor::RefusesOrder { source, aim, .. } = monitor
            && *aim != Aim::Close
        {
            units_of_expr(machine, source, &mut asked_whole);
        }
        let mut scopes: Vec<Scope> = Vec::new();
        for (rung, set) in sets.iter().enumerate() {
            let scope = self.scope(set);
            if rung < at_will_rungs {
                // Orders and thoughts at will first: their times seldom matter, and cost much.
                let mut free = scope.clone();
                for (unit, item) in machine.units.iter() {
                    let free_one = is_a_thought(&item.kind) && !asked_whole.contains(&unit);
                    free.at_will[unit.index()] = scope.knows(unit) && free_one;
                }
                if scopes.last() != Some(&free) && free != scope {
                    scopes.push(free);
                    if rung + 1 < at_will_rungs {
                        continue;
                    }
                }
            }
            if scopes.last() != Some(&scope) {
                scopes.push(scope);
            }
        }
        scopes
    }
    /// The scopes for a breaker left alone: first what its own moves lead to that orders it to close again
    /// and the hands that don't; then its energy and anti-pump; then what permits, step by step.
    fn ladder_round(&self, breaker: DeviceId, hands: &BTreeSet<UnitId>) -> Vec<Scope> {
        let machine = self.machine;
        let Some(stroke) = machine.device_unit(breaker) else { return Vec::new() };
        let mut sources = BTreeSet::new();
        let matrices = machine.scheme.matrices.iter().filter(|matrix| matrix.breaker == breaker);
        for source in matrices.flat_map(|matrix| &matrix.close_by) {
            units_of_expr(machine, &source.by.expr, &mut sources);
        }
        let on_coils = |coils: &[PartId]| units_on_ways(machine, coils);
        let (ways, to_trip) = machine
            .stroke(breaker)
            .map(|table| (on_coils(&table.close_coils), on_coils(&table.trip_coils)))
            .unwrap_or_default();
        let around = BTreeSet::from([stroke]);
        let ahead = self.forward(&around);
        if sources.is_empty() {
            sources.extend(ways.intersection(&ahead));
        }
        let behind = closure(&sources, &around, |unit| self.on_ways(unit));
        let mut set: BTreeSet<UnitId> = hands.union(&sources).copied().collect();
        set.insert(stroke);
        set.extend(behind.intersection(&ahead));
        // What they answer to, as long as it stands.
        let condition = |unit: &UnitId| matches!(machine.units[*unit].kind, UnitKind::Condition(_));
        let read = set.iter().flat_map(|unit| self.on_ways(*unit)).copied().filter(condition);
        set = set.iter().copied().chain(read).collect();
        // What trips by the same causes.
        let causes = |unit: &UnitId| {
            self.on_ways(*unit)
                .iter()
                .all(|it| set.contains(it) || never_moves(&machine.units[*it].kind))
        };
        let trips: Vec<UnitId> = to_trip.intersection(&ahead).copied().filter(causes).collect();
        set.extend(trips);
        let mut sets = vec![set.clone()];
        // What may keep it from opening whatever trips, and what moves that: one coil is enough.
        let trip_coils = machine.stroke(breaker).into_iter().flat_map(|table| &table.trip_coils);
        for coil in trip_coils {
            let blocks = units_on_every_way(machine, *coil);
            set.extend(closure(&blocks, &set, |unit| self.on_ways(unit)));
            sets.push(set.clone());
        }
        // Its energy, and the anti-pump.
        set.extend(machine.energy_unit(breaker));
        set.extend(self.relays_moved_by(Some(stroke), &ways));
        sets.push(set.clone());
        set.extend(ways);
        sets.push(set.clone());
        set.extend(behind);
        sets.push(set);
        sets.push(closure(&around, &BTreeSet::new(), |unit| self.of(unit)));
        let mut scopes: Vec<Scope> = sets.iter().map(|set| self.scope(set)).collect();
        if let Some(first) = scopes.first_mut() {
            // How long a hand's order lasts does not matter to what goes on without.
            for unit in
                hands.iter().filter(|it| matches!(machine.units[**it].kind, UnitKind::Order(_)))
            {
                first.at_will[unit.index()] = true;
            }
        }
        scopes.dedup();
        scopes
    }
    /// The scopes for a statement about loads: first what leads from the rest of the statement to
    /// them, then what stands on their ways, then more and more.
    fn ladder_to(
        &self,
        base: &BTreeSet<UnitId>,
        loads: &[PartId],
        held: Option<(DeviceId, &Expr)>,
    ) -> Vec<Scope> {
        let machine = self.machine;
        let (mut ways, mut section, mut own) = (BTreeSet::new(), BTreeSet::new(), base.clone());
        let mut shortest = BTreeSet::new();
        for &load in loads {
            own.extend(machine.part_unit(load));
            // What guards a coil hangs on the ways of that coil.
            let load = machine.scheme.parts[load].watches.unwrap_or(load);
            units_of_coil(machine, load, Reach::Shortest, &mut shortest);
            units_of_coil(machine, load, Reach::Ways, &mut ways);
            units_of_coil(machine, load, Reach::Section, &mut section);
        }
        let stuck = held.and_then(|(device, premise)| {
            let (unit, table) = (machine.device_unit(device)?, machine.stroke(device)?);
            Some(Stuck { unit, closed: table.closed, premise: premise.clone() })
        });
        own.extend(stuck.as_ref().map(|stuck| stuck.unit));
        // At first a breaker moves as it likes: what moves it is asked last.
        let strokes: BTreeSet<UnitId> = machine
            .units
            .iter()
            .filter(|(_, item)| matches!(item.kind, UnitKind::Stroke(_)))
            .map(|(unit, _)| unit)
            .collect();
        let behind = closure(&ways, &strokes, |unit| self.on_ways(unit));
        let ahead = self.forward(base);
        let mut chain = own.clone();
        chain.extend(behind.intersection(&ahead));
        let alone = chain.clone();
        let mut direct = chain.clone();
        direct.extend(&ways);
        let mut first = own.clone();
        first.extend(closure(&shortest, &strokes, |unit| &self.on_shortest[unit.index()]));
        chain.extend(&first);
        direct.extend(&first);
        // Their contacts may do what they like, before their causes are asked.
        let mut contacts = own.clone();
        contacts.extend(&ways);
        // A relay on the way that repeats what the statement reads.
        let mut repeated = own.clone();
        repeated.extend(self.relays(&ways).filter(|unit| ahead.contains(unit)));
        let mut sets = vec![own.clone(), repeated, alone, first, chain, contacts, direct.clone()];
        for _ in 0..2 {
            let next: BTreeSet<UnitId> =
                direct.iter().flat_map(|unit| self.on_ways(*unit).iter().copied()).collect();
            direct.extend(next);
            sets.push(direct.clone());
        }
        let mut roots = own;
        roots.extend(section);
        // Before the whole: how a breaker came to stand closed, with what moves it left out.
        let around: BTreeSet<UnitId> =
            stuck.iter().map(|stuck| stuck.unit).chain(strokes).collect();
        let whole = closure(&roots, &BTreeSet::new(), |unit| self.of(unit));
        if stuck.is_some() {
            sets.push(closure(&roots, &around, |unit| self.of(unit)));
        }
        sets.push(whole);
        let mut scopes: Vec<Scope> = Vec::new();
        for (rung, set) in sets.iter().enumerate() {
            let mut scope = self.scope(set);
            if let Some(stuck) = &stuck {
                // What moves the breaker is left out but for the whole: its times matter little.
                scope.at_will[stuck.unit.index()] = rung + 1 < sets.len();
            }
            scope.stuck.clone_from(&stuck);
            if scopes.last() != Some(&scope) {
                scopes.push(scope);
            }
        }
        scopes
    }
    /// The relays among some units.
    fn relays(&self, units: &BTreeSet<UnitId>) -> impl Iterator<Item = UnitId> {
        let is_relay = |unit: &UnitId| matches!(self.machine.units[*unit].kind, UnitKind::Relay(_));
        units.iter().copied().filter(is_relay)
    }
    /// Those of them that a unit moves by a way of their coils.
    fn relays_moved_by(&self, mover: Option<UnitId>, units: &BTreeSet<UnitId>) -> Vec<UnitId> {
        let moved = |unit: &UnitId| mover.is_some_and(|mover| self.on_ways(*unit).contains(&mover));
        self.relays(units).filter(moved).collect()
    }
    fn scope(&self, set: &BTreeSet<UnitId>) -> Scope {
        let known = self
            .machine
            .units
            .iter()
            .map(|(unit, item)| {
                set.contains(&unit)
                    || never_moves(&item.kind)
                    || has_started(self.machine, &item.kind)
            })
            .collect();
        Scope::of(known)
    }
}

/// What no search moves: supplies stay on, fuses whole, links closed, overloads reset.
pub fn never_moves(kind: &UnitKind) -> bool {
    matches!(
        kind,
        UnitKind::Supply(_) | UnitKind::Fuse(_) | UnitKind::Link(_) | UnitKind::Overload(_)
    )
}

/// Whether it says that a device has started. That goes away only with its feed: it costs nothing to
/// know it, and without it nothing is known of the device.
fn has_started(machine: &Machine<'_>, kind: &UnitKind) -> bool {
    matches!(kind, UnitKind::Input(part)
        if matches!(machine.scheme.parts[*part].kind, PartKind::Power { .. }))
}

fn is_a_thought(kind: &UnitKind) -> bool {
    matches!(
        kind,
        UnitKind::Order(_)
            | UnitKind::Logic(_)
            | UnitKind::Contact(_)
            | UnitKind::Input(_)
            | UnitKind::Condition(_)
            | UnitKind::Stay(_)
    )
}

fn closure<'d>(
    from: &BTreeSet<UnitId>,
    not_beyond: &BTreeSet<UnitId>,
    of: impl Fn(UnitId) -> &'d BTreeSet<UnitId>,
) -> BTreeSet<UnitId> {
    let mut found = from.clone();
    let mut waiting: Vec<UnitId> = from.iter().copied().collect();
    while let Some(unit) = waiting.pop() {
        if not_beyond.contains(&unit) {
            continue;
        }
        for &next in of(unit) {
            if found.insert(next) {
                waiting.push(next);
            }
        }
    }
    found
}

/// For each unit that moves: whose moves may be others then, by unit; its own too. A supply stirs
/// all.
pub fn stirs(machine: &Machine<'_>) -> Vec<Box<[bool]>> {
    let many = machine.units.len();
    let mut stirs = vec![vec![false; many].into_boxed_slice(); many];
    for (unit, item) in machine.units.iter() {
        let mut of = of_unit(machine, unit, &item.kind, Reach::Section);
        of.insert(unit);
        let supplies =
            machine.units.iter().filter(|(_, it)| matches!(it.kind, UnitKind::Supply(_)));
        of.extend(supplies.map(|(supply, _)| supply));
        for moved in of {
            stirs[moved.index()][unit.index()] = true;
        }
    }
    stirs
}

/// What a unit's moves depend on: the sections of the coils that move it, and what it reads beside.
pub(crate) fn sections_and_more(
    machine: &Machine<'_>,
    unit: UnitId,
) -> (BTreeSet<SectionId>, BTreeSet<UnitId>) {
    let scheme = machine.scheme;
    let kind = &machine.units[unit].kind;
    let coils: Vec<PartId> = match kind {
        UnitKind::Relay(id) | UnitKind::Bistable(id) | UnitKind::Stroke(id) => {
            let parts = scheme.devices[*id].parts.iter().copied();
            parts.filter(|part| matches!(scheme.parts[*part].kind, PartKind::Coil(_))).collect()
        }
        UnitKind::Energy(id) => match &scheme.devices[*id].kind {
            DeviceKind::Breaker { energy: Some(energy), .. } => {
                energy.charged_by.into_iter().collect()
            }
            _ => Vec::new(),
        },
        UnitKind::Input(part) => vec![*part],
        _ => Vec::new(),
    };
    let sections = coils.into_iter().filter_map(|coil| machine.wiring.section_of(coil)).collect();
    (sections, of_unit(machine, unit, kind, Reach::Coil))
}

/// The units that decide what the loads of a section see.
pub(crate) fn units_of_section(machine: &Machine<'_>, section: SectionId) -> BTreeSet<UnitId> {
    let mut found: BTreeSet<UnitId> =
        machine.wiring.supplies(section).map(|supply| machine.supply_unit(supply)).collect();
    for &part in machine.wiring.switches(section) {
        units_of_contact(machine, part, &mut found);
    }
    found
}

fn of_unit(machine: &Machine<'_>, unit: UnitId, kind: &UnitKind, reach: Reach) -> BTreeSet<UnitId> {
    let scheme = machine.scheme;
    let mut found = BTreeSet::new();
    match kind {
        UnitKind::Condition(id) => {
            for rule in &scheme.conditions[*id].becomes {
                units_of_expr(machine, &rule.when.expr, &mut found);
            }
            found.extend(machine.stay_of_condition(*id));
        }
        UnitKind::Hand(id) => found.extend(machine.stay_of_device(*id)),
        UnitKind::Order(_) | UnitKind::Stay(_) => {}
        UnitKind::Relay(id) | UnitKind::Bistable(id) | UnitKind::Stroke(id) => {
            for &part in &scheme.devices[*id].parts {
                if matches!(scheme.parts[part].kind, PartKind::Coil(_)) {
                    units_of_coil(machine, part, reach, &mut found);
                }
            }
            found.extend(machine.energy_unit(*id));
        }
        UnitKind::Energy(id) => {
            if let DeviceKind::Breaker { energy: Some(energy), .. } = &scheme.devices[*id].kind {
                if let Some(motor) = energy.charged_by {
                    units_of_coil(machine, motor, reach, &mut found);
                }
                found.extend(machine.device_unit(*id));
            }
        }
        UnitKind::Logic(id) => {
            found.extend(machine.start_of(scheme.logics[*id].device));
            match &scheme.logics[*id].rule {
                LogicRule::When { when, .. } => units_of_expr(machine, &when.expr, &mut found),
                LogicRule::Memory { set, clear } => {
                    units_of_expr(machine, &set.expr, &mut found);
                    units_of_expr(machine, &clear.expr, &mut found);
                }
            }
        }
        UnitKind::Contact(part) => {
            found.extend(machine.start_of_part(*part));
            if let PartKind::Contact(contact) = &scheme.parts[*part].kind {
                units_of_expr(machine, &contact.closed_when.expr, &mut found);
            }
        }
        UnitKind::Input(part) => units_of_coil(machine, *part, reach, &mut found),
        UnitKind::Supply(_) | UnitKind::Fuse(_) | UnitKind::Link(_) | UnitKind::Overload(_) => {}
    }
    for person in scheme.persons.values() {
        for may in &person.may {
            let concerns = match (may.does, kind) {
                (
                    fiftytwo_scheme::MayDo::Operate(device)
                    | fiftytwo_scheme::MayDo::Bring(device, _),
                    UnitKind::Hand(id) | UnitKind::Bistable(id),
                ) => device == *id,
                (fiftytwo_scheme::MayDo::Give(order), UnitKind::Order(id)) => order == *id,
                _ => false,
            };
            if let (true, Some(when)) = (concerns, &may.when) {
                units_of_expr(machine, &when.expr, &mut found);
            }
        }
    }
    found.remove(&unit);
    found
}

/// The units whose contacts stand on a way that drives one of these coils.
fn units_on_ways(machine: &Machine<'_>, coils: &[PartId]) -> BTreeSet<UnitId> {
    let mut found = BTreeSet::new();
    for coil in coils {
        units_of_coil(machine, *coil, Reach::Ways, &mut found);
    }
    found
}

/// The units whose contacts stand on every way that drives a coil.
fn units_on_every_way(machine: &Machine<'_>, coil: PartId) -> BTreeSet<UnitId> {
    let ways = machine.wiring.ways(coil);
    let mut each = ways.list.iter().filter(|_| ways.complete).map(|way| {
        let mut units = BTreeSet::new();
        way.parts.iter().for_each(|part| units_of_contact(machine, *part, &mut units));
        units
    });
    let first = each.next().unwrap_or_default();
    each.fold(first, |common, units| common.intersection(&units).copied().collect())
}

/// The units that whether a coil is driven may depend on.
pub(crate) fn units_behind(machine: &Machine<'_>, coil: PartId) -> BTreeSet<UnitId> {
    let mut found = BTreeSet::new();
    units_of_coil(machine, coil, Reach::Section, &mut found);
    found
}

/// The units whose contacts stand on a way that drives a load, or anywhere in its section.
fn units_of_coil(machine: &Machine<'_>, coil: PartId, reach: Reach, found: &mut BTreeSet<UnitId>) {
    let Some(section) = machine.wiring.section_of(coil) else { return };
    if reach == Reach::Coil {
        return;
    }
    found.extend(machine.wiring.supplies(section).map(|supply| machine.supply_unit(supply)));
    let mut all_of = |parts: &[PartId]| {
        for &part in parts {
            units_of_contact(machine, part, found);
        }
    };
    if reach != Reach::Section {
        let ways = machine.wiring.ways(coil);
        match (reach, ways.list.first()) {
            (Reach::Shortest, Some(way)) => return all_of(&way.parts),
            (Reach::Ways, _) if ways.complete => {
                return ways.list.iter().for_each(|way| all_of(&way.parts));
            }
            _ => {}
        }
    }
    all_of(machine.wiring.switches(section));
}

fn units_of_contact(machine: &Machine<'_>, part: PartId, found: &mut BTreeSet<UnitId>) {
    if let Some(unit) = machine.part_unit(part) {
        found.insert(unit);
        return;
    }
    let item = &machine.scheme.parts[part];
    if let PartKind::Contact(contact) = &item.kind {
        found.extend(machine.start_of_part(part));
        units_of_expr(machine, &contact.closed_when.expr, found);
    }
}

/// The units a statement reads.
pub fn units_of_expr(machine: &Machine<'_>, expr: &Expr, found: &mut BTreeSet<UnitId>) {
    expr.atoms(&mut |atom| units_of_atom(machine, atom, found));
}

/// The units an atom reads.
fn units_of_atom(machine: &Machine<'_>, atom: Atom, found: &mut BTreeSet<UnitId>) {
    match atom {
        Atom::Position(device, _) => found.extend(machine.device_unit(device)),
        Atom::Charged(device) => found.extend(machine.energy_unit(device)),
        Atom::Driven(part) | Atom::Lit(part) | Atom::Running(part) => {
            units_of_coil(machine, part, Reach::Section, found);
        }
        Atom::Closed(part) => units_of_contact(machine, part, found),
        Atom::InputOn(part) | Atom::Blown(part) | Atom::LinkOpen(part) => {
            found.extend(machine.part_unit(part));
        }
        Atom::Logic(logic) => match machine.logic_unit(logic) {
            Some(unit) => {
                found.insert(unit);
            }
            None => {
                let item = &machine.scheme.logics[logic];
                found.extend(machine.start_of(item.device));
                if let LogicRule::When { when, .. } = &item.rule {
                    units_of_expr(machine, &when.expr, found);
                }
            }
        },
        Atom::Order(order) => {
            found.insert(machine.order_unit(order));
        }
        Atom::Condition(condition, _) => {
            found.insert(machine.condition_unit(condition));
        }
        Atom::Live(supply) => {
            found.insert(machine.supply_unit(supply));
        }
    }
}
