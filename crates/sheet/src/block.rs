//! A circuit, or a part of one, in millimetres. **In:** plan and ranks. **Out:** how much room
//! it needs, and, once a place on a sheet is chosen, the x of every column and the y of every
//! rank and wire. **Never here:** strokes.

use crate::geometry::MODULE;
use crate::lettering::{self, LEADING};
use crate::lists;
use crate::order::{Spans, bus_columns, spans};
use crate::plan::Plan;
use crate::rank::{Ranks, core_places};
use crate::regions::{self, Region};
use crate::screws;
use crate::style::{Beside, Style};
use crate::symbols;
use crate::words;
use fiftytwo_scheme::arena::Id;
use fiftytwo_scheme::{NodeId, PartId, PartKind, PlaceId, Scheme};
use std::collections::BTreeSet;

/// Least and greatest height of a rank (legs across: length), mm.
pub fn rank_pitch(style: Style) -> (f64, f64) {
    if style.across() { (20.0, 30.0) } else { (13.5, 20.0) }
}
/// Least and greatest distance of columns (legs across: of rows), mm.
pub fn column_pitch(style: Style) -> (f64, f64) {
    if style.across() { (15.0, 21.0) } else { (24.0, 30.0) }
}
/// Distance of two buses in one boundary, mm.
pub const TRACK: f64 = 5.0;
/// From the middle of a symbol to its texts, mm.
const BESIDE: f64 = 1.76 * MODULE;
/// Room for names beside a part, mm.
const ROOM: f64 = 15.0;
/// The same where lines may be longer, mm.
const ROOM_WIDE: f64 = 22.0;
/// From the top (legs across: left edge) of a block to its first rail, mm.
pub fn head(style: Style) -> f64 {
    if style.across() { 40.0 } else { 24.0 }
}
/// What stands for a cross-reference until it is known: the widest there is.
pub fn any_reference(style: Style) -> &'static str {
    if style.iec() { "8.88" } else { "88/D8" }
}

/// A wire that runs across columns, or goes on elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct Bus {
    /// The wire.
    pub node: NodeId,
    /// The columns that tap it, left to right.
    pub columns: Vec<usize>,
    /// Its boundary.
    pub level: usize,
    /// Its track within the boundary, 0 on top.
    pub track: usize,
    /// Whether it goes on elsewhere.
    pub flag: bool,
    /// Belongs to the lower end of one run that comes back to its own wire.
    pub looped: bool,
}

impl Bus {
    fn first(&self) -> usize {
        self.columns.first().copied().unwrap_or(0)
    }
    fn last(&self) -> usize {
        self.columns.last().copied().unwrap_or(0)
    }
    fn overlaps(&self, other: &Self) -> bool {
        let end = |bus: &Self| bus.last() + usize::from(bus.flag);
        self.first() < end(other) && other.first() < end(self)
            || (self.first() == other.first() && self.level == other.level)
    }
}

/// A plan with its needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Columns.
    pub plan: Plan,
    /// Heights.
    pub ranks: Ranks,
    /// Wires across.
    pub buses: Vec<Bus>,
    /// Places.
    pub regions: Vec<Region>,
    /// Room each column needs left and right of its line, mm.
    pub sides: Vec<(f64, f64)>,
    /// Least height of each rank, mm.
    pub heights: Vec<f64>,
    /// Height of each boundary, mm.
    pub thickness: Vec<f64>,
    /// How much lower the first bus lies in each boundary, mm.
    pub lift: Vec<f64>,
    /// From the terminal of the supply to the first part of its string, mm.
    pub lead: f64,
    /// Length of supply strings before the rails begin, mm.
    pub string: f64,
    /// Height of what hangs under the lower rail (legs across: stands right of it), mm.
    pub foot: f64,
    /// How it is drawn.
    pub style: Style,
}

/// Widths of the flags' texts are not known before the sheets are; this is kept free.
const FLAG: f64 = 26.0;
/// Room above and below a boundary with a flag in it, mm.
const FLAG_LIFT: f64 = 1.5;

