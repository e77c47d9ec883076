//! What the board measures: the probes and its own supply.

use crate::supply::Supply;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};
use glueday_firmware::probes::{Hygrometer, OneWirePair, Probes, Readings};

/// The probes, and the supply.
pub(crate) struct Site<'a, S, A, P, D> {
    pub(crate) probes: OneWirePair<S, A, P, D>,
    pub(crate) supply: &'a Supply,
}

impl<S, A, P, D> Probes for Site<'_, S, A, P, D>
where
    S: InputPin + OutputPin,
    A: Hygrometer,
    P: InputPin + OutputPin,
    D: DelayNs,
{
    fn read(&mut self) -> Readings {
        // Code comes from flash through a cache, a line of 8 bytes at a time, and the six lines of a
        // read slot would come too late for its 15 us. To read what the probes measured last, which
        // nobody wants, puts them into the cache.
        let _ = self.probes.slab.finish();
        let _ = self.probes.supply.finish();
        self.probes.read()
    }

    fn supply_mv(&mut self) -> Option<u16> {
        self.supply.vsys_mv()
    }
}
