//! Formats that loggers and archives in the field hold: one module a version, frozen.

mod checks;
mod v01;
mod v01_numbers;
mod v01_wire;
