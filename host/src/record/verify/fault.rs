//! What a check can find that speaks against a record, each with its own message: what, where, and
//! what it means.

mod words;

use super::{Form, Who};
use crate::attest::{Mismatch, Untrue};
use crate::record::files::{MANIFEST, Unreadable};
use glueday_types::{HeaderError, LoggerId};

/// Something that does not hold.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Fault {
    /// A file that is listed is not there.
    #[error("{name}: the file is listed in {MANIFEST} and is not there; it was taken out")]
    FileMissing {
        /// Its name.
        name: String,
    },
    /// A file that is not listed.
    #[error("{name}: the file is not listed in {MANIFEST}; it was added")]
    FileAdded {
        /// Its name.
        name: String,
    },
    /// Another length.
    #[error(
        "{name}: the file has {found} bytes, and {MANIFEST} says {said}; it was cut off or added to"
    )]
    Length {
        /// Its name.
        name: String,
        /// What the manifest says.
        said: u64,
        /// What it is.
        found: u64,
    },
    /// Other bytes.
    #[error("{name}: the file was changed: its SHA-256 is not the one in {MANIFEST}")]
    Digest {
        /// Its name.
        name: String,
    },
    /// The manifest itself was changed.
    #[error("{MANIFEST}: it was changed: its SHA-256 is not the one that it bears")]
    Seal,
    /// A file that no record has.
    #[error(
        "{name}: from byte {byte} on it is not as {program} writes it from what the record holds; it was changed or written by something else"
    )]
    NotAsWritten {
        /// Its name.
        name: String,
        /// The first byte that differs, from 0.
        byte: usize,
        /// The program.
        program: String,
    },
    /// A file cannot be read.
    #[error("{error}")]
    Unreadable {
        /// Which one and why.
        error: Unreadable,
    },
    /// A block has no header.
    #[error("log of {log}: what stands as its {place}. block has no header that can be read ({}); it was changed, or bytes before it were taken out", words::header(.error))]
    Header {
        /// Name and id of the logger.
        log: String,
        /// Which one in the file, from 1.
        place: usize,
        /// What is wrong with it.
        error: HeaderError,
    },
    /// A block of another logger.
    #[error(
        "log of {log}: what stands as its {place}. block was written by logger {other}; logs were exchanged or mixed"
    )]
    OtherLogger {
        /// Name and id of the logger.
        log: String,
        /// Which one in the file, from 1.
        place: usize,
        /// Whose it is.
        other: LoggerId,
    },
    /// Blocks are missing.
    #[error("log of {log}: {}; they were taken out", words::missing(*.first, *.blocks))]
    BlocksMissing {
        /// Name and id of the logger.
        log: String,
        /// The first that is missing.
        first: u32,
        /// How many.
        blocks: u32,
    },
    /// Blocks stand in another order.
    #[error(
        "log of {log}: block {block} stands behind block {before}; blocks were exchanged or repeated"
    )]
    Order {
        /// Name and id of the logger.
        log: String,
        /// The block.
        block: u32,
        /// The one before it.
        before: u32,
    },
    /// The chain does not hold.
    #[error("log of {log}: block {block} was changed after it was sealed: block {} names another SHA-256 for it", .block.wrapping_add(1))]
    Chain {
        /// Name and id of the logger.
        log: String,
        /// The block.
        block: u32,
    },
    /// The first of all blocks follows something.
    #[error("log of {log}: block 0 names a block before it; its header was changed")]
    Before {
        /// Name and id of the logger.
        log: String,
    },
    /// Numbers of entries do not go on.
    #[error(
        "log of {log}: block {block} begins with entry {said}, and {found} would be next; entries were taken out or put in"
    )]
    EntryNumber {
        /// Name and id of the logger.
        log: String,
        /// The block.
        block: u32,
        /// What its header says.
        said: u32,
        /// What would be next.
        found: u32,
    },
    /// A signature that is none of the key.
    #[error("signature {number} of {log} is not valid under {who}: {}; the signature, what was signed, or the key was changed", words::untrue(.error))]
    Signature {
        /// Name and id of the logger.
        log: String,
        /// Which one, from 1.
        number: usize,
        /// Whose word the key rests on.
        who: Who,
        /// What is wrong.
        error: Untrue,
    },
    /// A signature that is over something else.
    #[error("signature {number} of {log} is true, and not over this log: {mismatch}; {}", words::signed(.mismatch))]
    SignedOther {
        /// Name and id of the logger.
        log: String,
        /// Which one, from 1.
        number: usize,
        /// What does not fit.
        mismatch: Mismatch,
    },
    /// A nonce twice.
    #[error(
        "signatures {first} and {second} of {log} answer the same question: an old signature is shown a second time"
    )]
    Replayed {
        /// Name and id of the logger.
        log: String,
        /// The one, from 1.
        first: usize,
        /// The other.
        second: usize,
    },
    /// Signatures without a key.
    #[error("log of {log}: it has signatures and names no key for them; the key was taken out")]
    NoKey {
        /// Name and id of the logger.
        log: String,
    },
    /// Another key than the one that is trusted.
    #[error(
        "log of {log}: the record names the key {found}, and {who} is {expected}. The log was signed anew by somebody else, or comes from another logger"
    )]
    OtherKey {
        /// Name and id of the logger.
        log: String,
        /// Short form of the key of the record.
        found: String,
        /// Short form of the key that is trusted.
        expected: String,
        /// Whose word it rests on.
        who: Who,
    },
    /// A key is pinned, and the record has none.
    #[error(
        "log of {log}: the key {expected} is pinned in the archive for it, and it bears no signature; they were taken out"
    )]
    KeyTakenOut {
        /// Name and id of the logger.
        log: String,
        /// Short form of the key that is trusted.
        expected: String,
    },
    /// A trusted key signed nothing.
    #[error(
        "no log of the record is signed by the key {key} that you gave; this is another record, or its log was signed anew"
    )]
    KeyUnused {
        /// The key as it was given.
        key: String,
    },
    /// An imported file does not give its log.
    #[error(
        "log of {log}: from block {block} on it is not what the imported file {file} gives; the file or the log was changed"
    )]
    Import {
        /// Name and id of the log.
        log: String,
        /// Name of the file.
        file: String,
        /// The first block that differs.
        block: usize,
    },
    /// An imported file bears another id.
    #[error(
        "log of {log}: its id is not that of the imported file {file} with its mapping, which is {found}; the file or the mapping was changed"
    )]
    ImportId {
        /// Name and id of the log.
        log: String,
        /// Name of the file.
        file: String,
        /// The id that they give.
        found: LoggerId,
    },
    /// An imported file cannot be read.
    #[error("log of {log}: its imported file cannot be read again: {problem}")]
    ImportUnreadable {
        /// Name and id of the log.
        log: String,
        /// Why not.
        problem: String,
    },
    /// The job cannot be judged.
    #[error("no verdict follows from the job: {problem}")]
    NoCase {
        /// Why not.
        problem: String,
    },
    /// The verdict does not follow.
    #[error("{file} says \"{said}\", and the job and the logs give \"{found}\"{version}")]
    Verdict {
        /// Which file says so.
        file: &'static str,
        /// What it says.
        said: String,
        /// What they give.
        found: String,
        /// About other versions, or nothing.
        version: String,
    },
    /// A requirement comes out in another way.
    #[error(
        "room {room}, requirement {requirement}: the record says {said}, and the job and the logs give {found}{version}"
    )]
    Requirement {
        /// The room.
        room: String,
        /// The requirement.
        requirement: String,
        /// What the record says of it.
        said: String,
        /// What they give.
        found: String,
        /// About other versions, or nothing.
        version: String,
    },
    /// Something else of the assessment differs.
    #[error("{place}: the record says {said}, and the job and the logs give {found}{version}")]
    Assessment {
        /// Where.
        place: String,
        /// What the record says.
        said: String,
        /// What they give.
        found: String,
        /// About other versions, or nothing.
        version: String,
    },
    /// The pages are others.
    #[error(
        "the pages or the structure of the {form} were changed: from byte {byte} on it is not what this program draws from the record ({found} bytes, drawn anew {drawn}). What stands on the pages is not to be trusted. The files inside are judged on their own"
    )]
    Pages {
        /// What shows the pages.
        form: Form,
        /// The first byte that differs, from 0.
        byte: usize,
        /// Length of the document.
        found: usize,
        /// Length of what is drawn.
        drawn: usize,
    },
    /// The pages cannot be drawn.
    #[error("the pages cannot be drawn from the record: {problem}")]
    NotDrawn {
        /// Why not.
        problem: String,
    },
}
