//! Developer chores.
fn main() {}
