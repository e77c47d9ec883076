//! Everything that can be wrong with a file is told with its place and the fix.

#![allow(clippy::unwrap_used, reason = "a helper of tests")]

use glueday::intake::{Mapping, SHOWN_MAX, read};

/// `zone=UTC` and the like; anything else is a `--column`.
fn mapping(options: &[&str]) -> Mapping {
    let mut out = Mapping::default();
    for option in options {
        match option.split_once('=').unwrap() {
            ("zone", value) => out.zone = Some(value.parse().unwrap()),
            ("delimiter", value) => out.delimiter = Some(value.parse().unwrap()),
            ("decimal", value) => out.decimal = Some(value.parse().unwrap()),
            ("format", value) => out.time_format = Some(value.parse().unwrap()),
            ("first-row", value) => out.first_row = Some(value.parse().unwrap()),
            ("missing", value) => out.missing.push(value.to_owned()),
            _ => out.assign(option).unwrap(),
        }
    }
    out
}

/// The file is refused with exactly one error, whose text begins and continues so.
fn refused(bytes: impl AsRef<[u8]>, options: &[&str], starts: &str, contains: &[&str]) {
    let text = match read(bytes.as_ref(), "log.csv", &mapping(options)) {
        Ok(intake) => format!("taken: {intake:?}"),
        Err(errors) => errors.to_string(),
    };
    assert!(text.starts_with(starts), "begins otherwise than {starts:?}: {text}");
    for part in contains {
        assert!(text.contains(part), "{part:?} is not in: {text}");
    }
    assert_eq!(text.lines().count(), 1, "{text}");
}

#[test]
fn files_that_are_no_csv() {
    refused("", &[], "log.csv: the file is empty.", &["Export it again"]);
    refused("\u{feff}\r\n \n", &[], "log.csv: the file is empty.", &[]);
    refused(b"\x89PNG\r\n\x1a\n", &[], "log.csv: this is a PNG picture", &["save the data as CSV"]);
    refused(b"PK\x03\x04xl", &[], "log.csv: this is a spreadsheet workbook", &["as CSV"]);
    refused(b"time,air\n20\x0021,3", &[], "log.csv, line 2: a byte 0x00", &["UTF-8", "UTF-16"]);
    refused(b"\x01\x02\x03", &[], "log.csv, line 1: a byte 0x01", &[]);
    refused(
        b"\xEF\xBB\xBFa,b\n\xFF",
        &[],
        "log.csv, line 2: the file says it is UTF-8",
        &["again"],
    );
    refused(b"\xFF\xFEa\0,\0\x00\xD8", &[], "log.csv: the file says it is UTF-16LE", &["again"]);
    refused(b"\xFE\xFF\0a\0", &[], "log.csv: the file says it is UTF-16BE", &["again"]);
}

#[test]
fn no_columns_and_no_data() {
    let no = "neither a comma nor a semicolon nor a tab";
    refused("hello\nworld\n", &[], &format!("log.csv: {no}"), &["--delimiter"]);
    refused("2021-01-01 10:00|21|45\n", &["zone=UTC"], &format!("log.csv: {no}"), &["--delimiter"]);
    refused(
        "a;b\tc\n",
        &[],
        "log.csv: the lines can be parted by semicolon or tab",
        &["--delimiter"],
    );
    refused(
        "a;b\tc\nd;e\tf\ng;h\n",
        &[],
        "log.csv: the lines can be parted by semicolon or tab",
        &["--delimiter"],
    );
    refused(
        "time,air,rh\n",
        &[],
        "log.csv, line 1: there is a header but no data row",
        &["Export"],
    );
    refused("1,2\n3,4\n", &[], "log.csv: no line holds a time", &["--time-format", "--first-row"]);
    refused(
        "time,air\n2021-01-01 10:00,21\n",
        &["first-row=9"],
        "log.csv: --first-row is 9, but the last line with anything in it is 2",
        &["counted from 1"],
    );
}

const TWO: &str = "time,Temp 1,Temp 2,RH\n2021-01-01 10:00,21.5,22,45\n";

