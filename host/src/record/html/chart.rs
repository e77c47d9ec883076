//! A chart as SVG inside the page: its shapes once, its colours by the style of the page.

use super::PageError;
use super::markup::escape;
use crate::assess::{Assessment, corrected};
use crate::plot::{self, Align, Chart, Shape};
use crate::record::Case;
use crate::record::content::ChartOf;

/// How a chart is drawn: for whom, and its size in pixels. Both have room for all panels and a strip
/// for each requirement; the first has their names beside them. The second fills a phone, with letters
/// of nearly 10 pixels.
const LAYOUTS: [(&str, u32, u32); 2] = [("on-wide", 1100, 1150), ("on-narrow", 600, 1500)];

/// A colour on a light ground and on a dark one, as they stand in a style sheet.
type Pair = (String, String);

/// The colours of all charts of a page: each pair is a class.
#[derive(Default)]
pub(super) struct Colors {
    pairs: Vec<Pair>,
}

impl Colors {
    /// The class of a pair.
    fn class(&mut self, pair: Pair) -> usize {
        match self.pairs.iter().position(|known| *known == pair) {
            Some(at) => at,
            None => {
                self.pairs.push(pair);
                self.pairs.len() - 1
            }
        }
    }

    /// The style sheet for the classes. Paper stays light.
    pub(super) fn style(&self) -> String {
        let rules = |side: fn(&Pair) -> &String| -> String {
            let rule = |(at, pair): (usize, &Pair)| format!(".k{at}{{--k:{}}}", side(pair));
            self.pairs.iter().enumerate().map(rule).collect()
        };
        format!(
            "{}\n@media screen and (prefers-color-scheme:dark){{{}}}\n",
            rules(|pair| &pair.0),
            rules(|pair| &pair.1)
        )
    }
}

/// The chart of a room for wide windows and for narrow ones, or nothing when there is no such room.
pub(super) fn draw(
    case: &Case,
    assessment: &Assessment,
    of: &ChartOf,
    colors: &mut Colors,
) -> Result<String, PageError> {
    let (Some((zone, history)), Some(judged)) =
        (case.rooms.get(of.room), assessment.zones.get(of.room))
    else {
        return Ok(String::new());
    };
    let history = corrected(&case.job, zone, history);
    let shapes = |width, height, dark| {
        let style = plot::Style { width, height, dark };
        let span = (of.from_s, of.to_s);
        let chart =
            Chart::new(&case.job, &case.limits, &history, (assessment, judged), span, style)?;
        plot::shapes(&chart)
    };
    let alt = escape(&of.alt);
    let mut out = String::new();
    for (class, width, height) in LAYOUTS {
        out.push_str(&format!(
            "<div class=\"chart {class}\" role=\"group\" aria-label=\"Chart, to be moved sideways\" \
             tabindex=\"0\"><svg viewBox=\"0 0 {width} {height}\" role=\"img\" \
             aria-label=\"{alt}\">\n"
        ));
        // Both have the same shapes, in other colours.
        for (light, dark) in
            shapes(width, height, false)?.into_iter().zip(shapes(width, height, true)?)
        {
            draw_shape(&mut out, &light, colors.class((color(&light), color(&dark))));
        }
        out.push_str("</svg></div>\n");
    }
    Ok(out)
}

fn color(shape: &Shape) -> String {
    match shape {
        Shape::Fill { color, .. } if color.3 < 1.0 => {
            format!("rgba({},{},{},{})", color.0, color.1, color.2, number(color.3))
        }
        Shape::Fill { color, .. } => hex(color.0, color.1, color.2),
        Shape::Path { color, .. } | Shape::Polygon { color, .. } => hex(color.0, color.1, color.2),
        Shape::Text { kind, .. } => hex(kind.color.0, kind.color.1, kind.color.2),
    }
}

fn hex(red: u8, green: u8, blue: u8) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

fn draw_shape(out: &mut String, shape: &Shape, class: usize) {
    let drawn = match shape {
        Shape::Fill { area, .. } => format!(
            "<rect class=\"k{class}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>\n",
            number(area.x0),
            number(area.y0),
            number(area.x1 - area.x0),
            number(area.y1 - area.y0)
        ),
        Shape::Path { points, width, .. } => format!(
            "<path class=\"k{class} l\" stroke-width=\"{}\" d=\"{}\"/>\n",
            number(*width),
            path(points)
        ),
        Shape::Polygon { points, .. } => {
            format!("<path class=\"k{class}\" d=\"{}z\"/>\n", path(points))
        }
        Shape::Text { at, text, kind, align } => {
            let anchor = match align {
                Align::Left => "",
                Align::Center => " text-anchor=\"middle\"",
                Align::Right => " text-anchor=\"end\"",
            };
            let weight = if kind.bold { " font-weight=\"bold\"" } else { "" };
            format!(
                "<text class=\"k{class}\" x=\"{}\" y=\"{}\" font-size=\"{}\"{anchor}{weight}>{}</text>\n",
                number(at.0),
                number(at.1),
                number(kind.em),
                escape(text)
            )
        }
    };
    out.push_str(&drawn);
}

fn path(points: &[(f64, f64)]) -> String {
    let point = |(i, (x, y)): (usize, &(f64, f64))| {
        format!("{}{} {}", if i == 0 { "M" } else { "L" }, number(*x), number(*y))
    };
    points.iter().enumerate().map(point).collect()
}

/// To a hundredth of a pixel: the last digits of a computer's sums do not show.
fn number(value: f64) -> String {
    let text = format!("{:.2}", value + 0.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_as_short_as_they_can_be() {
        for (value, expected) in [
            (0.0, "0"),
            (-0.001, "0"),
            (10.0, "10"),
            (1.25, "1.25"),
            (-3.10, "-3.1"),
            (100.999, "101"),
        ] {
            assert_eq!(number(value), expected);
        }
    }

    #[test]
    fn a_pair_of_colours_is_one_class() {
        let mut colors = Colors::default();
        let pair = || ("#fff".to_owned(), "#000".to_owned());
        assert_eq!((colors.class(pair()), colors.class(pair())), (0, 0));
        assert_eq!(colors.class(("#fff".to_owned(), "#111".to_owned())), 1);
        assert!(colors.style().contains(".k0{--k:#fff}.k1{--k:#fff}"));
        assert!(colors.style().contains(".k0{--k:#000}.k1{--k:#111}"));
    }
}
