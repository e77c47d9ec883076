//! Requests to the logger and its replies.
//!
//! Each message is the postcard encoding of a version byte, a message number and the body. Version
//! and number stay at the front in every version, so that a peer can always say which one it speaks.
//! A reply bears the number of its request.

use crate::entry::{MarkKind, Sample};
use crate::header::LoggerId;
use crate::units::Absent;
use serde::{Deserialize, Serialize};

/// The oldest version of the messages that this version understands.
pub const WIRE_VERSION_MIN: u8 = 1;
/// The version of the messages that this version sends. Raise it with each variant that is added.
pub const WIRE_VERSION: u8 = 1;

/// Bytes of a block in one [`Reply::Chunk`]: small enough for the logger's RAM, large enough that the
/// frame around it costs little of the line.
pub const CHUNK_LEN: usize = 1024;
/// The longest frame of a request, its end included.
pub const REQUEST_FRAME_LEN_MAX: usize = 48;
/// The longest frame of a reply, its end included.
pub const REPLY_FRAME_LEN_MAX: usize = CHUNK_LEN + 40;

/// Asks the logger for something.
///
/// Only ever add variants at the end, and raise [`WIRE_VERSION`] with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Request {
    /// Who are you?
    Hello,
    /// How are you?
    Status,
    /// Send the log from a place on, as a run of [`Reply::Chunk`] and one [`Reply::BlocksEnd`]. A new
    /// request of any kind ends a run that is under way.
    Blocks {
        /// The first block wanted.
        first: u32,
        /// The first byte wanted of it.
        offset: u16,
        /// How many blocks at most.
        count: u16,
    },
    /// It is this time now, in seconds since 1970-01-01 UTC.
    SetClock {
        /// The time.
        utc_s: i64,
    },
    /// Sample at this interval from now on.
    SetInterval {
        /// Seconds, at least 1.
        interval_s: u16,
    },
    /// Write a mark into the log.
    Mark {
        /// What for.
        kind: MarkKind,
    },
    /// The latest sample.
    Latest,
    /// Sign the head of the log together with this nonce.
    Attest {
        /// Chosen by the host at random, so that an old signature cannot be sent again.
        nonce: [u8; 16],
    },
}

/// The logger's answer.
///
/// Only ever add variants at the end, and raise [`WIRE_VERSION`] with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Reply<'a> {
    /// To [`Request::Hello`].
    Hello(Identity),
    /// To [`Request::Status`].
    Status(Status),
    /// Bytes of a block, to [`Request::Blocks`].
    Chunk {
        /// Number of the block.
        block: u32,
        /// Where the bytes stand in it.
        offset: u16,
        /// At most [`CHUNK_LEN`] bytes.
        #[serde(borrow)]
        bytes: &'a [u8],
    },
    /// The end of a run of chunks.
    BlocksEnd {
        /// The block to ask for next: the first that was not sent whole.
        next: u32,
        /// The byte of it to ask for next.
        offset: u16,
        /// Whether the logger has more now.
        more: bool,
    },
    /// It was done, and stands in the log: to [`Request::SetClock`], [`Request::SetInterval`] and
    /// [`Request::Mark`].
    Done {
        /// The boot.
        boot: u32,
        /// Seconds since then, as in the entry that was written.
        at_s: u32,
    },
    /// To [`Request::Latest`].
    Latest {
        /// The boot.
        boot: u32,
        /// Seconds since then, now.
        uptime_s: u32,
        /// The latest sample of this boot, if there is one yet.
        sample: Option<Sample>,
    },
    /// To [`Request::Attest`].
    Attested(Attestation),
    /// It was not done.
    Refused(Refusal),
}

/// Who a logger is and what it speaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identity {
    /// Oldest message version that it understands.
    pub wire_version_min: u8,
    /// Message version that it sends.
    pub wire_version: u8,
    /// Block format that it writes.
    pub format_version: u8,
    /// Its id.
    pub logger: LoggerId,
    /// Firmware version as major, minor, patch.
    pub firmware: (u8, u8, u8),
    /// How many blocks its ring holds.
    pub blocks: u32,
    /// Its Ed25519 public key, when it has one.
    pub public_key: Option<[u8; 32]>,
}

