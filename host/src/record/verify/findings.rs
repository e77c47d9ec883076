//! What a check can find that speaks for a record or leaves it open, each with its own message.

use crate::record::files::MANIFEST;

/// Whose word a key rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Who {
    /// The verifier gave it.
    #[error("the key that you gave")]
    Verifier,
    /// It is pinned in the verifier's archive.
    #[error("the key that is pinned in the archive")]
    Archive,
    /// The record names it.
    #[error("the key that the record itself names")]
    Record,
}

/// What shows the pages of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Form {
    /// The PDF.
    #[error("PDF")]
    Pdf,
    /// The page for phones and screens.
    #[error("web page")]
    Html,
}

/// Something that is proven.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Proof {
    /// The files are those that the manifest lists.
    #[error("the {files} files inside are those that {MANIFEST} lists, by length and SHA-256")]
    Files {
        /// How many, the manifest not counted.
        files: usize,
    },
    /// The chain of a log is whole.
    #[error(
        "the log of {log} is one unbroken chain by SHA-256: {}, {entries} entries; none is missing in between, moved or changed", blocks(*.first, *.last)
    )]
    Chain {
        /// Name and id of the logger.
        log: String,
        /// Number of the first block.
        first: u32,
        /// Number of the last block.
        last: u32,
        /// Entries that were read.
        entries: usize,
    },
    /// Signatures are valid and over this log.
    #[error(
        "the logger {log} signed it: {} by {who} ({fingerprint}); the last one covers {covered} of {entries} entries, up to block {block}, byte {len}", signatures_in_words(*.signatures)
    )]
    Signed {
        /// Name and id of the logger.
        log: String,
        /// How many signatures.
        signatures: usize,
        /// Whose word the key rests on.
        who: Who,
        /// Short form of the key.
        fingerprint: String,
        /// Entries that they cover.
        covered: usize,
        /// Entries that there are.
        entries: usize,
        /// The block up to which they cover the log.
        block: u32,
        /// The bytes of that block.
        len: u16,
    },
    /// A log is what an imported file gives.
    #[error(
        "the log of {log} is what the imported file {file} gives, made from it anew: {rows} rows"
    )]
    Imported {
        /// Name and id of the log.
        log: String,
        /// Name of the file.
        file: String,
        /// Rows of it.
        rows: usize,
    },
    /// The verdict follows.
    #[error(
        "the verdict \"{verdict}\" follows from the job and the logs: this program judged them anew, and all {requirements} requirements come out the same, in outcome and figures"
    )]
    Verdict {
        /// `go` or `wait`.
        verdict: String,
        /// How many requirements were compared.
        requirements: usize,
    },
    /// The pages are those that the evidence gives.
    #[error(
        "the pages show this and nothing else: drawn anew, the {form} is the same in all {bytes} bytes"
    )]
    Pages {
        /// What they are.
        form: Form,
        /// Its length.
        bytes: usize,
    },
}

fn blocks(first: u32, last: u32) -> String {
    if first == last { format!("block {first}") } else { format!("blocks {first} to {last}") }
}

fn signatures_in_words(count: usize) -> String {
    match count {
        1 => "one Ed25519 signature".to_owned(),
        _ => format!("{count} Ed25519 signatures"),
    }
}

