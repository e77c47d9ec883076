//! What an archive asks of the database that keeps its tables: statements, and transactions.
//!
//! The statements are the same for every kind of store: SQL that each of them understands, with
//! parameters `?1`, `?2` and so on. What is right to store is decided before, in this folder's other
//! files, and not by a store.

use super::ArchiveError;
use std::fmt;
use std::path::Path;

/// A database with the tables of an archive.
pub(super) trait Store: fmt::Debug + Send {
    /// Runs a statement that changes rows, and tells how many.
    fn execute(&self, sql: &str, params: &[Param<'_>]) -> Result<u64, Fault>;

    /// Runs a statement that gives rows: all of one moment.
    fn query(&self, sql: &str, params: &[Param<'_>]) -> Result<Vec<Row>, Fault>;

    /// Begins a transaction. One writer comes after the other: it is here that it waits, so that what
    /// it reads in between stays true until it commits.
    fn begin(&self) -> Result<(), Fault>;

    /// Makes what was done since [`Store::begin`] last.
    fn commit(&self) -> Result<(), Fault>;

    /// Takes back what was done since [`Store::begin`], where that is not done yet.
    fn roll_back(&self);

    /// Version of the tables that are there.
    fn version(&self) -> Result<i32, Fault>;

    /// The condition that the name of a logger is `?1`, whatever its case in ASCII.
    fn same_name(&self) -> &'static str;

    /// What names of loggers are ordered by, whatever their case in ASCII.
    fn name_order(&self) -> &'static str;

    /// A fault in our words: what happened, where, and what to do.
    fn explain(&self, doing: &'static str, fault: Fault) -> ArchiveError;

    /// The same tables once more, to read from in another thread.
    fn another_reader(&self) -> Result<Box<dyn Store>, ArchiveError>;
}

/// Why a statement did not do what it should.
#[derive(Debug)]
pub(super) enum Fault {
    /// The file's library says so.
    Sqlite(rusqlite::Error),
    /// The server, or the way to it, says so.
    #[cfg(feature = "postgres")]
    Postgres(postgres::Error),
    /// The server keeps text in this encoding.
    #[cfg(feature = "postgres")]
    Encoding(String),
    /// It is told already.
    #[cfg(feature = "postgres")]
    Told(Box<ArchiveError>),
    /// A cell holds what no archive puts there.
    Cell(String),
}

impl Fault {
    /// What is the same for every store.
    pub(super) fn explain(self, path: &Path, doing: &'static str) -> ArchiveError {
        let path = path.to_owned();
        match self {
            Self::Cell(detail) => ArchiveError::Damaged { path, detail },
            Self::Sqlite(error) => ArchiveError::Sql { path, doing, source: Box::new(error) },
            #[cfg(feature = "postgres")]
            Self::Postgres(error) => ArchiveError::Sql { path, doing, source: Box::new(error) },
            #[cfg(feature = "postgres")]
            Self::Encoding(encoding) => {
                ArchiveError::ServerEncoding { place: path.display().to_string(), encoding }
            }
            #[cfg(feature = "postgres")]
            Self::Told(error) => *error,
        }
    }
}

/// A value that goes into a statement.
#[derive(Clone, Copy, Debug)]
pub(super) enum Param<'a> {
    Null,
    Bool(bool),
    Whole(i64),
    Text(&'a str),
    Bytes(&'a [u8]),
}

impl From<bool> for Param<'_> {
    fn from(value: bool) -> Self {
        Self::Bool(value)
    }
}

impl From<i64> for Param<'_> {
    fn from(value: i64) -> Self {
        Self::Whole(value)
    }
}

impl From<u32> for Param<'_> {
    fn from(value: u32) -> Self {
        Self::Whole(value.into())
    }
}

impl From<u16> for Param<'_> {
    fn from(value: u16) -> Self {
        Self::Whole(value.into())
    }
}

impl<'a> From<&'a str> for Param<'a> {
    fn from(value: &'a str) -> Self {
        Self::Text(value)
    }
}

impl<'a> From<&'a String> for Param<'a> {
    fn from(value: &'a String) -> Self {
        Self::Text(value)
    }
}

