//! The box that says that there is nothing to show.

use super::canvas::{Align, Canvas, Rect};
use super::font;
use super::theme::Theme;

/// A text in the middle of a panel, in a box.
pub(super) struct Notice {
    lines: Vec<String>,
    /// Where it stands.
    pub(super) area: Rect,
}

impl Notice {
    pub(super) fn new(panel: Rect, text: &str, theme: &Theme) -> Self {
        let body = theme.body();
        let room = panel.width() - 4.0 * body.em;
        let lines = font::wrap(text, body.em, false, room, 3);
        let widest = lines.iter().map(|l| font::width(l, body.em, false)).fold(0.0, f64::max);
        let (x, y) = panel.middle();
        #[allow(clippy::cast_precision_loss)] // At most three.
        let height = lines.len() as f64 * body.em * 1.3;
        let area = Rect {
            x0: x - widest / 2.0 - body.em,
            x1: x + widest / 2.0 + body.em,
            y0: y - height / 2.0 - body.em * 0.4,
            y1: y + height / 2.0 + body.em * 0.4,
        };
        Self { lines, area }
    }

    pub(super) fn draw(&self, canvas: &mut Canvas, theme: &Theme) {
        let body = theme.body();
        canvas.fill(self.area, theme.panel);
        canvas.frame(self.area, theme.frame, theme.thin(theme.frame).width);
        let mut baseline = self.area.y0 + body.em * 1.4;
        for line in &self.lines {
            canvas.text((self.area.middle().0, baseline), line, body, Align::Center);
            baseline += body.em * 1.3;
        }
    }
}
