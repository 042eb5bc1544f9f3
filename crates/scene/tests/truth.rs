//! What stands on a sheet of a moment is what the engines say: bands, arrows, filled contacts.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use fiftytwo_scene::state::moments;
use fiftytwo_scheme::{PartId, PartKind, Scheme, read_path};
use fiftytwo_sheet::geometry::{Area, Body, Fill, Group, Pen, Point, Role, Shape};
use fiftytwo_sheet::{Legs, Live, Options, Sheet, Symbols, draw_live};
use std::path::Path;

const EXAMPLES: &[&str] = &["quillmere", "dunmarrow", "harrowfen", "latches"];

fn read(name: &str) -> Scheme {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    read_path(&path.join("scheme.kdl")).scheme.unwrap()
}

type Stroke = (Point, Point);

fn bands(sheet: &Sheet) -> Vec<Stroke> {
    let groups = sheet.items.iter().filter(|group| group.role == Role::Band);
    groups
        .flat_map(|group| &group.shapes)
        .filter_map(|shape| match shape {
            Shape::Line { points, pen: Pen::Band, .. } => Some((points[0], points[1])),
            _ => None,
        })
        .collect()
}

fn covers((a, b): &Stroke, at: Point) -> bool {
    Area::between(*a, *b).grown(0.1).holds(&Area::between(at, at))
}

/// Calls with every sheet of some moments of every story.
fn each(options: &[Options], mut look: impl FnMut(&str, &Scheme, &Live, &[Sheet])) {
    for name in EXAMPLES {
        let scheme = read(name);
        for story in &scheme.stories {
            let times = [0, 5_000, 72_000, 101_000, 320_000, 1_000_000];
            let (moments, _) = moments(&scheme, story, &times).unwrap();
            for moment in &moments {
                for options in options {
                    let drawing = draw_live(&scheme, options, &moment.live);
                    let told = format!("{name}, {}, {options:?}", moment.live.title);
                    look(&told, &scheme, &moment.live, &drawing.sheets);
                }
            }
        }
    }
}

fn styles() -> Vec<Options> {
    let iec = Options { symbols: Symbols::Iec60617, ..Options::default() };
    vec![Options::default(), iec, Options { legs: Legs::Across, ..Options::default() }]
}

#[test]
fn a_band_lies_behind_what_carries_ten_milliamperes_and_behind_nothing_else() {
    let mut banded = 0;
    each(&styles(), |told, scheme, live, sheets| {
        for sheet in sheets {
            let bands = bands(sheet);
            for Body { part, ends, .. } in &sheet.boxes {
                let amps = live.parts[part].amps.unwrap_or(0.0).abs();
                let has = bands.iter().any(|it| covers(it, ends[0]) && covers(it, ends[1]));
                let name = &scheme.parts[*part].name;
                assert_eq!(has, amps >= 0.01, "{told}: {name} carries {amps} A");
                banded += usize::from(has);
            }
        }
    });
    assert!(banded > 200, "only {banded} parts carry current");
}

#[test]
fn a_band_never_ends_where_current_does_not() {
    each(&styles(), |told, scheme, live, sheets| {
        for sheet in sheets {
            let bands = bands(sheet);
            for Body { part, ends, .. } in &sheet.boxes {
                if live.parts[part].amps.unwrap_or(0.0).abs() < 0.01 {
                    continue;
                }
                for end in ends {
                    // Its own band, and that of the wire or the next part.
                    let here = bands.iter().filter(|band| covers(band, *end)).count();
                    let name = &scheme.parts[*part].name;
                    assert!(here >= 2, "{told}, sheet {}: the band ends at {name}", sheet.number);
                }
            }
        }
    });
}

