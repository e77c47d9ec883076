//! Where the columns, the header and the data are.

use super::channel::Unit;
use super::dialect::{Delimiter, TimeFormat};
use super::error::{ColumnAt, Cut, IntakeError, Problem};
use super::mapping::{ColumnRef, Mapping, Pick};
use super::names::{Name, is_missing_word};
use super::number::{Parsed, parse};
use super::stamp::{Shape, shape};
use super::table::{Record as _, Records};

/// How many records are looked at to find the layout. A preamble is much shorter.
const SAMPLE_MAX: usize = 200;

/// One record of the sample.
#[derive(Clone, Debug)]
pub(super) struct Sampled {
    pub(super) line: u64,
    pub(super) fields: Vec<String>,
}

/// What was found.
#[derive(Debug)]
pub(super) struct Layout {
    pub(super) delimiter: Delimiter,
    pub(super) header: Option<Sampled>,
    pub(super) units: Vec<Option<Unit>>,
    /// Line of the first data row.
    pub(super) first_line: u64,
    /// Data rows of the sample.
    pub(super) data: Vec<Sampled>,
    /// Records above the data that are not the header or its units.
    pub(super) preamble: usize,
    /// Fields that a row has, without empty ones at the end of the header.
    pub(super) width: usize,
}

impl Layout {
    pub(super) fn find(text: &str, mapping: &Mapping) -> Result<Self, IntakeError> {
        let format = mapping.time_format.as_ref();
        let delimiter = match mapping.delimiter {
            Some(delimiter) => delimiter,
            None => sniff(text, format).map_err(Problem::in_file)?,
        };
        let sample = sample(text, delimiter.byte(), mapping.first_row.unwrap_or(0));
        Self::of(sample, delimiter, mapping)
    }

    fn of(
        sample: Vec<Sampled>,
        delimiter: Delimiter,
        mapping: &Mapping,
    ) -> Result<Self, IntakeError> {
        let format = mapping.time_format.as_ref();
        let given = match mapping.first_row {
            None => None,
            Some(first_row) => {
                let at = sample.iter().position(|r| r.line >= first_row).ok_or_else(|| {
                    let last = sample.last().map_or(0, |r| r.line);
                    Problem::FirstRowBeyondEnd { first_row, last }.in_file()
                })?;
                Some(at)
            }
        };
        let first = given.or_else(|| first_data(&sample, format));
        let header = header_before(&sample, first.unwrap_or(sample.len()), mapping);
        let units = header.and_then(|h| sample.get(h + 1)).filter(|r| is_units_row(r));
        // Without a row that looks like data, what follows the header is what went wrong; between
        // header and data nothing is passed over.
        let start = match (given, header) {
            (Some(at), _) => at,
            (None, Some(h)) => h + 1 + usize::from(units.is_some()),
            (None, None) => first.ok_or_else(|| Problem::NoRows.in_file())?,
        };
        let Some(start_record) = sample.get(start) else {
            return Err(Problem::HeaderOnly.on_line(sample.last().map_or(1, |r| r.line)));
        };
        let header_record = header.and_then(|h| sample.get(h)).cloned();
        let width = match &header_record {
            Some(record) => filled_width(record),
            // Without a header the fields of most rows count.
            None => common(sample.iter().skip(start).map(|r| r.fields.len())).unwrap_or(0),
        };
        let units = units.map(|r| r.fields.iter().map(|f| bare_unit(f)).collect());
        let above = [header_record.is_some(), units.is_some()].into_iter().filter(|x| *x).count();
        Ok(Self {
            delimiter,
            first_line: start_record.line,
            preamble: start - above.min(start),
            width,
            units: units.unwrap_or_default(),
            header: header_record,
            data: sample.into_iter().skip(start).collect(),
        })
    }

    /// The column as messages name it.
    pub(super) fn column(&self, index: usize) -> ColumnAt {
        ColumnAt { number: index + 1, name: self.name(index).to_owned() }
    }

    pub(super) fn columns(&self) -> Vec<ColumnAt> {
        (0..self.width).map(|i| self.column(i)).collect()
    }

    pub(super) fn name(&self, index: usize) -> &str {
        self.header.as_ref().and_then(|h| h.fields.get(index)).map_or("", String::as_str)
    }
}

