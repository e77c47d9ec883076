//! From cells to readings.

use glueday_types::{Absent, CentiCelsius, CentiPercent};

use super::Row;
use super::channel::{Channel, Unit};
use super::columns::Source;
use super::dialect::DecimalMark;
use super::error::{Cut, Problem};
use super::names::is_missing_word;
use super::note::{Note, UnitFrom};
use super::number::{Amount, Parsed, Plain, parse, plain};

/// What stands for no reading in this file, besides [`super::names::MISSING_WORDS`].
#[derive(Debug, Default)]
pub(super) struct MissingCodes {
    numbers: Vec<f64>,
    words: Vec<String>,
}

impl MissingCodes {
    pub(super) fn new(codes: &[String]) -> Self {
        let mut out = Self::default();
        for code in codes {
            match parse(code.trim().as_bytes()) {
                Parsed::Number { amount, .. } => out.numbers.push(amount.value()),
                _ => out.words.push(code.trim().to_lowercase()),
            }
        }
        out
    }

    pub(super) fn has_numbers(&self) -> bool {
        !self.numbers.is_empty()
    }

    fn has_number(&self, amount: Amount) -> bool {
        self.numbers.contains(&amount.value())
    }

    fn has_word(&self, cell: &[u8]) -> bool {
        is_missing_word(cell)
            || (!self.words.is_empty()
                && std::str::from_utf8(cell).is_ok_and(|t| self.words.contains(&t.to_lowercase())))
    }
}

/// The decimal mark of the file: as given, or as the first cell with one has it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mark {
    pub(super) mark: Option<DecimalMark>,
    /// Line that settled it; `None` if the user did.
    line: Option<u64>,
}

impl Mark {
    pub(super) fn new(given: Option<DecimalMark>) -> Self {
        Self { mark: given, line: None }
    }

    #[inline]
    fn check(&mut self, found: DecimalMark, cell: &[u8], line: u64) -> Result<(), Box<Problem>> {
        let Some(mark) = self.mark else {
            *self = Self { mark: Some(found), line: Some(line) };
            return Ok(());
        };
        if mark == found {
            return Ok(());
        }
        Err(self.wrong(mark, found, cell))
    }

    /// Adds the mark of later lines; false if it is another one.
    pub(super) fn append(&mut self, later: Self) -> bool {
        if self.mark.is_none() {
            *self = later;
        }
        later.mark.is_none_or(|mark| self.mark == Some(mark))
    }

    #[cold]
    fn wrong(self, mark: DecimalMark, found: DecimalMark, cell: &[u8]) -> Box<Problem> {
        let reason = match self.line {
            Some(line) => format!("line {line} has a decimal {mark}"),
            None => format!("the decimal {mark} was given"),
        };
        let found = if found == DecimalMark::Comma { "comma" } else { "point" };
        Problem::WrongMark { cell: shown(cell), found, reason }.into()
    }
}

/// Cells without a reading, counted by what they hold.
#[derive(Debug)]
struct MissingCount {
    word: Vec<u8>,
    count: u64,
    first_line: u64,
}

/// Reads the cells of one channel.
#[derive(Debug)]
pub(super) struct ChannelReader {
    pub(super) source: Source,
    missing: Vec<MissingCount>,
    /// In hundredths of °C or %.
    believed: std::ops::RangeInclusive<i32>,
    /// The column is in °C or % itself, and its cells need not say so.
    keeps_hundredths: bool,
    /// Of all values, in hundredths of °C or %.
    count: i64,
    sum: i64,
    most: i32,
}

impl ChannelReader {
    pub(super) fn new(source: Source) -> Self {
        let (low, high) = source.channel.believed();
        let believed = low * 100..=high * 100;
        let keeps_hundredths = matches!(source.unit, Unit::Celsius | Unit::Percent)
            && source.unit_from != UnitFrom::Cells;
        Self {
            source,
            missing: Vec::new(),
            believed,
            keeps_hundredths,
            count: 0,
            sum: 0,
            most: i32::MIN,
        }
    }

