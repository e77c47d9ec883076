//! Text inside a panel, put where it hides the least.

use super::canvas::{Align, Canvas, Point, Rect, Type};
use super::font;
use super::panel::Ground;
use super::theme::Theme;

/// What the labels of a panel must not cover.
pub(super) struct Labels<'a> {
    pub(super) theme: &'a Theme,
    pub(super) area: Rect,
    /// Points of the lines.
    points: Vec<Point>,
    /// Upright lines.
    uprights: &'a [f64],
    /// Labels that stand already.
    taken: Vec<Rect>,
}

impl<'a> Labels<'a> {
    /// `taken` is a place that is not free.
    pub(super) fn new(
        area: Rect,
        points: Vec<Point>,
        ground: &Ground<'a>,
        taken: Option<Rect>,
    ) -> Self {
        let taken = taken.into_iter().collect();
        Self { theme: ground.theme, area, points, uprights: ground.milestones, taken }
    }

    /// Draws a label on one of the baselines, from the left or from the right, where it covers the
    /// fewest points.
    pub(super) fn place(
        &mut self,
        canvas: &mut Canvas,
        text: &str,
        kind: Type,
        baselines: &[f64],
        from_right: bool,
    ) {
        let unit = self.theme.unit;
        let pad = 6.0 * unit;
        let text = font::fit(text, kind.em, kind.bold, self.area.width() - 2.0 * pad);
        let width = font::width(&text, kind.em, kind.bold);
        let room = self.area.width() - 2.0 * pad - width;
        const PLACES: u32 = 48;
        let mut best: Option<(f64, Rect)> = None;
        for place in 0..=PLACES {
            let share = f64::from(place) / f64::from(PLACES);
            let along = room * if from_right { 1.0 - share } else { share };
            for y in baselines {
                let x0 = self.area.x0 + pad + along;
                let spot = Rect {
                    x0: x0 - 3.0 * unit,
                    y0: y - kind.em * 0.9,
                    x1: x0 + width + 3.0 * unit,
                    y1: y + kind.em * 0.25,
                };
                let cost = self.cost(spot) + share;
                if best.is_none_or(|(least, _)| cost < least) {
                    best = Some((cost, spot));
                }
            }
        }
        let Some((cost, spot)) = best else { return };
        // Lines that cannot be helped show through.
        canvas.shade(spot, self.theme.panel, if cost > 20.0 { 0.6 } else { 0.8 });
        let at = (spot.x0 + 3.0 * unit, spot.y1 - kind.em * 0.25);
        canvas.text(at, &text, kind, Align::Left);
        self.taken.push(spot);
    }

    fn cost(&self, spot: Rect) -> f64 {
        let is_out = spot.y0 < self.area.y0 || spot.y1 > self.area.y1;
        let overlaps = |other: &Rect| {
            spot.x0 < other.x1 && other.x0 < spot.x1 && spot.y0 < other.y1 && other.y0 < spot.y1
        };
        let is_taken = self.taken.iter().any(overlaps);
        // Not only inside, but also close by.
        let near = 2.0 * self.theme.unit;
        let holds = |p: &&Point| {
            p.0 > spot.x0 - near
                && p.0 < spot.x1 + near
                && p.1 > spot.y0 - near
                && p.1 < spot.y1 + near
        };
        let points = self.points.iter().filter(holds).count();
        let uprights = self.uprights.iter().filter(|x| **x > spot.x0 && **x < spot.x1).count();
        #[allow(clippy::cast_precision_loss)] // Thousands at most.
        let covered = points as f64 + 15.0 * uprights as f64;
        covered + if is_out { 2_000.0 } else { 0.0 } + if is_taken { 100_000.0 } else { 0.0 }
    }
}