fn sample(text: &str, delimiter: u8, first_row: u64) -> Vec<Sampled> {
    let mut records = Records::new(text, delimiter);
    let mut out = Vec::new();
    let mut after = 0;
    while after < SAMPLE_MAX && records.advance() {
        after += usize::from(records.line() >= first_row);
        let mut fields: Vec<String> =
            (0..records.len()).map(|i| records.text(i).to_owned()).collect();
        // A comment sign before a header is no part of the first name.
        if let Some(first) = fields.first_mut()
            && let Some(rest) = first.strip_prefix('#')
            && !is_missing_word(first.as_bytes())
        {
            *first = rest.trim_start().to_owned();
        }
        out.push(Sampled { line: records.line(), fields });
    }
    out.retain(|r| r.fields.iter().any(|f| !f.is_empty()));
    out
}

/// The delimiter that parts most lines into a time and other readable fields.
fn sniff(text: &str, format: Option<&TimeFormat>) -> Result<Delimiter, Problem> {
    let candidates = [Delimiter::COMMA, Delimiter::SEMICOLON, Delimiter::TAB];
    let looked: Vec<(Delimiter, usize, usize)> = candidates
        .into_iter()
        .map(|delimiter| {
            let sample = sample(text, delimiter.byte(), 0);
            let data = sample.iter().filter(|r| is_data(r, format)).count();
            let width = common(sample.iter().map(|r| r.fields.len())).unwrap_or(0);
            let parted = sample.iter().filter(|r| width > 1 && r.fields.len() == width).count();
            (delimiter, data, parted)
        })
        .collect();
    for score in [|l: &(Delimiter, usize, usize)| l.1, |l: &(Delimiter, usize, usize)| l.2] {
        let most = looked.iter().map(score).max().unwrap_or(0);
        if most == 0 {
            continue;
        }
        let found: Vec<Delimiter> =
            looked.iter().filter(|l| score(l) * 2 >= most).map(|l| l.0).collect();
        return match found.as_slice() {
            [one] => Ok(*one),
            several => {
                let words: Vec<String> = several.iter().map(ToString::to_string).collect();
                Err(Problem::AmbiguousDelimiter { candidates: words.join(" or ") })
            }
        };
    }
    Err(Problem::NoDelimiter)
}

/// The most frequent number; of two equally frequent ones the larger.
fn common(numbers: impl Iterator<Item = usize>) -> Option<usize> {
    let mut counts = std::collections::BTreeMap::<usize, usize>::new();
    for number in numbers {
        *counts.entry(number).or_default() += 1;
    }
    counts.into_iter().max_by_key(|(number, count)| (*count, *number)).map(|(number, _)| number)
}

/// Whether a record has a time and, besides, a number or a missing one.
fn is_data(record: &Sampled, format: Option<&TimeFormat>) -> bool {
    let shapes: Vec<_> = record.fields.iter().map(|f| shape(f.as_bytes(), format)).collect();
    let Some(time) = shapes.iter().position(|s| s.is_some_and(|s| s != Shape::TimeOnly)) else {
        // A pattern may need the date and the time column together.
        let by_pattern = matches!(format, Some(TimeFormat::Pattern(_)));
        return by_pattern
            && record.fields.iter().filter(|f| is_value(f)).count() * 2 >= record.fields.len();
    };
    record.fields.iter().zip(&shapes).enumerate().any(|(i, (f, s))| {
        i != time && (is_value(f) || (f.is_empty() && record.fields.len() > 2) || s.is_some())
    })
}

fn is_value(field: &str) -> bool {
    is_missing_word(field.as_bytes()) || matches!(parse(field.as_bytes()), Parsed::Number { .. })
}

/// Fields up to the last one with anything in it.
fn filled_width(record: &Sampled) -> usize {
    record.fields.iter().rposition(|f| !f.is_empty()).map_or(0, |i| i + 1)
}

