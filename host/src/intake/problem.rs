//! What can be wrong, in words.

use super::mapping::option::{COLUMN, DECIMAL, DELIMITER, FIRST_ROW, MISSING, TIME_FORMAT, ZONE};

/// What is wrong. Each message ends with what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "the message of each variant says what its fields are")]
pub enum Problem {
    #[error("the file is empty. Export it again from the logger and see that the export finishes")]
    Empty,
    #[error("this is {kind}, not CSV text. Open it where it was made and save the data as CSV")]
    OtherFile { kind: &'static str },
    #[error(
        "a byte {code:#04x} is in the text. If this is a CSV file, save it again as UTF-8; a file in UTF-16 must begin with a byte-order mark"
    )]
    NotText { code: u8 },
    #[error("the file says it is {encoding} but has bytes that are not. Export or copy it again")]
    Damaged { encoding: &'static str },
    #[error(
        "neither a comma nor a semicolon nor a tab parts the lines into columns. Say which character does with {DELIMITER}"
    )]
    NoDelimiter,
    #[error("the lines can be parted by {candidates}. Say which it is with {DELIMITER}")]
    AmbiguousDelimiter { candidates: String },
    #[error("there is a header but no data row. Export the readings as well")]
    HeaderOnly,
    #[error(
        "no line holds a time and a number. Say how times are written with {TIME_FORMAT}, or where the data begins with {FIRST_ROW}"
    )]
    NoRows,
    #[error(
        "{FIRST_ROW} is {first_row}, but the last line with anything in it is {last}. Give the line number of the first data row, counted from 1"
    )]
    FirstRowBeyondEnd { first_row: u64, last: u64 },
    #[error(
        "\"{wanted}\" is to be the {role} column, but the file has no header. Give the column's number with {COLUMN} {role}=NUMBER; there are {count}"
    )]
    NoHeader { wanted: String, role: &'static str, count: usize },
    #[error(
        "no column is named \"{wanted}\".{suggestion} Give {COLUMN} {role}=NAME with one of these: {columns}"
    )]
    NoSuchColumn { wanted: String, role: &'static str, suggestion: String, columns: String },
    #[error(
        "there is no column {wanted}. Give {COLUMN} {role}=NUMBER with one of these: {columns}"
    )]
    NoSuchNumber { wanted: usize, role: &'static str, columns: String },
    #[error(
        "\"{wanted}\" is the name of columns {columns}. Say which is meant with {COLUMN} {role}=NUMBER"
    )]
    NameTwice { wanted: String, role: &'static str, columns: String },
    #[error(
        "the column is to be both {first} and {second}. Give each its own column with {COLUMN}"
    )]
    TakenTwice { first: &'static str, second: &'static str },
    #[error(
        "columns {columns} could all be {role}. Say which it is with {COLUMN} {role}=NUMBER, or {COLUMN} {role}=none"
    )]
    AmbiguousChannel { role: &'static str, columns: String },
    #[error(
        "no column's name says that it is slab, air, rh or supply. Say what they are with {COLUMN}, such as {COLUMN} air=NUMBER; the columns are {columns}"
    )]
    NoChannels { columns: String },
    #[error(
        "no column holds times that can be read. Name it with {COLUMN} time=NUMBER, and how it is written with {TIME_FORMAT}; the columns are {columns}"
    )]
    NoTimeColumn { columns: String },
    #[error("columns {columns} all hold times. Say which counts with {COLUMN} time=NUMBER")]
    AmbiguousTimeColumn { columns: String },
    #[error(
        "the column is in {unit}, which {channel} cannot be. Map another column with {COLUMN} {channel}=NUMBER, or state the unit with {COLUMN} {channel}=NUMBER[UNIT]"
    )]
    WrongUnit { unit: &'static str, channel: &'static str },

    #[error("{found} fields, but {expected} are due.{hint} Correct the line or remove it")]
    FieldCount { found: usize, expected: usize, hint: String },
    #[error("there is no time here. Fill it in or remove the line")]
    TimeMissing,
    #[error(
        "\"{cell}\" is not a time written {format}. Correct it or remove the line; if all are written so, say how with {TIME_FORMAT}"
    )]
    NotATime { cell: String, format: String },
    #[error(
        "\"{cell}\" has no time of day. If that is in another column, name both with {COLUMN} date=NUMBER and {COLUMN} time=NUMBER"
    )]
    NoTimeOfDay { cell: String },
    #[error(
        "\"{cell}\" has no date. If that is in another column, name both with {COLUMN} date=NUMBER and {COLUMN} time=NUMBER"
    )]
    NoDate { cell: String },
    #[error(
        "\"{cell}\" is a date that does not exist, read as {format}. Correct it, or say how dates are written with {TIME_FORMAT} ymd, dmy or mdy"
    )]
    NoSuchDate { cell: String, format: String },
    #[error("\"{cell}\" is a time of day that does not exist. Correct it or remove the line")]
    NoSuchTime { cell: String },
    #[error(
        "\"{cell}\" is outside the years 2001 to 2099, so the logger's clock was not set or the time is not read as it is written. Remove the lines of that time, or say how times are written with {TIME_FORMAT}"
    )]
    ClockNotSet { cell: String },
    #[error(
        "\"{cell}\" could be read in more than one order of day, month and year, and no date in the file settles it. Say which with {TIME_FORMAT} dmy, {TIME_FORMAT} mdy or {TIME_FORMAT} \"%y/%m/%d %H:%M\""
    )]
    DateOrderUnclear { cell: String },
    #[error(
        "times such as \"{cell}\" say no offset from UTC. Give the logger's zone with {ZONE}, such as {ZONE} Europe/Helsinki or, if its clock ignores daylight saving, {ZONE} +02:00"
    )]
    NoZone { cell: String },
    #[error(
        "{local} does not exist in {zone}: the clock was put forward over it. If the logger's clock ignores daylight saving, give a fixed offset such as {ZONE} {offset}"
    )]
    Skipped { local: String, zone: String, offset: String },
    #[error(
        "{local} comes twice in {zone} on the night when the clock is put back, and the order of the rows does not show which is meant. If the logger's clock ignores daylight saving, give a fixed offset such as {ZONE} {offset}; otherwise remove the rows of that hour"
    )]
    TwoMeanings { local: String, zone: String, offset: String },
    #[error(
        "{count} of {rows} rows are earlier than a row above them, by up to {worst_s} s, this one first. If files were joined, import each by itself; if the clock was set back, split the file there and import the parts"
    )]
    OutOfOrder { count: usize, rows: usize, worst_s: i64 },
    #[error(
        "other values than on line {other_line} at the same time, {utc} UTC. Remove the wrong one; if the clock was put back between them, give its zone with {ZONE}"
    )]
    Conflict { other_line: u64, utc: String },

    #[error(
        "\"{cell}\" is not a number. Correct it; if the logger writes it for no reading, add {MISSING} \"{cell}\""
    )]
    NotANumber { cell: String },
    #[error(
        "\"{cell}\" has its digits in groups. Export without thousands separators, or correct the cell"
    )]
    Grouped { cell: String },
    #[error(
        "\"{cell}\" has a decimal {found}, but {reason}. Correct it, or say which mark is right with {DECIMAL} {found}"
    )]
    WrongMark { cell: String, found: &'static str, reason: String },
    #[error(
        "\"{cell}\" is in {found}, but the column is taken as {taken}. State the unit with {COLUMN} {channel}={number}[{found}]"
    )]
    CellUnit {
        cell: String,
        found: &'static str,
        taken: &'static str,
        channel: &'static str,
        number: usize,
    },
    #[error(
        "\"{cell}\" has no unit, but the cells above are in {taken}. Write the unit, or state it for the column with {COLUMN} {channel}={number}[{taken}]"
    )]
    UnitMissing { cell: String, taken: &'static str, channel: &'static str, number: usize },
    #[error(
        "\"{cell}\" is {value:.2} {unit}, which {channel} cannot be ({low} to {high} {unit} is believed). If the logger writes it for no reading, add {MISSING} {cell}; if the column has another unit, state it, such as {COLUMN} {channel}={number}[{other_unit}]"
    )]
    NotBelieved {
        cell: String,
        value: f64,
        unit: &'static str,
        channel: &'static str,
        low: i32,
        high: i32,
        number: usize,
        other_unit: &'static str,
    },
    #[error(
        "no value is above 1, so this seems to be a fraction and not percent. State the unit with {COLUMN} rh={number}[fraction], or {COLUMN} rh={number}[%] if it is percent"
    )]
    SeemsFraction { number: usize },
    #[error(
        "the values average {mean}, so this seems to be in F, but no unit is written. State it with {COLUMN} {channel}={number}[F], or {COLUMN} {channel}={number}[C] if it is in C"
    )]
    SeemsFahrenheit { mean: i64, channel: &'static str, number: usize },
}
