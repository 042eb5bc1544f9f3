//! The compiled network: blocks, hubs, and where each contact acts.

use super::divide::{Division, divide};
use super::reduce::{Link, Reduced, Term, reduce};
use super::solver::Solver;
use crate::elimination::Plan;
use crate::network::{Branch, Network};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// Why a network can't be compiled. Branches and nodes are named by their number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SweepError {
    /// It has no voltage source.
    NoSource,
    /// It has a second voltage source.
    SecondSource {
        /// Its branch.
        branch: usize,
    },
    /// A branch that is neither a voltage source nor a resistance nor a switch.
    Unsuited {
        /// The branch.
        branch: usize,
    },
    /// A value is not a number, or a resistance is negative.
    Invalid {
        /// The branch.
        branch: usize,
    },
    /// The poles of the source are one point.
    Shorted,
}

impl fmt::Display for SweepError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoSource => write!(f, "no voltage source"),
            Self::SecondSource { branch } => write!(f, "branch {branch} is a second source"),
            Self::Unsuited { branch } => {
                write!(f, "branch {branch} is not a source, a resistance or a switch")
            }
            Self::Invalid { branch } => write!(f, "the values of branch {branch} are unusable"),
            Self::Shorted => write!(f, "the source is shorted whatever the contacts do"),
        }
    }
}

impl std::error::Error for SweepError {}

/// A network ready to be solved at any position of its switches.
#[derive(Debug)]
pub struct Sweep {
    pub(super) volt: f64,
    pub(super) ohm: f64,
    /// Positions as in the network given.
    pub(super) closed: Vec<bool>,
    /// By contact: the link it belongs to; none: it can't matter.
    pub(super) chain_of: Vec<Option<u32>>,
    /// By link with contacts.
    pub(super) chains: Vec<Chain>,
    pub(super) plans: Vec<Plan>,
    pub(super) blocks: Vec<Block>,
    /// Places of hubs in `hub_plan`: minus pole, plus pole, others.
    pub(super) hubs: usize,
    pub(super) hub_plan: Plan,
    /// By pair of hubs with anything between them: the place in `hub_plan`, and how many numbers
    /// are summed there.
    pub(super) between: Vec<(usize, usize)>,
    /// Numbers in `between` that never change: pair, number, S.
    pub(super) fixed: Vec<(usize, usize, f64)>,
    pub(super) asked: usize,
    /// By row: the asked pair that it is part of. The first row of each pair has the pair's number.
    pub(super) row_of: Vec<u32>,
    /// Rows that are a factor at a hub, whatever the contacts do: row, hub, factor.
    pub(super) at_hub: Vec<(usize, usize, f64)>,
    /// Asked pairs with a node that no branch touches.
    pub(super) loose: Vec<usize>,
}

/// A link with contacts.
#[derive(Debug)]
pub(super) struct Chain {
    /// Its contacts as bits: word and mask, one of them and the rest.
    pub(super) contacts: (u32, u64),
    pub(super) more: Vec<(u32, u64)>,
    pub(super) acts: Acts,
}

impl Chain {
    fn of(contacts: &[usize], acts: Acts) -> Self {
        let mut words = BTreeMap::new();
        for &contact in contacts {
            *words.entry(small(contact / 64)).or_insert(0) |= 1_u64 << (contact % 64);
        }
        let mut masks = words.into_iter();
        Self { contacts: masks.next().unwrap_or((0, 0)), more: masks.collect(), acts }
    }

    /// Whether all its contacts are closed.
    pub(super) fn is_whole(&self, closed: &[u64]) -> bool {
        let holds = |&(word, mask): &(u32, u64)| closed[word as usize] & mask == mask;
        // Not jumped over: which contacts are closed can't be foreseen.
        holds(&self.contacts) & self.more.iter().all(holds)
    }
}

/// Where a chain acts.
#[derive(Debug, Clone, Copy)]
pub(super) enum Acts {
    /// In a block, as one of its chains.
    Block { block: u32, bit: u32 },
    /// Between two hubs.
    Hubs { between: u32, number: u32, siemens: f64 },
}

/// Points that meet the rest only at hubs.
#[derive(Debug)]
pub(super) struct Block {
    pub(super) plan: u32,
    /// By slot of the plan, S.
    pub(super) fixed: Vec<f64>,
    pub(super) first_chain: u32,
    /// By chain of the block: its slot, and its conductance.
    pub(super) chains: Vec<(u32, f64)>,
    /// Its hubs: node of the plan, hub.
    pub(super) hubs: Vec<(u32, u32)>,
    /// What it leaves between hubs: slot, place in `between`, number there.
    pub(super) leaves: Vec<(u32, u32, u32)>,
    pub(super) rows: Vec<Row>,
    /// Steps whose potentials the rows need, late ones first.
    pub(super) needed: Vec<u32>,
}