/// Measures a plan.
pub fn measure(scheme: &Scheme, plan: Plan, ranks: Ranks, style: Style) -> Block {
    let buses = buses(&plan, &ranks);
    let regions = regions::regions(scheme, &plan, &ranks);
    let columns = plan.width();
    let across = style.across();
    let narrow = if across { (3.0_f64, 4.0_f64) } else { (5.0, 6.0) };
    let mut sides = vec![narrow; columns];
    // Between the rails of an empty circuit stand the names of its supply and place.
    let count = if ranks.count == 0 { EMPTY } else { ranks.count };
    let mut heights = vec![rank_pitch(style).0; count];
    let mut foot = 0.0_f64;
    for (column, run) in plan.columns() {
        for part in &run.parts {
            let needs = part_needs(scheme, *part, style);
            sides[column].0 = sides[column].0.max(needs.left);
            sides[column].1 = sides[column].1.max(needs.right);
            let rank = ranks.rank(*part);
            if let Some(height) = heights.get_mut(rank) {
                *height = height.max(half_up(2.0 * needs.half_height + 3.4));
            }
            if let Some(size) = lists::size(scheme, *part, style) {
                sides[column].0 = sides[column].0.max(size.before);
                sides[column].1 = sides[column].1.max(size.after);
                foot = foot.max(size.foot);
            }
        }
    }
    for (first, last, name) in unit_columns(scheme, &plan) {
        if across {
            let lines = lettering::wrapped(&name, LEG_NAME, MODULE, crate::geometry::Weight::Bold);
            let down = MODULE * (LEADING * lines.len().max(1) as f64 - 0.7);
            let room: f64 = (first..last).map(|_| column_pitch(style).0).sum();
            sides[last].1 = sides[last].1.max(down - room);
            continue;
        }
        // A name of one long word must not run into the next leg's.
        if first == last {
            let longest = name
                .split_whitespace()
                .map(|word| lettering::width(word, MODULE, crate::geometry::Weight::Bold))
                .fold(0.0, f64::max);
            sides[first].1 = sides[first].1.max(longest - 4.0);
        }
    }
    for bus in buses.iter().filter(|bus| bus.flag) {
        let last = bus.last();
        sides[last].1 = sides[last].1.max(FLAG);
    }
    let begins: BTreeSet<usize> = regions.iter().map(|region| region.first).collect();
    for first in begins.into_iter().filter(|first| *first > 0) {
        // The name of the place stands there, turned.
        sides[first].0 += if across { 6.5 } else { 8.5 };
    }
    let ends: BTreeSet<usize> = regions.iter().map(|region| region.last).collect();
    for last in ends {
        sides[last].1 += if across { 3.0 } else { 4.0 };
    }
    make_room_for_names(scheme, &regions, &mut heights);
    let mut thickness = vec![0.0; count + 1];
    let mut lift = vec![0.0; count + 1];
    for bus in &buses {
        if let (Some(height), Some(lift)) = (thickness.get_mut(bus.level), lift.get_mut(bus.level))
        {
            if bus.flag {
                *lift = FLAG_LIFT;
            }
            *height = f64::max(*height, TRACK * bus.track as f64);
        }
    }
    for (height, lift) in thickness.iter_mut().zip(&lift) {
        *height += 2.0 * lift;
    }
    let lead = if across { 5.0 } else { lead(scheme, &plan) };
    let string = string_length(scheme, &plan.feed, lead, style)
        .max(string_length(scheme, &plan.back, lead, style));
    if across {
        // What lies between the rail and its supply has its words at the right.
        let words = plan
            .back
            .iter()
            .flat_map(|part| words::beside(scheme, *part, None, (f64::INFINITY, style)));
        foot = words.map(|line| words::line_width(&line) + 6.0).fold(foot.max(14.0), f64::max);
    }
    // On a later sheet a flag stands where the supply would.
    let string = if plan.ends {
        string
    } else if across {
        14.0
    } else {
        let name = |node: NodeId| scheme.nodes[node].wire.clone().unwrap_or_default();
        let width = |node| words::Piece::bold(name(node)).width() + 20.0;
        half_up(f64::max(width(plan.plus), width(plan.minus)))
    };
    Block {
        plan,
        ranks,
        buses,
        regions,
        sides,
        heights,
        thickness,
        lift,
        lead,
        string,
        foot,
        style,
    }
}

