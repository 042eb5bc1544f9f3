//! Many positions of one network: from contact positions to coil volts, ten legs and a thousand,
//! beside a general circuit simulator and a general linear-algebra library in the same run.
//!
//! Prints one table with ratios instead of one figure a function: the simulator is a process whose
//! start must be taken off, and a ratio needs both sides in one run. Each figure is the fastest of
//! some rounds, since others may be at work on the machine. Before anything is timed, all sides
//! must agree on every coil to 1e-9.

#![allow(clippy::print_stdout, reason = "a benchmark tells its figures")]

mod circuit;
mod library;
mod simulator;
mod tables;

use tables::Table;

fn main() {
    let has_simulator = simulator::run(&simulator::netlist(&[(1, 0, 1.0)], "")).is_some();
    if !has_simulator {
        println!("ngspice IS NOT INSTALLED: its rows are missing (Debian package ngspice)");
    }
    let tables: [Table; 4] =
        [tables::solve(10), tables::solve(1000), tables::sweep(), tables::coil()];
    tables.iter().for_each(Table::print);
}
