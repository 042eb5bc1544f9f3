//! Numbers and words of a quantity, in order.

use super::Spelling;

/// More digits than any nameplate has; keeps every sum below exact.
const MAX_DIGITS: usize = 15;

/// A decimal number as written: `digits` / 10^`scale`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Decimal {
    pub digits: i128,
    pub scale: u32,
    pub written: String,
}

impl Decimal {
    /// The nearest float.
    pub fn value(&self) -> f64 {
        self.written.parse().unwrap_or(f64::NAN)
    }
}

/// A number, a word, or a sign that is neither.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Token {
    Number(Decimal),
    Word(String),
    Sign(char),
}

/// Signs of a print that mean the same as our letters: Ω, µ, °, ², the long minus.
pub(super) fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            'Ω' | '\u{2126}' => out.push_str("ohm"),
            'µ' | 'μ' => out.push('u'),
            '²' => out.push('2'),
            '°' | 'º' => {}
            '\u{2212}' => out.push('-'),
            other if other.is_whitespace() => out.push(' '),
            other => out.push(other),
        }
    }
    out
}

/// Splits plain text into tokens.
pub(super) fn tokens(text: &str) -> Result<Vec<Token>, Spelling> {
    let mut out = Vec::new();
    let mut rest = text.trim_start();
    while let Some(first) = rest.chars().next() {
        let after_sign = rest.strip_prefix('-').unwrap_or(rest);
        let length = if after_sign.starts_with(|sign: char| sign.is_ascii_digit()) {
            let length = rest.len() - after_sign.len() + number_length(after_sign);
            out.push(Token::Number(decimal(rest.get(..length).unwrap_or_default())?));
            length
        } else if first.is_alphabetic() {
            let length = rest.find(|sign: char| !sign.is_alphanumeric()).unwrap_or(rest.len());
            out.push(Token::Word(rest.get(..length).unwrap_or_default().to_owned()));
            length
        } else {
            out.push(if first == '%' { Token::Word("%".into()) } else { Token::Sign(first) });
            first.len_utf8()
        };
        rest = rest.get(length..).unwrap_or_default().trim_start();
    }
    Ok(out)
}

fn number_length(text: &str) -> usize {
    let whole = text.find(|sign: char| !sign.is_ascii_digit()).unwrap_or(text.len());
    let Some(fraction) = text.get(whole..).and_then(|rest| rest.strip_prefix('.')) else {
        return whole;
    };
    match fraction.find(|sign: char| !sign.is_ascii_digit()).unwrap_or(fraction.len()) {
        0 => whole,
        length => whole + 1 + length,
    }
}

fn decimal(written: &str) -> Result<Decimal, Spelling> {
    let scale = written.split_once('.').map_or(0, |(_, fraction)| fraction.len());
    let digits: String = written.chars().filter(|sign| *sign != '.').collect();
    if digits.trim_start_matches(['-', '0']).len() > MAX_DIGITS || scale > MAX_DIGITS {
        return Err(Spelling::new(format!("{written} has more digits than can be kept"))
            .help(format!("write at most {MAX_DIGITS} digits, or a larger unit")));
    }
    let digits = digits.parse().map_err(|_| Spelling::new(format!("{written} is no number")))?;
    let scale = u32::try_from(scale).unwrap_or(0);
    Ok(Decimal { digits, scale, written: written.to_owned() })
}
