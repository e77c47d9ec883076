//! The page behind the log: what the tests tell the board, and what the board counts for them.
//!
//! The memory of the board is [`MEMORY_LEN`] bytes of a file. The log begins at its start; the page is
//! its last 4096 bytes, and the 4096 before them are the flash sector of the key. Every field is a little-endian `u32` at the offset given here, but for the
//! [`LOGGER`] id (8 bytes), the [`SEED`] and the counters of ticks (a `u64`: stop the machine before reading them).
//! Zero, as in a new file, means the default.

/// Bytes of the file.
pub const MEMORY_LEN: usize = 16 << 20;
/// Where the page begins in the file.
pub const PAGE_AT: usize = MEMORY_LEN - 4096;
/// Where the sector of the key begins in the file.
pub const KEY_AT: usize = PAGE_AT - 4096;

/// Slots of the ring. Read at boot. Default [`SLOTS_DEFAULT`].
pub const SLOTS: usize = 0x00;
/// Sampling interval of a log that begins, in seconds. Read at boot. Default [`INTERVAL_S_DEFAULT`].
pub const INTERVAL_S: usize = 0x04;
/// Id of the logger. Read at boot. Default [`LOGGER_DEFAULT`].
pub const LOGGER: usize = 0x08;
/// Supply voltage in millivolts. Read with each sample. Zero: the board cannot measure it.
pub const SUPPLY_MV: usize = 0x10;
/// Whether the button is down. Read whenever the board wakes; it does not wake the board.
pub const BUTTON: usize = 0x14;
/// [`Wiring`] of the slab probe. Read with each sample: a cable that is cut in the middle of a reading
/// makes all ones of the rest of it, and the thermometers have no checksum.
pub const WIRING_SLAB: usize = 0x18;
/// [`Wiring`] of the supply probe. Read with each sample.
pub const WIRING_SUPPLY: usize = 0x1C;
/// 1: panic now; 2: hang now. Taken back by the board before it does.
pub const MISHAP: usize = 0x20;
/// Whether nobody can see the LED, so that it need not blink.
pub const LED_COVERED: usize = 0x24;

/// Turns of an empty loop for each byte that is programmed or erased: flash takes its time.
pub const FLASH_SPINS: usize = 0x28;

/// Seed of the key that is made when a log begins, 32 bytes: the emulated part has no random bits, so
/// that the key of this board is worth nothing outside of tests. Read at boot. Zeros: no key is made.
pub const SEED: usize = 0x40;

/// Where static data end and the stack may reach down to.
pub const STACK_FLOOR: usize = 0x80;
/// Where the stack begins.
pub const STACK_TOP: usize = 0x84;
/// Whether the LED is lit.
pub const LED: usize = 0x88;
/// Bytes from the line that came too fast.
pub const OVERRUNS: usize = 0x8C;
/// Turns without a sample.
pub const IDLE_TURNS: usize = 0x90;
/// Turns with a sample.
pub const SAMPLE_TURNS: usize = 0x94;
/// Ticks awake in turns without a sample (`u64`).
pub const IDLE_TICKS: usize = 0x98;
/// Ticks awake in turns with a sample, without waiting for answers of the tunnel (`u64`).
pub const SAMPLE_TICKS: usize = 0xA0;

/// [`WIRING_SLAB`] as at the latest sample.
pub const WIRED_SLAB: usize = 0xA8;
/// [`WIRING_SUPPLY`] as at the latest sample.
pub const WIRED_SUPPLY: usize = 0xAC;

/// Not zero while the flash is being programmed or erased.
pub const FLASH_BUSY: usize = 0xB0;

/// Ticks in a second.
pub const TICKS_PER_S: u32 = 25_000_000;
/// What the free stack is filled with.
pub const STACK_PAINT: u32 = 0x5AFE_57AC;
/// See [`SLOTS`].
pub const SLOTS_DEFAULT: u32 = 64;
/// The most slots that fit before the sector of the key.
pub const SLOTS_MAX: u32 = 4094;
/// See [`INTERVAL_S`].
pub const INTERVAL_S_DEFAULT: u16 = 60;
/// See [`LOGGER`].
pub const LOGGER_DEFAULT: [u8; 8] = *b"bench\0\0\x01";
/// Under this supply voltage the board warns.
pub const POWER_LOW_MV: u16 = 3300;

/// What is wrong with the two wires to a probe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u32)]
pub enum Wiring {
    /// Nothing.
    Sound = 0,
    /// Cut: whatever the probe does, the data line reads high.
    Cut = 1,
    /// Something holds the data line low.
    DataLow = 2,
    /// Something holds the clock line low.
    ClockLow = 3,
}

impl Wiring {
    /// From the word in the page; what is unknown is sound.
    #[must_use]
    pub fn from_word(word: u32) -> Self {
        match word {
            1 => Self::Cut,
            2 => Self::DataLow,
            3 => Self::ClockLow,
            _ => Self::Sound,
        }
    }
}
