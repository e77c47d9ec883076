//! The quick way through a text in which every line is a record: without quotation marks. A long one is
//! read in pieces, on all cores.
//!
//! Nothing is found out here that [`Pass::run`] would not say: at the first fault the quick way is given
//! up, and the file is read from the start in the other, which tells it.

use std::num::NonZero;

use super::pass::{Pass, Plan};
use super::table::{Line, Record as _};
use super::text::Has;
use super::usual::{Came, UsualLine};

/// Starting a thread for less would take longer than it saves.
const PIECE_MIN: usize = 1 << 20;
/// A row is hardly shorter, so that room for its readings is not asked for twice.
const ROW_MIN: usize = 32;

/// Reads the data rows of a text; `None` where that takes the longer way.
pub(super) fn read<'a>(plan: &'a Plan<'a>, text: &str, has: Has) -> Option<Pass<'a>> {
    let cores = std::thread::available_parallelism().map_or(1, NonZero::get);
    let pieces = cores.min(text.len() / PIECE_MIN).max(1);
    let cuts: Vec<usize> = (1..pieces).map(|i| text.len() / pieces * i).collect();
    read_cut(plan, text, has, &cuts)
}

/// The same, cut behind the lines that `cuts`, in rising order, lie in.
pub(super) fn read_cut<'a>(
    plan: &'a Plan<'a>,
    text: &str,
    has: Has,
    cuts: &[usize],
) -> Option<Pass<'a>> {
    let data = data(plan, text, has)?;
    let skipped = text.len() - data.len();
    let mut pieces = Vec::new();
    let (mut from, mut line) = (0, plan.layout.first_line);
    for cut in cuts.iter().map(|cut| cut.saturating_sub(skipped)).chain([data.len()]) {
        let end = data.get(cut..).and_then(|rest| memchr::memchr(b'\n', rest));
        let to = end.map_or(data.len(), |end| cut + end + 1);
        let piece = data.get(from..to).unwrap_or_default();
        pieces.push((piece, line));
        if to < data.len() {
            line += memchr::memchr_iter(b'\n', piece).count() as u64;
        }
        from = from.max(to);
    }
    let mut pieces = pieces.into_iter();
    let (first, line) = pieces.next()?;
    std::thread::scope(|scope| {
        let others: Vec<_> = pieces
            .map(|(piece, line)| {
                scope.spawn(move || read_piece(plan, piece, line, piece.len() / ROW_MIN))
            })
            .collect();
        // With room for the rows of the other pieces.
        let mut whole = read_piece(plan, first, line, data.len() / ROW_MIN);
        for other in others {
            let later = other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
            whole = whole
                .zip(later)
                .and_then(|(mut whole, later)| whole.append(later).then_some(whole));
        }
        whole
    })
}

/// What stands from the first data row on, if each of its lines is a record.
fn data<'t>(plan: &Plan<'_>, text: &'t str, has: Has) -> Option<&'t [u8]> {
    // The reader of records passes over the mark at the start of a text.
    if text.starts_with('\u{feff}') {
        return None;
    }
    let mut data = text.as_bytes();
    for _ in 1..plan.layout.first_line {
        let end = memchr::memchr(b'\n', data)?;
        data = data.get(end + 1..)?;
    }
    // The header may be quoted.
    if has.quote && memchr::memchr(b'"', data).is_some() {
        return None;
    }
    // A carriage return alone ends a record as well.
    let mut returns = memchr::memchr_iter(b'\r', data);
    let is_sound = !has.carriage_return || returns.all(|at| data.get(at + 1) == Some(&b'\n'));
    is_sound.then_some(data)
}

/// Reads a piece that begins with `line`; `None` at the first fault.
fn read_piece<'a>(plan: &'a Plan<'a>, piece: &[u8], line: u64, rows: usize) -> Option<Pass<'a>> {
    let mut pass = Pass::new(plan, rows);
    let usual = UsualLine::of(&pass);
    let (mut rest, mut number) = (piece, line);
    while !rest.is_empty() {
        rest = match usual.read(&mut pass, rest, number) {
            Came::Row(rest) => rest,
            Came::Fault => return None,
            Came::Unusual => {
                let (line, rest) = split_line(rest);
                let record = Line::new(line, number, plan.delimiter());
                if !record.is_blank() {
                    pass.row(&record);
                }
                if !pass.faults.is_empty() {
                    return None;
                }
                rest
            }
        };
        number += 1;
    }
    Some(pass)
}

/// The first line without its end, and what follows.
fn split_line(text: &[u8]) -> (&[u8], &[u8]) {
    let Some(end) = memchr::memchr(b'\n', text) else { return (text, &[]) };
    let (line, rest) = text.split_at_checked(end).unwrap_or((text, &[]));
    (line.strip_suffix(b"\r").unwrap_or(line), rest.get(1..).unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::super::columns::Columns;
    use super::super::layout::Layout;
    use super::super::mapping::Mapping;
    use super::*;

    /// How many rows the quick way reads, in two pieces; `None` where it is given up.
    fn rows(text: &str) -> Option<usize> {
        let mapping = Mapping { zone: Some("UTC".parse().unwrap()), ..Mapping::default() };
        let layout = Layout::find(text, &mapping).unwrap();
        let columns = Columns::find(&layout, &mapping, &mut Vec::new()).unwrap();
        let format = "ymd".parse().unwrap();
        let plan = Plan::new(&layout, &columns, &format, &mapping);
        let has = super::super::text::decode(text.as_bytes()).unwrap().has;
        read_cut(&plan, text, has, &[text.len() / 2]).map(|pass| pass.rows.len())
    }

    #[test]
    fn the_quick_way_is_taken_where_each_line_is_a_record() {
        let quick = [
            "time,slab\n2021-01-01 00:00,20.1\n2021-01-01 00:10,20.2\n",
            "time,slab\r\n2021-01-01 00:00:00,20.1\r\n2021-01-01 00:10:30,20.2",
            "\"time\",\"slab\"\n2021-01-01 00:00,20.1\n\n2021-01-01 12:10 AM,\n",
            "\"a\nb\"\ntime;slab;\n2021-01-01 00:00;20,1;\n2021-01-01T00:10+02:00; 20,123;\n",
        ];
        for text in quick {
            assert_eq!(rows(text), Some(2), "{text}");
        }
        let slow = [
            "time,slab\n2021-01-01 00:00,\"20.1\"\n2021-01-01 00:10,20.2\n",
            "time,slab\n2021-01-01 00:00,20.1\r2021-01-01 00:10,20.2\n",
            "time,slab\n2021-01-01 00:00,20.1\n2021-01-01 00:10,20.2\r",
            "time,slab\n2021-01-01 00:00,20.1\n2021-01-01 00:10,wrong\n",
            "time,slab\n2021-01-01 00:00,20.1\n2021-01-01 00:10\n",
        ];
        for text in slow {
            assert_eq!(rows(text), None, "{text}");
        }
    }
}
