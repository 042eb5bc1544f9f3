//! The peer in its own process: ngspice, a general circuit simulator (Debian package).

use crate::circuit::{CLOSED_OHM, Legs, OPEN_OHM, SUPPLY_OHM, VOLT};
use std::fmt::Write as _;
use std::process::Command;
use std::time::Instant;

/// The whole process of one netlist: seconds and what it printed; none if it can't be started.
pub fn run(netlist: &str) -> Option<(f64, String)> {
    let file = tempfile::Builder::new().suffix(".cir").tempfile().expect("a temporary file");
    std::fs::write(file.path(), netlist).expect("written");
    let start = Instant::now();
    let output = Command::new("ngspice").arg("-b").arg(file.path()).output().ok()?;
    Some((start.elapsed().as_secs_f64(), String::from_utf8_lossy(&output.stdout).into_owned()))
}

/// Branches r0, r1, ... and these commands.
pub fn netlist(branches: &[(usize, usize, f64)], commands: &str) -> String {
    let mut text = format!("* legs\nv1 src 0 dc {VOLT}\nrsrc src 1 {SUPPLY_OHM}\n");
    for (number, (a, b, ohm)) in branches.iter().enumerate() {
        let _ = writeln!(text, "r{number} {a} {b} {ohm:e}");
    }
    text + ".options noacct\n.control\n" + commands + "\n.endc\n.end\n"
}

/// Potentials of these nodes.
pub fn potentials(branches: &[(usize, usize, f64)], nodes: &[usize]) -> Option<Vec<f64>> {
    let mut commands = String::from("set numdgt=15\nop\n");
    nodes.iter().for_each(|node| _ = writeln!(commands, "print v({node})"));
    let (_, told) = run(&netlist(branches, &commands))?;
    let volts: Vec<f64> = told
        .lines()
        .filter(|line| line.starts_with("v("))
        .filter_map(|line| line.split(" = ").nth(1)?.trim().parse().ok())
        .collect();
    (volts.len() == nodes.len()).then_some(volts)
}

/// Seconds for each of `times` passes of `body` in one running process, start taken off.
pub fn each(branches: &[(usize, usize, f64)], body: &str, times: usize) -> Option<f64> {
    let (start, _) = run(&netlist(branches, ""))?;
    let (whole, _) = run(&netlist(branches, &format!("repeat {times}\n{body}\nend")))?;
    Some((whole - start) / times as f64)
}

/// Seconds for each position of all 4,096 of the first twelve contacts, by a Gray code.
pub fn sweep(legs: &Legs, closed: &[u64]) -> Option<f64> {
    let branches = legs.branches(closed);
    let first = legs.resistors.len();
    let mut commands = String::new();
    let mut position = 0_u64;
    for contact in 0..12 {
        let _ = writeln!(commands, "alter r{} = {OPEN_OHM:e}", first + contact);
    }
    let (start, _) = run(&netlist(&branches, &commands))?;
    for step in 0..4096_u64 {
        if step > 0 {
            let contact = step.trailing_zeros();
            position ^= 1 << contact;
            let ohm = if position >> contact & 1 == 1 { CLOSED_OHM } else { OPEN_OHM };
            let _ = writeln!(commands, "alter r{} = {ohm:e}", first + contact as usize);
        }
        commands.push_str("op\ndestroy\n");
    }
    let (whole, _) = run(&netlist(&branches, &commands))?;
    Some((whole - start) / 4096.0)
}

/// A coil of 40 ohm and 0.4 H with a diode across it, fed 125 V through a contact that closes at
/// 1 ms and opens at 100 ms.
fn coil(commands: &str) -> String {
    format!(
        "* coil\nv1 src 0 dc 125\nr1 src p 0.014\nvg g 0 pulse(0 1 1m 1u 1u 99m 1)\n\
         s1 p c g 0 sw\n.model sw sw(vt=0.5 vh=0 ron=0.01 roff=1e9)\nr2 c m 40\nl1 m 0 0.4\n\
         d1 0 c dd\n.model dd d(is=1e-9 n=1.8 rs=0.05)\n.options noacct\n.control\n{commands}\n\
         .endc\n.end\n"
    )
}

/// Its current at 20, 110 and 130 ms, solved with this step.
pub fn currents(step: &str) -> Option<Vec<f64>> {
    let measure = |at: u32| format!("meas tran i{at} find i(l1) at={at}m\n");
    let commands = [20, 110, 130].map(measure).concat();
    let (_, told) = run(&coil(&format!("tran {step} 200m 0 {step}\n{commands}")))?;
    let amperes: Vec<f64> = told
        .lines()
        .filter(|line| line.starts_with('i'))
        .filter_map(|line| line.split('=').nth(1)?.trim().parse().ok())
        .collect();
    (amperes.len() == 3).then_some(amperes)
}

/// Seconds for its 200 ms in steps of 0.1 ms in a running process.
pub fn transient(times: usize) -> Option<f64> {
    let (start, _) = run(&coil(""))?;
    let (whole, _) = run(&coil(&format!("repeat {times}\ntran 0.1m 200m\ndestroy\nend")))?;
    Some((whole - start) / times as f64)
}
