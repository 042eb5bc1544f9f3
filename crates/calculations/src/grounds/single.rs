//! One ground anywhere: which coils and inputs move, and for how long.
//!
//! **In:** the islands at every rest position and corner. **Out:** one [`OneGround`] for each wire
//! and part that it moves, and for every coil and input the worst that one ground does to it.
//! **Never here:** pairs of grounds.

use super::Plant;
use super::discharge::Discharge;
use super::effect::{How, Judged, Moved, Warm, idle_threshold, judge, pickup_time};
use super::field::FieldFault;
use super::follow::{Follower, Outcome, nominal};
use super::island::Island;
use crate::Study;
use crate::meter::wire_name;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{NodeId, PartId, Supply};
use serde::Serialize;
use std::collections::BTreeMap;

/// One ground on a wire, and one part that it moves.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OneGround {
    /// The wire; several names where closed contacts make them one.
    pub wires: Vec<String>,
    /// A ground of this resistance and any lower one that was tried moves it, ohm.
    pub up_to_ohm: f64,
    /// What moves, at the worst resistance, position and corner.
    pub moves: Moved,
    /// What may come of it.
    pub outcome: Outcome,
    /// The rest positions in which it does.
    pub positions: Vec<String>,
    /// The corner.
    pub corner: String,
    /// The detector's legs and the capacitance are declared; else typical ones decide.
    pub declared: bool,
    /// What a cure has to stand.
    #[serde(skip)]
    pub(super) extremes: Extremes,
}

/// Over every ground, position and corner in which a part moves in one way; volts as its thresholds
/// are written: at the temperature that its resistance is told for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extremes {
    /// The greatest volts across it (where it must not let go: in the end), V.
    pub most: f64,
    /// A part that lets go only below this stays wherever it was on before, V.
    pub least: f64,
    /// The longest time beyond its threshold, s; infinite: for ever.
    pub lasts: f64,
}

/// The worst that one ground does to a coil or an input that is idle.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WorstGround {
    /// The part.
    pub part: String,
    /// The wire the ground is on.
    pub wire: String,
    /// Its resistance, ohm.
    pub ohm: f64,
    /// The rest position.
    pub position: String,
    /// The corner.
    pub corner: String,
    /// Volts across the part in the first instant, V.
    pub first: f64,
    /// Volts across it in the end, V.
    pub last: f64,
    /// Time constant of the discharge in between, s.
    pub time_constant: f64,
    /// Energy that the stray capacitance gives off, J.
    pub joule: f64,
    /// Volts at which it may move, V.
    pub threshold: f64,
    /// Whether that is declared.
    pub declared: bool,
    /// How far below that it stays, V; negative: above.
    pub margin: f64,
    /// How long it stands above that, s; none: for ever.
    pub above: Option<f64>,
    /// How long it must to move, s.
    pub needs: f64,
}

/// What single grounds do.
#[derive(Debug, Default)]
pub(super) struct Singles {
    pub moves: Vec<OneGround>,
    pub worst: Vec<WorstGround>,
    /// A case found no answer.
    pub faults: Vec<Unanswered>,
}

/// A ground for which no voltages were found.
#[derive(Debug)]
pub(super) struct Unanswered {
    pub wire: String,
    pub supply: Option<String>,
    pub position: String,
    pub corner: &'static str,
    pub fault: FieldFault,
}

struct Gathered {
    nodes: Vec<NodeId>,
    up_to: f64,
    moves: Moved,
    outcome: Outcome,
    positions: Vec<usize>,
    corner: &'static str,
    declared: bool,
}

