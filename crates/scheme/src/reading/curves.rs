//! Curves given as points, and the parts that follow them.

use super::card::{Card, Words};
use super::desk::{Desk, owned};
use super::frame::{Arg, Line};
use crate::curve::{Curve, Points};
use crate::finding::Finding;
use crate::ids::CurveId;
use crate::quantity::{Quantity, TimeRange};
use crate::source::Span;
use crate::text::{self, Kind};

/// What the points of a curve tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    /// Volts and amperes of a part.
    VoltsAmps,
    /// Current and time of a fuse.
    AmpsSeconds,
}

impl Sort {
    const fn words(self) -> &'static str {
        match self {
            Self::VoltsAmps => "volts and amperes",
            Self::AmpsSeconds => "amperes and times",
        }
    }
    const fn example(self) -> &'static str {
        match self {
            Self::VoltsAmps => "point \"2.1 V\" \"10 mA\"",
            Self::AmpsSeconds => "point \"30 A\" \"20 to 100 s\"",
        }
    }
    const fn of(points: &Points) -> Self {
        match points {
            Points::VoltsAmps(_) => Self::VoltsAmps,
            Points::AmpsSeconds(_) => Self::AmpsSeconds,
        }
    }
}

/// The greatest slope a curve may have, S: what is steeper is a short circuit to every calculation.
const STEEPEST: f64 = 1e3;

/// One point as written: its first value, and the least and greatest of its second.
struct Point {
    sort: Sort,
    at: f64,
    least: f64,
    greatest: f64,
    typical: bool,
    written: (String, String),
    span: Span,
}

/// `curve NAME`.
pub(super) fn curve(desk: &mut Desk, line: &Line) {
    let card = Card::open(desk, line, &Words { props: &[], lines: &["point"] });
    let Some(name) = card.name(desk, 0, "The curve's name") else { return };
    card.no_more(desk, 1);
    super::world::take_notes(desk, &card);
    let written = card.lines("point").count();
    let points: Vec<Point> = card.lines("point").filter_map(|line| point(desk, line)).collect();
    if written < 2 {
        let message = match written {
            0 => format!("The curve {:?} has no point.", name.text),
            _ => format!("The curve {:?} has only one point.", name.text),
        };
        let sort = points.first().map_or(Sort::VoltsAmps, |point| point.sort);
        desk.report(
            Finding::error("curve-short", message)
                .at(name.span, "two points or more make a curve")
                .help(format!("add points in its braces, such as {}", sort.example())),
        );
    }
    let sort = points.first().map_or(Sort::VoltsAmps, |point| point.sort);
    if let (Some(first), Some(other)) =
        (points.first(), points.iter().find(|point| point.sort != sort))
    {
        let message = format!("The curve {:?} mixes volts with times.", name.text);
        desk.report(
            Finding::error("curve-mixed", message)
                .at(other.span, format!("gives {}", other.sort.words()))
                .and_at(first.span, format!("gives {}", sort.words()))
                .why("volts and amperes belong to lamps, diodes and inputs, times to fuses")
                .help("write two curves"),
        );
    } else {
        points.windows(2).for_each(|pair| in_order(desk, &name.text, sort, pair));
    }
    if super::world::twice(desk, "curve", &name, desk.curves.span(&name.text)) {
        return;
    }
    let typical = points.iter().any(|point| point.typical);
    let points = points.iter().filter(|point| point.sort == sort);
    let points = match sort {
        Sort::VoltsAmps => Points::VoltsAmps(points.map(|one| (one.at, one.least)).collect()),
        Sort::AmpsSeconds => {
            Points::AmpsSeconds(points.map(|one| (one.at, one.least, one.greatest)).collect())
        }
    };
    let made = Curve { name: name.text.clone(), points, typical, span: Some(name.span) };
    let id = desk.scheme.curves.push(made);
    desk.curves.declare(&name.text, id, name.span);
}

