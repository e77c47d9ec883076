//! I2C in software on simulated wires: what it says, how it keeps the waveform, and what it does when
//! a target or a wire fails.

// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use embedded_hal::i2c::{
    Error as _, ErrorKind, I2c, NoAcknowledgeSource, Operation as Op, Operation,
};
use glueday_firmware::probes::TwoWire;
use glueday_firmware::probes::convert::bus_reason;
use glueday_firmware::probes::two_wire::{Error, STANDARD_MODE_NS, STRETCH_MAX_US};
use glueday_tests::wires::sensors::Memory;
use glueday_tests::wires::target::Target;
use glueday_tests::wires::trace::{keeps_standard_times, said};
use glueday_tests::wires::{Holder, Pin, SimDelay, Wires};
use glueday_types::Absent;
use std::cell::RefCell;
use std::rc::Rc;

type Bus = TwoWire<Pin, Pin, SimDelay>;

const MS: u64 = 1_000_000;

/// Wires with a target at 0x48 that sends these bytes, and a controller.
fn set_up(sends: &[u8], half_period_ns: u32) -> (Wires, Rc<RefCell<Target<Memory>>>, Bus) {
    let wires = Wires::default();
    let target = wires.hang(Target::new(0x48, Memory::new(sends)));
    let bus = TwoWire::new(wires.pin(0), wires.pin(1), wires.delay(), half_period_ns);
    (wires, target, bus)
}

/// Both lines are released, and what was said since the last call, which ends in a stop.
fn finished(wires: &Wires) -> String {
    assert_eq!(wires.levels(), [true, true]);
    assert_eq!(wires.controller_pulls(), [false, false]);
    let edges = wires.take_edges();
    let said = said(&edges);
    assert!(said.is_empty() || said.ends_with('P'), "{said}");
    keeps_standard_times(&edges).unwrap();
    said
}

