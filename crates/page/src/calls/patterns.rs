//! A new scheme by answering a few questions in trade words. Every number it puts in is marked typical
//! or is an answer: it is a beginning, not a design.

use crate::answer::Refusal;
use crate::library::NEW;
use axum::http::StatusCode;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

#[derive(Debug, Deserialize)]
pub struct Asked {}

#[derive(Debug, Serialize)]
pub struct Told {
    questions: Vec<Question>,
    caution: &'static str,
}

#[derive(Debug, Serialize)]
struct Question {
    id: &'static str,
    asks: &'static str,
    about: &'static str,
    /// words, number or one of the choices.
    kind: &'static str,
    choices: Vec<Choice>,
    usual: &'static str,
}

#[derive(Debug, Serialize)]
struct Choice {
    id: &'static str,
    words: &'static str,
}

const CAUTION: &str = "A beginning, not a design: every typical value stands for one that has to be \
                       found out on the nameplate or on site.";

pub async fn patterns(_: Asked) -> Result<Told, Refusal> {
    let choice = |id, words| Choice { id, words };
    let yes_no = || vec![choice("yes", "Yes"), choice("no", "No")];
    let questions = vec![
        Question {
            id: "title",
            asks: "What is the breaker called?",
            about: "Station, voltage, breaker: the title of every sheet.",
            kind: "words",
            choices: Vec::new(),
            usual: "Our station 69 kV, breaker 52-1",
        },
        Question {
            id: "volts",
            asks: "Which battery voltage?",
            about: "The nominal voltage of the control supply.",
            kind: "choice",
            choices: vec![
                choice("48", "48 V"),
                choice("110", "110 V"),
                choice("125", "125 V"),
                choice("250", "250 V"),
            ],
            usual: "125",
        },
        Question {
            id: "distance",
            asks: "How far is the breaker cabinet, in metres?",
            about: "One way along the cable.",
            kind: "number",
            choices: Vec::new(),
            usual: "120",
        },
        Question {
            id: "spring",
            asks: "Does a spring close it?",
            about: "Then it closes only while the spring is charged.",
            kind: "choice",
            choices: yes_no(),
            usual: "yes",
        },
        Question {
            id: "trips",
            asks: "How many trip coils?",
            about: "The second hangs on a second battery.",
            kind: "choice",
            choices: vec![choice("1", "One"), choice("2", "Two")],
            usual: "2",
        },
        Question {
            id: "synchronism",
            asks: "Does a synchronism check permit closing?",
            about: "Device 25: live bus and dead line, or both live and in step.",
            kind: "choice",
            choices: yes_no(),
            usual: "yes",
        },
        Question {
            id: "lockout",
            asks: "Does a lockout relay trip it and keep it open?",
            about: "Device 86, operated by the bus protection, reset by hand.",
            kind: "choice",
            choices: yes_no(),
            usual: "yes",
        },
        Question {
            id: "remote",
            asks: "Is it closed and tripped from afar too?",
            about: "Through a local/remote switch.",
            kind: "choice",
            choices: yes_no(),
            usual: "yes",
        },
    ];
    Ok(Told { questions, caution: CAUTION })
}

#[derive(Debug, Deserialize)]
pub struct Begin {
    answers: Answers,
}

/// The answers; what is not answered is as usual.
#[derive(Debug, Clone, Default, Deserialize)]
struct Answers {
    #[serde(default)]
    title: Option<String>,
    #[serde(default)]
    volts: Option<Number>,
    #[serde(default)]
    distance: Option<Number>,
    #[serde(default)]
    spring: Option<Yes>,
    #[serde(default)]
    trips: Option<Number>,
    #[serde(default)]
    synchronism: Option<Yes>,
    #[serde(default)]
    lockout: Option<Yes>,
    #[serde(default)]
    remote: Option<Yes>,
}

/// A number, or its digits.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
enum Number {
    Is(f64),
    Said(String),
}

impl Number {
    fn value(&self) -> Option<f64> {
        match self {
            Self::Is(value) => Some(*value),
            Self::Said(words) if is_ambiguous(words.trim()) => None,
            Self::Said(words) => words.trim().replace(',', ".").parse().ok(),
        }
        .filter(|value: &f64| value.is_finite())
    }
}

