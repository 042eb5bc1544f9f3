//! Random small schemes, and a plain explorer of them that shares nothing with the program: contacts are
//! booleans, a coil is driven when closed contacts join it to the rail, and moves are as told in words.

#![allow(dead_code, reason = "each test uses a part of it")]
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use proptest::prelude::*;
use std::collections::BTreeSet;
use std::fmt::Write;

/// Contacts between the rail and a coil.
#[derive(Clone, Debug)]
pub enum Net {
    /// A contact of a device, closed in its drawn position (b) or in its other one (a).
    Contact {
        device: usize,
        a: bool,
    },
    Series(Vec<Net>),
    Parallel(Vec<Net>),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Button,
    Relay,
    /// Two coils: the first to set, the second to clear.
    Latch,
    /// Two coils: the first to close, the second to trip. No stored energy.
    Breaker,
}

/// A scheme of a few devices. Coils stand in the order of their devices.
#[derive(Clone, Debug)]
pub struct Plan {
    pub devices: Vec<Kind>,
    /// The net above each coil.
    pub nets: Vec<Net>,
    /// Contacts that join the tops of two coils.
    pub bridges: Vec<(usize, usize, Net)>,
    /// Pickup and dropout times of each coil, in half milliseconds: least, and how much more.
    pub times: Vec<[(u8, u8); 2]>,
}

fn net(devices: usize) -> impl Strategy<Value = Net> {
    let leaf = (0..devices, any::<bool>()).prop_map(|(device, a)| Net::Contact { device, a });
    leaf.prop_recursive(2, 6, 3, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 2..=3).prop_map(Net::Series),
            prop::collection::vec(inner, 2..=2).prop_map(Net::Parallel),
        ]
    })
}

/// Up to so many buttons and coils.
pub fn plan(buttons: usize, relays: usize) -> impl Strategy<Value = Plan> {
    (1..=buttons, 1..=relays, any::<bool>()).prop_flat_map(|(buttons, relays, latch)| {
        let mut devices = vec![Kind::Button; buttons];
        devices.extend(vec![Kind::Relay; relays]);
        devices.extend(latch.then_some(Kind::Latch));
        let (n, coils) = (devices.len(), relays + 2 * usize::from(latch));
        let time = (0..8u8, 0..5u8);
        (
            prop::collection::vec(net(n), coils),
            prop::collection::vec((0..coils, 0..coils, net(n)), 0..=1),
            prop::collection::vec([time.clone(), time], coils),
        )
            .prop_map(move |(nets, bridges, times)| {
                let bridges = bridges.into_iter().filter(|(one, two, _)| one != two).collect();
                Plan { devices: devices.clone(), nets, bridges, times }
            })
    })
}

/// As [`plan`], with a breaker at the end.
pub fn bay(buttons: usize, relays: usize) -> impl Strategy<Value = Plan> {
    (1..=buttons, 0..=relays).prop_flat_map(|(buttons, relays)| {
        let mut devices = vec![Kind::Button; buttons];
        devices.extend(vec![Kind::Relay; relays]);
        devices.push(Kind::Breaker);
        let (n, coils) = (devices.len(), relays + 2);
        let bridge = prop::collection::vec((0..coils, 0..coils, net(n)), 0..=1);
        (prop::collection::vec(net(n), coils), bridge).prop_map(move |(nets, bridges)| {
            let bridges = bridges.into_iter().filter(|(one, two, _)| one != two).collect();
            Plan { devices: devices.clone(), nets, bridges, times: vec![[(0, 4); 2]; coils] }
        })
    })
}

impl Plan {
    pub fn name(&self, device: usize) -> String {
        let letter = match self.devices[device] {
            Kind::Button => "PB",
            Kind::Relay => "K",
            Kind::Latch => "L",
            Kind::Breaker => "Q",
        };
        format!("{letter}{device}")
    }

    /// The device of each coil, and which of its coils.
    fn coils(&self) -> Vec<(usize, usize)> {
        let of = |(device, kind): (usize, &Kind)| match kind {
            Kind::Button => vec![],
            Kind::Relay => vec![(device, 0)],
            Kind::Latch | Kind::Breaker => vec![(device, 0), (device, 1)],
        };
        self.devices.iter().enumerate().flat_map(of).collect()
    }

