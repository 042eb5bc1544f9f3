//! A run as bars over time, each change with the reason the run gives and, where it is certain, with
//! what caused it. **In:** a played or replayed run. **Out:** data for its picture. **Never here:**
//! strokes, a guess at a cause.
//!
//! A coil has no event of its own: it is driven from when the last contact of its path closes. The
//! path is known from what the coil moved, so that the contact is.

use crate::told::{follows, logic_moved};
use fiftytwo_motion::Timeline;
use fiftytwo_motion::timeline::{Event, StepKind};
use fiftytwo_scheme::{Atom, DeviceKind, LogicRule, PartId, PartKind, Scheme};
use fiftytwo_sheet::pictures::{self, Row};

/// What a row is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum About {
    /// A coil of a breaker.
    Coil(PartId),
    /// Anything else.
    Other,
}

/// A run as data for its picture: the rows in which something changes, each change with its reason. A
/// run in which nothing changes keeps all rows: they are the state it tells of.
pub fn picture(scheme: &Scheme, timeline: &Timeline) -> pictures::Timeline {
    let rows = rows(scheme, timeline);
    let chart = Chart { scheme, timeline, rows };
    let edges = chart.edges();
    let about = if timeline.given.is_empty() {
        sentence(&timeline.played)
    } else {
        format!("{}. {}", sentence(&timeline.given.join(", ")), sentence(&timeline.played))
    };
    pictures::Timeline {
        title: timeline.story.clone(),
        about,
        edges,
        rows: chart.rows.into_iter().map(|(row, _)| row).collect(),
        end: timeline.end_us,
        frequency: scheme.frequency,
    }
}

fn sentence(words: &str) -> String {
    words.trim_end_matches('.').to_owned()
}

fn rows(scheme: &Scheme, timeline: &Timeline) -> Vec<(Row, About)> {
    let moves = |row: &fiftytwo_motion::timeline::Row| {
        row.so.iter().any(|(from, to)| *from > 0 || *to < timeline.end_us)
    };
    let any = timeline.rows.iter().any(moves);
    let mut rows = lost_supplies(scheme, timeline);
    let devices: Vec<&str> = scheme.devices.values().map(|device| device.name.as_str()).collect();
    for row in timeline.rows.iter().filter(|row| !any || moves(row)) {
        let device = devices
            .iter()
            .filter(|device| {
                row.name.strip_prefix(**device).is_some_and(|rest| rest.starts_with(' '))
            })
            .max_by_key(|device| device.len());
        let (device, what) = match device {
            Some(device) => ((*device).to_owned(), row.name[device.len()..].trim().to_owned()),
            None => (row.name.clone(), String::new()),
        };
        let coil = row.name.strip_suffix(" driven").and_then(|name| scheme.part_named(name));
        let coil = coil.filter(|part| matches!(scheme.parts[*part].kind, PartKind::Coil(_)));
        let about = coil.map_or(About::Other, About::Coil);
        rows.push((Row { device, what, so: arrived(timeline, row) }, about));
    }
    rows
}

/// When a relay was where its row says: it ends with the move, not with its beginning.
fn arrived(timeline: &Timeline, row: &fiftytwo_motion::timeline::Row) -> Vec<(i64, i64)> {
    let ends = |time: i64| {
        let begins = timeline.events.iter().find(|event| {
            event.time_us == time
                && event.kind == StepKind::Mechanism
                && event.minor
                && row.name.strip_prefix(event.device.as_str()) == Some(" picked up")
        })?;
        let later = |event: &&Event| {
            event.unit == begins.unit && event.time_us >= time && !event.minor && !event.silent
        };
        timeline.events.iter().find(later).map(|event| event.time_us)
    };
    let mut so: Vec<(i64, i64)> = Vec::new();
    for (from, to) in &row.so {
        let to = ends(*to).unwrap_or(*to);
        match so.last_mut() {
            Some(last) if last.1 >= *from => last.1 = last.1.max(to),
            _ => so.push((*from, to)),
        }
    }
    so
}

/// A row for each supply that is lost in the run.
fn lost_supplies(scheme: &Scheme, timeline: &Timeline) -> Vec<(Row, About)> {
    let mut rows = Vec::new();
    for supply in scheme.supplies.values() {
        let mut so: Vec<(i64, i64)> = Vec::new();
        let mut since: Option<i64> = None;
        let own = timeline.events.iter().filter(|event| event.device == supply.name);
        for event in own {
            if event.what == format!("{} is lost", supply.name) {
                since = since.or(Some(event.time_us));
            } else if event.what == format!("{} returns", supply.name) {
                so.push((since.take().unwrap_or(0), event.time_us));
            }
        }
        so.extend(since.map(|from| (from, timeline.end_us)));
        if !so.is_empty() {
            let row = Row { device: supply.name.clone(), what: "lost".to_owned(), so };
            rows.push((row, About::Other));
        }
    }
    rows
}

