//! The two checksums of the formats.

use crc::{CRC_16_DNP, CRC_32_ISO_HDLC, Crc};

/// CRC-32/ISO-HDLC: headers, resume marks and wire frames.
pub(crate) const CRC32: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// CRC-16/DNP: packed entries.
///
/// Its polynomial 0x3D65 keeps a Hamming distance of 6 up to 135 bits of data: any five bits that
/// change are noticed. A step has at most 104 (kind and twelve bytes); the fields that bind it to its
/// place are not stored, and so cannot change. A full sample has up to 184; beyond 135, every odd
/// number of bits is noticed, and every pair but those exactly 151 bits apart.
const CRC16: Crc<u16> = Crc::<u16>::new(&CRC_16_DNP);

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

    #[test]
    fn the_checks_are_the_catalogued_ones() {
        // The check values of the CRC RevEng catalogue, over "123456789".
        assert_eq!(CRC16.checksum(b"123456789"), 0xEA82);
        assert_eq!(CRC32.checksum(b"123456789"), 0xCBF4_3926);
    }

    /// What each single changed bit does to the check, for `bits` bits of data and the check itself.
    fn syndromes(bits: usize) -> Vec<u16> {
        let data = (0..bits).map(|at| {
            let mut bytes = std::vec![0; bits.div_ceil(8)];
            let clean = CRC16.checksum(&bytes);
            // From the end, so that the number of bits need not fill the bytes.
            let last = bytes.len() - 1 - at / 8;
            // DNP takes the low bit of each byte first, so the last bit is the high one.
            bytes[last] = 0x80 >> (at % 8);
            CRC16.checksum(&bytes) ^ clean
        });
        data.chain((0..16).map(|bit| 1 << bit)).collect()
    }

    /// Whether any two pairs of bits, or a bit and a pair, change the check in the same way.
    fn misses_up_to_four(bits: usize) -> bool {
        let syndromes = syndromes(bits);
        let mut seen: HashSet<u16> = syndromes.iter().copied().chain([0]).collect();
        if seen.len() <= syndromes.len() {
            return true;
        }
        let mut pairs = (1..syndromes.len())
            .flat_map(|a| (0..a).map(move |b| (a, b)))
            .map(|(a, b)| syndromes[a] ^ syndromes[b]);
        pairs.any(|pair| !seen.insert(pair))
    }

    #[test]
    fn the_entry_check_notices_any_five_bits_of_a_step() {
        // The polynomial has an even number of terms, x^16 included: x + 1 divides it, and every odd
        // number of changed bits is noticed. So noticing two and four is noticing five.
        assert_eq!((0x1_3D65_u32).count_ones() % 2, 0);
        assert!(!misses_up_to_four(104));
        assert!(!misses_up_to_four(135));
        // One bit more, and four can be missed: the figure of Koopman's tables is the exact one.
        assert!(misses_up_to_four(136));
    }

    #[test]
    fn the_entry_check_misses_two_bits_of_a_full_sample_only_when_they_are_151_apart() {
        let syndromes = syndromes(184);
        for a in 0..syndromes.len() {
            for b in 0..a {
                // Bits of the data are counted from its end, bits of the check from its low one:
                // on the wire that is the last one sent.
                let place = |at: usize| if at < 184 { at + 16 } else { 15 - (at - 184) };
                let apart = place(a).abs_diff(place(b));
                assert_eq!(syndromes[a] == syndromes[b], apart == 151, "{a} {b}");
            }
        }
    }
}
