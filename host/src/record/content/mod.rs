//! What a record says, without how it looks: sections of texts, lists, tables and charts.
//!
//! Whoever draws a record, on paper or on a screen, draws all of it in this order and adds nothing.
//! Pure, and from the evidence alone: the same evidence gives the same content.

mod fingerprints;
mod log;
mod probes;
mod room;
mod site;
mod steps;
mod tests;
mod trust;
mod verdict;

use super::{Case, Evidence, File};
use crate::assess::{Assessment, Outcome};
use crate::history::History;
use crate::job::Zone;
use crate::limits::LimitUnit;
use crate::quantity::Units;
use crate::view::{both, in_both, local_time, utc_time};

pub use verdict::{RoomVerdict, Verdict};

/// All that a record says.
#[derive(Clone, Debug, PartialEq)]
pub struct Content {
    /// Title of the document, with the site in it.
    pub title: String,
    /// Language of the texts (BCP 47).
    pub language: &'static str,
    /// Units of the job: they come first, and choose the size of the paper.
    pub units: Units,
    /// The answer, which stands on top.
    pub verdict: Verdict,
    /// Everything else, in order.
    pub sections: Vec<Section>,
    /// The line at the foot of each page: verdict, step, site and time.
    pub footer: String,
}

/// A part of the record.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Its heading.
    pub heading: String,
    /// What stands under it.
    pub blocks: Vec<Block>,
}

/// A piece of a section.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading within the section.
    Heading(String),
    /// A paragraph.
    Text(String),
    /// Items, each a paragraph.
    List(Vec<String>),
    /// Names with their texts.
    Facts(Vec<(String, String)>),
    /// A table.
    Table(Table),
    /// The chart of a room.
    Chart(ChartOf),
}

/// A table. Its head row is repeated where it breaks.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Table {
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows.
    pub rows: Vec<Row>,
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Its head.
    pub head: &'static str,
    /// Whether it holds figures, which stand to the right.
    pub is_figures: bool,
    /// Whether it gives way to the others when there is little room.
    pub is_wide: bool,
    /// Whether it holds the unit of the figures before it.
    pub is_unit: bool,
}

/// A row of a table.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Row {
    /// A cell for each column.
    pub cells: Vec<Cell>,
    /// Lines below the cells, as wide as the table.
    pub notes: Vec<String>,
}

/// A cell of a table.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Cell {
    /// Its text.
    pub text: String,
    /// Where it is an outcome: which, to be marked by a shape as well.
    pub outcome: Option<Outcome>,
}

/// Which chart is to be drawn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChartOf {
    /// Place of the room in [`Case::rooms`] and in the assessment.
    pub room: usize,
    /// Where it begins, in seconds of UTC.
    pub from_s: i64,
    /// Where it ends, in seconds of UTC.
    pub to_s: i64,
    /// What it shows, for those who cannot see it.
    pub alt: String,
}

impl Content {
    /// What the record of a case says. `assessment` and `files` are those that the evidence gives.
    #[must_use]
    pub fn of(case: &Case, assessment: &Assessment, evidence: &Evidence, files: &[File]) -> Self {
        let telling = Telling { case, assessment, evidence, files };
        let site = &case.job.site.name;
        let verdict = verdict::of(&telling);
        let at = telling.local(case.at_s);
        let footer = format!("{}: {}, {site}, {at}", verdict.word, verdict.step);
        let mut sections = vec![telling.site(), telling.steps()];
        for room in 0..case.rooms.len() {
            sections.extend(telling.room(room));
        }
        sections.extend(telling.moisture_tests());
        sections.extend(telling.meter_readings());
        sections.push(telling.probes());
        sections.push(telling.logs());
        sections.extend(telling.limits_set());
        sections.push(telling.cautions());
        sections.push(telling.trust());
        sections.push(telling.signatures());
        sections.push(telling.fingerprints());
        let title = format!("Record of site conditions: {site}");
        let units = case.job.site.units;
        Self { title, language: "en", units, verdict, sections, footer }
    }
}

/// What the sections are told from.
#[derive(Clone, Copy)]
struct Telling<'a> {
    case: &'a Case,
    assessment: &'a Assessment,
    evidence: &'a Evidence,
    files: &'a [File],
}

impl<'a> Telling<'a> {
    /// A time on the clock of the site.
    fn local(&self, time_s: i64) -> String {
        local_time(time_s, &self.case.job.site.time_zone)
    }

    /// A time on the clock of the site and in UTC.
    fn both_clocks(&self, time_s: i64) -> String {
        let zone = self.zone_name();
        format!("{} ({zone}), {} (UTC)", self.local(time_s), utc_time(time_s))
    }

    /// The name of the site's time zone.
    fn zone_name(&self) -> String {
        self.case.job.site.time_zone.iana_name().unwrap_or("clock of the site").to_owned()
    }

    /// A text of an assessment as a sentence on paper: temperatures in both units, and no marks of a
    /// terminal.
    fn prose(&self, text: &str) -> String {
        in_both(text, self.units()).replace('`', "\"")
    }

    fn units(&self) -> Units {
        self.case.job.site.units
    }

    /// A value with its unit, temperatures in both.
    fn show(&self, unit: LimitUnit, value: f64) -> String {
        both(unit, value, self.units())
    }

    /// A room with its log.
    fn zone(&self, room: usize) -> Option<&'a (Zone, History)> {
        self.case.rooms.get(room)
    }

    /// Whether something of the job that may name a room is of a room asked about.
    fn concerns(&self, room: Option<&str>) -> bool {
        room.is_none_or(|name| self.case.rooms.iter().any(|(zone, _)| zone.name == name))
    }
}

/// A column of text.
fn text(head: &'static str) -> Column {
    Column { head, is_figures: false, is_wide: false, is_unit: false }
}

/// A column of text that gives way.
fn wide(head: &'static str) -> Column {
    Column { head, is_figures: false, is_wide: true, is_unit: false }
}

/// A column of figures.
fn figures(head: &'static str) -> Column {
    Column { head, is_figures: true, is_wide: false, is_unit: false }
}

/// The column with the unit of the figures before it.
fn unit(head: &'static str) -> Column {
    Column { head, is_figures: false, is_wide: false, is_unit: true }
}

/// A row of texts.
fn row<const N: usize>(cells: [String; N]) -> Row {
    Row { cells: cells.map(Cell::from).into(), notes: Vec::new() }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self { text, outcome: None }
    }
}

/// A count with its noun, in the plural where there is not one.
fn count(number: usize, noun: &str) -> String {
    let ending = if number == 1 { "" } else { "s" };
    format!("{number} {noun}{ending}")
}

/// What is not known.
const NOT_GIVEN: &str = "not given";

/// The text, or that it is not given.
fn given(text: Option<String>) -> String {
    text.unwrap_or_else(|| NOT_GIVEN.to_owned())
}
