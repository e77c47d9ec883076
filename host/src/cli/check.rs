//! `check`

mod lines;

use super::args::Check;
use super::question::Site;
use super::{Answer, Failure, Talk, fail};
use crate::assess::{Assessment, REQUIREMENTS, Requirement};
use crate::view;
use std::path::Path;

pub(super) fn check(
    args: &Check,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let ids: Vec<String> = args.why.iter().filter(|id| !id.is_empty()).cloned().collect();
    for id in &ids {
        if !REQUIREMENTS.iter().any(|requirement| requirement.id == id) {
            return fail(unknown(id));
        }
    }
    if args.question.job.as_os_str() == "-" {
        return lines::run(args, talk);
    }
    let site = Site::open(&args.question, archive)?;
    let assessment = site.assess();
    for note in &site.notes {
        writeln!(talk.err, "note: {note}")?;
    }
    let (job, limits) = (&site.job, &site.limits);
    if !ids.is_empty() {
        explain(&site, &assessment, &ids, talk)?;
    } else if talk.json {
        writeln!(talk.out, "{}", view::json::check(&assessment)?)?;
    } else if args.why.is_empty() {
        write!(talk.out, "{}", view::text::check(&assessment, job, limits, talk.width))?;
    } else {
        write!(talk.out, "{}", view::why::list(&assessment, talk.width))?;
    }
    Ok(answer(&assessment))
}

/// What there is instead of a requirement that is none.
fn unknown(id: &str) -> String {
    let near = REQUIREMENTS
        .iter()
        .map(|requirement| (strsim::jaro_winkler(requirement.id, id), requirement.id))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    let near = near.map_or(String::new(), |(_, near)| format!("; did you mean `{near}`?"));
    let mut text = format!("--why: there is no requirement `{id}`{near}\nThere are:");
    for requirement in REQUIREMENTS {
        text.push_str(&format!("\n  {:<16} {}", requirement.id, requirement.title));
    }
    text
}

fn explain(
    site: &Site,
    assessment: &Assessment,
    ids: &[String],
    talk: &mut Talk<'_>,
) -> Result<(), Failure> {
    let step = assessment.step;
    for id in ids {
        let applies = |r: &Requirement| r.id == id && r.steps.contains(&step);
        if !REQUIREMENTS.iter().any(applies) {
            let step = step.as_str();
            writeln!(talk.err, "note: `{id}` does not apply to the step {step}")?;
        }
    }
    if talk.json {
        writeln!(talk.out, "{}", view::json::why(assessment, &site.limits, ids)?)?;
        return Ok(());
    }
    let mut first = true;
    for id in ids {
        for zone in &assessment.zones {
            for judged in zone.judged.iter().filter(|judged| judged.requirement.id == id) {
                if !std::mem::take(&mut first) {
                    writeln!(talk.out)?;
                }
                let from = (&site.job, &site.limits);
                let text = view::why::why(assessment, zone, judged, from, talk.width);
                write!(talk.out, "{text}")?;
            }
        }
    }
    Ok(())
}

pub(super) fn answer(assessment: &Assessment) -> Answer {
    if assessment.is_go() { Answer::Yes } else { Answer::Wait }
}
