//! The marks of the time axis, on the clock of the site.

use super::scale::TimeScale;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan as _, ZonedDateTime};

/// A mark of the axis.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Tick {
    pub(super) time_s: i64,
    pub(super) label: String,
    /// The larger unit that it is in: day, month or year.
    pub(super) context: String,
}

/// Where the clocks of the site change.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct ClockChange {
    pub(super) time_s: i64,
    /// Such as "clocks +1 h".
    pub(super) label: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    Hours(i8),
    Days(i32),
    Months(i32),
}

const STEPS: [(Step, f64); 16] = {
    const HOUR: f64 = 3600.0;
    const DAY: f64 = 24.0 * HOUR;
    [
        (Step::Hours(1), HOUR),
        (Step::Hours(3), 3.0 * HOUR),
        (Step::Hours(6), 6.0 * HOUR),
        (Step::Hours(12), 12.0 * HOUR),
        (Step::Days(1), DAY),
        (Step::Days(2), 2.0 * DAY),
        (Step::Days(7), 7.0 * DAY),
        (Step::Days(14), 14.0 * DAY),
        (Step::Months(1), 28.0 * DAY),
        (Step::Months(3), 90.0 * DAY),
        (Step::Months(6), 181.0 * DAY),
        (Step::Months(12), 365.0 * DAY),
        (Step::Months(24), 730.0 * DAY),
        (Step::Months(60), 1826.0 * DAY),
        (Step::Months(120), 3652.0 * DAY),
        (Step::Months(1200), 36_524.0 * DAY),
    ]
};

/// Marks that leave each label `label_width` pixels of room.
pub(super) fn ticks(scale: TimeScale, zone: &TimeZone, label_width: f64) -> Vec<Tick> {
    let room_s = label_width / scale.pixels_per_s();
    let (step, _) = STEPS
        .into_iter()
        .find(|(_, seconds)| *seconds >= room_s)
        .unwrap_or((Step::Months(1200), 0.0));
    let mut ticks: Vec<Tick> = Vec::new();
    for zoned in times(scale, zone, step) {
        let time_s = zoned.timestamp().as_second();
        if !scale.holds(time_s) || ticks.last().is_some_and(|last| last.time_s >= time_s) {
            continue;
        }
        let (label, context) = match step {
            Step::Hours(_) => ("%H:%M", "%a %-d %b %Y"),
            Step::Days(_) => ("%a %-d", "%B %Y"),
            Step::Months(..12) => ("%b", "%Y"),
            Step::Months(_) => ("%Y", ""),
        };
        let show = |format: &str| zoned.strftime(format).to_string();
        ticks.push(Tick { time_s, label: show(label), context: show(context) });
    }
    ticks
}

/// The local midnights, to draw a fine line at each.
pub(super) fn midnights(scale: TimeScale, zone: &TimeZone) -> Vec<i64> {
    let times = times(scale, zone, Step::Days(1)).into_iter();
    times.map(|z| z.timestamp().as_second()).filter(|t| scale.holds(*t)).collect()
}

/// Where the clocks change, when there are few such times.
pub(super) fn clock_changes(scale: TimeScale, zone: &TimeZone) -> Vec<ClockChange> {
    let Ok(from) = Timestamp::from_second(scale.from_s) else {
        return Vec::new();
    };
    let mut offset = zone.to_offset(from);
    let mut changes = Vec::new();
    for transition in zone.following(from).take(5) {
        let time_s = transition.timestamp().as_second();
        if time_s > scale.to_s {
            break;
        }
        let by_s = transition.offset().seconds() - offset.seconds();
        offset = transition.offset();
        if by_s != 0 {
            let hours = f64::from(by_s.abs()) / 3600.0;
            let sign = if by_s > 0 { "+" } else { "−" };
            changes.push(ClockChange { time_s, label: format!("clocks {sign}{hours} h") });
        }
    }
    if changes.len() > 3 { Vec::new() } else { changes }
}