/// "1,200" and "1.200": twelve hundred to one reader, little more than one to another.
fn is_ambiguous(words: &str) -> bool {
    let Some((before, after)) = words.split_once([',', '.']) else { return false };
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|it| it.is_ascii_digit());
    digits(before) && digits(after) && after.len() == 3 && before != "0" && before.len() <= 3
}

#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
enum Yes {
    Is(bool),
    Said(String),
}

impl Yes {
    fn value(&self) -> bool {
        match self {
            Self::Is(value) => *value,
            Self::Said(words) => words.trim().eq_ignore_ascii_case("yes"),
        }
    }
}

#[derive(Debug, Serialize)]
pub struct Begun {
    /// Where it lies until it is kept as a file.
    desk: &'static str,
    text: String,
    caution: &'static str,
}

pub async fn begin(asked: Begin) -> Result<Begun, Refusal> {
    let plan = Plan::of(&asked.answers)?;
    let text = plan.text();
    let text = fiftytwo_scheme::format("the new scheme", &text).map_err(|_| Refusal::defect())?;
    Ok(Begun { desk: NEW, text, caution: CAUTION })
}

/// The answers, checked.
struct Plan {
    title: String,
    volts: f64,
    metres: f64,
    spring: bool,
    two_trips: bool,
    synchronism: bool,
    lockout: bool,
    remote: bool,
}