/// Room for the name of a leg that lies across, left of its rail, mm.
pub const LEG_NAME: f64 = 25.0;

/// First and last column and the name of each leg.
pub fn unit_columns(scheme: &Scheme, plan: &Plan) -> Vec<(usize, usize, String)> {
    let mut found = Vec::new();
    let mut first = 0;
    for unit in &plan.units {
        let last = first + unit.width() - 1;
        let name = unit.leg.map_or_else(String::new, |leg| scheme.legs[leg].name.clone());
        found.push((first, last, name));
        first = last + 1;
    }
    found
}

fn half_up(value: f64) -> f64 {
    (value * 2.0).ceil() / 2.0
}

struct Needs {
    left: f64,
    right: f64,
    half_height: f64,
}

/// Base line of each of `count` lines beside a symbol, from its middle, mm.
pub fn base_lines(count: usize) -> Vec<f64> {
    let leading = MODULE * LEADING;
    let first = MODULE / 2.0 - leading * (count.max(1) - 1) as f64 / 2.0;
    let lift = if count > 1 { 0.4 } else { 0.0 };
    (0..count).map(|line| first - lift + leading * line as f64).collect()
}

/// From the middle of a symbol to its texts, mm, for a body that reaches `body` mm.
pub fn beside(body: f64) -> f64 {
    BESIDE.max(body + 1.1)
}

/// From the middle of an upright part to its texts, mm.
pub fn beside_of(scheme: &Scheme, part: PartId, style: Style) -> f64 {
    beside(symbols::draw(&words::figure(scheme, part), style.symbols).body.right)
}

/// The lines beside a part as they are measured and drawn.
pub fn lines(
    scheme: &Scheme,
    part: PartId,
    reference: Option<&str>,
    style: Style,
) -> Vec<words::Line> {
    words::beside(scheme, part, reference, (room_beside(style), style))
}

/// Room for words beside a part, mm.
pub fn room_beside(style: Style) -> f64 {
    match (style.across(), style.beside) {
        (true, _) => ROOM_ABOVE,
        (false, Beside::Wide) => ROOM_WIDE,
        (false, _) => ROOM,
    }
}

/// Room for names above and below a lying part, mm.
const ROOM_ABOVE: f64 = 24.0;
/// From a lying body to the base line above it, and to the letters below it, mm.
pub const ABOVE: f64 = 1.2;
/// See [`ABOVE`].
pub const BELOW: f64 = 1.0;

/// How far a lying part reaches above and below its wire, its screw numbers included, mm.
pub fn reach_across(scheme: &Scheme, part: PartId, style: Style) -> (f64, f64) {
    let symbol = symbols::draw(&words::figure(scheme, part), style.symbols);
    let screws = if screws::screws(scheme, part, style).is_some() { 3.3 } else { 1.6 };
    (symbol.body.right.max(screws), f64::max(-symbol.body.left, 1.6))
}

fn needs_across(scheme: &Scheme, part: PartId, style: Style) -> Needs {
    let symbol = symbols::draw(&words::figure(scheme, part), style.symbols);
    let reference = lists::coil_of(scheme, part).map(|_| any_reference(style));
    let lines = lines(scheme, part, reference, style);
    let width = lines.iter().map(|line| words::line_width(line)).fold(0.0, f64::max);
    let (above, under) = reach_across(scheme, part, style);
    // A rating alone stands below.
    let named = lines
        .first()
        .is_some_and(|line| line.iter().any(|piece| piece.ink == crate::geometry::Ink::Main));
    let below = lines.len() - usize::from(named);
    let down = if below == 0 {
        under
    } else {
        under + BELOW + MODULE * (1.0 + LEADING * (below - 1) as f64 + lettering::DESCENT)
    };
    let is_core = matches!(scheme.parts[part].kind, PartKind::Core(_));
    let ends = symbol.reach + terminals_width(scheme, part, style);
    let ground = ground_of(scheme, part);
    Needs {
        left: above + ABOVE + MODULE + 0.7,
        right: down + 0.7,
        half_height: match core_places(scheme, part, false) {
            Some((from, into)) if from != ground && into != ground => {
                ends.max(symbols::EDGE + 1.6 + width)
            }
            _ if is_core => ends.max(width),
            _ => ends.max(width / 2.0 + 0.6),
        },
    }
}

