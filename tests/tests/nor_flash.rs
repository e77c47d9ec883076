//! The driver of the serial NOR flash chip, against a chip that decodes its commands, and the log on it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

use embedded_storage::nor_flash::{NorFlash, NorFlashErrorKind, ReadNorFlash};
use glueday_firmware::nor::{Error, SpiNor};
use glueday_firmware::ring::{self, Boot, Operation, RingLog};
use glueday_tests::flash::{Random, SimFlash};
use glueday_tests::nor_chip::{BusFault, Counters, Fault, NorChip, PowerCut};
use glueday_types::block::{Item, Reader};
use glueday_types::{BootReason, CentiCelsius, CentiPercent, Entry, LoggerId, Sample};

const SECTORS: usize = 4;
const ID: LoggerId = LoggerId(*b"norTests");
const BOOT: Boot = Boot { reason: BootReason::PowerOn, at_s: 0, firmware: (0, 1, 0) };

type Nor = SpiNor<NorChip, NorChip, { SECTORS * 4096 }>;

fn driver(chip: &NorChip) -> Nor {
    SpiNor::new(chip.clone(), chip.clone())
}

fn mount<F: NorFlash>(flash: F) -> Result<RingLog<F>, ring::Error> {
    RingLog::mount(flash, ID, 600, BOOT)
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

/// Nothing was asked for that the chip ignores, or that loses data.
fn is_clean(chip: &NorChip) {
    let Counters { programs, erases, .. } = chip.counters();
    assert_eq!(chip.counters(), Counters { programs, erases, ..Counters::default() });
}

/// All entries in the log but boots, oldest first.
fn entries(ring: &mut RingLog<Nor>) -> Vec<Entry> {
    let mut found = Vec::new();
    for block in ring.oldest_block()..=ring.open_block() {
        let mut bytes = vec![0; 4096];
        ring.read(block, 0, &mut bytes).unwrap();
        for item in Reader::new(&bytes).unwrap() {
            if let Item::Entry { entry, .. } = item
                && !matches!(entry, Entry::Boot { .. })
            {
                found.push(entry);
            }
        }
    }
    found
}

#[test]
fn what_is_written_reads_back_wherever_it_lies() {
    let chip = NorChip::new(SECTORS);
    let mut flash = driver(&chip);
    let mut expected = vec![0xFF; SECTORS * 4096];
    let mut random = Random(5);
    // Across ends of pages and of a sector, a whole page, more than two, a single byte, none.
    for (at, len) in [(250, 12), (4000, 200), (512, 256), (1000, 700), (8191, 1), (9000, 0)] {
        let bytes: Vec<u8> = (0..len).map(|_| random.byte()).collect();
        flash.write(at as u32, &bytes).unwrap();
        expected[at..at + len].copy_from_slice(&bytes);
        assert!(chip.is_asleep(), "it is sent to sleep after each use");
    }
    assert!(chip.bytes() == expected);
    let mut bytes = vec![0; SECTORS * 4096];
    flash.read(0, &mut bytes).unwrap();
    assert!(bytes == expected);

    flash.erase(0, 8192).unwrap();
    expected[..8192].fill(0xFF);
    assert!(chip.bytes() == expected, "the byte at 8191 goes, no sector behind it does");
    assert_eq!((chip.counters().programs, chip.counters().erases), (10, 2));
    is_clean(&chip);

    let out = Err(Error::Arguments(NorFlashErrorKind::OutOfBounds));
    assert_eq!(flash.write(4 * 4096 - 1, &[0, 0]), out);
    assert_eq!(flash.read(4 * 4096, &mut [0]), out);
    assert_eq!(flash.erase(1, 4096), Err(Error::Arguments(NorFlashErrorKind::NotAligned)));
    assert!(chip.bytes() == expected);
}

#[test]
fn the_log_on_the_chip_is_byte_for_byte_that_on_a_plain_flash() {
    let chip = NorChip::new(SECTORS);
    let plain = SimFlash::<1>::new(SECTORS);
    let mut on_chip = mount(driver(&chip)).unwrap();
    let mut on_plain = mount(plain.handle()).unwrap();
    for i in 0..12_000 {
        // A restart now and then, which takes the log up from the chip.
        if i % 2_345 == 2_344 {
            drop(on_chip);
            on_chip = mount(driver(&chip)).unwrap();
            on_plain = mount(plain.handle()).unwrap();
        }
        assert_eq!(on_chip.append(&sample(i)), on_plain.append(&sample(i)));
    }
    assert!(on_chip.open_block() > 3 * SECTORS as u32, "it did not go round often enough");
    assert_eq!(on_chip.oldest_block(), on_plain.oldest_block());
    assert!(chip.bytes() == plain.bytes());
    assert_eq!(chip.counters().erases, plain.counters().erases);
    is_clean(&chip);
}

#[test]
fn a_chip_that_stays_busy_costs_a_bounded_time_and_one_entry() {
    let chip = NorChip::new(SECTORS);
    let mut ring = mount(driver(&chip)).unwrap();
    ring.append(&sample(0)).unwrap();
    chip.set_fault(Fault::BusyForEver);
    let began_us = chip.now_us();
    let error = ring.append(&sample(1)).unwrap_err();
    assert!(
        matches!(
            error,
            ring::Error::Flash {
                operation: Operation::Program,
                kind: NorFlashErrorKind::Other,
                ..
            }
        ),
        "{error:?}"
    );
    let program_us = chip.now_us() - began_us;
    assert!((3_000..4_000).contains(&program_us), "{program_us} µs");

    // Still busy: the next use waits as long as an erase may take, and no longer.
    let began_us = chip.now_us();
    assert_eq!(driver(&chip).read(0, &mut [0]), Err(Error::Busy));
    let wait_us = chip.now_us() - began_us;
    assert!((400_000..410_000).contains(&wait_us), "{wait_us} µs");
    assert!(ring.append(&sample(1)).is_err());
    assert_eq!(ring.lost(), 2);

    chip.set_fault(Fault::None);
    ring.append(&sample(2)).unwrap();
    // The first of the two was programmed after all, as the chip was only slow to say so.
    assert_eq!(entries(&mut ring), [sample(0), sample(1), sample(2)]);
    assert_eq!(ring.lost(), 1);
    is_clean(&chip);
}

#[test]
fn the_slowest_chip_is_waited_for() {
    let chip = NorChip::new(SECTORS);
    chip.set_times_us(3_000, 400_000);
    let mut flash = driver(&chip);
    flash.write(0, &[1, 2, 3]).unwrap();
    flash.erase(0, 8192).unwrap();
    assert!(chip.now_us() > 803_000);
    assert!(chip.bytes().iter().all(|byte| *byte == 0xFF));
    chip.set_times_us(3_000, 410_000);
    assert_eq!(flash.erase(0, 4096), Err(Error::Busy));
    is_clean(&chip);
}

#[test]
fn a_restart_of_the_processor_alone_finds_the_chip_at_work() {
    let chip = NorChip::new(SECTORS);
    let mut flash = driver(&chip);
    flash.write(100, &[7]).unwrap();
    // A driver that gives up early leaves the chip as a watchdog does: erasing, awake, supplied.
    chip.set_times_us(700, 700_000);
    assert_eq!(flash.erase(4096, 8192), Err(Error::Busy));
    let mut bytes = [0];
    driver(&chip).read(100, &mut bytes).unwrap();
    assert_eq!(bytes, [7]);
    is_clean(&chip);
}

#[test]
fn no_chip_is_never_an_empty_log() {
    for level in [0x00, 0xFF] {
        let chip = NorChip::new(SECTORS);
        chip.set_fault(Fault::Absent(level));
        let mut flash = driver(&chip);
        assert_eq!(flash.read(0, &mut [0; 8]), Err(Error::NoAnswer));
        assert_eq!(flash.write(0, &[0; 8]), Err(Error::NoAnswer));
        assert_eq!(flash.erase(0, 4096), Err(Error::NoAnswer));
        assert_eq!(flash.id(), Err(Error::NoAnswer));
        assert!(chip.now_us() < 1_000, "that it is not there is known at once");
        let error = mount(flash).unwrap_err();
        assert!(
            matches!(error, ring::Error::Flash { operation: Operation::Read, .. }),
            "{error:?}"
        );

        // One that falls off later is told as well, and comes back.
        chip.set_fault(Fault::None);
        let mut ring = mount(driver(&chip)).unwrap();
        ring.append(&sample(0)).unwrap();
        chip.set_fault(Fault::Absent(level));
        assert!(ring.append(&sample(1)).is_err());
        assert!(ring.read(0, 0, &mut [0; 64]).is_err());
        chip.set_fault(Fault::None);
        ring.append(&sample(2)).unwrap();
        assert_eq!(entries(&mut ring), [sample(0), sample(2)]);
    }
}

#[test]
fn a_chip_of_the_wrong_size_or_locked_is_told() {
    let chip = NorChip::new(SECTORS);
    let mut flash = driver(&chip);
    assert_eq!(flash.id(), Ok([0xEF, 0x40, 14]));
    for size in [13, 0, 0x84, 64] {
        let id = [0xEF, 0x40, size];
        chip.set_id(id);
        assert_eq!(flash.read(0, &mut [0]), Err(Error::TooSmall { id }));
    }
    for size in [14, 15, 24] {
        chip.set_id([0xC2, 0x28, size]);
        assert_eq!(flash.read(0, &mut [0]), Ok(()), "as large, or larger");
    }
    chip.set_fault(Fault::Protected);
    assert_eq!(flash.write(0, &[0]), Err(Error::WriteRefused));
    assert_eq!(flash.erase(0, 4096), Err(Error::WriteRefused));
    chip.set_fault(Fault::Bus);
    assert_eq!(flash.write(0, &[0]), Err(Error::Bus(BusFault)));
    chip.set_fault(Fault::None);
    assert_eq!(flash.write(0, &[0]), Ok(()));
    is_clean(&chip);
}

/// Writes samples until the power fails as `cut` says, and returns how many were acknowledged.
fn until_dark(chip: &NorChip, from: u32, cut: PowerCut) -> u32 {
    chip.cut(cut);
    let Ok(mut ring) = mount(driver(chip)) else { return from };
    (from..).find(|&i| ring.append(&sample(i)).is_err()).unwrap()
}

#[test]
fn no_acknowledged_entry_is_lost_when_the_power_fails_in_a_command() {
    let chip = NorChip::new(SECTORS);
    let (mut next, mut random, mut in_erase) = (0, Random(3), 0);
    for round in 0..600 {
        // The first steps after a start, and those after many entries.
        let after = if round % 2 == 0 { random.bits() % 4 } else { random.bits() % 800 };
        let cut = match random.byte() % 3 {
            0 => PowerCut::InCommand(after),
            _ => PowerCut::InWork(after, random.byte()),
        };
        let acknowledged = until_dark(&chip, next, cut);
        chip.power_on();
        in_erase += u32::from(chip.counters().erases > 0);
        let mut ring = mount(driver(&chip)).unwrap();
        let found: Vec<u32> = entries(&mut ring)
            .iter()
            .map(|entry| {
                let Entry::Sample(Sample { at_s, .. }) = entry else { panic!("{entry:?}") };
                let i = at_s / 600;
                assert_eq!(*entry, sample(i));
                i
            })
            .collect();
        // At most the one entry that was under way may be there as well.
        let newest = found.last().map_or(0, |i| i + 1);
        assert!(newest == acknowledged || newest == acknowledged + 1, "{round} {cut:?}");
        assert!(found.windows(2).all(|pair| pair[0] + 1 == pair[1]), "{round} {cut:?}");
        next = newest;
    }
    assert!(in_erase > 100, "only {in_erase} of the rounds came to an erase");
    assert!(mount(driver(&chip)).unwrap().open_block() > 100);
}
