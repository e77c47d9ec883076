//! Whether a probe has come to rest, told from the samples that its logger takes.

use crate::job::Channel;
use glueday_types::{Absent, Sample};
pub use series::DRIFT_SHARE;
use series::Series;
use std::collections::VecDeque;
use std::ops::RangeInclusive;

/// The fewest samples that the watched time must hold.
///
/// Two always lie on a line and three can turn back by chance; four are the fewest that show rest. Common practice, no source.
pub const SAMPLES_MIN: usize = 4;

/// What counts as rest. Readings are in hundredths of a degree Celsius or of a percent, as the logger
/// stores them, so that they are exactly at a bound or not.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settings {
    /// The channel that is checked.
    pub channel: Channel,
    /// For how long it must be at rest, in seconds.
    pub watch_s: u32,
    /// How far the readings of that time may lie apart, in hundredths.
    pub reading_spread_max: i32,
    /// How far the air temperature beside a humidity probe may move in that time, in hundredths;
    /// `None` when it does not matter.
    pub temperature_spread_max: Option<i32>,
    /// Readings that a probe can have which is where it should be, in hundredths.
    pub plausible: RangeInclusive<i32>,
}

/// Follows the samples of a logger until a probe is at rest.
///
/// # The rule
/// The samples of the watched time are the latest one, all before it up to the watched time, and the
/// one at or before its start. They have to be of one boot, at least [`SAMPLES_MIN`], without a missing
/// reading and without a gap of more than half of the watched time; and neither the readings nor, for a
/// salt, the air temperature beside the sensor may move: their spread (highest less lowest) keeps to its
/// bound, and the drift from end to end of the straight line fitted to them (least squares) to three
/// quarters of that bound.
///
/// # Why the bounds are what they are
/// A humidity sensor that is 1 K warmer than a jar of NaCl at 20 °C reads 70.95 % instead of 75.47 %
/// ([`apparent_rh_pct`](crate::physics::salt::apparent_rh_pct)): 4.5 %RH for each kelvin. So 0.1 K of
/// movement costs 0.45 %RH, about as much as the 0.5 %RH that the reading itself may move; together they
/// stay well within the 3 %RH at which a probe is found wanting. Over the usual 15 min, three
/// quarters of 0.1 K are 0.3 K an hour: a jar that follows the room a quarter of an hour late is then
/// off by less than 0.1 K.
/// For temperature probes 0.1 K is a fifth of the 0.5 K at which one is found wanting.
///
/// # Why two figures
/// The spread catches a swing that comes back. But it hangs on two samples, and each minute is another
/// chance for their noise to hide a drift: with noise of 0.01 K, a drift of 0.125 K (0.5 K an hour)
/// has a spread within 0.1 K sooner or later. The line hangs on all samples: of 16 with that noise, its
/// drift is known to 0.009 K (standard deviation, sqrt(12 / n) times that of the noise), and 0.125 K is
/// five of them above 0.075 K. Noise is not mistaken for a drift: a line fitted to evenly spaced values
/// drifts by 1.5 times their spread at most, so that noise within half of a bound is rest in whatever
/// order it comes, and noise up to the bound in nearly any.
#[derive(Clone, Debug)]
pub struct Judge {
    settings: Settings,
    last: Option<(u32, u32)>,
    points: VecDeque<Point>,
}

#[derive(Clone, Copy, Debug)]
struct Point {
    at_s: u32,
    reading: i32,
    temperature: Option<i32>,
}

/// What is known after a sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum State {
    /// Not at rest yet, or not for long enough.
    Watching(Window),
    /// At rest over the watched time.
    Steady(Window),
    /// Watching started over.
    Restarted(Restart),
}

/// Why watching started over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Restart {
    /// The logger started again.
    Rebooted,
    /// So many seconds went by without a sample.
    Gap(u32),
    /// A channel has no reading.
    Absent(Channel, Absent),
}

/// The samples that are looked at: those of the watched time, or of as much of it as has passed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Window {
    /// How many.
    pub samples: usize,
    /// Seconds from the first of them to the last.
    pub span_s: u32,
    /// Seconds up to the last of them over which all is within the bounds.
    pub quiet_s: u32,
    /// The last reading, in °C or %RH.
    pub latest: f64,
    /// Mean of the readings.
    pub reading: f64,
    /// Highest less lowest reading, in K or %RH.
    pub reading_spread: f64,
    /// Drift of the fitted line from end to end, in K or %RH.
    pub reading_drift: f64,
    /// Mean of the air temperature beside a humidity probe in a jar, in °C.
    pub temperature_c: Option<f64>,
    /// Highest less lowest of them, in K.
    pub temperature_spread_k: Option<f64>,
    /// Drift of the fitted line from end to end, in K.
    pub temperature_drift_k: Option<f64>,
    /// Whether the last reading is one of a probe that is where it should be.
    pub plausible: bool,
}