/// Part of an asked voltage: factors times potentials of a block.
#[derive(Debug)]
pub(super) struct Row {
    pub(super) row: u32,
    /// Factor, and the steps of the points between which it counts; one point: above the minus pole.
    pub(super) terms: Vec<(f64, u32, Option<u32>)>,
}

impl Sweep {
    /// Compiles a network. Its switches are the contacts, numbered from 0 in the order of its
    /// branches, at first in the positions given there. `asked`: pairs of nodes; the voltage counts
    /// from the first to the second.
    ///
    /// # Errors
    /// See [`SweepError`].
    pub fn new(network: &Network, asked: &[(usize, usize)]) -> Result<Self, SweepError> {
        let mut source = None;
        let (mut links, mut closed) = (Vec::new(), Vec::new());
        for (branch, &what) in network.branches().iter().enumerate() {
            let invalid = Err(SweepError::Invalid { branch });
            match what {
                Branch::Resistor { ohm, .. } if ohm.is_infinite() && ohm > 0.0 => {}
                Branch::Resistor { a, b, ohm } if ohm >= 0.0 => {
                    links.push(Link { ends: (a, b), siemens: ohm.recip(), contacts: Vec::new() });
                }
                Branch::Resistor { .. } => return invalid,
                Branch::Switch { a, b, closed: is_closed } => {
                    let contacts = vec![closed.len()];
                    links.push(Link { ends: (a, b), siemens: f64::INFINITY, contacts });
                    closed.push(is_closed);
                }
                Branch::Source { plus, minus, volt, ohm } => {
                    if !(volt.is_finite() && ohm.is_finite() && ohm >= 0.0) {
                        return invalid;
                    }
                    if source.replace((plus, minus, volt, ohm)).is_some() {
                        return Err(SweepError::SecondSource { branch });
                    }
                }
                _ => return Err(SweepError::Unsuited { branch }),
            }
        }
        let (plus, minus, volt, ohm) = source.ok_or(SweepError::NoSource)?;
        let ends = links.iter().map(|link| link.ends).chain(asked.iter().copied());
        let points = ends.flat_map(|(a, b)| [a, b]).chain([plus, minus]).max().unwrap_or(0) + 1;
        let reduced = reduce(points, links, (plus, minus), asked);
        if reduced.poles.0 == reduced.poles.1 {
            return Err(SweepError::Shorted);
        }
        let division = divide(points, &reduced.links, reduced.poles);
        Ok(Compiler::new(points, &reduced, division).compile(volt, ohm, closed))
    }

    /// How many contacts there are.
    pub fn contacts(&self) -> usize {
        self.closed.len()
    }
    /// How many blocks were found: a contact that moves touches one of them.
    pub fn blocks(&self) -> usize {
        self.blocks.len()
    }
    /// A solver that computes every block that a contact has touched.
    pub fn solver(&self) -> Solver<'_> {
        Solver::new(self, false)
    }
    /// A solver that also remembers each block at each of its electrically different positions
    /// (at most 4,096; blocks with more chains of contacts are computed).
    pub fn sharing_solver(&self) -> Solver<'_> {
        Solver::new(self, true)
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Place {
    Nowhere,
    Hub(usize),
    Block(usize, usize),
}

struct Compiler<'r> {
    reduced: &'r Reduced,
    division: Division,
    places: Vec<Place>,
    /// By pair of hubs, lower first: place in `between`, numbers so far.
    pairs: BTreeMap<(usize, usize), (usize, usize)>,
    chain_of: BTreeMap<usize, u32>,
    chains: Vec<Chain>,
    fixed: Vec<(usize, usize, f64)>,
    plans: Vec<Plan>,
    rows: Vec<u32>,
    at_hub: Vec<(usize, usize, f64)>,
    rows_in: Vec<Vec<(u32, Vec<Term>)>>,
    loose: Vec<usize>,
    /// Blocks and hubs between which there is a link.
    touching: BTreeSet<(usize, usize)>,
}

