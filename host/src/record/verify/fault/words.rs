//! Words for what other parts of the program call by a type.

use crate::attest::{Mismatch, Untrue};
use glueday_types::HeaderError;

pub(super) fn header(error: &HeaderError) -> &'static str {
    match error {
        HeaderError::TooShort => "it is too short",
        HeaderError::Erased => "it is erased flash",
        HeaderError::NotABlock => "these bytes are no block",
        HeaderError::Newer { .. } => "a newer logger wrote it",
        HeaderError::Corrupt => "its CRC-32 does not fit",
    }
}

pub(super) fn missing(first: u32, blocks: u32) -> String {
    match blocks {
        1 => format!("block {first} is missing; it was taken out"),
        _ => {
            let last = first.wrapping_add(blocks).wrapping_sub(1);
            format!("blocks {first} to {last} are missing; they were taken out")
        }
    }
}

pub(super) fn untrue(error: &Untrue) -> &'static str {
    match error {
        Untrue::NoSuchKey => "these bytes are no Ed25519 public key",
        _ => "Ed25519 refuses it",
    }
}

pub(super) fn signed(mismatch: &Mismatch) -> &'static str {
    match mismatch {
        Mismatch::NotHeld { .. } => "the end of the log was taken out",
        Mismatch::Digest { .. } => "the log was changed after it was signed",
        Mismatch::BehindEarlier { .. } => {
            "the signatures were put in another order, or the logger was put back to an earlier state"
        }
        Mismatch::Length { .. } | Mismatch::Boot { .. } | Mismatch::Uptime { .. } => {
            "the logger's firmware contradicts its log"
        }
    }
}
