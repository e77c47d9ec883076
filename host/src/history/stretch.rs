//! Stretches: neighbouring samples of which it is known what they come to.
//!
//! Most of a long log is of no interest to a rule: every reading is in range and none is missing. A
//! rule goes through the [stretches](History::stretches) of the samples that it looks at. Of a
//! [`Whole`] one it asks for the least and the greatest reading and for the longest step, and where
//! these already say that no sample of it can change the answer, it goes on to the next.

use super::column::Cell;
use super::{Channel, History};
use glueday_types::{CentiCelsius, CentiPercent, Reading};
use std::ops::Range;

/// Samples of a stretch: an hour of minutes, or half a day of ten minutes.
pub(crate) const STRETCH: usize = 64;

/// What the readings of a channel come to in a stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Readings {
    /// The least and the greatest, in °C or %; `None` without any reading.
    pub ends: Option<[f64; 2]>,
    /// How many samples have a reading.
    pub count: usize,
}

impl Readings {
    const NONE: Self = Self { ends: None, count: 0 };

    /// Of the hundredths of cells. `none` are the ends of no reading: the greatest of all, the least.
    fn of<T: Copy, V: Copy + Ord + Into<f64>>(
        cells: &[Reading<T>],
        hundredths: impl Fn(T) -> V,
        none: [V; 2],
    ) -> Self {
        // Each sample of the log comes by here. Without branches, and with a count no wider than a reading,
        // the compiler looks at several at once.
        let ([mut least, mut greatest], mut count) = (none, 0_u16);
        for cell in cells {
            let [low, high] = cell.as_ref().map_or(none, |value| [hundredths(*value); 2]);
            least = least.min(low);
            greatest = greatest.max(high);
            count += u16::from(cell.is_ok());
        }
        let count = usize::from(count);
        // As the units themselves convert, so that the ends are readings to the last bit.
        let ends = [least, greatest].map(|hundredths| hundredths.into() / 100.0);
        Self { ends: (count > 0).then_some(ends), count }
    }
}

impl Cell for Reading<CentiCelsius> {
    type Sum = Readings;

    fn sum(cells: &[Self]) -> Readings {
        Readings::of(cells, |value| value.0, [i16::MAX, i16::MIN])
    }
}

impl Cell for Reading<CentiPercent> {
    type Sum = Readings;

    fn sum(cells: &[Self]) -> Readings {
        Readings::of(cells, |value| value.0, [u16::MAX, u16::MIN])
    }
}

/// A time, in seconds of UTC.
impl Cell for i64 {
    /// The longest step from one sample to the next within the stretch, in seconds.
    type Sum = Self;

    fn sum(cells: &[Self]) -> Self {
        let next = cells.iter().skip(1);
        cells.iter().zip(next).map(|(a, b)| b.saturating_sub(*a)).max().unwrap_or(0)
    }
}

/// A nominal sampling interval, in seconds.
impl Cell for u16 {
    /// The least of the stretch.
    type Sum = Self;

    fn sum(cells: &[Self]) -> Self {
        cells.iter().copied().min().unwrap_or(0)
    }
}

/// Neighbouring samples, never more than [`STRETCH`].
#[derive(Clone, Debug)]
pub(crate) struct Stretch<'h> {
    history: &'h History,
    number: usize,
    samples: Range<usize>,
}

impl History {
    /// The samples of a range in their order, in stretches. Those at its ends may be cut.
    pub(crate) fn stretches(
        &self,
        range: Range<usize>,
    ) -> impl DoubleEndedIterator<Item = Stretch<'_>> + Clone {
        let Range { start, end } = range.start..range.end.min(self.len());
        let numbers = if start < end { start / STRETCH..end.div_ceil(STRETCH) } else { 0..0 };
        numbers.map(move |number| {
            let from = number * STRETCH;
            Stretch { history: self, number, samples: from.max(start)..(from + STRETCH).min(end) }
        })
    }
}

impl History {
    /// Whether what goes through the whole log should do so on two cores: a hundred thousand samples take
    /// some milliseconds, a thread a tenth of one.
    pub(crate) fn is_worth_a_thread(&self) -> bool {
        self.len() >= 100_000
    }

