//! The image with log lines says through the emulator's semihosting what happens.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

use glueday_bench_tunnel::switchboard::{LED_COVERED, WIRING_SLAB, Wiring};
use glueday_tests::emulator::{AirProbe, LineKind, Machine, Memory, PATIENCE, Pace, image, within};
use glueday_types::LoggerId;
use std::process::Command;

/// The payload of a frame of defmt in reverse zero-compressing COBS, after the description of that
/// encoding (from memory): read from the end, a byte under 0x80 says which of seven bytes are zeros,
/// one under 0xFF counts bytes behind a zero, 0xFF stands for 134 bytes.
fn unpack(frame: &[u8]) -> Vec<u8> {
    let mut from_end = frame.iter().rev();
    let mut bytes = Vec::new();
    while let Some(&code) = from_end.next() {
        if code < 0x80 {
            for bit in (0..7).rev() {
                match code & (1 << bit) {
                    0 => bytes.extend(from_end.next()),
                    _ => bytes.push(0),
                }
            }
        } else {
            if code < 0xFF {
                bytes.push(0);
            }
            let count = if code == 0xFF { 134 } else { usize::from(code & 0x7F) + 7 };
            bytes.extend(from_end.by_ref().take(count));
        }
    }
    bytes.reverse();
    bytes
}

/// The index of the log line with this text: the address of its symbol.
fn index(text: &str) -> u16 {
    let output = Command::new("nm").arg(image("bench-log.elf")).output().expect("nm of binutils");
    let symbols = String::from_utf8_lossy(&output.stdout);
    let wanted = format!("\"data\":\"{text}\"");
    let symbol = symbols.lines().find(|line| line.contains(&wanted)).expect("the log line");
    let address = symbol.split(' ').next().unwrap();
    u32::from_str_radix(address, 16).unwrap() as u16
}

#[test]
fn log_lines_come_out() {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), 8, LoggerId(*b"benchLog"));
    memory.set(LED_COVERED, 1);
    let air = AirProbe::new(20.5, 44.0);
    let said = folder.path().join("said");
    let mut machine = Machine::start_image(
        &image("bench-log.elf"),
        &memory,
        &air,
        Pace::Instructions { shift: 7 },
        LineKind::Tcp,
        std::fs::File::create(&said).unwrap().into(),
    );
    machine.go();
    let lines = || -> Vec<u16> {
        let said = std::fs::read(&said).unwrap();
        let frames = said.split(|byte| *byte == 0).map(unpack);
        frames.filter(|f| f.len() >= 2).map(|f| u16::from_le_bytes([f[0], f[1]])).collect()
    };
    let (running, changed) = (index("running"), index("probe {} is now {}"));
    within(PATIENCE, "the line of the start", || lines().contains(&running));
    assert!(!lines().contains(&changed));
    memory.wire(WIRING_SLAB, Wiring::Cut);
    within(PATIENCE, "the line of the probe", || lines().contains(&changed));
    assert_eq!(lines().iter().filter(|line| **line == running).count(), 1);
}
