//! One network solved once for a whole family of faults.
//!
//! **In:** what joins, conducts and bends between nodes, and which node counts as 0 V; then any
//! few things added at a time (a ground, two grounds, a pole held). **Out:** every node's volts.
//! **Never here:** parts, names, corners.
//!
//! The matrix `Z` of volts at every node per ampere into every other is made once. With it a thing
//! added between two nodes costs one division, several cost a small system of their own size
//! (Thevenin equivalents and superposition). Count from a pole of the supply and not from ground:
//! behind a detector's kilohms every difference of a few ohms would be lost in rounding.
//!
//! Parts whose characteristic bends stand on one straight piece each. `Z` has each on its flattest
//! piece; standing on another is one more addition, so that conductance is only ever added and
//! nothing cancels. No answer is given by a piece that does not hold.

use super::exact::Exact;
use super::joined::Joined;
use fiftytwo_circuit::network::Network;

/// Between two nodes: `siemens * (v_a - v_b) + amps` amperes from `a` to `b`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    /// First node.
    pub a: usize,
    /// Second node.
    pub b: usize,
    /// Conductance, S.
    pub siemens: f64,
    /// Current without any voltage, A.
    pub amps: f64,
}

/// One straight piece of a characteristic: `siemens * v + amps` up to `until` volts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// The piece ends here, V (infinite for the last).
    pub until: f64,
    /// Slope, S.
    pub siemens: f64,
    /// Current where the piece, drawn out, crosses zero volts, A.
    pub amps: f64,
}

/// A part whose current is not in proportion to its voltage.
#[derive(Debug, Clone, PartialEq)]
pub struct Bend {
    /// First node.
    pub a: usize,
    /// Second node.
    pub b: usize,
    /// Its pieces by growing voltage from `a` to `b`.
    pub pieces: Vec<Piece>,
}

/// What a field is made of.
#[derive(Debug, Clone, Default)]
pub struct Parts {
    /// How many nodes.
    pub nodes: usize,
    /// The node that counts as 0 V.
    pub reference: usize,
    /// First node, second node, and how far the first lies above the second, V: closed contacts
    /// (0 V) and supplies without resistance.
    pub joins: Vec<(usize, usize, f64)>,
    /// Conductances and supplies with resistance.
    pub links: Vec<Link>,
    /// Characteristics that bend.
    pub bends: Vec<Bend>,
    /// The same as the bench has it, for where no pieces are found that hold.
    pub whole: Option<Network>,
}

/// Something added between two nodes: `v_a - v_b = ohm * i + volt` with `i` from `a` to `b`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Added {
    /// First node.
    pub a: usize,
    /// Second node.
    pub b: usize,
    /// Its resistance, ohm (0: ideal).
    pub ohm: f64,
    /// Its voltage, V.
    pub volt: f64,
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FieldFault {
    /// A supply without resistance is shorted or stands against another.
    Shorted,
    /// No pieces were found that all hold.
    Unsettled,
    /// What is added contradicts itself or what is there: an ideal short of an ideal supply.
    Contradiction,
}

/// Equal for nodes that are one point.
pub type Point = (usize, u64);

/// A solved network.
#[derive(Debug, Clone)]
pub struct Field {
    /// By node: the row it belongs to and how far it lies above it, V.
    places: Vec<(Row, f64)>,
    rows: usize,
    /// By row: volts with every bend on its flattest piece.
    base: Vec<f64>,
    /// Volts at a row per ampere into another, ohm; row by row.
    impedance: Vec<f64>,
    bends: Vec<Bend>,
    /// The flattest piece of each bend, and the one it stands on when nothing is added.
    flattest: Vec<usize>,
    /// None: not even that was found by pieces.
    stands: Option<Vec<usize>>,
    reference: usize,
    whole: Option<Network>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Row {
    Reference,
    At(usize),
    /// Nothing joins it to the reference.
    Floats,
}

/// A piece's end is passed by more than this before it counts, V.
const KEEPS: f64 = 1e-9;
/// The same once many changes have not led to rest: then rounding decided, V.
const KEEPS_AT_LAST: f64 = 1e-6;
/// More changes of pieces than this: given up.
const MOST_CHANGES: usize = 400;

/// What some additions make of a field.
#[derive(Debug, Clone)]
pub struct Changed<'f> {
    field: &'f Field,
    added: Vec<Put>,
    amps: Vec<f64>,
    exact: Option<Exact>,
}

