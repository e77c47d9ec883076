//! What is met, one line each: title, observed value, limit, margin and unit in columns.

use super::measure::{Scale, bound_word, in_both};
use super::page::Page;
use super::wrap::{columns, cut, hold, lines};
use crate::assess::{Figure, Judged};
use crate::limits::Bound;
use crate::quantity::Units;

/// Column heads.
const FOUND: &str = "found";
const LIMIT: &str = "limit";
const SPARE: &str = "spare";
/// With less room than this for a title the table gives way to sentences.
const TITLE_MIN: usize = 14;
/// Said of limits that bear a star.
const TIGHTENED: &str = "  * with probe uncertainty";

struct Row<'a> {
    title: &'a str,
    figure: Option<Cells>,
    because: String,
}

/// The figures of a requirement as the columns of a table show them.
pub(crate) struct Cells {
    pub(crate) found: String,
    bound: Bound,
    limit: String,
    pub(crate) spare: String,
    pub(crate) unit: String,
    pub(crate) is_tightened: bool,
}

impl Cells {
    pub(crate) fn of(figure: &Figure, judged: &Judged, units: Units) -> Self {
        let scale = Scale::of(figure, judged.finding.outcome, units);
        Self {
            found: scale.cell(figure.observed, false),
            bound: figure.limit.bound(),
            limit: scale.cell(figure.bound, false),
            spare: scale.cell(figure.margin, true),
            unit: scale.unit_cell(),
            is_tightened: figure.guard > 0.0,
        }
    }

    /// `min 64.4/18.0`, or `≥ 64.4/18.0` where there is no room.
    pub(crate) fn limit(&self, short: bool) -> String {
        let word = match (short, self.bound) {
            (false, bound) => bound_word(bound),
            (true, Bound::AtMost) => "≤",
            (true, _) => "≥",
        };
        format!("{word} {}{}", self.limit, if self.is_tightened { "*" } else { " " })
    }
}

/// Widths of the columns.
struct Widths {
    /// Title and observed value share one, because long titles go with short values.
    found: usize,
    limit: usize,
    spare: usize,
    unit: usize,
}

impl Widths {
    fn of(rows: &[Row<'_>], heading: &str, short: bool) -> Self {
        let cells = || rows.iter().filter_map(|row| row.figure.as_ref());
        let widest = |of: &dyn Fn(&Cells) -> usize| cells().map(of).max().unwrap_or(0);
        let found = rows
            .iter()
            .filter_map(|row| Some(3 + columns(row.title) + columns(&row.figure.as_ref()?.found)));
        let heads = columns(heading) + 1 + columns(FOUND);
        Self {
            found: found.max().unwrap_or(0).max(heads),
            limit: widest(&|c| columns(&c.limit(short))).max(columns(LIMIT) + 1),
            spare: widest(&|c| columns(&c.spare)).max(columns(SPARE)),
            unit: widest(&|c| columns(&c.unit)),
        }
    }

    fn all(&self) -> usize {
        self.found + 1 + self.limit + 1 + self.spare + 1 + self.unit
    }
}

/// Writes the table; `heading` stands over the titles.
pub(super) fn write(page: &mut Page, heading: &str, judged: &[&Judged], units: Units) {
    let rows: Vec<Row<'_>> = judged
        .iter()
        .map(|judged| Row {
            title: judged.requirement.title,
            figure: judged.finding.figure.as_ref().map(|f| Cells::of(f, judged, units)),
            because: in_both(&judged.finding.because, units),
        })
        .collect();
    let mut short = false;
    let mut widths = Widths::of(&rows, heading, short);
    if widths.all() > page.width {
        short = true;
        widths = Widths::of(&rows, heading, short);
    }
    // Then titles are cut: a requirement has one line.
    let over = widths.all().saturating_sub(page.width);
    widths.found = widths.found.saturating_sub(over);
    let is_cramped = |row: &Row<'_>| {
        let room = |f: &Cells| widths.found.saturating_sub(columns(&f.found) + 3);
        row.figure.as_ref().is_some_and(|f| room(f) < TITLE_MIN.min(columns(row.title)))
    };
    if rows.iter().any(is_cramped) {
        return sentences(page, heading, judged, units);
    }
    let starred = rows.iter().any(|row| row.figure.as_ref().is_some_and(|f| f.is_tightened));
    head(page, heading, &widths, starred);
    for row in &rows {
        line(page, row, &widths, short);
    }
}

/// The same on a narrow screen, in more than one line each.
fn sentences(page: &mut Page, heading: &str, judged: &[&Judged], units: Units) {
    page.heading(heading);
    for judged in judged {
        let title = judged.requirement.title;
        let text = match &judged.finding.figure {
            Some(figure) => Scale::of(figure, judged.finding.outcome, units).sentence(figure),
            None => in_both(&judged.finding.because, units),
        };
        page.labelled("  ", 4, &format!("{title}: {text}"));
    }
}

fn head(page: &mut Page, heading: &str, widths: &Widths, starred: bool) {
    let room = widths.found.saturating_sub(columns(heading) + columns(FOUND) + 1);
    let star = if starred && columns(TIGHTENED) <= room { TIGHTENED } else { "" };
    let pad = widths.found.saturating_sub(columns(heading) + columns(star) + columns(FOUND));
    let text = format!(
        "{star}{:pad$}{FOUND} {:>limit$}{:>spare$}",
        "",
        format!("{LIMIT} "),
        SPARE,
        limit = widths.limit,
        spare = widths.spare + 1
    );
    let bold = anstyle::Style::new().bold();
    page.out.push_str(&format!("{bold}{heading}{bold:#}"));
    page.out.push_str(text.trim_end());
    page.gap();
    if starred && star.is_empty() {
        page.text(2, TIGHTENED.trim());
    }
}

fn line(page: &mut Page, row: &Row<'_>, widths: &Widths, short: bool) {
    let Some(cells) = &row.figure else {
        let text = hold(&format!("{}: {}", row.title, row.because));
        let mut lines = lines(&text, page.width - 3, page.width).into_iter();
        let first = lines.next().unwrap_or_default();
        let more = if lines.next().is_some() { "…" } else { "" };
        page.out.push_str(&format!("  {first}{more}"));
        return page.gap();
    };
    let found = columns(&cells.found);
    let title = cut(row.title, widths.found.saturating_sub(found + 3));
    let pad = widths.found.saturating_sub(2 + columns(&title) + found);
    let text = format!(
        "  {title}{:pad$}{} {:>limit$} {:>spare$} {}",
        "",
        cells.found,
        cells.limit(short),
        cells.spare,
        cells.unit,
        limit = widths.limit,
        spare = widths.spare
    );
    page.out.push_str(text.trim_end());
    page.gap();
}
