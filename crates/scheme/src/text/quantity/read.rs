//! A number or a range with its unit and what may stand behind it.

use super::scan::{self, Decimal, Token};
use super::units::{PERCENT, Unit, wrong_unit};
use super::{Kind, Spelling};

/// One value with its unit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Value {
    pub number: Decimal,
    pub unit: Unit,
}

impl Value {
    pub fn si(&self) -> f64 {
        (self.number.value() + self.unit.before) * self.unit.times / self.unit.by
    }
}

/// A quantity taken apart.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Parsed {
    pub lo: Value,
    pub hi: Value,
    pub typical: bool,
    pub at: Option<f64>,
    /// Words behind the value that only some quantities know ("before touch", "DC").
    pub tail: Vec<String>,
}

/// Takes `text` apart. `percent`: whether % may stand for a unit.
pub(super) fn parse(text: &str, kind: Kind, percent: bool) -> Result<Parsed, Spelling> {
    let plain = scan::plain(text);
    guard(&plain, kind)?;
    let tokens = scan::tokens(&plain)?;
    let mut cursor = Cursor { tokens: &tokens, kind, percent, text: plain.trim() };
    let first = cursor.number()?;
    let mut first_unit = cursor.unit()?;
    let mut second = None;
    if cursor.word("to") {
        let number = cursor.number()?;
        second = Some((number, cursor.unit()?));
    }
    let unit = second.as_ref().map_or(first_unit, |(_, unit)| *unit);
    let Some(unit) = unit else { return Err(cursor.no_unit()) };
    let lo = Value { number: first, unit: first_unit.take().unwrap_or(unit) };
    let hi = second.map_or_else(|| lo.clone(), |(number, _)| Value { number, unit });
    let (mut typical, mut at) = (false, None);
    let mut tail = Vec::new();
    while let Some(token) = cursor.next() {
        match token {
            Token::Word(word) if word == "typical" && !typical => typical = true,
            Token::Word(word) if word == "at" && at.is_none() => at = Some(cursor.temperature()?),
            Token::Word(word) => tail.push(word.clone()),
            Token::Number(number) => {
                return Err(Spelling::new(format!(
                    "\"{text}\" has a number too many: {}",
                    number.written
                ))
                .help(format!("a range is written with \"to\": \"{}\"", kind.example())));
            }
            Token::Sign(sign) => return Err(cursor.strange(*sign)),
        }
    }
    Ok(Parsed { lo, hi, typical, at, tail })
}

/// Slips that can be seen before anything is taken apart.
fn guard(text: &str, kind: Kind) -> Result<(), Spelling> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Err(Spelling::new("nothing stands between the quotes").help(format!(
            "{} is written like \"{}\"",
            kind.noun(),
            kind.example()
        )));
    }
    let mut words = trimmed.split(|sign: char| !sign.is_alphanumeric() && sign != '∞');
    let endless = ["nan", "inf", "infinity", "infinite", "∞"];
    if let Some(word) = words.find(|word| endless.contains(&word.to_lowercase().as_str())) {
        return Err(Spelling::new(format!("\"{word}\" is not a value that a thing can have"))
            .help(format!("write the number: \"{}\"", kind.example())));
    }
    let signs: Vec<char> = trimmed.chars().collect();
    for (at, sign) in signs.iter().enumerate() {
        let before = signs.iter().take(at).rev().find(|sign| **sign != ' ').copied();
        let rest: Vec<char> = signs.iter().skip(at + 1).copied().collect();
        let after = rest.iter().find(|sign| **sign != ' ').copied();
        let between = before.is_some_and(|sign| sign.is_ascii_digit())
            && after.is_some_and(|sign| sign.is_ascii_digit());
        match sign {
            ',' if between => return Err(comma(trimmed, &rest)),
            '-' | '–' | '—' | '…' | '~' | ':' if between => {
                return Err(range_sign(trimmed, *sign));
            }
            '.' if rest.first() == Some(&'.') => return Err(range_sign(trimmed, '.')),
            '.' if !before.is_some_and(|sign| sign.is_ascii_digit())
                && after.is_some_and(|sign| sign.is_ascii_digit()) =>
            {
                let right = trimmed.replacen('.', "0.", 1);
                return Err(Spelling::new("a point stands with no digit before it")
                    .help(format!("write \"{right}\""))
                    .why("a point alone is easily lost on a print"));
            }
            _ => {}
        }
    }
    Ok(())
}

