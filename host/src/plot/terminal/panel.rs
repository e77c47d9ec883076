//! One line of the log over time.

use super::Frame;
use super::grid::Grid;
use crate::plot::panel::{Panel, Series};
use crate::plot::theme::Line;
use anstyle::{AnsiColor, Style};

/// Values from bottom to top.
struct Scale {
    low: f64,
    high: f64,
}

/// Writes a heading and the rows of a line.
pub(super) fn write(frame: &Frame, panel: &Panel<'_>, series: &Series<'_>, out: &mut Vec<String>) {
    let is_main = matches!(series.line, Line::Slab | Line::Air);
    let heading = heading(panel, series);
    frame.wrapped(&heading, 2, Style::new().bold(), out);
    let limits = limits(panel, series);
    let Some(scale) = scale(series, &limits) else {
        return;
    };
    let rows = if is_main { 4 } else { 3 };
    let mut grid = Grid::new(frame.cells, rows, frame.signs);
    for run in series.values.runs() {
        let place = |(time_s, value): (i64, f64)| {
            (dot_across(frame, &grid, time_s), scale.dot_down(&grid, value))
        };
        let points: Vec<(usize, usize)> = run.map(place).collect();
        grid.line(points.into_iter());
    }
    let limit_rows: Vec<usize> = limits
        .iter()
        .map(|(value, _)| scale.dot_down(&grid, *value) / frame.signs.dots_down)
        .collect();
    let style = style(series.line);
    for row in 0..rows {
        let value = match row {
            0 => Some(scale.high),
            _ if row + 1 == rows => Some(scale.low),
            _ => None,
        };
        let mut line = match value {
            Some(value) => format!("{:>1$}", number(frame, value), frame.gutter),
            None => " ".repeat(frame.gutter),
        };
        line.push(if value.is_some() { frame.signs.edge_mark } else { frame.signs.edge });
        let mut is_inked = false;
        for cell in 0..frame.cells {
            let inked = grid.sign(cell, row);
            // Styles are switched where they change only.
            if inked.is_some() != is_inked {
                let code = if is_inked {
                    style.render_reset().to_string()
                } else {
                    style.render().to_string()
                };
                line.push_str(&code);
                is_inked = inked.is_some();
            }
            line.push(inked.unwrap_or_else(|| {
                if frame.is_gap(cell) {
                    frame.signs.gap
                } else if let Some(sign) = frame.upright(cell) {
                    sign
                } else if limit_rows.contains(&row) {
                    frame.signs.limit
                } else {
                    ' '
                }
            }));
        }
        if is_inked {
            line.push_str(&style.render_reset().to_string());
        }
        // The limits of the row, where they fit; the heading has them all.
        let here = limits.iter().zip(&limit_rows).filter(|(_, at)| **at == row);
        let names: Vec<String> = here
            .map(|((value, is_max), _)| {
                format!("{} {}", if *is_max { "max" } else { "min" }, number(frame, *value))
            })
            .collect();
        if let [only] = names.as_slice() {
            line.push(' ');
            line.push_str(only);
        }
        out.push(line);
    }
}

/// Name, last value and limits of a line.
fn heading(panel: &Panel<'_>, series: &Series<'_>) -> String {
    let mut heading = series.name.to_owned();
    if series.is_empty() {
        return format!("{heading}: {}", series.last);
    }
    heading = format!("{heading}: last in view {}", series.last);
    if let Some(band) = panel.band.as_ref().filter(|_| holds_band(series.line)) {
        heading = format!("{heading}; {}", band.label);
    }
    for limit in panel.limits.iter().filter(|limit| limit.lines.contains(&series.line)) {
        heading = format!("{heading}; {}", limit.label);
    }
    heading
}

/// Whether the band of a panel is that of this line.
fn holds_band(line: Line) -> bool {
    matches!(line, Line::Slab | Line::Rh)
}

/// The limits of a line: value, and whether it is a maximum.
fn limits(panel: &Panel<'_>, series: &Series<'_>) -> Vec<(f64, bool)> {
    let band = panel.band.as_ref().filter(|_| holds_band(series.line));
    let band = band.into_iter().flat_map(|band| [(band.low, false), (band.high, true)]);
    let lines = panel.limits.iter().filter(|limit| limit.lines.contains(&series.line));
    band.chain(lines.map(|limit| (limit.value, limit.is_max))).collect()
}

/// A scale that holds the line and its limits; none for a line without values.
fn scale(series: &Series<'_>, limits: &[(f64, bool)]) -> Option<Scale> {
    let (mut low, mut high) = series.extremes()?;
    for (value, _) in limits {
        low = low.min(*value);
        high = high.max(*value);
    }
    if high - low < 1.0 {
        let middle = f64::midpoint(low, high);
        (low, high) = (middle - 0.5, middle + 0.5);
    }
    Some(Scale { low, high })
}

impl Scale {
    /// The dot of a value, counted from the top.
    fn dot_down(&self, grid: &Grid, value: f64) -> usize {
        #[allow(clippy::cast_precision_loss)] // A dozen.
        let last = (grid.dots_down() - 1) as f64;
        let share = (self.high - value) / (self.high - self.low);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // Clamped.
        let dot = (share * last).round().clamp(0.0, last) as usize;
        dot
    }
}

/// The dot of a time, counted from the left.
fn dot_across(frame: &Frame, grid: &Grid, time_s: i64) -> usize {
    #[allow(clippy::cast_precision_loss)] // One or two.
    let dots = frame.signs.dots_across as f64;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // Not negative.
    let dot = (frame.time.x(time_s) * dots).floor().max(0.0) as usize;
    dot.min(grid.dots_across() - 1)
}

fn number(frame: &Frame, value: f64) -> String {
    frame.signs.text(&format!("{value:.1}").replace('-', "\u{2212}"))
}

/// Colours that say no more than the names do.
fn style(line: Line) -> Style {
    let colour = match line {
        Line::Slab | Line::Rh => AnsiColor::Blue,
        Line::Air | Line::Emc => AnsiColor::Yellow,
        Line::Supply => AnsiColor::Magenta,
        Line::Dew => AnsiColor::Cyan,
    };
    Style::new().fg_color(Some(colour.into()))
}
