//! What the logger writes down: one [`Entry`] at a time, in the order in which things happened.

use crate::units::{Absent, CentiCelsius, CentiPercent, Reading};
use serde::{Deserialize, Serialize};

/// One line of the log.
///
/// Every entry carries `at_s`, the seconds since the logger booted; the boot itself is known from the
/// block header and from the [`Entry::Boot`] entries that follow it. There is no calendar time in
/// the logger: [`Entry::ClockSet`] ties seconds since boot to UTC.
///
/// Only ever add variants at the end: the discriminants are bytes on flash. An older reader skips
/// what it does not know, so a variant that changes how the entries behind it are read raises
/// [`crate::header::FORMAT_VERSION`] as well.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Entry {
    /// One reading of all channels.
    Sample(Sample),
    /// The logger started.
    Boot {
        /// Number of this boot, counted up from 1 over the life of the logger.
        boot: u32,
        /// Seconds since this boot when the entry was written.
        at_s: u32,
        /// Why the logger started.
        reason: BootReason,
        /// Firmware version as major, minor, patch.
        firmware: (u8, u8, u8),
    },
    /// The host told the logger the time.
    ClockSet {
        /// Seconds since boot at the moment of the sync.
        at_s: u32,
        /// UTC at the same moment, in seconds since 1970-01-01, leap seconds not counted.
        utc_s: i64,
    },
    /// Somebody marked a moment, from the host or with the button.
    Mark {
        /// Seconds since boot.
        at_s: u32,
        /// What was marked.
        kind: MarkKind,
    },
    /// The nominal sampling interval changed.
    SettingsChanged {
        /// Seconds since boot.
        at_s: u32,
        /// The new interval in seconds, at least 1.
        interval_s: u16,
    },
    /// A probe failed or came back.
    ProbeChanged {
        /// Seconds since boot.
        at_s: u32,
        /// Which probe.
        probe: Probe,
        /// `Ok` when it came back, or the reason why it has no readings.
        state: Result<(), Absent>,
    },
    /// The supply voltage of the logger fell under its warning level.
    PowerLow {
        /// Seconds since boot.
        at_s: u32,
        /// Voltage in millivolts.
        supply_mv: u16,
    },
}

/// One reading of all channels, each a value or the reason why it is missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sample {
    /// Seconds since boot.
    pub at_s: u32,
    /// Slab surface temperature.
    pub slab: Reading<CentiCelsius>,
    /// Air temperature.
    pub air: Reading<CentiCelsius>,
    /// Air relative humidity.
    pub air_rh: Reading<CentiPercent>,
    /// Temperature of the radiant supply.
    pub supply: Reading<CentiCelsius>,
}

/// Why the logger started.
///
/// Only ever add variants at the end, and raise [`crate::header::FORMAT_VERSION`] with it: a reader
/// that skips a boot would count the entries behind it to the boot before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum BootReason {
    /// Power came on.
    PowerOn,
    /// The watchdog ended a hang.
    Watchdog,
    /// The supply voltage fell too low to run.
    BrownOut,
    /// The firmware restarted itself.
    Restart,
    /// The reset pin.
    ResetPin,
    /// The board cannot tell.
    Unknown,
}

/// A step of the work that somebody marked.
///
/// Only ever add variants at the end: the discriminants are bytes on flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum MarkKind {
    /// The button was pressed; nobody said what for.
    Button,
    /// The wood came to the site.
    Delivered,
    /// The moisture barrier was rolled on.
    BarrierRolled,
    /// The first adhesive was spread.
    GlueStarted,
    /// The last board was laid.
    GlueFinished,
    /// The floor was sanded.
    Sanded,
    /// The heat was turned back up.
    HeatOn,
}

/// A probe of the logger. Air temperature and humidity come from one probe.
///
/// Only ever add variants at the end: the discriminants are bytes on flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Probe {
    /// On the slab surface.
    Slab,
    /// In the air of the room: temperature and humidity.
    Air,
    /// On the supply pipe of the radiant heating.
    Supply,
}

impl Entry {
    /// Seconds since boot at which the entry was written.
    #[must_use]
    pub fn at_s(&self) -> u32 {
        match *self {
            Self::Sample(Sample { at_s, .. })
            | Self::Boot { at_s, .. }
            | Self::ClockSet { at_s, .. }
            | Self::Mark { at_s, .. }
            | Self::SettingsChanged { at_s, .. }
            | Self::ProbeChanged { at_s, .. }
            | Self::PowerLow { at_s, .. } => at_s,
        }
    }
}

/// The change from one sample to the next when it came exactly one interval later and no channel
/// came or went: the usual case, and the one that has to be small on flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Step {
    pub(crate) slab: i16,
    pub(crate) air: i16,
    pub(crate) air_rh: i16,
    pub(crate) supply: i16,
}

impl Step {
    /// The step from `before` to `after`, or `None` when it has to be written as a full sample.
    #[inline]
    pub(crate) fn between(before: &Sample, after: &Sample, interval_s: u16) -> Option<Self> {
        if before.at_s.checked_add(u32::from(interval_s)) != Some(after.at_s) {
            return None;
        }
        let temperature = |a: CentiCelsius, b: CentiCelsius| b.0.checked_sub(a.0);
        Some(Self {
            slab: change(before.slab, after.slab, temperature)?,
            air: change(before.air, after.air, temperature)?,
            air_rh: change(before.air_rh, after.air_rh, |a, b| {
                i16::try_from(i32::from(b.0) - i32::from(a.0)).ok()
            })?,
            supply: change(before.supply, after.supply, temperature)?,
        })
    }

    /// The sample that this step leads to, or `None` when the step cannot have been written there.
    #[inline]
    pub(crate) fn apply(&self, before: &Sample, interval_s: u16) -> Option<Sample> {
        let temperature = |a: CentiCelsius, d: i16| a.0.checked_add(d).map(CentiCelsius);
        Some(Sample {
            at_s: before.at_s.checked_add(u32::from(interval_s))?,
            slab: follow(before.slab, self.slab, temperature)?,
            air: follow(before.air, self.air, temperature)?,
            air_rh: follow(before.air_rh, self.air_rh, |a, d| {
                a.0.checked_add_signed(d).map(CentiPercent)
            })?,
            supply: follow(before.supply, self.supply, temperature)?,
        })
    }
}

/// The change of one channel. A channel that stays missing for the same reason changes by zero.
fn change<T>(
    before: Reading<T>,
    after: Reading<T>,
    difference: impl Fn(T, T) -> Option<i16>,
) -> Option<i16> {
    match (before, after) {
        (Ok(a), Ok(b)) => difference(a, b),
        (Err(a), Err(b)) if a == b => Some(0),
        _ => None,
    }
}

/// The inverse of [`change`].
fn follow<T>(
    before: Reading<T>,
    change: i16,
    add: impl Fn(T, i16) -> Option<T>,
) -> Option<Reading<T>> {
    match before {
        Ok(value) => add(value, change).map(Ok),
        Err(reason) if change == 0 => Some(Err(reason)),
        Err(_) => None,
    }
}
