//! The flash that the code itself runs from.
//!
//! The chip cannot be read while it programs or erases, so whoever starts that must run from RAM, and
//! nothing else may run meanwhile: no interrupt handler (they are masked for good, see `pico.rs`) and
//! no second core (never started). The routines that know the chip's commands are in the ROM; the one
//! that makes the chip readable as memory again is the second stage of the boot, of which a copy is
//! kept in RAM.

use crate::layout::{BOOT2_LEN, FLASH_FROM, SECTOR_LEN};
use crate::pages::{Chip, PAGE, Place};
use crate::supply::Supply;
use rp2040_hal::rom_data;

/// The flash as memory, around the cache: what is read back is what the chip holds. (RP2040 data
/// sheet, section 2.6.3, from memory.)
const UNCACHED_FROM: u32 = 0x1300_0000;
/// Words of the second stage of the boot.
const BOOT2_WORDS: usize = 64;
/// The command that erases a block of 64 KiB; the ROM uses it for ranges that hold whole ones, which
/// a single sector does not.
const ERASE_64K: u8 = 0xD8;

/// What is called while the flash is not readable: nothing of it may stand in flash.
struct Routines {
    connect: unsafe extern "C" fn(),
    exit_xip: unsafe extern "C" fn(),
    erase: unsafe extern "C" fn(u32, usize, u32, u8),
    program: unsafe extern "C" fn(u32, *const u8, usize),
    flush_cache: unsafe extern "C" fn(),
    enter_xip: unsafe extern "C" fn(),
}

/// The on-board flash chip.
pub(crate) struct OnBoardFlash<'a> {
    supply: &'a Supply,
    boot2: [u32; BOOT2_WORDS],
}

impl<'a> OnBoardFlash<'a> {
    /// The chip. There must be one of it only.
    pub(crate) fn new(supply: &'a Supply) -> Self {
        let mut boot2 = [0; BOOT2_WORDS];
        let mut from = FLASH_FROM as *const u32;
        for word in &mut boot2 {
            // SAFETY: the first 256 bytes of the flash, which is mapped and readable here.
            *word = unsafe { from.read_volatile() };
            from = from.wrapping_add(1);
        }
        Self { supply, boot2 }
    }

    fn routines(&self) -> Routines {
        // The lowest bit of a code address says that it is Thumb code.
        let enter_xip = self.boot2.as_ptr().cast::<u8>().wrapping_add(1);
        Routines {
            connect: rom_data::connect_internal_flash::ptr(),
            exit_xip: rom_data::flash_exit_xip::ptr(),
            erase: rom_data::flash_range_erase::ptr(),
            program: rom_data::flash_range_program::ptr(),
            flush_cache: rom_data::flash_flush_cache::ptr(),
            // SAFETY: the second stage of the boot can stand anywhere, returns to whoever calls it
            // and changes only the registers that any function may change (comments in its source).
            // The copy is in RAM, since `self` is, and lives as long as the call.
            enter_xip: unsafe {
                core::mem::transmute::<*const u8, unsafe extern "C" fn()>(enter_xip)
            },
        }
    }
}

impl Chip for OnBoardFlash<'_> {
    fn read(&mut self, place: Place, offset: usize, out: &mut [u8]) {
        let mut from = (UNCACHED_FROM + place.in_flash()) as *const u8;
        from = from.wrapping_add(offset);
        for byte in out {
            // SAFETY: within the flash by the type of `place`; volatile, because the chip changes it.
            *byte = unsafe { from.read_volatile() };
            from = from.wrapping_add(1);
        }
    }

    fn program(&mut self, place: Place, page: &[u8; PAGE]) {
        let routines = self.routines();
        // A page in flash could not be read while it is programmed.
        let page = *page;
        // SAFETY: a page of the log, which holds no code; all that is called is in RAM or ROM.
        cortex_m::interrupt::free(|_| unsafe {
            program_from_ram(&routines, place.in_flash(), page.as_ptr());
        });
    }

    fn erase(&mut self, place: Place) {
        let routines = self.routines();
        // SAFETY: as for a page.
        cortex_m::interrupt::free(|_| unsafe { erase_from_ram(&routines, place.in_flash()) });
    }

    fn supply_is_too_low(&mut self) -> bool {
        self.supply.is_too_low()
    }
}

/// Programs a page.
///
/// # Safety
/// `routines` and `page` must be in RAM, and nothing else may use the flash meanwhile.
#[unsafe(link_section = ".data.program_from_ram")]
#[inline(never)]
unsafe extern "C" fn program_from_ram(routines: &Routines, place: u32, page: *const u8) {
    // SAFETY: the order that the ROM's description asks for (RP2040 data sheet, section 2.8.3.1.3).
    unsafe {
        (routines.connect)();
        (routines.exit_xip)();
        (routines.program)(place, page, PAGE);
        (routines.flush_cache)();
        (routines.enter_xip)();
    }
}

/// Erases a sector.
///
/// # Safety
/// As for [`program_from_ram`].
#[unsafe(link_section = ".data.erase_from_ram")]
#[inline(never)]
unsafe extern "C" fn erase_from_ram(routines: &Routines, place: u32) {
    // SAFETY: as above.
    unsafe {
        (routines.connect)();
        (routines.exit_xip)();
        (routines.erase)(place, SECTOR_LEN as usize, 64 * 1024, ERASE_64K);
        (routines.flush_cache)();
        (routines.enter_xip)();
    }
}

const _: () = assert!(BOOT2_WORDS * 4 == BOOT2_LEN as usize);
