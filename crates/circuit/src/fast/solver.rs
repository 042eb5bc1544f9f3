//! The numbers of one network at one position of its contacts, kept from one position to the next.

use super::plan::{Acts, Sweep};
use super::totals::Total;
use crate::elimination::{Potentials, Work};
use std::fmt;

/// Closed contacts short the source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shorted;

impl fmt::Display for Shorted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "closed contacts short the source")
    }
}

impl std::error::Error for Shorted {}

/// Blocks with more chains are not remembered.
const MOST_REMEMBERED: usize = 12;

/// Solves a [`Sweep`] at one position of its contacts after the other.
#[derive(Debug)]
pub struct Solver<'s> {
    sweep: &'s Sweep,
    closed: Vec<u64>,
    /// By chain.
    is_whole: Vec<bool>,
    /// By block: which of its first chains are whole, as bits.
    keys: Vec<u32>,
    touched: Vec<bool>,
    to_do: Vec<u32>,
    totals: Vec<Total>,
    /// By hub but the minus pole, by row: volts across the row for each volt of the hub.
    shares: Vec<Vec<f64>>,
    /// By asked pair: the hubs its ends hang on, as bits.
    hangs_on: Vec<u32>,
    volts: Vec<f64>,
    memory: Vec<Memory>,
    work: Work,
    hub_work: Work,
    potentials: Potentials,
}

/// What a block came to, by key.
#[derive(Debug, Default)]
struct Memory {
    known: Vec<bool>,
    /// Leaves, then rows hub by hub.
    numbers: Vec<f64>,
    hangs_on: Vec<u32>,
}

impl<'s> Solver<'s> {
    pub(super) fn new(sweep: &'s Sweep, remembers: bool) -> Self {
        let rows = sweep.row_of.len();
        let mut solver = Self {
            sweep,
            closed: vec![0; sweep.contacts().div_ceil(64)],
            is_whole: vec![false; sweep.chains.len()],
            keys: vec![0; sweep.blocks.len()],
            touched: vec![true; sweep.blocks.len()],
            to_do: (0..sweep.blocks.len()).filter_map(|block| u32::try_from(block).ok()).collect(),
            totals: sweep.between.iter().map(|&(_, numbers)| Total::new(numbers)).collect(),
            shares: vec![vec![0.0; rows]; sweep.hubs - 1],
            hangs_on: vec![0; rows],
            volts: vec![0.0; rows],
            memory: Vec::new(),
            work: Work::default(),
            hub_work: Work::default(),
            potentials: Potentials::default(),
        };
        if remembers {
            solver.memory = sweep.blocks.iter().map(Memory::of).collect();
        }
        sweep.plans.iter().for_each(|plan| solver.work.make_room(plan));
        solver.hub_work.clear(&sweep.hub_plan);
        for &(row, hub, factor) in &sweep.at_hub {
            if hub > 0 {
                solver.shares[hub - 1][row] += factor;
                solver.hangs_on[row] |= 1 << hub;
            }
        }
        for &(between, number, siemens) in &sweep.fixed {
            solver.totals[between].set(number, siemens);
        }
        for (contact, &closed) in sweep.closed.iter().enumerate() {
            solver.set(contact, closed);
        }
        solver
    }

    /// Moves one contact. A contact that does not exist is left alone: false.
    pub fn set(&mut self, contact: usize, closed: bool) -> bool {
        let Some(&chain) = self.sweep.chain_of.get(contact) else { return false };
        let (word, bit) = (contact / 64, 1_u64 << (contact % 64));
        if (self.closed[word] & bit != 0) != closed {
            self.closed[word] ^= bit;
            if let Some(chain) = chain {
                self.look_at(chain as usize);
            }
        }
        true
    }

    /// Puts all contacts: contact i is bit i mod 64 of word i / 64. Contacts for which there is no
    /// word stay where they are.
    pub fn put(&mut self, closed: &[u64]) {
        let differing: u32 =
            self.closed.iter().zip(closed).map(|(was, now)| (was ^ now).count_ones()).sum();
        if differing as usize * 2 > self.sweep.chains.len() {
            let words = self.closed.len().min(closed.len());
            self.closed[..words].copy_from_slice(&closed[..words]);
            self.look_at_all();
            return;
        }
        for (word, &now) in closed.iter().enumerate().take(self.closed.len()) {
            let mut differs = self.closed[word] ^ now;
            while differs != 0 {
                let contact = word * 64 + differs.trailing_zeros() as usize;
                self.set(contact, now >> (contact % 64) & 1 == 1);
                differs &= differs - 1;
            }
        }
    }

    /// Makes the next solve compute every block, whether a contact touched it or not.
    pub fn forget(&mut self) {
        for block in 0..self.touched.len() {
            self.touch(block);
        }
    }

    fn touch(&mut self, block: usize) {
        if !self.touched[block] {
            self.touched[block] = true;
            self.to_do.push(u32::try_from(block).unwrap_or(u32::MAX));
        }
    }

