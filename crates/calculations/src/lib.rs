//! What a senior checker computes by hand, or doesn't for want of time.
//!
//! **In:** a checked [`Scheme`](fiftytwo_scheme::Scheme). **Out:** for every coil, contact, lamp,
//! input, fuse, conductor and wire its worst case, its margin, the corner that causes it, and a
//! finding with a cure where something falls short: typed data, of which the terminal, JSON and
//! the papers are views.
//! **Never here:** how a network is solved (that is `circuit`), how a run goes (`motion`), verdicts
//! over every run (`proof`), printing.
