//! A panel: lines over time, with a band to keep to, limits and gaps.

use super::canvas::{Align, Canvas, Point, Rect};
use super::label::Labels;
use super::notice::Notice;
use super::scale::{TimeScale, ValueScale};
use super::series::{Values, thin};
use super::theme::{Line, Theme};

/// A line of a panel.
pub(super) struct Series<'h> {
    pub(super) line: Line,
    pub(super) name: &'static str,
    /// In the unit shown.
    pub(super) values: Values<'h>,
    /// The last value, to read; or why there is none.
    pub(super) last: String,
}

/// A value not to pass.
pub(super) struct LimitLine {
    pub(super) value: f64,
    /// Such as "slab max 26.7 °C".
    pub(super) label: String,
    /// The lines that it holds for.
    pub(super) lines: Vec<Line>,
    /// Whether it is a maximum, and not a minimum.
    pub(super) is_max: bool,
}

/// The values to keep to.
pub(super) struct Band {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) label: String,
}

/// All that a panel shows.
pub(super) struct Panel<'h> {
    pub(super) title: String,
    pub(super) series: Vec<Series<'h>>,
    pub(super) band: Option<Band>,
    pub(super) limits: Vec<LimitLine>,
    /// Least and greatest value that the scale may reach.
    pub(super) bounds: (f64, f64),
    /// Share of the height, against the other panels.
    pub(super) share: f64,
}

/// What the panels share.
pub(super) struct Ground<'a> {
    pub(super) theme: &'a Theme,
    pub(super) time: TimeScale,
    pub(super) gaps: &'a [(i64, i64)],
    pub(super) midnights: &'a [i64],
    pub(super) tick_times: &'a [i64],
    /// Where upright lines of milestones stand.
    pub(super) milestones: &'a [f64],
}

impl Series<'_> {
    pub(super) fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    pub(super) fn extremes(&self) -> Option<(f64, f64)> {
        extremes(self.values.runs().flatten().map(|sample| sample.1))
    }
}

fn extremes(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |range, v| match range {
        None => Some((v, v)),
        Some((low, high)) => Some((f64::min(low, v), f64::max(high, v))),
    })
}

impl Panel<'_> {
    fn scale(&self, area: Rect, apart: f64) -> ValueScale {
        let band = self.band.iter().flat_map(|band| [band.low, band.high]);
        let limits = self.limits.iter().map(|limit| limit.value);
        let data = self.series.iter().filter_map(Series::extremes).flat_map(|(a, b)| [a, b]);
        let (low, high) = extremes(band.chain(limits).chain(data)).unwrap_or((0.0, 30.0));
        let (low, high) = (low.max(self.bounds.0), high.min(self.bounds.1));
        ValueScale::new(low, high.max(low), (area.y0, area.y1), apart)
    }

    /// Draws it, with its title inside when it has no other place.
    pub(super) fn draw(
        &self,
        canvas: &mut Canvas,
        area: Rect,
        ground: &Ground<'_>,
        title: Option<&str>,
        notice: Option<&Notice>,
    ) {
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
            // Marks at the ends stay beside the panel, clear of those of its neighbour.
            let baseline = (y + small.em * 0.36).clamp(area.y0 + small.em * 0.74, area.y1);
            let at = (area.x0 - 6.0 * theme.unit, baseline);
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
        // The first named is the one that matters most: on top.
        let mut points = Vec::new();
        for series in self.series.iter().rev() {
            points.extend(ground.draw_series(canvas, series, scale));
        }
        canvas.frame(area, theme.frame, theme.thin(theme.frame).width);
        self.draw_labels(
            canvas,
            Labels::new(area, points, ground, notice.map(|n| n.area)),
            scale,
            title,
        );
    }

    fn draw_labels(
        &self,
        canvas: &mut Canvas,
        mut labels: Labels<'_>,
        scale: ValueScale,
        title: Option<&str>,
    ) {
        let theme = labels.theme;
        let area = labels.area;
        let small = theme.small().color(theme.limit);
        // Baselines of text inside the top of a strip, above a line, and below it.
        let (inside, above, below) = (small.em * 1.15, -small.em * 0.35, small.em * 1.1);
        // A low panel has no room for more than its title.
        let is_low = area.height() < small.em * 4.5;
        if let Some(title) = title {
            let mut title = title.to_owned();
            let band = self.band.iter().map(|band| &band.label);
            for label in band.chain(self.limits.iter().map(|limit| &limit.label)) {
                if is_low {
                    title = format!("{title}; {label}");
                }
            }
            let kind = theme.small().bold().color(theme.ink);
            let low = area.y1 - small.em * 0.4;
            labels.place(canvas, &title, kind, &[area.y0 + inside, low], false);
            if is_low {
                return;
            }
        }
        if let Some(band) = &self.band {
            let (y0, y1) = (scale.y(band.high), scale.y(band.low));
            let places = [y0 + inside, y1 - small.em * 0.4, y0 + above, y1 + below];
            // A thin band is named outside of it.
            let places = places.get(if y1 - y0 > small.em * 1.5 { 0 } else { 2 }..);
            labels.place(canvas, &band.label, small, places.unwrap_or_default(), false);
        }
        for limit in self.limits.iter().filter(|limit| scale.holds(limit.value)) {
            let y = scale.y(limit.value);
            labels.place(canvas, &limit.label, small, &[y + above, y + below], true);
        }
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

    /// Draws a line and returns its points.
    fn draw_series(
        &self,
        canvas: &mut Canvas,
        series: &Series<'_>,
        scale: ValueScale,
    ) -> Vec<Point> {
        let pen = self.theme.pen(series.line);
        let mut all = Vec::new();
        for run in series.values.runs() {
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
            all.extend(points);
        }
        all
    }
}
