//! One fault with one frame of a pull: every frame, every kind of fault, each byte and each bit of
//! every kind of frame.
//!
//! One fault alone is always overcome: the pull ends complete and right. The archive never holds a
//! byte that is not on the flash; and the next pull over a clean line makes it equal to one that never
//! failed. A whole pull for each bit of each frame would take minutes. Each byte is cut and each bit
//! turned in the first frame of every kind; in a chunk of 1024 bytes, of which the chunk at the end of
//! the log differs in nothing but its length, one bit of each byte; the other frames at places chosen
//! by a seed. That no wrong bit of any frame passes the check is tried in `bit_errors`.

use glueday::archive::Archive;
use glueday::pull::{Finding, Link, NoProgress};
use glueday_tests::faulty_link::{Fault, OneFault, RealLogger, Seen, ToyLogger};
use std::collections::BTreeMap;

use super::campaign::{Case, Counts, chosen, firsts, places, report, told};
use super::ends::End;
use super::{NOW_S, archive};

/// Places in a frame that is not the first of its kind.
const SOME: usize = 12;

/// What a pull says without faults, or when just this frame is lost.
pub(crate) fn clean<E: End>(lost: Option<usize>) -> Vec<Seen> {
    let mut line = OneFault::new(E::fresh());
    line.lost = lost;
    line.seen = Some(Vec::new());
    let mut archive = archive();
    let mut link = Link::new(line, 1);
    link.pull(&mut archive, NOW_S, &mut NoProgress).unwrap();
    let line = link.into_port();
    assert_eq!(whole(&archive, &line.far.log(), E::ID), Ok(()));
    line.seen.unwrap()
}

/// Whether the archive holds this log and nothing else.
pub(crate) fn whole(
    archive: &Archive,
    log: &BTreeMap<u32, Vec<u8>>,
    id: glueday_types::LoggerId,
) -> Result<(), String> {
    let held = archive.blocks(id).unwrap();
    let numbers: Vec<u32> = held.iter().map(|block| block.number).collect();
    if numbers != log.keys().copied().collect::<Vec<_>>() {
        return Err(format!("blocks {numbers:?} are held of {:?}", log.keys()));
    }
    for block in &held {
        let on_flash = &log[&block.number];
        if block.bytes != *on_flash {
            let (have, all) = (block.bytes.len(), on_flash.len());
            return Err(format!("block {}: {have} of {all} B, or others", block.number));
        }
        let open = log.keys().next_back() == Some(&block.number);
        if block.sealed == open {
            return Err(format!("block {} is sealed: {}", block.number, block.sealed));
        }
    }
    Ok(())
}

/// Whether each byte held is one that stands on the flash.
pub(crate) fn nothing_false(
    archive: &Archive,
    log: &BTreeMap<u32, Vec<u8>>,
    id: glueday_types::LoggerId,
) -> Result<(), String> {
    for block in archive.blocks(id).unwrap() {
        let on_flash = log.get(&block.number).ok_or(format!("a block {}?", block.number))?;
        let open = log.keys().next_back() == Some(&block.number);
        if !on_flash.starts_with(&block.bytes) || (block.sealed && open) {
            return Err(format!("block {} holds what is not on the flash", block.number));
        }
    }
    match archive.conflicts(id).unwrap().first() {
        Some(conflict) => Err(format!("block {} is held twice", conflict.number)),
        None => Ok(()),
    }
}

/// Pulls over a line with a fault, and once more over a clean one when it failed. Returns how the
/// first ended.
pub(crate) fn pull_twice<E: End>(line: OneFault<E>) -> Result<(&'static str, OneFault<E>), String> {
    let mut archive = archive();
    let mut link = Link::new(line, 1);
    let first = link.pull(&mut archive, NOW_S, &mut NoProgress);
    let mut line = link.into_port();
    nothing_false(&archive, &line.far.log(), E::ID)?;
    let reset = matches!(line.fault, Some((_, Fault::Reset(_))));
    let only_lost = |findings: &[Finding]| {
        let lost = findings.iter().all(|f| matches!(f, Finding::Overwritten { first: 0, .. }));
        if lost && findings.len() <= 1 { Ok(()) } else { Err(format!("{findings:?}")) }
    };
    let ended = match &first {
        Ok(report) => {
            only_lost(&report.findings)?;
            let open = archive.blocks(E::ID).unwrap().pop().ok_or("nothing is held")?;
            let (block, len) = (report.status.open_block, usize::from(report.status.open_len));
            if (open.number, open.bytes.len()) < (block, len) {
                return Err("it counts as complete, and is short".to_owned());
            }
            if !reset {
                whole(&archive, &line.far.log(), E::ID)?;
            }
            "complete"
        }
        Err(error) => told(error)?,
    };
    if first.is_err() || reset {
        line.calm();
        let mut link = Link::new(line, 30_000);
        let report = link
            .pull(&mut archive, NOW_S + 60, &mut NoProgress)
            .map_err(|error| format!("over a clean line: {error}"))?;
        only_lost(&report.findings)?;
        line = link.into_port();
        whole(&archive, &line.far.log(), E::ID).map_err(|why| format!("afterwards: {why}"))?;
    }
    Ok((ended, line))
}

