//! Boolean expressions that are printed, not evaluated, and pairs of them for three values.

use std::fmt;

/// A Boolean expression over names of the model.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Bool {
    /// Always or never.
    Is(bool),
    /// A comparison or a name, as it stands in the model.
    Word(String),
    /// Not.
    Not(Box<Self>),
    /// All of them.
    All(Vec<Self>),
    /// At least one of them.
    Any(Vec<Self>),
}

impl Bool {
    pub(super) fn word(text: impl Into<String>) -> Self {
        Self::Word(text.into())
    }
    pub(super) fn equals(name: &str, value: u8) -> Self {
        Self::Word(format!("{name} == {value}"))
    }
    /// All of them, without what is always so.
    pub(super) fn all(items: impl IntoIterator<Item = Self>) -> Self {
        let mut kept: Vec<Self> = Vec::new();
        for item in items {
            match item {
                Self::Is(true) => {}
                Self::Is(false) => return Self::Is(false),
                Self::All(inner) => {
                    inner.into_iter().for_each(|item| push_new(&mut kept, item));
                }
                item => push_new(&mut kept, item),
            }
        }
        alone(kept, Self::Is(true), Self::All)
    }
    /// At least one of them, without what is never so.
    pub(super) fn any(items: impl IntoIterator<Item = Self>) -> Self {
        let mut kept: Vec<Self> = Vec::new();
        for item in items {
            match item {
                Self::Is(false) => {}
                Self::Is(true) => return Self::Is(true),
                Self::Any(inner) => {
                    inner.into_iter().for_each(|item| push_new(&mut kept, item));
                }
                item => push_new(&mut kept, item),
            }
        }
        alone(kept, Self::Is(false), Self::Any)
    }
    pub(super) fn and(self, other: Self) -> Self {
        Self::all([self, other])
    }
    pub(super) fn or(self, other: Self) -> Self {
        Self::any([self, other])
    }
    pub(super) fn negated(self) -> Self {
        match self {
            Self::Is(value) => Self::Is(!value),
            Self::Not(inner) => *inner,
            other => Self::Not(Box::new(other)),
        }
    }
    /// Never so.
    pub(super) fn is_never(&self) -> bool {
        *self == Self::Is(false)
    }
}

fn push_new(kept: &mut Vec<Bool>, item: Bool) {
    if !kept.contains(&item) {
        kept.push(item);
    }
}

fn alone(mut kept: Vec<Bool>, empty: Bool, several: fn(Vec<Bool>) -> Bool) -> Bool {
    match kept.len() {
        0 => empty,
        1 => kept.swap_remove(0),
        _ => several(kept),
    }
}

impl fmt::Display for Bool {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let joined = |f: &mut fmt::Formatter<'_>, items: &[Self], sign: &str| {
            f.write_str("(")?;
            for (index, item) in items.iter().enumerate() {
                if index > 0 {
                    write!(f, " {sign} ")?;
                }
                write!(f, "{item}")?;
            }
            f.write_str(")")
        };
        match self {
            Self::Is(value) => write!(f, "{value}"),
            Self::Word(word) if word.contains(' ') => write!(f, "({word})"),
            Self::Word(word) => f.write_str(word),
            // Spin reads two marks side by side as a word of its own.
            Self::Not(inner) => write!(f, "(!{inner})"),
            Self::All(items) => joined(f, items, "&&"),
            Self::Any(items) => joined(f, items, "||"),
        }
    }
}

/// What may be so, and what surely is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Tri {
    /// Perhaps or surely so.
    pub(super) may: Bool,
    /// Surely so.
    pub(super) sure: Bool,
}

impl Tri {
    pub(super) fn known(so: Bool) -> Self {
        Self { may: so.clone(), sure: so }
    }
    pub(super) fn is(so: bool) -> Self {
        Self::known(Bool::Is(so))
    }
    /// No perhaps in it.
    pub(super) fn is_known(&self) -> bool {
        self.may == self.sure
    }
    pub(super) fn not(self) -> Self {
        Self { may: self.sure.negated(), sure: self.may.negated() }
    }
    pub(super) fn all(items: impl IntoIterator<Item = Self>) -> Self {
        let (may, sure): (Vec<Bool>, Vec<Bool>) =
            items.into_iter().map(|item| (item.may, item.sure)).unzip();
        Self { may: Bool::all(may), sure: Bool::all(sure) }
    }
    pub(super) fn any(items: impl IntoIterator<Item = Self>) -> Self {
        let (may, sure): (Vec<Bool>, Vec<Bool>) =
            items.into_iter().map(|item| (item.may, item.sure)).unzip();
        Self { may: Bool::any(may), sure: Bool::any(sure) }
    }
    pub(super) fn and(self, other: Self) -> Self {
        Self::all([self, other])
    }
}
