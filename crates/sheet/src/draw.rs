//! From scheme to drawing: circuits to columns, columns to sheets, sheets to strokes.
//! **In:** a checked scheme and options. **Out:** a [`Drawing`]. **Never here:** volts, time,
//! files.

use crate::arranged::Arranged;
use crate::block::{self, Block, Placed, column_pitch, rank_pitch};
use crate::changes::{CHANGED_ROW, Changes};
use crate::geometry::{Drawing, Group, Role, Sheet};
use crate::ink::{self, Mentions, Neighbours, Shared};
use crate::lines::Lines;
use crate::lists::{self, References, TABLE, TABLE_GAP, Table};
use crate::live::Live;
use crate::meaning;
use crate::names::{self, Unique};
use crate::notes::{self, OnSheet};
use crate::order;
use crate::page::{self, Paper, TITLE_HEIGHT, TitleBlock};
use crate::plan::{self, Plan, Share, Taps};
use crate::rank;
use crate::style::{Beside, Legs, Style, Symbols};
use fiftytwo_scheme::{CableId, CircuitId, DeviceId, NodeId, Scheme};
use std::collections::{BTreeMap, BTreeSet};

/// What may be chosen for a drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// Paper; a circuit that does not fit gets the next larger of its series.
    pub paper: Paper,
    /// Whether low circuits may share a sheet.
    pub share: bool,
    /// Symbols and their habits.
    pub symbols: Symbols,
    /// How the legs lie.
    pub legs: Legs,
    /// A sheet before all others, with the list of sheets and the legend.
    pub cover: bool,
}

impl Options {
    fn style(&self) -> Style {
        Style { symbols: self.symbols, legs: self.legs, ..Style::default() }
    }
}

impl Default for Options {
    fn default() -> Self {
        Self {
            paper: Paper::AnsiB,
            share: true,
            symbols: Symbols::Ieee315,
            legs: Legs::Upright,
            cover: false,
        }
    }
}

/// How much higher than the least the ranks of circuits that share a sheet are, mm.
const SHARED_RANK: f64 = 1.5;
/// What words beside contacts leave free of a sheet's height, mm: wire numbers may need it.
const EASE: f64 = 2.0;
/// How often a block is given more room where a wire number found none.
const ROUNDS: usize = 6;
/// How many tables in a row may not fit a sheet before it is left as it is.
const TRIED: usize = 24;
/// Rounds of splitting a circuit that still does not fit its paper.
const SPLITS: usize = 4;

/// A circuit, or a part of it, with its neighbours.
struct Part {
    block: Block,
    circuit: CircuitId,
    index: usize,
    of: usize,
}

/// Draws all circuits of a scheme.
pub fn draw(scheme: &Scheme, options: &Options) -> Drawing {
    arranged(scheme, options, (None, None), None).1
}

/// Draws all circuits of a scheme with what changed since an earlier text: clouds, and a table of all
/// changes, those that no sheet shows included.
pub fn draw_changed(scheme: &Scheme, options: &Options, changes: &Changes) -> Drawing {
    let mut drawing = arranged(scheme, options, (None, None), Some(changes)).1;
    crate::changes::mark(&mut drawing, scheme, changes);
    drawing
}

/// Draws all circuits of a scheme with the pointers of a state and another first note; wires are
/// dressed by whoever asks.
pub(crate) fn draw_pointed(scheme: &Scheme, options: &Options, live: &Live, told: &str) -> Drawing {
    arranged(scheme, options, (Some(live), Some(told)), None).1
}

/// Draws all circuits of a scheme in a state, arranged as at rest: nothing moves. What finds no room
/// beside its wire or part stands in the notes of its sheet.
pub fn draw_live(scheme: &Scheme, options: &Options, live: &Live) -> Drawing {
    Arranged::new(scheme, options).0.live(live)
}

/// A state to be shown, and what the first note says instead of it.
pub(crate) type Shown<'a> = (Option<&'a Live>, Option<&'a str>);

