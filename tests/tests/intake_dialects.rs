//! The same readings, however a logger writes them.

#![allow(clippy::unwrap_used, reason = "a helper of tests")]

use glueday::intake::{Channel, Intake, Mapping, Note, Row, Unit, UnitFrom, read};
use glueday_types::{Absent, CentiCelsius, CentiPercent};

const NONE_C: Result<CentiCelsius, Absent> = Err(Absent::NotFitted);

fn mapping(options: &[&str]) -> Mapping {
    let mut out = Mapping { zone: Some("UTC".parse().unwrap()), ..Mapping::default() };
    for option in options {
        match option.split_once('=').unwrap() {
            ("zone", "") => out.zone = None,
            ("zone", value) => out.zone = Some(value.parse().unwrap()),
            ("delimiter", value) => out.delimiter = Some(value.parse().unwrap()),
            ("format", value) => out.time_format = Some(value.parse().unwrap()),
            ("first-row", value) => out.first_row = Some(value.parse().unwrap()),
            ("missing", value) => out.missing.push(value.to_owned()),
            _ => out.assign(option).unwrap(),
        }
    }
    out
}

fn taken(bytes: impl AsRef<[u8]>, options: &[&str]) -> Intake {
    let intake = read(bytes.as_ref(), "log.csv", &mapping(options)).unwrap_or_else(|e| {
        // What was refused shows as a row that no test expects.
        Intake { rows: vec![], notes: vec![], mapping_used: note_error(&e.to_string()) }
    });
    // What was decided gives the same again.
    if !intake.rows.is_empty() {
        let again = read(bytes.as_ref(), "log.csv", &intake.mapping_used).unwrap();
        assert_eq!(again.rows, intake.rows);
    }
    intake
}

fn note_error(error: &str) -> Mapping {
    Mapping { missing: vec![error.to_owned()], ..Mapping::default() }
}

/// 2020-12-18 15:15 and 15:25 UTC, from date(1).
const AT: [i64; 2] = [1_608_304_500, 1_608_305_100];

/// Both rows of the little log that the tests below write: 21.5 °C and 45.25 %, -3 °C and 46 %.
fn expect_both(bytes: impl AsRef<[u8]>, options: &[&str]) -> Intake {
    let intake = taken(bytes, options);
    let seen: Vec<_> = intake.rows.iter().map(|r| (r.utc_s, r.air, r.air_rh)).collect();
    let expected = [
        (AT[0], Ok(CentiCelsius(2150)), Ok(CentiPercent(4525))),
        (AT[1], Ok(CentiCelsius(-300)), Ok(CentiPercent(4600))),
    ];
    assert_eq!(seen, expected, "{intake:?}");
    intake
}

#[test]
fn delimiters_marks_and_quotes() {
    expect_both("time,air,rh\n2020-12-18 15:15,21.5,45.25\n2020-12-18 15:25,-3,46\n", &[]);
    expect_both("time;air;rh\n2020-12-18 15:15;21,5;45,25\n2020-12-18 15:25;-3,0;46\n", &[]);
    expect_both("time\tair\trh\n2020-12-18 15:15\t21,5\t45,25\n2020-12-18 15:25\t-3\t46\n", &[]);
    expect_both(
        "\"time\",\"air\",\"rh\"\r\n\"2020-12-18 15:15\",\"21,5\",\"45,25\"\r\n\"2020-12-18 15:25\",\"-3,0\",\"46\"\r\n",
        &[],
    );
    expect_both(
        "time|air|rh\n2020-12-18 15:15|21.5|45.25\n2020-12-18 15:25|-3|46",
        &["delimiter=|"],
    );
    // With commas between the columns, the second row would begin with a time and an offset of -0.
    let intake = taken("time\tair\trh\n2020-12-18 15:15\t\t\n2020-12-18 15:25\t-0,01\t\n", &[]);
    assert_eq!(intake.rows[1].air, Ok(CentiCelsius(-1)));
    // A delimiter at the end of the data rows, of the header, and of both.
    expect_both("time,air,rh\n2020-12-18 15:15,21.5,45.25,\n2020-12-18 15:25,-3,46,\n", &[]);
    expect_both("time,air,rh,\n2020-12-18 15:15,21.5,45.25\n2020-12-18 15:25,-3,46\n", &[]);
    expect_both("time,air,rh,\n2020-12-18 15:15,21.5,45.25,\n2020-12-18 15:25,-3,46,\n", &[]);
    // Blanks around cells, blank lines, lines of empty cells.
    expect_both(
        "time , air, rh\n\n2020-12-18 15:15 , 21.5, 45.25\n,,\n2020-12-18 15:25, -3, 46\n,,\n\n",
        &[],
    );
}