/// One row of the small system: `volts * (v_a - v_b) - ohm * i = right`, with `i` from `a` to `b`.
/// What is added has `volts` 1; a bend on another piece has `ohm` 1 and its change of conductance
/// as `volts`, so that two pieces of one slope, which differ in current alone, are no exception.
#[derive(Debug, Clone, Copy)]
struct Put {
    a: usize,
    b: usize,
    volts: f64,
    ohm: f64,
    right: f64,
}

impl Field {
    /// Solves a network.
    ///
    /// # Errors
    /// [`FieldFault::Shorted`], [`FieldFault::Unsettled`].
    pub fn new(parts: &Parts) -> Result<Self, FieldFault> {
        let mut field = Self::on_flattest(parts)?;
        field.stands = match field.settle(&[]) {
            Ok(stands) => Some(stands),
            Err(FieldFault::Unsettled) if field.whole.is_some() => None,
            Err(fault) => return Err(fault),
        };
        field.with(&[])?;
        Ok(field)
    }

    fn on_flattest(parts: &Parts) -> Result<Self, FieldFault> {
        let mut joined = Joined::new(parts.nodes);
        for &(a, b, volt) in &parts.joins {
            if !joined.join(a, b, volt) {
                return Err(FieldFault::Shorted);
            }
        }
        let flattest: Vec<usize> = parts.bends.iter().map(Bend::flattest).collect();
        let bent = parts.bends.iter().zip(&flattest).map(|(bend, &piece)| {
            let piece = bend.piece(piece);
            Link { a: bend.a, b: bend.b, siemens: piece.siemens, amps: piece.amps }
        });
        let links: Vec<Link> = parts.links.iter().copied().chain(bent).collect();
        let roots: Vec<(usize, f64)> = (0..parts.nodes).map(|node| joined.find(node)).collect();
        let mut hangs = Joined::new(parts.nodes);
        for link in links.iter().filter(|link| link.siemens > 0.0) {
            hangs.join(roots[link.a].0, roots[link.b].0, 0.0);
        }
        let (zero, lift) = roots[parts.reference];
        let held = hangs.find(zero).0;
        let mut row_of = vec![Row::Floats; parts.nodes];
        let mut rows = 0;
        for node in 0..parts.nodes {
            let root = roots[node].0;
            if root == zero {
                row_of[node] = Row::Reference;
            } else if hangs.find(root).0 == held {
                if row_of[root] == Row::Floats {
                    row_of[root] = Row::At(rows);
                    rows += 1;
                }
                row_of[node] = row_of[root];
            }
        }
        let places: Vec<(Row, f64)> = (0..parts.nodes)
            .map(|node| {
                let above = roots[node].1;
                (row_of[node], if row_of[node] == Row::Reference { above - lift } else { above })
            })
            .collect();
        let mut matrix = vec![0.0; rows * rows];
        let mut into = vec![0.0; rows];
        for link in &links {
            let ((a, above_a), (b, above_b)) = (places[link.a], places[link.b]);
            let flows = link.siemens * (above_a - above_b) + link.amps;
            if let Row::At(a) = a {
                matrix[a * rows + a] += link.siemens;
                into[a] -= flows;
            }
            if let Row::At(b) = b {
                matrix[b * rows + b] += link.siemens;
                into[b] += flows;
            }
            if let (Row::At(a), Row::At(b)) = (a, b) {
                matrix[a * rows + b] -= link.siemens;
                matrix[b * rows + a] -= link.siemens;
            }
        }
        let impedance = inverse(matrix, rows).ok_or(FieldFault::Unsettled)?;
        let base = (0..rows)
            .map(|row| {
                let row = &impedance[row * rows..(row + 1) * rows];
                row.iter().zip(&into).map(|(ohm, amps)| ohm * amps).sum()
            })
            .collect();
        Ok(Self {
            places,
            rows,
            base,
            impedance,
            bends: parts.bends.clone(),
            stands: Some(flattest.clone()),
            flattest,
            reference: parts.reference,
            whole: parts.whole.clone(),
        })
    }

