//! `check` and `plot`

use super::args::{Check, Plot};
use super::question::{Site, parse_span_s, parse_time};
use super::{Answer, Failure, Talk, fail, store};
use crate::assess::{Assessment, REQUIREMENTS, Requirement, corrected};
use crate::plot::{Chart, Style};
use crate::view;
use std::path::{Path, PathBuf};

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

/// The kind of picture that a file name asks for.
#[derive(Clone, Copy)]
enum Picture {
    Png,
    Svg,
}

pub(super) fn plot(
    args: &Plot,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let picture = match args.output.extension().and_then(|e| e.to_str()) {
        Some(e) if e.eq_ignore_ascii_case("png") => Picture::Png,
        Some(e) if e.eq_ignore_ascii_case("svg") => Picture::Svg,
        _ => return fail(format!("{}: must end in .png or .svg", args.output.display())),
    };
    let (width, height) = parse_size(&args.size)?;
    let site = Site::open(&args.question, archive)?;
    for note in &site.notes {
        writeln!(talk.err, "note: {note}")?;
    }
    let assessment = site.assess();
    let zone = &site.job.site.time_zone;
    let to_s = args.to.as_deref().map(|t| parse_time(t, zone)).transpose()?.unwrap_or(site.at_s);
    let from_s = match (&args.from, &args.last) {
        (Some(from), _) => Some(parse_time(from, zone)?),
        (None, Some(last)) => Some(to_s.saturating_sub(parse_span_s(last)?)),
        (None, None) => None,
    };
    if from_s.is_some_and(|from_s| from_s >= to_s) {
        return fail("the chart would end before it begins: see --from and --to");
    }
    let several = site.rooms.len() > 1;
    for ((room, history), judged) in site.rooms.iter().zip(&assessment.zones) {
        let first_s = history.span().map_or(to_s - 86_400, |span| span.0);
        let from_s = from_s.unwrap_or(first_s).min(to_s - 1);
        let style = Style { width, height, dark: args.dark };
        let history = corrected(&site.job, room, history);
        let chart = Chart::new(
            &site.job,
            &site.limits,
            &history,
            (&assessment, judged),
            (from_s, to_s),
            style,
        )?;
        let bytes = match picture {
            Picture::Png => crate::plot::png(&chart)?,
            Picture::Svg => crate::plot::svg(&chart)?.into_bytes(),
        };
        let path = if several { with_room(&args.output, &room.name) } else { args.output.clone() };
        store::write(&path, &bytes)?;
        writeln!(talk.out, "{}", path.display())?;
    }
    Ok(answer(&assessment))
}

/// `hall.png` and `Bath` to `hall-bath.png`.
fn with_room(path: &Path, room: &str) -> PathBuf {
    let plain = |c: char| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let room: String = room.chars().map(plain).collect();
    let stem = path.file_stem().and_then(|stem| stem.to_str()).unwrap_or("chart");
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or("png");
    path.with_file_name(format!("{stem}-{room}.{extension}"))
}

fn parse_size(text: &str) -> Result<(u32, u32), Failure> {
    let sides =
        text.split_once(['x', 'X']).and_then(|(w, h)| Some((w.parse().ok()?, h.parse().ok()?)));
    match sides {
        // Whether it is a size that a chart can have, the chart says.
        Some((w, h)) => Ok((w, h)),
        None => {
            fail(format!("`{text}` is no size: write WIDTHxHEIGHT in pixels, such as 1400x1100"))
        }
    }
}
