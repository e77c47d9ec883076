//! The log of a long job, of any length and always the same: what the benchmarks measure, and what the
//! instruction counts are taken over. The readings are invented, and made with integers alone, so that
//! they are the same on every machine.

use glueday::archive::{ImportRow, import_blocks};
use glueday::intake::{Mapping, option};
use glueday_types::{CentiCelsius, CentiPercent, LoggerId};
use std::fmt::Write as _;

/// 2025-01-01T00:00Z, the first sample.
pub const START_S: i64 = 1_735_689_600;
/// Samples of a year of minutes.
pub const YEAR: u32 = 525_600;

/// Who logged.
pub const LOGGER: LoggerId = LoggerId(*b"a-season");

/// What happens beside the readings: every so many samples some are left out.
const HOLES: [(u32, i64); 3] = [(2_503, 1), (9_973, 6), (120_011, 95)];

/// Sample `i`, one every `interval_s`, with the holes in the log before it.
#[must_use]
pub fn row(i: u32, interval_s: i64) -> ImportRow {
    let left_out: i64 = HOLES.iter().map(|(every, count)| i64::from(i / every) * count).sum();
    let utc_s = START_S + (i64::from(i) + left_out) * interval_s;
    let minute = (utc_s - START_S) / 60;
    let noise = |salt: u32, wide: i64| {
        let mixed = (i ^ salt).wrapping_mul(2_654_435_761);
        i64::from((mixed ^ (mixed >> 15)).wrapping_mul(2_246_822_519) >> 20) % (2 * wide + 1) - wide
    };
    let (day, week) = (swing(minute, 1_440), swing(minute, 10_080));
    // Two warm weeks a quarter, in which the slab passes 27 °C.
    let warm = if minute % 131_040 > 110_880 { swing(minute, 20_160) + 1000 } else { 0 };
    let slab = 2_080 + day * 80 / 1000 + week * 60 / 1000 + warm * 330 / 1000 + noise(1, 2);
    let air = 2_130 + day * 150 / 1000 + week * 90 / 1000 + warm * 120 / 1000 + noise(2, 3);
    let rh = 4_700 - day * 450 / 1000 + swing(minute, 43_200) * 900 / 1000 + noise(3, 12);
    // Run in from the 40th day on, then kept low.
    let base = match minute / 1_440 {
        40..44 => 2_350,
        44..50 => 4_300,
        _ => 2_700,
    };
    let supply = base - week * 120 / 1000 + noise(4, 15);
    ImportRow {
        utc_s,
        slab: celsius(slab),
        air: celsius(air),
        air_rh: Ok(CentiPercent(u16::try_from(rh).unwrap_or(0))),
        supply: celsius(supply),
        line: u64::from(i) + 2,
    }
}

/// A triangle between -1000 and 1000.
fn swing(minute: i64, period: i64) -> i64 {
    let phase = minute.rem_euclid(period) * 4000 / period;
    if phase < 2000 { phase - 1000 } else { 3000 - phase }
}

fn celsius(hundredths: i64) -> glueday_types::Reading<CentiCelsius> {
    Ok(CentiCelsius(i16::try_from(hundredths).unwrap_or(0)))
}

/// The first `samples` rows.
pub fn rows(samples: u32, interval_s: i64) -> impl Iterator<Item = ImportRow> {
    (0..samples).map(move |i| row(i, interval_s))
}

/// The log as blocks, with the time of its last sample.
///
/// # Panics
/// Without samples.
#[must_use]
#[allow(clippy::expect_used, reason = "only ever called by tests and benchmarks")]
pub fn blocks(samples: u32, interval_s: i64, logger: LoggerId) -> (Vec<Vec<u8>>, i64) {
    let rows: Vec<ImportRow> = rows(samples, interval_s).collect();
    let log = import_blocks(&rows, logger).expect("rows in order");
    (log.blocks, rows.last().expect("a sample").utc_s)
}

