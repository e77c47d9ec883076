//! The energy budget of the battery board: every line and sum of the tables in its README, done again.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

use glueday_firmware::indicator::State;
use std::collections::HashMap;

const HOURS: f64 = 8.0 * 7.0 * 24.0;
/// The two sampling intervals of the table, in seconds.
const INTERVALS_S: [f64; 2] = [600.0, 60.0];
/// Samples that one block of the log holds: 8 bytes each and some more.
const SAMPLES_PER_BLOCK: f64 = 500.0;
/// The factor in hand that the board must have.
const FACTOR_MIN: f64 = 2.0;

fn readme() -> String {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../firmware/boards/battery/README.md");
    std::fs::read_to_string(path).unwrap()
}

/// The rows of the table whose header begins with the cell `first`.
fn table(text: &str, first: &str) -> Vec<Vec<String>> {
    let cells = |line: &str| -> Vec<String> {
        line.trim_matches('|').split('|').map(|cell| cell.trim().to_owned()).collect()
    };
    let rows: Vec<_> = text
        .lines()
        .skip_while(|line| !line.starts_with(&format!("| {first} |")))
        .skip(2)
        .take_while(|line| line.starts_with('|'))
        .map(cells)
        .collect();
    assert!(rows.len() > 3, "no table of {first}");
    rows
}

fn number(cell: &str) -> f64 {
    let cell = cell.trim_end_matches('%').trim();
    cell.parse().unwrap_or_else(|_| panic!("{cell:?} is no number"))
}

/// The number printed is this one, to the last of its digits.
fn agrees(cell: &str, value: f64, line: &str) {
    let decimals =
        cell.trim_end_matches('%').trim().split_once('.').map_or(0, |(_, behind)| behind.len());
    let half_digit = 0.5 * 10_f64.powi(-i32::try_from(decimals).unwrap());
    assert!((number(cell) - value).abs() <= half_digit * 1.001, "{line}: {cell} is {value:.4}");
}

struct Counts(HashMap<String, f64>);

impl Counts {
    fn of(text: &str) -> Self {
        let rows = table(text, "count");
        Self(rows.iter().map(|row| (row[0].clone(), number(&row[1]))).collect())
    }

    /// Milliseconds, given as such or as a count of instructions.
    fn ms(&self, cell: &str) -> f64 {
        if !cell.starts_with("INSTRUCTIONS") {
            return number(cell);
        }
        let cycles = self.0[cell] * self.0["cycles for one instruction"];
        cycles / (self.0["processor clock, MHz"] * 1000.0)
    }

    /// What a row of the budget takes in eight weeks.
    fn mah(&self, row: &[String], interval_s: f64) -> f64 {
        let (ma, time, every) = (number(&row[1]), row[2].as_str(), row[3].as_str());
        let period_s = match every {
            "always" => {
                assert_eq!(time, "always", "{}", row[0]);
                return ma * HOURS;
            }
            "sample" => interval_s,
            "block" => interval_s * SAMPLES_PER_BLOCK,
            _ => number(every.strip_suffix(" s").unwrap()),
        };
        let share = self.ms(time) / 1000.0 / period_s;
        assert!(share < 1.0, "{}: it is on for longer than there is time", row[0]);
        ma * share * HOURS
    }
}

/// What is used in eight weeks at each interval.
fn sums(text: &str) -> [f64; 2] {
    let counts = Counts::of(text);
    let rows = table(text, "what");
    let (_, lines) = rows.split_last().unwrap();
    INTERVALS_S.map(|interval_s| lines.iter().map(|row| counts.mah(row, interval_s)).sum())
}

#[test]
fn every_line_and_the_sum_are_right() {
    let text = readme();
    let counts = Counts::of(&text);
    let rows = table(&text, "what");
    let (sum, lines) = rows.split_last().unwrap();
    assert_eq!(sum[0], "sum");
    assert!(lines.len() > 15, "lines are missing");
    let sums = sums(&text);
    for row in lines {
        assert_eq!(row.len(), 9, "{row:?}");
        assert!(!row[8].is_empty(), "{}: no source", row[0]);
        for (i, interval_s) in INTERVALS_S.into_iter().enumerate() {
            let mah = counts.mah(row, interval_s);
            agrees(&row[4 + 2 * i], mah, &row[0]);
            agrees(&row[5 + 2 * i], 100.0 * mah / sums[i], &row[0]);
        }
    }
    agrees(&sum[4], sums[0], "sum");
    agrees(&sum[6], sums[1], "sum");
}

#[test]
fn the_cells_have_the_factor_in_hand_that_is_stated() {
    let text = readme();
    let sums = sums(&text);
    let mut least = f64::INFINITY;
    for row in table(&text, "cells") {
        let mah = number(&row[2]);
        for (i, sum) in sums.iter().enumerate() {
            agrees(&row[3 + i], mah / sum, &row[0]);
            least = least.min(mah / sum);
        }
    }
    let stated = text.split("The least factor in hand is ").nth(1).unwrap();
    agrees(stated.split("**").next().unwrap(), least, "the least factor");
    assert!(least >= FACTOR_MIN, "{least}");

    // The worst that the text says of its own guesses: all rest currents and instructions tenfold.
    let counts = Counts::of(&text);
    let rows = table(&text, "what");
    let (_, lines) = rows.split_last().unwrap();
    let guessed = |row: &&Vec<String>| {
        let rests = row[2] == "always" && !row[0].starts_with("self-discharge");
        rests || row[2].starts_with("INSTRUCTIONS")
    };
    let more: f64 = lines.iter().filter(guessed).map(|row| 9.0 * counts.mah(row, 60.0)).sum();
    let in_a_heated_room = number(&table(&text, "cells")[0][2]);
    assert!(in_a_heated_room / (sums[1] + more) > FACTOR_MIN);
}

#[test]
fn the_budget_is_that_of_this_firmware() {
    let text = readme();
    let rows = table(&text, "what");
    let led = rows.iter().find(|row| row[0] == "LED").unwrap();
    let period_ms = State::Logging.period_ms();
    let lit_ms = (0..period_ms).filter(|ms| State::Logging.is_lit(*ms)).count();
    assert_eq!(led[2], lit_ms.to_string());
    assert_eq!(led[3], format!("{} s", period_ms / 1000));
}
