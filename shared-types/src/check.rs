//! The two checksums of the formats.

use crc::{CRC_16_M17, CRC_32_ISO_HDLC, Crc};

/// CRC-32/ISO-HDLC: headers, resume marks and wire frames.
pub(crate) const CRC32: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// CRC-32/ISO-HDLC of `bytes`, for small formats that are nobody's but the logger's.
#[must_use]
pub fn crc32(bytes: &[u8]) -> u32 {
    CRC32.checksum(bytes)
}

/// CRC-16/M17: packed entries.
///
/// Chosen because it keeps a Hamming distance of at least 5 over the longest entry: that is a full
/// sample, 184 bits of kind and body, and polynomial 0x5935 does so up to 241. The tests go through
/// every two, three and four changed bits of kind, body and check at every length up to the longest,
/// and none is missed, as long as the length in the kind stays what it was. The fields that bind an
/// entry to its place are not stored, and so cannot change.
pub(crate) const CRC16: Crc<u16> = Crc::<u16>::new(&CRC_16_M17);

/// The check of a packed entry, bound to its place: a copy of the same bytes at another offset of the
/// block does not validate, and in another block only when the checks of both headers happen to leave
/// the same 16-bit remainder.
pub(crate) fn entry_check(header_check: u32, offset: u16, kind: u8, body: &[u8]) -> u16 {
    let mut digest = CRC16.digest();
    digest.update(&header_check.to_le_bytes());
    digest.update(&offset.to_le_bytes());
    digest.update(&[kind]);
    digest.update(body);
    digest.finalize()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;
    use std::vec::Vec;

    /// Bytes of kind and body of the longest entry, a full sample; `tests/sizes.rs` holds to it.
    const LONGEST: usize = 184 / 8;

    #[test]
    fn the_checks_are_the_catalogued_ones() {
        // The check values of the CRC RevEng catalogue, over "123456789".
        assert_eq!(CRC16.checksum(b"123456789"), 0x772B);
        assert_eq!(CRC32.checksum(b"123456789"), 0xCBF4_3926);
    }

    /// What a change of `flipped` in kind and body (and check, behind them) makes the stored check
    /// differ by from the right one; 0 is a change that goes unnoticed.
    fn difference(clean: &[u8], flipped: &[usize]) -> u16 {
        let check = |bytes: &[u8]| entry_check(0xADAA_E74A, 260, bytes[0], &bytes[1..]);
        let mut stored = clean.to_vec();
        stored.extend_from_slice(&check(clean).to_le_bytes());
        for bit in flipped {
            stored[bit / 8] ^= 0x80 >> (bit % 8);
        }
        let (bytes, found) = stored.split_at(clean.len());
        check(bytes) ^ u16::from_le_bytes(found.try_into().unwrap())
    }

    /// Kind and body of `len` bytes, no two alike.
    fn sample_bytes(len: usize) -> Vec<u8> {
        (0..len).map(|at| u8::try_from(at * 37 % 251).unwrap()).collect()
    }

    /// The difference that each bit makes by itself, kind first, check last.
    fn differences(len: usize) -> Vec<u16> {
        let clean = sample_bytes(len);
        (0..(len + 2) * 8).map(|bit| difference(&clean, &[bit])).collect()
    }

    #[test]
    fn the_entry_check_notices_any_two_bits_of_any_entry() {
        for len in 1..=LONGEST {
            let (clean, alone) = (sample_bytes(len), differences(len));
            for a in 0..alone.len() {
                assert_ne!(alone[a], 0, "{len}: {a}");
                for b in 0..a {
                    let both = difference(&clean, &[a, b]);
                    assert_ne!(both, 0, "{len}: {a} {b}");
                    // What the tests of more bits rest on: the check is linear.
                    assert_eq!(both, alone[a] ^ alone[b], "{len}: {a} {b}");
                }
            }
        }
    }

    #[test]
    fn the_entry_check_notices_any_three_bits_of_any_entry() {
        for len in 1..=LONGEST {
            let alone = differences(len);
            for a in 0..alone.len() {
                for b in 0..a {
                    let pair = alone[a] ^ alone[b];
                    assert!(!alone[..b].contains(&pair), "{len}: {a} {b}");
                }
            }
        }
    }

    /// Whether some four bits or fewer can change unnoticed: whether no bit, one bit and two bits do
    /// not all differ in what they make of the check.
    fn misses_up_to_four(alone: &[u16]) -> bool {
        let mut seen = HashSet::from([0]);
        let pairs = (0..alone.len()).flat_map(|a| (0..a).map(move |b| alone[a] ^ alone[b]));
        alone.iter().copied().chain(pairs).any(|difference| !seen.insert(difference))
    }

    #[test]
    fn the_entry_check_notices_any_four_bits_of_any_entry() {
        for len in 1..=LONGEST {
            assert!(!misses_up_to_four(&differences(len)), "{len}");
        }
    }

    #[test]
    fn the_entry_check_notices_any_four_bits_up_to_241() {
        // Koopman's tables (0xAC9A in their notation; from memory) give 241 as the last length with a
        // Hamming distance of 5. Leaving out the first bits of 31 bytes leaves those of fewer.
        let alone = differences(31);
        let (data, check) = (31 * 8, 16);
        assert_eq!(alone.len(), data + check);
        assert!(!misses_up_to_four(&alone[data - 241..]));
        assert!(misses_up_to_four(&alone[data - 242..]));
    }
}
