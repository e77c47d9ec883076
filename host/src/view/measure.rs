//! Figures to read: temperatures and their differences in both units, the job's first.

use crate::assess::{Figure, Outcome};
use crate::limits::{Bound, LimitUnit};
use crate::quantity::Units;

/// Decimals beyond which no probe speaks.
const PLACES_MAX: usize = 3;

/// A value with its unit, temperatures with the other unit in brackets: `66.8 °F (19.3 °C)`.
#[must_use]
pub fn both(unit: LimitUnit, value: f64, units: Units) -> String {
    let first = unit.show(value, units);
    match unit {
        LimitUnit::Celsius | LimitUnit::Kelvin => {
            format!("{first} ({})", unit.show(value, other(units)))
        }
        _ => first,
    }
}

const fn other(units: Units) -> Units {
    match units {
        Units::Metric => Units::Us,
        Units::Us => Units::Metric,
    }
}

/// What observed value, limit and margin of one figure are shown in: one unit, and so many decimals
/// that what decides can be seen.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    unit: LimitUnit,
    units: Units,
    /// Hours in the unit of time.
    hours: f64,
    places: usize,
}

impl Scale {
    pub(super) fn of(figure: &Figure, outcome: Outcome, units: Units) -> Self {
        let mut scale = Self::new(figure.unit, figure.observed.abs(), figure.bound.abs(), units);
        if outcome != Outcome::Met && !figure.is_met() {
            scale.part(figure.margin);
        }
        scale
    }

    /// For two values and their difference.
    pub(super) fn new(unit: LimitUnit, a: f64, b: f64, units: Units) -> Self {
        // Days from three days up, minutes below an hour.
        let hours = match a.max(b) {
            ..1.0 => 1.0 / 60.0,
            1.0..72.0 => 1.0,
            _ => 24.0,
        };
        let places = usize::from(unit != LimitUnit::Count);
        Self { unit, units, hours, places }
    }

    /// As many decimals as a difference needs to be seen.
    pub(super) fn part(&mut self, difference: f64) {
        let shows = |scale: &Self| {
            scale
                .numbers(difference, true)
                .iter()
                .all(|text| text.contains(|c| ('1'..='9').contains(&c)))
        };
        while self.places < PLACES_MAX && self.unit != LimitUnit::Count && !shows(self) {
            self.places += 1;
        }
    }

    /// The value in the first unit, and for temperatures in the second.
    fn numbers(&self, value: f64, difference: bool) -> Vec<String> {
        let text = |value: f64| plain(value, self.places);
        let fahrenheit = if difference { value * 1.8 } else { value.mul_add(1.8, 32.0) };
        let pounds = || crate::quantity::MoistureEmission::from_g_per_m2_24h(value);
        match (self.unit, self.units) {
            (LimitUnit::Celsius, Units::Metric) => vec![text(value), text(fahrenheit)],
            (LimitUnit::Celsius, Units::Us) => vec![text(fahrenheit), text(value)],
            (LimitUnit::Kelvin, Units::Metric) => vec![text(value), text(value * 1.8)],
            (LimitUnit::Kelvin, Units::Us) => vec![text(value * 1.8), text(value)],
            (LimitUnit::Hours, _) => vec![text(value / self.hours)],
            (LimitUnit::GramsPerM2Per24h, _) => vec![text(pounds().lb_per_1000_ft2_24h())],
            _ => vec![text(value)],
        }
    }

    fn names(&self) -> &'static [&'static str] {
        match (self.unit, self.units) {
            (LimitUnit::Celsius | LimitUnit::Kelvin, Units::Metric) => &["°C", "°F"],
            (LimitUnit::Celsius | LimitUnit::Kelvin, Units::Us) => &["°F", "°C"],
            (LimitUnit::PercentRh, _) => &["%RH"],
            (LimitUnit::PercentMc, _) => &["%MC"],
            (LimitUnit::Percent, _) => &["%"],
            (LimitUnit::Hours, _) if self.hours < 1.0 => &["min"],
            (LimitUnit::Hours, _) if self.hours > 1.0 => &["d"],
            (LimitUnit::Hours, _) => &["h"],
            // As the method states it, in both systems.
            (LimitUnit::GramsPerM2Per24h, _) => &["lb/1000 ft²/24 h"],
            (LimitUnit::Count, _) => &[""],
        }
    }

    /// `66.8/19.3`, for a column.
    pub(super) fn cell(&self, value: f64, difference: bool) -> String {
        self.numbers(value, difference).join("/")
    }

    /// `°F/°C`, for the column of units.
    pub(super) fn unit_cell(&self) -> String {
        match self.unit {
            // What the trade calls it.
            LimitUnit::GramsPerM2Per24h => "lb".to_owned(),
            _ => self.names().join("/"),
        }
    }

    /// `66.8 °F (19.3 °C)`, for a sentence.
    pub(super) fn words(&self, value: f64, difference: bool) -> String {
        let numbers = self.numbers(value, difference);
        let mut parts = numbers.iter().zip(self.names()).map(|(n, unit)| {
            let text = format!("{n} {unit}");
            text.trim_end().to_owned()
        });
        let first = parts.next().unwrap_or_default();
        parts.next().map_or_else(|| first.clone(), |second| format!("{first} ({second})"))
    }

    /// `66.8 °F (19.3 °C), min 64.4 °F (18.0 °C): 2.4 °F (1.3 °C) to spare`
    pub(super) fn sentence(&self, figure: &Figure) -> String {
        format!("{}: {}", self.against(figure), self.margin(figure))
    }

    /// `66.8 °F (19.3 °C), min 64.4 °F (18.0 °C)`
    pub(super) fn against(&self, figure: &Figure) -> String {
        let bound = self.words(figure.bound, false);
        format!(
            "{}, {} {bound}",
            self.words(figure.observed, false),
            bound_word(figure.limit.bound())
        )
    }

    /// `2.4 °F (1.3 °C) to spare`
    pub(super) fn margin(&self, figure: &Figure) -> String {
        let margin = self.words(figure.margin.abs(), true);
        match (figure.is_met(), figure.limit.bound()) {
            (true, _) => format!("{margin} to spare"),
            (false, Bound::AtMost) => format!("{margin} over"),
            (false, _) => format!("{margin} short"),
        }
    }
}

