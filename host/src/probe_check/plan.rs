//! What a check needs, what it is checked against, and what it cannot be done with.

use super::steady::Settings;
use crate::job::{Channel, CheckMethod};
use crate::limits::LimitId;
use crate::physics::salt::{ICE_POINT_C, Salt};
use crate::physics::{OutOfRange, Range};

/// How far temperatures may lie apart over the watched time, in hundredths of a kelvin; see [`super::Judge`].
const TEMPERATURE_SPREAD_MAX: i32 = 10;
/// How far humidities may lie apart over the watched time, in hundredths of %RH; see [`super::Judge`].
const RH_SPREAD_MAX: i32 = 50;
/// A probe that reads further from the reference than this, in K or %RH, is not where it should be, or
/// is broken. Ten and seven times the usual limits; common practice, no source.
const TEMPERATURE_ERROR_PLAUSIBLE_K: f64 = 5.0;
const RH_ERROR_PLAUSIBLE_PCT: f64 = 20.0;
/// The shortest watched time over a salt, in seconds: the air in a jar takes longer than a probe in
/// slush, and a shorter time would let 0.1 K pass for rest while the jar warms quickly. Common
/// practice, no source.
const SALT_WATCH_MIN_S: u32 = 900;
/// The shortest watched time otherwise, in seconds.
const WATCH_MIN_S: u32 = 300;
/// A salt whose humidity is known no better than this, in %RH, cannot tell a good probe from a bad
/// one: the usual limit is 3 %RH, and a reference should be three times better.
pub const SALT_UNCERTAINTY_MAX_PCT: f64 = 1.0;

/// Temperatures of a jar in which humidity probes are checked: those of a building site. Colder, a jar
/// takes hours to settle; warmer, it dries out. Common practice, no source.
const JAR_C: Range = Range {
    what: "temperature of the jar",
    unit: "°C",
    low: 5.0,
    high: 40.0,
    fix: "let jar and probe stand in a room near 20 °C until both have its temperature",
};

/// What a probe is checked against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Method {
    /// Melting ice.
    Ice,
    /// The air over this saturated salt.
    Salt(Salt),
    /// A reference instrument beside it, which reads this, in °C or %RH.
    Comparison(f64),
}

/// Why a check cannot be done as asked.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// Ice and humidity, or salt and temperature.
    #[error("ice checks temperature probes (slab, air, supply), salt checks humidity probes (rh)")]
    WrongMethod,
    /// The salt is not known well enough.
    #[error(
        "the humidity over {} is known to {:.1} %RH only, which cannot tell a good probe from a bad one: \
         take NaCl or MgCl2",
        .0.formula(),
        .0.uncertainty_pct()
    )]
    VagueSalt(Salt),
    /// The watched time is too short for the check.
    #[error(
        "{} min is too short to see a probe come to rest: watch for {} min at least",
        .watch_s / 60,
        .least_s / 60
    )]
    WatchTooShort {
        /// What was asked for.
        watch_s: u32,
        /// What is needed.
        least_s: u32,
    },
    /// The watched time is longer than the time after which it is given up.
    #[error("the time to give up after must be longer than the watched time")]
    GiveUpTooSoon,
}

/// One check of one channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plan {
    channel: Channel,
    method: Method,
    watch_s: u32,
}

impl Plan {
    /// A check of `channel` that watches for `watch_s`.
    ///
    /// # Errors
    /// [`PlanError`] when method and channel, or salt and purpose, do not fit, or the time is short.
    pub fn new(channel: Channel, method: Method, watch_s: u32) -> Result<Self, PlanError> {
        match (method, channel) {
            (Method::Ice, Channel::Rh)
            | (Method::Salt(_), Channel::Slab | Channel::Air | Channel::Supply) => {
                return Err(PlanError::WrongMethod);
            }
            (Method::Salt(salt), Channel::Rh)
                if salt.uncertainty_pct() > SALT_UNCERTAINTY_MAX_PCT =>
            {
                return Err(PlanError::VagueSalt(salt));
            }
            _ => {}
        }
        let least_s = match method {
            Method::Salt(_) => SALT_WATCH_MIN_S,
            _ => WATCH_MIN_S,
        };
        if watch_s < least_s {
            return Err(PlanError::WatchTooShort { watch_s, least_s });
        }
        Ok(Self { channel, method, watch_s })
    }

