//! The ranges that surface and air must keep to for a product or a test.

use crate::assess::window::runs_beyond;
use crate::assess::{Broken, Figure, Scene, Span};
use crate::history::{Channel, Whole};
use crate::limits::{LimitId, ResolvedLimit};

use super::as_broken;

/// Ranges of several channels that must all be kept at once.
pub(super) struct Conditions<'a> {
    ranges: Vec<Range<'a>>,
}

/// The range of one channel; a limit that nobody states does not bind.
struct Range<'a> {
    channel: Channel,
    low: Option<&'a ResolvedLimit>,
    high: Option<&'a ResolvedLimit>,
    /// By how much both ends are tightened, see [`Scene::range_guard`].
    guard: f64,
}

/// Whether one sample kept to all ranges.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    /// Every channel that has a range reads within it.
    Kept,
    /// At least one reads out of it.
    Out,
    /// At least one does not read, and no other is out.
    Unknown,
}

impl<'a> Conditions<'a> {
    /// The slab surface before the barrier is applied.
    pub(super) fn slab_for_barrier(scene: &Scene<'a>) -> Self {
        Self::of(
            scene,
            &[(
                Channel::Slab,
                &[LimitId::SlabSurfaceMin, LimitId::BarrierSurfaceMin],
                &[LimitId::BarrierSurfaceMax],
            )],
        )
    }

    /// The slab surface from before gluing until the hold after it ends.
    pub(super) fn laying(scene: &Scene<'a>) -> Self {
        Self::of(
            scene,
            &[(
                Channel::Slab,
                &[LimitId::SlabSurfaceMin, LimitId::LayingSurfaceMin, LimitId::AdhesiveSurfaceMin],
                &[LimitId::LayingSurfaceMax, LimitId::AdhesiveSurfaceMax],
            )],
        )
    }

    /// The air in which the wood acclimates.
    pub(super) fn room(scene: &Scene<'a>) -> Self {
        Self::of(
            scene,
            &[
                (Channel::Air, &[LimitId::AirMin], &[LimitId::AirMax]),
                (Channel::AirRh, &[LimitId::AirRhMin], &[LimitId::AirRhMax]),
            ],
        )
    }

    /// While the barrier is applied and cures.
    pub(super) fn barrier(scene: &Scene<'a>) -> Self {
        Self::of(
            scene,
            &[
                (
                    Channel::Slab,
                    &[LimitId::BarrierSurfaceMin, LimitId::SlabSurfaceMin],
                    &[LimitId::BarrierSurfaceMax],
                ),
                (Channel::Air, &[LimitId::BarrierAirMin], &[LimitId::BarrierAirMax]),
                (Channel::AirRh, &[LimitId::BarrierRhMin], &[LimitId::BarrierRhMax]),
            ],
        )
    }

    /// While adhesive is spread and cures.
    pub(super) fn adhesive(scene: &Scene<'a>) -> Self {
        Self::of(
            scene,
            &[
                (
                    Channel::Slab,
                    &[LimitId::AdhesiveSurfaceMin, LimitId::SlabSurfaceMin],
                    &[LimitId::AdhesiveSurfaceMax],
                ),
                (Channel::Air, &[LimitId::AdhesiveAirMin], &[LimitId::AdhesiveAirMax]),
                (Channel::AirRh, &[LimitId::AdhesiveRhMin], &[LimitId::AdhesiveRhMax]),
            ],
        )
    }

    /// Service conditions, for in-situ tests: a heated slab in service is no colder than the coldest
    /// room that it heats, and no warmer than the floor on it may get.
    pub(super) fn service(scene: &Scene<'a>) -> Self {
        Self::of(
            scene,
            &[
                (Channel::Slab, &[LimitId::AirMin], &[LimitId::SurfaceMax]),
                (Channel::Air, &[LimitId::AirMin], &[LimitId::AirMax]),
                (Channel::AirRh, &[LimitId::AirRhMin], &[LimitId::AirRhMax]),
            ],
        )
    }

    /// For calcium chloride tests.
    pub(super) fn calcium_chloride(scene: &Scene<'a>) -> Self {
        Self::of(
            scene,
            &[
                (Channel::Air, &[LimitId::ChlorideAirMin], &[LimitId::ChlorideAirMax]),
                (Channel::AirRh, &[LimitId::ChlorideRhMin], &[LimitId::ChlorideRhMax]),
            ],
        )
    }

