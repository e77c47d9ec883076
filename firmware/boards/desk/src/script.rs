//! A climate from a few keyframes.

use crate::climate::Climate;
use glueday_firmware::Readings;
use glueday_types::{Absent, CentiCelsius, CentiPercent, Probe, Reading};

/// The climate at one moment, without noise and daily swing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Keyframe {
    /// Seconds since the start of the scenario.
    pub at_s: u64,
    /// Slab surface temperature in °C.
    pub slab_c: f64,
    /// Air temperature in °C.
    pub air_c: f64,
    /// Air relative humidity in %.
    pub air_rh_pct: f64,
    /// Radiant supply temperature in °C.
    pub supply_c: f64,
}

/// How one channel moves around its keyframes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Channel {
    /// Half of the difference between the highest and the lowest value of a day, in the unit of the
    /// channel. The highest is at 15:00 of the scenario's day, the lowest at 03:00; negative turns
    /// that round, as for humidity.
    pub swing: f64,
    /// Standard deviation of the probe's noise, in the unit of the channel.
    pub noise_sd: f64,
}

/// A span of time in which a probe has no readings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Which probe.
    pub probe: Probe,
    /// Seconds since the start of the scenario.
    pub from_s: u64,
    /// Seconds since the start of the scenario, not included.
    pub to_s: u64,
    /// Why it has none.
    pub reason: Absent,
}

/// Keyframes with straight lines between them, a daily swing, noise and faults.
///
/// Before the first and behind the last keyframe the climate stays as it is there; without any
/// keyframe no probe is fitted.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Script {
    /// In order of time.
    pub keyframes: Vec<Keyframe>,
    /// Slab surface temperature.
    pub slab: Channel,
    /// Air temperature.
    pub air: Channel,
    /// Air relative humidity.
    pub air_rh: Channel,
    /// Radiant supply temperature.
    pub supply: Channel,
    /// Faults; where two overlap, the first in the list holds.
    pub faults: Vec<Fault>,
    /// Another seed gives other noise.
    pub seed: u64,
}

const DAY_S: u64 = 86_400;
/// The warmest time of a day.
const WARMEST_S: u64 = 15 * 3600;

impl Script {
    /// A heated room that stays as it is: slab 22 °C, air 20 °C, 45 %, supply 28 °C.
    #[must_use]
    pub fn steady(seed: u64) -> Self {
        let keyframe =
            Keyframe { at_s: 0, slab_c: 22.0, air_c: 20.0, air_rh_pct: 45.0, supply_c: 28.0 };
        Self {
            keyframes: vec![keyframe],
            slab: Channel { swing: 0.2, noise_sd: 0.01 },
            air: Channel { swing: 0.6, noise_sd: 0.04 },
            air_rh: Channel { swing: -1.5, noise_sd: 0.08 },
            supply: Channel { swing: 0.5, noise_sd: 0.15 },
            faults: Vec::new(),
            seed,
        }
    }

    /// The climate without noise and swing.
    fn line(&self, at_s: u64) -> Option<Keyframe> {
        let behind = self.keyframes.partition_point(|frame| frame.at_s <= at_s);
        let after = self.keyframes.get(behind);
        let before = behind.checked_sub(1).and_then(|i| self.keyframes.get(i));
        let (Some(a), Some(b)) = (before, after) else { return before.or(after).copied() };
        // Seconds of a scenario are exact in an f64.
        #[allow(clippy::cast_precision_loss)]
        let part = (at_s - a.at_s) as f64 / (b.at_s - a.at_s) as f64;
        let between = |from: f64, to: f64| from + (to - from) * part;
        Some(Keyframe {
            at_s,
            slab_c: between(a.slab_c, b.slab_c),
            air_c: between(a.air_c, b.air_c),
            air_rh_pct: between(a.air_rh_pct, b.air_rh_pct),
            supply_c: between(a.supply_c, b.supply_c),
        })
    }

    fn fault(&self, probe: Probe, at_s: u64) -> Result<(), Absent> {
        let holds =
            |fault: &&Fault| fault.probe == probe && (fault.from_s..fault.to_s).contains(&at_s);
        self.faults.iter().find(holds).map_or(Ok(()), |fault| Err(fault.reason))
    }
}

impl Climate for Script {
    fn readings(&mut self, scenario_s: u64) -> Readings {
        let Some(line) = self.line(scenario_s) else {
            let none = Absent::NotFitted;
            return Readings {
                slab: Err(none),
                air: Err(none),
                air_rh: Err(none),
                supply: Err(none),
            };
        };
        let mut noise = Noise::at(self.seed, scenario_s);
        let day = day_wave(scenario_s);
        let mut value = |line: f64, channel: Channel| {
            line + channel.swing * day + channel.noise_sd * noise.gaussian()
        };
        let slab_c = value(line.slab_c, self.slab);
        let air_c = value(line.air_c, self.air);
        let air_rh_pct = value(line.air_rh_pct, self.air_rh).max(0.0);
        let supply_c = value(line.supply_c, self.supply);
        let (slab, air, supply) = (
            self.fault(Probe::Slab, scenario_s),
            self.fault(Probe::Air, scenario_s),
            self.fault(Probe::Supply, scenario_s),
        );
        Readings {
            slab: slab.and_then(|()| temperature(slab_c)),
            air: air.and_then(|()| temperature(air_c)),
            air_rh: air.and_then(|()| humidity(air_rh_pct)),
            supply: supply.and_then(|()| temperature(supply_c)),
        }
    }
}

