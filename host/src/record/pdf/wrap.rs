//! Lines that fit a width.

use super::font::{Fonts, Style};
use crate::view::{HOLD, hold};

/// Text as it can be drawn: without control characters, and without what PDF/A-3 allows no text to be
/// (NUL, byte order marks, noncharacters, private use).
pub(super) fn clean(text: &str) -> String {
    let letter = |c: char| match c {
        '\u{feff}' | '\u{e000}'..='\u{f8ff}' | '\u{f0000}'.. => '\u{fffd}',
        c if u32::from(c) & 0xfffe == 0xfffe || ('\u{fdd0}'..='\u{fdef}').contains(&c) => {
            '\u{fffd}'
        }
        c if c.is_control() => ' ',
        c => c,
    };
    text.chars().map(letter).collect()
}

/// The text in lines of at most `room`. Numbers stay with their units; what is too long for any line
/// is parted. At least one line.
pub(super) fn lines(fonts: &Fonts, text: &str, style: Style, room: f64) -> Vec<String> {
    let width = |text: &str| fonts.width(&text.replace(HOLD, " "), style);
    let held = hold(&clean(text));
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in held.split(' ').filter(|word| !word.is_empty()) {
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if width(&longer) <= room {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for part in parted(fonts, word, style, room) {
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            line = part;
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines.iter().map(|line| line.replace(HOLD, " ")).collect()
}

/// A word in parts that fit: between held words where that does, else between letters.
fn parted(fonts: &Fonts, word: &str, style: Style, room: f64) -> Vec<String> {
    let width = |text: &str| fonts.width(&text.replace(HOLD, " "), style);
    if width(word) <= room {
        return vec![word.to_owned()];
    }
    let mut parts = vec![String::new()];
    for piece in word.split_inclusive(HOLD) {
        let fits = |last: &String| width(&format!("{last}{piece}")) <= room;
        if parts.last().is_some_and(|last| !last.is_empty() && !fits(last)) {
            parts.push(String::new());
        }
        for c in piece.chars() {
            let is_full = parts
                .last()
                .is_some_and(|last| !last.is_empty() && width(&format!("{last}{c}")) > room);
            if is_full {
                parts.push(String::new());
            }
            if let Some(last) = parts.last_mut() {
                last.push(c);
            }
        }
    }
    parts.iter().map(|part| part.trim_matches(HOLD).to_owned()).filter(|p| !p.is_empty()).collect()
}

/// The text on one line, cut with an ellipsis where it does not fit.
pub(super) fn cut(fonts: &Fonts, text: &str, style: Style, room: f64) -> String {
    let text = clean(text);
    if fonts.width(&text, style) <= room {
        return text;
    }
    let mut kept: Vec<char> = text.chars().collect();
    while kept.pop().is_some() {
        let cut = kept.iter().collect::<String>().trim_end().to_owned() + "…";
        if fonts.width(&cut, style) <= room {
            return cut;
        }
    }
    String::new()
}

#[cfg(test)]
mod tests {
    use super::*;

    const STYLE: Style = Style { size: 10.0, bold: false, color: (0, 0, 0) };

    #[test]
    fn no_line_is_wider_than_its_room_and_no_letter_is_lost() {
        let fonts = Fonts::new().unwrap();
        let text = "at 66.8 °F (19.3 °C) Donaudampfschifffahrtsgesellschaftskapitän \
                    0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef end";
        for room in [20.0, 60.0, 150.0, 400.0] {
            let lines = lines(&fonts, text, STYLE, room);
            for line in &lines {
                assert!(fonts.width(line, STYLE) <= room, "{room}: {line}");
            }
            let letters = |text: &str| text.replace(' ', "");
            assert_eq!(letters(&lines.concat()), letters(text), "{room}");
        }
        assert!(lines(&fonts, text, STYLE, 150.0)[0].contains("66.8 °F (19.3 °C)"));
        assert!(!fonts.lacked());
    }

    #[test]
    fn text_that_no_pdf_may_hold_is_replaced() {
        assert_eq!(
            clean("a\u{0}b\tc\u{feff}d\u{e000}e\u{ffff}f\u{10fffd}"),
            "a b c\u{fffd}d\u{fffd}e\u{fffd}f\u{fffd}"
        );
        let fonts = Fonts::new().unwrap();
        assert!(cut(&fonts, "Alder Lane", STYLE, 30.0).ends_with('…'));
        fonts.width("床", STYLE);
        assert!(fonts.lacked());
    }
}
