//! Lines of the scheme's text. **In:** the files. **Out:** file and line of a place in them, looked up
//! without counting from the beginning each time. **Never here:** columns.

use crate::geometry::Source;
use fiftytwo_scheme::{FileId, Sources, Span};
use std::collections::BTreeMap;

/// Where lines begin in each file.
#[derive(Debug, Default)]
pub struct Lines(BTreeMap<FileId, (String, Vec<u32>)>);

impl Lines {
    /// Looks through the files once.
    pub fn new(sources: &Sources) -> Self {
        let files = sources.files.iter().map(|(id, file)| {
            // Without folders: a drawing says nothing about the machine it was made on.
            let name = file.name.rsplit(['/', '\\']).next().unwrap_or_default().to_owned();
            let ends = file.text.bytes().zip(0_u32..).filter(|(byte, _)| *byte == b'\n');
            (id, (name, ends.map(|(_, at)| at).collect()))
        });
        Self(files.collect())
    }
    /// File and line of a place; none: no such file.
    pub fn source(&self, span: Span) -> Option<Source> {
        let (name, ends) = self.0.get(&span.file)?;
        let before = ends.partition_point(|end| *end < span.start);
        let line = u32::try_from(before).unwrap_or(u32::MAX).saturating_add(1);
        Some(Source { file: name.clone(), line })
    }
}
