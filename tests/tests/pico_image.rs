//! The UF2 file of the RP2040 board, read by the published specification of the format and compared
//! with the ELF file that the linker wrote.
//!
//! Sources: the UF2 specification (block layout, flags; the list of families);
//! RP2040 data sheet (second stage of the boot and its checksum; addresses). Both from memory.

// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation)]

use object::read::elf::ProgramHeader;
use object::{Object, ObjectSymbol};
use std::collections::BTreeMap;
use std::path::Path;

const FLASH_FROM: u32 = 0x1000_0000;
/// The image has the first half of the 2 MiB, the log the second: logs in the field stand there.
const LOG_FROM: u32 = FLASH_FROM + 0x10_0000;
const RAM: std::ops::Range<u32> = 0x2000_0000..0x2004_2000;

fn built(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/boards").join(name);
    std::fs::read(&path)
        .unwrap_or_else(|error| panic!("{error}: {name} is not built. Run: firmware/build pico"))
}

/// A block of a UF2 file.
struct Block {
    flags: u32,
    address: u32,
    number: u32,
    count: u32,
    family: u32,
    payload: Vec<u8>,
}

fn read_block(bytes: &[u8]) -> Block {
    let word = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap());
    assert_eq!((word(0), word(4)), (0x0A32_4655, 0x9E5D_5157), "magic numbers at the start");
    assert_eq!(word(508), 0x0AB1_6F30, "magic number at the end");
    let payload_len = word(16) as usize;
    assert!(payload_len <= 476, "{payload_len} bytes of payload");
    Block {
        flags: word(8),
        address: word(12),
        number: word(20),
        count: word(24),
        family: word(28),
        payload: bytes[32..32 + payload_len].to_vec(),
    }
}

fn blocks() -> Vec<Block> {
    let file = built("pico.uf2");
    assert!(file.len().is_multiple_of(512), "{} bytes are no whole blocks", file.len());
    file.chunks(512).map(read_block).collect()
}

/// What the flash holds after the blocks were written to it.
fn flash() -> BTreeMap<u32, u8> {
    let mut flash = BTreeMap::new();
    for block in blocks() {
        for (address, byte) in (block.address..).zip(block.payload) {
            assert!(flash.insert(address, byte).is_none(), "{address:#x} is written twice");
        }
    }
    flash
}

fn word_at(flash: &BTreeMap<u32, u8>, address: u32) -> u32 {
    u32::from_le_bytes([0, 1, 2, 3].map(|i| flash[&(address + i)]))
}

#[test]
fn the_boot_rom_takes_every_block() {
    let blocks = blocks();
    assert!(blocks.len() > 100, "{} blocks", blocks.len());
    for (i, block) in blocks.iter().enumerate() {
        assert_eq!(block.number as usize, i);
        assert_eq!(block.count as usize, blocks.len());
        // The family is given, and nothing of it is meant for elsewhere than the main flash.
        assert_eq!(block.flags, 0x2000);
        assert_eq!(block.family, 0xE48B_FF56, "the family of the RP2040");
        assert_eq!(block.payload.len(), 256);
        assert!(block.address.is_multiple_of(256), "{:#x}", block.address);
    }
}

#[test]
fn the_log_is_not_written_to() {
    for block in blocks() {
        // The boot ROM erases the whole sector of 4096 bytes that a block lies in.
        let sector = block.address & !0xFFF;
        assert!((FLASH_FROM..LOG_FROM).contains(&sector), "{:#x}", block.address);
        assert!(sector + 4096 <= LOG_FROM, "{:#x}", block.address);
    }
}

#[test]
fn the_second_stage_of_the_boot_has_its_checksum() {
    let flash = flash();
    let stage: Vec<u8> = (0..252).map(|i| flash[&(FLASH_FROM + i)]).collect();
    assert!(stage.iter().any(|byte| *byte != 0), "there is none");
    // Polynomial 0x04C11DB7, start with ones, neither reflected nor inverted.
    let expected = crc::Crc::<u32>::new(&crc::CRC_32_MPEG_2).checksum(&stage);
    assert_eq!(word_at(&flash, FLASH_FROM + 252), expected);
}

#[test]
fn the_second_stage_finds_a_stack_and_a_program() {
    let flash = flash();
    let stack = word_at(&flash, FLASH_FROM + 256);
    assert!(RAM.contains(&(stack - 4)) && stack.is_multiple_of(8), "{stack:#x}");
    let start = word_at(&flash, FLASH_FROM + 260);
    assert_eq!(start & 1, 1, "{start:#x} is no Thumb code");
    assert!(flash.contains_key(&(start - 1)), "{start:#x} is not in the image");
}

#[test]
fn the_flash_holds_what_the_linker_wrote() {
    let mut flash = flash();
    let file = built("pico.elf");
    let elf = object::File::parse(&*file).unwrap();
    let object::File::Elf32(elf32) = &elf else { panic!("no 32-bit ELF") };
    let endian = elf32.endian();
    let mut compared = 0;
    for header in elf32.elf_program_headers() {
        if header.p_type(endian) != object::elf::PT_LOAD {
            continue;
        }
        // Where it is loaded from, which for what starts in RAM is not where it runs.
        let from = header.p_paddr(endian);
        for (address, byte) in (from..).zip(header.data(endian, &*file).unwrap()) {
            let in_flash = flash.remove(&address);
            assert_eq!(in_flash, Some(*byte), "{address:#x}");
            compared += 1;
        }
    }
    assert!(compared > 20_000, "{compared} bytes");
    // What is left fills up pages, and says nothing.
    assert!(flash.values().all(|byte| matches!(byte, 0 | 0xFF)), "more than the linker wrote");
    assert!(flash.len() < 256 * 8, "{} bytes between segments", flash.len());
}

#[test]
fn what_programs_the_flash_runs_from_ram() {
    let file = built("pico.elf");
    let elf = object::File::parse(&*file).unwrap();
    for name in ["program_from_ram", "erase_from_ram"] {
        let found: Vec<u64> = elf
            .symbols()
            .filter(|symbol| symbol.kind() == object::SymbolKind::Text)
            // The linker makes jumps from flash to RAM, with names of their own.
            .filter(|s| s.name().is_ok_and(|n| n.contains(name) && !n.contains("Thunk")))
            .map(|symbol| symbol.address())
            .collect();
        assert_eq!(found.len(), 1, "{name}: {found:x?}");
        assert!(RAM.contains(&(found[0] as u32)), "{name} at {:#x}", found[0]);
    }
}