pub(crate) fn arranged<'s>(
    scheme: &'s Scheme,
    options: &Options,
    shown: Shown<'_>,
    changes: Option<&Changes>,
) -> (Arranged<'s>, Drawing) {
    let style = options.style();
    let taps = plan::taps(scheme);
    let mut notes = Vec::new();
    let plans = plans(scheme, &taps);
    let numbers = names::wire_numbers(scheme, &plans);
    let mut paper = options.paper;
    let mut parts = parts(scheme, &plans, &taps, (paper, style));
    while !parts.iter().all(|part| fits(&part.block, paper)) {
        let Some(larger) = paper.larger() else {
            notes.push("A circuit is too large for the largest paper.".to_owned());
            break;
        };
        paper = larger;
        parts = self::parts(scheme, &plans, &taps, (paper, style));
    }
    if paper != options.paper {
        notes.push(format!(
            "{} is too small for this scheme: drawn on {}.",
            options.paper.name(),
            paper.name()
        ));
    }
    for part in parts.iter().filter(|part| part.index == 0 && part.of > 1) {
        notes.push(format!(
            "Circuit {} is drawn in {} parts.",
            scheme.circuits[part.circuit].name, part.of
        ));
    }
    let mut round = 0;
    loop {
        round += 1;
        let set =
            Set::arrange(scheme, parts, (paper, style), (options.share, options.cover), changes);
        let common = set.common(scheme, &numbers);
        let (drawing, crowded) = set.draw(&common, &notes, shown);
        if crowded.is_empty() || round == ROUNDS {
            drop(common);
            return (Arranged::of(scheme, set, numbers, notes), drawing);
        }
        drop(common);
        parts = set.parts;
        for (part, level) in crowded {
            if let Some(part) = parts.get_mut(part) {
                widen(&mut part.block, level);
            }
        }
        if !parts.iter().all(|part| fits(&part.block, paper))
            && let Some(larger) = paper.larger()
        {
            paper = larger;
            notes.push(format!("Drawn on {} to give every wire number room.", paper.name()));
        }
    }
}

/// All circuits in columns, their legs in the order to be drawn.
pub(crate) fn plans(scheme: &Scheme, taps: &Taps) -> Vec<Plan> {
    let mut loose = plan::loose_parts(scheme);
    scheme
        .circuits
        .iter()
        .map(|(id, circuit)| {
            let loose = loose.remove(&id).unwrap_or_default();
            let share = Share { legs: circuit.legs.clone(), loose, ends: true };
            let mut plan = plan::plan(scheme, id, &share, taps);
            let ranks = rank::ranks(scheme, &plan);
            plan.share_columns(|run| ranks.span(run));
            order::arrange(scheme, &mut plan, &ranks);
            plan
        })
        .collect()
}

fn widen(block: &mut Block, level: usize) {
    for rank in [level.checked_sub(1), Some(level)].into_iter().flatten() {
        if let Some(height) = block.heights.get_mut(rank) {
            *height += 2.0;
        }
    }
}

/// What circuits may take of a sheet: along the rails and from rail to rail, mm.
fn room(paper: Paper, style: Style) -> (f64, f64) {
    let frame = paper.frame();
    let width = frame.width() - 4.0;
    let height = frame.height() - 2.0 - TITLE_HEIGHT.max(notes::STRIP) - 3.0;
    if style.across() { (height, width) } else { (width, height) }
}

fn fits(block: &Block, paper: Paper) -> bool {
    let (width, height) = room(paper, block.style);
    block.width(column_pitch(block.style).0) <= width
        && block.height(rank_pitch(block.style).0) <= height
}

/// A circuit in as many parts as its paper asks for.
fn cut(scheme: &Scheme, whole: Block, taps: &Taps, (paper, style): (Paper, Style)) -> Vec<Block> {
    let narrow = column_pitch(style).0;
    let mut width = room(paper, style).0;
    if whole.width(narrow) <= width {
        return vec![whole];
    }
    let mut blocks = Vec::new();
    for _ in 0..SPLITS {
        blocks = split(&whole, width)
            .iter()
            .map(|share| measured(scheme, whole.plan.circuit, share, (taps, style)))
            .collect();
        if blocks.iter().all(|block| block.width(narrow) <= room(paper, style).0) {
            break;
        }
        width -= 14.0;
    }
    blocks
}

/// Whether a circuit leaves room for wire numbers between its rails, at the least height of ranks and
/// a little more.
fn is_low_enough(block: &Block, (paper, style): (Paper, Style)) -> bool {
    let ranks = rank_pitch(style);
    let height = room(paper, style).1;
    block.height(ranks.0) + EASE <= height
}