fn point(desk: &mut Desk, line: &Line) -> Option<Point> {
    let card = Card::open(desk, line, &Words { props: &[], lines: &[] });
    super::world::take_notes(desk, &card);
    card.no_more(desk, 2);
    let (Some(first), Some(second)) = (line.args.first(), line.args.get(1)) else {
        return missing(desk, line);
    };
    if text::amperes(&first.text).is_ok() {
        if text::volts(&second.text).is_ok() {
            desk.report(
                Finding::error("curve-point", "This point gives amperes before volts.")
                    .at(first.span, "volts stand first")
                    .help(format!("write point {:?} {:?}", second.text, first.text)),
            );
            return None;
        }
        return melting(desk, first, second);
    }
    let volts = desk.quantity(first, Kind::Voltage, text::volts);
    let amps = desk.quantity(second, Kind::Current, text::amperes);
    let (volts, amps) = (volts?, amps?);
    single(desk, first, &volts)?;
    single(desk, second, &amps)?;
    if volts.lo <= 0.0 && amps.lo > 0.0 {
        let message = format!("{} would flow without any voltage.", amps.written);
        desk.report(
            Finding::error("curve-point", message)
                .at(second.span, "no current flows at 0 V")
                .help("leave the point out: every curve begins at 0 V and 0 A by itself"),
        );
        return None;
    }
    Some(Point {
        sort: Sort::VoltsAmps,
        at: volts.lo,
        least: amps.lo,
        greatest: amps.hi,
        typical: volts.typical || amps.typical,
        written: (volts.written, amps.written),
        span: first.span,
    })
}

fn missing(desk: &mut Desk, line: &Line) -> Option<Point> {
    let message = match line.args.len() {
        0 => "This point has no value.",
        _ => "This point has only one value.",
    };
    let (volts, time) = (Sort::VoltsAmps.example(), Sort::AmpsSeconds.example());
    desk.report(
        Finding::error("value-missing", message)
            .at(line.span, "two values make a point")
            .help(format!("write {volts}, or for a fuse {time}")),
    );
    None
}

/// A point of a fuse: a current, and the least and the greatest time to open.
fn melting(desk: &mut Desk, first: &Arg, second: &Arg) -> Option<Point> {
    let amps = desk.quantity(first, Kind::Current, text::amperes);
    let time = desk.time(second);
    let (amps, time) = (amps?, time?);
    single(desk, first, &amps)?;
    let amps = positive(desk, first, "A current", Some(amps))?;
    let time = positive_time(desk, second, "A time to open", Some(time))?;
    #[expect(clippy::cast_precision_loss, reason = "no fuse needs 2^53 µs")]
    let seconds = |micros: i64| micros as f64 / 1e6;
    Some(Point {
        sort: Sort::AmpsSeconds,
        at: amps.lo,
        least: seconds(time.lo),
        greatest: seconds(time.hi),
        typical: amps.typical || time.typical,
        written: (amps.written, time.written),
        span: first.span,
    })
}

fn single<U>(desk: &mut Desk, arg: &Arg, quantity: &Quantity<U>) -> Option<()> {
    if quantity.lo >= quantity.hi {
        return Some(());
    }
    desk.report(
        Finding::error("curve-point", format!("{:?} is a range, not a point.", arg.text))
            .at(arg.span, "one value belongs here")
            .why("a part lies on its curve; only the time of a fuse may be a range"),
    );
    None
}

/// Two points that follow each other: the first value grows, the second does not turn.
fn in_order(desk: &mut Desk, curve: &str, sort: Sort, pair: &[Point]) {
    let [before, after] = pair else { return };
    if after.at <= before.at {
        let (first, second) = (&before.written.0, &after.written.0);
        let message = format!(
            "The points of the curve {curve:?} don't grow: {second} stands behind {first}."
        );
        desk.report(
            Finding::error("curve-order", message)
                .at(after.span, "out of order")
                .and_at(before.span, "the point before")
                .help("write the points in the order of their first value, each value once"),
        );
        return;
    }
    match sort {
        Sort::VoltsAmps if after.least < before.least => {
            let message = format!(
                "The curve {curve:?} falls: {} at {} is less than {} at {}.",
                after.written.1, after.written.0, before.written.1, before.written.0
            );
            desk.report(
                Finding::error("curve-falls", message)
                    .at(after.span, "less current at more volts")
                    .and_at(before.span, "the point before")
                    .why("a part whose current falls as its voltage grows has no one operating point"),
            );
        }
        Sort::VoltsAmps if after.least - before.least > STEEPEST * (after.at - before.at) => {
            let message = format!(
                "The curve {curve:?} rises by more than 1 A in 1 mV, from {} to {}.",
                before.written.0, after.written.0
            );
            desk.report(
                Finding::error("curve-steep", message)
                    .at(after.span, "as good as a short circuit")
                    .and_at(before.span, "the point before")
                    .why("beside such a piece no voltage can be told from its neighbours")
                    .help("are the units right?"),
            );
        }
        Sort::AmpsSeconds if after.least > before.least || after.greatest > before.greatest => {
            let message = format!(
                "The curve {curve:?} rises: {} at {} is longer than {} at {}.",
                after.written.1, after.written.0, before.written.1, before.written.0
            );
            desk.report(
                Finding::error("curve-rises", message)
                    .at(after.span, "a longer time at a greater current")
                    .and_at(before.span, "the point before")
                    .why("no fuse opens later because more current flows"),
            );
        }
        _ => {}
    }
}

