//! The desk logger over a real pty and over TCP: what comes out of the line is what stands on flash.
#![cfg(unix)]
// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use glueday_desk::{Desk, DeskError, Pace, Port, Script, Settings};
use glueday_types::frame::Collector;
use glueday_types::wire::{self, Message, REPLY_FRAME_LEN_MAX, Refusal, Reply, Request};
use glueday_types::{LoggerId, MarkKind};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::os::fd::AsFd;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

const ID: LoggerId = LoggerId(*b"deskTest");
const SLOTS: u32 = 8;
const IMAGE_LEN: usize = SLOTS as usize * 4096;
const PATIENCE: Duration = Duration::from_secs(20);

/// A peer of the logger that asks and reads replies, with a limit on its patience.
struct Peer<S> {
    stream: S,
    collector: Collector<REPLY_FRAME_LEN_MAX>,
    unread: std::collections::VecDeque<u8>,
    number: u16,
}

impl<S: Read + Write + AsFd> Peer<S> {
    fn new(stream: S) -> Self {
        Self { stream, collector: Collector::new(), unread: Default::default(), number: 0 }
    }

    fn send(&mut self, request: Request) {
        self.number += 1;
        let mut out = [0; 64];
        let frame = Message::new(self.number, request).write(&mut out).unwrap();
        self.stream.write_all(frame).unwrap();
    }

    fn readable(&self, within: Duration) -> bool {
        let mut fds = [PollFd::new(&self.stream, PollFlags::IN)];
        poll(&mut fds, Some(&Timespec::try_from(within).unwrap())).unwrap();
        fds[0].revents().contains(PollFlags::IN)
    }

