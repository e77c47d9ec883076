//! The process is killed at random moments: what it acknowledged is in the image.
#![cfg(unix)]
// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use glueday_types::block::{Item, Reader};
use glueday_types::frame::Collector;
use glueday_types::wire::{self, Message, REPLY_FRAME_LEN_MAX, Reply, Request};
use glueday_types::{Entry, Header, MarkKind, digest};
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const SLOTS: usize = 6;

fn start(image: &Path, more: &[&str]) -> (Child, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_glueday-desk"))
        .args(["--image".as_ref(), image.as_os_str()])
        .args(["--slots", "6", "--tcp", "127.0.0.1:0"])
        .args(more)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let address = line.trim().strip_prefix("tcp:").expect("where it listens").to_owned();
    (child, address)
}

/// Entries of the image with their numbers; what the ring has overwritten is not there.
fn entries(image: &Path) -> Vec<(u32, Entry)> {
    let bytes = std::fs::read(image).unwrap();
    assert_eq!(bytes.len(), SLOTS * 4096);
    let mut blocks: Vec<&[u8]> =
        bytes.chunks(4096).filter(|block| Header::from_bytes(block).is_ok()).collect();
    blocks.sort_by_key(|block| Header::from_bytes(block).unwrap().block);
    let mut entries = Vec::new();
    for pair in blocks.windows(2) {
        assert_eq!(Header::from_bytes(pair[1]).unwrap().previous, digest(pair[0]));
    }
    for block in blocks {
        entries.extend(Reader::new(block).unwrap().filter_map(|item| match item {
            Item::Entry { number, entry, .. } => Some((number, entry)),
            _ => None,
        }));
    }
    entries
}

/// Marks as fast as it can for `time` and returns what was acknowledged.
fn mark_for(address: &str, time: Duration) -> Vec<(u32, u32)> {
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(10))).unwrap();
    let mut collector = Collector::<REPLY_FRAME_LEN_MAX>::new();
    let (began, mut acknowledged, mut number) = (Instant::now(), Vec::new(), 0u16);
    while began.elapsed() < time {
        number = number.wrapping_add(1);
        let mut out = [0; 64];
        let request = Request::Mark { kind: MarkKind::Button };
        stream.write_all(Message::new(number, request).write(&mut out).unwrap()).unwrap();
        let mut byte = [0];
        loop {
            stream.read_exact(&mut byte).unwrap();
            let Some(payload) = collector.push(byte[0]) else { continue };
            let message: Message<Reply<'_>> = wire::read(payload.unwrap()).unwrap();
            let Reply::Done { boot, at_s } = message.body else { panic!("{:?}", message.body) };
            acknowledged.push((boot, at_s));
            break;
        }
    }
    // One more is under way when the process is killed.
    let mut out = [0; 64];
    let request = Request::Mark { kind: MarkKind::Sanded };
    let _ = stream.write_all(Message::new(0, request).write(&mut out).unwrap());
    acknowledged
}

#[test]
fn kill_9_loses_nothing_that_was_acknowledged() {
    let dir = tempfile::tempdir().unwrap();
    let image = dir.path().join("nor");
    let mut marks = 0;
    for round in 1..=25u32 {
        // A year and a half in a second: it samples all the time.
        let (mut child, address) =
            start(&image, &["--interval", "60", "--scale", "20000", "--seed", &round.to_string()]);
        let acknowledged = mark_for(&address, Duration::from_millis(u64::from(round * 37 % 90)));
        child.kill().unwrap();
        child.wait().unwrap();
        marks += acknowledged.len();

        let there = entries(&image);
        assert!(there.windows(2).all(|pair| pair[0].0 + 1 == pair[1].0), "a gap in the numbers");
        // Of this boot, those marks that the ring has not overwritten since.
        let boot_at = there.iter().rposition(|(_, entry)| matches!(entry, Entry::Boot { .. }));
        let of_boot = &there[boot_at.unwrap_or(0)..];
        if let Some((_, Entry::Boot { boot, .. })) = of_boot.first() {
            assert_eq!(*boot, round);
        }
        let found: Vec<u32> = of_boot
            .iter()
            .filter_map(|(_, entry)| match entry {
                Entry::Mark { at_s, kind: MarkKind::Button } => Some(*at_s),
                _ => None,
            })
            .collect();
        let wanted: Vec<u32> = acknowledged
            .iter()
            .map(|(boot, at_s)| {
                assert_eq!(*boot, round);
                *at_s
            })
            .collect();
        // None but the acknowledged ones, and of these the newest without a gap.
        assert!(wanted.ends_with(&found), "round {round}: {found:?} is not the end of {wanted:?}");
        if boot_at.is_some() {
            assert_eq!(found.len(), wanted.len(), "round {round}: acknowledged marks are gone");
        }
    }
    assert!(marks > 200, "only {marks} marks: the test does not test much");
}

#[test]
fn bad_arguments_end_with_a_message() {
    let dir = tempfile::tempdir().unwrap();
    let image = dir.path().join("nor");
    let run = |arguments: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_glueday-desk"))
            .args(["--image".as_ref(), image.as_os_str()])
            .args(arguments)
            .output()
            .unwrap();
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    for (arguments, expected) in [
        (&["--slots", "1"][..], "a flash of 1 slots"),
        (&["--uptime", "8 weeks"], "such as 90m, 12h or 8w"),
        (&["--logger", "xyz"], "16 hexadecimal digits"),
        (&["--scale", "NaN"], "a time scale of NaN"),
        (&["--interval", "0"], "0 is not in 1..=65535"),
        (&["--tcp", "nowhere"], "cannot listen on TCP address nowhere"),
        (&["--pty", "."], "exists and is no link"),
    ] {
        let (code, stderr) = run(arguments);
        assert_eq!(code, Some(2), "{arguments:?}: {stderr}");
        assert!(stderr.contains(expected), "{arguments:?}: {stderr}");
        assert!(!stderr.contains("panicked"), "{stderr}");
        let _ = std::fs::remove_file(&image);
    }
    std::fs::write(&image, [0xFF; 5000]).unwrap();
    let (code, stderr) = run(&[]);
    assert_eq!((code, stderr.contains("5000 bytes long")), (Some(2), true), "{stderr}");
}