fn temperature(celsius: f64) -> Reading<CentiCelsius> {
    CentiCelsius::from_celsius(celsius).ok_or(Absent::OutOfRange)
}

fn humidity(percent: f64) -> Reading<CentiPercent> {
    CentiPercent::from_percent(percent).ok_or(Absent::OutOfRange)
}

/// From -1 at 03:00 to 1 at 15:00.
fn day_wave(at_s: u64) -> f64 {
    let of_day_s = u32::try_from((at_s + DAY_S - WARMEST_S) % DAY_S).unwrap_or(0);
    (f64::from(of_day_s) / 86_400.0 * std::f64::consts::TAU).cos()
}

/// Noise that depends on seed and time alone, so that a restart does not change the past.
struct Noise {
    state: u64,
}

impl Noise {
    fn at(seed: u64, at_s: u64) -> Self {
        let mut noise = Self { state: seed ^ at_s.wrapping_mul(0x9E37_79B9_7F4A_7C15) };
        // Neighbouring seeds and times are far apart behind one step.
        noise.state = noise.next();
        noise
    }

    /// SplitMix64 (Steele, Lea, Flood 2014, "Fast splittable pseudorandom number generators").
    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in (0, 1).
    fn uniform(&mut self) -> f64 {
        // 32 bits are exact in an f64.
        let high = u32::try_from(self.next() >> 32).unwrap_or(0);
        (f64::from(high) + 0.5) / 4_294_967_296.0
    }

    /// Standard normal (Box and Muller 1958).
    fn gaussian(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quiet(keyframes: Vec<Keyframe>) -> Script {
        Script { keyframes, ..Script::default() }
    }

    fn frame(at_s: u64, slab_c: f64) -> Keyframe {
        Keyframe { at_s, slab_c, air_c: 20.0, air_rh_pct: 45.0, supply_c: 30.0 }
    }

    #[test]
    fn straight_lines_between_keyframes_and_flat_beyond() {
        let mut script = quiet(vec![frame(100, 10.0), frame(200, 20.0)]);
        for (at_s, expected) in
            [(0, 1000), (100, 1000), (150, 1500), (175, 1750), (200, 2000), (900, 2000)]
        {
            assert_eq!(script.readings(at_s).slab, Ok(CentiCelsius(expected)), "at {at_s} s");
        }
    }

    #[test]
    fn the_day_is_warmest_in_the_afternoon() {
        let mut script = quiet(vec![frame(0, 20.0)]);
        script.slab.swing = 2.0;
        script.air_rh.swing = -5.0;
        assert_eq!(script.readings(15 * 3600).slab, Ok(CentiCelsius(2200)));
        assert_eq!(script.readings(3 * 3600).slab, Ok(CentiCelsius(1800)));
        assert_eq!(script.readings(15 * 3600).air_rh, Ok(CentiPercent(4000)));
    }

    #[test]
    fn noise_has_its_deviation_and_repeats() {
        let mut script = quiet(vec![frame(0, 20.0)]);
        script.slab.noise_sd = 0.5;
        let values = |script: &mut Script| -> Vec<f64> {
            (0..20_000).map(|t| script.readings(t * 600).slab.unwrap().celsius()).collect()
        };
        let first = values(&mut script);
        assert_eq!(first, values(&mut script));
        script.seed = 1;
        assert_ne!(first, values(&mut script));
        let mean = first.iter().sum::<f64>() / 20_000.0;
        let sd = (first.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 20_000.0).sqrt();
        // Five standard errors: 0.5 / sqrt(20000) = 0.0035, and 0.0025 for the deviation.
        assert!((mean - 20.0).abs() < 0.018, "mean {mean}");
        assert!((sd - 0.5).abs() < 0.013, "deviation {sd}");
    }

    #[test]
    fn faults_take_readings_away_for_their_span() {
        let mut script = quiet(vec![frame(0, 20.0)]);
        script.faults =
            vec![Fault { probe: Probe::Air, from_s: 60, to_s: 120, reason: Absent::NoAnswer }];
        assert!(script.readings(59).air.is_ok());
        let at_fault = script.readings(60);
        assert_eq!((at_fault.air, at_fault.air_rh), (Err(Absent::NoAnswer), Err(Absent::NoAnswer)));
        assert!(at_fault.slab.is_ok());
        assert!(script.readings(120).air_rh.is_ok());
    }

    #[test]
    fn no_keyframes_mean_no_probes() {
        assert_eq!(Script::default().readings(0).supply, Err(Absent::NotFitted));
    }
}
