//! The bare frame of a text: words, arguments, properties, lines in braces, each with its place.
//!
//! **In:** a text taken apart. **Out:** [`Line`]s. What the language never allows (signs such
//! as `#true`, words in quotes, a property given twice) is reported here.
//! **Never here:** what a word means.

use crate::finding::Finding;
use crate::source::{FileId, Span};
use crate::text::tree::{Entry, Item, Member, Node, Tree};
use kdl::{KdlEntry, KdlValue};
use std::ops::Range;

/// One line: a word with what belongs to it.
#[derive(Debug, Clone)]
pub(super) struct Line {
    /// The word it begins with.
    pub word: String,
    /// Where the word stands.
    pub span: Span,
    /// What stands behind the word, in order.
    pub args: Vec<Arg>,
    /// Properties, each once.
    pub props: Vec<Prop>,
    /// Lines in its braces.
    pub lines: Vec<Line>,
}

/// A property.
#[derive(Debug, Clone)]
pub(super) struct Prop {
    /// Its name.
    pub name: String,
    /// Where the name stands.
    pub span: Span,
    /// Its value.
    pub arg: Arg,
}

/// A value.
#[derive(Debug, Clone)]
pub(super) struct Arg {
    /// What is written, quotes removed.
    pub text: String,
    /// How it is written.
    pub form: Form,
    /// Where; quotes included.
    pub span: Span,
}

/// How a value is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Form {
    /// In quotes.
    Quoted,
    /// A word without quotes.
    Bare,
    /// A whole number without quotes.
    Whole(i128),
    /// Another number without quotes.
    Number,
    /// Something the language does not have; already reported.
    Wrong,
}

/// Turns a text that was taken apart into lines, reporting what the language does not have.
pub(super) fn lines(
    tree: &Tree,
    file: FileId,
    text: &str,
    findings: &mut Vec<Finding>,
) -> Vec<Line> {
    Framer { file, text, findings }.items(&tree.items)
}

struct Framer<'a> {
    file: FileId,
    text: &'a str,
    findings: &'a mut Vec<Finding>,
}

impl Framer<'_> {
    fn span(&self, range: &Range<usize>) -> Span {
        let cut = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        Span { file: self.file, start: cut(range.start), end: cut(range.end) }
    }

    fn written(&self, range: &Range<usize>) -> &str {
        self.text.get(range.clone()).unwrap_or_default()
    }

    fn items(&mut self, items: &[Item]) -> Vec<Line> {
        let nodes = items.iter().filter_map(|item| match item {
            Item::Node(node) if !node.dashed => Some(node),
            _ => None,
        });
        nodes.map(|node| self.node(node)).collect()
    }

    fn node(&mut self, node: &Node) -> Line {
        let span = self.span(&node.name);
        let (word, form) = value(self.written(&node.name));
        if form == Form::Quoted && !word.is_empty() {
            self.findings.push(
                Finding::error(
                    "word-in-quotes",
                    format!("A line begins with a bare word, not with {word:?} in quotes."),
                )
                .at(span, "a name or quantity where a word belongs")
                .help(format!("say first what {word:?} is, such as: relay {word:?}")),
            );
        }
        let mut line = Line { word, span, args: Vec::new(), props: Vec::new(), lines: Vec::new() };
        let mut latest = Latest::Arg;
        for piece in &node.pieces {
            match piece {
                Member::Entry(entry) if !entry.dashed => self.entry(&mut line, entry, &mut latest),
                Member::Block(block) if !block.dashed => {
                    let inner = self.items(&block.items);
                    line.lines.extend(inner);
                }
                _ => {}
            }
        }
        line
    }

    fn entry(&mut self, line: &mut Line, entry: &Entry, latest: &mut Latest) {
        let arg = self.arg(&entry.value);
        let Some(key) = &entry.key else {
            if !join(last(&mut line.args, &mut line.props, *latest), &arg) {
                line.args.push(arg);
                *latest = Latest::Arg;
            }
            return;
        };
        *latest = Latest::Prop;
        let (name, _) = value(self.written(key));
        let span = self.span(key);
        match line.props.iter().find(|prop| prop.name == name) {
            None => line.props.push(Prop { name, span, arg }),
            Some(first) => self.findings.push(
                Finding::error("property-twice", format!("{name:?} is given twice on this line."))
                    .at(span, "given again")
                    .and_at(first.span, "given here first")
                    .why("only one of the two can be meant, and a reader can't know which")
                    .help("keep the one that is meant"),
            ),
        }
    }

    fn arg(&mut self, range: &Range<usize>) -> Arg {
        let span = self.span(range);
        let (text, form) = value(self.written(range));
        if form == Form::Wrong {
            self.findings.push(
                Finding::error("sign", format!("{text} has no meaning here."))
                    .at(span, "no such sign in this language")
                    .why("there is no true, false or empty value: what is so is said in words")
                    .help("leave it out, or write the name or quantity that is meant"),
            );
        }
        Arg { text, form, span }
    }
}

