//! The probes can be trusted: none has failed, none is stuck.

use super::{Judgement, settle};
use crate::assess::scene::{absent, hours, seconds};
use crate::assess::suspicion::{slab_above_sources, slab_probe_in_air};
use crate::assess::{Figure, Finding, Missing, Requirement, Scene, Span, Step};
use crate::history::Channel;
use crate::limits::LimitId;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "probes",
    title: "probes alive",
    steps: &[
        Step::Membrane,
        Step::GlueDown,
        Step::Traffic,
        Step::Sanding,
        Step::HeatUp,
        Step::Service,
    ],
    rule: "The last sample has a reading of every channel, and no channel has read the same to the last digit \
           for longer than the limit, counted from the last reading that was another one: a probe that \
           works is never that quiet. One that has not been seen to move at all is no evidence. \
           Suspicions, never a verdict: the slab probe takes each step of the air as a slab never does \
           (within 1.5 K of it, and at least 0.6 of each step over 12 h; derived for a slab that the \
           air alone warms): it may have been lifted. The slab reads warmer than air and supply were \
           in two days, by more than the probes' expanded uncertainty: sun, or probes that disagree.",
    judge: |scene| suspected(scene, settle(judge(scene))),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&Channel::ALL)?;
    let limit = scene.limit(LimitId::ProbeUnchangedMax)?;
    let last = scene.history.range(i64::MIN, scene.at_s).next_back();
    for channel in Channel::ALL {
        let reading = last.map(|i| scene.history.value(channel, i));
        if let Some(Err(reason)) = reading {
            let mut finding = Finding::from(Missing {
                because: format!("{}: {}", channel.name(), absent(reason)),
                todo: "see to the probe and its cable".to_owned(),
            });
            finding.outcome = crate::assess::Outcome::NotMet;
            return Ok(finding);
        }
    }
    let mut quietest: Option<(Channel, i64)> = None;
    for channel in Channel::ALL {
        let Some(quiet_s) = unchanged_s(scene, channel, seconds(limit.value)) else {
            return Err(Missing {
                because: format!("{} has not been seen to move yet", channel.name()),
                todo: "wait for more readings; if it never moves, the probe may be stuck"
                    .to_owned(),
            });
        };
        if quietest.is_none_or(|(_, other)| quiet_s > other) {
            quietest = Some((channel, quiet_s));
        }
    }
    let (channel, quiet_s) = quietest.unwrap_or((Channel::Slab, 0));
    let figure = Figure::new(limit, hours(quiet_s), 0.0);
    if figure.is_met() {
        return Ok(Finding::of(figure, "every probe answers, and its readings move".to_owned()));
    }
    Ok(Finding::of(figure, format!("{} has not moved by a hundredth", channel.name()))
        .with_todo("the probe may be stuck: warm it with a hand and see whether it follows"))
}

/// For how long up to now the channel may have read the same: since the last reading that was another
/// one. When there is none: since the first reading, when that is longer ago than the limit, and else
/// `None`.
fn unchanged_s(scene: &Scene<'_>, channel: Channel, limit_s: i64) -> Option<i64> {
    let (mut first_s, value) = scene.last(channel, scene.at_s)?;
    let ever = Span { from_s: i64::MIN, to_s: scene.at_s };
    let rows = scene.stretches(ever).rev().flat_map(|stretch| {
        // The readings come from integers of hundredths, and so compare exactly.
        #[allow(clippy::float_cmp)]
        let same = stretch.whole().filter(|whole| whole.full(channel) == Some([value; 2]));
        let each = same.is_none().then(|| scene.points_of(channel, &stretch).rev());
        let row = same.map(|whole| (whole.from_s, value));
        row.into_iter().chain(each.into_iter().flatten())
    });
    #[allow(clippy::float_cmp)]
    let other = rows.into_iter().find(|point| {
        first_s = point.0;
        point.1 != value
    });
    let quiet_s = scene.at_s - first_s;
    (other.is_some() || quiet_s > limit_s).then_some(quiet_s)
}

/// With what the signals say against the place of a probe.
fn suspected(scene: &Scene<'_>, mut finding: Finding) -> Finding {
    let Ok(span) = scene.time_that_counts() else { return finding };
    for stretch in slab_probe_in_air(scene, span) {
        finding.warnings.push(format!(
            "{} to {}: the slab probe followed the air; see whether it still lies on the slab",
            scene.local(stretch.from_s),
            scene.local(stretch.to_s)
        ));
    }
    if let Some((time_s, by_k)) = slab_above_sources(scene, span) {
        finding.warnings.push(format!(
            "{}: the slab read {} more than air, supply and probe errors explain; sun on the probe, \
             or probes that disagree",
            scene.local(time_s),
            super::difference_in_both(by_k)
        ));
    }
    finding
}
