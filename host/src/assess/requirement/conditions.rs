//! The ranges that surface and air must keep to for a product or a test.

use crate::assess::window::runs_beyond;
use crate::assess::{Broken, Figure, Scene, Span};
use crate::history::Channel;
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

    /// Time of each sample in a span that tells something, and whether it kept to all ranges.
    pub(super) fn samples<'s>(
        &'s self,
        scene: &'s Scene<'_>,
        span: Span,
    ) -> impl DoubleEndedIterator<Item = (i64, bool)> + 's {
        self.places(scene, span).map(|(_, time_s, kept)| (time_s, kept))
    }

    /// As [`Conditions::samples`], with the place of the sample in the history before it.
    pub(super) fn places<'s>(
        &'s self,
        scene: &'s Scene<'_>,
        span: Span,
    ) -> impl DoubleEndedIterator<Item = (usize, i64, bool)> + 's {
        let history = scene.history;
        history.range(span.from_s, span.to_s).filter_map(move |i| match self.state(scene, i) {
            State::Unknown => None,
            state => Some((i, *history.time_s.get(i)?, state == State::Kept)),
        })
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
                let runs = runs_beyond(scene.points(range.channel, span), beyond);
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
                for (_, value) in scene.points(range.channel, span) {
                    let margin = Figure::margin_of(limit, value, range.guard);
                    if nearest.is_none_or(|(other, ..)| margin < other) {
                        nearest = Some((margin, limit, value, range.guard));
                    }
                }
            }
        }
        nearest.map(|(_, limit, value, guard)| Figure::new(limit, value, guard))
    }
}

impl Range<'_> {
    fn keeps(&self, value: f64) -> bool {
        [self.low, self.high]
            .into_iter()
            .flatten()
            .all(|limit| Figure::keeps(Figure::margin_of(limit, value, self.guard)))
    }
}
