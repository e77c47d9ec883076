//! From seconds since boot to UTC.
//!
//! Between two clock syncs of the same boot time runs linearly; beyond the first and the last it runs at
//! the logger's own rate, off by at most [`DRIFT_PPM`]. A sync that contradicts a later one is
//! dropped with a note: the later one was made by somebody who could see that it was needed.

/// How far a logger's clock may run off, in parts per million.
///
/// Typical for a tuning-fork crystal over -10 to 50 °C; from memory.
pub const DRIFT_PPM: f64 = 50.0;

/// What two syncs may differ by beyond the drift before they contradict each other, in seconds: the
/// clocks of two computers and the time that a sync takes.
const SYNC_TOLERANCE_S: i64 = 60;

/// A clock sync: a moment known in both times.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Anchor {
    /// Seconds since boot.
    pub at_s: u32,
    /// UTC in seconds since 1970-01-01.
    pub utc_s: i64,
}

/// A sync that a later one contradicts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClockNote {
    /// The boot.
    pub boot: u32,
    /// The sync that was dropped.
    pub dropped: Anchor,
    /// What it would have said at the later sync, minus what that one says, in seconds.
    pub off_s: i64,
}

/// The clock of one boot.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BootClock {
    /// In order of `at_s`, each later than the one before in both times.
    anchors: Vec<Anchor>,
}

impl BootClock {
    /// Makes the clock of boot `boot` from its syncs in the order in which they were written.
    #[must_use]
    pub fn new(boot: u32, syncs: &[Anchor]) -> (Self, Vec<ClockNote>) {
        let mut anchors: Vec<Anchor> = Vec::new();
        let mut notes = Vec::new();
        for sync in syncs.iter().rev() {
            let Some(later) = anchors.last() else {
                anchors.push(*sync);
                continue;
            };
            let elapsed_s = i64::from(later.at_s) - i64::from(sync.at_s);
            let off_s = sync.utc_s.saturating_add(elapsed_s).saturating_sub(later.utc_s);
            if off_s.unsigned_abs() > tolerance_s(elapsed_s) {
                notes.push(ClockNote { boot, dropped: *sync, off_s });
            } else if elapsed_s > 0 && sync.utc_s < later.utc_s {
                anchors.push(*sync);
            }
        }
        anchors.reverse();
        notes.reverse();
        (Self { anchors }, notes)
    }

    /// UTC at `at_s` seconds since boot; `None` when the boot was never dated.
    #[must_use]
    pub fn utc_s(&self, at_s: u32) -> Option<i64> {
        let first = self.anchors.first()?;
        let last = self.anchors.last()?;
        let beyond =
            |anchor: &Anchor| anchor.utc_s.checked_add(i64::from(at_s) - i64::from(anchor.at_s));
        if at_s <= first.at_s {
            return beyond(first);
        }
        if at_s >= last.at_s {
            return beyond(last);
        }
        let after = self.anchors.partition_point(|anchor| anchor.at_s <= at_s);
        let (a, b) = (self.anchors.get(after.checked_sub(1)?)?, self.anchors.get(after)?);
        let (elapsed, whole) = (u64::from(at_s - a.at_s), u64::from(b.at_s - a.at_s));
        if let Some(Ok(utc)) = b.utc_s.checked_sub(a.utc_s).map(u32::try_from) {
            // The clocks ran alike, as that of an imported file always does.
            let same = u64::from(utc) == whole;
            let since = if same { elapsed } else { (elapsed * u64::from(utc) + whole / 2) / whole };
            return a.utc_s.checked_add_unsigned(since);
        }
        let (elapsed, whole) = (i128::from(elapsed), i128::from(whole));
        let utc = i128::from(b.utc_s) - i128::from(a.utc_s);
        i64::try_from(i128::from(a.utc_s) + (elapsed * utc + whole / 2).div_euclid(whole)).ok()
    }

    /// UTC at each of `at_s`, as [`BootClock::utc_s`] tells it.
    pub(super) fn utc_of<'s>(&'s self, at_s: &'s [u32]) -> impl Iterator<Item = Option<i64>> + 's {
        at_s.iter().map(|at_s| self.utc_s(*at_s))
    }

    /// Puts UTC at each of `at_s` behind `time_s`. `None` at the first that is not dated: what stands
    /// behind `time_s` then is of no use.
    pub(super) fn date(&self, at_s: &[u32], time_s: &mut Vec<i64>) -> Option<()> {
        // Where the clock ran at the logger's own rate there is nothing to do but to add.
        let mut alike: Option<(std::ops::RangeInclusive<u32>, i64)> = None;
        for some in at_s.chunks(64) {
            let ends = some.iter().fold([u32::MAX, 0], |[a, b], &at_s| [a.min(at_s), b.max(at_s)]);
            let covers = |(span, ahead_s): &(std::ops::RangeInclusive<u32>, i64)| {
                let is_time = |at_s: &u32| ahead_s.checked_add(i64::from(*at_s)).is_some();
                ends.iter().all(|at_s| span.contains(at_s) && is_time(at_s))
            };
            if !alike.as_ref().is_some_and(covers) {
                alike = some.first().and_then(|at_s| self.alike(*at_s)).filter(covers);
            }
            match &alike {
                // Neither end overflows, and so nothing between them does.
                Some((_, ahead_s)) => time_s.extend(some.iter().map(|s| ahead_s + i64::from(*s))),
                None => {
                    for utc_s in self.utc_of(some) {
                        time_s.push(utc_s?);
                    }
                }
            }
        }
        Some(())
    }

