//! "After gluing: the temperature on top of the wood, for each sample since, from slab surface, air and
//! the thermal resistance of the wood. What comes through the wood is what its surface gives off: (slab -
//! tF) / R = 8.92 (tF - ti)^1.1 W/m² (EN 1264-2, second hand). Without the resistance there is a proof
//! all the same when slab and air both kept under the limit. Else there is no evidence. The limit is the
//! lower of those for wood and for any floor, lowered by the expanded uncertainty from those of the
//! probes."

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::{Outcome, Step};
use proptest::prelude::*;

use super::agree::{Floors, agree, is_fresh, runs};
use super::assess_world::{HOUR, Reads};
use super::case::{
    Shape, any_early_moment, any_log, any_moment, bare_job, limits, readings, stamp,
};

const GAP_S: i64 = HOUR;
const MOST_C: f64 = 26.0;
/// Of slab and air, K.
const U: (f64, f64) = (0.5, 0.3);
/// 15 mm at 0.15 W/mK.
const RESISTANCE: f64 = 0.1;

const SHAPE: Shape = Shape {
    good: [(2000, 2300), (2000, 2300), (4000, 4000), (2000, 2000)],
    edges: [
        &[1800, 2549, 2550, 2600, 2601, 2700, 2850, 3000, 3300, 3500],
        &[1700, 2400, 2549, 2550, 2570, 2571, 2650, 2700],
        &[4000],
        &[2000],
    ],
    intervals_s: &[600, 1800],
    samples: (1, 120),
};

/// By halving: the surface at which as much comes through the wood as goes to the room. A floor that is
/// colder than the room takes 7 W/m²K from it (ISO 11855-2, from memory).
fn wood_c(slab_c: f64, air_c: f64) -> f64 {
    let flux = |over_k: f64| if over_k > 0.0 { 8.92 * over_k.powf(1.1) } else { 7.0 * over_k };
    let (mut low, mut high) = (slab_c.min(air_c), slab_c.max(air_c));
    for _ in 0..80 {
        let middle = (low + high) / 2.0;
        let is_too_warm = flux(middle - air_c) * RESISTANCE > slab_c - middle;
        if is_too_warm { high = middle } else { low = middle }
    }
    (low + high) / 2.0
}

/// The warmest that the wood can be, and its uncertainty.
fn warm(slab_c: f64, air_c: Option<f64>, insulates: bool) -> (f64, f64) {
    match air_c {
        Some(air_c) if insulates => {
            let here = wood_c(slab_c, air_c);
            let by_slab = wood_c(slab_c + U.0, air_c) - here;
            let by_air = wood_c(slab_c, air_c + U.1) - here;
            (here, by_slab.hypot(by_air))
        }
        Some(air_c) if air_c + U.1 > slab_c + U.0 => (air_c, U.1),
        _ => (slab_c, U.0),
    }
}

#[test]
fn wood_surface() {
    let case = (any_log(SHAPE), any_moment(), any_early_moment(), any::<bool>());
    let floors = Floors { met: 20, not_met: 8, no_evidence: 20 };
    agree(case, floors, |(log, at, glued, insulates)| {
        let (now_s, glued_s) = (log.at(*at), log.at(*glued));
        let mut job = bare_job()
            + &limits(&[("surface-max", "26 C")])
            + &format!("[milestones]\nglue-started = {}\n", stamp(glued_s))
            + "[[probe]]\nchannel = \"slab\"\nuncertainty = \"0.5 K\"\n\
               [[probe]]\nchannel = \"air\"\nuncertainty = \"0.3 K\"\n";
        if *insulates {
            job += "[wood]\nthickness = \"15 mm\"\nconductivity = \"0.15 W/mK\"\n";
        }
        let found = log.finding("surface-max", &job, Step::Traffic, now_s);
        let samples = log.until(now_s);
        let is_known = [readings(&samples, |s| s.slab), readings(&samples, |s| s.air)]
            .iter()
            .all(|of| is_fresh(of, now_s, GAP_S));
        let since = samples.iter().filter(|s| s.time_s >= glued_s);
        let of = |s: &Reads| Some((s.time_s, warm(s.slab?, s.air, *insulates)));
        let course: Vec<(i64, (f64, f64))> = since.filter_map(of).collect();
        let most = course.iter().map(|(_, (c, guard))| c + guard).max_by(f64::total_cmp);
        let Some(most_c) = most.filter(|_| is_known && glued_s <= now_s) else {
            prop_assert_eq!(found.outcome, NoEvidence);
            prop_assert!(found.figure.is_none(), "{found:#?}");
            return Ok(NoEvidence);
        };
        let outcome: Outcome = match (most_c <= MOST_C + 1e-9, insulates) {
            (true, _) => Met,
            (false, true) => NotMet,
            (false, false) => NoEvidence,
        };
        // Within the last digits of the two ways to solve the equation either may be right.
        if (most_c - MOST_C).abs() > 1e-6 || !insulates {
            prop_assert_eq!(found.outcome, outcome, "{} {:#?}", most_c, found);
        }
        let figure = found.figure.as_ref().expect("a figure");
        let shown_c = figure.observed + figure.guard;
        prop_assert!((shown_c - most_c).abs() < 1e-5, "{shown_c} {most_c} {found:#?}");
        // The first of equal ones is shown.
        let worst = course.iter().find(|(_, (c, guard))| c + guard > most_c - 1e-9);
        let (c, _) = worst.map_or((0.0, 0.0), |(_, warm)| *warm);
        prop_assert!((figure.observed - c).abs() < 1e-5, "{c} {found:#?}");
        let warned =
            found.warnings.iter().any(|w| w.starts_with("the slab under the wood reached"));
        let hottest = course.iter().filter_map(|(time_s, _)| {
            samples.iter().find(|s| s.time_s == *time_s).and_then(|s| s.slab)
        });
        let is_hot = hottest.fold(f64::MIN, f64::max) > MOST_C;
        if found.outcome == Met && log.samples.windows(2).all(|w| w[0].time_s < w[1].time_s) {
            prop_assert_eq!(warned, is_hot, "{:#?}", found);
        }
        if found.outcome == NotMet {
            let bound_c = figure.bound;
            let near = course.iter().any(|(_, (c, _))| (c - bound_c).abs() < 1e-5);
            let broken: Vec<(i64, i64)> = runs(&course, |(c, _)| c - bound_c, |(c, _)| c)
                .iter()
                .map(|r| (r.0, r.1))
                .collect();
            let spans: Vec<_> = found.broken.iter().map(|b| (b.from_s, b.to_s)).collect();
            prop_assert!(near || spans == broken, "{spans:?}, not {broken:?}");
        } else {
            prop_assert_eq!(&found.broken, &Vec::new());
        }
        Ok(found.outcome)
    });
}
