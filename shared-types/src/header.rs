//! The first 64 bytes of a block, and the digest that chains blocks together.

use sha2::Digest as _;

/// Bytes in a block: the erase unit of common NOR flash.
pub const BLOCK_LEN: usize = 4096;
/// Bytes in a block's header.
pub const HEADER_LEN: usize = 64;
/// The block format that this version writes, and the newest that it reads.
pub const FORMAT_VERSION: u8 = 1;
/// The first four bytes of each block.
pub const MAGIC: [u8; 4] = *b"GlDy";
/// The largest write unit of a flash that blocks can be laid out for.
pub const WRITE_UNIT_MAX: usize = 32;

/// Identifies a logger for life.
#[derive(
    Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LoggerId(pub [u8; 8]);

/// SHA-256 (FIPS 180-4) of a whole block.
pub type BlockDigest = [u8; 32];

/// What a block says of itself.
///
/// ```text
///  0       4    5    6        8          16      20     24           28           60       64
///  +-------+----+----+--------+----------+-------+------+------------+------------+--------+
///  | magic |ver.|unit|interval| logger id| block | boot | first entry|  previous  | CRC-32 |
///  |  4 B  | u8 | u8 |  u16   |   8 B    |  u32  | u32  |    u32     |    32 B    |  u32   |
///  +-------+----+----+--------+----------+-------+------+------------+------------+--------+
/// ```
/// All integers are little-endian. The CRC-32 covers the 60 bytes before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Header {
    /// Write unit of the flash in bytes, a power of two from 1 to 32: entries start at its multiples.
    pub write_unit: u8,
    /// Nominal sampling interval at the start of the block in seconds, at least 1.
    pub interval_s: u16,
    /// Whose block it is.
    pub logger: LoggerId,
    /// Number of the block, counted up from 0 and never used again.
    pub block: u32,
    /// Number of the boot that goes on at the start of the block.
    pub boot: u32,
    /// Number of the block's first entry, counted over the life of the logger.
    pub first_entry: u32,
    /// SHA-256 of the whole block before this one; zeros in block 0.
    pub previous: BlockDigest,
}

/// Why 64 bytes are not the header of a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum HeaderError {
    /// There are fewer than 64 bytes.
    TooShort,
    /// All bytes are 0xFF: erased flash.
    Erased,
    /// The magic is another one.
    NotABlock,
    /// The format is newer than this program knows.
    Newer {
        /// The version found.
        version: u8,
    },
    /// The CRC-32 does not fit, or a field has a value that cannot be written.
    Corrupt,
}

impl Header {
    /// The header as it stands on flash.
    #[must_use]
    pub fn to_bytes(&self) -> [u8; HEADER_LEN] {
        let mut bytes = [0; HEADER_LEN];
        let [b0, b1] = self.interval_s.to_le_bytes();
        let fields: [&[u8]; 7] = [
            &MAGIC,
            &[FORMAT_VERSION, self.write_unit, b0, b1],
            &self.logger.0,
            &self.block.to_le_bytes(),
            &self.boot.to_le_bytes(),
            &self.first_entry.to_le_bytes(),
            &self.previous,
        ];
        let covered = fields.iter().flat_map(|field| field.iter().copied());
        for (slot, byte) in bytes.iter_mut().zip(covered) {
            *slot = byte;
        }
        let check = header_check(&bytes);
        for (slot, byte) in bytes.iter_mut().skip(CHECK_AT).zip(check.to_le_bytes()) {
            *slot = byte;
        }
        bytes
    }

    /// Reads a header from the first bytes of a block.
    ///
    /// # Errors
    /// See [`HeaderError`]. A version newer than [`FORMAT_VERSION`] is told apart from damage.
    pub fn from_bytes(block: &[u8]) -> Result<Self, HeaderError> {
        let bytes = block.first_chunk::<HEADER_LEN>().ok_or(HeaderError::TooShort)?;
        if bytes.iter().all(|byte| *byte == 0xFF) {
            return Err(HeaderError::Erased);
        }
        if field::<4>(bytes, 0) != MAGIC {
            return Err(HeaderError::NotABlock);
        }
        // The place of the check is the same in all versions, so that damage to the version byte
        // is not taken for a newer format.
        if header_check(bytes) != u32::from_le_bytes(field(bytes, CHECK_AT)) {
            return Err(HeaderError::Corrupt);
        }
        let [version, write_unit] = field(bytes, 4);
        if version > FORMAT_VERSION {
            return Err(HeaderError::Newer { version });
        }
        let header = Self {
            write_unit,
            interval_s: u16::from_le_bytes(field(bytes, 6)),
            logger: LoggerId(field(bytes, 8)),
            block: u32::from_le_bytes(field(bytes, 16)),
            boot: u32::from_le_bytes(field(bytes, 20)),
            first_entry: u32::from_le_bytes(field(bytes, 24)),
            previous: field(bytes, 28),
        };
        let unit = usize::from(write_unit);
        let writable = version == FORMAT_VERSION
            && unit.is_power_of_two()
            && unit <= WRITE_UNIT_MAX
            && header.interval_s > 0;
        writable.then_some(header).ok_or(HeaderError::Corrupt)
    }

    /// The CRC-32 that stands at the end of the header.
    #[must_use]
    pub fn check(&self) -> u32 {
        header_check(&self.to_bytes())
    }
}

/// SHA-256 of a whole block, for the `previous` field of the next one.
#[must_use]
pub fn digest(block: &[u8]) -> BlockDigest {
    sha2::Sha256::digest(block).into()
}

const CHECK_AT: usize = HEADER_LEN - 4;

fn header_check(bytes: &[u8; HEADER_LEN]) -> u32 {
    crate::check::CRC32.checksum(bytes.split_at(CHECK_AT).0)
}

/// `N` bytes of the header from `at` on. Both are constants within the header wherever it is called.
fn field<const N: usize>(bytes: &[u8; HEADER_LEN], at: usize) -> [u8; N] {
    bytes.get(at..).and_then(<[u8]>::first_chunk).copied().unwrap_or([0; N])
}

impl core::fmt::Display for LoggerId {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl core::fmt::Debug for LoggerId {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "LoggerId({self})")
    }
}

impl core::str::FromStr for LoggerId {
    type Err = NotALoggerId;

    fn from_str(text: &str) -> Result<Self, NotALoggerId> {
        if text.len() != 16 || !text.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(NotALoggerId);
        }
        u64::from_str_radix(text, 16).map(|id| Self(id.to_be_bytes())).map_err(|_| NotALoggerId)
    }
}

/// The text is not 16 hexadecimal digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotALoggerId;

impl core::fmt::Display for NotALoggerId {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("a logger id is 16 hexadecimal digits, as printed on the logger")
    }
}

impl core::error::Error for NotALoggerId {}

impl core::fmt::Display for HeaderError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::TooShort => write!(f, "fewer than the {HEADER_LEN} bytes of a block header"),
            Self::Erased => f.write_str("erased flash, no block was written here"),
            Self::NotABlock => f.write_str("not a block of a logger"),
            Self::Newer { version } => write!(
                f,
                "block format {version}; this program reads formats up to {FORMAT_VERSION}"
            ),
            Self::Corrupt => f.write_str("damaged block header"),
        }
    }
}

impl core::error::Error for HeaderError {}
