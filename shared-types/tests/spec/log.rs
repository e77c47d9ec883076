//! Sections 2 and 3: one block, built from the values that the text gives.

use crate::examples::{assert_bytes, bytes};
use glueday_types::block::{Item, Reader};
use glueday_types::{
    Absent, BLOCK_LEN, BootReason, CentiCelsius, CentiPercent, Cursor, Entry, Found, HEADER_LEN,
    Header, LoggerId, MarkKind, Probe, Sample, digest,
};

pub(crate) const LOGGER: LoggerId = LoggerId(*b"exampleA");

pub(crate) fn header() -> Header {
    Header {
        write_unit: 4,
        interval_s: 600,
        logger: LOGGER,
        block: 7,
        boot: 3,
        first_entry: 2310,
        previous: digest(&[0xFF; BLOCK_LEN]),
    }
}

pub(crate) fn sample(
    at_s: u32,
    slab: i16,
    air: i16,
    air_rh: u16,
    supply: Result<i16, Absent>,
) -> Sample {
    Sample {
        at_s,
        slab: Ok(CentiCelsius(slab)),
        air: Ok(CentiCelsius(air)),
        air_rh: Ok(CentiPercent(air_rh)),
        supply: supply.map(CentiCelsius),
    }
}

/// The entries of section 3.3 with their values, in the order in which they stand there.
pub(crate) fn entries() -> impl Iterator<Item = (&'static str, Entry)> {
    let no_answer = Err(Absent::NoAnswer);
    [
        (
            "boot",
            Entry::Boot { boot: 4, at_s: 0, reason: BootReason::PowerOn, firmware: (0, 1, 0) },
        ),
        ("clock-set", Entry::ClockSet { at_s: 95, utc_s: 1_772_461_800 }),
        ("mark", Entry::Mark { at_s: 120, kind: MarkKind::Delivered }),
        ("settings-changed", Entry::SettingsChanged { at_s: 130, interval_s: 300 }),
        ("sample", Entry::Sample(sample(300, 2134, 2087, 4520, Ok(3415)))),
        ("step", Entry::Sample(sample(600, 2137, 2075, 4585, Ok(3415)))),
        (
            "probe-changed",
            Entry::ProbeChanged { at_s: 610, probe: Probe::Supply, state: Err(Absent::NoAnswer) },
        ),
        ("sample-absent", Entry::Sample(sample(900, 2139, 2074, 4585, no_answer))),
        ("step-absent", Entry::Sample(sample(1200, 2138, 2075, 4520, no_answer))),
        ("power-low", Entry::PowerLow { at_s: 1210, supply_mv: 3310 }),
        (
            "boot-after",
            Entry::Boot { boot: 5, at_s: 0, reason: BootReason::BrownOut, firmware: (0, 1, 0) },
        ),
    ]
    .into_iter()
}

/// The place in the text where each entry is said to stand: offset, number, boot.
const PLACES: [(u16, u32, u32); 11] = [
    (64, 2310, 4),
    (76, 2311, 4),
    (88, 2312, 4),
    (96, 2313, 4),
    (104, 2314, 4),
    (124, 2315, 4),
    (132, 2316, 4),
    (144, 2317, 4),
    (164, 2318, 4),
    (172, 2319, 4),
    (272, 2321, 5),
];

#[test]
fn the_header_is_written_and_read_as_shown() {
    assert_bytes("header", &header().to_bytes());
    assert_eq!(Header::from_bytes(&bytes("header")), Ok(header()));
    assert_eq!(LOGGER.to_string(), "6578616d706c6541");
}

#[test]
fn each_entry_is_written_and_read_as_shown() {
    let mut cursor = Cursor::start(&header());
    for ((name, entry), (offset, number, boot)) in entries().zip(PLACES) {
        if name == "boot-after" {
            pass_unknown_and_damage(&mut cursor);
        }
        assert_eq!((cursor.offset(), cursor.number()), (offset, number), "{name}");
        let packed = cursor.pack(&entry).unwrap();
        assert_bytes(name, &packed);
        let mut reader = cursor;
        assert_eq!(reader.read(&bytes(name)), Found::Entry(entry), "{name}");
        cursor.advance(&entry, &packed);
        assert_eq!(reader, cursor, "{name}");
        assert_eq!(cursor.boot(), boot, "{name}");
    }
    assert_eq!(cursor.offset(), 284);
}

/// What stands between `power-low` and `boot-after`.
fn pass_unknown_and_damage(cursor: &mut Cursor) {
    assert_eq!((cursor.offset(), cursor.number()), (180, 2320));
    assert_eq!(cursor.read(&bytes("unknown")), Found::Unknown);
    assert_eq!(cursor.offset(), 188);

    let torn = bytes("torn");
    let whole = cursor.pack(&Entry::Mark { at_s: 1220, kind: MarkKind::GlueStarted }).unwrap();
    assert_bytes("torn", &whole[..4]);
    assert_eq!({ *cursor }.read(&torn), Found::Damaged);

    let at = cursor.resume_place(192).unwrap();
    assert_eq!(at, 260);
    assert_bytes("resume", &cursor.pack_resume(at).unwrap());
    assert!(cursor.is_resume(at, &bytes("resume")));
    cursor.resume(at);
}

/// The 284 bytes of the block that the text builds up.
pub(crate) fn block() -> Vec<u8> {
    let mut block = bytes("header");
    for (name, _) in entries().take(10) {
        block.extend(bytes(name));
    }
    block.extend(bytes("unknown"));
    block.extend(bytes("torn"));
    block.resize(260, 0xFF);
    block.extend(bytes("resume"));
    block.extend(bytes("boot-after"));
    block
}

#[test]
fn the_whole_block_reads_as_the_text_says() {
    let mut block = block();
    block.resize(BLOCK_LEN, 0xFF);

    let mut expected: Vec<Item> = entries()
        .zip(PLACES)
        .map(|((_, entry), (_, number, boot))| Item::Entry { number, boot, entry })
        .collect();
    expected.insert(10, Item::Unknown { number: 2320 });
    expected.insert(11, Item::Damaged { from: 188, to: 260 });
    assert_eq!(Reader::new(&block).unwrap().collect::<Vec<_>>(), expected);
    assert!(block.len() > HEADER_LEN);
}
