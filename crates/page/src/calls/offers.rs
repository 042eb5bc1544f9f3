//! What can be done at a place of the drawing: the contacts not used yet, and the changes.

use super::edit::spot_of_wire;
use super::read::Manner;
use super::values::{Value, values};
use crate::answer::Refusal;
use crate::desks::Which;
use crate::drawn::groups;
use crate::model::Model;
use crate::server::Shared;
use fiftytwo_scheme::{PartId, PartKind, PlaceId};
use serde::{Deserialize, Serialize};

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
    #[serde(default)]
    part: Option<String>,
    #[serde(default)]
    wire: Option<String>,
    #[serde(flatten)]
    manner: Manner,
}

#[derive(Debug, Serialize)]
pub struct Told {
    text: String,
    /// The part at the place, by name, and its group.
    at: String,
    part: Option<String>,
    place: String,
    leg: Option<String>,
    unused: Vec<Unused>,
    may: Vec<&'static str>,
    /// The values of the part that can be set.
    values: Vec<Value>,
}

#[derive(Debug, Serialize)]
struct Unused {
    device: String,
    contact: String,
    what: String,
    same_place: bool,
    needs: Option<String>,
}

pub async fn offers(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let known = shared.office.known(asked.scheme.clone()).await?;
    let text = known.hash.clone();
    known.ask(move |model| told(model, text, &asked)).await
}

fn told(model: &Model<'_>, text: String, asked: &Asked) -> Result<Told, Refusal> {
    let (part, wire) = (asked.part.as_deref(), asked.wire.as_deref());
    let symbols = asked.manner.symbols();
    let scheme = model.scheme;
    let places = groups(model.drawing(symbols));
    let gone =
        || Refusal::conflict("This is not on the drawing any more.", "Choose another place.");
    let id: PartId = match (part, wire) {
        (_, Some(wire)) => spot_of_wire(model, wire, symbols)?.part,
        (Some(part), None) => {
            places.iter().find(|(_, (_, id))| id == part).map(|(id, _)| *id).ok_or_else(gone)?
        }
        (None, None) => return Err(Refusal::unclear("It is not said where.")),
    };
    let item = &scheme.parts[id];
    let at = item.at.ok_or_else(gone)?;
    // Behind a core one stands at its other end.
    let place = match (&item.kind, wire) {
        (PartKind::Core(core), Some(_)) => core.into,
        _ => at.place,
    };
    let mut may = Vec::new();
    if wire.is_some() {
        may.extend(["put-in", "name", "move-leg"]);
    } else {
        may.extend(["put-in", "beside", "take-out", "swap"]);
        if matches!(item.kind, PartKind::Contact(_)) {
            may.push("replace");
        }
    }
    let values = if wire.is_some() { Vec::new() } else { values(scheme, id) };
    if !values.is_empty() {
        may.push("set");
    }
    Ok(Told {
        text,
        at: item.name.clone(),
        part: places.get(&id).map(|(_, id)| id.clone()),
        place: scheme.places[place].name.clone(),
        leg: at.leg.map(|leg| scheme.legs[leg].name.clone()),
        unused: unused(model, place),
        may,
        values,
    })
}

/// Contacts that stand in no leg, those of the same place first.
fn unused(model: &Model<'_>, place: PlaceId) -> Vec<Unused> {
    let scheme = model.scheme;
    let mut unused: Vec<Unused> = scheme
        .parts
        .values()
        .filter(|part| part.at.is_none())
        .filter_map(|part| {
            let PartKind::Contact(contact) = &part.kind else { return None };
            let device = &scheme.devices[part.device?];
            let same_place = device.place == place;
            let there = &scheme.places[device.place];
            Some(Unused {
                device: device.name.clone(),
                contact: part.own_name.clone(),
                what: format!("closed when {}", contact.closed_when.text),
                same_place,
                needs: (!same_place).then(|| {
                    format!("it stands in {}: a core there and back would be needed", there.name)
                }),
            })
        })
        .collect();
    unused.sort_by_key(|it| !it.same_place);
    unused
}
