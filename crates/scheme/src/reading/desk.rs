//! The desk the reader works at: the scheme so far, the names known, what was found.

use super::frame::{Arg, Form};
use super::names::{Table, capital, suggestion};
use super::statements::Pending;
use crate::finding::Finding;
use crate::ids::{
    CableId, CircuitId, ConditionId, CurveId, DeviceId, NodeId, OrderId, PartId, PlaceId, SupplyId,
};
use crate::model::Scheme;
use crate::quantity::{Quantity, TimeRange};
use crate::source::Span;
use crate::text::{self, Kind, Spelling};
use std::collections::{BTreeMap, BTreeSet};

/// A name as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Name {
    /// The name, quotes removed.
    pub text: String,
    /// Where it stands.
    pub span: Span,
}

/// What a full name of a thing on the drawing stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Thing {
    /// A device.
    Device(DeviceId),
    /// A part.
    Part(PartId),
}

/// A coil voltage in percent, kept until its base is known.
#[derive(Debug, Clone)]
pub(super) struct Percent {
    /// The coil.
    pub coil: PartId,
    /// Which of its voltages.
    pub which: CoilVolts,
    /// As written.
    pub text: String,
    /// Where.
    pub span: Span,
}

/// A part that a leg asks for and its device doesn't have.
#[derive(Debug, Clone)]
pub(super) struct Missing {
    /// The word, such as "contact".
    pub what: &'static str,
    /// The device.
    pub device: DeviceId,
    /// The part's name; empty: a lone part.
    pub own: Name,
}

/// The voltages of a coil that may be given in percent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum CoilVolts {
    /// The nameplate promise.
    Works,
    /// Pickup.
    Pickup,
    /// Dropout.
    Dropout,
}

/// Everything known so far.
#[derive(Default)]
pub(super) struct Desk {
    /// The scheme so far.
    pub scheme: Scheme,
    /// What was found so far.
    pub findings: Vec<Finding>,
    /// Places by name.
    pub places: Table<PlaceId>,
    /// Supplies by name.
    pub supplies: Table<SupplyId>,
    /// Curves by name.
    pub curves: Table<CurveId>,
    /// Curves that some part follows.
    pub curves_used: BTreeSet<CurveId>,
    /// Cables by name.
    pub cables: Table<CableId>,
    /// Conditions by name.
    pub conditions: Table<ConditionId>,
    /// Orders by name.
    pub orders: Table<OrderId>,
    /// Devices by name.
    pub devices: Table<DeviceId>,
    /// Devices and parts by full name.
    pub things: Table<Thing>,
    /// Nodes by wire number.
    pub wires: Table<NodeId>,
    /// Circuits by name.
    pub circuits: Table<CircuitId>,
    /// Where each node was found to be.
    pub node_places: BTreeMap<NodeId, PlaceId>,
    /// Devices not wholly understood: what they lack is no error.
    pub incomplete: BTreeSet<DeviceId>,
    /// Statements waiting until all names are known.
    pub pending: Vec<Pending>,
    /// Guarded coils waiting until all names are known: lamp or input, coil.
    pub watches: Vec<(PartId, Name)>,
    /// Motors that charge: the breaker, the motor.
    pub chargers: Vec<(DeviceId, Name)>,
    /// Coil voltages in percent.
    pub percents: Vec<Percent>,
    /// Parts that devices lack, reported once the spares are known.
    pub missing: Vec<Missing>,
    /// Cores used so far, and where.
    pub cores_used: BTreeMap<(CableId, u32), Span>,
    /// A file that is used could not be read: types and patterns may be missing for that.
    pub library_missing: bool,
    /// Types and patterns that nothing uses.
    pub unused: Vec<(String, Span)>,
    /// Terminal blocks by name.
    pub blocks: BTreeSet<String>,
    /// Points of daisy chains not understood so far.
    pub daisy_points: Vec<Name>,
    /// Wires named by a daisy chain.
    pub mentions: Vec<(NodeId, Name)>,
    /// Wires whose ends were reported already.
    pub lost_wires: BTreeSet<NodeId>,
    /// Unknown names already reported, each with its sort.
    pub reported: BTreeSet<(&'static str, String)>,
}

impl Desk {
    /// Files a finding.
    pub fn report(&mut self, finding: Finding) {
        self.findings.push(finding);
    }

    /// Files an error with its place.
    pub fn error(&mut self, id: &'static str, span: Span, label: &str, message: String) {
        self.report(Finding::error(id, message).at(span, label));
    }

    /// A name or text; without quotes it is reported and still used.
    pub fn name(&mut self, arg: &Arg) -> Option<Name> {
        match arg.form {
            Form::Quoted => {}
            Form::Wrong => return None,
            Form::Bare | Form::Whole(_) | Form::Number => self.report(
                Finding::error("unquoted", format!("{} stands without quotes.", arg.text))
                    .at(arg.span, "needs quotes")
                    .why("bare words are the language's own; your names and quantities stand in quotes")
                    .help(format!("write {:?}", arg.text)),
            ),
        }
        Some(Name { text: arg.text.clone(), span: arg.span })
    }

    /// A whole number from `least` on, written bare.
    pub fn count(&mut self, arg: &Arg, what: &str, least: u32) -> Option<u32> {
        match arg.form {
            Form::Whole(number) => match u32::try_from(number) {
                Ok(number) if number >= least => Some(number),
                _ => {
                    self.report(
                        Finding::error(
                            "count",
                            format!("{} can't be {}.", capital(what), arg.text),
                        )
                        .at(arg.span, format!("a whole number from {least} on")),
                    );
                    None
                }
            },
            Form::Wrong => None,
            Form::Quoted | Form::Bare | Form::Number => {
                self.report(text::count(&arg.text, what).finding(
                    "count",
                    arg.span,
                    "no bare whole number",
                ));
                None
            }
        }
    }

