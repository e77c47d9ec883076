//! `live`: a connected logger, looked at until somebody has seen enough.
//!
//! One thread talks to the logger, see [`follow`]; this one judges, draws, and hears the keys, so that
//! a slow line or a silent logger never keeps anybody from quitting.

mod follow;
mod screen;

use super::args::{Live as Args, Question};
use super::logger::port_address;
use super::question::{Shelf, Site, archive_path, open_archive_to_write, parse_span_s};
use super::{Answer, Failure, Talk, fail, now_s};
use crate::archive::Archive;
use crate::assess::{Assessment, corrected};
use crate::history::History;
use crate::job::Job;
use crate::view::live::{Line, Reading, Scene, json, line, screen as draw};
use follow::{Follower, News, Told};
use glueday_types::LoggerId;
use screen::Screen;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// How long to listen for news before keys, the end and the clock are looked at again.
const TURN: Duration = Duration::from_millis(100);
/// How often the screen is drawn again for the ages in it.
const REDRAW: Duration = Duration::from_secs(1);

pub(super) fn run(
    args: &Args,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let every_s = parse_span_s(&args.every)?;
    let limit_s = args.until.as_deref().map(parse_span_s).transpose()?;
    let end = limit_s.map(|s| Instant::now() + Duration::from_secs(s.unsigned_abs()));
    let place = archive_path(archive)?;
    let stop = asked_to_stop()?;
    let address = port_address(&args.port, talk)?;
    // The archive is made, or refused, before anything is shown.
    let store = open_archive_to_write(archive)?;
    let mut view = Live {
        args,
        place,
        every_s,
        line: Line::Waiting { port: address.to_string() },
        told: None,
        judged: None,
        room: None,
        shown: None,
        judged_at: Instant::now(),
    };
    view.choose_only_room(&store)?;
    let every = Duration::from_secs(every_s.unsigned_abs());
    let follower = Follower::start(address, store, every, Arc::clone(&stop));
    let mut screen = if talk.json || args.once { None } else { Screen::open()? };
    let outcome = view.watch(&follower, &stop, end, screen.as_mut(), talk);
    drop(screen);
    follower.end();
    outcome?;
    match &view.judged {
        None => fail(format!("nothing was judged: {}", view.why())),
        Some(judged) => {
            if view.shown == Some(Shown::OnScreen) {
                // What was seen last stays behind when the screen is gone.
                writeln!(talk.out, "{}", line(&view.scene(judged)))?;
            }
            Ok(super::check::answer(&judged.assessment))
        }
    }
}

/// Set when the program is asked to end: Ctrl-C where it is no key, the end of the session, a kill.
fn asked_to_stop() -> Result<Arc<AtomicBool>, Failure> {
    let stop = Arc::new(AtomicBool::new(false));
    let mut signals = vec![signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM];
    #[cfg(unix)]
    signals.push(signal_hook::consts::SIGHUP);
    for signal in signals {
        signal_hook::flag::register(signal, Arc::clone(&stop))?;
    }
    Ok(stop)
}

/// How it was shown.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Shown {
    OnScreen,
    AsLine,
}

/// A judgement of the room of the logger.
struct Judgement {
    site: Site,
    assessment: Assessment,
    reading: Option<Reading>,
}

struct Live<'a> {
    args: &'a Args,
    place: PathBuf,
    every_s: i64,
    line: Line,
    /// What the logger told last.
    told: Option<Told>,
    judged: Option<Judgement>,
    /// The room of the logger, and its id.
    room: Option<(String, LoggerId)>,
    shown: Option<Shown>,
    judged_at: Instant,
}

