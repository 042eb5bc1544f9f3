//! What a scheme says about the outside and about what no wiring shows: bounces, shortest stays, slow
//! starts.
//!
//! **In:** a scheme. **Out:** the sentences that stand beside every verdict. **Never here:** the search.

use fiftytwo_scheme::{Contact, DeviceKind, PartKind, Scheme};

/// What the scheme itself says about how the outside behaves: every verdict rests on it.
pub(crate) fn assumed(scheme: &Scheme) -> Vec<String> {
    let mut list = Vec::new();
    for part in scheme.parts.values() {
        if let PartKind::Contact(Contact { bounce: Some(time), .. }) = &part.kind {
            list.push(format!(
                "{}: after it has changed it may open and close again for {}, no longer; contacts that \
                 say no bounce change once",
                part.name, time.written
            ));
        }
    }
    let conditions = scheme.conditions.values().map(|it| (&it.name, &it.stays));
    let hands = scheme.devices.values().map(|it| (&it.name, &it.stays));
    for (name, stays) in conditions.chain(hands) {
        if let Some(time) = stays {
            list.push(format!(
                "{name}: once moved from outside it is not moved back before {} are over",
                time.written
            ));
        }
    }
    for device in scheme.devices.values() {
        if let DeviceKind::Ied { starts_in: Some(time), .. } = &device.kind {
            list.push(format!(
                "{}: has started when a run begins; without its feed, and for {} after it has come \
                 back, it sees nothing and its contacts are as without supply; what it has stored stays",
                device.name, time.written
            ));
        }
    }
    list
}