#[test]
fn encodings() {
    let text =
        "time;air (°C);rh (%)\r\n2020-12-18 15:15;21,5;45,25\r\n2020-12-18 15:25;−3,0;46\r\n";
    expect_both(text, &[]);
    expect_both(format!("\u{feff}{text}"), &[]);
    let units = |order: fn(u16) -> [u8; 2]| -> Vec<u8> {
        format!("\u{feff}{text}").encode_utf16().flat_map(order).collect()
    };
    for bytes in [units(u16::to_le_bytes), units(u16::to_be_bytes)] {
        let intake = expect_both(bytes, &[]);
        assert!(matches!(intake.notes.first(), Some(Note::Encoding { .. })), "{:?}", intake.notes);
    }
    // Windows-1252 has the degree sign at 0xB0 and no U+2212.
    let narrow = text.replace('−', "-");
    let bytes: Vec<u8> = narrow.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let intake = expect_both(bytes, &[]);
    assert_eq!(intake.notes.first(), Some(&Note::Encoding { encoding: "Windows-1252" }));
    let unit = |n: &Note| {
        matches!(
            n,
            Note::Channel {
                channel: Channel::Air,
                unit: Unit::Celsius,
                unit_from: UnitFrom::Header,
                ..
            }
        )
    };
    assert!(intake.notes.iter().any(unit), "{:?}", intake.notes);
    // Line ends of a lone carriage return.
    expect_both("time,air,rh\r2020-12-18 15:15,21.5,45.25\r2020-12-18 15:25,-3,46\r", &[]);
}

#[test]
fn what_stands_above_the_data() {
    let rows = "2020-12-18 15:15,21.5,45.25\n2020-12-18 15:25,-3,46\n";
    let intake = expect_both(
        format!(
            "Logger,Basement\nInterval,10\nStarted,2020-12-18 15:00\n\ntime,air,rh\n,°C,%\n{rows}"
        ),
        &[],
    );
    assert!(intake.notes.contains(&Note::Preamble { lines: 3, before: 5 }), "{:?}", intake.notes);
    let from_row = |n: &&Note| matches!(n, Note::Channel { unit_from: UnitFrom::UnitsRow, .. });
    assert_eq!(intake.notes.iter().filter(from_row).count(), 2, "{:?}", intake.notes);
    assert_eq!(intake.rows[0].line, 7);
    expect_both(format!("time,air,rh\nyyyy-mm-dd hh:mm,[degC],[%RH]\n{rows}"), &[]);
    expect_both(format!("# time,air,rh\n{rows}"), &[]);
    expect_both(format!("Logger,Basement\n{rows}"), &["air=2", "rh=3"]);
    // No header, and one of other words under lines that look like one.
    expect_both(rows, &["air=2", "rh=3"]);
    expect_both(
        format!("a,b,c\nWhen,Probe 1,Probe 2\nx,y,z\n{rows}"),
        &["air=Probe 1", "rh=probe 2", "first-row=4"],
    );
    // Names are matched but for case and unit.
    expect_both(
        format!("When,PROBE 1 [°C],Probe 2 (%)\n{rows}"),
        &["air=probe 1", "rh=Probe 2[%]"],
    );
}

#[test]
fn units() {
    let f = "time,air (F),rh\n2020-12-18 15:15,70.7,45.25\n2020-12-18 15:25,26.6,46\n";
    expect_both(f, &[]);
    let intake = expect_both(f.replace(" (F)", ""), &["air=air[F]"]);
    let user = |n: &Note| {
        matches!(n, Note::Channel { unit: Unit::Fahrenheit, unit_from: UnitFrom::User, .. })
    };
    assert!(intake.notes.iter().any(user), "{:?}", intake.notes);
    expect_both(
        "time,air,rh\n2020-12-18 15:15,70.7 °F,45.25%\n2020-12-18 15:25,26.6°F,46 %\n",
        &[],
    );
    expect_both(
        "time,air,rh\n2020-12-18 15:15,21.5,0.4525\n2020-12-18 15:25,-3,0.46\n",
        &["rh=rh[fraction]"],
    );
    // Boiling and freezing points of water by definition, and where the scales meet.
    let intake = taken(
        "time,supply F\n2020-12-18 15:15,212\n2020-12-18 15:25,32\n2020-12-18 15:35,-40\n",
        &[],
    );
    let supply: Vec<_> = intake.rows.iter().map(|r| r.supply).collect();
    assert_eq!(supply, [Ok(CentiCelsius(10_000)), Ok(CentiCelsius(0)), Ok(CentiCelsius(-4000))]);
}