impl<'a> From<&'a [u8]> for Param<'a> {
    fn from(value: &'a [u8]) -> Self {
        Self::Bytes(value)
    }
}

impl<'a, const N: usize> From<&'a [u8; N]> for Param<'a> {
    fn from(value: &'a [u8; N]) -> Self {
        Self::Bytes(value)
    }
}

impl<'a, T: Into<Param<'a>>> From<Option<T>> for Param<'a> {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Null, Into::into)
    }
}

/// A value that came out of a statement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Value {
    Null,
    Whole(i64),
    Text(String),
    Bytes(Vec<u8>),
}

/// A row that came out of a statement.
#[derive(Debug)]
pub(super) struct Row(pub(super) Vec<Value>);

impl Row {
    /// The value of a column, by its number from 0. It is taken out of the row.
    pub(super) fn take<T: Cell>(&mut self, column: usize) -> Result<T, Fault> {
        let value = self.0.get_mut(column).map(|value| std::mem::replace(value, Value::Null));
        let wrong = |what: &str| Fault::Cell(format!("column {column} of a row holds {what}"));
        match value {
            None => Err(wrong("nothing, as it is not there")),
            Some(value) => T::from_value(value).map_err(wrong),
        }
    }
}

/// What can be read from a cell.
pub(super) trait Cell: Sized {
    /// The value, or what it is instead.
    fn from_value(value: Value) -> Result<Self, &'static str>;
}

impl Cell for i64 {
    fn from_value(value: Value) -> Result<Self, &'static str> {
        match value {
            Value::Whole(value) => Ok(value),
            _ => Err("no number"),
        }
    }
}

impl Cell for bool {
    fn from_value(value: Value) -> Result<Self, &'static str> {
        Ok(i64::from_value(value)? != 0)
    }
}

impl Cell for String {
    fn from_value(value: Value) -> Result<Self, &'static str> {
        match value {
            Value::Text(text) => Ok(text),
            _ => Err("no text"),
        }
    }
}

impl Cell for Vec<u8> {
    fn from_value(value: Value) -> Result<Self, &'static str> {
        match value {
            Value::Bytes(bytes) => Ok(bytes),
            _ => Err("no bytes"),
        }
    }
}

impl<const N: usize> Cell for [u8; N] {
    fn from_value(value: Value) -> Result<Self, &'static str> {
        let bytes = Vec::<u8>::from_value(value)?;
        bytes.try_into().map_err(|_| "bytes of another length")
    }
}

impl<T: Cell> Cell for Option<T> {
    fn from_value(value: Value) -> Result<Self, &'static str> {
        match value {
            Value::Null => Ok(None),
            value => T::from_value(value).map(Some),
        }
    }
}

macro_rules! smaller_numbers {
    ($($number:ty),*) => {$(
        impl Cell for $number {
            fn from_value(value: Value) -> Result<Self, &'static str> {
                Self::try_from(i64::from_value(value)?).map_err(|_| "a number out of range")
            }
        }
    )*};
}
smaller_numbers!(u16, u32, i32);

/// The parameters of a statement.
macro_rules! params {
    ($($value:expr),* $(,)?) => { &[$($crate::archive::store::Param::from($value)),*] };
}
pub(super) use params;

/// The one row that there is, if any.
pub(super) fn first(rows: Vec<Row>) -> Option<Row> {
    rows.into_iter().next()
}

/// A transaction that is taken back unless it is committed.
pub(super) struct Change<'a> {
    store: &'a dyn Store,
    done: bool,
}

impl<'a> Change<'a> {
    pub(super) fn begin(store: &'a dyn Store) -> Result<Self, Fault> {
        store.begin()?;
        Ok(Self { store, done: false })
    }

    pub(super) fn commit(mut self) -> Result<(), Fault> {
        self.store.commit()?;
        self.done = true;
        Ok(())
    }
}

impl Drop for Change<'_> {
    fn drop(&mut self) {
        if !self.done {
            self.store.roll_back();
        }
    }
}
