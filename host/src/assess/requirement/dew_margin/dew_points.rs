//! Dew points of many samples, and how high they can be at most.

use crate::assess::Scene;
use crate::history::Channel;
use crate::memo::Memo;
use crate::physics::OutOfRange;
use crate::physics::air::{
    AIR_C, RH_PCT, dew_point_c, magnus_of_air, magnus_of_rh, magnus_over_water_c,
    magnus_slope_of_air, magnus_slope_over_water_k,
};

/// Dew points of a log with the expanded uncertainty of slab surface minus dew point in K: the root of
/// the sum of squares of what each probe's uncertainty does to it (JCGM 100, uncorrelated).
pub(super) struct DewPoints {
    of_slab: f64,
    of_air: f64,
    of_rh: f64,
    /// For an air temperature: its part of the dew point, as it reads and with the uncertainty added.
    by_air: Memo<[Part; 2]>,
    /// For a humidity: its part of the dew point as it reads and, within what a probe can tell, as it
    /// reads and with the uncertainty added.
    by_rh: Memo<[Part; 3]>,
}

/// A plane over air temperature and humidity, in °C.
#[derive(Clone, Copy)]
pub(super) struct Plane {
    cold_c: f64,
    dry_pct: f64,
    /// At these two.
    damp_c: f64,
    /// Its rise for each K, and for each %RH.
    by_k: f64,
    by_pct: f64,
}

impl Plane {
    pub(super) fn at(&self, air_c: f64, rh_pct: f64) -> f64 {
        let (over_k, over_pct) = (air_c - self.cold_c, rh_pct - self.dry_pct);
        self.damp_c + self.by_k * over_k + self.by_pct * over_pct
    }
}

/// Within what a probe can tell, in %.
const RH_TOLD_PCT: [f64; 2] = [0.5, 100.0];

/// `None` beyond the formula.
type Part = Option<f64>;

impl DewPoints {
    pub(super) fn new(scene: &Scene<'_>) -> Self {
        Self {
            of_slab: scene.uncertainty(Channel::Slab),
            of_air: scene.uncertainty(Channel::Air),
            of_rh: scene.uncertainty(Channel::AirRh),
            by_air: Memo::new(),
            by_rh: Memo::new(),
        }
    }

    /// What dew point and uncertainty come to together at most, in °C, with air and humidity between
    /// these ends.
    pub(super) fn bound(&self, air: [f64; 2], rh: [f64; 2]) -> Option<f64> {
        let [[_, warm_c], [_, damp_pct]] = [air, rh];
        Some(self.plane(air, rh)?.at(warm_c, damp_pct))
    }

    /// The plane over air and humidity between these ends that is nowhere below dew point and
    /// uncertainty together; `None` when one of them has no dew point.
    ///
    /// The dew point rises with both, and the steeper the higher it is. The logarithm of the humidity
    /// rises by less than its share, and the part of the air the less the warmer it is.
    pub(super) fn plane(
        &self,
        [cold_c, warm_c]: [f64; 2],
        [dry_pct, damp_pct]: [f64; 2],
    ) -> Option<Plane> {
        let Self { of_slab, of_air, of_rh, .. } = *self;
        // Not to be relied on for an uncertainty that cannot be.
        [of_slab, of_air, of_rh].iter().all(|u| (0.0..=10.0).contains(u)).then_some(())?;
        let [told_pct, _] = RH_TOLD_PCT;
        RH_PCT.check(damp_pct).ok().filter(|_| dry_pct >= told_pct)?;
        AIR_C.check(warm_c).ok()?;
        let lowest = magnus_of_rh(dry_pct).ok()? + magnus_of_air(cold_c).ok()?;
        // By how much the exponent rises for each K and each %RH at most.
        let (by_k, by_pct) = (magnus_slope_of_air(cold_c), 1.0 / dry_pct);
        // With the uncertainties, and far from where the formula has its pole.
        let rises = by_k * (warm_c - cold_c + of_air) + by_pct * (damp_pct - dry_pct + of_rh);
        let highest = Some(lowest + rises).filter(|highest| *highest < 8.0)?;
        let slope = magnus_slope_over_water_k(highest);
        let (by_k, by_pct) = (slope * by_k, slope * by_pct);
        let (of_air, of_rh) = (by_k * of_air, by_pct * of_rh);
        let guard = (of_slab * of_slab + of_air * of_air + of_rh * of_rh).sqrt();
        let damp_c = magnus_over_water_c(lowest) + guard;
        Some(Plane { cold_c, dry_pct, damp_c, by_k, by_pct })
    }

