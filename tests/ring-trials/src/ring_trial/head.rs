//! Headers and checks of blocks by the format's page, without the code that the logger uses.

/// Bytes in a header.
pub(super) const HEAD: usize = 64;

const CRC16: [u16; 256] = {
    let mut table = [0; 256];
    let mut i = 0;
    while i < 256 {
        let mut value = (i as u16) << 8;
        let mut bit = 0;
        while bit < 8 {
            value = if value & 0x8000 == 0 { value << 1 } else { (value << 1) ^ 0x5935 };
            bit += 1;
        }
        table[i] = value;
        i += 1;
    }
    table
};

const CRC32: [u32; 256] = {
    let mut table = [0; 256];
    let mut i = 0;
    while i < 256 {
        let mut value = i as u32;
        let mut bit = 0;
        while bit < 8 {
            // 04C11DB7 with its bits reversed.
            value = if value & 1 == 0 { value >> 1 } else { (value >> 1) ^ 0xEDB8_8320 };
            bit += 1;
        }
        table[i] = value;
        i += 1;
    }
    table
};

pub(super) fn crc16(start: u16, bytes: &[u8]) -> u16 {
    bytes.iter().fold(start, |crc, byte| (crc << 8) ^ CRC16[usize::from((crc >> 8) as u8 ^ byte)])
}

pub(super) fn crc32(parts: &[&[u8]]) -> u32 {
    let bytes = parts.iter().flat_map(|part| part.iter());
    !bytes.fold(!0u32, |crc, byte| (crc >> 8) ^ CRC32[usize::from(crc as u8 ^ byte)])
}

/// The header of a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Head {
    pub(super) unit: usize,
    pub(super) interval_s: u16,
    pub(super) logger: [u8; 8],
    pub(super) block: u32,
    pub(super) boot: u32,
    pub(super) first_entry: u32,
    pub(super) previous: [u8; 32],
    pub(super) check: [u8; 4],
}

impl Head {
    /// The header of a block that this version reads.
    pub(super) fn of(block: &[u8]) -> Option<Self> {
        let (covered, check) = block.get(..HEAD)?.split_at(60);
        let check: [u8; 4] = check.try_into().ok()?;
        let four = |at: usize| u32::from_le_bytes(covered[at..at + 4].try_into().unwrap());
        let head = Self {
            unit: usize::from(covered[5]),
            interval_s: u16::from_le_bytes([covered[6], covered[7]]),
            logger: covered[8..16].try_into().ok()?,
            block: four(16),
            boot: four(20),
            first_entry: four(24),
            previous: covered[28..60].try_into().ok()?,
            check,
        };
        let right = covered[..4] == [0x47, 0x6C, 0x44, 0x79]
            && covered[4] == 1
            && [1, 2, 4, 8, 16, 32].contains(&head.unit)
            && head.interval_s > 0
            && crc32(&[covered]).to_le_bytes() == check;
        right.then_some(head)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_checks_are_those_of_the_formats_page() {
        assert_eq!(crc16(0xFFFF, b"123456789"), 0x772B);
        assert_eq!(crc32(&[b"123456789"]), 0xCBF4_3926);
    }
}
