//! Lines no wider than the screen, that never part a number from its unit.

use unicode_width::UnicodeWidthStr as _;

/// Holds two words together until the line is broken, and is a space after that.
pub(crate) const HOLD: char = '\u{a0}';

/// Units as they stand after a number in text, each without what may follow it.
const UNITS: &[&str] = &[
    "°C", "°F", "K", "%", "%RH", "%MC", "s", "min", "h", "d", "mm", "in", "m", "ft", "m²", "ft²",
    "g", "kg", "lb", "Pa", "kPa", "inHg", "W/m²", "µg/m³", "g/m³", "g/kg", "kJ/kg", "lb/1000",
    "ft²/24", "g/m²/24",
];

/// How many columns a text takes.
pub(crate) fn columns(text: &str) -> usize {
    text.width()
}

/// The text with every number held to its unit, a value to its conversion, and a date to its time.
pub(crate) fn hold(text: &str) -> String {
    let mut held = String::with_capacity(text.len());
    let mut before = "";
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        if !held.is_empty() {
            held.push(if belong(before, word) { HOLD } else { ' ' });
        }
        held.push_str(word);
        before = word;
    }
    held
}

fn belong(before: &str, word: &str) -> bool {
    let ends_in_digit = before.ends_with(|c: char| c.is_ascii_digit());
    let is_unit = UNITS.contains(&bare(word));
    let number_and_unit = ends_in_digit && is_unit;
    let conversion = word.starts_with('(')
        && bare(word).starts_with(|c: char| c.is_ascii_digit() || c == '-')
        && UNITS.contains(&before);
    let tolerance = word == "±" || before == "±";
    let weekday = before.len() == 3 && is_date(word);
    number_and_unit || conversion || tolerance || weekday || (is_date(before) && is_clock(word))
}

/// The word without the punctuation around it.
fn bare(word: &str) -> &str {
    word.trim_matches(|c: char| "()[],.;:".contains(c))
}

fn is_date(word: &str) -> bool {
    let is_number = |part: &str| !part.is_empty() && part.chars().all(|c| c.is_ascii_digit());
    let parts: Vec<&str> = bare(word).split('-').collect();
    parts.len() == 3 && parts.into_iter().all(is_number)
}

fn is_clock(word: &str) -> bool {
    bare(word).split_once(':').is_some_and(|(hour, minute)| hour.len() == 2 && minute.len() == 2)
}

/// Breaks held text into lines: the first as wide as `first`, the others as `rest`.
pub(crate) fn lines(text: &str, first: usize, rest: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut room = first.max(1);
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let gap = usize::from(!line.is_empty());
        if columns(&line) + gap + columns(word) <= room {
            if gap == 1 {
                line.push(' ');
            }
            line.push_str(word);
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
            room = rest.max(1);
        }
        // Held words that no line can hold together are parted after all, then letters.
        for part in parted(word, room) {
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
                room = rest.max(1);
            }
            line = part;
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines.iter().map(|line| line.replace(HOLD, " ")).collect()
}

/// A word in parts of at most `room` columns.
fn parted(word: &str, room: usize) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut taken = 0;
    for c in word.chars() {
        let wide = columns(c.encode_utf8(&mut [0; 4]));
        if taken + wide > room && taken > 0 {
            parts.push(String::new());
            taken = 0;
        }
        if let Some(part) = parts.last_mut() {
            part.push(c);
        }
        taken += wide;
    }
    parts
}

/// The text cut to so many columns, with an ellipsis where something is missing.
pub(crate) fn cut(text: &str, room: usize) -> String {
    if columns(text) <= room {
        return text.to_owned();
    }
    let first = parted(text, room.saturating_sub(1).max(1)).into_iter().next();
    format!("{}…", first.unwrap_or_default().trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_keeps_its_unit_and_its_conversion() {
        let held = hold(
            "at 20 °C (68 °F), 45 %RH and 3.0 lb/1000 ft²/24 h for 48 h on Sat 2026-03-14 09:00:",
        );
        assert_eq!(
            held.replace(HOLD, "_"),
            "at 20_°C_(68_°F), 45_%RH and 3.0_lb/1000_ft²/24_h for 48_h on Sat_2026-03-14_09:00:"
        );
        for width in 1..90 {
            for line in lines(&held, width, width) {
                assert!(columns(&line) <= width, "{width}: {line}");
            }
        }
        assert!(lines(&held, 20, 20).contains(&"3.0 lb/1000 ft²/24 h".to_owned()));
    }

    #[test]
    fn width_is_that_of_the_screen() {
        assert_eq!(columns("床暖房"), 6);
        assert_eq!(lines("床暖房 床暖房", 7, 7), ["床暖房", "床暖房"]);
        assert_eq!(lines("床暖房", 4, 4), ["床暖", "房"]);
        assert_eq!(cut("床暖房", 5), "床暖…");
        assert_eq!(cut("slab", 4), "slab");
        assert_eq!(lines("", 10, 10), [""]);
    }
}
