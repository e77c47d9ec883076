//! What the campaigns share: which frames there are, which faults befall them, what is counted, and
//! how one case is run again.

use glueday::port::PortError;
use glueday::pull::{LinkError, PullError, SessionError};
use glueday_tests::faulty_link::{Fault, Seen};
use glueday_tests::flash::Random;
use glueday_types::frame::Collector;
use glueday_types::wire::{self, REPLY_FRAME_LEN_MAX, Reply, Request};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// Names the one case to run, such as `end=real talk=pull frame=7 flip=123`.
const CASE: &str = "GLUEDAY_LINK_CASE";

/// One fault, and where.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Case {
    pub(crate) end: &'static str,
    pub(crate) talk: &'static str,
    pub(crate) frame: usize,
    pub(crate) fault: Fault,
}

impl fmt::Display for Case {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "end={} talk={} frame={} {}", self.end, self.talk, self.frame, self.fault)
    }
}

/// Of the cases of a test, the one that is to be run again, or all.
pub(crate) fn chosen(cases: Vec<Case>) -> Vec<Case> {
    let Ok(wanted) = std::env::var(CASE) else { return cases };
    let word = |key: &str| {
        wanted.split_whitespace().find_map(|word| word.strip_prefix(key)?.strip_prefix('='))
    };
    let fault = wanted
        .split_whitespace()
        .filter_map(|word| word.split_once('='))
        .find_map(|(name, value)| Fault::parse(name, value))
        .expect("the case names a fault");
    let frame: usize = word("frame").and_then(|frame| frame.parse().ok()).expect("frame=N");
    // Also a case that the campaign would not choose by itself.
    let mut kept: Vec<Case> = cases
        .into_iter()
        .filter(|case| {
            word("end").is_none_or(|end| end == case.end)
                && word("talk").is_none_or(|talk| talk == case.talk)
        })
        .map(|case| Case { frame, fault, ..case })
        .collect();
    kept.dedup();
    kept
}

/// Fails with all of what went wrong, and how to run each case again.
pub(crate) fn report(test: &str, failures: &[(String, String)]) {
    for (case, why) in failures.iter().take(5) {
        println!("{why}\n  again: {CASE}='{case}' {}", again(test));
    }
    assert!(failures.is_empty(), "{} cases failed", failures.len());
}

pub(crate) fn again(test: &str) -> String {
    format!("cargo test -p glueday-tests --test pull_session {test} -- --nocapture")
}

/// What a frame says, in a few words; frames that say the same are of one kind.
pub(crate) fn kind(seen: &Seen) -> String {
    let mut collector = Collector::<REPLY_FRAME_LEN_MAX>::new();
    for byte in &seen.bytes {
        let Some(Ok(payload)) = collector.push(*byte) else { continue };
        let said = if seen.to_logger {
            wire::read::<Request>(payload).map(|message| format!("ask {:?}", message.body))
        } else {
            wire::read::<Reply<'_>>(payload).map(|message| match message.body {
                Reply::Chunk { bytes, .. } if bytes.len() == wire::CHUNK_LEN => {
                    "Chunk, full".into()
                }
                Reply::Chunk { .. } => "Chunk, rest".into(),
                other => format!("{other:?}"),
            })
        };
        let said = said.expect("a message");
        return said.split(['(', '{']).next().unwrap_or_default().trim().to_owned();
    }
    "wake".to_owned()
}

/// The frames of a clean run by their number, and whether each is the first of its kind.
pub(crate) fn firsts(seen: &[Seen]) -> Vec<(usize, usize, bool, String)> {
    let mut kinds = BTreeSet::new();
    seen.iter()
        .enumerate()
        .map(|(number, seen)| {
            let kind = kind(seen);
            (number, seen.bytes.len(), kinds.insert(kind.clone()), kind)
        })
        .collect()
}

/// So many places below `len`, all of them when there are no more.
pub(crate) fn places(len: usize, most: usize, seed: u64) -> Vec<usize> {
    if len <= most {
        return (0..len).collect();
    }
    if most == 0 {
        return Vec::new();
    }
    let mut random = Random(seed);
    let mut places = BTreeSet::from([0, len - 1]);
    while places.len() < most {
        places.insert(usize::try_from(random.bits() % u64::try_from(len).unwrap()).unwrap());
    }
    places.into_iter().collect()
}

/// What a campaign did.
#[derive(Debug, Default)]
pub(crate) struct Counts {
    pub(crate) faults: BTreeMap<&'static str, usize>,
    pub(crate) ends: BTreeMap<&'static str, usize>,
}

impl Counts {
    pub(crate) fn note(&mut self, fault: Fault, end: &'static str) {
        let name = match fault {
            Fault::Cut(_) => "cuts",
            Fault::Flip(_) => "flips",
            Fault::Drop => "drops",
            Fault::Double => "doubles",
            Fault::Hold => "reorders",
            Fault::Late(_) => "late",
            Fault::Echo(_) => "echoes",
            Fault::Reset(_) => "resets",
        };
        *self.faults.entry(name).or_default() += 1;
        *self.ends.entry(end).or_default() += 1;
    }

    pub(crate) fn of(&self, name: &str) -> usize {
        self.faults.get(name).or_else(|| self.ends.get(name)).copied().unwrap_or(0)
    }

    /// Fails when one ended otherwise than these say: one fault alone is overcome, without an error.
    pub(crate) fn only(&self, ends: &[&str]) {
        assert!(self.ends.keys().all(|end| ends.contains(end)), "{:?}", self.ends);
    }

    /// Fails when fewer were done than is promised; not when one case is run again.
    pub(crate) fn at_least(&self, floors: &[(&str, usize)]) {
        if std::env::var_os(CASE).is_some() {
            return;
        }
        for (name, floor) in floors {
            assert!(self.of(name) >= *floor, "{name}: {} of {floor}", self.of(name));
        }
    }
}

/// The name of an error, when its message says where, what, and what to do next.
pub(crate) fn told(error: &PullError) -> Result<&'static str, String> {
    let (name, message) = match error {
        PullError::Link(error) => (link_error(error), error.to_string()),
        PullError::Archive(error) => return Err(format!("the archive failed: {error}")),
    };
    clear(&message).map(|()| name)
}

/// Whether a message names the port and what to do next.
pub(crate) fn clear(message: &str) -> Result<(), String> {
    let next = ["check ", "repeat", "pull again", "update ", "try again", "replace "];
    if !message.contains("simulated line") {
        return Err(format!("the message does not name the port: {message}"));
    }
    if !next.iter().any(|next| message.contains(next)) {
        return Err(format!("the message does not say what to do next: {message}"));
    }
    Ok(())
}

pub(crate) fn link_error(error: &LinkError) -> &'static str {
    match error {
        LinkError::Port(PortError::Gone { .. }) => "gone",
        LinkError::Port(_) => "other port error",
        LinkError::Silent { .. } => "silent",
        LinkError::WrongDevice { .. } => "wrong device",
        LinkError::NoReply { .. } => "no reply",
        LinkError::LoggerNewer { .. } => "logger newer",
        LinkError::LoggerOlder { .. } => "logger older",
        LinkError::FormatNewer { .. } => "format newer",
        LinkError::Refused { .. } => "refused",
        LinkError::Unexpected { .. } => "unexpected",
        LinkError::Log { source: SessionError::Silent, .. } => "stopped answering",
        LinkError::Log { source: SessionError::Noisy { .. }, .. } => "noisy line",
        LinkError::Log { .. } => "other error of the log",
    }
}