    /// The scheme as a designer would write it.
    pub fn text(&self) -> String {
        let mut contacts: Vec<(usize, bool)> = Vec::new();
        let mut legs = String::new();
        for (coil, ((device, which), net)) in self.coils().into_iter().zip(&self.nets).enumerate() {
            let part = match (self.devices[device], which) {
                (Kind::Latch, 0) => " \"set\"",
                (Kind::Latch, _) => " \"clear\"",
                (Kind::Breaker, 0) => " \"close\"",
                (Kind::Breaker, _) => " \"trip\"",
                _ => "",
            };
            writeln!(legs, "    leg \"Coil {coil}\" {{").unwrap();
            self.write(net, &mut legs, &mut contacts);
            writeln!(legs, "        wire \"T{coil}\"").unwrap();
            writeln!(legs, "        coil \"{}\"{part}\n    }}", self.name(device)).unwrap();
        }
        for (k, (one, two, net)) in self.bridges.iter().enumerate() {
            writeln!(legs, "    leg \"Bridge {k}\" from=\"T{one}\" to=\"T{two}\" {{").unwrap();
            self.write(net, &mut legs, &mut contacts);
            writeln!(legs, "    }}").unwrap();
        }
        let mut text = String::from(
            "scheme \"Random\"\nplace \"PANEL\" \"Panel\"\n\
             supply \"DC1\" \"125 V DC\" range=\"105 to 140 V\" resistance=\"20 mohm\" place=\"PANEL\"\n\
             person \"operator\" place=\"PANEL\" {\n",
        );
        let buttons = (0..self.devices.len()).filter(|&d| self.devices[d] == Kind::Button);
        for button in buttons {
            writeln!(text, "    may \"{}\"", self.name(button)).unwrap();
        }
        text.push_str("}\n");
        let mut times = self.times.iter();
        for (device, kind) in self.devices.iter().enumerate() {
            let (word, a, b, more) = match kind {
                Kind::Button => ("button", "pressed", "released", ""),
                Kind::Relay => ("relay", "picked up", "dropped out", ""),
                Kind::Latch => ("latch", "set", "cleared", " drawn=\"cleared\""),
                Kind::Breaker => (
                    "breaker",
                    "closed",
                    "open",
                    " closing-time=\"45 to 60 ms\" opening-time=\"22 to 28 ms\"",
                ),
            };
            writeln!(text, "{word} \"{}\" place=\"PANEL\"{more} {{", self.name(device)).unwrap();
            let coil = "resistance=\"2400 ohm\" works=\"85 to 140 V\" pickup=\"60 to 80 V\"";
            let within = |word: &str, which: usize, times: &[(u8, u8); 2]| {
                let (least, more) = times[which];
                let (least, most) = (u32::from(least) * 500, u32::from(least + more) * 500);
                format!(" {word}=\"{} to {} ms\"", ms(least), ms(most))
            };
            match kind {
                Kind::Button | Kind::Breaker => {}
                Kind::Relay => {
                    let both = times.next().unwrap();
                    let (up, down) =
                        (within("pickup-time", 0, both), within("dropout-time", 1, both));
                    writeln!(text, "    coil {coil} dropout=\"15 to 45 V\"{up}{down}").unwrap();
                }
                Kind::Latch => {
                    writeln!(text, "    position \"cleared\"\n    position \"set\"").unwrap();
                    for (name, to) in [("set", "set"), ("clear", "cleared")] {
                        let up = within("pickup-time", 0, times.next().unwrap());
                        writeln!(text, "    coil \"{name}\" drives-to=\"{to}\" {coil}{up}")
                            .unwrap();
                    }
                }
            }
            if *kind == Kind::Breaker {
                for (name, to) in [("close", "closed"), ("trip", "open")] {
                    writeln!(text, "    coil \"{name}\" drives-to=\"{to}\" {coil}").unwrap();
                }
            }
            for (k, (_, is_a)) in contacts.iter().enumerate().filter(|(_, (d, _))| *d == device) {
                let when = if *is_a { a } else { b };
                writeln!(text, "    contact \"c{k}\" closed-when=\"{when}\"").unwrap();
            }
            text.push_str("}\n");
        }
        write!(
            text,
            "circuit \"C\" supply=\"DC1\" {{\n    feed {{ fuse \"F1\" \"10 A\"; wire \"P\" }}\n    \
             return {{ wire \"N\"; fuse \"F2\" \"10 A\" }}\n{legs}}}\n"
        )
        .unwrap();
        text
    }

    fn write(&self, net: &Net, legs: &mut String, contacts: &mut Vec<(usize, bool)>) {
        match net {
            Net::Contact { device, a } => {
                let name = self.name(*device);
                writeln!(legs, "        contact \"{name}\" \"c{}\"", contacts.len()).unwrap();
                contacts.push((*device, *a));
            }
            Net::Series(nets) => nets.iter().for_each(|net| self.write(net, legs, contacts)),
            Net::Parallel(nets) => {
                writeln!(legs, "        parallel {{").unwrap();
                for net in nets {
                    writeln!(legs, "        branch {{").unwrap();
                    self.write(net, legs, contacts);
                    writeln!(legs, "        }}").unwrap();
                }
                writeln!(legs, "        }}").unwrap();
            }
        }
    }
}

