//! A list of shapes, drawn once and played to a backend, or handed out as they are.
//!
//! Coordinates are in pixels of the finished picture, y downwards; text stands on its baseline.

use super::{PlotError, font};
use plotters::prelude::{Color as _, DrawingBackend, RGBAColor, RGBColor, ShapeStyle};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{IntoTextStyle as _, TextStyle};

/// A point of the picture.
pub(crate) type Point = (f64, f64);

/// A rectangle of the picture.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Rect {
    pub(crate) x0: f64,
    pub(crate) y0: f64,
    pub(crate) x1: f64,
    pub(crate) y1: f64,
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pen {
    pub(super) color: RGBColor,
    pub(super) width: f64,
    /// Lengths of dash and gap; `None` is a whole line.
    pub(super) dash: Option<(f64, f64)>,
}

/// How a text is drawn.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Type {
    pub(crate) em: f64,
    pub(crate) bold: bool,
    pub(crate) color: RGBColor,
}

/// Which end of a text stands at its point.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Align {
    Left,
    Center,
    Right,
}

/// A shape of a picture.
#[derive(Clone, Debug)]
pub(crate) enum Shape {
    Fill { area: Rect, color: RGBAColor },
    Path { points: Vec<Point>, color: RGBColor, width: f64 },
    Polygon { points: Vec<Point>, color: RGBColor },
    Text { at: Point, text: String, kind: Type, align: Align },
}

/// The shapes of a picture, the last on top.
#[derive(Default)]
pub(super) struct Canvas {
    shapes: Vec<Shape>,
}

/// What differs between the backends.
#[derive(Clone, Copy, Debug)]
pub(super) struct Target {
    /// Backend units in a pixel: the backends only know whole numbers.
    pub(super) scale: f64,
    /// From the top of a text, as the backend takes it, to its baseline, in em.
    pub(super) baseline_em: f64,
    /// Whether lines thicker than one unit are drawn as many thin ones. The bitmap backend fills
    /// the outline of the whole path instead, which loses sharp spikes.
    pub(super) brush: bool,
}

impl Rect {
    pub(super) fn width(&self) -> f64 {
        self.x1 - self.x0
    }

    pub(super) fn height(&self) -> f64 {
        self.y1 - self.y0
    }

    pub(super) fn middle(&self) -> Point {
        (f64::midpoint(self.x0, self.x1), f64::midpoint(self.y0, self.y1))
    }
}

impl Canvas {
    pub(super) fn fill(&mut self, area: Rect, color: RGBColor) {
        self.shade(area, color, 1.0);
    }

    pub(super) fn shade(&mut self, area: Rect, color: RGBColor, opacity: f64) {
        if area.width() > 0.0 && area.height() > 0.0 {
            self.shapes.push(Shape::Fill { area, color: color.mix(opacity) });
        }
    }

    pub(super) fn frame(&mut self, area: Rect, color: RGBColor, width: f64) {
        let Rect { x0, y0, x1, y1 } = area;
        self.fill(Rect { y1: y0 + width, ..area }, color);
        self.fill(Rect { y0: y1 - width, ..area }, color);
        self.fill(Rect { x1: x0 + width, ..area }, color);
        self.fill(Rect { x0: x1 - width, ..area }, color);
    }

    pub(super) fn polygon(&mut self, points: Vec<Point>, color: RGBColor) {
        self.shapes.push(Shape::Polygon { points, color });
    }