/// How a logger is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Status {
    /// This boot.
    pub boot: u32,
    /// Seconds since then.
    pub uptime_s: u32,
    /// Nominal sampling interval in seconds.
    pub interval_s: u16,
    /// The oldest block in the ring.
    pub oldest_block: u32,
    /// The block that entries are written to now.
    pub open_block: u32,
    /// Bytes written of it.
    pub open_len: u16,
    /// Entries written over the life of the logger.
    pub entries: u32,
    /// Entries that could not be written in this boot, because the flash failed.
    pub lost_entries: u32,
    /// Damaged spans that the log was resumed behind, in this boot.
    pub resumed: u32,
    /// Supply voltage in millivolts, when the board can measure it.
    pub supply_mv: Option<u16>,
    /// Why the slab probe has no reading, if so.
    pub slab: Result<(), Absent>,
    /// Why the air probe has no reading, if so.
    pub air: Result<(), Absent>,
    /// Why the supply probe has no reading, if so.
    pub supply: Result<(), Absent>,
}

/// The head of the chain, signed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Attestation {
    /// The block that entries are written to.
    pub open_block: u32,
    /// Bytes written of it.
    pub open_len: u16,
    /// The boot.
    pub boot: u32,
    /// Seconds since then.
    pub uptime_s: u32,
    /// SHA-256 over the bytes written of the open block, which names the digest of the one before.
    pub digest: [u8; 32],
    /// First half of the Ed25519 signature (RFC 8032, R).
    pub signature_r: [u8; 32],
    /// Second half of the signature (RFC 8032, S).
    pub signature_s: [u8; 32],
}

/// Why a request was not done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Refusal {
    /// The request has a version that the logger does not speak.
    Version {
        /// Oldest version that it speaks.
        min: u8,
        /// Newest version that it speaks.
        max: u8,
    },
    /// The request could not be read although its check was right.
    NotUnderstood,
    /// The block is not in the ring (any more, or yet).
    NoSuchBlock {
        /// The oldest block that is.
        oldest: u32,
        /// The newest block that is.
        newest: u32,
    },
    /// The value cannot be set.
    BadValue,
    /// The flash failed; nothing was written.
    FlashFailed,
    /// The logger has no key to sign with.
    NoKey,
}

/// A message with its version and number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Message<B> {
    /// Version of the message.
    pub version: u8,
    /// Number of the request; replies bear it too.
    pub number: u16,
    /// What it says.
    pub body: B,
}

/// Why the payload of a frame is no message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum MessageError {
    /// The peer speaks a version that this one does not know.
    Version {
        /// The version.
        version: u8,
        /// The number of the message, zero when that cannot be read either.
        number: u16,
    },
    /// The version is known, and yet the bytes do not fit it.
    NotUnderstood {
        /// The number of the message, zero when that cannot be read either.
        number: u16,
    },
}

impl<B: Serialize> Message<B> {
    /// A message in the version that this program sends.
    pub fn new(number: u16, body: B) -> Self {
        Self { version: WIRE_VERSION, number, body }
    }

    /// Writes the message as one frame; `None` when `out` is too short.
    pub fn write<'a>(&self, out: &'a mut [u8]) -> Option<&'a mut [u8]> {
        crate::frame::write(self, out)
    }
}

/// Reads a message from the payload of a frame.
///
/// # Errors
/// A version out of range is told apart from bytes that do not fit.
pub fn read<'a, B: Deserialize<'a>>(payload: &'a [u8]) -> Result<Message<B>, MessageError> {
    let number =
        postcard::take_from_bytes::<(u8, u16)>(payload).map_or(0, |((_, number), _)| number);
    match payload.first() {
        Some(&version) if !(WIRE_VERSION_MIN..=WIRE_VERSION).contains(&version) => {
            Err(MessageError::Version { version, number })
        }
        _ => match postcard::take_from_bytes::<Message<B>>(payload) {
            Ok((message, [])) => Ok(message),
            _ => Err(MessageError::NotUnderstood { number }),
        },
    }
}

impl core::fmt::Display for MessageError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Version { version, .. } => write!(
                f,
                "message version {version}; this program speaks {WIRE_VERSION_MIN} to {WIRE_VERSION}"
            ),
            Self::NotUnderstood { .. } => f.write_str("a message that does not fit its version"),
        }
    }
}

impl core::error::Error for MessageError {}
