//! The chart as text: one line of the log to a panel, and a strip for each requirement, on one time axis.
//!
//! Lines are told apart by place and name, outcomes by sign: nothing is said by colour alone.

mod grid;
mod panel;
mod signs;
mod strip;

use super::scale::TimeScale;
use super::time::{self, Tick};
use super::{Chart, data, header, milestone, picture};
use crate::view::wrap::{self, columns};
use anstyle::{AnsiColor, Style};
use signs::{ASCII, Signs, UTF8};

/// The screen on which a chart is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// Columns of letters, [`Sheet::COLUMNS_MIN`] to [`Sheet::COLUMNS_MAX`]; what is beyond counts as
    /// the nearest.
    pub columns: usize,
    /// Letters of ASCII alone, for terminals that show no others.
    pub ascii: bool,
}

impl Sheet {
    /// The narrowest chart, in columns.
    pub const COLUMNS_MIN: usize = 60;
    /// The widest chart, in columns.
    pub const COLUMNS_MAX: usize = 300;
}

/// What all parts of the text share.
struct Frame {
    signs: Signs,
    /// Columns in all.
    columns: usize,
    /// Columns left of the time axis.
    gutter: usize,
    /// Columns of the time axis.
    cells: usize,
    time: TimeScale,
    gaps: Vec<(i64, i64)>,
    /// Cells with a sign of their own where nothing else stands: milestones, the time asked about.
    uprights: Vec<(usize, char)>,
}

/// Right of the time axis: the longest outcome, and a space.
const RIGHT: usize = 12;

