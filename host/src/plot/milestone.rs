//! Upright lines where something was done, each with its name above the panels.

use super::Chart;
use super::canvas::{Align, Canvas, Pen, Rect};
use super::font;
use super::scale::TimeScale;
use super::theme::Theme;

/// A line with its name, and the row in which the name stands.
pub(super) struct Milestone {
    x: f64,
    text: String,
    is_asked: bool,
    x0: f64,
    row: u32,
}

impl Milestone {
    /// Where its line stands.
    pub(super) fn x(&self) -> f64 {
        self.x
    }
}

/// What was done and when, and the time asked about: time, name, whether it is that. In order of time.
pub(super) fn all(chart: &Chart<'_>) -> Vec<(i64, &'static str, bool)> {
    let zone = chart.job.zone(&chart.zone.name);
    let done = zone.map_or(&chart.job.milestones, |zone| &zone.milestones);
    let heating = &chart.job.heating;
    let named = [
        (heating.run_in_start, "run-in starts"),
        (heating.run_in_end, "run-in ends"),
        (done.delivered, "wood delivered"),
        (done.barrier_rolled, "barrier rolled"),
        (done.glue_started, "gluing starts"),
        (done.glue_finished, "last board laid"),
        (done.sanded, "sanding"),
        (done.heat_on, "heat back up"),
    ];
    let named = named.into_iter().filter_map(|(time, text)| Some((time?.as_second(), text, false)));
    let asked = (chart.assessment.at_s, "time asked about", true);
    let in_view = |(t, ..): &(i64, _, _)| (chart.from_s..=chart.to_s).contains(t);
    let mut all: Vec<_> = named.chain([asked]).filter(in_view).collect();
    all.sort_by_key(|(time_s, ..)| *time_s);
    all
}

/// The milestones in view, each name in the lowest row in which there is room.
pub(super) fn place(chart: &Chart<'_>, time: TimeScale, theme: &Theme) -> Vec<Milestone> {
    let all = all(chart);

    let small = theme.small();
    let mut ends: Vec<f64> = Vec::new();
    let mut placed: Vec<Milestone> = Vec::new();
    // From the right, so that a name never stands on the line of a later one below it.
    let lines: Vec<f64> = all.iter().map(|(time_s, ..)| time.x(*time_s)).collect();
    for (time_s, text, is_asked) in all.into_iter().rev() {
        let x = time.x(time_s);
        let width = font::width(text, small.em, is_asked);
        let pad = 4.0 * theme.unit;
        let row_of = |x0: f64| {
            let fits = |start: &f64| x0 + width + 2.0 * pad <= *start;
            let row = ends.iter().position(fits).unwrap_or(ends.len());
            // Above the names of all lines that it would stand on.
            let on = |m: &&Milestone| m.x > x0 - pad && m.x < x0 + width;
            let over = placed.iter().filter(on).map(|m: &Milestone| m.row + 1).max().unwrap_or(0);
            row.max(usize::try_from(over).unwrap_or(usize::MAX).saturating_sub(1))
        };
        // To the right of its line, or ending at the edge.
        let mut x0 = (x + pad).min(time.x1 - width);
        let mut row = row_of(x0);
        // To the left when that saves a row and crosses no other line.
        let left = x - pad - width;
        let is_clear = left >= time.x0 && !lines.iter().any(|l| *l > left - pad && *l < x);
        let is_cut_off = x + pad > x0;
        if is_clear && (row_of(left) < row || is_cut_off && row_of(left) == row) {
            (x0, row) = (left, row_of(left));
        }
        let start = x.min(x0);
        match ends.get_mut(row) {
            Some(end) => *end = start,
            None => ends.resize(row + 1, start),
        }
        let row = u32::try_from(row).unwrap_or(u32::MAX);
        placed.push(Milestone { x, text: text.to_owned(), is_asked, x0, row });
    }
    placed
}

/// Height of the rows of names.
pub(super) fn height(milestones: &[Milestone], theme: &Theme) -> f64 {
    let rows = milestones.iter().map(|m| m.row + 1).max().unwrap_or(0);
    f64::from(rows) * row_height(theme)
}

fn row_height(theme: &Theme) -> f64 {
    theme.small().em * 1.25
}

/// Draws the names into `area`, the first row lowest, and the lines from there to `bottom`.
pub(super) fn draw(
    canvas: &mut Canvas,
    milestones: &[Milestone],
    area: Rect,
    stretches: &[(f64, f64)],
    theme: &Theme,
) {
    for milestone in milestones {
        let top = area.y1 - f64::from(milestone.row + 1) * row_height(theme);
        let pen = if milestone.is_asked {
            Pen { width: 2.0 * theme.unit, dash: None, ..theme.thin(theme.ink) }
        } else {
            let dash = Some((2.0 * theme.unit, 3.0 * theme.unit));
            Pen { dash, ..theme.thin(theme.milestone) }
        };
        canvas.upright(milestone.x, top + 2.0 * theme.unit, area.y1, pen);
        for (y0, y1) in stretches {
            canvas.upright(milestone.x, *y0, *y1, pen);
        }
    }
    // Names on top of all lines, each on a ground of its own.
    for milestone in milestones {
        let top = area.y1 - f64::from(milestone.row + 1) * row_height(theme);
        let kind = theme.small().color(theme.ink);
        let kind = if milestone.is_asked { kind.bold() } else { kind };
        let width = font::width(&milestone.text, kind.em, kind.bold);
        let pad = 2.0 * theme.unit;
        let (x0, x1) = (milestone.x0 - pad, milestone.x0 + width + pad);
        let ground = Rect { x0, x1, y0: top, y1: top + row_height(theme) };
        canvas.fill(ground, theme.paper);
        let at = (milestone.x0, top + theme.small().em * 0.95);
        canvas.text(at, &milestone.text, kind, Align::Left);
    }
}