fn measured(
    scheme: &Scheme,
    circuit: CircuitId,
    share: &Share,
    (taps, style): (&Taps, Style),
) -> Block {
    let mut plan = plan::plan(scheme, circuit, share, taps);
    let ranks = rank::ranks(scheme, &plan);
    plan.share_columns(|run| ranks.span(run));
    block::measure(scheme, plan, ranks, style)
}

fn parts(
    scheme: &Scheme,
    plans: &[Plan],
    taps: &Taps,
    (paper, style): (Paper, Style),
) -> Vec<Part> {
    let mut parts = Vec::new();
    for plan in plans {
        let share = Share {
            legs: plan.units.iter().filter_map(|unit| unit.leg).collect(),
            loose: plan.units.iter().filter_map(|unit| unit.loose).collect(),
            ends: true,
        };
        let at = |beside: Beside| {
            let style = Style { beside, ..style };
            let whole = measured(scheme, plan.circuit, &share, (taps, style));
            let is_low = is_low_enough(&whole, (paper, style));
            (cut(scheme, whole, taps, (paper, style)), is_low)
        };
        // Words beside contacts may cost neither another part nor larger paper.
        let (mut blocks, is_low) = at(Beside::All);
        if blocks.len() > 1 || !is_low {
            let (least, _) = at(Beside::Names);
            let fits =
                |(blocks, is_low): &(Vec<Block>, bool)| *is_low && blocks.len() <= least.len();
            let mut tried = (blocks, is_low);
            for beside in [Beside::Conditions, Beside::Wide] {
                if !fits(&tried) {
                    tried = at(beside);
                }
            }
            blocks = if fits(&tried) { tried.0 } else { least };
        }
        let of = blocks.len();
        for (index, mut block) in blocks.into_iter().enumerate() {
            if of > 1 {
                // Flags stand at the ends of the rails: keep the texts beside them away.
                for (place, more) in [(0, 2.0), (block.heights.len().max(1) - 1, 2.0)] {
                    if let Some(height) = block.heights.get_mut(place) {
                        *height += more;
                    }
                }
            }
            parts.push(Part { block, circuit: plan.circuit, index, of });
        }
    }
    parts
}

/// Cuts the legs of a block into stretches no wider than `room` mm, where fewest wires cross.
fn split(block: &Block, room: f64) -> Vec<Share> {
    let units = &block.plan.units;
    let places = block.column_places(column_pitch(block.style).0);
    let mut first_column = Vec::new();
    let mut column = 0;
    for unit in units {
        first_column.push(column);
        column += unit.width();
    }
    first_column.push(column);
    let width = |from: usize, to: usize| {
        let (first, last) = (first_column[from], first_column[to].max(1) - 1);
        let span = places.get(last).zip(places.get(first)).map_or(0.0, |(b, a)| b - a);
        block.first_column() + span + block.sides.get(last).map_or(0.0, |sides| sides.1) + 6.0
    };
    let crossing = crossing_cuts(block);
    // Cheapest cuts up to each leg: (price, last cut).
    let mut best: Vec<(f64, usize)> = vec![(0.0, 0)];
    for to in 1..=units.len() {
        let mut found = (f64::INFINITY, to - 1);
        for (from, before) in best.iter().enumerate().rev() {
            let wide = width(from, to);
            if wide > room && from + 1 < to {
                break;
            }
            let cut = if from == 0 { 0.0 } else { 12.0 * crossing[from] as f64 + 20.0 };
            // Even sheets read better than one full and one nearly empty.
            let uneven = (wide / room - 0.8).powi(2) * 4.0;
            let price = before.0 + cut + uneven;
            if price < found.0 {
                found = (price, from);
            }
        }
        best.push(found);
    }
    let mut cuts = vec![units.len()];
    while let Some(last) = cuts.last().copied().filter(|last| *last > 0) {
        cuts.push(best[last].1);
    }
    cuts.reverse();
    cuts.windows(2)
        .map(|pair| {
            let units = &units[pair[0]..pair[1]];
            Share {
                legs: units.iter().filter_map(|unit| unit.leg).collect(),
                loose: units.iter().filter_map(|unit| unit.loose).collect(),
                ends: pair[0] == 0,
            }
        })
        .collect()
}

