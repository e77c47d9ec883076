//! What the probes of a logger without probes read.

use glueday_firmware::Readings;

/// The readings of all channels at any time of a scenario.
///
/// The time is that of the scenario, not of a boot: it goes on over restarts.
pub trait Climate: Send {
    /// The readings `scenario_s` seconds after the start of the scenario. The same time gives the same
    /// readings, however often and in whatever order it is asked for.
    fn readings(&mut self, scenario_s: u64) -> Readings;
}

impl<C: Climate + ?Sized> Climate for Box<C> {
    fn readings(&mut self, scenario_s: u64) -> Readings {
        (**self).readings(scenario_s)
    }
}

pub(crate) mod scripted_probes {
    //! A climate as the firmware's probes.

    use super::Climate;
    use glueday_firmware::{Probes, Readings};

    /// Probes that read from a [`Climate`].
    pub struct ScriptedProbes {
        climate: Box<dyn Climate>,
        now_s: u64,
        supply_mv: Option<u16>,
    }

    impl ScriptedProbes {
        pub(crate) fn new(climate: Box<dyn Climate>, supply_mv: Option<u16>) -> Self {
            Self { climate, now_s: 0, supply_mv }
        }

        /// Moves to this time of the scenario.
        pub(crate) fn set_now(&mut self, now_s: u64) {
            self.now_s = now_s;
        }
    }

    impl std::fmt::Debug for ScriptedProbes {
        fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
            f.debug_struct("ScriptedProbes").field("now_s", &self.now_s).finish_non_exhaustive()
        }
    }

    impl Probes for ScriptedProbes {
        fn read(&mut self) -> Readings {
            self.climate.readings(self.now_s)
        }

        fn supply_mv(&mut self) -> Option<u16> {
            self.supply_mv
        }
    }
}
