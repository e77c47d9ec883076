//! `demo`: the whole job with no hardware, on the same code path as with it.
//!
//! A desk logger runs weeks of an invented site at once and then serves a pty (a TCP port where there
//! are none). Everything after that is what a contractor does: adopt, pull, check, plot, record.

mod story;

use super::args::Demo as Args;
use super::question::whole_log;
use super::{Answer, Failure, Plain, Talk, fail, logger, now_s, record, store};
use crate::archive::{Archive, ArchiveError};
use crate::assess::{Step, assess, corrected};
use crate::history::{self, History};
use crate::job::Job;
use crate::limits::Limits;
use crate::plot::{Chart, Course, Style};
use crate::port::Address;
use crate::pull::Link;
use crate::record::{Evidence, PROGRAM};
use crate::view;
use glueday_desk::{Channel, Desk, Keyframe, Port, Script, Settings};
use glueday_types::LoggerId;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use story::Story;

/// Blocks in the ring of the demo's logger: far more than the story fills.
const RING_BLOCKS: u32 = 64;
const LOGGER_ID: LoggerId = LoggerId(*b"demo\x00\x00\x00\x01");

/// The files of the demo.
struct Files {
    flash: PathBuf,
    archive: PathBuf,
    job: PathBuf,
    record: PathBuf,
}

pub(super) fn run(args: &Args, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    let now_s = match &args.now {
        Some(text) => super::question::parse_time(text, &jiff::tz::TimeZone::UTC)?,
        None => now_s(),
    };
    // Before anything is written: a job of a year that nobody lives in is refused by its reader.
    let story = Story::ending_at(now_s).filter(|story| Job::parse(&story.job(), "").is_ok());
    let Some(story) = story else {
        return fail(
            "--now is beyond the years that a job can be of: leave it out, or give one near now",
        );
    };
    let files = prepare(&args.folder)?;
    store::write(&files.job, story.job().as_bytes())?;

    let desk = log_weeks(&files.flash, &story, now_s)?;
    let mut archive = Archive::create(&files.archive)?;
    adopt_and_pull(desk, &mut archive, now_s, talk)?;
    archive.put_job(&crate::archive::Job {
        name: "demo".to_owned(),
        path: files.job.display().to_string(),
        text: story.job(),
        stored_s: now_s,
    })?;

    let job = Job::parse(&story.job(), &files.job.display().to_string())?;
    let blocks = archive.blocks(LOGGER_ID)?;
    let history = history::build(blocks.iter().map(|block| block.bytes.as_slice()));
    let mut answers = Vec::new();
    for (name, at_s) in [("wait", story.wait_s()), ("go", story.go_s())] {
        answers.push(answer(&args.folder, name, &job, &history, at_s, talk)?);
    }
    let logger = archive.find_logger(story::LOGGER)?;
    let evidence = Evidence {
        program: PROGRAM.to_owned(),
        job_text: story.job(),
        step: Step::GlueDown,
        at_s: story.go_s(),
        rooms: Vec::new(),
        logs: vec![whole_log(&archive, logger)?],
    };
    record::write(&files.record, &evidence)?;
    if talk.json {
        // One document: the two answers in order.
        writeln!(talk.out, "[\n{}\n]", answers.join(",\n"))?;
        return Ok(Answer::Yes);
    }
    let shown = |path: &Path| path.display().to_string();
    writeln!(talk.out, "Files in {}:", shown(&args.folder))?;
    for (path, what) in [
        (&files.job, "the job file"),
        (&files.archive, "the archive with the log as pulled"),
        (&files.flash, "the flash of the demo's logger"),
        (&files.record, "the record of the go, with the log in it"),
    ] {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        writeln!(talk.out, "  {name:<16} {what}")?;
    }
    writeln!(talk.out, "  {:<16} the charts, also as .svg", "wait.png go.png")?;
    writeln!(talk.out, "Ask more of it:")?;
    writeln!(
        talk.out,
        "  glueday --archive {} check {} --at \"{}\" --why acclimation",
        shown(&files.archive),
        shown(&files.job),
        view::utc_time(story.wait_s())
    )?;
    Ok(Answer::Yes)
}

/// Refuses a folder with an archive or a job of somebody's own: the demo would put its own in their
/// place.
fn refuse_others(files: &Files) -> Result<(), Failure> {
    let mine = match Archive::open_read_only(&files.archive) {
        Ok(archive) => archive.loggers()?.iter().all(|logger| logger.id == LOGGER_ID),
        Err(ArchiveError::Missing { .. } | ArchiveError::Unfinished { .. }) => true,
        Err(_) => false,
    };
    if !mine {
        return fail(format!(
            "{} is not of a demo; it was left as it is: name another --folder",
            files.archive.display()
        ));
    }
    let job = std::fs::read_to_string(&files.job).unwrap_or_default();
    if files.job.exists() && !job.starts_with(story::FIRST_LINE) {
        return fail(format!(
            "{} is not of a demo; it was left as it is: name another --folder",
            files.job.display()
        ));
    }
    Ok(())
}

