//! The page: head, verdict, sections, files.

use super::chart::{self, Colors};
use super::markup::{escape, line};
use super::{PageError, files, table};
use crate::assess::Assessment;
use crate::plot;
use crate::record::content::{Block, Content, Section, Verdict};
use crate::record::{Case, File};

/// Nothing may be loaded or run; style, pictures and fonts are in the page.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; \
                      base-uri 'none'; form-action 'none'";

const STYLE: &str = include_str!("style.css");

pub(super) fn draw(
    case: &Case,
    assessment: &Assessment,
    content: &Content,
    attached: &[File],
) -> Result<String, PageError> {
    // First, because the style has the colours of the charts.
    let mut colors = Colors::default();
    let mut body = String::new();
    draw_top(&mut body, content);
    draw_contents(&mut body, content);
    for (at, section) in content.sections.iter().enumerate() {
        draw_section(&mut body, at, section, |of| chart::draw(case, assessment, of, &mut colors))?;
    }
    files::draw(&mut body, attached);
    let mut out = String::new();
    out.push_str(&format!("<!doctype html>\n<html lang=\"{}\">\n<head>\n", content.language));
    out.push_str("<meta charset=\"utf-8\">\n");
    out.push_str(&format!("<meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\">\n"));
    out.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    out.push_str("<meta name=\"color-scheme\" content=\"light dark\">\n");
    out.push_str("<meta name=\"format-detection\" content=\"telephone=no\">\n");
    line(&mut out, "title", &content.title);
    let faces = plot::font_faces();
    out.push_str(&format!("<style>\n{faces}{STYLE}{}</style>\n</head>\n", colors.style()));
    out.push_str(&format!("<body>\n<main>\n{body}</main>\n"));
    line(&mut out, "footer", &content.footer);
    out.push_str("</body>\n</html>\n");
    Ok(out)
}

fn draw_top(out: &mut String, content: &Content) {
    let verdict = &content.verdict;
    out.push_str("<header>\n");
    line(out, "h1", &content.title);
    line(out, "p class=\"quiet\"", "For gluing down a wood floor");
    draw_box(out, verdict);
    for text in &verdict.lines {
        line(out, if verdict.is_go { "p" } else { "p class=\"strong\"" }, text);
    }
    if verdict.rooms.len() > 1 {
        let rooms = verdict
            .rooms
            .iter()
            .map(|room| (format!("{}: {}", room.name, room.word), room.text.clone()));
        draw_facts(out, &rooms.collect::<Vec<_>>());
    }
    out.push_str("</header>\n");
}

/// The word in its box, and beside it what was asked. In grey as well: go is a full box with a tick,
/// wait an empty one with two bars.
fn draw_box(out: &mut String, verdict: &Verdict) {
    let (class, path) =
        if verdict.is_go { ("go", "M4 17l9 9L29 6") } else { ("wait", "M11 5v22M21 5v22") };
    out.push_str(&format!(
        "<div class=\"verdict {class}\">\n<p class=\"word\"><svg viewBox=\"0 0 32 32\" \
         aria-hidden=\"true\"><path d=\"{path}\"/></svg>{}</p>\n<div>\n",
        escape(verdict.word)
    ));
    line(out, "p class=\"site\"", &verdict.site);
    line(out, "p class=\"step\"", &format!("{}: {}", verdict.word, verdict.step));
    let names: Vec<&str> = verdict.rooms.iter().map(|room| room.name.as_str()).collect();
    let noun = if names.len() == 1 { "Room" } else { "Rooms" };
    line(out, "p class=\"quiet\"", &format!("{noun}: {}", names.join(", ")));
    line(out, "p class=\"quiet\"", &verdict.at_local);
    line(out, "p class=\"quiet\"", &verdict.at_utc);
    out.push_str("</div>\n</div>\n");
}

/// Links to the sections, folded.
fn draw_contents(out: &mut String, content: &Content) {
    out.push_str("<nav aria-label=\"Contents\"><details><summary>Contents</summary>\n<ul>\n");
    for (at, section) in content.sections.iter().enumerate() {
        out.push_str("<li>");
        super::markup::element(out, &format!("a href=\"#part-{at}\""), &section.heading);
        out.push_str("</li>\n");
    }
    out.push_str("<li><a href=\"#files\">Save the files of this record</a></li>\n");
    out.push_str("</ul>\n</details></nav>\n");
}

fn draw_section(
    out: &mut String,
    at: usize,
    section: &Section,
    mut chart: impl FnMut(&crate::record::content::ChartOf) -> Result<String, PageError>,
) -> Result<(), PageError> {
    out.push_str(&format!("<section aria-labelledby=\"part-{at}\">\n"));
    line(out, &format!("h2 id=\"part-{at}\""), &section.heading);
    for block in &section.blocks {
        match block {
            Block::Heading(text) => line(out, "h3", text),
            Block::Text(text) => line(out, "p", text),
            Block::List(items) => {
                out.push_str("<ul>\n");
                items.iter().for_each(|item| line(out, "li", item));
                out.push_str("</ul>\n");
            }
            Block::Facts(facts) => draw_facts(out, facts),
            Block::Table(of) => table::draw(out, of),
            Block::Chart(of) => out.push_str(&chart(of)?),
        }
    }
    out.push_str("</section>\n");
    Ok(())
}

fn draw_facts(out: &mut String, facts: &[(String, String)]) {
    out.push_str("<dl>\n");
    for (name, text) in facts {
        out.push_str("<div>");
        super::markup::element(out, "dt", name);
        super::markup::element(out, "dd", text);
        out.push_str("</div>\n");
    }
    out.push_str("</dl>\n");
}
