//! A strip for each requirement: when its limit was broken, and how it stands.

use super::Chart;
use super::canvas::{Align, Canvas, Pen, Rect};
use super::course::Stretch;
use super::font;
use super::panel::Ground;
use super::theme::Theme;
use crate::assess::{Broken, Judged, Outcome};
use crate::quantity::Units;

/// How an outcome is written.
pub(super) fn word(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "met",
        Outcome::NotMet => "not met",
        Outcome::NoEvidence => "no evidence",
    }
}

/// Width that the outcome takes at the right of a strip.
pub(super) fn outcome_width(theme: &Theme) -> f64 {
    let em = theme.small().em;
    font::width(word(Outcome::NoEvidence), em, true) + 1.9 * em
}

/// Least and usual height of a row.
pub(super) fn heights(is_wide: bool, theme: &Theme) -> (f64, f64) {
    let em = theme.small().em;
    if is_wide { (em * 1.45, em * 1.7) } else { (em * 2.3, em * 2.6) }
}

/// Which requirements are shown when there is room for so many: those not met come first.
pub(super) fn choose(judged: &[Judged], room: usize) -> Vec<usize> {
    let of = |is_open: bool| {
        let all = judged.iter().enumerate();
        all.filter(move |(_, j)| (j.finding.outcome != Outcome::Met) == is_open).map(|(i, _)| i)
    };
    let mut shown: Vec<usize> = of(true).chain(of(false)).take(room).collect();
    shown.sort_unstable();
    shown
}

/// What is said of the requirements that are not shown.
pub(super) fn left_out(judged: &[Judged], shown: &[usize]) -> String {
    let hidden: Vec<&Judged> =
        judged.iter().enumerate().filter(|(i, _)| !shown.contains(i)).map(|(_, j)| j).collect();
    let parts: Vec<String> = [Outcome::NotMet, Outcome::NoEvidence, Outcome::Met]
        .into_iter()
        .filter_map(|outcome| {
            let titles: Vec<&str> = hidden
                .iter()
                .filter(|judged| judged.finding.outcome == outcome)
                .map(|judged| judged.requirement.title)
                .collect();
            let count = titles.len();
            let word = match outcome {
                Outcome::NoEvidence => "without evidence",
                other => word(other),
            };
            (count > 0).then(|| format!("{count} {word}: {}", titles.join(", ")))
        })
        .collect();
    if parts.is_empty() {
        return String::new();
    }
    format!("Without a strip for want of room: {}.", parts.join("; "))
}

/// A row: `bar` holds the strip, `title` and `outcome` the places of the two texts' baselines.
pub(super) struct Row {
    pub(super) bar: Rect,
    pub(super) title: Rect,
    /// Right end of the outcome and baseline.
    pub(super) outcome: (f64, f64),
    pub(super) outcome_from_left: bool,
}

/// What a strip shows.
pub(super) struct Entry<'a> {
    title: &'a str,
    outcome: Outcome,
    /// The outcome at the time asked about, in a word.
    word: &'static str,
    broken: &'a [Broken],
    /// How it stood over time; empty when that was not judged.
    course: Vec<Stretch>,
}

impl<'a> Entry<'a> {
    /// The strip of a requirement, by its place among those of the step.
    pub(super) fn of(chart: &Chart<'a>, requirement: usize) -> Option<Self> {
        let judged = chart.zone.judged.get(requirement)?;
        Some(Self {
            title: judged.requirement.title,
            outcome: judged.finding.outcome,
            word: word(judged.finding.outcome),
            broken: &judged.finding.broken,
            course: chart.course.map_or_else(Vec::new, |course| course.of(requirement)),
        })
    }

    /// The strip of all requirements together, when it is known how they stood.
    pub(super) fn together(chart: &Chart<'a>) -> Option<Self> {
        let course = chart.course.filter(|_| !chart.zone.judged.is_empty())?;
        let is_go = chart.zone.is_go();
        Some(Self {
            title: "all of them together",
            outcome: if is_go { Outcome::Met } else { Outcome::NotMet },
            word: if is_go { "go" } else { "wait" },
            broken: &[],
            course: course.together(),
        })
    }
}

