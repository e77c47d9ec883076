//! The logger's real side of the wire: link server, ring and flash rules, without a board.

use super::one_fault::FarEnd;
use crate::flash::SimFlash;
use glueday_firmware::link::Link;
use glueday_firmware::logger::{Logger, Settings};
use glueday_firmware::probes::{Probes, Readings};
use glueday_types::wire::REPLY_FRAME_LEN_MAX;
use glueday_types::{BLOCK_LEN, BootReason, CentiCelsius, CentiPercent, LoggerId};
use std::collections::BTreeMap;

/// Its id.
pub const REAL_ID: LoggerId = LoggerId(*b"real-lnk");

/// Probes that read what a pattern of their count makes.
#[derive(Clone, Copy, Debug, Default)]
pub struct Patterned(u32);

impl Probes for Patterned {
    fn read(&mut self) -> Readings {
        self.0 += 1;
        let noise = |k: u32| ((self.0 + k * 77).wrapping_mul(2_654_435_761) >> 24) % 23;
        let celsius =
            |base: i16, k| Ok(CentiCelsius(base + i16::try_from(noise(k)).unwrap_or_default()));
        Readings {
            slab: celsius(1910, 1),
            air: celsius(2050, 2),
            air_rh: Ok(CentiPercent(4600 + u16::try_from(noise(3)).unwrap_or_default())),
            supply: celsius(2600, 4),
        }
    }
}

/// A logger on a flash with a write unit of 4 bytes.
#[derive(Debug)]
pub struct RealLogger {
    link: Link,
    logger: Logger<SimFlash<4>, Patterned>,
    flash: SimFlash<4>,
    /// Each boot, and when it began on the clock of the line.
    boots: Vec<(u32, u32)>,
}

impl RealLogger {
    /// Starts it on what stands on a flash.
    ///
    /// # Panics
    /// When the log cannot be taken up.
    #[must_use]
    #[allow(clippy::expect_used)] // Only ever called by tests.
    pub fn start(flash: SimFlash<4>, now_s: u32, reason: BootReason) -> Self {
        let settings = Settings { logger: REAL_ID, interval_s: 600, power_low_mv: None };
        let logger = Logger::start(flash.handle(), Patterned::default(), &settings, 0, reason)
            .expect("the log can be taken up");
        let boots = vec![(logger.ring().boot(), now_s)];
        Self { link: Link::new(), logger, flash, boots }
    }

    /// The logger itself.
    pub fn logger_mut(&mut self) -> &mut Logger<SimFlash<4>, Patterned> {
        &mut self.logger
    }

    /// When a boot began, on the clock of the line.
    #[must_use]
    pub fn began_s(&self, boot: u32) -> Option<u32> {
        self.boots.iter().find(|(number, _)| *number == boot).map(|(_, began_s)| *began_s)
    }

    /// The blocks in its ring, the open one as far as it is written.
    #[must_use]
    pub fn blocks(&self) -> BTreeMap<u32, Vec<u8>> {
        let bytes = self.flash.bytes();
        let ring = self.logger.ring();
        (ring.oldest_block()..=ring.open_block())
            .map(|block| {
                let slot = usize::try_from(block % ring.slots()).unwrap_or_default();
                let open = block == ring.open_block();
                let len = if open { usize::from(ring.open_len()) } else { BLOCK_LEN };
                let at = slot * BLOCK_LEN;
                (block, bytes.get(at..at + len).unwrap_or_default().to_vec())
            })
            .collect()
    }
}

impl FarEnd for RealLogger {
    fn receive(&mut self, bytes: &[u8], _: u32) {
        for byte in bytes {
            self.link.receive(*byte);
        }
    }

    fn next_frame(&mut self, now_s: u32) -> Option<Vec<u8>> {
        let mut out = [0; REPLY_FRAME_LEN_MAX];
        let began_s = self.boots.last().map_or(0, |(_, began_s)| *began_s);
        let now_s = now_s.saturating_sub(began_s);
        let len = self.link.next_reply(now_s, &mut self.logger, &mut out)?;
        out.get(..len).map(<[u8]>::to_vec)
    }

    fn restart(&mut self, now_s: u32) {
        let mut boots = std::mem::take(&mut self.boots);
        *self = Self::start(self.flash.handle(), now_s, BootReason::BrownOut);
        boots.append(&mut self.boots);
        self.boots = boots;
    }
}
