//! What the logger and the host agree on: units, entries, blocks, frames, requests and replies.
//!
//! The same bytes go from flash over the wire into the archive and the record; `SPEC.md` gives each
//! of them, and the tests check its examples. Nothing here needs an allocator or does any input or
//! output.
#![no_std]

#[cfg(test)]
extern crate std;

pub mod attest;
pub mod block;
mod check;
pub mod cursor;
pub mod entry;
pub mod frame;
pub mod header;
pub mod units;
pub mod wire;

pub use check::crc32;
pub use cursor::{Cursor, Found, PackError, Packed};
pub use entry::{BootReason, Entry, MarkKind, Probe, Sample};
pub use header::{BLOCK_LEN, BlockDigest, HEADER_LEN, Header, HeaderError, LoggerId, digest};
pub use units::{Absent, CentiCelsius, CentiPercent, Reading};

// Size budgets. They exist to make whoever changes a type think of the logger's RAM and of the log's
// reach in weeks before raising one.
const _: () = assert!(size_of::<Sample>() <= 24);
const _: () = assert!(size_of::<Entry>() <= 32);
const _: () = assert!(size_of::<Cursor>() <= 64);
const _: () = assert!(HEADER_LEN.is_multiple_of(header::WRITE_UNIT_MAX));
const _: () = assert!(BLOCK_LEN < u16::MAX as usize);
const _: () = assert!(wire::REQUEST_FRAME_LEN_MAX <= 64);
const _: () = assert!(wire::REPLY_FRAME_LEN_MAX <= 1088);
