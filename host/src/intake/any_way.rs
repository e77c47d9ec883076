//! The quick way through a file says what the slow one says: rows, notes, mapping, and every error.

use std::fmt::Write as _;

use jiff::Timestamp;
use jiff::tz::TimeZone;
use proptest::prelude::*;

use super::{Intake, IntakeErrors, Mapping, Way, read_in};

fn read(text: &str, mapping: &Mapping, way: &Way) -> Result<Intake, IntakeErrors> {
    read_in(text.as_bytes(), mapping, way).map_err(|faults| faults.into_errors("any.csv"))
}

/// Cells that nothing is wrong with, though some are not usual.
const CELLS: [&str; 16] = [
    "20.81", "20.81", "21.3", "19", "7.25", "-3.50", "+4.1", "", "NaN", "---", " 21.5", "20.6 ",
    "5.", ".5", "21.345", "2.15e1",
];
/// Cells that make a fault in some files or in all.
const WILD: [&str; 17] = [
    "21,5",
    "1,234.5",
    "\"20.1\"",
    "2\"0",
    "abc",
    "-999",
    "99999999",
    "20.1 C",
    "70F",
    "45 %",
    "-",
    ".",
    "--5",
    "1 234",
    "\u{a0}20.5",
    "\u{2212}2",
    "12:30",
];
const WILD_TIMES: [&str; 11] = [
    "",
    "2021-02-30 10:00",
    "2021-03-01 24:00",
    "2021-03-01 25:00",
    "2021-03-01",
    "10:00",
    "hello",
    "1999-01-01 00:00",
    "2021-03-01 10:00:00 extra",
    "01/02/2021 10:00",
    "2021-03-010 10:00",
];
const ZONES: [&str; 4] = ["UTC", "-05:30", "Europe/Helsinki", "Australia/Lord_Howe"];
const TIMES: [&str; 10] = [
    "%Y-%m-%d %H:%M:%S",
    "%Y-%m-%d %H:%M",
    "%Y-%m-%dT%H:%M:%S",
    "%Y/%m/%d %H:%M:%S.500",
    "%Y-%m-%dT%H:%M:%S%:z",
    "%d.%m.%Y %H:%M:%S",
    "%m/%d/%Y %I:%M:%S %p",
    "%-m/%-d/%Y %-H:%M",
    "%s",
    "%Y%m%d%H%M",
];

/// What a line is made of, by numbers that choose.
#[derive(Clone, Debug)]
struct Made {
    step_s: i64,
    cells: [prop::sample::Index; 4],
    /// Which of the things that a line can be instead of a usual one.
    kind: u8,
    time: prop::sample::Index,
}

#[derive(Clone, Debug)]
struct File {
    text: String,
    mapping: Mapping,
}

fn lines(wild: bool) -> impl Strategy<Value = Vec<Made>> {
    let steps = prop_oneof![
        20 => Just(600_i64), 6 => 1_i64..4000, 2 => Just(0), 1 => Just(-600), 1 => 40_000_i64..90_000,
    ];
    // Up to 31: nothing special from 8 on.
    let kinds = if wild { 0_u8..48 } else { 4_u8..32 };
    let line = (steps, any::<[prop::sample::Index; 4]>(), kinds, any::<prop::sample::Index>());
    let line = line.prop_map(|(step_s, cells, kind, time)| Made { step_s, cells, kind, time });
    prop::collection::vec(line, 1..40)
}

