//! A temperature sensor on 1-Wire at the level of its pin, with the registers of the DS18B20 and the
//! times of its data sheet (from memory).

use super::{Device, Edge};

const US: u64 = 1_000;

/// The times that the data sheet leaves open, in microseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pace {
    /// From the fall of the line to the look at it: 15 to 60.
    pub look_us: u64,
    /// From the fall of the line to the end of a 0 that it sends: 15 to 60.
    pub zero_us: u64,
    /// From the end of the reset to presence: 15 to 60.
    pub presence_after_us: u64,
    /// How long presence lasts: 60 to 240.
    pub presence_us: u64,
}

/// The quickest and the slowest sensor, and those that mix.
pub const PACES: [Pace; 5] = [
    Pace { look_us: 15, zero_us: 15, presence_after_us: 15, presence_us: 60 },
    Pace { look_us: 60, zero_us: 60, presence_after_us: 60, presence_us: 240 },
    Pace { look_us: 15, zero_us: 60, presence_after_us: 60, presence_us: 60 },
    Pace { look_us: 60, zero_us: 15, presence_after_us: 15, presence_us: 240 },
    Pace { look_us: 30, zero_us: 30, presence_after_us: 30, presence_us: 120 },
];

/// How it misbehaves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Faults {
    /// Not there.
    pub absent: bool,
    /// Does not understand this command.
    pub deaf_to: Option<u8>,
    /// Feeds on the data line: says nothing while it measures.
    pub parasite: bool,
    /// Flips this bit of the scratchpad on its way, from 0 to 71.
    pub flip_bit: Option<usize>,
    /// Sends zeros for the scratchpad.
    pub sends_zeros: bool,
    /// Lets go of the line behind the read command.
    pub sends_nothing: bool,
    /// Loses its power this long after it began to measure, in milliseconds.
    pub power_loss_after_ms: Option<u64>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// Waits for a reset.
    Deaf,
    Rom,
    Function,
    Settings(usize),
    Scratchpad(usize),
    Measuring,
}

/// The sensor.
pub struct Sensor {
    /// The temperature around it, in 1/16 °C.
    pub sixteenths: i16,
    /// What it leaves open.
    pub pace: Pace,
    /// How it misbehaves.
    pub faults: Faults,
    /// How long it measures with 12 bits, in milliseconds.
    pub conversion_ms: u64,
    /// What broke the times of the data sheet.
    pub violations: Vec<String>,
    /// How many measurements it began.
    pub conversions: u32,
    /// Its scratchpad without the CRC.
    pub scratchpad: [u8; 8],
    wire: usize,
    state: State,
    level: bool,
    fell_ns: Option<u64>,
    rose_ns: Option<u64>,
    byte: u8,
    bits: u8,
    sending: Option<bool>,
    look_at_ns: Option<u64>,
    pull_from_ns: Option<u64>,
    pull_to_ns: Option<u64>,
    pulls: bool,
    busy_until_ns: Option<u64>,
    power_loss_ns: Option<u64>,
}

/// The scratchpad after power-up: 85 °C, and what the maker left in the EEPROM.
const POWER_UP: [u8; 8] = [0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10];

/// The CRC-8 of 1-Wire, by the catalogue of polynomials.
#[must_use]
pub fn crc8(bytes: &[u8]) -> u8 {
    crc::Crc::<u8>::new(&crc::CRC_8_MAXIM_DOW).checksum(bytes)
}

impl Sensor {
    /// A sensor on `wire` in a place of `sixteenths`.
    #[must_use]
    pub fn new(wire: usize, sixteenths: i16, pace: Pace) -> Self {
        Self {
            sixteenths,
            pace,
            faults: Faults::default(),
            conversion_ms: 750,
            violations: Vec::new(),
            conversions: 0,
            scratchpad: POWER_UP,
            wire,
            state: State::Deaf,
            level: true,
            fell_ns: None,
            rose_ns: None,
            byte: 0,
            bits: 0,
            sending: None,
            look_at_ns: None,
            pull_from_ns: None,
            pull_to_ns: None,
            pulls: false,
            busy_until_ns: None,
            power_loss_ns: None,
        }
    }

    /// Takes it off the wire.
    pub fn unplug(&mut self) {
        self.power_up();
        self.faults.absent = true;
    }

    /// Puts it back, without faults.
    pub fn plug_in(&mut self) {
        self.power_up();
        self.faults = Faults::default();
    }

    fn power_up(&mut self) {
        self.scratchpad = POWER_UP;
        self.state = State::Deaf;
        (self.busy_until_ns, self.power_loss_ns) = (None, None);
        (self.look_at_ns, self.pull_from_ns, self.pull_to_ns) = (None, None, None);
        (self.fell_ns, self.rose_ns) = (None, None);
        self.pulls = false;
    }

    fn expect(&mut self, holds: bool, what: &str, ns: u64) {
        if !holds {
            self.violations.push(format!("{what}: {ns} ns"));
        }
    }

    fn enter(&mut self, state: State) {
        (self.state, self.byte, self.bits) = (state, 0, 0);
    }