/// The first data row: the first of the usual width, or one right above it that holds data too.
fn first_data(sample: &[Sampled], format: Option<&TimeFormat>) -> Option<usize> {
    let data: Vec<bool> = sample.iter().map(|r| is_data(r, format)).collect();
    let rows = || sample.iter().zip(&data).enumerate().filter(|(_, (_, is_data))| **is_data);
    let width = common(rows().map(|(_, (r, _))| r.fields.len()))?;
    let (mut first, _) = rows().find(|(_, (r, _))| r.fields.len() == width)?;
    while first > 0 && data.get(first - 1) == Some(&true) {
        first -= 1;
    }
    Some(first)
}

/// The header: the last record above the data that has all the names the user gave, else the last
/// that is made of words only.
fn header_before(sample: &[Sampled], first: usize, mapping: &Mapping) -> Option<usize> {
    let above = sample.get(..first).unwrap_or_default();
    // A line with fewer names than a data row has cells is no header.
    let least = sample.get(first).map_or(0, filled_width);
    let is_header = |r: &Sampled| {
        let words = |f: &String| !(is_number(f) || shape(f.as_bytes(), None).is_some());
        let filled = r.fields.iter().filter(|f| !f.is_empty());
        r.fields.len() >= least && filled.clone().count() > 1 && filled.clone().all(words)
    };
    let picks = [&mapping.slab, &mapping.air, &mapping.rh, &mapping.supply].into_iter();
    let columns =
        picks.filter_map(|p| if let Pick::From { column, .. } = p { Some(column) } else { None });
    let names: Vec<&str> = columns
        .chain(&mapping.time)
        .chain(&mapping.date)
        .filter_map(|c| if let ColumnRef::Name(name) = c { Some(name.as_str()) } else { None })
        .collect();
    if !names.is_empty()
        && let Some(at) =
            above.iter().rposition(|r| names.iter().all(|n| !matching(&r.fields, n).is_empty()))
    {
        return Some(at);
    }
    let last = above.iter().rposition(is_header)?;
    let units_under = last.checked_sub(1).filter(|at| {
        above.get(last).is_some_and(is_units_row) && above.get(*at).is_some_and(is_header)
    });
    Some(units_under.unwrap_or(last))
}

fn is_number(field: &str) -> bool {
    matches!(parse(field.as_bytes()), Parsed::Number { .. } | Parsed::Grouped)
}

/// A row under the header made of units, empty cells and the shape of the times.
fn is_units_row(record: &Sampled) -> bool {
    let is_unit = |f: &str| bare_unit(f).is_some();
    let fits = |f: &String| {
        let lower = f.to_lowercase();
        f.is_empty() || f == "-" || is_unit(f) || lower.contains("yyyy") || lower.contains("hh:mm")
    };
    record.fields.iter().any(|f| is_unit(f)) && record.fields.iter().all(fits)
}

/// A unit, with or without brackets around it.
fn bare_unit(field: &str) -> Option<Unit> {
    Unit::from_words(field.trim_matches(['(', ')', '[', ']']))
}

/// Columns that `wanted` names: exactly, else but for case, else but for the unit after the name.
pub(super) fn matching(header: &[String], wanted: &str) -> Vec<usize> {
    let by = |same: &dyn Fn(&str) -> bool| -> Vec<usize> {
        header.iter().enumerate().filter(|(_, h)| same(h)).map(|(i, _)| i).collect()
    };
    let exact = by(&|h| h == wanted);
    if !exact.is_empty() {
        return exact;
    }
    let lower = wanted.to_lowercase();
    let any_case = by(&|h| h.to_lowercase() == lower);
    if !any_case.is_empty() {
        return any_case;
    }
    let base = Name::read(wanted).base;
    if base.is_empty() { Vec::new() } else { by(&|h| Name::read(h).base == base) }
}

/// The nearest name as a sentence, or nothing.
pub(super) fn suggestion(header: &[String], wanted: &str) -> String {
    let lower = wanted.to_lowercase();
    let far = |h: &String| strsim::damerau_levenshtein(&h.to_lowercase(), &lower);
    let most = 1 + wanted.chars().count() / 4;
    let nearest =
        header.iter().filter(|h| !h.is_empty()).min_by_key(|h| far(h)).filter(|h| far(h) <= most);
    nearest.map_or_else(String::new, |name| format!(" Did you mean \"{}\"?", Cut(name)))
}
