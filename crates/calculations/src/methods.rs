//! How the numbers of each topic were got, so that a reader knows what a bound is worth.
//!
//! **In:** nothing. **Out:** one [`TopicMethod`] for each kind of result. **Never here:** the coils'
//! own volts, each of which names its method itself.

use serde::Serialize;

/// What stands behind a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum HowGot {
    /// Exact at the ends of what is declared: every corner, or the one that a law makes the worst.
    Corners,
    /// A bound that may lie beyond what can happen, never short of it.
    Widened,
    /// Named corners were tried, and nothing between or beside them.
    Sampled,
    /// Follows from the wiring alone; no tolerance enters.
    Wiring,
}

/// How one kind of result was got.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct TopicMethod {
    /// Where in the results it stands: "fuses.shorts".
    pub topic: &'static str,
    /// How.
    pub method: HowGot,
    /// In words.
    pub words: &'static str,
}

/// Every kind of result, in the order of [`Calculations`](crate::Calculations).
pub fn all() -> Vec<TopicMethod> {
    use HowGot::{Corners, Sampled, Widened, Wiring};
    let rows: [(&'static str, HowGot, &'static str); 25] = [
        (
            "monitors.coils.loads",
            Sampled,
            "one corner by name: supplies high, coil, conductors and monitors cold, what stands \
             beside the coil at its most ohms; the worst wherever they stand in series and in \
             parallel, in a bridge no more than tried",
        ),
        (
            "monitors.coils.monitors",
            Sampled,
            "nominal, and supplies low with each load at its worse end",
        ),
        ("monitors.coils.coverage", Sampled, "each break alone, with the supply at either end"),
        ("monitors.coils.burnt", Sampled, "each lamp alone, with the supply at either end"),
        (
            "monitors.resistors",
            Sampled,
            "supplies high, everything cold, with the monitors behind it whole and shorted; the \
             window of ohms from supplies low and high",
        ),
        (
            "loads.rows",
            Sampled,
            "least: supplies low, everything hot; most: supplies high, everything cold; of volts \
             and current each, every load of its section in turn at its other end where that is \
             worse: the worst of one pass",
        ),
        ("loads.lamps", Sampled, "nominal, at 20 C"),
        ("loads.elements", Corners, "declared currents compared"),
        (
            "loads.motors",
            Sampled,
            "each way alone and with every other load of its section on; least: supplies low, \
             conductors hot, loads at their most current, resistors in front at their most \
             ohms; most: supplies high, conductors cold",
        ),
        (
            "cables.cables",
            Corners,
            "the least volts of each way as in the report on coils, at the worst corner of each",
        ),
        ("cables.cores", Sampled, "supplies high, conductors hot, loads cold"),
        ("clearing.groups", Sampled, "supplies low, conductors hot, loads cold"),
        (
            "fuses.fuses.carries",
            Widened,
            "every load at once at the highest voltage and its least resistance, without cables",
        ),
        (
            "fuses.shorts",
            Corners,
            "one loop a way: supply low with all hot on the way of most resistance to the core, to \
             supply high with all cold on that of least",
        ),
        (
            "fuses.fuses.upstream",
            Corners,
            "every bend of both curves up to the greatest short, straight between in logarithms; \
             without points nothing is said",
        ),
        ("fuses.fuses.takes_away", Wiring, "every position of the contacts"),
        ("suppression", Corners, "every corner of volts, coil, L/R, clamp, resistance and heat"),
        (
            "charging.rows",
            Sampled,
            "supplies high, conductors cold, coils cold and hot; the capacitor at its greatest, one \
             at a time; inductance left out",
        ),
        (
            "duty.contacts.breaks",
            Sampled,
            "nine plays of each story (delays and volts low, middle, high); currents with supplies \
             high and everything cold",
        ),
        (
            "duty.contacts.any_order",
            Widened,
            "every way of every load, whatever comes when, with what is wired together with it; \
             currents with supplies high and everything cold, motors starting, filaments cold",
        ),
        ("shorts.list", Corners, "one loop at its two ends; contacts in every position"),
        ("ties.pairs", Wiring, "every position of the contacts"),
        ("grounds.moves", Sampled, "three corners by name, five resistances of the ground"),
        ("grounds.pairs", Sampled, "supplies high at rest; a driven trip coil with supplies low"),
        (
            "meter.rows",
            Sampled,
            "nominal at 20 C; supplies low and high, each load that shares its volts at its own \
             worse end: the worst of one pass",
        ),
    ];
    rows.into_iter().map(|(topic, method, words)| TopicMethod { topic, method, words }).collect()
}
