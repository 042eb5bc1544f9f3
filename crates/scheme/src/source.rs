//! Places in the text.

use crate::arena::Arena;
use crate::id_type;

id_type!(/// A file of the scheme.
    FileId);

/// A stretch of one file, in bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

/// Line and column as an editor counts them, both from 1; columns count characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// Line, from 1.
    pub line: u32,
    /// Column in characters, from 1.
    pub column: u32,
}

/// One file as read.
#[derive(Debug, Clone, PartialEq)]
pub struct SourceFile {
    /// The path as the user gave it.
    pub name: String,
    /// Its text.
    pub text: String,
}

/// All files a scheme was read from.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sources {
    /// The files; the first is the scheme itself.
    pub files: Arena<FileId, SourceFile>,
}

impl Sources {
    /// Line and column of the beginning of `span`.
    pub fn position(&self, span: Span) -> Position {
        let text = &self.files[span.file].text;
        let mut at = (span.start as usize).min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        let before = &text[..at];
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        let line = before.bytes().filter(|byte| *byte == b'\n').count() + 1;
        let column = before[line_start..].chars().count() + 1;
        Position { line: count(line), column: count(column) }
    }
    /// The name of the file a span lies in.
    pub fn file_name(&self, span: Span) -> &str {
        &self.files[span.file].name
    }
    /// "scheme.kdl:24:9", as an editor understands it.
    pub fn place(&self, span: Span) -> String {
        let Position { line, column } = self.position(span);
        format!("{}:{line}:{column}", self.file_name(span))
    }
}

fn count(value: usize) -> u32 {
    u32::try_from(value).unwrap_or(u32::MAX)
}