    /// The channel that is checked.
    #[must_use]
    pub fn channel(&self) -> Channel {
        self.channel
    }

    /// What it is checked against.
    #[must_use]
    pub fn method(&self) -> Method {
        self.method
    }

    /// For how long it must be at rest, in seconds.
    #[must_use]
    pub fn watch_s(&self) -> u32 {
        self.watch_s
    }

    /// Whether a humidity is checked.
    #[must_use]
    pub fn is_humidity(&self) -> bool {
        self.channel == Channel::Rh
    }

    /// The method as the job file has it.
    #[must_use]
    pub fn check_method(&self) -> CheckMethod {
        match self.method {
            Method::Ice => CheckMethod::Ice,
            Method::Salt(_) => CheckMethod::Salt,
            Method::Comparison(_) => CheckMethod::Comparison,
        }
    }

    /// The limit of the error.
    #[must_use]
    pub fn limit(&self) -> LimitId {
        if self.is_humidity() {
            LimitId::ProbeRhErrorMax
        } else {
            LimitId::ProbeTemperatureErrorMax
        }
    }

    /// The longest sampling interval, in seconds, with which the watched time holds four samples.
    #[must_use]
    pub fn interval_max_s(&self) -> u16 {
        u16::try_from(self.watch_s / 3).unwrap_or(u16::MAX)
    }

    /// What the probe should read, in °C or %RH, with the jar at this temperature in °C.
    ///
    /// # Errors
    /// [`OutOfRange`] when the salt is not known at that temperature or the jar should not be used at
    /// it.
    pub fn reference(&self, temperature_c: Option<f64>) -> Result<f64, OutOfRange> {
        match self.method {
            Method::Ice => Ok(ICE_POINT_C),
            Method::Comparison(reference) => Ok(reference),
            Method::Salt(salt) => {
                let temperature_c = JAR_C.check(temperature_c.unwrap_or(f64::NAN))?;
                salt.rh_pct(temperature_c)
            }
        }
    }

    /// What counts as rest for this check.
    #[must_use]
    pub fn settings(&self) -> Settings {
        // Within the plausible range it does not matter how warm the jar is: the salts move by a few
        // percent at most.
        let reference = self.reference(Some(20.0)).unwrap_or_default();
        let (spread, error, highest) = if self.is_humidity() {
            // More than 100 % is dew on the probe.
            (RH_SPREAD_MAX, RH_ERROR_PLAUSIBLE_PCT, 100.0)
        } else {
            (TEMPERATURE_SPREAD_MAX, TEMPERATURE_ERROR_PLAUSIBLE_K, f64::INFINITY)
        };
        let low = hundredths(reference - error);
        let high = hundredths((reference + error).min(highest));
        Settings {
            channel: self.channel,
            watch_s: self.watch_s,
            reading_spread_max: spread,
            temperature_spread_max: matches!(self.method, Method::Salt(_))
                .then_some(TEMPERATURE_SPREAD_MAX),
            plausible: low..=high,
        }
    }
}