#[test]
fn columns_that_cannot_be_told() {
    let zone = "zone=UTC";
    refused(
        TWO,
        &[zone, "air=Tempp 1"],
        "log.csv, line 1: no column is named \"Tempp 1\". Did you mean \"Temp 1\"?",
        &["--column air=NAME", "1 \"time\", 2 \"Temp 1\", 3 \"Temp 2\", 4 \"RH\""],
    );
    refused(
        TWO,
        &[zone, "air=5"],
        "log.csv, line 2: there is no column 5",
        &["--column air=NUMBER", "4 \"RH\""],
    );
    refused(
        "time,T,T\n2021-01-01 10:00,21.5,22\n",
        &[zone, "air=T"],
        "log.csv, line 1: \"T\" is the name of columns 2 \"T\", 3 \"T\"",
        &["--column air=NUMBER"],
    );
    refused(
        "2021-01-01 10:00,21.5,22\n",
        &[zone, "air=T"],
        "log.csv, line 1: \"T\" is to be the air column, but the file has no header",
        &["--column air=NUMBER", "there are 3"],
    );
    refused(
        TWO,
        &[zone, "air=2", "slab=Temp 1"],
        "log.csv, column 2 \"Temp 1\": the column is to be both slab and air",
        &["--column"],
    );
    refused(
        TWO,
        &[zone, "time=1", "air=time"],
        "log.csv, column 1 \"time\": the column is to be both",
        &["--column"],
    );
    refused(
        "time,Slab (C),slab\n2021-01-01 10:00,21.5,22\n",
        &[zone],
        "log.csv, line 1: columns 2 \"Slab (C)\", 3 \"slab\" could all be slab",
        &["--column slab=NUMBER", "--column slab=none"],
    );
    refused(
        "time,Temperature\n2021-01-01 10:00,21.5\n",
        &[zone],
        "log.csv: no column's name says that it is slab, air, rh or supply",
        &["--column air=NUMBER", "2 \"Temperature\""],
    );
    refused(
        "minute,air\n1,21.5\n2,21.6\n",
        &[zone, "delimiter=comma", "first-row=2"],
        "log.csv: no column holds times",
        &["--column time=NUMBER", "--time-format", "1 \"minute\""],
    );
    refused(
        "start,end,air\n2021-01-01 10:00,2021-01-01 10:10,21.5\n",
        &[zone],
        "log.csv: columns 1 \"start\", 2 \"end\" all hold times",
        &["--column time=NUMBER"],
    );
    refused(
        "time,air (%)\n2021-01-01 10:00,45\n",
        &[zone, "air=2"],
        "log.csv, line 1, column 2 \"air (%)\": the column is in %, which air cannot be",
        &["--column air=NUMBER[UNIT]"],
    );
}

/// The message for `cell` in line 3, column 2 "air".
fn cell_refused(cell: &str, options: &[&str], what: &str, fixes: &[&str]) {
    let text = format!("time;air;rh\n2021-01-01 10:00;21.5;45\n2021-01-01 10:10;{cell};45\n");
    let options = [&["zone=UTC"], options].concat();
    refused(text, &options, &format!("log.csv, line 3, column 2 \"air\": {what}"), fixes);
}

#[test]
fn cells_that_are_no_reading() {
    cell_refused("abc", &[], "\"abc\" is not a number", &["--missing \"abc\""]);
    cell_refused("1,234.5", &[], "\"1,234.5\" has its digits in groups", &["without thousands"]);
    cell_refused("1 234", &[], "\"1 234\" has its digits in groups", &["without thousands"]);
    cell_refused(
        "21,5",
        &[],
        "\"21,5\" has a decimal comma, but line 2 has a decimal point",
        &["--decimal comma"],
    );
    cell_refused("-999.9", &[], "\"-999.9\" is -999.90 C", &["--missing -999.9", "-40 to 60 C"]);
    cell_refused("300", &[], "\"300\" is 300.00 C", &["--missing 300", "--column air=2[F]"]);
    cell_refused("72", &[], "\"72\" is 72.00 C", &["--column air=2[F]"]);
    cell_refused("70 °F", &[], "\"70 °F\" is in F", &["--column air=2[F]"]);
    refused(
        "time,air\n2021-01-01 10:00,70 °F\n2021-01-01 10:10,21\n",
        &["zone=UTC"],
        "log.csv, line 2, column 2 \"air\": \"70 °F\" is in F, but the column is taken as C",
        &["--column air=2[F]"],
    );
    // Only the first rows show what the cells' unit is.
    let rows: String =
        (0..300).map(|i| format!("2021-01-01 {}:{:02},70 °F\n", 10 + i / 60, i % 60)).collect();
    refused(
        format!("time,air\n{rows}2021-01-01 20:00,70\n"),
        &["zone=UTC"],
        "log.csv, line 302, column 2 \"air\": \"70\" has no unit, but the cells above are in F",
        &["--column air=2[F]"],
    );
    refused(
        "time,rh\n2021-01-01 10:00,130\n",
        &["zone=UTC"],
        "log.csv, line 2, column 2 \"rh\": \"130\" is 130.00 %, which rh cannot be (0 to 110 %",
        &["--missing 130", "--column rh=2[fraction]"],
    );
    refused(
        "time,rh\n2021-01-01 10:00,-0.3\n",
        &["zone=UTC"],
        "log.csv, line 2, column 2 \"rh\": \"-0.3\" is -0.30 %",
        &["--missing -0.3"],
    );
    refused(
        "time,rh\n2021-01-01 10:00,0.45\n2021-01-01 10:10,0.46\n",
        &["zone=UTC"],
        "log.csv, column 2 \"rh\": no value is above 1",
        &["--column rh=2[fraction]", "--column rh=2[%]"],
    );
    refused(
        "time,air\n2021-01-01 10:00,52.1\n2021-01-01 10:10,48\n",
        &["zone=UTC"],
        "log.csv, column 2 \"air\": the values average 50, so this seems to be in F",
        &["--column air=2[F]", "--column air=2[C]"],
    );
    refused(
        "time;air\n2021-01-01 10:00;21.5\n",
        &["zone=UTC", "decimal=comma"],
        "log.csv, line 2, column 2 \"air\": \"21.5\" has a decimal point, but the decimal comma was given",
        &["--decimal point"],
    );
}

