//! Pages onto the surfaces of the PDF library.

use super::font::{Color, Fonts};
use super::sheet::{Op, Placed, Point, Sheet, TagId, Tags};
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point as At, Rect};
use krilla::num::NormalizedF32;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag};

/// Draws a page. What belongs to one tag and comes in one row is marked as one piece.
pub(super) fn paint(surface: &mut Surface<'_>, sheet: &Sheet, tags: &mut Tags, fonts: &Fonts) {
    let pieces = sheet.chunk_by(|a, b| a.tag == b.tag);
    for piece in pieces {
        let tag = piece.first().and_then(|placed| placed.tag);
        let leaf = surface.start_tagged(mark(tag, piece));
        for Placed { op, .. } in piece {
            draw(surface, op, fonts);
        }
        surface.end_tagged();
        if let Some(tag) = tag {
            tags.drawn(tag, leaf);
        }
    }
}

fn mark(tag: Option<TagId>, piece: &[Placed]) -> ContentTag<'static> {
    match tag {
        None => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
        Some(_) if piece.iter().all(|placed| matches!(placed.op, Op::Text { .. })) => {
            ContentTag::Span(SpanTag::empty())
        }
        Some(_) => ContentTag::Other,
    }
}

fn draw(surface: &mut Surface<'_>, op: &Op, fonts: &Fonts) {
    match op {
        Op::Text { at, text, style } => {
            let face = fonts.face(style.bold);
            surface.set_stroke(None);
            surface.set_fill(Some(fill(style.color, 1.0)));
            let at = At::from_xy(place(at.0), place(at.1));
            let glyphs = face.glyphs(text);
            surface.draw_glyphs(at, &glyphs, face.font.clone(), text, place(style.size), false);
        }
        Op::Fill { from, to, color, opacity } => {
            let (left, top) = (place(from.0), place(from.1));
            // A hairline is never lost to rounding.
            let (right, bottom) = (place(to.0).max(left + 0.01), place(to.1).max(top + 0.01));
            let path = Rect::from_ltrb(left, top, right, bottom).and_then(|rect| {
                let mut path = PathBuilder::new();
                path.push_rect(rect);
                path.finish()
            });
            filled(surface, path, *color, *opacity);
        }
        Op::Polygon { points, color } => filled(surface, path(points, true), *color, 1.0),
        Op::Line { points, color, width } => {
            surface.set_fill(None);
            surface.set_stroke(Some(stroke(*color, *width)));
            if let Some(path) = path(points, false) {
                surface.draw_path(&path);
            }
        }
    }
}

fn stroke(color: Color, width: f64) -> Stroke {
    Stroke {
        paint: paint_of(color).into(),
        width: place(width).max(0.01),
        miter_limit: 4.0,
        line_cap: LineCap::Butt,
        line_join: LineJoin::Round,
        opacity: NormalizedF32::ONE,
        dash: None,
    }
}

fn filled(surface: &mut Surface<'_>, path: Option<Path>, color: Color, opacity: f64) {
    surface.set_stroke(None);
    surface.set_fill(Some(fill(color, opacity)));
    if let Some(path) = path {
        surface.draw_path(&path);
    }
}

fn path(points: &[Point], is_closed: bool) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (i, (x, y)) in points.iter().enumerate() {
        let (x, y) = (place(*x), place(*y));
        if i == 0 { path.move_to(x, y) } else { path.line_to(x, y) }
    }
    if is_closed {
        path.close();
    }
    path.finish()
}

fn fill(color: Color, opacity: f64) -> Fill {
    let opacity = NormalizedF32::new(place(opacity.clamp(0.0, 1.0))).unwrap_or(NormalizedF32::ONE);
    Fill { paint: paint_of(color).into(), opacity, rule: FillRule::NonZero }
}

fn paint_of((red, green, blue): Color) -> rgb::Color {
    rgb::Color::new(red, green, blue)
}

/// To a hundredth of a point: finer than any printer, and the last digits of a computer's sums do not
/// show.
fn place(value: f64) -> f32 {
    // A page is a thousand points.
    #[allow(clippy::cast_possible_truncation)]
    let place = ((value * 100.0).round() / 100.0) as f32;
    place
}
