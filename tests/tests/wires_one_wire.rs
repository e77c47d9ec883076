//! 1-Wire temperature probes on a simulated wire, with a sensor that samples in the slots.

// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use glueday_firmware::probes::one_wire::{crc8, temperature_of};
use glueday_firmware::probes::{NotFitted, OneWirePair, OneWireProbe, Probes, Thermometer};
use glueday_tests::wires::one_wire::{self, Faults, PACES, Pace, Sensor};
use glueday_tests::wires::{Holder, Pin, SimDelay, Wires};
use glueday_types::{Absent, CentiCelsius, Reading};
use std::cell::RefCell;
use std::rc::Rc;

const MS: u64 = 1_000_000;

/// The temperatures and their register values as the DS18B20 data sheet prints them in its table of
/// temperature and data (from memory), and what the log holds. 85 °C is the value of power-up.
const TABLE: [(f64, u16, Reading<i16>); 10] = [
    (125.0, 0x07D0, Ok(12_500)),
    (85.0, 0x0550, Err(Absent::OutOfRange)),
    (25.0625, 0x0191, Ok(2506)),
    (10.125, 0x00A2, Ok(1013)),
    (0.5, 0x0008, Ok(50)),
    (0.0, 0x0000, Ok(0)),
    (-0.5, 0xFFF8, Ok(-50)),
    (-10.125, 0xFF5E, Ok(-1013)),
    (-25.0625, 0xFE6F, Ok(-2506)),
    (-55.0, 0xFC90, Ok(-5500)),
];

fn set_up(
    sixteenths: i16,
    pace: Pace,
) -> (Wires, Rc<RefCell<Sensor>>, OneWireProbe<Pin, SimDelay>) {
    let wires = Wires::default();
    let sensor = wires.hang(Sensor::new(0, sixteenths, pace));
    let probe = OneWireProbe::new(wires.pin(0), wires.delay());
    (wires, sensor, probe)
}

/// What a probe with this fault reads, with the sensor at 21.5 °C.
fn read_with(faults: Faults) -> Reading<CentiCelsius> {
    let (wires, sensor, mut probe) = set_up(344, PACES[4]);
    assert_eq!(probe.temperature(), Ok(CentiCelsius(2150)));
    sensor.borrow_mut().faults = faults;
    let reading = probe.temperature();
    assert_eq!(wires.controller_pulls(), [false, false]);
    sensor.borrow_mut().plug_in();
    assert_eq!(probe.temperature(), Ok(CentiCelsius(2150)), "it comes back");
    reading
}

#[test]
fn the_crc_is_that_of_the_application_note() {
    // Maxim application note 27, its example of a ROM code: 02 1C B8 01 00 00 00 has A2.
    assert_eq!(crc8(&[0x02, 0x1C, 0xB8, 0x01, 0x00, 0x00, 0x00]), 0xA2);
    // The check value of CRC-8/MAXIM-DOW in the RevEng catalogue.
    assert_eq!(crc8(b"123456789"), 0xA1);
    for byte in 0..=255 {
        assert_eq!(crc8(&[0x28, byte, 0xFF]), one_wire::crc8(&[0x28, byte, 0xFF]));
    }
}

#[test]
fn the_table_of_the_data_sheet_is_read_at_every_pace() {
    for pace in PACES {
        for (celsius, raw, expected) in TABLE {
            assert!((f64::from(raw.cast_signed()) / 16.0 - celsius).abs() < f64::EPSILON);
            let (wires, sensor, mut probe) = set_up(raw.cast_signed(), pace);
            let reading = probe.temperature();
            assert_eq!(reading, expected.map(CentiCelsius), "{celsius} °C, {pace:?}");
            let sensor = sensor.borrow();
            assert_eq!(sensor.violations, [""; 0], "{pace:?}");
            assert_eq!(sensor.conversions, 1);
            assert_eq!(wires.levels(), [true, true]);
            assert_eq!(wires.longest_delay_ns(), 750 * MS, "one sleep for the conversion");
        }
    }
}

#[test]
fn every_step_of_the_range_is_read() {
    let (_, sensor, mut probe) = set_up(0, PACES[4]);
    for sixteenths in (-900..=2020).filter(|sixteenths| *sixteenths != 0x0550) {
        sensor.borrow_mut().sixteenths = sixteenths;
        let reading = probe.temperature();
        if (-880..=2000).contains(&sixteenths) {
            let error = f64::from(sixteenths) / 16.0 - reading.unwrap().celsius();
            assert!(error.abs() < 0.005_001, "{sixteenths}: {reading:?}");
        } else {
            assert_eq!(reading, Err(Absent::OutOfRange), "{sixteenths}");
        }
    }
}

