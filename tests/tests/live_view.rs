//! `live`: what it shows, over a real pty and a real TCP port with the desk logger, on a real terminal and
//! in a pipe, on slow lines and lost ones.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

#[cfg(test)]
mod assess_world;

use assess_world::{HOUR, MIN, Of, World, t};
use glueday::archive::Archive;
use glueday::assess::assess;
use glueday::history::History;
use glueday::job::Job;
use glueday::limits::Limits;
use glueday::view;
use glueday::view::live::{Line, Reading, Scene};
use glueday_desk::{Desk, Pace, Port, Script, Settings};
use glueday_tests::programs::{Said, glueday, program};
use glueday_types::{Absent, LoggerId};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Termios, Winsize, tcgetattr, tcsetwinsize};
use std::fs::File;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

const LOGGER: LoggerId = LoggerId(*b"liveview");
const ALT_SCREEN: &str = "\u{1b}[?1049h";
const SHELL_SCREEN: &str = "\u{1b}[?1049l";
const SHOW_CURSOR: &str = "\u{1b}[?25h";

/// A desk logger served from a thread, until it is dropped.
struct Served {
    port: String,
    stop: Arc<AtomicBool>,
    thread: Option<std::thread::JoinHandle<Desk>>,
}

impl Served {
    fn on(mut desk: Desk, port: Port) -> Self {
        let name = port.name().to_owned();
        let stop = Arc::new(AtomicBool::new(false));
        let thread = {
            let stop = Arc::clone(&stop);
            std::thread::spawn(move || {
                desk.serve(vec![port], &stop).unwrap();
                desk
            })
        };
        Self { port: name, stop, thread: Some(thread) }
    }

    fn end(mut self) -> Desk {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.take().unwrap().join().unwrap()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// A folder with the archive, the job and the flash of the logger.
struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    /// With the job of one room, whose logger is adopted as `hall logger`.
    fn new() -> Self {
        let place = Self { folder: tempfile::tempdir().unwrap() };
        let text = World::ready().job.replace("[[room]]", "[[room]]\nlogger = \"hall logger\"");
        std::fs::write(place.job(), text).unwrap();
        place
    }

    fn archive(&self) -> PathBuf {
        self.folder.path().join("archive.sqlite")
    }

    fn job(&self) -> PathBuf {
        self.folder.path().join("job.toml")
    }

    fn desk(&self, uptime_s: u32, pace: Pace, scale: f64) -> Desk {
        self.desk_of(LOGGER, uptime_s, pace, scale)
    }

    fn desk_of(&self, logger: LoggerId, uptime_s: u32, pace: Pace, scale: f64) -> Desk {
        let settings = Settings { pace, scale, ..Settings::default() };
        let image = self.folder.path().join(format!("{logger}.flash"));
        let script = Box::new(Script::steady(5));
        let mut desk = Desk::create_or_open(image, 64, logger, script, &settings).unwrap();
        desk.advance_to(uptime_s).unwrap();
        desk
    }

    fn adopt(&self, port: &str) {
        let said = glueday(&self.archive(), &["adopt", "--port", port, "--name", "hall logger"]);
        assert_eq!(said.code, Some(0), "{said:?}");
    }

    fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(program("glueday"));
        command.arg("--archive").arg(self.archive()).arg("live").arg(self.job()).args(args);
        command.env_remove("COLUMNS").env_remove("NO_COLOR").env_remove("GLUEDAY_PORT");
        command.env("TERM", "xterm-256color");
        command
    }

    fn run(&self, args: &[&str]) -> Said {
        Said::from(self.command(args).output().unwrap())
    }
}

fn slow() -> Pace {
    // 9600 baud, 8N1.
    Pace { bytes_per_s: Some(960), turnaround: Duration::from_millis(16) }
}

/// A terminal with `live` on it.
struct Terminal {
    master: File,
    far: File,
    before: Termios,
    child: Child,
    seen: Arc<std::sync::Mutex<String>>,
}

