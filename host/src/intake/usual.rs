//! The usual line of a log, read where it stands: a time, and numbers with at most two decimals.
//!
//! What is not recognised at once is handed over to those that read every cell; nothing is read here in
//! another way than by them.

use super::columns::TimeColumns;
use super::dialect::TimeFormat;
use super::number::{Plain, leading};
use super::pass::Pass;
use super::stamp::Stamp;
use super::table::trim;

/// What came of a line.
pub(super) enum Came<'t> {
    /// A row; the lines that follow.
    Row(&'t [u8]),
    /// Not a usual line: nothing was taken of it.
    Unusual,
    /// Something is wrong with it, or with the file up to it.
    Fault,
}

/// What a column is for.
#[derive(Clone, Copy)]
enum Role {
    Skipped,
    /// Date and time, or the first of the two.
    Time,
    /// The time of day where the date has a column of its own.
    TimeOfDay,
    /// The channel's number; whether its plain numbers are hundredths of a reading.
    Channel(usize, bool),
}

/// A cell that was looked at.
#[derive(Clone, Copy)]
enum Cell<'t> {
    Plain(Plain),
    Other(&'t [u8]),
}

/// How the lines of a file look.
pub(super) struct UsualLine {
    roles: Vec<Role>,
    delimiter: u8,
    /// Whether date and time of day stand in one cell, in figures.
    has_stamp: bool,
}

impl UsualLine {
    pub(super) fn of(pass: &Pass<'_>) -> Self {
        let plan = pass.plan;
        let mut roles = vec![Role::Skipped; plan.layout.width];
        let mut set = |index: usize, role: Role| {
            if let Some(place) = roles.get_mut(index) {
                *place = role;
            }
        };
        for (number, reader) in pass.channels.iter().enumerate() {
            let is_plain = reader.keeps_hundredths() && !plan.codes.has_numbers();
            set(reader.source.index, Role::Channel(number, is_plain));
        }
        let is_one = match plan.columns.time {
            TimeColumns::One(index) => {
                set(index, Role::Time);
                true
            }
            TimeColumns::DateAndTime { date, time } => {
                set(date, Role::Time);
                set(time, Role::TimeOfDay);
                false
            }
        };
        let is_date = matches!(
            plan.format,
            TimeFormat::YearFirst | TimeFormat::DayFirst | TimeFormat::MonthFirst
        );
        Self { roles, delimiter: plan.delimiter(), has_stamp: is_one && is_date }
    }

    /// Reads the first line of `text`, which is the line of that number.
    #[inline]
    pub(super) fn read<'t>(&self, pass: &mut Pass<'_>, text: &'t [u8], line: u64) -> Came<'t> {
        let mut cells = [Cell::Other(&[][..]); 4];
        let (mut stamp, mut date, mut time) = (None, &[][..], &[][..]);
        let mut rest = text;
        let last = self.roles.len().saturating_sub(1);
        for (i, role) in self.roles.iter().enumerate() {
            let is_last = i == last;
            let behind = |len: usize| self.behind(rest, len, is_last);
            let quick = match *role {
                Role::Time if self.has_stamp => {
                    pass.times.usual(rest, self.delimiter).and_then(|(found, len)| {
                        stamp = Some(found);
                        behind(len)
                    })
                }
                Role::Channel(number, true) => {
                    leading(rest, self.delimiter).and_then(|(found, len)| {
                        *cells.get_mut(number)? = Cell::Plain(found);
                        behind(len)
                    })
                }
                _ => None,
            };
            if let Some(behind) = quick {
                rest = behind;
                continue;
            }
            let end = memchr::memchr2(self.delimiter, b'\n', rest).unwrap_or(rest.len());
            let Some(behind) = behind(end) else { return Came::Unusual };
            // This takes the first half of a line end off as well.
            let cell = trim(rest.get(..end).unwrap_or_default());
            match *role {
                Role::Skipped => {}
                Role::Time => (stamp, date) = (None, cell),
                Role::TimeOfDay => time = cell,
                Role::Channel(number, _) => match cells.get_mut(number) {
                    Some(place) => *place = Cell::Other(cell),
                    None => return Came::Unusual,
                },
            }
            rest = behind;
        }
        let Some(stamp) = stamp.or_else(|| pass.times.stamp(date, time)) else {
            return Came::Unusual;
        };
        if Self::take(pass, stamp, cells, line) { Came::Row(rest) } else { Came::Fault }
    }