#[test]
fn every_way_to_write_a_time() {
    // Both times of the log in each, and the options that it takes.
    let ways: [([&str; 2], &[&str]); 21] = [
        (["2020-12-18 15:15", "2020-12-18 15:25"], &[]),
        (["2020-12-18T15:15:00", "2020-12-18T15:25:00"], &[]),
        (["2020-12-18T15:15:00Z", "2020-12-18T15:25:00Z"], &["zone="]),
        (["2020-12-18T17:15:00+02:00", "2020-12-18T10:25:00-0500"], &["zone="]),
        (["2020-12-18 15:15:00.000 UTC", "2020-12-18 17:25:00,000 +02"], &["zone="]),
        (["2020/12/18 15:15", "2020/12/18 15:25"], &[]),
        (["18.12.2020 15:15", "18.12.2020 15:25"], &[]),
        (["18.12.20 15.15", "18.12.20 15.25"], &[]),
        (["18/12/2020 15:15", "18/12/2020 15:25"], &[]),
        (["18-12-2020 15:15:00", "18-12-2020 15:25:00"], &[]),
        (["12/18/2020 15:15", "12/18/2020 15:25"], &[]),
        (["12/18/2020 3:15 PM", "12/18/2020 3:25 PM"], &[]),
        (["12/18/20 03:15:00 p.m.", "12/18/20 03:25:00 p.m."], &["format=mdy"]),
        (["12/18/2020, 3:15pm", "12/18/2020, 3:25pm"], &[]),
        (["1608304500", "1608305100"], &["zone="]),
        (["1608304500000", "1608305100000"], &["zone="]),
        (["18 Dec 2020 15:15", "18 Dec 2020 15:25"], &["format=%d %b %Y %H:%M"]),
        (["20201218151500", "20201218152500"], &["format=%Y%m%d%H%M%S"]),
        (["2020-12-18 17:15", "2020-12-18 17:25"], &["zone=Europe/Helsinki"]),
        (["2020-12-18 10:15", "2020-12-18 10:25"], &["zone=America/New_York"]),
        (["2020-12-18 20:45", "2020-12-18 20:55"], &["zone=+05:30"]),
    ];
    for ([first, second], options) in ways {
        expect_both(format!("time;air;rh\n{first};21.5;45.25\n{second};-3;46\n"), options);
    }
    // In two columns, in either order and with a spreadsheet's midnight after the date.
    expect_both("date,time,air,rh\n2020-12-18,15:15,21.5,45.25\n2020-12-18,15:25,-3,46\n", &[]);
    expect_both(
        "a;b;air;rh\n15:15;18.12.2020;21,5;45,25\n15:25;18.12.2020;-3;46\n",
        &["date=b", "time=a"],
    );
    expect_both(
        "date,time,air,rh\n18/12/2020 00:00:00,3:15 PM,21.5,45.25\n18/12/2020 00:00:00,3:25 PM,-3,46\n",
        &["date=date", "time=time"],
    );
    expect_both(
        "d,t,air,rh\n18 Dec 2020,15:15,21.5,45.25\n18 Dec 2020,15:25,-3,46\n",
        &["format=%d %b %Y %H:%M", "date=d", "time=t"],
    );
    // In the header.
    for header in ["t_UTC+2", "Time (GMT+02:00)", "time UTC+0200"] {
        let intake = expect_both(
            format!("{header},air,rh\n2020-12-18 17:15,21.5,45.25\n2020-12-18 17:25,-3,46\n"),
            &["zone="],
        );
        assert_eq!(intake.mapping_used.zone.unwrap().to_string(), "+02:00");
    }
    // The user knows better than the header, and is told.
    let intake = expect_both(
        "t_UTC+2,air,rh\n2020-12-18 16:15,21.5,45.25\n2020-12-18 16:25,-3,46\n",
        &["zone=+01:00"],
    );
    assert!(
        intake.notes.iter().any(|n| matches!(n, Note::ZoneOverHeader { .. })),
        "{:?}",
        intake.notes
    );
}

