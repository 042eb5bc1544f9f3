//! The sheet before all others. **In:** the sheets' titles, the scheme, what the sheets use. **Out:**
//! a list of sheets, a legend of the symbols that occur, supplies, cables, cautions. **Never
//! here:** circuits.

use crate::geometry::{Anchor, Area, Group, Ink, MODULE, Pen, Role, Shape, Turn, Weight, point};
use crate::lettering::{self, LEADING};
use crate::page::{Paper, SMALL, SMALL_BOLD, TITLE_HEIGHT, text};
use crate::style::Style;
use crate::symbols::{self, Colour, Contact, Figure, Hand};
use crate::words;
use fiftytwo_scheme::{Cable, CableId, PartKind, Scheme};
use std::collections::{BTreeMap, BTreeSet};

/// What has to be said wherever a drawing may be trusted further than it goes.
pub const CAUTIONS: [&str; 6] = [
    "Control circuits are energised, from more than one source. A drawing that shows a wire dead \
     does not make it dead: isolate, test for voltage, ground by the rules of your utility.",
    "Mechanisms hold stored energy: springs, air, hydraulics, capacitors. A breaker may close or \
     trip while someone works on its control circuit.",
    "Test switches and blocking links change the circuit: with one open it is not as drawn.",
    "The sheets show the scheme as written, not the equipment as built. What the text leaves out \
     or has wrong, no sheet can show.",
    "A licensed engineer reviews the design before it is built or changed.",
    "Local codes and the utility's standards govern; where they ask for more than these sheets, \
     they are right.",
];

/// From the beginning of a row to its words, mm.
const WORDS: f64 = 17.0;
/// Least height of a row of the legend, mm.
const ROW: f64 = 11.5;
/// Between two symbols of the legend one above the other, mm.
const GAP: f64 = 2.0;

/// The cover. `sheets`: numbers and titles of all other sheets.
pub fn cover(
    scheme: &Scheme,
    paper: Paper,
    style: Style,
    sheets: &[(usize, String)],
) -> Vec<Group> {
    let frame = paper.frame();
    let bottom = frame.bottom - TITLE_HEIGHT - 6.0;
    let left = frame.left + 8.0;
    let wide = ((frame.width() - 24.0) / 3.0).min(128.0);
    let mut first = Vec::new();
    let mut y = frame.top + 12.0;
    heading(&mut first, (left, y), "Sheets");
    y += 3.0;
    for (number, title) in sheets {
        y += 5.6;
        first.push(text((left + 6.0, y), &number.to_string(), SMALL_BOLD, Anchor::End));
        for line in lettering::wrapped(title, wide - 14.0, MODULE, Weight::Plain) {
            first.push(text((left + 9.0, y), &line, SMALL, Anchor::Start));
            y += MODULE * LEADING;
        }
        y -= MODULE * LEADING;
        first.push(Shape::line(
            &[point(left, y + 1.8), point(left + wide - 8.0, y + 1.8)],
            Pen::Rule,
        ));
    }
    y += 12.0;
    heading(&mut first, (left, y), "Supplies");
    y += 3.0;
    for supply in scheme.supplies.values() {
        y += 5.6;
        first.push(text((left, y), &supply.name, SMALL_BOLD, Anchor::Start));
        let place = &scheme.places[supply.place].name;
        let words = format!(
            "{}, range {}, in {place}",
            words::short(&supply.nominal.written),
            words::short(&supply.range.written)
        );
        first.push(text((left + 18.0, y), &words, SMALL, Anchor::Start));
    }
    if !scheme.cables.is_empty() {
        y += 12.0;
        heading(&mut first, (left, y), "Cables");
        y += 3.0;
    }
    let spare = spare_cores(scheme);
    for (id, cable) in scheme.cables.iter() {
        y += 5.6;
        if y > bottom - 4.0 {
            break;
        }
        first.push(text((left, y), &cable.name, SMALL_BOLD, Anchor::Start));
        let words = format!(
            "{} × {}, {}, {} to {}, {} spare",
            cable.cores,
            cable.size_written,
            cable.length.written,
            scheme.places[cable.from].name,
            scheme.places[cable.to].name,
            spare.get(&id).copied().unwrap_or(0)
        );
        first.push(text((left + 18.0, y), &words, SMALL, Anchor::Start));
    }
    let mut groups = vec![group("cover-lists", "sheets, supplies, cables", first)];
    let legend_left = left + wide + 4.0;
    groups.push(group(
        "cover-legend",
        "legend of the symbols used",
        legend(
            scheme,
            style,
            Area { left: legend_left, top: frame.top + 12.0, right: legend_left + wide, bottom },
        ),
    ));
    let x = legend_left + wide + 4.0;
    let mut last = Vec::new();
    let mut y = frame.top + 12.0;
    heading(&mut last, (x, y), "Cautions");
    y += 3.0;
    let room = frame.right - 6.0 - x;
    for caution in CAUTIONS {
        y += 2.4;
        for (index, line) in
            lettering::wrapped(caution, room - 4.0, MODULE, Weight::Plain).iter().enumerate()
        {
            y += MODULE * LEADING;
            if index == 0 {
                last.push(text((x, y), "!", SMALL_BOLD, Anchor::Start));
            }
            last.push(text((x + 4.0, y), line, SMALL, Anchor::Start));
        }
    }
    y += 12.0;
    heading(&mut last, (x, y), "How the sheets are read");
    y += 3.0;
    let rules = [
        "Drawn de-energised, in the state that note 1 of each sheet says.",
        style.symbols.closed_rule(),
        style.symbols.reference_rule(style.legs),
        "A dot joins; wires that cross without a dot do not. A flag says where a wire goes on.",
        "A circle is a terminal; a dash-dot frame is another place. Grey numbers are counted by \
         the drawing.",
    ];
    for rule in rules {
        y += 2.0;
        for line in lettering::wrapped(rule, room, MODULE, Weight::Plain) {
            y += MODULE * LEADING;
            if y < bottom {
                last.push(text((x, y), &line, SMALL, Anchor::Start));
            }
        }
    }
    groups.push(group("cover-cautions", "cautions, how to read", last));
    groups
}

