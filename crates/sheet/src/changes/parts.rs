//! What the text says of a placed part. **In:** a scheme, a part. **Out:** its data by name, in the words of
//! the text. **Never here:** what differs.

use fiftytwo_scheme::{
    ContactRating, CurveId, GoesAfter, Light, PartId, PartKind, Quantity, Scheme, StrokeOffset,
    TimeRange,
};

/// Its data, by name; what is not said is left out.
pub(super) type Data = Vec<(&'static str, String)>;

/// The data of a part, where it stands included.
pub(super) fn data(scheme: &Scheme, id: PartId) -> Data {
    let part = &scheme.parts[id];
    let mut list = List { scheme, data: Data::new() };
    list.kind(&part.kind);
    if let Some((upper, lower)) = &part.terminals {
        list.put("terminals", format!("{upper}-{lower}"));
    }
    if let Some(at) = &part.at {
        list.put("place", scheme.places[at.place].name.clone());
        list.put("circuit", scheme.circuits[at.circuit].name.clone());
        let leg = at.leg.map(|leg| scheme.legs[leg].name.clone());
        list.put("leg", leg.unwrap_or_default());
    }
    if let Some(device) = part.device {
        let device = &scheme.devices[device];
        let drawn = device.positions.get(usize::from(device.drawn));
        list.put("description", device.description.clone());
        list.put("drawn", drawn.cloned().unwrap_or_default());
    }
    list.data
}

struct List<'a> {
    scheme: &'a Scheme,
    data: Data,
}

impl List<'_> {
    fn put(&mut self, name: &'static str, words: String) {
        if !words.is_empty() {
            self.data.push((name, words));
        }
    }
    fn quantity<U>(&mut self, name: &'static str, quantity: Option<&Quantity<U>>) {
        self.put(name, quantity.map(|it| it.written.clone()).unwrap_or_default());
    }
    fn time(&mut self, name: &'static str, time: Option<&TimeRange>) {
        self.put(name, time.map(|it| it.written.clone()).unwrap_or_default());
    }
    fn offset(&mut self, name: &'static str, offset: Option<&StrokeOffset>) {
        self.put(name, offset.map(|it| it.written.clone()).unwrap_or_default());
    }
    fn curve(&mut self, curve: Option<CurveId>) {
        let name = curve.map(|curve| self.scheme.curves[curve].name.clone());
        self.put("curve", name.unwrap_or_default());
    }
    fn ratings(&mut self, name: &'static str, ratings: &[ContactRating]) {
        let said: Vec<String> = ratings.iter().map(rating).collect();
        self.put(name, said.join(", "));
    }
    fn kind(&mut self, kind: &PartKind) {
        match kind {
            PartKind::Contact(contact) => {
                self.put("closed when", contact.closed_when.text.clone());
                self.time("closes in", contact.closes_in.as_ref());
                self.time("opens in", contact.opens_in.as_ref());
                self.time("bounce", contact.bounce.as_ref());
                self.offset("on close", contact.on_close.as_ref());
                self.offset("on open", contact.on_open.as_ref());
                self.ratings("makes", &contact.makes);
                self.ratings("carries", &contact.carries);
                self.ratings("breaks", &contact.breaks);
            }
            PartKind::Coil(coil) => {
                self.quantity("resistance", coil.resistance.as_ref());
                self.quantity("rated", coil.rated.as_ref());
                self.quantity("works", coil.works.as_ref());
                self.quantity("pickup", coil.pickup.as_ref());
                self.quantity("dropout", coil.dropout.as_ref());
                self.time("pickup-time", coil.pickup_time.as_ref());
                self.time("dropout-time", coil.dropout_time.as_ref());
                let goes = match &coil.goes_after {
                    Some(GoesAfter::After(time)) => time.written.clone(),
                    Some(GoesAfter::WholeStroke) => "the whole stroke".to_owned(),
                    None => String::new(),
                };
                self.put("goes-after", goes);
                self.time("max-on", coil.max_on.as_ref());
                self.time("L/R", coil.time_constant.as_ref());
            }
            PartKind::Input(input) => {
                self.quantity("resistance", input.resistance.as_ref());
                self.quantity("on above", input.on_above.as_ref());
                self.quantity("off below", input.off_below.as_ref());
                self.quantity("least current", input.least.as_ref());
                self.curve(input.curve);
            }
            PartKind::Motor(motor) => {
                self.quantity("current", Some(&motor.rating));
                self.quantity("inrush", motor.inrush.as_ref());
                self.time("starts in", motor.starts_in.as_ref());
                self.quantity("works", motor.works.as_ref());
            }
            PartKind::Element { rating, resistance } => {
                self.quantity("rating", rating.as_ref());
                self.quantity("resistance", resistance.as_ref());
            }
            PartKind::Power { burden } => self.quantity("burden", burden.as_ref()),
            PartKind::Fuse { rating, curve } => {
                self.quantity("rating", Some(rating));
                self.curve(*curve);
            }
            PartKind::Resistor { resistance, power } => {
                self.quantity("resistance", Some(resistance));
                self.quantity("power", power.as_ref());
            }
            PartKind::Capacitor { capacitance } => self.quantity("capacitance", Some(capacitance)),
            PartKind::Diode(diode) => {
                self.quantity("drop", diode.drop.as_ref());
                self.quantity("blocks", diode.blocks.as_ref());
                self.curve(diode.curve);
            }
            PartKind::Varistor(varistor) => {
                self.quantity("clamps at", Some(&varistor.clamp));
                self.quantity("absorbs", varistor.absorbs.as_ref());
                self.curve(varistor.curve);
            }
            PartKind::Lamp(lamp) => {
                self.quantity("current", Some(&lamp.current));
                self.quantity("rated", lamp.rated.as_ref());
                let light = match lamp.light {
                    Light::NotSaid => "",
                    Light::Filament => "filament",
                    Light::Led => "LED",
                };
                self.put("light", light.to_owned());
                self.quantity("drop", lamp.drop.as_ref());
                self.quantity("cold", lamp.cold.as_ref());
                self.curve(lamp.curve);
            }
            PartKind::Heater { power } => self.quantity("power", Some(power)),
            PartKind::Core(core) => {
                let numbers: Vec<String> = core.cores.iter().map(u32::to_string).collect();
                self.put("cable", self.scheme.cables[core.cable].name.clone());
                self.put("core", numbers.join("+"));
                self.put("into", self.scheme.places[core.into].name.clone());
            }
            PartKind::Link | PartKind::Terminal | PartKind::Jumper => {}
        }
    }
}

/// A line of a contact's ratings: "30 A at 125 V, L/R 40 ms, for 0.2 s".
fn rating(rating: &ContactRating) -> String {
    let mut said = rating.amps.written.clone();
    if let Some(volts) = &rating.volts {
        said.push_str(&format!(" at {}", volts.written));
    }
    if let Some(time) = &rating.time_constant {
        said.push_str(&format!(", L/R {}", time.written));
    }
    if let Some(time) = &rating.lasts {
        said.push_str(&format!(", for {}", time.written));
    }
    said
}
