//! Stretches against the samples themselves.

use super::*;
use glueday_types::{Absent, Sample};
use proptest::prelude::*;

type Row = (u16, u16, Option<i16>, Option<u16>);

/// Logs around the lengths at which stretches end, with steps and intervals of many lengths, probes
/// that do not answer, and samples at one time.
fn any_history() -> impl Strategy<Value = History> {
    let slab = prop_oneof![9 => (1_900_i16..2_100).prop_map(Some), 1 => Just(None)];
    let rh = prop_oneof![9 => (0_u16..10_000).prop_map(Some), 1 => Just(None)];
    let step = prop_oneof![6 => Just(60_u16), 2 => 0_u16..4_000, 1 => Just(0)];
    let row = (step, 1_u16..900, slab, rh);
    let length = prop_oneof![0_usize..260, 62_usize..67, 126_usize..131];
    length.prop_flat_map(move |length| prop::collection::vec(row.clone(), length)).prop_map(of)
}

fn of(rows: Vec<Row>) -> History {
    let mut history = History::default();
    let mut time_s = 1_700_000_000;
    for (step_s, interval_s, slab, rh) in rows {
        time_s += i64::from(step_s);
        let slab = slab.map(CentiCelsius).ok_or(Absent::NoAnswer);
        let sample = Sample {
            at_s: 0,
            slab,
            air: slab,
            air_rh: rh.map(CentiPercent).ok_or(Absent::BusFault),
            supply: Err(Absent::NotFitted),
        };
        history.push(time_s, interval_s, &sample);
    }
    history
}

fn values(history: &History, channel: Channel, samples: Range<usize>) -> Vec<f64> {
    samples.filter_map(|i| history.value(channel, i).ok()).collect()
}

fn naive_ends(values: &[f64]) -> Option<[f64; 2]> {
    let least = values.iter().copied().min_by(f64::total_cmp)?;
    Some([least, values.iter().copied().max_by(f64::total_cmp)?])
}

/// All that a whole stretch says of its samples.
fn check(history: &History, whole: &Whole<'_>, samples: Range<usize>) -> Result<(), TestCaseError> {
    for channel in Channel::ALL {
        let values = values(history, channel, samples.clone());
        let Readings { ends, count } = whole.readings(channel);
        prop_assert_eq!(ends, naive_ends(&values));
        prop_assert_eq!(count, values.len());
        let is_full = values.len() == samples.len();
        prop_assert_eq!(whole.full(channel), ends.filter(|_| is_full));
    }
    let times = &history.time_s[samples.clone()];
    prop_assert_eq!((whole.from_s, whole.to_s), (times[0], times[times.len() - 1]));
    let step_s = times.windows(2).map(|pair| pair[1] - pair[0]).max().unwrap_or(0);
    prop_assert_eq!(whole.step_max_s(), step_s);
    prop_assert!(whole.is_joined(step_s) && (step_s == 0 || !whole.is_joined(step_s - 1)));
    let intervals = &history.interval_s[samples.clone()];
    let last_s = intervals.last().copied().map(i64::from);
    prop_assert_eq!(Some(whole.last_interval_s()), last_s);
    prop_assert_eq!(Some(whole.interval_min_s()), intervals.iter().copied().map(i64::from).min());
    let shared = (0..history.len())
        .filter(|i| !samples.contains(i))
        .any(|i| times.contains(&history.time_s[i]));
    prop_assert_eq!(whole.stands_apart(), !shared);
    Ok(())
}

