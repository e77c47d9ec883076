//! Lines made of letters: dots in cells, several to a cell.

use super::signs::Signs;

/// Cells of dots, and what stands in the cells without any.
pub(super) struct Grid {
    signs: Signs,
    columns: usize,
    rows: usize,
    /// One bit for each dot of a cell, the cells row by row.
    dots: Vec<u8>,
}

impl Grid {
    pub(super) fn new(columns: usize, rows: usize, signs: Signs) -> Self {
        Self { signs, columns, rows, dots: vec![0; columns * rows] }
    }

    /// Dots in a row of the grid.
    pub(super) fn dots_across(&self) -> usize {
        self.columns * self.signs.dots_across
    }

    /// Dots in a column of the grid.
    pub(super) fn dots_down(&self) -> usize {
        self.rows * self.signs.dots_down
    }

    /// Sets a dot, counted from the left and from the top; one outside of the grid is none.
    pub(super) fn dot(&mut self, x: usize, y: usize) {
        if x >= self.dots_across() {
            return;
        }
        let (across, down) = (self.signs.dots_across, self.signs.dots_down);
        let cell = y / down * self.columns + x / across;
        if let Some(dots) = self.dots.get_mut(cell) {
            *dots |= self.signs.bit(x % across, y % down);
        }
    }

    /// A line through points from left to right. Each dot between two points is set: whatever lies
    /// higher or lower than its neighbours is seen.
    pub(super) fn line(&mut self, points: impl Iterator<Item = (usize, usize)>) {
        let mut last: Option<(usize, usize)> = None;
        for (x, y) in points {
            let (x0, y0) = last.unwrap_or((x, y));
            last = Some((x, y));
            let across = x.saturating_sub(x0);
            let mut before = y0;
            for step in 0..=across {
                let here = between(y0, y, step, across);
                for y in before.min(here)..=before.max(here) {
                    self.dot(x0 + step, y);
                }
                before = here;
            }
        }
    }

    /// What stands in a cell, or nothing when no dot is set in it.
    pub(super) fn sign(&self, column: usize, row: usize) -> Option<char> {
        let dots = self.dots.get(row * self.columns + column).copied().unwrap_or(0);
        (dots != 0).then(|| self.signs.of_dots(dots))
    }
}

/// The whole number so many steps of `across` on the way from `a` to `b`; `b` when there is no way.
fn between(a: usize, b: usize, step: usize, across: usize) -> usize {
    let part = |length: usize| (length * step * 2 + across).checked_div(2 * across);
    if b >= a {
        part(b - a).map_or(b, |part| a + part)
    } else {
        part(a - b).map_or(b, |part| a - part)
    }
}

#[cfg(test)]
mod tests {
    use super::super::signs::{ASCII, UTF8};
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// The dot of every point is set, and from one point to the next no column is left out.
        #[test]
        fn no_point_of_a_line_is_lost(
            points in prop::collection::vec((0_usize..4, 0_usize..12), 1..60),
            is_ascii: bool,
        ) {
            let mut grid = Grid::new(100, 4, if is_ascii { ASCII } else { UTF8 });
            let mut at = 0;
            let points: Vec<(usize, usize)> = points
                .into_iter()
                .map(|(step, y)| {
                    at = (at + step).min(grid.dots_across() - 1);
                    (at, y)
                })
                .collect();
            grid.line(points.iter().copied());
            let is_set = |x: usize, y: usize| {
                let (across, down) = (grid.signs.dots_across, grid.signs.dots_down);
                let dots = grid.dots[y / down * grid.columns + x / across];
                dots & grid.signs.bit(x % across, y % down) != 0
            };
            for (x, y) in &points {
                prop_assert!(is_set(*x, *y), "{x}, {y}");
            }
            for x in points[0].0..=at {
                prop_assert!((0..grid.dots_down()).any(|y| is_set(x, y)), "nothing in {x}");
            }
        }
    }

    fn rows(grid: &Grid) -> Vec<String> {
        let row = |row| (0..grid.columns).map(|c| grid.sign(c, row).unwrap_or(' ')).collect();
        (0..grid.rows).map(row).collect()
    }

    /// Unicode 16.0, chapter "Braille Patterns": dots 1, 2, 3, 7 go down on the left and 4, 5, 6, 8 on the
    /// right, and dot n is bit n - 1 of U+2800 and on.
    #[test]
    fn dots_are_those_of_the_braille_patterns() {
        let order = [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3)];
        for ((x, y), bit) in order.into_iter().zip(0..) {
            let mut grid = Grid::new(1, 1, UTF8);
            grid.dot(x, y);
            assert_eq!(grid.sign(0, 0), char::from_u32(0x2800 + (1 << bit)));
        }
    }

    #[test]
    fn a_line_has_no_holes_and_a_spike_of_one_point_is_seen() {
        let mut grid = Grid::new(5, 2, ASCII);
        // Level, up to the top for one point, and back.
        grid.line([(0, 5), (1, 5), (2, 0), (3, 5), (4, 5)].into_iter());
        assert_eq!(rows(&grid), ["  || ", "..||."]);
    }

    #[test]
    fn slopes_go_through_every_column() {
        let mut grid = Grid::new(4, 1, ASCII);
        grid.line([(0, 2), (3, 0)].into_iter());
        assert_eq!(rows(&grid), [".|-|"]);
        let mut grid = Grid::new(4, 1, ASCII);
        grid.line([(0, 0), (3, 2)].into_iter());
        assert_eq!(rows(&grid), ["'|-|"]);
    }

    #[test]
    fn what_lies_outside_is_not_drawn_elsewhere() {
        let mut grid = Grid::new(2, 1, UTF8);
        grid.dot(4, 0);
        grid.dot(0, 4);
        assert_eq!(rows(&grid), ["  "]);
    }
}