/// Tries a ground of each resistance on every point.
pub(super) fn singles(
    study: &Study<'_, '_>,
    plants: &[Plant],
    ohms: &[f64],
    follower: &Follower<'_, '_>,
) -> Singles {
    let scheme = study.scheme();
    let mut found: BTreeMap<(NodeId, PartId, How), Gathered> = BTreeMap::new();
    let mut worst: BTreeMap<PartId, WorstGround> = BTreeMap::new();
    let mut seen = Seen::default();
    let mut result = Singles::default();
    for plant in plants {
        for island in &plant.islands {
            let tried = Tried { study, plant, island };
            let Some(before) = tried.before() else { continue };
            for nodes in &island.points {
                let Some(&node) = nodes.first() else { continue };
                // The grounded pole of a supply: a ground there changes nothing.
                let grounded = study
                    .bench
                    .supply_of(node)
                    .is_some_and(|supply| scheme.supplies[supply].grounded);
                if grounded && island.field.point(node.index()) == island.field.point(island.ground)
                {
                    continue;
                }
                for &ohm in ohms {
                    let states = match tried.states(node, ohm, before.ground) {
                        Ok(states) => states,
                        // A short of a grounded supply is told as what it blows.
                        Err(FieldFault::Contradiction) if grounded => break,
                        Err(fault) => {
                            let supply = study.bench.supply_of(node);
                            result.faults.push(Unanswered {
                                wire: wire_name(scheme, node),
                                supply: supply.map(|id| scheme.supplies[id].name.clone()),
                                position: study.rest[plant.position].name.clone(),
                                corner: plant.corner,
                                fault,
                            });
                            break;
                        }
                    };
                    let mut touched = false;
                    for &(part, nominal, volts_before) in &before.parts {
                        let Some(volts) = states.volts(study, island, part) else { continue };
                        tried.keep_worst(
                            &mut worst,
                            (node, ohm),
                            (part, nominal, volts_before),
                            volts,
                        );
                        let falls = Warm::at(scheme, part, plant.hot).falls;
                        seen.fall(part, volts_before / falls, volts, falls);
                        let warm = Warm::at(scheme, part, plant.hot);
                        match judge(scheme, part, (nominal, volts_before), volts, warm) {
                            Judged::Still => {}
                            Judged::TooShort => touched = true,
                            Judged::Moves(moves) => {
                                touched = true;
                                seen.moved(part, &moves);
                                let rest = &study.rest[plant.position];
                                let outcome =
                                    follower.outcome(plant.position, rest, part, moves.how);
                                let key = (node, part, moves.how);
                                let gathered = found.entry(key).or_insert_with(|| Gathered {
                                    nodes: Vec::new(),
                                    up_to: ohm,
                                    moves: moves.clone(),
                                    outcome,
                                    positions: Vec::new(),
                                    corner: plant.corner,
                                    declared: island.declared,
                                });
                                gathered.take(nodes, ohm, moves, outcome, plant);
                            }
                        }
                    }
                    // A higher resistance moves a linear network less.
                    if !touched && !island.field.bends_anywhere() {
                        break;
                    }
                }
            }
        }
    }
    result.worst = worst.into_values().collect();
    result.worst.sort_by(|a, b| a.margin.total_cmp(&b.margin));
    result.moves = found
        .into_values()
        .map(|gathered| {
            let extremes = seen.extremes(&gathered.moves);
            gathered.told(study, extremes)
        })
        .collect();
    result
        .moves
        .sort_by(|a, b| b.outcome.cmp(&a.outcome).then(b.up_to_ohm.total_cmp(&a.up_to_ohm)));
    result
}

impl Gathered {
    fn take(&mut self, nodes: &[NodeId], ohm: f64, moves: Moved, outcome: Outcome, plant: &Plant) {
        for node in nodes {
            if !self.nodes.contains(node) {
                self.nodes.push(*node);
            }
        }
        if outcome < self.outcome {
            return;
        }
        if outcome > self.outcome {
            self.positions.clear();
            self.up_to = ohm;
        }
        self.up_to = self.up_to.max(ohm);
        if !self.positions.contains(&plant.position) {
            self.positions.push(plant.position);
        }
        let longer = |moves: &Moved| moves.lasts.unwrap_or(f64::INFINITY);
        if outcome > self.outcome
            || (outcome == self.outcome && longer(&moves) > longer(&self.moves))
        {
            self.outcome = outcome;
            self.moves = moves;
            self.corner = plant.corner;
        }
    }
    fn told(self, study: &Study<'_, '_>, extremes: Extremes) -> OneGround {
        let mut wires: Vec<String> =
            self.nodes.iter().map(|node| wire_name(study.scheme(), *node)).collect();
        wires.dedup();
        OneGround {
            wires,
            up_to_ohm: self.up_to,
            moves: self.moves,
            outcome: self.outcome,
            positions: self.positions.iter().map(|at| study.rest[*at].name.clone()).collect(),
            corner: self.corner.to_owned(),
            declared: self.declared,
            extremes,
        }
    }
}

/// What grounds did to each part so far.
#[derive(Default)]
struct Seen {
    /// The greatest volts, and the longest time.
    moved: BTreeMap<(PartId, How), (f64, f64)>,
    /// Volts before a ground, and the least after it, where it takes any away.
    falls: BTreeMap<PartId, Vec<(f64, f64)>>,
}

impl Seen {
    fn moved(&mut self, part: PartId, moves: &Moved) {
        let stays = matches!(moves.how, How::StaysPickedUp | How::StaysOn);
        let volts = if stays { moves.last } else { moves.first.max(moves.last) } / moves.warm;
        let (most, lasts) = self.moved.entry((part, moves.how)).or_default();
        *most = most.max(volts);
        *lasts = lasts.max(moves.lasts.unwrap_or(f64::INFINITY));
    }
    fn fall(&mut self, part: PartId, before: f64, volts: Discharge, warm: f64) {
        let crosses = volts.first * volts.last < 0.0;
        let least = if crosses { 0.0 } else { volts.first.abs().min(volts.last.abs()) / warm };
        if least < before {
            self.falls.entry(part).or_default().push((before, least));
        }
    }
    /// The bound for letting go comes down until no case that was on above it falls below it.
    fn extremes(&self, moves: &Moved) -> Extremes {
        let (most, lasts) = self.moved.get(&(moves.id, moves.how)).copied().unwrap_or_default();
        let falls = self.falls.get(&moves.id).map_or(&[][..], Vec::as_slice);
        let mut least = moves.threshold / moves.warm;
        loop {
            let on = falls.iter().filter(|(before, _)| *before >= least);
            let next = on.map(|(_, after)| *after).fold(least, f64::min);
            if next >= least {
                return Extremes { most, least, lasts };
            }
            least = next;
        }
    }
}