/// Makes the folder and takes away what an earlier demo left there.
fn prepare(folder: &Path) -> Result<Files, Failure> {
    std::fs::create_dir_all(folder).or_else(|error| fail(super::told::folder(folder, &error)))?;
    let files = Files {
        flash: folder.join("logger.flash"),
        archive: folder.join("archive.sqlite"),
        job: folder.join("job.toml"),
        record: folder.join("record.pdf"),
    };
    refuse_others(&files)?;
    let mut old = vec![files.flash.clone(), files.archive.clone()];
    for extension in ["sqlite-journal", "sqlite-wal", "sqlite-shm"] {
        old.push(files.archive.with_extension(extension));
    }
    for path in old {
        match std::fs::remove_file(&path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                return fail(format!("{}: {error}", path.display()));
            }
            _ => {}
        }
    }
    Ok(files)
}

/// The logger on the desk, with weeks of log up to now.
fn log_weeks(flash: &Path, story: &Story, now_s: i64) -> Result<Desk, Failure> {
    let climate = Box::new(script());
    let settings = Settings::default();
    let mut desk = Desk::create_or_open(flash, RING_BLOCKS, LOGGER_ID, climate, &settings)?;
    let uptime_s = u32::try_from(now_s - story.start_s())
        .map_err(|_| Plain("the demo's story would be longer than a logger can run".to_owned()))?;
    for (kind, at_s) in story.marks() {
        // Whoever did it pressed the key soon afterwards.
        if let Ok(at_s) = u32::try_from(at_s - story.start_s())
            && at_s < uptime_s
        {
            desk.advance_to(at_s).map_err(glueday_desk::DeskError::from)?;
            desk.logger_mut().mark(at_s, kind).map_err(glueday_desk::DeskError::from)?;
        }
    }
    desk.advance_to(uptime_s).map_err(glueday_desk::DeskError::from)?;
    Ok(desk)
}

fn script() -> Script {
    let keyframe = |&(days, [slab_c, air_c, air_rh_pct, supply_c]): &(f64, [f64; 4])| {
        // Days of the story, all small and not negative.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let at_s = (days * 86_400.0) as u64;
        Keyframe { at_s, slab_c, air_c, air_rh_pct, supply_c }
    };
    Script {
        keyframes: story::WEATHER.iter().map(keyframe).collect(),
        slab: Channel { swing: 0.3, noise_sd: 0.04 },
        air: Channel { swing: 0.7, noise_sd: 0.06 },
        air_rh: Channel { swing: -1.5, noise_sd: 0.15 },
        supply: Channel { swing: -0.5, noise_sd: 0.12 },
        faults: Vec::new(),
        seed: 7,
    }
}

/// Adopts the logger and pulls its log over a real line.
fn adopt_and_pull(
    mut desk: Desk,
    archive: &mut Archive,
    now_s: i64,
    talk: &mut Talk<'_>,
) -> Result<(), Failure> {
    #[cfg(unix)]
    let (port, address) = {
        let port = Port::open_pty(None)?;
        let address = port.name().to_owned();
        (port, address)
    };
    #[cfg(not(unix))]
    let (port, address) = {
        let port = Port::listen_tcp("127.0.0.1:0")?;
        let address = format!("tcp:{}", port.name());
        (port, address)
    };
    let stop = Arc::new(AtomicBool::new(false));
    let served = {
        let stop = Arc::clone(&stop);
        std::thread::spawn(move || desk.serve(vec![port], &stop))
    };
    let pulled = talk_to(&address, archive, now_s, talk);
    stop.store(true, Ordering::Relaxed);
    let served = served.join();
    pulled?;
    match served {
        Ok(result) => Ok(result?),
        Err(_) => fail("the demo's logger stopped"),
    }
}

fn talk_to(
    address: &str,
    archive: &mut Archive,
    now_s: i64,
    talk: &mut Talk<'_>,
) -> Result<(), Failure> {
    let transport = Address::parse(address, crate::port::BAUD)?.open()?;
    let mut link = Link::new(transport, 1);
    let identity = link.hello()?;
    archive.adopt(identity.logger, story::LOGGER, identity.public_key, now_s)?;
    link.set_clock(|| now_s)?;
    let (report, _) = logger::pull_into(archive, &mut link, talk, || now_s, false)?;
    writeln!(
        talk.err,
        "pulled {} bytes, {} entries, from the demo's logger at {address}",
        report.tally.bytes, report.status.entries
    )?;
    Ok(())
}

/// Checks and plots at one time; returns the JSON document.
fn answer(
    folder: &Path,
    name: &str,
    job: &Job,
    history: &History,
    at_s: i64,
    talk: &mut Talk<'_>,
) -> Result<String, Failure> {
    let limits = Limits::resolve(job);
    let rooms: Vec<_> = job.zones.iter().map(|zone| (zone, history)).collect();
    let assessment = assess(job, &limits, &rooms, Step::GlueDown, at_s);
    if !talk.json {
        writeln!(talk.out, "{}", view::text::check(&assessment, job, &limits, talk.width))?;
    }
    let first_s = history.span().map_or(at_s - 86_400, |span| span.0);
    for (zone, (room, _)) in assessment.zones.iter().zip(&rooms) {
        let style = Style { width: 1400, height: 1100, dark: false };
        let asked = (Step::GlueDown, at_s);
        let course = Course::judge(job, &limits, (room, history), asked, (first_s, at_s));
        let history = corrected(job, room, history);
        let chart =
            Chart::new(job, &limits, &history, (&assessment, zone), (first_s, at_s), style)?;
        let chart = chart.with_course(&course);
        store::write(&folder.join(format!("{name}.png")), &crate::plot::png(&chart)?)?;
        store::write(&folder.join(format!("{name}.svg")), crate::plot::svg(&chart)?.as_bytes())?;
    }
    Ok(view::json::check(&assessment)?)
}
