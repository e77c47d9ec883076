//! I2C transactions over a serial line: one [`Asked`], one [`Answer`] of the same number.
//!
//! Both are framed as everything on the wire of the logger is ([`glueday_types::frame`]).

use serde::{Deserialize, Serialize};

/// The longest frame of a question, its end included: 16 bytes written.
pub const ASKED_FRAME_LEN_MAX: usize = 56;
/// The longest frame of an answer, its end included: 16 bytes read.
pub const ANSWER_FRAME_LEN_MAX: usize = 40;

/// Time since the machine was switched on, by counters that the logger's own clock is not made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Clock {
    /// Whole seconds.
    pub seconds: u32,
    /// Ticks of 40 ns; comes round every 171.8 s.
    pub ticks: u32,
}

/// One transaction that the board wants done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Asked<'a> {
    /// Counts the transactions of a boot, so that a late answer is not taken for the next.
    pub number: u32,
    /// When.
    pub clock: Clock,
    /// 7-bit address.
    pub address: u8,
    /// Bytes to write first.
    pub write: &'a [u8],
    /// How many bytes to read then.
    pub read_len: u8,
}

/// What came of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer<'a> {
    /// The number of the transaction.
    pub number: u32,
    /// What came of it.
    #[serde(borrow)]
    pub outcome: Outcome<'a>,
}

/// What came of a transaction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Outcome<'a> {
    /// All was acknowledged, and these bytes were read.
    Done(&'a [u8]),
    /// No device acknowledged.
    NoAnswer,
    /// The bus failed.
    BusFault,
}

/// Reads a message from the payload of a frame; `None` when it is none.
#[must_use]
pub fn read<'a, M: Deserialize<'a>>(payload: &'a [u8]) -> Option<M> {
    match postcard::take_from_bytes(payload) {
        Ok((message, [])) => Some(message),
        _ => None,
    }
}
