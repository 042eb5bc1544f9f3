//! Numbers and lists as a person writes them.

/// Volts: "0.9 V", "66 V".
pub(super) fn volts(value: f64) -> String {
    format!("{} V", short(value))
}
/// Ohms: "800 ohm", "20 kohm".
pub(super) fn ohms(value: f64) -> String {
    if value >= 1e3 {
        format!("{} kohm", short(value / 1e3))
    } else {
        format!("{} ohm", short(value))
    }
}
/// Three figures at most, without idle zeros.
pub(super) fn short(value: f64) -> String {
    let digits = match value.abs() {
        size if size >= 99.95 => 0,
        size if size >= 9.995 => 1,
        _ => 2,
    };
    let text = format!("{value:.digits$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
/// "a", "a and b", "a, b and c"; beyond three only how many more.
pub(super) fn list(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [one, two] => format!("{one} and {two}"),
        [one, two, three] => format!("{one}, {two} and {three}"),
        [one, two, rest @ ..] => format!("{one}, {two} and {} more", rest.len()),
    }
}
/// "wire T1", "the wire between A and B", "wires T1 and T2".
pub(super) fn on_wires(names: &[String]) -> String {
    let numbered = |name: &String| {
        !["between ", "below ", "above ", "an unused"].iter().any(|word| name.starts_with(word))
    };
    let told: Vec<String> = names.iter().filter(|name| numbered(name)).cloned().collect();
    match (told.as_slice(), names.first()) {
        ([], Some(first)) => format!("the wire {first}"),
        ([one], _) => format!("wire {one}"),
        (several, _) => format!("wires {}", list(several)),
    }
}