/// How [`csv`] is to be read.
#[must_use]
#[allow(clippy::expect_used, reason = "only ever called by tests and benchmarks")]
pub fn mapping() -> Mapping {
    let options = [
        (option::COLUMN, "time=ts"),
        (option::COLUMN, "slab=t_surf[C]"),
        (option::COLUMN, "air=t_air[C]"),
        (option::COLUMN, "rh=rh[%]"),
        (option::COLUMN, "supply=t_supply[C]"),
        (option::ZONE, "UTC"),
    ];
    Mapping::from_options(&options).expect("options that there are")
}

/// The log as CSV. The columns are called what the comparison with other programs calls them.
#[must_use]
pub fn csv(samples: u32, interval_s: i64) -> String {
    let mut text = String::from("ts,t_surf,t_air,rh,t_supply\n");
    let mut day = (i64::MIN, String::new());
    for row in rows(samples, interval_s) {
        if row.utc_s.div_euclid(86_400) != day.0 {
            let time = jiff::Timestamp::from_second(row.utc_s).unwrap_or_default();
            day = (row.utc_s.div_euclid(86_400), time.strftime("%Y-%m-%d").to_string());
        }
        let of_day = row.utc_s.rem_euclid(86_400);
        let (hour, minute, second) = (of_day / 3600, of_day / 60 % 60, of_day % 60);
        // Writing to a string does not fail.
        let _ = write!(text, "{} {hour:02}:{minute:02}:{second:02}", day.1);
        let values = [
            row.slab.map_or(0, |c| i32::from(c.0)),
            row.air.map_or(0, |c| i32::from(c.0)),
            row.air_rh.map_or(0, |c| i32::from(c.0)),
            row.supply.map_or(0, |c| i32::from(c.0)),
        ];
        for value in values {
            let _ = write!(text, ",{}.{:02}", value / 100, value % 100);
        }
        text.push('\n');
    }
    text
}

/// A job of one room with all that any step asks for. `logger` is what the job calls the logger; the
/// work was done so many days after the first sample, so that nearly all of a long log counts.
#[must_use]
pub fn job(logger: &str, site: &str, work_day: i64) -> String {
    let day = |after: i64| {
        let time = jiff::Timestamp::from_second(START_S + (work_day + after) * 86_400);
        time.unwrap_or_default().strftime("%Y-%m-%d").to_string()
    };
    let mut job = format!(
        "[site]\nname = \"{site}\"\ntime-zone = \"UTC\"\narea = \"1000 ft2\"\nunits = \"metric\"\n\
         [[room]]\nname = \"Hall\"\nlogger = \"{logger}\"\n\
         [concrete]\npoured = 2024-12-30\nthickness = \"100 mm\"\nkind = \"cement screed\"\n\
         drying = \"one side\"\n\
         [wood]\nthickness = \"15 mm\"\nconductivity = \"0.15 W/mK\"\n\
         [barrier]\nproduct = \"two-part barrier\"\ncure = \"24 h\"\n\
         [adhesive]\nproduct = \"adhesive\"\ntraffic = \"24 h\"\nsanding = \"72 h\"\n\
         [heating]\ndesign-supply = \"42 C\"\n\
         [milestones]\ndelivered = {}T00:00\nbarrier-rolled = {}T00:00\nglue-started = {}T08:00\n\
         glue-finished = {}T16:00\n",
        day(0),
        day(1),
        day(2),
        day(2),
    );
    for (channel, unit) in [("slab", "C"), ("air", "C"), ("rh", "%"), ("supply", "C")] {
        let _ = write!(
            job,
            "[[probe]]\nchannel = \"{channel}\"\n[[probe.check]]\ndate = 2024-12-28\n\
             method = \"comparison\"\nreference = \"40 {unit}\"\nreading = \"40 {unit}\"\n"
        );
    }
    for hole in ["A", "B", "C"] {
        let _ = write!(
            job,
            "[[in-situ-test]]\nhole = \"{hole}\"\ndepth = \"40 mm\"\ndrilled = {}T23:30\n\
             sealed = {}T00:00\nread = {}T00:00\nreading = \"72 %\"\nheat = \"off\"\n",
            day(1),
            day(2),
            day(3),
        );
    }
    let readings = vec!["\"7.5 %\""; 40].join(", ");
    let _ = write!(
        job,
        "[[meter-reading]]\ndate = {}\nof = \"wood\"\nreadings = [{readings}]\n",
        day(3)
    );
    job
}