impl Plan {
    fn of(answers: &Answers) -> Result<Self, Refusal> {
        let unclear = |of: &'static str, words: &str| {
            Refusal::new(StatusCode::BAD_REQUEST, words, "Change this answer.").with("of", of)
        };
        let number = |answer: &Option<Number>, usual: f64| match answer {
            None => Some(usual),
            Some(answer) => answer.value(),
        };
        let volts = number(&answers.volts, 125.0)
            .filter(|volts| [48.0, 110.0, 125.0, 250.0].contains(volts))
            .ok_or_else(|| unclear("volts", "The battery has 48, 110, 125 or 250 V."))?;
        let metres = number(&answers.distance, 120.0)
            .filter(|metres| (1.0..=5000.0).contains(metres))
            .ok_or_else(|| unclear("distance", "The cabinet stands 1 to 5000 m away, written without a sign between thousands."))?;
        let trips = number(&answers.trips, 2.0)
            .filter(|trips| [1.0, 2.0].contains(trips))
            .ok_or_else(|| unclear("trips", "A breaker has one or two trip coils here."))?;
        let title = answers.title.as_deref().unwrap_or("Our station 69 kV, breaker 52-1");
        let title: String = title.chars().filter(|it| !it.is_control()).collect();
        let title = title.trim().chars().take(80).collect::<String>();
        if title.is_empty() {
            return Err(unclear("title", "The breaker needs a name."));
        }
        let yes = |answer: &Option<Yes>| answer.as_ref().is_none_or(Yes::value);
        Ok(Self {
            title,
            volts,
            metres,
            spring: yes(&answers.spring),
            two_trips: trips > 1.5,
            synchronism: yes(&answers.synchronism),
            lockout: yes(&answers.lockout),
            remote: yes(&answers.remote),
        })
    }
    /// Volts that stand to the nominal voltage as these do to 125 V.
    fn v(&self, of_125: f64) -> String {
        format!("{:.0}", of_125 * self.volts / 125.0)
    }
    fn range(&self, lo: f64, hi: f64) -> String {
        format!("{} to {} V", self.v(lo), self.v(hi))
    }
    /// Ohms of a coil that takes the same power as this one at 125 V.
    fn ohm(&self, of_125: f64) -> String {
        let ohm = of_125 * (self.volts / 125.0).powi(2);
        if ohm < 10.0 { format!("{ohm:.1} ohm typical") } else { format!("{ohm:.0} ohm typical") }
    }
    fn text(&self) -> String {
        let mut out = String::new();
        self.frame(&mut out);
        self.devices(&mut out);
        self.close_and_trip(&mut out);
        if self.two_trips {
            self.trip_2(&mut out);
        }
        self.intent(&mut out);
        out
    }
    fn frame(&self, out: &mut String) {
        let nominal = format!("{:.0} V DC", self.volts);
        let (range, away) = (self.range(105.0, 140.0), format!("{} m", self.metres));
        let _ = write!(
            out,
            "// Begun from a few answers: put in what the nameplates and the site say.\n\
             scheme \"{}\" revision=\"0\"\n\n\
             place \"HOUSE\" \"Control house\"\n\
             place \"YARD\" \"Breaker cabinet, {away} away\"\n",
            self.title.replace('\\', "\\\\").replace('"', "\\\"")
        );
        let supplies: &[&str] = if self.two_trips { &["DC1", "DC2"] } else { &["DC1"] };
        for supply in supplies {
            let _ = writeln!(
                out,
                "supply \"{supply}\" \"{nominal}\" range=\"{range}\" resistance=\"20 mohm typical\" \
                 place=\"HOUSE\""
            );
        }
        let _ = writeln!(
            out,
            "cable \"K1\" \"DC1: close and trip\" from=\"HOUSE\" to=\"YARD\" length=\"{away}\" \
             size=\"10 AWG\" cores=7"
        );
        if self.two_trips {
            let _ = writeln!(
                out,
                "cable \"K2\" \"DC2: trip 2\" from=\"HOUSE\" to=\"YARD\" length=\"{away}\" \
                 size=\"10 AWG\" cores=4"
            );
        }
        out.push('\n');
        if self.synchronism {
            out.push_str(
                "condition \"bus\" \"hot\" \"dead\"\n\
                 condition \"line\" \"dead\" \"hot\" {\n\
                 becomes \"hot\" when=\"52 closed and bus hot\" after=\"0 to 2 ms\"\n\
                 becomes \"dead\" when=\"52 open\" after=\"0 to 2 ms\"\n}\n",
            );
        }
        out.push_str("condition \"line fault\"\n");
        if self.lockout {
            out.push_str("condition \"bus fault\"\n");
        }
        if self.remote {
            out.push_str(
                "order \"SCADA close\" lasts=\"300 to 800 ms\"\n\
                 order \"SCADA trip\" lasts=\"300 to 800 ms\"\n",
            );
        }
        let _ = writeln!(
            out,
            "person \"operator\" place=\"HOUSE\" {{ may \"52CS\"{}{} }}",
            if self.remote { " \"43LR\"" } else { "" },
            if self.lockout { " \"86 reset\"" } else { "" }
        );
        if self.remote {
            out.push_str("person \"control centre\" { may \"SCADA close\" \"SCADA trip\" }\n");
        }
        out.push('\n');
    }
    fn devices(&self, out: &mut String) {
        self.breaker(out);
        let trip_2 = if self.two_trips { " \"trip 2\"" } else { "" };
        let _ = writeln!(
            out,
            "handle \"52CS\" \"Breaker control switch\" place=\"HOUSE\" drawn=\"after trip\" {{\n\
             position \"trip\" returns-to=\"after trip\"\nposition \"after trip\"\n\
             position \"after close\"\nposition \"close\" returns-to=\"after close\"\n\
             contact \"close\" closed-when=\"close\"\n\
             contact \"trip 1\"{trip_2} closed-when=\"trip\"\n}}"
        );
        if self.remote {
            let remote_3 = if self.two_trips { " \"remote 3\"" } else { "" };
            let _ = writeln!(
                out,
                "handle \"43LR\" \"Local / remote\" place=\"HOUSE\" drawn=\"local\" {{\n\
                 position \"local\"\nposition \"remote\"\n\
                 contact \"local\" closed-when=\"local\"\n\
                 contact \"remote 1\" \"remote 2\"{remote_3} closed-when=\"remote\"\n}}"
            );
        }
        let _ = writeln!(
            out,
            "relay \"52Y\" \"Anti-pump\" place=\"YARD\" {{\ncoil {{\n\
             resistance \"{}\"\nworks \"{}\"\npickup \"{}\"\ndropout \"{}\"\n\
             pickup-time \"12 to 20 ms typical\"\ndropout-time \"8 to 16 ms typical\"\n}}\n\
             contact \"a1\" closed-when=\"picked up\"\ncontact \"b1\" closed-when=\"dropped out\"\n}}",
            self.ohm(1800.0),
            self.range(70.0, 140.0),
            self.range(50.0, 68.0),
            self.range(15.0, 40.0),
        );
        if self.lockout {
            let a2 = if self.two_trips { " \"a2\"" } else { "" };
            let _ = writeln!(
                out,
                "lockout \"86\" \"Bus lockout\" place=\"HOUSE\" reset-by=\"hand\" {{\n\
                 coil \"operate\" drives-to=\"operated\" resistance=\"{}\" works=\"{}\" \
                 pickup-time=\"8 to 16 ms typical\" max-on=\"1 s\"\n\
                 contact \"a1\"{a2} closed-when=\"operated\"\n\
                 contact \"b1\" \"b2\" closed-when=\"reset\" breaks=\"10 A typical\"\n}}",
                self.ohm(26.0),
                self.range(70.0, 140.0),
            );
            out.push_str(
                "ied \"87B\" \"Bus protection\" place=\"HOUSE\" {\n\
                 logic \"trip\" when=\"bus fault\" on-delay=\"10 to 18 ms\"\n\
                 contact \"trip\" closed-when=\"trip\" closes-in=\"2 to 4 ms\" \
                 opens-in=\"4 to 10 ms\" makes=\"30 A\"\n}\n",
            );
        }
        if self.synchronism {
            out.push_str(
                "ied \"25\" \"Synchronism check\" place=\"HOUSE\" {\n\
                 logic \"dead line ok\" when=\"bus hot and line dead\" off-delay=\"0 to 5 ms\"\n\
                 logic \"in step ok\" when=\"bus hot and line hot\" on-delay=\"35 to 45 ms\"\n\
                 contact \"permit\" closed-when=\"dead line ok or in step ok\" \
                 closes-in=\"4 to 8 ms\" opens-in=\"4 to 8 ms\"\n}\n",
            );
        }
        let _ = writeln!(
            out,
            "ied \"21\" \"Line protection\" place=\"HOUSE\" {{\n\
             logic \"trip\" when=\"line fault and 52 closed\" on-delay=\"12 to 20 ms\"\n\
             contact \"trip 1\"{trip_2} closed-when=\"trip\" closes-in=\"2 to 4 ms\" \
             opens-in=\"4 to 10 ms\" makes=\"30 A\" breaks=\"10 A\"\n}}"
        );
        if self.remote {
            let _ = writeln!(
                out,
                "ied \"RTU\" \"Station control\" place=\"HOUSE\" reports-to=\"control centre\" {{\n\
                 contact \"close\" closed-when=\"SCADA close\"\n\
                 contact \"trip 1\"{trip_2} closed-when=\"SCADA trip\"\n}}"
            );
        }
        out.push('\n');
    }
    fn breaker(&self, out: &mut String) {
        let coil = |name: &str, to: &str, ohm: f64, works: f64, pickup: (f64, f64)| {
            format!(
                "coil \"{name}\" drives-to=\"{to}\" {{\nresistance \"{}\"\nworks \"{}\"\n\
                 pickup \"{}\"\ngoes-after \"8 to 12 ms typical\"\nmax-on \"1 s\"\n}}\n",
                self.ohm(ohm),
                self.range(works, 140.0),
                self.range(pickup.0, pickup.1),
            )
        };
        out.push_str(
            "breaker \"52\" \"Circuit breaker\" place=\"YARD\" closing-time=\"45 to 60 ms\" \
             opening-time=\"22 to 28 ms\" {\n",
        );
        out.push_str(&coil("close", "closed", 41.0, 90.0, (45.0, 75.0)));
        out.push_str(&coil("trip 1", "open", 25.0, 70.0, (35.0, 60.0)));
        if self.two_trips {
            out.push_str(&coil("trip 2", "open", 25.0, 70.0, (35.0, 60.0)));
        }
        if self.spring {
            out.push_str("energy \"spring\" closings=1 charged-in=\"8 to 12 s typical\"\n");
        }
        let a3 = if self.two_trips { " \"a3\"" } else { "" };
        let _ = write!(
            out,
            "contact \"a1\" \"a2\"{a3} closed-when=\"closed\" {{\n\
             on-close \"3 to 8 ms before touch\"\non-open \"2 to 6 ms after parting\"\n\
             breaks \"10 A typical\"\n}}\n\
             contact \"b1\" closed-when=\"open\" {{\n\
             on-close \"10 to 5 ms before touch\"\non-open \"4 to 10 ms after parting\"\n\
             breaks \"10 A typical\"\n}}\n"
        );
        if self.spring {
            out.push_str("contact \"LS1\" closed-when=\"spring charged\"\n");
        }
        out.push_str("}\n");
    }
    fn close_and_trip(&self, out: &mut String) {
        out.push_str(
            "circuit \"Close and trip 1\" supply=\"DC1\" {\n\
             feed { fuse \"F1\" \"20 A\"; wire \"P\" }\nreturn { wire \"N\"; fuse \"F2\" \"20 A\" }\n\
             leg \"Close coil\" from=\"P\" to=\"NY\" {\n",
        );
        if self.remote {
            out.push_str(
                "parallel {\nbranch { contact \"43LR\" \"local\"; contact \"52CS\" \"close\" }\n\
                 branch { contact \"43LR\" \"remote 1\"; contact \"RTU\" \"close\" }\n}\n",
            );
        } else {
            out.push_str("contact \"52CS\" \"close\"\n");
        }
        // The anti-pump hangs before every permission: whatever lets go there, it remembers.
        out.push_str("wire \"C1\"\n");
        if self.lockout {
            out.push_str("contact \"86\" \"b1\"\n");
        }
        if self.synchronism {
            out.push_str("contact \"25\" \"permit\"\n");
        }
        out.push_str("core \"K1\" 1 into=\"YARD\"\n");
        if self.spring {
            out.push_str("contact \"52\" \"LS1\"\n");
        }
        out.push_str(
            "contact \"52Y\" \"b1\"\ncontact \"52\" \"b1\"\ncoil \"52\" \"close\"\n}\n\
             leg \"Anti-pump\" from=\"C1\" to=\"NY\" {\ncore \"K1\" 2 into=\"YARD\"\n\
             parallel { contact \"52\" \"a1\"; contact \"52Y\" \"a1\" }\ncoil \"52Y\"\n}\n",
        );
        out.push_str("leg \"Trip coil 1\" from=\"P\" to=\"NY\" {\n");
        self.trips(out, 1);
        out.push_str(
            "core \"K1\" 3 into=\"YARD\"\ncontact \"52\" \"a2\"\ncoil \"52\" \"trip 1\"\n}\n\
             leg \"Common return\" from=\"NY\" to=\"N\" { core \"K1\" 4 into=\"HOUSE\" }\n",
        );
        if self.lockout {
            out.push_str(
                "leg \"Lockout\" { contact \"87B\" \"trip\"; contact \"86\" \"b2\"; \
                 coil \"86\" \"operate\" }\n",
            );
        }
        out.push_str("}\n");
    }
    fn trips(&self, out: &mut String, which: usize) {
        let _ = write!(
            out,
            "parallel {{\ncontact \"52CS\" \"trip {which}\"\ncontact \"21\" \"trip {which}\"\n"
        );
        if self.remote {
            let _ = writeln!(
                out,
                "branch {{ contact \"43LR\" \"remote {}\"; contact \"RTU\" \"trip {which}\" }}",
                which + 1
            );
        }
        if self.lockout {
            let _ = writeln!(out, "contact \"86\" \"a{which}\"");
        }
        out.push_str("}\n");
    }
    fn trip_2(&self, out: &mut String) {
        out.push_str(
            "circuit \"Trip 2\" supply=\"DC2\" {\n\
             feed { fuse \"F3\" \"20 A\"; wire \"UP\" }\n\
             return { wire \"UN\"; fuse \"F4\" \"20 A\" }\n\
             leg \"Trip coil 2\" from=\"UP\" to=\"UNY\" {\n",
        );
        self.trips(out, 2);
        out.push_str(
            "core \"K2\" 1 into=\"YARD\"\ncontact \"52\" \"a3\"\ncoil \"52\" \"trip 2\"\n}\n\
             leg \"Common return\" from=\"UNY\" to=\"UN\" { core \"K2\" 2 into=\"HOUSE\" }\n}\n",
        );
    }
    fn intent(&self, out: &mut String) {
        let coils = if self.two_trips { "trip 1 and trip 2" } else { "trip 1" };
        out.push_str("\nmatrix \"52\" {\n");
        if self.remote {
            out.push_str(
                "close-by \"52CS close\" needs=\"43LR local\"\n\
                 close-by \"SCADA close\" needs=\"43LR remote\"\n",
            );
        } else {
            out.push_str("close-by \"52CS close\"\n");
        }
        let mut needs = Vec::new();
        if self.lockout {
            needs.push("\"86 reset\"");
        }
        if self.spring {
            needs.push("\"52 spring charged\"");
        }
        if self.synchronism {
            needs.push("\"25 permit closed\"");
        }
        if !needs.is_empty() {
            let _ = writeln!(out, "close-needs {}", needs.join(" "));
        }
        let _ = writeln!(out, "trip-by \"52CS trip\" coils=\"{coils}\" within=\"60 ms\"");
        if self.remote {
            let _ = writeln!(
                out,
                "trip-by \"SCADA trip\" needs=\"43LR remote\" coils=\"{coils}\" within=\"60 ms\""
            );
        }
        let _ = writeln!(
            out,
            "trip-by \"line fault and 52 closed\" coils=\"{coils}\" within=\"80 ms\""
        );
        if self.lockout {
            let _ = writeln!(out, "trip-by \"bus fault\" coils=\"{coils}\" within=\"80 ms\"");
        }
        out.push_str("}\n");
        let given = match (self.spring, self.synchronism) {
            (true, true) => {
                "\"52 open\" \"52 spring charged\" \"bus hot\" \"line dead\" \"line fault\""
            }
            (true, false) => "\"52 open\" \"52 spring charged\" \"line fault\"",
            (false, true) => "\"52 open\" \"bus hot\" \"line dead\" \"line fault\"",
            (false, false) => "\"52 open\" \"line fault\"",
        };
        let _ = write!(
            out,
            "story \"A standing close on to a fault\" {{\ngiven {given}\n\
             at \"0 ms\" \"52CS close\" held=\"3 s\"\nexpect at-most=1 of=\"52 closed\"\n}}\n"
        );
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail loudly")]
mod tests {
    use super::*;
    use fiftytwo_motion::{Machine, PlayOptions, play};
    use fiftytwo_scheme::{Severity, read_text};

    /// Every answer to every question: 4 × 2⁵ schemes, each read and its story played.
    #[test]
    fn whatever_is_answered_reads_without_a_finding_and_does_not_pump() {
        for volts in [48.0, 110.0, 125.0, 250.0] {
            for bits in 0_u32..32 {
                let yes = |bit: u32| bits & (1 << bit) != 0;
                let plan = Plan {
                    title: "A breaker".to_owned(),
                    volts,
                    metres: 120.0,
                    spring: yes(0),
                    two_trips: yes(1),
                    synchronism: yes(2),
                    lockout: yes(3),
                    remote: yes(4),
                };
                let text = fiftytwo_scheme::format("x", &plan.text()).unwrap();
                let reading = read_text("scheme.kdl", &text);
                let found: Vec<_> =
                    reading.findings.iter().filter(|it| it.severity != Severity::Note).collect();
                assert!(found.is_empty(), "{volts} V, {bits:b}: {found:#?}\n{text}");
                let scheme = reading.scheme.unwrap();
                let machine = Machine::new(&scheme).unwrap();
                let told = play(&machine, &scheme.stories[0], PlayOptions::default());
                assert!(told.holds(), "{volts} V, {bits:b}: {:#?}", told.outcomes);
                let closes =
                    |event: &&fiftytwo_motion::Event| event.what.contains("main contacts touch");
                assert_eq!(told.events.iter().filter(closes).count(), 1, "{volts} V, {bits:b}");
            }
        }
    }

    #[test]
    fn a_title_breaks_nothing() {
        for title in ["\"; circuit", "a\nb", "\\", "   x  "] {
            let answers = Answers { title: Some(title.to_owned()), ..Answers::default() };
            let text = match Plan::of(&answers) {
                Ok(plan) => plan.text(),
                Err(_) => continue,
            };
            let scheme = read_text("x", &text).scheme.unwrap();
            let kept: String = title.trim().chars().filter(|it| !it.is_control()).collect();
            assert_eq!(scheme.title, kept, "{title:?}");
        }
    }
}