#[test]
fn rows_of_another_length() {
    let head = "time,air,rh\n2021-01-01 10:00,21.5,45\n";
    refused(
        format!("{head}2021-01-01 10:10,21.5\n"),
        &["zone=UTC"],
        "log.csv, line 3: 2 fields, but 3 are due. The header on line 1 has 3.",
        &["Correct the line or remove it"],
    );
    refused(
        format!("{head}2021-01-01 10:10,21,5,45\n"),
        &["zone=UTC"],
        "log.csv, line 3: 4 fields, but 3 are due.",
        &["Correct the line"],
    );
    refused(
        format!("{head}2021-01-01 10:10,\"21.5,45\n2021-01-01 10:20,21.5,45\n"),
        &["zone=UTC"],
        "log.csv, line 3: 2 fields, but 3 are due. A quotation mark on this line",
        &["line 5, or never"],
    );
    refused(
        "2021-01-01 10:00,21.5,45\n2021-01-01 10:10,21.5,45\n2021-01-01 10:20,7\n",
        &["zone=UTC", "air=2"],
        "log.csv, line 3: 2 fields, but 3 are due.",
        &["Correct the line"],
    );
    // A broken row right under the header is no preamble.
    refused(
        "time,air,rh\n???,21.5,45\n2021-01-01 10:10,21.5,45\n",
        &["zone=UTC"],
        "log.csv, line 2, column 1 \"time\": \"???\" is not a time written as ymd",
        &["--time-format"],
    );
}

/// The message for a `time` in line 3.
fn time_refused(first: &str, time: &str, options: &[&str], what: &str, fixes: &[&str]) {
    let text = format!("time;air\n{first};21.5\n{time};21.6\n");
    refused(text, options, &format!("log.csv, line 3, column 1 \"time\": {what}"), fixes);
}

#[test]
fn times_that_are_none() {
    let first = "2021-01-01 10:00";
    let utc = &["zone=UTC"][..];
    time_refused(first, "", utc, "there is no time here", &["remove the line"]);
    time_refused(first, "noon", utc, "\"noon\" is not a time written as ymd", &["--time-format"]);
    time_refused(
        first,
        "2021-01-01",
        utc,
        "\"2021-01-01\" has no time of day",
        &["--column date="],
    );
    time_refused(
        first,
        "2021-02-29 10:00",
        utc,
        "\"2021-02-29 10:00\" is a date that does not exist",
        &["--time-format"],
    );
    time_refused(
        first,
        "2021-01-01 10:60",
        utc,
        "\"2021-01-01 10:60\" is a time of day that",
        &["remove"],
    );
    time_refused(
        first,
        "2000-01-01 00:10",
        utc,
        "\"2000-01-01 00:10\" is outside the years",
        &["clock was not set"],
    );
    time_refused(
        "18/12/2020 10:00",
        "12/18/2020 10:10",
        utc,
        "\"12/18/2020 10:10\" is a date that does not exist, read as dmy",
        &["--time-format"],
    );
    time_refused(
        "12/18/2020 9:00 AM",
        "12/18/2020 13:00 PM",
        utc,
        "\"12/18/2020 13:00 PM\" is a time of day",
        &["Correct"],
    );
    refused(
        "time;air\n01/02/2021 10:00;21\n12/12/2021 10:00;21\n",
        utc,
        "log.csv, line 2, column 1 \"time\": \"01/02/2021 10:00\" could be read in more than one",
        &["--time-format dmy", "--time-format mdy"],
    );
    refused(
        "time;air\n20/12/18 10:00;21\n",
        &["zone=UTC", "time=1", "first-row=2"],
        "log.csv, line 2, column 1 \"time\": \"20/12/18 10:00\" could be read in more than one",
        &["--time-format dmy"],
    );
    time_refused(
        first,
        "2021-01-01 10:10 -5",
        utc,
        "\"2021-01-01 10:10 -5\" is not a time",
        &["--time-format"],
    );
    time_refused(
        "18.12.2020 10:00",
        "18.12.20201 10:10",
        utc,
        "\"18.12.20201 10:10\" is not a time",
        &["--time-format"],
    );
    time_refused(first, "10:10", utc, "\"10:10\" has no date", &["--column date=NUMBER"]);
    refused(
        "time;air\n10:00;21\n10:10;22\n",
        utc,
        "log.csv, line 2, column 1 \"time\": \"10:00\" has no date",
        &["--column time=NUMBER"],
    );
    refused(
        "time;air\nyesterday;21\ntoday;21\n",
        utc,
        "log.csv, line 2, column 1 \"time\": \"yesterday\" is not a time written in any way known",
        &["--time-format"],
    );
    refused(
        format!("time;air\n{first};21\n2021-01-01 10:10;22\n"),
        &[],
        "log.csv, line 2, column 1 \"time\": times such as \"2021-01-01 10:00\" say no offset",
        &["--zone Europe/Helsinki", "--zone +02:00"],
    );
}

