//! The whole chain: sensors on simulated wires, their drivers, the logger and its flash. What goes
//! wrong on a wire is in the log with its reason, and the samples go on.

// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use embedded_hal_bus::i2c::RefCellDevice;
use glueday_firmware::probes::two_wire::STANDARD_MODE_NS;
use glueday_firmware::probes::{
    Lm75Probe, NotFitted, OneWirePair, OneWireProbe, ProbeSet, Probes, Sht4xProbe, Tmp75Probe,
    TwoWire,
};
use glueday_firmware::{Logger, Settings};
use glueday_tests::flash::SimFlash;
use glueday_tests::wires::one_wire::{PACES, Sensor};
use glueday_tests::wires::sensors::{HumiditySensor, TemperatureSensor};
use glueday_tests::wires::target::{Faults, Target};
use glueday_tests::wires::trace::{keeps_standard_times, said};
use glueday_tests::wires::{Holder, Wires};
use glueday_types::block::{Item, Reader};
use glueday_types::{
    Absent, BootReason, CentiCelsius, CentiPercent, Entry, LoggerId, Probe, Reading, Sample,
};
use std::cell::RefCell;

const INTERVAL_S: u16 = 600;

fn start<P: Probes>(probes: P) -> Logger<SimFlash<4>, P> {
    let settings =
        Settings { logger: LoggerId(*b"wireTest"), interval_s: INTERVAL_S, power_low_mv: None };
    Logger::start(SimFlash::new(4), probes, &settings, 0, BootReason::PowerOn).unwrap()
}

/// All entries but the boot.
fn entries<P: Probes>(logger: &mut Logger<SimFlash<4>, P>) -> Vec<Entry> {
    let mut bytes = vec![0; 4096];
    let block = logger.ring().open_block();
    assert_eq!(block, logger.ring().oldest_block());
    logger.read(block, 0, &mut bytes).unwrap();
    let entries = Reader::new(&bytes).unwrap().map(|item| match item {
        Item::Entry { entry, .. } => entry,
        other => panic!("{other:?}"),
    });
    entries.skip(1).collect()
}

/// What the log should hold of one sample.
fn sample(
    number: u32,
    slab: Reading<i16>,
    air: Reading<(i16, u16)>,
    supply: Reading<i16>,
) -> Entry {
    Entry::Sample(Sample {
        at_s: number * u32::from(INTERVAL_S),
        slab: slab.map(CentiCelsius),
        air: air.map(|(celsius, _)| CentiCelsius(celsius)),
        air_rh: air.map(|(_, percent)| CentiPercent(percent)),
        supply: supply.map(CentiCelsius),
    })
}

fn changed(number: u32, probe: Probe, state: Result<(), Absent>) -> Entry {
    Entry::ProbeChanged { at_s: number * u32::from(INTERVAL_S), probe, state }
}

