//! An I2C target at the level of its pins.

use super::{Device, Edge};

/// What a target does with whole bytes.
pub trait Registers {
    /// A transfer to it (`reads` is false) or from it begins. Returns whether it acknowledges its
    /// address.
    fn begin(&mut self, now_ns: u64, reads: bool) -> bool;

    /// It receives a byte. Returns whether it acknowledges.
    fn receive(&mut self, now_ns: u64, byte: u8) -> bool;

    /// The next byte that it sends.
    fn send(&mut self, now_ns: u64) -> u8;

    /// Its power was gone.
    fn power_up(&mut self, now_ns: u64);
}

/// How a target misbehaves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Faults {
    /// Not there.
    pub absent: bool,
    /// Holds the clock low for so long after each falling edge, in nanoseconds.
    pub stretch_ns: u64,
    /// Holds the clock for ever from this falling edge on, counted from now.
    pub hold_clock_after: Option<u32>,
    /// Does not acknowledge the received byte with this number in its transfer, from 0 on.
    pub refuse_byte: Option<usize>,
    /// Flips this bit of what it sends in one transfer, from 0 on.
    pub flip_bit: Option<usize>,
    /// Pulls the data line down in this bit while it receives, from 0 on after a start.
    pub disturb_bit: Option<u32>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Idle,
    Receiving { byte: u8, bits: u8, is_address: bool },
    Acknowledging { reads: bool, go_on: bool },
    Sending { byte: u8, bits: u8 },
    Listening { acknowledged: bool },
}

/// A target at one address.
pub struct Target<R> {
    /// What it is.
    pub registers: R,
    /// How it misbehaves.
    pub faults: Faults,
    address: u8,
    state: State,
    pulls_data: bool,
    clock_until_ns: Option<u64>,
    received: usize,
    sent: usize,
    bits_since_start: u32,
}

impl<R: Registers> Target<R> {
    /// `registers` at `address`.
    pub fn new(address: u8, registers: R) -> Self {
        Self {
            registers,
            faults: Faults::default(),
            address,
            state: State::Idle,
            pulls_data: false,
            clock_until_ns: None,
            received: 0,
            sent: 0,
            bits_since_start: 0,
        }
    }

    /// Takes it off the wires.
    pub fn unplug(&mut self) {
        self.faults.absent = true;
        self.state = State::Idle;
        self.pulls_data = false;
        self.clock_until_ns = None;
    }

    /// Puts it back, without faults.
    pub fn plug_in(&mut self, now_ns: u64) {
        self.unplug();
        self.faults = Faults::default();
        self.registers.power_up(now_ns);
    }

    /// Shifts in or listens.
    fn clock_rose(&mut self, data: bool) {
        match &mut self.state {
            State::Receiving { byte, bits, .. } => {
                *byte = *byte << 1 | u8::from(data);
                *bits += 1;
            }
            State::Listening { acknowledged } => *acknowledged = !data,
            State::Idle | State::Acknowledging { .. } | State::Sending { .. } => {}
        }
        self.bits_since_start += 1;
    }

    /// Puts the next bit on the line.
    fn clock_fell(&mut self, now_ns: u64) {
        self.pulls_data = false;
        match self.state {
            State::Receiving { byte, bits: 8, is_address } => {
                let reads = is_address && byte & 1 == 1;
                let acknowledges = if is_address {
                    (self.received, self.sent) = (0, 0);
                    byte >> 1 == self.address && self.registers.begin(now_ns, reads)
                } else {
                    self.received += 1;
                    self.faults.refuse_byte != Some(self.received - 1)
                        && self.registers.receive(now_ns, byte)
                };
                self.pulls_data = acknowledges;
                self.state = State::Acknowledging { reads, go_on: acknowledges };
            }
            State::Receiving { .. } => {
                self.pulls_data = self.faults.disturb_bit == Some(self.bits_since_start);
            }
            State::Acknowledging { go_on: false, .. }
            | State::Listening { acknowledged: false } => {
                self.state = State::Idle;
            }
            State::Acknowledging { reads: false, .. } => {
                self.state = State::Receiving { byte: 0, bits: 0, is_address: false };
            }
            State::Acknowledging { .. } | State::Listening { .. } => {
                let byte = self.registers.send(now_ns);
                self.send_bit(byte, 0);
            }
            State::Sending { bits: 8, .. } => {
                self.state = State::Listening { acknowledged: false };
            }
            State::Sending { byte, bits } => self.send_bit(byte, bits),
            State::Idle => {}
        }
    }

    fn send_bit(&mut self, byte: u8, bits: u8) {
        let flipped = self.faults.flip_bit == Some(self.sent);
        self.pulls_data = (byte << bits & 0x80 == 0) != flipped;
        self.sent += 1;
        self.state = State::Sending { byte, bits: bits + 1 };
    }
}

impl<R: Registers> Device for Target<R> {
    fn edge(&mut self, edge: Edge) {
        if self.faults.absent {
            return;
        }
        let [clock, data] = edge.levels;
        match (edge.wire, edge.high) {
            (1, false) if clock => {
                self.state = State::Receiving { byte: 0, bits: 0, is_address: true };
                self.bits_since_start = 0;
                self.pulls_data = false;
            }
            (1, true) if clock => {
                self.state = State::Idle;
                self.pulls_data = false;
            }
            (1, _) => {}
            (_, true) => self.clock_rose(data),
            (_, false) => {
                self.clock_fell(edge.at_ns);
                if self.faults.stretch_ns > 0 && self.state != State::Idle {
                    self.clock_until_ns = Some(edge.at_ns + self.faults.stretch_ns);
                }
                if let Some(left) = &mut self.faults.hold_clock_after {
                    if *left == 0 {
                        self.clock_until_ns = Some(u64::MAX);
                    }
                    *left = left.saturating_sub(1);
                }
            }
        }
    }

    fn pulls(&self) -> [bool; 2] {
        [self.clock_until_ns.is_some(), self.pulls_data]
    }

    fn next_ns(&self) -> Option<u64> {
        self.clock_until_ns
    }

    fn wake(&mut self, _now_ns: u64) {
        self.clock_until_ns = None;
    }
}
