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
    /// Cures: words of the printed cure, and what is typed in the place of the wrong value then. The
    /// finding must be gone.
    cures: &'static [(&'static str, &'static str)],
}

const CASES: &[Case] = &[
    Case {
        // A trip coil ten times lower.
        example: "quillmere",
        right: "coil \"trip 1\" drives-to=\"open\" {\n        resistance \"22 ohm\"",
        wrong: "coil \"trip 1\" drives-to=\"open\" {\n        resistance \"2.2 ohm\"",
        id: "drive-too-low",
        says: &[
            "94 a1 makes up to 38.2 A of 52 trip 1; it is rated 30 A",
            "check the ohms of 52 trip 1 (2.2 ohm)",
        ],
        cures: &[],
    },
    Case {
        example: "quillmere",
        right: "coil \"trip 1\" drives-to=\"open\" {\n        resistance \"22 ohm\"",
        wrong: "coil \"trip 1\" drives-to=\"open\" {\n        resistance \"2.2 ohm\"",
        id: "drive-too-low",
        says: &["52 trip 1 may get only 42.2 V; it surely works from 70 V"],
        cures: &[],
    },
    Case {
        // A closing contactor ten times lower, at the end of a kilometre.
        example: "harrowfen",
        right: "resistance \"120 ohm\"",
        wrong: "resistance \"12 ohm\"",
        id: "drive-too-low",
        says: &["52X may get only", "H2-1 is too thin or too long: ", "side by side"],
        cures: &[],
    },
    Case {
        example: "harrowfen",
        right: "resistance \"120 ohm\"",
        wrong: "resistance \"12 ohm\"",
        id: "drive-too-low",
        says: &["F1 (3 A) may have to carry", "check the ohms of 52X (12 ohm)"],
        cures: &[],
    },
    Case {
        // Cables ten times longer.
        example: "quillmere",
        right: "length=\"350 m\" size=\"10 AWG\" cores=19",
        wrong: "length=\"3500 m\" size=\"10 AWG\" cores=19",
        id: "drive-too-low",
        says: &["52 close may get only", "C4-1 is too thin or too long: ", "or a run of"],
        cures: &[
            ("3 AWG", "length=\"3500 m\" size=\"3 AWG\" cores=19"),
            ("a run of 712 m", "length=\"712 m\" size=\"10 AWG\" cores=19"),
            ("a run of at most 276 m", "length=\"276 m\" size=\"10 AWG\" cores=19"),
        ],
    },
    Case {
        example: "quillmere",
        right: "length=\"350 m\" size=\"10 AWG\" cores=19",
        wrong: "length=\"3500 m\" size=\"10 AWG\" cores=19",
        id: "drive-too-low",
        says: &["a short at the far end of C4-1/5 (YARD) draws only 4.01 A, and F3 carries 30 A"],
        cures: &[],
    },
    Case {
        example: "harrowfen",
        right: "length=\"1000 m\"",
        wrong: "length=\"10000 m\"",
        id: "drive-too-low",
        says: &["52Y gets only 28.5 V; it works from 34 V"],
        cures: &[("a run of 4260 m", "length=\"4260 m\"")],
    },
    Case {
        example: "dunmarrow-repaired",
        right: "length=\"120 m\"",
        wrong: "length=\"1200 m\"",
        id: "drive-too-low",
        says: &["52 close may get only", "it surely works from 90 V"],
        cures: &[("a run of 329 m", "length=\"329 m\"")],
    },
    Case {
        // A thinner conductor than meant.
        example: "quillmere",
        right: "length=\"350 m\" size=\"10 AWG\" cores=19",
        wrong: "length=\"350 m\" size=\"20 AWG\" cores=19",
        id: "drive-too-low",
        says: &["52 trip 1 may get only"],
        cures: &[
            ("or 10 AWG with F3 as it is (30 A)", "length=\"350 m\" size=\"10 AWG\" cores=19"),
            ("a run of 70 m", "length=\"70 m\" size=\"20 AWG\" cores=19"),
        ],
    },
    Case {
        // The lamp's resistor forgotten, then ten times lower.
        example: "quillmere",
        right: "resistor \"R4\" \"12 kohm\" power=\"5 W\"; ",
        wrong: "",
        id: "monitor-alone",
        says: &[
            // By hand: 7.15 A through the coil at -30 C, times its 22 ohm at 20 C.
            "RED stands alone in front of 52 trip 1: shorted, it puts 7.15 A (157 V at 20 C) on it",
            "a resistor of 13 kohm (5 W) in series with RED, which so gets its rated current",
        ],
        cures: &[("a resistor of 13 kohm (5 W)", "resistor \"R4\" \"13 kohm\" power=\"5 W\"; ")],
    },
    Case {
        example: "quillmere",
        right: "resistor \"R4\" \"12 kohm\"",
        wrong: "resistor \"R4\" \"1.2 kohm\"",
        id: "lamp-overloaded",
        says: &["R4 takes 15.8 W with RED shorted; it is rated 5 W"],
        cures: &[(
            "a resistor of 12 kohm",
            "resistor \"R9\" \"12 kohm\" power=\"3 W\"; resistor \"R4\" \"1.2 kohm\"",
        )],
    },
    Case {
        // An opto input that needs more than it can get.
        example: "quillmere",
        right: "resistance \"40 kohm\"\n        on-above \"80 V\"",
        wrong: "resistance \"40 kohm\"\n        on-above \"120 V\"",
        id: "monitor-weak",
        says: &["21A TC1 watch may go off with 52 trip 1 whole", "surely on only from 120 V"],
        cures: &[(
            "surely on from 83.8 V or less",
            "resistance \"40 kohm\"\n        on-above \"83.7 V\"",
        )],
    },
    Case {
        // A threshold that a single ground reaches.
        example: "quillmere",
        right: "resistance \"40 kohm\"\n        on-above \"80 V\"\n        off-below \"60 V\"",
        wrong: "resistance \"40 kohm\"\n        on-above \"8 V\"\n        off-below \"6 V\"",
        id: "input-threshold-low",
        says: &["21A TC1 watch may go on from 8 V", "70 V, half of DC1"],
        cures: &[(
            "a threshold above 70 V",
            "resistance \"40 kohm\"\n        on-above \"71 V\"\n        off-below \"60 V\"",
        )],
    },
    Case {
        // A lamp of 24 V without its resistor, which no coil protects.
        example: "quillmere",
        right: "lamp \"GREEN\" \"8 mA\"",
        wrong: "lamp \"GREEN\" \"8 mA\" rated=\"24 V\"",
        id: "lamp-overloaded",
        says: &["GREEN may get 46.", "it is rated 8 mA at 24 V", "a resistor of 13 kohm"],
        cures: &[(
            "a resistor of 13 kohm (5 W)",
            "resistor \"R9\" \"13 kohm\" power=\"5 W\"; lamp \"GREEN\" \"8 mA\" rated=\"24 V\"",
        )],
    },
    Case {
        // The coil of a relay ten times lower.
        example: "quillmere",
        right: "resistance \"1800 ohm",
        wrong: "resistance \"180 ohm",
        id: "coil-power",
        // By hand: 138.7 V squared over 180 ohm at -30 C, 144.6 ohm.
        says: &["52Y takes up to 133 W", "or max-on"],
        cures: &[("488 ohm", "resistance \"488 ohm")],
    },
    Case {
        // Fuses too large: for the conductor, and for the short at its end.
        example: "quillmere",
        right: "fuse \"F3\" \"30 A\"",
        wrong: "fuse \"F3\" \"300 A\"",
        id: "fuse-too-large",
        says: &["F3 (300 A) is too large for C4-1 (10 AWG): at most 30 A"],
        cures: &[("30 A or less", "fuse \"F3\" \"30 A\"")],
    },
    Case {
        example: "quillmere",
        right: "fuse \"F3\" \"30 A\"",
        wrong: "fuse \"F3\" \"300 A\"",
        id: "fuse-too-large",
        says: &["F3 carries 300 A for ever, and a short at the far end of C4-1/5 (YARD)"],
        cures: &[],
    },
    Case {
        // A bus of conductors too thin for its fuses.
        example: "harrowfen",
        right: "size=\"2 AWG\"",
        wrong: "size=\"12 AWG\"",
        id: "fuse-too-large",
        says: &["heats H2-2 to 2.3"],
        cures: &[],
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
        cures: &[(
            "a contact that breaks 7.16 A",
            "breaks \"7.16 A\" volts=\"125 V\" time-constant=\"50 ms\"",
        )],
    },
    Case {
        example: "harrowfen",
        right: "makes=\"150 A\" breaks=\"100 A\"",
        wrong: "makes=\"15 A\" breaks=\"10 A\"",
        id: "contact-makes-too-much",
        says: &["52X main plus makes up to 85 A of 52 solenoid; it is rated 15 A"],
        cures: &[("a contact that makes 85.1 A", "makes=\"85.1 A\" breaks=\"100 A\"")],
    },
    Case {
        // An opto input that wants more current than its ohms let through: 83.8 V / 40 kohm = 2.1 mA.
        example: "quillmere",
        right: "resistance \"40 kohm\"\n        on-above \"80 V\"\n        off-below \"60 V\"",
        wrong: "resistance \"40 kohm\"\n        on-above \"80 V\"\n        off-below \"60 V\"\n        least \"30 mA\"",
        id: "monitor-weak",
        says: &["it gets 2.1 mA", "from 30 mA"],
        cures: &[(
            "on from 2.09 mA or less",
            "resistance \"40 kohm\"\n        on-above \"80 V\"\n        off-below \"60 V\"\n        least \"2.09 mA\"",
        )],
    },
    Case {
        // One that no supply reaches, and one of 40 ohm: 140 V / 40 ohm = 3.5 A.
        example: "quillmere",
        right: "input \"start\" resistance=\"40 kohm\" on-above=\"80 V\"",
        wrong: "input \"start\" resistance=\"40 kohm\" on-above=\"200 V\"",
        id: "input-too-little",
        says: &["it gets 105 V, and is surely on only from 200 V"],
        cures: &[(
            "surely on from 104 V or less",
            "input \"start\" resistance=\"40 kohm\" on-above=\"104 V\"",
        )],
    },
    Case {
        example: "quillmere",
        right: "input \"start\" resistance=\"40 kohm\" on-above=\"80 V\"",
        wrong: "input \"start\" resistance=\"40 ohm\" on-above=\"80 V\"",
        id: "input-current",
        says: &["79 start takes 3.5 A at 140 V (490 W)"],
        cures: &[("7 kohm or more", "input \"start\" resistance=\"7 kohm\" on-above=\"80 V\"")],
    },
    Case {
        // A fuse ten times too small: the trip coil takes 7.15 A in the cold.
        example: "quillmere",
        right: "fuse \"F3\" \"30 A\"",
        wrong: "fuse \"F3\" \"3 A\"",
        id: "fuse-below-load",
        says: &["F3 (3 A) is rated less than 52 trip 1 alone draws, 7.15 A for up to 1 s"],
        cures: &[("7.16 A or more", "fuse \"F3\" \"7.16 A\"")],
    },
    Case {
        // A fuse as large as the one upstream of it.
        example: "quillmere",
        right: "fuse \"F12\" \"6 A\"",
        wrong: "fuse \"F12\" \"25 A\"",
        id: "fuses-not-selective",
        says: &["F12 and F11 open together: 25 A stand behind 25 A"],
        cures: &[("F12 of 15.6 A or less", "fuse \"F12\" \"15.6 A\"")],
    },
    Case {
        // An overload element ten times too small, ten times too large.
        example: "quillmere",
        right: "element \"6.5 A\"",
        wrong: "element \"0.65 A\"",
        id: "element-overloaded",
        says: &["rated 650 mA and 52 motor runs with 6 A"],
        cures: &[("6 A to 8.4 A", "element \"6 A\""), ("6 A to 8.4 A", "element \"8.4 A\"")],
    },
    Case {
        example: "quillmere",
        right: "element \"6.5 A\"",
        wrong: "element \"65 A\"",
        id: "element-too-large",
        says: &["it protects nothing"],
        cures: &[("6 A to 8.4 A", "element \"8.4 A\"")],
    },
    Case {
        // A diode across the trip coil, the wrong way round.
        example: "quillmere",
        right: "        coil \"52\" \"trip 1\"\n    }\n",
        wrong: "        wire \"TV\"\n        coil \"52\" \"trip 1\"\n    }\n    leg \"FW\" from=\"TV\" to=\"TNY\" { diode \"V1\" }\n",
        id: "diode-reversed",
        says: &[
            "V1 stands the wrong way round across 52 trip 1",
            "63X may get only 0.6 V",
            "turn it round",
        ],
        cures: &[(
            "from the minus end of 52 trip 1 to its plus end",
            "        wire \"TV\"\n        coil \"52\" \"trip 1\"\n    }\n    leg \"FW\" from=\"TNY\" to=\"TV\" { diode \"V1\" }\n",
        )],
    },
    Case {
        // No 52a in the trip circuit.
        example: "quillmere",
        right: "        contact \"52\" \"a2\"\n",
        wrong: "",
        id: "momentary-coil-without-cut-off",
        says: &[
            "nothing cuts 52 trip 1 off",
            "put a contact of 52 that is open when 52 is open in series",
        ],
        cures: &[("that is open when 52 is open", "        contact \"52\" \"a2\"\n")],
    },
    Case {
        // Both trip coils behind one pair of fuses.
        example: "quillmere",
        right: "leg \"Trip coil 2\" from=\"UP\" to=\"UNY\"",
        wrong: "leg \"Trip coil 2\" from=\"TP\" to=\"TNY\"",
        id: "trips-on-one-fuse",
        says: &["F3", "takes 52 trip 1 and 52 trip 2 away: with it out 52 cannot trip"],
        cures: &[(
            "2 fuses of its own for 52 trip 2",
            "leg \"Trip coil 2\" from=\"UP\" to=\"UNY\"",
        )],
    },
    Case {
        // A light-emitting diode of 24 V without its resistor.
        example: "latches",
        right: "lamp \"WHITE 1\" \"8 mA\"",
        wrong: "lamp \"WHITE 1\" \"8 mA\" rated=\"24 V\" light=\"LED\"",
        id: "lamp-overloaded",
        says: &["WHITE 1 may get", "a resistor of 13 kohm"],
        cures: &[(
            "a resistor of 13 kohm",
            "resistor \"R9\" \"13 kohm\" power=\"5 W\"; lamp \"WHITE 1\" \"8 mA\" rated=\"24 V\" light=\"LED\"",
        )],
    },
];