/// The chart as lines of text, with styles for the terminal in them: whoever writes it elsewhere takes
/// those out.
#[must_use]
pub fn terminal(chart: &Chart<'_>, sheet: Sheet) -> String {
    let frame = Frame::new(chart, sheet);
    let mut out = Vec::new();
    head(chart, &frame, &mut out);
    for panel in data::panels(chart, true) {
        for series in &panel.series {
            out.push(String::new());
            panel::write(&frame, &panel, series, &mut out);
        }
    }
    let (marks, names) = frame.milestones(chart);
    if !marks.is_empty() {
        out.push(format!("{}{marks}", " ".repeat(frame.gutter + 1)));
    }
    frame.axis(chart, &mut out);
    strip::write(chart, &frame, &mut out);
    out.push(String::new());
    for name in names {
        frame.wrapped(&name, 2, Style::new(), &mut out);
    }
    foot(chart, &frame, &mut out);
    let mut text = String::new();
    for line in out {
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// Where, what and the answer.
fn head(chart: &Chart<'_>, frame: &Frame, out: &mut Vec<String>) {
    let is_go = chart.zone.is_go();
    let colour = if is_go { AnsiColor::Green } else { AnsiColor::Yellow };
    let style = Style::new().bold().fg_color(Some(colour.into()));
    let word = if is_go { "GO" } else { "WAIT" };
    let place = frame.signs.text(&format!("{}: {}", chart.job.site.name, chart.zone.name));
    for (i, line) in wrap::lines(&place, frame.columns - 6, frame.columns - 6).iter().enumerate() {
        let word = if i == 0 { format!("{style}{word}{style:#}") } else { String::new() };
        let blanks = if i == 0 && is_go { "    " } else { "  " };
        let blanks = if i == 0 { blanks } else { "      " };
        out.push(format!("{word}{blanks}{line}"));
    }
    frame.wrapped(&header::question(chart), 0, Style::new(), out);
    if let Some(reason) = header::reason(chart) {
        frame.wrapped(&reason, 0, Style::new().bold(), out);
    }
    if let Some(todo) = header::first_open(chart).and_then(|j| j.finding.todo.as_deref()) {
        frame.wrapped(&format!("To do: {todo}."), 0, Style::new(), out);
    }
    if let Some(earliest) = header::earliest(chart) {
        frame.wrapped(&earliest, 0, Style::new(), out);
    }
    if let Some(nothing) = picture::nothing(chart) {
        frame.wrapped(&nothing, 0, Style::new().bold(), out);
    }
}

/// How to read it, and what is wrong with the log.
fn foot(chart: &Chart<'_>, frame: &Frame, out: &mut Vec<String>) {
    let signs = frame.signs;
    let mut how = format!("{} no log, {} limit", signs.gap, signs.limit);
    if !chart.zone.judged.is_empty() {
        how = format!("{how}, {}", strip::legend(chart, signs));
    }
    let clock = chart.job.site.time_zone.iana_name().unwrap_or("site");
    how = format!("{how}. Times: {clock}.");
    if let Some(every_s) = chart.course.and_then(super::Course::every_s) {
        how = format!(
            "{how} Strips: what the answer would have been, asked every {}.",
            header::length(every_s)
        );
    }
    frame.wrapped(&how, 0, Style::new().dimmed(), out);
    for note in &chart.zone.log_notes {
        frame.wrapped(&format!("Log: {note}."), 2, Style::new(), out);
    }
}

impl Frame {
    fn new(chart: &Chart<'_>, sheet: Sheet) -> Self {
        let columns = sheet.columns.clamp(Sheet::COLUMNS_MIN, Sheet::COLUMNS_MAX);
        // Wide enough for the ids of the requirements, or for their titles.
        let gutter = if columns >= 110 { 39 } else { 17 };
        let cells = columns - gutter - 1 - RIGHT;
        #[allow(clippy::cast_precision_loss)] // Some hundred.
        let x1 = cells as f64;
        let time = TimeScale { from_s: chart.from_s, to_s: chart.to_s, x0: 0.0, x1 };
        let mut frame = Self {
            signs: if sheet.ascii { ASCII } else { UTF8 },
            columns,
            gutter,
            cells,
            time,
            gaps: picture::gaps(chart),
            uprights: Vec::new(),
        };
        for (time_s, _, is_asked) in milestone::all(chart) {
            let sign = if is_asked { frame.signs.asked } else { frame.signs.milestone };
            frame.uprights.push((frame.cell(time_s), sign));
        }
        frame
    }

    fn is_wide(&self) -> bool {
        self.gutter > 20
    }

    /// The cell that a time falls into.
    fn cell(&self, time_s: i64) -> usize {
        usize::try_from(self.time.column(time_s)).unwrap_or(0).min(self.cells - 1)
    }

    /// Whether the log has a gap somewhere in a cell.
    fn is_gap(&self, cell: usize) -> bool {
        let holds = |(from_s, to_s): &(i64, i64)| {
            (self.cell(*from_s)..=self.cell(to_s.saturating_sub(1))).contains(&cell)
        };
        self.gaps.iter().any(holds)
    }

    fn upright(&self, cell: usize) -> Option<char> {
        // The time asked about is the last of those at one time.
        self.uprights.iter().rev().find(|(at, _)| *at == cell).map(|(_, sign)| *sign)
    }

    /// Writes a text in lines that fit, those after the first set in by so much.
    fn wrapped(&self, text: &str, inset: usize, style: Style, out: &mut Vec<String>) {
        let text = self.signs.text(&wrap::hold(text));
        let text = text.replace('\u{a0}', &wrap::HOLD.to_string());
        let room = self.columns - inset;
        for (i, line) in wrap::lines(&text, self.columns, room).into_iter().enumerate() {
            let blanks = " ".repeat(if i == 0 { 0 } else { inset });
            out.push(format!("{blanks}{style}{line}{style:#}"));
        }
    }

    /// Numbers at the milestones, under the panels, and what each of them is.
    fn milestones(&self, chart: &Chart<'_>) -> (String, Vec<String>) {
        let mut marks = vec![' '; self.cells];
        let mut names = Vec::new();
        for (i, (time_s, name, is_asked)) in milestone::all(chart).into_iter().enumerate() {
            let sign = if is_asked {
                '?'
            } else {
                u32::try_from(i + 1).ok().and_then(|i| char::from_digit(i, 36)).unwrap_or('*')
            };
            let cell = self.cell(time_s);
            // Beside the one before when both fall into one cell.
            let right = (cell..self.cells).find(|c| marks.get(*c) == Some(&' '));
            let free = right.or_else(|| (0..cell).rev().find(|c| marks.get(*c) == Some(&' ')));
            if let Some(mark) = free.and_then(|free| marks.get_mut(free)) {
                *mark = sign;
            }
            names.push(format!("{sign} {name} {}", header::local(chart, time_s)));
        }
        if names.is_empty() {
            return (String::new(), names);
        }
        (marks.into_iter().collect(), names)
    }

    /// The time axis: a line with marks, their labels, and the days, months or years these are in.
    fn axis(&self, chart: &Chart<'_>, out: &mut Vec<String>) {
        let ticks = time::ticks(self.time, &chart.job.site.time_zone, 9.0);
        let mut line = vec![self.signs.axis; self.cells];
        for tick in &ticks {
            if let Some(sign) = line.get_mut(self.cell(tick.time_s)) {
                *sign = self.signs.axis_mark;
            }
        }
        let line: String = line.into_iter().collect();
        let blanks = " ".repeat(self.gutter);
        out.push(format!("{blanks}{}{line}", self.signs.corner));
        out.push(format!("{blanks} {}", self.labels(&ticks, |tick| &tick.label)));
        let mut contexts = ticks;
        contexts.dedup_by(|later, earlier| later.context == earlier.context);
        if contexts.iter().any(|tick| !tick.context.is_empty()) {
            out.push(format!("{blanks} {}", self.labels(&contexts, |tick| &tick.context)));
        }
    }

    /// Labels that begin at their marks, where there is room; the last may begin before its mark.
    fn labels(&self, ticks: &[Tick], label: impl Fn(&Tick) -> &String) -> String {
        let mut line = String::new();
        for (i, tick) in ticks.iter().enumerate() {
            let text = label(tick);
            let room = self.cells + RIGHT;
            let cell = self.cell(tick.time_s).min(room.saturating_sub(columns(text)));
            let taken = columns(&line);
            let next = ticks.get(i + 1).map(|next| self.cell(next.time_s));
            // The first gives way when the next one comes at once.
            let gives_way = i == 0 && next.is_some_and(|next| cell + columns(text) >= next);
            if (taken == 0 || cell > taken) && !gives_way {
                line.push_str(&" ".repeat(cell - taken));
                line.push_str(text);
            }
        }
        line
    }
}