/// How many wires but the rails cross a cut before each leg.
fn crossing_cuts(block: &Block) -> Vec<usize> {
    let mut reach: BTreeMap<NodeId, (usize, usize)> = BTreeMap::new();
    for (at, unit) in block.plan.units.iter().enumerate() {
        for node in unit.runs.iter().flat_map(|run| &run.nodes) {
            if !block.plan.is_rail(*node) {
                reach.entry(*node).or_insert((at, at)).1 = at;
            }
        }
    }
    let mut cuts = vec![0; block.plan.units.len() + 1];
    for (first, last) in reach.into_values() {
        cuts.iter_mut().take(last + 1).skip(first + 1).for_each(|count| *count += 1);
    }
    cuts
}

/// One sheet before it is drawn.
#[derive(Default)]
struct Page {
    /// Indices of parts, with where they stand.
    blocks: Vec<(usize, Placed)>,
    /// Tables with their upper left corners.
    tables: Vec<(Table, (f64, f64))>,
    title: String,
    cover: bool,
}

/// All sheets before they are drawn.
pub(crate) struct Set {
    paper: Paper,
    style: Style,
    pages: Vec<Page>,
    parts: Vec<Part>,
}

/// What all sheets of a set are drawn with.
pub(crate) struct Common<'a> {
    scheme: &'a Scheme,
    numbers: &'a BTreeMap<NodeId, names::WireNumber>,
    pub references: References,
    wires: Mentions,
    tables: BTreeMap<DeviceId, String>,
    lines: Lines,
    spare: BTreeMap<CableId, usize>,
}

/// What sheets hand on to the next one: names given, and how many pieces each wire has.
#[derive(Debug, Default)]
pub(crate) struct Given {
    pub unique: Unique,
    pub pieces: BTreeMap<NodeId, usize>,
}

/// The parts of a drawing at which a wire number found no room, with its levels.
type Crowded = BTreeSet<(usize, usize)>;

impl Set {
    fn arrange(
        scheme: &Scheme,
        parts: Vec<Part>,
        (paper, style): (Paper, Style),
        (share, cover): (bool, bool),
        changes: Option<&Changes>,
    ) -> Self {
        let (width, height) = room(paper, style);
        let across = style.across();
        let frame = paper.frame();
        let high = room(paper, Style::default()).1 - 4.0;
        let mut own = lists::tables(scheme);
        let mut front = Vec::new();
        if cover {
            front.extend(lists::devices(scheme));
        }
        if let Some(changes) = changes {
            own.iter_mut().for_each(|table| table.mark(scheme, &changes.rows));
            front.extend(changes.table(scheme));
        }
        let mut pages = Vec::new();
        if cover {
            let mut page = Page { title: "Cover".to_owned(), cover, ..Page::default() };
            // As many lines as there may be sheets.
            let sheets: Vec<_> = (0..parts.len() + 2).map(|at| (at, String::new())).collect();
            let drawn = crate::cover::cover(scheme, paper, style, &sheets);
            let shapes = drawn.iter().flat_map(|group| &group.shapes);
            let below = shapes.map(|shape| shape.area().bottom).fold(frame.top, f64::max);
            let mut tables = Tables::new(front, high);
            fill(&mut page, &mut tables, paper, (frame.right, below));
            front = tables.left();
            pages.push(page);
        }
        own.extend(front);
        let mut tables = Tables::new(own, high);
        let before = pages.len() + 1;
        for (page, shelves) in shelves(scheme, &parts, (paper, style), share).iter().enumerate() {
            let widest = |pitch: f64| {
                let length = |shelf: &Vec<usize>| -> f64 {
                    shelf.iter().map(|index| parts[*index].block.width(pitch)).sum()
                };
                shelves.iter().map(length).fold(0.0, f64::max)
            };
            let tall = |pitch: f64| -> f64 {
                shelves.iter().map(|shelf| shelf_height(&parts, shelf, pitch)).sum()
            };
            let beside = TABLE + 6.0;
            let (columns, ranks) = (column_pitch(style), rank_pitch(style));
            let free = !tables.is_empty() && !across;
            let space = free && widest(columns.0 + 2.0) + beside <= width;
            let limit = if space { width - beside } else { width };
            let pitch_x = largest(columns, |pitch| widest(pitch) <= limit);
            let pitch_y = largest(ranks, |pitch| tall(pitch) <= height);
            let mut sheet = Page::default();
            // Legs across: shelves stand side by side, the circuits of one below each other.
            let start = if across { frame.top } else { frame.left };
            let mut top = if across { frame.left + 2.0 } else { frame.top + 2.0 };
            let mut path = 1;
            for shelf in shelves {
                let mut left = start;
                for index in shelf {
                    let block = parts[*index].block.clone();
                    let taken = block.width(pitch_x);
                    let mut placed = block::place(
                        block,
                        (*index, page + before),
                        (left, top),
                        (pitch_x, pitch_y),
                    );
                    placed.first_path = path;
                    path += placed.x.len();
                    sheet.blocks.push((*index, placed));
                    left += taken;
                }
                top += shelf_height(&parts, shelf, pitch_y);
            }
            let on: Vec<&Part> = shelves.iter().flatten().map(|index| &parts[*index]).collect();
            sheet.title = title(scheme, &on);
            let end = start + widest(pitch_x);
            let (right, below) = if across { (top, end) } else { (end, top) };
            fill(&mut sheet, &mut tables, paper, (right, below));
            pages.push(sheet);
        }
        while !tables.is_empty() {
            let mut sheet = Page { title: "Tables".to_owned(), ..Page::default() };
            fill(&mut sheet, &mut tables, paper, (frame.left, frame.top));
            if sheet.tables.is_empty() {
                break;
            }
            pages.push(sheet);
        }
        Self { paper, style, pages, parts }
    }

