//! A chart as shapes of a page: sharp at any size, its text as text.

use super::flow::Flow;
use super::font::{Color, Style};
use super::sheet::Op;
use super::{DrawError, wrap};
use crate::assess::{Assessment, corrected};
use crate::plot::{self, Align, Chart, SIDE_MAX, SIDE_MIN, Shape};
use crate::record::Case;
use crate::record::content::ChartOf;
use krilla::tagging::Tag;

/// Width of a chart in its own pixels: the least that has the names of its strips beside them. So its
/// small print is 7 points high.
const WIDTH: u32 = 1100;
/// The margin that a chart has in itself, in its own pixels: it is let out of the column.
const MARGIN: f64 = 16.0;
/// A chart is no higher than this, in points.
const TALL_MAX: f64 = 620.0;
/// And goes to the next page when less is left.
pub(super) const TALL_MIN: f64 = 420.0;

/// Draws the chart of a room over what is left of the page.
pub(super) fn draw(
    flow: &mut Flow<'_>,
    case: &Case,
    assessment: &Assessment,
    of: &ChartOf,
) -> Result<(), DrawError> {
    let (Some((zone, history)), Some(judged)) =
        (case.rooms.get(of.room), assessment.zones.get(of.room))
    else {
        return Ok(());
    };
    flow.need(TALL_MIN);
    let scale = flow.paper.column() / (f64::from(WIDTH) - 2.0 * MARGIN);
    // Nothing to see but the limits takes less room.
    let most = if history.is_empty() { TALL_MIN } else { TALL_MAX };
    let tall = flow.left().min(most);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // A page.
    let height = ((tall / scale).floor() as u32).clamp(SIDE_MIN, SIDE_MAX);
    let history = corrected(&case.job, zone, history);
    let style = plot::Style { width: WIDTH, height, dark: false };
    let span = (of.from_s, of.to_s);
    let chart = Chart::new(&case.job, &case.limits, &history, (assessment, judged), span, style)?;
    let tag = flow.tag(Tag::Figure(Some(wrap::clean(&of.alt))));
    let place = Place { x: flow.paper.margin - MARGIN * scale, y: flow.y, scale };
    for shape in plot::shapes(&chart)? {
        let op = place.op(flow, shape);
        flow.put(op, Some(tag));
    }
    flow.y += f64::from(height) * scale + 6.0;
    Ok(())
}

/// Where a chart stands on the page.
struct Place {
    x: f64,
    y: f64,
    scale: f64,
}

impl Place {
    fn point(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (self.x + x * self.scale, self.y + y * self.scale)
    }

    fn points(&self, points: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
        points.into_iter().map(|point| self.point(point)).collect()
    }

    fn op(&self, flow: &Flow<'_>, shape: Shape) -> Op {
        match shape {
            Shape::Fill { area, color } => Op::Fill {
                from: self.point((area.x0, area.y0)),
                to: self.point((area.x1, area.y1)),
                color: (color.0, color.1, color.2),
                opacity: color.3,
            },
            Shape::Path { points, color, width } => Op::Line {
                points: self.points(points),
                color: rgb(color),
                width: width * self.scale,
            },
            Shape::Polygon { points, color } => {
                Op::Polygon { points: self.points(points), color: rgb(color) }
            }
            Shape::Text { at, text, kind, align } => {
                let style =
                    Style { size: kind.em * self.scale, bold: kind.bold, color: rgb(kind.color) };
                let text = wrap::clean(&text);
                let width = flow.fonts.width(&text, style);
                let (x, y) = self.point(at);
                let x = match align {
                    Align::Left => x,
                    Align::Center => x - width / 2.0,
                    Align::Right => x - width,
                };
                Op::Text { at: (x, y), text, style }
            }
        }
    }
}

fn rgb(color: plotters::style::RGBColor) -> Color {
    (color.0, color.1, color.2)
}
