//! The two checksums of the formats.

use crc::{CRC_16_DNP, CRC_32_ISO_HDLC, Crc};

/// CRC-32/ISO-HDLC: headers, resume marks and wire frames.
pub(crate) const CRC32: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// CRC-16/DNP: packed entries.
///
/// Its polynomial 0x3D65 keeps a Hamming distance of 6 up to 135 bits (Koopman's tables, from
/// memory), which a packed step never reaches; a benchmark of the tests counts what it misses.
const CRC16: Crc<u16> = Crc::<u16>::new(&CRC_16_DNP);

/// The check of a packed entry, bound to its place: a copy of the same bytes at another offset or in
/// another block does not validate.
pub(crate) fn entry_check(header_check: u32, offset: u16, kind: u8, body: &[u8]) -> u16 {
    let mut digest = CRC16.digest();
    digest.update(&header_check.to_le_bytes());
    digest.update(&offset.to_le_bytes());
    digest.update(&[kind]);
    digest.update(body);
    digest.finalize()
}
