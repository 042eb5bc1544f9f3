//! The words of a scheme's text, one at a time.
//!
//! **In:** bytes of a file, or the text of one value.
//! **Out:** a KDL document with places, a quantity in SI, the tree of a statement, or what is
//! wrong in the designer's words.
//! The reader of a scheme takes its lines from our own pieces (`examine`), which cost a twentieth
//! of KDL's tree; [`document`] is the same text in KDL's eyes, [`slips`] what KDL takes but a
//! scheme does not say. A later finding that [`touches`] a slip says the same again and is left out.
//! **Never here:** names. What a word points at is known only to the reader of the whole scheme.

mod braces;
mod document;
pub(crate) mod lex;
mod phrase;
mod place;
mod quantity;
mod slips;
mod spelling;
pub(crate) mod tree;
mod vocabulary;

pub(crate) use document::examine;
pub use document::{MAX_BYTES, MAX_DEPTH, decode, document, slips, touches};
pub use phrase::{Raw, reserved_word, statement};
pub use quantity::{
    Kind, Stroke, amperes, celsius, count, duration, farads, instant, joules, metres, ohms,
    stroke_offset, supply_voltage, unquoted, volts, volts_or_percent, watts, wire_size,
};
pub use spelling::Spelling;
pub(crate) use vocabulary::{ANYWHERE, OF_CHAIN, TOP, home, is_property};
