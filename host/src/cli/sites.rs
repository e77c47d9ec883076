//! `sites`: the verdicts of many jobs in a table.

use super::args::{Question, Sites};
use super::question::{Shelf, Site, open_archive, read_job};
use super::{Answer, Failure, Talk, fail, now_s};
use crate::archive::{Archive, PullRecord};
use crate::assess::ZoneAssessment;
use crate::history::{EventKind, History};
use crate::view::sites::{self, Asked, Battery, Count, Judged, Row, Standing};
use glueday_types::LoggerId;
use std::any::Any;
use std::num::NonZero;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

pub(super) fn run(
    args: &Sites,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let asked = Asked { step: args.step.into(), now_s: now_s() };
    let (jobs, mut rows) = find_jobs(&args.jobs);
    rows.extend(judge_all(&jobs, args, archive));
    sites::sort(&mut rows, args.sort.into(), args.reverse);
    for row in &rows {
        for note in &row.notes {
            writeln!(talk.err, "note: {}: {note}", row.job)?;
        }
    }
    if talk.json {
        writeln!(talk.out, "{}", sites::json(&rows, asked)?)?;
    } else {
        write!(talk.out, "{}", sites::text(&rows, asked, talk.width))?;
    }
    match Count::of(&rows) {
        Count { error: 1.., .. } => {
            talk.out.flush()?;
            fail("some rows could not be judged: mend what they say, and repeat")
        }
        Count { wait: 0, .. } => Ok(Answer::Yes),
        _ => Ok(Answer::Wait),
    }
}

/// The job files that are meant, each once, and a row for each place that has none.
fn find_jobs(places: &[PathBuf]) -> (Vec<PathBuf>, Vec<Row>) {
    let here = [PathBuf::from(".")];
    let places = if places.is_empty() { &here } else { places };
    let (mut jobs, mut rows) = (Vec::new(), Vec::new());
    for place in places {
        let mut refuse = |why: String| {
            rows.push(Row::error(place.display().to_string(), None, None, why));
        };
        if !place.is_dir() {
            jobs.push(place.clone());
            continue;
        }
        match in_folder(place) {
            Ok(found) if found.is_empty() => {
                refuse(
                    "no file in this folder ends in .toml: name job files, or another folder"
                        .to_owned(),
                );
            }
            Ok(found) => jobs.extend(found),
            Err(error) => refuse(format!("{}: {error}", place.display())),
        }
    }
    let mut seen = std::collections::BTreeSet::new();
    // A file that was named twice, by whatever way, is one job.
    jobs.retain(|job| seen.insert(std::fs::canonicalize(job).unwrap_or_else(|_| job.clone())));
    (jobs, rows)
}

