//! Random right schemes, for the tests of this and other crates.
//!
//! **In:** any bytes; each is one choice, so that a test can shorten and vary them.
//! **Out:** the text of a scheme that reads without an error. The same bytes give the same text;
//! when they run out, every further choice is the first.

use std::fmt::Write as _;

/// The text of a right scheme, made by the choices in `bytes`.
pub fn scheme_text(bytes: &[u8]) -> String {
    let mut maker = Maker { bytes: bytes.iter(), ..Maker::default() };
    maker.frame();
    maker.world();
    for index in 0..=maker.below(6) {
        maker.device(index);
    }
    for index in 0..maker.supplies {
        maker.circuit(index);
    }
    maker.cables();
    maker.intent();
    maker.text
}

#[derive(Default)]
struct Maker<'b> {
    bytes: std::slice::Iter<'b, u8>,
    text: String,
    places: usize,
    supplies: usize,
    conditions: usize,
    orders: usize,
    /// Contacts not placed yet: device, name, place.
    contacts: Vec<(String, String, usize)>,
    /// Loads not placed yet: the line that places one, place.
    loads: Vec<(String, usize)>,
    /// Phrases that can be said anywhere.
    phrases: Vec<String>,
    /// What a person may do.
    may: Vec<String>,
    /// Breakers, each with its trip coils.
    breakers: Vec<String>,
    /// Cores used of the cable from the first place to each other, by supply.
    cores: Vec<usize>,
    /// Parts that stand alone, so far.
    alone: usize,
}

