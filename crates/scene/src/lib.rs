//! A run's moments as what a drawing shows.
//!
//! **In:** a scheme and a state of its machine. **Out:** where every wire lies, what every part
//! does, in the words that stand beside it ([`state`]). **Never here:** strokes, files, time, any
//! state that no engine gave.

pub mod state;