impl<'r> Compiler<'r> {
    fn new(points: usize, reduced: &'r Reduced, division: Division) -> Self {
        let mut places = vec![Place::Nowhere; points];
        for (hub, &point) in division.hubs.iter().enumerate() {
            places[point] = Place::Hub(hub);
        }
        for (block, inner) in division.blocks.iter().enumerate() {
            for (node, &point) in inner.iter().enumerate() {
                places[point] = Place::Block(block, node);
            }
        }
        let touching = reduced.links.iter().filter_map(|link| {
            match (places[link.ends.0], places[link.ends.1]) {
                (Place::Block(block, _), Place::Hub(hub))
                | (Place::Hub(hub), Place::Block(block, _)) => Some((block, hub)),
                _ => None,
            }
        });
        Self {
            touching: touching.collect(),
            rows_in: vec![Vec::new(); division.blocks.len()],
            reduced,
            division,
            places,
            pairs: BTreeMap::new(),
            chain_of: BTreeMap::new(),
            chains: Vec::new(),
            fixed: Vec::new(),
            plans: Vec::new(),
            rows: Vec::new(),
            at_hub: Vec::new(),
            loose: Vec::new(),
        }
    }

    fn compile(mut self, volt: f64, ohm: f64, closed: Vec<bool>) -> Sweep {
        let hubs = self.division.hubs.len();
        self.place_rows();
        let links = self.links_by_block();
        let blocks = (0..self.division.blocks.len())
            .map(|block| self.block(block, links.get(&Some(block)).map_or(&[], |at| &at[..])))
            .collect();
        for &link in links.get(&None).into_iter().flatten() {
            self.between_hubs(link);
        }
        let shape: Vec<(usize, usize)> = self.pairs.keys().copied().collect();
        let hub_plan = Plan::new(hubs, &shape, &[1, 0]);
        let mut between = vec![(0, 0); self.pairs.len()];
        for (&(a, b), &(at, numbers)) in &self.pairs {
            between[at] = (hub_plan.slot(a, b), numbers);
        }
        Sweep {
            volt,
            ohm,
            chain_of: (0..closed.len())
                .map(|contact| self.chain_of.get(&contact).copied())
                .collect(),
            closed,
            chains: self.chains,
            plans: self.plans,
            blocks,
            hubs,
            hub_plan,
            between,
            fixed: self.fixed,
            asked: self.reduced.asked.len(),
            row_of: self.rows,
            at_hub: self.at_hub,
            loose: self.loose,
        }
    }

    fn place_rows(&mut self) {
        self.rows = (0..small(self.reduced.asked.len())).collect();
        for (asked, terms) in self.reduced.asked.iter().enumerate() {
            // The terms of one block go together.
            let mut parts: BTreeMap<usize, Vec<Term>> = BTreeMap::new();
            let mut hubs = Vec::new();
            for term in terms {
                let (a, b) = term.ends;
                match (self.places[a], self.places[b]) {
                    (Place::Nowhere, _) | (_, Place::Nowhere) => self.loose.push(asked),
                    (Place::Block(block, _), Place::Block(other, _)) if block == other => {
                        parts.entry(block).or_default().push(*term);
                    }
                    (Place::Block(block, _), Place::Hub(hub)) if self.touches(block, hub) => {
                        parts.entry(block).or_default().push(*term);
                    }
                    (Place::Hub(hub), Place::Block(block, _)) if self.touches(block, hub) => {
                        parts.entry(block).or_default().push(*term);
                    }
                    (at_a, at_b) => {
                        for (at, point, factor) in [(at_a, a, term.factor), (at_b, b, -term.factor)]
                        {
                            let alone = Term { factor, ends: (point, point) };
                            match at {
                                Place::Block(block, _) => {
                                    parts.entry(block).or_default().push(alone);
                                }
                                Place::Hub(hub) => hubs.push((hub, factor)),
                                Place::Nowhere => {}
                            }
                        }
                    }
                }
            }
            let mut row = Some(asked);
            for (block, terms) in parts {
                let row = row.take().unwrap_or_else(|| {
                    self.rows.push(small(asked));
                    self.rows.len() - 1
                });
                self.rows_in[block].push((small(row), terms));
            }
            if !hubs.is_empty() {
                let row = row.take().unwrap_or_else(|| {
                    self.rows.push(small(asked));
                    self.rows.len() - 1
                });
                self.at_hub.extend(hubs.into_iter().map(|(hub, factor)| (row, hub, factor)));
            }
        }
        self.loose.dedup();
    }

    fn touches(&self, block: usize, hub: usize) -> bool {
        self.touching.contains(&(block, hub))
    }

