//! Text from top to bottom, page after page.

use super::font::{Color, Fonts, Style};
use super::sheet::{Op, Placed, Sheet, TagId, Tags};
use super::wrap;
use krilla::tagging::{ListNumbering, Tag};
use std::num::NonZeroU16;

/// Black that is easy on the eyes.
pub(super) const INK: Color = (0x1a, 0x1c, 0x1f);
/// For what is read second.
pub(super) const QUIET: Color = (0x4a, 0x4f, 0x55);
/// Rules.
pub(super) const RULE: Color = (0xb9, 0xbc, 0xbf);
/// Ground of head rows.
pub(super) const SHADE: Color = (0xf0, 0xef, 0xea);

pub(super) const BODY: Style = Style { size: 9.5, bold: false, color: INK };
const HEADING: Style = Style { size: 14.0, bold: true, color: INK };
const SUBHEADING: Style = Style { size: 10.5, bold: true, color: INK };

/// From one baseline to the next, in sizes of the text.
pub(super) const LEADING: f64 = 1.34;
/// From the top of a line to its baseline.
pub(super) const ASCENT: f64 = 1.0;

/// Paper and margins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Paper {
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) margin: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
}

impl Paper {
    const fn of(width: f64, height: f64) -> Self {
        Self { width, height, margin: 46.0, top: 46.0, bottom: 58.0 }
    }

    /// ISO 216 A4, 210 by 297 mm.
    pub(super) const A4: Self = Self::of(595.28, 841.89);
    /// US Letter, 8.5 by 11 inches.
    pub(super) const LETTER: Self = Self::of(612.0, 792.0);

    /// Width of the text.
    pub(super) fn column(&self) -> f64 {
        self.width - 2.0 * self.margin
    }

    /// Height of the text.
    pub(super) fn body(&self) -> f64 {
        self.height - self.top - self.bottom
    }
}

/// A heading to be listed beside the pages.
pub(super) struct Entry {
    pub(super) text: String,
    pub(super) page: usize,
    pub(super) y: f64,
}

/// Pages being filled.
pub(super) struct Flow<'a> {
    pub(super) fonts: &'a Fonts,
    pub(super) paper: Paper,
    pub(super) sheets: Vec<Sheet>,
    pub(super) tags: Tags,
    /// The tag that what comes now is put under.
    pub(super) within: Option<TagId>,
    /// Where the next thing goes.
    pub(super) y: f64,
    pub(super) outline: Vec<Entry>,
}

impl<'a> Flow<'a> {
    pub(super) fn new(fonts: &'a Fonts, paper: Paper) -> Self {
        Self {
            fonts,
            paper,
            sheets: vec![Sheet::new()],
            tags: Tags::default(),
            within: None,
            y: paper.top,
            outline: Vec::new(),
        }
    }

    /// Height that is left on the page.
    pub(super) fn left(&self) -> f64 {
        self.paper.height - self.paper.bottom - self.y
    }

    pub(super) fn next_page(&mut self) {
        self.sheets.push(Sheet::new());
        self.y = self.paper.top;
    }

    fn is_fresh(&self) -> bool {
        self.y <= self.paper.top
    }

    /// Goes to the next page when less than this is left; whether it did.
    pub(super) fn need(&mut self, height: f64) -> bool {
        let goes = height > self.left() && !self.is_fresh();
        if goes {
            self.next_page();
        }
        goes
    }

    /// Empty space, but not at the top of a page.
    pub(super) fn space(&mut self, height: f64) {
        if !self.is_fresh() {
            self.y += height;
        }
    }

    pub(super) fn put(&mut self, op: Op, tag: Option<TagId>) {
        if let Some(sheet) = self.sheets.last_mut() {
            sheet.push(Placed { op, tag });
        }
    }

    /// A new tag where the flow is.
    pub(super) fn tag(&mut self, kind: impl Into<krilla::tagging::TagKind>) -> TagId {
        self.tags.add(self.within, kind)
    }

    pub(super) fn rule(&mut self, y: f64, width: f64, color: Color) {
        let (x0, x1) = (self.paper.margin, self.paper.width - self.paper.margin);
        let (from, to) = ((x0, y - width / 2.0), (x1, y + width / 2.0));
        self.put(Op::Fill { from, to, color, opacity: 1.0 }, None);
    }

    /// Lines of text at a place, without a look at the page; they end at the y returned.
    pub(super) fn lines_at(
        &mut self,
        (x, top): (f64, f64),
        lines: &[String],
        style: Style,
        tag: TagId,
    ) -> f64 {
        let mut y = top;
        for (i, line) in lines.iter().enumerate() {
            // Words are parted by spaces also where the line ends.
            let text = if i + 1 < lines.len() { format!("{line} ") } else { line.clone() };
            let at = (x, y + style.size * ASCENT);
            if !line.is_empty() {
                self.put(Op::Text { at, text, style }, Some(tag));
            }
            y += style.size * LEADING;
        }
        y
    }

