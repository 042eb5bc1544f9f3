//! Walking the places: a leg changes place only through a core.
//!
//! Every feed, return and leg is walked from an end whose place is known. A part that stands
//! elsewhere than the walk has come to, or an end that lies elsewhere, is the error
//! "a core is missing". One error per leg: what follows it would only repeat it.

use super::desk::Desk;
use super::path::{Path, Route, Tread, What};
use crate::arena::Id;
use crate::finding::Finding;
use crate::ids::{CableId, NodeId, PartId, PlaceId};
use crate::part::PartKind;
use crate::source::Span;

/// Walks all routes.
pub(super) fn all(desk: &mut Desk, routes: &[Route]) {
    // A supply stands somewhere, so the far ends of returns are known before any leg is walked.
    for route in routes.iter().filter(|route| route.sound && route.from_said.is_none()) {
        let end = desk.node_places.get(&route.to).copied();
        let sink = desk.scheme.supplies.values().any(|supply| supply.minus == route.to);
        if let Some(begin) = end.filter(|_| sink).and_then(|end| backwards(desk, &route.path, end))
        {
            desk.node_places.entry(route.from).or_insert(begin);
        }
    }
    let mut waiting: Vec<&Route> = routes.iter().filter(|route| route.sound).collect();
    while !waiting.is_empty() {
        let before = waiting.len();
        waiting.retain(|route| {
            let Some(start) = desk.node_places.get(&route.from).copied() else { return true };
            Walk { desk, route, quiet: false }.go(Some(start));
            false
        });
        if waiting.len() == before {
            // None begins where we have been: one of them must tell its own beginning.
            let told = waiting
                .iter()
                .enumerate()
                .find_map(|(index, route)| Some((index, beginning(desk, route)?)));
            let Some((index, start)) = told else { break };
            let route = waiting.remove(index);
            desk.node_places.insert(route.from, start);
            Walk { desk, route, quiet: false }.go(Some(start));
        }
    }
    for route in waiting.into_iter().chain(routes.iter().filter(|route| !route.sound)) {
        let start = desk.node_places.get(&route.from).copied();
        Walk { desk, route, quiet: true }.go(start);
    }
    for (node, place) in &desk.node_places {
        desk.scheme.nodes[*node].place = *place;
    }
}

/// Where a route begins, told by what stands in it or by its end.
fn beginning(desk: &Desk, route: &Route) -> Option<PlaceId> {
    let end = desk.node_places.get(&route.to).copied();
    forwards(desk, &route.path).or_else(|| backwards(desk, &route.path, end?))
}

fn other_end(desk: &Desk, cable: CableId, place: PlaceId) -> Option<PlaceId> {
    let cable = &desk.scheme.cables[cable];
    let end = match place {
        place if place == cable.from => cable.to,
        place if place == cable.to => cable.from,
        _ => return None,
    };
    // An end that wasn't understood leads nowhere.
    Some(end).filter(|end| end.index() < desk.scheme.places.len())
}

/// The place of a route's beginning, walked back from its end.
fn backwards(desk: &Desk, path: &Path, end: PlaceId) -> Option<PlaceId> {
    let mut place = end;
    for tread in path.treads.iter().rev() {
        match &tread.what {
            What::Core { cable, .. } => place = other_end(desk, (*cable)?, place)?,
            What::Ways(ways) => place = backwards(desk, ways.first()?, place)?,
            What::Part(_) | What::Lost => {}
        }
    }
    Some(place)
}

/// The place of a route's beginning, told by the first thing that knows where it is.
fn forwards(desk: &Desk, path: &Path) -> Option<PlaceId> {
    path.treads.iter().find_map(|tread| match &tread.what {
        What::Core { cable, into, .. } => other_end(desk, (*cable)?, into.as_ref()?.0),
        What::Part(part) => standing(desk, *part),
        What::Ways(ways) => ways.iter().find_map(|way| forwards(desk, way)),
        What::Lost => None,
    })
}

/// Where a part stands by itself, if it belongs to a device.
fn standing(desk: &Desk, part: PartId) -> Option<PlaceId> {
    let device = desk.scheme.parts[part].device?;
    Some(desk.scheme.devices[device].place).filter(|place| place.index() < desk.scheme.places.len())
}

struct Walk<'d> {
    desk: &'d mut Desk,
    route: &'d Route,
    /// An error of this route was reported already.
    quiet: bool,
}

