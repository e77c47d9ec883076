//! Format version 1, as it lies on the flash of loggers and in archives.
//!
//! If a test here fails, the code is wrong, never the test: bytes like these exist and have to be
//! read. The bytes were worked out by hand from the published wire format of postcard (varints of
//! seven bits a byte, low bits first; zigzag for signed integers; variants by number), not taken from
//! what the code printed.

use crate::checks::{crc32_iso_hdlc, entry_check};
use glueday_types::{
    Absent, BootReason, CentiCelsius, CentiPercent, Cursor, Entry, Found, Header, LoggerId,
    MarkKind, Probe, Sample,
};

pub(crate) const HEADER: Header = Header {
    write_unit: 1,
    interval_s: 600,
    logger: LoggerId([0xA1, 0xB2, 0xC3, 0xD4, 0xE5, 0xF6, 0x07, 0x18]),
    block: 0x0102_0304,
    boot: 0x0A0B_0C0D,
    first_entry: 0x1112_1314,
    previous: [
        0x20, 0x21, 0x22, 0x23, 0x24, 0x25, 0x26, 0x27, 0x28, 0x29, 0x2A, 0x2B, 0x2C, 0x2D, 0x2E,
        0x2F, 0x30, 0x31, 0x32, 0x33, 0x34, 0x35, 0x36, 0x37, 0x38, 0x39, 0x3A, 0x3B, 0x3C, 0x3D,
        0x3E, 0x3F,
    ],
};

#[rustfmt::skip]
pub(crate) const HEADER_BYTES: [u8; 64] = [
    0x47, 0x6C, 0x44, 0x79, // magic "GlDy"
    0x01, // format version
    0x01, // write unit
    0x58, 0x02, // interval 600 s
    0xA1, 0xB2, 0xC3, 0xD4, 0xE5, 0xF6, 0x07, 0x18, // logger id
    0x04, 0x03, 0x02, 0x01, // block
    0x0D, 0x0C, 0x0B, 0x0A, // boot
    0x14, 0x13, 0x12, 0x11, // first entry
    0x20, 0x21, 0x22, 0x23, 0x24, 0x25, 0x26, 0x27, // SHA-256 of the block before
    0x28, 0x29, 0x2A, 0x2B, 0x2C, 0x2D, 0x2E, 0x2F,
    0x30, 0x31, 0x32, 0x33, 0x34, 0x35, 0x36, 0x37,
    0x38, 0x39, 0x3A, 0x3B, 0x3C, 0x3D, 0x3E, 0x3F,
    0x06, 0x86, 0x8B, 0xED, // CRC-32 of the above
];

#[test]
fn header() {
    assert_eq!(HEADER.to_bytes(), HEADER_BYTES);
    assert_eq!(Header::from_bytes(&HEADER_BYTES), Ok(HEADER));
    assert_eq!(crc32_iso_hdlc(&HEADER_BYTES[..60]).to_le_bytes(), HEADER_BYTES[60..]);
}

/// `entry` is written as `bytes` at `cursor` and read from them; moves behind them.
fn frozen(cursor: &mut Cursor, entry: Entry, bytes: &[u8]) {
    let (covered, check) = bytes.split_at(bytes.len() - 2);
    assert_eq!(entry_check(&HEADER_BYTES, cursor.offset(), covered), check, "{entry:?}");
    let mut reader = *cursor;
    assert_eq!(reader.read(bytes), Found::Entry(entry));
    let packed = cursor.pack(&entry).unwrap();
    assert_eq!(&packed[..], bytes, "{entry:?}");
    cursor.advance(&entry, &packed);
    assert_eq!(reader, *cursor);
}

/// At the first place behind the header.
fn frozen_first(entry: Entry, bytes: &[u8]) {
    frozen(&mut Cursor::start(&HEADER), entry, bytes);
}

const SAMPLE: Sample = Sample {
    at_s: 300,
    slab: Ok(CentiCelsius(2134)),
    air: Ok(CentiCelsius(-550)),
    air_rh: Ok(CentiPercent(4520)),
    supply: Ok(CentiCelsius(3415)),
};