#[test]
fn faults_on_i2c_are_in_the_log_with_their_reasons() {
    let wires = Wires::default();
    // 22.0625 °C, of which a sensor at 9 bits shows 22.
    let slab = wires.hang(Target::new(0x4A, TemperatureSensor::new(353, true)));
    // Both words at 0.4 of full scale: 25 °C and 44 %.
    let humidity = HumiditySensor::new(26_214, 26_214);
    let air = wires.hang(Target::new(0x44, humidity));
    // 35.5 °C.
    let supply = wires.hang(Target::new(0x49, TemperatureSensor::new(568, false)));
    let bus =
        RefCell::new(TwoWire::new(wires.pin(0), wires.pin(1), wires.delay(), STANDARD_MODE_NS));
    let mut logger = start(ProbeSet {
        slab: Tmp75Probe::new(RefCellDevice::new(&bus), 0x4A, wires.delay()),
        air: Sht4xProbe::new(RefCellDevice::new(&bus), wires.delay()),
        supply: Lm75Probe::new(RefCellDevice::new(&bus), 0x49),
    });
    let mut number = 0;
    let mut tick = || {
        let now_s = number * u32::from(INTERVAL_S);
        let _ = wires.take_edges();
        logger.tick(now_s).unwrap();
        number += 1;
        assert_eq!(wires.controller_pulls(), [false, false]);
        wires.pass_ns(1_000_000_000);
        wires.take_edges()
    };

    let edges = tick(); // 0
    keeps_standard_times(&edges).unwrap();
    assert!(said(&edges).starts_with("S 88+ FD+ P S 89+ "), "{}", said(&edges));
    assert!(
        said(&edges).contains(" P S 94+ 01+ S 95+ 00- P S 94+ 01+ 60+ P S 94+ 00+ S 95+ 16+ 10- P")
    );
    air.borrow_mut().unplug();
    assert!(said(&tick()).starts_with("S 88- P S 94+ "), "a stop after what nobody acknowledged"); // 1
    air.borrow_mut().plug_in(wires.now_ns());
    tick(); // 2
    // A bit of the humidity, and one of its CRC.
    for bit in [24 + 5, 40 + 7] {
        air.borrow_mut().faults = Faults { flip_bit: Some(bit), ..Faults::default() };
        tick(); // 3, 4
    }
    air.borrow_mut().faults = Faults::default();
    let holder = wires.hang(Holder::for_ever(1));
    tick(); // 5
    holder.borrow_mut().let_go();
    slab.borrow_mut().unplug();
    tick(); // 6
    slab.borrow_mut().plug_in(wires.now_ns());
    tick(); // 7: it is at 9 bits and has not measured when it is asked
    supply.borrow_mut().faults = Faults { hold_clock_after: Some(12), ..Faults::default() };
    tick(); // 8: the probes behind it wait for a clock that it holds
    supply.borrow_mut().plug_in(wires.now_ns());
    supply.borrow_mut().faults = Faults { refuse_byte: Some(0), ..Faults::default() };
    tick(); // 9
    supply.borrow_mut().faults = Faults::default();
    wires.hang(Holder::for_clocks(7));
    let edges = tick(); // 10: held, and freed
    assert!(said(&edges).ends_with('P'));

    let (slab, air, supply) = (Ok(2206), Ok((2500, 4400)), Ok(3550));
    let (no_answer, bad, fault) =
        (Err(Absent::NoAnswer), Err(Absent::BadChecksum), Err(Absent::BusFault));
    let expected = [
        sample(0, slab, air, supply),
        changed(1, Probe::Air, Err(Absent::NoAnswer)),
        sample(1, slab, no_answer, supply),
        changed(2, Probe::Air, Ok(())),
        sample(2, slab, air, supply),
        changed(3, Probe::Air, Err(Absent::BadChecksum)),
        sample(3, slab, Err(Absent::BadChecksum), supply),
        sample(4, slab, bad, supply),
        changed(5, Probe::Slab, Err(Absent::BusFault)),
        changed(5, Probe::Air, Err(Absent::BusFault)),
        changed(5, Probe::Supply, Err(Absent::BusFault)),
        sample(5, Err(Absent::BusFault), fault, Err(Absent::BusFault)),
        changed(6, Probe::Slab, Err(Absent::NoAnswer)),
        changed(6, Probe::Air, Ok(())),
        changed(6, Probe::Supply, Ok(())),
        sample(6, Err(Absent::NoAnswer), air, supply),
        changed(7, Probe::Slab, Ok(())),
        sample(7, slab, air, supply),
        changed(8, Probe::Slab, Err(Absent::BusFault)),
        changed(8, Probe::Air, Err(Absent::BusFault)),
        changed(8, Probe::Supply, Err(Absent::BusFault)),
        sample(8, Err(Absent::BusFault), fault, Err(Absent::BusFault)),
        changed(9, Probe::Slab, Ok(())),
        changed(9, Probe::Air, Ok(())),
        changed(9, Probe::Supply, Err(Absent::NoAnswer)),
        sample(9, slab, air, Err(Absent::NoAnswer)),
        changed(10, Probe::Supply, Ok(())),
        sample(10, slab, air, supply),
    ];
    let got = entries(&mut logger);
    for (got, expected) in got.iter().zip(&expected) {
        assert_eq!(got, expected);
    }
    assert_eq!(got.len(), expected.len());
}

#[test]
fn faults_on_1_wire_are_in_the_log_with_their_reasons() {
    let wires = Wires::default();
    let slab = wires.hang(Sensor::new(0, 353, PACES[1]));
    let supply = wires.hang(Sensor::new(1, -8, PACES[0]));
    let mut logger = start(OneWirePair {
        slab: OneWireProbe::new(wires.pin(0), wires.delay()),
        air: NotFitted,
        supply: OneWireProbe::new(wires.pin(1), wires.delay()),
    });
    let mut number = 0;
    let mut tick = || {
        logger.tick(number * u32::from(INTERVAL_S)).unwrap();
        number += 1;
        assert_eq!(wires.controller_pulls(), [false, false]);
        wires.pass_ns(1_000_000_000);
    };
    tick(); // 0
    slab.borrow_mut().unplug();
    tick(); // 1
    slab.borrow_mut().plug_in();
    supply.borrow_mut().faults.flip_bit = Some(3);
    tick(); // 2
    supply.borrow_mut().faults.flip_bit = None;
    let holder = wires.hang(Holder::for_ever(1));
    tick(); // 3
    holder.borrow_mut().let_go();
    wires.pass_ns(1_000_000);
    slab.borrow_mut().faults.power_loss_after_ms = Some(300);
    tick(); // 4
    slab.borrow_mut().faults.power_loss_after_ms = None;
    tick(); // 5

    let (slab, air, supply) = (Ok(2206), Err(Absent::NotFitted), Ok(-50));
    let expected = [
        changed(0, Probe::Air, Err(Absent::NotFitted)),
        sample(0, slab, air, supply),
        changed(1, Probe::Slab, Err(Absent::NoAnswer)),
        sample(1, Err(Absent::NoAnswer), air, supply),
        changed(2, Probe::Slab, Ok(())),
        changed(2, Probe::Supply, Err(Absent::BadChecksum)),
        sample(2, slab, air, Err(Absent::BadChecksum)),
        changed(3, Probe::Supply, Err(Absent::BusFault)),
        sample(3, slab, air, Err(Absent::BusFault)),
        changed(4, Probe::Slab, Err(Absent::OutOfRange)),
        changed(4, Probe::Supply, Ok(())),
        sample(4, Err(Absent::OutOfRange), air, supply),
        changed(5, Probe::Slab, Ok(())),
        sample(5, slab, air, supply),
    ];
    let got = entries(&mut logger);
    for (got, expected) in got.iter().zip(&expected) {
        assert_eq!(got, expected);
    }
    assert_eq!(got.len(), expected.len());
}
