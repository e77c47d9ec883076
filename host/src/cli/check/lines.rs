//! `check -`: jobs that come with their logs, a line of JSON each, and a line of JSON for each answer.
//!
//! This is how an engine that spreads work over many machines asks: it pipes the rows of a data set
//! (`export --data-set`) through the program, which needs neither archive nor files. A line has the row
//! of the job from the table `jobs`, and under `blocks` its rows of that table, in any order:
//!
//! ```json
//! {"job": "hall", "job_file": "...", "block_count": 1,
//!  "blocks": [{"logger": "...", "logger_name": "...", "block": 0, "bytes": "Base64", "sha256": "..."}]}
//! ```
//!
//! Every line that comes in is answered. What is missing, doubled or changed on the way is an error of
//! that job, and never a verdict from less than was exported.

use super::super::args::{Check, Question};
use super::super::question::{Site, fill_up};
use super::super::{Answer, Failure, Talk, fail};
use crate::export::data_set::sha256;
use crate::record::Log;
use crate::view;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD as BASE64;
use glueday_types::LoggerId;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::io::BufRead;

/// Version of the lines that go out; raised when a field changes its meaning or goes away.
const SCHEMA: u32 = 1;

/// A job with its logs.
#[derive(Deserialize)]
struct Line {
    job: String,
    job_file: String,
    block_count: u64,
    /// Absent or null where there are none.
    blocks: Option<Vec<Block>>,
}

/// A row of the table of blocks.
#[derive(Deserialize)]
struct Block {
    logger: String,
    logger_name: Option<String>,
    block: u32,
    bytes: String,
    sha256: String,
}

/// A log while its blocks come in, by their numbers.
struct Gathered {
    name: Option<String>,
    blocks: BTreeMap<u32, Vec<u8>>,
}

/// An answer.
#[derive(Serialize)]
struct Answered<'a> {
    schema: u32,
    /// The job; absent where the line could not be read.
    job: Option<&'a str>,
    /// Number of the line, from 1.
    line: u64,
    /// The document of `check --json`.
    check: Option<serde_json::Value>,
    notes: &'a [String],
    error: Option<String>,
}

pub(super) fn run(args: &Check, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    if !talk.json || !args.why.is_empty() {
        return fail("check - answers with lines of JSON: give it --json, and no --why");
    }
    let (mut waits, mut errors) = (0_u64, 0_u64);
    for (line, number) in std::io::stdin().lock().split(b'\n').zip(1..) {
        let line = line?;
        if line.trim_ascii().is_empty() {
            continue;
        }
        let read: Result<Line, _> = serde_json::from_slice(&line);
        let (job, judged) = match read {
            Ok(line) => (Some(line.job.clone()), judge(&args.question, line)),
            Err(error) => (None, fail(format!("line {number} is no job with its blocks: {error}"))),
        };
        let job = job.as_deref();
        let nothing =
            Answered { schema: SCHEMA, job, line: number, check: None, notes: &[], error: None };
        let (check, notes, error) = match judged {
            Ok((site, check, is_go)) => {
                waits += u64::from(!is_go);
                (Some(check), site.notes, None)
            }
            Err(error) => {
                errors += 1;
                (None, Vec::new(), Some(error.to_string()))
            }
        };
        serde_json::to_writer(
            &mut *talk.out,
            &Answered { check, notes: &notes, error, ..nothing },
        )?;
        writeln!(talk.out)?;
    }
    talk.out.flush()?;
    match (errors, waits) {
        (0, 0) => Ok(Answer::Yes),
        (0, _) => Ok(Answer::Wait),
        _ => fail("some jobs could not be judged: mend what their lines say, and repeat"),
    }
}

fn judge(question: &Question, line: Line) -> Result<(Site, serde_json::Value, bool), Failure> {
    let Line { job, job_file, block_count, blocks } = line;
    let blocks = blocks.unwrap_or_default();
    if blocks.len() as u64 != block_count {
        return fail(format!(
            "{} blocks came of {block_count} that were exported: repeat, or export the job again",
            blocks.len()
        ));
    }
    let site = Site::of_logs(question, &job, job_file, logs(blocks)?)?;
    let assessment = site.assess();
    let document = view::json::check_value(&assessment)?;
    Ok((site, document, assessment.is_go()))
}

/// The logs that the blocks make, in the order of their ids.
fn logs(blocks: Vec<Block>) -> Result<Vec<Log>, Failure> {
    let mut logs: BTreeMap<LoggerId, Gathered> = BTreeMap::new();
    for Block { logger, logger_name, block, bytes, sha256: said } in blocks {
        let wrong = |why: &str| fail(format!("block {block} of logger {logger}: {why}"));
        let Ok(id) = logger.parse::<LoggerId>() else {
            return wrong("its logger is no id of 16 hexadecimal digits");
        };
        // Some engines break the lines of Base64, as RFC 2045 does.
        let unbroken: Vec<u8> = bytes.bytes().filter(|byte| !b"\r\n".contains(byte)).collect();
        let Ok(bytes) = BASE64.decode(unbroken) else {
            return wrong("its bytes are no Base64 (RFC 4648)");
        };
        if sha256(&bytes) != said {
            return wrong("it changed since it was exported: export the job again");
        }
        let log = logs
            .entry(id)
            .or_insert_with(|| Gathered { name: logger_name.clone(), blocks: BTreeMap::new() });
        if log.name != logger_name {
            return wrong("its logger has two names: export the job again");
        }
        // A logger of two rooms has its blocks in both.
        if log.blocks.insert(block, bytes.clone()).is_some_and(|before| before != bytes) {
            return wrong("it came in two versions: export the job again");
        }
    }
    let log = |(logger, Gathered { name, blocks }): (LoggerId, Gathered)| {
        let mut blocks: Vec<Vec<u8>> = blocks.into_values().collect();
        fill_up(&mut blocks);
        let (attestations, other_copies) = (Vec::new(), Vec::new());
        Log { logger, name, public_key: None, blocks, attestations, original: None, other_copies }
    };
    Ok(logs.into_iter().map(log).collect())
}
