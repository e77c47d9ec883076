//! CSV by RFC 4180 and JSON Lines. Bytes stand in them as Base64 (RFC 4648).

use std::fmt::Write as _;
use std::io::Write;

use super::table::{Cell, Column, Kind};
use super::{ExportError, Sink};
use crate::view::utc_time;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;

/// Comma-separated values by RFC 4180: a header, CRLF behind every line, quotes where a cell holds a
/// comma, a quote or a line end. Numbers have a decimal point and the decimals of their column.
pub struct Csv<'a> {
    columns: &'a [Column],
    writer: csv::Writer<&'a mut dyn Write>,
    cell: String,
}

impl<'a> Csv<'a> {
    pub(super) fn begin(
        columns: &'a [Column],
        out: &'a mut dyn Write,
    ) -> Result<Self, ExportError> {
        let mut writer = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .quote_style(csv::QuoteStyle::Necessary)
            .from_writer(out);
        writer.write_record(columns.iter().map(|column| column.name)).map_err(io)?;
        Ok(Self { columns, writer, cell: String::new() })
    }
}

impl Sink for Csv<'_> {
    fn row(&mut self, cells: &[Cell<'_>]) -> Result<(), ExportError> {
        for (column, cell) in self.columns.iter().zip(cells) {
            self.cell.clear();
            let text = match cell {
                Cell::Absent => "",
                Cell::Text(text) => text,
                Cell::Time(time_s) => {
                    self.cell.push_str(&utc_time(*time_s));
                    &self.cell
                }
                Cell::Whole(value) => {
                    // Writing to a string cannot fail.
                    let _ = write!(self.cell, "{value}");
                    &self.cell
                }
                Cell::Real(value) => {
                    let _ = write!(self.cell, "{value:.*}", decimals(column));
                    &self.cell
                }
                Cell::Bytes(bytes) => {
                    BASE64.encode_string(bytes, &mut self.cell);
                    &self.cell
                }
            };
            self.writer.write_field(text).map_err(io)?;
        }
        self.writer.write_record(None::<&[u8]>).map_err(io)
    }

    fn finish(&mut self) -> Result<(), ExportError> {
        Ok(self.writer.flush()?)
    }
}

fn decimals(column: &Column) -> usize {
    if let Kind::Real(decimals) = column.kind { usize::from(decimals) } else { 0 }
}

/// The error of what is written to, as it is: a closed pipe has to be told from a full disk. A writer
/// has no others, as rows are all equally long.
fn io(error: csv::Error) -> ExportError {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => ExportError::Write(error),
        other => ExportError::Write(std::io::Error::other(format!("{other:?}"))),
    }
}

/// JSON Lines: an object a row, its members in the order of the columns, `null` for what is not known.
pub struct JsonLines<'a> {
    columns: &'a [Column],
    out: &'a mut dyn Write,
    line: Vec<u8>,
}

impl<'a> JsonLines<'a> {
    pub(super) fn begin(columns: &'a [Column], out: &'a mut dyn Write) -> Self {
        Self { columns, out, line: Vec::new() }
    }
}

impl Sink for JsonLines<'_> {
    fn row(&mut self, cells: &[Cell<'_>]) -> Result<(), ExportError> {
        let line = &mut self.line;
        line.clear();
        for (column, cell) in self.columns.iter().zip(cells) {
            line.push(if line.is_empty() { b'{' } else { b',' });
            // Names of columns are plain words.
            write!(line, "\"{}\":", column.name)?;
            match cell {
                Cell::Absent => line.extend_from_slice(b"null"),
                Cell::Text(text) => serde_json::to_writer(&mut *line, text).map_err(json)?,
                Cell::Time(time_s) => write!(line, "\"{}\"", utc_time(*time_s))?,
                Cell::Whole(value) => write!(line, "{value}")?,
                // Rounded and finite, so that the shortest form is a JSON number.
                Cell::Real(value) => serde_json::to_writer(&mut *line, value).map_err(json)?,
                Cell::Bytes(bytes) => write!(line, "\"{}\"", BASE64.encode(bytes))?,
            }
        }
        line.extend_from_slice(b"}\n");
        Ok(self.out.write_all(line)?)
    }

    fn finish(&mut self) -> Result<(), ExportError> {
        Ok(self.out.flush()?)
    }
}

fn json(error: serde_json::Error) -> ExportError {
    ExportError::Write(error.into())
}
