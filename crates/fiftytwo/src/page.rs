//! Plain text laid out for a narrow page.
//!
//! **In:** words, rows, numbers. **Out:** lines of at most [`WIDTH`] characters where the words
//! allow it, with colour codes that the console takes out where nobody wants them.
//! **Never here:** what the words mean.

use clap::builder::styling::{AnsiColor, Style};
use std::fmt::Write;

/// Characters in a line.
pub const WIDTH: usize = 80;

/// Headings.
pub const HEAD: Style = Style::new().bold();
/// What holds.
pub const GOOD: Style = AnsiColor::Green.on_default();
/// What fails.
pub const BAD: Style = AnsiColor::Red.on_default().bold();
/// What is open.
pub const OPEN: Style = AnsiColor::Yellow.on_default();
/// What is aside.
pub const ASIDE: Style = Style::new().dimmed();

/// A page being written.
#[derive(Debug, Default)]
pub struct Page {
    text: String,
}

impl Page {
    /// The page so far.
    pub fn into_text(self) -> String {
        self.text
    }

    /// A line as it is.
    pub fn line(&mut self, text: &str) -> &mut Self {
        self.text.push_str(text);
        self.text.push('\n');
        self
    }

    /// An empty line, unless there is one already or the page is empty.
    pub fn gap(&mut self) -> &mut Self {
        if !self.text.is_empty() && !self.text.ends_with("\n\n") {
            self.text.push('\n');
        }
        self
    }

    /// A heading with an empty line before it.
    pub fn head(&mut self, text: &str) -> &mut Self {
        self.gap();
        self.line(&painted(HEAD, text))
    }

    /// Words wrapped at the page's width, each line after the first pushed in by `hang`.
    pub fn words(&mut self, indent: usize, hang: usize, text: &str) -> &mut Self {
        for line in wrapped(text, indent, hang) {
            self.line(&line);
        }
        self
    }

    /// Text that is laid out already.
    pub fn block(&mut self, text: &str) -> &mut Self {
        self.text.push_str(text);
        if !text.is_empty() && !text.ends_with('\n') {
            self.text.push('\n');
        }
        self
    }

    /// Rows with aligned columns.
    pub fn table(&mut self, table: &Table) -> &mut Self {
        self.block(&table.laid_out())
    }
}

/// Text in a style.
pub fn painted(style: Style, text: &str) -> String {
    format!("{style}{text}{style:#}")
}

/// Words wrapped at [`WIDTH`]; the first line begins at `indent`, the others at `indent + hang`.
pub fn wrapped(text: &str, indent: usize, hang: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = " ".repeat(indent);
    let mut width = indent;
    let mut fresh = true;
    for word in text.split_whitespace() {
        let long = shown_width(word);
        if !fresh && width + 1 + long > WIDTH {
            lines.push(std::mem::replace(&mut line, " ".repeat(indent + hang)));
            width = indent + hang;
            fresh = true;
        }
        if !fresh {
            line.push(' ');
            width += 1;
        }
        line.push_str(word);
        width += long;
        fresh = false;
    }
    if !fresh {
        lines.push(line);
    }
    lines
}

/// Characters a reader sees, colour codes aside.
pub fn shown_width(text: &str) -> usize {
    let mut inside_code = false;
    text.chars()
        .filter(|character| match (*character, inside_code) {
            ('\u{1b}', _) => {
                inside_code = true;
                false
            }
            ('m', true) => {
                inside_code = false;
                false
            }
            (_, inside) => !inside,
        })
        .count()
}

/// How a column stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    /// Words begin together.
    Left,
    /// Numbers end together.
    Right,
}

/// Rows of cells.
#[derive(Debug)]
pub struct Table {
    columns: Vec<Column>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table whose columns stand so; cells beyond them stand left.
    pub fn new(columns: &[Column]) -> Self {
        Self { columns: columns.to_vec(), rows: Vec::new() }
    }

    /// Adds a row.
    pub fn row<Cell: Into<String>>(&mut self, cells: impl IntoIterator<Item = Cell>) -> &mut Self {
        self.rows.push(cells.into_iter().map(Into::into).collect());
        self
    }

    /// Its rows, laid out, one line each.
    pub fn lines(&self) -> Vec<String> {
        self.laid_out().lines().map(str::to_owned).collect()
    }

    fn laid_out(&self) -> String {
        let n_columns = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let widths: Vec<usize> = (0..n_columns)
            .map(|idx| {
                let cells = self.rows.iter().filter_map(|row| row.get(idx));
                cells.map(|cell| shown_width(cell)).max().unwrap_or(0)
            })
            .collect();
        let mut text = String::new();
        for row in &self.rows {
            let mut line = String::from(" ");
            for (idx, cell) in row.iter().enumerate() {
                let room = widths.get(idx).copied().unwrap_or(0);
                let blank = " ".repeat(room.saturating_sub(shown_width(cell)));
                let _ = match self.columns.get(idx) {
                    Some(Column::Right) => write!(line, " {blank}{cell} "),
                    _ => write!(line, " {cell}{blank} "),
                };
            }
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text
    }
}

/// "1 part", "3 parts".
pub fn count_of(n: usize, thing: &str) -> String {
    if n == 1 { format!("1 {thing}") } else { format!("{n} {thing}s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_stay_within_the_page() {
        let text = "a rather long sentence about a coil ".repeat(9);
        for line in wrapped(&text, 2, 4) {
            assert!(shown_width(&line) <= WIDTH, "{line}");
        }
        assert_eq!(wrapped("", 2, 4), Vec::<String>::new());
    }

    #[test]
    fn colour_takes_no_room() {
        assert_eq!(shown_width(&painted(BAD, "fails")), 5);
        let mut table = Table::new(&[Column::Left, Column::Right]);
        table.row([painted(BAD, "52"), "1".to_owned()]).row(["52Y", "100"]);
        let text = table.laid_out();
        let ends: Vec<usize> = text.lines().map(shown_width).collect();
        assert_eq!(ends, [10, 10]);
    }
}
