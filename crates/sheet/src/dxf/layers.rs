//! Layers by meaning. **In:** what a group stands for and what a text in it says. **Out:** one of
//! a fixed list of layers. **Never here:** the format.

use crate::geometry::{Group, Meaning, Pen, Role, Shape};

/// A layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layer {
    /// Where blocks are drawn: they take the layer they are put on.
    Zero,
    Wires,
    Rails,
    Symbols,
    Terminals,
    Designations,
    ContactNames,
    TerminalNumbers,
    Ratings,
    References,
    WireNumbers,
    Legs,
    Circuits,
    Places,
    ContactTables,
    Continuations,
    States,
    Changes,
    Notes,
    SheetFrame,
    Viewports,
}

impl Layer {
    /// All of them.
    pub const ALL: [Self; 21] = [
        Self::Zero,
        Self::Wires,
        Self::Rails,
        Self::Symbols,
        Self::Terminals,
        Self::Designations,
        Self::ContactNames,
        Self::TerminalNumbers,
        Self::Ratings,
        Self::References,
        Self::WireNumbers,
        Self::Legs,
        Self::Circuits,
        Self::Places,
        Self::ContactTables,
        Self::Continuations,
        Self::States,
        Self::Changes,
        Self::Notes,
        Self::SheetFrame,
        Self::Viewports,
    ];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Zero => "0",
            Self::Wires => "WIRES",
            Self::Rails => "RAILS",
            Self::Symbols => "SYMBOLS",
            Self::Terminals => "TERMINALS",
            Self::Designations => "DESIGNATIONS",
            Self::ContactNames => "CONTACT-NAMES",
            Self::TerminalNumbers => "TERMINAL-NUMBERS",
            Self::Ratings => "RATINGS",
            Self::References => "REFERENCES",
            Self::WireNumbers => "WIRE-NUMBERS",
            Self::Legs => "LEGS",
            Self::Circuits => "CIRCUITS",
            Self::Places => "PLACES",
            Self::ContactTables => "CONTACT-TABLES",
            Self::Continuations => "CONTINUATIONS",
            Self::States => "STATES",
            Self::Changes => "CHANGES",
            Self::Notes => "NOTES",
            Self::SheetFrame => "SHEET-FRAME",
            Self::Viewports => "VIEWPORTS",
        }
    }

    /// Width of its lines where an object says nothing else.
    pub fn pen(self) -> Pen {
        match self {
            Self::Wires => Pen::Wire,
            Self::Rails | Self::SheetFrame => Pen::Rail,
            Self::Symbols | Self::Terminals => Pen::Symbol,
            Self::ContactTables => Pen::Rule,
            _ => Pen::Thin,
        }
    }
}

/// The layer of a mark.
pub fn layer(group: &Group, shape: &Shape) -> Layer {
    if let Shape::Text(text) = shape {
        match text.meaning {
            Meaning::Device => return Layer::Designations,
            Meaning::Contact => return Layer::ContactNames,
            Meaning::Terminal => return Layer::TerminalNumbers,
            Meaning::Rating => return Layer::Ratings,
            Meaning::Reference(_) => return Layer::References,
            Meaning::Words => {}
        }
    }
    match group.role {
        Role::Part(_) => Layer::Symbols,
        Role::Wire(_) => match shape {
            Shape::Text(_) => Layer::WireNumbers,
            Shape::Line { pen: Pen::Rail, .. } => Layer::Rails,
            _ => Layer::Wires,
        },
        Role::Leg(_) => Layer::Legs,
        Role::Place(_) => Layer::Places,
        Role::Circuit(_) => Layer::Circuits,
        Role::Contacts(_) => Layer::ContactTables,
        Role::Flag(_) => Layer::Continuations,
        Role::Notes if group.id.starts_with("table-") => Layer::ContactTables,
        Role::Notes => Layer::Notes,
        Role::Band | Role::State => Layer::States,
        Role::Change => Layer::Changes,
        Role::Furniture => Layer::SheetFrame,
    }
}