    fn look_at(&mut self, number: usize) {
        let chain = &self.sweep.chains[number];
        let is_whole = chain.is_whole(&self.closed);
        if std::mem::replace(&mut self.is_whole[number], is_whole) == is_whole {
            return;
        }
        match chain.acts {
            Acts::Block { block, bit } => {
                if (bit as usize) < MOST_REMEMBERED {
                    self.keys[block as usize] ^= 1 << bit;
                }
                self.touch(block as usize);
            }
            Acts::Hubs { between, number, siemens } => {
                let value = if is_whole { siemens } else { 0.0 };
                self.totals[between as usize].set(number as usize, value);
            }
        }
    }

    /// As [`Self::look_at`] for every chain, where about every second one has moved: nothing is jumped
    /// over that can't be foreseen.
    fn look_at_all(&mut self) {
        for (chain, was_whole) in self.sweep.chains.iter().zip(&mut self.is_whole) {
            let is_whole = chain.is_whole(&self.closed);
            let has_moved = std::mem::replace(was_whole, is_whole) != is_whole;
            match chain.acts {
                Acts::Block { block, bit } => {
                    let place = block as usize;
                    if (bit as usize) < MOST_REMEMBERED {
                        self.keys[place] ^= u32::from(has_moved) << bit;
                    }
                    if !self.touched[place] && has_moved {
                        self.touched[place] = true;
                        self.to_do.push(block);
                    }
                }
                Acts::Hubs { between, number, siemens } => {
                    if has_moved {
                        let value = if is_whole { siemens } else { 0.0 };
                        self.totals[between as usize].set(number as usize, value);
                    }
                }
            }
        }
    }

    /// The voltages across the asked pairs, V, in the order of asking; NaN: one of its ends floats
    /// (nothing holds it). See [`Self::volt`] for one at a time.
    ///
    /// # Errors
    /// [`Shorted`]: there is no sensible number then.
    pub fn volts(&mut self) -> Result<&[f64], Shorted> {
        let all_anew = self.to_do.len() * 8 > self.touched.len();
        let to_do = std::mem::take(&mut self.to_do);
        for &block in &to_do {
            self.touched[block as usize] = false;
            self.block(block as usize, all_anew);
        }
        self.to_do = to_do;
        self.to_do.clear();
        if all_anew {
            self.totals.iter_mut().for_each(Total::add_up);
        }
        self.hubs()?;
        let asked = self.sweep.asked;
        for at in asked..self.volts.len() {
            let volt = self.volts[at];
            self.volts[self.sweep.row_of[at] as usize] += volt;
        }
        for &pair in &self.sweep.loose {
            self.volts[pair] = f64::NAN;
        }
        Ok(&self.volts[..asked])
    }

    /// The voltage across one asked pair after [`Self::volts`]; none: one of its ends floats.
    pub fn volt(&self, asked: usize) -> Option<f64> {
        let volts = &self.volts[..self.sweep.asked];
        volts.get(asked).copied().filter(|volt| !volt.is_nan())
    }

    /// One block: what it leaves between its hubs, and its rows for one volt at each.
    fn block(&mut self, number: usize, all_anew: bool) {
        let sweep = self.sweep;
        let block = &sweep.blocks[number];
        let key = self.keys[number] as usize;
        if let Some(memory) = self.memory.get(number)
            && memory.known.get(key) == Some(&true)
        {
            memory.recall(
                block,
                key,
                all_anew,
                &mut self.totals,
                &mut self.shares,
                &mut self.hangs_on,
            );
            return;
        }
        let plan = &sweep.plans[block.plan as usize];
        self.work.restart(&block.fixed);
        let is_whole = &self.is_whole[block.first_chain as usize..];
        for (&(slot, siemens), &is_whole) in block.chains.iter().zip(is_whole) {
            self.work.add(slot as usize, if is_whole { siemens } else { 0.0 });
        }
        self.work.eliminate(plan);
        for &(slot, between, number) in &block.leaves {
            let (siemens, _) = self.work.left(slot as usize);
            let total = &mut self.totals[between as usize];
            if all_anew {
                total.put(number as usize, siemens);
            } else {
                total.set(number as usize, siemens);
            }
        }
        if !block.rows.is_empty() {
            for row in &block.rows {
                self.hangs_on[row.row as usize] = 0;
            }
            self.potentials.fit(plan);
            for &(node, _) in &block.hubs {
                self.potentials.hold(plan, node as usize, 0.0);
            }
            for (node, hub) in block.columns() {
                let is_minus = hub == 0;
                if !is_minus {
                    self.potentials.hold(plan, node as usize, 1.0);
                }
                self.work.spread_over(plan, &block.needed, &mut self.potentials);
                let hub = hub.max(1);
                let steps = self.potentials.by_step();
                for row in &block.rows {
                    let (mut share, mut hangs) = (0.0, false);
                    for &(factor, a, b) in &row.terms {
                        let a = steps[a as usize];
                        let b = b.map_or(0.0, |b| steps[b as usize]);
                        share += factor * (a - b);
                        hangs |= (a != 0.0) | (b != 0.0);
                    }
                    self.shares[hub as usize - 1][row.row as usize] = share;
                    self.hangs_on[row.row as usize] |= u32::from(hangs) << hub;
                }
                self.potentials.hold(plan, node as usize, 0.0);
            }
        }
        if let Some(memory) = self.memory.get_mut(number).filter(|memory| key < memory.known.len())
        {
            memory.keep(block, key, &self.totals, &self.shares, &self.hangs_on);
        }
    }

