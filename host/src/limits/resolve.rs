//! Bringing the layers together.

use std::cmp::Ordering;

use serde::Serialize;

use super::Limits;
use super::figure::Status;
use super::id::{Bound, LimitId, LimitUnit};
use crate::job::{Job, LimitOverride};
use crate::quantity::Units;

mod sheets;

/// Where a value comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Layer {
    /// Shipped with the program.
    Default,
    /// A product data sheet in the job.
    DataSheet(Sheet),
    /// Set by the job, with a reason.
    Override,
}

/// Whose data sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sheet {
    /// The wood floor.
    Wood,
    /// The moisture barrier.
    Barrier,
    /// The adhesive.
    Adhesive,
}

/// A limit as it applies to a job.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct ResolvedLimit {
    /// Which limit.
    pub id: LimitId,
    /// The value, in `unit`.
    pub value: f64,
    /// Its unit.
    pub unit: LimitUnit,
    /// How it binds.
    pub bound: Bound,
    /// Where the value comes from.
    pub layer: Layer,
    /// The source in words: the publication, the product, or "job file".
    pub source: String,
    /// How well the source is known; `None` unless the value is a shipped default.
    pub status: Option<Status>,
    /// The written reason of an override.
    pub reason: Option<String>,
    /// An override that asks for less than the other layers do.
    pub loosened: bool,
    /// The values that gave way to this one, the strictest first.
    pub displaced: Vec<Passed>,
}

/// A value that another one displaced.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Passed {
    /// The value, in the limit's unit.
    pub value: f64,
    /// Where it comes from.
    pub layer: Layer,
    /// The source in words.
    pub source: String,
    /// How well the source is known; `None` unless the value is a shipped default.
    pub status: Option<Status>,
}

/// All limits as they apply to a job.
#[derive(Clone, Debug, PartialEq)]
pub struct ResolvedLimits {
    // In the order of `LimitId::ALL`, so that an id's discriminant is its place.
    limits: Vec<Option<ResolvedLimit>>,
}

impl Limits {
    /// Brings the layers together for a job.
    #[must_use]
    pub fn resolve(job: &Job) -> ResolvedLimits {
        let sheets = sheets::values(job);
        let limits = LimitId::ALL
            .iter()
            .map(|&id| {
                let shipped = id.shipped(job.site.profile).figure.map(|figure| Passed {
                    value: figure.value,
                    layer: Layer::Default,
                    source: figure.source.to_owned(),
                    status: Some(figure.status),
                });
                let of_sheets = sheets.iter().filter(|(of, _)| *of == id).map(|(_, v)| v.clone());
                let candidates = shipped.into_iter().chain(of_sheets).collect();
                let set = job.limit_overrides.iter().find(|set| set.id == id);
                resolve_one(id, candidates, set)
            })
            .collect();
        ResolvedLimits { limits }
    }
}

/// The strictest of the candidates, unless the job sets the value itself.
fn resolve_one(
    id: LimitId,
    mut candidates: Vec<Passed>,
    set: Option<&LimitOverride>,
) -> Option<ResolvedLimit> {
    let bound = id.bound();
    // Stable, so that of equal values the default, which comes first, is the one named.
    candidates.sort_by(|a, b| match (bound.is_stricter(a.value, b.value), a.value == b.value) {
        (_, true) => Ordering::Equal,
        (true, _) => Ordering::Less,
        (false, _) => Ordering::Greater,
    });
    let strictest = candidates.first().map(|passed| passed.value);
    let (winner, reason) = match set {
        Some(set) => {
            let winner = Passed {
                value: set.value,
                layer: Layer::Override,
                source: "job file".to_owned(),
                status: None,
            };
            (winner, Some(set.reason.clone()))
        }
        None if candidates.is_empty() => return None,
        None => (candidates.remove(0), None),
    };
    Some(ResolvedLimit {
        id,
        value: winner.value,
        unit: id.unit(),
        bound,
        layer: winner.layer,
        source: winner.source,
        status: winner.status,
        loosened: reason.is_some()
            && strictest.is_some_and(|strictest| bound.is_stricter(strictest, winner.value)),
        reason,
        displaced: candidates,
    })
}

