//! Nodes that are one: a forest of sets, each node with its potential above its set's root.

/// Sets of nodes held together by ideal switches and ideal sources.
#[derive(Debug, Clone)]
pub(crate) struct Union {
    parent: Vec<usize>,
    above: Vec<f64>,
}

/// What joining two nodes came to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Joined {
    /// They were apart.
    Now,
    /// They were one already, at the same difference of potential.
    Before,
    /// They were one already, at another difference of potential (by so many volts).
    Against(f64),
}

impl Union {
    pub(crate) fn new(nodes: usize) -> Self {
        Self { parent: (0..nodes).collect(), above: vec![0.0; nodes] }
    }
    /// The root of a node's set, and the node's potential above it.
    pub(crate) fn find(&mut self, node: usize) -> (usize, f64) {
        // Most nodes are a root or hang on one.
        let near = self.parent[node];
        if self.parent[near] == near {
            return (near, self.above[node]);
        }
        let mut chain = Vec::new();
        let mut at = node;
        while self.parent[at] != at {
            chain.push(at);
            at = self.parent[at];
        }
        let mut above = 0.0;
        for &link in chain.iter().rev() {
            above += self.above[link];
            self.parent[link] = at;
            self.above[link] = above;
        }
        (at, above)
    }
    /// The root alone.
    pub(crate) fn root(&mut self, node: usize) -> usize {
        self.find(node).0
    }
    /// Holds `a` at `volt` above `b`.
    pub(crate) fn join(&mut self, a: usize, b: usize, volt: f64) -> Joined {
        let ((root_a, above_a), (root_b, above_b)) = (self.find(a), self.find(b));
        if root_a == root_b {
            let off = above_a - above_b - volt;
            let scale = above_a.abs().max(above_b.abs()).max(volt.abs());
            return if off.abs() <= 1e-12 * scale { Joined::Before } else { Joined::Against(off) };
        }
        // The smaller root stays, so that the result does not depend on the order of joining.
        let (keep, lose, lift) = if root_b < root_a {
            (root_b, root_a, volt + above_b - above_a)
        } else {
            (root_a, root_b, above_a - volt - above_b)
        };
        self.parent[lose] = keep;
        self.above[lose] = lift;
        Joined::Now
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_add_up_along_a_chain_of_sources() {
        let mut union = Union::new(4);
        assert_eq!(union.join(0, 1, 5.0), Joined::Now);
        assert_eq!(union.join(3, 2, -2.0), Joined::Now);
        assert_eq!(union.join(1, 2, 1.0), Joined::Now);
        let (zero, three) = (union.find(0), union.find(3));
        assert_eq!(zero.0, three.0);
        assert!((zero.1 - three.1 - 8.0).abs() < 1e-12);
        assert_eq!(union.join(0, 2, 6.0), Joined::Before);
        assert_eq!(union.join(0, 2, 0.0), Joined::Against(6.0));
    }
}