fn comma(text: &str, rest: &[char]) -> Spelling {
    let digits = rest.iter().take_while(|sign| sign.is_ascii_digit()).count();
    let point = text.replacen(',', ".", 1);
    let wrong = Spelling::new(format!("\"{text}\" has a comma in a number"));
    if digits == 3 {
        let joined = text.replacen(',', "", 1);
        wrong
            .help(format!("write \"{joined}\" if thousands are meant, \"{point}\" if a fraction"))
            .why("a comma means thousands to one reader and a fraction to another")
    } else {
        wrong.help(format!("write \"{point}\": fractions have a point"))
    }
}

fn range_sign(text: &str, sign: char) -> Spelling {
    let wrong = if sign == '.' {
        text.find("..").map(|at| (at, text.get(at..).unwrap_or_default()))
    } else {
        text.char_indices()
            .skip(1)
            .find(|(_, found)| *found == sign)
            .map(|(at, _)| (at, text.get(at..).unwrap_or_default()))
    };
    let (at, tail) = wrong.unwrap_or((text.len(), ""));
    let head = text.get(..at).unwrap_or_default().trim_end();
    let tail = tail.trim_start_matches([sign, ' ']);
    let shown = if sign == '.' { "..".to_owned() } else { sign.to_string() };
    Spelling::new(format!("a range is written with \"to\", not with \"{shown}\""))
        .help(format!("write \"{head} to {tail}\""))
        .why("a dash could be taken for a minus")
}

struct Cursor<'text> {
    tokens: &'text [Token],
    kind: Kind,
    percent: bool,
    text: &'text str,
}

impl<'text> Cursor<'text> {
    fn next(&mut self) -> Option<&'text Token> {
        let (first, rest) = self.tokens.split_first()?;
        self.tokens = rest;
        Some(first)
    }
    fn word(&mut self, wanted: &str) -> bool {
        let found = matches!(self.tokens.first(), Some(Token::Word(word)) if word == wanted);
        if found {
            self.next();
        }
        found
    }
    fn number(&mut self) -> Result<Decimal, Spelling> {
        match self.next() {
            Some(Token::Number(number)) => Ok(number.clone()),
            Some(Token::Sign(sign)) => Err(self.strange(*sign)),
            Some(Token::Word(word)) => {
                Err(Spelling::new(format!("a number is missing before \"{word}\""))
                    .help(self.like()))
            }
            None => Err(Spelling::new(format!("\"{}\" ends where a number must stand", self.text))
                .help(self.like())),
        }
    }
    /// The unit at the cursor; none if what stands there can't be one.
    fn unit(&mut self) -> Result<Option<Unit>, Spelling> {
        let Some(Token::Word(word)) = self.tokens.first() else { return Ok(None) };
        if ["to", "typical", "at", "before", "after", "DC", "AC"].contains(&word.as_str()) {
            return Ok(None);
        }
        self.next();
        if word == "%" {
            return if self.percent {
                Ok(Some(PERCENT))
            } else {
                Err(Spelling::new(format!("percent of what? {} is needed here", self.kind.noun()))
                    .help(self.like()))
            };
        }
        if let Some(unit) = self.kind.find(word) {
            return Ok(Some(unit));
        }
        let exponent = word.strip_prefix(['e', 'E']);
        if exponent.is_some_and(|rest| rest.chars().all(|sign| sign.is_ascii_digit())) {
            return Err(Spelling::new(format!("\"{}\" is written with an exponent", self.text))
                .help(format!(
                    "write the number in full, or a larger unit: {}",
                    self.kind.choice()
                )));
        }
        Err(wrong_unit(word, self.kind))
    }
    fn temperature(&mut self) -> Result<f64, Spelling> {
        let wrong = |found: String| {
            Spelling::new(format!("\"at\" is followed by {found}, not by a temperature"))
                .help("write \"22 ohm at 75 C\"")
        };
        let Some(Token::Number(number)) = self.next() else {
            return Err(wrong("something else".into()));
        };
        match self.next() {
            Some(Token::Word(word)) => match Kind::Temperature.find(word) {
                Some(unit) => Ok(Value { number: number.clone(), unit }.si()),
                None => Err(wrong_unit(word, Kind::Temperature)),
            },
            _ => Err(wrong(format!("{} without a unit", number.written))),
        }
    }
    fn no_unit(&self) -> Spelling {
        let usual = self.kind.usual();
        Spelling::new(format!("\"{}\" has no unit", self.text))
            .help(format!(
                "write the unit behind the number, such as \"{} {usual}\" ({})",
                self.text,
                self.kind.choice()
            ))
            .why("nothing here has a silent unit, so that no number can be taken for another")
    }
    fn strange(&self, sign: char) -> Spelling {
        Spelling::new(format!("\"{sign}\" has no meaning in {}", self.kind.noun()))
            .help(self.like())
    }
    fn like(&self) -> String {
        format!("write it like \"{}\"", self.kind.example())
    }
}