    pub(crate) fn common<'a>(
        &self,
        scheme: &'a Scheme,
        numbers: &'a BTreeMap<NodeId, names::WireNumber>,
    ) -> Common<'a> {
        Common {
            scheme,
            numbers,
            references: self.references(),
            wires: self.wires(scheme),
            tables: self.table_sheets(),
            lines: Lines::new(&scheme.sources),
            spare: crate::cover::spare_cores(scheme),
        }
    }

    /// How many sheets there are.
    pub(crate) fn sheets(&self) -> usize {
        self.pages.len()
    }

    pub(crate) fn draw(
        &self,
        common: &Common<'_>,
        notes: &[String],
        shown: Shown<'_>,
    ) -> (Drawing, Crowded) {
        let scheme = common.scheme;
        let mut drawing =
            Drawing { title: scheme.title.clone(), sheets: Vec::new(), notes: notes.to_vec() };
        let mut given = Given::default();
        let mut crowded = Crowded::new();
        for page in 0..self.pages.len() {
            let drawn = self.draw_sheet(common, page, (shown, false), &mut given);
            let Some((sheet, here)) = drawn else { continue };
            drawing.sheets.push(sheet);
            crowded.extend(here);
        }
        meaning::tell(&mut drawing, scheme, &common.references);
        (drawing, crowded)
    }

    /// One sheet by its index, its texts not marked yet. `bones`: without what depends on a state.
    pub(crate) fn draw_sheet(
        &self,
        common: &Common<'_>,
        page: usize,
        ((live, told), bones): (Shown<'_>, bool),
        given: &mut Given,
    ) -> Option<(Sheet, Crowded)> {
        let Common { scheme, numbers, .. } = *common;
        let sheet = self.pages.get(page)?;
        let places = self.blocks().map(|(index, placed)| (*index, placed)).collect();
        let shared = Shared {
            scheme,
            numbers,
            references: &common.references,
            tables: &common.tables,
            wires: &common.wires,
            live,
            lines: &common.lines,
            spare: &common.spare,
            bare: false,
            bones,
        };
        let mut crowded = Crowded::new();
        let of = self.pages.len();
        let number = page + 1;
        let (width, height) = self.paper.size();
        let mut items = vec![page::frame(self.paper, number)];
        let mut boxes = Vec::new();
        let mut on = OnSheet::default();
        for (part, placed) in &sheet.blocks {
            let neighbours =
                self.neighbours(scheme, (&places, &common.wires), *part, sheet.blocks.len() > 1);
            let drawn =
                ink::draw(&shared, placed, &neighbours, &mut given.unique, &mut given.pieces);
            on.unplaced.extend(drawn.unplaced);
            crowded.extend(drawn.crowded.iter().map(|level| (*part, *level)));
            items.extend(drawn.groups);
            let drawn_parts: Vec<_> = drawn.bodies.iter().map(|body| body.part).collect();
            on.parts.extend(&drawn_parts);
            boxes.extend(drawn.bodies);
            on.circuits.push(placed.block.plan.circuit);
            on.has_circuit = true;
            on.counted |= placed
                .block
                .plan
                .runs()
                .flat_map(|run| &run.nodes)
                .any(|node| numbers.get(node).is_some_and(|number| number.counted));
            on.unsaid |= drawn_parts
                .iter()
                .any(|part| crate::words::leaves_condition_out(scheme, *part, placed.block.style));
            on.screws_counted |= drawn_parts.iter().any(|part| {
                crate::screws::screws(scheme, *part, self.style)
                    .is_some_and(|screws| screws.counted)
            });
        }
        on.circuits.dedup();
        on.unplaced.dedup();
        if sheet.cover {
            let sheets: Vec<(usize, String)> = self
                .pages
                .iter()
                .enumerate()
                .skip(1)
                .map(|(page, sheet)| (page + 1, sheet.title.clone()))
                .collect();
            items.extend(crate::cover::cover(scheme, self.paper, self.style, &sheets));
        }
        for (table, at) in &sheet.tables {
            let role = table.device.map_or(Role::Notes, Role::Contacts);
            let drawn = table.draw(&common.references, *at);
            let id = given.unique.once(table.id());
            for (row, (name, shapes)) in drawn.changed.into_iter().enumerate() {
                items.push(Group {
                    id: format!("{id}{CHANGED_ROW}{}", row + 1),
                    role,
                    title: format!("line of {name}"),
                    source: None,
                    shapes,
                });
            }
            items.push(Group {
                id,
                role,
                title: format!("Contacts of {}", table.subject()),
                source: None,
                shapes: drawn.shapes,
            });
        }
        if on.unsaid {
            on.tables = self.sheets_of_tables();
        }
        on.live = live.cloned();
        on.told = told.map(str::to_owned);
        items.push(notes::notes(scheme, self.paper, (number, self.style), &on));
        items.extend(page::revision_table(&scheme.revisions, self.paper, number));
        let block = TitleBlock {
            circuit: sheet.title.clone(),
            sheet: (number, of),
            symbols: self.style.symbols,
            document: match (live, told) {
                (None, _) => "DC schematic",
                (Some(_), None) => "Moment of a run",
                (Some(_), Some(_)) => "What is watched",
            },
        };
        items.push(page::title_block(scheme, self.paper, &block));
        let sheet = Sheet {
            number,
            title: sheet.title.clone(),
            width,
            height,
            frame: self.paper.frame(),
            items,
            boxes,
        };
        Some((sheet, crowded))
    }

    /// Where something stands: sheet and zone, or sheet and path.
    fn place(&self, placed: &Placed, x: f64, y: f64) -> String {
        let sheet = placed.sheet;
        if self.style.iec() {
            let columns = placed.x.iter().take_while(|column| **column < x + 0.01).count();
            return format!("{sheet}.{}", placed.first_path + columns.max(1) - 1);
        }
        let at = placed.at(x, y);
        format!("{sheet}/{}", self.paper.zone(at.x, at.y))
    }

    fn references(&self) -> References {
        let mut references = References::new();
        for (_, placed) in self.blocks() {
            let plan = &placed.block.plan;
            for (column, run) in plan.columns() {
                let Some(x) = placed.x.get(column) else { continue };
                for part in &run.parts {
                    let zone = self.place(placed, *x, placed.part_y(*part));
                    references.insert(*part, zone);
                }
            }
            for (parts, y) in [(&plan.feed, placed.upper_rail()), (&plan.back, placed.lower_rail())]
            {
                for part in parts {
                    references.insert(*part, self.place(placed, placed.left + 20.0, y));
                }
            }
        }
        references
    }

    /// Where each wire is drawn, block by block.
    fn wires(&self, scheme: &Scheme) -> Mentions {
        let mut wires = Mentions::new();
        for (_, placed) in self.blocks() {
            let plan = &placed.block.plan;
            let mut here: BTreeMap<NodeId, (f64, f64)> = BTreeMap::new();
            for (column, run) in plan.columns() {
                let Some(x) = placed.x.get(column) else { continue };
                for node in &run.nodes {
                    here.entry(*node).or_insert((*x, placed.wire_y(*node)));
                }
            }
            here.insert(plan.plus, (placed.rail_left, placed.upper_rail()));
            here.insert(plan.minus, (placed.rail_left, placed.lower_rail()));
            let circuit = &scheme.circuits[plan.circuit];
            for (node, y) in
                [(circuit.feed.from, placed.upper_rail()), (circuit.back.to, placed.lower_rail())]
            {
                here.entry(node).or_insert((placed.left + 8.0, y));
            }
            for (node, (x, y)) in here {
                let place = self.place(placed, x, y);
                wires.entry(node).or_default().push((placed.number, place));
            }
        }
        wires
    }

    fn table_sheets(&self) -> BTreeMap<DeviceId, String> {
        let mut sheets = BTreeMap::new();
        for (page, sheet) in self.pages.iter().enumerate() {
            for (table, _) in &sheet.tables {
                if let Some(device) = table.device {
                    sheets.entry(device).or_insert((page + 1).to_string());
                }
            }
        }
        sheets
    }

    /// The sheets with tables that say when contacts are closed.
    fn sheets_of_tables(&self) -> Vec<usize> {
        let says = |(table, _): &(Table, (f64, f64))| {
            table.device.is_some() || table.subject() == lists::OTHERS
        };
        let pages = self.pages.iter().enumerate();
        pages.filter(|(_, page)| page.tables.iter().any(says)).map(|(at, _)| at + 1).collect()
    }

    fn blocks(&self) -> impl Iterator<Item = &(usize, Placed)> {
        self.pages.iter().flat_map(|page| &page.blocks)
    }

    fn neighbours(
        &self,
        scheme: &Scheme,
        (places, wires): (&BTreeMap<usize, &Placed>, &Mentions),
        part: usize,
        shares: bool,
    ) -> Neighbours {
        let own = &self.parts[part];
        let last = own.index + 1 == own.of;
        let also = |rail: NodeId| {
            let other =
                |block: usize| self.parts.get(block).is_some_and(|it| it.circuit != own.circuit);
            let tapped = scheme
                .placed()
                .filter_map(|(_, part)| part.at)
                .any(|at| at.circuit != own.circuit && (at.from == rail || at.to == rail));
            let pole = scheme.supplies.values().any(|it| it.plus == rail || it.minus == rail);
            let found = wires.get(&rail).filter(|_| last && tapped && !pole)?;
            found.iter().find(|(block, _)| other(*block)).map(|(_, place)| place.clone())
        };
        let (plus, minus) = (own.block.plan.plus, own.block.plan.minus);
        let rails = |other: usize, at_left: bool| {
            let placed = places.get(&other)?;
            let x = if at_left { placed.rail_left } else { placed.rail_right };
            Some((
                self.place(placed, x, placed.upper_rail()),
                self.place(placed, x, placed.lower_rail()),
            ))
        };
        Neighbours {
            before: if own.index > 0 { rails(part - 1, false) } else { None },
            after: if own.index + 1 < own.of { rails(part + 1, true) } else { None },
            heading: shares.then(|| part_name(scheme, own)),
            also: [also(plus), also(minus)],
        }
    }
}

