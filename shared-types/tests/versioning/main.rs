//! Formats that loggers and archives in the field hold: one module a version, frozen.

#[cfg(test)]
mod checks;
#[cfg(test)]
mod v01;
#[cfg(test)]
mod v01_numbers;
#[cfg(test)]
mod v01_wire;
