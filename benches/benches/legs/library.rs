//! The peers in this process: dense and sparse solvers of a general linear-algebra library.

use crate::circuit::{SUPPLY_OHM, VOLT};
use faer::linalg::solvers::Solve;
use faer::sparse::linalg::solvers::{Llt, SymbolicLlt};
use faer::sparse::{SparseColMat, Triplet};
use faer::{Mat, Side};

/// Nodal equations of a network above node 0, the source at node 1; only nodes with a branch.
pub struct Equations {
    /// By node: its row.
    rows: Vec<Option<usize>>,
    size: usize,
    entries: Vec<(usize, usize, f64)>,
    pub right: Mat<f64>,
}

impl Equations {
    pub fn new(nodes: usize, branches: &[(usize, usize, f64)]) -> Self {
        let mut used = vec![false; nodes];
        used[1] = true;
        branches.iter().for_each(|&(a, b, _)| (used[a], used[b]) = (true, true));
        used[0] = false;
        let mut size = 0;
        let rows: Vec<Option<usize>> = used
            .iter()
            .map(|&used| {
                size += usize::from(used);
                used.then(|| size - 1)
            })
            .collect();
        let mut entries = vec![(0, 0, 1.0 / SUPPLY_OHM)];
        for &(a, b, ohm) in branches {
            for (from, to) in [(a, b), (b, a)] {
                if let Some(row) = rows[from] {
                    entries.push((row, row, 1.0 / ohm));
                    entries.extend(rows[to].map(|column| (row, column, -1.0 / ohm)));
                }
            }
        }
        let mut right = Mat::zeros(size, 1);
        right[(0, 0)] = VOLT / SUPPLY_OHM;
        Self { rows, size, entries, right }
    }

    pub fn dense(&self) -> Mat<f64> {
        let mut matrix = Mat::zeros(self.size, self.size);
        self.entries.iter().for_each(|&(row, column, siemens)| matrix[(row, column)] += siemens);
        matrix
    }

    pub fn sparse(&self) -> SparseColMat<usize, f64> {
        let triplets: Vec<_> = self
            .entries
            .iter()
            .map(|&(row, column, siemens)| Triplet::new(row, column, siemens))
            .collect();
        SparseColMat::try_new_from_triplets(self.size, self.size, &triplets).expect("fits")
    }

    /// The potentials of these nodes.
    pub fn of(&self, solved: &Mat<f64>, nodes: &[usize]) -> Vec<f64> {
        nodes.iter().map(|&node| self.rows[node].map_or(0.0, |row| solved[(row, 0)])).collect()
    }
}

pub fn cholesky(matrix: &Mat<f64>, right: &Mat<f64>) -> Mat<f64> {
    matrix.llt(Side::Lower).expect("positive definite").solve(right)
}

pub fn lu(matrix: &Mat<f64>, right: &Mat<f64>) -> Mat<f64> {
    matrix.partial_piv_lu().solve(right)
}

/// Order and shape of a sparse matrix, found once.
pub fn shape(matrix: &SparseColMat<usize, f64>) -> SymbolicLlt<usize> {
    SymbolicLlt::try_new(matrix.symbolic(), Side::Lower).expect("memory")
}

pub fn sparse(
    shape: &SymbolicLlt<usize>,
    matrix: &SparseColMat<usize, f64>,
    right: &Mat<f64>,
) -> Mat<f64> {
    let factor = Llt::try_new_with_symbolic(shape.clone(), matrix.as_ref(), Side::Lower);
    factor.expect("positive definite").solve(right)
}
