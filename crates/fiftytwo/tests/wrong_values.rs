//! One wrong value typed into an example: what is found, and in which words.
//!
//! The examples themselves are clean, so that what is found comes from the wrong value alone.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

mod common;

use common::{Run, example};
use serde_json::Value;
use std::fs;

/// What a wrong value leads to.
struct Case {
    example: &'static str,
    /// What stands there, once at least; its first place is changed.
    right: &'static str,
    /// What is typed instead.
    wrong: &'static str,
    id: &'static str,
    /// Words of the sentence or of the cure.
    says: &'static [&'static str],
}

const CASES: &[Case] = &[
    Case {
        // A trip coil ten times lower.
        example: "quillmere",
        right: "coil \"trip 1\" drives-to=\"open\" {\n        resistance \"22 ohm\"",
        wrong: "coil \"trip 1\" drives-to=\"open\" {\n        resistance \"2.2 ohm\"",
        id: "contact-makes-too-much",
        says: &["94 a1 makes up to 38.2 A of 52 trip 1; it is rated 30 A"],
    },
    Case {
        example: "quillmere",
        right: "coil \"trip 1\" drives-to=\"open\" {\n        resistance \"22 ohm\"",
        wrong: "coil \"trip 1\" drives-to=\"open\" {\n        resistance \"2.2 ohm\"",
        id: "drive-too-low",
        says: &["52 trip 1 may get only 42.2 V; it surely works from 70 V"],
    },
    Case {
        // A closing contactor ten times lower, at the end of a kilometre.
        example: "harrowfen",
        right: "resistance \"120 ohm\"",
        wrong: "resistance \"12 ohm\"",
        id: "drive-too-low",
        says: &["52X may get only", "H2-1 is too thin or too long: ", "side by side"],
    },
    Case {
        example: "harrowfen",
        right: "resistance \"120 ohm\"",
        wrong: "resistance \"12 ohm\"",
        id: "fuse-overloaded",
        says: &["F1 (3 A) may have to carry"],
    },
    Case {
        // Cables ten times longer.
        example: "quillmere",
        right: "length=\"350 m\" size=\"10 AWG\" cores=19",
        wrong: "length=\"3500 m\" size=\"10 AWG\" cores=19",
        id: "drive-too-low",
        says: &["52 close may get only", "C4-1 is too thin or too long: ", "or a run of"],
    },
    Case {
        example: "quillmere",
        right: "length=\"350 m\" size=\"10 AWG\" cores=19",
        wrong: "length=\"3500 m\" size=\"10 AWG\" cores=19",
        id: "short-not-cleared",
        says: &["a short at the far end of C4-1/5 (YARD) draws only 4.01 A, and F3 carries 30 A"],
    },
    Case {
        example: "harrowfen",
        right: "length=\"1000 m\"",
        wrong: "length=\"10000 m\"",
        id: "too-low-together",
        says: &["52Y gets only 28.5 V; it works from 34 V"],
    },
    Case {
        example: "dunmarrow-repaired",
        right: "length=\"120 m\"",
        wrong: "length=\"1200 m\"",
        id: "drive-too-low",
        says: &["52 close may get only", "it surely works from 90 V"],
    },
    Case {
        // A thinner conductor than meant.
        example: "quillmere",
        right: "length=\"350 m\" size=\"10 AWG\" cores=19",
        wrong: "length=\"350 m\" size=\"20 AWG\" cores=19",
        id: "drive-too-low",
        says: &["52 trip 1 may get only"],
    },
    Case {
        // The lamp's resistor forgotten, then ten times lower.
        example: "quillmere",
        right: "resistor \"R4\" \"12 kohm\" power=\"5 W\"; ",
        wrong: "",
        id: "monitor-alone",
        says: &[
            // By hand: 7.15 A through the coil at -30 C, times its 22 ohm at 20 C.
            "RED stands alone in front of 52 trip 1: shorted, it puts 157 V on it",
            "a resistor of 13 kohm (5 W) in series with RED, which so gets its rated current",
        ],
    },
    Case {
        example: "quillmere",
        right: "resistor \"R4\" \"12 kohm\"",
        wrong: "resistor \"R4\" \"1.2 kohm\"",
        id: "resistor-power",
        says: &["R4 takes 15.8 W with RED shorted; it is rated 5 W"],
    },
    Case {
        // An opto input that needs more than it can get.
        example: "quillmere",
        right: "resistance \"40 kohm\"\n        on-above \"80 V\"",
        wrong: "resistance \"40 kohm\"\n        on-above \"120 V\"",
        id: "monitor-weak",
        says: &["21A TC1 watch may go off with 52 trip 1 whole", "surely on only from 120 V"],
    },
    Case {
        // A threshold that a single ground reaches.
        example: "quillmere",
        right: "resistance \"40 kohm\"\n        on-above \"80 V\"\n        off-below \"60 V\"",
        wrong: "resistance \"40 kohm\"\n        on-above \"8 V\"\n        off-below \"6 V\"",
        id: "input-threshold-low",
        says: &["21A TC1 watch may go on from 8 V", "70 V, half of DC1"],
    },
    Case {
        // A lamp of 24 V without its resistor, which no coil protects.
        example: "quillmere",
        right: "lamp \"GREEN\" \"8 mA\"",
        wrong: "lamp \"GREEN\" \"8 mA\" rated=\"24 V\"",
        id: "lamp-overloaded",
        says: &["GREEN may get 46.", "it is rated 8 mA at 24 V", "a resistor of 13 kohm"],
    },
    Case {
        // The coil of a relay ten times lower.
        example: "quillmere",
        right: "resistance \"1800 ohm",
        wrong: "resistance \"180 ohm",
        id: "coil-power",
        says: &["52Y takes 95.6 W", "or max-on"],
    },
    Case {
        // Fuses too large: for the conductor, and for the short at its end.
        example: "quillmere",
        right: "fuse \"F3\" \"30 A\"",
        wrong: "fuse \"F3\" \"300 A\"",
        id: "fuse-too-large",
        says: &["F3 (300 A) is too large for C4-1 (10 AWG): at most 30 A"],
    },
    Case {
        example: "quillmere",
        right: "fuse \"F3\" \"30 A\"",
        wrong: "fuse \"F3\" \"300 A\"",
        id: "short-not-cleared",
        says: &["F3 carries 300 A for ever, and a short at the far end of C4-1/5 (YARD)"],
    },
    Case {
        // A bus of conductors too thin for its fuses.
        example: "harrowfen",
        right: "size=\"2 AWG\"",
        wrong: "size=\"12 AWG\"",
        id: "short-overheats-cable",
        says: &["heats H2-2 2.3 times more than its conductor stands"],
    },
    Case {
        // Contacts rated ten times lower.
        example: "quillmere",
        right: "breaks \"10 A\" volts=\"125 V\" time-constant=\"50 ms\"",
        wrong: "breaks \"1 A\" volts=\"125 V\" time-constant=\"50 ms\"",
        id: "contact-breaks-too-much",
        says: &[
            "52 a2 breaks up to 7.15 A of 52 trip 1 at 125 V",
            "it is rated 1 A at 125 V, L/R 50 ms",
        ],
    },
    Case {
        example: "harrowfen",
        right: "makes=\"150 A\" breaks=\"100 A\"",
        wrong: "makes=\"15 A\" breaks=\"10 A\"",
        id: "contact-makes-too-much",
        says: &["52X main plus makes up to 85 A of 52 solenoid; it is rated 15 A"],
    },
];