/// Starts before a change of the clock as often as anywhere.
fn files() -> impl Strategy<Value = File> {
    let starts = prop_oneof![
        Just(1_616_889_600_i64), // 2021-03-28, forward in Europe
        Just(1_635_634_800),     // 2021-10-30, back in Europe
        Just(1_617_451_200),     // 2021-04-03, back in Australia
        1_000_000_000_i64..1_900_000_000,
    ];
    let choices = (
        prop::sample::select(&[",", ";", "\t", "|"][..]),
        prop::sample::select(&ZONES[..]),
        prop::sample::select(&TIMES[..]),
        prop::sample::select(&["\n", "\n", "\r\n", "\r"][..]),
        prop::sample::select(&["plain", "units", "more", "quoted", "none", "split", "marked"][..]),
        any::<[bool; 3]>(),
    );
    let lines = any::<bool>().prop_flat_map(|wild| (Just(wild), lines(wild)));
    (starts, choices, lines).prop_map(|(start, choices, (wild, lines))| {
        let (d, zone, time, end, head, [comma, zoned, named]) = choices;
        let zone_data = TimeZone::get(zone).unwrap_or(TimeZone::UTC);
        let mut text = match head {
            "units" => format!("time{d}slab{d}air (F){d}rh{d}supply (C){end}"),
            "more" => format!("n{d}time{d}slab{d}air{d}rh{d}supply{d}note{end}"),
            "quoted" => format!(
                "\"made by{end}somebody\"{end}{end}\"time\"{d}slab{d}air{d}rh{d}supply{end}"
            ),
            "split" => format!("date{d}time{d}slab{d}air{d}rh{d}supply{end}"),
            "marked" => format!("\u{feff}\u{feff}time{d}slab{d}air{d}rh{d}supply{end}"),
            "none" => String::new(),
            _ => format!("time{d}slab{d}air{d}rh{d}supply{end}"),
        };
        let mut at_s = start;
        for (i, made) in lines.iter().enumerate() {
            at_s += made.step_s;
            let at = Timestamp::from_second(at_s).unwrap().to_zoned_datetime(zone_data.clone());
            let mut stamp = at.strftime(time).to_string();
            if made.kind == 0 {
                WILD_TIMES[made.time.index(WILD_TIMES.len())].clone_into(&mut stamp);
            }
            if head == "split" {
                stamp = stamp.replacen([' ', 'T'], d, 1);
            }
            let mut cells: Vec<String> = vec![stamp];
            for cell in &made.cells {
                let cell = match made.kind {
                    1 => WILD[cell.index(WILD.len())],
                    _ => CELLS[cell.index(CELLS.len())],
                };
                let swap = comma && d != ",";
                cells.push(if swap { cell.replace('.', ",") } else { cell.to_owned() });
            }
            if head == "more" {
                cells.insert(0, i.to_string());
                cells.push("a note".to_owned());
            }
            match made.kind {
                2 => drop(cells.pop()),
                3 => cells.push("more".to_owned()),
                4 => cells.push(String::new()),
                5 => cells.iter_mut().for_each(String::clear),
                6 => cells = vec![" ".to_owned()],
                7 => cells = vec![String::new()],
                _ => {}
            }
            write!(text, "{}{end}", cells.join(d)).unwrap();
            // A carriage return alone ends a record as well.
            if made.kind == 40 {
                text.push('\r');
            }
        }
        if comma {
            text.truncate(text.trim_end_matches(['\r', '\n']).len());
        }
        let mut mapping =
            Mapping { zone: zoned.then(|| zone.parse().unwrap()), ..Mapping::default() };
        mapping.time_format = match time {
            "%m/%d/%Y %I:%M:%S %p" | "%-m/%-d/%Y %-H:%M" => Some("mdy".parse().unwrap()),
            "%Y%m%d%H%M" => Some(time.parse().unwrap()),
            _ => None,
        };
        if wild && named {
            mapping.missing = vec!["-999".to_owned(), "abc".to_owned()];
        }
        if head == "none" {
            for (i, channel) in ["slab", "air", "rh", "supply"].iter().enumerate() {
                mapping.assign(&format!("{channel}={}", i + 2)).unwrap();
            }
        }
        File { text, mapping }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(250))]

    #[test]
    fn both_ways_say_the_same(
        file in files(),
        cuts in prop::collection::vec(any::<prop::sample::Index>(), 0..4),
    ) {
        let File { text, mapping } = &file;
        let slow = read(text, mapping, &Way::Slow);
        prop_assert_eq!(&read(text, mapping, &Way::Quick), &slow, "{}", text);
        let mut cuts: Vec<usize> = cuts.iter().map(|cut| cut.index(text.len() + 1)).collect();
        cuts.sort_unstable();
        prop_assert_eq!(&read(text, mapping, &Way::Cut(cuts)), &slow, "{}", text);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    #[test]
    fn a_cut_is_nowhere_to_be_seen(file in files(), from in 0_usize..13) {
        let File { text, mapping } = &file;
        let slow = read(text, mapping, &Way::Slow);
        // The tests below cut at every place.
        for at in (from..=text.len()).step_by(13) {
            prop_assert_eq!(&read(text, mapping, &Way::Cut(vec![at])), &slow, "{} {}", at, text);
        }
    }
}

/// The night when the clock is put back, rows out of order and twice, words for no reading that come
/// first in the other piece, parts of seconds, and the first decimal mark far down: all that one piece
/// has to know of another.
#[test]
fn what_crosses_a_cut_is_told_once() {
    let night = "time;slab;air;rh;supply\r\n\
        2021-10-31 02:00;20;21;40;NaN\r\n2021-10-31 02:50;20;21;40;30\r\n\
        2021-10-31 03:00;20;;40;30\r\n2021-10-31 03:30;20;---;40;30\r\n\
        2021-10-31 03:00;20;21;40;NaN\r\n2021-10-31 03:30:00.5;20;21;40;30\r\n\
        2021-10-31 04:00;20;21;40;30\r\n2021-10-31 04:30;20,5;---;40;30\r\n\
        \r\n2021-10-31 05:00;20;21;;30\r\n2021-10-31 04:45:00,25;20;21;40,1;30\r\n\
        2021-10-31 05:00;20;21;;30\r\n2021-10-31 06:00;20;21;40;30;;\r\n";
    let mapping = Mapping { zone: Some("Europe/Helsinki".parse().unwrap()), ..Mapping::default() };
    let slow = read(night, &mapping, &Way::Slow);
    let intake = slow.as_ref().unwrap();
    assert_eq!(intake.rows.len(), 11);
    let notes: String = intake.notes.iter().map(|note| format!("{note}\n")).collect();
    for told in ["twice", "NaN", "put in order", "whole seconds", "dropped"] {
        assert!(notes.contains(told), "{told}: {notes}");
    }
    for at in 0..=night.len() {
        for to in (at..=night.len()).step_by(331) {
            assert_eq!(read(night, &mapping, &Way::Cut(vec![at, to])), slow, "{at} {to}");
        }
    }
    // The marks of two pieces that do not go together.
    let marks = "time;slab\n2021-10-31 02:00;20,5\n2021-10-31 02:50;20\n2021-10-31 03:50;20.5\n";
    let slow = read(marks, &mapping, &Way::Slow);
    assert!(slow.as_ref().unwrap_err().to_string().contains("line 4"), "{slow:?}");
    for at in 0..=marks.len() {
        assert_eq!(read(marks, &mapping, &Way::Cut(vec![at])), slow, "{at}");
    }
}

/// What only one of the ways might take for a row, or in another order.
#[test]
fn lines_that_look_like_others_are_read_as_before() {
    let mapping = Mapping { zone: Some("UTC".parse().unwrap()), ..Mapping::default() };
    let first = "time,slab,note\n2021-03-01 00:00,20.1,\n2021-03-01 00:10,20.2,x\n";
    for (lines, told) in [
        ("2021-03-01 00:60,20.3,\n", Some("line 4")),
        ("2021-03-01 24:01,20.3,\n", Some("line 4")),
        ("2021-03-01 00:20:60,20.3,\n", Some("line 4")),
        ("2021-03-01 00:20:0x,20.3,\n", Some("line 4")),
        ("2021-03-01 00:20,20.3,,\n2021-03-01 00:30,20.3,,x\n", Some("line 5")),
        // In the middle of a cell.
        ("2021-03-01 00:20,20.3,\"\n2021-03-01 00:25,20.4,\"\n", None),
        ("2021-03-01 00:20,20.3,\r2021-03-01 00:25,20.4,\n", None),
        // One step back, and one row twice.
        ("2021-03-01 00:05,20.3,\n", None),
        ("2021-03-01 00:10,20.2,\n", None),
    ] {
        let text = format!("{first}{lines}2021-03-01 01:00,20.5,\n");
        let slow = read(&text, &mapping, &Way::Slow);
        match (told, &slow) {
            (None, Ok(_)) => {}
            (Some(told), Err(errors)) => assert!(errors.to_string().contains(told), "{errors}"),
            _ => panic!("{text}: {slow:?}"),
        }
        assert_eq!(read(&text, &mapping, &Way::Quick), slow, "{text}");
        for at in 0..=text.len() {
            assert_eq!(read(&text, &mapping, &Way::Cut(vec![at])), slow, "{at}: {text}");
        }
    }
}

/// A blank between the columns is none between date and time.
#[test]
fn a_time_does_not_reach_over_a_delimiter() {
    let text = "time slab air\n2021-01-01T00:00 20 21\n2021-01-01 00:10 20 21\n";
    let mut mapping = Mapping { zone: Some("UTC".parse().unwrap()), ..Mapping::default() };
    mapping.delimiter = Some("space".parse().unwrap());
    let slow = read(text, &mapping, &Way::Slow);
    assert!(slow.as_ref().unwrap_err().to_string().contains("4 fields"), "{slow:?}");
    assert_eq!(read(text, &mapping, &Way::Quick), slow);
}
