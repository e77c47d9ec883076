//! The whole logger but for its board: samples on time, writes down what happens, knows its state.

use crate::fmt::info;
use crate::indicator;
use crate::key::Key;
use crate::probes::{Probes, Readings};
use crate::ring::{Boot, Error, RingLog};
use crate::sampler::Sampler;
use embedded_storage::nor_flash::NorFlash;
use glueday_types::attest::Signed;
use glueday_types::header::FORMAT_VERSION;
use glueday_types::wire::{Attestation, Identity, Refusal, Status, WIRE_VERSION, WIRE_VERSION_MIN};
use glueday_types::{Absent, BootReason, Entry, LoggerId, MarkKind, Probe, Sample};

/// The supply has to rise this far above its warning level before it can be low again.
const POWER_HYSTERESIS_MV: u16 = 100;

/// What a logger is set up with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    /// Its id, which it keeps for life.
    pub logger: LoggerId,
    /// Sampling interval in seconds for a log that begins; a log that goes on keeps its own.
    pub interval_s: u16,
    /// Supply voltage in millivolts under which it warns, when the board can measure it.
    pub power_low_mv: Option<u16>,
}

/// Whether a probe has readings, and why not.
type ProbeState = Result<(), Absent>;

/// The logger.
#[derive(Debug)]
pub struct Logger<F, P> {
    ring: RingLog<F>,
    probes: P,
    sampler: Sampler,
    power_low_mv: Option<u16>,
    key: Option<Key>,
    latest: Option<Sample>,
    slab: ProbeState,
    air: ProbeState,
    supply: ProbeState,
    supply_mv: Option<u16>,
    power_low: bool,
    synced: bool,
    log_failed: bool,
}

impl<F: NorFlash, P: Probes> Logger<F, P> {
    /// Takes up the log on `flash`, or begins one. `now_s` is in seconds since boot.
    ///
    /// # Errors
    /// See [`RingLog::mount`]. To try again, hand over `&mut flash` and keep the flash.
    pub fn start(
        flash: F,
        probes: P,
        settings: &Settings,
        now_s: u32,
        reason: BootReason,
    ) -> Result<Self, Error> {
        let boot = Boot { reason, at_s: now_s, firmware: crate::VERSION };
        let ring = RingLog::mount(flash, settings.logger, settings.interval_s, boot)?;
        let sampler = Sampler::new(ring.interval_s(), now_s);
        Ok(Self {
            ring,
            probes,
            sampler,
            power_low_mv: settings.power_low_mv,
            key: None,
            latest: None,
            slab: Ok(()),
            air: Ok(()),
            supply: Ok(()),
            supply_mv: None,
            power_low: false,
            synced: false,
            log_failed: false,
        })
    }

    /// Samples if a sample is due at `now_s`, and says whether one was. Call it at least once a second.
    ///
    /// # Errors
    /// The first entry of this sample that could not be written; the others were tried all the same.
    pub fn tick(&mut self, now_s: u32) -> Result<bool, Error> {
        if self.sampler.poll(now_s).is_none() {
            return Ok(false);
        }
        let Readings { slab, air, air_rh, supply } = self.probes.read();
        let slab_changed = self.probe_now(now_s, Probe::Slab, slab.map(|_| ()));
        let air_changed =
            self.probe_now(now_s, Probe::Air, air.map(|_| ()).and(air_rh.map(|_| ())));
        let supply_changed = self.probe_now(now_s, Probe::Supply, supply.map(|_| ()));
        let power = self.power_now(now_s);
        // The time of the measurement, not the time it was due at: evidence says what was.
        let sample = Sample { at_s: now_s, slab, air, air_rh, supply };
        self.latest = Some(sample);
        let sampled = self.append(&Entry::Sample(sample)).map(|_| true);
        slab_changed.and(air_changed).and(supply_changed).and(power).and(sampled)
    }

    /// When the next sample is due; `None` when the seconds since boot no longer count that far.
    #[must_use]
    pub fn next_due_s(&self) -> Option<u32> {
        self.sampler.due_s()
    }

    fn append(&mut self, entry: &Entry) -> Result<u32, Error> {
        let result = self.ring.append(entry);
        self.log_failed = result.is_err();
        result
    }

    /// Writes down that a probe failed or came back, once.
    fn probe_now(&mut self, at_s: u32, probe: Probe, now: ProbeState) -> Result<(), Error> {
        let before = match probe {
            Probe::Slab => self.slab,
            Probe::Air => self.air,
            Probe::Supply => self.supply,
        };
        if before == now {
            return Ok(());
        }
        info!("probe {} is now {}", probe, now);
        // Only what was written is known: a failure is tried again with the next sample.
        self.append(&Entry::ProbeChanged { at_s, probe, state: now })?;
        match probe {
            Probe::Slab => self.slab = now,
            Probe::Air => self.air = now,
            Probe::Supply => self.supply = now,
        }
        Ok(())
    }

