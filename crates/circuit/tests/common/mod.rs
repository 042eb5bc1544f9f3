//! A scheme built by hand, part by part, for tests that need no text.
#![allow(dead_code, unused_imports, reason = "each test file uses its own share")]

mod junctions;

use fiftytwo_scheme::*;

pub use junctions::junction;

pub struct Bench {
    pub scheme: Scheme,
    file: FileId,
    place: PlaceId,
    circuit: Option<CircuitId>,
    device: DeviceId,
}

pub fn quantity<U>(lo: f64, hi: f64) -> Quantity<U> {
    Quantity::new(lo, hi, "by hand")
}

/// How long a breaker's coil may be on: a relay's of so few ohms would burn.
pub fn for_a_moment() -> TimeRange {
    let second = 1_000_000;
    TimeRange { lo: second, hi: second, typical: false, written: "1 s".to_owned() }
}

impl Bench {
    /// One place at 20 °C exactly, one device that owns every contact and coil.
    pub fn new() -> Self {
        let mut scheme = Scheme { frequency: 60.0, ..Scheme::default() };
        let file =
            scheme.sources.files.push(SourceFile { name: "by hand".into(), text: String::new() });
        let span = Span { file, start: 0, end: 0 };
        let place = scheme.places.push(Place {
            name: "HOUSE".into(),
            description: String::new(),
            ambient: quantity(20.0, 20.0),
            span,
        });
        let device = scheme.devices.push(Device {
            name: "K".into(),
            description: String::new(),
            kind: DeviceKind::Relay,
            place,
            function: None,
            positions: vec!["dropped out".into(), "picked up".into()],
            drawn: 0,
            parts: Vec::new(),
            logics: Vec::new(),
            stays: None,
            notes: Vec::new(),
            span,
        });
        Self { scheme, file, place, circuit: None, device }
    }
    pub fn span(&self) -> Span {
        Span { file: self.file, start: 0, end: 0 }
    }
    pub fn place(&mut self, name: &str, lo: f64, hi: f64) -> PlaceId {
        let span = self.span();
        self.scheme.places.push(Place {
            name: name.into(),
            description: String::new(),
            ambient: quantity(lo, hi),
            span,
        })
    }
    pub fn stand_in(&mut self, place: PlaceId) {
        self.place = place;
    }
    pub fn node(&mut self, name: &str) -> NodeId {
        if let Some(known) = self.scheme.node_named(name) {
            return known;
        }
        let place = self.place;
        self.scheme.nodes.push(Node { wire: Some(name.into()), label: None, place, span: None })
    }
    /// A supply whose poles are NAME+ and NAME-, with one circuit that has no fuses.
    pub fn supply(&mut self, name: &str, nominal: f64, lo: f64, hi: f64, ohm: f64) -> SupplyId {
        let (plus, minus) = (self.node(&format!("{name}+")), self.node(&format!("{name}-")));
        let span = self.span();
        let supply = self.scheme.supplies.push(Supply {
            name: name.into(),
            description: String::new(),
            current: CurrentKind::Dc,
            nominal: quantity(nominal, nominal),
            range: quantity(lo, hi),
            resistance: quantity(ohm, ohm),
            grounded: false,
            place: self.place,
            plus,
            minus,
            grounds: Vec::new(),
            span,
        });
        let strand = |from, to| Strand { from, to, chain: Chain::default() };
        let circuit = self.scheme.circuits.push(Circuit {
            name: format!("of {name}"),
            supply,
            of_circuit: None,
            sheet: None,
            feed: strand(plus, plus),
            back: strand(minus, minus),
            plus,
            minus,
            legs: Vec::new(),
            notes: Vec::new(),
            span,
        });
        self.circuit = Some(circuit);
        supply
    }
    pub fn cable(&mut self, name: &str, metre: f64, size: WireSize, to: PlaceId) -> CableId {
        let span = self.span();
        self.scheme.cables.push(Cable {
            name: name.into(),
            description: String::new(),
            from: self.place,
            to,
            length: quantity(metre, metre),
            size,
            size_written: String::new(),
            material: Material::Copper,
            cores: 19,
            landings: Vec::new(),
            span,
        })
    }
    /// Places a part between two wires of the circuit last begun.
    pub fn part(&mut self, name: &str, from: &str, to: &str, kind: PartKind) -> PartId {
        let (from, to) = (self.node(from), self.node(to));
        let span = self.span();
        self.scheme.parts.push(Part {
            name: name.into(),
            own_name: name.into(),
            device: Some(self.device),
            kind,
            terminals: None,
            shows: None,
            watches: None,
            at: Some(Placement {
                circuit: self.circuit.expect("a supply first"),
                leg: None,
                from,
                to,
                place: self.place,
                span,
            }),
            span,
        })
    }
    pub fn contact(&mut self, name: &str, from: &str, to: &str) -> PartId {
        let closed_when = Statement {
            text: "picked up".into(),
            expr: Expr::Atom(Atom::Position(self.device, 1)),
            span: self.span(),
        };
        let contact = Contact {
            closed_when,
            closes_in: None,
            opens_in: None,
            bounce: None,
            on_close: None,
            on_open: None,
            makes: Vec::new(),
            carries: Vec::new(),
            breaks: Vec::new(),
        };
        self.part(name, from, to, PartKind::Contact(contact))
    }
    pub fn fuse(&mut self, name: &str, from: &str, to: &str) -> PartId {
        self.part(name, from, to, PartKind::Fuse { rating: quantity(15.0, 15.0), curve: None })
    }
    pub fn resistor(&mut self, name: &str, from: &str, to: &str, ohm: f64) -> PartId {
        let kind = PartKind::Resistor { resistance: quantity(ohm, ohm), power: None };
        self.part(name, from, to, kind)
    }
    pub fn core(&mut self, name: &str, from: &str, to: &str, cable: CableId) -> PartId {
        let into = self.scheme.cables[cable].to;
        self.part(name, from, to, PartKind::Core(Core { cable, cores: vec![1], into }))
    }
    pub fn coil(&mut self, name: &str, from: &str, to: &str, ohm: Option<f64>) -> PartId {
        self.part(name, from, to, PartKind::Coil(coil(ohm)))
    }
    pub fn lamp(&mut self, name: &str, from: &str, to: &str, ampere: f64) -> PartId {
        let lamp = Lamp {
            current: quantity(ampere, ampere),
            rated: None,
            light: Light::NotSaid,
            drop: None,
            cold: None,
            curve: None,
        };
        self.part(name, from, to, PartKind::Lamp(lamp))
    }
    pub fn input(&mut self, name: &str, from: &str, to: &str, ohm: Option<f64>) -> PartId {
        let input = Input {
            resistance: ohm.map(|ohm| quantity(ohm, ohm)),
            on_above: None,
            off_below: None,
            least: None,
            curve: None,
        };
        self.part(name, from, to, PartKind::Input(input))
    }
    pub fn diode(&mut self, name: &str, from: &str, to: &str) -> PartId {
        self.part(name, from, to, PartKind::Diode(Diode::default()))
    }
}

/// A coil with a resistance and nothing else declared.
pub fn coil(ohm: Option<f64>) -> Coil {
    Coil {
        drives_to: 1,
        resistance: ohm.map(|ohm| quantity(ohm, ohm)),
        rated: None,
        works: None,
        pickup: None,
        dropout: None,
        pickup_time: None,
        dropout_time: None,
        goes_after: None,
        max_on: None,
        time_constant: None,
    }
}
