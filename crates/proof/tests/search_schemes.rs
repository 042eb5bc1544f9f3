//! Small schemes in any order: as many positions as `spin` counts on a model written by hand beside each
//! (`peers/README.md`), and as many settled positions as counting by hand gives.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod schemes;

use fiftytwo_proof::search::Outcome;
use schemes::{all, any_order, nothing, scheme};
use std::fmt::Write;

#[test]
fn seal_in_latch_and_reversing_have_as_many_positions_as_the_peer_counts() {
    let counts = [
        (include_str!("peers/seal-in.kdl"), 12, 31),
        (include_str!("peers/latch.kdl"), 40, 128),
        (include_str!("peers/reversing.kdl"), 40, 148),
    ];
    for (text, places, steps) in counts {
        let scheme = scheme(text);
        let found = any_order(&scheme, nothing(&scheme));
        assert_eq!(found.outcome, Outcome::Exhausted { places, steps }, "{}", scheme.title);
    }
}

#[test]
fn interlocked_relays_are_never_picked_up_together() {
    let scheme = scheme(include_str!("peers/reversing.kdl"));
    let found = any_order(&scheme, all(&scheme, &[("KF", 1), ("KR", 1)]));
    assert!(matches!(found.outcome, Outcome::Exhausted { places: 40, .. }), "{:?}", found.outcome);
}

#[test]
fn without_the_interlock_six_moves_pick_up_both() {
    let text = include_str!("peers/reversing.kdl");
    let bare = text
        .replace("        contact \"KR\" \"b1\"\n", "")
        .replace("        contact \"KF\" \"b1\"\n", "");
    assert_ne!(text, bare);
    let scheme = scheme(&bare);
    let found = any_order(&scheme, all(&scheme, &[("KF", 1), ("KR", 1)]));
    let Outcome::Refuted { story, .. } = found.outcome else { panic!("{:?}", found.outcome) };
    assert_eq!(story.len(), 6);
}

/// Seal-ins side by side, each with the buttons given.
fn seal_ins(n: usize, leg: impl Fn(usize) -> String) -> String {
    let mut text = String::from(
        "scheme \"Seal-ins\"\nplace \"PANEL\" \"Relay panel\"\n\
         supply \"DC1\" \"125 V DC\" range=\"105 to 140 V\" resistance=\"20 mohm\" place=\"PANEL\"\n",
    );
    let (mut devices, mut legs, mut may) = (String::new(), String::new(), String::new());
    for k in 1..=n {
        writeln!(may, "    may \"S{k}\" \"R{k}\"").unwrap();
        writeln!(
            devices,
            "button \"S{k}\" place=\"PANEL\" {{ contact \"a1\" closed-when=\"pressed\" }}\n\
             button \"R{k}\" place=\"PANEL\" {{ contact \"b1\" closed-when=\"released\" }}\n\
             relay \"K{k}\" place=\"PANEL\" {{\n    coil resistance=\"2400 ohm\" works=\"85 to 140 V\" \
             pickup=\"60 to 80 V\" dropout=\"15 to 45 V\"\n    contact \"a1\" closed-when=\"picked up\"\n}}"
        )
        .unwrap();
        writeln!(legs, "    leg \"Seal-in {k}\" {{\n{}\n        coil \"K{k}\"\n    }}", leg(k))
            .unwrap();
    }
    writeln!(text, "person \"operator\" place=\"PANEL\" {{\n{may}}}\n{devices}").unwrap();
    writeln!(
        text,
        "circuit \"C\" supply=\"DC1\" {{\n    feed {{ fuse \"F1\" \"10 A\"; wire \"P\" }}\n    \
         return {{ wire \"N\"; fuse \"F2\" \"10 A\" }}\n{legs}}}"
    )
    .unwrap();
    text
}

/// Counting by hand: with set and reset, four positions of the buttons and one that remembers, either way
/// round; without reset three. `n` of them side by side: to the n-th power. From each settled position
/// each button moves once.
#[test]
fn seal_ins_side_by_side_settle_in_powers_of_five_and_three() {
    let reset_wins = |k: usize| {
        format!(
            "        parallel {{ contact \"S{k}\" \"a1\"; contact \"K{k}\" \"a1\" }}\n        contact \"R{k}\" \"b1\""
        )
    };
    let set_wins = |k: usize| {
        format!(
            "        parallel {{\n            contact \"S{k}\" \"a1\"\n            branch {{ contact \"K{k}\" \"a1\"; contact \"R{k}\" \"b1\" }}\n        }}"
        )
    };
    let no_reset = |k: usize| {
        format!("        parallel {{ contact \"S{k}\" \"a1\"; contact \"K{k}\" \"a1\" }}")
    };
    for n in 1..=3_u32 {
        let count = |leg: &dyn Fn(usize) -> String| {
            let scheme = scheme(&seal_ins(n as usize, leg));
            let found = any_order(&scheme, nothing(&scheme));
            assert!(found.ends.iter().all(|&ends| ends == 1), "no race");
            (found.settled.len(), found.ends.len())
        };
        let five = 5_usize.pow(n);
        assert_eq!(count(&reset_wins), (five, 2 * n as usize * five), "{n} with reset dominant");
        assert_eq!(count(&set_wins), (five, 2 * n as usize * five), "{n} with set dominant");
        // The reset buttons are spare here, but still turn: twice as many for each.
        let three = 6_usize.pow(n);
        assert_eq!(count(&no_reset), (three, 2 * n as usize * three), "{n} without reset");
    }
}

/// Counting by hand: 5 settled positions with neither, 4 with forward, 4 with reverse; 39 moves of the
/// buttons, of which one, letting go of stop with both others held, may end either way: 40 outcomes.
#[test]
fn the_reversing_pair_settles_in_thirteen_positions_with_one_race() {
    let scheme = scheme(include_str!("peers/reversing.kdl"));
    let found = any_order(&scheme, nothing(&scheme));
    assert_eq!(found.settled.len(), 13);
    assert_eq!(found.ends.len(), 39);
    assert_eq!(found.ends.iter().sum::<usize>(), 40);
    assert_eq!(found.ends.iter().filter(|&&ends| ends > 1).count(), 1);
}
