//! Wires with pull-ups, and what hangs on them, in virtual time.
//!
//! Every pin operation and every delay moves the time on; what hangs on the wires sees each edge, and
//! is called when its own time has come.

// Only ever called by tests, which may panic. There are two wires, and bytes have eight bits.
#![allow(clippy::indexing_slicing, clippy::panic)]

pub mod one_wire;
pub mod sensors;
pub mod target;
pub mod trace;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorKind, ErrorType, InputPin, OutputPin};
use std::cell::RefCell;
use std::rc::Rc;

/// How long setting or reading a pin takes, in nanoseconds.
pub const PIN_NS: u64 = 100;

/// A change of one wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Edge {
    /// When, in nanoseconds.
    pub at_ns: u64,
    /// Which wire.
    pub wire: usize,
    /// Whether it is high now.
    pub high: bool,
    /// All wires now.
    pub levels: [bool; 2],
}

/// Something that can pull wires down. A wire is high while nobody does.
pub trait Device {
    /// A wire changed.
    fn edge(&mut self, edge: Edge);

    /// Which wires it pulls down.
    fn pulls(&self) -> [bool; 2];

    /// When it does something by itself, in nanoseconds.
    fn next_ns(&self) -> Option<u64> {
        None
    }

    /// That time has come.
    fn wake(&mut self, _now_ns: u64) {}
}

impl<T: Device> Device for Rc<RefCell<T>> {
    fn edge(&mut self, edge: Edge) {
        self.borrow_mut().edge(edge);
    }

    fn pulls(&self) -> [bool; 2] {
        self.borrow().pulls()
    }

    fn next_ns(&self) -> Option<u64> {
        self.borrow().next_ns()
    }

    fn wake(&mut self, now_ns: u64) {
        self.borrow_mut().wake(now_ns);
    }
}

struct Inner {
    now_ns: u64,
    pulls: [bool; 2],
    levels: [bool; 2],
    broken: [bool; 2],
    devices: Vec<Box<dyn Device>>,
    edges: Vec<Edge>,
    longest_delay_ns: u64,
}

impl Inner {
    /// Lets the wires and the devices agree.
    fn settle(&mut self) {
        // A device that answers an edge with an edge settles after a few rounds.
        for _ in 0..32 {
            let pulled = |wire: usize| {
                self.pulls[wire] || self.devices.iter().any(|device| device.pulls()[wire])
            };
            let levels = [!pulled(0), !pulled(1)];
            let Some(wire) = (0..2).find(|wire| levels[*wire] != self.levels[*wire]) else {
                return;
            };
            self.levels[wire] = levels[wire];
            let edge = Edge { at_ns: self.now_ns, wire, high: levels[wire], levels: self.levels };
            self.edges.push(edge);
            for device in &mut self.devices {
                device.edge(edge);
            }
        }
        panic!("the wires do not settle");
    }

    fn advance(&mut self, by_ns: u64) {
        let until_ns = self.now_ns + by_ns;
        loop {
            let due = self.devices.iter().filter_map(|device| device.next_ns()).min();
            let Some(due_ns) = due.filter(|due_ns| *due_ns <= until_ns) else { break };
            self.now_ns = self.now_ns.max(due_ns);
            for device in &mut self.devices {
                if device.next_ns().is_some_and(|next_ns| next_ns <= due_ns) {
                    device.wake(due_ns);
                }
            }
            self.settle();
        }
        self.now_ns = until_ns;
    }
}

/// Two wires; wire 0 is SCL and wire 1 is SDA where it matters.
#[derive(Clone)]
pub struct Wires(Rc<RefCell<Inner>>);

impl Default for Wires {
    fn default() -> Self {
        Self(Rc::new(RefCell::new(Inner {
            now_ns: 0,
            pulls: [false; 2],
            levels: [true; 2],
            broken: [false; 2],
            devices: Vec::new(),
            edges: Vec::new(),
            longest_delay_ns: 0,
        })))
    }
}

