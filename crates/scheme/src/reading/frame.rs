//! The bare frame of a text: words, arguments, properties, lines in braces, each with its place.
//!
//! **In:** a parsed KDL document. **Out:** [`Line`]s. What the language never allows (signs such
//! as `#true`, types in brackets, words in quotes, a property given twice) is reported here.
//! **Never here:** what a word means.

use crate::finding::Finding;
use crate::source::{FileId, Span};
use kdl::{KdlDocument, KdlEntry, KdlIdentifier, KdlNode, KdlValue};

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

/// Turns a document into lines, reporting what the language does not have.
pub(super) fn lines(
    document: &KdlDocument,
    file: FileId,
    text: &str,
    findings: &mut Vec<Finding>,
) -> Vec<Line> {
    let mut framer = Framer { file, text, findings };
    framer.document(document)
}

struct Framer<'a> {
    file: FileId,
    text: &'a str,
    findings: &'a mut Vec<Finding>,
}

impl Framer<'_> {
    fn span(&self, start: usize, end: usize) -> Span {
        let cut = |at: usize| u32::try_from(at.min(self.text.len())).unwrap_or(u32::MAX);
        Span { file: self.file, start: cut(start), end: cut(end.max(start)) }
    }

    fn document(&mut self, document: &KdlDocument) -> Vec<Line> {
        document.nodes().iter().map(|node| self.node(node)).collect()
    }

    fn node(&mut self, node: &KdlNode) -> Line {
        let word = node.name().value().to_owned();
        let span = self.identifier(node.name());
        if let Some(ty) = node.ty() {
            self.type_in_brackets(ty);
        }
        let quoted = node.name().repr().is_some_and(|repr| repr.starts_with(['"', '#']));
        if quoted && !word.is_empty() {
            self.findings.push(
                Finding::error(
                    "word-in-quotes",
                    format!("A line begins with a bare word, not with {word:?} in quotes."),
                )
                .at(span, "a name or quantity where a word belongs")
                .help(format!("say first what {word:?} is, such as: relay {word:?}")),
            );
        }
        let mut args = Vec::new();
        let mut props: Vec<Prop> = Vec::new();
        let mut latest = Latest::Arg;
        for entry in node.entries() {
            let arg = self.value(entry);
            match entry.name() {
                None if join(last(&mut args, &mut props, latest), &arg) => {}
                None => {
                    args.push(arg);
                    latest = Latest::Arg;
                }
                Some(name) => {
                    self.property(&mut props, name, arg);
                    latest = Latest::Prop;
                }
            }
        }
        let lines = node.children().map(|children| self.document(children)).unwrap_or_default();
        Line { word, span, args, props, lines }
    }

    fn property(&mut self, props: &mut Vec<Prop>, name: &KdlIdentifier, arg: Arg) {
        let at = self.identifier(name);
        let name = name.value();
        if let Some(first) = props.iter().find(|prop| prop.name == name) {
            self.findings.push(
                Finding::error("property-twice", format!("{name:?} is given twice on this line."))
                    .at(at, "given again")
                    .and_at(first.span, "given here first")
                    .why("only one of the two can be meant, and a reader can't know which")
                    .help("keep the one that is meant"),
            );
            return;
        }
        props.push(Prop { name: name.to_owned(), span: at, arg });
    }

    fn identifier(&self, identifier: &KdlIdentifier) -> Span {
        let span = identifier.span();
        self.span(span.offset(), span.offset() + span.len())
    }

    fn type_in_brackets(&mut self, ty: &KdlIdentifier) {
        let at = self.identifier(ty);
        self.findings.push(
            Finding::error("type-in-brackets", format!("({}) has no meaning here.", ty.value()))
                .at(at, "no types in brackets")
                .help("leave the brackets and what is in them out"),
        );
    }

    fn value(&mut self, entry: &KdlEntry) -> Arg {
        let whole = entry.span();
        let (repr, trailing) = entry
            .format()
            .map_or((0, 0), |format| (format.value_repr.len(), format.trailing.len()));
        let end = (whole.offset() + whole.len()).saturating_sub(trailing);
        let span = self.span(end.saturating_sub(repr), end);
        if let Some(ty) = entry.ty() {
            self.type_in_brackets(ty);
        }
        let repr = entry.format().map_or("", |format| format.value_repr.as_str());
        let (text, form) = match entry.value() {
            KdlValue::String(text) if repr.starts_with(['"', '#']) => (text.clone(), Form::Quoted),
            KdlValue::String(text) => (text.clone(), Form::Bare),
            KdlValue::Integer(number) => (repr.to_owned(), Form::Whole(*number)),
            KdlValue::Float(number) if number.is_finite() => (repr.to_owned(), Form::Number),
            KdlValue::Float(_) | KdlValue::Bool(_) | KdlValue::Null => {
                self.findings.push(
                    Finding::error("sign", format!("{repr} has no meaning here."))
                        .at(span, "no such sign in this language")
                        .why("there is no true, false or empty value: what is so is said in words")
                        .help("leave it out, or write the name or quantity that is meant"),
                );
                (repr.to_owned(), Form::Wrong)
            }
        };
        Arg { text, form, span }
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
