//! Which piece of every curve fits.
//!
//! **In:** a network made ready. **Out:** its solution, or the curve that found no voltage.
//! **Never here:** how one linear system is solved.
//!
//! Every branch's current grows with its voltage, so the node laws say that a convex function (the
//! co-content, the sum over all branches of the current integrated over the voltage) stands at its
//! least value. It is made of quadratic pieces with a continuous slope. Each step solves the linear
//! network of the present pieces and then goes along the line to that solution exactly as far as
//! the function falls, from piece to piece (Newton's method with an exact line search, which ends
//! after finitely many steps on a strictly convex function of that kind; from memory of the
//! literature on piecewise quadratic minimisation). The way along the line needs the sums of
//! conductance times voltage squared only, so nothing cancels.

use super::currents::solution;
use super::linear::Frame;
use super::{NetworkError, Solution};

/// A curve is met when the voltage lies within this of its piece, V …
const KEEPS_VOLT: f64 = 1e-6;
/// … or the current of the piece within this of the curve, A.
const KEEPS_AMPERE: f64 = 1e-9;

/// A curve with its two ends.
struct Bent {
    branch: usize,
    a: usize,
    b: usize,
}

pub(super) fn settle(frame: &Frame<'_>) -> Result<Solution, NetworkError> {
    let network = frame.network;
    let mut pieces = vec![0; network.branches.len()];
    let mut bent = Vec::new();
    let mut limit = 64;
    for (branch, place) in network.branches.iter().enumerate() {
        if let Some(curve) = network.curve_of(branch) {
            let (a, b) = place.nodes();
            pieces[branch] = curve.piece_at(0.0);
            if frame.slots[branch].is_some() {
                bent.push(Bent { branch, a, b });
                limit += 32 * curve.pieces();
            } else {
                pieces[branch] = curve.piece_at(frame.places[a].1 - frame.places[b].1);
            }
        }
    }
    let mut at = frame.potentials(&pieces)?;
    let mut worst = fits_worst(frame, &bent, &pieces, &at);
    if worst.is_none() {
        return Ok(solution(frame, at, &pieces));
    }
    for place in &bent {
        if let Some(curve) = network.curve_of(place.branch) {
            pieces[place.branch] = curve.piece_at(at[place.a] - at[place.b]);
        }
    }
    for _ in 0..limit {
        let target = frame.potentials(&pieces)?;
        worst = fits_worst(frame, &bent, &pieces, &target);
        if worst.is_none() {
            return Ok(solution(frame, target, &pieces));
        }
        let step = Line { frame, bent: &bent, from: &at, to: &target }.walk(&mut pieces);
        for (volt, target) in at.iter_mut().zip(&target) {
            *volt += step * (target - *volt);
        }
    }
    Err(NetworkError::Unsettled { branch: worst.unwrap_or(0) })
}

/// The branch whose piece fits worst; none if all fit.
fn fits_worst(frame: &Frame<'_>, bent: &[Bent], pieces: &[usize], at: &[f64]) -> Option<usize> {
    let mut worst = (0.0, None);
    for place in bent {
        let Some(curve) = frame.network.curve_of(place.branch) else { continue };
        let (piece, volt) = (pieces[place.branch], at[place.a] - at[place.b]);
        let (from, to) = curve.span(piece);
        let beyond = (from - volt).max(volt - to);
        if beyond <= 0.0 {
            continue;
        }
        let line = curve.piece(piece);
        let off = (line.current(volt) - curve.current(volt)).abs();
        let next = if volt > to { piece + 1 } else { piece - 1 };
        // Past its end towards a steeper piece the line is the curve with a small voltage in series.
        let steeper = curve.piece(next).siemens >= line.siemens;
        let fits = off <= KEEPS_AMPERE || (steeper && beyond <= KEEPS_VOLT);
        if !fits && beyond > worst.0 {
            worst = (beyond, Some(place.branch));
        }
    }
    worst.1
}

/// A straight way from one set of potentials to another.
struct Line<'a, 'n> {
    frame: &'a Frame<'n>,
    bent: &'a [Bent],
    from: &'a [f64],
    to: &'a [f64],
}

impl Line<'_, '_> {
    fn along(&self, a: usize, b: usize) -> f64 {
        (self.to[a] - self.from[a]) - (self.to[b] - self.from[b])
    }

    /// How far the co-content falls, as a share of the whole way; `pieces` then are those there.
    fn walk(&self, pieces: &mut [usize]) -> f64 {
        let network = self.frame.network;
        let mut straight = 0.0;
        for (index, branch) in network.branches.iter().enumerate() {
            let Some(line) = self.frame.slots[index].and(network.line(index, 0)) else { continue };
            let (a, b) = branch.nodes();
            let along = self.along(a, b);
            let own = if network.curve_of(index).is_some() { 0.0 } else { line.siemens };
            straight += (own + network.leak(index)) * along * along;
        }
        let bends = |pieces: &[usize]| -> f64 {
            let bend = |place: &Bent| {
                let piece = network.curve_of(place.branch)?.piece(pieces[place.branch]);
                let along = self.along(place.a, place.b);
                Some(piece.siemens * along * along)
            };
            self.bent.iter().filter_map(bend).sum()
        };
        let mut rise = straight + bends(pieces);
        // To the solution of the linear network the slope of the function is minus its curvature.
        let mut slope = -rise;
        let mut gone = 0.0;
        for (share, branch, piece) in self.corners(pieces) {
            let there = slope + rise * (share - gone);
            if there >= 0.0 {
                break;
            }
            (slope, gone) = (there, share);
            pieces[branch] = piece;
            rise = straight + bends(pieces);
        }
        if rise > 0.0 { gone - slope / rise } else { gone }
    }

    /// The corners on the way and beyond, in order: how far, which curve, its next piece.
    fn corners(&self, pieces: &[usize]) -> Vec<(f64, usize, usize)> {
        let mut corners = Vec::new();
        for place in self.bent {
            let Some(curve) = self.frame.network.curve_of(place.branch) else { continue };
            let volt = self.from[place.a] - self.from[place.b];
            let along = self.along(place.a, place.b);
            let mut piece = pieces[place.branch];
            loop {
                let (from, to) = curve.span(piece);
                let (border, next) = if along > 0.0 && piece + 1 < curve.pieces() {
                    (to, piece + 1)
                } else if along < 0.0 && piece > 0 {
                    (from, piece - 1)
                } else {
                    break;
                };
                corners.push((((border - volt) / along).max(0.0), place.branch, next));
                piece = next;
            }
        }
        corners.sort_by(|a, b| a.0.total_cmp(&b.0));
        corners
    }
}
