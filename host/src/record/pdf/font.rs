//! The two fonts of a record, and where each letter of a line stands.
//!
//! They have Latin, Greek and Cyrillic letters. Any other is drawn as an empty box; the text under the
//! box, which is searched, copied and read aloud, is the right one.

use super::DrawError;
use crate::plot::{BOLD, REGULAR};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use std::cell::Cell;
use ttf_parser::Face as Parsed;

/// Width of the box that is drawn in place of a letter that the font lacks, in em.
pub(super) const BOX_EM: f64 = 0.62;

/// A font, to measure and to draw with.
pub(super) struct Face {
    pub(super) font: Font,
    parsed: Parsed<'static>,
    /// The glyph under a box.
    space: ttf_parser::GlyphId,
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
        let space = parsed.glyph_index(' ').ok_or(DrawError::Font)?;
        Ok(Self { font, parsed, space, lacked: Cell::new(false) })
    }

    /// The glyph of a letter and its width in em.
    fn glyph(&self, letter: char) -> Option<(ttf_parser::GlyphId, f64)> {
        let glyph = self.parsed.glyph_index(letter)?;
        let units = self.parsed.glyph_hor_advance(glyph).unwrap_or(0);
        Some((glyph, f64::from(units) / f64::from(self.parsed.units_per_em())))
    }

    /// Width of a text in em.
    fn width(&self, text: &str) -> f64 {
        let advance = |c| match self.glyph(c) {
            Some((_, width)) => width,
            None => {
                self.lacked.set(true);
                BOX_EM
            }
        };
        text.chars().map(advance).sum()
    }

    /// The letters of a text, one after the other, and where boxes stand in place of some, in em.
    pub(super) fn glyphs(&self, text: &str) -> (Vec<KrillaGlyph>, Vec<f64>) {
        let (mut glyphs, mut boxes) = (Vec::new(), Vec::new());
        let mut x = 0.0;
        for (at, c) in text.char_indices() {
            let (glyph, width) = self.glyph(c).unwrap_or_else(|| {
                boxes.push(x);
                (self.space, BOX_EM)
            });
            x += width;
            let id = GlyphId::new(u32::from(glyph.0));
            #[allow(clippy::cast_possible_truncation)] // About one.
            let width = width as f32;
            glyphs.push(KrillaGlyph::new(id, width, 0.0, 0.0, 0.0, at..at + c.len_utf8(), None));
        }
        (glyphs, boxes)
    }
}