impl Live<'_> {
    /// Where only one room has a logger, its log is judged before the logger answers.
    fn choose_only_room(&mut self, archive: &Archive) -> Result<(), Failure> {
        let rooms = rooms(&super::question::read_job(&self.args.job)?, archive);
        if let [only] = rooms.as_slice() {
            self.room = Some(only.clone());
        }
        Ok(())
    }

    fn watch(
        &mut self,
        follower: &Follower,
        stop: &AtomicBool,
        end: Option<Instant>,
        mut screen: Option<&mut Screen>,
        talk: &mut Talk<'_>,
    ) -> Result<(), Failure> {
        let mut drawn = Instant::now();
        let every = Duration::from_secs(self.every_s.unsigned_abs());
        if screen.is_some() {
            self.judge()?;
        }
        self.draw(screen.as_deref_mut())?;
        loop {
            if stop.load(Ordering::Relaxed) || end.is_some_and(|end| Instant::now() >= end) {
                return Ok(());
            }
            let mut redraw = drawn.elapsed() >= REDRAW;
            if let Some(screen) = screen.as_deref_mut() {
                match screen.key()? {
                    screen::Key::Quit => return Ok(()),
                    screen::Key::Redraw => redraw = true,
                    screen::Key::None => {}
                }
            }
            let news = follower.news(TURN)?;
            if let Some(news) = news {
                redraw = true;
                let is_refresh = self.take(news, talk)?;
                if is_refresh {
                    self.judge()?;
                    if screen.is_none() {
                        self.print(talk)?;
                        if self.args.once {
                            return self.ended_once();
                        }
                    }
                }
            }
            // A log that does not go on loses what it proved, and so the verdict does not stand still.
            if screen.is_some() && self.judged_at.elapsed() >= every {
                self.judge()?;
            }
            if redraw {
                drawn = Instant::now();
                self.draw(screen.as_deref_mut())?;
            }
        }
    }

    /// With `--once`, a line that does not answer is an error.
    fn ended_once(&self) -> Result<(), Failure> {
        match &self.line {
            Line::Lost { why, .. } => fail(why.clone()),
            _ => Ok(()),
        }
    }

    /// Notes what came. Returns whether it is a refresh: the end of a pull, or a line that broke.
    fn take(&mut self, news: News, talk: &mut Talk<'_>) -> Result<bool, Failure> {
        match news {
            News::Reached { logger, port } => {
                self.find_room(logger, &port)?;
                Ok(false)
            }
            News::Moving { port, bytes, total } => {
                self.line = Line::Moving { port, bytes, total };
                Ok(false)
            }
            News::Told { port, told, findings } => {
                for finding in findings {
                    writeln!(talk.err, "note: {finding}")?;
                }
                self.line = Line::Up { port, at_s: now_s() };
                self.told = Some(told);
                Ok(true)
            }
            News::Lost { why } => {
                let (since_s, tries) = match &self.line {
                    Line::Lost { since_s, tries, .. } => (*since_s, tries + 1),
                    _ => (now_s(), 1),
                };
                // Who reads lines is told of it as often as of anything else, not at every try.
                let is_new = !matches!(&self.line, Line::Lost { why: told, .. } if *told == why);
                let is_due = self.judged_at.elapsed().as_secs() >= self.every_s.unsigned_abs();
                self.line = Line::Lost { why, since_s, tries };
                Ok(is_new || is_due)
            }
            News::Failed { why } => fail(why),
        }
    }

    /// Which room the logger stands in. It is looked up again each time: another one can be plugged in.
    fn find_room(&mut self, logger: LoggerId, port: &str) -> Result<(), Failure> {
        let job = super::question::read_job(&self.args.job)?;
        let archive = Archive::open_read_only(&self.place)?;
        let rooms = rooms(&job, &archive);
        let label =
            archive.find_logger(&logger.to_string()).map_or(logger.to_string(), |l| l.label());
        match rooms.iter().find(|(_, id)| *id == logger) {
            Some(found) => {
                self.room = Some(found.clone());
                Ok(())
            }
            None => {
                let known: Vec<String> =
                    rooms.iter().map(|(room, id)| format!("{room} has {id}")).collect();
                let known =
                    if known.is_empty() { "none has one".to_owned() } else { known.join(", ") };
                fail(format!(
                    "{port}: this is logger {label}, which is that of no room in {} ({known}): name it in \
                     the job file, or give it a name with `glueday adopt`",
                    self.args.job.display()
                ))
            }
        }
    }

    /// Judges what is in the archive by now, as `check` does.
    fn judge(&mut self) -> Result<(), Failure> {
        self.judged_at = Instant::now();
        let Some((room, _)) = &self.room else { return Ok(()) };
        let question = Question {
            job: self.args.job.clone(),
            step: self.args.step,
            at: "now".to_owned(),
            room: vec![room.clone()],
        };
        let site = Site::open_from(&question, &mut Shelf::new(Some(&self.place)))?;
        let assessment = site.assess();
        let reading = self.told.as_ref().and_then(|told| reading(&site, told));
        self.judged = Some(Judgement { site, assessment, reading });
        Ok(())
    }

    fn scene<'s>(&'s self, judged: &'s Judgement) -> Scene<'s> {
        Scene {
            job: &judged.site.job,
            limits: &judged.site.limits,
            assessment: &judged.assessment,
            reading: judged.reading.as_ref(),
            line: &self.line,
            now_s: now_s(),
        }
    }

    /// Why nothing could be judged yet.
    fn why(&self) -> String {
        match &self.line {
            Line::Lost { why, .. } => why.clone(),
            Line::Moving { .. } => "its log was still on its way".to_owned(),
            Line::Waiting { port } | Line::Up { port, .. } => {
                format!("{port} did not answer in time")
            }
        }
    }

    fn draw(&mut self, screen: Option<&mut Screen>) -> Result<(), Failure> {
        let Some(screen) = screen else { return Ok(()) };
        let width = screen.width();
        let text = match &self.judged {
            None => format!("{}\n", self.why_nothing_yet()),
            Some(judged) => draw(&self.scene(judged), self.every_s, width),
        };
        screen.draw(&text)?;
        self.shown = Some(Shown::OnScreen);
        Ok(())
    }

    fn why_nothing_yet(&self) -> String {
        match &self.line {
            Line::Lost { why, tries, .. } => format!("LINE LOST, tried {tries} times: {why}"),
            Line::Moving { bytes, total, .. } => {
                format!("{} of {} KiB of the log have come", bytes / 1024, total.div_ceil(1024))
            }
            Line::Waiting { port } | Line::Up { port, .. } => {
                format!("{port}: waiting for the logger. q or Ctrl-C ends.")
            }
        }
    }

    fn print(&mut self, talk: &mut Talk<'_>) -> Result<(), Failure> {
        match &self.judged {
            Some(judged) if talk.json => writeln!(talk.out, "{}", json(&self.scene(judged))?)?,
            Some(judged) => writeln!(talk.out, "{}", line(&self.scene(judged)))?,
            // The error at the end says it.
            None if self.args.once => {}
            None => writeln!(talk.err, "{}", self.why_nothing_yet())?,
        }
        // Whoever reads a pipe wants the line when it is written.
        talk.out.flush()?;
        self.shown = Some(Shown::AsLine);
        Ok(())
    }
}

/// The rooms of a job whose loggers the archive knows.
fn rooms(job: &Job, archive: &Archive) -> Vec<(String, LoggerId)> {
    let rooms = job.zones.iter().filter_map(|zone| {
        let logger = archive.find_logger(&zone.logger.as_ref()?.to_string()).ok()?;
        Some((zone.name.clone(), logger.id))
    });
    rooms.collect()
}

/// The latest sample, corrected as the assessment corrects it.
fn reading(site: &Site, told: &Told) -> Option<Reading> {
    let (zone, _) = site.rooms.first()?;
    let sample = told.sample?;
    let time_s = told.at_s - i64::from(told.uptime_s.saturating_sub(sample.at_s));
    let mut history = History::default();
    history.push(time_s, told.interval_s, &sample);
    let history = corrected(&site.job, zone, &history);
    Some(Reading::of(&history, time_s, told.supply_mv))
}
