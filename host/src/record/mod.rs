//! The record that goes to the warranty file: the verdict with everything that it rests on.
//!
//! An [`Evidence`] is what a verdict can be made from anew: the job file, the logs as blocks, the
//! signatures. [`files::write`] turns it into named files and [`files::read`] back; a record carries
//! these files inside. Its pages are drawn from nothing else, so that whoever has the record can judge
//! and draw it once more and compare.
//!
//! Pure: the same evidence gives the same bytes. Nothing here reads the clock or a file.

mod case;
pub mod content;
mod evidence;
pub mod files;
pub mod html;
pub mod manifest;
pub mod pdf;
pub mod pdf_files;
pub mod verify;

pub use case::{Case, NoCase, UnknownRoom, rooms};
pub use content::Content;
pub use evidence::{CopyOfBlock, Evidence, Log, Original};
pub use files::{File, Unreadable};
pub use manifest::Manifest;

/// Name and version of this program, as a record that it makes bears them.
pub const PROGRAM: &str = concat!("glueday ", env!("CARGO_PKG_VERSION"));
