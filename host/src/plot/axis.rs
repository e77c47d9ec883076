//! The time axis under the panels.

use super::canvas::{Align, Canvas, Rect, Type};
use super::font;
use super::scale::TimeScale;
use super::theme::Theme;
use super::time::{ClockChange, Tick};

/// Room for a label, with space beside it.
pub(super) fn label_width(theme: &Theme) -> f64 {
    let em = theme.small().em;
    font::width("Wed 28", em, false) + em * 0.9
}

/// The texts of the axis in rows, none over another.
pub(super) struct Labels {
    /// Left end, text, whether bold, and row.
    texts: Vec<(f64, String, bool, u32)>,
    ticks: Vec<f64>,
    changes: Vec<f64>,
}

impl Labels {
    pub(super) fn new(
        time: TimeScale,
        ticks: &[Tick],
        changes: &[ClockChange],
        theme: &Theme,
    ) -> Self {
        let small = theme.small();
        let mut texts = Vec::new();
        let mut label_end = f64::NEG_INFINITY;
        let mut contexts: Vec<(f64, f64)> = Vec::new();
        for (i, tick) in ticks.iter().enumerate() {
            let x = time.x(tick.time_s);
            let half = font::width(&tick.label, small.em, false) / 2.0;
            let centre = x.clamp(time.x0 + half - small.em, time.x1 - half + small.em * 0.5);
            if centre - half > label_end + small.em * 0.3 {
                texts.push((centre - half, tick.label.clone(), false, 0));
                label_end = centre + half;
            }
            let before = i.checked_sub(1).and_then(|i| ticks.get(i));
            if before.is_some_and(|before| before.context == tick.context) {
                continue;
            }
            let width = font::width(&tick.context, small.em, true);
            let x0 = (centre - half).min(time.x1 - width);
            // The first gives way when the next one comes at once.
            let next = ticks.iter().skip(i).find(|other| other.context != tick.context);
            let gives_way =
                i == 0 && next.is_some_and(|next| time.x(next.time_s) - x < width + 2.0 * small.em);
            let is_free = contexts.last().is_none_or(|(_, end)| x0 > end + small.em);
            if is_free && !gives_way {
                contexts.push((x0, x0 + width));
                texts.push((x0, tick.context.clone(), true, 1));
            }
        }
        for change in changes {
            let width = font::width(&change.label, small.em, false);
            let x0 = (time.x(change.time_s) - width / 2.0).clamp(time.x0, time.x1 - width);
            let overlaps =
                |(from, to): &(f64, f64)| x0 < to + small.em && *from < x0 + width + small.em;
            let row = if contexts.iter().any(overlaps) { 2 } else { 1 };
            texts.push((x0, change.label.clone(), false, row));
        }
        Self {
            texts,
            ticks: ticks.iter().map(|tick| time.x(tick.time_s)).collect(),
            changes: changes.iter().map(|change| time.x(change.time_s)).collect(),
        }
    }

    /// Height of the axis.
    pub(super) fn height(&self, theme: &Theme) -> f64 {
        let rows = self.texts.iter().map(|(.., row)| row + 1).max().unwrap_or(1);
        theme.small().em * (0.8 + 1.25 * f64::from(rows))
    }

    /// Draws marks and texts below `top`.
    pub(super) fn draw(&self, canvas: &mut Canvas, top: f64, time: TimeScale, theme: &Theme) {
        let unit = theme.unit;
        let small = theme.small();
        for x in &self.ticks {
            canvas.upright(*x, top, top + 5.0 * unit, theme.thin(theme.frame));
        }
        for x in &self.changes {
            let x = x.clamp(time.x0 + unit, time.x1 - unit);
            let mark = Rect { x0: x - unit, x1: x + unit, y0: top, y1: top + 9.0 * unit };
            canvas.fill(mark, theme.ink);
        }
        for (x0, text, bold, row) in &self.texts {
            let kind = Type { bold: *bold, ..small };
            let baseline = top + small.em * (1.35 + 1.25 * f64::from(*row));
            canvas.text((*x0, baseline), text, kind, Align::Left);
        }
    }
}