/// In hundredths, for values that a job file can hold.
fn hundredths(value: f64) -> i32 {
    // `as` saturates, and quantities are bounded when they are read.
    #[allow(clippy::cast_possible_truncation)]
    let value = (value * 100.0).round() as i32;
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan(channel: Channel, method: Method) -> Result<Plan, PlanError> {
        Plan::new(channel, method, 900)
    }

    #[test]
    fn ice_is_for_temperature_and_salt_for_humidity() {
        let nacl = Method::Salt(Salt::SodiumChloride);
        for channel in [Channel::Slab, Channel::Air, Channel::Supply] {
            assert!(plan(channel, Method::Ice).is_ok());
            assert_eq!(plan(channel, nacl), Err(PlanError::WrongMethod));
            assert!(plan(channel, Method::Comparison(20.0)).is_ok());
        }
        assert_eq!(plan(Channel::Rh, Method::Ice), Err(PlanError::WrongMethod));
        assert!(plan(Channel::Rh, nacl).is_ok());
        assert!(plan(Channel::Rh, Method::Comparison(45.0)).is_ok());
    }

    #[test]
    fn a_salt_that_is_not_known_well_is_refused() {
        for salt in Salt::ALL {
            let refused = plan(Channel::Rh, Method::Salt(salt)).is_err();
            assert_eq!(refused, salt == Salt::MagnesiumNitrate, "{}", salt.formula());
        }
    }

    /// Greenspan 1977, table: NaCl 75.47 % at 20 °C and 75.29 % at 25 °C; LiCl 11.31 % at 20 °C.
    #[test]
    fn references_are_those_of_the_table() {
        let of = |salt| plan(Channel::Rh, Method::Salt(salt)).unwrap();
        let nacl = of(Salt::SodiumChloride);
        assert!((nacl.reference(Some(20.0)).unwrap() - 75.47).abs() < 0.01);
        assert!((nacl.reference(Some(25.0)).unwrap() - 75.29).abs() < 0.01);
        let licl = of(Salt::LithiumChloride);
        assert!((licl.reference(Some(20.0)).unwrap() - 11.31).abs() < 0.01);
        assert_eq!(plan(Channel::Slab, Method::Ice).unwrap().reference(None), Ok(0.0));
    }

    #[test]
    fn a_jar_too_cold_or_too_warm_is_refused_with_the_reason() {
        let of = |salt| plan(Channel::Rh, Method::Salt(salt)).unwrap();
        let nacl = of(Salt::SodiumChloride);
        assert!(nacl.reference(Some(5.0)).is_ok() && nacl.reference(Some(40.0)).is_ok());
        for jar_c in [Some(4.99), Some(40.01), Some(f64::NAN), None] {
            let error = nacl.reference(jar_c).unwrap_err();
            assert_eq!((error.what, error.low, error.high), ("temperature of the jar", 5.0, 40.0));
        }
        // K2CO3 is known up to 30 °C only.
        let error = of(Salt::PotassiumCarbonate).reference(Some(31.0)).unwrap_err();
        assert_eq!((error.what, error.high), ("temperature of the salt", 30.0));
    }

    #[test]
    fn bounds_follow_the_method() {
        let nacl = plan(Channel::Rh, Method::Salt(Salt::SodiumChloride)).unwrap().settings();
        assert_eq!((nacl.reading_spread_max, nacl.temperature_spread_max), (50, Some(10)));
        assert!(nacl.plausible.contains(&5550) && nacl.plausible.contains(&9546));
        assert!(!nacl.plausible.contains(&5546) && !nacl.plausible.contains(&9550));
        let ice = plan(Channel::Slab, Method::Ice).unwrap().settings();
        assert_eq!((ice.reading_spread_max, ice.temperature_spread_max), (10, None));
        assert_eq!(ice.plausible, -500..=500);
        let damp = plan(Channel::Rh, Method::Salt(Salt::PotassiumSulfate)).unwrap().settings();
        assert_eq!(*damp.plausible.end(), 10_000, "more is dew");
    }

    #[test]
    fn the_watched_time_has_a_floor_and_sets_the_interval() {
        let salt = Method::Salt(Salt::SodiumChloride);
        assert_eq!(
            Plan::new(Channel::Rh, salt, 899),
            Err(PlanError::WatchTooShort { watch_s: 899, least_s: 900 })
        );
        assert!(Plan::new(Channel::Slab, Method::Ice, 299).is_err());
        assert_eq!(Plan::new(Channel::Slab, Method::Ice, 300).unwrap().interval_max_s(), 100);
        let days = Plan::new(Channel::Slab, Method::Ice, u32::MAX).unwrap();
        assert_eq!(days.interval_max_s(), u16::MAX);
    }
}
