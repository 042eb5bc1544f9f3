//! In what order the groups of a sheet are laid down. **In:** a sheet. **Out:** its groups, lowest
//! first, the same for every writer. **Never here:** strokes.

use crate::geometry::{Group, Sheet};

/// The groups, lowest first.
pub fn layered(sheet: &Sheet) -> Vec<&Group> {
    let mut groups: Vec<&Group> = sheet.items.iter().collect();
    groups.sort_by_key(|group| group.role.layer());
    groups
}
