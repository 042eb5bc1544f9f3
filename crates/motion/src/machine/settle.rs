//! Taking an action: what its state becomes, interruptions remembered.

use super::eval::{Evaluator, Look};
use super::relay::RelayPhase;
use super::{Action, State, UnitKind};
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
            for (unit, item) in machine.units.iter() {
                if !self.scope.knows(unit) {
                    continue;
                }
                let phase = state.phase(unit);
                let under_way = matches!(item.kind, UnitKind::Relay(_))
                    && RelayPhase::from_u8(phase).is_under_way();
                if self.cold && !under_way {
                    continue;
                }
                let same = before.state.phase(unit) == phase;
                match item.kind {
                    UnitKind::Relay(device) => {
                        let Some(coil) = machine.lone_coil(device) else { continue };
                        let device = &machine.scheme.devices[device];
                        let is_timer = matches!(device.kind, DeviceKind::Timer { .. });
                        if let Some(to) = interrupted(before, &look, coil, phase, same, is_timer) {
                            marked.push((unit, to as u8));
                        }
                    }
                    UnitKind::Energy(device) => {
                        let DeviceKind::Breaker { energy: Some(energy), .. } =
                            &machine.scheme.devices[device].kind
                        else {
                            continue;
                        };
                        let levels = item.phases / 2;
                        let Some(motor) = energy.charged_by else { continue };
                        let charging = same && phase + 1 < levels;
                        if charging && before.lit(motor).possible() && !look.lit(motor).possible() {
                            marked.push((unit, phase + levels));
                        }
                    }
                    _ => {}
                }
            }
        }
        for (unit, phase) in marked {
            state.set(unit, phase);
        }
        state
    }
}

fn interrupted(
    before: &Look<'_, '_, '_>,
    after: &Look<'_, '_, '_>,
    coil: fiftytwo_scheme::PartId,
    phase: u8,
    same: bool,
    is_timer: bool,
) -> Option<RelayPhase> {
    match RelayPhase::from_u8(phase) {
        // A timer starts anew.
        RelayPhase::Dropped if same && !is_timer => (before.pickup(coil).possible()
            && !after.pickup(coil).possible())
        .then_some(RelayPhase::DroppedWarm),
        RelayPhase::Picked if same => (before.dropout(coil).possible()
            && !after.dropout(coil).possible())
        .then_some(RelayPhase::PickedWarm),
        RelayPhase::Rising | RelayPhase::RisingWarm => {
            (!after.pickup(coil).possible()).then_some(RelayPhase::FallingWarm)
        }
        RelayPhase::Falling | RelayPhase::FallingWarm => {
            after.pickup(coil).sure().then_some(RelayPhase::RisingWarm)
        }
        _ => None,
    }
}
