//! The voltage along a path, from the battery through a load and back. **In:** the parts of the
//! path in order with the volts at both ends. **Out:** one sheet: a stair from plus down to minus,
//! every drop that counts with its number. **Never here:** which path, which corner.

use super::{alone, broken_at_words};
use crate::geometry::{Anchor, Dash, Drawing, Fill, Ink, MODULE, Pen, Shape, Text, Weight, point};
use crate::geometry::{Area, Meaning};
use crate::lettering;
use crate::live::shown_volts;
use crate::page::{SMALL, SMALL_BOLD, SMALL_SECOND, text};

/// A part on the path.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Its name.
    pub part: String,
    /// V above the minus pole where the current comes in.
    pub before: f64,
    /// V where it goes out.
    pub after: f64,
    /// Whether it is the load the path is about.
    pub is_load: bool,
}

/// A path.
#[derive(Debug, Clone, PartialEq)]
pub struct Along {
    /// Over the picture.
    pub title: String,
    /// Below it: which corner, what is left out.
    pub about: String,
    /// What the supply itself takes before its poles, if that counts.
    pub inside: Option<Step>,
    /// From plus to minus.
    pub steps: Vec<Step>,
    /// V that the load is judged to get at least: stands at its step, whatever the stair has there.
    pub judged: f64,
    /// Between which volts the load surely works, if it says so.
    pub works: Option<(f64, f64)>,
}

/// Length of a step, mm.
const STEP: f64 = 17.0;
/// Height of the stair, mm.
const HEIGHT: f64 = 110.0;
/// Smaller drops have no number, V.
const COUNTS: f64 = 0.05;

/// Draws a path; none if it has no parts.
pub fn along(path: &Along) -> Option<Drawing> {
    let all: Vec<&Step> = path.inside.iter().chain(&path.steps).collect();
    let full = all.first()?.before.max(1.0);
    let left = 26.0;
    let right = left + STEP * all.len() as f64;
    let width = (right + 12.0).max(200.0);
    let (mut words, more) = super::headline(&path.title, width - 16.0, (8.0, 12.0));
    let about = lettering::wrapped(&path.about, width - 16.0, MODULE, Weight::Plain);
    let below = 18.5 + more + MODULE * super::ABOUT * about.len() as f64;
    let top = (below + 8.0).max(36.0);
    let base = top + HEIGHT;
    let y = |volts: f64| base - HEIGHT * (volts / full).clamp(0.0, 1.05);
    let mut rules = vec![
        Shape::line(&[point(left, top - 6.0), point(left, base)], Pen::Wire),
        Shape::line(&[point(left, base), point(right, base)], Pen::Wire),
    ];
    for (line, about) in about.iter().enumerate() {
        let y = 18.5 + more + MODULE * super::ABOUT * line as f64;
        words.push(text((8.0, y), about, SMALL_SECOND, Anchor::Start));
    }
    let every = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0]
        .into_iter()
        .find(|step| full / step <= 12.0)
        .unwrap_or(100.0);
    let mut tick = 0.0;
    while tick <= full + 1e-9 {
        let at = y(tick);
        rules.push(Shape::line(&[point(left - 1.5, at), point(left, at)], Pen::Thin));
        rules.push(Shape::line(&[point(left, at), point(right, at)], Pen::Rule));
        let label = shown_volts(tick);
        words.push(text((left - 2.5, at + MODULE / 2.0), &label, SMALL_SECOND, Anchor::End));
        tick += every;
    }
    let mut bands = Vec::new();
    let mut stair = vec![point(left, y(full))];
    let mut marks = Vec::new();
    for (index, step) in all.iter().enumerate() {
        let x = left + STEP * index as f64;
        let middle = x + STEP / 2.0;
        stair.push(point(middle, y(step.before)));
        stair.push(point(middle, y(step.after)));
        stair.push(point(x + STEP, y(step.after)));
        let drop = step.before - step.after;
        if step.is_load {
            let area = Area {
                left: middle - 3.0,
                right: middle + 3.0,
                top: y(step.before),
                bottom: y(step.after),
            };
            bands.push(Shape::rectangle(area, Pen::Wire, Fill::Band));
            let at = (y(step.before) + y(step.after)) / 2.0;
            let least = format!("{:.1} V at worst", path.judged);
            words.push(text((middle + 4.5, at), &least, SMALL_BOLD, Anchor::Start));
            if let Some((least, most)) = path.works {
                let told = format!("works {} to {}", shown_volts(least), shown_volts(most));
                words.push(text((middle + 4.5, at + 4.0), &told, SMALL_SECOND, Anchor::Start));
                let foot = y(step.after + least);
                marks.push(Shape::Line {
                    points: vec![point(middle - 6.0, foot), point(middle + 6.0, foot)],
                    closed: false,
                    pen: Pen::Symbol,
                    ink: Ink::Main,
                    fill: Fill::None,
                    dash: Dash::Dashes,
                });
            }
        } else if drop.abs() >= COUNTS {
            let label = format!("−{}", shown_volts(drop.abs()));
            let above = y(step.before) - 1.4;
            words.push(text((middle + 1.0, above), &label, SMALL_BOLD, Anchor::Start));
        }
        words.push(Shape::Text(Text {
            at: point(middle + MODULE / 2.0, base + 3.0),
            anchor: Anchor::End,
            height: MODULE,
            weight: if step.is_load { Weight::Bold } else { Weight::Plain },
            ink: Ink::Main,
            words: lettering::tidy(&step.part),
            turned: true,
            meaning: Meaning::Words,
        }));
    }
    bands.push(Shape::line(&stair, Pen::AtPlus));
    let names = all
        .iter()
        .map(|step| lettering::width(&step.part, MODULE, Weight::Bold))
        .fold(0.0, f64::max);
    if path.works.is_some() {
        let told = "Dashed: where its upper end stands with the least volts at which it surely works, above the \
                    drop to minus.";
        words.push(text((8.0, base + names + 10.0), told, SMALL, Anchor::Start));
    }
    // The axes stay whole; the lines of the scale make room for words.
    let (axes, scale) = (rules.drain(..2).collect(), rules);
    let rules = broken_at_words(scale, &words);
    let parts = vec![
        ("axes", axes),
        ("scale", rules),
        ("stair", bands),
        ("marks", marks),
        ("words", words),
    ];
    Some(alone(&path.title, (width, base + names + 12.0), parts))
}