fn part_name(scheme: &Scheme, part: &Part) -> String {
    let name = &scheme.circuits[part.circuit].name;
    if part.of > 1 {
        format!("{name}, part {} of {}", part.index + 1, part.of)
    } else {
        name.clone()
    }
}

fn title(scheme: &Scheme, parts: &[&Part]) -> String {
    let mut names: Vec<String> = Vec::new();
    for part in parts {
        let name = &scheme.circuits[part.circuit].name;
        let here = parts.iter().filter(|other| other.circuit == part.circuit).count();
        names.push(if here < part.of { part_name(scheme, part) } else { name.clone() });
    }
    names.dedup();
    names.join(" · ")
}

/// The largest value of a range, in steps of half a millimetre, that still fits.
fn largest((least, most): (f64, f64), fits: impl Fn(f64) -> bool) -> f64 {
    let mut value = most;
    while value > least && !fits(value) {
        value -= 0.5;
    }
    value
}

/// Fills what the circuits of a sheet leave free, right of `right` and below `below`, with
/// tables, in their order as far as they fit.
fn fill(page: &mut Page, tables: &mut Tables, paper: Paper, (right, below): (f64, f64)) {
    let frame = paper.frame();
    let bottom = frame.bottom - TITLE_HEIGHT.max(notes::STRIP) - 4.0;
    let step = TABLE + 8.0;
    // Where the next table of each strip begins.
    let mut strips: Vec<(f64, f64)> = Vec::new();
    let last = frame.right - TABLE - 4.0;
    let has_circuits = below > frame.top;
    let beside = has_circuits && right + 2.0 <= last;
    if beside {
        strips.push((last, frame.top + 14.0));
    }
    let columns = ((frame.width() - 10.0) / step).floor().max(1.0) as usize;
    for column in 0..columns {
        let x = frame.left + 6.0 + step * column as f64;
        let end = if beside { last - 4.0 } else { frame.right - 2.0 };
        if x + TABLE <= end {
            strips.push((x, below + 6.0));
        }
    }
    tables.place(
        |height| {
            let free = |(_, y): &(f64, f64)| y + height <= bottom;
            let highest = strips
                .iter()
                .enumerate()
                .filter(|(_, strip)| free(strip))
                .min_by(|a, b| a.1.1.total_cmp(&b.1.1));
            let index = highest.map(|(index, _)| index)?;
            let (x, y) = strips.get_mut(index)?;
            let at = (*x, *y);
            *y += height + TABLE_GAP;
            Some(at)
        },
        &mut page.tables,
    );
}

