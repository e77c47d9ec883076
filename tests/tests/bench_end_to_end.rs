//! From the emulated board over a pty into an archive, with the real program.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

use glueday_tests::emulator::{AirProbe, LineKind, Machine, Memory, Pace};
use glueday_types::LoggerId;
use glueday_types::wire::{Reply, Request};

const LOGGER: LoggerId = LoggerId(*b"benchE2E");

#[test]
fn hello() {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), 8, LOGGER);
    let air = AirProbe::new(20.5, 44.0);
    let mut machine = Machine::start(&memory, &air, Pace::Real, LineKind::Tcp);
    let mut line = machine.line();
    machine.go();
    let logger = line.ask(Request::Hello, |reply| match reply {
        Reply::Hello(identity) => identity.logger,
        other => panic!("{other:?}"),
    });
    assert_eq!(logger, LOGGER);
}
