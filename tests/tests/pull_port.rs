//! Real ttys and sockets: each thing that can be wrong with a port has its own error.

// What helpers of tests find wrong fails the test: clippy exempts only the test functions themselves.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]
#![cfg(unix)]

use glueday::archive::Archive;
use glueday::port::{Access, Address, BAUD, PortError, access, list};
use glueday::pull::{Link, LinkError, NoProgress, PullError};
use glueday_tests::faulty_link::{ToyLogger, frame};
use glueday_types::wire::{Message, Refusal, Reply};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::fs::File;
use std::io::{Read, Write};
use std::net::TcpListener;
use std::thread;
use std::time::Duration;

/// The far end of a new pty, and the name of its near end.
fn pty() -> (File, String) {
    let far = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&far).unwrap();
    unlockpt(&far).unwrap();
    let name = ptsname(&far, Vec::new()).unwrap().into_string().unwrap();
    (File::from(far), name)
}

fn open(name: &str) -> Result<Link<Box<dyn glueday::port::Transport>>, PortError> {
    Ok(Link::new(Address::parse(name, BAUD)?.open()?, 1))
}

/// `Link` has no useful debug form with a boxed port, so that `expect_err` cannot be used.
fn open_error(name: &str) -> PortError {
    match open(name) {
        Ok(_) => panic!("{name} opened"),
        Err(error) => error,
    }
}

/// Answers from `far` with what `reply` makes of what came, until nobody is left to listen.
fn answer(
    mut far: impl Read + Write + Send + 'static,
    mut reply: impl FnMut(&[u8]) -> Vec<u8> + Send + 'static,
) {
    thread::spawn(move || {
        let mut buffer = [0; 512];
        while let Ok(len @ 1..) = far.read(&mut buffer) {
            if far.write_all(&reply(&buffer[..len])).is_err() {
                break;
            }
        }
    });
}

fn serve(far: impl Read + Write + Send + 'static, mut logger: ToyLogger) {
    answer(far, move |bytes| {
        logger.receive(bytes);
        std::iter::from_fn(|| logger.next_frame()).flatten().collect()
    });
}

#[test]
fn an_absent_port_a_folder_and_a_file_are_told_apart() {
    let error = open_error("/dev/glueday-no-such-port");
    assert!(matches!(error, PortError::Absent { .. }), "{error}");
    let folder = tempfile::tempdir().unwrap();
    let error = open_error(folder.path().to_str().unwrap());
    assert!(matches!(error, PortError::NotSerial { what: "a folder", .. }), "{error}");
    let file = folder.path().join("notes");
    std::fs::write(&file, "not a port").unwrap();
    let error = open_error(file.to_str().unwrap());
    assert!(matches!(error, PortError::NotSerial { what: "a file", .. }), "{error}");
    assert_eq!(std::fs::read(&file).unwrap(), b"not a port");
}

#[test]
fn a_port_in_use_is_busy_and_names_are_taken_literally() {
    let (_far, name) = pty();
    let held = open(&name).map_err(|error| error.to_string());
    assert!(held.is_ok());
    let error = open_error(&name);
    assert!(matches!(error, PortError::Busy { .. }), "{error}");
    assert!(matches!(access(&name), Access::Busy(_)));
    drop(held);
    assert_eq!(access(&name), Access::Open);
    let error = open_error(&name.to_uppercase());
    assert!(matches!(error, PortError::Absent { .. }), "{error}");
}

#[test]
fn the_list_comes_without_an_error() {
    // What there is depends on the machine; each entry has a name, in order.
    let ports = list().unwrap();
    assert!(ports.is_sorted_by(|a, b| a.name < b.name));
}

#[test]
fn nobody_answering_is_silent() {
    let (_far, name) = pty();
    let error = open(&name).unwrap_or_else(|error| panic!("{error}")).hello().expect_err("silent");
    assert_eq!(error, LinkError::Silent { port: name.clone() });
    assert!(error.to_string().contains(&name));
}

#[test]
fn text_and_echo_are_no_logger() {
    let (far, name) = pty();
    answer(far, |_| b"NO CARRIER\r\n".to_vec());
    let error = open(&name).unwrap_or_else(|e| panic!("{e}")).hello().expect_err("a modem");
    assert!(
        matches!(error, LinkError::WrongDevice { bytes, .. } if bytes >= 12 && bytes % 12 == 0),
        "{error:?}"
    );
    let (far, name) = pty();
    answer(far, <[u8]>::to_vec);
    let error = open(&name).unwrap_or_else(|e| panic!("{e}")).hello().expect_err("an echo");
    assert!(matches!(error, LinkError::WrongDevice { .. }), "{error:?}");
}

