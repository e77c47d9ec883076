//! A flash chip that programs whole pages only, with an image in its first half.

use crate::pages::{Chip, PAGE, Place};
use std::cell::Cell;
use std::rc::Rc;

/// 2 MiB, of which the first half is the image and the second the log.
pub(crate) const CHIP_LEN: usize = 0x20_0000;
pub(crate) const LOG_FROM: usize = 0x10_0000;

pub(crate) struct ModelChip {
    pub(crate) bytes: Vec<u8>,
    pub(crate) programs: u32,
    pub(crate) erases: u32,
    pub(crate) supply_low: Rc<Cell<bool>>,
}

impl ModelChip {
    /// A chip with an image, and something in the log's part that no log is.
    pub(crate) fn new() -> Self {
        let bytes = (0..CHIP_LEN).map(|i| (i * 31 + i / 4096) as u8).collect();
        Self { bytes, programs: 0, erases: 0, supply_low: Rc::default() }
    }

    pub(crate) fn image(&self) -> &[u8] {
        &self.bytes[..LOG_FROM]
    }

    pub(crate) fn log(&self) -> &[u8] {
        &self.bytes[LOG_FROM..]
    }
}

impl Chip for &mut ModelChip {
    fn read(&mut self, place: Place, offset: usize, out: &mut [u8]) {
        assert!(offset + out.len() <= PAGE, "a read beyond its page");
        let from = place.in_flash() as usize + offset;
        out.copy_from_slice(&self.bytes[from..from + out.len()]);
    }

    fn program(&mut self, place: Place, page: &[u8; PAGE]) {
        let from = place.in_flash() as usize;
        assert!(from.is_multiple_of(256), "the ROM programs pages");
        // Programming turns ones into zeros and never the other way.
        for (cell, byte) in self.bytes[from..from + 256].iter_mut().zip(page) {
            *cell &= byte;
        }
        self.programs += 1;
    }

    fn erase(&mut self, place: Place) {
        let from = place.in_flash() as usize;
        assert!(from.is_multiple_of(4096), "the ROM erases sectors");
        self.bytes[from..from + 4096].fill(0xFF);
        self.erases += 1;
    }

    fn supply_is_too_low(&mut self) -> bool {
        self.supply_low.get()
    }
}
