//! Column names, units and words that are understood without being told.
//!
//! Names are compared without regard to case; `_`, `-`, `.` and `/` count as blanks, and a unit after
//! the name, in brackets or not, is taken off first. Only names that say *where* a temperature is
//! measured are here: a logger lying on the slab may well call its only column `Temperature`, and
//! taking that for the air would make a verdict out of the wrong quantity.

use super::channel::{Channel, Unit};
use super::zone::parse_offset;

/// Names of a slab surface temperature.
pub const SLAB_NAMES: [&str; 9] = [
    "slab",
    "slab t",
    "slab temp",
    "slab temperature",
    "slab surface",
    "slab surface temp",
    "slab surface temperature",
    "concrete temperature",
    "concrete surface temperature",
];

/// Names of an air temperature.
pub const AIR_NAMES: [&str; 10] = [
    "air",
    "air t",
    "air temp",
    "air temperature",
    "room air",
    "room temp",
    "room temperature",
    "room air temperature",
    "indoor air temperature",
    "indoor temperature",
];

/// Names of a relative humidity of the air.
pub const RH_NAMES: [&str; 10] = [
    "rh",
    "air rh",
    "room rh",
    "indoor rh",
    "humidity",
    "air humidity",
    "rel humidity",
    "relative humidity",
    "air relative humidity",
    "room relative humidity",
];

/// Names of a radiant supply temperature.
pub const SUPPLY_NAMES: [&str; 10] = [
    "supply",
    "supply t",
    "supply temp",
    "supply temperature",
    "supply water",
    "supply water temp",
    "supply water temperature",
    "flow temp",
    "flow temperature",
    "heating supply temperature",
];

/// Names of a column with times, asked only when several columns hold times.
pub const TIME_NAMES: [&str; 8] = [
    "time",
    "timestamp",
    "time stamp",
    "date time",
    "datetime",
    "date and time",
    "t",
    "measured at",
];

/// What cells without a reading hold, besides nothing at all.
pub const MISSING_WORDS: [&str; 14] = [
    "nan",
    "na",
    "n/a",
    "#n/a",
    "null",
    "none",
    "-",
    "--",
    "---",
    "err",
    "error",
    "no data",
    "no reading",
    "missing",
];

/// Whether `cell` is one of [`MISSING_WORDS`].
pub(super) fn is_missing_word(cell: &[u8]) -> bool {
    MISSING_WORDS.iter().any(|word| cell.eq_ignore_ascii_case(word.as_bytes()))
}

/// The names of `channel`.
#[must_use]
pub fn of(channel: Channel) -> &'static [&'static str] {
    match channel {
        Channel::Slab => &SLAB_NAMES,
        Channel::Air => &AIR_NAMES,
        Channel::Rh => &RH_NAMES,
        Channel::Supply => &SUPPLY_NAMES,
    }
}

/// A header cell taken apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Name {
    /// In lower case, without the unit, words parted by single blanks.
    pub(super) base: String,
    pub(super) unit: Option<Unit>,
}

impl Name {
    pub(super) fn read(header: &str) -> Self {
        let (text, unit) = split_unit(header.trim());
        let lower = text.to_lowercase();
        let words = lower.split(|c: char| c.is_whitespace() || "_-./,:;".contains(c));
        let base = words.filter(|w| !w.is_empty()).collect::<Vec<_>>().join(" ");
        // A column named only by its unit: the one for humidity says what it is.
        if base.is_empty() && unit == Some(Unit::Percent) && header.to_lowercase().contains("rh") {
            return Self { base: "rh".to_owned(), unit };
        }
        Self { base, unit }
    }

    pub(super) fn is_for(&self, channel: Channel) -> bool {
        of(channel).contains(&self.base.as_str()) && self.unit.is_none_or(|u| channel.takes(u))
    }

    pub(super) fn is_time(&self) -> bool {
        // `Time UTC+2`: the offset is no part of the name.
        let base = self.base.split("utc").next().and_then(|b| b.split("gmt").next());
        TIME_NAMES.contains(&base.unwrap_or_default().trim_end_matches([' ', '(', '[']))
    }
}