#[test]
fn local_times_with_no_or_two_meanings() {
    let helsinki = &["zone=Europe/Helsinki"][..];
    time_refused(
        "2021-03-28 02:50",
        "2021-03-28 03:00",
        helsinki,
        "2021-03-28 03:00:00 does not exist in Europe/Helsinki",
        &["--zone +02:00"],
    );
    time_refused(
        "2021-10-31 02:50",
        "2021-10-31 03:30",
        helsinki,
        "2021-10-31 03:30:00 comes twice in Europe/Helsinki",
        &["--zone +02:00", "remove the rows"],
    );
    // Two steps back in one night.
    let times = ["02:50", "03:30", "03:10", "03:40", "03:20", "04:00"];
    let rows: String = times.iter().map(|t| format!("2021-10-31 {t};21\n")).collect();
    refused(
        format!("time;air\n{rows}"),
        helsinki,
        "log.csv, line 3, column 1 \"time\": 2021-10-31 03:30:00 comes twice",
        &["--zone +02:00"],
    );
}

#[test]
fn the_same_time_twice_with_other_values() {
    refused(
        "time,air\n2021-01-01 10:00,21\n2021-01-01 10:10,22\n2021-01-01 10:10,23\n",
        &["zone=UTC"],
        "log.csv, line 4: other values than on line 3 at the same time, 2021-01-01 10:10:00 UTC",
        &["Remove the wrong one"],
    );
}

#[test]
fn rows_of_two_logs_one_after_the_other() {
    let rows = |hour: u32| (0..60).map(move |m| format!("2021-01-01 {hour}:{m:02},21\n"));
    let text: String = rows(11).chain(rows(10)).collect();
    refused(
        format!("time,air\n{text}"),
        &["zone=UTC"],
        "log.csv, line 62: 60 of 120 rows are earlier than a row above them, by up to 7140 s",
        &["import each by itself"],
    );
}

#[test]
fn many_errors_are_shown_up_to_a_number() {
    let rows: String = (0..50).map(|m| format!("2021-01-01 10:{m:02},x{m}\n")).collect();
    let text = format!("time,air\n2021-01-01 09:00,21\n{rows}");
    let errors = read(text.as_bytes(), "log.csv", &mapping(&["zone=UTC"])).unwrap_err();
    assert_eq!((errors.shown.len(), errors.more), (SHOWN_MAX, 30));
    let text = errors.to_string();
    assert_eq!(text.lines().count(), SHOWN_MAX + 1);
    assert!(
        text.lines().nth(19).unwrap().starts_with("log.csv, line 22, column 2 \"air\": \"x19\""),
        "{text}"
    );
    assert!(text.ends_with("log.csv: and 30 more errors"), "{text}");
}

#[test]
fn errors_of_several_columns_are_told_in_one_go() {
    let text = "time,air,rh\n2021-01-01 10:00,21,45\nnever,x,y\n";
    let errors = read(text.as_bytes(), "log.csv", &mapping(&["zone=UTC"])).unwrap_err();
    let columns: Vec<usize> =
        errors.shown.iter().map(|e| e.column.as_ref().unwrap().number).collect();
    assert_eq!(columns, [1, 2, 3]);
}

#[test]
fn option_texts_that_say_nothing_usable() {
    let mut out = Mapping::default();
    for (text, part) in [
        ("air", "CHANNEL=COLUMN"),
        ("floor=3", "one of time, date, slab, air, rh, supply"),
        ("air=", "CHANNEL=COLUMN"),
        ("air=0", "a number from 1"),
        ("air=3[%]", "air cannot be in %"),
        ("rh=3[F]", "rh cannot be in F"),
    ] {
        let error = out.assign(text).unwrap_err().to_string();
        assert!(error.contains(part), "{text}: {error}");
    }
    assert_eq!(out, Mapping::default());
}