impl ResolvedLimits {
    /// The limit, or `None` when neither the program nor the job knows a value for it.
    ///
    /// `None` is possible only where [`LimitId::shipped`] has no figure. It means *no evidence*, not
    /// *no limit*.
    #[must_use]
    pub fn get(&self, id: LimitId) -> Option<&ResolvedLimit> {
        self.limits.get(id as usize).and_then(Option::as_ref)
    }

    /// The value of the limit in [`LimitId::unit`], see [`get`](Self::get).
    #[must_use]
    pub fn value(&self, id: LimitId) -> Option<f64> {
        self.get(id).map(|limit| limit.value)
    }

    /// Every limit, in the order of [`LimitId::ALL`], with what is known of it.
    pub fn iter(&self) -> impl Iterator<Item = (LimitId, Option<&ResolvedLimit>)> {
        LimitId::ALL.iter().copied().zip(self.limits.iter().map(Option::as_ref))
    }

    /// Pairs of lower and upper limit that leave nothing between them, so that no site could meet
    /// both: the data sheets or the overrides of the job contradict each other.
    #[must_use]
    pub fn contradictions(&self) -> Vec<(&ResolvedLimit, &ResolvedLimit)> {
        RANGES
            .iter()
            .filter_map(|&(low, high)| Some((self.get(low)?, self.get(high)?)))
            .filter(|(low, high)| low.value > high.value)
            .collect()
    }
}

/// Lower and upper limits of the same thing at the same time.
const RANGES: &[(LimitId, LimitId)] = &[
    (LimitId::AirMin, LimitId::AirMax),
    (LimitId::AirMin, LimitId::AdhesiveAirMax),
    (LimitId::AdhesiveAirMin, LimitId::AirMax),
    (LimitId::AdhesiveAirMin, LimitId::AdhesiveAirMax),
    (LimitId::AirRhMin, LimitId::AirRhMax),
    (LimitId::AirRhMin, LimitId::AdhesiveRhMax),
    (LimitId::AdhesiveRhMin, LimitId::AirRhMax),
    (LimitId::AdhesiveRhMin, LimitId::AdhesiveRhMax),
    (LimitId::LayingSurfaceMin, LimitId::LayingSurfaceMax),
    (LimitId::LayingSurfaceMin, LimitId::AdhesiveSurfaceMax),
    (LimitId::AdhesiveSurfaceMin, LimitId::LayingSurfaceMax),
    (LimitId::AdhesiveSurfaceMin, LimitId::AdhesiveSurfaceMax),
    (LimitId::BarrierSurfaceMin, LimitId::BarrierSurfaceMax),
    (LimitId::SlabSurfaceMin, LimitId::BarrierSurfaceMax),
    (LimitId::BarrierAirMin, LimitId::BarrierAirMax),
    (LimitId::BarrierRhMin, LimitId::BarrierRhMax),
    (LimitId::ChlorideAirMin, LimitId::ChlorideAirMax),
    (LimitId::ChlorideRhMin, LimitId::ChlorideRhMax),
    (LimitId::ChlorideExposureMin, LimitId::ChlorideExposureMax),
    (LimitId::WoodMcMin, LimitId::WoodMcMax),
    (LimitId::RunInFirstMin, LimitId::RunInFirstMax),
];

impl ResolvedLimit {
    /// The value with its unit, to read, in the units asked for.
    #[must_use]
    pub fn show(&self, units: Units) -> String {
        self.unit.show(self.value, units)
    }

    /// What the limit asks for, in a sentence.
    #[must_use]
    pub fn meaning(&self) -> &'static str {
        self.id.meaning()
    }
}
