//! What lies where in the flash of 2 MiB.
//!
//! ```text
//!  0x000000                        0x100000                        0x200000
//!  +--------+-----------------------+-------------------------+-----+
//!  | boot 2 | image                 | log: 255 blocks of 4 KiB| key |
//!  +--------+-----------------------+-------------------------+-----+
//!  <-------- IMAGE_LEN ------------> <------- LOG_LEN ------->
//!                                    <---------- DATA_LEN --------->
//! ```
//! A log lives as long as its layout: a firmware with another one finds no log where it looks, or
//! refuses what it finds. Do not change it.

/// Where the flash stands among the addresses of the processor.
pub(crate) const FLASH_FROM: u32 = 0x1000_0000;
/// Bytes of flash that the board must have at least.
pub(crate) const FLASH_LEN: u32 = 2 * 1024 * 1024;
/// Bytes of the second stage of the boot ROM, with its checksum, at the start of the flash.
pub(crate) const BOOT2_LEN: u32 = 256;
/// Bytes that the image may take, from the start of the flash on.
pub(crate) const IMAGE_LEN: u32 = 1024 * 1024;
/// Where in the flash the log begins.
pub(crate) const LOG_FROM: u32 = 1024 * 1024;
/// Bytes of the log and of the sector of the key behind it.
pub(crate) const DATA_LEN: u32 = 1024 * 1024;
/// Bytes of the log: at 8 bytes a sample and a sample every 10 minutes, over two years.
pub(crate) const LOG_LEN: u32 = DATA_LEN - SECTOR_LEN;
/// Bytes that are programmed at once.
pub(crate) const PAGE_LEN: u32 = 256;
/// Bytes that are erased at once.
pub(crate) const SECTOR_LEN: u32 = 4096;

const _: () = assert!(IMAGE_LEN <= LOG_FROM, "the image reaches into the log");
const _: () = assert!(LOG_FROM + DATA_LEN <= FLASH_LEN, "the log reaches beyond the flash");
const _: () = assert!(LOG_FROM.is_multiple_of(SECTOR_LEN) && DATA_LEN.is_multiple_of(SECTOR_LEN));
const _: () = assert!(BOOT2_LEN < IMAGE_LEN && SECTOR_LEN.is_multiple_of(PAGE_LEN));
