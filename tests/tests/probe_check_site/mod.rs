//! A logger in a climate whose hours pass in seconds, a real pty, and a job file with comments in it.

#![allow(dead_code)] // Each test binary uses its own part.

use glueday_desk::{Channel, Desk, Keyframe, Port, Script, Settings};
use glueday_tests::programs::{Said, glueday, program};
use glueday_types::LoggerId;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

const LOGGER: LoggerId = LoggerId(*b"probeChk");
/// Seconds of the logger to a real one: the program looks four times a second, so that it misses none
/// of the samples that are a minute apart.
const SCALE: f64 = 160.0;

pub(crate) const HEAD: &str = "\
# Lot 7, heated slab\n[site]   # as on the permit\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\n\
units = \"metric\"\n\n[[room]]\nname = 'Hall'  # north side\nlogger = \"70726f626543686b\"\n\n\
[[probe]]\nroom = \"Hall\"\nchannel = \"rh\"\nuncertainty = \"2.5 %\" # sheet\n";
pub(crate) const TAIL: &str =
    "\n# The adhesive, by its sheet.\n[adhesive]\n   traffic = \"24 h\"\n# the end";

/// A logger in a climate, served from a thread, and a job file.
pub(crate) struct Site {
    pub(crate) folder: tempfile::TempDir,
    pub(crate) port: String,
    stop: Arc<AtomicBool>,
    thread: Option<std::thread::JoinHandle<Desk>>,
}

impl Site {
    pub(crate) fn new(script: Script, interval_s: u16) -> Self {
        // Building it must not eat into the story.
        let _ = program("glueday");
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("hall.toml"), format!("{HEAD}{TAIL}")).unwrap();
        let settings = Settings { interval_s, scale: SCALE, ..Settings::default() };
        let image = folder.path().join("logger.flash");
        let mut desk =
            Desk::create_or_open(image, 16, LOGGER, Box::new(script), &settings).unwrap();
        let port = Port::open_pty(None).unwrap();
        let name = port.name().to_owned();
        let stop = Arc::new(AtomicBool::new(false));
        let flag = Arc::clone(&stop);
        let thread = std::thread::spawn(move || {
            desk.serve(vec![port], &flag).unwrap();
            desk
        });
        Self { folder, port: name, stop, thread: Some(thread) }
    }

    pub(crate) fn job(&self) -> PathBuf {
        self.folder.path().join("hall.toml")
    }

    pub(crate) fn text(&self) -> String {
        std::fs::read_to_string(self.job()).unwrap()
    }

    pub(crate) fn run(&self, args: &[&str]) -> Said {
        glueday(&self.folder.path().join("archive.sqlite"), args)
    }

    pub(crate) fn check(&self, args: &[&str]) -> Said {
        let job = self.job();
        let all = ["probe-check", job.to_str().unwrap(), "--port", &self.port];
        self.run(&[&all[..], args].concat())
    }

    /// Failed with these words on standard error, and left the job file as it was.
    #[track_caller]
    pub(crate) fn assert_refused(&self, said: &Said, words: &[&str]) {
        assert_eq!((said.code, said.out.as_str()), (Some(2), ""), "{said:?}");
        for word in words {
            assert!(said.err.contains(word), "no `{word}` in: {}", said.err);
        }
        assert!(!said.err.contains("panicked"), "{}", said.err);
        assert_eq!(self.text(), format!("{HEAD}{TAIL}"));
    }

    pub(crate) fn end(mut self) -> Desk {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.take().unwrap().join().unwrap()
    }
}

impl Drop for Site {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// A climate that stays as it is, with a little noise.
pub(crate) fn steady(slab_c: f64, air_c: f64, air_rh_pct: f64) -> Script {
    Script {
        keyframes: vec![Keyframe { at_s: 0, slab_c, air_c, air_rh_pct, supply_c: 30.0 }],
        slab: Channel { swing: 0.0, noise_sd: 0.01 },
        air: Channel { swing: 0.0, noise_sd: 0.01 },
        air_rh: Channel { swing: 0.0, noise_sd: 0.05 },
        ..Script::default()
    }
}

/// A jar of NaCl that warms or cools by so much an hour.
pub(crate) fn drifting_jar(kelvin_per_h: f64) -> Script {
    let mut script = steady(20.0, 22.0, 75.4);
    let mut later = script.keyframes[0];
    later.at_s = 36_000;
    later.air_c += 10.0 * kelvin_per_h;
    script.keyframes.push(later);
    script
}

/// Of text in the job file: the value of a key behind the last heading.
pub(crate) fn last_value(text: &str, key: &str) -> String {
    let behind = text.rsplit(&format!("\n{key} = ")).next().unwrap();
    behind.lines().next().unwrap().to_owned()
}

/// A number with its unit in quotes, such as `"77.47 %"`.
pub(crate) fn number(quoted: &str) -> f64 {
    quoted.trim_matches('"').split(' ').next().unwrap().parse().unwrap()
}