    /// What stands behind a cell of that length, if it ends there.
    #[inline]
    fn behind<'t>(&self, text: &'t [u8], len: usize, is_last: bool) -> Option<&'t [u8]> {
        let rest = text.get(len..)?;
        match rest {
            [end, rest @ ..] if !is_last => (*end == self.delimiter).then_some(rest),
            [b'\n', rest @ ..] | [b'\r', b'\n', rest @ ..] if is_last => Some(rest),
            [] if is_last => Some(rest),
            _ => None,
        }
    }

    /// Adds the row; false if something is wrong with it.
    #[inline]
    fn take(pass: &mut Pass<'_>, stamp: Stamp, cells: [Cell<'_>; 4], line: u64) -> bool {
        // What the message would show is not needed: whoever looks for it reads the file again.
        let Ok(Some(time)) = pass.times.settle(stamp, line, |_| String::new()) else {
            return false;
        };
        pass.push(Some(time), line);
        let Pass { plan, channels, mark, rows, .. } = pass;
        let Some(row) = rows.last_mut() else { return false };
        channels.iter_mut().zip(cells).all(|(reader, cell)| match cell {
            Cell::Plain(plain) => reader.read_plain(plain, mark, row),
            Cell::Other(cell) => reader.read(cell, mark, &plan.codes, row).is_ok(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::columns::Columns;
    use super::super::layout::Layout;
    use super::super::mapping::Mapping;
    use super::super::pass::Plan;
    use super::*;

    /// Most lines of a log must not take the longer way, which would say the same.
    #[test]
    fn usual_lines_are_known_as_such() {
        let mapping = Mapping { zone: Some("UTC".parse().unwrap()), ..Mapping::default() };
        let head = "time;slab;n;air\n2021-01-01 00:00:00;20;x;20\n";
        let layout = Layout::find(head, &mapping).unwrap();
        let columns = Columns::find(&layout, &mapping, &mut Vec::new()).unwrap();
        let format = "ymd".parse().unwrap();
        let plan = Plan::new(&layout, &columns, &format, &mapping);
        let mut pass = Pass::new(&plan, 0);
        let usual = UsualLine::of(&pass);
        for (line, hundredths) in [
            ("2021-01-01 00:00;20.5;x;1", 2050),
            ("2021-01-01 00:01:59;-20.25;;1", -2025),
            ("2021-01-01T23:02;20.1;a longer word;1.25", 2010),
            ("2021-01-01 00:03;+7;;NaN", 700),
            ("2021-01-02 00:00:00.5;.5;;", 50),
            ("2021-01-02 1:00 PM; 20.123 ;;1", 2012),
        ] {
            for text in [line.to_owned(), format!("{line}\nmore"), format!("{line}\r\nmore")] {
                let Came::Row(rest) = usual.read(&mut pass, text.as_bytes(), 2) else {
                    panic!("not usual: {text}");
                };
                assert!(rest.is_empty() || rest == b"more", "{text}");
                let slab = pass.rows.last().unwrap().slab.unwrap();
                assert_eq!(i32::from(slab.0), hundredths, "{text}");
            }
        }
        let taken = pass.rows.len();
        for line in ["", "2021-01-01 00:00;20.5;x", "2021-01-01 00:00;1;1;1;1", ";1;1;1", "x;1;1;1"]
        {
            let came = usual.read(&mut pass, line.as_bytes(), 2);
            assert!(matches!(came, Came::Unusual), "{line}");
        }
        assert_eq!(pass.rows.len(), taken);
        let came = usual.read(&mut pass, b"2021-01-01 00:00;99.5;;1\n", 2);
        assert!(matches!(came, Came::Fault));
    }
}
