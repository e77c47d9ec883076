//! A page of text for a terminal: lines of at most its width, with styles that only underline what the
//! words say.

use super::wrap;
use anstyle::Style;
use std::fmt::Write as _;

/// Fewer columns than this are of no use.
const WIDTH_MIN: usize = 40;
/// Longer lines are hard to read.
const WIDTH_MAX: usize = 120;

/// What stands before a text on its first line.
pub(super) struct Lead<'a> {
    pub(super) label: &'a str,
    pub(super) word: &'a str,
    /// Style of the word.
    pub(super) style: Style,
    pub(super) after: &'a str,
}

/// Text being written.
pub(super) struct Page {
    pub(super) out: String,
    pub(super) width: usize,
}

impl Page {
    pub(super) fn new(width: usize) -> Self {
        Self { out: String::new(), width: width.clamp(WIDTH_MIN, WIDTH_MAX) }
    }

    /// An empty line.
    pub(super) fn gap(&mut self) {
        self.out.push('\n');
    }

    /// A line in bold.
    pub(super) fn heading(&mut self, text: &str) {
        let bold = Style::new().bold();
        self.led(&Lead { label: "", word: text, style: bold, after: "" }, 0, "");
    }

    /// Text behind `indent` spaces.
    pub(super) fn text(&mut self, indent: usize, text: &str) {
        self.labelled(&" ".repeat(indent), indent, text);
    }

    /// Text behind a label, its further lines behind `hang` spaces.
    pub(super) fn labelled(&mut self, label: &str, hang: usize, text: &str) {
        self.led(&Lead { label, word: "", style: Style::new(), after: "" }, hang, text);
    }

    /// Text behind a lead, its further lines behind `hang` spaces.
    pub(super) fn led(&mut self, lead: &Lead<'_>, hang: usize, text: &str) {
        let Lead { label, word, style, after } = lead;
        let led = wrap::columns(label) + wrap::columns(word) + wrap::columns(after);
        if led > self.width {
            // Too wide to stand before anything: it is broken like the rest.
            let text = format!("{label}{word}{after} {text}");
            return self.labelled(&" ".repeat(hang.min(8)), hang, &text);
        }
        let hang = hang.min(self.width / 2);
        let text = wrap::hold(text);
        let mut lines = wrap::lines(&text, self.width - led, self.width - hang).into_iter();
        let first = lines.next().unwrap_or_default();
        let word = if word.is_empty() { String::new() } else { format!("{style}{word}{style:#}") };
        let _ = writeln!(self.out, "{}", format!("{label}{word}{after}{first}").trim_end());
        for line in lines {
            let _ = writeln!(self.out, "{:hang$}{line}", "");
        }
    }

    /// Pairs of name and text, the texts one below the other.
    pub(super) fn pairs(&mut self, indent: usize, pairs: &[(&str, String)]) {
        let widest = pairs.iter().map(|(name, _)| wrap::columns(name)).max().unwrap_or(0);
        let hang = indent + widest + 2;
        for (name, text) in pairs {
            let pad = hang.saturating_sub(indent + wrap::columns(name));
            let label = format!("{:indent$}{name}{:pad$}", "", "");
            self.labelled(&label, hang, text);
        }
    }
}
