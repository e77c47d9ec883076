//! The archive on a PostgreSQL server, for offices that share one.
//!
//! Everything stands in a schema of its own in the database that is named, so that other tables there
//! are left alone.

mod explain;
mod schema;
mod uri;

use super::ArchiveError;
use super::store::{Fault, Param, Row, Store, Value};
use bytes::BytesMut;
use explain::{explain, while_connecting};
use postgres::types::{IsNull, ToSql, Type, to_sql_checked};
use postgres::{Client, NoTls, Statement};
use schema::{APPLICATION, FIRST, MIGRATIONS};
use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::fmt;
use std::path::{Path, PathBuf};
use uri::Target;

/// The number of the lock that a writer holds until its transaction ends ("GlDa", the mark of our files).
const WRITER: i32 = i32::from_be_bytes(*b"GlDa");

/// An archive that a server keeps.
pub(super) struct Server {
    target: Target,
    link: RefCell<Link>,
    version: i32,
    in_change: Cell<bool>,
}

/// A connection, with the statements that the server knows already.
struct Link {
    client: Client,
    prepared: HashMap<String, Statement>,
}

impl Server {
    /// Makes a new archive in a database that has none.
    pub(super) fn create(uri: &Path) -> Result<Self, ArchiveError> {
        let (mut server, found) = Self::look(uri, false)?;
        if found {
            return Err(ArchiveError::Exists { path: server.target.place });
        }
        server.upgrade()?;
        Ok(server)
    }

    /// Opens an archive for reading and writing.
    pub(super) fn open(uri: &Path) -> Result<Self, ArchiveError> {
        let (mut server, found) = Self::look(uri, false)?;
        if !found {
            return Err(ArchiveError::Missing { path: server.target.place });
        }
        server.upgrade()?;
        server.writable()
    }

    /// Opens the archive, or makes it when there is none.
    pub(super) fn open_or_create(uri: &Path) -> Result<Self, ArchiveError> {
        let (mut server, _) = Self::look(uri, false)?;
        server.upgrade()?;
        server.writable()
    }

    /// Opens an archive that is not to be changed.
    pub(super) fn open_read_only(uri: &Path) -> Result<Self, ArchiveError> {
        let (server, found) = Self::look(uri, true)?;
        if found { Ok(server) } else { Err(ArchiveError::Missing { path: server.target.place }) }
    }

    /// What the archive is called in messages: without the password.
    pub(super) fn place(&self) -> PathBuf {
        self.target.place.clone()
    }

    /// Connects, and tells whether there is an archive that this program can read.
    fn look(uri: &Path, read_only: bool) -> Result<(Self, bool), ArchiveError> {
        let target = Target::read(uri, read_only)?;
        let link = RefCell::new(Link::to(&target)?);
        let mut server = Self { target, link, version: 0, in_change: Cell::new(false) };
        let found = server.find().map_err(|fault| server.explain("open", fault))?;
        if let Some((application, version)) = found {
            server.accept(&application, version)?;
            return Ok((server, true));
        }
        Ok((server, false))
    }

