//! Reading a number and its unit.

use thiserror::Error;

/// A unit as it may be written, and its conversion to the unit in which the quantity is held.
#[derive(Clone, Copy, Debug)]
pub struct Unit {
    /// Spellings, without spaces, dots or parentheses and in lower case; the first is the one shown
    /// in messages.
    pub spellings: &'static [&'static str],
    /// What one such unit is in the unit held.
    pub factor: f64,
    /// Added before scaling; not zero for degrees Fahrenheit only.
    pub offset: f64,
}

impl Unit {
    /// A unit that differs from the one held by a factor.
    #[must_use]
    pub const fn scaled(spellings: &'static [&'static str], factor: f64) -> Self {
        Self { spellings, factor, offset: 0.0 }
    }
}

/// A kind of quantity that can be read from text.
pub trait Quantity: Copy + Sized + 'static {
    /// What it is called in messages, such as "temperature".
    const NAME: &'static str;
    /// Two ways to write one, for messages, such as `"20 C"` and `"68 F"`.
    const EXAMPLES: [&'static str; 2];
    /// The units that it can be written in.
    const UNITS: &'static [Unit];
    /// The least value that can be true, in the unit held.
    const MIN: f64;
    /// The greatest value that can be true, in the unit held.
    const MAX: f64;
    /// Whether [`MIN`](Self::MIN) itself is possible; a thickness of zero is not.
    const MIN_POSSIBLE: bool;

    /// Wraps a value in the unit held, which the caller has checked.
    fn from_held(value: f64) -> Self;

    /// The value in the unit held.
    fn held(self) -> f64;

    /// Reads `text`, a number followed by a unit.
    ///
    /// # Errors
    ///
    /// When the number or the unit is missing or not understood, or when the value is impossible for
    /// this kind of quantity.
    fn parse(text: &str) -> Result<Self, QuantityError> {
        let (number, unit_text) = split(text.trim());
        let error = |problem| QuantityError {
            problem,
            text: text.trim().to_owned(),
            name: Self::NAME,
            units: unit_list(Self::UNITS),
            examples: Self::EXAMPLES,
        };
        if number.contains(',') {
            return Err(error(Problem::Comma));
        }
        let value = read_number(number).ok_or_else(|| error(Problem::NoNumber))?;
        if unit_text.is_empty() {
            return Err(error(Problem::NoUnit));
        }
        let wanted = plain_unit(unit_text);
        let unit = Self::UNITS
            .iter()
            .find(|unit| unit.spellings.contains(&wanted.as_str()))
            .ok_or_else(|| error(Problem::UnknownUnit(unit_text.to_owned())))?;
        let held = (value + unit.offset) * unit.factor;
        // A limit written in the other unit must not fail by the last bit of the conversion.
        let slack = 1e-9 * held.abs();
        let too_low = held + slack < Self::MIN || (!Self::MIN_POSSIBLE && held <= Self::MIN);
        if !held.is_finite() || too_low || held - slack > Self::MAX {
            return Err(error(Problem::Impossible));
        }
        Ok(Self::from_held(held))
    }
}

/// Why a text is not a quantity of the kind asked for.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{}", self.describe())]
pub struct QuantityError {
    problem: Problem,
    text: String,
    name: &'static str,
    units: String,
    examples: [&'static str; 2],
}

#[derive(Clone, Debug, PartialEq)]
enum Problem {
    NoNumber,
    Comma,
    NoUnit,
    UnknownUnit(String),
    Impossible,
}

impl QuantityError {
    /// The error for a bare number, such as a TOML integer, where a quantity was wanted.
    #[must_use]
    pub fn bare_number<Q: Quantity>(number: &str) -> Self {
        Self {
            problem: Problem::NoUnit,
            text: number.to_owned(),
            name: Q::NAME,
            units: unit_list(Q::UNITS),
            examples: Q::EXAMPLES,
        }
    }

    /// What is wrong, without the cure.
    #[must_use]
    pub fn problem(&self) -> String {
        let Self { text, name, .. } = self;
        match &self.problem {
            Problem::NoNumber => format!("`{text}` does not start with a number for a {name}"),
            Problem::Comma => format!("`{text}` has a comma in the number"),
            Problem::NoUnit => {
                let article = if name.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
                format!("`{text}` has no unit; {article} {name} needs one")
            }
            Problem::UnknownUnit(unit) => format!("`{unit}` is not a unit of {name}"),
            Problem::Impossible => format!("`{text}` is not a possible {name}"),
        }
    }

    /// What to write instead.
    #[must_use]
    pub fn fix(&self) -> String {
        let [first, second] = self.examples;
        let units = &self.units;
        match &self.problem {
            Problem::Comma => "write a point for decimals and nothing between thousands, \
                               such as `1200.5`"
                .to_owned(),
            Problem::NoNumber => format!("write it like \"{first}\" or \"{second}\""),
            Problem::NoUnit | Problem::UnknownUnit(_) => {
                format!("the unit can be {units}; write it like \"{first}\" or \"{second}\"")
            }
            Problem::Impossible => {
                format!("check the number and its unit; usual values look like \"{first}\"")
            }
        }
    }

    fn describe(&self) -> String {
        format!("{}: {}", self.problem(), self.fix())
    }
}

/// "C, F or K": the first spelling of each unit.
fn unit_list(units: &[Unit]) -> String {
    let names: Vec<&str> = units.iter().filter_map(|u| u.spellings.first().copied()).collect();
    match names.split_last() {
        Some((last, [])) => (*last).to_owned(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
        None => String::new(),
    }
}

/// Splits before the first character that cannot belong to the number.
fn split(text: &str) -> (&str, &str) {
    let in_number = |c: char| c.is_ascii_digit() || " .,+-\u{2212}/".contains(c);
    let end = text.find(|c| !in_number(c)).unwrap_or(text.len());
    let (number, unit) = text.split_at_checked(end).unwrap_or((text, ""));
    (number.trim(), unit.trim())
}

/// Reads `18`, `-0.5`, `3/4`, `1 1/2` and `1-1/2`.
fn read_number(text: &str) -> Option<f64> {
    let text = text.replace('\u{2212}', "-");
    if !text.contains('/') {
        // Rust's own parser takes "inf" and exponents too, but `split` lets neither through.
        return text.parse().ok();
    }
    let (whole, fraction) = match text.trim_start_matches('-').rsplit_once([' ', '-']) {
        Some((whole, fraction)) => (whole.trim().parse::<u32>().ok()?, fraction),
        None => (0, text.trim_start_matches('-')),
    };
    let (top, bottom) = fraction.split_once('/')?;
    let (top, bottom): (u32, u32) = (top.trim().parse().ok()?, bottom.trim().parse().ok()?);
    if bottom == 0 {
        return None;
    }
    let size = f64::from(whole) + f64::from(top) / f64::from(bottom);
    Some(if text.starts_with('-') { -size } else { size })
}

/// A unit in the spelling of the tables: lower case, no spaces, signs unified.
fn plain_unit(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_whitespace() && !"°º˚.·*()^".contains(*c))
        .flat_map(char::to_lowercase)
        .map(|c| match c {
            '²' => '2',
            '\u{201d}' | '\u{2033}' => '"',
            '\u{2019}' | '\u{2032}' => '\'',
            other => other,
        })
        .collect()
}
