//! Taking an action: what its state becomes, interruptions remembered.

use super::eval::{Evaluator, Look};
use super::relay::RelayPhase;
use super::{Action, Machine, State, Tri, UnitId, UnitKind};
use fiftytwo_scheme::DeviceKind;

impl Evaluator<'_, '_> {
    /// The state after an action. A relay whose drive goes away while it is under way is marked
    /// as half-way, and so is an energy store whose charging is broken off.
    pub fn after(&self, before: &Look<'_, '_, '_>, action: &Action) -> State {
        let mut state = before.state.clone();
        state.set(action.unit, action.to);
        if let Some((unit, phase)) = action.also {
            state.set(unit, phase);
        }
        self.settle(before, state)
    }
    /// Marks what a change from `before` to `state` has interrupted.
    pub fn settle(&self, before: &Look<'_, '_, '_>, mut state: State) -> State {
        let machine = self.machine;
        let mut marked = Vec::new();
        {
            let look = self.look(&state);
            let stirred = self.stirred(before.state, &state);
            for unit in machine.units.ids() {
                if !self.scope.knows(unit) {
                    continue;
                }
                let phase = state.phase(unit);
                let under_way = machine.is_under_way(unit, phase);
                if !under_way && (self.cold || !stirred(unit)) {
                    continue;
                }
                let same = before.state.phase(unit) == phase;
                if let (Some(was), Some(is)) = (before.pull(unit), look.pull(unit))
                    && let Some(to) = machine.interrupted(unit, was, is, phase, same)
                {
                    marked.push((unit, to));
                }
            }
        }
        for (unit, phase) in marked {
            state.set(unit, phase);
        }
        state
    }
}

/// What pulls a unit that an interruption may turn back: the coil of a relay, the motor that winds an
/// energy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Pull {
    /// Whether it pulls.
    pub on: Tri,
    /// Whether it has let go.
    pub off: Tri,
}

impl Look<'_, '_, '_> {
    /// What pulls a unit; none: no interruption changes it.
    pub fn pull(&self, unit: UnitId) -> Option<Pull> {
        let machine = self.machine();
        match machine.units[unit].kind {
            UnitKind::Relay(device) => {
                let coil = machine.lone_coil(device)?;
                Some(Pull { on: self.pickup(coil), off: self.dropout(coil) })
            }
            UnitKind::Energy(device) => {
                let DeviceKind::Breaker { energy: Some(energy), .. } =
                    &machine.scheme.devices[device].kind
                else {
                    return None;
                };
                let on = self.lit(energy.charged_by?);
                Some(Pull { on, off: !on })
            }
            _ => None,
        }
    }
}

impl Machine<'_> {
    /// Whether a unit is a relay on its way.
    pub fn is_under_way(&self, unit: UnitId, phase: u8) -> bool {
        matches!(self.units[unit].kind, UnitKind::Relay(_))
            && RelayPhase::from_u8(phase).is_under_way()
    }
    /// The phase that a change of its pull puts a unit into, if it interrupts it. `same`: the change
    /// has not moved the unit itself.
    pub fn interrupted(
        &self,
        unit: UnitId,
        before: Pull,
        after: Pull,
        phase: u8,
        same: bool,
    ) -> Option<u8> {
        let item = &self.units[unit];
        let (was_on, is_on) = (before.on.possible(), after.on.possible());
        match item.kind {
            UnitKind::Relay(device) => {
                // A timer starts anew.
                let is_timer =
                    || matches!(self.scheme.devices[device].kind, DeviceKind::Timer { .. });
                let to = match RelayPhase::from_u8(phase) {
                    RelayPhase::Dropped if same && was_on && !is_on && !is_timer() => {
                        RelayPhase::DroppedWarm
                    }
                    RelayPhase::Picked
                        if same && before.off.possible() && !after.off.possible() =>
                    {
                        RelayPhase::PickedWarm
                    }
                    RelayPhase::Rising | RelayPhase::RisingWarm if !is_on => {
                        RelayPhase::FallingWarm
                    }
                    RelayPhase::Falling | RelayPhase::FallingWarm if after.on.sure() => {
                        RelayPhase::RisingWarm
                    }
                    _ => return None,
                };
                Some(to as u8)
            }
            UnitKind::Energy(_) => {
                let levels = item.phases / 2;
                let charging = same && phase + 1 < levels;
                (charging && was_on && !is_on).then_some(phase + levels)
            }
            _ => None,
        }
    }
}
