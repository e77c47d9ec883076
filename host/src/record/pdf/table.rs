//! Tables: columns as wide as they need, rows that stay together, the head on every page.

use super::flow::{Flow, INK, LEADING, QUIET, RULE, SHADE, height};
use super::font::Style;
use super::sheet::{Op, TagId};
use super::wrap;
use crate::assess::Outcome;
use crate::record::content::{Cell, Column, Row, Table};
use crate::view::{HOLD, hold};
use krilla::tagging::{TableHeaderScope, Tag};

const CELL: Style = Style { size: 8.6, bold: false, color: INK };
const STRONG: Style = Style { bold: true, ..CELL };
const HEAD: Style = Style { size: 8.2, bold: true, color: QUIET };
const NOTE: Style = Style { size: 8.2, bold: false, color: QUIET };
/// Between two columns.
const GAP: f64 = 11.0;
/// Above and below the text of a row.
const PAD: f64 = 2.8;
/// From the edge of the table to its text.
const INSET: f64 = 4.0;
/// Width of the mark of an outcome with the space behind it.
const MARK: f64 = 12.0;

/// A column with its place.
struct Placed {
    x: f64,
    width: f64,
    is_figures: bool,
}

/// Lays out a table.
pub(super) fn draw(flow: &mut Flow<'_>, table: &Table) {
    let columns = place(flow, table);
    let tag = flow.tag(Tag::Table);
    let head = flow.tags.add(Some(tag), Tag::THead);
    let head_row = flow.tags.add(Some(head), Tag::TR);
    let body = flow.tags.add(Some(tag), Tag::TBody);
    let first = table.rows.first().map_or(0.0, |row| tall(flow, row, &columns));
    flow.need(head_height(flow, table, &columns) + first.min(flow.paper.body() / 2.0));
    draw_head(flow, table, &columns, Some(head_row));
    let count = table.rows.len();
    for (i, row) in table.rows.iter().enumerate() {
        // The last row never stands alone on a page.
        let with = if i + 2 == count { table.rows.get(i + 1) } else { None };
        let follows = with.map_or(0.0, |next| tall(flow, next, &columns));
        draw_row(flow, table, row, &columns, (body, follows));
    }
    flow.y += 8.0;
}

/// Height of the head and the first row, which a heading has to stay with.
pub(super) fn least(flow: &Flow<'_>, table: &Table) -> f64 {
    let columns = place(flow, table);
    let first = table.rows.first().map_or(0.0, |row| tall(flow, row, &columns));
    (head_height(flow, table, &columns) + first).min(flow.paper.body() / 2.0)
}

/// Shares the width among the columns.
fn place(flow: &Flow<'_>, table: &Table) -> Vec<Placed> {
    let count = table.columns.len();
    #[allow(clippy::cast_precision_loss)] // A handful.
    let gaps = GAP * count.saturating_sub(1) as f64;
    let room = flow.paper.column() - 2.0 * INSET - gaps;
    let needs: Vec<(f64, f64)> = table
        .columns
        .iter()
        .enumerate()
        .map(|(i, column)| {
            need(flow, column, table.rows.iter().filter_map(move |r| r.cells.get(i)))
        })
        .collect();
    let least: f64 = needs.iter().map(|(least, _)| least).sum();
    let most: f64 = needs.iter().map(|(_, most)| most).sum();
    let wide = table.columns.iter().filter(|column| column.is_wide).count();
    let cap = cap(needs.iter().map(|(least, _)| *least).collect(), room);
    let mut x = flow.paper.margin + INSET;
    let mut places = Vec::new();
    for (column, (column_least, column_most)) in table.columns.iter().zip(&needs) {
        #[allow(clippy::cast_precision_loss)] // A handful.
        let width = if most <= room {
            // What is left goes to the wide ones.
            column_most + if column.is_wide { (room - most) / wide.max(1) as f64 } else { 0.0 }
        } else if least <= room {
            column_least + (column_most - column_least) * (room - least) / (most - least).max(1e-9)
        } else {
            column_least.min(cap)
        };
        places.push(Placed { x, width, is_figures: column.is_figures });
        x += width + GAP;
    }
    places
}

/// The width that the widest columns are cut to, so that all fit into the room.
fn cap(mut widths: Vec<f64>, room: f64) -> f64 {
    widths.sort_by(f64::total_cmp);
    let mut left = room;
    let mut count = widths.len();
    for width in widths {
        #[allow(clippy::cast_precision_loss)] // A handful.
        let share = left / count.max(1) as f64;
        if width > share {
            return share;
        }
        left -= width;
        count -= 1;
    }
    f64::INFINITY
}