#[test]
fn each_fault_has_its_reason() {
    let none = Faults::default();
    for (faults, expected) in [
        (none, Ok(CentiCelsius(2150))),
        (Faults { absent: true, ..none }, Err(Absent::NoAnswer)),
        // Commands that were spoilt: the reading of last time must not come again.
        (Faults { deaf_to: Some(0x44), ..none }, Err(Absent::NoAnswer)),
        (Faults { deaf_to: Some(0xCC), ..none }, Err(Absent::NoAnswer)),
        (Faults { deaf_to: Some(0xBE), ..none }, Err(Absent::NoAnswer)),
        (Faults { parasite: true, ..none }, Err(Absent::NoAnswer)),
        (Faults { sends_zeros: true, ..none }, Err(Absent::BusFault)),
        (Faults { sends_nothing: true, ..none }, Err(Absent::NoAnswer)),
        (Faults { power_loss_after_ms: Some(1), ..none }, Err(Absent::OutOfRange)),
        (Faults { power_loss_after_ms: Some(700), ..none }, Err(Absent::OutOfRange)),
    ] {
        assert_eq!(read_with(faults), expected, "{faults:?}");
    }
}

#[test]
fn a_missing_sensor_costs_one_reset_and_no_sleep() {
    let (wires, sensor, mut probe) = set_up(344, PACES[4]);
    sensor.borrow_mut().unplug();
    assert_eq!(probe.temperature(), Err(Absent::NoAnswer));
    assert_eq!(wires.take_edges().len(), 2, "down and up once");
    assert!(wires.longest_delay_ns() < MS);
}

#[test]
fn a_line_that_does_not_come_up_after_a_reset_is_spoken_to_no_further() {
    let (wires, _, mut probe) = set_up(344, PACES[4]);
    wires.hang(HoldFrom { from_ns: Some(300_000), holds: false });
    assert_eq!(probe.temperature(), Err(Absent::BusFault));
    assert!(wires.now_ns() < 1_100_000, "{} ns", wires.now_ns());
}

#[test]
fn a_flip_of_any_bit_on_the_way_is_found() {
    for bit in 0..72 {
        let reading = read_with(Faults { flip_bit: Some(bit), ..Faults::default() });
        assert_eq!(reading, Err(Absent::BadChecksum), "bit {bit}");
    }
}

#[test]
fn settings_that_did_not_arrive_are_found() {
    let (_, sensor, mut probe) = set_up(344, PACES[0]);
    // Nine bits from its EEPROM, and deaf to the command that sets twelve.
    sensor.borrow_mut().scratchpad[4] = 0x1F;
    sensor.borrow_mut().faults.deaf_to = Some(0x4E);
    assert_eq!(probe.temperature(), Err(Absent::OutOfRange));
    sensor.borrow_mut().faults.deaf_to = None;
    sensor.borrow_mut().sixteenths = 345;
    assert_eq!(probe.temperature(), Ok(CentiCelsius(2156)), "the last of the twelve bits is there");
}

#[test]
fn a_sensor_that_is_not_ready_in_time_is_not_read() {
    let (_, sensor, mut probe) = set_up(344, PACES[4]);
    assert_eq!(probe.temperature(), Ok(CentiCelsius(2150)));
    sensor.borrow_mut().conversion_ms = 800;
    sensor.borrow_mut().sixteenths = 400;
    assert_eq!(probe.temperature(), Err(Absent::NoAnswer));
}

#[test]
fn a_line_that_is_held_low_is_a_fault_whenever_it_begins() {
    for held_after_us in (0..120_000).step_by(97).chain([400_000, 751_000, 755_000]) {
        let (wires, _, mut probe) = set_up(344, PACES[4]);
        let hold = wires.hang(HoldFrom { from_ns: Some(held_after_us * 1_000), holds: false });
        let reading = probe.temperature();
        let held = hold.borrow().holds;
        assert_eq!(wires.controller_pulls(), [false, false]);
        if held {
            // In the middle of the answer, its bits are wrong; before and behind it, the line is.
            assert!(
                matches!(reading, Err(Absent::BusFault | Absent::BadChecksum)),
                "{held_after_us} us: {reading:?}"
            );
        }
        assert_eq!(probe.temperature().is_err(), hold.borrow().holds);
        *hold.borrow_mut() = HoldFrom { from_ns: None, holds: false };
        wires.pass_ns(MS);
        assert_eq!(probe.temperature(), Ok(CentiCelsius(2150)), "{held_after_us} us");
    }
}

/// Holds the line low from some time on.
struct HoldFrom {
    from_ns: Option<u64>,
    holds: bool,
}

