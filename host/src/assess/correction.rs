//! Readings corrected by what the checks of their probes found.
//!
//! The log itself is never changed: corrections are made on the way to a verdict, from the checks that
//! the job file gives.

use std::borrow::Cow;

use glueday_types::{Absent, CentiCelsius, CentiPercent, Reading};
use jiff::civil::Date;

use crate::history::{Channel, History};
use crate::job::{self, Job, Zone};

/// The checks that one probe went through on one day.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct CheckDay {
    /// The day, on the clock of the site.
    pub(super) date: Date,
    /// When it began, in seconds of UTC: its corrections hold from here on.
    pub(super) from_s: i64,
    /// What the probe read, and by how much it was above the known value; by rising reading.
    pub(super) found: Vec<(f64, f64)>,
}

/// The channel as job files name it.
pub(super) fn job_channel(channel: Channel) -> job::Channel {
    match channel {
        Channel::Slab => job::Channel::Slab,
        Channel::Air => job::Channel::Air,
        Channel::AirRh => job::Channel::Rh,
        Channel::Supply => job::Channel::Supply,
    }
}

/// The days on which the probe of a channel was checked, in order of time.
pub(super) fn check_days(job: &Job, room: &str, channel: Channel) -> Vec<CheckDay> {
    let Some(probe) = job.probe(room, job_channel(channel)) else { return Vec::new() };
    let mut days: Vec<CheckDay> = Vec::new();
    for check in &probe.checks {
        let begins = check.date.to_zoned_datetime(job.site.time_zone.clone());
        let Ok(from_s) = begins.map(|time| time.timestamp().as_second()) else { continue };
        let found = (check.reading, check.error());
        match days.iter_mut().find(|day| day.date == check.date) {
            Some(day) => day.found.push(found),
            None => days.push(CheckDay { date: check.date, from_s, found: vec![found] }),
        }
    }
    for day in &mut days {
        day.found.sort_by(|a, b| a.0.total_cmp(&b.0));
    }
    days.sort_by_key(|day| day.from_s);
    days
}

impl CheckDay {
    /// By how much the probe reads too high where it reads `reading`: on the straight line between the
    /// two points that it was checked at around it, and as at the nearest point beyond them. Of points
    /// with the same reading the first is taken.
    pub(super) fn error_at(&self, reading: f64) -> f64 {
        let above = self.found.partition_point(|(at, _)| *at < reading);
        let below = above.checked_sub(1).and_then(|i| self.found.get(i));
        match (below, self.found.get(above)) {
            (Some(&(low, at_low)), Some(&(high, at_high))) => {
                at_low + (at_high - at_low) * (reading - low) / (high - low)
            }
            (Some(&(_, error)), None) | (None, Some(&(_, error))) => error,
            (None, None) => 0.0,
        }
    }

    /// Whether it corrects anything, to the last digit of a reading.
    pub(super) fn corrects(&self) -> bool {
        self.found.iter().any(|(_, error)| error.abs() >= 0.005)
    }
}

/// The history of a zone with each reading corrected by the latest checks of its probe: those of the
/// last day with any up to then, by the clock of the site. What was read before the first check stays
/// as it is, and so does everything without checks.
#[must_use]
pub fn corrected<'a>(job: &Job, zone: &Zone, history: &'a History) -> Cow<'a, History> {
    let mut history = Cow::Borrowed(history);
    for channel in Channel::ALL {
        let days = check_days(job, &zone.name, channel);
        if !days.iter().any(CheckDay::corrects) {
            continue;
        }
        let History { time_s, slab, air, air_rh, supply, .. } = history.to_mut();
        let celsius = |value: f64| CentiCelsius::from_celsius(value).ok_or(Absent::OutOfRange);
        // A dry corner that the probe reads too high is no less than dry.
        let percent =
            |value: f64| CentiPercent::from_percent(value.max(0.0)).ok_or(Absent::OutOfRange);
        match channel {
            Channel::Slab => correct(time_s, slab, &days, CentiCelsius::celsius, celsius),
            Channel::Air => correct(time_s, air, &days, CentiCelsius::celsius, celsius),
            Channel::AirRh => correct(time_s, air_rh, &days, CentiPercent::percent, percent),
            Channel::Supply => correct(time_s, supply, &days, CentiCelsius::celsius, celsius),
        }
    }
    history
}

/// Corrects one column.
fn correct<T: Copy>(
    time_s: &[i64],
    column: &mut [Reading<T>],
    days: &[CheckDay],
    from: impl Fn(T) -> f64,
    to: impl Fn(f64) -> Reading<T>,
) {
    let mut days = days.iter().peekable();
    let mut in_force: Option<&CheckDay> = None;
    for (time_s, reading) in time_s.iter().zip(column) {
        while let Some(day) = days.next_if(|day| day.from_s <= *time_s) {
            in_force = Some(day);
        }
        if let (Some(day), Ok(raw)) = (in_force, *reading) {
            let raw = from(raw);
            *reading = to(raw - day.error_at(raw));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(found: &[(f64, f64)]) -> CheckDay {
        CheckDay { date: Date::constant(2026, 3, 2), from_s: 0, found: found.to_vec() }
    }

    #[test]
    fn one_point_corrects_everything_by_the_same() {
        let ice = day(&[(0.3, 0.3)]);
        assert_eq!([ice.error_at(-5.0), ice.error_at(0.3), ice.error_at(40.0)], [0.3; 3]);
    }

    #[test]
    fn two_salts_correct_on_the_line_between_them_and_no_further() {
        // 33.1 % read as 34.1, 75.5 % read as 73.5.
        let salts = day(&[(34.1, 1.0), (73.5, -2.0)]);
        assert_eq!(salts.error_at(20.0), 1.0);
        assert_eq!(salts.error_at(34.1), 1.0);
        assert!((salts.error_at(53.8) - -0.5).abs() < 1e-12, "half way");
        assert_eq!(salts.error_at(90.0), -2.0);
    }

    #[test]
    fn a_check_counts_from_its_day_on_until_the_next() {
        let mut days = vec![day(&[(20.0, 1.0)]), day(&[(20.0, -1.0)])];
        days[0].from_s = 100;
        days[1].from_s = 200;
        let mut column = vec![Ok(CentiCelsius(2000)); 5];
        column[3] = Err(Absent::NoAnswer);
        correct(&[99, 100, 199, 199, 200], &mut column, &days, CentiCelsius::celsius, |value| {
            CentiCelsius::from_celsius(value).ok_or(Absent::OutOfRange)
        });
        let expected = [Ok(2000), Ok(1900), Ok(1900), Err(Absent::NoAnswer), Ok(2100)];
        assert_eq!(column, expected.map(|reading| reading.map(CentiCelsius)));
    }
}
