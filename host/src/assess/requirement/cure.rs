//! Counting the hours for which something cured.

use super::conditions::Conditions;
use crate::assess::scene::{hours, seconds, show_age};
use crate::assess::{Figure, Finding, Outcome, Scene, Span};
use crate::limits::ResolvedLimit;

/// What became of the time since the work was done.
pub(super) struct Counted {
    /// Time that counts: readings on both sides of it keep to all ranges, and no gap is between them.
    pub(super) kept_s: i64,
    /// Time that no reading speaks for.
    pub(super) unlogged_s: i64,
    /// Whether it goes on counting now.
    pub(super) kept_now: bool,
}

/// Counts the time from `from_s` to the time asked about.
///
/// A reading speaks for the time to the next one, or to the time asked about, when that is no longer
/// than a gap may be. Time next to a reading out of range does not count, so that taking a reading
/// in range away never adds to the count.
pub(super) fn count(scene: &Scene<'_>, conditions: &Conditions<'_>, from_s: i64) -> Counted {
    let mut kept_s = 0;
    let unlogged_s = count_each(scene, conditions, from_s, |_, step_s| kept_s += step_s);
    let span = Span { from_s: scene.at_s - scene.gap_max_s(), to_s: scene.at_s };
    let last = conditions.samples(scene, span).next_back();
    Counted { kept_s, unlogged_s, kept_now: last.is_some_and(|(_, kept)| kept) }
}

/// Calls `kept` with the place of the sample in the history and the length of each stretch that counts. Returns the
/// length of all that no reading speaks for.
pub(super) fn count_each(
    scene: &Scene<'_>,
    conditions: &Conditions<'_>,
    from_s: i64,
    mut kept: impl FnMut(usize, i64),
) -> i64 {
    let gap_max_s = scene.gap_max_s();
    let span = Span { from_s: from_s.saturating_sub(gap_max_s), to_s: scene.at_s };
    let mut before: Option<(usize, i64, bool)> = None;
    let mut unlogged_s = 0;
    // The time asked about closes the last stretch; what it will read, nobody knows yet.
    let end = std::iter::once((usize::MAX, scene.at_s, true));
    for (i, time_s, now_kept) in conditions.places(scene, span).chain(end) {
        if time_s > from_s {
            match before {
                Some((_, before_s, _)) if time_s - before_s > gap_max_s => {
                    unlogged_s += time_s - before_s.max(from_s);
                }
                Some((before, before_s, true)) if now_kept => {
                    kept(before, time_s - before_s.max(from_s));
                }
                Some(_) => {}
                None => unlogged_s += time_s - from_s,
            }
        }
        before = Some((i, time_s, now_kept));
    }
    unlogged_s
}

/// Judges a cure time since `from_s`.
pub(super) fn judge(
    scene: &Scene<'_>,
    limit: &ResolvedLimit,
    conditions: &Conditions<'_>,
    from_s: i64,
    what: &str,
) -> Finding {
    let counted = count(scene, conditions, from_s);
    let figure = Figure::new(limit, hours(counted.kept_s), 0.0);
    let passed_s = scene.at_s - from_s;
    let out_s = passed_s - counted.kept_s - counted.unlogged_s;
    let met = figure.is_met();
    let mut because = if met {
        format!("{what} cured for {} in range", show_age(counted.kept_s))
    } else {
        format!("{what} cured for {} in range so far", show_age(counted.kept_s))
    };
    if out_s > 0 {
        because.push_str(&format!("; {} out of range do not count", show_age(out_s)));
    }
    if counted.unlogged_s > 0 {
        because.push_str(&format!("; {} without log do not count", show_age(counted.unlogged_s)));
    }
    let broken = conditions.broken(scene, Span { from_s, to_s: scene.at_s });
    let mut finding = Finding::of(figure, because).with_broken(broken);
    if met {
        return finding;
    }
    let needed_s = seconds(limit.value);
    // Enough time may have passed, but nobody can tell.
    if counted.kept_s + counted.unlogged_s >= needed_s {
        finding.outcome = Outcome::NoEvidence;
    }
    if counted.kept_now {
        return finding
            .with_todo("keep slab and air as they are, and the logger in place")
            .with_clears_at(Some(scene.at_s + needed_s - counted.kept_s));
    }
    finding.with_todo("bring slab and air back into the range of the data sheet; log it")
}