    /// Any quantity, read by `parse`.
    pub fn quantity<T>(
        &mut self,
        arg: &Arg,
        kind: Kind,
        parse: impl FnOnce(&str) -> Result<T, Spelling>,
    ) -> Option<T> {
        match arg.form {
            Form::Wrong => None,
            Form::Bare | Form::Whole(_) | Form::Number => {
                self.report(text::unquoted(&arg.text, kind).finding(
                    "unquoted",
                    arg.span,
                    "needs quotes",
                ));
                None
            }
            Form::Quoted => match parse(&arg.text) {
                Ok(value) => Some(value),
                Err(spelling) => {
                    self.report(spelling.finding("quantity", arg.span, "can't be read"));
                    None
                }
            },
        }
    }

    /// A time or range of times.
    pub fn time(&mut self, arg: &Arg) -> Option<TimeRange> {
        let frequency = self.scheme.frequency;
        self.quantity(arg, Kind::Time, |text| text::duration(text, frequency))
    }

    /// One moment, µs.
    pub fn instant(&mut self, arg: &Arg) -> Option<i64> {
        let frequency = self.scheme.frequency;
        self.quantity(arg, Kind::Time, |text| text::instant(text, frequency))
    }

    /// One of a few fixed answers, in quotes.
    pub fn choice<T: Copy>(&mut self, arg: &Arg, what: &str, answers: &[(&str, T)]) -> Option<T> {
        let name = self.name(arg)?;
        if let Some((_, value)) = answers.iter().find(|(answer, _)| *answer == name.text) {
            return Some(*value);
        }
        let known = answers.iter().map(|(answer, _)| *answer);
        self.report(
            Finding::error("choice", format!("{:?} is no value for {what}.", name.text))
                .at(name.span, "no such value")
                .help(suggestion(&name.text, known, what)),
        );
        None
    }

    /// Whether this unknown name is met for the first time.
    pub fn first_time(&mut self, sort: &'static str, name: &str) -> bool {
        self.reported.insert((sort, name.to_owned()))
    }

    /// Reports an unknown name once.
    pub fn unknown(&mut self, sort: &'static str, id: &'static str, name: &Name, known: &[String]) {
        let from_library = matches!(sort, "type" | "pattern" | "curve") && self.library_missing;
        if self.first_time(sort, &name.text) && !from_library {
            let help = suggestion(&name.text, known.iter().map(String::as_str), sort);
            self.report(
                Finding::error(id, format!("There is no {sort} {:?}.", name.text))
                    .at(name.span, format!("unknown {sort}"))
                    .help(help),
            );
        }
    }

    /// The place of that name, or an error.
    pub fn place(&mut self, arg: &Arg) -> Option<PlaceId> {
        let name = self.name(arg)?;
        let found = self.places.get(&name.text);
        if found.is_none() {
            let known = owned(self.places.names());
            self.unknown("place", "place-unknown", &name, &known);
        }
        found
    }

    /// The place said, else the only one there is, else an error.
    pub fn place_or_only(&mut self, arg: Option<&Arg>, whose: &Name) -> Option<PlaceId> {
        if let Some(arg) = arg {
            return self.place(arg);
        }
        let mut ids = self.scheme.places.ids();
        if let (Some(only), None) = (ids.next(), ids.next()) {
            return Some(only);
        }
        let known = owned(self.places.names());
        let help = match known.is_empty() {
            true => "declare where things are: place \"HOUSE\" \"Control house\"".to_owned(),
            false => {
                format!("add place=… ({})", super::names::listed(known.iter().map(String::as_str)))
            }
        };
        // Without any place the same is wrong with everything: once is enough.
        if !known.is_empty() || self.first_time("place", "") {
            let message = format!("It is not said where {:?} stands.", whose.text);
            self.report(
                Finding::error("place-missing", message)
                    .at(whose.span, "no place")
                    .why("a leg reaches another place only through a core of a cable")
                    .help(help)
                    .device(&whose.text),
            );
        }
        None
    }

    /// Claims a full name on the drawing; a second one of the same name is an error.
    pub fn claim_name(&mut self, name: &str, span: Span, thing: Thing) -> bool {
        // A blank that nothing was filled in for was reported already.
        let blank = name.contains('[') && self.things.get(name).is_some();
        if let Some(first) = self.things.span(name).filter(|_| !blank) {
            self.report(
                Finding::error("name-twice", format!("{name:?} is declared twice."))
                    .at(span, "declared again")
                    .and_at(first, "declared here first")
                    .why("a name on a print points at one thing")
                    .help("give one of the two another name")
                    .device(name),
            );
            return false;
        }
        self.things.declare(name, thing, span);
        true
    }

    /// The nominal value of a quantity with nothing else said.
    pub fn bare_value<U>(value: f64) -> Quantity<U> {
        Quantity::new(value, value, "")
    }
}

/// Names as owned strings.
pub(super) fn owned(names: Vec<&str>) -> Vec<String> {
    names.into_iter().map(str::to_owned).collect()
}

/// No delay.
pub(super) fn no_time() -> TimeRange {
    TimeRange::new(0, 0, "")
}
