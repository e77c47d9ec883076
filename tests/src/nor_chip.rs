//! A serial NOR flash chip at the other end of an SPI bus, in virtual time.
//!
//! It decodes commands byte by byte and acts when it is deselected, as the data sheets of such chips
//! say (JEDEC JESD216 for the commands; times and behaviour from memory): busy while it works, one
//! write enable for one program or erase, programs that go round within a page and only clear bits,
//! deaf in deep power-down. What a chip would ignore is ignored and counted.
#![allow(clippy::indexing_slicing, reason = "a simulator for tests: they fail by panicking")]

use crate::flash::Random;
use embedded_hal::delay::DelayNs;
use embedded_hal::spi::{ErrorKind, ErrorType, Operation, SpiDevice};
use std::cell::RefCell;
use std::rc::Rc;

const PAGE_LEN: usize = 256;
const SECTOR_LEN: usize = 4096;
/// One byte at 8 MHz.
const BYTE_NS: u64 = 1_000;
const WAKE_NS: u64 = 30_000;

/// What is wrong with the chip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Nothing.
    None,
    /// It is not there, and the line reads as this byte.
    Absent(u8),
    /// It never finishes what it began.
    BusyForEver,
    /// It does not take write enable.
    Protected,
    /// The bus itself fails.
    Bus,
}

/// When the power fails, counted in programs and erases.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PowerCut {
    /// Before the chip is deselected: it never begins.
    InCommand(u64),
    /// While it works: of the bits that change, about this share of 256 have.
    InWork(u64, u8),
}

/// What was done that a chip ignores or that loses data.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counters {
    /// Programs begun.
    pub programs: u64,
    /// Erases begun.
    pub erases: u64,
    /// Commands while it was busy, other than asking whether it is.
    pub while_busy: u64,
    /// Commands in deep power-down or too soon after waking, other than waking it.
    pub while_asleep: u64,
    /// Programs and erases without write enable.
    pub not_enabled: u64,
    /// Programs that went round at the end of a page.
    pub wraps: u64,
    /// Programs that would have had to set a bit.
    pub sets: u64,
    /// Commands that it does not know.
    pub unknown: u64,
}

#[derive(Debug)]
struct Chip {
    now_ns: u64,
    id: [u8; 3],
    bytes: Vec<u8>,
    fault: Fault,
    cut: Option<PowerCut>,
    program_ns: u64,
    erase_ns: u64,
    enabled: bool,
    asleep: bool,
    busy_until_ns: u64,
    awake_from_ns: u64,
    command: Vec<u8>,
    counters: Counters,
}

/// The chip; a clone is another hold on the same one. It is also the clock of its bus.
#[derive(Clone, Debug)]
pub struct NorChip(Rc<RefCell<Chip>>);

impl NorChip {
    /// An erased chip of `sectors` sectors, a power of two. Programs take 0.7 ms, erases 60 ms.
    #[must_use]
    pub fn new(sectors: usize) -> Self {
        let len = sectors * SECTOR_LEN;
        let size = len.trailing_zeros().to_le_bytes()[0];
        Self(Rc::new(RefCell::new(Chip {
            now_ns: 0,
            id: [0xEF, 0x40, size],
            bytes: vec![0xFF; len],
            fault: Fault::None,
            cut: None,
            program_ns: 700_000,
            erase_ns: 60_000_000,
            enabled: false,
            asleep: false,
            busy_until_ns: 0,
            awake_from_ns: 0,
            command: Vec::new(),
            counters: Counters::default(),
        })))
    }

    /// From now on it has this fault. One that was busy for ever and no longer is, is ready.
    pub fn set_fault(&self, fault: Fault) {
        let mut chip = self.0.borrow_mut();
        if chip.fault == Fault::BusyForEver {
            chip.busy_until_ns = 0;
        }
        chip.fault = fault;
    }

    /// It says this id.
    pub fn set_id(&self, id: [u8; 3]) {
        self.0.borrow_mut().id = id;
    }

    /// How long it works on a page and on a sector.
    pub fn set_times_us(&self, program_us: u64, erase_us: u64) {
        let mut chip = self.0.borrow_mut();
        chip.program_ns = program_us * 1000;
        chip.erase_ns = erase_us * 1000;
    }

    /// The power fails as `cut` says, counted from now on.
    pub fn cut(&self, cut: PowerCut) {
        let mut chip = self.0.borrow_mut();
        chip.counters = Counters::default();
        chip.cut = Some(cut);
    }

    /// The power is back, after a cut that came or did not.
    pub fn power_on(&self) {
        let mut chip = self.0.borrow_mut();
        chip.fault = Fault::None;
        chip.cut = None;
        chip.enabled = false;
        chip.asleep = false;
        chip.busy_until_ns = 0;
    }

    /// The content.
    #[must_use]
    pub fn bytes(&self) -> Vec<u8> {
        self.0.borrow().bytes.clone()
    }

    /// What was done to it.
    #[must_use]
    pub fn counters(&self) -> Counters {
        self.0.borrow().counters
    }

    /// Virtual time.
    #[must_use]
    pub fn now_us(&self) -> u64 {
        self.0.borrow().now_ns / 1000
    }

    /// Whether it is in deep power-down.
    #[must_use]
    pub fn is_asleep(&self) -> bool {
        self.0.borrow().asleep
    }
}

impl Chip {
    fn is_busy(&self) -> bool {
        self.now_ns < self.busy_until_ns
    }

    fn is_deaf(&self) -> bool {
        self.asleep || self.now_ns < self.awake_from_ns
    }