    /// The potential with every bend on its flattest piece, V.
    fn flat(&self, node: usize) -> Option<f64> {
        let (row, above) = self.places[node];
        match row {
            Row::Reference => Some(above),
            Row::At(row) => Some(self.base[row] + above),
            Row::Floats => None,
        }
    }
    /// Whether any characteristic bends.
    pub fn bends_anywhere(&self) -> bool {
        !self.bends.is_empty()
    }
    /// Whether anything joins a node to the reference.
    pub fn holds(&self, node: usize) -> bool {
        self.places[node].0 != Row::Floats
    }
    /// Equal for nodes that are one point whatever is added; none: it floats.
    pub fn point(&self, node: usize) -> Option<Point> {
        let (row, above) = self.places[node];
        let row = match row {
            Row::Reference => self.rows,
            Row::At(row) => row,
            Row::Floats => return None,
        };
        // Two nodes of one row lie apart only by supplies without resistance.
        Some((row, (above + 0.0).to_bits()))
    }
    /// Volts at one node per ampere into another, with every bend on its flattest piece, ohm (0
    /// for the reference and what floats).
    fn ohm(&self, at: usize, into: usize) -> f64 {
        match (self.places[at].0, self.places[into].0) {
            (Row::At(at), Row::At(into)) => self.impedance[at * self.rows + into],
            _ => 0.0,
        }
    }
    /// With things added; every characteristic stands on a piece that holds.
    ///
    /// # Errors
    /// [`FieldFault::Contradiction`], [`FieldFault::Unsettled`].
    pub fn with(&self, added: &[Added]) -> Result<Changed<'_>, FieldFault> {
        if self.bends.is_empty() {
            return self.changed(added, &[]);
        }
        match (self.settle(added), &self.whole) {
            (Ok(stands), _) => self.changed(added, &stands),
            (Err(FieldFault::Unsettled), Some(whole)) => {
                let exact = Some(Exact::new(whole, self.reference, added)?);
                Ok(Changed { field: self, added: Vec::new(), amps: Vec::new(), exact })
            }
            (Err(fault), _) => Err(fault),
        }
    }

    /// Volts across one thing added per ampere through another, ohm.
    fn mutual(&self, one: &Put, other: &Put) -> f64 {
        (self.ohm(one.a, other.a) - self.ohm(one.b, other.a))
            - (self.ohm(one.a, other.b) - self.ohm(one.b, other.b))
    }

    /// The pieces that hold with things added.
    fn settle(&self, added: &[Added]) -> Result<Vec<usize>, FieldFault> {
        let from = self.stands.as_ref().ok_or(FieldFault::Unsettled)?;
        match self.walk(from, added)? {
            Some(stands) => Ok(stands),
            None => self.by_least_index(from, added),
        }
    }

    /// From pieces and voltages that belong together towards the voltages those pieces lead to, but
    /// only to the first end of a piece on the way; there the neighbour takes over (J. Katzenelson,
    /// "An algorithm for solving nonlinear resistor networks", Bell System Technical Journal, 1965).
    /// None: several ends met in one point and it went round.
    fn walk(&self, from: &[usize], added: &[Added]) -> Result<Option<Vec<usize>>, FieldFault> {
        let mut stands = from.to_vec();
        let before = self.changed(&[], &stands)?;
        let across = |state: &Changed<'_>| -> Vec<Option<f64>> {
            self.bends.iter().map(|bend| state.between(bend.a, bend.b)).collect()
        };
        let mut volts = across(&before);
        for _ in 0..MOST_CHANGES {
            let ends = across(&self.changed(added, &stands)?);
            let mut first: Option<(f64, usize, usize)> = None;
            for (index, bend) in self.bends.iter().enumerate() {
                let (Some(from), Some(to)) = (volts[index], ends[index]) else { continue };
                let stand = stands[index];
                let upper = bend.piece(stand).until;
                let lower = stand.checked_sub(1).map(|below| bend.piece(below).until);
                let (end, next) = match lower {
                    _ if to > upper + KEEPS => (upper, stand + 1),
                    Some(lower) if to < lower - KEEPS => (lower, stand - 1),
                    _ => continue,
                };
                let share = ((end - from) / (to - from)).clamp(0.0, 1.0);
                if first.is_none_or(|(least, ..)| share < least) {
                    first = Some((share, index, next));
                }
            }
            let Some((share, index, next)) = first else { return Ok(Some(stands)) };
            for (volt, end) in volts.iter_mut().zip(ends) {
                *volt = volt.zip(end).map(|(from, to)| from + share * (to - from));
            }
            stands[index] = next;
        }
        Ok(None)
    }

    /// Moves only the first bend that does not fit, by one piece (least-index rule of complementary
    /// pivoting).
    fn by_least_index(&self, from: &[usize], added: &[Added]) -> Result<Vec<usize>, FieldFault> {
        let mut stands = from.to_vec();
        for change in 0..MOST_CHANGES {
            let keeps = if change < MOST_CHANGES / 2 { KEEPS } else { KEEPS_AT_LAST };
            let changed = self.changed(added, &stands)?;
            let wrong = self.bends.iter().enumerate().find_map(|(index, bend)| {
                let volt = changed.between(bend.a, bend.b)?;
                let stands = stands[index];
                if volt > bend.piece(stands).until + keeps {
                    Some((index, stands + 1))
                } else if stands > 0 && volt < bend.piece(stands - 1).until - keeps {
                    Some((index, stands - 1))
                } else {
                    None
                }
            });
            match wrong {
                None => return Ok(stands),
                Some((index, piece)) => stands[index] = piece,
            }
        }
        Err(FieldFault::Unsettled)
    }

    fn changed(&self, added: &[Added], stands: &[usize]) -> Result<Changed<'_>, FieldFault> {
        let mut all: Vec<Put> = added
            .iter()
            .map(|it| Put { a: it.a, b: it.b, volts: 1.0, ohm: it.ohm, right: it.volt })
            .collect();
        for (index, bend) in self.bends.iter().enumerate() {
            let (old, new) = (self.flattest[index], stands[index]);
            if old == new {
                continue;
            }
            let (old, new) = (bend.piece(old), bend.piece(new));
            let volts = new.siemens - old.siemens;
            let right = old.amps - new.amps;
            all.push(Put { a: bend.a, b: bend.b, volts, ohm: 1.0, right });
        }
        let right = all.iter().map(|one| match (self.flat(one.a), self.flat(one.b)) {
            (Some(a), Some(b)) => one.volts * (a - b) - one.right,
            _ => 0.0,
        });
        let right = right.collect();
        let amps = solve(self.system(&all), right).ok_or(FieldFault::Contradiction)?;
        if !amps.iter().all(|amps| amps.is_finite()) {
            return Err(FieldFault::Contradiction);
        }
        Ok(Changed { field: self, added: all, amps, exact: None })
    }

    /// The small system of what is added. Where an end floats no current finds a way back.
    fn system(&self, added: &[Put]) -> Vec<f64> {
        let count = added.len();
        let held = |put: &Put| self.holds(put.a) && self.holds(put.b);
        let mut system = vec![0.0; count * count];
        for (row, one) in added.iter().enumerate() {
            for (column, other) in added.iter().enumerate() {
                let both = held(one) && held(other);
                let mutual = if both { one.volts * self.mutual(one, other) } else { 0.0 };
                system[row * count + column] = mutual;
            }
            system[row * count + row] += if held(one) { one.ohm } else { 1.0 };
        }
        system
    }
}