#[rustfmt::skip]
const SAMPLE_BYTES: [u8; 18] = [
    0x4F, // entry, body of 15
    0x00, // Sample
    0xAC, 0x02, // at_s 300 = 2 * 128 + 0x2C
    0x00, 0xAC, 0x21, // slab: value, 2134 -> zigzag 4268 = 33 * 128 + 0x2C
    0x00, 0xCB, 0x08, // air: value, -550 -> zigzag 1099 = 8 * 128 + 0x4B
    0x00, 0xA8, 0x23, // humidity: value, 4520 = 35 * 128 + 0x28
    0x00, 0xAE, 0x35, // supply: value, 3415 -> zigzag 6830 = 53 * 128 + 0x2E
    0x04, 0xD1, // CRC-16
];

#[test]
fn sample_in_full_and_a_step_from_it() {
    let mut cursor = Cursor::start(&HEADER);
    frozen(&mut cursor, Entry::Sample(SAMPLE), &SAMPLE_BYTES);
    let next = Sample {
        at_s: 900,
        slab: Ok(CentiCelsius(2135)),
        air: Ok(CentiCelsius(-551)),
        air_rh: Ok(CentiPercent(4584)),
        supply: Ok(CentiCelsius(3350)),
    };
    #[rustfmt::skip]
    let bytes = [
        0x06, // step, body of 6
        0x02, // slab +1 -> zigzag 2
        0x01, // air -1 -> zigzag 1
        0x80, 0x01, // humidity +64 -> zigzag 128 = 1 * 128 + 0
        0x81, 0x01, // supply -65 -> zigzag 129 = 1 * 128 + 1
        0x34, 0x31, // CRC-16
    ];
    assert_eq!(cursor.offset(), 82);
    frozen(&mut cursor, Entry::Sample(next), &bytes);
}

#[rustfmt::skip]
#[test]
fn longest_sample() {
    let least = Ok(CentiCelsius(i16::MIN));
    let entry = Entry::Sample(Sample {
        at_s: u32::MAX,
        slab: least,
        air: Ok(CentiCelsius(i16::MAX)),
        air_rh: Ok(CentiPercent(u16::MAX)),
        supply: least,
    });
    frozen_first(entry, &[
        0x56, // entry, body of 22
        0x00, // Sample
        0xFF, 0xFF, 0xFF, 0xFF, 0x0F, // at_s 2^32 - 1: four times seven bits, and four
        0x00, 0xFF, 0xFF, 0x03, // slab: value, -32768 -> zigzag 65535
        0x00, 0xFE, 0xFF, 0x03, // air: value, 32767 -> zigzag 65534
        0x00, 0xFF, 0xFF, 0x03, // humidity: value, 65535
        0x00, 0xFF, 0xFF, 0x03, // supply: value, -32768
        0x6B, 0x7D, // CRC-16
    ]);
}