/// The least width of a column without parted words, and the width without any break.
fn need<'c>(flow: &Flow<'_>, column: &Column, cells: impl Iterator<Item = &'c Cell>) -> (f64, f64) {
    // Longer words than this are parted.
    const WORD_MAX: f64 = 66.0;
    let words = |text: &str, style: Style| {
        let held = hold(&wrap::clean(text));
        let widths = held.split(' ').map(|word| {
            let width = flow.fonts.width(&word.replace(HOLD, " "), style);
            if word.contains(HOLD) { width } else { width.min(WORD_MAX) }
        });
        widths.fold(0.0, f64::max)
    };
    let head = words(column.head, HEAD);
    let mut need = (head, flow.fonts.width(column.head, HEAD));
    for cell in cells {
        let style = style(cell);
        let mark = if cell.outcome.is_some() { MARK } else { 0.0 };
        let most = flow.fonts.width(&wrap::clean(&cell.text), style) + mark;
        // What is short is not broken at all.
        let least = if most <= 60.0 { most } else { words(&cell.text, style) + mark };
        need = (need.0.max(least), need.1.max(most));
    }
    need
}

fn style(cell: &Cell) -> Style {
    match cell.outcome {
        Some(Outcome::NotMet | Outcome::NoEvidence) => STRONG,
        Some(Outcome::Met) | None => CELL,
    }
}

fn cell_lines(flow: &Flow<'_>, cell: &Cell, column: &Placed) -> Vec<String> {
    let mark = if cell.outcome.is_some() { MARK } else { 0.0 };
    if cell.text.is_empty() {
        return Vec::new();
    }
    // A hair, so that what was measured to fit does.
    wrap::lines(flow.fonts, &cell.text, style(cell), column.width - mark + 0.01)
}

fn note_lines(flow: &Flow<'_>, note: &str) -> Vec<String> {
    wrap::lines(flow.fonts, note, NOTE, flow.paper.column() - 2.0 * INSET)
}

/// Height of a row.
fn tall(flow: &Flow<'_>, row: &Row, columns: &[Placed]) -> f64 {
    let lines = row.cells.iter().zip(columns).map(|(cell, at)| cell_lines(flow, cell, at).len());
    let notes: usize = row.notes.iter().map(|note| note_lines(flow, note).len()).sum();
    height(lines.max().unwrap_or(0), CELL) + height(notes, NOTE) + 2.0 * PAD
}

fn head_lines(flow: &Flow<'_>, column: &Column, at: &Placed) -> Vec<String> {
    wrap::lines(flow.fonts, column.head, HEAD, at.width + 0.01)
}

fn head_height(flow: &Flow<'_>, table: &Table, columns: &[Placed]) -> f64 {
    let lines = table.columns.iter().zip(columns).map(|(c, at)| head_lines(flow, c, at).len());
    height(lines.max().unwrap_or(1), HEAD) + 2.0 * PAD
}

/// Draws the head: as part of the table, or repeated on another page, where it only adorns.
fn draw_head(flow: &mut Flow<'_>, table: &Table, columns: &[Placed], row: Option<TagId>) {
    let tall = head_height(flow, table, columns);
    let (x0, x1) = (flow.paper.margin, flow.paper.width - flow.paper.margin);
    let ground =
        Op::Fill { from: (x0, flow.y), to: (x1, flow.y + tall), color: SHADE, opacity: 1.0 };
    flow.put(ground, None);
    for (column, at) in table.columns.iter().zip(columns) {
        let lines = head_lines(flow, column, at);
        let tag = row.map(|row| flow.tags.add(Some(row), Tag::TH(TableHeaderScope::Column)));
        // In the last row of the head.
        let top = flow.y + tall - PAD - height(lines.len(), HEAD);
        put_lines(flow, at, 0.0, top, &lines, HEAD, tag);
    }
    flow.y += tall;
}

fn put_lines(
    flow: &mut Flow<'_>,
    at: &Placed,
    indent: f64,
    top: f64,
    lines: &[String],
    style: Style,
    tag: Option<TagId>,
) {
    for (i, line) in lines.iter().enumerate() {
        let width = flow.fonts.width(line, style);
        let x = if at.is_figures { at.x + at.width - width } else { at.x + indent };
        let y = top + height(i, style) + style.size;
        let text = if i + 1 < lines.len() { format!("{line} ") } else { line.clone() };
        flow.put(Op::Text { at: (x, y), text, style }, tag);
    }
}

