//! The probes can be trusted: none has failed, none is stuck.

use super::{Judgement, settle};
use crate::assess::scene::{LOOK_BACK_S, absent, hours};
use crate::assess::{Figure, Finding, Requirement, Scene, Span, Step};
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
           for longer than the limit: a probe that works is never that quiet.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&Channel::ALL)?;
    let limit = scene.limit(LimitId::ProbeUnchangedMax)?;
    let last = scene.history.range(i64::MIN, scene.at_s).next_back();
    for channel in Channel::ALL {
        let reading = last.map(|i| scene.history.value(channel, i));
        if let Some(Err(reason)) = reading {
            let mut finding = Finding::from(crate::assess::Missing {
                because: format!("{}: {}", channel.name(), absent(reason)),
                todo: "see to the probe and its cable".to_owned(),
            });
            finding.outcome = crate::assess::Outcome::NotMet;
            return Ok(finding);
        }
    }
    let mut quietest: Option<(Channel, i64)> = None;
    for channel in Channel::ALL {
        let quiet_s = unchanged_s(scene, channel, crate::assess::scene::seconds(limit.value));
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

/// For how long up to now the channel has read the same, looking back a little further than the limit.
fn unchanged_s(scene: &Scene<'_>, channel: Channel, limit_s: i64) -> i64 {
    let from_s = scene.at_s - limit_s - LOOK_BACK_S;
    let mut points = scene.points(channel, Span { from_s, to_s: scene.at_s }).rev();
    let Some((last_s, value)) = points.next() else { return 0 };
    // The readings come from integers of hundredths, and so compare exactly.
    #[allow(clippy::float_cmp)]
    let earliest = points.take_while(|point| point.1 == value).last();
    earliest.map_or(0, |(first_s, _)| last_s - first_s)
}
