//! Curves given as points: volts and amperes of a part, time and current of a fuse.

use crate::source::Span;

/// A curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Its name.
    pub name: String,
    /// Its points.
    pub points: Points,
    /// Typical data, not a maker's: papers list every such curve still in use.
    pub typical: bool,
    /// Where it is written; none: one of our own typical curves.
    pub span: Option<Span>,
}

/// The points of a curve, in the order of their first value, which grows strictly.
#[derive(Debug, Clone, PartialEq)]
pub enum Points {
    /// V and A: straight lines between them, and beyond the ends along the last line. Both grow.
    VoltsAmps(Vec<(f64, f64)>),
    /// A, then the least and the greatest time to open, s. Times do not grow with current.
    AmpsSeconds(Vec<(f64, f64, f64)>),
}