impl Terminal {
    fn start(mut command: Command, columns: u16) -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let name = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
        let far = File::options().read(true).write(true).open(name).unwrap();
        let size = Winsize { ws_row: 50, ws_col: columns, ws_xpixel: 0, ws_ypixel: 0 };
        tcsetwinsize(&far, size).unwrap();
        let before = tcgetattr(&far).unwrap();
        let end = || Stdio::from(far.try_clone().unwrap());
        let child = command.stdin(end()).stdout(end()).stderr(end()).spawn().unwrap();
        drop(command);
        let master = File::from(master);
        let seen = Arc::new(std::sync::Mutex::new(String::new()));
        let mut reader = master.try_clone().unwrap();
        let sink = Arc::clone(&seen);
        std::thread::spawn(move || {
            let mut buffer = [0; 4096];
            while let Ok(count @ 1..) = reader.read(&mut buffer) {
                sink.lock().unwrap().push_str(&String::from_utf8_lossy(&buffer[..count]));
            }
        });
        Self { master, far, before, child, seen }
    }

    fn seen(&self) -> String {
        self.seen.lock().unwrap().clone()
    }

    /// Waits until a text was drawn.
    #[track_caller]
    fn until(&self, text: &str) {
        let began = Instant::now();
        while !self.seen().contains(text) {
            assert!(began.elapsed() < Duration::from_secs(60), "no `{text}` in {}", self.seen());
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    fn press(&mut self, keys: &str) {
        self.master.write_all(keys.as_bytes()).unwrap();
    }

    /// Waits for the end, which must come soon, and checks that the terminal is as it was.
    #[track_caller]
    fn ended(mut self) -> (Option<i32>, String) {
        let began = Instant::now();
        let code = loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                break status.code();
            }
            if began.elapsed() > Duration::from_secs(20) {
                self.child.kill().unwrap();
                panic!("it does not end: {}", self.seen());
            }
            std::thread::sleep(Duration::from_millis(10));
        };
        let after = tcgetattr(&self.far).unwrap();
        assert_eq!(after.local_modes, self.before.local_modes, "echo and line editing are back");
        assert_eq!(after.input_modes, self.before.input_modes);
        assert_eq!(after.output_modes, self.before.output_modes);
        std::thread::sleep(Duration::from_millis(100));
        let seen = self.seen();
        let (on, off) = (seen.matches(ALT_SCREEN).count(), seen.matches(SHELL_SCREEN).count());
        assert!(on == 1 && off >= 1, "{on} {off}: {seen}");
        assert!(seen.rfind(SHELL_SCREEN) > seen.rfind(ALT_SCREEN), "{seen}");
        assert!(seen.contains(SHOW_CURSOR), "{seen}");
        (code, seen.rsplit(SHELL_SCREEN).next().unwrap().to_owned())
    }

    fn signal(&self, signal: rustix::process::Signal) {
        let id = rustix::process::Pid::from_child(&self.child);
        rustix::process::kill_process(id, signal).unwrap();
    }
}

