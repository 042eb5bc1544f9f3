//! What the layout costs, counted: a change of the arrangement is seen here before anyone
//! looks at pictures.
#![allow(clippy::unwrap_used, reason = "a test stops at what it did not expect")]

use fiftytwo_sheet::geometry::{Point, Role, Shape};
use fiftytwo_sheet::{Legs, Options, Sheet, Symbols, draw};
use std::fmt::Write;
use std::path::Path;

fn wires(sheet: &Sheet) -> Vec<(Role, Point, Point)> {
    sheet
        .items
        .iter()
        .filter(|group| matches!(group.role, Role::Wire(_)))
        .flat_map(|group| group.shapes.iter().map(|shape| (group.role, shape)))
        .filter_map(|(role, shape)| match shape {
            Shape::Line { points, .. } => Some((role, *points.first()?, *points.last()?)),
            _ => None,
        })
        .collect()
}

/// Places where an upright piece of one wire crosses a level piece of another.
fn crossings(wires: &[(Role, Point, Point)]) -> usize {
    let mut count = 0;
    for (a, from, to) in wires.iter().filter(|(_, from, to)| from.y == to.y) {
        for (b, top, end) in wires.iter().filter(|(_, top, end)| top.x == end.x) {
            let inside = |value: f64, p: f64, q: f64| p.min(q) < value && value < p.max(q);
            count +=
                usize::from(a != b && inside(top.x, from.x, to.x) && inside(from.y, top.y, end.y));
        }
    }
    count
}

/// FNV-1a, 64 bits: enough to see that a drawing changed.
fn mark(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |mark, byte| {
        (mark ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[test]
fn arrangement_of_the_examples() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let mut report = String::new();
    for (symbols, legs) in [
        (Symbols::Ieee315, Legs::Upright),
        (Symbols::Iec60617, Legs::Upright),
        (Symbols::Ieee315, Legs::Across),
        (Symbols::Iec60617, Legs::Across),
    ] {
        writeln!(report, "{}, legs {legs:?}", symbols.name()).unwrap();
        for name in ["dunmarrow", "harrowfen", "latches", "quillmere"] {
            let text = std::fs::read_to_string(folder.join(name).join("scheme.kdl")).unwrap();
            let scheme = fiftytwo_scheme::read_text("scheme.kdl", &text).scheme.unwrap();
            let drawing = draw(&scheme, &Options { symbols, legs, ..Options::default() });
            for sheet in &drawing.sheets {
                counted(name, sheet, &mut report);
            }
        }
    }
    insta::assert_snapshot!(report);
}

fn counted(name: &str, sheet: &Sheet, report: &mut String) {
    let wires = wires(sheet);
    let shapes: String = sheet.items.iter().map(|group| format!("{:?}", group.shapes)).collect();
    let length: f64 = wires.iter().map(|(_, a, b)| (a.x - b.x).abs() + (a.y - b.y).abs()).sum();
    writeln!(
        report,
        "{name} {} ({}): {} parts, {} pieces of wire, {length:.0} mm, {} crossings, {:016x}",
        sheet.number,
        sheet.title,
        sheet.boxes.len(),
        wires.len(),
        crossings(&wires),
        mark(&shapes)
    )
    .unwrap();
}
