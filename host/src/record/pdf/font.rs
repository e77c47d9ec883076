//! The two fonts of a record, and where each letter of a line stands.
//!
//! They have Latin, Greek and Cyrillic letters. In place of any other the replacement character is
//! drawn; the text under it, which is searched, copied and read aloud, is the right one.

use super::DrawError;
use crate::plot::{BOLD, REGULAR};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use std::cell::Cell;
use ttf_parser::Face as Parsed;

/// Drawn in place of a letter that the font lacks.
pub(super) const INSTEAD: char = char::REPLACEMENT_CHARACTER;

/// A font, to measure and to draw with.
pub(super) struct Face {
    pub(super) font: Font,
    parsed: Parsed<'static>,
    instead: ttf_parser::GlyphId,
    lacked: Cell<bool>,
}

/// Both fonts.
pub(super) struct Fonts {
    regular: Face,
    bold: Face,
}

impl Fonts {
    pub(super) fn new() -> Result<Self, DrawError> {
        Ok(Self { regular: Face::new(REGULAR)?, bold: Face::new(BOLD)? })
    }

    pub(super) fn face(&self, bold: bool) -> &Face {
        if bold { &self.bold } else { &self.regular }
    }

    /// Whether a letter was measured that a font lacks.
    pub(super) fn lacked(&self) -> bool {
        self.regular.lacked.get() || self.bold.lacked.get()
    }

    /// Width of a text at a size.
    pub(super) fn width(&self, text: &str, style: Style) -> f64 {
        self.face(style.bold).width(text) * style.size
    }
}

/// How a text is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Style {
    pub(super) size: f64,
    pub(super) bold: bool,
    pub(super) color: Color,
}

/// Red, green, blue.
pub(super) type Color = (u8, u8, u8);

impl Face {
    fn new(bytes: &'static [u8]) -> Result<Self, DrawError> {
        let parsed = Parsed::parse(bytes, 0).map_err(|_| DrawError::Font)?;
        let font = Font::new(bytes.to_vec().into(), 0).ok_or(DrawError::Font)?;
        let instead = parsed.glyph_index(INSTEAD).ok_or(DrawError::Font)?;
        Ok(Self { font, parsed, instead, lacked: Cell::new(false) })
    }

    fn glyph(&self, letter: char) -> ttf_parser::GlyphId {
        self.parsed.glyph_index(letter).unwrap_or_else(|| {
            self.lacked.set(true);
            self.instead
        })
    }

    /// Width of a glyph in units of the font.
    fn advance(&self, glyph: ttf_parser::GlyphId) -> u16 {
        self.parsed.glyph_hor_advance(glyph).unwrap_or(0)
    }

    /// Width of a text in em.
    fn width(&self, text: &str) -> f64 {
        let units: u32 = text.chars().map(|c| u32::from(self.advance(self.glyph(c)))).sum();
        f64::from(units) / f64::from(self.parsed.units_per_em())
    }

    /// The letters of a text, one after the other.
    pub(super) fn glyphs(&self, text: &str) -> Vec<KrillaGlyph> {
        let em = f32::from(self.parsed.units_per_em());
        text.char_indices()
            .map(|(at, c)| {
                let glyph = self.glyph(c);
                let id = GlyphId::new(u32::from(glyph.0));
                let width = f32::from(self.advance(glyph)) / em;
                KrillaGlyph::new(id, width, 0.0, 0.0, 0.0, at..at + c.len_utf8(), None)
            })
            .collect()
    }
}