/// Local times a step apart that cover the scale.
fn times(scale: TimeScale, zone: &TimeZone, step: Step) -> Vec<ZonedDateTime> {
    let local = |time_s: i64| {
        Timestamp::from_second(time_s).ok().map(|t| t.to_zoned_datetime(zone.clone()).date())
    };
    let (Some(first), Some(last)) = (local(scale.from_s), local(scale.to_s)) else {
        return Vec::new();
    };
    // Each date is counted anew from the calendar, so that days of 23 or 25 h do not shift it.
    let mut times = Vec::new();
    let mut date = Some(first_date(first, step));
    while let Some(day) = date.filter(|day| *day <= last) {
        let hours = if let Step::Hours(every) = step { every } else { 24 };
        let mut hour = 0;
        while hour < 24 {
            times.extend(day.at(hour, 0, 0, 0).to_zoned_datetime(zone.clone()).ok());
            hour += hours;
        }
        date = match step {
            Step::Hours(_) => day.checked_add(1.day()).ok(),
            Step::Days(days) => day.checked_add(days.days()).ok(),
            Step::Months(months) => day.checked_add(months.months()).ok(),
        };
    }
    times
}

/// The date no later than the first from which a step counts: weeks begin on Monday.
fn first_date(first: Date, step: Step) -> Date {
    match step {
        Step::Hours(_) | Step::Days(..7) => first,
        Step::Days(_) => {
            let since = first.weekday().to_monday_zero_offset();
            first.checked_sub(i32::from(since).days()).unwrap_or(first)
        }
        Step::Months(months) => {
            let month = i32::from(first.month()) - 1;
            let year = i32::from(first.year());
            let start = (year * 12 + month).div_euclid(months) * months;
            let year = i16::try_from(start.div_euclid(12)).unwrap_or(first.year());
            let month = i8::try_from(start.rem_euclid(12) + 1).unwrap_or(1);
            Date::new(year, month, 1).unwrap_or(first)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scale(from: &str, to: &str, width: f64) -> (TimeScale, TimeZone) {
        let zone = TimeZone::get("America/Denver").unwrap();
        let at = |text: &str| {
            let local: jiff::civil::DateTime = text.parse().unwrap();
            local.to_zoned_datetime(zone.clone()).unwrap().timestamp().as_second()
        };
        (TimeScale { from_s: at(from), to_s: at(to), x0: 0.0, x1: width }, zone)
    }

    /// In 2026 the clocks of Denver go forward on 8 March at 02:00 and back on 1 November at 02:00
    /// (IANA time zone database).
    #[test]
    fn days_of_23_and_25_hours_keep_midnight() {
        for (from, to, hours) in [
            ("2026-03-07T00:00", "2026-03-10T00:00", [24, 23, 24]),
            ("2026-10-31T00:00", "2026-11-03T00:00", [24, 25, 24]),
        ] {
            let (scale, zone) = scale(from, to, 300.0);
            let ticks = ticks(scale, &zone, 60.0);
            let lengths: Vec<i64> =
                ticks.windows(2).map(|p| (p[1].time_s - p[0].time_s) / 3600).collect();
            assert_eq!(lengths, hours);
        }
    }

    #[test]
    fn clock_changes_are_named() {
        let (scale, zone) = scale("2026-03-07T00:00", "2026-03-10T00:00", 300.0);
        let changes = clock_changes(scale, &zone);
        // 02:00 MST is 09:00 UTC.
        let at = "2026-03-08T09:00Z".parse::<Timestamp>().unwrap().as_second();
        assert_eq!(changes, [ClockChange { time_s: at, label: "clocks +1 h".to_owned() }]);
    }

    #[test]
    fn hours_that_do_not_exist_are_marked_once() {
        let (scale, zone) = scale("2026-03-08T00:00", "2026-03-08T06:00", 600.0);
        let ticks = ticks(scale, &zone, 60.0);
        let labels: Vec<&str> = ticks.iter().map(|tick| tick.label.as_str()).collect();
        assert_eq!(labels, ["00:00", "01:00", "03:00", "04:00", "05:00", "06:00"]);
    }

    #[test]
    fn long_spans_are_marked_by_weeks_months_and_years() {
        let first = |from, to| {
            let (scale, zone) = scale(from, to, 600.0);
            let ticks = ticks(scale, &zone, 60.0);
            (ticks[0].label.clone(), ticks[0].context.clone(), ticks.len())
        };
        assert_eq!(
            first("2026-03-04T12:00", "2026-05-04T12:00"),
            ("Mon 9".into(), "March 2026".into(), 9)
        );
        assert_eq!(first("2026-01-15T12:00", "2026-09-04T12:00"), ("Feb".into(), "2026".into(), 8));
        assert_eq!(first("2016-02-01T00:00", "2026-02-01T00:00"), ("2018".into(), "".into(), 5));
    }
}