#[test]
fn once_over_a_pty_says_what_check_says() {
    let place = Place::new();
    let served =
        Served::on(place.desk(3 * 86_400, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    let said = place.run(&["--once", "--port", &served.port]);
    assert_eq!(said.code, Some(1), "{said:?}");
    assert_eq!(said.out.lines().count(), 1, "{said:?}");
    assert!(!said.out.contains('\u{1b}'), "{said:?}");
    for word in [" WAIT; slab surface ", "above dew point ", "; not met: heating run in ("] {
        assert!(said.out.contains(word), "{word}: {said:?}");
    }
    let said = place.run(&["--once", "--json", "--port", &served.port]);
    assert_eq!(said.code, Some(1), "{said:?}");
    let live: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    let job = place.job();
    let check = glueday(&place.archive(), &["check", job.to_str().unwrap(), "--json"]);
    let check: serde_json::Value = serde_json::from_str(&check.out).unwrap();
    let zone = &check["zones"][0];
    assert_eq!(live["verdict"], zone["verdict"]);
    assert_eq!(live["room"], zone["name"]);
    let open = zone["requirements"].as_array().unwrap().iter().filter(|r| r["outcome"] != "met");
    let mut open: Vec<_> = open.map(|r| r["id"].as_str().unwrap()).collect();
    let blocking = live["blocking"].as_array().unwrap().iter();
    let mut blocking: Vec<_> = blocking.map(|id| id.as_str().unwrap()).collect();
    open.sort_unstable();
    blocking.sort_unstable();
    assert_eq!(open, blocking);
    assert_eq!(live["line"], "up");
    // The log that was pulled on the way is all there was, and pulled once.
    let archive = Archive::open_read_only(&place.archive()).unwrap();
    assert_eq!(archive.pulls(LOGGER).unwrap().len(), 2, "one for each run");
    // A steady room of the desk logger.
    let slab = live["reading"]["slab_c"].as_f64().unwrap();
    let gap = live["reading"]["dew_gap_k"].as_f64().unwrap();
    let dew = live["reading"]["dew_point_c"].as_f64().unwrap();
    assert!((slab - dew - gap).abs() < 0.002, "{live}");
    served.end();
}

#[test]
fn a_pipe_gets_a_line_for_each_refresh_until_the_time_is_over() {
    let place = Place::new();
    let port = Port::listen_tcp("127.0.0.1:0").unwrap();
    // Ten minutes of the logger in a second: the log grows while it is looked at.
    let served = Served::on(place.desk(86_400, Pace::default(), 600.0), port);
    let name = format!("tcp:{}", served.port.trim_start_matches("tcp:"));
    place.adopt(&name);
    let args = ["--port", &name, "--every", "1 s", "--for", "4 s", "--json"];
    let said = place.run(&args);
    assert_eq!(said.code, Some(1), "{said:?}");
    let lines: Vec<serde_json::Value> =
        said.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert!((2..=5).contains(&lines.len()), "{said:?}");
    assert!(lines.iter().all(|line| line["line"] == "up" && line["schema"] == 1), "{said:?}");
    // New samples come in, and their log with them.
    let archive = Archive::open_read_only(&place.archive()).unwrap();
    assert!(archive.pulls(LOGGER).unwrap().len() >= 2);
    let said = place.run(&["--port", &name, "--every", "1 s", "--for", "2 s"]);
    assert!(said.out.lines().count() >= 1, "{said:?}");
    assert!(!said.out.contains('\u{1b}') && !said.err.contains('\u{1b}'), "{said:?}");
    served.end();
}

#[test]
fn a_slow_line_shows_how_far_it_is_and_never_keeps_anybody_from_quitting() {
    let place = Place::new();
    let served = Served::on(place.desk(600, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    served.end();
    // Four weeks are 30 KB: half a minute at this speed.
    let served = Served::on(place.desk(28 * 86_400, slow(), 0.0), Port::open_pty(None).unwrap());
    let mut terminal =
        Terminal::start(place.command(&["--port", &served.port, "--baud", "9600"]), 80);
    // One block and more: what is whole by then stays.
    terminal.until("5 of ");
    assert!(terminal.seen().contains("KiB of its log have come"), "{}", terminal.seen());
    let pressed = Instant::now();
    terminal.press("q");
    let (code, left) = terminal.ended();
    assert!(pressed.elapsed() < Duration::from_secs(3), "{:?}", pressed.elapsed());
    assert_eq!(code, Some(1), "the archive was judged: wait; {left}");
    assert!(left.contains("WAIT"), "what was seen last stays: {left}");
    // What came is whole, and the next one goes on from there.
    let archive = Archive::open_read_only(&place.archive()).unwrap();
    let broken_off = archive.pulls(LOGGER).unwrap();
    assert_ne!(broken_off.last().unwrap().result, "complete");
    assert!(!archive.blocks(LOGGER).unwrap().is_empty());
    served.end();
}

#[test]
fn a_short_log_is_there_over_a_slow_line() {
    let place = Place::new();
    let served = Served::on(place.desk(86_400, slow(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    let said = place.run(&["--once", "--json", "--port", &served.port, "--baud", "9600"]);
    assert_eq!(said.code, Some(1), "{said:?}");
    let live: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(live["line"], "up");
    assert!(live["reading"]["air_rh_pct"].as_f64().is_some(), "{live}");
    served.end();
}

#[test]
fn a_lost_line_is_told_and_tried_until_it_is_back() {
    let place = Place::new();
    let served = Served::on(
        place.desk(7200, Pace::default(), 0.0),
        Port::listen_tcp("127.0.0.1:0").unwrap(),
    );
    let address = served.port.trim_start_matches("tcp:").to_owned();
    let name = format!("tcp:{address}");
    place.adopt(&name);
    let mut child = place
        .command(&["--port", &name, "--every", "1 s", "--json"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut until = |state: &str| {
        for _ in 0..60 {
            let line = lines.next().unwrap().unwrap();
            let line: serde_json::Value = serde_json::from_str(&line).unwrap();
            if line["line"] == state {
                return line;
            }
        }
        panic!("it never was {state}");
    };
    until("up");
    let desk = served.end();
    let lost = until("lost");
    assert!(lost["line_error"].as_str().unwrap().contains(&address), "{lost}");
    assert_eq!(lost["verdict"], "wait");
    let began = Instant::now();
    let port = loop {
        match Port::listen_tcp(&address) {
            Ok(port) => break port,
            Err(error) => assert!(began.elapsed() < Duration::from_secs(30), "{error}"),
        }
        std::thread::sleep(Duration::from_millis(100));
    };
    let served = Served::on(desk, port);
    assert!(until("up")["line_error"].is_null());
    let id = rustix::process::Pid::from_child(&child);
    rustix::process::kill_process(id, rustix::process::Signal::TERM).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(1));
    served.end();
}

#[test]
fn every_way_to_end_gives_the_terminal_back() {
    let place = Place::new();
    let served = Served::on(place.desk(7200, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    let on_terminal = || Terminal::start(place.command(&["--port", &served.port]), 100);
    let mut terminal = on_terminal();
    terminal.until("answered ");
    let seen = terminal.seen();
    for word in ["WAIT", "slab above it", "What blocks", "q or Ctrl-C ends."] {
        assert!(seen.contains(word), "{word}: {seen}");
    }
    assert!(seen.contains("\u{1b}[1m"), "a terminal gets styles: {seen}");
    terminal.press("\u{3}");
    assert_eq!(terminal.ended().0, Some(1));
    for signal in [rustix::process::Signal::TERM, rustix::process::Signal::HUP] {
        let terminal = on_terminal();
        terminal.until("answered ");
        terminal.signal(signal);
        assert_eq!(terminal.ended().0, Some(1));
    }
    // An error in the middle: the job file breaks.
    let terminal = on_terminal();
    terminal.until("answered ");
    std::fs::write(place.job(), "[site]\nname = 7\n").unwrap();
    let (code, left) = terminal.ended();
    assert_eq!(code, Some(2));
    assert!(left.contains("time-zone"), "the error is told on the screen of the shell: {left}");
    served.end();
}

#[test]
fn no_colours_where_they_are_not_wanted() {
    let place = Place::new();
    let served = Served::on(place.desk(7200, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    let mut command = place.command(&["--port", &served.port]);
    command.env("NO_COLOR", "1");
    let mut terminal = Terminal::start(command, 100);
    terminal.until("answered ");
    terminal.press("q");
    assert!(!terminal.seen().contains("\u{1b}[1m"), "{}", terminal.seen());
    terminal.ended();
    // A terminal that cannot be drawn on gets lines.
    let mut command = place.command(&["--port", &served.port, "--every", "1 s", "--for", "2 s"]);
    command.env("TERM", "dumb");
    let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
    let mut text = String::new();
    child.stdout.take().unwrap().read_to_string(&mut text).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(1));
    assert!(text.lines().count() >= 1 && !text.contains('\u{1b}'), "{text}");
    served.end();
}

#[test]
fn a_silent_port_is_told_and_can_be_left() {
    let place = Place::new();
    let served = Served::on(place.desk(7200, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    place.adopt(&served.port);
    served.end();
    // Somebody takes the connection and says nothing.
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let name = format!("tcp:{}", listener.local_addr().unwrap());
    let mut terminal = Terminal::start(place.command(&["--port", &name]), 80);
    terminal.until("waiting for the logger");
    std::thread::sleep(Duration::from_millis(300));
    let pressed = Instant::now();
    terminal.press("q");
    assert_eq!(terminal.ended().0, Some(1));
    assert!(pressed.elapsed() < Duration::from_secs(2), "{:?}", pressed.elapsed());
    let said = place.run(&["--port", &name, "--once"]);
    assert_eq!(said.code, Some(2), "{said:?}");
    assert!(said.err.contains(&name), "{said:?}");
}

#[test]
fn the_logger_of_another_job_is_refused() {
    let place = Place::new();
    let served = Served::on(place.desk(7200, Pace::default(), 0.0), Port::open_pty(None).unwrap());
    let said =
        glueday(&place.archive(), &["adopt", "--port", &served.port, "--name", "bath logger"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    let said = place.run(&["--port", &served.port, "--once"]);
    assert_eq!((said.code, said.out.as_str()), (Some(2), ""), "{said:?}");
    for word in ["bath logger (6c69766576696577)", "no room", "job.toml"] {
        assert!(said.err.contains(word), "{word}: {said:?}");
    }
    // The room has a logger by now, and this is not it.
    let own = Served::on(
        place.desk_of(LoggerId(*b"ownroom1"), 7200, Pace::default(), 0.0),
        Port::open_pty(None).unwrap(),
    );
    place.adopt(&own.port);
    own.end();
    let said = place.run(&["--port", &served.port, "--once"]);
    assert_eq!((said.code, said.out.as_str()), (Some(2), ""), "{said:?}");
    assert!(said.err.contains("Hall has 6f776e726f6f6d31"), "{said:?}");
    let bad = place.run(&["--port", &served.port, "--every", "0 s"]);
    assert_eq!(bad.code, Some(2), "{bad:?}");
    served.end();
}

/// The output is what the file holds.
#[track_caller]
fn assert_golden(name: &str, text: &str) {
    let text = without_styles(text);
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/text").join(format!("{name}.txt"));
    if std::env::var_os("GLUEDAY_REWRITE_TEXTS").is_some() {
        std::fs::write(&path, &text).unwrap();
        return;
    }
    let golden = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(golden == text, "{name}.txt differs\n--- was\n{golden}\n--- is\n{text}");
}

fn without_styles(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        out.push_str(before);
        rest = after.split_once('m').unwrap().1;
    }
    out + rest
}

/// Draws a world as `live` shows it, and hands out what else it told.
fn shown(
    world: &World,
    reading: Option<&Reading>,
    line: &Line,
    name: Option<&str>,
) -> serde_json::Value {
    let history: History = world.history();
    let job = Job::parse(&world.job, "job.toml").unwrap();
    let limits = Limits::resolve(&job);
    let zone = job.zone("Hall").unwrap();
    let assessment = assess(&job, &limits, &[(zone, &history)], world.step, world.at_s);
    let scene = Scene {
        job: &job,
        limits: &limits,
        assessment: &assessment,
        reading,
        line,
        now_s: world.at_s + 4,
    };
    if let Some(name) = name {
        for width in [80, 120] {
            assert_golden(&format!("{name}-{width}"), &view::live::screen(&scene, 10, width));
        }
        assert_golden(&format!("{name}-line"), &(view::live::line(&scene) + "\n"));
    }
    serde_json::from_str(&view::live::json(&scene).unwrap()).unwrap()
}

fn now(world: &World) -> Reading {
    let values = [Ok(20.0), Ok(21.0), Ok(42.0), Err(Absent::NoAnswer)];
    Reading { values, time_s: world.at_s - 2 * MIN, supply_mv: Some(2950) }
}

#[test]
fn the_screen_at_80_and_120_columns() {
    let mut damp = World::ready();
    damp.edit("units = \"metric\"", "units = \"us\"");
    damp.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 62.5);
    damp.set(Of::Slab, t(13, 5, 0), t(13, 7, 0), 17.2);
    let up = Line::Up { port: "/dev/ttyACM0".to_owned(), at_s: damp.at_s - 3 };
    shown(&damp, Some(&now(&damp)), &up, Some("live-wait"));
    let ready = World::ready();
    let why = "/dev/ttyACM0 is gone (hung up): plug it in again".to_owned();
    let lost = Line::Lost { why, since_s: ready.at_s - 300, tries: 61 };
    shown(&ready, Some(&now(&ready)), &lost, Some("live-lost"));
    let moving = Line::Moving { port: "tcp:192.0.2.7:4001".to_owned(), bytes: 5000, total: 40_961 };
    shown(&ready, None, &moving, Some("live-moving"));
}

#[test]
fn streaks_are_those_of_the_findings() {
    let mut world = World::ready();
    // Damp until the 11th day at 9:00, cold until the 13th at 7:00; asked about on the 14th at 0:00.
    world.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 62.5);
    world.set(Of::Slab, t(13, 5, 0), t(13, 7, 0), 17.2);
    let up = Line::Up { port: "p".to_owned(), at_s: world.at_s };
    let live = shown(&world, Some(&now(&world)), &up, None);
    let streaks = live["streaks"].as_array().unwrap();
    let of = |id: &str| streaks.iter().find(|streak| streak["id"] == id).unwrap();
    // The first good sample comes ten minutes after the last bad one; 72 h are needed (the shipped limit).
    let acclimated = of("acclimation");
    assert_eq!(acclimated["held_h"], 62.833, "{acclimated}");
    assert_eq!((&acclimated["needed_h"], &acclimated["met"]), (&72.0.into(), &false.into()));
    // 17 h since the last cold sample, of the three days that the slab is held before gluing (the shipped
    // limit).
    let surface = of("slab-surface");
    assert_eq!(surface["held_h"], 17.0, "{surface}");
    assert_eq!(surface["needed_h"], 72.0, "{surface}");
    let age = of("concrete-age");
    assert_eq!(age["met"], true, "{age}");
    // Held and needed say when: that is the earliest go of the finding.
    let go: jiff::Timestamp = live["earliest_go"].as_str().unwrap().parse().unwrap();
    let hours = |s: &serde_json::Value, key: &str| s[key].as_f64().unwrap();
    let last = streaks.iter().filter(|s| s["met"] == false);
    let last = last.map(|s| hours(s, "needed_h") - hours(s, "held_h")).fold(0.0, f64::max);
    let left_h = (go.as_second() - world.at_s) as f64 / HOUR as f64;
    assert!((left_h - last).abs() < 0.01, "{left_h} {last}");
}

#[test]
fn a_reading_without_a_probe_says_so_and_has_no_gap() {
    let world = World::ready();
    let up = Line::Up { port: "p".to_owned(), at_s: world.at_s };
    let mut reading = now(&world);
    let live = shown(&world, Some(&reading), &up, None);
    assert_eq!(live["reading"]["missing"]["supply"], "the probe does not answer");
    assert!(live["reading"]["supply_c"].is_null());
    // Dew point at 21 °C and 42 %RH, by a table of moist air: 7.6 °C.
    assert!((live["reading"]["dew_point_c"].as_f64().unwrap() - 7.6).abs() < 0.1, "{live}");
    assert_eq!(live["reading"]["battery_v"], 2.95);
    reading.values[2] = Err(Absent::BadChecksum);
    let live = shown(&world, Some(&reading), &up, None);
    assert!(live["reading"]["dew_gap_k"].is_null() && live["reading"]["slab_c"] == 20.0, "{live}");
    assert_eq!(live["verdict"], "go", "the log is judged, not the reading beside it");
    let none = shown(&world, None, &up, None);
    assert!(none["reading"].is_null());
}