impl Walk<'_> {
    fn go(mut self, start: Option<PlaceId>) {
        let route = self.route;
        self.path(&route.path, start, false);
    }

    /// Walks a path. A way of a parallel does not arrive by itself: all its ways do together.
    fn path(&mut self, path: &Path, start: Option<PlaceId>, way: bool) -> Option<PlaceId> {
        let mut place = start;
        for (index, tread) in path.treads.iter().enumerate() {
            place = match &tread.what {
                What::Part(part) => self.part(*part, tread, place),
                What::Core { part, cable, into } => self.core(*part, *cable, *into, tread, place),
                What::Ways(ways) => self.ways(ways, tread, place),
                What::Lost => place,
            };
            if !way || index + 1 < path.treads.len() {
                place = self.arrive(tread, place);
            }
        }
        place
    }

    fn part(&mut self, part: PartId, tread: &Tread, place: Option<PlaceId>) -> Option<PlaceId> {
        let own = standing(self.desk, part);
        let here = match (own, place) {
            (Some(own), Some(place)) if own != place => {
                self.core_missing(part, own, place, tread);
                Some(own)
            }
            (own, place) => own.or(place),
        };
        if let (Some(here), Some(at)) = (here, &mut self.desk.scheme.parts[part].at) {
            at.place = here;
        }
        here
    }

    fn core_missing(&mut self, part: PartId, own: PlaceId, place: PlaceId, tread: &Tread) {
        if std::mem::replace(&mut self.quiet, true) {
            return;
        }
        let scheme = &self.desk.scheme;
        let part = &scheme.parts[part];
        let device = part.device.map(|device| &scheme.devices[device]);
        let message = format!(
            "{:?} stands in {}, but {} has only come to {} here: a core is missing.",
            part.name,
            scheme.places[own].name,
            lower(&self.route.called),
            scheme.places[place].name
        );
        let mut finding = Finding::error("core-missing", message)
            .at(tread.span, format!("in {}", scheme.places[own].name))
            .why("a leg changes place only through a core of a cable")
            .help(self.way_between(place, own))
            .device(&part.name);
        if let Some(device) = device {
            finding = finding.and_at(device.span, "its device stands there");
        }
        self.desk.report(finding);
    }

    /// What to do to get from one place to another.
    fn way_between(&self, from: PlaceId, to: PlaceId) -> String {
        let scheme = &self.desk.scheme;
        let (here, there) = (&scheme.places[from].name, &scheme.places[to].name);
        let cables: Vec<(CableId, &crate::world::Cable)> = scheme
            .cables
            .iter()
            .filter(|(id, _)| other_end(self.desk, *id, from) == Some(to))
            .collect();
        for (id, cable) in &cables {
            let free = (1..=cable.cores.min(1000))
                .find(|core| !self.desk.cores_used.contains_key(&(*id, *core)));
            if let Some(core) = free {
                return format!("put core {:?} {core} into={there:?} before it", cable.name);
            }
        }
        match cables.first() {
            Some((_, cable)) => {
                format!(
                    "no core is free in {:?} from {here} to {there}: take a larger one",
                    cable.name
                )
            }
            None => format!("no cable runs between {here} and {there}: declare one first"),
        }
    }

    fn core(
        &mut self,
        part: Option<PartId>,
        cable: Option<CableId>,
        into: Option<(PlaceId, Span)>,
        tread: &Tread,
        place: Option<PlaceId>,
    ) -> Option<PlaceId> {
        let Some(cable) = cable else { return into.map(|(place, _)| place) };
        let ends = &self.desk.scheme.cables[cable];
        let known = |place: PlaceId| place.index() < self.desk.scheme.places.len();
        if !known(ends.from) || !known(ends.to) {
            return into.map(|(place, _)| place);
        }
        let end = match (place, into) {
            (Some(place), into) => match other_end(self.desk, cable, place) {
                Some(end) => {
                    if let Some((said, span)) = into
                        && said != end
                    {
                        self.wrong_into(cable, said, span, place, end);
                    }
                    Some(end)
                }
                None => {
                    self.not_touching(cable, place, tread);
                    into.map(|(place, _)| place)
                }
            },
            (None, Some((said, _))) => other_end(self.desk, cable, said).and(Some(said)),
            (None, None) => None,
        };
        let begin = end.and_then(|end| other_end(self.desk, cable, end)).or(place);
        if let Some(part) = part {
            let part = &mut self.desk.scheme.parts[part];
            if let (Some(begin), Some(at)) = (begin, &mut part.at) {
                at.place = begin;
            }
            if let (Some(end), PartKind::Core(core)) = (end, &mut part.kind) {
                core.into = end;
            }
        }
        end
    }

    fn wrong_into(
        &mut self,
        cable: CableId,
        said: PlaceId,
        span: Span,
        place: PlaceId,
        end: PlaceId,
    ) {
        if std::mem::replace(&mut self.quiet, true) {
            return;
        }
        let scheme = &self.desk.scheme;
        let (said, here, end) =
            (&scheme.places[said].name, &scheme.places[place].name, &scheme.places[end].name);
        let cable = &scheme.cables[cable];
        let message =
            format!("From {here} the cable {:?} leads into {end}, not into {said}.", cable.name);
        let finding = Finding::error("into-disagrees", message)
            .at(span, format!("the leg is in {here} here"))
            .and_at(cable.span, "the cable")
            .help(format!("write into={end:?}, or check the lines before"));
        self.desk.report(finding);
    }

    fn not_touching(&mut self, cable: CableId, place: PlaceId, tread: &Tread) {
        if std::mem::replace(&mut self.quiet, true) {
            return;
        }
        let scheme = &self.desk.scheme;
        let cable = &scheme.cables[cable];
        let (from, to) = (&scheme.places[cable.from].name, &scheme.places[cable.to].name);
        let here = &scheme.places[place].name;
        let message = format!(
            "The cable {:?} runs from {from} to {to}, but the leg is in {here} here.",
            cable.name
        );
        let finding = Finding::error("core-elsewhere", message)
            .at(tread.span, format!("the leg is in {here}"))
            .and_at(cable.span, "the cable")
            .help(format!("use a core of a cable that begins in {here}"));
        self.desk.report(finding);
    }

    fn ways(&mut self, ways: &[Path], tread: &Tread, place: Option<PlaceId>) -> Option<PlaceId> {
        let mut end: Option<PlaceId> = None;
        for way in ways {
            let arrived = self.path(way, place, true);
            match (end, arrived) {
                (Some(first), Some(arrived)) if first != arrived => {
                    self.ways_differ(way, tread, first, arrived);
                }
                (None, arrived) => end = arrived,
                _ => {}
            }
        }
        end.or(place)
    }

    fn ways_differ(&mut self, way: &Path, tread: &Tread, first: PlaceId, arrived: PlaceId) {
        if std::mem::replace(&mut self.quiet, true) {
            return;
        }
        let scheme = &self.desk.scheme;
        let (first, arrived) = (&scheme.places[first].name, &scheme.places[arrived].name);
        let message = format!("One way of this parallel ends in {first}, another in {arrived}.");
        let at = way.treads.first().map_or(tread.span, |tread| tread.span);
        let finding = Finding::error("ways-differ", message)
            .at(at, format!("ends in {arrived}"))
            .and_at(tread.span, "the parallel")
            .why("ways side by side share both their ends")
            .help("lead both through a core, or put the core behind the parallel");
        self.desk.report(finding);
    }

    /// The node a line ends at: its place is now known, or must agree.
    fn arrive(&mut self, tread: &Tread, place: Option<PlaceId>) -> Option<PlaceId> {
        let place = place?;
        if self.quiet {
            // Behind an error nobody knows where the leg really is.
            return Some(self.desk.node_places.get(&tread.to).copied().unwrap_or(place));
        }
        let known = *self.desk.node_places.entry(tread.to).or_insert(place);
        if known != place {
            self.elsewhere(tread.to, tread, known, place);
        }
        Some(known)
    }

    fn elsewhere(&mut self, node: NodeId, tread: &Tread, known: PlaceId, place: PlaceId) {
        // Ways that differ are told by their own error.
        let numbered = self.desk.scheme.nodes[node].wire.is_some();
        if !numbered || std::mem::replace(&mut self.quiet, true) {
            return;
        }
        let scheme = &self.desk.scheme;
        let wire = scheme.nodes[node].wire.clone().unwrap_or_default();
        let (there, here) = (&scheme.places[known].name, &scheme.places[place].name);
        let ends = node == self.route.to && tread.wire.is_none();
        let (id, message) = if ends {
            (
                "leg-ends-elsewhere",
                format!(
                    "{} ends in {here}, but wire {wire:?} is in {there}: a core is missing.",
                    self.route.called
                ),
            )
        } else {
            (
                "wire-elsewhere",
                format!(
                    "Wire {wire:?} is in {there}, but {} is in {here} here: a core is missing.",
                    lower(&self.route.called)
                ),
            )
        };
        let at = match (&self.route.to_said, tread.wire) {
            (Some(said), _) if ends => said.span,
            (None, _) if ends => self.route.span,
            (_, Some(wire)) => wire,
            _ => tread.span,
        };
        let mut finding = Finding::error(id, message)
            .at(at, format!("{wire} is in {there}"))
            .why("one wire number has one place; a leg changes place only through a core")
            .help(self.way_between(place, known))
            .wire(&wire);
        if let Some(span) = scheme.nodes[node].span.filter(|span| *span != at) {
            finding = finding.and_at(span, format!("{wire:?} is first written here"));
        }
        self.desk.report(finding);
    }
}

/// A sentence's beginning inside a sentence.
fn lower(text: &str) -> String {
    let mut signs = text.chars();
    signs.next().map(|first| first.to_lowercase().chain(signs).collect()).unwrap_or_default()
}