/// Something that is neither proven nor contradicted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Open {
    /// The key is known from the record only.
    #[error(
        "whether the key is that of the logger {log}: it is the one that the record itself names. Compare its fingerprint with the one noted when the logger was adopted: {fingerprint}, or give that one with --key"
    )]
    KeyFromRecord {
        /// Name and id of the logger.
        log: String,
        /// Short form of the key.
        fingerprint: String,
    },
    /// The archive does not know the key.
    #[error(
        "whether the key is that of the logger {log}: no key of it is pinned in the archive that you gave"
    )]
    KeyNotInArchive {
        /// Name and id of the logger.
        log: String,
    },
    /// No signature.
    #[error("that the log of {log} is as a logger wrote it: it is not signed")]
    Unsigned {
        /// Name and id of the logger.
        log: String,
    },
    /// Entries behind the last signature.
    #[error(
        "the last {entries} entries of {log}, {since}: they were written after the last signature"
    )]
    BehindSignature {
        /// Name and id of the logger.
        log: String,
        /// How many.
        entries: usize,
        /// From when on, in words.
        since: String,
    },
    /// The time of a signature is the computer's word, and does not fit the log.
    #[error(
        "when signature {number} of {log} was taken: the record says {taken}, and by the clock of its own log the logger signed at {signed}. Times of signatures are the word of a computer; a signature may have been shown again as a later one"
    )]
    SignatureTime {
        /// Name and id of the logger.
        log: String,
        /// Which one, from 1.
        number: usize,
        /// When it was taken, by the record.
        taken: String,
        /// When it was taken, by the log.
        signed: String,
    },
    /// Nobody signed an imported file.
    #[error(
        "where the imported file {file} comes from: nothing shows who wrote it, or that it was not edited before it was imported"
    )]
    ImportOrigin {
        /// Name of the file.
        file: String,
    },
    /// The log does not begin at its beginning.
    #[error("what was before block {first} of {log}: earlier blocks are not in the record")]
    BlocksBefore {
        /// Name and id of the logger.
        log: String,
        /// The first block.
        first: u32,
    },
    /// Bytes that cannot be read.
    #[error(
        "what stood in bytes {from} to {to} of block {block} of {log}: they cannot be read. The power failed while they were written, or they were changed before the block was sealed; the readings there count as missing"
    )]
    Damaged {
        /// Name and id of the logger.
        log: String,
        /// The block.
        block: u32,
        /// The first such byte.
        from: u16,
        /// Behind the last one.
        to: u16,
    },
    /// Entries of a newer logger.
    #[error(
        "{entries} entries in block {block} of {log}: they are of a kind that this version does not know"
    )]
    UnknownEntries {
        /// Name and id of the logger.
        log: String,
        /// The block.
        block: u32,
        /// How many.
        entries: usize,
    },
    /// A boot that nothing dates.
    #[error(
        "when the {entries} entries of boot {boot} of {log} were written: no clock was set in it, so none of them counts"
    )]
    Undated {
        /// Name and id of the logger.
        log: String,
        /// The boot.
        boot: u32,
        /// How many.
        entries: usize,
    },
    /// Two versions of one block.
    #[error(
        "which copy of block {block} of {log} is the true one: another came from the logger, and is in the record too. The verdict rests on the first"
    )]
    OtherCopy {
        /// Name and id of the logger.
        log: String,
        /// The block.
        block: u32,
    },
    /// A room without a log.
    #[error("anything about the room {room}: no log of it is in the record")]
    NoLog {
        /// The room.
        room: String,
    },
    /// A log that no room refers to.
    #[error("what the log of {log} is for: no room that was asked about refers to it")]
    LogUnused {
        /// Name and id of the logger.
        log: String,
    },
    /// Pages made by another version.
    #[error(
        "that the pages show this: they were not compared, because the record says it was made by {made} and this is {this}. Verify it with that version, or read what is here and not the pages"
    )]
    OtherVersion {
        /// The program that made it.
        made: String,
        /// This one.
        this: String,
    },
    /// Files without their pages.
    #[error("that the pages show this: only the files were given, not the PDF or the web page")]
    NoPages,
    /// The check ended early.
    #[error(
        "all the rest: chain, signatures, verdict and pages were not checked, because the files cannot be read"
    )]
    NotChecked,
}

impl Proof {
    /// Place in a report: what there is, log by log, what follows from it, how it is shown.
    pub(super) fn rank(&self) -> u8 {
        match self {
            Self::Files { .. } => 0,
            Self::Chain { .. } | Self::Signed { .. } | Self::Imported { .. } => 1,
            Self::Verdict { .. } => 2,
            Self::Pages { .. } => 3,
        }
    }
}

impl Open {
    /// Place in a report: what shakes the most of it stands first. Logs go by their ids, which mean
    /// nothing to a reader.
    pub(super) fn rank(&self) -> u8 {
        match self {
            Self::NotChecked => 0,
            Self::KeyFromRecord { .. } | Self::KeyNotInArchive { .. } => 1,
            Self::Unsigned { .. } => 2,
            Self::OtherCopy { .. } => 3,
            Self::SignatureTime { .. } => 4,
            Self::BehindSignature { .. } => 5,
            Self::ImportOrigin { .. } => 6,
            Self::NoLog { .. } | Self::LogUnused { .. } => 7,
            Self::BlocksBefore { .. }
            | Self::Damaged { .. }
            | Self::UnknownEntries { .. }
            | Self::Undated { .. } => 8,
            Self::OtherVersion { .. } | Self::NoPages => 9,
        }
    }
}