    pub(super) fn text(&mut self, at: Point, text: &str, kind: Type, align: Align) {
        if text.is_empty() {
            return;
        }
        // Control characters are neither drawn nor allowed in XML.
        let is_odd = |c: char| c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}');
        let text = text.chars().map(|c| if is_odd(c) { ' ' } else { c }).collect();
        self.shapes.push(Shape::Text { at, text, kind, align });
    }

    /// A level line, on whole pixels.
    pub(super) fn level(&mut self, x0: f64, x1: f64, y: f64, pen: Pen) {
        let y0 = (y - pen.width / 2.0).round();
        for (from, to) in dashes(x0, x1, pen.dash) {
            self.fill(Rect { x0: from, y0, x1: to, y1: y0 + pen.width }, pen.color);
        }
    }

    /// An upright line, on whole pixels.
    pub(super) fn upright(&mut self, x: f64, y0: f64, y1: f64, pen: Pen) {
        let x0 = (x - pen.width / 2.0).round();
        for (from, to) in dashes(y0, y1, pen.dash) {
            self.fill(Rect { x0, y0: from, x1: x0 + pen.width, y1: to }, pen.color);
        }
    }

    /// A line through points that go from left to right. Dashes are measured along x, on a slope more
    /// of them, so that none is much longer than on the level. Steep parts are always drawn: no spike
    /// falls into the gap of a dash.
    pub(super) fn curve(&mut self, points: &[Point], pen: Pen) {
        let Some((on, off)) = pen.dash else {
            return self.path(points.to_vec(), pen);
        };
        let period = on + off;
        let mut part: Vec<Point> = Vec::new();
        for (pair, dashes) in points.windows(2).zip(dashes_in_period(points, period)) {
            let [a, b] = pair else { continue };
            let (dx, dy) = (b.0 - a.0, b.1 - a.1);
            if dy.abs() > (3.0 * dx.abs()).max(2.5 * pen.width) {
                if part.is_empty() {
                    part.push(*a);
                }
                part.push(*b);
                continue;
            }
            let at = |x: f64| (x, if dx > 0.0 { a.1 + dy * (x - a.0) / dx } else { b.1 });
            let mut x = a.0;
            while x < b.0 {
                let phase = (x * dashes).rem_euclid(period);
                let is_on = phase < on;
                let left = if is_on { on - phase } else { period - phase };
                // A hair further, so that rounding cannot stall the walk.
                let next = (x + left / dashes + 1e-6).min(b.0);
                if is_on {
                    if part.is_empty() {
                        part.push(at(x));
                    }
                    part.push(at(next));
                } else {
                    self.path(std::mem::take(&mut part), pen);
                }
                x = next;
            }
        }
        self.path(part, pen);
    }

    fn path(&mut self, points: Vec<Point>, pen: Pen) {
        if points.len() > 1 {
            self.shapes.push(Shape::Path { points, color: pen.color, width: pen.width });
        }
    }

    /// Slanted lines across an area, rising to the right.
    pub(super) fn hatch(&mut self, area: Rect, every: f64, pen: Pen) {
        let (width, height) = (area.width(), area.height());
        if width <= 0.0 || height <= 0.0 {
            return;
        }
        // On one grid for the whole picture, so that neighbouring areas match.
        let mut start = ((area.x0 + area.y0) / every).ceil() * every;
        while start < area.x1 + area.y1 {
            // The line is x + y = start.
            let low = (start - area.y1).max(area.x0);
            let high = (start - area.y0).min(area.x1);
            if high > low {
                self.path(vec![(low, start - low), (high, start - high)], pen);
            }
            start += every;
        }
    }

    /// Dots across an area: whole rows, at least one of them, with the same space above and below.
    pub(super) fn dots(&mut self, area: Rect, every: f64, size: f64, color: RGBColor) {
        let rows = ((area.height() - size) / (every / 2.0)).floor().max(0.0);
        let mut y = (area.middle().1 - (rows * every / 2.0 + size) / 2.0).round();
        let mut row = 0.0;
        while y + size <= area.y1.max(area.middle().1 + size) {
            let mut x = (area.x0 / every).ceil() * every + row * every / 2.0;
            while x + size <= area.x1 {
                self.fill(Rect { x0: x, y0: y, x1: x + size, y1: y + size }, color);
                x += every;
            }
            row = 1.0 - row;
            y += every / 2.0;
        }
    }

    /// The shapes, the last on top.
    pub(super) fn into_shapes(self) -> Vec<Shape> {
        self.shapes
    }

    /// Draws the shapes on a backend.
    ///
    /// # Errors
    /// [`PlotError::Draw`] when the backend refuses one.
    pub(super) fn play<B: DrawingBackend>(
        &self,
        backend: &mut B,
        target: Target,
    ) -> Result<(), PlotError> {
        self.shapes.iter().try_for_each(|shape| play_one(shape, backend, target))
    }
}