    /// Potentials of the hubs, then volts of the rows.
    fn hubs(&mut self) -> Result<(), Shorted> {
        let plan = &self.sweep.hub_plan;
        let work = &mut self.hub_work;
        work.clear(plan);
        for (total, &(slot, _)) in self.totals.iter().zip(&self.sweep.between) {
            work.add(slot, total.sum());
        }
        work.eliminate(plan);
        let (siemens, shorted) = work.left(plan.slot(1, 0));
        if shorted {
            self.volts.fill(f64::NAN);
            return Err(Shorted);
        }
        let plus = self.sweep.volt / (1.0 + self.sweep.ohm * siemens);
        let potentials = &mut self.potentials;
        potentials.fit(plan);
        potentials.hold(plan, 0, 0.0);
        potentials.hold(plan, 1, plus);
        work.spread(plan, potentials);
        let mut floating = 0_u32;
        for hub in 1..self.sweep.hubs {
            let volt = potentials.of(plan, hub);
            let shares = &self.shares[hub - 1];
            if volt.is_nan() {
                floating |= 1 << hub;
                if hub == 1 {
                    self.volts.fill(0.0);
                }
            } else if hub == 1 {
                for (out, share) in self.volts.iter_mut().zip(shares) {
                    *out = volt * share;
                }
            } else {
                for (out, share) in self.volts.iter_mut().zip(shares) {
                    *out += volt * share;
                }
            }
        }
        if floating != 0 {
            for (out, hangs_on) in self.volts.iter_mut().zip(&self.hangs_on) {
                if hangs_on & floating != 0 {
                    *out = f64::NAN;
                }
            }
        }
        Ok(())
    }
}

impl super::plan::Block {
    /// Its hubs but the minus pole (which is at 0 V): node, hub; the minus pole if it has no other.
    fn columns(&self) -> impl Iterator<Item = (u32, u32)> + '_ {
        let only_minus = matches!(self.hubs[..], [(_, 0)]);
        self.hubs.iter().copied().filter(move |&(_, hub)| hub > 0 || only_minus)
    }
}

impl Memory {
    fn of(block: &super::plan::Block) -> Self {
        if block.chains.len() > MOST_REMEMBERED {
            return Self::default();
        }
        let keys = 1 << block.chains.len();
        let numbers = block.leaves.len() + block.rows.len() * block.columns().count();
        Self {
            known: vec![false; keys],
            numbers: vec![0.0; keys * numbers],
            hangs_on: vec![0; keys * block.rows.len()],
        }
    }

    fn places(block: &super::plan::Block) -> impl Iterator<Item = (usize, usize)> + '_ {
        block.columns().flat_map(|(_, hub)| {
            block.rows.iter().map(move |row| (hub.max(1) as usize - 1, row.row as usize))
        })
    }

    fn keep(
        &mut self,
        block: &super::plan::Block,
        key: usize,
        totals: &[Total],
        shares: &[Vec<f64>],
        hangs_on: &[u32],
    ) {
        let each = self.numbers.len() / self.known.len();
        let (leaves, rows) = self.numbers[key * each..][..each].split_at_mut(block.leaves.len());
        for (number, &(_, between, at)) in leaves.iter_mut().zip(&block.leaves) {
            *number = totals[between as usize].number(at as usize);
        }
        for (number, (hub, row)) in rows.iter_mut().zip(Self::places(block)) {
            *number = shares[hub][row];
        }
        let kept = &mut self.hangs_on[key * block.rows.len()..];
        for (kept, row) in kept.iter_mut().zip(&block.rows) {
            *kept = hangs_on[row.row as usize];
        }
        self.known[key] = true;
    }

    fn recall(
        &self,
        block: &super::plan::Block,
        key: usize,
        all_anew: bool,
        totals: &mut [Total],
        shares: &mut [Vec<f64>],
        hangs_on: &mut [u32],
    ) {
        let each = self.numbers.len() / self.known.len();
        let (leaves, rows) = self.numbers[key * each..][..each].split_at(block.leaves.len());
        for (&siemens, &(_, between, at)) in leaves.iter().zip(&block.leaves) {
            let total = &mut totals[between as usize];
            if all_anew {
                total.put(at as usize, siemens);
            } else {
                total.set(at as usize, siemens);
            }
        }
        for (&share, (hub, row)) in rows.iter().zip(Self::places(block)) {
            shares[hub][row] = share;
        }
        let kept = &self.hangs_on[key * block.rows.len()..];
        for (&kept, row) in kept.iter().zip(&block.rows) {
            hangs_on[row.row as usize] = kept;
        }
    }
}