fn group(id: &str, title: &str, shapes: Vec<Shape>) -> Group {
    Group { id: id.to_owned(), role: Role::Notes, title: title.to_owned(), source: None, shapes }
}

fn heading(shapes: &mut Vec<Shape>, at: (f64, f64), words: &str) {
    shapes.push(text(at, words, (3.5, Weight::Bold, Ink::Main), Anchor::Start));
}

/// For each cable, how many cores no circuit uses.
pub fn spare_cores(scheme: &Scheme) -> BTreeMap<CableId, usize> {
    let mut used: BTreeMap<CableId, BTreeSet<u32>> = BTreeMap::new();
    for (_, part) in scheme.placed() {
        if let PartKind::Core(core) = &part.kind {
            used.entry(core.cable).or_default().extend(&core.cores);
        }
    }
    let spare = |(id, cable): (CableId, &Cable)| {
        let used = used.get(&id).map_or(0, BTreeSet::len);
        (id, (cable.cores as usize).saturating_sub(used))
    };
    scheme.cables.iter().map(spare).collect()
}

/// What a figure is called in the legend.
fn called(figure: &Figure) -> String {
    match figure {
        Figure::Contact(contact) => {
            let mut words = String::from(if contact.closed {
                "contact, closed as drawn"
            } else {
                "contact, open as drawn"
            });
            if contact.delayed {
                words.push_str(", delayed");
            }
            match contact.hand {
                Some(Hand::Turns) => words.push_str(", turned by hand"),
                Some(Hand::Presses) => words.push_str(", pressed by hand"),
                None => {}
            }
            if contact.stays {
                words.push_str(", stays where it was last driven");
            }
            words
        }
        Figure::Coil { stays: true, .. } => {
            "coil of a device that stays where it was driven".to_owned()
        }
        Figure::Coil { .. } => "coil".to_owned(),
        Figure::Lamp(_) => "lamp, with the sign of its colour".to_owned(),
        Figure::Fuse => "fuse or small breaker".to_owned(),
        Figure::Resistor => "resistor".to_owned(),
        Figure::Capacitor => "capacitor".to_owned(),
        Figure::Diode => "diode".to_owned(),
        Figure::Varistor => "varistor".to_owned(),
        Figure::Input => "opto input of a programmed device".to_owned(),
        Figure::Motor => "motor".to_owned(),
        Figure::Heater => "heater".to_owned(),
        Figure::Element => "current-sensing element of an overload".to_owned(),
        Figure::Power => "feed of a programmed device".to_owned(),
        Figure::Link => "test link, closed".to_owned(),
        Figure::Terminal => "terminal".to_owned(),
        Figure::Core => "core of a cable, between its terminals".to_owned(),
        Figure::Jumper => "jumper".to_owned(),
    }
}