    /// Text that may run over to the next page, unless it is short.
    pub(super) fn running(&mut self, x: f64, lines: &[String], style: Style, tag: TagId) {
        let each = style.size * LEADING;
        if lines.len() <= 3 {
            self.need(height(lines.len(), style));
        }
        for (i, line) in lines.iter().enumerate() {
            // Neither the first nor the last line stands alone.
            let alone = i == 0 || i + 2 == lines.len();
            self.need(if alone && lines.len() > 1 { 2.0 * each } else { each });
            let text = if i + 1 < lines.len() { format!("{line} ") } else { line.clone() };
            self.y = self.lines_at((x, self.y), &[text], style, tag);
        }
    }

    /// A heading, with room for some of what follows it.
    pub(super) fn heading(&mut self, text: &str, level: u16, follows: f64) {
        let style = if level <= 2 { HEADING } else { SUBHEADING };
        let (before, after) = if level <= 2 { (20.0, 9.0) } else { (9.0, 4.0) };
        let lines = wrap::lines(self.fonts, text, style, self.paper.column());
        let all = height(lines.len(), style);
        if !self.need(before + all + after + follows) {
            self.space(before);
        }
        if level <= 2 {
            let page = self.sheets.len() - 1;
            self.outline.push(Entry { text: wrap::clean(text), page, y: self.y });
        }
        let number = NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN);
        let tag = self.tag(Tag::Hn(number, Some(wrap::clean(text))));
        self.y = self.lines_at((self.paper.margin, self.y), &lines, style, tag);
        if level <= 2 {
            self.rule(self.y + 2.0, 0.8, INK);
        }
        self.y += after;
    }

    /// A paragraph.
    pub(super) fn text(&mut self, text: &str, style: Style) {
        let lines = wrap::lines(self.fonts, text, style, self.paper.column());
        let tag = self.tag(Tag::P);
        self.running(self.paper.margin, &lines, style, tag);
        self.y += style.size * 0.5;
    }

    /// Items with a mark before each.
    pub(super) fn list(&mut self, items: &[String]) {
        const INDENT: f64 = 12.0;
        let list = self.tag(Tag::L(ListNumbering::Square));
        for item in items {
            let lines = wrap::lines(self.fonts, item, BODY, self.paper.column() - INDENT);
            self.need(height(lines.len().min(3), BODY));
            let entry = self.tags.add(Some(list), Tag::LI);
            let body = self.tags.add(Some(entry), Tag::LBody);
            let (x, y) = (self.paper.margin + 2.0, self.y + BODY.size * 0.52);
            self.put(
                Op::Fill { from: (x, y), to: (x + 3.2, y + 3.2), color: QUIET, opacity: 1.0 },
                None,
            );
            self.running(self.paper.margin + INDENT, &lines, BODY, body);
            self.y += 2.5;
        }
        self.y += 2.0;
    }

    /// Names with texts beside them.
    pub(super) fn facts(&mut self, facts: &[(String, String)]) {
        let column = self.paper.column();
        let name_style = Style { color: QUIET, ..BODY };
        let widest = facts
            .iter()
            .map(|(name, _)| self.fonts.width(&wrap::clean(name), name_style))
            .fold(0.0, f64::max);
        let indent = (widest + 14.0).min(column * 0.34);
        let list = self.tag(Tag::L(ListNumbering::None));
        for (name, text) in facts {
            let names = wrap::lines(self.fonts, name, name_style, indent - 10.0);
            let lines = wrap::lines(self.fonts, text, BODY, column - indent);
            self.need(height(names.len().max(lines.len().min(4)), BODY));
            let entry = self.tags.add(Some(list), Tag::LI);
            let label = self.tags.add(Some(entry), Tag::Lbl);
            let body = self.tags.add(Some(entry), Tag::LBody);
            let page = self.sheets.len();
            let end = self.lines_at((self.paper.margin, self.y), &names, name_style, label);
            self.running(self.paper.margin + indent, &lines, BODY, body);
            if page == self.sheets.len() {
                self.y = self.y.max(end);
            }
            self.y += 2.5;
        }
        self.y += 3.0;
    }
}

/// Height of so many lines.
pub(super) fn height(lines: usize, style: Style) -> f64 {
    #[allow(clippy::cast_precision_loss)] // Thousands at most.
    let lines = lines as f64;
    lines * style.size * LEADING
}
