//! A panel: lines over time, with a band to keep to, limits and gaps.

use super::canvas::{Align, Canvas, Point, Rect};
use super::font;
use super::scale::{TimeScale, ValueScale};
use super::series::{Sample, thin};
use super::theme::{Line, Theme};

/// A line of a panel.
pub(super) struct Series {
    pub(super) line: Line,
    pub(super) name: &'static str,
    /// Runs without a gap, in the unit shown.
    pub(super) runs: Vec<Vec<Sample>>,
    /// The last value, to read; or why there is none.
    pub(super) last: String,
}

/// A value not to pass.
pub(super) struct LimitLine {
    pub(super) value: f64,
    /// Such as "slab max 26.7 °C".
    pub(super) label: String,
}

/// The values to keep to.
pub(super) struct Band {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) label: String,
}

/// All that a panel shows.
pub(super) struct Panel {
    pub(super) title: String,
    pub(super) series: Vec<Series>,
    pub(super) band: Option<Band>,
    pub(super) limits: Vec<LimitLine>,
    /// Least and greatest value that the scale may reach.
    pub(super) bounds: (f64, f64),
    /// Shown on a scale of its own at the right.
    pub(super) second: Option<Series>,
}

/// What the panels share.
pub(super) struct Ground<'a> {
    pub(super) theme: &'a Theme,
    pub(super) time: TimeScale,
    pub(super) gaps: &'a [(i64, i64)],
    pub(super) midnights: &'a [i64],
    pub(super) tick_times: &'a [i64],
    /// Said in the middle when there is no sample.
    pub(super) nothing: Option<&'a str>,
}

impl Series {
    pub(super) fn is_empty(&self) -> bool {
        self.runs.is_empty()
    }

    fn extremes(&self) -> Option<(f64, f64)> {
        extremes(self.runs.iter().flatten().map(|sample| sample.1))
    }
}

fn extremes(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |range, v| match range {
        None => Some((v, v)),
        Some((low, high)) => Some((f64::min(low, v), f64::max(high, v))),
    })
}

impl Panel {
    /// Every line with its pen, the second scale's last.
    pub(super) fn entries(&self) -> impl Iterator<Item = &Series> {
        self.series.iter().chain(&self.second)
    }

    fn scale(&self, area: Rect, apart: f64) -> ValueScale {
        let band = self.band.iter().flat_map(|band| [band.low, band.high]);
        let limits = self.limits.iter().map(|limit| limit.value);
        let data = self.series.iter().filter_map(Series::extremes).flat_map(|(a, b)| [a, b]);
        let (low, high) = extremes(band.chain(limits).chain(data)).unwrap_or((0.0, 30.0));
        let (low, high) = (low.max(self.bounds.0), high.min(self.bounds.1));
        ValueScale::new(low, high.max(low), (area.y0, area.y1), apart)
    }

    /// Draws it.
    pub(super) fn draw(&self, canvas: &mut Canvas, area: Rect, ground: &Ground<'_>) {
        let theme = ground.theme;
        let small = theme.small();
        let scale = self.scale(area, small.em * 2.0);
        canvas.fill(area, theme.panel);
        if let Some(band) = &self.band {
            let (y0, y1) = (scale.y(band.high), scale.y(band.low));
            canvas.fill(Rect { y0, y1, ..area }, theme.band);
        }
        ground.draw_grid(canvas, area);
        for value in scale.marks() {
            let y = scale.y(value);
            canvas.level(area.x0, area.x1, y, theme.thin(theme.grid));
            let at = (area.x0 - 6.0 * theme.unit, y + small.em * 0.36);
            canvas.text(at, &scale.mark(value), small, Align::Right);
        }
        ground.draw_gaps(canvas, area);
        for limit in self.limits.iter().filter(|limit| scale.holds(limit.value)) {
            let pen = super::canvas::Pen {
                dash: Some((14.0 * theme.unit, 3.0 * theme.unit)),
                ..theme.thin(theme.limit)
            };
            canvas.level(area.x0, area.x1, scale.y(limit.value), pen);
        }
        if let Some(second) = &self.second {
            draw_second(canvas, area, ground, second, scale);
        }
        // The first named is the one that matters most: on top.
        for series in self.series.iter().rev() {
            ground.draw_series(canvas, series, scale);
        }
        canvas.frame(area, theme.frame, theme.thin(theme.frame).width);
        self.draw_labels(canvas, area, theme, scale);
        if let Some(nothing) = ground.nothing {
            draw_nothing(canvas, area, theme, nothing);
        }
    }