/// How many dashes a stretch of x has that is one dash long on the level: for each point by the slope
/// there, 1 to 3. Slopes are those between the medians of such stretches, so that one sample that
/// sticks out changes no dash but its own.
fn dashes_in_period(points: &[Point], period: f64) -> Vec<f64> {
    let stretch = |point: &Point| (point.0 / period).floor();
    let stretches: Vec<&[Point]> =
        points.chunk_by(|a, b| stretch(a).total_cmp(&stretch(b)).is_eq()).collect();
    let middle = |points: &[Point]| -> Option<Point> {
        let mut ys: Vec<f64> = points.iter().map(|point| point.1).collect();
        ys.sort_by(f64::total_cmp);
        let x = f64::midpoint(points.first()?.0, points.last()?.0);
        Some((x, *ys.get(ys.len() / 2)?))
    };
    let middles: Vec<Option<Point>> = stretches.iter().map(|points| middle(points)).collect();
    let mut dashes = Vec::with_capacity(points.len());
    for (i, points) in stretches.iter().enumerate() {
        let (here, next) = (middles.get(i), middles.get(i + 1));
        let before = i.checked_sub(1).and_then(|i| middles.get(i));
        let (from, to) = if next.is_some() { (here, next) } else { (before, here) };
        let slope = match (from.copied().flatten(), to.copied().flatten()) {
            (Some(a), Some(b)) => (b.1 - a.1) / (b.0 - a.0),
            _ => 0.0,
        };
        let count = slope.hypot(1.0).round().clamp(1.0, 3.0);
        dashes.extend(points.iter().map(|_| count));
    }
    dashes
}

/// The dashes of a line from one place to another.
fn dashes(from: f64, to: f64, dash: Option<(f64, f64)>) -> Vec<(f64, f64)> {
    let Some((on, off)) = dash else {
        return vec![(from, to)];
    };
    let mut parts = Vec::new();
    let mut start = from;
    while start < to {
        parts.push((start, (start + on).min(to)));
        start += on + off;
    }
    parts
}

fn play_one<B: DrawingBackend>(
    shape: &Shape,
    backend: &mut B,
    target: Target,
) -> Result<(), PlotError> {
    let unit = |(x, y): Point| (whole(x * target.scale), whole(y * target.scale));
    let drawn = match shape {
        Shape::Fill { area, color } => {
            let (x0, y0) = unit((area.x0, area.y0));
            let (x1, y1) = unit((area.x1, area.y1));
            // A hairline is never lost to rounding.
            backend.draw_rect((x0, y0), (x1.max(x0 + 1), y1.max(y0 + 1)), color, true)
        }
        Shape::Polygon { points, color } => {
            backend.fill_polygon(points.iter().copied().map(unit), color)
        }
        Shape::Path { points, color, width } if target.brush => {
            for pair in points.windows(2) {
                if let [a, b] = pair {
                    brush(backend, unit(*a), unit(*b), *color, width * target.scale)?;
                }
            }
            return Ok(());
        }
        Shape::Path { points, color, width } => {
            let width = whole(width * target.scale).max(1).unsigned_abs();
            let style = ShapeStyle { color: color.to_rgba(), filled: false, stroke_width: width };
            backend.draw_path(points.iter().copied().map(unit), &style)
        }
        Shape::Text { at, text, kind, align } => {
            let em = kind.em * target.scale;
            let h_pos = match align {
                Align::Left => HPos::Left,
                Align::Center => HPos::Center,
                Align::Right => HPos::Right,
            };
            let style: TextStyle<'_> = font::desc(em, kind.bold)
                .into_text_style(&(0, 0))
                .with_color(kind.color)
                .with_anchor::<RGBColor>(Pos::new(h_pos, VPos::Top))
                .into_text_style(&(0, 0));
            let (x, y) = unit(*at);
            backend.draw_text(text, &style, (x, y - whole(target.baseline_em * em)))
        }
    };
    drawn.map_err(|error| PlotError::Draw(error.to_string()))
}

