//! Where `live` is tried: a served logger, a folder with a job, and a terminal.

use crate::assess_world::World;
use glueday_desk::{Desk, Pace, Port, Script, Settings};
use glueday_tests::programs::{Said, glueday, program};
use glueday_types::LoggerId;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Termios, Winsize, tcgetattr, tcsetwinsize};
use std::fs::File;
use std::io::{Read as _, Write as _};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

pub(super) const LOGGER: LoggerId = LoggerId(*b"liveview");
const ALT_SCREEN: &str = "\u{1b}[?1049h";
const SHELL_SCREEN: &str = "\u{1b}[?1049l";
const SHOW_CURSOR: &str = "\u{1b}[?25h";

/// A desk logger served from a thread, until it is dropped.
pub(super) struct Served {
    pub(super) port: String,
    stop: Arc<AtomicBool>,
    thread: Option<std::thread::JoinHandle<Desk>>,
}

impl Served {
    pub(super) fn on(mut desk: Desk, port: Port) -> Self {
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

    pub(super) fn end(mut self) -> Desk {
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
pub(super) struct Place {
    pub(super) folder: tempfile::TempDir,
}

impl Place {
    /// With the job of one room, whose logger is adopted as `hall logger`.
    pub(super) fn new() -> Self {
        let place = Self { folder: tempfile::tempdir().unwrap() };
        let text = World::ready().job.replace("[[room]]", "[[room]]\nlogger = \"hall logger\"");
        std::fs::write(place.job(), text).unwrap();
        place
    }

    pub(super) fn archive(&self) -> PathBuf {
        self.folder.path().join("archive.sqlite")
    }

    pub(super) fn job(&self) -> PathBuf {
        self.folder.path().join("job.toml")
    }

    pub(super) fn desk(&self, uptime_s: u32, pace: Pace, scale: f64) -> Desk {
        self.desk_of(LOGGER, uptime_s, pace, scale)
    }

    pub(super) fn desk_of(&self, logger: LoggerId, uptime_s: u32, pace: Pace, scale: f64) -> Desk {
        let settings = Settings { pace, scale, ..Settings::default() };
        let image = self.folder.path().join(format!("{logger}.flash"));
        let script = Box::new(Script::steady(5));
        let mut desk = Desk::create_or_open(image, 64, logger, script, &settings).unwrap();
        desk.advance_to(uptime_s).unwrap();
        desk
    }

    pub(super) fn adopt(&self, port: &str) {
        let said = glueday(&self.archive(), &["adopt", "--port", port, "--name", "hall logger"]);
        assert_eq!(said.code, Some(0), "{said:?}");
    }

    pub(super) fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(program("glueday"));
        command.arg("--archive").arg(self.archive()).arg("live").arg(self.job()).args(args);
        command.env_remove("COLUMNS").env_remove("NO_COLOR").env_remove("GLUEDAY_PORT");
        command.env("TERM", "xterm-256color");
        command
    }

    pub(super) fn run(&self, args: &[&str]) -> Said {
        Said::from(self.command(args).output().unwrap())
    }
}

pub(super) fn slow() -> Pace {
    // 9600 baud, 8N1.
    Pace { bytes_per_s: Some(960), turnaround: Duration::from_millis(16) }
}

/// A terminal with `live` on it.
pub(super) struct Terminal {
    master: File,
    far: File,
    before: Termios,
    child: Child,
    seen: Arc<std::sync::Mutex<String>>,
}

impl Terminal {
    pub(super) fn start(mut command: Command, columns: u16) -> Self {
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

    pub(super) fn seen(&self) -> String {
        self.seen.lock().unwrap().clone()
    }

    /// Waits until a text was drawn.
    #[track_caller]
    pub(super) fn until(&self, text: &str) {
        let began = Instant::now();
        while !self.seen().contains(text) {
            assert!(began.elapsed() < Duration::from_secs(60), "no `{text}` in {}", self.seen());
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    pub(super) fn press(&mut self, keys: &str) {
        self.master.write_all(keys.as_bytes()).unwrap();
    }

    /// Waits for the end, which must come soon, and checks that the terminal is as it was.
    #[track_caller]
    pub(super) fn ended(mut self) -> (Option<i32>, String) {
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

    pub(super) fn signal(&self, signal: rustix::process::Signal) {
        let id = rustix::process::Pid::from_child(&self.child);
        rustix::process::kill_process(id, signal).unwrap();
    }
}
