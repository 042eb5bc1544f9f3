//! Quantities with a form of their own: supply voltages and conductor sizes.

use super::read;
use super::scan;
use super::{Kind, Spelling, finish, quantity};
use crate::quantity::{Quantity, Volt, WireSize};
use crate::world::CurrentKind;

/// "125 V DC", "120 V AC".
///
/// # Errors
/// As other voltages; also when neither DC nor AC is said, or a range is given.
pub fn supply_voltage(text: &str) -> Result<(Quantity<Volt>, CurrentKind), Spelling> {
    let parsed = read::parse(text, Kind::Voltage, false)?;
    let current = match parsed.tail.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["DC"] => CurrentKind::Dc,
        ["AC"] => CurrentKind::Ac,
        [] => {
            return Err(Spelling::new(format!("\"{text}\" does not say DC or AC"))
                .help(format!("write \"{text} DC\" or \"{text} AC\"")));
        }
        [word] if word.eq_ignore_ascii_case("dc") || word.eq_ignore_ascii_case("ac") => {
            return Err(Spelling::new(format!("\"{word}\" is written in capitals"))
                .help(format!("write \"{}\"", text.replace(word, &word.to_uppercase()))));
        }
        _ => {
            return Err(Spelling::new(format!("\"{text}\" is not the voltage of a supply"))
                .help("write it like \"125 V DC\""));
        }
    };
    let plain = read::Parsed { tail: Vec::new(), ..parsed };
    if plain.lo != plain.hi {
        return Err(Spelling::new("a supply has one nominal voltage")
            .help("write \"125 V DC\" range=\"105 to 140 V\""));
    }
    finish(text, Kind::Voltage, &plain)?;
    if plain.lo.si() <= 0.0 {
        return Err(Spelling::new("a supply of no voltage feeds nothing")
            .help("write it like \"125 V DC\""));
    }
    Ok((quantity(text, &plain), current))
}

/// "10 AWG", "1/0 AWG", "350 kcmil", "2.5 mm2".
///
/// # Errors
/// No or a wrong unit, a range, a gauge outside 4/0 to 40.
pub fn wire_size(text: &str) -> Result<WireSize, Spelling> {
    let plain = scan::plain(text);
    if let Some(size) = aught(plain.trim()) {
        return size;
    }
    let bare = plain.trim().trim_start_matches('#');
    if bare.len() != plain.trim().len() {
        return Err(Spelling::new("a gauge is written without #")
            .help(format!("write \"{} AWG\"", bare.trim_end_matches("AWG").trim())));
    }
    let parsed = read::parse(text, Kind::Size, false)?;
    finish(text, Kind::Size, &parsed)?;
    if parsed.lo != parsed.hi {
        return Err(Spelling::new("a conductor has one size").help("write it like \"10 AWG\""));
    }
    let value = parsed.lo.number.value();
    match parsed.lo.unit.name {
        "AWG" => gauge(text, &parsed.lo.number),
        _ if value <= 0.0 => Err(Spelling::new("a conductor of no size carries nothing")
            .help("write it like \"2.5 mm2\"")),
        "kcmil" => Ok(WireSize::Kcmil(value)),
        _ => Ok(WireSize::Mm2(value)),
    }
}

fn gauge(text: &str, number: &scan::Decimal) -> Result<WireSize, Spelling> {
    let zeros = number.written.chars().count();
    if number.digits == 0 && zeros > 1 && zeros <= 4 && number.scale == 0 {
        return Err(Spelling::new(format!("\"{text}\" is written as a fraction"))
            .help(format!("write \"{zeros}/0 AWG\"")));
    }
    match i32::try_from(number.digits) {
        Ok(gauge @ 0..=40) if number.scale == 0 => Ok(WireSize::Awg(gauge)),
        _ => Err(Spelling::new(format!("there is no {text}"))
            .help("gauges are whole numbers from 4/0 (thick) to 40 (thin)")),
    }
}

/// "1/0 AWG" to "4/0 AWG".
fn aught(text: &str) -> Option<Result<WireSize, Spelling>> {
    let (number, rest) = text.split_once("/0")?;
    let wrong = || {
        Spelling::new(format!("\"{text}\" is not a conductor size"))
            .help("write \"1/0 AWG\" to \"4/0 AWG\", \"10 AWG\", \"350 kcmil\" or \"2.5 mm2\"")
    };
    Some(match (number.trim(), rest.trim()) {
        ("1", "AWG") => Ok(WireSize::Awg(0)),
        ("2", "AWG") => Ok(WireSize::Awg(-1)),
        ("3", "AWG") => Ok(WireSize::Awg(-2)),
        ("4", "AWG") => Ok(WireSize::Awg(-3)),
        ("1" | "2" | "3" | "4", "") => {
            Err(Spelling::new(format!("\"{text}\" has no unit"))
                .help(format!("write \"{text} AWG\"")))
        }
        _ => Err(wrong()),
    })
}
