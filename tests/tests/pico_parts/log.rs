//! The log in its part of the chip.

use crate::chip::{LOG_FROM, ModelChip};
use crate::identity::logger_id;
use crate::layout::{LOG_LEN, SECTOR_LEN};
use crate::pages::{LogFlash, LogFlashError};
use embedded_storage::nor_flash::{NorFlash, NorFlashErrorKind, ReadNorFlash};
use glueday_firmware::key::{NoKey, take_up};
use glueday_firmware::part::Part;
use glueday_firmware::ring::{Boot, Error, Operation, RingLog};
use glueday_tests::flash::{Random, SimFlash};
use glueday_types::{BootReason, CentiCelsius, CentiPercent, Entry, LoggerId, Sample};

const ID: LoggerId = LoggerId(*b"picoTest");
const OTHER: LoggerId = LoggerId(*b"another!");
const BOOT: Boot = Boot { reason: BootReason::PowerOn, at_s: 0, firmware: (0, 1, 0) };

/// The log, which is all but the last sector of the part of the flash.
fn log(chip: &mut ModelChip) -> Part<LogFlash<&mut ModelChip>> {
    Part::new(LogFlash::new(chip), 0, LOG_LEN)
}

/// A draw that begins with an id.
fn lot(id: LoggerId) -> [u8; 32] {
    let mut lot = [0x77; 32];
    lot[..8].copy_from_slice(&id.0);
    lot
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

#[test]
fn bytes_land_where_a_flash_with_a_write_unit_of_one_byte_puts_them() {
    let mut chip = ModelChip::new();
    let image = chip.image().to_vec();
    let mut pages = LogFlash::new(&mut chip);
    let mut plain = SimFlash::<1>::from_bytes(vec![0xFF; 256 * 4096]);
    pages.erase(0, 256 * 4096).unwrap();
    let mut random = Random(7);
    let mut at = 0;
    let (mut longest, mut over_a_page) = (0, 0);
    while at < 256 * 4096 {
        let len = (1 + (random.bits() % 600) as usize).min(256 * 4096 - at);
        let bytes: Vec<u8> = (0..len).map(|_| random.byte()).collect();
        pages.write(at as u32, &bytes).unwrap();
        plain.write(at as u32, &bytes).unwrap();
        longest = longest.max(len);
        over_a_page += u32::from(at / 256 != (at + len - 1) / 256);
        // Some bytes are left out: they must stay erased.
        at += len + (random.bits() % 40) as usize;
    }
    assert!(longest > 512 && over_a_page > 1000, "{longest}, {over_a_page}");
    let mut back = vec![0; 1000];
    for from in [0, 1, 255, 256, 4000, 256 * 4096 - 1000] {
        pages.read(from, &mut back).unwrap();
        assert_eq!(back, plain.bytes()[from as usize..from as usize + 1000]);
    }
    assert!(chip.log() == plain.bytes(), "the logs differ");
    assert!(chip.image() == image, "the image was changed");
}

#[test]
fn nothing_outside_the_log_is_touched() {
    let mut chip = ModelChip::new();
    let before = chip.bytes.clone();
    let mut flash = LogFlash::new(&mut chip);
    let end = 0x10_0000;
    for address in [end - 3, end, end + 1, 0x1000_0000, u32::MAX - 3, u32::MAX] {
        assert_eq!(flash.write(address, &[0; 4]), Err(LogFlashError::OutsideLog), "{address:#x}");
        assert_eq!(flash.read(address, &mut [0; 4]), Err(LogFlashError::OutsideLog));
    }
    for (from, to) in [(0, end + 4096), (end, end + 4096), (8192, 4096), (0xFFFF_F000, u32::MAX)] {
        assert_eq!(flash.erase(from, to), Err(LogFlashError::OutsideLog), "{from:#x} {to:#x}");
    }
    for (from, to) in [(256, 4096), (0, 256), (1, 2)] {
        assert_eq!(flash.erase(from, to), Err(LogFlashError::NotAligned), "{from:#x} {to:#x}");
    }
    assert_eq!(flash.capacity(), 0x10_0000);
    assert!(chip.bytes == before, "the flash was changed");
    assert_eq!((chip.programs, chip.erases), (0, 0));
}

#[test]
fn a_log_goes_round_and_leaves_the_image_alone() {
    let mut chip = ModelChip::new();
    let image = chip.image().to_vec();
    let mut ring = RingLog::mount(log(&mut chip), ID, 600, BOOT).unwrap();
    let mut i = 0;
    while ring.oldest_block() < 3 {
        ring.append(&sample(i)).unwrap();
        i += 1;
    }
    // README: over two years at a sample every 10 minutes.
    assert!(i > 2 * 365 * 144, "{i} samples");
    assert_eq!((ring.slots(), ring.lost(), ring.resumed()), (255, 0, 0));
    let (open, entries) = (ring.open_block(), ring.entries());
    assert!(chip.image() == image, "the image was changed");
    let again = RingLog::mount(log(&mut chip), ID, 600, BOOT).unwrap();
    assert_eq!((again.boot(), again.open_block(), again.entries()), (2, open, entries + 1));
}

#[test]
fn nothing_is_begun_under_the_supply_floor_and_the_log_goes_on_above_it() {
    let mut chip = ModelChip::new();
    let low = chip.supply_low.clone();
    let mut ring = RingLog::mount(log(&mut chip), ID, 600, BOOT).unwrap();
    ring.append(&sample(0)).unwrap();
    low.set(true);
    for i in 1..4 {
        let refused = ring.append(&sample(i));
        let Err(Error::Flash { operation: Operation::Program, kind, .. }) = refused else {
            panic!("{refused:?}");
        };
        assert_eq!(kind, NorFlashErrorKind::Other);
    }
    assert_eq!((ring.lost(), ring.entries()), (3, 2));
    low.set(false);
    ring.append(&sample(4)).unwrap();
    assert_eq!((ring.lost(), ring.resumed(), ring.entries()), (3, 0, 3));
    // Nor an erase: the block is full, and the next one has to wait.
    low.set(true);
    let erases = {
        let mut i = 5;
        low.set(false);
        let open = ring.open_block();
        while usize::from(ring.open_len()) < 4096 - 24 {
            ring.append(&sample(i)).unwrap();
            i += 1;
        }
        assert_eq!(ring.open_block(), open);
        low.set(true);
        let (mut refusals, mut last) = (0, None);
        for _ in 0..8 {
            last = ring.append(&sample(i)).err();
            refusals += 1;
        }
        assert_eq!(refusals, 8);
        assert!(matches!(last, Some(Error::Flash { .. })), "{last:?}");
        low.set(false);
        while ring.open_block() == open {
            ring.append(&sample(i)).unwrap();
            i += 1;
        }
        chip.erases
    };
    assert_eq!(erases, 2, "one for each block that was opened");
}

#[test]
fn the_log_says_whose_it_is_until_it_is_emptied() {
    let mut chip = ModelChip::new();
    // No log yet: by lot.
    let drawn = logger_id(&mut LogFlash::new(&mut chip), || lot(ID));
    assert_eq!(drawn, ID);
    let mut ring = RingLog::mount(log(&mut chip), drawn, 600, BOOT).unwrap();
    while ring.open_block() < 3 {
        ring.append(&sample(ring.entries())).unwrap();
    }
    let no_lot = || panic!("drawn although there is a log");
    assert_eq!(logger_id(&mut LogFlash::new(&mut chip), no_lot), ID);
    // Its first block is damaged, as by a power cut in the middle of an erase: others still say it.
    chip.bytes[LOG_FROM..LOG_FROM + 100].fill(0);
    assert_eq!(logger_id(&mut LogFlash::new(&mut chip), no_lot), ID);
    // Emptied: another logger.
    chip.bytes[LOG_FROM..].fill(0xFF);
    assert_eq!(logger_id(&mut LogFlash::new(&mut chip), || lot(OTHER)), OTHER);
}

/// A log goes round many times and leaves the sector of the key alone, and the key is there at the next
/// start. A log of an image from before there were keys (none was released) is taken up without one.
#[test]
fn the_key_has_the_last_sector_to_itself() {
    fn key_sector(chip: &mut ModelChip) -> Part<LogFlash<&mut ModelChip>> {
        Part::new(LogFlash::new(chip), LOG_LEN, SECTOR_LEN)
    }
    let mut chip = ModelChip::new();
    let image = chip.image().to_vec();
    assert!(!RingLog::is_begun(log(&mut chip), ID));
    let key = take_up(&mut key_sector(&mut chip), false, || Some(lot(ID))).unwrap();
    let sector = chip.log()[LOG_LEN as usize..].to_vec();
    assert_eq!(&sector[..4], b"GlKy");
    let mut ring = RingLog::mount(log(&mut chip), ID, 600, BOOT).unwrap();
    while ring.oldest_block() < 2 {
        ring.append(&sample(ring.entries())).unwrap();
    }
    assert!(chip.image() == image && chip.log()[LOG_LEN as usize..] == sector[..]);
    assert!(RingLog::is_begun(log(&mut chip), ID));
    let again = take_up(&mut key_sector(&mut chip), true, || panic!("drawn anew")).unwrap();
    assert_eq!(again.public(), key.public());

    let mut chip = ModelChip::new();
    let mut ring = RingLog::mount(LogFlash::new(&mut chip), ID, 600, BOOT).unwrap();
    ring.append(&sample(0)).unwrap();
    let ring = RingLog::mount(log(&mut chip), ID, 600, BOOT).unwrap();
    assert_eq!((ring.slots(), ring.boot(), ring.entries()), (255, 2, 3));
    let key = take_up(&mut key_sector(&mut chip), true, || panic!("drawn although there is a log"));
    assert_eq!(key.unwrap_err(), NoKey::NotWhole);
}