impl Changed<'_> {
    /// The potential of a node, V above the reference; none: nothing joins the two.
    pub fn potential(&self, node: usize) -> Option<f64> {
        let base = self.field.flat(node)?;
        if let Some(exact) = &self.exact {
            return exact.potential(node);
        }
        let shift: f64 = self
            .added
            .iter()
            .zip(&self.amps)
            .map(|(added, amps)| {
                (self.field.ohm(node, added.a) - self.field.ohm(node, added.b)) * amps
            })
            .sum();
        Some(base - shift)
    }
    /// Volts from one node to another.
    pub fn between(&self, a: usize, b: usize) -> Option<f64> {
        Some(self.potential(a)? - self.potential(b)?)
    }
    /// The current through something added, A from its first node to its second.
    pub fn amps(&self, added: usize) -> f64 {
        let exact = self.exact.as_ref().map(|exact| exact.amps(added));
        exact.or(self.amps.get(added).copied()).unwrap_or(0.0)
    }
    /// Volts at a node per ampere into it, with the additions, ohm: what a capacitance between the
    /// node and the reference discharges through.
    pub fn ohm_at(&self, node: usize) -> f64 {
        match &self.exact {
            Some(exact) => exact.ohm_at(node, false).unwrap_or(f64::INFINITY),
            None => self.ohm_with(node, &self.added),
        }
    }
    /// The same on the same pieces without the last of `count` things added.
    pub fn ohm_at_without_last(&self, node: usize, count: usize) -> f64 {
        if let Some(exact) = &self.exact {
            return exact.ohm_at(node, true).unwrap_or(f64::INFINITY);
        }
        let mut added = self.added.clone();
        if (1..=added.len()).contains(&count) {
            added.remove(count - 1);
        }
        self.ohm_with(node, &added)
    }
    fn ohm_with(&self, node: usize, added: &[Put]) -> f64 {
        let probe = |added: &Put| self.field.ohm(added.a, node) - self.field.ohm(added.b, node);
        let seen: Vec<f64> = added.iter().map(probe).collect();
        let right = added.iter().zip(&seen).map(|(added, seen)| added.volts * seen);
        let taken = solve(self.field.system(added), right.collect()).unwrap_or_default();
        let less: f64 = taken.iter().zip(&seen).map(|(amps, ohm)| amps * ohm).sum();
        self.field.ohm(node, node) - less
    }
}

