//! The lines of a leg one by one: parts of devices, parts that stand alone, cores.

use super::card::{Card, Words};
use super::curves::{Sort, followed};
use super::desk::{Desk, Name};
use super::frame::{Arg, Form, Line};
use super::loads;
use super::lookup;
use super::parts::{amperes, ohms, watts};
use super::path::{Weaver, What};
use crate::finding::Finding;
use crate::ids::PartId;
use crate::part::{Core, PartKind};
use crate::text::{self, Kind};

/// The part a line stands for.
pub(super) fn part(weaver: &mut Weaver<'_>, line: &Line) -> What {
    let found = match line.word.as_str() {
        "core" => return core(weaver, line),
        "contact" => weaver.of_device("contact", line),
        "coil" => weaver.of_device("coil", line),
        "input" => weaver.of_device("input", line),
        "motor" => weaver.of_device("motor", line),
        "element" => weaver.of_device("element", line),
        "power" => weaver.of_device("power", line),
        "link" => link(weaver, line),
        "terminal" => block(weaver, line, PartKind::Terminal),
        _ => alone(weaver, line),
    };
    found.map_or(What::Lost, What::Part)
}

/// `link BLOCK N`, or `link DEVICE PART` for a blade a device declares.
fn link(weaver: &mut Weaver<'_>, line: &Line) -> Option<PartId> {
    let of_device =
        line.args.first().is_some_and(|arg| weaver.desk.devices.get(&arg.text).is_some());
    if of_device { weaver.of_device("link", line) } else { block(weaver, line, PartKind::Link) }
}

fn block(weaver: &mut Weaver<'_>, line: &Line, kind: PartKind) -> Option<PartId> {
    let card = Card::open(weaver.desk, line, &Words { props: &[], lines: &[] });
    let block = card.subject(weaver.desk, 0, "The name of the block")?;
    weaver.desk.blocks.insert(block.text.clone());
    let number = match line.args.get(1) {
        Some(Arg { form: Form::Whole(_) | Form::Quoted, text, .. }) => text.clone(),
        Some(arg) => weaver.desk.name(arg)?.text,
        None => {
            weaver.desk.report(
                Finding::error(
                    "value-missing",
                    format!("The number in block {:?} is missing.", block.text),
                )
                .at(block.span, "no number follows")
                .help(format!("write {} {:?} 1", line.word, block.text)),
            );
            return None;
        }
    };
    card.no_more(weaver.desk, 2);
    let notes = card.notes(weaver.desk);
    weaver.notes.extend(notes);
    let name = Name { text: format!("{}/{number}", block.text), span: block.span };
    weaver.alone(&name, kind)
}

fn words(word: &str) -> Words {
    let props: &'static [&'static str] = match word {
        "resistor" => &["power"],
        "lamp" => loads::LAMP,
        "fuse" => &["type", "curve"],
        "diode" => loads::DIODE,
        "varistor" => loads::VARISTOR,
        _ => &[],
    };
    Words { props, lines: &[] }
}

/// `fuse NAME VALUE` and its like.
fn alone(weaver: &mut Weaver<'_>, line: &Line) -> Option<PartId> {
    let desk = &mut *weaver.desk;
    let word = line.word.as_str();
    let card = Card::open(desk, line, &words(word));
    let name = card.subject(desk, 0, &format!("The {word}'s name"))?;
    let notes = card.notes(desk);
    weaver.notes.extend(notes);
    let desk = &mut *weaver.desk;
    let value = line.args.get(1);
    card.no_more(desk, if word == "diode" { 1 } else { 2 });
    let example = match word {
        "fuse" => "15 A",
        "resistor" => "2.7 kohm",
        "capacitor" => "10 uF",
        "varistor" => "300 V",
        "lamp" => "8 mA",
        "heater" => "150 W",
        _ => "",
    };
    if value.is_none() && !example.is_empty() {
        desk.report(
            Finding::error("value-missing", format!("The {word} {:?} has no value.", name.text))
                .at(name.span, "no value follows")
                .help(format!("write {word} {:?} \"{example}\" with the real value", name.text)),
        );
    }
    let kind = match word {
        "fuse" => PartKind::Fuse {
            rating: amperes(desk, value).unwrap_or_else(|| Desk::bare_value(0.0)),
            curve: followed(desk, card.prop("curve"), Sort::AmpsSeconds, &name.text),
        },
        "resistor" => PartKind::Resistor {
            resistance: ohms(desk, value).unwrap_or_else(|| Desk::bare_value(0.0)),
            power: watts(desk, card.prop("power")),
        },
        "capacitor" => PartKind::Capacitor {
            capacitance: value
                .and_then(|arg| desk.quantity(arg, Kind::Capacitance, text::farads))
                .unwrap_or_else(|| Desk::bare_value(0.0)),
        },
        "diode" => PartKind::Diode(loads::diode(desk, &card, &name)),
        "varistor" => PartKind::Varistor(loads::varistor(desk, &card, &name, value)),
        "lamp" => PartKind::Lamp(loads::lamp(desk, &card, &name, value)),
        _ => {
            PartKind::Heater { power: watts(desk, value).unwrap_or_else(|| Desk::bare_value(0.0)) }
        }
    };
    let id = weaver.alone(&name, kind)?;
    super::parts::intent(weaver.desk, &card, id);
    Some(id)
}