/// The curve a part follows, if one is named; it must tell what the part needs.
pub(super) fn followed(
    desk: &mut Desk,
    arg: Option<&Arg>,
    wanted: Sort,
    whose: &str,
) -> Option<CurveId> {
    let name = desk.name(arg?)?;
    let Some(id) = desk.curves.get(&name.text) else {
        let known = owned(desk.curves.names());
        desk.unknown("curve", "curve-unknown", &name, &known);
        return None;
    };
    desk.curves_used.insert(id);
    let curve = &desk.scheme.curves[id];
    let found = Sort::of(&curve.points);
    // Without points nothing is known of its sort, and that was reported.
    let empty = match &curve.points {
        Points::VoltsAmps(points) => points.is_empty(),
        Points::AmpsSeconds(points) => points.is_empty(),
    };
    if found == wanted || empty {
        return Some(id);
    }
    let message = format!(
        "{whose:?} needs a curve of {}, but {:?} gives {}.",
        wanted.words(),
        name.text,
        found.words()
    );
    let span = curve.span;
    let mut finding = Finding::error("curve-kind", message)
        .at(name.span, format!("gives {}", found.words()))
        .help(format!("its points must be like {}", wanted.example()));
    if let Some(span) = span {
        finding = finding.and_at(span, "the curve");
    }
    desk.report(finding);
    None
}

/// Curves that no part follows.
pub(super) fn report_unused(desk: &mut Desk) {
    for (id, curve) in desk.scheme.curves.iter() {
        if let Some(span) = curve.span.filter(|_| !desk.curves_used.contains(&id)) {
            desk.unused.push((format!("The curve {:?}", curve.name), span));
        }
    }
}

/// Reports a property that says the same as the curve beside it.
pub(super) fn curve_or(desk: &mut Desk, card: &Card<'_>, others: &[&'static str], whose: &str) {
    let Some(curve) = card.prop("curve") else { return };
    for other in others {
        let Some(arg) = card.prop(other) else { continue };
        desk.report(
            Finding::error("curve-beside", format!("{whose:?} has both a curve and {other}."))
                .at(arg.span, "says it again")
                .and_at(curve.span, "the curve")
                .why("both say how its current follows its voltage, and only one can be meant")
                .help("keep the one that is known better"),
        );
    }
}

/// A value that must be greater than zero, whole range.
pub(super) fn positive<U>(
    desk: &mut Desk,
    arg: &Arg,
    what: &str,
    quantity: Option<Quantity<U>>,
) -> Option<Quantity<U>> {
    let quantity = quantity?;
    if quantity.lo <= 0.0 {
        zero(desk, arg, what);
        return None;
    }
    Some(quantity)
}

/// A time that must be longer than none.
pub(super) fn positive_time(
    desk: &mut Desk,
    arg: &Arg,
    what: &str,
    time: Option<TimeRange>,
) -> Option<TimeRange> {
    let time = time?;
    if time.lo <= 0 {
        zero(desk, arg, what);
        return None;
    }
    Some(time)
}

fn zero(desk: &mut Desk, arg: &Arg, what: &str) {
    desk.report(
        Finding::error("value-zero", format!("{what} can't be {}.", arg.text))
            .at(arg.span, "must be greater than zero")
            .help("write the real value"),
    );
}
