//! Where everything stands, and drawing it.

use super::canvas::{Align, Canvas, Rect};
use super::header::Header;
use super::panel::{Ground, Panel};
use super::scale::TimeScale;
use super::theme::Theme;
use super::{Chart, axis, data, font, header, legend, milestone, series, strip, time};

/// Draws the chart.
pub(super) fn draw(chart: &Chart<'_>) -> Canvas {
    let (width, height) = (f64::from(chart.style.width), f64::from(chart.style.height));
    // Text keeps its size down to a phone, and grows with pictures for print.
    let unit = (width / 1400.0).min(height / 1000.0).max(1.0);
    let theme = Theme::new(unit, chart.style.dark);
    let is_wide = width >= 1100.0 * unit;
    let mut canvas = Canvas::default();
    canvas.fill(Rect { x0: 0.0, y0: 0.0, x1: width, y1: height }, theme.paper);

    let margin = 16.0 * unit;
    let page = Rect { x0: margin, y0: margin, x1: width - margin, y1: height - margin };
    let small = theme.small();
    let ticks_width = font::width("−100", small.em, false) + 8.0 * unit;
    let gutter = if is_wide { 250.0 * unit } else { 0.0 };
    let right = if is_wide { strip::outcome_width(&theme) + 12.0 * unit } else { ticks_width };
    let scale = TimeScale {
        from_s: chart.from_s,
        to_s: chart.to_s,
        x0: page.x0 + gutter + ticks_width,
        x1: page.x1 - right,
    };

    let band = Header::new(chart, page.width(), &theme);
    let top = Rect { y1: page.y0 + band.height(), ..page };
    band.draw(&mut canvas, top, &theme);

    let zone = &chart.job.site.time_zone;
    let ticks = time::ticks(scale, zone, axis::label_width(&theme));
    let changes = time::clock_changes(scale, zone);
    let midnights = time::midnights(scale, zone);
    // Fine lines at midnight only where they do not run together.
    let is_dense = scale.pixels_per_s() * 86_400.0 < 6.0 * unit;
    let nothing = nothing(chart);
    let gaps = gaps(chart);
    let tick_times: Vec<i64> = ticks.iter().map(|tick| tick.time_s).collect();
    let ground = Ground {
        theme: &theme,
        time: scale,
        gaps: &gaps,
        midnights: if is_dense { &[] } else { &midnights },
        tick_times: &tick_times,
        nothing: nothing.as_deref(),
    };

    let notes = notes(chart, page.width(), &theme);
    let milestones = milestone::place(chart, scale, &theme);
    let panels = [data::temperatures(chart), data::humidity(chart)];
    let above = |panel: &Panel| {
        if is_wide { 12.0 * unit } else { legend::height_above(panel, page.width(), &theme) }
    };
    let [above_first, above_second] = [above(&panels[0]), above(&panels[1])];
    let names = milestone::height(&milestones, &theme) + 4.0 * unit;
    let axis_height = axis::height(&changes, &theme);
    #[allow(clippy::cast_precision_loss)] // A handful.
    let notes_height = notes.len() as f64 * small.em * 1.3;
    let fixed = top.height()
        + above_first
        + names
        + above_second
        + axis_height
        + notes_height
        + 22.0 * unit;
    let plan = plan_strips(chart, page.height() - fixed, is_wide, &theme);

    let mut y = top.y1 + 8.0 * unit;
    let mut areas = Vec::new();
    let split = [0.6, 0.4];
    for (i, (panel, share)) in panels.iter().zip(split).enumerate() {
        let legend_area = Rect { y0: y, y1: y + above(panel), ..page };
        if !is_wide {
            legend::draw_above(&mut canvas, legend_area, panel, &theme);
        }
        y = legend_area.y1 + if i == 0 { names } else { 0.0 };
        let area = Rect { x0: scale.x0, x1: scale.x1, y0: y, y1: y + plan.panels * share };
        if is_wide {
            let beside = Rect { x0: page.x0, x1: page.x0 + gutter - 14.0 * unit, ..area };
            legend::draw_beside(&mut canvas, beside, panel, &theme);
        }
        panel.draw(&mut canvas, area, &ground);
        areas.push(area);
        y = area.y1;
    }
    axis::draw(&mut canvas, y, scale, &ticks, &changes, &theme);
    y += axis_height;

    let mut stretches: Vec<(f64, f64)> = areas.iter().map(|area| (area.y0, area.y1)).collect();
    let units = chart.job.site.units;
    for judged in plan.shown.iter().filter_map(|i| chart.zone.judged.get(*i)) {
        let row = strip_row(y, plan.row, page, scale, is_wide, &theme);
        strip::draw(&mut canvas, &row, judged, &ground, units);
        stretches.push((row.bar.y0, row.bar.y1));
        y += plan.row;
    }
    let first = areas.first().map_or(0.0, |area| area.y0);
    let names_area = Rect { y0: first - names, y1: first, x0: scale.x0, x1: scale.x1 };
    milestone::draw(&mut canvas, &milestones, names_area, &stretches, &theme);

    if let Some(left_out) = plan.left_out {
        let text = font::fit(&left_out, small.em, false, page.width());
        canvas.text((page.x0, y + small.em), &text, small, Align::Left);
    }
    let mut baseline = page.y1 - notes_height + small.em;
    for note in &notes {
        canvas.text((page.x0, baseline), note, small, Align::Left);
        baseline += small.em * 1.3;
    }
    canvas
}

