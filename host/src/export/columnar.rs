//! Apache Parquet.

use std::io::Write;
use std::sync::Arc;

use super::table::{Cell, Column, Kind};
use super::{About, ExportError, SCHEMA, Sink};
use parquet::basic::{Compression, LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::data_type::{ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::Type;

/// Rows of a row group: what is held in memory at a time.
const GROUP: usize = 65_536;
/// The same in bytes of columns that hold bytes.
const GROUP_BYTES: usize = 8 << 20;

pub(super) fn begin<'a>(
    columns: &'a [Column],
    about: &About,
    out: &'a mut dyn Write,
) -> Result<Box<dyn Sink + 'a>, ExportError> {
    let mut fields = Vec::new();
    for column in columns {
        fields.push(Arc::new(field(column)?));
    }
    let schema = Type::group_type_builder("glueday").with_fields(fields).build()?;
    let properties = WriterProperties::builder()
        .set_created_by(format!("glueday version {}", env!("CARGO_PKG_VERSION")))
        .set_compression(Compression::SNAPPY)
        .set_key_value_metadata(Some(metadata(columns, about)))
        .build();
    // The library asks for a writer that may go to another thread, which standard output is not.
    let writer = SerializedFileWriter::new(Vec::new(), Arc::new(schema), Arc::new(properties))?;
    let held = columns.iter().map(|column| Held::of(column.kind)).collect();
    Ok(Box::new(Parquet { writer, held, rows: 0, bytes: 0, out }))
}

fn field(column: &Column) -> Result<Type, ParquetError> {
    let (physical, logical) = match column.kind {
        Kind::Time => (Physical::INT64, Some(LogicalType::timestamp(true, TimeUnit::MILLIS))),
        Kind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Kind::Whole => (Physical::INT64, None),
        Kind::Real(_) => (Physical::DOUBLE, None),
        Kind::Bytes => (Physical::BYTE_ARRAY, None),
    };
    Type::primitive_type_builder(column.name, physical)
        .with_logical_type(logical)
        .with_repetition(Repetition::OPTIONAL)
        .build()
}

fn metadata(columns: &[Column], about: &About) -> Vec<KeyValue> {
    let entry = |key: &str, value: String| KeyValue::new(format!("glueday.{key}"), Some(value));
    let logs: Vec<serde_json::Value> = about
        .logs
        .iter()
        .map(|(id, name, room)| serde_json::json!({ "logger": id, "name": name, "room": room }))
        .collect();
    let of_columns = |text: fn(&Column) -> &'static str| {
        let said = columns.iter().filter(|column| !text(column).is_empty());
        let map: serde_json::Map<_, _> =
            said.map(|column| (column.name.to_owned(), text(column).into())).collect();
        serde_json::Value::Object(map).to_string()
    };
    let mut entries = vec![
        entry("schema", SCHEMA.to_string()),
        entry("program", format!("glueday {}", env!("CARGO_PKG_VERSION"))),
        entry("loggers", serde_json::Value::Array(logs).to_string()),
        entry("units", of_columns(|column| column.unit)),
        entry("columns", of_columns(|column| column.what)),
    ];
    entries.extend(about.site.clone().map(|site| entry("site", site)));
    entries
}

struct Parquet<'a> {
    writer: SerializedFileWriter<Vec<u8>>,
    held: Vec<Held>,
    rows: usize,
    bytes: usize,
    out: &'a mut dyn Write,
}

/// The values of a column in the row group that is being filled, and for each row whether it has one.
struct Held {
    values: Values,
    levels: Vec<i16>,
}

enum Values {
    Whole(Vec<i64>),
    Real(Vec<f64>),
    Text(Vec<ByteArray>),
}

impl Held {
    fn of(kind: Kind) -> Self {
        let values = match kind {
            Kind::Time | Kind::Whole => Values::Whole(Vec::new()),
            Kind::Real(_) => Values::Real(Vec::new()),
            Kind::Text | Kind::Bytes => Values::Text(Vec::new()),
        };
        Self { values, levels: Vec::new() }
    }

    fn push(&mut self, cell: &Cell<'_>) -> Result<(), ExportError> {
        match (&mut self.values, cell) {
            (_, Cell::Absent) => {
                self.levels.push(0);
                return Ok(());
            }
            (Values::Whole(values), Cell::Whole(value)) => values.push(*value),
            (Values::Whole(values), Cell::Time(time_s)) => {
                values.push(time_s.saturating_mul(1000));
            }
            (Values::Real(values), Cell::Real(value)) => values.push(*value),
            (Values::Text(values), Cell::Text(text)) => {
                // Columns of text hold the same one for long: one copy of it is enough.
                let last = values.last().filter(|last| last.data() == text.as_bytes()).cloned();
                values.push(last.unwrap_or_else(|| ByteArray::from(text.as_ref())));
            }
            (Values::Text(values), Cell::Bytes(bytes)) => {
                values.push(ByteArray::from(bytes.to_vec()));
            }
            (_, cell) => {
                return Err(ExportError::Parquet(format!("{cell:?} in a column of another kind")));
            }
        }
        self.levels.push(1);
        Ok(())
    }

    fn write(
        &mut self,
        group: &mut SerializedRowGroupWriter<'_, Vec<u8>>,
    ) -> Result<(), ExportError> {
        let Some(mut column) = group.next_column()? else {
            return Err(ExportError::Parquet("a column too many".to_owned()));
        };
        let levels = Some(self.levels.as_slice());
        match &mut self.values {
            Values::Whole(values) => {
                column.typed::<Int64Type>().write_batch(values, levels, None)?;
                values.clear();
            }
            Values::Real(values) => {
                column.typed::<DoubleType>().write_batch(values, levels, None)?;
                values.clear();
            }
            Values::Text(values) => {
                column.typed::<ByteArrayType>().write_batch(values, levels, None)?;
                values.clear();
            }
        }
        self.levels.clear();
        Ok(column.close()?)
    }
}

impl Parquet<'_> {
    fn write_group(&mut self) -> Result<(), ExportError> {
        let mut group = self.writer.next_row_group()?;
        for held in &mut self.held {
            held.write(&mut group)?;
        }
        group.close()?;
        (self.rows, self.bytes) = (0, 0);
        self.pass_on()
    }

    /// Hands on what was written so far. The writer counts its offsets itself and never looks back.
    fn pass_on(&mut self) -> Result<(), ExportError> {
        self.writer.flush()?;
        let bytes = std::mem::take(self.writer.inner_mut());
        Ok(self.out.write_all(&bytes)?)
    }
}

impl Sink for Parquet<'_> {
    fn row(&mut self, cells: &[Cell<'_>]) -> Result<(), ExportError> {
        for (held, cell) in self.held.iter_mut().zip(cells) {
            held.push(cell)?;
            if let Cell::Bytes(bytes) = cell {
                self.bytes += bytes.len();
            }
        }
        self.rows += 1;
        if self.rows >= GROUP || self.bytes >= GROUP_BYTES { self.write_group() } else { Ok(()) }
    }

    fn finish(&mut self) -> Result<(), ExportError> {
        if self.rows > 0 {
            self.write_group()?;
        }
        self.writer.finish()?;
        self.pass_on()?;
        Ok(self.out.flush()?)
    }
}

impl From<ParquetError> for ExportError {
    fn from(error: ParquetError) -> Self {
        Self::Parquet(error.to_string())
    }
}
