//! What the lines of a panel are: beside it on a wide picture, above it on a narrow one.

use super::canvas::{Align, Canvas, Rect};
use super::font;
use super::panel::{Panel, Series};
use super::theme::Theme;

const SAMPLE: f64 = 38.0;

/// The title of a panel whose one line needs no legend, to stand inside it.
pub(super) fn title_inside(panel: &Panel<'_>) -> Option<String> {
    match panel.series.as_slice() {
        [only] if only.is_empty() => Some(format!("{}: {}", panel.title, only.last)),
        [_] => Some(panel.title.clone()),
        _ => None,
    }
}

/// Height of the legend above a panel of this width.
pub(super) fn height_above(panel: &Panel<'_>, width: f64, theme: &Theme) -> f64 {
    if title_inside(panel).is_some() {
        return 0.0;
    }
    let rows = rows(panel, width, theme).len();
    #[allow(clippy::cast_precision_loss)] // A handful.
    let rows = rows as f64;
    rows * row_height(theme)
}

/// Draws it above a panel, in an area of [`height_above`].
pub(super) fn draw_above(canvas: &mut Canvas, area: Rect, panel: &Panel<'_>, theme: &Theme) {
    let (body, small) = (theme.body().bold(), theme.small());
    if title_inside(panel).is_some() {
        return;
    }
    let mut y = area.y0 + row_height(theme) * 0.72;
    for (i, row) in rows(panel, area.width(), theme).into_iter().enumerate() {
        let mut x = area.x0;
        if i == 0 {
            canvas.text((x, y), &panel.title, body, Align::Left);
            x += title_width(panel, theme);
        }
        for series in row {
            draw_sample(canvas, (x, y), series, theme);
            x += (SAMPLE + 6.0) * theme.unit;
            canvas.text((x, y), &label(series), small.color(theme.ink), Align::Left);
            x += font::width(&label(series), small.em, false) + 1.2 * small.em;
        }
        y += row_height(theme);
    }
}

/// Draws it in the gutter beside a panel, with the last reading of each line.
pub(super) fn draw_beside(
    canvas: &mut Canvas,
    area: Rect,
    panel: &Panel<'_>,
    is_first: bool,
    theme: &Theme,
) {
    let (body, small) = (theme.body().bold(), theme.small());
    let mut y = area.y0 + body.em;
    canvas.text((area.x0, y), &panel.title, body, Align::Left);
    if is_first {
        canvas.text((area.x1, y), "last in view", small.times(0.9), Align::Right);
    }
    y += body.em * 1.4;
    for series in &panel.series {
        draw_sample(canvas, (area.x0, y), series, theme);
        let x = area.x0 + (SAMPLE + 8.0) * theme.unit;
        canvas.text((x, y), series.name, small.color(theme.ink), Align::Left);
        canvas.text((area.x1, y), &series.last, small.color(theme.ink), Align::Right);
        y += body.em * 1.4;
    }
}

fn draw_sample(canvas: &mut Canvas, (x, y): (f64, f64), series: &Series<'_>, theme: &Theme) {
    let middle = y - theme.small().em * 0.33;
    canvas.level(x, x + SAMPLE * theme.unit, middle, theme.pen(series.line));
}

fn row_height(theme: &Theme) -> f64 {
    theme.body().em * 1.4
}

fn title_width(panel: &Panel<'_>, theme: &Theme) -> f64 {
    let body = theme.body();
    font::width(&panel.title, body.em, true) + body.em
}

fn label(series: &Series<'_>) -> String {
    if series.is_empty() {
        format!("{}: {}", series.name, series.last)
    } else {
        series.name.to_owned()
    }
}

/// The lines of the panel in rows that fit, after the title in the first row.
fn rows<'a>(panel: &'a Panel<'a>, width: f64, theme: &Theme) -> Vec<Vec<&'a Series<'a>>> {
    let em = theme.small().em;
    let mut rows = vec![Vec::new()];
    let mut x = title_width(panel, theme);
    for series in &panel.series {
        let wide = (SAMPLE + 6.0) * theme.unit + font::width(&label(series), em, false);
        if x + wide > width && x > 0.0 {
            rows.push(Vec::new());
            x = 0.0;
        }
        x += wide + 1.2 * em;
        if let Some(row) = rows.last_mut() {
            row.push(series);
        }
    }
    rows
}