    /// One byte both ways.
    fn exchange(&mut self, byte: u8) -> u8 {
        self.now_ns += BYTE_NS;
        if let Fault::Absent(level) = self.fault {
            return level;
        }
        self.command.push(byte);
        let place = self.command.len() - 1;
        match self.command[0] {
            _ if place == 0 || self.is_deaf() => 0xFF,
            0x05 => u8::from(self.is_busy()) | u8::from(self.enabled) << 1,
            _ if self.is_busy() => 0xFF,
            0x9F => self.id.get(place - 1).copied().unwrap_or(0),
            0x03 if place >= 4 => {
                let at = (self.address() + place - 4) % self.bytes.len();
                self.bytes[at]
            }
            _ => 0xFF,
        }
    }

    fn address(&self) -> usize {
        self.command[1..4].iter().fold(0, |address, byte| address << 8 | usize::from(*byte))
            % self.bytes.len()
    }

    /// The chip is deselected, and does what it was told.
    fn deselect(&mut self) {
        let command = std::mem::take(&mut self.command);
        let Some(&code) = command.first() else { return };
        if self.is_busy() {
            // It is woken and asked without knowing that it works.
            self.counters.while_busy += u64::from(!matches!(code, 0x05 | 0xAB | 0xB9));
            return;
        }
        if code == 0xAB {
            if self.asleep {
                self.asleep = false;
                self.awake_from_ns = self.now_ns + WAKE_NS;
            }
            return;
        }
        if self.is_deaf() {
            self.counters.while_asleep += 1;
            return;
        }
        match code {
            0x03 | 0x05 | 0x9F => {}
            0x06 => self.enabled = self.fault != Fault::Protected,
            0xB9 => self.asleep = true,
            0x02 if command.len() > 4 => {
                self.command = command;
                self.program();
                self.command.clear();
            }
            0x20 if command.len() == 4 => {
                self.command = command;
                let from = self.address() / SECTOR_LEN * SECTOR_LEN;
                self.command.clear();
                let target: Vec<_> = (from..from + SECTOR_LEN).map(|at| (at, 0xFF)).collect();
                let work_ns = self.erase_ns;
                if self.begin(&target, work_ns) {
                    self.counters.erases += 1;
                }
            }
            _ => self.counters.unknown += 1,
        }
    }

    fn program(&mut self) {
        let from = self.address();
        let page = from / PAGE_LEN * PAGE_LEN;
        let data = &self.command[4..];
        self.counters.wraps += u64::from(from % PAGE_LEN + data.len() > PAGE_LEN);
        let mut target = Vec::new();
        for (i, byte) in data.iter().enumerate() {
            let at = page + (from - page + i) % PAGE_LEN;
            self.counters.sets += u64::from(self.bytes[at] & byte != *byte);
            target.push((at, self.bytes[at] & byte));
        }
        let work_ns = self.program_ns;
        if self.begin(&target, work_ns) {
            self.counters.programs += 1;
        }
    }

    /// Begins to work, if that is allowed: `target` is what its bytes become.
    fn begin(&mut self, target: &[(usize, u8)], work_ns: u64) -> bool {
        if !std::mem::take(&mut self.enabled) {
            self.counters.not_enabled += 1;
            return false;
        }
        let done = self.counters.programs + self.counters.erases;
        let share = match self.cut {
            Some(PowerCut::InCommand(after)) if after == done => Some(0),
            Some(PowerCut::InWork(after, share)) if after == done => Some(share),
            _ => None,
        };
        let mut random = Random(done);
        for &(at, to) in target {
            let changes = match share {
                None => 0xFF,
                Some(share) => (0..8)
                    .filter(|_| random.byte() < share)
                    .fold(0, |mask: u8, bit| mask | 1 << bit),
            };
            self.bytes[at] = self.bytes[at] & !changes | to & changes;
        }
        if share.is_some() {
            // Without power it drives no line.
            self.fault = Fault::Absent(0xFF);
        }
        self.busy_until_ns = match self.fault {
            Fault::BusyForEver => u64::MAX,
            _ => self.now_ns + work_ns,
        };
        true
    }
}

/// The bus failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BusFault;

impl embedded_hal::spi::Error for BusFault {
    fn kind(&self) -> ErrorKind {
        ErrorKind::Other
    }
}

impl ErrorType for NorChip {
    type Error = BusFault;
}

impl SpiDevice for NorChip {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), BusFault> {
        let mut chip = self.0.borrow_mut();
        if chip.fault == Fault::Bus {
            return Err(BusFault);
        }
        for operation in operations {
            match operation {
                Operation::Read(bytes) => {
                    bytes.iter_mut().for_each(|byte| *byte = chip.exchange(0));
                }
                Operation::Write(bytes) => bytes.iter().for_each(|byte| {
                    chip.exchange(*byte);
                }),
                Operation::TransferInPlace(bytes) => {
                    bytes.iter_mut().for_each(|byte| *byte = chip.exchange(*byte));
                }
                Operation::Transfer(read, write) => {
                    for place in 0..read.len().max(write.len()) {
                        let back = chip.exchange(write.get(place).copied().unwrap_or(0));
                        if let Some(byte) = read.get_mut(place) {
                            *byte = back;
                        }
                    }
                }
                Operation::DelayNs(ns) => chip.now_ns += u64::from(*ns),
            }
        }
        chip.deselect();
        Ok(())
    }
}

impl DelayNs for NorChip {
    fn delay_ns(&mut self, ns: u32) {
        self.0.borrow_mut().now_ns += u64::from(ns);
    }
}
