//! What is watched of the path of a coil, as data for its picture. **In:** a scheme and the name of a
//! coil. **Out:** every piece of its path with the positions in which a break there shows, from the
//! calculation of monitors. **Never here:** strokes.

use crate::input::Checked;
use fiftytwo_calculations::{Study, monitors};
use fiftytwo_motion::Machine;
use fiftytwo_scheme::Finding;
use fiftytwo_sheet::Watched;
use std::collections::{BTreeMap, BTreeSet};

/// What the monitors of a coil watch.
///
/// # Errors
/// Findings where the scheme cannot be set in motion, there is no such coil, or nothing watches it.
pub fn watched(checked: &Checked<'_>, name: &str) -> Result<Watched, Vec<Finding>> {
    let scheme = checked.scheme;
    let machine = Machine::new(scheme)?;
    let found = monitors::monitors(&Study::new(&machine));
    let Some(coil) = found.coils.iter().find(|coil| coil.coil == name) else {
        let known = scheme.coils().any(|(_, part, _)| part.name == name && part.at.is_some());
        let names: Vec<&str> = found.coils.iter().map(|coil| coil.coil.as_str()).collect();
        let (id, words) = if known {
            ("coil-unwatched", format!("nothing watches the path of \"{name}\""))
        } else {
            ("coil-unknown", format!("there is no placed coil \"{name}\""))
        };
        let fault = Finding::error(id, words);
        return Err(vec![match names.as_slice() {
            [] => fault.help("no coil of this scheme has a monitor"),
            names => fault.help(format!("coils with monitors are: {}", names.join(", "))),
        }]);
    };
    let mut pieces: BTreeMap<_, BTreeSet<usize>> = BTreeMap::new();
    for (position, coverage) in coil.coverage.iter().enumerate() {
        for part in &coverage.parts {
            let seen = pieces.entry(*part).or_default();
            let name = &scheme.parts[*part].name;
            if !coverage.uncovered.iter().any(|piece| piece.part == *name) {
                seen.insert(position);
            }
        }
    }
    Ok(Watched {
        coil: coil.coil.clone(),
        by: coil.form.clone(),
        positions: coil.coverage.iter().map(|coverage| coverage.position.clone()).collect(),
        pieces,
    })
}
