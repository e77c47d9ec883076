//! Any bytes are answered, and any table reads back from whatever dialect it is written in.

use std::fmt::Write as _;

use glueday_types::{Absent, CentiCelsius, CentiPercent};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use proptest::prelude::*;

use super::{Delimiter, Mapping, TimeFormat, Zone, read};

/// Hundredths of slab, air, RH and supply.
type Values = [Option<i32>; 4];

#[derive(Clone, Debug)]
struct Dialect {
    delimiter: char,
    comma: bool,
    fahrenheit: bool,
    quoted: bool,
    line_end: &'static str,
    missing: &'static str,
    zone: &'static str,
    time: &'static str,
    split: bool,
    preamble: bool,
    encoding: u8,
}

fn dialects() -> impl Strategy<Value = Dialect> {
    let zones =
        ["UTC", "+02:00", "-05:30", "Europe/Helsinki", "America/New_York", "Australia/Lord_Howe"];
    let times = [
        "%Y-%m-%d %H:%M:%S",
        "%Y-%m-%dT%H:%M:%S",
        "%d.%m.%Y %H:%M:%S",
        "%d/%m/%Y %H:%M:%S",
        "%m/%d/%Y %I:%M:%S %p",
        "%Y-%m-%dT%H:%M:%S%:z",
        "%s",
    ];
    (
        (prop::sample::select(&[',', ';', '\t'][..]), any::<[bool; 5]>(), 0..4_u8),
        (
            prop::sample::select(&["\n", "\r\n"][..]),
            prop::sample::select(&["", "NaN", "---"][..]),
            prop::sample::select(zones.to_vec()),
            prop::sample::select(times.to_vec()),
        ),
    )
        .prop_map(
            |(
                (delimiter, [comma, fahrenheit, quoted, split, preamble], encoding),
                (line_end, missing, zone, time),
            )| {
                let split = split && time.contains(' ');
                // An unquoted decimal comma cannot be told from a comma between columns.
                let quoted = quoted || (comma && delimiter == ',');
                Dialect {
                    delimiter,
                    comma,
                    fahrenheit,
                    quoted,
                    line_end,
                    missing,
                    zone,
                    time,
                    split,
                    preamble,
                    encoding,
                }
            },
        )
}

/// Rows without a reading at all are left out: a file of nothing but them says nothing.
fn tables() -> impl Strategy<Value = Vec<(i64, Values)>> {
    let value = |low: i32, high: i32| prop::option::weighted(0.9, low..high);
    // Above 1 % and below 45 °C on average, so that no unit is in doubt.
    let values = [value(-1000, 4000), value(-1000, 4000), value(150, 10_000), value(-1000, 9000)];
    (1_000_000_000_i64..1_900_000_000, prop::collection::vec((60_i64..7200, values), 2..60))
        .prop_map(|(start, steps)| {
            let mut at = start;
            let step = |(seconds, values)| {
                at += seconds;
                (at, values)
            };
            steps.into_iter().map(step).collect()
        })
}

fn write_table(table: &[(i64, Values)], dialect: &Dialect) -> Vec<u8> {
    let zone = TimeZone::get(dialect.zone).unwrap_or_else(|_| {
        let seconds = match dialect.zone {
            "+02:00" => 7200,
            "-05:30" => -19_800,
            _ => 0,
        };
        jiff::tz::Offset::from_seconds(seconds).unwrap().to_time_zone()
    });
    let (unit, end, d) =
        (if dialect.fahrenheit { "°F" } else { "°C" }, dialect.line_end, dialect.delimiter);
    let cell = |text: String| if dialect.quoted { format!("\"{text}\"") } else { text };
    let mut out = String::new();
    if dialect.preamble {
        write!(out, "Site{d}Hall{end}{end}").unwrap();
    }
    let time = if dialect.split { format!("date{d}time") } else { "time".to_owned() };
    write!(out, "{time}{d}slab ({unit}){d}air ({unit}){d}rh (%){d}supply ({unit}){end}").unwrap();
    for (utc_s, values) in table {
        let at = Timestamp::from_second(*utc_s)
            .unwrap()
            .to_zoned_datetime(zone.clone())
            .strftime(dialect.time)
            .to_string();
        match at.split_once(' ').filter(|_| dialect.split) {
            Some((date, time)) => {
                write!(out, "{}{d}{}", cell(date.to_owned()), cell(time.to_owned())).unwrap();
            }
            None => out.push_str(&cell(at)),
        }
        for (i, value) in values.iter().enumerate() {
            let text = match value {
                None => dialect.missing.to_owned(),
                // Enough digits that the hundredth of a degree Celsius is the nearest.
                Some(v) if dialect.fahrenheit && i != 2 => {
                    format!("{:.4}", f64::from(*v) / 100.0 * 1.8 + 32.0)
                }
                Some(v) => format!("{:.2}", f64::from(*v) / 100.0),
            };
            let text = if dialect.comma { text.replace('.', ",") } else { text };
            write!(out, "{d}{}", cell(text)).unwrap();
        }
        out.push_str(end);
    }
    match dialect.encoding {
        0 => out.into_bytes(),
        1 => format!("\u{feff}{out}").into_bytes(),
        2 => format!("\u{feff}{out}").encode_utf16().flat_map(u16::to_le_bytes).collect(),
        _ => out.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect(),
    }
}

