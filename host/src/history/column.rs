//! A column of the history: its cells, and what they come to in each [stretch](super::stretch).

use super::stretch::STRETCH;
use std::fmt::{Debug, Formatter, Result};
use std::ops::{Deref, DerefMut};
use std::sync::OnceLock;

/// What a column is made of.
pub trait Cell: Copy {
    /// What is to be known of the cells of one stretch.
    type Sum: Clone + Debug;

    /// Looks through the cells of one stretch, of which there is at least one.
    fn sum(cells: &[Self]) -> Self::Sum;
}

/// Cells in the order of the log, to be used as a slice of them. What stretches come to is found when
/// it is first asked for, and anew after any change of a cell.
#[derive(Clone)]
pub struct Column<T: Cell> {
    cells: Vec<T>,
    sums: OnceLock<Vec<T::Sum>>,
}

impl<T: Cell> Column<T> {
    /// Adds a cell at the end.
    pub fn push(&mut self, cell: T) {
        self.sums.take();
        self.cells.push(cell);
    }

    /// Whether it is known what stretches come to.
    pub(super) fn is_summed(&self) -> bool {
        self.sums.get().is_some()
    }

    /// What each stretch comes to; the last one may be shorter than the others.
    pub(super) fn sums(&self) -> &[T::Sum] {
        self.sums.get_or_init(|| self.cells.chunks(STRETCH).map(T::sum).collect())
    }
}

impl<T: Cell> From<Vec<T>> for Column<T> {
    fn from(cells: Vec<T>) -> Self {
        Self { cells, sums: OnceLock::new() }
    }
}

impl<T: Cell> Default for Column<T> {
    fn default() -> Self {
        Vec::new().into()
    }
}

impl<T: Cell> Deref for Column<T> {
    type Target = [T];

    fn deref(&self) -> &[T] {
        &self.cells
    }
}

impl<T: Cell> DerefMut for Column<T> {
    fn deref_mut(&mut self) -> &mut [T] {
        // Whoever asked for this may change any cell.
        self.sums.take();
        &mut self.cells
    }
}

impl<T: Cell + PartialEq> PartialEq for Column<T> {
    fn eq(&self, other: &Self) -> bool {
        self.cells == other.cells
    }
}

impl<T: Cell + Debug> Debug for Column<T> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        self.cells.fmt(f)
    }
}