    /// What the archive says of itself, where there is one.
    fn find(&self) -> Result<Option<(String, i32)>, Fault> {
        // Looked up in the table of tables: what to_regclass says can be from before somebody else made it.
        let there = "SELECT EXISTS (SELECT FROM pg_tables WHERE schemaname = 'glueday'
                     AND tablename = 'archive')";
        let Some(true) = first_of(self.query(there, &[])?, |row| row.take(0))? else {
            return Ok(None);
        };
        let said = self.query("SELECT application, version FROM glueday.archive", &[])?;
        match first_of(said, |row| Ok((row.take(0)?, row.take(1)?)))? {
            Some(said) => Ok(Some(said)),
            None => Err(Fault::Cell("its table `archive` is empty".to_owned())),
        }
    }

    fn accept(&mut self, application: &str, version: i32) -> Result<(), ArchiveError> {
        let path = self.target.place.clone();
        if application != APPLICATION || version < FIRST {
            let detail = format!("it says that it is {application} of version {version}");
            return Err(ArchiveError::Damaged { path, detail });
        }
        let known = FIRST + i32::try_from(MIGRATIONS.len()).unwrap_or(i32::MAX) - 1;
        if version > known {
            return Err(ArchiveError::Newer { path, version, known });
        }
        self.version = version;
        Ok(())
    }

    /// Brings a new or older archive to the version of this program, in one transaction. Of two who
    /// come at the same time one waits, and finds it done.
    fn upgrade(&mut self) -> Result<(), ArchiveError> {
        let known = FIRST + i32::try_from(MIGRATIONS.len()).unwrap_or(i32::MAX) - 1;
        if self.version == known {
            return Ok(());
        }
        let done = super::store::Change::begin(self).and_then(|change| {
            let mut version = FIRST - 1;
            match self.find()? {
                Some((application, found)) if application == APPLICATION && found >= FIRST => {
                    version = found;
                }
                // What it is instead is told below.
                Some(_) => return Ok(()),
                None => self.set_up()?,
            }
            for (script, number) in MIGRATIONS.iter().zip(FIRST..) {
                if number > version {
                    self.link.borrow_mut().client.batch_execute(script)?;
                    let number = [Param::from(i64::from(number))];
                    self.execute("UPDATE archive SET version = ?1", &number)?;
                }
            }
            change.commit()
        });
        done.map_err(|fault| self.explain("set up the archive", fault))?;
        match self.find().map_err(|fault| self.explain("open", fault))? {
            Some((application, version)) => self.accept(&application, version),
            None => Err(ArchiveError::Missing { path: self.target.place.clone() }),
        }
    }

    /// The schema, with the table that says what it is.
    fn set_up(&self) -> Result<(), Fault> {
        let encoding = self.query("SELECT current_setting('server_encoding')", &[])?;
        let encoding: Option<String> = first_of(encoding, |row| row.take(0))?;
        if encoding.as_deref() != Some("UTF8") {
            return Err(Fault::Encoding(encoding.unwrap_or_default()));
        }
        self.link.borrow_mut().client.batch_execute(schema::START)?;
        self.execute("INSERT INTO archive VALUES (?1, 0)", &[Param::Text(APPLICATION)])?;
        Ok(())
    }

    /// Makes sure that this user may write, before anybody asks a logger for anything.
    fn writable(self) -> Result<Self, ArchiveError> {
        let may = self
            .query(schema::MAY_WRITE, &[])
            .and_then(|rows| first_of(rows, |row| row.take::<bool>(0)))
            .map_err(|fault| self.explain("open", fault))?;
        if may == Some(true) {
            return Ok(self);
        }
        let detail = "some right to write is missing".to_owned();
        Err(ArchiveError::ServerReadOnly { place: self.target.shown(), detail })
    }

    /// Runs a statement that is prepared once. A connection that was lost while nothing was under way
    /// is made anew.
    fn run<T>(
        &self,
        sql: &str,
        work: impl Fn(&mut Client, &Statement) -> Result<T, postgres::Error>,
    ) -> Result<T, Fault> {
        let mut link = self.link.borrow_mut();
        match link.run(sql, &work) {
            Err(error) if lost(&link.client, &error) && !self.in_change.get() => {
                *link = Link::to(&self.target).map_err(|error| Fault::Told(Box::new(error)))?;
                Ok(link.run(sql, &work)?)
            }
            done => Ok(done?),
        }
    }
}

impl Link {
    fn to(target: &Target) -> Result<Self, ArchiveError> {
        let client = target.config.connect(NoTls).map_err(|error| while_connecting(target, &error));
        Ok(Self { client: client?, prepared: HashMap::new() })
    }

    fn run<T>(
        &mut self,
        sql: &str,
        work: impl Fn(&mut Client, &Statement) -> Result<T, postgres::Error>,
    ) -> Result<T, postgres::Error> {
        if let Some(known) = self.prepared.get(sql) {
            return work(&mut self.client, known);
        }
        // No text stands in our statements, so that every such mark is that of a parameter.
        let statement = self.client.prepare(&sql.replace('?', "$"))?;
        let done = work(&mut self.client, &statement);
        self.prepared.insert(sql.to_owned(), statement);
        done
    }
}

