//! Where everything stands, and drawing it.

use super::canvas::{Align, Canvas, Rect};
use super::header::Header;
use super::notice::Notice;
use super::panel::{Ground, Panel};
use super::scale::TimeScale;
use super::theme::Theme;
use super::{Chart, axis, data, font, header, legend, milestone, series, strip, time};

/// Draws the chart.
pub(super) fn draw(chart: &Chart<'_>) -> Canvas {
    let (width, height) = (f64::from(chart.style.width), f64::from(chart.style.height));
    // Text keeps its size down to a phone, and grows with pictures for print.
    let unit = (width / 1400.0).min(height / 1000.0).max(1.0);
    let unit = unit * f64::from(chart.letters_pct) / 100.0;
    let theme = Theme::new(unit, chart.style.dark);
    let is_wide = width >= 1100.0 * unit;
    let mut canvas = Canvas::default();
    canvas.fill(Rect { x0: 0.0, y0: 0.0, x1: width, y1: height }, theme.paper);

    let margin = 16.0 * unit;
    let page = Rect { x0: margin, y0: margin, x1: width - margin, y1: height - margin };
    let small = theme.small();
    let ticks_width = font::width("−100", small.em, false) + 8.0 * unit;
    let gutter = if is_wide { 250.0 * unit } else { 0.0 };
    let right = if is_wide { strip::outcome_width(&theme) + 12.0 * unit } else { 0.0 };
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
    let gaps = gaps(chart);
    let tick_times: Vec<i64> = ticks.iter().map(|tick| tick.time_s).collect();
    let milestones = milestone::place(chart, scale, &theme);
    let lines: Vec<f64> = milestones.iter().map(milestone::Milestone::x).collect();
    let ground = Ground {
        theme: &theme,
        time: scale,
        gaps: &gaps,
        midnights: if is_dense { &[] } else { &midnights },
        tick_times: &tick_times,
        milestones: &lines,
    };

    let notes = notes(chart, page.width(), &theme);
    let panels = data::panels(chart, is_wide || height >= 1100.0 * unit);
    let between = 12.0 * unit;
    let above = |panel: &Panel<'_>| match is_wide {
        true => 0.0,
        false => legend::height_above(panel, page.width(), &theme),
    };
    let legends: f64 = panels.iter().map(|panel| above(panel) + between).sum();
    let names = milestone::height(&milestones, &theme) + 4.0 * unit;
    let axis = axis::Labels::new(scale, &ticks, &changes, &theme);
    let axis_height = axis.height(&theme);
    #[allow(clippy::cast_precision_loss)] // A handful.
    let notes_height = notes.len() as f64 * small.em * 1.3;
    let fixed = top.height() + legends + names + axis_height + notes_height + 16.0 * unit;
    let plan = plan_strips(chart, page.height() - fixed, page, is_wide, &theme);

    let mut y = top.y1;
    let mut areas: Vec<Rect> = Vec::new();
    let mut notice = None;
    let shares: f64 = panels.iter().map(|panel| panel.share).sum();
    for panel in &panels {
        let is_first = areas.is_empty();
        y += between;
        let legend_area = Rect { y0: y, y1: y + above(panel), ..page };
        y = legend_area.y1 + if is_first { names } else { 0.0 };
        let y1 = y + plan.panels * panel.share / shares;
        let area = Rect { x0: scale.x0, x1: scale.x1, y0: y, y1 };
        let mut title = None;
        if is_wide {
            let beside = Rect { x0: page.x0, x1: page.x0 + gutter - 14.0 * unit, ..area };
            legend::draw_beside(&mut canvas, beside, panel, is_first, &theme);
        } else {
            legend::draw_above(&mut canvas, legend_area, panel, &theme);
            title = legend::title_inside(panel);
        }
        if is_first {
            notice = nothing(chart).map(|text| Notice::new(area, &text, &theme));
        }
        let here = notice.as_ref().filter(|_| is_first);
        panel.draw(&mut canvas, area, &ground, title.as_deref(), here);
        areas.push(area);
        y = y1;
    }
    axis.draw(&mut canvas, y, scale, &theme);
    y += axis_height;

    let mut stretches: Vec<(f64, f64)> = areas.iter().map(|area| (area.y0, area.y1)).collect();
    let units = chart.job.site.units;
    let together = strip::Entry::together(chart);
    let each = plan.shown.iter().filter_map(|i| strip::Entry::of(chart, *i));
    for entry in together.into_iter().chain(each) {
        let row = strip_row(y, plan.row, page, scale, is_wide, &theme);
        strip::draw(&mut canvas, &row, &entry, &ground, units);
        stretches.push((row.bar.y0, row.bar.y1));
        y += plan.row;
    }
    let first = areas.first().map_or(0.0, |area| area.y0);
    let names_area = Rect { y0: first - names, y1: first, x0: scale.x0, x1: scale.x1 };
    milestone::draw(&mut canvas, &milestones, names_area, &stretches, &theme);

    if let Some(notice) = notice {
        notice.draw(&mut canvas, &theme);
    }
    for line in &plan.left_out {
        canvas.text((page.x0, y + small.em), line, small, Align::Left);
        y += small.em * 1.3;
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
    /// Lines about requirements without a strip.
    left_out: Vec<String>,
}

