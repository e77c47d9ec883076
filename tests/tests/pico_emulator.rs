//! The built UF2 image on an emulated RP2040: it boots, is enumerated on USB, logs into its flash and
//! serves the log to the real host program.
//!
//! The emulator is the package `rp2040js`, with a boot ROM in miniature of our own that holds the rules
//! of the flash (`rom.mjs`), and probes at the pins, bit by bit (`probes.mjs`). What it does not show:
//! voltages, slow edges, the time that fetching code from flash takes.
#![cfg(unix)]
// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use glueday_tests::programs::glueday;
use glueday_types::frame::Collector;
use glueday_types::wire::{self, Identity, Message, REPLY_FRAME_LEN_MAX, Reply, Request, Status};
use glueday_types::{Absent, CentiCelsius, CentiPercent, MarkKind};
use std::io::{BufRead, BufReader, ErrorKind, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

const PATIENCE: Duration = Duration::from_secs(60);
/// How long a reply may take. While probes measure, which takes a second there, the emulator is slow.
const REPLY_WAIT: Duration = Duration::from_secs(40);

struct Board {
    process: Child,
    port: u16,
}

impl Board {
    /// Starts the board with the log in `folder`; `pace` 0 is as fast as it can, 1 real time.
    fn start(folder: &Path, pace: u32) -> Self {
        Self::start_with(folder, pace, "")
    }

    fn start_with(folder: &Path, pace: u32, probes: &str) -> Self {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let emulator = root.join("pico-emulator");
        let image: PathBuf = root.join("../target/boards/pico.uf2");
        assert!(image.exists(), "pico.uf2 is not built. Run: firmware/build pico");
        assert!(
            emulator.join("node_modules/rp2040js").exists(),
            "the emulator is not installed. Run: tests/pico-emulator/install"
        );
        let mut process = Command::new("node")
            .arg(emulator.join("board.mjs"))
            .arg(image)
            .arg(folder.join("log.bin"))
            .env("PACE", pace.to_string())
            .env("PROBES", probes)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("node runs: install Node.js 20 or newer");
        let mut line = String::new();
        BufReader::new(process.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let port = line.trim().parse().expect("the board is enumerated and its port is told");
        Self { process, port }
    }

    fn connect(&self) -> Peer {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(REPLY_WAIT)).unwrap();
        Peer { stream, collector: Collector::new(), number: 0 }
    }

    /// As when the plug is pulled.
    fn cut(mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

struct Peer {
    stream: TcpStream,
    collector: Collector<REPLY_FRAME_LEN_MAX>,
    number: u16,
}

impl Peer {
    /// Asks once and returns what `take` makes of the reply, which must come in time.
    fn ask<T>(&mut self, request: Request, take: impl Fn(Reply<'_>) -> Option<T>) -> T {
        self.number += 1;
        let mut out = [0; 64];
        let frame = Message::new(self.number, request).write(&mut out).unwrap();
        self.stream.write_all(frame).unwrap();
        let until = Instant::now() + PATIENCE;
        let mut byte = [0];
        while Instant::now() < until {
            match self.stream.read(&mut byte) {
                Ok(1) => {}
                Ok(_) => panic!("the board hung up"),
                Err(error) if error.kind() == ErrorKind::WouldBlock => {
                    panic!("no reply to {request:?}")
                }
                Err(error) => panic!("{error}"),
            }
            // Half a frame to the peer before is no frame, and no reply either.
            let Some(Ok(payload)) = self.collector.push(byte[0]) else { continue };
            let message: Message<Reply<'_>> = wire::read(payload).unwrap();
            if message.number == self.number
                && let Some(taken) = take(message.body)
            {
                return taken;
            }
        }
        panic!("only other replies to {request:?}");
    }

    fn hello(&mut self) -> Identity {
        self.ask(Request::Hello, |reply| match reply {
            Reply::Hello(identity) => Some(identity),
            _ => None,
        })
    }

    fn status(&mut self) -> Status {
        self.ask(Request::Status, |reply| match reply {
            Reply::Status(status) => Some(status),
            _ => None,
        })
    }

    fn done(&mut self, request: Request) {
        self.ask(request, |reply| matches!(reply, Reply::Done { .. }).then_some(()));
    }
}

#[test]
fn the_host_adopts_and_pulls_over_usb() {
    let folder = tempfile::tempdir().unwrap();
    let archive = folder.path().join("archive.sqlite");
    let board = Board::start(folder.path(), 1);
    let port = format!("tcp:127.0.0.1:{}", board.port);
    let adopted = glueday(&archive, &["adopt", "--port", &port, "--name", "hall"]);
    assert_eq!(adopted.code, Some(0), "{}", adopted.err);
    let pulled = glueday(&archive, &["pull", "--port", &port]);
    assert_eq!(pulled.code, Some(0), "{}", pulled.err);
    assert!(pulled.out.contains("moved"), "{}", pulled.out);
    assert!(pulled.out.contains("signed up to block 0"), "{}", pulled.out);
    let again = glueday(&archive, &["pull", "--port", &port]);
    assert!(again.out.contains("nothing new"), "{again:?}");
    assert!(!again.err.contains("ALARM"), "{}", again.err);
}

#[test]
fn the_probes_at_the_pins_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let board = Board::start_with(folder.path(), 0, "1");
    let mut peer = board.connect();
    let sample = loop {
        let latest = peer.ask(Request::Latest, |reply| match reply {
            Reply::Latest { sample, .. } => Some(sample),
            _ => None,
        });
        if let Some(sample) = latest {
            break sample;
        }
    };
    // What `board.mjs` sets: 344/16 and 561/16 degrees; words 0x6666 and 0x6000 on the line of the air
    // sensor, T = -45 + 175 w / 65535 and RH = -6 + 125 w / 65535 (data sheets, from memory).
    assert_eq!(sample.slab, Ok(CentiCelsius(2150)));
    assert_eq!(sample.supply, Ok(CentiCelsius(3506)));
    assert_eq!(sample.air, Ok(CentiCelsius(2500)));
    let Ok(CentiPercent(rh)) = sample.air_rh else { panic!("{:?}", sample.air_rh) };
    assert!(rh.abs_diff(4088) <= 1, "{rh}");
    let status = peer.status();
    assert_eq!((status.slab, status.air, status.supply), (Ok(()), Ok(()), Ok(())));
}

#[test]
fn half_a_request_of_the_last_peer_does_not_confuse() {
    let folder = tempfile::tempdir().unwrap();
    let board = Board::start(folder.path(), 1);
    let mut first = board.connect();
    let identity = first.hello();
    assert_eq!(identity.blocks, 255);
    let mut out = [0; 64];
    let frame = Message::new(9, Request::SetInterval { interval_s: 7 }).write(&mut out).unwrap();
    first.stream.write_all(&frame[..frame.len() / 2]).unwrap();
    // It also leaves before it has read what it asked for.
    let mut out = [0; 64];
    let request = Request::Blocks { first: 0, offset: 0, count: 1 };
    first.stream.write_all(&[0]).unwrap();
    first.stream.write_all(Message::new(10, request).write(&mut out).unwrap()).unwrap();
    first.stream.write_all(&frame[..frame.len() / 2]).unwrap();
    drop(first);
    // The first request must be answered: `ask` does not ask twice.
    let mut second = board.connect();
    assert_eq!(second.hello(), identity);
    assert_eq!(second.status().interval_s, 600);
}

#[test]
fn the_log_outlives_power_cuts() {
    let folder = tempfile::tempdir().unwrap();
    let mut seen: Option<(Identity, u32)> = None;
    for boot in 1..=3 {
        let board = Board::start(folder.path(), 0);
        let mut peer = board.connect();
        let identity = peer.hello();
        peer.done(Request::Mark { kind: MarkKind::Button });
        let status = peer.status();
        assert_eq!((status.boot, status.lost_entries), (boot, 0));
        // No probe is connected: each says so, and the log goes on.
        assert_eq!(status.slab, Err(Absent::NoAnswer));
        assert_eq!(status.supply, Err(Absent::NoAnswer));
        assert_eq!(status.air, Err(Absent::NoAnswer));
        // 2069 steps at the converter.
        assert_eq!(status.supply_mv, Some(5000));
        if let Some((before, entries)) = seen {
            // The key among it.
            assert_eq!(identity, before);
            assert!(identity.public_key.is_some());
            assert!(status.entries > entries);
        }
        seen = Some((identity, status.entries));
        drop(peer);
        board.cut();
    }
}

#[test]
fn the_line_outlives_the_erase_of_a_block() {
    let folder = tempfile::tempdir().unwrap();
    let archive = folder.path().join("archive.sqlite");
    let board = Board::start(folder.path(), 0);
    let mut peer = board.connect();
    peer.done(Request::SetInterval { interval_s: 1 });
    let until = Instant::now() + 2 * PATIENCE;
    let status = loop {
        let status = peer.status();
        if status.open_block >= 1 {
            break status;
        }
        assert!(Instant::now() < until, "still in block {}", status.open_block);
        std::thread::sleep(Duration::from_millis(20));
    };
    assert_eq!((status.lost_entries, status.resumed, status.oldest_block), (0, 0, 0));
    peer.done(Request::SetInterval { interval_s: 3600 });
    drop(peer);
    let port = format!("tcp:127.0.0.1:{}", board.port);
    let pulled = glueday(&archive, &["pull", "--port", &port]);
    assert_eq!(pulled.code, Some(0), "{}", pulled.err);
}