/// `core CABLE N…`.
fn core(weaver: &mut Weaver<'_>, line: &Line) -> What {
    let desk = &mut *weaver.desk;
    let card = Card::open(desk, line, &Words { props: &["into"], lines: &[] });
    let notes = card.notes(desk);
    weaver.notes.extend(notes);
    let desk = &mut *weaver.desk;
    let into = card.prop("into").and_then(|arg| Some((desk.place(arg)?, arg.span)));
    let name = card.name(desk, 0, "The cable");
    let cable = name.as_ref().and_then(|name| lookup::cable(desk, name));
    let lost = What::Core { part: None, cable, into };
    let mut cores: Vec<u32> = Vec::new();
    let mut all = true;
    for arg in line.args.iter().skip(1) {
        match desk.count(arg, "The core's number", 1) {
            Some(core) => {
                all &= core_is_free(desk, cable, core, arg);
                cores.push(core);
            }
            None => all = false,
        }
    }
    let (Some(name), Some(cable)) = (name, cable) else { return lost };
    if cores.is_empty() {
        if all {
            let count = desk.scheme.cables[cable].cores.min(1000);
            let free = (1..=count).find(|core| !desk.cores_used.contains_key(&(cable, *core)));
            desk.report(
                Finding::error(
                    "value-missing",
                    format!("It is not said which core of {:?}.", name.text),
                )
                .at(name.span, "no core number follows")
                .help(format!("write core {:?} {}", name.text, free.unwrap_or(1))),
            );
        }
        return lost;
    }
    if !all {
        return lost;
    }
    let numbers: Vec<String> = cores.iter().map(u32::to_string).collect();
    let full = Name { text: format!("{}/{}", name.text, numbers.join("+")), span: name.span };
    // Where it leads is known only when the places are walked.
    let end = into.map_or(desk.scheme.cables[cable].to, |(place, _)| place);
    let kind = PartKind::Core(Core { cable, cores, into: end });
    What::Core { part: weaver.alone(&full, kind), cable: Some(cable), into }
}

/// Reports a core the cable doesn't have or that is used already.
fn core_is_free(desk: &mut Desk, cable: Option<crate::ids::CableId>, core: u32, arg: &Arg) -> bool {
    let Some(id) = cable else { return false };
    let cable = &desk.scheme.cables[id];
    let (name, count) = (cable.name.clone(), cable.cores);
    if core > count {
        let span = cable.span;
        desk.report(
            Finding::error(
                "core-beyond",
                format!("The cable {name:?} has {count} cores; there is no core {core}."),
            )
            .at(arg.span, "no such core")
            .and_at(span, "the cable")
            .help("use a free core, or take a cable with more cores"),
        );
        return false;
    }
    if let Some(first) = desk.cores_used.get(&(id, core)) {
        let first = *first;
        let used = |number: &u32| desk.cores_used.contains_key(&(id, *number));
        let free: Vec<String> = (1..=count.min(1000))
            .filter(|number| !used(number))
            .map(|number| number.to_string())
            .take(8)
            .collect();
        let help = match free.is_empty() {
            true => "no core of this cable is free".to_owned(),
            false => format!("not used so far: {}", free.join(", ")),
        };
        desk.report(
            Finding::error("core-twice", format!("Core {core} of {name:?} is used twice."))
                .at(arg.span, "used again")
                .and_at(first, "used here first")
                .why("one core carries one wire; two legs on one core are joined")
                .help(help),
        );
        return false;
    }
    desk.cores_used.insert((id, core), arg.span);
    true
}