fn ms(us: u32) -> String {
    format!("{}.{}", us / 1000, us % 1000 / 100)
}

/// Where a device is: as drawn, on its way from there, in its other position, on its way back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stand {
    Drawn,
    Leaving,
    Other,
    Returning,
    /// A breaker: its direction, its main contacts, and whether its a contacts have closed and its b
    /// contacts have opened.
    Stroke {
        up: bool,
        touches: bool,
        a: bool,
        b: bool,
    },
}

use Stand::{Drawn, Leaving, Other, Returning, Stroke};

pub type Stands = Vec<Stand>;

impl Plan {
    fn conducts(&self, net: &Net, stands: &Stands) -> bool {
        match net {
            Net::Contact { device, a: is_a } => match stands[*device] {
                Stroke { a, b, .. } => {
                    if *is_a {
                        a
                    } else {
                        !b
                    }
                }
                stand => stand == if *is_a { Other } else { Drawn },
            },
            Net::Series(nets) => nets.iter().all(|net| self.conducts(net, stands)),
            Net::Parallel(nets) => nets.iter().any(|net| self.conducts(net, stands)),
        }
    }

    /// Which coils are driven: from the rail, or over a bridge from a coil that is.
    fn driven(&self, stands: &Stands) -> Vec<bool> {
        let mut driven: Vec<bool> =
            self.nets.iter().map(|net| self.conducts(net, stands)).collect();
        for _ in 0..self.bridges.len() {
            for (one, two, net) in &self.bridges {
                if self.conducts(net, stands) && (driven[*one] || driven[*two]) {
                    driven[*one] = true;
                    driven[*two] = true;
                }
            }
        }
        driven
    }

    fn coil_of(&self, device: usize, which: usize) -> usize {
        self.coils().iter().position(|&coil| coil == (device, which)).unwrap()
    }

    /// A relay whose drive goes, or comes back, on its way turns back at once.
    fn turned(&self, mut stands: Stands) -> Stands {
        let driven = self.driven(&stands);
        for device in 0..stands.len() {
            if self.devices[device] == Kind::Relay {
                let is_driven = driven[self.coil_of(device, 0)];
                stands[device] = match stands[device] {
                    Leaving if !is_driven => Returning,
                    Returning if is_driven => Leaving,
                    stand => stand,
                };
            }
        }
        stands
    }

    /// Everything that may come next.
    fn next(&self, stands: &Stands) -> Vec<Stands> {
        let driven = self.driven(stands);
        let mut next = Vec::new();
        for device in 0..stands.len() {
            let at = stands[device];
            if let Stroke { up, touches, a, b } = at {
                next.extend(self.strokes(device, up, touches, a, b, &driven).map(|to| {
                    let mut moved = stands.clone();
                    moved[device] = to;
                    self.turned(moved)
                }));
                continue;
            }
            let to = match self.devices[device] {
                Kind::Button => Some(if at == Drawn { Other } else { Drawn }),
                Kind::Relay => match (at, driven[self.coil_of(device, 0)]) {
                    (Drawn, true) => Some(Leaving),
                    (Leaving, true) => Some(Other),
                    (Other, false) => Some(Returning),
                    (Returning, false) => Some(Drawn),
                    _ => None,
                },
                Kind::Latch => match at {
                    Drawn => driven[self.coil_of(device, 0)].then_some(Leaving),
                    Leaving => Some(Other),
                    Other => driven[self.coil_of(device, 1)].then_some(Returning),
                    _ => Some(Drawn),
                },
                Kind::Breaker => None,
            };
            next.extend(to.map(|to| {
                let mut moved = stands.clone();
                moved[device] = to;
                self.turned(moved)
            }));
        }
        next
    }

    /// All positions, and after how many moves the first of them has these devices in their other
    /// position. The search goes on.
    pub fn explore(&self, wrong: &[usize]) -> (BTreeSet<Stands>, Option<usize>) {
        let mut seen = BTreeSet::new();
        let start = self.start();
        let first = self.spread(BTreeSet::from([start]), &mut seen, wrong, 0);
        (seen, first)
    }

    fn start(&self) -> Stands {
        let open = Stroke { up: false, touches: false, a: false, b: false };
        let of = |kind: &Kind| if *kind == Kind::Breaker { open } else { Drawn };
        self.devices.iter().map(of).collect()
    }

    /// Whether the breaker has such a contact anywhere.
    fn has(&self, breaker: usize, is_a: bool) -> bool {
        fn within(net: &Net, breaker: usize, is_a: bool) -> bool {
            match net {
                Net::Contact { device, a } => *device == breaker && *a == is_a,
                Net::Series(nets) | Net::Parallel(nets) => {
                    nets.iter().any(|net| within(net, breaker, is_a))
                }
            }
        }
        let nets = self.nets.iter().chain(self.bridges.iter().map(|(_, _, net)| net));
        nets.into_iter().any(|net| within(net, breaker, is_a))
    }

