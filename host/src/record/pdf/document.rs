//! The file: pages in order, and around them attachments, dates, title and language.

use super::flow::{BODY, Entry, Flow, Paper, height};
use super::font::{Fonts, Style};
use super::{DrawError, chart, paint, sheet, table, top, wrap};
use crate::assess::Assessment;
use crate::quantity::Units;
use crate::record::content::{Block, Content, Section};
use crate::record::{Case, Evidence, File, files};
use krilla::configure::{Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::embed::{AssociationKind, EmbeddedFile, MimeType};
use krilla::geom::Point;
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::tagging::Tag;
use krilla::{Document, SerializeSettings};

/// Draws all of it.
pub(super) fn draw(
    case: &Case,
    assessment: &Assessment,
    evidence: &Evidence,
    files: &[File],
) -> Result<Vec<u8>, DrawError> {
    let content = Content::of(case, assessment, evidence, files);
    let fonts = Fonts::new()?;
    let mut flow = lay_out(&fonts, &content, (case, assessment), false)?;
    if fonts.lacked() {
        flow = lay_out(&fonts, &content, (case, assessment), true)?;
    }
    feet(&mut flow, &content.footer);
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A3_A)
        .finish()
        .map_err(|error| DrawError::Pdf(format!("{error:?}")))?;
    let mut document = Document::new_with(SerializeSettings {
        configuration,
        enable_tagging: true,
        ..SerializeSettings::default()
    });
    let Flow { paper, sheets, mut tags, outline, .. } = flow;
    for sheet in &sheets {
        let settings = PageSettings::from_wh(single(paper.width), single(paper.height));
        let settings = settings.ok_or_else(|| DrawError::Pdf("no paper".to_owned()))?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        paint::paint(&mut surface, sheet, &mut tags, &fonts);
        surface.finish();
        page.finish();
    }
    document.set_tag_tree(tags.tree());
    document.set_outline(bookmarks(&outline));
    finish(document, &content, evidence, files)
}

/// Everything on pages, but for their feet.
fn lay_out<'a>(
    fonts: &'a Fonts,
    content: &Content,
    of: (&Case, &Assessment),
    some_letters_lack: bool,
) -> Result<Flow<'a>, DrawError> {
    let paper = match content.units {
        Units::Metric => Paper::A4,
        Units::Us => Paper::LETTER,
    };
    let mut flow = Flow::new(fonts, paper);
    top::draw(&mut flow, content, some_letters_lack);
    for section in &content.sections {
        draw_section(&mut flow, section, of)?;
    }
    Ok(flow)
}

fn draw_section(
    flow: &mut Flow<'_>,
    section: &Section,
    (case, assessment): (&Case, &Assessment),
) -> Result<(), DrawError> {
    let has_chart = section.blocks.iter().any(|block| matches!(block, Block::Chart(_)));
    if has_chart {
        // With what stands above it.
        flow.need(chart::TALL_MIN + 130.0);
    }
    let before = flow.within;
    flow.within = Some(flow.tags.add(before, Tag::Section));
    flow.heading(&section.heading, 2, least(flow, &section.blocks));
    for (i, block) in section.blocks.iter().enumerate() {
        let rest = section.blocks.get(i + 1..).unwrap_or_default();
        match block {
            Block::Heading(text) => flow.heading(text, 3, least(flow, rest)),
            Block::Text(text) => {
                // A line before a table stays with it.
                if let Some(Block::Table(_)) = rest.first() {
                    flow.need(least(flow, section.blocks.get(i..).unwrap_or_default()));
                }
                flow.text(text, BODY);
            }
            Block::List(items) => flow.list(items),
            Block::Facts(facts) => flow.facts(facts),
            Block::Table(of) => table::draw(flow, of),
            Block::Chart(of) => chart::draw(flow, case, assessment, of)?,
        }
    }
    flow.within = before;
    Ok(())
}

