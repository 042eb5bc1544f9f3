//! Grounds on a floating supply.
pub mod bridge;
pub mod discharge;
pub(crate) mod field;
mod joined;

#[cfg(test)]
mod tests;