    /// The bit that it sends in the slot that begins, when it is its turn.
    fn next_bit(&mut self, now_ns: u64) -> Option<bool> {
        match self.state {
            State::Measuring => {
                let busy = self.busy_until_ns.is_some_and(|until_ns| now_ns < until_ns);
                Some(!busy || self.faults.parasite)
            }
            State::Scratchpad(position) => {
                self.state = State::Scratchpad(position + 1);
                if self.faults.sends_nothing || position >= 72 {
                    return Some(true);
                }
                let mut bytes = self.scratchpad.to_vec();
                bytes.push(crc8(&bytes));
                let bit = bytes[position / 8] >> (position % 8) & 1 == 1;
                Some((bit != (self.faults.flip_bit == Some(position))) && !self.faults.sends_zeros)
            }
            _ => None,
        }
    }

    fn fell(&mut self, now_ns: u64) {
        if let Some(rose_ns) = self.rose_ns {
            self.expect(now_ns - rose_ns >= US, "recovery", now_ns - rose_ns);
        }
        if let (Some(fell_ns), State::Rom | State::Function | State::Settings(_)) =
            (self.fell_ns, self.state)
        {
            self.expect(now_ns - fell_ns >= 61 * US, "slot", now_ns - fell_ns);
        }
        self.fell_ns = Some(now_ns);
        self.sending = self.next_bit(now_ns);
        match self.sending {
            Some(false) => {
                self.pulls = true;
                self.pull_to_ns = Some(now_ns + self.pace.zero_us * US);
            }
            Some(true) => {}
            None => self.look_at_ns = Some(now_ns + self.pace.look_us * US),
        }
    }

    fn rose(&mut self, now_ns: u64) {
        self.rose_ns = Some(now_ns);
        let Some(fell_ns) = self.fell_ns else { return };
        let low_ns = now_ns - fell_ns;
        if low_ns >= 480 * US {
            self.expect(low_ns <= 960 * US, "reset", low_ns);
            self.look_at_ns = None;
            self.enter(State::Rom);
            let from_ns = now_ns + self.pace.presence_after_us * US;
            self.pull_from_ns = Some(from_ns);
            self.pull_to_ns = Some(from_ns + self.pace.presence_us * US);
        } else if self.sending.is_none() && self.state != State::Deaf {
            let is_one = (US..15 * US).contains(&low_ns);
            let is_zero = (60 * US..=120 * US).contains(&low_ns);
            self.expect(is_one || is_zero, "low", low_ns);
        }
    }

    fn look(&mut self, now_ns: u64) {
        self.byte = self.byte >> 1 | u8::from(self.level) << 7;
        self.bits += 1;
        if self.bits < 8 {
            return;
        }
        let byte = self.byte;
        let heard = self.faults.deaf_to != Some(byte);
        match (self.state, byte) {
            (State::Rom, 0xCC) if heard => self.enter(State::Function),
            (State::Function, 0x4E) if heard => self.enter(State::Settings(0)),
            (State::Function, 0xBE) if heard => self.enter(State::Scratchpad(0)),
            (State::Function, 0x44) if heard => {
                self.enter(State::Measuring);
                self.conversions += 1;
                let bits = self.scratchpad[4] >> 5 & 3;
                let conversion_ms = self.conversion_ms >> (3 - bits);
                self.busy_until_ns = Some(now_ns + conversion_ms * 1000 * US);
                let power_loss_ms = self.faults.power_loss_after_ms;
                self.power_loss_ns = power_loss_ms.map(|ms| now_ns + ms * 1000 * US);
            }
            (State::Settings(position), _) => {
                // It has no more than these bits of resolution.
                let byte = if position == 2 { byte & 0x60 | 0x1F } else { byte };
                self.scratchpad[2 + position] = byte;
                self.enter(if position < 2 { State::Settings(position + 1) } else { State::Deaf });
            }
            _ => self.enter(State::Deaf),
        }
    }

    fn measured(&mut self) {
        let dropped = 3 - (self.scratchpad[4] >> 5 & 3);
        let value = self.sixteenths >> dropped << dropped;
        self.scratchpad[..2].copy_from_slice(&value.to_le_bytes());
    }
}

impl Device for Sensor {
    fn edge(&mut self, edge: Edge) {
        if edge.wire != self.wire || self.faults.absent {
            return;
        }
        self.level = edge.high;
        if self.pulls && !edge.high {
            // Its own presence, no slot.
            self.fell_ns = None;
            return;
        }
        if edge.high { self.rose(edge.at_ns) } else { self.fell(edge.at_ns) }
    }

    fn pulls(&self) -> [bool; 2] {
        std::array::from_fn(|wire| wire == self.wire && self.pulls && !self.faults.absent)
    }

    fn next_ns(&self) -> Option<u64> {
        let times = [
            self.look_at_ns,
            self.pull_from_ns,
            self.pull_to_ns,
            self.busy_until_ns,
            self.power_loss_ns,
        ];
        times.into_iter().flatten().min()
    }

    fn wake(&mut self, now_ns: u64) {
        let due = |time: &mut Option<u64>| time.take_if(|time| *time <= now_ns).is_some();
        if due(&mut self.pull_from_ns) {
            self.pulls = true;
        }
        if due(&mut self.pull_to_ns) {
            self.pulls = false;
        }
        if due(&mut self.look_at_ns) {
            self.look(now_ns);
        }
        if due(&mut self.power_loss_ns) {
            self.power_up();
        }
        if due(&mut self.busy_until_ns) {
            self.measured();
        }
    }
}
