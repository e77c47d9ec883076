//! What the ring makes of a flash that it finds, and how it goes round.

// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use glueday_firmware::ring::{Boot, Error, RingLog};
use glueday_tests::flash::{Cut, Failure, Outcome, Random, SimFlash};
use glueday_types::block::{Item, Reader};
use glueday_types::{
    BootReason, CentiCelsius, CentiPercent, Entry, Header, LoggerId, MarkKind, Sample, digest,
};

const ID: LoggerId = LoggerId(*b"ringTest");
const BOOT: Boot = Boot { reason: BootReason::PowerOn, at_s: 0, firmware: (0, 1, 0) };

fn mount<const W: usize>(flash: &SimFlash<W>) -> Result<RingLog<SimFlash<W>>, Error> {
    RingLog::mount(flash.handle(), ID, 600, BOOT)
}

fn sample(i: u32) -> Entry {
    let wave = (i % 200) as i16;
    Entry::Sample(Sample {
        at_s: i * 600,
        slab: Ok(CentiCelsius(2000 + wave)),
        air: Ok(CentiCelsius(1900 - 3 * wave)),
        air_rh: Ok(CentiPercent(5000 + i as u16 % 50)),
        supply: Ok(CentiCelsius(3000 + 2 * wave)),
    })
}

/// A flash with this header, and nothing else, in `slot`.
fn with_header(header: &[u8; 64], slot: usize) -> SimFlash<1> {
    let mut bytes = vec![0xFF; 4 * 4096];
    bytes[slot * 4096..slot * 4096 + 64].copy_from_slice(header);
    SimFlash::from_bytes(bytes)
}

fn header(logger: LoggerId, block: u32) -> Header {
    Header {
        write_unit: 1,
        interval_s: 600,
        logger,
        block,
        boot: 1,
        first_entry: 0,
        previous: [0; 32],
    }
}

#[test]
fn a_flash_that_is_not_ours_is_left_as_it_is() {
    let other = LoggerId(*b"somebody");
    let newer = {
        let mut bytes = header(ID, 2).to_bytes();
        bytes[4] = 2;
        let check = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&bytes[..60]);
        bytes[60..].copy_from_slice(&check.to_le_bytes());
        bytes
    };
    for (flash, expected) in [
        (
            with_header(&header(other, 3).to_bytes(), 3),
            Error::OtherLogger { found: other, slot: 3 },
        ),
        (with_header(&newer, 2), Error::NewerFormat { version: 2, slot: 2 }),
        (with_header(&header(ID, 6).to_bytes(), 1), Error::Misplaced { block: 6, slot: 1 }),
        (SimFlash::<1>::new(1), Error::WrongSize { capacity: 4096 }),
    ] {
        let before = flash.bytes();
        assert_eq!(mount(&flash).err(), Some(expected));
        assert!(flash.bytes() == before, "{expected}: the flash was changed");
    }
}

#[test]
fn a_flash_of_noise_begins_a_log() {
    let mut random = Random(11);
    let noise = (0..4 * 4096).map(|_| random.byte()).collect();
    let flash = SimFlash::<8>::from_bytes(noise);
    let ring = mount(&flash).unwrap();
    assert_eq!((ring.oldest_block(), ring.open_block(), ring.boot()), (0, 0, 1));
    assert_eq!(flash.counters().violations, 0);
}

