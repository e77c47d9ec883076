//! Reading a year of one-minute readings of all four channels: 525,600 rows.
//!
//! That is the largest file that is likely: what a user waits for besides the disk.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot start may stop")]

use std::fmt::Write as _;

use divan::Bencher;
use divan::counter::{BytesCount, ItemsCount};
use glueday::intake::{Mapping, read};

const MINUTES: u32 = 365 * 24 * 60;

fn main() {
    divan::main();
}

/// A year from 2021-01-01 with `time` writing the time of day's date, hour and minute.
fn year(header: &str, row: impl Fn(&mut String, Moment, [u32; 4])) -> String {
    let mut text = String::from(header);
    let months = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let mut i = 0;
    for (month, days) in (1..).zip(months) {
        for minute in 0..days * 24 * 60 {
            let moment = Moment {
                month,
                day: minute / 1440 + 1,
                hour: minute / 60 % 24,
                minute: minute % 60,
            };
            let noise = 2_654_435_761_u32.wrapping_mul(i) >> 24;
            let values = [1950 + i / 60 % 300, 2000 + noise, 3800 + i / 97 % 1200, 2800 + noise];
            row(&mut text, moment, values);
            i = i.wrapping_add(1);
        }
    }
    assert_eq!(i, MINUTES);
    text
}

#[derive(Clone, Copy)]
struct Moment {
    month: u32,
    day: u32,
    hour: u32,
    minute: u32,
}

fn run(bencher: Bencher<'_, '_>, text: &str, zone: &str, format: Option<&str>) {
    let time_format = format.map(|format| format.parse().unwrap());
    let mapping = Mapping { zone: Some(zone.parse().unwrap()), time_format, ..Mapping::default() };
    assert_eq!(read(text.as_bytes(), "year.csv", &mapping).unwrap().rows.len(), MINUTES as usize);
    bencher
        .counter(ItemsCount::new(MINUTES))
        .counter(BytesCount::of_str(text))
        .bench(|| read(divan::black_box(text.as_bytes()), "year.csv", &mapping));
}

/// Commas, points, year first, a fixed offset: what most loggers write.
#[divan::bench(sample_count = 30)]
fn plain(bencher: Bencher<'_, '_>) {
    let text = year("time,slab,air,rh,supply\n", |text, at, values| {
        let Moment { month, day, hour, minute } = at;
        write!(text, "2021-{month:02}-{day:02} {hour:02}:{minute:02}:00").unwrap();
        for v in values {
            write!(text, ",{}.{:02}", v / 100, v % 100).unwrap();
        }
        text.push('\n');
    });
    run(bencher, &text, "+02:00", None);
}

/// The same with `T` and no seconds, in a named zone: one that keeps its offset, since the rows have
/// no gap for the hour that the clock would skip.
#[divan::bench(sample_count = 30)]
fn iana_zone(bencher: Bencher<'_, '_>) {
    let text = year("time,slab,air,rh,supply\n", |text, at, values| {
        let Moment { month, day, hour, minute } = at;
        write!(text, "2021-{month:02}-{day:02}T{hour:02}:{minute:02}").unwrap();
        for v in values {
            write!(text, ",{}.{:02}", v / 100, v % 100).unwrap();
        }
        text.push('\n');
    });
    run(bencher, &text, "America/Phoenix", None);
}

/// Semicolons, decimal commas, quotes, day first, Fahrenheit: the long way through every step.
#[divan::bench(sample_count = 30)]
fn quoted(bencher: Bencher<'_, '_>) {
    let text = year("time;slab [F];air [F];rh;supply [F]\r\n", |text, at, values| {
        let Moment { month, day, hour, minute } = at;
        write!(text, "\"{day}/{month}/2021 {hour}:{minute:02}\"").unwrap();
        for v in values {
            write!(text, ";\"{},{:02}\"", v / 100, v % 100).unwrap();
        }
        text.push_str("\r\n");
    });
    run(bencher, &text, "UTC", None);
}

/// Commas, points, month first with AM and PM.
#[divan::bench(sample_count = 30)]
fn am_pm(bencher: Bencher<'_, '_>) {
    let text = year("time,slab,air,rh,supply\n", |text, at, values| {
        let Moment { month, day, hour, minute } = at;
        let (half, hour) = (if hour < 12 { "AM" } else { "PM" }, (hour + 11) % 12 + 1);
        write!(text, "{month}/{day}/2021 {hour}:{minute:02}:00 {half}").unwrap();
        for v in values {
            write!(text, ",{}.{:02}", v / 100, v % 100).unwrap();
        }
        text.push('\n');
    });
    run(bencher, &text, "UTC", None);
}

/// A pattern: the slowest of the time formats.
#[divan::bench(sample_count = 30)]
fn pattern(bencher: Bencher<'_, '_>) {
    let text = year("time,slab,air,rh,supply\n", |text, at, values| {
        let Moment { month, day, hour, minute } = at;
        write!(text, "2021{month:02}{day:02}{hour:02}{minute:02}").unwrap();
        for v in values {
            write!(text, ",{}.{:02}", v / 100, v % 100).unwrap();
        }
        text.push('\n');
    });
    run(bencher, &text, "UTC", Some("%Y%m%d%H%M"));
}