/// Takes a unit from the end: in brackets, or the last one or two words.
fn split_unit(text: &str) -> (&str, Option<Unit>) {
    if let Some(unit) = Unit::from_words(text)
        && text.chars().count() > 1
    {
        return ("", Some(unit));
    }
    let bracketed = text.strip_suffix(')').and_then(|t| t.rsplit_once('('));
    let bracketed = bracketed.or_else(|| text.strip_suffix(']').and_then(|t| t.rsplit_once('[')));
    if let Some((name, unit)) = bracketed
        && let Some(unit) = Unit::from_words(unit)
    {
        return (name, Some(unit));
    }
    let is_break = |c: char| c.is_whitespace() || "_/,:;-".contains(c);
    let mut breaks = text.char_indices().rev().filter(|(_, c)| is_break(*c)).map(|(at, _)| at);
    let (last, earlier) = (breaks.next(), breaks.next());
    // Longest ending first, so that `deg C` is not taken as `C`.
    for at in [earlier, last].into_iter().flatten() {
        if let Some((name, rest)) = text.split_at_checked(at)
            && let Some(unit) = Unit::from_words(rest.trim_start_matches(is_break))
        {
            return (name, Some(unit));
        }
    }
    (text, None)
}

/// Seconds east of UTC that a header such as `t_UTC+2`, `Time (GMT-05:00)` or `time_utc` states.
pub(super) fn offset_in(header: &str) -> Option<i32> {
    let lower = header.to_ascii_lowercase();
    let at = ["utc", "gmt"].into_iter().filter_map(|word| lower.rfind(word)).max()?;
    let before = lower.get(..at)?.chars().next_back();
    if before.is_some_and(char::is_alphanumeric) {
        return None;
    }
    let zone = lower.get(at..)?;
    let end = zone
        .char_indices()
        .skip(3)
        .find(|(_, c)| !(c.is_ascii_digit() || matches!(c, '+' | '-' | '\u{2212}' | ':' | ' ')));
    let rest = end.and_then(|(at, _)| zone.get(at..)).unwrap_or_default();
    let zone = zone.strip_suffix(rest).unwrap_or(zone);
    // Part of another word, or of a number.
    if !zone.ends_with(' ') && rest.starts_with(|c: char| c.is_alphanumeric() || c == '.') {
        return None;
    }
    parse_offset(zone.trim_end_matches([':', ' ']))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_are_taken_apart() {
        for (header, base, unit) in [
            ("Air temperature (°C)", "air temperature", Some(Unit::Celsius)),
            ("Air_Temp_C", "air temp", Some(Unit::Celsius)),
            ("slab surface, deg. F", "slab surface", Some(Unit::Fahrenheit)),
            ("SUPPLY [ºF]", "supply", Some(Unit::Fahrenheit)),
            ("RH %", "rh", Some(Unit::Percent)),
            ("RH", "rh", None),
            ("Humidity (g/m3)", "humidity (g m3)", None),
            ("%RH", "rh", Some(Unit::Percent)),
            ("T", "t", None),
            ("C", "c", None),
            ("", "", None),
            ("°C", "", Some(Unit::Celsius)),
        ] {
            assert_eq!(Name::read(header), Name { base: base.to_owned(), unit }, "{header:?}");
        }
    }

    #[test]
    fn offsets_are_found_in_headers() {
        for (header, expected) in [
            ("t_UTC+2", Some(7200)),
            ("Time (GMT-05:00)", Some(-18_000)),
            ("Time, GMT+0530, start", Some(19_800)),
            ("time_utc", Some(0)),
            ("UTC", Some(0)),
            ("Timestamp [UTC]", Some(0)),
            ("Time UTC+2: local", Some(7200)),
            ("Time", None),
            ("UTC+25", None),
            ("utcome", None),
            ("xutc", None),
            ("UTC+2.5", None),
        ] {
            assert_eq!(offset_in(header), expected, "{header:?}");
        }
    }

    #[test]
    fn a_unit_of_another_quantity_makes_another_channel() {
        assert!(Name::read("Air (°C)").is_for(Channel::Air));
        assert!(!Name::read("Air (%)").is_for(Channel::Air));
        assert!(!Name::read("Humidity (°C)").is_for(Channel::Rh));
    }

    #[test]
    fn a_temperature_without_a_place_is_no_channel() {
        for header in ["Temperature", "Temp (°C)", "T", "Channel 1", "Floor", "Outdoor temperature"]
        {
            for channel in Channel::ALL {
                assert!(!Name::read(header).is_for(channel), "{header:?} as {channel:?}");
            }
        }
    }
}
