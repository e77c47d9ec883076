//! The checks once more, bit by bit from their parameters, so that the tests of the frozen bytes do
//! not lean on the code that they test.

/// CRC-16/M17: polynomial 5935, init FFFF, high bit of each byte first, nothing reflected.
pub(crate) fn crc16_m17(bytes: &[u8]) -> u16 {
    bytes.iter().fold(u16::MAX, |rest, byte| {
        (0..8).fold(rest ^ (u16::from(*byte) << 8), |r, _| {
            if r >> 15 == 1 { (r << 1) ^ 0x5935 } else { r << 1 }
        })
    })
}

/// CRC-32/ISO-HDLC: polynomial 04C11DB7 (EDB88320 reflected), init and xor out FFFFFFFF.
pub(crate) fn crc32_iso_hdlc(bytes: &[u8]) -> u32 {
    let rest = bytes.iter().fold(u32::MAX, |rest, byte| {
        (0..8).fold(rest ^ u32::from(*byte), |r, _| {
            if r & 1 == 1 { (r >> 1) ^ 0xEDB8_8320 } else { r >> 1 }
        })
    });
    !rest
}

/// The check of an entry at `offset` behind `header`.
pub(crate) fn entry_check(header: &[u8; 64], offset: u16, kind_and_body: &[u8]) -> [u8; 2] {
    let bound = [&header[60..], &offset.to_le_bytes(), kind_and_body].concat();
    assert_eq!(crc16_m17(&bound), crc::Crc::<u16>::new(&crc::CRC_16_M17).checksum(&bound));
    crc16_m17(&bound).to_le_bytes()
}

/// A frame by the textbook: each zero, and the end, becomes the distance to the next one.
pub(crate) fn frame(payload: &[u8]) -> Vec<u8> {
    let check = crc32_iso_hdlc(payload);
    assert_eq!(check, crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(payload));
    let data = [payload, &check.to_le_bytes()].concat();
    assert!(data.len() < 254, "longer data need the codes for long runs");
    let mut out = Vec::new();
    for run in data.split(|byte| *byte == 0) {
        out.push(u8::try_from(run.len() + 1).unwrap());
        out.extend_from_slice(run);
    }
    out.push(0);
    out
}

#[test]
fn the_checks_give_the_catalogued_values() {
    let text = b"123456789";
    assert_eq!(crc16_m17(text), 0x772B);
    assert_eq!(crc::CRC_16_M17.check, 0x772B);
    assert_eq!(crc::Crc::<u16>::new(&crc::CRC_16_M17).checksum(text), 0x772B);
    assert_eq!(crc32_iso_hdlc(text), 0xCBF4_3926);
    assert_eq!(crc::CRC_32_ISO_HDLC.check, 0xCBF4_3926);
    assert_eq!(crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(text), 0xCBF4_3926);
}
