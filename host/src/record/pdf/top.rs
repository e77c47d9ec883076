//! The head of the first page: the title, and the answer in a word, a shape and a colour.

use super::flow::{BODY, Flow, INK, QUIET, height};
use super::font::{Color, INSTEAD, Style};
use super::sheet::{Op, TagId};
use super::wrap;
use crate::record::content::{Content, Verdict};
use krilla::tagging::Tag;
use std::num::NonZeroU16;

const GO: Color = (0x1d, 0x5c, 0x9c);
const WAIT: Color = (0xa8, 0x46, 0x0a);
const PAPER: Color = (0xff, 0xff, 0xff);
const TITLE: Style = Style { size: 10.5, bold: false, color: QUIET };
const SITE: Style = Style { size: 17.0, bold: true, color: INK };
const STEP: Style = Style { size: 12.5, bold: true, color: INK };
const SMALL: Style = Style { size: 9.5, bold: false, color: QUIET };
/// Width of the box with the word.
const BOX: f64 = 132.0;
const PAD: f64 = 12.0;

/// Draws it.
pub(super) fn draw(flow: &mut Flow<'_>, content: &Content, some_letters_lack: bool) {
    let verdict = &content.verdict;
    let title = flow.tag(Tag::Hn(NonZeroU16::MIN, Some(wrap::clean(&content.title))));
    let x = flow.paper.margin;
    let lines = wrap::lines(
        flow.fonts,
        "Record of site conditions for gluing down a wood floor",
        TITLE,
        flow.paper.column(),
    );
    flow.y = flow.lines_at((x, flow.y), &lines, TITLE, title);
    flow.y += 8.0;
    draw_box(flow, verdict);
    for line in &verdict.lines {
        flow.text(line, Style { size: 10.5, bold: !verdict.is_go, ..BODY });
    }
    if verdict.rooms.len() > 1 {
        draw_rooms(flow, verdict);
    }
    if some_letters_lack {
        let note = format!(
            "{INSTEAD} stands for a letter that the fonts of this record do not have: they have \
             Latin, Greek and Cyrillic ones. The text under it can be copied, and the files in this \
             record have it."
        );
        flow.text(&note, SMALL);
    }
}

/// The word in its box, and beside it what was asked.
fn draw_box(flow: &mut Flow<'_>, verdict: &Verdict) {
    let x0 = flow.paper.margin;
    let x = x0 + BOX + 16.0;
    let room = flow.paper.width - flow.paper.margin - x - PAD;
    let step = format!("{}: {}", verdict.word, verdict.step);
    let rows = [
        (wrap::lines(flow.fonts, &verdict.site, SITE, room), SITE),
        (wrap::lines(flow.fonts, &step, STEP, room), STEP),
        (wrap::lines(flow.fonts, &rooms(verdict), SMALL, room), SMALL),
        (wrap::lines(flow.fonts, &verdict.at_local, SMALL, room), SMALL),
        (wrap::lines(flow.fonts, &verdict.at_utc, SMALL, room), SMALL),
    ];
    let text: f64 = rows.iter().map(|(lines, style)| height(lines.len(), *style)).sum();
    let tall = (text + 2.0 * PAD).clamp(104.0, flow.paper.body() * 0.6);
    let (top, bottom) = (flow.y, flow.y + tall);
    let x1 = flow.paper.width - flow.paper.margin;
    let color = if verdict.is_go { GO } else { WAIT };
    let fill = |from, to, color| Op::Fill { from, to, color, opacity: 1.0 };
    flow.put(fill((x0, top), (x1, bottom), color), None);
    flow.put(fill((x0 + BOX, top + 1.5), (x1 - 1.5, bottom - 1.5), PAPER), None);
    // In grey as well: go is a full box, wait an empty one.
    if !verdict.is_go {
        flow.put(fill((x0 + 5.0, top + 5.0), (x0 + BOX - 5.0, bottom - 5.0), PAPER), None);
    }
    let word = Style { size: 34.0, bold: true, color: if verdict.is_go { PAPER } else { WAIT } };
    let middle = f64::midpoint(top, bottom);
    let width = flow.fonts.width(verdict.word, word);
    let tag = flow.tag(Tag::P);
    let at = (x0 + (BOX - width) / 2.0, middle + 27.0);
    flow.put(Op::Text { at, text: verdict.word.to_owned(), style: word }, Some(tag));
    draw_sign(flow, (x0 + BOX / 2.0, middle - 20.0), verdict.is_go);
    let mut y = top + (tall - text).max(0.0) / 2.0;
    for (lines, style) in rows {
        let tag: TagId = flow.tag(Tag::P);
        y = flow.lines_at((x, y), &lines, style, tag);
    }
    flow.y = bottom + 12.0;
}

/// A tick for go, two bars for wait.
fn draw_sign(flow: &mut Flow<'_>, (x, y): (f64, f64), is_go: bool) {
    if is_go {
        let points = vec![(x - 15.0, y + 1.0), (x - 5.0, y + 11.0), (x + 16.0, y - 12.0)];
        flow.put(Op::Line { points, color: PAPER, width: 5.5 }, None);
        return;
    }
    for dx in [-10.0, 3.0] {
        let (from, to) = ((x + dx, y - 12.0), (x + dx + 7.0, y + 12.0));
        flow.put(Op::Fill { from, to, color: WAIT, opacity: 1.0 }, None);
    }
}

fn rooms(verdict: &Verdict) -> String {
    let names: Vec<&str> = verdict.rooms.iter().map(|room| room.name.as_str()).collect();
    let noun = if names.len() == 1 { "Room" } else { "Rooms" };
    format!("{noun}: {}", names.join(", "))
}

/// A line for each room.
fn draw_rooms(flow: &mut Flow<'_>, verdict: &Verdict) {
    let rooms: Vec<(String, String)> = verdict
        .rooms
        .iter()
        .map(|room| (format!("{}: {}", room.name, room.word), room.text.clone()))
        .collect();
    flow.y += 2.0;
    flow.facts(&rooms);
}
