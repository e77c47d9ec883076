//! The memory of the board that outlives it: log and switchboard.

use glueday_bench_tunnel::switchboard::{KEY_AT, LOGGER, MEMORY_LEN, PAGE_AT, SEED, SLOTS, Wiring};
use glueday_types::{BLOCK_LEN, LoggerId};
use std::fs::File;
use std::os::unix::fs::FileExt as _;
use std::path::{Path, PathBuf};

/// The file.
#[derive(Debug)]
pub struct Memory {
    file: File,
    path: PathBuf,
    slots: u32,
}

impl Memory {
    /// Erased flash of `slots` sectors, and a switchboard that says so and has a seed for a key, another
    /// for each logger.
    ///
    /// # Panics
    /// When the file cannot be written.
    #[must_use]
    pub fn create(folder: &Path, slots: u32, logger: LoggerId) -> Self {
        let path = folder.join("memory");
        let file = File::options().read(true).write(true).create_new(true).open(&path);
        let file = file.expect("a new file");
        file.set_len(MEMORY_LEN as u64).expect("its length");
        let memory = Self { file, path, slots };
        memory.write(0, &vec![0xFF; slots as usize * BLOCK_LEN]);
        memory.set(SLOTS, slots);
        memory.write(KEY_AT, &[0xFF; BLOCK_LEN]);
        memory.write(PAGE_AT + LOGGER, &logger.0);
        memory.set_seed(&glueday_types::digest(&logger.0));
        memory
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    fn write(&self, at: usize, bytes: &[u8]) {
        self.file.write_all_at(bytes, at as u64).expect("written");
    }

    /// Sets a word of the switchboard.
    pub fn set(&self, field: usize, value: u32) {
        self.write(PAGE_AT + field, &value.to_le_bytes());
    }

    /// Sets the seed of the next key that is made; zeros for none.
    pub fn set_seed(&self, seed: &[u8; 32]) {
        self.write(PAGE_AT + SEED, seed);
    }

    /// The sector of the key as it is.
    ///
    /// # Panics
    /// When the file cannot be read.
    #[must_use]
    pub fn key_sector(&self) -> Vec<u8> {
        let mut bytes = vec![0; BLOCK_LEN];
        self.file.read_exact_at(&mut bytes, KEY_AT as u64).expect("read");
        bytes
    }

    /// Puts the sector of the key back. Stop the machine before.
    pub fn set_key_sector(&self, bytes: &[u8]) {
        self.write(KEY_AT, bytes);
    }

    /// Sets what is wrong with a cable.
    pub fn wire(&self, field: usize, wiring: Wiring) {
        self.set(field, wiring as u32);
    }

    /// A word of the switchboard.
    ///
    /// # Panics
    /// When the file cannot be read.
    #[must_use]
    pub fn get(&self, field: usize) -> u32 {
        let mut bytes = [0; 4];
        self.file.read_exact_at(&mut bytes, (PAGE_AT + field) as u64).expect("read");
        u32::from_le_bytes(bytes)
    }

    /// A count of 64 bits. Stop the machine before.
    #[must_use]
    pub fn get_wide(&self, field: usize) -> u64 {
        u64::from(self.get(field + 4)) << 32 | u64::from(self.get(field))
    }

    /// The flash as it is.
    ///
    /// # Panics
    /// When the file cannot be read.
    #[must_use]
    pub fn flash(&self) -> Vec<u8> {
        let mut bytes = vec![0; self.slots as usize * BLOCK_LEN];
        self.file.read_exact_at(&mut bytes, 0).expect("read");
        bytes
    }
}