    /// Writes down that the supply fell under its warning level, once for each fall.
    fn power_now(&mut self, at_s: u32) -> Result<(), Error> {
        self.supply_mv = self.probes.supply_mv();
        let (Some(supply_mv), Some(low_mv)) = (self.supply_mv, self.power_low_mv) else {
            return Ok(());
        };
        if self.power_low {
            self.power_low = supply_mv < low_mv.saturating_add(POWER_HYSTERESIS_MV);
        } else if supply_mv < low_mv {
            self.append(&Entry::PowerLow { at_s, supply_mv })?;
            self.power_low = true;
        }
        Ok(())
    }

    /// Writes a mark.
    ///
    /// # Errors
    /// The flash failed.
    pub fn mark(&mut self, at_s: u32, kind: MarkKind) -> Result<(), Error> {
        self.append(&Entry::Mark { at_s, kind }).map(|_| ())
    }

    /// Ties `at_s`, now, to `utc_s`, in seconds since 1970-01-01 UTC.
    ///
    /// # Errors
    /// The flash failed.
    pub fn set_clock(&mut self, at_s: u32, utc_s: i64) -> Result<(), Error> {
        self.append(&Entry::ClockSet { at_s, utc_s })?;
        self.synced = true;
        Ok(())
    }

    /// Samples at this interval from now on; 0 counts as 1.
    ///
    /// # Errors
    /// The flash failed; the interval stays as it was.
    pub fn set_interval(&mut self, at_s: u32, interval_s: u16) -> Result<(), Error> {
        self.append(&Entry::SettingsChanged { at_s, interval_s: interval_s.max(1) })?;
        self.sampler.set_interval(interval_s, at_s);
        Ok(())
    }

    /// Gives it the key that it signs with from now on, or takes it away.
    pub fn set_key(&mut self, key: Option<Key>) {
        self.key = key;
    }

    /// Signs the head of the log, together with `nonce`. What is signed stands in
    /// [`glueday_types::attest`]. The log is not changed.
    ///
    /// # Errors
    /// [`Refusal::NoKey`] and [`Refusal::FlashFailed`].
    pub fn attest(&mut self, now_s: u32, nonce: [u8; 16]) -> Result<Attestation, Refusal> {
        let key = self.key.as_ref().ok_or(Refusal::NoKey)?;
        let signed = Signed {
            logger: self.ring.logger(),
            nonce,
            open_block: self.ring.open_block(),
            open_len: self.ring.open_len(),
            boot: self.ring.boot(),
            uptime_s: now_s,
            digest: self.ring.open_digest().map_err(|_| Refusal::FlashFailed)?,
        };
        Ok(signed.with_signature(&key.sign(&signed.to_bytes())))
    }

    /// The latest sample of this boot.
    #[must_use]
    pub fn latest(&self) -> Option<Sample> {
        self.latest
    }

    /// The log.
    #[must_use]
    pub fn ring(&self) -> &RingLog<F> {
        &self.ring
    }

    /// Reads bytes of a block: see [`RingLog::read`].
    ///
    /// # Errors
    /// See [`RingLog::read`].
    pub fn read(&mut self, block: u32, offset: u16, out: &mut [u8]) -> Result<(), Error> {
        self.ring.read(block, offset, out)
    }

    /// The probes.
    pub fn probes_mut(&mut self) -> &mut P {
        &mut self.probes
    }

    /// Who it is.
    #[must_use]
    pub fn identity(&self) -> Identity {
        Identity {
            wire_version_min: WIRE_VERSION_MIN,
            wire_version: WIRE_VERSION,
            format_version: FORMAT_VERSION,
            logger: self.ring.logger(),
            firmware: crate::VERSION,
            blocks: self.ring.slots(),
            public_key: self.key.as_ref().map(Key::public),
        }
    }

    /// How it is. The probes are as at the latest sample.
    #[must_use]
    pub fn status(&self, now_s: u32) -> Status {
        Status {
            boot: self.ring.boot(),
            uptime_s: now_s,
            interval_s: self.ring.interval_s(),
            oldest_block: self.ring.oldest_block(),
            open_block: self.ring.open_block(),
            open_len: self.ring.open_len(),
            entries: self.ring.entries(),
            lost_entries: self.ring.lost(),
            resumed: self.ring.resumed(),
            supply_mv: self.supply_mv,
            slab: self.slab,
            air: self.air,
            supply: self.supply,
        }
    }

    /// What the LED shows now. A probe that is not fitted is no fault.
    #[must_use]
    pub fn state(&self) -> indicator::State {
        let faulty = |state: ProbeState| state.is_err_and(|reason| reason != Absent::NotFitted);
        if self.log_failed {
            indicator::State::LogFailed
        } else if [self.slab, self.air, self.supply].into_iter().any(faulty) {
            indicator::State::ProbeFault
        } else if self.power_low {
            indicator::State::PowerLow
        } else if !self.synced {
            indicator::State::NeverSynced
        } else {
            indicator::State::Logging
        }
    }

    /// Stops, and gives flash and probes back.
    #[must_use]
    pub fn release(self) -> (F, P) {
        (self.ring.release(), self.probes)
    }
}
