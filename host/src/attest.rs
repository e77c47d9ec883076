//! Whether a signature of a logger is true, and whether it is over the log that is held.
//!
//! [`verify`] is the mathematics: Ed25519 (RFC 8032) over the bytes that
//! [`glueday_types::attest`] defines, verified strictly, so that keys and signatures of small order
//! and those written in more than one way are refused. [`compare`] puts what was signed beside the
//! bytes that are held. Nothing here does input or output.

use ed25519_dalek::{Signature, VerifyingKey};
use glueday_types::attest::Signed;
use glueday_types::block::{Item, Reader};
use glueday_types::wire::Attestation;
use glueday_types::{HEADER_LEN, LoggerId};
use sha2::{Digest as _, Sha256};

/// Bytes of the digest of a key that are shown: 80 bits, too many to find another key for.
const FINGERPRINT_LEN: usize = 10;

/// Why an attestation proves nothing. Each message says what to do next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Untrue {
    /// What is pinned as the public key is none.
    #[error(
        "the pinned bytes are no Ed25519 public key: the archive was changed; go back to a backup of it"
    )]
    NoSuchKey,
    /// The signature is not one of the pinned key over these values.
    #[error(
        "its signature is not the pinned key's{}: pull again; if it stays, something between logger and archive alters the answer, or this is not the logger that was adopted",
        in_brackets(.besides)
    )]
    WrongSignature {
        /// What does not fit the log that is held either, if anything was compared and does not.
        besides: Option<Mismatch>,
    },
    /// The signature is of the key that the logger shows now, which is not the pinned one.
    #[error(
        "it is signed by another key than the pinned one: this is another logger under the old id, or its flash was replaced; find out which before its log is used"
    )]
    OtherKey,
    /// The signature answers an earlier question.
    #[error(
        "its signature was made for a nonce of {ago_s} s ago: an old answer was sent again; pull again on a line that you can see from end to end"
    )]
    Replayed {
        /// How long ago the earlier one was taken, in seconds.
        ago_s: i64,
    },
    /// The nonce was asked with before, so that an old answer would pass for a new one.
    #[error(
        "its nonce was used before: the random source of this computer repeats itself; repair that before you rely on signatures"
    )]
    NonceUsed,
    /// An attestation that was kept does not fit the log that is held any more.
    #[error(
        "the one of {ago_s} s ago does not fit the log that is held: {mismatch}; the archive was altered, or the logger's flash was: compare with a backup of the archive"
    )]
    EarlierDiffers {
        /// How long ago it was taken, in seconds.
        ago_s: i64,
        /// What does not fit.
        mismatch: Mismatch,
    },
    /// The signature is true, and yet not over the log that is held.
    #[error("its signature is true, but {mismatch}: {}", next(.mismatch))]
    NotThisLog {
        /// What does not fit.
        mismatch: Mismatch,
    },
}

/// What in an attestation does not fit the log that is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Mismatch {
    /// The block is not held, or not so far.
    #[error("it goes up to block {block}, byte {len}, of which {held_len} bytes are held")]
    NotHeld {
        /// The block that was open.
        block: u32,
        /// The bytes of it that were signed.
        len: u16,
        /// The bytes of it that are held; 0 when the block is not held.
        held_len: usize,
    },
    /// The bytes are others.
    #[error("the first {len} bytes of block {block} differ from those that are held")]
    Digest {
        /// The block that was open.
        block: u32,
        /// The bytes of it that were signed.
        len: u16,
    },
    /// A length that no open block has.
    #[error("{len} bytes are no written part of a block")]
    Length {
        /// The bytes that were signed.
        len: u16,
    },
    /// The log is in another boot at that place.
    #[error("it says boot {said}, and the log is in boot {found} there")]
    Boot {
        /// The boot that was signed.
        said: u32,
        /// That of the last entry.
        found: u32,
    },
    /// The log has a later entry of that boot.
    #[error("it says {said} s since the boot, and the log has an entry of {found} s")]
    Uptime {
        /// The seconds that were signed.
        said: u32,
        /// Those of the last entry.
        found: u32,
    },
    /// An earlier attestation goes further.
    #[error(
        "it goes up to block {block}, byte {len}, and an earlier one up to block {then_block}, byte {then_len}"
    )]
    BehindEarlier {
        /// The block that was open.
        block: u32,
        /// The bytes of it that were signed.
        len: u16,
        /// The block that was open at the earlier one.
        then_block: u32,
        /// The bytes of it that were signed then.
        then_len: u16,
    },
}

fn in_brackets(mismatch: &Option<Mismatch>) -> String {
    mismatch.map(|mismatch| format!(" ({mismatch})")).unwrap_or_default()
}

fn next(mismatch: &Mismatch) -> &'static str {
    match mismatch {
        Mismatch::NotHeld { .. } => "pull again, so that the rest is held too",
        Mismatch::Digest { .. } => {
            "the log was altered on the way or in the archive; pull it into a new archive and compare"
        }
        Mismatch::BehindEarlier { .. } => {
            "the logger's flash was put back to an earlier state; what came after is in the archive only"
        }
        Mismatch::Length { .. } | Mismatch::Boot { .. } | Mismatch::Uptime { .. } => {
            "its firmware contradicts its log; keep both, and report it"
        }
    }
}

