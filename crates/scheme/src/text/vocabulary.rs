//! Which word may stand where: enough to say which brace is missing, and no more.

/// Words that stand at the top of a file.
pub(crate) const TOP: &[&str] = &[
    "scheme",
    "place",
    "supply",
    "ground",
    "curve",
    "cable",
    "use",
    "type",
    "pattern",
    "condition",
    "order",
    "person",
    "breaker",
    "handle",
    "button",
    "relay",
    "timer",
    "lockout",
    "latch",
    "overload",
    "sensor",
    "ied",
    "circuit",
    "matrix",
    "claim",
    "waive",
    "tune",
    "story",
];
/// Words that bring their own name and stand in a device or a type.
const DEVICES: &[&str] = &[
    "type", "breaker", "handle", "button", "relay", "timer", "lockout", "latch", "overload",
    "sensor", "ied",
];
const OF_DEVICE: &[&str] = &[
    "coil",
    "contact",
    "input",
    "motor",
    "element",
    "power",
    "link",
    "terminals",
    "energy",
    "logic",
    "position",
];
const OF_CIRCUIT: &[&str] = &["feed", "return", "leg", "jumper", "chain"];
const CHAINS: &[&str] = &["feed", "return", "leg", "parallel", "branch"];
/// Words that stand in a feed, a return, a leg or a branch.
pub(crate) const OF_CHAIN: &[&str] = &[
    "contact",
    "coil",
    "input",
    "motor",
    "element",
    "power",
    "link",
    "fuse",
    "resistor",
    "capacitor",
    "diode",
    "varistor",
    "lamp",
    "heater",
    "terminal",
    "wire",
    "core",
    "parallel",
    "branch",
];
const OF_MATRIX: &[&str] = &["close-by", "close-needs", "trip-by", "backup-by"];
const OF_STORY: &[&str] = &["given", "at", "expect"];
/// Words that may stand in many places.
pub(crate) const ANYWHERE: &[&str] = &["note", "apply"];
/// Properties: with `=` in the line of their statement, or alone in its braces.
const PROPERTIES: &[&str] = &[
    "revision",
    "frequency",
    "date",
    "by",
    "ambient",
    "place",
    "range",
    "resistance",
    "grounded",
    "plus",
    "minus",
    "capacitance",
    "alarms-below",
    "from",
    "to",
    "length",
    "size",
    "material",
    "cores",
    "kind",
    "moves",
    "stays",
    "bounce",
    "when",
    "after",
    "lasts",
    "type",
    "function",
    "drawn",
    "closing-time",
    "opening-time",
    "closings",
    "charged-in",
    "charged-by",
    "duty",
    "returns-to",
    "set",
    "reset-by",
    "turned-by",
    "reports-to",
    "on-delay",
    "off-delay",
    "clear",
    "drives-to",
    "rated",
    "works",
    "pickup",
    "dropout",
    "pickup-time",
    "dropout-time",
    "goes-after",
    "max-on",
    "time-constant",
    "closed-when",
    "closes-in",
    "opens-in",
    "on-close",
    "on-open",
    "makes",
    "carries",
    "breaks",
    "on-above",
    "off-below",
    "least",
    "shows",
    "watches",
    "inrush",
    "starts-in",
    "burden",
    "supply",
    "circuit",
    "sheet",
    "label",
    "into",
    "curve",
    "light",
    "drop",
    "cold",
    "blocks",
    "absorbs",
    "volts",
    "power",
    "needs",
    "longer-than",
    "coils",
    "within",
    "timer",
    "margin",
    "clears-in",
    "critical",
    "never",
    "always",
    "if",
    "then",
    "during",
    "at-most",
    "of",
    "for",
    "because",
    "held",
];

fn children(parent: &str) -> Option<Vec<&'static [&'static str]>> {
    Some(match parent {
        _ if DEVICES.contains(&parent) => vec![OF_DEVICE],
        _ if CHAINS.contains(&parent) => vec![OF_CHAIN],
        "circuit" => vec![OF_CIRCUIT],
        "matrix" => vec![OF_MATRIX],
        "story" => vec![OF_STORY],
        "scheme" => vec![&["revision"]],
        "cable" => vec![&["core"]],
        "curve" => vec![&["point"]],
        "condition" => vec![&["becomes"]],
        "person" => vec![&["may"]],
        "pattern" => return None,
        _ if OF_DEVICE.contains(&parent) || OF_CHAIN.contains(&parent) || is_known(parent) => {
            vec![]
        }
        _ => return None,
    })
}

/// Whether a statement may begin with `word`.
pub(super) fn is_known(word: &str) -> bool {
    [TOP, OF_DEVICE, OF_CIRCUIT, OF_CHAIN, OF_MATRIX, OF_STORY, ANYWHERE]
        .iter()
        .any(|words| words.contains(&word))
        || ["becomes", "may", "point"].contains(&word)
}

/// Whether `word` is a property.
pub(crate) fn is_property(word: &str) -> bool {
    PROPERTIES.contains(&word)
}

/// Whether `word` is certainly wrong in a block of `parent` (none: at the top). Unknown words are
/// not: they are misspelt, not misplaced. `alone`: it has one value and nothing more, so that it
/// may be a property of the same name.
pub(super) fn is_misplaced(word: &str, parent: Option<&str>, alone: bool) -> bool {
    if !is_known(word) || ANYWHERE.contains(&word) {
        return false;
    }
    match parent {
        None => !TOP.contains(&word),
        Some(parent) => children(parent).is_some_and(|allowed| {
            let known = allowed.iter().any(|words| words.contains(&word));
            !(known || alone && is_property(word))
        }),
    }
}

/// Whether a statement of `parent` may hold `word` in its braces.
pub(super) fn may_hold(parent: &str, word: &str) -> bool {
    children(parent).is_some_and(|allowed| allowed.iter().any(|words| words.contains(&word)))
}

/// Where a word of the language stands, such as "in a circuit"; none for other words.
pub(crate) fn home(word: &str) -> Option<&'static str> {
    let homes: [(&[&str], &str); 11] = [
        (TOP, "outside all braces"),
        (OF_CIRCUIT, "in a circuit"),
        (OF_MATRIX, "in a matrix"),
        (OF_STORY, "in a story"),
        (&["becomes"], "in a condition"),
        (&["may"], "in a person"),
        (&["point"], "in a curve"),
        (
            &["contact", "coil", "input", "motor", "element", "power", "link"],
            "in a device or a leg",
        ),
        (OF_DEVICE, "in a device"),
        (OF_CHAIN, "in a leg"),
        (ANYWHERE, "in any braces"),
    ];
    homes.iter().find(|(words, _)| words.contains(&word)).map(|(_, home)| *home)
}
