//! Reading the options of `air`: an error names the option, what it can be, and what to type.

use super::super::{Failure, Plain};
use crate::physics::{OutOfRange, Range};
use crate::quantity::{Quantity, Units};
use crate::view::in_both;

/// An option, what it can be, and how many of the range's unit are one of the quantity's.
pub(super) struct Wanted {
    pub(super) option: &'static str,
    pub(super) range: Range,
    pub(super) factor: f64,
}

impl Wanted {
    pub(super) const fn new(option: &'static str, range: Range) -> Self {
        Self { option, range, factor: 1.0 }
    }

    /// Reads a value in the unit of the range.
    pub(super) fn read<Q: Quantity>(&self, text: &str) -> Result<f64, Failure> {
        let problem = match Q::parse(text) {
            Ok(value) => match self.range.check(value.held() * self.factor) {
                Ok(value) => return Ok(value),
                Err(_) => format!("`{}` is out of range", text.trim()),
            },
            Err(error) => error.problem(),
        };
        let option = self.option;
        let Range { low, high, unit, fix, .. } = self.range;
        let range = in_both(&format!("{low} to {high} {unit}"), Units::Metric);
        let fixes = self.fixes::<Q>(text);
        let fix = match fixes.as_slice() {
            // What was typed gives no hint at what was meant.
            [] => {
                let [first, second] = Q::EXAMPLES;
                format!("write it like --{option} \"{first}\" or --{option} \"{second}\"; {fix}")
            }
            fixes => format!("write {}", fixes.join(" or ")),
        };
        Err(Box::new(Plain(format!("--{option}: {problem}; it can be {range}; {fix}"))))
    }

    /// The same if it was given.
    pub(super) fn maybe<Q: Quantity>(&self, text: Option<&str>) -> Result<Option<f64>, Failure> {
        text.map(|text| self.read::<Q>(text)).transpose()
    }

    /// What may have been meant: a point for a comma, a unit for none.
    fn fixes<Q: Quantity>(&self, text: &str) -> Vec<String> {
        let point = text.replace(',', ".").replace(['°', 'º', '˚'], "").trim().to_owned();
        let mut candidates = vec![point.clone()];
        candidates.extend(
            Q::UNITS.iter().filter_map(|unit| Some(format!("{point} {}", unit.spellings.first()?))),
        );
        candidates.retain(|candidate| {
            candidate != text.trim()
                && Q::parse(candidate)
                    .is_ok_and(|value| self.range.check(value.held() * self.factor).is_ok())
        });
        candidates.truncate(3);
        candidates.iter().map(|candidate| format!("--{} \"{candidate}\"", self.option)).collect()
    }
}

/// A failure of a formula, under the options that it was given.
pub(super) fn under(options: &'static str) -> impl Fn(OutOfRange) -> Failure {
    move |error| {
        Box::new(Plain(format!("{options}: {}", in_both(&error.to_string(), Units::Metric))))
    }
}

/// One of so many names, whatever the case of its letters, and if need be by a part that only it has.
pub(super) fn choose<'a, T: Copy>(
    option: &str,
    text: &str,
    all: &'a [T],
    name: impl Fn(T) -> &'a str,
) -> Result<T, Failure> {
    let wanted = text.trim().to_lowercase();
    let exact = all.iter().copied().find(|one| name(*one).to_lowercase() == wanted);
    if let Some(one) = exact {
        return Ok(one);
    }
    let parts = |one: &T| {
        let name = name(*one).to_lowercase();
        wanted.split_whitespace().all(|word| name.contains(word))
    };
    let mut near = all.iter().copied().filter(|one| !wanted.is_empty() && parts(one));
    if let (Some(one), None) = (near.next(), near.next()) {
        return Ok(one);
    }
    let known: Vec<&str> = all.iter().map(|one| name(*one)).collect();
    let text = format!(
        "--{option}: `{}` is none that is known; it can be {}",
        text.trim(),
        known.join("; ")
    );
    Err(Box::new(Plain(text)))
}