/// One island under trial.
struct Tried<'a, 'b, 's> {
    study: &'a Study<'b, 's>,
    plant: &'a Plant,
    island: &'a Island,
}

/// How it stood before the ground.
struct Before {
    /// Ground above the minus pole, V.
    ground: f64,
    /// Coils and inputs: nominal volts of their supply, and volts across them.
    parts: Vec<(PartId, f64, f64)>,
}

/// Just after and long after a ground has come.
struct States<'f> {
    first: Option<super::field::Changed<'f>>,
    last: super::field::Changed<'f>,
    tau: f64,
}

impl States<'_> {
    fn volts(&self, study: &Study<'_, '_>, island: &Island, part: PartId) -> Option<Discharge> {
        let last = island.across(&study.bench, part, &self.last)?;
        let first = match &self.first {
            Some(first) => island.across(&study.bench, part, first)?,
            None => last,
        };
        Some(Discharge { first, last, tau: if self.first.is_some() { self.tau } else { 0.0 } })
    }
}

impl<'a> Tried<'a, '_, '_> {
    fn before(&self) -> Option<Before> {
        let state = self.island.field.with(&[]).ok()?;
        let parts = self.island.parts.iter().filter_map(|&part| {
            let nominal = nominal(self.study.machine, part);
            let warm = Warm::at(self.study.scheme(), part, self.plant.hot);
            idle_threshold(&self.study.scheme().parts[part], nominal, warm)?;
            Some((part, nominal, self.island.across(&self.study.bench, part, &state)?.abs()))
        });
        let parts = parts.collect();
        Some(Before { ground: state.potential(self.island.ground)?, parts })
    }

    fn states(&self, node: NodeId, ohm: f64, before: f64) -> Result<States<'a>, FieldFault> {
        let island = self.island;
        let ground = island.grounded(node, ohm);
        let last = island.field.with(&[ground])?;
        // A solid ground on the minus pole empties the capacitance at once.
        let first = match island.field.with(&[ground, island.held(before)]) {
            Ok(first) if island.farad > 0.0 => Some(first),
            Ok(_) | Err(FieldFault::Contradiction) => None,
            Err(fault) => return Err(fault),
        };
        // Where parts bend the way out of the capacitance changes on the way; the slower of both
        // ends is taken.
        let mut ohm = last.ohm_at(island.ground);
        if let Some(first) = first.as_ref().filter(|_| island.field.bends_anywhere()) {
            ohm = ohm.max(first.ohm_at_without_last(island.ground, 2));
        }
        let tau = island.farad * ohm;
        Ok(States { first, last, tau })
    }

    fn keep_worst(
        &self,
        worst: &mut BTreeMap<PartId, WorstGround>,
        (node, ohm): (NodeId, f64),
        (part, nominal, before): (PartId, f64, f64),
        volts: Discharge,
    ) {
        let scheme = self.study.scheme();
        let data = &scheme.parts[part];
        let warm = Warm::at(scheme, part, self.plant.hot);
        let Some(threshold) = idle_threshold(data, nominal, warm) else { return };
        let most = volts.first.abs().max(volts.last.abs());
        let margin = threshold.volts - most;
        if before >= threshold.volts || worst.get(&part).is_some_and(|old| old.margin <= margin) {
            return;
        }
        let above = volts.above(threshold.volts).longest();
        let last = self.island.field.with(&[self.island.grounded(node, ohm)]);
        let (before, after) = (
            self.island.field.with(&[]).ok().and_then(|state| state.potential(self.island.ground)),
            last.ok().and_then(|state| state.potential(self.island.ground)),
        );
        let given_off = before.zip(after).map_or(0.0, |(before, after)| {
            // The capacitance stands between ground and the pole that ground is drawn to.
            let pole = |of: fn(&Supply) -> NodeId| {
                let supply = self.study.bench.supply_of(node)?;
                let state = self.island.field.with(&[]).ok()?;
                state.potential(of(&scheme.supplies[supply]).index())
            };
            let pole = if after < before {
                pole(|supply| supply.minus)
            } else {
                pole(|supply| supply.plus)
            };
            let pole = pole.unwrap_or(0.0);
            super::discharge::energy(self.island.farad, before - pole, after - pole)
        });
        let ground = WorstGround {
            part: data.name.clone(),
            wire: wire_name(scheme, node),
            ohm,
            position: self.study.rest[self.plant.position].name.clone(),
            corner: self.plant.corner.to_owned(),
            first: volts.first.abs(),
            last: volts.last.abs(),
            time_constant: volts.tau,
            joule: given_off,
            threshold: threshold.volts,
            declared: threshold.declared,
            margin,
            above: above.is_finite().then_some(above),
            needs: pickup_time(scheme, data),
        };
        worst.insert(part, ground);
    }
}
