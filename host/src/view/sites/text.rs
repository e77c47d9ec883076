//! The table of `sites`.

use super::{Asked, Battery, Count, Row, Standing};
use crate::assess::caution::PRECEDENCE;
use crate::assess::show_age;
use crate::view::page::Page;
use crate::view::text::verdict_style;
use crate::view::wrap::{columns, cut};
use anstyle::{AnsiColor, Style};

/// Heads of the columns; the reason has a column only where there is room for it.
const HEADS: [&str; 6] = ["site", "room", "verdict", "earliest go", "last pull", "battery"];
const REASON: &str = "blocked by";
/// Names longer than this are cut, even where there is room.
const NAME_MAX: usize = 24;
/// And shorter than this are not cut any further.
const NAME_MIN: usize = 8;
/// A reason needs so many columns to stand beside the rest; with fewer it gets lines of its own.
const REASON_MIN: usize = 40;
/// Of an error, so much is shown: some name everything that would have been right.
const ERROR_MAX: usize = 140;
/// Columns between two columns.
const GAP: usize = 2;

/// The rows as text with ANSI styles, for so many columns.
#[must_use]
pub fn text(rows: &[Row], asked: Asked, width: usize) -> String {
    let mut page = Page::new(width);
    let cells: Vec<[String; 6]> = rows.iter().map(|row| cells(row, asked.now_s)).collect();
    let widths = widths(&cells, page.width);
    let taken = widths.iter().sum::<usize>() + GAP * widths.len();
    let beside = page.width.checked_sub(taken).filter(|left| *left >= REASON_MIN);
    head(&mut page, &widths, beside.is_some());
    for (row, cells) in rows.iter().zip(&cells) {
        line(&mut page, row, cells, &widths, beside);
    }
    page.gap();
    page.text(0, &summary(rows, asked));
    page.text(0, "Earliest go is on the clock of each site, and holds if conditions do.");
    page.text(0, PRECEDENCE.text);
    page.out
}

fn cells(row: &Row, now_s: i64) -> [String; 6] {
    let dash = || "-".to_owned();
    let earliest = match &row.standing {
        Standing::Error(_) => dash(),
        Standing::Judged(judged) if judged.is_go => "at once".to_owned(),
        Standing::Judged(judged) => judged.earliest_go_s.map_or_else(
            || "no date".to_owned(),
            |at_s| {
                // Without the day of the week, for want of room.
                let local = crate::view::local_time(at_s, &judged.time_zone);
                local.split_once(' ').map_or(local.clone(), |(_, time)| time.to_owned())
            },
        ),
    };
    let pull = match row.last_pull_s.map(|pull_s| now_s - pull_s) {
        Some(age_s @ 0..) => show_age(age_s),
        // By the clock of another computer.
        Some(_) => "later".to_owned(),
        None if matches!(row.standing, Standing::Error(_)) => dash(),
        None => "never".to_owned(),
    };
    let battery = row.battery.map_or_else(dash, |Battery { supply_mv, is_low, .. }| {
        let low = if is_low { " low" } else { "" };
        format!("{:.2} V{low}", f64::from(supply_mv) / 1000.0)
    });
    let room = row.room.clone().unwrap_or_else(dash);
    [row.name().to_owned(), room, row.verdict().to_owned(), earliest, pull, battery]
}

/// The widths of the columns: as wide as what is in them, names cut where there is no room.
fn widths(cells: &[[String; 6]], width: usize) -> [usize; 6] {
    let mut widths = HEADS.map(columns);
    for row in cells {
        for (widest, cell) in widths.iter_mut().zip(row) {
            *widest = columns(cell).max(*widest);
        }
    }
    let [site, room, rest @ ..] = widths;
    let (mut site, mut room) = (site.min(NAME_MAX), room.min(NAME_MAX));
    let room_for_names = width.saturating_sub(rest.iter().sum::<usize>() + GAP * (HEADS.len() - 1));
    while site + room > room_for_names && site.max(room) > NAME_MIN {
        if site > room { site -= 1 } else { room -= 1 }
    }
    let [verdict, earliest, pull, battery] = rest;
    [site, room, verdict, earliest, pull, battery]
}

fn head(page: &mut Page, widths: &[usize; 6], beside: bool) {
    let mut text = String::new();
    for (head, width) in HEADS.iter().zip(widths) {
        text.push_str(&padded(head, *width));
    }
    if beside {
        text.push_str(REASON);
    }
    page.heading(text.trim_end());
}

fn line(
    page: &mut Page,
    row: &Row,
    cells: &[String; 6],
    widths: &[usize; 6],
    beside: Option<usize>,
) {
    let mut text = String::new();
    for (i, (cell, width)) in cells.iter().zip(widths).enumerate() {
        let cell = padded(&cut(cell, *width), *width);
        if HEADS.get(i) == Some(&"verdict") {
            let style = style(row);
            let word = cell.trim_end();
            let pad = columns(&cell) - columns(word);
            text.push_str(&format!("{style}{word}{style:#}{:pad$}", ""));
        } else {
            text.push_str(&cell);
        }
    }
    let reason = reason(row);
    if let (Some(room), Some(reason)) = (beside, &reason) {
        text.push_str(&cut(reason, room));
    }
    page.out.push_str(text.trim_end());
    page.gap();
    if let (None, Some(reason)) = (beside, reason) {
        page.text(4, &reason);
    }
}

fn style(row: &Row) -> Style {
    match &row.standing {
        Standing::Judged(judged) => verdict_style(judged.is_go),
        Standing::Error(_) => Style::new().bold().fg_color(Some(AnsiColor::Red.into())),
    }
}

/// Why it is not a go. Of an error, the beginning of the first line; all of it is in the JSON.
fn reason(row: &Row) -> Option<String> {
    match &row.standing {
        Standing::Judged(judged) => judged.blocked_by.clone(),
        Standing::Error(why) => {
            let mut lines = why.lines();
            let first = cut(lines.next().unwrap_or_default(), ERROR_MAX);
            match lines.count() {
                0 => Some(first),
                more => Some(format!("{first} (and {more} more lines: --json)")),
            }
        }
    }
}

fn padded(cell: &str, width: usize) -> String {
    let pad = (width + GAP).saturating_sub(columns(cell));
    format!("{cell}{:pad$}", "")
}

/// `Glue down the floor: 4 rows of 3 jobs, 1 go, 2 wait, 1 error.`
fn summary(rows: &[Row], asked: Asked) -> String {
    let Count { go, wait, error } = Count::of(rows);
    let mut jobs: Vec<&str> = rows.iter().map(|row| row.job.as_str()).collect();
    jobs.sort_unstable();
    jobs.dedup();
    let many = |count: usize, word: &str| match count {
        1 => format!("1 {word}"),
        count => format!("{count} {word}s"),
    };
    format!(
        "May work start ({})? {} of {}: {go} go, {wait} wait, {}.",
        asked.step.words(),
        many(rows.len(), "row"),
        many(jobs.len(), "job"),
        many(error, "error"),
    )
}