    /// Puts the cell's reading into the row.
    #[inline]
    pub(super) fn read(
        &mut self,
        cell: &[u8],
        mark: &mut Mark,
        codes: &MissingCodes,
        row: &mut Row,
    ) -> Result<(), Box<Problem>> {
        if cell.is_empty() {
            self.absent(cell, row);
            return Ok(());
        }
        match plain(cell) {
            // Apart from `read_unusual` for speed: nearly every cell of a log goes this way.
            Some((hundredths, found)) if codes.numbers.is_empty() && self.keeps_hundredths => {
                if let Some(found) = found {
                    mark.check(found, cell, row.line)?;
                }
                if self.believe(hundredths, row) {
                    return Ok(());
                }
                Err(self.not_believed(Amount::Hundredths(hundredths), cell))
            }
            _ => self.read_unusual(cell, mark, codes, row),
        }
    }

    /// Whether a plain number is the reading, in hundredths.
    pub(super) fn keeps_hundredths(&self) -> bool {
        self.keeps_hundredths
    }

    /// As [`Self::read`], of a number that was recognised as plain, in a column that keeps hundredths;
    /// false if it is a fault.
    #[inline]
    pub(super) fn read_plain(&mut self, number: Plain, mark: &mut Mark, row: &mut Row) -> bool {
        let (hundredths, found) = number;
        found.is_none_or(|found| mark.check(found, &[], row.line).is_ok())
            && self.believe(hundredths, row)
    }

    /// Adds what was counted in later lines.
    pub(super) fn append(&mut self, later: Self) {
        for more in later.missing {
            match self.missing.iter_mut().find(|m| m.word == more.word) {
                Some(seen) => seen.count += more.count,
                None => self.missing.push(more),
            }
        }
        self.count += later.count;
        self.sum += later.sum;
        self.most = self.most.max(later.most);
    }

    fn read_unusual(
        &mut self,
        cell: &[u8],
        mark: &mut Mark,
        codes: &MissingCodes,
        row: &mut Row,
    ) -> Result<(), Box<Problem>> {
        let (amount, found, unit) = match parse(cell) {
            Parsed::Number { amount, .. } if codes.has_number(amount) => {
                self.absent(cell, row);
                return Ok(());
            }
            Parsed::Number { amount, mark, unit } => (amount, mark, unit),
            _ if codes.has_word(cell) => {
                self.absent(cell, row);
                return Ok(());
            }
            Parsed::Grouped => return Err(Problem::Grouped { cell: shown(cell) }.into()),
            Parsed::NotANumber => return Err(Problem::NotANumber { cell: shown(cell) }.into()),
        };
        if let Some(found) = found {
            mark.check(found, cell, row.line)?;
        }
        if let Some(found) = unit.filter(|u| *u != self.source.unit) {
            return Err(self.other_unit(found, cell));
        }
        if unit.is_none() && self.source.unit_from == UnitFrom::Cells {
            return Err(self.no_unit(cell));
        }
        let hundredths = match amount {
            Amount::Hundredths(hundredths) if self.keeps_hundredths => Some(hundredths),
            _ => self.convert(amount),
        };
        match hundredths {
            Some(hundredths) if self.believe(hundredths, row) => Ok(()),
            _ => Err(self.not_believed(amount, cell)),
        }
    }

    /// Puts a value in hundredths of °C or % into the row; false if it is not to be believed.
    #[inline]
    fn believe(&mut self, hundredths: i32, row: &mut Row) -> bool {
        if !self.believed.contains(&hundredths) {
            return false;
        }
        self.count += 1;
        self.sum += i64::from(hundredths);
        self.most = self.most.max(hundredths);
        // What is believed fits.
        let celsius =
            || i16::try_from(hundredths).map(CentiCelsius).map_err(|_| Absent::OutOfRange);
        let percent =
            || u16::try_from(hundredths).map(CentiPercent).map_err(|_| Absent::OutOfRange);
        match self.source.channel {
            Channel::Slab => row.slab = celsius(),
            Channel::Air => row.air = celsius(),
            Channel::Rh => row.air_rh = percent(),
            Channel::Supply => row.supply = celsius(),
        }
        true
    }