impl Wires {
    /// Hangs `device` on the wires. The returned handle reaches it.
    pub fn hang<T: Device + 'static>(&self, device: T) -> Rc<RefCell<T>> {
        let device = Rc::new(RefCell::new(device));
        let mut inner = self.0.borrow_mut();
        inner.devices.push(Box::new(Rc::clone(&device)));
        inner.settle();
        device
    }

    /// The pin of the controller on `wire`.
    #[must_use]
    pub fn pin(&self, wire: usize) -> Pin {
        Pin { wires: self.clone(), wire }
    }

    /// A delay in the time of these wires.
    #[must_use]
    pub fn delay(&self) -> SimDelay {
        SimDelay { wires: self.clone() }
    }

    /// The time in nanoseconds.
    #[must_use]
    pub fn now_ns(&self) -> u64 {
        self.0.borrow().now_ns
    }

    /// Lets time pass, and what a device that was changed by hand does now.
    pub fn pass_ns(&self, by_ns: u64) {
        let mut inner = self.0.borrow_mut();
        inner.settle();
        inner.advance(by_ns);
    }

    /// From now on, operations of the pin on `wire` fail.
    pub fn break_pin(&self, wire: usize, broken: bool) {
        self.0.borrow_mut().broken[wire] = broken;
    }

    /// Whether each wire is high.
    #[must_use]
    pub fn levels(&self) -> [bool; 2] {
        self.0.borrow().levels
    }

    /// Whether the controller pulls each wire down.
    #[must_use]
    pub fn controller_pulls(&self) -> [bool; 2] {
        self.0.borrow().pulls
    }

    /// Takes what happened since the last call.
    #[must_use]
    pub fn take_edges(&self) -> Vec<Edge> {
        std::mem::take(&mut self.0.borrow_mut().edges)
    }

    /// The longest single delay so far, in nanoseconds.
    #[must_use]
    pub fn longest_delay_ns(&self) -> u64 {
        self.0.borrow().longest_delay_ns
    }
}

/// A pin of the controller.
pub struct Pin {
    wires: Wires,
    wire: usize,
}

/// The pin does not work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Broken;

impl embedded_hal::digital::Error for Broken {
    fn kind(&self) -> ErrorKind {
        ErrorKind::Other
    }
}

impl ErrorType for Pin {
    type Error = Broken;
}

impl Pin {
    fn set(&mut self, pull: bool) -> Result<(), Broken> {
        let mut inner = self.wires.0.borrow_mut();
        inner.advance(PIN_NS);
        if inner.broken[self.wire] {
            return Err(Broken);
        }
        inner.pulls[self.wire] = pull;
        inner.settle();
        Ok(())
    }

    fn get(&mut self) -> Result<bool, Broken> {
        let mut inner = self.wires.0.borrow_mut();
        inner.advance(PIN_NS);
        if inner.broken[self.wire] { Err(Broken) } else { Ok(inner.levels[self.wire]) }
    }
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Broken> {
        self.set(true)
    }

    fn set_high(&mut self) -> Result<(), Broken> {
        self.set(false)
    }
}

impl InputPin for Pin {
    fn is_high(&mut self) -> Result<bool, Broken> {
        self.get()
    }

    fn is_low(&mut self) -> Result<bool, Broken> {
        self.get().map(|high| !high)
    }
}

/// A delay in virtual time.
#[derive(Clone)]
pub struct SimDelay {
    wires: Wires,
}

impl DelayNs for SimDelay {
    fn delay_ns(&mut self, ns: u32) {
        let mut inner = self.wires.0.borrow_mut();
        inner.longest_delay_ns = inner.longest_delay_ns.max(ns.into());
        inner.advance(ns.into());
    }

    fn delay_ms(&mut self, ms: u32) {
        let mut inner = self.wires.0.borrow_mut();
        let ns = u64::from(ms) * 1_000_000;
        inner.longest_delay_ns = inner.longest_delay_ns.max(ns);
        inner.advance(ns);
    }
}

/// Holds one wire low: for ever, or until so many falling edges of wire 0.
pub struct Holder {
    wire: usize,
    clocks_left: Option<u32>,
    holds: bool,
}

impl Holder {
    /// Holds `wire` for ever.
    #[must_use]
    pub fn for_ever(wire: usize) -> Self {
        Self { wire, clocks_left: None, holds: true }
    }

    /// Holds wire 1 until wire 0 has fallen `clocks` times.
    #[must_use]
    pub fn for_clocks(clocks: u32) -> Self {
        Self { wire: 1, clocks_left: Some(clocks), holds: true }
    }

    /// Lets go.
    pub fn let_go(&mut self) {
        self.holds = false;
    }
}

impl Device for Holder {
    fn edge(&mut self, edge: Edge) {
        if let (0, false, Some(left)) = (edge.wire, edge.high, self.clocks_left.as_mut()) {
            *left = left.saturating_sub(1);
            self.holds &= *left > 0;
        }
    }

    fn pulls(&self) -> [bool; 2] {
        std::array::from_fn(|wire| wire == self.wire && self.holds)
    }
}