pub(super) const fn bound_word(bound: Bound) -> &'static str {
    match bound {
        Bound::AtMost => "max",
        Bound::AtLeast | Bound::MinimumTime => "min",
        Bound::Assumed => "taken as",
    }
}

/// `value` with so many decimals, and never `-0`.
pub(super) fn plain(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// A line of text in which every temperature stands in both units, the job's first.
///
/// Those that stand in one are converted as temperatures, or as differences where they are in kelvin.
/// Above 100 K it is no temperature of a site, but a constant of a formula.
#[must_use]
pub fn in_both(text: &str, units: Units) -> String {
    let words: Vec<&str> = text.split(' ').collect();
    let mut out: Vec<String> = Vec::new();
    let mut at = 0;
    while let Some(word) = words.get(at) {
        let taken = temperature(words.get(at..).unwrap_or_default(), units);
        if let Some((shown, count)) = taken {
            out.push(shown);
            at += count;
        } else {
            out.push((*word).to_owned());
            at += 1;
        }
    }
    out.join(" ")
}

/// A temperature at the start of the words, in both units, and how many words it took.
fn temperature(words: &[&str], units: Units) -> Option<(String, usize)> {
    let open = if words.first()?.starts_with('(') { "(" } else { "" };
    let first = number(words.first()?)?;
    // `20 to 25 °C`
    let range = (words.get(1) == Some(&"to")).then(|| number(words.get(2)?)).flatten();
    let at = if range.is_some() { 3 } else { 1 };
    let (unit, after) = unit_of(words.get(at)?)?;
    let span = |convert: &dyn Fn(f64) -> f64| {
        let show = |(value, places): (f64, usize)| plain(convert(value), places);
        range.map_or_else(|| show(first), |last| format!("{} to {}", show(first), show(last)))
    };
    let same = span(&|value| value);
    let (celsius, fahrenheit, count, after) = match unit {
        "K" if first.0.abs() < 100.0 => (same, span(&|value| value * 1.8), at + 1, after),
        "K" => return None,
        _ => {
            // Its conversion may stand behind it already.
            let given = words.get(at + 1..at + 3).and_then(|pair| {
                let [value, unit] = pair else { return None };
                let (_, after) = unit_of(unit)?;
                let value = value.strip_prefix('(')?;
                number(value)?;
                Some((value.to_owned(), after.strip_prefix(')')?))
            });
            let (second, count, after) = match given {
                Some((second, after)) => (second, at + 3, after),
                None if unit == "°C" => (span(&|value| value.mul_add(1.8, 32.0)), at + 1, after),
                None => (span(&|value| (value - 32.0) / 1.8), at + 1, after),
            };
            if unit == "°C" { (same, second, count, after) } else { (second, same, count, after) }
        }
    };
    let shown = match units {
        Units::Metric => format!("{open}{celsius} °C ({fahrenheit} °F){after}"),
        Units::Us => format!("{open}{fahrenheit} °F ({celsius} °C){after}"),
    };
    Some((shown, count))
}

/// A number and its decimals.
fn number(word: &str) -> Option<(f64, usize)> {
    let word = word.strip_prefix('(').unwrap_or(word);
    if !word.ends_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let places = word.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    Some((word.parse().ok()?, places))
}

/// A unit of temperature and what follows it in the same word.
fn unit_of(word: &str) -> Option<(&'static str, &str)> {
    ["°C", "°F", "K"].into_iter().find_map(|unit| {
        let after = word.strip_prefix(unit)?;
        after.chars().all(|c| ",.;:)".contains(c)).then_some((unit, after))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_gets_both_units_the_jobs_first() {
        let cases = [
            ("by 1.0 °C (1.8 °F) within 24 h", "by 1.8 °F (1.0 °C) within 24 h"),
            ("reads 21.5 °C.", "reads 70.7 °F (21.5 °C)."),
            ("(20 to 25 °C)", "(68 to 77 °F (20 to 25 °C))"),
            ("3 K above; 5000 K, 0 °C", "5 °F (3 °C) above; 5000 K, 32 °F (0 °C)"),
            ("52 h, 45 %RH, room 3 K2", "52 h, 45 %RH, room 3 K2"),
        ];
        for (text, us) in cases {
            assert_eq!(in_both(text, Units::Us), us);
        }
        assert_eq!(in_both("80 °F, or", Units::Metric), "27 °C (80 °F), or");
        let both = "by 1.0 °C (1.8 °F) within 24 h";
        assert_eq!(in_both(both, Units::Metric), both);
    }
}