#[test]
fn operations_are_merged_and_started_as_embedded_hal_says() {
    let mut one = [0; 1];
    let (mut two, mut three) = ([0; 2], [0; 3]);
    for half_period_ns in [STANDARD_MODE_NS, 0] {
        let (wires, _, mut bus) = set_up(&[0xA5, 0x00, 0xFF, 0x5A], half_period_ns);
        let cases: [(&mut [Operation<'_>], &str); 12] = [
            (&mut [], ""),
            (&mut [Op::Write(&[])], "S 90+ P"),
            (&mut [Op::Write(&[0x01])], "S 90+ 01+ P"),
            (&mut [Op::Write(&[0x01, 0xFE]), Op::Write(&[0x80])], "S 90+ 01+ FE+ 80+ P"),
            (&mut [Op::Write(&[]), Op::Write(&[0x33])], "S 90+ 33+ P"),
            (&mut [Op::Read(&mut one)], "S 91+ A5- P"),
            (&mut [Op::Read(&mut [0; 2]), Op::Read(&mut [0; 2])], "S 91+ A5+ 00+ FF+ 5A- P"),
            (&mut [Op::Read(&mut [0; 2]), Op::Read(&mut [])], "S 91+ A5+ 00- P"),
            // One byte is dropped, so that the target lets go.
            (&mut [Op::Read(&mut [])], "S 91+ A5- P"),
            (&mut [Op::Write(&[7]), Op::Read(&mut two)], "S 90+ 07+ S 91+ A5+ 00- P"),
            (
                &mut [Op::Read(&mut three), Op::Write(&[8]), Op::Write(&[9])],
                "S 91+ A5+ 00+ FF- S 90+ 08+ 09+ P",
            ),
            (
                &mut [Op::Write(&[1]), Op::Read(&mut [0]), Op::Write(&[2]), Op::Read(&mut [0])],
                "S 90+ 01+ S 91+ A5- S 90+ 02+ S 91+ A5- P",
            ),
        ];
        for (operations, expected) in cases {
            bus.transaction(0x48, operations).unwrap();
            if half_period_ns == 0 {
                assert_eq!(said(&wires.take_edges()), expected);
            } else {
                assert_eq!(finished(&wires), expected);
            }
        }
    }
    assert_eq!((one, two, three), ([0xA5], [0xA5, 0x00], [0xA5, 0x00, 0xFF]));
}

#[test]
fn every_byte_goes_both_ways() {
    let all: Vec<u8> = (0..=255).collect();
    let (_, target, mut bus) = set_up(&all, 0);
    let mut got = [0; 256];
    bus.write_read(0x48, &all, &mut got).unwrap();
    assert_eq!(got.to_vec(), all);
    assert_eq!(target.borrow().registers.received, all);
}

#[test]
fn address_and_data_that_are_not_acknowledged_are_told_apart_and_end_in_a_stop() {
    let (wires, target, mut bus) = set_up(&[0], STANDARD_MODE_NS);
    assert_eq!(bus.write(0x49, &[1, 2]), Err(Error::AddressNotAcknowledged));
    assert_eq!(finished(&wires), "S 92- P");
    assert_eq!(bus.read(0x49, &mut [0]), Err(Error::AddressNotAcknowledged));
    assert_eq!(finished(&wires), "S 93- P");
    assert_eq!(bus.write(0xC8, &[1]), Err(Error::AddressNotAcknowledged));
    assert_eq!(finished(&wires), "", "an address of eight bits is not cut down to another");
    target.borrow_mut().faults.refuse_byte = Some(1);
    assert_eq!(bus.write_read(0x48, &[1, 2, 3], &mut [0]), Err(Error::DataNotAcknowledged));
    assert_eq!(finished(&wires), "S 90+ 01+ 02- P");
    for (error, kind) in [
        (Error::AddressNotAcknowledged, ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address)),
        (Error::DataNotAcknowledged, ErrorKind::NoAcknowledge(NoAcknowledgeSource::Data)),
    ] {
        assert_eq!(error.kind(), kind);
        assert_eq!(bus_reason(&error), Absent::NoAnswer);
    }
}

#[test]
fn a_stretched_clock_is_waited_for_up_to_the_bound() {
    // Some 36 falling edges are stretched in this transfer: the sum counts, not each.
    for (stretch_us, expected) in [
        (10, Ok(())),
        (500, Ok(())),
        (1_100, Err(Error::ClockHeld)),
        (30_000, Err(Error::ClockHeld)),
    ] {
        let (wires, target, mut bus) = set_up(&[0x3C], STANDARD_MODE_NS);
        target.borrow_mut().faults.stretch_ns = stretch_us * 1_000;
        let mut got = [0];
        let done = bus.write_read(0x48, &[0x0F], &mut got);
        assert_eq!(done, expected, "{stretch_us} us");
        if expected.is_ok() {
            assert_eq!(got, [0x3C]);
            assert_eq!(finished(&wires), "S 90+ 0F+ S 91+ 3C- P");
        }
        wires.pass_ns(100 * MS);
        assert_eq!(wires.controller_pulls(), [false, false]);
        target.borrow_mut().faults.stretch_ns = 0;
        let _ = wires.take_edges();
        bus.write(0x48, &[0x55]).unwrap();
        assert!(finished(&wires).ends_with("S 90+ 55+ P"), "it works again at once");
    }
}

#[test]
fn the_bound_is_that_of_each_transaction() {
    let (_, target, mut bus) = set_up(&[0x3C], STANDARD_MODE_NS);
    target.borrow_mut().faults.stretch_ns = 500_000;
    for _ in 0..5 {
        let mut got = [0];
        assert_eq!(bus.write_read(0x48, &[0x0F], &mut got), Ok(()));
        assert_eq!(got, [0x3C]);
    }
}

#[test]
fn a_clock_that_is_held_while_the_data_line_is_freed_lets_go_of_both() {
    for clocks in [1, 2, 9] {
        for after in 0..24 {
            let (wires, target, mut bus) = set_up(&[0x3C], STANDARD_MODE_NS);
            let holder = wires.hang(Holder::for_clocks(clocks));
            target.borrow_mut().faults.hold_clock_after = Some(after);
            let done = bus.write(0x48, &[1, 2, 3]);
            assert_eq!(done, Err(Error::ClockHeld), "{clocks} clocks, after {after} edges");
            assert_eq!(wires.controller_pulls(), [false, false]);
            holder.borrow_mut().let_go();
            let now_ns = wires.now_ns();
            target.borrow_mut().plug_in(now_ns);
            wires.pass_ns(MS);
            assert_eq!(bus.write(0x48, &[1]), Ok(()));
        }
    }
}

#[test]
fn a_stop_that_nobody_can_have_seen_is_told() {
    // The line goes down behind the acknowledge of the last byte: start, address and byte are 19
    // falling edges.
    let (wires, _, mut bus) = set_up(&[0], STANDARD_MODE_NS);
    let crush = wires.hang(Crush { clocks_left: 19, holds: false });
    assert_eq!(bus.write(0x48, &[0]), Err(Error::DataHeld));
    assert_eq!(wires.controller_pulls(), [false, false]);
    crush.borrow_mut().holds = false;
    wires.pass_ns(MS);
    let _ = wires.take_edges();
    crush.borrow_mut().clocks_left = u32::MAX;
    assert_eq!(bus.write(0x48, &[0]), Ok(()));
    assert_eq!(finished(&wires), "S 90+ 00+ P");
}

#[test]
fn a_clock_that_is_held_for_ever_costs_a_bounded_time() {
    for after in 0..40 {
        let (wires, target, mut bus) = set_up(&[0x3C, 0x81], STANDARD_MODE_NS);
        target.borrow_mut().faults.hold_clock_after = Some(after);
        let begun_ns = wires.now_ns();
        let done = bus.write_read(0x48, &[0x0F], &mut [0; 2]);
        let took_ns = wires.now_ns() - begun_ns;
        assert_eq!(done, Err(Error::ClockHeld), "after {after} edges");
        assert_eq!(bus_reason(&Error::ClockHeld), Absent::BusFault);
        // Each look costs its microsecond and the time of the pin.
        assert!(took_ns < u64::from(STRETCH_MAX_US) * 1_200 + MS, "{took_ns} ns");
        assert_eq!(wires.controller_pulls(), [false, false], "after {after} edges");
        assert_eq!(bus.write(0x48, &[1]), Err(Error::ClockHeld), "and again");
        let now_ns = wires.now_ns();
        target.borrow_mut().plug_in(now_ns);
        wires.pass_ns(MS);
        bus.write(0x48, &[2]).unwrap();
        assert_eq!(wires.levels(), [true, true]);
    }
}

#[test]
fn a_data_line_that_is_held_is_freed_within_nine_clocks() {
    for clocks in 1..=9 {
        let (wires, _, mut bus) = set_up(&[0], STANDARD_MODE_NS);
        wires.hang(Holder::for_clocks(clocks));
        let _ = wires.take_edges();
        let done = bus.write(0x48, &[0x77]);
        assert_eq!(done, Ok(()), "{clocks} clocks");
        let said = finished(&wires);
        assert!(said.ends_with("P S 90+ 77+ P"), "{clocks} clocks: {said}");
    }
    // Ten clocks do not come in the first try; in the next, nine more do.
    let (wires, _, mut bus) = set_up(&[0], STANDARD_MODE_NS);
    wires.hang(Holder::for_clocks(10));
    assert_eq!(bus.write(0x48, &[1]), Err(Error::DataHeld));
    assert_eq!(wires.controller_pulls(), [false, false]);
    assert_eq!(bus.write(0x48, &[1]), Ok(()));
}

#[test]
fn a_data_line_that_is_held_for_ever_is_told_and_comes_back() {
    let (wires, _, mut bus) = set_up(&[0], STANDARD_MODE_NS);
    let holder = wires.hang(Holder::for_ever(1));
    let _ = wires.take_edges();
    assert_eq!(bus.write(0x48, &[1]), Err(Error::DataHeld));
    assert_eq!(bus_reason(&Error::DataHeld), Absent::BusFault);
    let pulses = wires.take_edges().iter().filter(|edge| edge.wire == 0 && edge.high).count();
    assert_eq!(pulses, 9, "nine clocks, no more");
    assert_eq!(wires.controller_pulls(), [false, false]);
    holder.borrow_mut().let_go();
    wires.pass_ns(MS);
    let _ = wires.take_edges();
    assert_eq!(bus.write(0x48, &[1]), Ok(()));
    assert_eq!(finished(&wires), "S 90+ 01+ P");
}

#[test]
fn a_target_left_in_the_middle_of_any_bit_is_freed() {
    // A controller whose power fails leaves the target where it is: sending, or acknowledging.
    for sends in [[0x00, 0x00], [0xFF, 0x00], [0x55, 0xAA], [0x01, 0x80], [0xFE, 0x7F]] {
        for (direction, edges) in [(1, 40), (0, 40)] {
            for stop_after in 2..edges {
                let (wires, _, _) = set_up(&sends, 0);
                leave_in_the_middle(&wires, 0x90 | direction, stop_after);
                let mut bus =
                    TwoWire::new(wires.pin(0), wires.pin(1), wires.delay(), STANDARD_MODE_NS);
                let mut got = [0; 2];
                let _ = wires.take_edges();
                let done = bus.write_read(0x48, &[0x0F], &mut got);
                let said = said(&wires.take_edges());
                assert_eq!(done, Ok(()), "{sends:x?} {direction} {stop_after}: {said}");
                assert_eq!(got, sends);
                assert_eq!(wires.levels(), [true, true]);
            }
        }
    }
}

/// Sends a start, the address and ones, and lets go of both wires after so many edges of the clock.
fn leave_in_the_middle(wires: &Wires, address: u8, edges: u32) {
    use embedded_hal::digital::OutputPin;
    let (mut scl, mut sda) = (wires.pin(0), wires.pin(1));
    sda.set_low().unwrap();
    let bits = (0..8).map(|bit| address << bit & 0x80 != 0).chain(std::iter::repeat(true));
    let mut left = edges;
    for bit in bits {
        scl.set_low().unwrap();
        left -= 1;
        sda.set_state(bit.into()).unwrap();
        if left == 0 {
            break;
        }
        scl.set_high().unwrap();
        left -= 1;
        if left == 0 {
            break;
        }
    }
    sda.set_high().unwrap();
    scl.set_high().unwrap();
}

#[test]
fn a_data_line_that_somebody_else_pulls_down_is_told() {
    // In the address and in a byte, in bits that are 1.
    let (wires, target, mut bus) = set_up(&[0], STANDARD_MODE_NS);
    target.borrow_mut().faults.disturb_bit = Some(3);
    assert_eq!(bus.write(0x48, &[0xFF]), Err(Error::ArbitrationLost));
    assert_eq!(bus_reason(&Error::ArbitrationLost), Absent::BusFault);
    assert_eq!(wires.levels(), [true, true]);
    assert_eq!(wires.controller_pulls(), [false, false]);
    assert!(said(&wires.take_edges()).ends_with('P'));
    target.borrow_mut().faults.disturb_bit = Some(9 + 4);
    assert_eq!(bus.write(0x48, &[0xFF]), Err(Error::ArbitrationLost));
    assert!(said(&wires.take_edges()).ends_with('P'));
    target.borrow_mut().faults.disturb_bit = None;
    assert_eq!(bus.write(0x48, &[0xFF]), Ok(()));
}

#[test]
fn a_data_line_that_goes_down_while_a_target_sends_is_told() {
    for after_edges in [2, 11, 20, 25] {
        let (wires, target, mut bus) = set_up(&[0xFF, 0xFF], STANDARD_MODE_NS);
        // The clock is stretched, and in that time the wire gets crushed.
        let crush = wires.hang(Crush { clocks_left: after_edges, holds: false });
        let done = bus.read(0x48, &mut [0; 2]);
        assert!(
            matches!(done, Err(Error::ArbitrationLost | Error::DataHeld)),
            "{after_edges}: {done:?}"
        );
        assert_eq!(wires.controller_pulls(), [false, false]);
        crush.borrow_mut().holds = false;
        crush.borrow_mut().clocks_left = u32::MAX;
        wires.pass_ns(MS);
        assert!(!target.borrow().faults.absent);
        assert_eq!(bus.read(0x48, &mut [0; 2]), Ok(()), "{after_edges}");
    }
}

/// Holds the data line for ever after so many clocks.
struct Crush {
    clocks_left: u32,
    holds: bool,
}

impl glueday_tests::wires::Device for Crush {
    fn edge(&mut self, edge: glueday_tests::wires::Edge) {
        if edge.wire == 0 && !edge.high {
            self.clocks_left = self.clocks_left.saturating_sub(1);
            self.holds |= self.clocks_left == 0;
        }
    }

    fn pulls(&self) -> [bool; 2] {
        [false, self.holds]
    }
}

#[test]
fn a_broken_pin_is_told() {
    for wire in 0..2 {
        let (wires, _, mut bus) = set_up(&[0], STANDARD_MODE_NS);
        wires.break_pin(wire, true);
        assert_eq!(bus.write(0x48, &[1]), Err(Error::Pin));
        assert_eq!(Error::Pin.kind(), ErrorKind::Bus);
        wires.break_pin(wire, false);
        assert_eq!(bus.write(0x48, &[1]), Ok(()));
    }
}

#[test]
fn without_a_delay_only_the_pins_cost_time() {
    let (wires, _, mut bus) = set_up(&[0x3C], 0);
    bus.write_read(0x48, &[0x0F], &mut [0]).unwrap();
    assert_eq!(wires.longest_delay_ns(), 0);
    // Four bytes of nine bits, at most five pin operations each, and the starts and the stop.
    let operations = wires.now_ns() / glueday_tests::wires::PIN_NS;
    assert!(operations <= 4 * 9 * 5 + 30, "{operations}");
}
