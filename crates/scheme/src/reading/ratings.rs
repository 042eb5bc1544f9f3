//! What a contact may make, carry and break: one line for each voltage, L/R or duration.

use super::card::{Card, Words};
use super::curves::positive;
use super::desk::Desk;
use super::frame::{Arg, Line};
use super::parts::{amperes, volts};
use crate::finding::Finding;
use crate::part::ContactRating;
use crate::source::Span;

const MAKES: Words = Words { props: &["volts", "lasts"], lines: &[] };
const CARRIES: Words = Words { props: &["lasts"], lines: &[] };
const BREAKS: Words = Words { props: &["volts", "time-constant"], lines: &[] };

/// The ratings of one sort: `WORD="6 A"` in the contact's line, and lines `WORD "0.3 A" …` in its
/// braces.
pub(super) fn ratings(desk: &mut Desk, card: &Card<'_>, word: &'static str) -> Vec<ContactRating> {
    let mut found: Vec<(ContactRating, Span)> = Vec::new();
    if let Some(arg) = card.prop(word)
        && let Some(amps) = current(desk, word, arg)
    {
        let rating = ContactRating { amps, volts: None, time_constant: None, lasts: None };
        found.push((rating, arg.span));
    }
    for line in card.lines(word) {
        let Some(rating) = rating(desk, word, line) else { continue };
        let span = line.args.first().map_or(line.span, |arg| arg.span);
        if let Some((_, first)) = found.iter().find(|(known, _)| holds_where(known, &rating)) {
            desk.report(
                Finding::error("rating-twice", format!("{word:?} is given twice {}.", at(&rating)))
                    .at(span, "given again")
                    .and_at(*first, "given here first")
                    .why("only one of the two can be meant, and a reader can't know which")
                    .help("keep the one that is meant"),
            );
            continue;
        }
        found.push((rating, span));
    }
    found.into_iter().map(|(rating, _)| rating).collect()
}

fn rating(desk: &mut Desk, word: &'static str, line: &Line) -> Option<ContactRating> {
    let words = match word {
        "makes" => &MAKES,
        "carries" => &CARRIES,
        _ => &BREAKS,
    };
    let card = Card::open(desk, line, words);
    super::world::take_notes(desk, &card);
    card.no_more(desk, 1);
    let at = card
        .prop("volts")
        .and_then(|arg| Some((arg, volts(desk, Some(arg))?)))
        .and_then(|(arg, volts)| positive(desk, arg, "The voltage of a rating", Some(volts)));
    let mut time = |word: &str| card.prop(word).and_then(|arg| desk.time(arg));
    let (time_constant, lasts) = (time("time-constant"), time("lasts"));
    // What can't be read is not the same as what is not said.
    let understood = (card.prop("volts").is_none() || at.is_some())
        && (card.prop("time-constant").is_none() || time_constant.is_some())
        && (card.prop("lasts").is_none() || lasts.is_some());
    let Some(arg) = line.args.first() else {
        desk.report(
            Finding::error("value-missing", format!("{word:?} has no current."))
                .at(line.span, "no current follows")
                .help(format!("write {word} \"6 A\" with the real value")),
        );
        return None;
    };
    let amps = current(desk, word, arg)?;
    understood.then_some(ContactRating { amps, volts: at, time_constant, lasts })
}

fn current(
    desk: &mut Desk,
    word: &str,
    arg: &Arg,
) -> Option<crate::quantity::Quantity<crate::quantity::Ampere>> {
    let amps = amperes(desk, Some(arg));
    positive(desk, arg, &format!("What a contact {word}"), amps)
}

/// Whether both lines speak of the same voltage, L/R and duration.
fn holds_where(one: &ContactRating, other: &ContactRating) -> bool {
    let volts = |rating: &ContactRating| rating.volts.as_ref().map(|volts| (volts.lo, volts.hi));
    let times = |rating: &ContactRating| {
        [&rating.time_constant, &rating.lasts]
            .map(|time| time.as_ref().map(|time| (time.lo, time.hi)))
    };
    volts(one) == volts(other) && times(one) == times(other)
}

/// "for 125 V and 40 ms".
fn at(rating: &ContactRating) -> String {
    let volts = rating.volts.as_ref().map(|volts| volts.written.clone());
    let times = [&rating.time_constant, &rating.lasts];
    let times = times.into_iter().flatten().map(|time| time.written.clone());
    let said: Vec<String> = volts.into_iter().chain(times).collect();
    match said.is_empty() {
        true => "with nothing said of voltage or time".to_owned(),
        false => format!("for {}", said.join(" and ")),
    }
}
