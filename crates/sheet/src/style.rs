//! How sheets may be drawn. **In:** nothing. **Out:** the choices and what follows from each in
//! words. **Never here:** strokes.

/// The standard whose symbols and habits a drawing follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Symbols {
    /// IEEE 315: contacts as bars, coils as circles, places as sheet and zone ("2/D7").
    #[default]
    Ieee315,
    /// IEC 60617: contacts as arms, coils as boxes, paths counted along the legs, places as sheet
    /// and path ("2.13"), contacts of a coil in a mirror beside it.
    Iec60617,
}

impl Symbols {
    /// Its name for the title block.
    pub fn name(self) -> &'static str {
        match self {
            Self::Ieee315 => "IEEE 315",
            Self::Iec60617 => "IEC 60617",
        }
    }
    /// The note that says how a closed contact is told from an open one.
    pub fn closed_rule(self) -> &'static str {
        match self {
            Self::Ieee315 => "A slash across a contact: closed as drawn.",
            Self::Iec60617 => "A contact whose arm meets a stub: closed as drawn.",
        }
    }
    /// The note that says how cross-references are read.
    pub fn reference_rule(self, legs: Legs) -> &'static str {
        match (self, legs) {
            (Self::Ieee315, _) => "Grey 2/D7 beside a contact: sheet and zone of its coil.",
            (Self::Iec60617, Legs::Across) => {
                "Grey 2.13 beside a contact: sheet and path of its coil. Beside a coil: its \
                 contacts, each with sheet and path."
            }
            (Self::Iec60617, Legs::Upright) => {
                "Grey 2.13 beside a contact: sheet and path of its coil. Beside a coil: its \
                 contacts, those open as drawn left, closed right; – is spare."
            }
        }
    }
}

/// How the legs of a circuit lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Legs {
    /// Rails above and below, legs upright, the current flows down.
    #[default]
    Upright,
    /// Rails left and right, legs across, the current flows to the right.
    Across,
}

/// How much stands beside contacts; less where a circuit would not fit its paper otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Beside {
    /// Names, conditions in words, ratings where they matter.
    #[default]
    All,
    /// Names and conditions.
    Conditions,
    /// The same in longer lines: lower, but wider.
    Wide,
    /// Names.
    Names,
}

/// All choices.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Style {
    /// Symbols and habits.
    pub symbols: Symbols,
    /// Arrangement.
    pub legs: Legs,
    /// Words beside contacts.
    pub beside: Beside,
}

impl Style {
    /// Whether legs lie across.
    pub fn across(self) -> bool {
        self.legs == Legs::Across
    }
    /// Whether symbols and habits are those of IEC.
    pub fn iec(self) -> bool {
        self.symbols == Symbols::Iec60617
    }
}