/// The faults that befall a frame: each byte and each bit of a first one, or some.
pub(crate) fn faults(len: usize, bytes: usize, bits: usize, seed: u64) -> Vec<Fault> {
    let mut faults = vec![
        Fault::Drop,
        Fault::Double,
        Fault::Hold,
        Fault::Late(200),
        Fault::Late(1500),
        Fault::Late(4000),
        Fault::Echo(0),
        Fault::Echo(1500),
    ];
    faults.extend(places(len, bytes, seed).into_iter().map(Fault::Cut));
    faults.extend(places(len + 1, bytes.min(48), seed ^ 1).into_iter().map(Fault::Reset));
    faults.extend(places(len * 8, bits, seed ^ 2).into_iter().map(Fault::Flip));
    faults
}

fn cases<E: End>(most_bytes: usize, most_bits: usize) -> (Vec<Case>, usize) {
    let frames = firsts(&clean::<E>(None));
    assert_eq!(frames.len() - 1, E::LAST_CHUNK);
    let mut cases = Vec::new();
    for (frame, len, first, kind) in &frames {
        let full = kind == "Chunk, full";
        let (bytes, bits) = match first {
            true if full => (most_bytes, 0),
            true => (most_bytes, most_bits),
            false => (SOME, SOME),
        };
        let seed = u64::try_from(*frame).unwrap() * 1000;
        println!("{}, frame {frame}: {len} B, {kind}", E::NAME);
        let case = |fault| Case { end: E::NAME, talk: "pull", frame: *frame, fault };
        cases.extend(faults(*len, bytes, bits, seed).into_iter().map(case));
        if *first && full {
            let bit = |byte: usize| Fault::Flip(byte * 8 + byte.wrapping_mul(5) % 8);
            cases.extend(places(*len, most_bytes, seed).into_iter().map(bit).map(case));
        }
    }
    // The end of a run is looked at only by a pull that did not get the last chunk.
    let again = firsts(&clean::<E>(Some(E::LAST_CHUNK)));
    let kinds: Vec<&str> = again.iter().map(|(.., kind)| kind.as_str()).collect();
    let end = kinds.iter().position(|kind| *kind == "BlocksEnd").expect("an end of a run");
    assert_eq!(kinds[end + 1], "ask Blocks");
    for (frame, len, ..) in &again[end..=end + 1] {
        let case = |fault| Case { end: E::NAME, talk: "pull-again", frame: *frame, fault };
        cases.extend(faults(*len, usize::MAX, usize::MAX, 0).into_iter().map(case));
    }
    (cases, frames.len() + 2)
}

fn run<E: End>(cases: Vec<Case>, counts: &mut Counts) {
    let mut failures = Vec::new();
    for case in chosen(cases).into_iter().filter(|case| case.end == E::NAME) {
        let mut line = OneFault::new(E::fresh());
        line.fault = Some((case.frame, case.fault));
        line.lost = (case.talk == "pull-again").then_some(E::LAST_CHUNK);
        match pull_twice(line) {
            Ok((ended, line)) => {
                counts.note(case.fault, ended);
                if !line.befell {
                    failures.push((case.to_string(), "the fault befell no frame".to_owned()));
                }
            }
            Err(why) => failures.push((case.to_string(), why)),
        }
    }
    report("every_frame", &failures);
}

#[test]
fn every_frame_of_a_pull_from_the_real_logger() {
    let (cases, frames) = cases::<RealLogger>(usize::MAX, usize::MAX);
    let mut counts = Counts::default();
    run::<RealLogger>(cases, &mut counts);
    println!("real logger, {frames} frames: {counts:?}");
    counts.only(&["complete"]);
    counts.at_least(&[
        ("cuts", 1500),
        ("flips", 5000),
        ("drops", 13),
        ("doubles", 13),
        ("reorders", 13),
        ("late", 39),
        ("echoes", 26),
        ("resets", 200),
        ("complete", 7000),
    ]);
}

#[test]
fn every_frame_of_a_pull_from_the_toy_logger() {
    let (cases, frames) = cases::<ToyLogger>(100, 300);
    let mut counts = Counts::default();
    run::<ToyLogger>(cases, &mut counts);
    println!("toy logger, {frames} frames: {counts:?}");
    counts.only(&["complete"]);
    counts.at_least(&[
        ("cuts", 350),
        ("flips", 1000),
        ("drops", 15),
        ("doubles", 15),
        ("reorders", 15),
        ("late", 45),
        ("echoes", 30),
        ("resets", 200),
        ("complete", 1800),
    ]);
}
