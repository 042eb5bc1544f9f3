//! A scheme arranged once, drawn in one state after the other. **In:** sheets arranged at rest and a
//! state. **Out:** the whole drawing in that state, or one sheet of it. **Never here:** a choice of
//! place for any part.

use crate::draw::{Given, Options, Set, arranged};
use crate::flow;
use crate::geometry::{Drawing, Sheet};
use crate::live::Live;
use crate::meaning::{self, Goals};
use crate::names::{Unique, WireNumber};
use crate::patterns;
use fiftytwo_scheme::{NodeId, Scheme};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// A scheme arranged on its sheets at rest, to be drawn in one state after the other.
pub struct Arranged<'s> {
    scheme: &'s Scheme,
    set: Set,
    numbers: BTreeMap<NodeId, WireNumber>,
    notes: Vec<String>,
    bones: OnceLock<Bones>,
}

/// What a sheet needs of all others, whatever the state.
struct Bones {
    /// What each sheet was given by those before it.
    given: Vec<(BTreeMap<String, usize>, BTreeMap<NodeId, usize>)>,
    goals: Goals,
    wires: flow::Wires,
}

impl<'s> Arranged<'s> {
    /// The arrangement, and the scheme drawn at rest.
    pub fn new(scheme: &'s Scheme, options: &Options) -> (Self, Drawing) {
        arranged(scheme, options, (None, None), None)
    }

    pub(crate) fn of(
        scheme: &'s Scheme,
        set: Set,
        numbers: BTreeMap<NodeId, WireNumber>,
        notes: Vec<String>,
    ) -> Self {
        Self { scheme, set, numbers, notes, bones: OnceLock::new() }
    }

    /// The same drawing as [`crate::draw_live`] gives.
    pub fn live(&self, live: &Live) -> Drawing {
        let common = self.set.common(self.scheme, &self.numbers);
        let mut drawing = self.set.draw(&common, &self.notes, (Some(live), None)).0;
        patterns::show(&mut drawing, self.scheme, live);
        drawing
    }

    /// One sheet, by its number from 1, of the drawing that [`Arranged::live`] gives, to the last
    /// stroke; none: there is no such sheet. The first one takes longer: what it needs of the others
    /// is kept.
    pub fn live_sheet(&self, live: &Live, number: usize) -> Option<Sheet> {
        let page = number.checked_sub(1)?;
        let bones = self.bones.get_or_init(|| self.bones());
        let (given, pieces) = bones.given.get(page)?;
        let mut given = Given { unique: Unique::after(given.clone()), pieces: pieces.clone() };
        let common = self.set.common(self.scheme, &self.numbers);
        let shown = (Some(live), None);
        let (mut sheet, _) = self.set.draw_sheet(&common, page, (shown, false), &mut given)?;
        meaning::tell_sheet(&mut sheet, self.scheme, &common.references, &bones.goals);
        let carrying = bones.wires.carrying(page, live);
        patterns::show_on(&mut sheet, (self.scheme, live), &carrying);
        Some(sheet)
    }

    fn bones(&self) -> Bones {
        let common = self.set.common(self.scheme, &self.numbers);
        // Wires end otherwise in a state than at rest, but alike in every state.
        let any = Live::default();
        let shown = (Some(&any), None);
        let mut given = Given::default();
        let mut sheets = Vec::new();
        let mut kept = Vec::new();
        for page in 0..self.set.sheets() {
            let before = given.pieces.clone();
            let drawn = self.set.draw_sheet(&common, page, (shown, true), &mut given);
            sheets.extend(drawn.map(|(sheet, _)| sheet));
            let grew = |node: &NodeId, count: &usize| given.pieces.get(node) != Some(count);
            let pieces = before.into_iter().filter(|(node, count)| grew(node, count)).collect();
            kept.push((given.unique.asked(), pieces));
        }
        Bones {
            given: kept,
            goals: meaning::goals(&sheets, self.scheme, &common.references),
            wires: flow::Wires::of(&sheets, self.scheme),
        }
    }
}
