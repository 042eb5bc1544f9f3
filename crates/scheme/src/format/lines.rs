//! Lines with the comments behind them.

/// A line of code, and what stands behind it.
#[derive(Debug, Clone, Default)]
pub(super) struct Line {
    pub code: String,
    pub tail: Vec<String>,
}

/// One text of all lines. Comments behind neighbouring lines stand in one column.
pub(super) fn join(lines: Vec<Line>) -> String {
    let mut out = String::new();
    let mut rest = lines.as_slice();
    while let Some((first, behind)) = rest.split_first() {
        if first.tail.is_empty() {
            push(&mut out, first, 0);
            rest = behind;
            continue;
        }
        let run = rest.iter().take_while(|line| !line.tail.is_empty()).count();
        let (group, behind) = rest.split_at(run);
        let column = group.iter().map(|line| width(&line.code)).max().unwrap_or(0);
        for line in group {
            push(&mut out, line, column);
        }
        rest = behind;
    }
    out
}

fn push(out: &mut String, line: &Line, column: usize) {
    out.push_str(&line.code);
    if !line.tail.is_empty() {
        let gap = column.saturating_sub(width(&line.code)) + 2;
        out.extend(std::iter::repeat_n(' ', gap));
        out.push_str(&line.tail.join(" "));
    }
    out.push('\n');
}

/// The width of the last line of a piece of code, in characters.
pub(super) fn width(code: &str) -> usize {
    code.rsplit('\n').next().unwrap_or(code).chars().count()
}