    fn draw_labels(&self, canvas: &mut Canvas, area: Rect, theme: &Theme, scale: ValueScale) {
        let small = theme.small().color(theme.limit);
        let pad = 6.0 * theme.unit;
        let mut taken: Vec<Rect> = Vec::new();
        let mut place = |canvas: &mut Canvas, text: &str, x: f64, y: f64, step: f64| {
            let text = font::fit(text, small.em, false, area.width() - 2.0 * pad);
            let width = font::width(&text, small.em, false);
            let mut x0 = if step < 0.0 { x - width } else { x };
            let box_at = |x0: f64| Rect {
                x0: x0 - 3.0 * theme.unit,
                y0: y - small.em * 0.9,
                x1: x0 + width + 3.0 * theme.unit,
                y1: y + small.em * 0.25,
            };
            let overlaps =
                |a: Rect, b: &Rect| a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1;
            while let Some(other) = taken.iter().find(|b| overlaps(box_at(x0), b)) {
                let next =
                    if step < 0.0 { other.x0 - width - 2.0 * pad } else { other.x1 + 2.0 * pad };
                if next < area.x0 + pad || next + width > area.x1 - pad {
                    break;
                }
                x0 = next;
            }
            canvas.shade(box_at(x0), theme.panel, 0.8);
            canvas.text((x0, y), &text, small, Align::Left);
            taken.push(box_at(x0));
        };
        // Above its line, or below when it would leave the panel.
        let beside = |y: f64| {
            let above = y - small.em * 0.35;
            if above - small.em < area.y0 { y + small.em * 1.05 } else { above }
        };
        if let Some(band) = &self.band {
            let (y0, y1) = (scale.y(band.high), scale.y(band.low));
            let y = if y1 - y0 > small.em * 1.5 { y0 + small.em * 1.1 } else { beside(y0) };
            place(canvas, &band.label, area.x0 + pad, y, 1.0);
        }
        for limit in self.limits.iter().filter(|limit| scale.holds(limit.value)) {
            place(canvas, &limit.label, area.x1 - pad, beside(scale.y(limit.value)), -1.0);
        }
    }
}

/// A line on its own scale: marks at the right, on the lines of the first scale.
fn draw_second(
    canvas: &mut Canvas,
    area: Rect,
    ground: &Ground<'_>,
    series: &Series,
    first: ValueScale,
) {
    let Some((least, greatest)) = series.extremes() else {
        return;
    };
    let theme = ground.theme;
    let intervals = f64::from(first.intervals());
    // In the lower part, clear of the line that it follows.
    let step = super::scale::round_step(((greatest - least) * 1.6).max(1.0) / intervals).max(0.5);
    let low = ((least / step).floor() * step).max(0.0);
    let mut scale = ValueScale { low, high: low + step * intervals, step, ..first };
    if greatest > scale.high {
        scale.step *= 2.0;
        scale.low = (least / scale.step).floor() * scale.step;
        scale.high = scale.low + scale.step * intervals;
    }
    ground.draw_series(canvas, series, scale);
    let small = theme.small().color(theme.pen(series.line).color);
    for value in scale.marks() {
        let at = (area.x1 + 6.0 * theme.unit, scale.y(value) + small.em * 0.36);
        canvas.text(at, &scale.mark(value), small, Align::Left);
    }
}

fn draw_nothing(canvas: &mut Canvas, area: Rect, theme: &Theme, nothing: &str) {
    let body = theme.body();
    let room = area.width() - 4.0 * body.em;
    let lines = font::wrap(nothing, body.em, false, room, 2);
    let widest = lines.iter().map(|l| font::width(l, body.em, false)).fold(0.0, f64::max);
    let (x, y) = area.middle();
    #[allow(clippy::cast_precision_loss)] // At most two.
    let height = lines.len() as f64 * body.em * 1.3;
    let back = Rect {
        x0: x - widest / 2.0 - body.em,
        x1: x + widest / 2.0 + body.em,
        y0: y - height / 2.0 - body.em * 0.4,
        y1: y + height / 2.0 + body.em * 0.4,
    };
    canvas.fill(back, theme.panel);
    canvas.frame(back, theme.frame, theme.thin(theme.frame).width);
    let mut baseline = y - height / 2.0 + body.em;
    for line in &lines {
        canvas.text((x, baseline), line, body, Align::Center);
        baseline += body.em * 1.3;
    }
}

impl Ground<'_> {
    /// Fine lines at midnight, stronger ones at the marks of the axis.
    pub(super) fn draw_grid(&self, canvas: &mut Canvas, area: Rect) {
        let theme = self.theme;
        for time_s in self.midnights.iter().chain(self.tick_times) {
            canvas.upright(self.time.x(*time_s), area.y0, area.y1, theme.thin(theme.grid));
        }
    }

    /// Hatches where the log has no samples.
    pub(super) fn draw_gaps(&self, canvas: &mut Canvas, area: Rect) {
        let theme = self.theme;
        for (from_s, to_s) in self.gaps {
            let area = Rect { x0: self.time.x(*from_s), x1: self.time.x(*to_s), ..area };
            canvas.shade(area, theme.gap, 0.12);
            canvas.hatch(area, 9.0 * theme.unit, theme.thin(theme.gap));
        }
    }

    fn draw_series(&self, canvas: &mut Canvas, series: &Series, scale: ValueScale) {
        let pen = self.theme.pen(series.line);
        for run in &series.runs {
            let kept = thin(run, |time_s| self.time.column(time_s));
            let points: Vec<Point> =
                kept.iter().map(|(t, v)| (self.time.x(*t), scale.y(*v))).collect();
            let width = points.last().map_or(0.0, |last| last.0)
                - points.first().map_or(0.0, |first| first.0);
            if width < 4.0 * self.theme.unit
                && let Some((x, y)) = points.first()
            {
                // Too short for a line to be seen.
                let half = (pen.width * 1.2).max(3.0 * self.theme.unit);
                let dot = vec![(*x - half, *y), (*x, *y - half), (*x + half, *y), (*x, *y + half)];
                canvas.polygon(dot, pen.color);
            }
            canvas.curve(&points, pen);
        }
    }
}
