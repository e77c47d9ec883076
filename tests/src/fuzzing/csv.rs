//! CSV files of any logger.

use glueday::archive::{ImportRow, import_blocks, import_id};
use glueday::history;
use glueday::intake::{Intake, IntakeErrors, Mapping, Note, Problem, SHOWN_MAX, read};

/// What stands before the options in the first line of an input, when there are any.
const OPTIONS: &str = "options ";

/// A file is read, with the options of its first line if that has some. Either every error has its
/// place, or every row is there: in order, once, the same when it is read again by what was found out,
/// and the same after it went through blocks.
pub fn csv(data: &[u8]) {
    let (mapping, file) = split(data);
    match read(file, "log.csv", &mapping) {
        Ok(intake) => taken(file, &intake),
        Err(errors) => refused(file, &errors),
    }
}

/// The options of the first line, `options zone=UTC air=3[F]`, and the file behind it.
fn split(data: &[u8]) -> (Mapping, &[u8]) {
    let plain = (Mapping::default(), data);
    let Some(behind) = data.strip_prefix(OPTIONS.as_bytes()) else { return plain };
    let Some(end) = behind.iter().position(|byte| *byte == b'\n') else { return plain };
    let (line, file) = (&behind[..end], &behind[end + 1..]);
    let Ok(line) = std::str::from_utf8(line) else { return (Mapping::default(), file) };
    let mut mapping = Mapping::default();
    for option in line.split_ascii_whitespace() {
        // What cannot be read is left out here; `word` reads those.
        match option.split_once('=') {
            Some(("zone", value)) => mapping.zone = value.parse().ok(),
            Some(("delimiter", value)) => mapping.delimiter = value.parse().ok(),
            Some(("decimal", value)) => mapping.decimal = value.parse().ok(),
            Some(("format", value)) => mapping.time_format = value.parse().ok(),
            Some(("first-row", value)) => mapping.first_row = value.parse().ok(),
            Some(("missing", value)) => mapping.missing.push(value.to_owned()),
            _ => drop(mapping.assign(option)),
        }
    }
    (mapping, file)
}

fn refused(file: &[u8], errors: &IntakeErrors) {
    assert!(!errors.shown.is_empty() && errors.shown.len() <= SHOWN_MAX);
    let text = errors.to_string();
    assert!(text.lines().all(|line| line.starts_with("log.csv")), "{text}");
    // UTF-16 has a byte or two for each line end.
    let lines = file.iter().filter(|byte| matches!(byte, b'\n' | b'\r')).count() as u64 + 1;
    for error in &errors.shown {
        assert!(
            error.line.is_none_or(|line| (1..=lines).contains(&line)),
            "{error} of {lines} lines"
        );
        assert!(error.line.is_some() || !is_of_a_row(&error.problem), "no line: {error}");
    }
    assert!(errors.shown.is_sorted_by_key(|error| error.line));
}

/// Problems of one row, which have to name it.
fn is_of_a_row(problem: &Problem) -> bool {
    matches!(
        problem,
        Problem::NotText { .. }
            | Problem::FieldCount { .. }
            | Problem::TimeMissing
            | Problem::NotATime { .. }
            | Problem::NoTimeOfDay { .. }
            | Problem::NoDate { .. }
            | Problem::NoSuchDate { .. }
            | Problem::NoSuchTime { .. }
            | Problem::ClockNotSet { .. }
            | Problem::DateOrderUnclear { .. }
            | Problem::NoZone { .. }
            | Problem::Skipped { .. }
            | Problem::TwoMeanings { .. }
            | Problem::OutOfOrder { .. }
            | Problem::Conflict { .. }
            | Problem::NotANumber { .. }
            | Problem::Grouped { .. }
            | Problem::WrongMark { .. }
            | Problem::CellUnit { .. }
            | Problem::UnitMissing { .. }
            | Problem::NotBelieved { .. }
    )
}

fn taken(file: &[u8], intake: &Intake) {
    let rows = &intake.rows;
    assert!(!rows.is_empty());
    assert!(rows.is_sorted_by(|a, b| a.utc_s < b.utc_s));
    let again = read(file, "log.csv", &intake.mapping_used).map(|again| again.rows);
    assert_eq!(again.as_ref(), Ok(rows), "read otherwise with {:?}", intake.mapping_used);
    if let Some(expected) = count_rows(file, &intake.mapping_used) {
        let dropped: usize = intake
            .notes
            .iter()
            .map(|note| if let Note::Duplicates { count, .. } = note { *count } else { 0 })
            .sum();
        assert_eq!(rows.len() + dropped, expected, "rows lost: {:?}", intake.notes);
    }
    through_blocks(intake);
    for note in &intake.notes {
        assert!(!note.to_string().is_empty());
    }
}

/// Counts the rows that hold something, by hand. `None` where that would take more than a look: with
/// quotation marks, in which a line can end without ending a row, and in other encodings.
fn count_rows(file: &[u8], mapping: &Mapping) -> Option<usize> {
    let text = std::str::from_utf8(file).ok()?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let text = text.strip_suffix('\x1A').unwrap_or(text);
    if text.contains('"') {
        return None;
    }
    let delimiter = mapping.delimiter?.to_string();
    let delimiter = match delimiter.as_str() {
        "comma" => ',',
        "semicolon" => ';',
        "tab" => '\t',
        "space" => ' ',
        other => other.chars().next()?,
    };
    let holds = |row: &str| row.split(delimiter).any(|cell| !cell.trim().is_empty());
    let first_row = usize::try_from(mapping.first_row?).ok()?;
    // Very old systems ended lines with a carriage return alone.
    let lines: Vec<&str> =
        if text.contains('\n') { text.split('\n') } else { text.split('\r') }.collect();
    let data = lines.into_iter().skip(first_row - 1);
    Some(data.flat_map(|line| line.split('\r')).filter(|row| holds(row)).count())
}

/// The rows as blocks, as they are stored, and back.
fn through_blocks(intake: &Intake) {
    let rows: Vec<ImportRow> = intake
        .rows
        .iter()
        .map(|row| ImportRow {
            utc_s: row.utc_s,
            slab: row.slab,
            air: row.air,
            air_rh: row.air_rh,
            supply: row.supply,
            line: row.line,
        })
        .collect();
    let log = import_blocks(&rows, import_id(b"fuzz")).expect("what was read can be stored");
    let history = history::build(log.blocks.iter().map(Vec::as_slice));
    assert!(history.damaged.is_empty() && history.undated.is_empty(), "{:?}", history.damaged);
    assert_eq!(history.len(), rows.len());
    for (i, row) in rows.iter().enumerate() {
        let stored = (history.time_s[i], history.slab[i], history.air[i], history.air_rh[i]);
        assert_eq!(stored, (row.utc_s, row.slab, row.air, row.air_rh));
        assert_eq!(history.supply[i], row.supply);
    }
}
