//! Which column is what, in which unit.

use super::channel::{Channel, Unit};
use super::dialect::TimeFormat;
use super::error::{ColumnAt, IntakeError, Problem, list};
use super::layout::{Layout, matching, suggestion};
use super::mapping::{ColumnRef, Mapping, Pick};
use super::names::Name;
use super::note::{Note, UnitFrom};
use super::number::{Parsed, parse};
use super::stamp::{Shape, shape};

/// Columns of the times, counted from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TimeColumns {
    One(usize),
    DateAndTime { date: usize, time: usize },
}

impl TimeColumns {
    /// The column to name when a time is wrong.
    pub(super) fn first(self) -> usize {
        match self {
            Self::One(index) | Self::DateAndTime { date: index, .. } => index,
        }
    }

    pub(super) fn all(self) -> Vec<usize> {
        match self {
            Self::One(index) => vec![index],
            Self::DateAndTime { date, time } => vec![date, time],
        }
    }
}

/// A channel that the file has.
#[derive(Clone, Debug)]
pub(super) struct Source {
    pub(super) channel: Channel,
    /// Counted from 0.
    pub(super) index: usize,
    pub(super) unit: Unit,
    pub(super) unit_from: UnitFrom,
}

#[derive(Debug)]
pub(super) struct Columns {
    pub(super) time: TimeColumns,
    pub(super) sources: Vec<Source>,
}