fn legend(scheme: &Scheme, style: Style, room: Area) -> Vec<Shape> {
    let mut shapes = Vec::new();
    heading(
        &mut shapes,
        (room.left, room.top),
        &format!("Symbols used ({})", style.symbols.name()),
    );
    let mut seen: Vec<(String, Figure)> = Vec::new();
    for (id, _) in scheme.placed() {
        let mut figure = words::figure(scheme, id);
        match &mut figure {
            Figure::Coil { name, .. } => name.clear(),
            // The code beside an IEC lamp has no room in a row.
            Figure::Lamp(colour) => {
                *colour = colour.filter(|_| !style.iec()).map(|_| Colour::Green)
            }
            // On IEEE sheets a hand is not drawn at the contact.
            Figure::Contact(Contact { hand, stays, .. }) if !style.iec() => {
                *hand = None;
                *stays = false;
            }
            _ => {}
        }
        let name = called(&figure);
        if !seen.iter().any(|(other, _)| *other == name) {
            seen.push((name, figure));
        }
    }
    seen.sort_by_key(|(_, figure)| (order(figure), format!("{figure:?}")));
    let rows: Vec<(String, Vec<Shape>)> =
        seen.into_iter().map(|(name, figure)| (name, in_a_row(&figure, style))).collect();
    // As many columns as needed for the height.
    let places = columns(&rows, room.bottom - room.top - 11.0);
    let many = places.last().map_or(1, |(column, _)| column + 1);
    let width = room.width() / many as f64;
    for ((name, symbol), (column, down)) in rows.iter().zip(places) {
        let at = point(room.left + 6.0 + width * column as f64, room.top + 11.0 + down);
        shapes.extend(symbol.iter().map(|shape| shape.placed(Turn::Down, at)));
        let mut y = at.y + MODULE / 2.0;
        for line in lettering::wrapped(name, width - WORDS, MODULE, Weight::Plain) {
            shapes.push(text((at.x + WORDS - 6.0, y), &line, SMALL, Anchor::Start));
            y += MODULE * LEADING;
        }
    }
    shapes.retain(|shape| !matches!(shape, Shape::Text(text) if text.words.is_empty()));
    shapes
}

/// A figure as it lies in a row, about its middle.
fn in_a_row(figure: &Figure, style: Style) -> Vec<Shape> {
    let symbol = symbols::draw(figure, style.symbols);
    let mirrored = !style.iec() && matches!(figure, Figure::Contact(_));
    let middle = point(0.0, 0.0);
    let turned = |shape: &Shape| {
        let shape = if mirrored { shape.mirrored() } else { shape.clone() };
        shape.placed(Turn::Right, middle)
    };
    let mut shapes: Vec<Shape> = symbol.shapes.iter().map(turned).collect();
    let end = symbol.reach;
    if end < 5.5 {
        for (from, to) in [(-5.8, -end), (end, 5.8)] {
            shapes.push(Shape::line(&[point(from, 0.0), point(to, 0.0)], Pen::Wire));
        }
    }
    shapes
}

/// Where each row lies: its column and how far down, mm. No symbol comes nearer than a gap to the one
/// above it.
fn columns(rows: &[(String, Vec<Shape>)], height: f64) -> Vec<(usize, f64)> {
    let mut places = Vec::new();
    let (mut column, mut down, mut below) = (0, 0.0_f64, 0.0_f64);
    for (index, (_, shapes)) in rows.iter().enumerate() {
        let areas = shapes.iter().map(Shape::area);
        let (up, under) = areas.fold((0.0_f64, 0.0_f64), |(up, under), area| {
            (up.max(-area.top), under.max(area.bottom))
        });
        if index > 0 {
            down += ROW.max(below + GAP + up);
        }
        if down + under > height && down > 0.0 {
            (column, down) = (column + 1, 0.0);
        }
        places.push((column, down));
        below = under;
    }
    places
}

fn order(figure: &Figure) -> usize {
    match figure {
        Figure::Contact(_) => 0,
        Figure::Coil { .. } => 1,
        Figure::Lamp(_) => 2,
        Figure::Input | Figure::Power => 3,
        Figure::Motor | Figure::Heater => 4,
        Figure::Fuse | Figure::Element => 5,
        Figure::Resistor | Figure::Capacitor | Figure::Diode | Figure::Varistor => 6,
        Figure::Link | Figure::Terminal | Figure::Core | Figure::Jumper => 7,
    }
}