impl Store for Server {
    fn execute(&self, sql: &str, params: &[Param<'_>]) -> Result<u64, Fault> {
        self.run(sql, |client, statement| client.execute(statement, &as_params(params)))
    }

    fn query(&self, sql: &str, params: &[Param<'_>]) -> Result<Vec<Row>, Fault> {
        let rows =
            self.run(sql, |client, statement| client.query(statement, &as_params(params)))?;
        rows.iter().map(row).collect()
    }

    fn begin(&self) -> Result<(), Fault> {
        let begin = format!("BEGIN; SELECT pg_advisory_xact_lock({WRITER})");
        let mut link = self.link.borrow_mut();
        let mut begun = link.client.batch_execute(&begin);
        if begun.as_ref().is_err_and(|error| lost(&link.client, error)) {
            *link = Link::to(&self.target).map_err(|error| Fault::Told(Box::new(error)))?;
            begun = link.client.batch_execute(&begin);
        }
        drop(link);
        match begun {
            Ok(()) => {
                self.in_change.set(true);
                Ok(())
            }
            Err(error) => {
                // It may have begun, and not have got the lock.
                self.roll_back();
                Err(error.into())
            }
        }
    }

    fn commit(&self) -> Result<(), Fault> {
        Ok(self.link.borrow_mut().client.batch_execute("COMMIT")?).inspect(|()| {
            self.in_change.set(false);
        })
    }

    fn roll_back(&self) {
        self.in_change.set(false);
        // Where the server cannot be told, it takes back by itself what a lost connection began.
        let _ = self.link.borrow_mut().client.batch_execute("ROLLBACK");
    }

    fn version(&self) -> Result<i32, Fault> {
        Ok(self.version)
    }

    fn same_name(&self) -> &'static str {
        "lower(name) = lower(CAST(?1 AS TEXT) COLLATE \"C\")"
    }

    fn name_order(&self) -> &'static str {
        "lower(name)"
    }

    fn explain(&self, doing: &'static str, fault: Fault) -> ArchiveError {
        match fault {
            Fault::Postgres(error) => explain(&self.target, doing, error),
            other => other.explain(&self.target.place, doing),
        }
    }

    fn another_reader(&self) -> Result<Box<dyn Store>, ArchiveError> {
        let target = self.target.for_reading();
        let link = RefCell::new(Link::to(&target)?);
        let version = self.version;
        Ok(Box::new(Self { target, link, version, in_change: Cell::new(false) }))
    }
}

impl fmt::Debug for Server {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Server").field("place", &self.target.place).finish_non_exhaustive()
    }
}

impl From<postgres::Error> for Fault {
    fn from(error: postgres::Error) -> Self {
        Self::Postgres(error)
    }
}

/// Whether the connection is of no more use. It may still hold the last words of the server.
fn lost(client: &Client, error: &postgres::Error) -> bool {
    client.is_closed() || explain::is_gone(error)
}

fn first_of<T>(
    rows: Vec<Row>,
    read: impl FnOnce(&mut Row) -> Result<T, Fault>,
) -> Result<Option<T>, Fault> {
    super::store::first(rows).map(|mut row| read(&mut row)).transpose()
}

fn as_params<'a>(params: &'a [Param<'a>]) -> Vec<&'a (dyn ToSql + Sync)> {
    params.iter().map(|param| param as &(dyn ToSql + Sync)).collect()
}

impl ToSql for Param<'_> {
    fn to_sql(
        &self,
        of: &Type,
        out: &mut BytesMut,
    ) -> Result<IsNull, Box<dyn std::error::Error + Sync + Send>> {
        match *self {
            Self::Null => Ok(IsNull::Yes),
            Self::Bool(value) => value.to_sql(of, out),
            Self::Whole(value) => value.to_sql(of, out),
            Self::Text(text) => text.to_sql(of, out),
            Self::Bytes(bytes) => bytes.to_sql(of, out),
        }
    }

    /// Whatever stands in another kind of column is refused by the server: it counts the bytes.
    fn accepts(_: &Type) -> bool {
        true
    }

    to_sql_checked!();
}

fn row(row: &postgres::Row) -> Result<Row, Fault> {
    let values = row.columns().iter().enumerate().map(|(i, column)| {
        let value = match *column.type_() {
            Type::BOOL => row.try_get::<_, Option<bool>>(i)?.map(|v| Value::Whole(v.into())),
            Type::INT8 => row.try_get::<_, Option<i64>>(i)?.map(Value::Whole),
            Type::BYTEA => row.try_get::<_, Option<Vec<u8>>>(i)?.map(Value::Bytes),
            // Anything but text has the library refuse it.
            _ => row.try_get::<_, Option<String>>(i)?.map(Value::Text),
        };
        Ok(value.unwrap_or(Value::Null))
    });
    values.collect::<Result<_, postgres::Error>>().map(Row).map_err(|error| {
        let cause = std::error::Error::source(&error).map(ToString::to_string);
        Fault::Cell(cause.unwrap_or_else(|| error.to_string()))
    })
}
