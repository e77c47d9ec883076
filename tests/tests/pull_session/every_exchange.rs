//! One fault with one frame while the clock is set, a mark made or the interval changed: it is done
//! once, or not and an error says so; when a logger that restarted was asked again, both entries are
//! right and each is in a boot of its own.

use glueday::pull::{Link, LinkError, Marked};
use glueday_tests::faulty_link::{Fault, OneFault, RealLogger, Seen, ToyLogger};
use glueday_types::{Entry, MarkKind};

use super::NOW_S;
use super::campaign::{Case, Counts, chosen, clear, firsts, link_error, report};
use super::ends::End;
use super::every_frame::faults;

const TALKS: [&str; 3] = ["clock", "mark", "interval"];
const INTERVAL_S: u16 = 300;

const FLOORS: [(&str, usize); 10] = [
    ("cuts", 200),
    ("flips", 1600),
    ("drops", 17),
    ("doubles", 17),
    ("reorders", 17),
    ("late", 51),
    ("echoes", 34),
    ("resets", 220),
    ("done once", 2200),
    // By a logger that restarted after it had done it.
    ("again", 10),
];

/// What the host was told.
enum Told {
    Done(u32, u32),
    Marked(Marked),
}

fn talk<E: End>(talk: &str, link: &mut Link<OneFault<E>>) -> Result<Told, LinkError> {
    let identity = link.hello()?;
    match talk {
        "clock" => {
            let clock = link.port().clock.clone();
            let utc_s = || NOW_S + i64::try_from(clock.get().as_secs()).unwrap();
            link.set_clock(utc_s).map(|(boot, at_s)| Told::Done(boot, at_s))
        }
        "mark" => link.mark(identity.logger, MarkKind::GlueStarted).map(Told::Marked),
        _ => link.set_interval(INTERVAL_S).map(|(boot, at_s)| Told::Done(boot, at_s)),
    }
}

/// Boot and second of what was asked for and written.
fn written<E: End>(far: &E, before: usize) -> Vec<(u32, u32, Option<i64>)> {
    let entries = far.entries().into_iter().skip(before);
    entries
        .filter_map(|(boot, entry)| match entry {
            Entry::ClockSet { at_s, utc_s } => Some((boot, at_s, Some(utc_s))),
            Entry::Mark { at_s, kind: MarkKind::GlueStarted } => Some((boot, at_s, None)),
            Entry::SettingsChanged { at_s, interval_s: INTERVAL_S } => Some((boot, at_s, None)),
            Entry::Boot { .. } => None,
            other => panic!("{other:?}"),
        })
        .collect()
}

/// Runs a case; returns how it ended, and whether the fault befell a frame at all.
fn judge<E: End>(case: Case) -> Result<(&'static str, bool), String> {
    let far = E::fresh();
    let before = far.entries().len();
    let mut line = OneFault::new(far);
    line.fault = Some((case.frame, case.fault));
    let mut link = Link::new(line, 1);
    let ended = talk(case.talk, &mut link);
    let mut line = link.into_port();
    let befell = line.befell;
    line.calm();
    let written = written(&line.far, before);
    for (boot, at_s, utc_s) in &written {
        let Some((began_s, utc_s)) = line.far.began_s(*boot).zip(*utc_s) else { continue };
        let off_s = utc_s - NOW_S - i64::from(began_s) - i64::from(*at_s);
        let late = matches!(case.fault, Fault::Late(_) | Fault::Hold);
        if off_s.abs() > if late { 5 } else { 1 } {
            return Err(format!("the clock is {off_s} s off"));
        }
    }
    let mut boots: Vec<u32> = written.iter().map(|(boot, ..)| *boot).collect();
    boots.dedup();
    let once = boots.len() == written.len()
        && (written.len() <= 1 || matches!(case.fault, Fault::Reset(_)));
    let stands = |at: (u32, u32)| written.iter().any(|(boot, at_s, _)| (*boot, *at_s) == at);
    match ended {
        Ok(Told::Done(boot, at_s)) if !stands((boot, at_s)) => {
            Err(format!("done in boot {boot} at {at_s} s, but the log has {written:?}"))
        }
        Ok(Told::Done(..)) if !once => Err(format!("done more than once: {written:?}")),
        Ok(Told::Done(..)) => Ok((if written.len() == 1 { "done once" } else { "again" }, befell)),
        Ok(Told::Marked(marked)) if !stands((marked.boot, marked.at_s)) => {
            Err(format!("{marked:?}, but the log has {written:?}"))
        }
        Ok(Told::Marked(marked)) if usize::try_from(marked.copies) != Ok(written.len()) => {
            Err(format!("{marked:?}, but the log has {written:?}"))
        }
        Ok(Told::Marked(marked)) => {
            Ok((if marked.copies == 1 { "done once" } else { "told twice" }, befell))
        }
        Err(_) if !once => Err(format!("done more than once: {written:?}")),
        Err(error) => clear(&error.to_string()).map(|()| (link_error(&error), befell)),
    }
}

fn clean<E: End>(name: &str) -> Vec<Seen> {
    let mut line = OneFault::new(E::fresh());
    line.seen = Some(Vec::new());
    let mut link = Link::new(line, 1);
    assert!(talk(name, &mut link).is_ok());
    link.into_port().seen.unwrap()
}

/// The frames of all of them, from both loggers.
pub(crate) fn all_talks() -> Vec<Seen> {
    let of = |name| [clean::<RealLogger>(name), clean::<ToyLogger>(name)].concat();
    TALKS.into_iter().flat_map(of).collect()
}

fn run<E: End>(counts: &mut Counts) -> usize {
    let mut cases = Vec::new();
    let mut frames = 0;
    for talk in TALKS {
        for (frame, len, ..) in firsts(&clean::<E>(talk)) {
            frames += 1;
            let case = |fault| Case { end: E::NAME, talk, frame, fault };
            cases.extend(faults(len, usize::MAX, usize::MAX, 0).into_iter().map(case));
        }
    }
    let mut failures = Vec::new();
    for case in chosen(cases) {
        match judge::<E>(case) {
            Ok((ended, true)) => counts.note(case.fault, ended),
            Ok((_, false)) => failures.push((case.to_string(), "it befell no frame".to_owned())),
            Err(why) => failures.push((case.to_string(), why)),
        }
    }
    report("every_exchange", &failures);
    frames
}

#[test]
fn every_exchange_with_the_real_logger() {
    let mut counts = Counts::default();
    let frames = run::<RealLogger>(&mut counts);
    println!("real logger, {frames} frames of exchanges: {counts:?}");
    counts.only(&["done once", "again"]);
    counts.at_least(&FLOORS);
}

#[test]
fn every_exchange_with_the_toy_logger() {
    let mut counts = Counts::default();
    let frames = run::<ToyLogger>(&mut counts);
    println!("toy logger, {frames} frames of exchanges: {counts:?}");
    counts.only(&["done once", "again"]);
    counts.at_least(&FLOORS);
}