    /// The strictest of the limits of each channel.
    fn of(scene: &Scene<'a>, wanted: &[(Channel, &[LimitId], &[LimitId])]) -> Self {
        let known = |ids: &[LimitId]| -> Vec<&'a ResolvedLimit> {
            ids.iter().filter_map(|id| scene.limits.get(*id)).collect()
        };
        let ranges = wanted
            .iter()
            .map(|(channel, low, high)| Range {
                channel: *channel,
                low: known(low).into_iter().max_by(|a, b| a.value.total_cmp(&b.value)),
                high: known(high).into_iter().min_by(|a, b| a.value.total_cmp(&b.value)),
                guard: scene.range_guard(*channel),
            })
            .filter(|range| range.low.is_some() || range.high.is_some())
            .collect();
        Self { ranges }
    }

    /// The channels that have a range.
    pub(super) fn channels(&self) -> Vec<Channel> {
        self.ranges.iter().map(|range| range.channel).collect()
    }

    /// Whether a value of a channel is in its range; of a channel without one every value is.
    pub(super) fn keeps(&self, channel: Channel, value: f64) -> bool {
        self.ranges.iter().filter(|range| range.channel == channel).all(|range| range.keeps(value))
    }

    fn state(&self, scene: &Scene<'_>, i: usize) -> State {
        let mut state = State::Kept;
        for range in &self.ranges {
            match scene.history.value(range.channel, i) {
                Ok(value) if range.keeps(value) => {}
                Ok(_) => return State::Out,
                Err(_) => state = State::Unknown,
            }
        }
        state
    }

    /// The samples of a span that tell something, those of a stretch together where all kept to all
    /// ranges or all were out of one, and none is further from the next than a gap may be.
    pub(super) fn spells<'s>(
        &'s self,
        scene: &'s Scene<'_>,
        span: Span,
    ) -> impl DoubleEndedIterator<Item = Spell> + 's {
        let history = scene.history;
        let gap_max_s = scene.gap_max_s();
        scene.stretches(span).flat_map(move |stretch| {
            let together = stretch.whole().filter(|whole| whole.is_joined(gap_max_s));
            let samples = stretch.samples();
            let together = together.and_then(|whole| {
                let kept = self.state_of(&whole)? == State::Kept;
                Some(Spell {
                    samples: samples.clone(),
                    from_s: whole.from_s,
                    to_s: whole.to_s,
                    kept,
                })
            });
            let each = together.is_none().then_some(samples);
            let each = each.into_iter().flatten().filter_map(move |i| {
                let (state, time_s) = (self.state(scene, i), *history.time_s.get(i)?);
                let kept = state == State::Kept;
                let spell = Spell { samples: i..i + 1, from_s: time_s, to_s: time_s, kept };
                (state != State::Unknown).then_some(spell)
            });
            together.into_iter().chain(each)
        })
    }

    /// The state of all samples of a stretch, when it tells that all have the same.
    fn state_of(&self, whole: &Whole<'_>) -> Option<State> {
        let mut kept = true;
        for range in &self.ranges {
            let [least, greatest] = whole.full(range.channel)?;
            if range.is_below(greatest) || range.is_above(least) {
                return Some(State::Out);
            }
            kept &= range.keeps(least) && range.keeps(greatest);
        }
        kept.then_some(State::Kept)
    }

    /// The runs in which a channel was out of its range, in order of time.
    pub(super) fn broken(&self, scene: &Scene<'_>, span: Span) -> Vec<Broken> {
        let mut broken = Vec::new();
        for range in &self.ranges {
            for limit in [range.low, range.high].into_iter().flatten() {
                let beyond = |value: f64| {
                    let margin = Figure::margin_of(limit, value, range.guard);
                    (!Figure::keeps(margin)).then_some(-margin)
                };
                let rows = scene.rows_beyond(range.channel, span, beyond);
                let runs = runs_beyond(rows, beyond);
                broken.extend(as_broken(runs, limit.id));
            }
        }
        broken.sort_by_key(|b| b.from_s);
        broken
    }

    /// The reading of a span that comes nearest to a limit, or goes furthest beyond one.
    pub(super) fn nearest(&self, scene: &Scene<'_>, span: Span) -> Option<Figure> {
        let mut nearest: Option<(f64, &ResolvedLimit, f64, f64)> = None;
        for range in &self.ranges {
            for limit in [range.low, range.high].into_iter().flatten() {
                let margin = |value| Figure::margin_of(limit, value, range.guard);
                for stretch in scene.stretches(span) {
                    // One of the two ends has the smallest margin; only a smaller one counts.
                    let is_nearer = |value: &f64| nearest.is_none_or(|(m, ..)| margin(*value) < m);
                    let ends = stretch.ends(range.channel);
                    if !ends.into_iter().flatten().any(|value| is_nearer(&value)) {
                        continue;
                    }
                    for (_, value) in scene.points_of(range.channel, &stretch) {
                        if nearest.is_none_or(|(other, ..)| margin(value) < other) {
                            nearest = Some((margin(value), limit, value, range.guard));
                        }
                    }
                }
            }
        }
        nearest.map(|(_, limit, value, guard)| Figure::new(limit, value, guard))
    }
}

/// Samples in a row that all kept to the ranges, or all did not.
pub(super) struct Spell {
    /// Their places in the history.
    pub(super) samples: std::ops::Range<usize>,
    /// Time of the first.
    pub(super) from_s: i64,
    /// Time of the last.
    pub(super) to_s: i64,
    /// Whether they kept to all ranges.
    pub(super) kept: bool,
}

impl Range<'_> {
    fn keeps(&self, value: f64) -> bool {
        !self.is_below(value) && !self.is_above(value)
    }

    fn is_below(&self, value: f64) -> bool {
        self.breaks(self.low, value)
    }

    fn is_above(&self, value: f64) -> bool {
        self.breaks(self.high, value)
    }

    fn breaks(&self, limit: Option<&ResolvedLimit>, value: f64) -> bool {
        limit.is_some_and(|limit| !Figure::keeps(Figure::margin_of(limit, value, self.guard)))
    }
}
