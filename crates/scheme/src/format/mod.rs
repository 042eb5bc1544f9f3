//! The one layout of a scheme's text.
//!
//! **In:** text. **Out:** the same text laid out: four spaces a level, one statement a line, at
//! most 100 characters, properties one a line in braces where they don't fit, at most one empty
//! line. Every comment stays, strings stay as spelt.
//! **Never here:** a changed meaning. The result is read again and compared; a text with slips is
//! left alone.

mod layout;
mod lines;
mod same;

use crate::arena::Id;
use crate::finding::Finding;
use crate::source::FileId;
use crate::text::tree::{comments, tree};
use crate::text::{self, MAX_DEPTH};

/// Lays out a scheme's text; `name` is the file's, for the findings' places.
///
/// # Errors
/// The text's own slips, with places in the text as given; or a note of ours if the layout would
/// change the text's meaning, which is a fault of this program.
pub fn format(name: &str, text: &str) -> Result<String, Vec<Finding>> {
    let file = FileId::from_index(0);
    let before = text::document(file, text)?;
    let slips = text::slips(file, text);
    if !slips.is_empty() {
        return Err(slips);
    }
    let plain = one_newline(text);
    let laid_out = lines::join(layout::lines(&plain, &tree(file, &plain, MAX_DEPTH).items));
    if laid_out.is_empty() && before.nodes().is_empty() {
        return Ok(laid_out);
    }
    let after = text::document(file, &laid_out).map_err(|_| vec![changed(name)])?;
    let kept = sorted(comments(&plain)) == sorted(comments(&laid_out));
    if kept && same::same(&before, &after) { Ok(laid_out) } else { Err(vec![changed(name)]) }
}

fn sorted(mut comments: Vec<String>) -> Vec<String> {
    comments.sort_unstable();
    comments
}

/// Every way of ending a line as one, no mark of byte order.
fn one_newline(text: &str) -> String {
    text.trim_start_matches('\u{feff}').replace("\r\n", "\n").replace('\r', "\n")
}

fn changed(name: &str) -> Finding {
    Finding::error("format-unsafe", format!("{name} can't be laid out without changing it."))
        .why("this is a fault of fiftytwo, not of your text; the file is left as it is")
        .help(
            "lay this file out by hand, and report the fault with the smallest text that shows it",
        )
}