/// Verifies that `attestation` is signed by the owner of `public_key` as the answer of `logger` to
/// `nonce`. Says nothing about the log that is held: see [`compare`].
///
/// # Errors
/// [`Untrue::NoSuchKey`] and [`Untrue::WrongSignature`].
pub fn verify(
    public_key: &[u8; 32],
    logger: LoggerId,
    nonce: &[u8; 16],
    attestation: &Attestation,
) -> Result<(), Untrue> {
    let key = VerifyingKey::from_bytes(public_key).map_err(|_| Untrue::NoSuchKey)?;
    if key.is_weak() {
        return Err(Untrue::NoSuchKey);
    }
    let signed = Signed::of(logger, *nonce, attestation).to_bytes();
    key.verify_strict(&signed, &Signature::from_bytes(&attestation.signature()))
        .map_err(|_| Untrue::WrongSignature { besides: None })
}

/// Compares what was signed with the bytes of the open block that are held, or of the sealed block
/// that became of it; none when it is not held.
///
/// That the block before has the digest that this one names is for the reader of the log to check.
///
/// # Errors
/// The first [`Mismatch`].
pub fn compare(attestation: &Attestation, held: &[u8]) -> Result<(), Mismatch> {
    let &Attestation { open_block: block, open_len: len, boot, uptime_s, digest, .. } = attestation;
    if usize::from(len) < HEADER_LEN || usize::from(len) > glueday_types::BLOCK_LEN {
        return Err(Mismatch::Length { len });
    }
    let Some(written) = held.get(..usize::from(len)) else {
        return Err(Mismatch::NotHeld { block, len, held_len: held.len() });
    };
    if <[u8; 32]>::from(Sha256::digest(written)) != digest {
        return Err(Mismatch::Digest { block, len });
    }
    let Ok(reader) = Reader::new(written) else {
        return Err(Mismatch::Digest { block, len });
    };
    let mut last = (reader.header().boot, None);
    for item in reader {
        if let Item::Entry { boot, entry, .. } = item {
            last = (boot, Some(entry.at_s()));
        }
    }
    match last {
        (found, _) if found != boot => Err(Mismatch::Boot { said: boot, found }),
        (_, Some(found)) if found > uptime_s => Err(Mismatch::Uptime { said: uptime_s, found }),
        _ => Ok(()),
    }
}

/// What is known when an attestation is judged.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// The pinned key.
    pub public_key: &'a [u8; 32],
    /// The key that the logger shows now, if it does.
    pub shown_key: Option<&'a [u8; 32]>,
    /// Whose attestation it should be.
    pub logger: LoggerId,
    /// Now, in seconds since 1970-01-01 UTC.
    pub now_s: i64,
    /// Attestations that were kept: when each was taken, its nonce, what it says.
    pub earlier: &'a [(i64, [u8; 16], Attestation)],
}

impl Known<'_> {
    /// Judges whether `attestation` is a fresh and true answer to `nonce`, as far as can be told
    /// without the log.
    ///
    /// # Errors
    /// Each cause by its own [`Untrue`].
    pub fn judge(&self, nonce: &[u8; 16], attestation: &Attestation) -> Result<(), Untrue> {
        if self.earlier.iter().any(|(_, used, _)| used == nonce) {
            return Err(Untrue::NonceUsed);
        }
        let Err(error) = verify(self.public_key, self.logger, nonce, attestation) else {
            return self
                .not_behind(attestation)
                .map_err(|mismatch| Untrue::NotThisLog { mismatch });
        };
        let by = |key, nonce| verify(key, self.logger, nonce, attestation).is_ok();
        if error == Untrue::NoSuchKey {
            return Err(error);
        }
        if self.shown_key.is_some_and(|shown| shown != self.public_key && by(shown, nonce)) {
            return Err(Untrue::OtherKey);
        }
        match self.earlier.iter().find(|(_, earlier, _)| by(self.public_key, earlier)) {
            Some((taken_s, ..)) => {
                Err(Untrue::Replayed { ago_s: self.now_s.saturating_sub(*taken_s) })
            }
            None => Err(error),
        }
    }

    /// A log only grows.
    fn not_behind(&self, attestation: &Attestation) -> Result<(), Mismatch> {
        let place = |a: &Attestation| (a.open_block, a.open_len);
        let (block, len) = place(attestation);
        match self.earlier.iter().map(|(_, _, earlier)| place(earlier)).max() {
            Some((then_block, then_len)) if (then_block, then_len) > (block, len) => {
                Err(Mismatch::BehindEarlier { block, len, then_block, then_len })
            }
            _ => Ok(()),
        }
    }
}

/// A short form of a public key for people to compare: the first 80 bits of its SHA-256, in five
/// groups of four hexadecimal digits.
///
/// ```
/// assert_eq!(glueday::attest::fingerprint(&[0; 32]), "6668-7aad-f862-bd77-6c8f");
/// ```
#[must_use]
pub fn fingerprint(public_key: &[u8; 32]) -> String {
    let digest = Sha256::digest(public_key);
    let digits: Vec<String> =
        digest.iter().take(FINGERPRINT_LEN).map(|byte| format!("{byte:02x}")).collect();
    digits.chunks(2).map(<[String]>::concat).collect::<Vec<_>>().join("-")
}

#[cfg(test)]
mod tests;