/// The tables that no sheet has yet, in their order, with their heights.
struct Tables {
    waiting: Vec<Option<(f64, Table)>>,
    /// All before it are placed.
    first: usize,
    /// The least height of any.
    least: f64,
}

impl Tables {
    fn new(tables: Vec<Table>, room: f64) -> Self {
        let cut = tables.into_iter().flat_map(|table| table.cut(room));
        let waiting: Vec<_> = cut.map(|table| Some((table.height(), table))).collect();
        let heights = waiting.iter().flatten().map(|(height, _)| *height);
        let least = heights.fold(f64::INFINITY, f64::min);
        Self { waiting, first: 0, least }
    }
    fn is_empty(&self) -> bool {
        self.first >= self.waiting.len()
    }
    /// Those that found no place.
    fn left(self) -> Vec<Table> {
        self.waiting.into_iter().flatten().map(|(_, table)| table).collect()
    }
    /// Offers each table a place by its height, until not even the lowest would find one.
    fn place(
        &mut self,
        mut find: impl FnMut(f64) -> Option<(f64, f64)>,
        placed: &mut Vec<(Table, (f64, f64))>,
    ) {
        let mut refused = 0;
        for slot in self.waiting.iter_mut().skip(self.first) {
            let Some((height, _)) = slot else { continue };
            match find(*height) {
                Some(at) => placed.extend(slot.take().map(|(_, table)| (table, at))),
                // What is as low as any does not fit: nothing will.
                None if *height <= self.least + 1e-9 => break,
                None => refused += 1,
            }
            if refused >= TRIED {
                break;
            }
        }
        let gone = self.waiting.iter().skip(self.first).take_while(|slot| slot.is_none());
        self.first += gone.count();
    }
}