    pub(super) fn of(&mut self, air_c: f64, rh_pct: f64) -> Result<(f64, f64), OutOfRange> {
        let Self { of_slab, of_air, of_rh, .. } = *self;
        let [air, warmer] = self
            .by_air
            .get(air_c, || [air_c, air_c + of_air].map(|air_c| magnus_of_air(air_c).ok()));
        let [read, rh, damper] = self.by_rh.get(rh_pct, || {
            let [low, high] = RH_TOLD_PCT;
            let told = [rh_pct, rh_pct + of_rh].map(|rh_pct| rh_pct.clamp(low, high));
            let [rh, damper] = told;
            [rh_pct, rh, damper].map(|rh_pct| magnus_of_rh(rh_pct).ok())
        });
        let dew = |air: Part, rh: Part| Some(magnus_over_water_c(rh? + air?));
        let Some(dew_c) = dew(air, read) else {
            // Only to say what is wrong.
            return dew_point_c(air_c, rh_pct).map(|dew_c| (dew_c, of_slab));
        };
        let here = dew(air, rh).unwrap_or(air_c);
        let by_air = dew(warmer, rh).map_or(0.0, |there| there - here);
        let by_rh = dew(air, damper).map_or(0.0, |there| there - here);
        Ok((dew_c, (of_slab * of_slab + by_air * by_air + by_rh * by_rh).sqrt()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// In dry and damp air, for wide and narrow stretches and for any uncertainty that a probe has.
        #[test]
        fn no_dew_point_is_above_its_plane(
            ends in ((-40.0..60.0_f64, 0.0..8.0_f64), (0.3..120.0_f64, 0.0..30.0_f64)),
            at in (0.0..=1.0_f64, 0.0..=1.0_f64),
            uncertainties in (0.0..2.0_f64, 0.0..2.0_f64, 0.0..6.0_f64),
        ) {
            let ((cold_c, over_k), (dry_pct, over_pct)) = ends;
            let (warm_c, damp_pct) = ((cold_c + over_k).min(60.0), (dry_pct + over_pct).min(120.0));
            let (of_slab, of_air, of_rh) = uncertainties;
            let mut dew_points =
                DewPoints { of_slab, of_air, of_rh, by_air: Memo::new(), by_rh: Memo::new() };
            let air_c = cold_c + at.0 * (warm_c - cold_c);
            let rh_pct = dry_pct + at.1 * (damp_pct - dry_pct);
            let (dew_c, guard) = dew_points.of(air_c, rh_pct).expect("within the formula");
            let (air, rh) = ([cold_c, warm_c], [dry_pct, damp_pct]);
            // Only the driest air is left out, and what is too near to the pole.
            let Some(plane) = dew_points.plane(air, rh) else {
                prop_assert!(dry_pct < 0.5 || of_rh / dry_pct + over_pct / dry_pct > 4.0);
                return Ok(());
            };
            let at_most_c = plane.at(air_c, rh_pct);
            prop_assert!(dew_c + guard <= at_most_c + 1e-9, "{dew_c} {guard} {at_most_c}");
            let bound_c = dew_points.bound(air, rh).expect("as the plane");
            prop_assert!(at_most_c <= bound_c + 1e-9, "{at_most_c} {bound_c}");
        }
    }

    #[test]
    fn a_stretch_with_a_reading_that_has_no_dew_point_has_no_bound() {
        let (of_slab, of_air, of_rh) = (0.5, 0.5, 3.0);
        let dew_points =
            DewPoints { of_slab, of_air, of_rh, by_air: Memo::new(), by_rh: Memo::new() };
        for (air, rh) in [
            ([-40.01, 20.0], [40.0, 50.0]),
            ([20.0, 60.01], [40.0, 50.0]),
            ([20.0, 21.0], [0.0, 50.0]),
            ([20.0, 21.0], [40.0, 120.01]),
        ] {
            assert!(dew_points.bound(air, rh).is_none(), "{air:?} {rh:?}");
        }
        assert!(dew_points.bound([20.0, 21.0], [40.0, 50.0]).is_some());
        let odd = DewPoints { of_rh: -1.0, ..dew_points };
        assert!(odd.bound([20.0, 21.0], [40.0, 50.0]).is_none());
    }
}