    /// Calls `seen` with each reply and its request's number until it returns something.
    fn any<T>(&mut self, mut seen: impl FnMut(u16, Reply<'_>) -> Option<T>) -> T {
        let until = Instant::now() + PATIENCE;
        loop {
            while let Some(byte) = self.unread.pop_front() {
                let Some(payload) = self.collector.push(byte) else { continue };
                let message: Message<Reply<'_>> = wire::read(payload.unwrap()).unwrap();
                if let Some(value) = seen(message.number, message.body) {
                    return value;
                }
            }
            assert!(Instant::now() < until, "no reply");
            if self.readable(Duration::from_millis(50)) {
                let mut bytes = [0; 4096];
                let len = self.stream.read(&mut bytes).unwrap();
                self.unread.extend(&bytes[..len]);
            }
        }
    }

    /// As `any`, for replies to the last request only.
    fn until<T>(&mut self, mut seen: impl FnMut(Reply<'_>) -> Option<T>) -> T {
        let last = self.number;
        self.any(|number, reply| if number == last { seen(reply) } else { None })
    }

    /// Takes a run and puts its bytes where they stand in the image.
    fn take_run(&mut self, image: &mut [u8]) -> (u32, u16) {
        self.until(|reply| match reply {
            Reply::Chunk { block, offset, bytes } => {
                let at = (block % SLOTS) as usize * 4096 + usize::from(offset);
                image[at..at + bytes.len()].copy_from_slice(bytes);
                None
            }
            Reply::BlocksEnd { next, offset, more } => {
                assert!(!more);
                Some((next, offset))
            }
            other => panic!("{other:?}"),
        })
    }

    fn ask_all(&mut self, first: u32) {
        self.send(Request::Blocks { first, offset: 0, count: u16::MAX });
    }

    fn status(&mut self) -> wire::Status {
        self.send(Request::Status);
        self.until(|reply| if let Reply::Status(status) = reply { Some(status) } else { None })
    }

    fn first_chunk(&mut self) {
        self.until(|reply| matches!(reply, Reply::Chunk { .. }).then_some(()));
    }
}

fn open(path: impl AsRef<Path>) -> File {
    OpenOptions::new().read(true).write(true).open(path).unwrap()
}

/// A desk that is served by a thread until it is stopped.
struct Served {
    stop: Arc<AtomicBool>,
    thread: JoinHandle<Result<Desk, DeskError>>,
}

impl Served {
    fn start(mut desk: Desk, ports: Vec<Port>) -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let flag = Arc::clone(&stop);
        let thread = std::thread::spawn(move || desk.serve(ports, &flag).map(|()| desk));
        Self { stop, thread }
    }

    fn stop(self) -> Desk {
        self.stop.store(true, Ordering::Relaxed);
        let until = Instant::now() + PATIENCE;
        while !self.thread.is_finished() {
            assert!(Instant::now() < until, "the desk does not stop");
            std::thread::sleep(Duration::from_millis(5));
        }
        self.thread.join().unwrap().unwrap()
    }
}

/// A desk whose ring has gone round, with its oldest block and the end of its log.
fn full_desk(dir: &Path, pace: Pace) -> (Desk, u32, (u32, u16)) {
    let settings = Settings { scale: 0.0, pace, ..Settings::default() };
    let climate = Box::new(Script::steady(3));
    let mut desk = Desk::create_or_open(dir.join("nor"), SLOTS, ID, climate, &settings).unwrap();
    desk.advance_to(60 * 86_400).unwrap();
    let ring = desk.logger().ring();
    let (oldest, end) = (ring.oldest_block(), (ring.open_block(), ring.open_len()));
    assert!(oldest > 0, "the ring did not wrap");
    (desk, oldest, end)
}

#[test]
fn blocks_over_a_pty_are_the_image_byte_for_byte() {
    let dir = tempfile::tempdir().unwrap();
    let (desk, oldest, end) = full_desk(dir.path(), Pace::default());
    let link = dir.path().join("line");
    let port = Port::open_pty(Some(&link)).unwrap();
    let path = port.name().to_owned();
    let served = Served::start(desk, vec![port]);

    let mut peer = Peer::new(open(&link));
    peer.send(Request::Hello);
    let identity =
        peer.until(|reply| if let Reply::Hello(identity) = reply { Some(identity) } else { None });
    assert_eq!((identity.logger, identity.blocks), (ID, SLOTS));
    let status = peer.status();
    assert_eq!(status.oldest_block, oldest);
    assert_eq!((status.open_block, status.open_len), end);
    assert_eq!((status.uptime_s, status.boot), (60 * 86_400, 1));

    let mut pulled = vec![0xFF; IMAGE_LEN];
    peer.ask_all(oldest);
    assert_eq!(peer.take_run(&mut pulled), end);
    drop(peer);
    // Close and open again: the next peer is served as well.
    std::thread::sleep(Duration::from_millis(100));
    let mut peer = Peer::new(open(&path));
    peer.ask_all(oldest - 1);
    let refusal =
        peer.until(|reply| if let Reply::Refused(refusal) = reply { Some(refusal) } else { None });
    assert_eq!(refusal, Refusal::NoSuchBlock { oldest, newest: end.0 });
    drop(served.stop());
    let image = std::fs::read(dir.path().join("nor")).unwrap();
    assert!(pulled == image, "the pulled blocks differ from the image");
    assert!(std::fs::symlink_metadata(&link).is_err(), "the link is left behind");
}

#[test]
fn a_new_request_ends_a_run() {
    let dir = tempfile::tempdir().unwrap();
    let pace = Pace { bytes_per_s: Some(50_000), turnaround: Duration::ZERO };
    let (desk, oldest, _) = full_desk(dir.path(), pace);
    let port = Port::open_pty(None).unwrap();
    let path = port.name().to_owned();
    let served = Served::start(desk, vec![port]);
    let mut peer = Peer::new(open(path));
    peer.ask_all(oldest);
    peer.first_chunk();
    // `until` passes over the rest of the run that is on its way already.
    assert_eq!(peer.status().boot, 1);
    assert!(!peer.readable(Duration::from_millis(200)), "the run went on");
    served.stop();
}

#[test]
fn a_peer_that_leaves_drops_its_run() {
    let dir = tempfile::tempdir().unwrap();
    let pace = Pace { bytes_per_s: Some(50_000), turnaround: Duration::ZERO };
    let (desk, oldest, _) = full_desk(dir.path(), pace);
    let port = Port::open_pty(None).unwrap();
    let path = port.name().to_owned();
    let served = Served::start(desk, vec![port]);
    let mut peer = Peer::new(open(&path));
    peer.ask_all(oldest);
    peer.first_chunk();
    drop(peer);
    std::thread::sleep(Duration::from_millis(200));
    let peer = Peer::new(open(&path));
    assert!(!peer.readable(Duration::from_millis(200)), "the run went on for the next peer");
    served.stop();
}

#[test]
fn a_slow_reader_loses_no_byte_and_does_not_hold_up_the_stop() {
    let dir = tempfile::tempdir().unwrap();
    let (desk, oldest, end) = full_desk(dir.path(), Pace::default());
    let port = Port::open_pty(None).unwrap();
    let path = port.name().to_owned();
    let served = Served::start(desk, vec![port]);
    let mut peer = Peer::new(open(path));
    peer.ask_all(oldest);
    // More than the system's buffer holds is ready by now.
    std::thread::sleep(Duration::from_millis(300));
    let mut pulled = vec![0xFF; IMAGE_LEN];
    assert_eq!(peer.take_run(&mut pulled), end);
    assert!(pulled == std::fs::read(dir.path().join("nor")).unwrap());
    peer.ask_all(oldest);
    std::thread::sleep(Duration::from_millis(100));
    served.stop();
}

#[test]
fn tcp_and_pty_serve_the_same_logger() {
    let dir = tempfile::tempdir().unwrap();
    let settings = Settings { scale: 0.0, ..Settings::default() };
    let climate = Box::new(Script::steady(3));
    let desk = Desk::create_or_open(dir.path().join("nor"), SLOTS, ID, climate, &settings).unwrap();
    let (tcp, pty) = (Port::listen_tcp("127.0.0.1:0").unwrap(), Port::open_pty(None).unwrap());
    let (address, path) = (tcp.name().to_owned(), pty.name().to_owned());
    let served = Served::start(desk, vec![tcp, pty]);
    let mut first = Peer::new(TcpStream::connect(&address).unwrap());
    let mut second = Peer::new(open(path));
    first.send(Request::Mark { kind: MarkKind::Delivered });
    let done = first.until(|reply| match reply {
        Reply::Done { boot, at_s } => Some((boot, at_s)),
        _ => None,
    });
    assert_eq!(done, (1, 0));
    // Boot, first sample, mark.
    assert_eq!(second.status().entries, 3);
    drop(first);
    let mut again = Peer::new(TcpStream::connect(&address).unwrap());
    assert_eq!(again.status().entries, 3);
    served.stop();
}

#[test]
fn a_paced_line_takes_its_time() {
    let dir = tempfile::tempdir().unwrap();
    let pace = Pace { bytes_per_s: Some(40_000), turnaround: Duration::from_millis(30) };
    let (desk, oldest, end) = full_desk(dir.path(), pace);
    let port = Port::open_pty(None).unwrap();
    let path = port.name().to_owned();
    let served = Served::start(desk, vec![port]);
    let mut peer = Peer::new(open(path));
    let began = Instant::now();
    peer.ask_all(oldest);
    peer.take_run(&mut vec![0xFF; IMAGE_LEN]);
    let took_s = began.elapsed().as_secs_f64();
    // A lower bound only: how much longer it takes is up to the machine. The line may catch up 20 ms.
    let bytes = f64::from((end.0 - oldest) * 4096 + u32::from(end.1));
    assert!(took_s >= 0.03 + bytes / 40_000.0 - 0.02, "{took_s} s for {bytes} bytes");
    served.stop();
}
