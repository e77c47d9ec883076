//! Whose log it is.
//!
//! The id is drawn by lot when a log begins, and from then on stands in the header of each block: the
//! log is where it is kept. So an emptied flash is a new logger, whose block 0 nobody takes for that
//! of the old log; a new image leaves the id alone; and no serial number of a chip has to be unique.

use crate::layout::{LOG_LEN, SECTOR_LEN};
use embedded_storage::nor_flash::ReadNorFlash;
use glueday_types::{HEADER_LEN, Header, LoggerId};

/// The id in the log on `flash`, or a new one from `draw` when there is no log.
///
/// A block that cannot be read says nothing; whether the log can be taken up is decided by its mount.
pub(crate) fn logger_id<F: ReadNorFlash>(
    flash: &mut F,
    draw: impl FnOnce() -> [u8; 32],
) -> LoggerId {
    let mut from = 0;
    while from < LOG_LEN {
        let mut bytes = [0; HEADER_LEN];
        if flash.read(from, &mut bytes).is_ok()
            && let Ok(header) = Header::from_bytes(&bytes)
        {
            return header.logger;
        }
        from += SECTOR_LEN;
    }
    let [a, b, c, d, e, f, g, h, ..] = draw();
    LoggerId([a, b, c, d, e, f, g, h])
}