/// The place of the rails of a part's circuit.
fn ground_of(scheme: &Scheme, part: PartId) -> PlaceId {
    let circuit = scheme.parts[part].at.map(|at| scheme.circuits[at.circuit].plus);
    circuit.map_or(PlaceId::from_index(0), |rail| scheme.nodes[rail].place)
}

fn part_needs(scheme: &Scheme, part: PartId, style: Style) -> Needs {
    if style.across() {
        return needs_across(scheme, part, style);
    }
    let symbol = symbols::draw(&words::figure(scheme, part), style.symbols);
    let reference = lists::coil_of(scheme, part).map(|_| any_reference(style));
    let lines = lines(scheme, part, reference, style);
    let width = lines.iter().map(|line| words::line_width(line)).fold(0.0, f64::max);
    let base = base_lines(lines.len());
    let top = base.first().map_or(0.0, |first| MODULE - first);
    let bottom = base.last().map_or(0.0, |last| last + MODULE * lettering::DESCENT);
    let beside = beside(symbol.body.right);
    let terminals = terminals_width(scheme, part, style);
    let is_core = matches!(scheme.parts[part].kind, PartKind::Core(_));
    // Numbers above and below an IEC contact need their own room.
    let is_contact = matches!(scheme.parts[part].kind, PartKind::Contact(_));
    let screws_reach = if style.iec() && is_contact && terminals > 0.0 {
        symbol.reach + 0.6 + MODULE - 1.7
    } else {
        0.0
    };
    Needs {
        left: f64::max(-symbol.body.left, 1.6 + terminals) + 0.5,
        right: f64::max(symbol.body.right, beside + width) + 1.0,
        half_height: if is_core {
            symbol.reach
        } else {
            symbol.reach.max(top).max(bottom).max(screws_reach)
        },
    }
}

fn terminals_width(scheme: &Scheme, part: PartId, style: Style) -> f64 {
    let Some(screws) = screws::screws(scheme, part, style) else { return 0.0 };
    [screws.upper, screws.lower]
        .iter()
        .map(|words| lettering::width(words, MODULE, crate::geometry::Weight::Plain))
        .fold(0.0, f64::max)
        + if matches!(scheme.parts[part].kind, PartKind::Contact(_)) { 1.8 } else { 0.4 }
}

/// Screw numbers of a part, upstream first: its own, or where a core lands.
pub fn terminals(scheme: &Scheme, part: PartId) -> Option<(String, String)> {
    let part = &scheme.parts[part];
    if let PartKind::Core(core) = &part.kind {
        let cable = &scheme.cables[core.cable];
        let landing = cable.landings.iter().find(|landing| core.cores.contains(&landing.core))?;
        let (from, to) = (landing.from.clone(), landing.to.clone());
        let forward = core.into == cable.to;
        let (upper, lower) = if forward { (from, to) } else { (to, from) };
        return Some((upper.unwrap_or_default(), lower.unwrap_or_default()));
    }
    part.terminals.clone()
}

