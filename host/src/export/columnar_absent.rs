//! In the place of Parquet in a build without it.

use super::{About, Column, ExportError, Sink};
use std::io::Write;

pub(super) fn begin<'a>(
    _columns: &'a [Column],
    _about: &About,
    _out: &'a mut dyn Write,
) -> Result<Box<dyn Sink + 'a>, ExportError> {
    Err(ExportError::NoParquet)
}