proptest! {
    #[test]
    fn stretches_say_what_their_samples_say(
        history in any_history(),
        from in 0_usize..270,
        to in 0_usize..270,
    ) {
        let end = to.min(history.len());
        let mut next = from;
        for stretch in history.stretches(from..to) {
            let samples = stretch.samples();
            prop_assert_eq!(samples.start, next, "one after the other");
            prop_assert!(!samples.is_empty());
            next = samples.end;
            let whole = samples.start % STRETCH == 0
                && (samples.len() == STRETCH || samples.end == history.len());
            prop_assert_eq!(stretch.whole().is_some(), whole, "{:?} of {}", samples, history.len());
            let times = (history.time_s[samples.start], history.time_s[samples.end - 1]);
            prop_assert_eq!(stretch.times(), Some(times));
            let around = stretch.around().map(|whole| (whole.from_s, whole.to_s));
            let first = samples.start / STRETCH * STRETCH;
            let last = (first + STRETCH).min(history.len()) - 1;
            prop_assert_eq!(around, Some((history.time_s[first], history.time_s[last])));
            for channel in Channel::ALL {
                let values = values(&history, channel, samples.clone());
                prop_assert_eq!(stretch.ends(channel), naive_ends(&values));
            }
            if let Some(whole) = stretch.whole() {
                check(&history, &whole, samples)?;
            }
        }
        prop_assert_eq!(next, end.max(from), "up to the end");
        let forth: Vec<_> = history.stretches(from..to).map(|s| s.samples()).collect();
        let mut back: Vec<_> = history.stretches(from..to).rev().map(|s| s.samples()).collect();
        back.reverse();
        prop_assert_eq!(forth, back);
    }

    #[test]
    fn a_changed_cell_changes_what_its_stretch_says(
        history in any_history(),
        at in any::<prop::sample::Index>(),
        rows in prop::collection::vec((0_u16..90, 1_u16..900, Just(Some(30_000)), Just(None)), 0..3),
    ) {
        let mut history = history;
        let asked = |history: &History| -> Result<(), TestCaseError> {
            for stretch in history.stretches(0..history.len()) {
                if let Some(whole) = stretch.whole() {
                    check(history, &whole, stretch.samples())?;
                }
            }
            Ok(())
        };
        asked(&history)?;
        if !history.is_empty() {
            let at = at.index(history.len());
            history.slab[at] = Ok(CentiCelsius(-30_000));
            history.air_rh[at] = Err(Absent::EmptyCell);
            history.interval_s[at] = 0;
            let last = history.len() - 1;
            history.time_s[last] += 100_000;
            asked(&history)?;
        }
        let more = of(rows);
        for i in 0..more.len() {
            history.time_s.push(more.time_s[i] + 1_000_000_000);
            history.interval_s.push(more.interval_s[i]);
            history.slab.push(more.slab[i]);
            history.air.push(more.air[i]);
            history.air_rh.push(more.air_rh[i]);
            history.supply.push(more.supply[i]);
        }
        asked(&history)?;
    }
}

#[test]
fn a_column_that_is_too_short_is_missing_in_what_it_lacks() {
    let mut history = of(vec![(60, 60, Some(2_000), Some(4_000)); 70]);
    history.slab = history.slab[..65].to_vec().into();
    history.air = Vec::new().into();
    let last = history.stretches(64..70).next().and_then(|stretch| stretch.whole()).unwrap();
    assert_eq!(last.readings(Channel::Slab), Readings { ends: Some([20.0; 2]), count: 1 });
    assert_eq!(last.full(Channel::Slab), None);
    assert_eq!(last.readings(Channel::Air), Readings::NONE);
    assert_eq!(last.full(Channel::AirRh), Some([40.0; 2]));
}

#[test]
fn columns_are_equal_by_their_cells_alone() {
    let (asked, other) = (of(vec![(60, 60, Some(1), None)]), of(vec![(60, 60, Some(1), None)]));
    let sums = asked.stretches(0..1).filter_map(|s| s.whole()?.full(Channel::Slab)).count();
    assert_eq!(sums, 1);
    assert_eq!(asked, other);
    let copy = asked.clone();
    assert_eq!((&copy, &asked), (&asked, &other));
    assert_eq!(format!("{:?}", asked.slab), "[Ok(CentiCelsius(1))]");
}
