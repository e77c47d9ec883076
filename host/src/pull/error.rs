//! What can go wrong between host and logger, and what a pull has to tell.

use super::session::SessionError;
use crate::archive::ArchiveError;
use crate::attest::Untrue;
use crate::port::PortError;
use glueday_types::wire::{Refusal, WIRE_VERSION, WIRE_VERSION_MIN};
use glueday_types::{LoggerId, header};

/// Why a request has no answer. Each message names the port, the cause and what to do next.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LinkError {
    /// The port failed.
    #[error(transparent)]
    Port(#[from] PortError),
    /// Not a single byte came.
    #[error(
        "nothing answers at {port}: check the logger's power and cable, and that the speed is right"
    )]
    Silent {
        /// The port.
        port: String,
    },
    /// Bytes came, but none of a logger.
    #[error(
        "{port} sent {bytes} bytes, but they are not of a logger: check the port and its speed"
    )]
    WrongDevice {
        /// The port.
        port: String,
        /// How many bytes.
        bytes: u64,
    },
    /// The logger answered before, but not to this.
    #[error(
        "the logger at {port} stopped answering (to {request}): check cable and power, then repeat"
    )]
    NoReply {
        /// The port.
        port: String,
        /// What was asked.
        request: &'static str,
    },
    /// The logger speaks a newer version than this program.
    #[error(
        "the logger at {port} is newer (version {version}; this program knows {WIRE_VERSION_MIN} to {WIRE_VERSION}): update the program"
    )]
    LoggerNewer {
        /// The port.
        port: String,
        /// What it speaks.
        version: u8,
    },
    /// The logger speaks an older version than this program still knows.
    #[error(
        "the logger at {port} is older (version {version}; this program knows {WIRE_VERSION_MIN} to {WIRE_VERSION}): update its firmware"
    )]
    LoggerOlder {
        /// The port.
        port: String,
        /// What it speaks.
        version: u8,
    },
    /// The logger writes a newer block format than this program.
    #[error(
        "the logger at {port} writes block format {version}; this program reads up to {}: update the program",
        header::FORMAT_VERSION
    )]
    FormatNewer {
        /// The port.
        port: String,
        /// What it writes.
        version: u8,
    },
    /// The logger will not do it.
    #[error("the logger at {port} refused {request}: {}", refusal(.why))]
    Refused {
        /// The port.
        port: String,
        /// What was asked.
        request: &'static str,
        /// Why not.
        why: Refusal,
    },
    /// The logger answered something else.
    #[error(
        "the logger at {port} answered something else than was asked ({request}): repeat, and report it if it stays"
    )]
    Unexpected {
        /// The port.
        port: String,
        /// What was asked.
        request: &'static str,
    },
    /// The log could not be read on the way.
    #[error("reading the log through {port} failed: {source}")]
    Log {
        /// The port.
        port: String,
        /// Why.
        source: SessionError,
    },
}

fn refusal(why: &Refusal) -> String {
    match why {
        Refusal::Version { min, max } => {
            format!("it speaks versions {min} to {max}, this program {WIRE_VERSION}")
        }
        Refusal::NotUnderstood => "it does not know the request; update its firmware".to_owned(),
        Refusal::NoSuchBlock { oldest, newest } => format!("it holds blocks {oldest} to {newest}"),
        Refusal::BadValue => "the value cannot be set".to_owned(),
        Refusal::FlashFailed => {
            "its flash failed, nothing was written; replace the logger".to_owned()
        }
        Refusal::NoKey => "it has no key to sign with".to_owned(),
    }
}

/// Why a pull ended early. What came before is stored.
#[derive(Debug, thiserror::Error)]
pub enum PullError {
    /// Between host and logger.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// At the archive.
    #[error(transparent)]
    Archive(#[from] ArchiveError),
}

/// Something that a pull came upon and that the user has to know, although the pull went on.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Finding {
    /// The ring went round before these blocks were pulled.
    #[error(
        "blocks {first} to {last} were overwritten before they were pulled{}: that part of the log is lost",
        if *.begun { ", the first of them after a part of it was stored" } else { "" }
    )]
    Overwritten {
        /// The first of them.
        first: u32,
        /// The last of them.
        last: u32,
        /// Whether a part of the first is held.
        begun: bool,
    },
    /// A block differs from what is held.
    #[error(
        "ALARM: block {block} differs from the copy in the archive; both are kept, and neither proves anything until it is explained"
    )]
    Conflict {
        /// Its number.
        block: u32,
    },
    /// A block does not bear the digest of the one before.
    #[error("ALARM: the chain is broken between blocks {} and {block}", .block.saturating_sub(1))]
    ChainBroken {
        /// The later of the two.
        block: u32,
    },
    /// The logger sends something that is no sound block; it is not kept.
    #[error("block {block} of the logger cannot be read ({detail}); it is missing in the archive")]
    BadBlock {
        /// Its number.
        block: u32,
        /// What is wrong.
        detail: String,
    },
    /// The log ends before what is held.
    #[error(
        "ALARM: the log ends at block {open_block}, byte {open_len}, but the archive holds block {held_block}, byte {held_len}: the logger was reset or its flash replaced; all its blocks were read again"
    )]
    WentBack {
        /// The block that the logger writes to.
        open_block: u32,
        /// Bytes written of it.
        open_len: u16,
        /// The newest block that is held.
        held_block: u32,
        /// Bytes held of it.
        held_len: u16,
    },
    /// The logger shows another key than the pinned one.
    #[error("ALARM: logger {logger} shows another public key than the one that was pinned")]
    KeyChanged {
        /// The logger.
        logger: LoggerId,
    },
    /// The logger had a key and shows none any more.
    #[error(
        "ALARM: logger {logger} had the key {fingerprint} and shows none any more: its key was damaged, or this is another logger; what it logs from now on is not signed, so put another logger into service"
    )]
    KeyGone {
        /// The logger.
        logger: LoggerId,
        /// The fingerprint of the pinned key.
        fingerprint: String,
    },
    /// The signature over the log proves nothing, or the opposite.
    #[error("ALARM: the signed head of the log of logger {logger} is not to be trusted: {why}")]
    Untrue {
        /// The logger.
        logger: LoggerId,
        /// Why.
        why: Untrue,
    },
}