fn draw_row(
    flow: &mut Flow<'_>,
    table: &Table,
    row: &Row,
    columns: &[Placed],
    (body, follows): (TagId, f64),
) {
    let all = (tall(flow, row, columns) + follows).min(flow.paper.body() / 2.0);
    let head = head_height(flow, table, columns);
    if all > flow.left() && flow.y > flow.paper.top + head + 1.0 {
        flow.next_page();
        draw_head(flow, table, columns, None);
    }
    let tag = flow.tags.add(Some(body), Tag::TR);
    flow.y += PAD;
    let mut cells: Vec<(&Placed, &Cell, std::vec::IntoIter<String>, TagId)> = Vec::new();
    for (cell, at) in row.cells.iter().zip(columns) {
        let td = flow.tags.add(Some(tag), Tag::TD);
        cells.push((at, cell, cell_lines(flow, cell, at).into_iter(), td));
    }
    for (at, cell, ..) in &cells {
        if let Some(outcome) = cell.outcome {
            draw_mark(flow, (at.x, flow.y + 1.6), outcome);
        }
    }
    // Usually in one go; a row higher than a page is broken between lines.
    loop {
        let fitting = (flow.left() / (CELL.size * LEADING)).floor().max(1.0);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // Dozens.
        let fitting = fitting as usize;
        let mut drawn = 0;
        for (at, cell, lines, td) in &mut cells {
            let part: Vec<String> = lines.by_ref().take(fitting).collect();
            let indent = if cell.outcome.is_some() { MARK } else { 0.0 };
            put_lines(flow, at, indent, flow.y, &part, style(cell), Some(*td));
            drawn = drawn.max(part.len());
        }
        flow.y += height(drawn, CELL);
        if cells.iter().all(|(_, _, lines, _)| lines.len() == 0) {
            break;
        }
        flow.next_page();
        draw_head(flow, table, columns, None);
        flow.y += PAD;
    }
    let notes: Vec<String> = row.notes.iter().flat_map(|note| note_lines(flow, note)).collect();
    if !notes.is_empty() {
        draw_notes(flow, table, &notes, columns, tag);
    }
    flow.y += PAD;
    flow.rule(flow.y, 0.5, RULE);
}

/// The lines below the cells.
fn draw_notes(
    flow: &mut Flow<'_>,
    table: &Table,
    notes: &[String],
    columns: &[Placed],
    row: TagId,
) {
    // They belong to the first cell, which says what the row is about.
    let td = flow.tags.add(Some(row), Tag::TD);
    for (i, line) in notes.iter().enumerate() {
        if NOTE.size * LEADING > flow.left() {
            flow.next_page();
            draw_head(flow, table, columns, None);
            flow.y += PAD;
        }
        let text = if i + 1 < notes.len() { format!("{line} ") } else { line.clone() };
        let at = (flow.paper.margin + INSET, flow.y + NOTE.size);
        flow.put(Op::Text { at, text, style: NOTE }, Some(td));
        flow.y += NOTE.size * LEADING;
    }
}

/// A square whose filling tells the outcome, as in the chart: plain, crossed by bars, or dotted.
fn draw_mark(flow: &mut Flow<'_>, (x, y): (f64, f64), outcome: Outcome) {
    const SIDE: f64 = 7.4;
    const MET: super::font::Color = (0xb9, 0xd0, 0xe2);
    const BROKEN: super::font::Color = (0xb8, 0x4a, 0x08);
    let frame = if outcome == Outcome::NotMet { BROKEN } else { INK };
    let square = vec![(x, y), (x + SIDE, y), (x + SIDE, y + SIDE), (x, y + SIDE), (x, y)];
    match outcome {
        Outcome::Met => flow.put(Op::Polygon { points: square.clone(), color: MET }, None),
        Outcome::NotMet => {
            for (a, b) in [
                ((x, y + SIDE / 2.0), (x + SIDE / 2.0, y)),
                ((x, y + SIDE), (x + SIDE, y)),
                ((x + SIDE / 2.0, y + SIDE), (x + SIDE, y + SIDE / 2.0)),
            ] {
                flow.put(Op::Line { points: vec![a, b], color: BROKEN, width: 1.2 }, None);
            }
        }
        Outcome::NoEvidence => {
            for (i, j) in [(0.25, 0.25), (0.75, 0.25), (0.5, 0.5), (0.25, 0.75), (0.75, 0.75)] {
                let (cx, cy) = (x + SIDE * i, y + SIDE * j);
                let (from, to) = ((cx - 0.6, cy - 0.6), (cx + 0.6, cy + 0.6));
                flow.put(Op::Fill { from, to, color: INK, opacity: 1.0 }, None);
            }
        }
    }
    flow.put(Op::Line { points: square, color: frame, width: 0.6 }, None);
}