/// The text of a value and how it is written. Strings with escapes and unusual numbers are left
/// to KDL's own parser.
fn value(written: &str) -> (String, Form) {
    let plain = written.strip_prefix('"').and_then(|rest| rest.strip_suffix('"'));
    if let Some(plain) = plain.filter(|plain| !plain.contains(['\\', '"', '\n', '\r'])) {
        return (plain.to_owned(), Form::Quoted);
    }
    let number = written.starts_with(|sign: char| sign.is_ascii_digit() || "+-.#".contains(sign));
    if !number && !written.starts_with('"') {
        return (written.to_owned(), Form::Bare);
    }
    if let Some(whole) = written.parse::<i128>().ok().filter(|_| !written.starts_with('+')) {
        return (written.to_owned(), Form::Whole(whole));
    }
    let Ok(entry) = KdlEntry::parse(written) else { return (written.to_owned(), Form::Bare) };
    match entry.value() {
        KdlValue::String(text) if written.starts_with(['"', '#']) => (text.clone(), Form::Quoted),
        KdlValue::String(text) => (text.clone(), Form::Bare),
        KdlValue::Integer(number) => (written.to_owned(), Form::Whole(*number)),
        KdlValue::Float(number) if number.is_finite() => (written.to_owned(), Form::Number),
        KdlValue::Float(_) | KdlValue::Bool(_) | KdlValue::Null => {
            (written.to_owned(), Form::Wrong)
        }
    }
}

#[derive(Clone, Copy)]
enum Latest {
    Arg,
    Prop,
}

fn last<'a>(args: &'a mut [Arg], props: &'a mut [Prop], latest: Latest) -> Option<&'a mut Arg> {
    match latest {
        Latest::Arg => args.last_mut(),
        Latest::Prop => props.last_mut().map(|prop| &mut prop.arg),
    }
}

/// `41 ohm` or `90 to 140 V` without quotes reads as several values: joins them into one, so that
/// one error shows the whole quantity.
fn join(before: Option<&mut Arg>, next: &Arg) -> bool {
    let Some(before) = before else { return false };
    let started = matches!(before.form, Form::Whole(_) | Form::Number);
    let goes_on = match next.form {
        Form::Bare => started,
        Form::Whole(_) | Form::Number => before.form == Form::Number && before.text.contains(' '),
        Form::Quoted | Form::Wrong => false,
    };
    if goes_on {
        before.text = format!("{} {}", before.text, next.text);
        before.span.end = next.span.end;
        before.form = Form::Number;
    }
    goes_on
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test fails by panicking")]
    use super::{Form, Line, lines};
    use crate::arena::Id;
    use crate::source::FileId;
    use crate::text;
    use kdl::{KdlDocument, KdlNode, KdlValue};

    fn ours(line: &Line) -> String {
        let arg = |arg: &super::Arg| match arg.form {
            Form::Quoted | Form::Bare => format!("{:?}", arg.text),
            _ => arg.text.clone(),
        };
        let args: Vec<String> = line.args.iter().map(arg).collect();
        let props: Vec<String> =
            line.props.iter().map(|prop| format!("{}={}", prop.name, arg(&prop.arg))).collect();
        let inner: Vec<String> = line.lines.iter().map(ours).collect();
        format!("{} {} {} {{{}}}", line.word, args.join(" "), props.join(" "), inner.join("; "))
    }

    fn kdls(node: &KdlNode) -> String {
        let value = |value: &KdlValue| match value {
            KdlValue::String(text) => format!("{text:?}"),
            KdlValue::Integer(number) => number.to_string(),
            other => format!("{other:?}"),
        };
        let args: Vec<String> = node
            .entries()
            .iter()
            .filter(|entry| entry.name().is_none())
            .map(|entry| value(entry.value()))
            .collect();
        let props: Vec<String> = node
            .entries()
            .iter()
            .filter_map(|entry| Some(format!("{}={}", entry.name()?.value(), value(entry.value()))))
            .collect();
        let inner: Vec<String> =
            node.children().iter().flat_map(|block| block.nodes()).map(kdls).collect();
        let word = node.name().value();
        format!("{word} {} {} {{{}}}", args.join(" "), props.join(" "), inner.join("; "))
    }

    /// KDL's own parser is the outside check of what we take a text to be.
    #[test]
    fn lines_are_what_kdl_reads() {
        let mut texts = vec![
            "a \"b\\\"c\" 1 d=\"e\" /-\"no\" {\n/-f\ng \"\\u{e9}\" \\\n 2 } // h\n/- i { j }\nk #\"l\"# -3"
                .to_owned(),
        ];
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            for file in ["scheme.kdl", "stories.kdl"] {
                texts.extend(std::fs::read_to_string(path.join(file)));
            }
        }
        assert!(texts.len() > 6);
        for text in texts {
            let file = FileId::from_index(0);
            let tree = text::examine(file, &text).unwrap();
            let ours: Vec<String> =
                lines(&tree, file, &text, &mut Vec::new()).iter().map(ours).collect();
            let kdl = KdlDocument::parse_v2(&text).unwrap();
            let kdls: Vec<String> = kdl.nodes().iter().map(kdls).collect();
            assert_eq!(ours.join("\n"), kdls.join("\n"));
        }
    }
}
