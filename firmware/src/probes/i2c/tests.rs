use super::*;
use crate::probes::{Lm75Probe, Tmp117Probe};
use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
use embedded_hal_mock::eh1::delay::NoopDelay;
use embedded_hal_mock::eh1::i2c::{Mock, Transaction};
use std::vec;
use std::vec::Vec;

/// CRC-8 of the sensor's words: polynomial 0x31, start 0xFF; 0xBEEF gives 0x92 (data sheet, from
/// memory).
fn word(value: u16) -> [u8; 3] {
    let crc = value.to_be_bytes().iter().fold(0xFFu8, |crc, byte| {
        (0..8).fold(crc ^ byte, |crc, _| if crc & 0x80 == 0 { crc << 1 } else { crc << 1 ^ 0x31 })
    });
    let [high, low] = value.to_be_bytes();
    [high, low, crc]
}

fn air_answer(answer: Vec<u8>) -> (Reading<CentiCelsius>, Reading<CentiPercent>) {
    let mut bus =
        Mock::new(&[Transaction::write(0x44, vec![0xFD]), Transaction::read(0x44, answer)]);
    let reading = Sht4xProbe::new(bus.clone(), NoopDelay::new()).air();
    bus.done();
    reading
}

#[test]
fn the_crc_of_the_test_is_that_of_the_data_sheet() {
    assert_eq!(word(0xBEEF)[2], 0x92);
}

#[test]
fn air_is_read_from_the_raw_words() {
    // T = -45 + 175 St / 65535 and RH = -6 + 125 Srh / 65535 (data sheet, from memory).
    for (raw_t, raw_rh, celsius, percent) in
        [(0x6666, 0x6000, 2500, 4088), (0x4000, 0x0000, -125, 0), (0xF8E3, 0xFFFF, 12_513, 11_900)]
    {
        let answer = [word(raw_t), word(raw_rh)].concat();
        let (air, air_rh) = air_answer(answer);
        let expected = Some(celsius).filter(|celsius| *celsius <= 12_500);
        assert_eq!(air, expected.map(CentiCelsius).ok_or(Absent::OutOfRange), "{raw_t:#x}");
        assert_eq!(air_rh, Ok(CentiPercent(percent)), "{raw_rh:#x}");
    }
}

#[test]
fn a_wrong_crc_is_told_apart() {
    let mut answer = [word(0x6666), word(0x6000)].concat();
    answer[4] ^= 0x04;
    assert_eq!(air_answer(answer), (Err(Absent::BadChecksum), Err(Absent::BadChecksum)));
}

#[test]
fn air_bus_errors_are_told_apart() {
    for (kind, reason) in [
        (ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address), Absent::NoAnswer),
        (ErrorKind::Bus, Absent::BusFault),
    ] {
        let mut bus = Mock::new(&[Transaction::write(0x44, vec![0xFD]).with_error(kind)]);
        let reading = Sht4xProbe::new(bus.clone(), NoopDelay::new()).air();
        bus.done();
        assert_eq!(reading, (Err(reason), Err(reason)));
    }
}

/// The configuration register after power-up (data sheet, from memory), and with one shot of 8
/// averaged conversions asked for.
const POWER_UP: u16 = 0x0220;
const ONE_SHOT: u16 = POWER_UP | 0b11 << 10;
const READY: u16 = 1 << 13;

fn read_register(register: u8, value: u16) -> Transaction {
    Transaction::write_read(0x48, vec![register], value.to_be_bytes().to_vec())
}

fn write_register(register: u8, value: u16) -> Transaction {
    let [high, low] = value.to_be_bytes();
    Transaction::write(0x48, vec![register, high, low])
}

#[test]
fn slab_temperatures_are_two_complement_in_128ths() {
    for (raw, expected) in [
        (0x0C80u16, Ok(2500)),
        (0x0000, Ok(0)),
        (0xFFFF, Ok(-1)),
        (0xE480, Ok(-5500)),
        (0xE47F, Err(Absent::OutOfRange)),
        // What the register holds before the first conversion: -256 °C.
        (0x8000, Err(Absent::OutOfRange)),
    ] {
        let mut bus = Mock::new(&[
            read_register(1, POWER_UP),
            write_register(1, ONE_SHOT),
            read_register(1, ONE_SHOT),
            read_register(1, ONE_SHOT | READY),
            read_register(0, raw),
        ]);
        let mut probe = Tmp117Probe::new(bus.clone(), 0x48, NoopDelay::new());
        let reading = probe.temperature();
        bus.done();
        assert_eq!(reading, expected.map(CentiCelsius), "{raw:#x}");
    }
}