#[test]
fn other_versions_are_told_apart_from_noise() {
    let newer = |_: &[u8]| {
        let mut out = [0; 64];
        let message = Message { version: 9, number: 2, body: 250_u8 };
        message.write(&mut out).unwrap().to_vec()
    };
    let (far, name) = pty();
    answer(far, newer);
    let error = open(&name).unwrap_or_else(|e| panic!("{e}")).hello().expect_err("newer");
    assert_eq!(error, LinkError::LoggerNewer { port: name, version: 9 });

    let (far, name) = pty();
    answer(far, |_| frame(2, &Reply::Refused(Refusal::Version { min: 3, max: 5 })));
    let error = open(&name).unwrap_or_else(|e| panic!("{e}")).hello().expect_err("newer");
    assert_eq!(error, LinkError::LoggerNewer { port: name, version: 3 });

    let (far, name) = pty();
    answer(far, |_| {
        let mut out = [0; 64];
        let message = Message { version: 0, number: 2, body: 0_u8 };
        message.write(&mut out).unwrap().to_vec()
    });
    let error = open(&name).unwrap_or_else(|e| panic!("{e}")).hello().expect_err("older");
    assert_eq!(error, LinkError::LoggerOlder { port: name, version: 0 });
}

#[test]
fn an_unplugged_port_is_gone() {
    let (mut far, name) = pty();
    thread::spawn(move || {
        let mut buffer = [0; 8];
        let _ = far.read(&mut buffer);
    });
    let error = open(&name).unwrap_or_else(|e| panic!("{e}")).hello().expect_err("unplugged");
    assert!(matches!(error, LinkError::Port(PortError::Gone { .. })), "{error:?}");
}

#[test]
fn a_pull_through_a_real_tty_past_old_bytes() {
    let (mut far, name) = pty();
    let mut logger = ToyLogger::new(*b"toy-0007", 50, 4);
    logger.sample(1500, 3);
    let written = logger.blocks.clone();
    far.write_all(b"\x01old bytes of an earlier session").unwrap();
    serve(far, logger);
    let mut archive = Archive::in_memory().unwrap();
    let mut link = open(&name).unwrap_or_else(|error| panic!("{error}"));
    let report = link.pull(&mut archive, 0, &mut NoProgress).unwrap();
    assert_eq!(report.findings, []);
    let held = archive.blocks(report.identity.logger).unwrap();
    assert!(held.iter().map(|block| &block.bytes).eq(written.values()));
}

#[test]
fn old_input_is_thrown_away() {
    let (mut far, name) = pty();
    let mut port = Address::parse(&name, BAUD).unwrap().open().unwrap();
    far.write_all(b"old bytes").unwrap();
    thread::sleep(Duration::from_millis(100));
    port.discard_input().unwrap();
    assert_eq!(port.read(&mut [0; 64], Duration::from_millis(200)).unwrap(), 0);
    far.write_all(b"new").unwrap();
    assert_eq!(port.read(&mut [0; 64], Duration::from_millis(2000)).unwrap(), 3);
}

#[test]
fn tcp_ports_refuse_vanish_and_serve() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let name = format!("tcp:127.0.0.1:{port}");
    let mut logger = ToyLogger::new(*b"toy-0008", 50, 4);
    logger.sample(1500, 3);
    let written = logger.blocks.clone();
    let server = thread::spawn(move || {
        let (stream, _) = listener.accept().unwrap();
        serve(stream, logger);
        // The second caller is hung up on.
        drop(listener.accept().unwrap());
    });
    let mut archive = Archive::in_memory().unwrap();
    let mut link = open(&name).unwrap_or_else(|error| panic!("{error}"));
    let report = link.pull(&mut archive, 0, &mut NoProgress).unwrap();
    let held = archive.blocks(report.identity.logger).unwrap();
    assert!(held.iter().map(|block| &block.bytes).eq(written.values()));

    let mut link = open(&name).unwrap_or_else(|error| panic!("{error}"));
    server.join().unwrap();
    thread::sleep(Duration::from_millis(50));
    let error = link.pull(&mut archive, 0, &mut NoProgress).expect_err("hung up");
    assert!(matches!(error, PullError::Link(LinkError::Port(PortError::Gone { .. }))), "{error}");

    let error = open_error(&name);
    assert_eq!(error, PortError::Refused { port: name });
    // RFC 6761: no name under `invalid` ever has an address.
    let error = open_error("tcp:bridge.invalid:4001");
    assert!(matches!(error, PortError::Unresolved { .. }), "{error}");
}
