//! Job files of any content, and what is made of them.

use super::seeds::good_air;
use glueday::assess::{Assessment, Step, assess};
use glueday::history::History;
use glueday::job::{Channel, CheckMethod, EditError, Job, NewCheck, Zone, add_check};
use glueday::limits::{Limits, ResolvedLimits};
use glueday::view;

/// A time in the log of [`good_air`]: 2026-03-14T00:00Z.
const NOW_S: i64 = 1_773_446_400;

/// A text is read as a job file. Either every error has its place and its cure, or its limits are
/// numbers, a check can be added without a change to anything else, and no step is a go without a log.
pub fn job(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let job = match Job::parse(&text, "job.toml") {
        Ok(job) => job,
        Err(errors) => {
            assert!(errors.iter().len() > 0);
            let lines = text.matches('\n').count() + 1;
            for error in &errors {
                assert!((1..=lines).contains(&error.line) && error.column > 0, "{error}");
                assert!(!error.problem.is_empty() && !error.fix.is_empty(), "{error}");
            }
            return;
        }
    };
    let limits = Limits::resolve(&job);
    for (id, limit) in limits.iter() {
        assert!(limit.is_none_or(|limit| limit.value.is_finite()), "{id}: {limit:?}");
        if let Some(limit) = limit {
            assert!(!limit.show(job.site.units).is_empty());
        }
    }
    assert!(limits.contradictions().iter().all(|(low, high)| low.value > high.value));
    assert!(serde_json::to_string(&job).is_ok());
    add_checks(&text, &job);
    judge(&job, &limits);
}

/// Adds a check for each channel to each room, or to the job when it has none.
fn add_checks(text: &str, job: &Job) {
    let mut rooms: Vec<Option<&str>> = job.zones.iter().map(|z| Some(z.name.as_str())).collect();
    if rooms.is_empty() {
        rooms.push(None);
    }
    for room in rooms.into_iter().take(3) {
        for channel in [Channel::Slab, Channel::Air, Channel::Rh, Channel::Supply] {
            let check = new_check(channel);
            match add_check(text, "job.toml", room, channel, &check) {
                Ok(edited) => only_added(text, &edited.text, &edited.added),
                Err(EditError::OneLine { .. }) => {}
                Err(error) => panic!("{error}"),
            }
        }
    }
}

fn new_check(channel: Channel) -> NewCheck {
    let (method, reference, reading, temperature) = match channel {
        Channel::Rh => (CheckMethod::Salt, "75.37 %", "76.1 %", Some("23.00 C".to_owned())),
        _ => (CheckMethod::Ice, "0 C", "0.1 C", None),
    };
    NewCheck {
        date: jiff::civil::date(2026, 3, 2),
        method,
        reference: reference.to_owned(),
        reading: reading.to_owned(),
        temperature,
    }
}

/// The old text stands in the new one, in two pieces at most, and the addition between them.
fn only_added(old: &str, new: &str, added: &str) {
    let same = |(a, b): &(u8, u8)| a == b;
    let before = old.bytes().zip(new.bytes()).take_while(same).count();
    let behind = old.bytes().rev().zip(new.bytes().rev()).take_while(same).count();
    assert!(before + behind >= old.len(), "{new:?} is not {old:?} and {added:?}");
    assert!(new.len() > old.len() && new.replace("\r\n", "\n").contains(added));
    assert!(Job::parse(new, "job.toml").is_ok());
}

/// Judges every step with no log and with a short one, and writes the answer in all ways.
fn judge(job: &Job, limits: &ResolvedLimits) {
    let none = History::default();
    let some = good_air();
    let mut zones: Vec<Zone> = job.zones.iter().take(2).cloned().collect();
    if zones.is_empty() {
        // As `check` does: a job without rooms is one room.
        let (name, milestones) = (job.site.name.clone(), job.milestones.clone());
        zones.push(Zone { name, logger: None, area: job.site.area, milestones });
    }
    for step in Step::ALL {
        for (history, empty) in [(&none, true), (some, false)] {
            let pairs: Vec<(&Zone, &History)> = zones.iter().map(|zone| (zone, history)).collect();
            let assessment = assess(job, limits, &pairs, step, NOW_S);
            assert!(!(empty && assessment.is_go()), "{} is a go without a log", step.as_str());
            if step == Step::GlueDown {
                write(&assessment, job, limits);
            }
        }
    }
}

fn write(assessment: &Assessment, job: &Job, limits: &ResolvedLimits) {
    for width in [40, 100] {
        assert!(!view::text::check(assessment, job, limits, width).is_empty());
    }
    assert!(view::json::check(assessment).is_ok());
}
