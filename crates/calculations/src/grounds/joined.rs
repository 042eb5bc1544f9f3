//! Points that are one but for a fixed voltage.

/// A union of nodes, each a known voltage above its representative.
#[derive(Debug, Clone)]
pub struct Joined {
    parent: Vec<usize>,
    above: Vec<f64>,
}

/// Two ideal ways that agree to this are the same, V.
const AGREES: f64 = 1e-9;

impl Joined {
    /// So many nodes, each for itself.
    pub fn new(nodes: usize) -> Self {
        Self { parent: (0..nodes).collect(), above: vec![0.0; nodes] }
    }
    /// The representative of a node, and how far the node lies above it, V.
    pub fn find(&mut self, node: usize) -> (usize, f64) {
        let mut way = Vec::new();
        let mut at = node;
        while self.parent[at] != at {
            way.push(at);
            at = self.parent[at];
        }
        let mut above = 0.0;
        for &step in way.iter().rev() {
            above += self.above[step];
            self.above[step] = above;
            self.parent[step] = at;
        }
        (at, above)
    }
    /// Joins `a`, `volt` above `b`. False: they were joined already, at another voltage.
    pub fn join(&mut self, a: usize, b: usize, volt: f64) -> bool {
        let ((root_a, above_a), (root_b, above_b)) = (self.find(a), self.find(b));
        let lies = volt + above_b - above_a;
        if root_a == root_b {
            return lies.abs() <= AGREES;
        }
        self.parent[root_a] = root_b;
        self.above[root_a] = lies;
        true
    }
}