/// Whether the table has a local time that came twice: by design, not every order of such rows says
/// which is which.
fn has_twice(table: &[(i64, Values)], zone: &str) -> bool {
    let Ok(zone) = TimeZone::get(zone) else { return false };
    table.iter().any(|(utc_s, _)| {
        let at = Timestamp::from_second(*utc_s).unwrap().to_zoned_datetime(zone.clone());
        zone.to_ambiguous_timestamp(at.datetime()).is_ambiguous()
    })
}

fn celsius(value: Option<i32>) -> Result<CentiCelsius, Absent> {
    value.map(|v| CentiCelsius(i16::try_from(v).unwrap())).ok_or(Absent::EmptyCell)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn any_table_reads_back(table in tables(), dialect in dialects()) {
        let says_offset = dialect.time.contains("%:z") || dialect.time == "%s";
        prop_assume!(says_offset || !has_twice(&table, dialect.zone));
        let bytes = write_table(&table, &dialect);
        let mut mapping = Mapping { zone: Some(dialect.zone.parse().unwrap()), ..Mapping::default() };
        // Dates that could be either way round have to be told.
        mapping.time_format = match dialect.time {
            "%d/%m/%Y %H:%M:%S" => Some("dmy".parse().unwrap()),
            "%m/%d/%Y %I:%M:%S %p" => Some("mdy".parse().unwrap()),
            _ => None,
        };
        let intake = read(&bytes, "any.csv", &mapping);
        let intake = intake.map_err(|e| TestCaseError::fail(format!("{e}\n{}", String::from_utf8_lossy(&bytes))))?;
        let seen: Vec<_> = intake.rows.iter().map(|r| (r.utc_s, r.slab, r.air, r.air_rh, r.supply)).collect();
        let expected: Vec<_> = table
            .iter()
            .map(|(utc_s, [slab, air, rh, supply])| {
                let rh = rh.map(|v| CentiPercent(u16::try_from(v).unwrap())).ok_or(Absent::EmptyCell);
                (*utc_s, celsius(*slab), celsius(*air), rh, celsius(*supply))
            })
            .collect();
        prop_assert_eq!(seen, expected);
        let again = read(&bytes, "any.csv", &intake.mapping_used).map(|i| i.rows);
        prop_assert_eq!(again, Ok(intake.rows));
    }

    #[test]
    fn any_bytes_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = read(&bytes, "any.csv", &Mapping::default());
    }

    /// Bytes that get further than random ones: those of a table, a few of them changed.
    #[test]
    fn any_damage_is_answered(
        table in tables(),
        dialect in dialects(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), prop::sample::select(&b",;\t\"\n\r.-:/ 0179TZaA%\xB0\xFF\0"[..])), 1..12),
        cut in any::<prop::sample::Index>(),
    ) {
        let mut bytes = write_table(&table, &dialect);
        for (at, byte) in changes {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        bytes.truncate(cut.index(bytes.len()) + 1);
        let mapping = Mapping { zone: Some(dialect.zone.parse().unwrap()), ..Mapping::default() };
        match read(&bytes, "any.csv", &mapping) {
            Ok(intake) => prop_assert!(intake.rows.is_sorted_by(|a, b| a.utc_s < b.utc_s)),
            Err(errors) => {
                prop_assert!(!errors.shown.is_empty());
                prop_assert!(errors.to_string().lines().all(|l| l.starts_with("any.csv")), "{}", errors);
            }
        }
    }

    #[test]
    fn any_option_text_is_answered(text in "\\PC{0,30}") {
        let _ = Mapping::default().assign(&text);
        let _ = text.parse::<Zone>();
        let _ = text.parse::<Delimiter>();
        let _ = text.parse::<TimeFormat>();
    }
}