fn in_folder(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let is_toml = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"));
        if is_toml && !path.is_dir() {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// Judges the jobs on all cores. Only the rows are kept: a log is gone before the next one is read.
fn judge_all(jobs: &[PathBuf], args: &Sites, place: Option<&Path>) -> Vec<Row> {
    let cores = std::thread::available_parallelism().map_or(1, NonZero::get);
    // It is looked through for damage once. Where it cannot be opened, each job that needs it says so.
    let archive = open_archive(place).ok();
    let shelves: Vec<Shelf<'_>> = (0..cores.min(jobs.len()))
        .map(|_| match archive.as_ref().and_then(|archive| archive.another_reader().ok()) {
            Some(reader) => Shelf::of(reader),
            None => Shelf::new(place),
        })
        .collect();
    let judged = on_threads(jobs, shelves, |job, shelf| judge_job(job, args, shelf));
    let rows = jobs.iter().zip(judged).flat_map(|(job, judged)| match judged {
        Ok(rows) => rows,
        Err(why) => {
            let why = format!(
                "the program failed while it judged this job, so there is no verdict: report it with \
                 this file ({why})"
            );
            vec![Row::error(job.display().to_string(), None, None, why)]
        }
    });
    rows.collect()
}

/// What `judge` says of each job, in their order, with a thread for each of the tools: one that takes
/// long keeps no other waiting, and one that panics says why and takes none along.
fn on_threads<J: Sync, T: Send, R: Send>(
    jobs: &[J],
    tools: Vec<T>,
    judge: impl Fn(&J, &mut T) -> R + Sync,
) -> Vec<Result<R, String>> {
    let next = AtomicUsize::new(0);
    let work = |mut tool: T| {
        let mut parts = Vec::new();
        loop {
            let i = next.fetch_add(1, Ordering::Relaxed);
            let Some(job) = jobs.get(i) else { return parts };
            // A tool holds an open archive, which is only read: nothing in it is left half done.
            let judged = catch_unwind(AssertUnwindSafe(|| judge(job, &mut tool)));
            parts.push((i, judged.map_err(|panic| said(&*panic))));
        }
    };
    let mut parts: Vec<(usize, Result<R, String>)> = std::thread::scope(|scope| {
        let workers: Vec<_> = tools.into_iter().map(|tool| scope.spawn(|| work(tool))).collect();
        let join = |worker: std::thread::ScopedJoinHandle<'_, _>| {
            worker.join().unwrap_or_else(|panic| resume_unwind(panic))
        };
        workers.into_iter().flat_map(join).collect()
    });
    parts.sort_by_key(|part| part.0);
    parts.into_iter().map(|part| part.1).collect()
}

/// What a panic said.
fn said(panic: &(dyn Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().map(|text| (*text).to_owned());
    text.or_else(|| panic.downcast_ref::<String>().cloned())
        .unwrap_or_else(|| "it did not say why".to_owned())
}

/// The rows of a job. What is wrong with one of its rooms does not hide the others.
fn judge_job(path: &Path, args: &Sites, shelf: &mut Shelf<'_>) -> Vec<Row> {
    let name = path.display().to_string();
    let question = |room: Vec<String>| Question {
        job: path.to_owned(),
        step: args.step,
        at: args.at.clone(),
        room,
    };
    let whole = match rows(&name, &question(Vec::new()), shelf) {
        Ok(rows) => return rows,
        Err(error) => error.to_string(),
    };
    let job = match read_job(path) {
        Ok(job) => job,
        Err(_) => return vec![Row::error(name, None, None, whole)],
    };
    let site = || Some(job.site.name.clone());
    if job.zones.len() < 2 {
        let room = job.zones.first().map(|zone| zone.name.clone());
        return vec![Row::error(name, site(), room, whole)];
    }
    let each = job.zones.iter().flat_map(|zone| {
        rows(&name, &question(vec![zone.name.clone()]), shelf).unwrap_or_else(|error| {
            let room = Some(zone.name.clone());
            vec![Row::error(name.clone(), site(), room, error.to_string())]
        })
    });
    let mut each: Vec<Row> = each.collect();
    if each.iter().all(|row| row.verdict() != "error") {
        // What is wrong shows only where the rooms stand together: no verdict holds then.
        each = vec![Row::error(name.clone(), site(), None, whole)];
    }
    each
}

fn rows(name: &str, question: &Question, shelf: &mut Shelf<'_>) -> Result<Vec<Row>, Failure> {
    let site = Site::open_from(question, shelf)?;
    let assessment = site.assess();
    let mut rows = Vec::new();
    for ((zone, history), judged) in site.rooms.iter().zip(&assessment.zones) {
        let logger = site.loggers.iter().find(|(room, _)| *room == zone.name).map(|found| found.1);
        let mut row = row(name, &site, history, judged);
        if let Some(logger) = logger {
            look_up(&mut row, logger, history, shelf.archive()?)?;
        }
        rows.push(row);
    }
    if let Some(first) = rows.first_mut() {
        first.notes.clone_from(&site.notes);
    }
    Ok(rows)
}

fn row(name: &str, site: &Site, history: &History, zone: &ZoneAssessment) -> Row {
    Row {
        job: name.to_owned(),
        site: Some(site.job.site.name.clone()),
        room: Some(zone.name.clone()),
        standing: Standing::Judged(Judged::of(zone, site.at_s, &site.job, &site.limits)),
        last_pull_s: None,
        last_sample_s: history.span().map(|span| span.1),
        battery: None,
        notes: Vec::new(),
    }
}

/// Adds what the archive knows of the logger.
fn look_up(
    row: &mut Row,
    logger: LoggerId,
    history: &History,
    archive: &Archive,
) -> Result<(), Failure> {
    let pull = archive.last_pull(logger)?;
    row.battery = battery(pull.as_ref(), history);
    row.last_pull_s = match pull {
        Some(pull) => Some(pull.at_s),
        None => archive.imported_s(logger)?,
    };
    Ok(())
}

/// The latest of what is known of the supply: told by the logger at the last pull, or logged with its
/// warning.
fn battery(pull: Option<&PullRecord>, history: &History) -> Option<Battery> {
    let warned = history.events.iter().rev().find_map(|event| match event.kind {
        EventKind::PowerLow(supply_mv) => {
            Some(Battery { supply_mv, at_s: event.time_s, is_low: true })
        }
        _ => None,
    });
    let told = pull.and_then(|pull| Some((pull.supply_mv?, pull.at_s)));
    match (told, warned) {
        (Some((_, at_s)), Some(warned)) if warned.at_s > at_s => Some(warned),
        // A fresh battery ends the warning, a level that the logger warned of before does not.
        (Some((supply_mv, at_s)), warned) => {
            let is_low = warned.is_some_and(|warned| supply_mv <= warned.supply_mv);
            Some(Battery { supply_mv, at_s, is_low })
        }
        (None, warned) => warned,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_job_that_panics_takes_no_other_along() {
        let jobs: Vec<u32> = (0..200).collect();
        for threads in [1, 2, 7] {
            let judged = on_threads(&jobs, vec![0_u32; threads], |job, done| {
                *done += 1;
                match job {
                    3 => panic!("three"),
                    150 => panic!("a hundred and {}", 50),
                    199 => std::panic::panic_any(199_u32),
                    // So that the threads take turns.
                    _ if job % 50 == 0 => {
                        std::thread::sleep(std::time::Duration::from_millis(2));
                    }
                    _ => {}
                }
                job * 2
            });
            let expected: Vec<Result<u32, String>> = jobs
                .iter()
                .map(|job| match job {
                    3 => Err("three".to_owned()),
                    150 => Err("a hundred and 50".to_owned()),
                    199 => Err("it did not say why".to_owned()),
                    job => Ok(job * 2),
                })
                .collect();
            assert_eq!(judged, expected, "{threads} threads");
        }
    }
}