fn buses(plan: &Plan, ranks: &Ranks) -> Vec<Bus> {
    let spans = spans(plan, ranks);
    let mut buses: Vec<Bus> = Vec::new();
    for (node, columns) in bus_columns(plan) {
        let flag = plan.outside.contains(&node);
        if columns.len() > 1 || flag {
            let level = ranks.level(node);
            buses.push(Bus { node, columns, level, track: 0, flag, looped: false });
        }
    }
    for (column, run) in plan.columns().filter(|(_, run)| run.looped) {
        let level = ranks.span(run).1;
        let node = run.bottom();
        let columns = vec![column];
        buses.push(Bus { node, columns, level, track: 0, flag: true, looped: true });
    }
    let levels: Vec<usize> = {
        let mut levels: Vec<usize> = buses.iter().map(|bus| bus.level).collect();
        levels.sort_unstable();
        levels.dedup();
        levels
    };
    for level in levels {
        let mut row: Vec<Bus> = buses.iter().filter(|bus| bus.level == level).cloned().collect();
        buses.retain(|bus| bus.level != level);
        stack(&mut row, &spans);
        buses.extend(row);
    }
    buses
}

/// Gives buses that would lie on each other different tracks, in the order that crosses least.
fn stack(row: &mut [Bus], spans: &Spans) {
    row.sort_by_key(|bus| (bus.columns.len() > 1, bus.first(), bus.last()));
    // Exchange neighbours while that saves a crossing; rows are short.
    for _ in 0..row.len() {
        let mut better = false;
        for upper in 1..row.len() {
            let (a, b) = (&row[upper - 1], &row[upper]);
            if meetings(b, a, spans) < meetings(a, b, spans) {
                row.swap(upper - 1, upper);
                better = true;
            }
        }
        if !better {
            break;
        }
    }
    for index in 0..row.len() {
        let (before, rest) = row.split_at_mut(index);
        if let Some(bus) = rest.first_mut() {
            bus.track = before
                .iter()
                .filter(|other| other.overlaps(bus))
                .map(|other| other.track + 1)
                .max()
                .unwrap_or(0);
        }
    }
}

/// Crossings of two overlapping buses with `upper` on top.
fn meetings(upper: &Bus, lower: &Bus, spans: &Spans) -> usize {
    let covers = |bus: &Bus, column: usize| bus.first() <= column && column <= bus.last();
    let goes = |column: usize, test: &dyn Fn((usize, usize)) -> bool| {
        spans.get(column).is_some_and(|spans| spans.iter().any(|span| test(*span)))
    };
    let down = upper.columns.iter().filter(|column| {
        covers(lower, **column)
            && goes(**column, &|(top, end)| top <= upper.level && end > upper.level)
    });
    let up = lower.columns.iter().filter(|column| {
        covers(upper, **column)
            && goes(**column, &|(top, end)| top < lower.level && end >= lower.level)
    });
    down.count() + up.count()
}

/// Makes ranks higher where the name of a place would not stand inside its frame.
/// Ranks of a circuit without any leg.
const EMPTY: usize = 3;

fn make_room_for_names(scheme: &Scheme, regions: &[Region], heights: &mut [f64]) {
    for region in regions {
        let name = &scheme.places[region.place].name;
        let wanted = lettering::width(name, MODULE, crate::geometry::Weight::Bold) + 3.4;
        let (first, last) = region.levels();
        let inside: f64 = heights.get(first..last).unwrap_or_default().iter().sum();
        // Of the cores that lead in and out, what lies on this side of the edge.
        let cores = region.cells.iter().any(|cell| !cell.above.is_empty());
        let out = region.cells.iter().any(|cell| !cell.below.is_empty());
        let mut ends: Vec<usize> = Vec::new();
        ends.extend(first.checked_sub(1).filter(|_| cores));
        ends.extend(Some(last).filter(|_| out));
        let half = |rank: &usize| heights.get(*rank).map_or(0.0, |it| it / 2.0 - symbols::EDGE);
        let lacking = wanted - inside - ends.iter().map(half).sum::<f64>();
        if lacking <= 0.0 {
            continue;
        }
        if let (true, Some(height)) = (first < last, heights.get_mut(first)) {
            *height = half_up(*height + lacking);
        } else {
            for rank in &ends {
                if let Some(height) = heights.get_mut(*rank) {
                    *height = half_up(*height + 2.0 * lacking / ends.len().max(1) as f64);
                }
            }
        }
    }
}

