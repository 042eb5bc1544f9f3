//! What a scheme leaves unsaid, and what it declares without using it.

use super::desk::Desk;

/// Notes on a scheme without errors.
pub(super) fn all(desk: &mut Desk) {
    let _ = desk;
}
