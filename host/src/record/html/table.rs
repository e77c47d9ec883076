//! Tables: rows on a wide screen, one card a row on a narrow one.
//!
//! Roles are written out, because a browser takes a table apart for its reader where the style does.

use super::markup::{element, escape, line};
use crate::assess::Outcome;
use crate::record::content::{Cell, Column, Row, Table};

pub(super) fn draw(out: &mut String, table: &Table) {
    out.push_str("<table role=\"table\">\n<thead role=\"rowgroup\"><tr role=\"row\">");
    for column in &table.columns {
        element(
            out,
            &format!("th role=\"columnheader\" scope=\"col\"{}", class(column)),
            column.head,
        );
    }
    out.push_str("</tr></thead>\n<tbody role=\"rowgroup\">\n");
    for row in &table.rows {
        draw_row(out, table, row);
    }
    out.push_str("</tbody>\n</table>\n");
}

fn class(column: &Column) -> &'static str {
    match (column.is_figures, column.is_wide) {
        (true, _) => " class=\"figures\"",
        (false, true) => " class=\"wide\"",
        (false, false) => "",
    }
}

fn draw_row(out: &mut String, table: &Table, row: &Row) {
    let lead = if row.notes.is_empty() { "" } else { " class=\"lead\"" };
    out.push_str(&format!("<tr role=\"row\"{lead}>"));
    let unit = table.columns.iter().zip(&row.cells).find(|(column, _)| column.is_unit);
    let unit = unit.map_or("", |(_, cell)| cell.text.as_str());
    for (i, (column, cell)) in table.columns.iter().zip(&row.cells).enumerate() {
        if i == 0 {
            // The first cell says what the row is about.
            out.push_str("<th role=\"rowheader\" scope=\"row\">");
            draw_cell(out, cell);
            out.push_str("</th>");
            continue;
        }
        // What has no text or stands elsewhere is not shown on a narrow screen.
        let label = if cell.text.is_empty() || column.is_unit { "" } else { column.head };
        let head = escape(label);
        out.push_str(&format!("<td role=\"cell\"{} data-head=\"{head}\">", class(column)));
        if column.is_figures && !unit.is_empty() && !cell.text.is_empty() {
            out.push_str(&format!("<span>{} ", escape(&cell.text)));
            element(out, "span class=\"unit\"", unit);
            out.push_str("</span>");
        } else {
            draw_cell(out, cell);
        }
        out.push_str("</td>");
    }
    out.push_str("</tr>\n");
    if row.notes.is_empty() {
        return;
    }
    let columns = table.columns.len();
    out.push_str(&format!(
        "<tr role=\"row\" class=\"notes\"><td role=\"cell\" colspan=\"{columns}\">\n"
    ));
    for note in &row.notes {
        line(out, "p", note);
    }
    out.push_str("</td></tr>\n");
}

fn draw_cell(out: &mut String, cell: &Cell) {
    let Some(outcome) = cell.outcome else {
        out.push_str(&escape(&cell.text));
        return;
    };
    // A tick, a cross, an empty ring: told apart without colour.
    let (class, path) = match outcome {
        Outcome::Met => ("met", "M2 7l3.5 3.5L12 3"),
        Outcome::NotMet => ("not-met", "M3 3l8 8M11 3l-8 8"),
        Outcome::NoEvidence => ("no-evidence", "M7 2a5 5 0 1 0 .01 0z"),
    };
    out.push_str(&format!(
        "<span class=\"outcome {class}\"><svg viewBox=\"0 0 14 14\" aria-hidden=\"true\">\
         <path d=\"{path}\"/></svg>{}</span>",
        escape(&cell.text)
    ));
}
