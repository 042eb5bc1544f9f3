//! How a run ends, as scripts and batch engines see it.

use std::process::ExitCode;

/// The exit codes, part of the contract in `docs/cli.md`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// All that was asked holds; nothing found.
    Holds,
    /// Something was found: a claim fails, a coil lacks voltage, a story comes out otherwise.
    Found,
    /// The input cannot be used, or the results cannot be written. Nothing was written.
    BadInput,
    /// Nothing was found, but something is not proven within the limits.
    NotProven,
}

impl Exit {
    /// The number the shell sees.
    pub const fn code(self) -> u8 {
        match self {
            Self::Holds => 0,
            Self::Found => 1,
            Self::BadInput => 2,
            Self::NotProven => 3,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}