/// What a cure leaves that its own line names beside it (the shorts of a cable that is long still, the
/// other fuse of a pair).
const RAISED: &[(&str, &str)] = &[
    ("short-not-cleared", "3 AWG"),
    ("short-not-cleared", "a run of 712 m"),
    ("short-not-cleared", "a run of 4260 m"),
    ("short-not-cleared", "a run of 70 m"),
    ("fuses-of-a-pair-differ", "7.16 A or more"),
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

/// Each printed cure with a number, typed in the place of the wrong value, takes the finding away.
#[test]
fn every_cure_with_a_number_cures() {
    let (mut tried, mut failed) = (0, String::new());
    for case in CASES.iter().filter(|case| !case.cures.is_empty()) {
        let (text, stories) = texts(case.example);
        let sick = checked(&text.replacen(case.right, case.wrong, 1), stories.as_deref()).object();
        let of_case = |object: &Value| -> Vec<Value> {
            let found = grave(object);
            found.into_iter().filter(|it| it["id"] == case.id).cloned().collect()
        };
        let sick_text = sick["findings"].to_string();
        for (words, typed) in case.cures {
            tried += 1;
            let printed = of_case(&sick)
                .iter()
                .any(|it| it["help"].as_str().is_some_and(|help| help.contains(words)));
            let cured = checked(&text.replacen(case.right, typed, 1), stories.as_deref()).object();
            // Nothing new either, but for what a cure in two steps names beside it.
            let told_before = |it: &Value| {
                let (id, before) = (&it["id"], &sick_text);
                before.contains(it["message"].as_str().unwrap())
                    || RAISED.contains(&(id.as_str().unwrap(), words))
            };
            let left: Vec<Value> = grave(&cured)
                .into_iter()
                .filter(|it| it["id"] == case.id || !told_before(it))
                .cloned()
                .collect();
            if !printed || !left.is_empty() {
                failed += &format!(
                    "{} {:?}: {words:?} printed: {printed}; with {typed:?} left: {left:#?}\n",
                    case.example, case.wrong
                );
            }
        }
    }
    assert!(failed.is_empty(), "{failed}");
    assert!(tried >= 24, "{tried}");
}

/// One wrong value is one finding, where it has one cause and one cure.
#[test]
fn one_trouble_is_one_finding() {
    let alone = [
        "length=\"3500 m\" size=\"10 AWG\" cores=19",
        "length=\"350 m\" size=\"20 AWG\" cores=19",
        "length=\"10000 m\"",
        "length=\"1200 m\"",
        "fuse \"F3\" \"300 A\"",
        "fuse \"F3\" \"3 A\"",
        "size=\"12 AWG\"",
        "resistor \"R4\" \"1.2 kohm\"",
        "element \"0.65 A\"",
    ];
    for wrong in alone {
        let case = CASES.iter().find(|case| case.wrong == wrong).unwrap();
        let (text, stories) = texts(case.example);
        let object =
            checked(&text.replacen(case.right, case.wrong, 1), stories.as_deref()).object();
        let ids: Vec<&str> = grave(&object).iter().filter_map(|it| it["id"].as_str()).collect();
        assert_eq!(ids, [case.id], "{wrong}");
    }
}
