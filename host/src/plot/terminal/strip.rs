//! A row for each requirement, on the time axis of the panels.

use super::signs::Signs;
use super::{Chart, Frame};
use crate::assess::{Judged, Outcome};
use crate::plot::course::Stretch;
use crate::plot::strip::word;
use crate::view::wrap;
use anstyle::Style;

/// Writes all rows, that of all requirements together first.
pub(super) fn write(chart: &Chart<'_>, frame: &Frame, out: &mut Vec<String>) {
    if let Some(course) = chart.course.filter(|_| !chart.zone.judged.is_empty()) {
        let is_go = chart.zone.is_go();
        let (word, outcome) = if is_go { ("go", Outcome::Met) } else { ("wait", Outcome::NotMet) };
        let cells = cells(frame, &course.together());
        push(frame, "all together", &cells, (word, outcome), out);
    }
    for (i, judged) in chart.zone.judged.iter().enumerate() {
        let stretches = chart.course.map_or_else(Vec::new, |course| course.of(i));
        let mut cells = cells(frame, &stretches);
        mark_broken(chart, frame, judged, &mut cells);
        let name = if frame.is_wide() { judged.requirement.title } else { judged.requirement.id };
        let outcome = judged.finding.outcome;
        push(frame, name, &cells, (word(outcome), outcome), out);
    }
}

/// What the signs of the strips mean, those that can stand in this chart.
pub(super) fn legend(chart: &Chart<'_>, signs: Signs) -> String {
    let mut parts = Vec::new();
    if chart.course.is_some() {
        for outcome in [Outcome::Met, Outcome::NotMet, Outcome::NoEvidence] {
            parts.push(format!("{} {}", signs.outcome(outcome), word(outcome)));
        }
    }
    parts.push(format!("{} limit broken", signs.broken));
    parts.join(", ")
}

fn push(
    frame: &Frame,
    name: &str,
    cells: &[Option<char>],
    (word, outcome): (&str, Outcome),
    out: &mut Vec<String>,
) {
    let name = wrap::cut(&frame.signs.text(name), frame.gutter);
    let bar: String = (0..)
        .zip(cells)
        .map(|(at, sign)| sign.or_else(|| frame.upright(at)).unwrap_or(' '))
        .collect();
    let style = if outcome == Outcome::Met { Style::new() } else { Style::new().bold() };
    let blanks = " ".repeat(frame.gutter.saturating_sub(wrap::columns(&name)));
    out.push(format!("{name}{blanks}{}{bar} {style}{word}{style:#}", frame.signs.edge));
}

/// How it stood in each cell: the worst of it, so that nothing short is lost.
fn cells(frame: &Frame, stretches: &[Stretch]) -> Vec<Option<char>> {
    let mut cells: Vec<Option<Outcome>> = vec![None; frame.cells];
    for wanted in [Outcome::Met, Outcome::NoEvidence, Outcome::NotMet] {
        for stretch in stretches.iter().filter(|stretch| stretch.outcome == wanted) {
            let last = frame.cell(stretch.to_s.saturating_sub(1));
            for cell in cells.iter_mut().take(last + 1).skip(frame.cell(stretch.from_s)) {
                *cell = Some(wanted);
            }
        }
    }
    cells.into_iter().map(|cell| cell.map(|outcome| frame.signs.outcome(outcome))).collect()
}

fn mark_broken(chart: &Chart<'_>, frame: &Frame, judged: &Judged, cells: &mut [Option<char>]) {
    let in_view = |from_s: i64, to_s: i64| to_s >= chart.from_s && from_s <= chart.to_s;
    for broken in judged.finding.broken.iter().filter(|b| in_view(b.from_s, b.to_s)) {
        let last = frame.cell(broken.to_s);
        for cell in cells.iter_mut().take(last + 1).skip(frame.cell(broken.from_s)) {
            *cell = Some(frame.signs.broken);
        }
    }
}
