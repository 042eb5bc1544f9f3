//! The examples inside the program, so that the first run needs no file.

use crate::input::{Input, Named};
use fiftytwo_scheme::read_texts;
use std::path::PathBuf;

/// A scheme and the stories beside it.
#[derive(Debug, Clone, Copy)]
pub struct Bundled {
    /// Its folder.
    pub name: &'static str,
    /// Its text.
    pub scheme: &'static str,
    /// Its stories.
    pub stories: &'static str,
}

macro_rules! bundled {
    ($name:literal) => {
        Bundled {
            name: $name,
            scheme: include_str!(concat!("../../../examples/", $name, "/scheme.kdl")),
            stories: include_str!(concat!("../../../examples/", $name, "/stories.kdl")),
        }
    };
}

/// The whole modern scheme.
pub const QUILLMERE: Bundled = bundled!("quillmere");
/// A wrong scheme, kept as a lesson.
pub const DUNMARROW: Bundled = bundled!("dunmarrow");
/// The same, repaired.
pub const REPAIRED: Bundled = bundled!("dunmarrow-repaired");

impl Bundled {
    /// The files of it, by their paths below the folder of the results.
    pub fn files(&self) -> [(String, &'static str); 2] {
        let path = |file| format!("{}/{file}", self.name);
        [(path("scheme.kdl"), self.scheme), (path("stories.kdl"), self.stories)]
    }

    /// Reads it, under those paths.
    pub fn read(&self) -> Input {
        let [(scheme, text), (stories, told)] = self.files();
        let reading = read_texts((&scheme, text), (&stories, told));
        let named =
            Named { path: PathBuf::from(&scheme), shown: scheme, stem: self.name.to_owned() };
        Input { named, reading }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_bundled_scheme_can_be_used() {
        for bundled in [QUILLMERE, DUNMARROW, REPAIRED] {
            let input = bundled.read();
            assert!(input.checked().is_some(), "{}: {:?}", bundled.name, input.reading.findings);
        }
    }
}
