//! The answer and why.

use super::{Telling, count};
use crate::assess::ZoneAssessment;
use crate::view::{View, blockers, utc_time};

/// The answer, which stands on top.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verdict {
    /// Whether the step may start.
    pub is_go: bool,
    /// `Go` or `Wait`.
    pub word: &'static str,
    /// The step in words.
    pub step: &'static str,
    /// Name of the site.
    pub site: String,
    /// The time asked about, on the clock of the site, with its zone.
    pub at_local: String,
    /// The same in UTC.
    pub at_utc: String,
    /// Why, and what next, in sentences.
    pub lines: Vec<String>,
    /// Each room; at least one.
    pub rooms: Vec<RoomVerdict>,
}

/// The answer for one room.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RoomVerdict {
    /// Its name.
    pub name: String,
    /// Whether the step may start in it.
    pub is_go: bool,
    /// `Go` or `Wait`.
    pub word: &'static str,
    /// How many requirements are met, and why it waits.
    pub text: String,
}

/// The verdict in a word.
fn word(is_go: bool) -> &'static str {
    if is_go { "Go" } else { "Wait" }
}

pub(super) fn of(telling: &Telling<'_>) -> Verdict {
    let (case, assessment) = (telling.case, telling.assessment);
    let view = View::new(&case.job, &case.limits, usize::MAX);
    let is_go = assessment.is_go();
    let rooms: Vec<RoomVerdict> =
        assessment.zones.iter().map(|zone| room(zone, &view, telling)).collect();
    Verdict {
        is_go,
        word: word(is_go),
        step: assessment.step.words(),
        site: case.job.site.name.clone(),
        at_local: format!("{} ({})", telling.local(case.at_s), telling.zone_name()),
        at_utc: format!("{} (UTC)", utc_time(case.at_s)),
        lines: lines(telling, &view),
        rooms,
    }
}

fn lines(telling: &Telling<'_>, view: &View<'_>) -> Vec<String> {
    let assessment = telling.assessment;
    if assessment.is_go() {
        let asked: usize = assessment.zones.iter().map(|zone| zone.judged.len()).sum();
        return vec![format!(
            "All {} are met at this time, by the log and the job file in this record.",
            count(asked, "requirement")
        )];
    }
    let all = assessment
        .zones
        .iter()
        .flat_map(|zone| blockers(zone).into_iter().map(move |blocker| (zone, blocker)));
    let Some((zone, worst)) = all.min_by_key(|(_, blocker)| blocker.rank()) else {
        return vec!["No room is known: nothing can be judged.".to_owned()];
    };
    let several = assessment.zones.len() > 1;
    let reason = view.reason(&worst).replace('`', "\"");
    let mut lines = vec![if several {
        format!("{}: {reason}.", zone.name)
    } else {
        format!("{}.", first_upper(&reason))
    }];
    lines.push(match assessment.earliest_go_s() {
        Some(at_s) => format!("Earliest go: {}, if conditions hold.", telling.both_clocks(at_s)),
        None => {
            let todo = worst.first().and_then(|judged| judged.finding.todo.as_deref());
            let todo = todo.unwrap_or("see the requirements below");
            format!("No date yet. First: {}.", telling.prose(todo))
        }
    });
    lines
}

fn room(zone: &ZoneAssessment, view: &View<'_>, telling: &Telling<'_>) -> RoomVerdict {
    let met = zone.judged.iter().filter(|j| j.finding.outcome == crate::assess::Outcome::Met);
    let (met, all) = (met.count(), zone.judged.len());
    let mut text = format!("{met} of {} met", count(all, "requirement"));
    for blocker in blockers(zone) {
        text.push_str(&format!("; {}", view.reason(&blocker).replace('`', "\"")));
    }
    if let Some(at_s) = zone.earliest_go_s(telling.case.at_s).filter(|_| !zone.is_go()) {
        text.push_str(&format!("; earliest go {}, if conditions hold", telling.local(at_s)));
    }
    let is_go = zone.is_go();
    RoomVerdict { name: zone.name.clone(), is_go, word: word(is_go), text: text + "." }
}

/// The text with its first letter in upper case.
pub(super) fn first_upper(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().collect::<String>());
    first.unwrap_or_default() + letters.as_str()
}