/// The sum of what the parts on a sheet put into a rail decides whether its flag there has a band: the
/// node law, written out here once more.
#[test]
fn a_rail_that_goes_on_carries_its_band_to_the_flag() {
    let iec = Options { symbols: Symbols::Iec60617, ..Options::default() };
    let mut crossed = 0;
    each(&[iec], |told, scheme, live, sheets| {
        for sheet in sheets {
            let bands = bands(sheet);
            for group in &sheet.items {
                let Role::Flag(node) = group.role else { continue };
                let of_sheet = |body: &&Body| {
                    let at = scheme.parts[body.part].at.unwrap();
                    at.from == node || at.to == node
                };
                // Only where the whole of the wire hangs together on this sheet by this flag.
                let flags = sheet.items.iter().filter(|it| it.role == Role::Flag(node)).count();
                let rail = scheme.circuits.values().any(|it| it.plus == node || it.minus == node);
                if flags > 1 || rail {
                    continue;
                }
                let sum: f64 = sheet
                    .boxes
                    .iter()
                    .filter(of_sheet)
                    .map(|body| {
                        let at = scheme.parts[body.part].at.unwrap();
                        let amps = live.parts[&body.part].amps.unwrap_or(0.0);
                        if at.from == node { -amps } else { amps }
                    })
                    .sum();
                let area = group.shapes[0].area();
                let start =
                    fiftytwo_sheet::geometry::point(area.left, (area.top + area.bottom) / 2.0);
                let has = bands.iter().any(|band| covers(band, start));
                assert_eq!(has, sum.abs() >= 0.01, "{told}: flag of {}: {sum} A", group.title);
                crossed += usize::from(has);
            }
        }
    });
    let _ = crossed;
}

fn arrow_of(sheet: &Sheet, end: Point) -> Option<&[Point]> {
    let groups = sheet.items.iter().filter(|group| group.id.starts_with("arrows-"));
    groups.flat_map(|group| &group.shapes).find_map(|shape| match shape {
        Shape::Line { points, .. } => {
            let tip = points[0];
            let near = (tip.x - end.x).abs() < 0.6 && (tip.y - end.y).abs() < 0.6;
            near.then_some(points.as_slice())
        }
        _ => None,
    })
}

#[test]
fn arrows_point_the_way_the_current_flows() {
    let mut seen = 0;
    each(&styles(), |told, scheme, live, sheets| {
        for sheet in sheets {
            for Body { part, ends, .. } in &sheet.boxes {
                let amps = live.parts[part].amps.unwrap_or(0.0);
                if amps.abs() < 0.01 {
                    continue;
                }
                let (enters, leaves) =
                    if amps > 0.0 { (ends[0], ends[1]) } else { (ends[1], ends[0]) };
                let Some(arrow) = arrow_of(sheet, enters) else { continue };
                // From the middle of its foot to its tip is the way from where it enters to where it
                // leaves.
                let foot = ((arrow[1].x + arrow[2].x) / 2.0, (arrow[1].y + arrow[2].y) / 2.0);
                let along = (arrow[0].x - foot.0) * (leaves.x - enters.x)
                    + (arrow[0].y - foot.1) * (leaves.y - enters.y);
                assert!(along > 0.0, "{told}: {}", scheme.parts[*part].name);
                seen += 1;
            }
        }
    });
    assert!(seen > 100, "only {seen} arrows");
}

#[test]
fn a_contact_is_filled_while_it_is_closed() {
    let filled = |group: &Group| {
        group.shapes.iter().any(|shape| {
            matches!(shape, Shape::Line { points, closed: true, fill: Fill::Ink, pen: Pen::None, .. }
                if points.len() == 4)
        })
    };
    let mut closed = 0;
    each(&[Options::default()], |told, scheme, live, sheets| {
        for group in sheets.iter().flat_map(|sheet| &sheet.items) {
            let Role::Part(part) = group.role else { continue };
            if !matches!(scheme.parts[part].kind, PartKind::Contact(_)) {
                continue;
            }
            let now = live.parts[&part].closed.unwrap();
            assert_eq!(filled(group), now, "{told}: {}", scheme.parts[part].name);
            closed += usize::from(now);
        }
    });
    assert!(closed > 100, "only {closed} closed contacts");
}

/// Quillmere's seal-in: 52Y picks up and holds itself; the current has two ways without resistance.
#[test]
fn current_between_two_ideal_ways_is_shown_on_both() {
    let scheme = read("quillmere");
    let story = scheme.stories.iter().find(|story| story.name.starts_with("Close from")).unwrap();
    let (moments, _) = moments(&scheme, story, &[100_000]).unwrap();
    let live = &moments[0].live;
    let id = |name: &str| -> PartId { scheme.part_named(name).unwrap() };
    let amps = |name: &str| live.parts[&id(name)].amps;
    let coil = amps("52Y").unwrap();
    assert!(coil > 0.01, "52Y is driven: {coil}");
    for part in scheme.placed().map(|(part, _)| part) {
        let now = &live.parts[&part];
        assert!(now.closed != Some(true) || now.amps.is_some(), "{}", scheme.parts[part].name);
    }
}