/// The examples in which nothing is wrong.
const CLEAN: &[&str] = &[
    "quillmere",
    "quillmere-block",
    "quillmere-shared",
    "dunmarrow-repaired",
    "harrowfen",
    "latches",
];

fn checked(text: &str, stories: Option<&str>) -> Run {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("scheme.kdl"), text).unwrap();
    if let Some(stories) = stories {
        fs::write(folder.path().join("stories.kdl"), stories).unwrap();
    }
    Run::of(folder.path(), &["check", "scheme.kdl", "--json"])
}

fn texts(name: &str) -> (String, Option<String>) {
    let path = example(name);
    let stories = fs::read_to_string(path.with_file_name("stories.kdl")).ok();
    (fs::read_to_string(path).unwrap(), stories)
}

/// Findings, notes aside.
fn grave(object: &Value) -> Vec<&Value> {
    let findings = object["findings"].as_array().unwrap();
    findings.iter().filter(|it| it["severity"] != "note").collect()
}

#[test]
fn the_right_examples_are_clean() {
    for name in CLEAN {
        let (text, stories) = texts(name);
        let run = checked(&text, stories.as_deref());
        assert_eq!(run.code, 0, "{name}: {:#?}", grave(&run.object()));
    }
}

#[test]
fn the_wrong_example_is_found_out_without_any_proof_too() {
    let (text, stories) = texts("dunmarrow");
    let run = checked(&text, stories.as_deref());
    assert_eq!(run.ids().iter().filter(|id| *id == "coil-on-too-long").count(), 1);
}

#[test]
fn one_wrong_value_is_told_in_the_designers_words() {
    let mut missed = String::new();
    for case in CASES {
        let (text, stories) = texts(case.example);
        assert!(text.contains(case.right), "{}: {:?} is not there", case.example, case.right);
        let run = checked(&text.replacen(case.right, case.wrong, 1), stories.as_deref());
        assert_eq!(run.code, 1, "{}: {:?}", case.example, case.wrong);
        let object = run.object();
        let told = |finding: &Value| {
            let of = |key: &str| finding[key].as_str().unwrap_or_default().to_owned();
            [of("message"), of("why"), of("help")].join("\n")
        };
        let found = grave(&object);
        let hit = found.iter().any(|finding| {
            let words = told(finding);
            finding["id"] == case.id
                && case.says.iter().all(|part| words.contains(part))
                && !finding["help"].is_null()
        });
        if !hit {
            let all: Vec<String> =
                found.iter().map(|it| format!("  {}: {}", it["id"], told(it))).collect();
            missed +=
                &format!("{} {:?}: no {}\n{}\n", case.example, case.wrong, case.id, all.join("\n"));
        }
    }
    assert!(missed.is_empty(), "{missed}");
}