    /// Finds what all stretches come to, on two cores where that is worth a thread. Else it is found when
    /// it is first asked for.
    pub(crate) fn sum_up(&self) {
        if !self.is_worth_a_thread() || self.slab.is_summed() {
            return;
        }
        std::thread::scope(|scope| {
            scope.spawn(|| {
                (self.slab.sums().len(), self.air.sums().len(), self.time_s.sums().len())
            });
            self.air_rh.sums();
            self.supply.sums();
            self.interval_s.sums();
        });
    }
}

impl<'h> Stretch<'h> {
    /// Its samples, as places in the history.
    pub(crate) fn samples(&self) -> Range<usize> {
        self.samples.clone()
    }

    /// The times of its first and of its last sample.
    pub(crate) fn times(&self) -> Option<(i64, i64)> {
        let time_s = |i: usize| self.history.time_s.get(i).copied();
        Some((time_s(self.samples.start)?, time_s(self.samples.end.checked_sub(1)?)?))
    }

    /// `None` for what a range leaves of a stretch: that has to be looked through.
    pub(crate) fn whole(&self) -> Option<Whole<'h>> {
        self.around().filter(|whole| self.samples.len() == whole.len)
    }

    /// The whole stretch of which it is all or a part.
    pub(crate) fn around(&self) -> Option<Whole<'h>> {
        let first = self.number * STRETCH;
        let len = self.history.len().checked_sub(first)?.min(STRETCH);
        let time_s = |i: usize| self.history.time_s.get(i).copied();
        Some(Whole {
            history: self.history,
            number: self.number,
            from_s: time_s(first)?,
            to_s: time_s(first + len.checked_sub(1)?)?,
            len,
        })
    }

    /// The least and the greatest reading of a channel; `None` without any.
    pub(crate) fn ends(&self, channel: Channel) -> Option<[f64; 2]> {
        if let Some(whole) = self.whole() {
            return whole.readings(channel).ends;
        }
        let readings = self.samples().filter_map(|i| self.history.value(channel, i).ok());
        readings.fold(None, |ends: Option<[f64; 2]>, value| {
            let [least, greatest] = ends.unwrap_or([value; 2]);
            Some([least.min(value), greatest.max(value)])
        })
    }
}

/// A stretch with all its samples, and what they come to.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Whole<'h> {
    history: &'h History,
    number: usize,
    /// Time of the first sample.
    pub(crate) from_s: i64,
    /// Time of the last sample.
    pub(crate) to_s: i64,
    len: usize,
}

impl Whole<'_> {
    /// What the readings of a channel come to.
    pub(crate) fn readings(&self, channel: Channel) -> Readings {
        let sums = match channel {
            Channel::Slab => self.history.slab.sums(),
            Channel::Air => self.history.air.sums(),
            Channel::AirRh => self.history.air_rh.sums(),
            Channel::Supply => self.history.supply.sums(),
        };
        sums.get(self.number).copied().unwrap_or(Readings::NONE)
    }

    /// The least and the greatest reading of a channel, when every sample has one.
    pub(crate) fn full(&self, channel: Channel) -> Option<[f64; 2]> {
        let Readings { ends, count } = self.readings(channel);
        ends.filter(|_| count == self.len)
    }

    /// Whether no two neighbouring samples are further apart than a gap may be.
    pub(crate) fn is_joined(&self, gap_max_s: i64) -> bool {
        self.step_max_s() <= gap_max_s
    }

    /// The longest step from one sample to the next, in seconds.
    pub(crate) fn step_max_s(&self) -> i64 {
        self.history.time_s.sums().get(self.number).copied().unwrap_or(i64::MAX)
    }

    /// The least nominal interval, in seconds.
    pub(crate) fn interval_min_s(&self) -> i64 {
        self.history.interval_s.sums().get(self.number).copied().map_or(0, i64::from)
    }

    /// The nominal interval of the last sample, in seconds.
    pub(crate) fn last_interval_s(&self) -> i64 {
        let last = self.number * STRETCH + self.len - 1;
        self.history.interval_s.get(last).copied().map_or(0, i64::from)
    }

    /// Whether no sample around it bears the time of one of its own.
    pub(crate) fn stands_apart(&self) -> bool {
        let first = self.number * STRETCH;
        let time_s = |i: usize| self.history.time_s.get(i).copied();
        first.checked_sub(1).and_then(time_s).is_none_or(|before_s| before_s < self.from_s)
            && time_s(first + self.len).is_none_or(|next_s| next_s > self.to_s)
    }
}

#[cfg(test)]
mod tests;