fn shelf_height(parts: &[Part], shelf: &[usize], pitch: f64) -> f64 {
    shelf.iter().map(|index| parts[*index].block.height(pitch)).fold(0.0, f64::max)
}

/// Circuits in their order on shelves, shelves on sheets: beside each other where the width
/// allows, else below, else on a new sheet.
fn shelves(
    scheme: &Scheme,
    parts: &[Part],
    (paper, style): (Paper, Style),
    share: bool,
) -> Vec<Vec<Vec<usize>>> {
    let (width, height) = room(paper, style);
    let mut sheets: Vec<Vec<Vec<usize>>> = Vec::new();
    for index in 0..parts.len() {
        let fits_beside = |shelf: &[usize]| {
            let pitch = column_pitch(style).0 + 1.0;
            let all = shelf.iter().chain([&index]);
            all.map(|other| parts[*other].block.width(pitch)).sum::<f64>() <= width
        };
        let tall = |shelves: &[Vec<usize>]| -> f64 {
            let pitch = rank_pitch(style).0 + SHARED_RANK;
            shelves.iter().map(|shelf| shelf_height(parts, shelf, pitch)).sum()
        };
        // Circuits pinned to different sheets never share one.
        let pinned = |part: usize| &scheme.circuits[parts[part].circuit].sheet;
        let alike = index > 0 && pinned(index) == pinned(index - 1);
        if let (true, Some(sheet)) = (share && alike, sheets.last_mut()) {
            let mut beside = sheet.clone();
            if let Some(shelf) = beside.last_mut() {
                let fits = fits_beside(shelf);
                shelf.push(index);
                if fits && (tall(&beside) <= height || sheet.len() == 1) {
                    *sheet = beside;
                    continue;
                }
            }
            let mut below = sheet.clone();
            below.push(vec![index]);
            if tall(&below) <= height {
                *sheet = below;
                continue;
            }
        }
        sheets.push(vec![vec![index]]);
    }
    sheets
}