    fn links_by_block(&self) -> BTreeMap<Option<usize>, Vec<&'r Link>> {
        let mut links: BTreeMap<Option<usize>, Vec<&'r Link>> = BTreeMap::new();
        for link in &self.reduced.links {
            let block = [link.ends.0, link.ends.1].into_iter().find_map(|point| {
                if let Place::Block(block, _) = self.places[point] { Some(block) } else { None }
            });
            links.entry(block).or_default().push(link);
        }
        links
    }

    fn block(&mut self, block: usize, links: &[&Link]) -> Block {
        let inner = self.division.blocks[block].len();
        let mut hubs: Vec<usize> = links
            .iter()
            .flat_map(|link| [link.ends.0, link.ends.1])
            .filter_map(
                |point| {
                    if let Place::Hub(hub) = self.places[point] { Some(hub) } else { None }
                },
            )
            .collect();
        hubs.sort_unstable();
        hubs.dedup();
        if hubs.is_empty() {
            // An island: nothing holds it, whatever the contacts do.
            let rows = std::mem::take(&mut self.rows_in[block]);
            self.loose.extend(rows.iter().map(|&(row, _)| self.rows[row as usize] as usize));
        }
        let node = |point: usize| match self.places[point] {
            Place::Block(_, node) => node,
            Place::Hub(hub) => inner + hubs.binary_search(&hub).unwrap_or(0),
            Place::Nowhere => 0,
        };
        let shape: Vec<(usize, usize)> =
            links.iter().map(|link| (node(link.ends.0), node(link.ends.1))).collect();
        let kept: Vec<usize> = (inner..inner + hubs.len()).collect();
        let plan = Plan::new(inner + hubs.len(), &shape, &kept);
        let mut fixed = vec![0.0; plan.slots()];
        let (first_chain, mut chains) = (small(self.chains.len()), Vec::new());
        for (link, &(a, b)) in links.iter().zip(&shape) {
            let slot = plan.slot(a, b);
            if link.contacts.is_empty() {
                fixed[slot] += link.siemens;
                continue;
            }
            let acts = Acts::Block { block: small(block), bit: small(chains.len()) };
            for &contact in &link.contacts {
                self.chain_of.insert(contact, small(self.chains.len()));
            }
            self.chains.push(Chain::of(&link.contacts, acts));
            chains.push((small(slot), link.siemens));
        }
        let rows: Vec<Row> = self.rows_in[block]
            .iter()
            .map(|(row, terms)| Row {
                row: *row,
                terms: terms
                    .iter()
                    .map(|term| {
                        let (a, b) = term.ends;
                        let step = |point: usize| plan.step_of(node(point));
                        (term.factor, step(a), (a != b).then(|| step(b)))
                    })
                    .collect(),
            })
            .collect();
        let steps = rows.iter().flat_map(|row| &row.terms);
        let needed = plan.needed(steps.flat_map(|&(_, a, b)| std::iter::once(a).chain(b)));
        let mut leaves = Vec::new();
        for (index, &a) in hubs.iter().enumerate() {
            for (other, &b) in hubs.iter().enumerate().skip(index + 1) {
                let (at, number) = number(&mut self.pairs, a, b);
                let slot = plan.slot(inner + index, inner + other);
                leaves.push((small(slot), small(at), small(number)));
            }
        }
        let hubs = hubs
            .iter()
            .enumerate()
            .map(|(index, &hub)| (small(inner + index), small(hub)))
            .collect();
        // Legs of the same shape share one plan.
        let plan_number = self.plans.iter().position(|known| *known == plan).unwrap_or_else(|| {
            self.plans.push(plan);
            self.plans.len() - 1
        });
        Block { plan: small(plan_number), fixed, first_chain, chains, hubs, leaves, rows, needed }
    }

    fn between_hubs(&mut self, link: &Link) {
        let (Place::Hub(a), Place::Hub(b)) = (self.places[link.ends.0], self.places[link.ends.1])
        else {
            return;
        };
        let (at, number) = number(&mut self.pairs, a, b);
        if link.contacts.is_empty() {
            self.fixed.push((at, number, link.siemens));
            return;
        }
        for &contact in &link.contacts {
            self.chain_of.insert(contact, small(self.chains.len()));
        }
        let acts = Acts::Hubs { between: small(at), number: small(number), siemens: link.siemens };
        self.chains.push(Chain::of(&link.contacts, acts));
    }
}

/// The next number of the sum between two hubs.
fn number(
    pairs: &mut BTreeMap<(usize, usize), (usize, usize)>,
    a: usize,
    b: usize,
) -> (usize, usize) {
    let next = pairs.len();
    let entry = pairs.entry((a.min(b), a.max(b))).or_insert((next, 0));
    entry.1 += 1;
    (entry.0, entry.1 - 1)
}

fn small(value: usize) -> u32 {
    u32::try_from(value).unwrap_or(u32::MAX)
}
