//! What must be in a log, as whoever wrote it knows.

use super::log::{Facts, ID, Maker};
use super::{Check, Log};
use crate::flash::Chip;
use glueday_firmware::ring::{Boot, Error};
use glueday_types::{BootReason, Entry};

/// The interval of a log that begins, in seconds.
pub(super) const INTERVAL_S: u16 = 600;
const FIRMWARE: (u8, u8, u8) = (1, 2, 3);

/// One thing that was written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Written {
    /// Acknowledged under this number.
    Kept { number: u32, entry: Entry },
    /// The power failed meanwhile, or the flash said that it failed.
    InFlight(Entry),
    /// A boot that did not come through; its number is not known.
    BootInFlight { at_s: u32 },
}

/// All that was written, in order.
#[derive(Clone, Debug, Default)]
pub(super) struct Model {
    pub(super) written: Vec<Written>,
    /// Cuts and faults so far.
    pub(super) flaws: usize,
}

pub(super) fn boot_at(at_s: u32) -> Boot {
    Boot { reason: BootReason::PowerOn, at_s, firmware: FIRMWARE }
}

pub(super) fn mount(maker: &Maker, chip: &Chip, at_s: u32) -> Result<Box<dyn Log>, Error> {
    (maker.mount)(chip, ID, INTERVAL_S, boot_at(at_s))
}

impl Model {
    /// The log was mounted.
    pub(super) fn mounted(&mut self, facts: &Facts, at_s: u32) {
        let Boot { reason, at_s, firmware } = boot_at(at_s);
        let entry = Entry::Boot { boot: facts.boot, at_s, reason, firmware };
        self.written.push(Written::Kept { number: facts.entries.wrapping_sub(1), entry });
    }

    /// Mounting failed.
    pub(super) fn boot_failed(&mut self, at_s: u32) {
        self.written.push(Written::BootInFlight { at_s });
    }

    /// Appends, and notes what came of it.
    pub(super) fn append(&mut self, log: &mut dyn Log, entry: Entry) -> Result<(), Error> {
        match log.append(&entry) {
            Ok(number) => {
                self.written.push(Written::Kept { number, entry });
                Ok(())
            }
            Err(error) => {
                self.written.push(Written::InFlight(entry));
                Err(error)
            }
        }
    }

    /// Compares with the entries that are there, the last one first. Returns how many of what was in
    /// flight are there, with their places in the list, and the number of the oldest acknowledged
    /// entry that is not there.
    pub(super) fn compare(
        &self,
        found: impl Iterator<Item = (u32, Entry)>,
    ) -> Check<(Vec<usize>, Option<u32>)> {
        let mut expected = self.written.iter().enumerate().rev();
        let mut arrived = Vec::new();
        for (number, entry) in found {
            loop {
                let Some((place, wanted)) = expected.next() else {
                    return Err(format!("a phantom, number {number}: {entry:?}"));
                };
                match wanted {
                    Written::Kept { number: n, entry: wanted } => {
                        if (*n, wanted) == (number, &entry) {
                            break;
                        }
                        return Err(format!(
                            "acknowledged as number {n}, but not there: {wanted:?}; instead, \
                             number {number}: {entry:?}"
                        ));
                    }
                    Written::InFlight(wanted) if *wanted == entry => {
                        arrived.push(place);
                        break;
                    }
                    Written::BootInFlight { at_s: wanted } => match entry {
                        Entry::Boot { at_s, .. } if at_s == *wanted => {
                            arrived.push(place);
                            break;
                        }
                        _ => {}
                    },
                    Written::InFlight(_) => {}
                }
            }
        }
        let missing = expected.find_map(|(_, written)| match written {
            Written::Kept { number, .. } => Some(*number),
            _ => None,
        });
        Ok((arrived, missing))
    }
}