#[rustfmt::skip]
#[test]
fn every_other_entry() {
    frozen_first(
        Entry::Boot { boot: 70_000, at_s: 2, reason: BootReason::Restart, firmware: (1, 200, 255) },
        &[
            0x49, // entry, body of 9
            0x01, // Boot
            0xF0, 0xA2, 0x04, // boot 70000 = 4 * 16384 + 34 * 128 + 0x70
            0x02, // at_s 2
            0x03, // Restart
            0x01, 0xC8, 0xFF, // firmware 1.200.255, plain bytes
            0x0F, 0x97, // CRC-16
        ],
    );
    frozen_first(Entry::ClockSet { at_s: 95, utc_s: 1_772_461_800 }, &[
        0x47, // entry, body of 7
        0x02, // ClockSet
        0x5F, // at_s 95
        0xD0, 0xFB, 0xAC, 0x9A, 0x0D, // 1772461800 -> zigzag 3544923600
        0xB3, 0xB5, // CRC-16
    ]);
    frozen_first(Entry::ClockSet { at_s: 0, utc_s: -1 }, &[
        0x43, // entry, body of 3
        0x02, // ClockSet
        0x00, // at_s 0
        0x01, // -1 -> zigzag 1
        0x64, 0x04, // CRC-16
    ]);
    frozen_first(Entry::Mark { at_s: 127, kind: MarkKind::BarrierRolled }, &[
        0x43, // entry, body of 3
        0x03, // Mark
        0x7F, // at_s 127, the greatest of one byte
        0x02, // BarrierRolled
        0x18, 0x1F, // CRC-16
    ]);
    frozen_first(Entry::SettingsChanged { at_s: 128, interval_s: u16::MAX }, &[
        0x46, // entry, body of 6
        0x04, // SettingsChanged
        0x80, 0x01, // at_s 128, the least of two bytes
        0xFF, 0xFF, 0x03, // interval 65535 s
        0x69, 0x38, // CRC-16
    ]);
    let failed = Err(Absent::BadChecksum);
    frozen_first(Entry::ProbeChanged { at_s: 16_384, probe: Probe::Air, state: failed }, &[
        0x47, // entry, body of 7
        0x05, // ProbeChanged
        0x80, 0x80, 0x01, // at_s 16384, the least of three bytes
        0x01, // Air
        0x01, 0x02, // failed: BadChecksum
        0x89, 0x2A, // CRC-16
    ]);
    frozen_first(Entry::ProbeChanged { at_s: 16_383, probe: Probe::Slab, state: Ok(()) }, &[
        0x45, // entry, body of 5
        0x05, // ProbeChanged
        0xFF, 0x7F, // at_s 16383, the greatest of two bytes
        0x00, // Slab
        0x00, // came back
        0x1C, 0xB1, // CRC-16
    ]);
    frozen_first(Entry::PowerLow { at_s: u32::MAX, supply_mv: 3310 }, &[
        0x48, // entry, body of 8
        0x06, // PowerLow
        0xFF, 0xFF, 0xFF, 0xFF, 0x0F, // at_s 2^32 - 1
        0xEE, 0x19, // 3310 mV = 25 * 128 + 0x6E
        0x6E, 0x02, // CRC-16
    ]);
}

#[rustfmt::skip]
const RESUME_BYTES: [u8; 12] = [
    0xFE, 0x72, 0x73, 0x6D, // 0xFE and "rsm"
    0x40, 0x00, // damage from 64
    0x82, 0x00, // mark at 130
    0x04, 0xA1, 0x83, 0x31, // CRC-32
];

#[test]
fn resume_mark() {
    let cursor = Cursor::start(&HEADER);
    assert_eq!(&cursor.pack_resume(130).unwrap()[..], RESUME_BYTES);
    assert!(cursor.is_resume(130, &RESUME_BYTES));
    let covered = [&HEADER_BYTES[60..], &RESUME_BYTES[..8]].concat();
    assert_eq!(crc32_iso_hdlc(&covered).to_le_bytes(), RESUME_BYTES[8..]);
    // Behind one torn byte, a mark goes here.
    assert_eq!(cursor.resume_place(65), Some(130));
}

#[test]
fn filling_up_to_the_write_unit() {
    // The write unit 32 in the header changes its CRC-32 to 90 42 D8 54, and so that of the entry.
    let header = Header { write_unit: 32, ..HEADER };
    assert_eq!(header.to_bytes()[60..], [0x90, 0x42, 0xD8, 0x54]);
    let mut bytes = [0xFF; 32];
    // Mark, at_s 127, BarrierRolled, CRC-16.
    bytes[..6].copy_from_slice(&[0x43, 0x03, 0x7F, 0x02, 0x7F, 0xDE]);
    let entry = Entry::Mark { at_s: 127, kind: MarkKind::BarrierRolled };
    let mut cursor = Cursor::start(&header);
    assert_eq!(&cursor.pack(&entry).unwrap()[..], bytes);
    assert_eq!(cursor.read(&bytes), Found::Entry(entry));
    assert_eq!(cursor.offset(), 96);
}