#[test]
fn noon_midnight_and_the_end_of_the_day() {
    let rows =
        ["12/18/2020 12:05 AM", "12/18/2020 12:05 PM", "12/18/2020 24:00", "12/19/2020 00:10"];
    let text: String = rows.iter().map(|t| format!("{t},21\n")).collect();
    let intake = taken(format!("time,air\n{text}"), &[]);
    let midnight = 1_608_249_600; // 2020-12-18 00:00 UTC, from date(1)
    let seen: Vec<i64> = intake.rows.iter().map(|r| r.utc_s - midnight).collect();
    assert_eq!(seen, [300, 12 * 3600 + 300, 86_400, 86_400 + 600]);
}

#[test]
fn parts_of_seconds_are_cut_and_told() {
    let intake = taken("time,air\n2020-12-18 15:15:00.9,21\n2020-12-18 15:25:00.000,22\n", &[]);
    assert_eq!(intake.rows.iter().map(|r| r.utc_s).collect::<Vec<_>>(), AT);
    assert!(
        intake.notes.contains(&Note::CutToSeconds { count: 1, first_line: 2 }),
        "{:?}",
        intake.notes
    );
}

#[test]
fn missing_readings_are_told_and_never_dropped() {
    let cells = ["", "NaN", "-", "---", "ERR", "#N/A", "-999.9", "-999,90", "open", "21"];
    let rows: String =
        cells.iter().enumerate().map(|(i, c)| format!("2020-12-18 15:{i:02};{c};45\n")).collect();
    let intake = taken(format!("time;air;rh\n{rows}"), &["missing=-999.9", "missing=Open"]);
    let air: Vec<_> = intake.rows.iter().map(|r| r.air).collect();
    assert_eq!(air[..9], [Err(Absent::EmptyCell); 9]);
    assert_eq!(air[9], Ok(CentiCelsius(2100)));
    assert!(intake.rows.iter().all(|r| r.air_rh == Ok(CentiPercent(4500)) && r.slab == NONE_C));
    let told = |n: &&Note| matches!(n, Note::Missing { channel: Channel::Air, count: 1, .. });
    assert_eq!(intake.notes.iter().filter(told).count(), 9, "{:?}", intake.notes);
}

#[test]
fn names_that_say_what_a_column_is() {
    let text = "Timestamp,Slab surface temperature (°C),Room_Temp_C,Relative humidity %,Flow temperature,Battery\n\
                2020-12-18 15:15,19.5,21,45,30.25,3.1\n";
    let intake = taken(text, &[]);
    let [row] = intake.rows[..] else { return assert_eq!(intake.rows, []) };
    let expected = Row {
        utc_s: AT[0],
        slab: Ok(CentiCelsius(1950)),
        air: Ok(CentiCelsius(2100)),
        air_rh: Ok(CentiPercent(4500)),
        supply: Ok(CentiCelsius(3025)),
        line: 2,
    };
    assert_eq!(row, expected);
    let notes: String = intake.notes.iter().map(|n| format!("{n}\n")).collect();
    for told in [
        "slab is column 2 \"Slab surface temperature (°C)\", going by its name, in C as its name says",
        "supply is column 5 \"Flow temperature\", going by its name, in C by assumption",
        "not read: columns 6 \"Battery\"",
        "times are from columns 1 \"Timestamp\"",
    ] {
        assert!(notes.contains(told), "{told:?} is not in: {notes}");
    }
    // A channel can be told to be absent.
    let intake = taken(text, &["supply=none"]);
    assert_eq!(intake.rows[0].supply, NONE_C);
}

#[test]
fn a_mapping_can_be_written_down_and_given_again() {
    let mut first =
        mapping(&["date=2", "time=1", "air=Temp 1[F]", "rh=4", "supply=none", "missing=-999"]);
    first.time_format = Some("dmy".parse().unwrap());
    first.decimal = Some("comma".parse().unwrap());
    let columns: Vec<String> =
        first.to_options().into_iter().filter(|(o, _)| *o == "--column").map(|(_, v)| v).collect();
    assert_eq!(columns, ["date=2", "time=1", "air=Temp 1[F]", "rh=4", "supply=none"]);
    let mut second = Mapping { zone: first.zone.clone(), ..Mapping::default() };
    for (option, value) in first.to_options() {
        match option {
            "--column" => second.assign(&value).unwrap(),
            "--time-format" => second.time_format = Some(value.parse().unwrap()),
            "--decimal" => second.decimal = Some(value.parse().unwrap()),
            "--missing" => second.missing.push(value),
            _ => assert_eq!((option, value.as_str()), ("--zone", "UTC")),
        }
    }
    assert_eq!(second, first);
}
