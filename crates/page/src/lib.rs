//! The page's server: the drawing alive in a browser on the user's own machine.
//!
//! **In:** questions about a scheme's text, from the page that this server serves. **Out:** answers
//! of the engines as JSON, drawings as SVG. **Never here:** anything that leaves the machine, any
//! rule of circuits or motion. The text is the truth and lives in the browser while it is edited;
//! nothing but drafts and saved files is kept here, so a server that was killed has lost nothing.
//!
//! Rooms: `guard` (who may ask), `library` (what may be opened), `keeping` (key and drafts), `desks`
//! and `model` (texts that are remembered, each with a thread of its own), `run` (a run led by hand),
//! `handles` (what can be done from outside), `drawn` (where things stand), `calls` (a file for each).

mod answer;
mod calls;
mod claim_story;
mod desks;
mod drawn;
mod guard;
mod handles;
mod hearing;
pub mod joined;
mod keeping;
mod library;
mod model;
mod proven;
mod run;
mod server;
mod statics;
mod text;
mod told;

pub use keeping::{usual_folder, write_own};
pub use library::Example;
pub use server::{Server, USUAL_PORT, Wanted};
