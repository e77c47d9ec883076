//! The logger, its flash image and its climate, and the loop that serves it.

use crate::climate::{Climate, scripted_probes::ScriptedProbes};
use crate::line::{Line, Pace};
use crate::nor_file::{NorFile, NorFileError};
use crate::port::{Port, wait};
use glueday_firmware::key::{self, NoKey};
use glueday_firmware::{Logger, RingLog, ring};
use glueday_types::{BootReason, LoggerId};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// No wait in the serving loop is longer, so that it sees the stop flag in time.
const WAIT_MAX: Duration = Duration::from_millis(20);

/// How a desk logger runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Sampling interval in seconds for a log that begins; a log that goes on keeps its own.
    pub interval_s: u16,
    /// Virtual seconds to a real one while serving.
    pub scale: f64,
    /// Time of the scenario at which the logger boots.
    pub scenario_from_s: u64,
    /// Why it boots, as the log will say.
    pub reason: BootReason,
    /// Supply voltage in millivolts that it measures, if it can.
    pub supply_mv: Option<u16>,
    /// Supply voltage in millivolts under which it warns.
    pub power_low_mv: Option<u16>,
    /// Pace of its lines.
    pub pace: Pace,
    /// Whether it goes without a key, and so cannot sign. A log that was begun without one never gets
    /// one.
    pub keyless: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            interval_s: 600,
            scale: 1.0,
            scenario_from_s: 0,
            reason: BootReason::PowerOn,
            supply_mv: None,
            power_low_mv: None,
            pace: Pace::default(),
            keyless: false,
        }
    }
}

/// Why the desk logger cannot start or go on.
#[derive(Debug, thiserror::Error)]
pub enum DeskError {
    /// The image cannot be used.
    #[error(transparent)]
    Image(#[from] NorFileError),
    /// The log in the image cannot be used or written.
    #[error("the log in the flash image: {0}")]
    Log(#[from] ring::Error),
    /// The time scale makes no sense.
    #[error("a time scale of {0}: give a number from 0 (time stands still) to 1000000")]
    Scale(f64),
}

/// A logger with its flash in a file.
#[derive(Debug)]
pub struct Desk {
    logger: Logger<NorFile, ScriptedProbes>,
    settings: Settings,
    uptime_s: u32,
    no_key: Option<NoKey>,
}

/// Where the key of the image at `image` is kept.
fn key_path(image: &Path) -> PathBuf {
    let mut path = image.as_os_str().to_owned();
    path.push(".key");
    path.into()
}

/// Random bits of the operating system.
fn entropy() -> Option<[u8; key::SEED_LEN]> {
    let mut seed = [0; key::SEED_LEN];
    getrandom::fill(&mut seed).ok().map(|()| seed)
}

impl Desk {
    /// Boots a logger on the flash image at `path`, which is made with `slots` blocks if it is not
    /// there. Each call is one more boot of the same logger.
    ///
    /// Its key is kept beside the image, in a file of the same name with `.key` behind it, and is made
    /// together with the log: see [`glueday_firmware::key`]. Whoever can read that file can sign in the
    /// logger's name. A logger without key runs all the same; [`Desk::no_key`] says why it has none.
    ///
    /// # Errors
    /// See [`DeskError`]. An image of another size, logger or newer format is not changed.
    pub fn create_or_open(
        path: impl AsRef<Path>,
        slots: u32,
        logger: LoggerId,
        climate: Box<dyn Climate>,
        settings: &Settings,
    ) -> Result<Self, DeskError> {
        if !(0.0..=1e6).contains(&settings.scale) {
            return Err(DeskError::Scale(settings.scale));
        }
        let mut flash = NorFile::create_or_open(path.as_ref(), slots)?;
        let key = if settings.keyless {
            Err(NoKey::NotWanted)
        } else {
            let log_is_begun = RingLog::is_begun(&mut flash, logger);
            let mut sector = NorFile::create_or_open_key(&key_path(path.as_ref()))?;
            key::take_up(&mut sector, log_is_begun, entropy)
        };
        let probes = ScriptedProbes::new(climate, settings.supply_mv);
        let set_up = glueday_firmware::Settings {
            logger,
            interval_s: settings.interval_s,
            power_low_mv: settings.power_low_mv,
        };
        let mut logger = Logger::start(flash, probes, &set_up, 0, settings.reason)?;
        let no_key = key.as_ref().err().copied();
        logger.set_key(key.ok());
        Ok(Self { logger, settings: *settings, uptime_s: 0, no_key })
    }

    /// Why it has no key, if it has none.
    #[must_use]
    pub fn no_key(&self) -> Option<NoKey> {
        self.no_key
    }

    /// Lets the logger run up to `uptime_s` seconds after its boot, as quickly as possible. An earlier
    /// time than it has reached does nothing.
    ///
    /// # Errors
    /// The first entry that could not be written; the time was reached all the same.
    pub fn advance_to(&mut self, uptime_s: u32) -> Result<(), ring::Error> {
        let mut result = Ok(());
        while let Some(due_s) = self.logger.next_due_s().filter(|due_s| *due_s <= uptime_s) {
            self.logger.probes_mut().set_now(self.settings.scenario_from_s + u64::from(due_s));
            result = result.and(self.logger.tick(due_s).map(|_| ()));
        }
        self.uptime_s = self.uptime_s.max(uptime_s);
        result
    }

    /// Seconds since boot that the logger has reached.
    #[must_use]
    pub fn uptime_s(&self) -> u32 {
        self.uptime_s
    }

    /// The logger.
    #[must_use]
    pub fn logger(&self) -> &Logger<NorFile, ScriptedProbes> {
        &self.logger
    }

    /// The logger, to mark, set and read it without a line.
    pub fn logger_mut(&mut self) -> &mut Logger<NorFile, ScriptedProbes> {
        &mut self.logger
    }

    /// Serves `ports` until `stop` is set, while time goes on from where it is at the scale of the
    /// settings. The ports are closed when it returns.
    ///
    /// # Errors
    /// None now; a flash that fails is told to the peers that ask, as on a board.
    pub fn serve(&mut self, ports: Vec<Port>, stop: &AtomicBool) -> Result<(), DeskError> {
        let mut lines: Vec<Line> =
            ports.into_iter().map(|port| Line::new(port, self.settings.pace)).collect();
        let (began, began_s) = (Instant::now(), self.uptime_s);
        while !stop.load(Ordering::Relaxed) {
            let passed_s = began.elapsed().as_secs_f64() * self.settings.scale;
            // The seconds are not negative, and a float that is too large becomes the largest.
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let now_s = began_s.saturating_add(passed_s as u32);
            // The logger keeps count of what it could not write, and its status says so.
            let _ = self.advance_to(now_s);
            let mut moved = false;
            for line in &mut lines {
                moved |= line.turn(|link, out| link.next_reply(now_s, &mut self.logger, out));
            }
            if !moved {
                let pause = lines.iter().filter_map(Line::pause).min();
                let timeout = pause.unwrap_or(WAIT_MAX).min(WAIT_MAX);
                wait(lines.iter_mut().map(Line::waiting), timeout);
            }
        }
        Ok(())
    }
}
