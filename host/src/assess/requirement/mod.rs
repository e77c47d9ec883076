//! The requirements, one small file each.
//!
//! To add one: write its file with a `REQUIREMENT` and its `judge`, and add it to [`REQUIREMENTS`] at
//! the place where a contractor would look for it.

mod acclimation;
mod adhesive_cure;
mod barrier_cure;
mod concrete_age;
mod conditions;
mod coverage;
mod cure;
mod dew_margin;
mod entered;
mod given;
mod glue_conditions;
mod laying_hold;
mod moisture_tests;
mod probe_checks;
mod probes;
mod run_in;
mod slab_surface;
mod supply;
mod surface_change;
mod surface_max;
mod test_conditions;
mod wood_moisture;
mod wood_surface;

use super::scene::{Missing, Scene, Span};
use super::window::{Point, runs_beyond};
use super::{Broken, Figure, Finding, Requirement, Step};
use crate::history::Channel;
use crate::limits::LimitId;

/// Every requirement, in the order in which they are shown.
pub const REQUIREMENTS: &[Requirement] = &[
    concrete_age::REQUIREMENT,
    run_in::REQUIREMENT,
    test_conditions::REQUIREMENT,
    moisture_tests::REQUIREMENT,
    dew_margin::REQUIREMENT,
    slab_surface::REQUIREMENT,
    acclimation::REQUIREMENT,
    wood_moisture::REQUIREMENT,
    barrier_cure::REQUIREMENT,
    glue_conditions::REQUIREMENT,
    laying_hold::REQUIREMENT,
    adhesive_cure::REQUIREMENT,
    surface_max::REQUIREMENT,
    surface_change::REQUIREMENT,
    supply::REQUIREMENT,
    coverage::REQUIREMENT,
    probes::REQUIREMENT,
    probe_checks::REQUIREMENT,
];

/// A judgement that may end early for want of evidence.
type Judgement = Result<Finding, Missing>;

/// The outcome of a judgement.
fn settle(judgement: Judgement) -> Finding {
    judgement.unwrap_or_else(Finding::from)
}

impl Scene<'_> {
    /// Time and value of a channel in a span, without what is missing.
    pub(super) fn points(
        &self,
        channel: Channel,
        span: Span,
    ) -> impl DoubleEndedIterator<Item = Point> + '_ {
        let history = self.history;
        history
            .range(span.from_s, span.to_s)
            .filter_map(move |i| Some((*history.time_s.get(i)?, history.value(channel, i).ok()?)))
    }

    /// The runs in which a channel was above `limit_value` (or below it, for `above` false).
    fn broken(
        &self,
        channel: Channel,
        span: Span,
        limit: LimitId,
        limit_value: f64,
        above: bool,
    ) -> Vec<Broken> {
        let beyond = |value: f64| {
            let by = if above { value - limit_value } else { limit_value - value };
            (by > 1e-9).then_some(by)
        };
        as_broken(runs_beyond(self.rows_beyond(channel, span, beyond), beyond), limit)
    }
}

fn as_broken(runs: Vec<(i64, i64, f64)>, limit: LimitId) -> Vec<Broken> {
    let broken = |(from_s, to_s, worst)| Broken { from_s, to_s, worst, limit };
    runs.into_iter().map(broken).collect()
}

/// No reading of a channel in a span.
fn none_in_span(channel: Channel) -> Missing {
    Missing {
        because: format!("there is no {} reading in the time that counts", channel.name()),
        todo: "pull the logger, or import the file that covers it".to_owned(),
    }
}

/// A reading that the physics does not know: the probe has failed, or a unit is wrong.
fn beyond_formula(error: &crate::physics::OutOfRange) -> Missing {
    Missing {
        because: format!("a reading cannot be: {} {} {}", error.what, error.value, error.unit),
        todo: error.fix.to_owned(),
    }
}

/// The day before the time asked about.
fn last_day(scene: &Scene<'_>) -> Span {
    Span { from_s: scene.at_s - super::scene::LOOK_BACK_S, to_s: scene.at_s }
}

/// The warmest reading of a channel in the time that counts, against a maximum that the probe's
/// uncertainty tightens; with the reading itself. Before work starts the last day counts, after it all
/// of the time since gluing.
fn warmest(
    scene: &Scene<'_>,
    channel: Channel,
    id: LimitId,
    what: &str,
) -> Result<(Finding, f64), Missing> {
    scene.fresh(&[channel])?;
    let limit = scene.limit(id)?;
    let span = match scene.step {
        Step::Membrane | Step::GlueDown => last_day(scene),
        _ => scene.span()?,
    };
    let [_, warmest_c] = scene.ends(channel, span).ok_or_else(|| none_in_span(channel))?;
    let figure = Figure::new(limit, warmest_c, scene.uncertainty(channel));
    let broken = scene.broken(channel, span, limit.id, figure.bound, true);
    let last_s = scene.points(channel, span).next_back().map(|point| point.0);
    Ok((too_high(scene, figure, broken, last_s, what), warmest_c))
}

/// The finding for a maximum: what to do differs before and after gluing.
fn too_high(
    scene: &Scene<'_>,
    figure: Figure,
    broken: Vec<Broken>,
    last_s: Option<i64>,
    what: &str,
) -> Finding {
    if figure.is_met() {
        return Finding::of(figure, format!("{what} stayed cool enough"));
    }
    // A break that is over only costs time; one that goes on has no end that anybody knows.
    let until_s = broken.iter().map(|b| b.to_s).max().filter(|until_s| Some(*until_s) != last_s);
    let finding =
        Finding::of(figure, format!("{what} was too warm, or the probe cannot rule it out"))
            .with_broken(broken);
    if matches!(scene.step, Step::Membrane | Step::GlueDown) {
        let clears_at_s = until_s.map(|until_s| until_s + super::scene::LOOK_BACK_S + 1);
        return finding.with_todo("turn the supply down").with_clears_at(clears_at_s);
    }
    finding.with_todo(
        "turn the supply down; ask the makers of wood and adhesive what it means for the floor",
    )
}

/// A temperature for a line of text, which is written before anybody knows the units to show.
fn in_both(celsius: f64) -> String {
    format!("{celsius:.1} °C ({:.1} °F)", celsius * 1.8 + 32.0)
}

/// A difference of two temperatures, as [`in_both`].
fn difference_in_both(kelvin: f64) -> String {
    format!("{kelvin:.1} °C ({:.1} °F)", kelvin * 1.8)
}