fn plan_strips(chart: &Chart<'_>, room: f64, page: Rect, is_wide: bool, theme: &Theme) -> Plan {
    let (least, usual) = strip::heights(is_wide, theme);
    let panels_min = match (nothing(chart).is_some(), is_wide) {
        (true, _) => 190.0,
        (false, true) => 360.0,
        (false, false) => 250.0,
    } * theme.unit;
    let judged = &chart.zone.judged;
    let em = theme.small().em;
    #[allow(clippy::cast_precision_loss)] // A few dozen.
    let times = |count: usize, height: f64| count as f64 * height;
    let together = usize::from(strip::Entry::together(chart).is_some());
    let mut count = judged.len();
    loop {
        let shown = strip::choose(judged, count);
        let left_out = strip::left_out(judged, &shown);
        let left_out = font::wrap(&left_out, em, false, page.width(), 4);
        let extra = times(left_out.len(), em * 1.3);
        if count == 0 || times(count + together, least) + extra + panels_min <= room {
            let rows = count + together;
            let row = (room * 0.45 / times(rows.max(1), 1.0)).clamp(least, usual);
            let panels = (room - times(rows, row) - extra).max(60.0 * theme.unit);
            return Plan { panels, row, shown, left_out };
        }
        count -= 1;
    }
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
pub(super) fn gaps(chart: &Chart<'_>) -> Vec<(i64, i64)> {
    let last_s = chart.history.span().map_or(i64::MIN, |span| span.1);
    let until_s = last_s.max(chart.assessment.at_s);
    series::gaps(chart.history, (chart.from_s, chart.to_s), until_s, data::gap_max_s(chart))
}

/// What to say when no sample is in view.
pub(super) fn nothing(chart: &Chart<'_>) -> Option<String> {
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
    let computed = "Dew point and wood EMC are computed from air temperature and RH.";
    let how = match chart.course.and_then(super::Course::every_s) {
        None => format!(
            "Times: {clock}. Hatched: no log; lines stop at gaps{gap}. {computed} Solid blocks: limit \
             broken, with the worst value."
        ),
        Some(every_s) => format!(
            "Times: {clock}. Grey hatching: no log; lines stop at gaps{gap}. {computed} Strips: what \
             the answer would have been, asked every {} (plain: met, barred: not met, dotted: no \
             evidence). Solid blocks: limit broken, with the worst value.",
            header::length(every_s)
        ),
    };
    let mut lines = font::wrap(&how, em, false, width, 6);
    let log = &chart.zone.log_notes;
    if let Some(first) = log.first() {
        let more =
            if log.len() > 1 { format!(" (and {} more)", log.len() - 1) } else { String::new() };
        lines.extend(font::wrap(&format!("Log: {first}{more}."), em, false, width, 2));
    }
    lines
}