/// Draws a strip.
pub(super) fn draw(
    canvas: &mut Canvas,
    row: &Row,
    entry: &Entry<'_>,
    ground: &Ground<'_>,
    units: Units,
) {
    let theme = ground.theme;
    let small = theme.small().color(theme.ink);
    let title = font::fit(entry.title, small.em, false, row.title.width());
    canvas.text((row.title.x0, row.title.y1), &title, small, Align::Left);

    canvas.fill(row.bar, theme.panel);
    ground.draw_grid(canvas, row.bar);
    if entry.course.is_empty() {
        ground.draw_gaps(canvas, row.bar);
    }
    for stretch in &entry.course {
        let (x0, x1) = (ground.time.x(stretch.from_s), ground.time.x(stretch.to_s));
        fill_outcome(canvas, Rect { x0, x1, ..row.bar }, stretch.outcome, theme);
    }
    draw_broken(canvas, row.bar, entry.broken, ground, units);
    canvas.frame(row.bar, theme.frame, theme.thin(theme.frame).width);

    let (x, y) = row.outcome;
    let is_open = entry.outcome != Outcome::Met;
    let kind = if is_open { small.bold() } else { small };
    let side = (small.em * 0.95).round();
    let width = font::width(entry.word, kind.em, kind.bold) + side + small.em * 0.4;
    let x0 = if row.outcome_from_left { x } else { x - width };
    let chip = Rect { x0, x1: x0 + side, y0: y - side * 0.9, y1: y + side * 0.1 };
    draw_chip(canvas, chip, entry.outcome, theme);
    canvas.text((x0 + side + small.em * 0.4, y), entry.word, kind, Align::Left);
}

/// Fills an area so that it tells an outcome: plain, crossed by bars, or dotted.
fn fill_outcome(canvas: &mut Canvas, area: Rect, outcome: Outcome, theme: &Theme) {
    let unit = theme.unit;
    match outcome {
        Outcome::Met => canvas.fill(area, theme.met),
        Outcome::NotMet => {
            canvas.fill(area, theme.paper);
            let pen = Pen { color: theme.broken, width: 2.5 * unit, dash: None };
            // The ends of the bars are as wide as they are.
            let inset = unit;
            let inside = Rect {
                x0: area.x0 + inset,
                y0: area.y0 + inset,
                x1: area.x1 - inset,
                y1: area.y1 - inset,
            };
            canvas.hatch(inside, 6.0 * unit, pen);
        }
        Outcome::NoEvidence => {
            canvas.fill(area, theme.paper);
            canvas.dots(area, 6.0 * unit, (2.0 * unit).round(), theme.ink);
        }
    }
}

/// A square that tells the outcome.
fn draw_chip(canvas: &mut Canvas, chip: Rect, outcome: Outcome, theme: &Theme) {
    fill_outcome(canvas, chip, outcome, theme);
    let ink = if outcome == Outcome::NotMet { theme.broken } else { theme.ink };
    canvas.frame(chip, ink, theme.unit.round().max(1.0));
}

/// The spans in which the limit was broken, with the worst value where there is room.
fn draw_broken(
    canvas: &mut Canvas,
    bar: Rect,
    broken: &[Broken],
    ground: &Ground<'_>,
    units: Units,
) {
    let theme = ground.theme;
    let time = ground.time;
    let small = theme.small().times(0.9).color(theme.ink);
    let inset = (2.0 * theme.unit).round();
    let (y0, y1) = (bar.y0 + inset, bar.y1 - inset);
    let in_view = |b: &&Broken| b.to_s >= time.from_s && b.from_s <= time.to_s;
    let spans: Vec<(Rect, &Broken)> = broken
        .iter()
        .filter(in_view)
        .map(|b| {
            let (x0, x1) = (time.x(b.from_s), time.x(b.to_s));
            // A single sample must be seen as well.
            let least = 3.0 * theme.unit;
            let x0 = x0.min(bar.x1 - least);
            (Rect { x0, x1: x1.max(x0 + least), y0, y1 }, b)
        })
        .collect();
    for (span, _) in &spans {
        canvas.fill(*span, theme.broken);
    }
    let has_height = bar.height() >= small.em * 1.1;
    for (i, (span, b)) in spans.iter().enumerate().filter(|_| has_height) {
        let text = b.limit.unit().show(b.worst, units);
        let width = font::width(&text, small.em, false);
        let mut x0 = span.x1 + 0.35 * small.em;
        // Not under the line of a milestone.
        if let Some(x) = ground.milestones.iter().find(|x| (x0 - 2.0..x0 + width).contains(*x)) {
            x0 = x + 0.35 * small.em;
        }
        let free_to = spans.get(i + 1).map_or(bar.x1, |(next, _)| next.x0);
        if x0 + width + 0.35 * small.em <= free_to {
            let back = Rect { x0: x0 - 2.0, x1: x0 + width + 2.0, y0, y1 };
            canvas.shade(back, theme.panel, 0.85);
            canvas.text((x0, bar.middle().1 + small.em * 0.36), &text, small, Align::Left);
        }
    }
    // Arrows at the edge for what lies outside of the picture.
    let size = bar.height() * 0.28;
    let y = bar.middle().1;
    if broken.iter().any(|b| b.from_s < time.from_s) {
        let x = bar.x0 + 2.0 * theme.unit;
        let tip = vec![(x, y), (x + size, y - size), (x + size, y + size)];
        canvas.polygon(tip, theme.ink);
    }
    if broken.iter().any(|b| b.to_s > time.to_s) {
        let x = bar.x1 - 2.0 * theme.unit;
        canvas.polygon(vec![(x, y), (x - size, y - size), (x - size, y + size)], theme.ink);
    }
}