/// The height that the first of these takes at least, which what stands above has to leave.
fn least(flow: &Flow<'_>, blocks: &[Block]) -> f64 {
    let rest = blocks.get(1..).unwrap_or_default();
    match blocks.first() {
        Some(Block::Heading(_)) => 32.0 + least(flow, rest),
        Some(Block::Text(text)) => {
            let lines = wrap::lines(flow.fonts, text, BODY, flow.paper.column()).len();
            let with = matches!(rest.first(), Some(Block::Table(_)));
            let table = if with { least(flow, rest) } else { 0.0 };
            height(lines.min(3), BODY) + 0.5 * BODY.size + table
        }
        Some(Block::Table(of)) => table::least(flow, of),
        Some(Block::Chart(_)) => chart::TALL_MIN,
        Some(Block::List(_) | Block::Facts(_)) => height(3, BODY),
        None => 0.0,
    }
}

/// Verdict, site and number at the foot of each page.
fn feet(flow: &mut Flow<'_>, text: &str) {
    let style = Style { size: 8.2, color: super::flow::QUIET, ..BODY };
    let paper = flow.paper;
    let count = flow.sheets.len();
    let y = paper.height - 32.0;
    for (i, sheet) in flow.sheets.iter_mut().enumerate() {
        let number = format!("page {} of {count}", i + 1);
        let width = flow.fonts.width(&number, style);
        let right = paper.width - paper.margin;
        let text = wrap::cut(flow.fonts, text, style, paper.column() - width - 20.0);
        let rule = sheet::Op::Fill {
            from: (paper.margin, y - 12.0),
            to: (right, y - 11.5),
            color: super::flow::RULE,
            opacity: 1.0,
        };
        let ops = [
            rule,
            sheet::Op::Text { at: (paper.margin, y), text, style },
            sheet::Op::Text { at: (right - width, y), text: number, style },
        ];
        sheet.extend(ops.map(|op| sheet::Placed { op, tag: None }));
    }
}

/// The sections, to be listed beside the pages.
fn bookmarks(entries: &[Entry]) -> Outline {
    let mut outline = Outline::new();
    for entry in entries {
        let at = Point::from_xy(0.0, single((entry.y - 10.0).max(0.0)));
        let place = XyzDestination::new(entry.page, at);
        outline.push_child(OutlineNode::new(entry.text.clone(), place));
    }
    outline
}

/// Adds what is not on the pages.
fn finish(
    mut document: Document,
    content: &Content,
    evidence: &Evidence,
    files: &[File],
) -> Result<Vec<u8>, DrawError> {
    let date = date(evidence.at_s);
    for file in files {
        let embedded = EmbeddedFile {
            path: file.name.clone(),
            mime_type: MimeType::new(file.media_type),
            description: Some(wrap::clean(&file.what)),
            association_kind: association(&file.name),
            data: file.bytes.clone().into(),
            modification_date: Some(date),
            compress: Some(true),
            location: None,
        };
        document.embed_file(embedded).ok_or_else(|| {
            DrawError::Pdf(format!("two files of the record are named {}", file.name))
        })?;
    }
    document.set_metadata(
        Metadata::new()
            .title(wrap::clean(&content.title))
            .description(wrap::clean(&content.footer))
            .language(content.language.to_owned())
            .creator(wrap::clean(&evidence.program))
            .producer(wrap::clean(&evidence.program))
            .creation_date(date),
    );
    Ok(document.finish()?)
}

/// What a file is to the pages: they are drawn from the evidence; the other two hold the result.
fn association(name: &str) -> AssociationKind {
    match name {
        files::MANIFEST | files::ASSESSMENT => AssociationKind::Data,
        _ => AssociationKind::Source,
    }
}

/// A time for the file, in UTC.
fn date(time_s: i64) -> DateTime {
    let Ok(time) = jiff::Timestamp::from_second(time_s) else { return DateTime::new(0) };
    let utc = time.to_zoned_datetime(jiff::tz::TimeZone::UTC);
    let part = |value: i8| u8::try_from(value).unwrap_or(0);
    DateTime::new(u16::try_from(utc.year()).unwrap_or(0))
        .month(part(utc.month()))
        .day(part(utc.day()))
        .hour(part(utc.hour()))
        .minute(part(utc.minute()))
        .second(part(utc.second()))
        .utc_offset_hour(0)
        .utc_offset_minute(0)
}

/// A length of a page.
fn single(value: f64) -> f32 {
    // A page is a thousand points.
    #[allow(clippy::cast_possible_truncation)]
    let single = value as f32;
    single
}