#[test]
fn the_ring_goes_round_and_keeps_what_it_can() {
    for slots in [2, 3, 7] {
        let flash = SimFlash::<4>::new(slots);
        let mut ring = mount(&flash).unwrap();
        let count = 3000 * u32::try_from(slots).unwrap();
        for i in 0..count {
            assert_eq!(ring.append(&sample(i)), Ok(i + 1), "numbers count boots too");
        }
        assert_eq!(ring.open_block() - ring.oldest_block() + 1, ring.slots());
        assert!(ring.open_block() > 4 * ring.slots(), "it did not go round often enough");

        let mut next = None;
        let mut before = None;
        for block in ring.oldest_block()..=ring.open_block() {
            let mut bytes = vec![0; 4096];
            ring.read(block, 0, &mut bytes).unwrap();
            let reader = Reader::new(&bytes).unwrap();
            if let Some(before) = before {
                assert_eq!(reader.header().previous, before);
            }
            before = Some(digest(&bytes));
            for item in reader {
                let Item::Entry { number, entry, .. } = item else { panic!("{item:?}") };
                assert_eq!(number, next.unwrap_or(number));
                assert_eq!(entry, sample(number - 1));
                next = Some(number + 1);
            }
        }
        assert_eq!(next, Some(count + 1), "the newest entry is there");
        assert_eq!(ring.entries(), count + 1);
        let read = |ring: &mut RingLog<_>, block, offset| ring.read(block, offset, &mut [0; 8]);
        let (oldest, newest) = (ring.oldest_block(), ring.open_block());
        let refused = Err(Error::NoSuchBlock { oldest, newest });
        assert_eq!(read(&mut ring, oldest - 1, 0), refused);
        assert_eq!(read(&mut ring, newest + 1, 0), refused);
        assert_eq!(read(&mut ring, newest, 4089), refused);
        assert_eq!(read(&mut ring, newest, 4088), Ok(()));
        assert_eq!(flash.counters().violations, 0);
    }
}

#[test]
fn mounting_reads_a_header_a_slot_and_two_blocks() {
    let flash = SimFlash::<1>::new(64);
    let mut ring = mount(&flash).unwrap();
    for i in 0..50_000 {
        ring.append(&sample(i)).unwrap();
    }
    assert!(ring.oldest_block() > 0);
    let before = flash.counters().read_bytes;
    let again = mount(&flash).unwrap();
    let read = flash.counters().read_bytes - before;
    assert_eq!((again.boot(), again.entries()), (2, 50_002));
    // Two passes over the headers, the digest of the oldest block, end and entries of the newest: the
    // windows of the latter overlap.
    assert!(read <= 2 * 64 * 64 + 64 + 4096 + 4096 + 2 * 4096, "{read} bytes read");
}

#[test]
fn boots_count_up_and_the_interval_is_kept() {
    let flash = SimFlash::<1>::new(2);
    for boot in 1..=5 {
        let mut ring = mount(&flash).unwrap();
        assert_eq!(ring.boot(), boot);
        if boot == 2 {
            ring.append(&Entry::SettingsChanged { at_s: 5, interval_s: 60 }).unwrap();
        }
        assert_eq!(ring.interval_s(), if boot < 2 { 600 } else { 60 });
    }
    // The interval also goes on into the next block.
    let mut ring = mount(&flash).unwrap();
    let mut at_s = 0;
    while ring.open_block() == 0 {
        at_s += 1;
        ring.append(&Entry::Mark { at_s, kind: MarkKind::Button }).unwrap();
    }
    assert_eq!(mount(&flash).unwrap().interval_s(), 60);
}

#[test]
fn a_block_of_a_finer_write_unit_is_not_gone_on_with() {
    let flash = SimFlash::<1>::new(3);
    let mut ring = mount(&flash).unwrap();
    ring.append(&sample(0)).unwrap();
    let coarse = SimFlash::<8>::from_bytes(flash.bytes());
    let mut ring = mount(&coarse).unwrap();
    assert_eq!(ring.open_block(), 1);
    ring.append(&sample(1)).unwrap();
    assert_eq!(mount(&coarse).unwrap().entries(), 5);
    assert_eq!(coarse.counters().violations, 0);
    // The other way round the block can be gone on with.
    let fine = SimFlash::<1>::from_bytes(coarse.bytes());
    assert_eq!(mount(&fine).unwrap().open_block(), 1);
}

#[test]
fn a_unit_of_ones_is_not_programmed() {
    // Nine bytes, of which the last is 0xFF now and then: a unit of eight, and one of ones.
    let entry = |at_s| Entry::PowerLow { at_s, supply_mv: 3300 };
    let flash = SimFlash::<8>::new(2);
    let mut ring = mount(&flash).unwrap();
    for at_s in 20_000..24_000 {
        // The first unit is not programmed, and the flash does not say so.
        flash.cut(Cut { after: 0, outcome: Outcome::Nothing, failure: Failure::Silent });
        if ring.append(&entry(at_s)).is_err() {
            ring.append(&entry(at_s)).unwrap();
        }
    }
    assert_eq!(flash.counters().violations, 0, "a unit was programmed twice");
}
