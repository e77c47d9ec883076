//! The time axis under the panels.

use super::canvas::{Align, Canvas, Rect};
use super::font;
use super::scale::TimeScale;
use super::theme::Theme;
use super::time::{ClockChange, Tick};

/// Height of the axis.
pub(super) fn height(changes: &[ClockChange], theme: &Theme) -> f64 {
    theme.small().em * if changes.is_empty() { 2.9 } else { 4.1 }
}

/// Room for a label, with space beside it.
pub(super) fn label_width(theme: &Theme) -> f64 {
    let em = theme.small().em;
    font::width("Wed 28", em, false) + em * 0.9
}

/// Draws marks, labels and clock changes below `top`.
pub(super) fn draw(
    canvas: &mut Canvas,
    top: f64,
    time: TimeScale,
    ticks: &[Tick],
    changes: &[ClockChange],
    theme: &Theme,
) {
    let small = theme.small();
    let mut context_end = f64::NEG_INFINITY;
    for (i, tick) in ticks.iter().enumerate() {
        let x = time.x(tick.time_s);
        canvas.upright(x, top, top + 5.0 * theme.unit, theme.thin(theme.frame));
        let half = font::width(&tick.label, small.em, false) / 2.0;
        let centre = x.clamp(time.x0 + half - small.em, time.x1 - half + small.em);
        canvas.text((centre, top + small.em * 1.35), &tick.label, small, Align::Center);
        let is_new = i == 0 || ticks.get(i - 1).is_some_and(|last| last.context != tick.context);
        let width = font::width(&tick.context, small.em, true);
        // The first context gives way when the next one comes at once.
        let gives_way = i == 0
            && ticks
                .iter()
                .find(|other| other.context != tick.context)
                .is_some_and(|other| time.x(other.time_s) - x < width + small.em);
        if is_new && !gives_way && x - half > context_end {
            let x0 = (x - half).min(time.x1 - width);
            let kind = small.bold();
            canvas.text((x0, top + small.em * 2.6), &tick.context, kind, Align::Left);
            context_end = x0 + width + small.em;
        }
    }
    for change in changes {
        let x = time.x(change.time_s);
        let half = font::width(&change.label, small.em, false) / 2.0;
        let centre = x.clamp(time.x0 + half, time.x1 - half);
        canvas.text((centre, top + small.em * 3.8), &change.label, small, Align::Center);
        let mark = Rect { x0: x - 1.0, x1: x + 1.0, y0: top, y1: top + 9.0 * theme.unit };
        canvas.fill(mark, theme.ink);
    }
}