struct Chart<'a> {
    scheme: &'a Scheme,
    timeline: &'a Timeline,
    rows: Vec<(Row, About)>,
}

type At = (usize, i64);

impl Chart<'_> {
    fn edges(&self) -> Vec<pictures::Edge> {
        let mut edges: Vec<pictures::Edge> = Vec::new();
        for (place, event) in self.timeline.events.iter().enumerate() {
            if event.silent {
                continue;
            }
            let Some((row, at)) = self.edge_of(event) else { continue };
            if edges.iter().any(|edge| (edge.row, edge.at) == (row, at)) {
                continue;
            }
            let cause = self.cause(place).filter(|(other, _)| *other != row);
            edges.push(pictures::Edge { row, at, why: self.why(event), cause });
        }
        for (row, (data, about)) in self.rows.iter().enumerate() {
            let About::Coil(coil) = *about else { continue };
            for (from, to) in &data.so {
                for (at, rises) in [(*from, true), (*to, false)] {
                    edges.extend(self.of_coil((row, coil), at, rises));
                }
            }
        }
        edges.sort_by_key(|edge| edge.at);
        edges
    }

    /// The edge of a row that an event makes.
    fn edge_of(&self, event: &Event) -> Option<At> {
        let at = event.time_us;
        let kind = self.scheme.device_named(&event.device).map(|id| &self.scheme.devices[id].kind);
        let breaker = matches!(kind, Some(DeviceKind::Breaker { .. }));
        // A breaker's auxiliary contacts have no rows; the latch that goes uses energy up.
        let latch = breaker && self.breaker_coil(event).is_some();
        if breaker && event.minor {
            return None;
        }
        let score = |(row, about): &(Row, About)| {
            let changes = |(from, to): &(i64, i64)| [*from, *to].contains(&at);
            let name = format!("{} {}", row.device, row.what);
            let named = row.device == event.device
                || name.starts_with(&format!("{} ", event.device))
                || name.trim_end() == event.device;
            if !named || matches!(about, About::Coil(_)) || !row.so.iter().any(changes) {
                return None;
            }
            let charged = row.what.ends_with("charged");
            if breaker && charged != (latch || event.what.contains("charged")) {
                return None;
            }
            // "21A trip closes" belongs to the row "trip closed" of 21A.
            let own = row.what.split(' ').next().unwrap_or_default();
            Some(usize::from(event.what.split(' ').any(|word| word == own)))
        };
        let scored = self.rows.iter().enumerate().filter_map(|(row, it)| Some((score(it)?, row)));
        let best = scored.max_by_key(|(score, row)| (*score, std::cmp::Reverse(*row)));
        best.map(|(_, row)| (row, at))
    }

    /// The coil of a breaker whose drive made an event.
    fn breaker_coil(&self, event: &Event) -> Option<PartId> {
        event.parts.iter().copied().find(|part| {
            let part = &self.scheme.parts[*part];
            let kind = part.device.map(|device| &self.scheme.devices[device].kind);
            matches!(part.kind, PartKind::Coil(_))
                && matches!(kind, Some(DeviceKind::Breaker { .. }))
        })
    }

    /// The edge at which the coil that made an event came to be driven.
    fn driven_at(&self, event: &Event) -> Option<At> {
        let coil = self.breaker_coil(event)?;
        let row = self.rows.iter().position(|(_, about)| *about == About::Coil(coil))?;
        let from = self.rows[row].0.so.iter().map(|(from, _)| *from);
        from.filter(|from| *from <= event.time_us).max().map(|from| (row, from))
    }

    /// What caused an event: the edge at which the coil came to be driven that made it, or the edge
    /// of what started the clock that ran out, or of what started that.
    fn cause(&self, place: usize) -> Option<At> {
        let event = self.timeline.events.get(place)?;
        if let Some(edge) = self.driven_at(event) {
            return Some(edge);
        }
        let own = self.edge_of(event).map(|(row, _)| row);
        let mut before = event.cause;
        while let Some(earlier) = before.and_then(|place| self.timeline.events.get(place)) {
            if let Some(edge) = self.driven_at(earlier) {
                return Some(edge);
            }
            if let Some(edge) = self.edge_of(earlier).filter(|(row, _)| Some(*row) != own) {
                return Some(edge);
            }
            // Causes come earlier in the list: this ends.
            before = earlier.cause.filter(|next| Some(*next) < before);
        }
        None
    }

    /// The edge of a coil: what closed or opened its path, if that is certain.
    fn of_coil(
        &self,
        (row, coil): (usize, PartId),
        at: i64,
        rises: bool,
    ) -> Option<pictures::Edge> {
        let events = &self.timeline.events;
        if at >= self.timeline.end_us {
            return None;
        }
        // Between driven and let go, what it moved names its path.
        let span = self.rows[row].0.so.iter().find(|(from, to)| [*from, *to].contains(&at))?;
        let moved = events.iter().find(|event| {
            (span.0..=span.1).contains(&event.time_us) && self.breaker_coil(event) == Some(coil)
        });
        let circuit = self.scheme.parts[coil].at.map(|at| at.circuit);
        // Of a contact with times of its own the part is known, of anything else the device.
        let is_of = |event: &Event, part: PartId| {
            let data = &self.scheme.parts[part];
            match (self.contact(event), logic_moved(self.scheme, event)) {
                (Some(contact), _) => contact == part,
                // A line of logic closes the contacts that follow it, and no other of its device.
                (None, Some(logic)) => follows(data, logic),
                (None, None) => {
                    data.name == event.device
                        || data
                            .device
                            .is_some_and(|id| self.scheme.devices[id].name == event.device)
                }
            }
        };
        let on_path = |event: &&Event| match moved {
            Some(moved) => {
                let path = moved.parts.iter().filter(|part| **part != coil);
                path.into_iter().any(|part| is_of(event, *part))
            }
            // Nothing moved by it: its path lies in its circuit at least.
            None => self.scheme.placed().any(|(id, part)| {
                id != coil
                    && part.at.map(|at| at.circuit) == circuit
                    && matches!(part.kind, PartKind::Contact(_))
                    && is_of(event, id)
            }),
        };
        // A thought closes no path where a contact with times of its own follows it.
        let one = [false, true].into_iter().find_map(|thoughts| {
            let counts = |event: &&Event| {
                let is_thought = event.kind == StepKind::Thought;
                event.time_us == at && !event.silent && is_thought == thoughts
            };
            let then: Vec<&Event> = events.iter().filter(counts).collect();
            let named: Vec<&Event> = then.iter().copied().filter(on_path).collect();
            // An input that sees the same change closes nothing.
            let mut contacts = named.iter().filter(|event| event.kind == StepKind::Contact);
            if let (Some(only), None) = (contacts.next(), contacts.next()) {
                return Some(*only);
            }
            match (named.as_slice(), then.as_slice()) {
                ([.., last], _) if rises && moved.is_some() => Some(*last),
                ([only], _) => Some(*only),
                (_, [only]) if !thoughts => Some(*only),
                _ => None,
            }
        })?;
        let name = &self.scheme.parts[coil].name;
        let word = if rises { "is driven" } else { "is let go" };
        let why = format!("{name} {word}: {}", crate::told::sentence(one));
        let cause = self.edge_of(one).filter(|(other, _)| *other != row);
        Some(pictures::Edge { row, at, why, cause })
    }

    fn why(&self, event: &Event) -> String {
        if event.why.is_empty() {
            return event.what.clone();
        }
        let mut why = format!("{}: {}", event.what, event.why);
        for logic in self.logics(event) {
            why.push_str(&format!(" ({logic})"));
        }
        why
    }

    /// The contact with times of its own that an event moves.
    fn contact(&self, event: &Event) -> Option<PartId> {
        let moved = ["closes", "opens"].iter().find_map(|verb| event.what.strip_suffix(verb))?;
        let found = self.scheme.part_named(moved.trim());
        found.filter(|_| event.kind == StepKind::Contact)
    }

    /// What the lines of logic mean that a contact follows.
    fn logics(&self, event: &Event) -> Vec<String> {
        let mut found = Vec::new();
        let part = self.contact(event);
        let Some(PartKind::Contact(contact)) = part.map(|part| &self.scheme.parts[part].kind)
        else {
            return found;
        };
        contact.closed_when.expr.atoms(&mut |atom| {
            if let Atom::Logic(id) = atom {
                let logic = &self.scheme.logics[id];
                let means = match &logic.rule {
                    LogicRule::When { when, .. } => format!("{}: {}", logic.name, when.text),
                    LogicRule::Memory { set, clear } => {
                        format!("{}: set by {}, cleared by {}", logic.name, set.text, clear.text)
                    }
                };
                found.push(means);
            }
        });
        found
    }
}
