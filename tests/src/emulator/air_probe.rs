//! The air probe: registers, timing and checksums of an SHT4x, after its data sheet (from memory:
//! address 0x44, commands 0xFD and 0x89, conversion formulas, CRC-8 of polynomial 0x31 from 0xFF, up to
//! 8.3 ms for a measurement of high repeatability).

use glueday_bench_tunnel::switchboard::TICKS_PER_S;
use glueday_bench_tunnel::{
    ANSWER_FRAME_LEN_MAX, ASKED_FRAME_LEN_MAX, Answer, Asked, Clock, Outcome,
};
use glueday_types::frame::{self, Collector};
use std::io::{Read as _, Write as _};
use std::os::unix::net::UnixStream;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

const ADDRESS: u8 = 0x44;
const MEASURE: u8 = 0xFD;
const SERIAL: u8 = 0x89;
/// 8.3 ms in ticks of 40 ns.
const MEASURING_TICKS: u32 = TICKS_PER_S / 10_000 * 83;

/// What is wrong with the probe.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AirFault {
    /// Nothing.
    #[default]
    None,
    /// It does not acknowledge.
    NoAnswer,
    /// The bus fails.
    BusFault,
    /// A bit of what it measured is wrong.
    Damaged(DamagedAnswer),
}

/// Which bit of the six bytes is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DamagedAnswer {
    /// 0 to 47.
    pub bit: usize,
}

#[derive(Debug, Default)]
struct State {
    raw_temperature: u16,
    raw_humidity: u16,
    fault: AirFault,
    pending: Option<(u8, Clock)>,
    measured_at: Vec<Clock>,
    too_early: u32,
    answered: u64,
}

/// The probe. A clone is the same probe.
#[derive(Clone, Debug, Default)]
pub struct AirProbe {
    state: Arc<Mutex<State>>,
}

impl AirProbe {
    /// A probe in air of this temperature and humidity.
    #[must_use]
    pub fn new(air_c: f64, air_rh_pct: f64) -> Self {
        let probe = Self::default();
        probe.set(air_c, air_rh_pct);
        probe
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Changes the air.
    pub fn set(&self, air_c: f64, air_rh_pct: f64) {
        let mut state = self.state();
        state.raw_temperature = steps((air_c + 45.0) / 175.0);
        state.raw_humidity = steps((air_rh_pct + 6.0) / 125.0);
    }

    /// Changes what is wrong.
    pub fn set_fault(&self, fault: AirFault) {
        self.state().fault = fault;
    }

    /// When each measurement began, by counters that are not the logger's clock. They are forgotten
    /// here.
    #[must_use]
    pub fn take_measured_at(&self) -> Vec<Clock> {
        std::mem::take(&mut self.state().measured_at)
    }

    /// How many measurements began since the last [`AirProbe::take_measured_at`].
    #[must_use]
    pub fn measurements(&self) -> usize {
        self.state().measured_at.len()
    }

    /// How often it was read before its measurement was over.
    #[must_use]
    pub fn too_early(&self) -> u32 {
        self.state().too_early
    }

    /// How many transactions it saw.
    #[must_use]
    pub fn answered(&self) -> u64 {
        self.state().answered
    }

    /// Answers on `stream` until the emulator is gone.
    pub fn serve(&self, mut stream: UnixStream) {
        let probe = self.clone();
        std::thread::spawn(move || {
            let mut collector = Collector::<ASKED_FRAME_LEN_MAX>::new();
            let mut bytes = [0; 256];
            while let Ok(len @ 1..) = stream.read(&mut bytes) {
                for byte in bytes.iter().take(len) {
                    let Some(Ok(payload)) = collector.push(*byte) else { continue };
                    let Some(asked) = glueday_bench_tunnel::read::<Asked<'_>>(payload) else {
                        continue;
                    };
                    let mut read = [0; 6];
                    let outcome = probe.state().transact(&asked, &mut read);
                    let answer = Answer { number: asked.number, outcome };
                    let mut out = [0; ANSWER_FRAME_LEN_MAX];
                    let frame = frame::write(&answer, &mut out).expect("an answer is short");
                    if stream.write_all(frame).is_err() {
                        return;
                    }
                }
            }
        });
    }
}

impl State {
    fn transact<'a>(&mut self, asked: &Asked<'_>, read: &'a mut [u8; 6]) -> Outcome<'a> {
        self.answered += 1;
        match self.fault {
            AirFault::NoAnswer => return Outcome::NoAnswer,
            AirFault::BusFault => return Outcome::BusFault,
            AirFault::None | AirFault::Damaged(_) => {}
        }
        if asked.address != ADDRESS {
            return Outcome::NoAnswer;
        }
        match asked.write {
            [] => {}
            [command @ (MEASURE | SERIAL)] => {
                self.pending = Some((*command, asked.clock));
                if *command == MEASURE {
                    self.measured_at.push(asked.clock);
                }
            }
            // Commands that this model does not have.
            _ => return Outcome::NoAnswer,
        }
        if asked.read_len == 0 {
            return Outcome::Done(&[]);
        }
        // It does not acknowledge before there is something to read.
        let Some((command, since)) = self.pending else { return Outcome::NoAnswer };
        let words = match command {
            MEASURE => {
                if asked.clock.ticks.wrapping_sub(since.ticks) < MEASURING_TICKS {
                    self.too_early += 1;
                    return Outcome::NoAnswer;
                }
                [self.raw_temperature, self.raw_humidity]
            }
            _ => [0x0BEE, 0x5EA1],
        };
        self.pending = None;
        for (three, word) in read.chunks_exact_mut(3).zip(words) {
            let [high, low] = word.to_be_bytes();
            three.copy_from_slice(&[high, low, crc8(&[high, low])]);
        }
        if let AirFault::Damaged(DamagedAnswer { bit }) = self.fault
            && let Some(byte) = read.get_mut(bit / 8)
        {
            *byte ^= 1 << (bit % 8);
        }
        read.get(..asked.read_len.into()).map_or(Outcome::BusFault, Outcome::Done)
    }
}

/// A part of the full scale in steps of the sensor.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // Clamped.
fn steps(part: f64) -> u16 {
    (part * 65_535.0).round().clamp(0.0, 65_535.0) as u16
}

/// CRC-8 of polynomial 0x31 from 0xFF.
fn crc8(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0xFF, |crc, byte| {
        (0..8).fold(crc ^ byte, |crc, _| if crc & 0x80 == 0 { crc << 1 } else { (crc << 1) ^ 0x31 })
    })
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_checksum_is_that_of_the_data_sheet() {
        // Its worked example (from memory): 0xBEEF has 0x92.
        assert_eq!(super::crc8(&[0xBE, 0xEF]), 0x92);
    }
}
