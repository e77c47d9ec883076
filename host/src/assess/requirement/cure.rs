//! Counting the hours for which something cured.

use super::conditions::{Conditions, Spell};
use crate::assess::scene::{hours, seconds, show_age};
use crate::assess::{Figure, Finding, Outcome, Scene, Span};
use crate::limits::ResolvedLimit;
use std::ops::Range;

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
    let unlogged_s = count_each(scene, conditions, from_s, |held| kept_s += held.length_s);
    let span = Span { from_s: scene.at_s - scene.gap_max_s(), to_s: scene.at_s };
    let last = conditions.spells(scene, span).next_back();
    Counted { kept_s, unlogged_s, kept_now: last.is_some_and(|spell| spell.kept) }
}

/// Time that counts.
pub(super) struct Held {
    /// The samples that begin it: one that tells, or several neighbours that all do, each up to the
    /// next.
    pub(super) samples: Range<usize>,
    /// Length of all of it.
    pub(super) length_s: i64,
}

/// Calls `held` with the time that counts, in its order. Returns the length of all that no reading
/// speaks for.
pub(super) fn count_each(
    scene: &Scene<'_>,
    conditions: &Conditions<'_>,
    from_s: i64,
    mut held: impl FnMut(Held),
) -> i64 {
    let gap_max_s = scene.gap_max_s();
    let span = Span { from_s: from_s.saturating_sub(gap_max_s), to_s: scene.at_s };
    let mut before: Option<(usize, i64, bool)> = None;
    let mut unlogged_s = 0;
    // The time asked about closes the last stretch; what it will read, nobody knows yet.
    let now = Spell { samples: 0..0, from_s: scene.at_s, to_s: scene.at_s, kept: true };
    for spell in conditions.spells(scene, span).chain([now]) {
        let time_s = spell.from_s;
        if time_s > from_s {
            match before {
                Some((_, before_s, _)) if time_s - before_s > gap_max_s => {
                    unlogged_s += time_s - before_s.max(from_s);
                }
                Some((before, before_s, true)) if spell.kept => {
                    let length_s = time_s - before_s.max(from_s);
                    held(Held { samples: before..before + 1, length_s });
                }
                Some(_) => {}
                None => unlogged_s += time_s - from_s,
            }
        }
        let last = spell.samples.end.saturating_sub(1);
        if spell.kept && spell.to_s > from_s && spell.samples.len() > 1 {
            let begins_s = spell.from_s.max(from_s);
            held(Held { samples: spell.samples.start..last, length_s: spell.to_s - begins_s });
        }
        before = Some((last, spell.to_s, spell.kept));
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