impl Columns {
    pub(super) fn find(
        layout: &Layout,
        mapping: &Mapping,
        notes: &mut Vec<Note>,
    ) -> Result<Self, Vec<IntakeError>> {
        let mut errors = Vec::new();
        let mut sources = Vec::new();
        let (mut channel_notes, mut taken) = (Vec::new(), Vec::<(usize, &'static str)>::new());
        let mut take = |index: usize, role: &'static str, errors: &mut Vec<IntakeError>| match taken
            .iter()
            .find(|(i, _)| *i == index)
        {
            Some((_, first)) => {
                let problem = Problem::TakenTwice { first, second: role };
                errors.push(problem.at(None, layout.column(index)));
            }
            None => taken.push((index, role)),
        };
        let named_time = named_time(layout, mapping).unwrap_or_else(|error| {
            errors.push(error);
            None
        });
        for (index, role) in named_time.iter().flat_map(|t| t.all()).zip(["date", "time"]) {
            take(index, role, &mut errors);
        }
        // What the user named comes first, so that a guess never competes with it.
        let (named, guessed): (Vec<Channel>, Vec<Channel>) =
            Channel::ALL.into_iter().partition(|c| *mapping.pick(*c) != Pick::Guess);
        let mut used: Vec<usize> = named_time.iter().flat_map(|t| t.all()).collect();
        for channel in named.into_iter().chain(guessed) {
            match source(layout, mapping, channel, &used) {
                Ok(None) => {}
                Ok(Some((source, note))) => {
                    take(source.index, channel.word(), &mut errors);
                    used.push(source.index);
                    channel_notes.push((channel, note));
                    sources.push(source);
                }
                Err(error) => errors.push(error),
            }
        }
        let time = match named_time {
            Some(time) => Some(time),
            None if mapping.time.is_some() || mapping.date.is_some() => None,
            None => match guess_time(layout, mapping.time_format.as_ref(), &used) {
                Ok(time) => {
                    let columns = time.all().into_iter().map(|i| layout.column(i)).collect();
                    notes.push(Note::TimeColumn { columns });
                    Some(time)
                }
                Err(problem) => {
                    errors.push(problem.in_file());
                    None
                }
            },
        };
        if sources.is_empty() && errors.is_empty() {
            errors.push(Problem::NoChannels { columns: list(&layout.columns()) }.in_file());
        }
        let Some(time) = time.filter(|_| errors.is_empty()) else { return Err(errors) };
        for channel in Channel::ALL {
            notes.extend(
                channel_notes.iter().filter(|(c, _)| *c == channel).map(|(_, n)| n.clone()),
            );
        }
        let read = |i: &usize| !used.contains(i) && !time.all().contains(i);
        let left: Vec<ColumnAt> =
            (0..layout.width).filter(read).map(|i| layout.column(i)).collect();
        if !left.is_empty() {
            notes.push(Note::NotRead { columns: left });
        }
        Ok(Self { time, sources })
    }
}

/// The time columns that the user named.
fn named_time(layout: &Layout, mapping: &Mapping) -> Result<Option<TimeColumns>, IntakeError> {
    Ok(match (&mapping.date, &mapping.time) {
        (None, None) => None,
        (Some(date), None) => Some(TimeColumns::One(index(layout, date, "date")?)),
        (None, Some(time)) => Some(TimeColumns::One(index(layout, time, "time")?)),
        (Some(date), Some(time)) => {
            let date = index(layout, date, "date")?;
            let time = index(layout, time, "time")?;
            Some(if date == time {
                TimeColumns::One(time)
            } else {
                TimeColumns::DateAndTime { date, time }
            })
        }
    })
}

/// The column that the user named, counted from 0.
fn index(layout: &Layout, wanted: &ColumnRef, role: &'static str) -> Result<usize, IntakeError> {
    let name = match wanted {
        ColumnRef::Number(number) => {
            let index = number.checked_sub(1).filter(|i| *i < layout.width);
            return index.ok_or_else(|| {
                let columns = list(&layout.columns());
                Problem::NoSuchNumber { wanted: *number, role, columns }.on_line(layout.first_line)
            });
        }
        ColumnRef::Name(name) => name,
    };
    let Some(header) = &layout.header else {
        let count = layout.width;
        let problem = Problem::NoHeader { wanted: name.clone(), role, count };
        return Err(problem.on_line(layout.first_line));
    };
    match matching(&header.fields, name).as_slice() {
        [one] => Ok(*one),
        [] => {
            let suggestion = suggestion(&header.fields, name);
            let columns = list(&layout.columns());
            let wanted = name.clone();
            Err(Problem::NoSuchColumn { wanted, role, suggestion, columns }.on_line(header.line))
        }
        several => {
            let columns: Vec<ColumnAt> = several.iter().map(|i| layout.column(*i)).collect();
            let problem =
                Problem::NameTwice { wanted: name.clone(), role, columns: list(&columns) };
            Err(problem.on_line(header.line))
        }
    }
}

/// Where `channel` comes from, if from anywhere.
fn source(
    layout: &Layout,
    mapping: &Mapping,
    channel: Channel,
    used: &[usize],
) -> Result<Option<(Source, Note)>, IntakeError> {
    let (index, given, guessed) = match mapping.pick(channel) {
        Pick::NotFitted => return Ok(None),
        Pick::From { column, unit } => (index(layout, column, channel.word())?, *unit, false),
        Pick::Guess => match guess(layout, channel, used)? {
            Some(index) => (index, None, true),
            None => return Ok(None),
        },
    };
    let named = Name::read(layout.name(index)).unit.map(|unit| (unit, UnitFrom::Header));
    let under = layout.units.get(index).copied().flatten().map(|unit| (unit, UnitFrom::UnitsRow));
    let written = named.or(under).or_else(|| {
        // Only where all numbers of the sample agree.
        let mut units = layout.data.iter().filter_map(|r| cell_unit(r.fields.get(index)?));
        let unit = units.next()?;
        let unit = unit.filter(|_| units.all(|u| u == unit));
        unit.map(|unit| (unit, UnitFrom::Cells))
    });
    let (unit, unit_from) = match (given, written) {
        (Some(unit), _) => (unit, UnitFrom::User),
        (None, Some(found)) => found,
        (None, None) => (channel.default_unit(), UnitFrom::Assumed),
    };
    let column = layout.column(index);
    if !channel.takes(unit) {
        let problem = Problem::WrongUnit { unit: unit.word(), channel: channel.word() };
        return Err(problem.at(layout.header.as_ref().map(|h| h.line), column));
    }
    let header_unit = written.map(|(unit, _)| unit).filter(|u| given.is_some_and(|g| g != *u));
    let note = Note::Channel { channel, column, unit, unit_from, guessed, header_unit };
    Ok(Some((Source { channel, index, unit, unit_from }, note)))
}

/// The unit of a number, if the cell is one.
fn cell_unit(field: &str) -> Option<Option<Unit>> {
    match parse(field.as_bytes()) {
        Parsed::Number { unit, .. } => Some(unit),
        _ => None,
    }
}

/// The one column whose name is one of the channel's.
fn guess(layout: &Layout, channel: Channel, used: &[usize]) -> Result<Option<usize>, IntakeError> {
    let fits = |i: &usize| !used.contains(i) && Name::read(layout.name(*i)).is_for(channel);
    let found: Vec<usize> = (0..layout.width).filter(fits).collect();
    match found.as_slice() {
        [] => Ok(None),
        [one] => Ok(Some(*one)),
        several => {
            let columns: Vec<ColumnAt> = several.iter().map(|i| layout.column(*i)).collect();
            let problem =
                Problem::AmbiguousChannel { role: channel.word(), columns: list(&columns) };
            Err(problem.on_line(layout.header.as_ref().map_or(layout.first_line, |h| h.line)))
        }
    }
}

/// The time columns going by what the cells hold; by name only where several hold times.
fn guess_time(
    layout: &Layout,
    format: Option<&TimeFormat>,
    used: &[usize],
) -> Result<TimeColumns, Problem> {
    let shapes: Vec<Option<Shape>> = (0..layout.width)
        .map(|i| if used.contains(&i) { None } else { column_shape(layout, i, format) })
        .collect();
    let with = |wanted: &[Shape]| -> Vec<usize> {
        let has = |s: &Option<Shape>| s.is_some_and(|s| wanted.contains(&s));
        shapes.iter().enumerate().filter(|(_, s)| has(s)).map(|(i, _)| i).collect()
    };
    for wanted in [&[Shape::DateTime][..], &[Shape::UnixSeconds, Shape::UnixMillis]] {
        let found = with(wanted);
        let is_named = |i: &&usize| Name::read(layout.name(**i)).is_time();
        let named: Vec<&usize> = found.iter().filter(is_named).collect();
        match (found.as_slice(), named.as_slice()) {
            ([], _) => {}
            ([one], _) => return Ok(TimeColumns::One(*one)),
            (_, [one]) => return Ok(TimeColumns::One(**one)),
            (several, _) => {
                let columns: Vec<ColumnAt> = several.iter().map(|i| layout.column(*i)).collect();
                return Err(Problem::AmbiguousTimeColumn { columns: list(&columns) });
            }
        }
        let (dates, times) = (with(&[Shape::DateOnly]), with(&[Shape::TimeOnly]));
        if let ([date], [time]) = (dates.as_slice(), times.as_slice()) {
            return Ok(TimeColumns::DateAndTime { date: *date, time: *time });
        }
    }
    // Nothing that can be read: the one named so is what the message should be about.
    let lone = with(&[Shape::DateOnly]);
    let named: Vec<usize> = (0..layout.width)
        .filter(|i| !used.contains(i) && Name::read(layout.name(*i)).is_time())
        .collect();
    match (lone.as_slice(), named.as_slice()) {
        ([one], _) | ([], [one]) => Ok(TimeColumns::One(*one)),
        _ => Err(Problem::NoTimeColumn { columns: list(&layout.columns()) }),
    }
}

/// The shape that more than half of a column's filled cells have.
fn column_shape(layout: &Layout, index: usize, format: Option<&TimeFormat>) -> Option<Shape> {
    let filled =
        || layout.data.iter().filter_map(|r| r.fields.get(index)).filter(|f| !f.is_empty());
    let shapes: Vec<Shape> = filled().filter_map(|f| shape(f.as_bytes(), format)).collect();
    let first = *shapes.first()?;
    let same = shapes.iter().filter(|s| **s == first).count();
    (same * 2 > filled().count()).then_some(first)
}
