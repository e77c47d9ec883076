//! Frames on the wire: `COBS(postcard(message) + CRC-32) 00`.
//!
//! COBS (Cheshire and Baker 1999) keeps zero bytes out of the frame, so that a zero always ends one and
//! a receiver that joined in the middle, or was fed noise, finds the next.

use crate::check::CRC32;
use heapless::Vec;
use postcard::ser_flavors::{Cobs, Slice, crc::CrcModifier};
use serde::Serialize;

/// Ends every frame. A sender may also send it first, to end what noise began.
pub const FRAME_END: u8 = 0;

/// Why received bytes are no frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FrameError {
    /// More bytes came than the longest frame has.
    TooLong,
    /// The bytes are no COBS encoding.
    NotCobs,
    /// The CRC-32 is wrong, or there are too few bytes for one.
    BadChecksum,
}

/// Writes `message` as one frame into `out` and returns its bytes; `None` when `out` is too short.
pub fn write<'a>(message: &impl Serialize, out: &'a mut [u8]) -> Option<&'a mut [u8]> {
    let cobs = Cobs::try_new(Slice::new(out)).ok()?;
    postcard::serialize_with_flavor(message, CrcModifier::new(cobs, CRC32.digest())).ok()
}

/// Collects bytes up to the end of a frame, and checks it. The frame may have `N` bytes and the zero
/// that ends it, which is not kept.
#[derive(Clone, Debug)]
pub struct Collector<const N: usize> {
    bytes: Vec<u8, N>,
    overrun: bool,
    done: bool,
}

impl<const N: usize> Default for Collector<N> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const N: usize> Collector<N> {
    /// A collector that has seen nothing.
    #[must_use]
    pub const fn new() -> Self {
        Self { bytes: Vec::new(), overrun: false, done: false }
    }

    /// Takes one byte. At the end of a frame: its payload without the CRC-32, or why it is none.
    /// Empty frames (a zero behind a zero) are passed over.
    pub fn push(&mut self, byte: u8) -> Option<Result<&[u8], FrameError>> {
        if self.done {
            self.bytes.clear();
            self.done = false;
            self.overrun = false;
        }
        if byte != FRAME_END {
            self.overrun |= self.bytes.push(byte).is_err();
            return None;
        }
        if self.bytes.is_empty() {
            return None;
        }
        self.done = true;
        if self.overrun {
            return Some(Err(FrameError::TooLong));
        }
        Some(unwrap_frame(&mut self.bytes))
    }
}

/// Undoes COBS in place, checks the CRC-32 and takes it off.
fn unwrap_frame(bytes: &mut [u8]) -> Result<&[u8], FrameError> {
    let len = cobs::decode_in_place(bytes).map_err(|_| FrameError::NotCobs)?;
    let decoded = bytes.get(..len).ok_or(FrameError::NotCobs)?;
    let (payload, check) = decoded.split_last_chunk::<4>().ok_or(FrameError::BadChecksum)?;
    if CRC32.checksum(payload) != u32::from_le_bytes(*check) {
        return Err(FrameError::BadChecksum);
    }
    Ok(payload)
}

impl core::fmt::Display for FrameError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::TooLong => "more bytes than the longest frame has",
            Self::NotCobs => "bytes that are no frame",
            Self::BadChecksum => "a frame with a wrong checksum",
        })
    }
}

impl core::error::Error for FrameError {}