/// How the height left is shared.
struct Plan {
    /// Height of both panels.
    panels: f64,
    /// Height of a strip with its title.
    row: f64,
    shown: Vec<usize>,
    left_out: Option<String>,
}

fn plan_strips(chart: &Chart<'_>, room: f64, is_wide: bool, theme: &Theme) -> Plan {
    let (least, usual) = strip::heights(is_wide, theme);
    let panels_min = if is_wide { 300.0 } else { 250.0 } * theme.unit;
    let all = chart.zone.judged.len();
    let line = theme.small().em * 1.4;
    let mut count = all;
    let fits = |count: usize| {
        #[allow(clippy::cast_precision_loss)] // A few dozen.
        let strips = count as f64 * least;
        strips + if count < all { line } else { 0.0 } + panels_min <= room
    };
    while count > 0 && !fits(count) {
        count -= 1;
    }
    #[allow(clippy::cast_precision_loss)] // A few dozen.
    let rows = count as f64;
    let row = if count == 0 { 0.0 } else { (room * 0.45 / rows).clamp(least, usual) };
    let shown = strip::choose(&chart.zone.judged, count);
    let left_out = (count < all).then(|| strip::left_out(&chart.zone.judged, &shown));
    let extra = if left_out.is_some() { line } else { 0.0 };
    Plan { panels: (room - rows * row - extra).max(60.0 * theme.unit), row, shown, left_out }
}

fn strip_row(
    y: f64,
    row: f64,
    page: Rect,
    scale: TimeScale,
    is_wide: bool,
    theme: &Theme,
) -> strip::Row {
    let em = theme.small().em;
    let unit = theme.unit;
    if is_wide {
        let bar = Rect { x0: scale.x0, x1: scale.x1, y0: y + 2.0 * unit, y1: y + row - 2.0 * unit };
        let baseline = bar.middle().1 + em * 0.36;
        let title = Rect { x0: page.x0, x1: scale.x0 - 10.0 * unit, y0: y, y1: baseline };
        let outcome = (scale.x1 + 10.0 * unit, baseline);
        return strip::Row { bar, title, outcome, outcome_from_left: true };
    }
    let baseline = y + em * 0.95;
    let bar = Rect { x0: scale.x0, x1: scale.x1, y0: y + em * 1.25, y1: y + row - 4.0 * unit };
    let width = strip::outcome_width(theme);
    let title = Rect { x0: page.x0, x1: page.x1 - width - em, y0: y, y1: baseline };
    strip::Row { bar, title, outcome: (page.x1, baseline), outcome_from_left: false }
}

/// Gaps to hatch. What lies after both the log and the time asked about is not a gap yet.
fn gaps(chart: &Chart<'_>) -> Vec<(i64, i64)> {
    let last_s = chart.history.span().map_or(i64::MIN, |span| span.1);
    let end_s = chart.to_s.min(last_s.max(chart.assessment.at_s));
    series::gaps(chart.history, chart.from_s, end_s, data::gap_max_s(chart))
}

/// What to say when no sample is in view.
fn nothing(chart: &Chart<'_>) -> Option<String> {
    if !chart.history.range(chart.from_s, chart.to_s).is_empty() {
        return None;
    }
    Some(match chart.history.span() {
        None => "There is no dated log for this zone.".to_owned(),
        Some((first_s, last_s)) => format!(
            "No log in this span of time. The log runs from {} to {}.",
            header::local(chart, first_s),
            header::local(chart, last_s)
        ),
    })
}

/// Small print: how to read the chart, and what is wrong with the log.
fn notes(chart: &Chart<'_>, width: f64, theme: &Theme) -> Vec<String> {
    let em = theme.small().em;
    let clock = chart.job.site.time_zone.iana_name().unwrap_or("site");
    let gap = chart.limits.get(crate::limits::LimitId::GapMax).map_or_else(String::new, |limit| {
        format!(" of more than {}", limit.show(chart.job.site.units))
    });
    let how = format!(
        "Times: {clock}. Hatched: no log; lines stop at gaps{gap}. Dew point and wood EMC are computed \
         from air temperature and RH. Solid blocks: limit broken, with the worst value."
    );
    let mut lines = font::wrap(&how, em, false, width, 3);
    let log = &chart.zone.log_notes;
    if let Some(first) = log.first() {
        let more =
            if log.len() > 1 { format!(" (and {} more)", log.len() - 1) } else { String::new() };
        lines.extend(font::wrap(&format!("Log: {first}{more}."), em, false, width, 2));
    }
    lines
}