#[test]
fn a_slab_probe_that_never_gets_ready_is_given_up() {
    let mut transactions = vec![read_register(1, POWER_UP), write_register(1, ONE_SHOT)];
    // The driver waits three conversion times of 125 ms in steps of 10 ms.
    transactions.extend((0..=37).map(|_| read_register(1, ONE_SHOT)));
    let mut bus = Mock::new(&transactions);
    let reading = Tmp117Probe::new(bus.clone(), 0x48, NoopDelay::new()).temperature();
    bus.done();
    assert_eq!(reading, Err(Absent::NoAnswer));
}

#[test]
fn slab_bus_errors_are_told_apart() {
    for (kind, reason) in [
        (ErrorKind::NoAcknowledge(NoAcknowledgeSource::Data), Absent::NoAnswer),
        (ErrorKind::ArbitrationLoss, Absent::BusFault),
    ] {
        let mut bus = Mock::new(&[read_register(1, 0).with_error(kind)]);
        let reading = Tmp117Probe::new(bus.clone(), 0x48, NoopDelay::new()).temperature();
        bus.done();
        assert_eq!(reading, Err(reason));
    }
}

#[test]
fn supply_temperatures_come_in_half_degrees() {
    for (raw, expected) in [
        ([0x19, 0x00], Ok(2500)),
        ([0x23, 0x80], Ok(3550)),
        ([0xFF, 0x80], Ok(-50)),
        ([0xE7, 0x00], Ok(-2500)),
        ([0x7D, 0x00], Ok(12_500)),
        ([0x7D, 0x80], Err(Absent::OutOfRange)),
    ] {
        let mut bus = Mock::new(&[Transaction::write_read(0x49, vec![0], raw.to_vec())]);
        let mut probe = Lm75Probe::new(bus.clone(), 0x49);
        let reading = probe.temperature();
        bus.done();
        assert_eq!(reading, expected.map(CentiCelsius), "{raw:x?}");
    }
}

#[test]
fn supply_bus_errors_are_told_apart() {
    for (kind, reason) in [
        (ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown), Absent::NoAnswer),
        (ErrorKind::Overrun, Absent::BusFault),
    ] {
        let mut bus =
            Mock::new(&[Transaction::write_read(0x49, vec![0], vec![0, 0]).with_error(kind)]);
        let reading = Lm75Probe::new(bus.clone(), 0x49).temperature();
        bus.done();
        assert_eq!(reading, Err(reason));
    }
}

/// What a probe of 12 bits asks: the configuration, and when that is not its own, a new one.
fn twelve_bits(configuration: u8, raw: u16) -> Vec<Transaction> {
    let mut transactions = vec![Transaction::write_read(0x4A, vec![1], vec![configuration])];
    if configuration & 0x7F != 0x60 {
        transactions.push(Transaction::write(0x4A, vec![1, 0x60]));
    }
    transactions.push(Transaction::write_read(0x4A, vec![0], raw.to_be_bytes().to_vec()));
    transactions
}

#[test]
fn twelve_bits_are_two_complement_in_16ths() {
    // The table of the data sheet (from memory), the ends of the range, and its neighbours.
    for (raw, expected) in [
        (0x7D00u16, Ok(12_500)),
        (0x7FF0, Err(Absent::OutOfRange)),
        (0x6400, Ok(10_000)),
        (0x5000, Ok(8000)),
        (0x4B00, Ok(7500)),
        (0x3200, Ok(5000)),
        (0x1900, Ok(2500)),
        (0x0040, Ok(25)),
        (0x0010, Ok(6)),
        (0x0000, Ok(0)),
        (0xFFC0, Ok(-25)),
        (0xFFF0, Ok(-6)),
        (0xE700, Ok(-2500)),
        (0xD800, Ok(-4000)),
        (0xD7F0, Err(Absent::OutOfRange)),
        (0x7D10, Err(Absent::OutOfRange)),
    ] {
        for configuration in [0x00, 0x60, 0xE0, 0x20] {
            let mut bus = Mock::new(&twelve_bits(configuration, raw));
            let mut probe = Tmp75Probe::new(bus.clone(), 0x4A, NoopDelay::new());
            let reading = probe.temperature();
            bus.done();
            assert_eq!(reading, expected.map(CentiCelsius), "{raw:#x}");
        }
    }
}
