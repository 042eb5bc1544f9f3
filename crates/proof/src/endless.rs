//! Endless motion: a fair cycle in the graph of sure device moves.
//!
//! Fair: no move is sure in every place of the cycle without being made in it (weak fairness). The
//! strongly connected parts are found by two depth-first passes (Kosaraju, from memory).

use fiftytwo_motion::machine::UnitId;
use std::collections::BTreeSet;

/// A move: a unit and where it goes.
type Move = (UnitId, u8);

/// Places and the sure moves between them.
pub(crate) struct Graph {
    next: Vec<Vec<(Move, usize)>>,
    /// All sure moves of a place, those that lead out of the graph too.
    sure: Vec<Vec<Move>>,
    /// Places of which a cycle has to pass one.
    touched: Vec<bool>,
    /// Units of which a cycle has to move one; none: any.
    movers: Option<BTreeSet<UnitId>>,
}

impl Graph {
    pub(crate) fn new(places: usize) -> Self {
        Self {
            next: vec![Vec::new(); places],
            sure: vec![Vec::new(); places],
            touched: vec![true; places],
            movers: None,
        }
    }
    /// Only cycles that pass one of these places count.
    pub(crate) fn touches(&mut self, touched: Vec<bool>) {
        self.touched = touched;
    }
    /// Only cycles that move one of these units count.
    pub(crate) fn moves_some_of(&mut self, movers: BTreeSet<UnitId>) {
        self.movers = Some(movers);
    }
    /// A move of a place, and the place of the graph it leads to.
    pub(crate) fn add(&mut self, from: usize, made: Move, sure: bool, to: Option<usize>) {
        if sure {
            self.sure[from].push(made);
        }
        if let Some(to) = to {
            self.next[from].push((made, to));
        }
    }
    /// The units that move in a fair cycle, if there is one.
    pub(crate) fn fair_cycle(&self) -> Option<BTreeSet<UnitId>> {
        let part = self.parts();
        let parts = part.iter().copied().max().map_or(0, |last| last + 1);
        let mut made: Vec<BTreeSet<Move>> = vec![BTreeSet::new(); parts];
        let mut always: Vec<Option<BTreeSet<Move>>> = vec![None; parts];
        let mut touches = vec![false; parts];
        for (from, moves) in self.next.iter().enumerate() {
            touches[part[from]] |= self.touched[from];
            let inside = moves.iter().filter(|(_, to)| part[*to] == part[from]);
            made[part[from]].extend(inside.map(|(step, _)| *step));
            let here: BTreeSet<Move> = self.sure[from].iter().copied().collect();
            let common = &mut always[part[from]];
            *common = Some(match common.take() {
                None => here,
                Some(old) => old.intersection(&here).copied().collect(),
            });
        }
        let found = made.into_iter().zip(always).zip(touches).filter(|(_, touches)| *touches);
        found.map(|(found, _)| found).find_map(|(made, always)| {
            let fair = always.is_some_and(|always| always.is_subset(&made));
            let moves = self.movers.as_ref();
            let moves = moves.is_none_or(|some| made.iter().any(|(unit, _)| some.contains(unit)));
            (!made.is_empty() && fair && moves)
                .then(|| made.iter().map(|(unit, _)| *unit).collect())
        })
    }
    /// The strongly connected part of each place.
    fn parts(&self) -> Vec<usize> {
        let count = self.next.len();
        let mut back: Vec<Vec<usize>> = vec![Vec::new(); count];
        for (from, moves) in self.next.iter().enumerate() {
            for (_, to) in moves {
                back[*to].push(from);
            }
        }
        let mut order = Vec::with_capacity(count);
        let mut seen = vec![false; count];
        for root in 0..count {
            let mut stack = vec![(root, 0)];
            while let Some((place, edge)) = stack.pop() {
                if edge == 0 && std::mem::replace(&mut seen[place], true) {
                    continue;
                }
                match self.next[place].get(edge) {
                    Some((_, to)) => {
                        stack.push((place, edge + 1));
                        if !seen[*to] {
                            stack.push((*to, 0));
                        }
                    }
                    None => order.push(place),
                }
            }
        }
        let mut part = vec![usize::MAX; count];
        let mut parts = 0;
        for root in order.into_iter().rev() {
            if part[root] != usize::MAX {
                continue;
            }
            let mut stack = vec![root];
            while let Some(place) = stack.pop() {
                if part[place] == usize::MAX {
                    part[place] = parts;
                    stack.extend(back[place].iter().filter(|from| part[**from] == usize::MAX));
                }
            }
            parts += 1;
        }
        part
    }
}
