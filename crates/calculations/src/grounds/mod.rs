//! Grounds on a floating supply.
pub mod bridge;
pub mod discharge;
pub mod field;
mod joined;

#[cfg(test)]
mod tests;
