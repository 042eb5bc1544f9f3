//! Causes on the chart of a run: where they begin and end.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use fiftytwo_scene::chart::picture;
use fiftytwo_scene::state::moments;
use fiftytwo_scheme::{Scheme, read_path};
use fiftytwo_sheet::pictures::{Edge, Timeline};
use std::path::Path;

fn read(name: &str) -> Scheme {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    read_path(&path.join("scheme.kdl")).scheme.unwrap()
}

fn charts(name: &str) -> Vec<Timeline> {
    let scheme = read(name);
    let stories = scheme.stories.clone();
    let chart = |story| picture(&scheme, &moments(&scheme, story, &[0]).unwrap().1);
    stories.iter().map(chart).collect()
}

fn name(chart: &Timeline, row: usize) -> String {
    format!("{} {}", chart.rows[row].device, chart.rows[row].what)
}

#[test]
fn every_cause_comes_first_and_stands_at_an_edge_of_its_row() {
    let mut causes = 0;
    for example in ["quillmere", "dunmarrow", "harrowfen", "latches"] {
        for chart in charts(example) {
            for edge in &chart.edges {
                let changes = |row: usize, at: i64| {
                    chart.rows[row].so.iter().any(|(from, to)| *from == at || *to == at)
                };
                assert!(
                    changes(edge.row, edge.at),
                    "{example}: {}: {edge:?}",
                    name(&chart, edge.row)
                );
                let Some((row, at)) = edge.cause else { continue };
                causes += 1;
                assert!(at <= edge.at, "{example}: {edge:?}");
                assert!(changes(row, at), "{example}: {edge:?} comes of no edge");
            }
        }
    }
    assert!(causes > 20, "only {causes} causes");
}

fn edge<'a>(chart: &'a Timeline, row: &str, at: i64) -> &'a Edge {
    let found = chart.edges.iter().find(|edge| name(chart, edge.row) == row && edge.at == at);
    let known: Vec<_> =
        chart.edges.iter().map(|edge| (name(chart, edge.row), edge.at, &edge.why)).collect();
    found.unwrap_or_else(|| panic!("{row} at {at}: {known:#?}"))
}

#[test]
fn turning_to_close_drives_the_coil_and_does_not_let_it_go() {
    let charts = charts("quillmere");
    let chart = charts.iter().find(|it| it.title.starts_with("Close from")).unwrap();
    let rises = edge(chart, "52 close driven", 0);
    assert_eq!(
        rises.cause.map(|(row, at)| (name(chart, row), at)),
        Some(("52CS close".to_owned(), 0))
    );
    let row = rises.row;
    for edge in chart.edges.iter().filter(|edge| edge.row == row) {
        let falls = chart.rows[row].so.iter().any(|(_, to)| *to == edge.at);
        let from = edge.cause.map(|(row, _)| name(chart, row)).unwrap_or_default();
        assert!(!falls || !from.starts_with("52CS"), "{from}: {}", edge.why);
    }
    // The breaker closes because its coil is driven.
    let closed =
        chart.rows.iter().position(|row| row.what == "closed" && row.device == "52").unwrap();
    let touch = chart.edges.iter().find(|edge| edge.row == closed).unwrap();
    assert_eq!(touch.cause, Some((row, 0)), "{}", touch.why);
}

#[test]
fn every_coil_that_comes_to_be_driven_in_a_run_has_a_number() {
    for example in ["quillmere", "dunmarrow", "harrowfen"] {
        for chart in charts(example) {
            for (row, data) in chart.rows.iter().enumerate() {
                if !data.what.ends_with("driven") {
                    continue;
                }
                for (from, _) in data.so.iter().filter(|(from, _)| *from > 0) {
                    let told = chart.edges.iter().any(|edge| (edge.row, edge.at) == (row, *from));
                    assert!(told, "{example}, {}: {} at {from}", chart.title, name(&chart, row));
                }
            }
        }
    }
}

#[test]
fn the_loss_of_a_supply_has_a_row() {
    let lost = charts("latches").into_iter().flat_map(|chart| chart.rows);
    let rows: Vec<String> = lost.map(|row| format!("{} {}", row.device, row.what)).collect();
    assert!(rows.contains(&"DC1 lost".to_owned()), "{rows:?}");
}
