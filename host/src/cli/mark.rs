//! `mark` puts a milestone into the log, and `marks` lists what was marked beside the job file.

use super::args::{Mark, Marks};
use super::logger::open;
use super::question::Site;
use super::{Answer, Failure, Talk, now_s, print_json};
use crate::assess::marks::{Agreement, mark_name, without_marks};
use crate::view;
use glueday_types::MarkKind;
use serde::Serialize;
use std::path::Path;

#[derive(Serialize)]
struct Marked {
    schema: u32,
    logger: String,
    mark: &'static str,
    boot: u32,
    /// Seconds since that boot.
    at_s: u32,
    /// The same by the clock of this computer; `None` when the logger restarted meanwhile.
    at: Option<String>,
    /// How often it stands in the log.
    copies: u32,
}

pub(super) fn mark(args: &Mark, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    let kind = MarkKind::from(args.milestone);
    let mut link = open(&args.port, talk)?;
    let logger = link.hello()?.logger;
    let marked = link.mark(logger, kind)?;
    let status = link.status()?;
    let ago_s = status.uptime_s.checked_sub(marked.at_s).filter(|_| status.boot == marked.boot);
    let at = ago_s.map(|ago_s| view::utc_time(now_s() - i64::from(ago_s)));
    let name = mark_name(kind);
    if marked.copies > 1 {
        writeln!(
            talk.err,
            "note: the line was bad, and the mark stands in the log {} times",
            marked.copies
        )?;
    }
    if talk.json {
        let (boot, at_s, copies) = (marked.boot, marked.at_s, marked.copies);
        let logger = logger.to_string();
        print_json(talk, &Marked { schema: 1, logger, mark: name, boot, at_s, at, copies })?;
        return Ok(Answer::Yes);
    }
    let when = at.as_deref().unwrap_or("just before the logger restarted");
    writeln!(talk.out, "{name} stands in the log of {logger}: {when}")?;
    if let (Some(at), false) = (&at, kind == MarkKind::Button) {
        writeln!(talk.err, "what counts is the job file; under [milestones]: {name} = {at}")?;
    }
    writeln!(talk.err, "`glueday pull` brings the mark into the archive")?;
    Ok(Answer::Yes)
}

pub(super) fn marks(
    args: &Marks,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let site = Site::open(&args.question, archive)?;
    let assessment = site.assess();
    for note in &site.notes {
        writeln!(talk.err, "note: {note}")?;
    }
    if talk.json {
        writeln!(talk.out, "{}", view::marks::json(&assessment)?)?;
    } else {
        write!(talk.out, "{}", view::marks::text(&assessment, &site.job, talk.width))?;
    }
    let contradicts = |agreement| matches!(agreement, Agreement::Differs | Agreement::NotInJob);
    let mut pairings = assessment.zones.iter().flat_map(|zone| &zone.marks);
    let differs = pairings.any(|pairing| contradicts(pairing.agreement()));
    for zone in &assessment.zones {
        if let Some(line) = without_marks(&zone.marks) {
            writeln!(talk.err, "note: {}: {line}", zone.name)?;
        }
    }
    Ok(if differs { Answer::Wait } else { Answer::Yes })
}