/// A thick straight line as thin ones side by side.
fn brush<B: DrawingBackend>(
    backend: &mut B,
    (x0, y0): (i32, i32),
    (x1, y1): (i32, i32),
    color: RGBColor,
    width: f64,
) -> Result<(), PlotError> {
    let (dx, dy) = (f64::from((x1 - x0).abs()), f64::from((y1 - y0).abs()));
    let longer = dx.max(dy);
    // Side by side along the axes, a slanted line would come out too thin.
    let slant = if longer > 0.0 { dx.hypot(dy) / longer } else { 1.0 };
    let count = whole(width * slant).max(1);
    for k in 0..count {
        let shift = k - count / 2;
        let (sx, sy) = if dx > dy { (0, shift) } else { (shift, 0) };
        backend
            .draw_line((x0 + sx, y0 + sy), (x1 + sx, y1 + sy), &color)
            .map_err(|error| PlotError::Draw(error.to_string()))?;
    }
    Ok(())
}

/// The nearest whole number of backend units.
fn whole(value: f64) -> i32 {
    // Saturates; pictures are far smaller.
    #[allow(clippy::cast_possible_truncation)]
    let whole = value.round() as i32;
    whole
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const PEN: Pen = Pen { color: RGBColor(0, 0, 0), width: 2.0, dash: Some((3.0, 4.0)) };

    /// All stretches that a dashed line draws.
    fn drawn(points: &[Point]) -> Vec<Vec<Point>> {
        let mut canvas = Canvas::default();
        canvas.curve(points, PEN);
        let points = |shape| match shape {
            Shape::Path { points, .. } => Some(points),
            _ => None,
        };
        canvas.into_shapes().into_iter().filter_map(points).collect()
    }

    proptest! {
        /// A sample that sticks out, up or down, is drawn to its tip wherever in a dash it falls.
        #[test]
        fn a_spike_never_falls_into_the_gap_of_a_dash(
            at in 1_usize..199,
            height in prop_oneof![6.0..200.0_f64, -200.0..-6.0_f64],
            start in 0.0..7.0_f64,
        ) {
            let y = |i: usize| if i == at { 300.0 - height } else { 300.0 };
            let points: Vec<Point> =
                (0..200).map(|i| (start + f64::from(u32::try_from(i).unwrap()), y(i))).collect();
            let tip = points[at];
            prop_assert!(drawn(&points).iter().flatten().any(|p| *p == tip), "{tip:?}");
        }
    }

    #[test]
    fn an_area_of_dots_is_never_blank() {
        for height in 1..40 {
            for top in 0..7 {
                let (y0, y1) = (f64::from(top), f64::from(top + height));
                let area = Rect { x0: 3.0, y0, x1: 60.0, y1 };
                let mut canvas = Canvas::default();
                canvas.dots(area, 6.0, 2.0, RGBColor(0, 0, 0));
                let dots = canvas.into_shapes().len();
                let rows = usize::try_from((height - 2) / 3 + 1).unwrap().max(1);
                assert!(dots >= rows * 9, "{height} at {top}: {dots}");
            }
        }
    }

    #[test]
    fn dashes_are_not_much_longer_on_a_slope_than_on_the_level() {
        for slope in [0.0, 0.5, 1.0, 2.0, 2.5, 2.9] {
            let points: Vec<Point> =
                (0..400).map(|i| (f64::from(i), 2000.0 - slope * f64::from(i))).collect();
            let parts = drawn(&points);
            let way = |a: &Point, b: &Point| (b.0 - a.0).hypot(b.1 - a.1);
            // Without the first and the last, which may be cut.
            let inner = &parts[1..parts.len() - 1];
            assert!(inner.len() > 40, "{slope}: {}", inner.len());
            for part in inner {
                let on = way(&part[0], &part[part.len() - 1]) / 3.0;
                assert!((0.6..1.5).contains(&on), "{slope}: a dash is {on} as long");
            }
            for pair in inner.windows(2) {
                let off = way(&pair[0][pair[0].len() - 1], &pair[1][0]) / 4.0;
                assert!((0.6..1.5).contains(&off), "{slope}: a gap is {off} as long");
            }
        }
    }
}
