//! Lamps, diodes and varistors: what their words say together, and what they can't.

use super::card::Card;
use super::curves::{Sort, curve_or, followed, positive};
use super::desk::{Desk, Name};
use super::frame::Arg;
use super::parts::{amperes, ohms, volts};
use crate::finding::Finding;
use crate::part::{Diode, Lamp, Light, Varistor};
use crate::quantity::{Quantity, Volt};
use crate::text::{self, Kind};

/// The properties of a lamp.
pub(super) const LAMP: &[&str] = &["rated", "light", "drop", "cold", "curve", "shows", "watches"];
/// The properties of a diode.
pub(super) const DIODE: &[&str] = &["type", "drop", "blocks", "curve"];
/// The properties of a varistor.
pub(super) const VARISTOR: &[&str] = &["curve", "absorbs"];

/// A voltage above zero.
fn some_volts(desk: &mut Desk, card: &Card<'_>, word: &str, what: &str) -> Option<Quantity<Volt>> {
    let arg = card.prop(word)?;
    let found = volts(desk, Some(arg));
    positive(desk, arg, what, found)
}

/// `lamp NAME AMPERES`.
pub(super) fn lamp(desk: &mut Desk, card: &Card<'_>, name: &Name, value: Option<&Arg>) -> Lamp {
    let current = value.and_then(|arg| {
        let found = amperes(desk, Some(arg));
        positive(desk, arg, "The current of a lamp", found)
    });
    let answers = [("filament", Light::Filament), ("LED", Light::Led)];
    let light = card.prop("light").and_then(|arg| desk.choice(arg, "light", &answers));
    let rated = some_volts(desk, card, "rated", "The rated voltage of a lamp");
    let drop = some_volts(desk, card, "drop", "The drop of a lamp");
    let cold = card.prop("cold").and_then(|arg| {
        let found = ohms(desk, Some(arg));
        positive(desk, arg, "The cold resistance of a lamp", found)
    });
    let curve = followed(desk, card.prop("curve"), Sort::VoltsAmps, &name.text);
    curve_or(desk, card, &["drop", "cold"], &name.text);
    // A light that can't be read leaves open what may stand beside it.
    if card.prop("light").is_none() || light.is_some() {
        only_with(desk, card, name, "drop", "LED", light == Some(Light::Led));
        only_with(desk, card, name, "cold", "filament", light == Some(Light::Filament));
    }
    if let (Some(drop), Some(rated), Some(arg)) = (&drop, &rated, card.prop("drop"))
        && drop.hi >= rated.lo
    {
        let message = format!(
            "{:?} is rated {}, and its diode alone drops {}.",
            name.text, rated.written, drop.written
        );
        desk.report(
            Finding::error("lamp-drop", message)
                .at(arg.span, "not less than rated")
                .why("nothing would be left for its resistor, and it would not light")
                .help("write the drop of its light-emitting diodes alone, such as \"2 V\""),
        );
    }
    if let (Some(cold), Some(rated), Some(current), Some(arg)) =
        (&cold, &rated, &current, card.prop("cold"))
        && cold.hi >= rated.hi / current.lo
    {
        let hot = rated.hi / current.lo;
        let message =
            format!("{:?} would have {} cold and {hot:.0} ohm hot.", name.text, cold.written);
        desk.report(
            Finding::error("lamp-cold", message)
                .at(arg.span, "not less than hot")
                .why("a filament has its least resistance when cold: a tenth, more or less")
                .help("hot it has its rated voltage divided by its current"),
        );
    }
    Lamp {
        current: current.unwrap_or_else(|| Desk::bare_value(0.0)),
        rated,
        light: light.unwrap_or_default(),
        drop,
        cold,
        curve,
    }
}

/// Reports a property that has no meaning without a certain `light`.
fn only_with(
    desk: &mut Desk,
    card: &Card<'_>,
    name: &Name,
    word: &'static str,
    light: &str,
    so: bool,
) {
    let Some(arg) = card.prop(word).filter(|_| !so) else { return };
    let said = card.prop("light").map(|arg| arg.text.as_str());
    let message = match said {
        None => format!("{:?} has {word}, but it is not said what gives its light.", name.text),
        Some(said) => format!("{:?} has {word}, but its light is {said:?}.", name.text),
    };
    let mut finding = Finding::error("lamp-light", message)
        .at(arg.span, format!("only with light=\"{light}\""))
        .help(format!("write light=\"{light}\", or leave {word} out"));
    if let Some(light) = card.prop("light") {
        finding = finding.and_at(light.span, "said here");
    }
    desk.report(finding);
}

/// `diode NAME`.
pub(super) fn diode(desk: &mut Desk, card: &Card<'_>, name: &Name) -> Diode {
    let curve = followed(desk, card.prop("curve"), Sort::VoltsAmps, &name.text);
    curve_or(desk, card, &["drop"], &name.text);
    Diode {
        curve,
        drop: volts(desk, card.prop("drop")),
        blocks: some_volts(desk, card, "blocks", "The voltage a diode blocks"),
    }
}

/// `varistor NAME VOLTS`.
pub(super) fn varistor(
    desk: &mut Desk,
    card: &Card<'_>,
    name: &Name,
    value: Option<&Arg>,
) -> Varistor {
    let clamp = value.and_then(|arg| {
        let found = volts(desk, Some(arg));
        positive(desk, arg, "The voltage of a varistor", found)
    });
    let absorbs = card.prop("absorbs").and_then(|arg| {
        let found = desk.quantity(arg, Kind::Energy, text::joules);
        positive(desk, arg, "What a varistor absorbs", found)
    });
    Varistor {
        clamp: clamp.unwrap_or_else(|| Desk::bare_value(0.0)),
        curve: followed(desk, card.prop("curve"), Sort::VoltsAmps, &name.text),
        absorbs,
    }
}