/// Where things of a supply string stand, mm from the terminal of the supply.
pub fn string_slots(scheme: &Scheme, parts: &[PartId], lead: f64, style: Style) -> Vec<f64> {
    let mut at = lead;
    let mut slots = Vec::new();
    for part in parts {
        let half = slot_half(scheme, *part, style);
        slots.push(at + half);
        at += 2.0 * half;
    }
    slots
}

fn slot_half(scheme: &Scheme, part: PartId, style: Style) -> f64 {
    let symbol = symbols::draw(&words::figure(scheme, part), style.symbols);
    let lines = words::beside(scheme, part, None, (f64::INFINITY, style));
    if style.across() {
        let text = MODULE * LEADING * lines.len() as f64 / 2.0 + 0.8;
        return half_up(f64::max(symbol.reach + 1.5, text));
    }
    let text = lines.iter().map(|line| words::line_width(line)).fold(0.0, f64::max);
    // The name of a core ends before the edge of the place that the core crosses.
    let is_core = matches!(scheme.parts[part].kind, PartKind::Core(_));
    let text = if is_core { text - 0.5 } else { text / 2.0 + 1.5 };
    half_up(f64::max(symbol.reach + 3.0, text))
}

/// Length of a supply string, mm.
pub fn string_length(scheme: &Scheme, parts: &[PartId], lead: f64, style: Style) -> f64 {
    parts.iter().map(|part| 2.0 * slot_half(scheme, *part, style)).sum::<f64>() + lead
}

/// Room between a supply's terminal and the first part, for the supply's words above it, mm.
fn lead(scheme: &Scheme, plan: &Plan) -> f64 {
    let supply = &scheme.supplies[scheme.circuits[plan.circuit].supply];
    let nominal = words::Piece::second(words::short(&supply.nominal.written)).width();
    half_up(f64::max(4.0, words::Piece::bold(&supply.name).width().max(nominal) - 4.0))
}

impl Block {
    /// x of the first column from the left edge of the frame, mm.
    pub fn first_column(&self) -> f64 {
        if self.style.across() {
            // The name of a place stands above its first row.
            let frame = if self.regions.iter().any(|region| region.first == 0) { 9.0 } else { 0.0 };
            let before = self.sides.first().map_or(0.0, |sides| sides.0);
            return half_up((23.0 + before + frame).max(8.0 + self.string + 12.0));
        }
        // The mirror under a coil reaches left of its column: not under the fuse's rating.
        let before = self.sides.first().map_or(0.0, |sides| sides.0);
        let mirror = if self.style.iec() { before + 1.0 } else { 0.0 };
        f64::max(46.0, half_up(8.0 + self.string + f64::max(16.0, mirror)))
    }
    /// x of every column from the left edge of the frame, at a column distance of `pitch`.
    pub fn column_places(&self, pitch: f64) -> Vec<f64> {
        let mut x = self.first_column();
        let mut places = Vec::new();
        for (column, (left, _)) in self.sides.iter().enumerate() {
            if column > 0 {
                let before = self.sides[column - 1].1;
                x += half_up(f64::max(pitch, before + left + 0.6));
            }
            places.push(x);
        }
        places
    }
    /// Width from the left edge of the frame, mm, at a column distance of `pitch`.
    pub fn width(&self, pitch: f64) -> f64 {
        let places = self.column_places(pitch);
        let last = places.last().copied().unwrap_or(46.0);
        let beside = self.sides.last().map_or(10.0, |sides| sides.1);
        if self.style.across() {
            return half_up(last + self.beyond_last() + 6.0);
        }
        half_up(last + beside.max(16.0) + 6.0)
    }
    /// From the last column to the ends of the rails, mm: legs across keep the flags there clear
    /// of what stands beside the last coil.
    fn beyond_last(&self) -> f64 {
        let beside = self.sides.last().map_or(0.0, |sides| sides.1);
        if self.style.across() { half_up(f64::max(8.0, beside + 1.0)) } else { 8.0 }
    }
    /// Heights of ranks when none is lower than `pitch`.
    pub fn rank_heights(&self, pitch: f64) -> Vec<f64> {
        self.heights.iter().map(|height| height.max(pitch)).collect()
    }
    /// Height from title to foot, mm, when no rank is lower than `pitch`.
    pub fn height(&self, pitch: f64) -> f64 {
        let ranks: f64 = self.rank_heights(pitch).iter().sum();
        let between: f64 = self.thickness.iter().sum();
        half_up(head(self.style) + ranks + between + 8.0 + self.foot)
    }
}