impl Judge {
    /// A judge that has seen nothing.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        Self { settings, last: None, points: VecDeque::new() }
    }

    /// Takes the latest sample of a boot. The same one again changes nothing.
    pub fn feed(&mut self, boot: u32, sample: &Sample) -> State {
        let last = self.last.replace((boot, sample.at_s));
        if last == self.last {
            return self.state();
        }
        let point = match self.point(sample) {
            Ok(point) => point,
            Err(restart) => {
                self.points.clear();
                return State::Restarted(restart);
            }
        };
        // Seconds since boot never run backwards.
        let rebooted = last.is_some_and(|(of, at_s)| of != boot || at_s > sample.at_s);
        let gap_s = self.points.back().map(|before| sample.at_s.saturating_sub(before.at_s));
        let restart = match gap_s {
            _ if rebooted => Some(Restart::Rebooted),
            Some(gap_s) if gap_s > self.settings.watch_s / 2 => Some(Restart::Gap(gap_s)),
            _ => None,
        };
        if restart.is_some() {
            self.points.clear();
        }
        self.points.push_back(point);
        let from_s = point.at_s.checked_sub(self.settings.watch_s);
        while self.points.get(1).is_some_and(|second| Some(second.at_s) <= from_s) {
            self.points.pop_front();
        }
        restart.map_or_else(|| self.state(), State::Restarted)
    }

    /// The reading that matters and, for a salt, the temperature beside it.
    fn point(&self, sample: &Sample) -> Result<Point, Restart> {
        let absent = |channel| move |reason| Restart::Absent(channel, reason);
        let air = sample.air.map(|air| i32::from(air.0)).map_err(absent(Channel::Air));
        let channel = self.settings.channel;
        let reading = match channel {
            Channel::Slab => sample.slab.map(|t| i32::from(t.0)).map_err(absent(channel))?,
            Channel::Air => air?,
            Channel::Rh => sample.air_rh.map(|rh| i32::from(rh.0)).map_err(absent(channel))?,
            Channel::Supply => sample.supply.map(|t| i32::from(t.0)).map_err(absent(channel))?,
        };
        let temperature = match self.settings.temperature_spread_max {
            Some(_) => Some(air?),
            None => None,
        };
        Ok(Point { at_s: sample.at_s, reading, temperature })
    }

    fn state(&self) -> State {
        let Some(last) = self.points.back() else { return State::Watching(Window::default()) };
        let Settings { reading_spread_max, temperature_spread_max, ref plausible, .. } =
            self.settings;
        let (mut readings, mut temperatures) = (Series::default(), Series::default());
        let (mut quiet, mut quiet_s, mut all_plausible) = (false, 0, true);
        for point in self.points.iter().rev() {
            let ago_s = last.at_s.saturating_sub(point.at_s);
            readings.add(ago_s, point.reading);
            if let Some(temperature) = point.temperature {
                temperatures.add(ago_s, temperature);
            }
            all_plausible &= plausible.contains(&point.reading);
            quiet = all_plausible
                && readings.rests_within(reading_spread_max)
                && temperature_spread_max.is_none_or(|most| temperatures.rests_within(most));
            if quiet {
                quiet_s = ago_s;
            }
        }
        let jar = temperature_spread_max.map(|_| &temperatures);
        let window = Window {
            samples: self.points.len(),
            span_s: readings.span_s,
            quiet_s,
            latest: f64::from(last.reading) / 100.0,
            reading: readings.mean().unwrap_or_default(),
            reading_spread: f64::from(readings.spread()) / 100.0,
            reading_drift: readings.drift(),
            temperature_c: temperatures.mean(),
            temperature_spread_k: jar.map(|jar| f64::from(jar.spread()) / 100.0),
            temperature_drift_k: jar.map(|jar| jar.drift()),
            plausible: plausible.contains(&last.reading),
        };
        let enough = window.samples >= SAMPLES_MIN && window.span_s >= self.settings.watch_s;
        if quiet && enough { State::Steady(window) } else { State::Watching(window) }
    }
}

mod series;
#[cfg(test)]
mod tests;