impl Maker<'_> {
    /// A choice below `count` (at least 1).
    fn below(&mut self, count: usize) -> usize {
        self.bytes.next().map_or(0, |byte| usize::from(*byte) % count.max(1))
    }

    fn chance(&mut self) -> bool {
        self.below(2) == 1
    }

    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    fn any<T: Clone>(&mut self, of: &[T]) -> Option<T> {
        let index = self.below(of.len());
        of.get(index).cloned()
    }

    fn frame(&mut self) {
        self.line("scheme \"Random\" revision=\"A\"");
        self.places = 1 + self.below(3);
        for place in 0..self.places {
            self.line(&format!("place \"P{place}\" \"Place {place}\""));
        }
        self.supplies = 1 + self.below(2);
        for supply in 0..self.supplies {
            self.line(&format!(
                "supply \"DC{supply}\" \"125 V DC\" range=\"105 to 140 V\" resistance=\"20 mohm\" place=\"P0\""
            ));
            self.phrases.push(format!("DC{supply} live"));
        }
        self.cores = vec![0; self.places * self.supplies];
        self.curves();
    }

    /// Some ground detectors, and the curves that parts may follow.
    fn curves(&mut self) {
        for supply in 0..self.supplies {
            for _ in 0..self.below(3) {
                let alarm = if self.chance() { " alarms-below=\"20 kohm\"" } else { "" };
                self.line(&format!(
                    "ground \"DC{supply}\" plus=\"50 kohm\" minus=\"60 kohm\"{alarm}"
                ));
            }
        }
        self.line("curve \"light\" { point \"20 V\" \"0 mA\"; point \"125 V\" \"8 mA\" }");
        self.line("curve \"melting\" {");
        let mut time = 64;
        for index in 1..=(2 + self.below(3)) {
            self.line(&format!(
                "    point \"{} A\" \"{time} to {} s typical\"",
                15 * index,
                time * 2
            ));
            time /= 2 + self.below(2);
        }
        self.line("}");
    }

    /// The ratings of a contact, in its line or in its braces.
    fn ratings(&mut self) -> String {
        match self.below(4) {
            0 | 1 => String::new(),
            2 => " makes=\"30 A\" carries=\"10 A\" breaks=\"2 A\"".to_owned(),
            _ => {
                let mut lines = String::from(" breaks=\"1 A\" {");
                let _ = write!(lines, " carries \"10 A\"; carries \"30 A\" lasts=\"0.5 s\";");
                for volts in 1..=(1 + self.below(3)) {
                    let _ = write!(
                        lines,
                        " breaks \"0.3 A\" volts=\"{} V\" time-constant=\"40 ms\";",
                        50 * volts
                    );
                }
                lines + " }"
            }
        }
    }

    fn world(&mut self) {
        self.conditions = 1 + self.below(3);
        for index in 0..self.conditions {
            if self.chance() {
                self.line(&format!("condition \"c{index}\" \"low\" \"high\""));
                self.phrases.extend([format!("c{index} low"), format!("c{index} high")]);
            } else {
                self.line(&format!("condition \"c{index}\""));
                self.phrases.push(format!("c{index}"));
            }
        }
        self.orders = self.below(3);
        for index in 0..self.orders {
            self.line(&format!("order \"o{index}\" lasts=\"200 to 500 ms\""));
            self.phrases.push(format!("o{index}"));
            self.may.push(format!("o{index}"));
        }
    }

    fn statement(&mut self, own: &[String]) -> String {
        let all: Vec<String> = self.phrases.iter().chain(own).cloned().collect();
        let mut phrase = || {
            let not = if self.chance() { "" } else { "not " };
            format!("{not}{}", self.any(&all).unwrap_or_default())
        };
        let (first, second, third) = (phrase(), phrase(), phrase());
        match self.below(4) {
            0 => first,
            1 => format!("{first} and {second}"),
            2 => format!("{first} or {second}"),
            _ => format!("{first} and ({second} or {third})"),
        }
    }

    fn contact(&mut self, device: &str, name: &str, when: &str, place: usize) {
        let ratings = self.ratings();
        self.line(&format!("    contact \"{name}\" closed-when=\"{when}\"{ratings}"));
        self.contacts.push((device.to_owned(), name.to_owned(), place));
    }

    fn device(&mut self, index: usize) {
        let place = self.below(self.places);
        let name = format!("D{index}");
        let at = format!("\"{name}\" \"Device {index}\" place=\"P{place}\"");
        match self.below(7) {
            0 => {
                self.line(&format!("relay {at} {{"));
                self.line("    coil {");
                self.line("        resistance \"2000 ohm\"");
                self.line("        works \"85 to 140 V\"");
                self.line("        pickup \"60 to 80 V\"");
                self.line("        dropout \"20 to 45 V\"");
                self.line("        pickup-time \"10 to 20 ms\"");
                self.line("        dropout-time \"8 to 20 ms\"");
                self.line("    }");
                self.contact(&name, "a1", "picked up", place);
                self.contact(&name, "b1", "dropped out", place);
                self.line("}");
                self.loads.push((format!("coil \"{name}\""), place));
                self.phrases.push(format!("{name} picked up"));
            }
            1 => {
                self.line(&format!("handle {at} {{"));
                self.line("    position \"off\"");
                let back = if self.chance() { " returns-to=\"off\"" } else { "" };
                self.line(&format!("    position \"on\"{back}"));
                self.contact(&name, "a1", "on", place);
                self.contact(&name, "b1", "off", place);
                self.line("}");
                self.may.push(name.clone());
                self.phrases.push(format!("{name} on"));
            }
            2 => {
                self.line(&format!("button {at} {{"));
                self.contact(&name, "a1", "pressed", place);
                self.line("}");
                self.may.push(name.clone());
                self.phrases.push(format!("{name} pressed"));
            }
            3 => {
                self.line(&format!("lockout {at} {{"));
                self.line("    coil \"operate\" resistance=\"26 ohm\" works=\"70 to 140 V\" pickup-time=\"8 to 16 ms\"");
                self.contact(&name, "a1", "operated", place);
                self.contact(&name, "b1", "reset", place);
                self.line("}");
                self.loads.push((format!("coil \"{name}\" \"operate\""), place));
                self.may.push(format!("{name} reset"));
                self.phrases.push(format!("{name} operated"));
            }
            4 => {
                self.line(&format!("latch {at} {{"));
                self.line("    position \"clear\"");
                self.line("    position \"set\"");
                self.line("    coil \"set\" drives-to=\"set\" resistance=\"900 ohm\" works=\"85 to 140 V\" pickup-time=\"10 to 30 ms\"");
                self.line("    coil \"clear\" drives-to=\"clear\" resistance=\"900 ohm\" works=\"85 to 140 V\" pickup-time=\"10 to 30 ms\"");
                self.contact(&name, "a1", "set", place);
                self.line("}");
                self.loads.push((format!("coil \"{name}\" \"set\""), place));
                self.loads.push((format!("coil \"{name}\" \"clear\""), place));
                self.phrases.push(format!("{name} set"));
            }
            5 => {
                let when = self.statement(&[]);
                self.line(&format!("ied {at} {{"));
                let law = if self.chance() {
                    "curve=\"light\" least=\"1.5 mA\""
                } else {
                    "resistance=\"40 kohm\""
                };
                self.line(&format!("    input \"in\" {law} on-above=\"80 V\" off-below=\"60 V\""));
                self.line(&format!("    logic \"ready\" when=\"{when}\" on-delay=\"10 to 20 ms\""));
                let when = self.statement(&["in".to_owned(), "ready".to_owned()]);
                self.contact(&name, "out", &when, place);
                self.line("}");
                self.loads.push((format!("input \"{name}\" \"in\""), place));
                self.phrases.push(format!("{name} ready"));
            }
            _ => {
                self.line(&format!(
                    "breaker {at} closing-time=\"45 to 60 ms\" opening-time=\"22 to 28 ms\" {{"
                ));
                for (coil, to) in [("close", "closed"), ("trip", "open")] {
                    self.line(&format!(
                        "    coil \"{coil}\" drives-to=\"{to}\" resistance=\"41 ohm\" works=\"90 to 140 V\" goes-after=\"8 to 12 ms\""
                    ));
                    self.loads.push((format!("coil \"{name}\" \"{coil}\""), place));
                }
                self.line("    energy \"spring\" closings=1 charged-in=\"8 to 12 s\"");
                self.contact(&name, "a1", "closed", place);
                self.contact(&name, "b1", "open", place);
                self.contact(&name, "LS", "spring charged", place);
                self.line("}");
                self.phrases.push(format!("{name} closed"));
                self.breakers.push(name);
            }
        }
    }

    fn circuit(&mut self, supply: usize) {
        self.line(&format!("circuit \"C{supply}\" supply=\"DC{supply}\" {{"));
        let curve = if self.chance() { " curve=\"melting\"" } else { "" };
        self.line(&format!(
            "    feed {{ fuse \"F{supply}1\" \"10 A\"{curve}; wire \"P{supply}\" }}"
        ));
        self.line(&format!("    return {{ wire \"N{supply}\"; fuse \"F{supply}2\" \"10 A\" }}"));
        let legs = 1 + self.below(4);
        let mut taps: Vec<String> = Vec::new();
        for leg in 0..legs {
            self.leg(supply, leg, &mut taps);
        }
        self.line("}");
    }

    /// A leg from the rail or a tap of an earlier leg, down to the other rail.
    fn leg(&mut self, supply: usize, leg: usize, taps: &mut Vec<String>) {
        let from = if self.chance() { self.any(taps) } else { None };
        match &from {
            Some(from) => {
                self.line(&format!("    leg \"L{leg}\" from=\"{from}\" to=\"N{supply}\" {{"))
            }
            None => self.line(&format!("    leg \"L{leg}\" {{")),
        }
        let mut here = 0;
        for _ in 0..self.below(4) {
            if self.chance() && !self.contacts.is_empty() {
                here = self.ways(supply, here);
            } else if let Some((line, place)) = self.take_contact() {
                here = self.walk(supply, here, place);
                self.line(&format!("        {line}"));
            }
            // A tap is a wire of the first place, so that other legs can begin there.
            let last_is_wire = self.text.trim_end().ends_with('{')
                || self
                    .text
                    .lines()
                    .last()
                    .is_some_and(|line| line.trim_start().starts_with("wire"));
            if here == 0 && !last_is_wire && self.chance() {
                let wire = format!("W{supply}{}", taps.len());
                self.line(&format!("        wire \"{wire}\""));
                taps.push(wire);
            }
        }
        let load = if self.loads.is_empty() || self.below(4) == 3 {
            None
        } else {
            let index = self.below(self.loads.len());
            Some(self.loads.remove(index))
        };
        match load {
            Some((line, place)) => {
                here = self.walk(supply, here, place);
                self.line(&format!("        {line}"));
            }
            None => {
                self.alone += 1;
                let number = self.alone;
                let line = match self.below(7) {
                    0 | 1 => format!("resistor \"R{number}\" \"2.7 kohm\""),
                    2 => format!("lamp \"H{number}\" \"8 mA\""),
                    3 => format!("lamp \"H{number}\" \"8 mA\" light=\"LED\" drop=\"2 V\""),
                    4 => format!("lamp \"H{number}\" \"8 mA\" light=\"filament\" cold=\"800 ohm\""),
                    5 => format!("lamp \"H{number}\" \"8 mA\" light=\"LED\" curve=\"light\""),
                    _ => format!("varistor \"H{number}\" \"250 V\" absorbs=\"20 J\""),
                };
                self.line(&format!("        {line}"));
            }
        }
        self.walk(supply, here, 0);
        self.line("    }");
    }

    fn take_contact(&mut self) -> Option<(String, usize)> {
        if self.contacts.is_empty() {
            return None;
        }
        let index = self.below(self.contacts.len());
        let (device, name, place) = self.contacts.remove(index);
        Some((format!("contact \"{device}\" \"{name}\""), place))
    }

    /// Two ways side by side, both in one place.
    fn ways(&mut self, supply: usize, here: usize) -> usize {
        let Some((line, place)) = self.take_contact() else { return here };
        let here = self.walk(supply, here, place);
        self.alone += 1;
        let number = self.alone;
        let twin = self.contacts.iter().position(|(_, _, other)| *other == place);
        let second = match twin {
            Some(index) => {
                let (device, name, _) = self.contacts.remove(index);
                format!("contact \"{device}\" \"{name}\"")
            }
            None if self.chance() => format!("diode \"V{number}\" drop=\"0.7 V\" blocks=\"600 V\""),
            None => format!("diode \"V{number}\""),
        };
        self.line("        parallel {");
        self.line(&format!("            {line}"));
        if self.chance() {
            self.line(&format!(
                "            branch {{ {second}; resistor \"RB{number}\" \"1 kohm\" }}"
            ));
        } else {
            self.line(&format!("            {second}"));
        }
        self.line("        }");
        here
    }

    /// Goes to another place through cores; all cables begin in the first place.
    fn walk(&mut self, supply: usize, here: usize, there: usize) -> usize {
        for (cable, into) in [(here, 0), (there, there)] {
            let needed = if into == 0 { here != 0 && here != there } else { here != there };
            if !needed || cable == 0 {
                continue;
            }
            let slot = supply * self.places + cable;
            let Some(used) = self.cores.get_mut(slot) else { continue };
            *used += 1;
            let line = format!("        core \"K{supply}{cable}\" {used} into=\"P{into}\"");
            self.line(&line);
        }
        there
    }

    fn cables(&mut self) {
        for supply in 0..self.supplies {
            for place in 1..self.places {
                let used = self.cores.get(supply * self.places + place).copied().unwrap_or(0);
                self.line(&format!(
                    "cable \"K{supply}{place}\" from=\"P0\" to=\"P{place}\" length=\"120 m\" size=\"10 AWG\" cores={}",
                    used + 1
                ));
            }
        }
    }

    fn intent(&mut self) {
        if !self.may.is_empty() {
            let names: Vec<String> = self.may.iter().map(|name| format!("{name:?}")).collect();
            self.line(&format!("person \"operator\" {{ may {} }}", names.join(" ")));
        }
        for breaker in self.breakers.clone() {
            let (by, need, trip) = (self.statement(&[]), self.statement(&[]), self.statement(&[]));
            let mut text = format!("matrix {breaker:?} {{\n    close-by {by:?}\n");
            let _ = writeln!(text, "    close-needs {need:?}");
            let _ = writeln!(text, "    trip-by {trip:?} coils=\"trip\" within=\"60 ms\"\n}}");
            self.line(text.trim_end());
        }
        let (never, of) = (self.statement(&[]), self.statement(&[]));
        self.line(&format!("claim \"own\" never={never:?} longer-than=\"50 ms\""));
        self.line(&format!("story \"one\" {{ at \"10 ms\" \"not DC0 live\" held=\"1 s\"; expect at-most=3 of={of:?}; }}"));
    }
}