    /// In °C or %.
    fn in_si(&self, amount: Amount) -> f64 {
        match self.source.unit {
            Unit::Celsius | Unit::Percent => amount.value(),
            Unit::Fahrenheit => (amount.value() - 32.0) / 1.8,
            Unit::Fraction => amount.value() * 100.0,
        }
    }

    fn convert(&self, amount: Amount) -> Option<i32> {
        let value = self.in_si(amount);
        match self.source.channel {
            Channel::Rh => CentiPercent::from_percent(value).map(|p| i32::from(p.0)),
            _ => CentiCelsius::from_celsius(value).map(|c| i32::from(c.0)),
        }
    }

    #[cold]
    fn other_unit(&self, found: Unit, cell: &[u8]) -> Box<Problem> {
        let problem = Problem::CellUnit {
            cell: shown(cell),
            found: found.word(),
            taken: self.source.unit.word(),
            channel: self.source.channel.word(),
            number: self.source.index + 1,
        };
        problem.into()
    }

    #[cold]
    fn no_unit(&self, cell: &[u8]) -> Box<Problem> {
        let problem = Problem::UnitMissing {
            cell: shown(cell),
            taken: self.source.unit.word(),
            channel: self.source.channel.word(),
            number: self.source.index + 1,
        };
        problem.into()
    }

    #[cold]
    fn not_believed(&self, amount: Amount, cell: &[u8]) -> Box<Problem> {
        let Source { channel, unit, index, .. } = self.source;
        let (low, high) = channel.believed();
        let problem = Problem::NotBelieved {
            cell: shown(cell),
            value: self.in_si(amount),
            unit: if channel == Channel::Rh { "%" } else { "C" },
            channel: channel.word(),
            low,
            high,
            number: index + 1,
            other_unit: match unit {
                Unit::Celsius => "F",
                Unit::Fahrenheit => "C",
                Unit::Percent => "fraction",
                Unit::Fraction => "%",
            },
        };
        problem.into()
    }

    fn absent(&mut self, cell: &[u8], row: &mut Row) {
        match self.missing.iter_mut().find(|m| m.word == cell) {
            Some(seen) => seen.count += 1,
            None => {
                self.missing.push(MissingCount {
                    word: cell.to_vec(),
                    count: 1,
                    first_line: row.line,
                });
            }
        }
        let absent = Absent::EmptyCell;
        match self.source.channel {
            Channel::Slab => row.slab = Err(absent),
            Channel::Air => row.air = Err(absent),
            Channel::Rh => row.air_rh = Err(absent),
            Channel::Supply => row.supply = Err(absent),
        }
    }

    /// What the column as a whole says against its unit, where nobody stated one.
    pub(super) fn doubt(&self) -> Option<Problem> {
        let Source { channel, unit, index, unit_from } = self.source;
        let number = index + 1;
        if self.count == 0 || unit_from == UnitFrom::User {
            return None;
        }
        let mean = self.sum / self.count;
        match (channel, unit) {
            (Channel::Rh, Unit::Percent) if self.most <= 100 => {
                Some(Problem::SeemsFraction { number })
            }
            // No room or slab is that hot on average, but 45 F is 7 °C.
            (Channel::Air | Channel::Slab, Unit::Celsius)
                if unit_from == UnitFrom::Assumed && mean > 4500 =>
            {
                Some(Problem::SeemsFahrenheit { mean: mean / 100, channel: channel.word(), number })
            }
            _ => None,
        }
    }

    pub(super) fn notes(&self) -> impl Iterator<Item = Note> {
        self.missing.iter().map(|m| Note::Missing {
            channel: self.source.channel,
            word: String::from_utf8_lossy(&m.word).into_owned(),
            count: m.count,
            first_line: m.first_line,
        })
    }
}

/// A cell as a message shows it.
pub(super) fn shown(cell: &[u8]) -> String {
    Cut(&String::from_utf8_lossy(cell)).to_string()
}