impl glueday_tests::wires::Device for HoldFrom {
    fn edge(&mut self, _edge: glueday_tests::wires::Edge) {}

    fn pulls(&self) -> [bool; 2] {
        [self.holds, false]
    }

    fn next_ns(&self) -> Option<u64> {
        self.from_ns
    }

    fn wake(&mut self, _now_ns: u64) {
        (self.from_ns, self.holds) = (None, true);
    }
}

#[test]
fn a_scratchpad_is_believed_only_when_all_of_it_fits() {
    let with_crc = |bytes: [u8; 8]| {
        let mut all = [0; 9];
        all[..8].copy_from_slice(&bytes);
        all[8] = one_wire::crc8(&bytes);
        all
    };
    let good = [0x91, 0x01, 0x7D, 0xC9, 0x7F, 0xFF, 0x0C, 0x10];
    assert_eq!(temperature_of(&with_crc(good)), Ok(CentiCelsius(2506)));
    assert_eq!(temperature_of(&[0; 9]), Err(Absent::BusFault), "its CRC is right");
    assert_eq!(temperature_of(&[0xFF; 9]), Err(Absent::NoAnswer));
    let power_up = [0x50, 0x05, 0x7D, 0xC9, 0x7F, 0xFF, 0x0C, 0x10];
    assert_eq!(temperature_of(&with_crc(power_up)), Err(Absent::OutOfRange));
    for (low, high) in [(0xD1, 0x07), (0x8F, 0xFC), (0x00, 0x80), (0xFF, 0x7F)] {
        let out_of_range = [low, high, 0x7D, 0xC9, 0x7F, 0xFF, 0x0C, 0x10];
        assert_eq!(temperature_of(&with_crc(out_of_range)), Err(Absent::OutOfRange));
    }
    // One bit or two, wherever they are.
    let good = with_crc(good);
    for one in 0..72 {
        for other in 0..72 {
            let mut bad = good;
            bad[one / 8] ^= 1 << (one % 8);
            if other != one {
                bad[other / 8] ^= 1 << (other % 8);
            }
            assert_eq!(temperature_of(&bad), Err(Absent::BadChecksum), "bits {one} {other}");
        }
    }
}

#[test]
fn a_pin_that_fails_is_a_fault_of_the_bus() {
    let (wires, _, mut probe) = set_up(344, PACES[4]);
    wires.break_pin(0, true);
    assert_eq!(probe.temperature(), Err(Absent::BusFault));
    wires.break_pin(0, false);
    assert_eq!(probe.temperature(), Ok(CentiCelsius(2150)));
}

#[test]
fn a_pair_measures_in_the_time_of_one() {
    let wires = Wires::default();
    let slab = wires.hang(Sensor::new(0, 344, PACES[0]));
    let supply = wires.hang(Sensor::new(1, 560, PACES[1]));
    let mut pair = OneWirePair {
        slab: OneWireProbe::new(wires.pin(0), wires.delay()),
        air: NotFitted,
        supply: OneWireProbe::new(wires.pin(1), wires.delay()),
    };
    let begun_ns = wires.now_ns();
    let readings = pair.read();
    assert_eq!(readings.slab, Ok(CentiCelsius(2150)));
    assert_eq!(readings.supply, Ok(CentiCelsius(3500)));
    assert_eq!(readings.air, Err(Absent::NotFitted));
    assert!(wires.now_ns() - begun_ns < 800 * MS);
    assert_eq!(wires.longest_delay_ns(), 750 * MS);
    assert_eq!(supply.borrow().violations, [""; 0]);

    // Each fails for itself.
    slab.borrow_mut().unplug();
    let readings = pair.read();
    assert_eq!(readings.slab, Err(Absent::NoAnswer));
    assert_eq!(readings.supply, Ok(CentiCelsius(3500)));
    slab.borrow_mut().plug_in();
    let holder = wires.hang(Holder::for_ever(1));
    let readings = pair.read();
    assert_eq!(readings.slab, Ok(CentiCelsius(2150)));
    assert_eq!(readings.supply, Err(Absent::BusFault));

    // With neither there, nobody sleeps.
    slab.borrow_mut().unplug();
    let begun_ns = wires.now_ns();
    let readings = pair.read();
    assert_eq!((readings.slab, readings.supply), (Err(Absent::NoAnswer), Err(Absent::BusFault)));
    assert!(wires.now_ns() - begun_ns < 2 * MS);

    holder.borrow_mut().let_go();
    slab.borrow_mut().plug_in();
    wires.pass_ns(MS);
    let readings = pair.read();
    assert_eq!(readings.slab, Ok(CentiCelsius(2150)));
    assert_eq!(readings.supply, Ok(CentiCelsius(3500)));
}
