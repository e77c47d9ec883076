//! What the board measures: the probes and its own supply.

use crate::supply::Supply;
use glueday_firmware::probes::{Probes, Readings};

/// The probes, and the supply.
pub(crate) struct Site<'a, P> {
    pub(crate) probes: P,
    pub(crate) supply: &'a Supply,
}

impl<P: Probes> Probes for Site<'_, P> {
    fn read(&mut self) -> Readings {
        self.probes.read()
    }

    fn supply_mv(&mut self) -> Option<u16> {
        self.supply.vsys_mv()
    }
}