    /// What a breaker may do next. Closing: b opens, the main contacts touch, a closes; opening: a
    /// opens, they part, b closes. A trip counts from touch on, and holds the closing latch.
    fn strokes(
        &self,
        device: usize,
        up: bool,
        touches: bool,
        a: bool,
        b: bool,
        driven: &[bool],
    ) -> impl Iterator<Item = Stand> + use<> {
        let (close, trip) = (driven[self.coil_of(device, 0)], driven[self.coil_of(device, 1)]);
        let mut next = Vec::new();
        let mut to = |up, touches, a, b| next.push(Stroke { up, touches, a, b });
        match (up, touches) {
            (true, false) if self.has(device, false) && !b => to(true, false, a, true),
            (true, false) => to(true, true, a, b),
            (true, true) => {
                if trip {
                    to(false, true, a, b);
                }
                if self.has(device, true) && !a {
                    to(true, true, true, b);
                }
            }
            (false, true) if a => to(false, true, false, b),
            (false, true) => to(false, false, a, b),
            (false, false) if b => to(false, false, a, false),
            (false, false) if close && !trip => to(true, false, a, b),
            (false, false) => {}
        }
        next.into_iter()
    }

    /// All positions with what is remembered of closings under one order (the first button), and
    /// after how many moves the breaker closes a second time under it.
    pub fn pumps(&self) -> (usize, Option<usize>) {
        let breaker = self.devices.len() - 1;
        let goes_up = |stands: &Stands| matches!(stands[breaker], Stroke { up: true, .. });
        // Positions, the order, a closing under it, twice.
        type Told = (Stands, bool, bool, bool);
        let mut level: BTreeSet<Told> = BTreeSet::from([(self.start(), false, false, false)]);
        let mut seen: BTreeSet<Told> = BTreeSet::new();
        let (mut moves, mut first) = (0, None);
        while !level.is_empty() {
            if first.is_none() && level.iter().any(|told| told.3) {
                first = Some(moves);
            }
            seen.extend(level.iter().cloned());
            let mut next = BTreeSet::new();
            for (stands, order, once, _) in level.iter().filter(|told| !told.3) {
                for to in self.next(stands) {
                    let now = to[0] == Other;
                    let begins = now && !order;
                    let kept = *once && !begins;
                    let closes = goes_up(&to) && !goes_up(stands);
                    let told = match (closes, kept) {
                        (true, true) => (to, false, false, true),
                        _ => (to, now, kept || closes, false),
                    };
                    if !seen.contains(&told) {
                        next.insert(told);
                    }
                }
            }
            level = next;
            moves += 1;
        }
        (seen.len(), first)
    }

    /// Whether nothing moves by itself.
    pub fn rests(&self, stands: &Stands) -> bool {
        let by_itself = |to: &Stands| {
            (0..stands.len())
                .all(|device| self.devices[device] != Kind::Button || to[device] == stands[device])
        };
        !self.next(stands).iter().any(by_itself)
    }

    /// After how many moves everything rests with the second button pressed and the main contacts
    /// touching.
    pub fn stays_closed(&self) -> Option<usize> {
        let trip = 1.min(self.devices.iter().filter(|kind| **kind == Kind::Button).count() - 1);
        let breaker = self.devices.len() - 1;
        let mut level: BTreeSet<Stands> = BTreeSet::from([self.start()]);
        let mut seen: BTreeSet<Stands> = BTreeSet::new();
        let mut moves = 0;
        while !level.is_empty() {
            let wrong = |stands: &&Stands| {
                stands[trip] == Other
                    && matches!(stands[breaker], Stroke { touches: true, .. })
                    && self.rests(stands)
            };
            if level.iter().any(|stands| wrong(&stands)) {
                return Some(moves);
            }
            seen.extend(level.iter().cloned());
            let next = level.iter().flat_map(|stands| self.next(stands));
            level = next.filter(|stands| !seen.contains(stands)).collect();
            moves += 1;
        }
        None
    }

    fn spread(
        &self,
        level: BTreeSet<Stands>,
        seen: &mut BTreeSet<Stands>,
        wrong: &[usize],
        moves: usize,
    ) -> Option<usize> {
        if level.is_empty() {
            return None;
        }
        let here = level.iter().any(|stands| wrong.iter().all(|&device| stands[device] == Other));
        seen.extend(level.iter().cloned());
        let next = level.iter().flat_map(|stands| self.next(stands));
        let next = next.filter(|stands| !seen.contains(stands)).collect();
        let later = self.spread(next, seen, wrong, moves + 1);
        if here { Some(moves) } else { later }
    }
}