/// A block on its sheet, all in mm of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The block.
    pub block: Block,
    /// Its number among all blocks of the drawing.
    pub number: usize,
    /// Number of its sheet, from 1.
    pub sheet: usize,
    /// x of every column.
    pub x: Vec<f64>,
    /// y of the middle of every rank.
    pub rank_y: Vec<f64>,
    /// Half the height of every rank.
    pub half: Vec<f64>,
    /// y of every level.
    pub level_y: Vec<f64>,
    /// Left edge of the frame of the sheet.
    pub left: f64,
    /// x where the rails begin.
    pub rail_left: f64,
    /// x where the rails end.
    pub rail_right: f64,
    /// Top of the block.
    pub top: f64,
    /// Number of its first path, where paths are counted.
    pub first_path: usize,
}

/// Puts the block of that number on that sheet.
pub fn place(
    block: Block,
    (number, sheet): (usize, usize),
    (left, top): (f64, f64),
    pitch: (f64, f64),
) -> Placed {
    let x: Vec<f64> = block.column_places(pitch.0).iter().map(|x| x + left).collect();
    let mut y = top + head(block.style);
    let mut level_y = vec![y];
    let mut rank_y = Vec::new();
    let heights = block.rank_heights(pitch.1);
    for (rank, height) in heights.iter().enumerate() {
        y += block.thickness[rank];
        rank_y.push(y + height / 2.0);
        y += height;
        level_y.push(y);
    }
    let rail_left = left + half_up(8.0 + block.string);
    let last = x.last().copied().unwrap_or(rail_left);
    let rail_right = last + block.beyond_last();
    Placed {
        half: heights.iter().map(|height| height / 2.0).collect(),
        block,
        number,
        sheet,
        x,
        rank_y,
        level_y,
        left,
        rail_left,
        rail_right,
        top,
        first_path: 1,
    }
}

impl Placed {
    /// Where a point lies on the sheet: legs that lie across are drawn with both axes exchanged.
    pub fn at(&self, x: f64, y: f64) -> crate::geometry::Point {
        if self.block.style.across() {
            crate::geometry::point(y, x)
        } else {
            crate::geometry::point(x, y)
        }
    }
    /// y of the upper rail.
    pub fn upper_rail(&self) -> f64 {
        self.level_y[0]
    }
    /// y of the lower rail.
    pub fn lower_rail(&self) -> f64 {
        self.level_y[self.level_y.len() - 1]
    }
    /// y of a wire.
    pub fn wire_y(&self, node: NodeId) -> f64 {
        if node == self.block.plan.plus {
            return self.upper_rail();
        }
        if node == self.block.plan.minus {
            return self.lower_rail();
        }
        let bus = self.block.buses.iter().find(|bus| bus.node == node && !bus.looped);
        bus.map_or_else(|| self.level_y[self.block.ranks.level(node)], |bus| self.bus_y(bus))
    }
    /// y of a bus.
    pub fn bus_y(&self, bus: &Bus) -> f64 {
        self.level_y[bus.level] + self.block.lift[bus.level] + bus.track as f64 * TRACK
    }
    /// Middle of a part in a column, y.
    pub fn part_y(&self, part: PartId) -> f64 {
        self.rank_y.get(self.block.ranks.rank(part)).copied().unwrap_or(self.top)
    }
}