impl Bend {
    fn piece(&self, index: usize) -> Piece {
        const NOTHING: Piece = Piece { until: f64::INFINITY, siemens: 0.0, amps: 0.0 };
        self.pieces.get(index).or(self.pieces.last()).copied().unwrap_or(NOTHING)
    }
    fn flattest(&self) -> usize {
        let slopes = self.pieces.iter().enumerate();
        slopes.min_by(|a, b| a.1.siemens.total_cmp(&b.1.siemens)).map_or(0, |(index, _)| index)
    }
}

/// The inverse of a symmetric positive definite matrix; none if it is none.
fn inverse(mut matrix: Vec<f64>, rows: usize) -> Option<Vec<f64>> {
    // Gauss-Jordan in place, pivots down the diagonal: stable for a positive definite matrix.
    let mut pivot_row = vec![0.0; rows];
    for pivot in 0..rows {
        let value = matrix[pivot * rows + pivot];
        if !(value > 0.0 && value.is_finite()) {
            return None;
        }
        let one = value.recip();
        matrix[pivot * rows + pivot] = 1.0;
        for column in 0..rows {
            matrix[pivot * rows + column] *= one;
        }
        pivot_row.copy_from_slice(&matrix[pivot * rows..(pivot + 1) * rows]);
        for row in (0..rows).filter(|row| *row != pivot) {
            let line = &mut matrix[row * rows..(row + 1) * rows];
            let factor = line[pivot];
            if factor == 0.0 {
                continue;
            }
            line[pivot] = 0.0;
            for (entry, pivot) in line.iter_mut().zip(&pivot_row) {
                *entry -= factor * pivot;
            }
        }
    }
    Some(matrix)
}

/// Solves a small system; none where it contradicts itself.
fn solve(mut system: Vec<f64>, mut right: Vec<f64>) -> Option<Vec<f64>> {
    let count = right.len();
    for pivot in 0..count {
        let best = (pivot..count).max_by(|a, b| {
            system[a * count + pivot].abs().total_cmp(&system[b * count + pivot].abs())
        })?;
        // Points that are one have equal numbers to the last digit, so what contradicts itself
        // comes out as exactly zero.
        let value = system[best * count + pivot];
        if value == 0.0 || !value.is_finite() {
            return None;
        }
        if best != pivot {
            for column in 0..count {
                system.swap(best * count + column, pivot * count + column);
            }
            right.swap(best, pivot);
        }
        for row in pivot + 1..count {
            let factor = system[row * count + pivot] / system[pivot * count + pivot];
            for column in pivot..count {
                system[row * count + column] -= factor * system[pivot * count + column];
            }
            right[row] -= factor * right[pivot];
        }
    }
    for row in (0..count).rev() {
        let known: f64 =
            (row + 1..count).map(|column| system[row * count + column] * right[column]).sum();
        right[row] = (right[row] - known) / system[row * count + row];
    }
    Some(right)
}