    /// The span around `at_s` in which the clock runs at the logger's own rate, and what it is ahead of
    /// the seconds since boot there.
    fn alike(&self, at_s: u32) -> Option<(std::ops::RangeInclusive<u32>, i64)> {
        let ahead_s = |anchor: &Anchor| anchor.utc_s.checked_sub(i64::from(anchor.at_s));
        let after = self.anchors.partition_point(|anchor| anchor.at_s <= at_s);
        let before = after.checked_sub(1).and_then(|before| self.anchors.get(before));
        match (before, self.anchors.get(after)) {
            (Some(a), Some(b)) => {
                let same = ahead_s(a).filter(|s| ahead_s(b) == Some(*s));
                Some((a.at_s..=b.at_s, same?))
            }
            (Some(last), None) => Some((last.at_s..=u32::MAX, ahead_s(last)?)),
            (None, Some(first)) => Some((0..=first.at_s, ahead_s(first)?)),
            (None, None) => None,
        }
    }

    /// How far the time at `at_s` may be off, in seconds; `None` when the boot was never dated.
    #[must_use]
    pub fn uncertainty_s(&self, at_s: u32) -> Option<f64> {
        let nearest = self.anchors.iter().map(|anchor| anchor.at_s.abs_diff(at_s)).min()?;
        // One second for the whole seconds that a sync carries.
        Some(1.0 + f64::from(nearest) * DRIFT_PPM * 1e-6)
    }
}

/// What two syncs `elapsed_s` apart may differ by.
fn tolerance_s(elapsed_s: i64) -> u64 {
    // 50 ppm is one second in 20,000.
    elapsed_s.unsigned_abs().div_ceil(20_000).saturating_add(SYNC_TOLERANCE_S.unsigned_abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn anchor(at_s: u32, utc_s: i64) -> Anchor {
        Anchor { at_s, utc_s }
    }

    #[test]
    fn without_a_sync_nothing_is_dated() {
        let (clock, notes) = BootClock::new(1, &[]);
        assert_eq!(clock.utc_s(0), None);
        assert_eq!(clock.uncertainty_s(0), None);
        assert!(notes.is_empty());
    }

    #[test]
    fn one_sync_dates_the_whole_boot_at_the_loggers_own_rate() {
        let (clock, _) = BootClock::new(1, &[anchor(1_000, 5_000)]);
        assert_eq!(clock.utc_s(0), Some(4_000));
        assert_eq!(clock.utc_s(1_000), Some(5_000));
        assert_eq!(clock.utc_s(3_600), Some(7_600));
        // Eight weeks away: 4,838,400 s at 50 ppm is 242 s, and one for the whole second.
        let off = clock.uncertainty_s(1_000 + 4_838_400).unwrap();
        assert!((off - 242.92).abs() < 0.01, "{off}");
    }

    #[test]
    fn between_two_syncs_time_is_linear() {
        // The logger ran 10 s slow over 200,000 s (50 ppm).
        let (clock, notes) = BootClock::new(1, &[anchor(0, 0), anchor(200_000, 200_010)]);
        assert!(notes.is_empty());
        assert_eq!(clock.utc_s(100_000), Some(100_005));
        assert_eq!(clock.utc_s(20_000), Some(20_001));
    }

    #[test]
    fn many_times_at_once_are_told_as_each_alone() {
        let clocks = [
            vec![anchor(500, 10_500)],
            // At the logger's rate, slower, at its rate, faster, at its rate.
            vec![anchor(100, 0), anchor(200, 100), anchor(400, 310), anchor(600, 510)],
            vec![anchor(700, i64::MAX - 20), anchor(710, i64::MAX - 10)],
            vec![anchor(700, i64::MIN + 100), anchor(710, i64::MAX - 10)],
            vec![],
        ];
        let times: Vec<u32> = (0..900).chain((0..900).rev()).chain([u32::MAX, 0, 450]).collect();
        for anchors in clocks {
            let clock = BootClock { anchors };
            // From each place on, so that the parts that are dated at once begin everywhere.
            for times in (0..70).map(|from| &times[from..]) {
                let alone: Option<Vec<_>> = times.iter().map(|at_s| clock.utc_s(*at_s)).collect();
                let mut at_once = vec![7];
                let dated = clock.date(times, &mut at_once);
                assert_eq!(dated.map(|()| at_once.split_off(1)), alone, "{clock:?}");
            }
        }
    }

    #[test]
    fn a_contradicted_sync_is_dropped_with_a_note() {
        // The first computer was an hour fast.
        let syncs = [anchor(100, 3_600 + 100), anchor(86_500, 86_500)];
        let (clock, notes) = BootClock::new(3, &syncs);
        assert_eq!(clock.utc_s(100), Some(100));
        assert_eq!(notes, [ClockNote { boot: 3, dropped: syncs[0], off_s: 3_600 }]);
    }

    #[test]
    fn the_tolerance_is_a_minute_and_the_drift() {
        for (off_s, dropped) in [(60, false), (-61, false), (62, true), (-62, true)] {
            // 20,000 s apart: one second of drift and sixty.
            let syncs = [anchor(0, off_s), anchor(20_000, 20_000)];
            let (_, notes) = BootClock::new(1, &syncs);
            assert_eq!(!notes.is_empty(), dropped, "{off_s} s off");
        }
    }

    #[test]
    fn two_syncs_in_the_same_second_keep_time_running_forwards() {
        let (clock, notes) = BootClock::new(1, &[anchor(500, 1_020), anchor(505, 1_000)]);
        assert!(notes.is_empty());
        assert_eq!(clock.utc_s(500), Some(995));
        assert_eq!(clock.utc_s(505), Some(1_000));
    }
}
