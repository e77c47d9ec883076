//! The font of the charts: carried in the program, so that a chart looks the same everywhere.
//!
//! Letters: Latin, Greek and Cyrillic. Others are drawn as an empty box in the PNG.

use super::PlotError;
use plotters::style::{FontDesc, FontFamily, FontStyle, register_font};
use std::sync::OnceLock;

/// Family as registered for the PNG and as written into the SVG. Viewers that ignore embedded fonts
/// take the next one they have.
pub(super) const FAMILY: &str = "Glueday Chart, DejaVu Sans Condensed, Arial, sans-serif";

/// Height of the font in em. The two backends take a font's size as its height, one by the font's
/// own ascent and descent, one by this constant; the font is made so that they agree.
pub(super) const HEIGHT_EM: f64 = 1.24;

pub(crate) const REGULAR: &[u8] = include_bytes!("../../assets/chart-regular.ttf");
pub(crate) const BOLD: &[u8] = include_bytes!("../../assets/chart-bold.ttf");
const REGULAR_WOFF2: &str = include_str!("../../assets/chart-regular.woff2.base64");
const BOLD_WOFF2: &str = include_str!("../../assets/chart-bold.woff2.base64");

/// Style sheet with the font in it.
pub(super) fn style_sheet() -> String {
    let face = |weight: &str, base64: &str| {
        format!(
            "@font-face{{font-family:\"Glueday Chart\";font-weight:{weight};\
             src:url(data:font/woff2;base64,{}) format(\"woff2\")}}\n",
            base64.trim()
        )
    };
    face("normal", REGULAR_WOFF2) + &face("bold", BOLD_WOFF2)
}

/// Makes the font known to the drawing library, once.
///
/// # Errors
/// [`PlotError::Font`] when the bytes are no font.
pub(super) fn register() -> Result<(), PlotError> {
    static DONE: OnceLock<bool> = OnceLock::new();
    let is_done = *DONE.get_or_init(|| {
        register_font(FAMILY, FontStyle::Normal, REGULAR).is_ok()
            && register_font(FAMILY, FontStyle::Bold, BOLD).is_ok()
    });
    if is_done { Ok(()) } else { Err(PlotError::Font) }
}

/// The font at a size.
pub(super) fn desc(em: f64, bold: bool) -> FontDesc<'static> {
    let style = if bold { FontStyle::Bold } else { FontStyle::Normal };
    FontDesc::new(FontFamily::Name(FAMILY), em * HEIGHT_EM, style)
}

/// Width of a text, in the unit of `em`.
pub(super) fn width(text: &str, em: f64, bold: bool) -> f64 {
    // The library measures in whole pixels: measure large.
    const MEASURE_EM: f64 = 1000.0;
    let measured = desc(MEASURE_EM, bold).layout_box(text);
    measured.map_or(0.0, |((x0, _), (x1, _))| f64::from(x1 - x0) / MEASURE_EM * em)
}

/// The text, cut with an ellipsis to fit a width.
pub(super) fn fit(text: &str, em: f64, bold: bool, room: f64) -> String {
    if width(text, em, bold) <= room {
        return text.to_owned();
    }
    let mut kept: Vec<char> = text.chars().collect();
    while kept.pop().is_some() {
        let cut: String = kept.iter().collect::<String>().trim_end().to_owned() + "…";
        if width(&cut, em, bold) <= room {
            return cut;
        }
    }
    String::new()
}

/// The text in lines that fit a width, at most so many; the last is cut with an ellipsis.
pub(super) fn wrap(text: &str, em: f64, bold: bool, room: f64, lines_max: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut words = text.split_whitespace().peekable();
    while words.peek().is_some() && lines.len() < lines_max {
        if lines.len() + 1 == lines_max {
            let rest: Vec<&str> = words.by_ref().collect();
            lines.push(fit(&rest.join(" "), em, bold, room));
            break;
        }
        let mut line = words.next().unwrap_or_default().to_owned();
        while let Some(word) = words.peek() {
            let longer = format!("{line} {word}");
            if width(&longer, em, bold) > room {
                break;
            }
            line = longer;
            words.next();
        }
        lines.push(fit(&line, em, bold, room));
    }
    lines
}
