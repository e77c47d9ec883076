//! The key that a logger signs its log with: made once, kept in a flash sector of its own.
//!
//! ```text
//!  0       4    5       8                   40      44            64
//!  +-------+----+-------+-------------------+-------+-------------+- - - - -+
//!  | magic |ver.| zeros |       seed        | CRC-32| filling, FF | erased  |
//!  |  4 B  | 1 B|  3 B  |       32 B        |  u32  |    20 B     |         |
//!  +-------+----+-------+-------------------+-------+-------------+- - - - -+
//! ```
//! The CRC-32 (little-endian) covers the 40 bytes before it. The seed is that of RFC 8032, section
//! 5.1.5; it leaves the logger through no message and no log line.
//!
//! # When a key is made
//! Only while there is no log, see [`take_up`]. A logger shows its key and signs only once its log is
//! begun, so a first write that the power cut short was never seen by anybody: it is erased and another
//! seed drawn. Once there is a log, whatever is wrong with the sector stays as it is and the logger has
//! no key, because another key would be another identity. An emptied flash is a new logger.

use ed25519_dalek::{Signer as _, SigningKey};
use embedded_storage::nor_flash::{NorFlash, NorFlashError as _, NorFlashErrorKind};
use glueday_types::crc32;
use glueday_types::header::WRITE_UNIT_MAX;

/// The first four bytes of the sector.
const MAGIC: [u8; 4] = *b"GlKy";
/// The version of the format that is written, and the newest that is read.
const VERSION: u8 = 1;
const SEED_AT: usize = 8;
const CHECK_AT: usize = 40;
/// Bytes written, whatever the write unit of the flash is.
const RECORD_LEN: usize = 64;

/// Bytes of a seed.
pub const SEED_LEN: usize = 32;

/// An Ed25519 key (RFC 8032).
///
/// What follows from the seed is worked out each time it is asked for: a start must not wait for it, as
/// the first sample is due then. Its `Debug` form shows the public key only.
#[derive(Clone)]
pub struct Key {
    seed: [u8; SEED_LEN],
}

/// Why a logger has no key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NoKey {
    /// There is a log, and what stands in the sector is no whole key: it was damaged, erased, or
    /// never written. It is left as it is.
    NotWhole,
    /// The sector is of a newer format. It is left as it is: install the newer firmware again.
    Newer {
        /// The version of the format.
        version: u8,
    },
    /// The flash failed, or reads back something else than was written.
    Flash,
    /// The board has no random bits to give now.
    NoEntropy,
    /// It was told to do without.
    NotWanted,
}

impl core::fmt::Display for NoKey {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NotWhole => f.write_str(
                "there is a log but no whole key beside it; another key would be another logger, so \
                 it goes on without. Pull the log, then empty the flash to begin anew",
            ),
            Self::Newer { version } => {
                write!(f, "the key has format {version}, newer than this firmware reads")
            }
            Self::Flash => f.write_str("the flash failed at the sector of the key"),
            Self::NoEntropy => f.write_str("the board has no random bits to make a key of"),
            Self::NotWanted => f.write_str("it was told to do without a key"),
        }
    }
}

impl core::error::Error for NoKey {}

impl Key {
    /// The key of a seed; `None` for one of zeros, which no random source gives.
    #[must_use]
    pub fn from_seed(seed: &[u8; SEED_LEN]) -> Option<Self> {
        (*seed != [0; SEED_LEN]).then_some(Self { seed: *seed })
    }

    /// The public key.
    #[must_use]
    pub fn public(&self) -> [u8; 32] {
        SigningKey::from_bytes(&self.seed).verifying_key().to_bytes()
    }

    /// Signs `message`.
    #[must_use]
    pub fn sign(&self, message: &[u8]) -> [u8; 64] {
        SigningKey::from_bytes(&self.seed).sign(message).to_bytes()
    }
}

impl core::fmt::Debug for Key {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("Key(public ")?;
        for byte in self.public() {
            write!(f, "{byte:02x}")?;
        }
        f.write_str(")")
    }
}

/// Takes up the key at the start of `sector`, a flash of at least one sector that is used for nothing
/// else; makes one of the seed from `draw` when there is none and the log is not begun.
///
/// `log_is_begun` is [`crate::RingLog::is_begun`]; ask before the log is mounted, which begins it.
///
/// # Errors
/// See [`NoKey`]. A logger without key logs all the same.
pub fn take_up<F: NorFlash>(
    sector: &mut F,
    log_is_begun: bool,
    draw: impl FnOnce() -> Option<[u8; SEED_LEN]>,
) -> Result<Key, NoKey> {
    if let Some(key) = find(sector)? {
        return Ok(key);
    }
    if log_is_begun {
        return Err(NoKey::NotWhole);
    }
    let seed = draw().ok_or(NoKey::NoEntropy)?;
    let key = Key::from_seed(&seed).ok_or(NoKey::NoEntropy)?;
    write(sector, &seed).map_err(|_| NoKey::Flash)?;
    // What counts is what the next start will find.
    find(sector)?.filter(|found| found.seed == key.seed).ok_or(NoKey::Flash)
}

/// The key in the sector; `None` when it is not whole.
fn find<F: NorFlash>(sector: &mut F) -> Result<Option<Key>, NoKey> {
    let mut record = [0; CHECK_AT + 4];
    sector.read(0, &mut record).map_err(|_| NoKey::Flash)?;
    let Some((checked, check)) = record.split_last_chunk::<4>() else { return Ok(None) };
    let Some((magic, [version, ..])) = checked.split_first_chunk::<4>() else { return Ok(None) };
    if *magic != MAGIC || crc32(checked) != u32::from_le_bytes(*check) {
        return Ok(None);
    }
    match *version {
        VERSION => {
            let seed = checked.get(SEED_AT..).and_then(<[u8]>::first_chunk);
            Ok(seed.and_then(Key::from_seed))
        }
        version if version > VERSION => Err(NoKey::Newer { version }),
        _ => Ok(None),
    }
}

fn write<F: NorFlash>(sector: &mut F, seed: &[u8; SEED_LEN]) -> Result<(), NorFlashErrorKind> {
    const { assert!(RECORD_LEN.is_multiple_of(F::WRITE_SIZE) && F::READ_SIZE == 1) };
    let mut record = [0xFF; RECORD_LEN];
    let parts: [&[u8]; 4] = [&MAGIC, &[VERSION], &[0; 3], seed];
    for (to, from) in record.iter_mut().zip(parts.into_iter().flatten()) {
        *to = *from;
    }
    let check = crc32(record.get(..CHECK_AT).unwrap_or_default()).to_le_bytes();
    for (to, from) in record.iter_mut().skip(CHECK_AT).zip(check) {
        *to = from;
    }
    let end = u32::try_from(F::ERASE_SIZE).map_err(|_| NorFlashErrorKind::Other)?;
    sector.erase(0, end).map_err(|error| error.kind())?;
    sector.write(0, &record).map_err(|error| error.kind())
}

const _: () = assert!(CHECK_AT + 4 <= RECORD_LEN && SEED_AT + SEED_LEN == CHECK_AT);
const _: () = assert!(RECORD_LEN.is_multiple_of(WRITE_UNIT_MAX));
