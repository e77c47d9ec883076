//! A logger on the desk whose log stands still, and a line to it that can be cut after any byte.

use glueday_desk::{Channel, Desk, Pace, Port, Script, Settings};
use glueday_types::LoggerId;
use std::io::{Read as _, Write as _};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::thread::JoinHandle;

pub(crate) const SLOTS: u32 = 32;
pub(crate) const DAY_S: u32 = 86_400;
const UTC_S: i64 = 1_774_000_000;

/// A logger that has run for so many days, with its clock set in the first minute.
pub(crate) fn desk(image: &Path, id: LoggerId, days: u32) -> Desk {
    desk_with(image, id, days, Pace::default())
}

pub(crate) fn desk_with(image: &Path, id: LoggerId, days: u32, pace: Pace) -> Desk {
    let mut script = Script::steady(u64::from(id.0[7]));
    script.slab = Channel { swing: 0.5, noise_sd: 0.05 };
    script.air = Channel { swing: 1.0, noise_sd: 0.1 };
    script.air_rh = Channel { swing: -3.0, noise_sd: 0.3 };
    script.supply = Channel { swing: 1.0, noise_sd: 0.2 };
    let settings = Settings { scale: 0.0, pace, ..Settings::default() };
    let mut desk = Desk::create_or_open(image, SLOTS, id, Box::new(script), &settings).unwrap();
    desk.advance_to(60).unwrap();
    desk.logger_mut().set_clock(60, UTC_S).unwrap();
    desk.advance_to(days * DAY_S).unwrap();
    desk
}

/// A desk logger served from a thread, until it is dropped.
pub(crate) struct Served {
    /// The first TCP port.
    pub(crate) tcp: String,
    /// All TCP ports: each serves one peer at a time.
    pub(crate) all_tcp: Vec<String>,
    pub(crate) pty: String,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<Desk>>,
}

impl Served {
    pub(crate) fn start(desk: Desk) -> Self {
        Self::start_on(desk, 1)
    }

    pub(crate) fn start_on(mut desk: Desk, tcp_ports: usize) -> Self {
        let pty = Port::open_pty(None).unwrap();
        let pty_name = pty.name().to_owned();
        let mut ports: Vec<Port> =
            (0..tcp_ports).map(|_| Port::listen_tcp("127.0.0.1:0").unwrap()).collect();
        let all_tcp: Vec<String> =
            ports.iter().map(|port| format!("tcp:{}", port.name())).collect();
        ports.push(pty);
        let stop = Arc::new(AtomicBool::new(false));
        let flag = Arc::clone(&stop);
        let thread = std::thread::spawn(move || {
            desk.serve(ports, &flag).unwrap();
            desk
        });
        Self { tcp: all_tcp[0].clone(), all_tcp, pty: pty_name, stop, thread: Some(thread) }
    }

    pub(crate) fn end(mut self) -> Desk {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.take().unwrap().join().unwrap()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// A line of one call between the program and a logger.
pub(crate) struct Relay {
    pub(crate) port: String,
    /// Is told once when the line falls silent.
    pub(crate) cut: Receiver<()>,
    passed: Arc<AtomicUsize>,
    address: std::net::SocketAddr,
    thread: Option<JoinHandle<()>>,
}

impl Relay {
    /// Lets `bytes` of what the logger sends pass, and nothing after that.
    pub(crate) fn cut_after(to: &str, bytes: usize) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let to = to.strip_prefix("tcp:").unwrap().to_owned();
        let (tell, cut) = channel();
        let passed = Arc::new(AtomicUsize::new(0));
        let count = Arc::clone(&passed);
        let thread = std::thread::spawn(move || {
            let Ok((mut near, _)) = listener.accept() else { return };
            let mut far = TcpStream::connect(to).unwrap();
            for stream in [&near, &far] {
                stream.set_nodelay(true).unwrap();
            }
            let (mut near_in, mut far_out) = (near.try_clone().unwrap(), far.try_clone().unwrap());
            let requests = std::thread::spawn(move || {
                let _ = std::io::copy(&mut near_in, &mut far_out);
                let _ = far_out.shutdown(Shutdown::Both);
            });
            let mut buffer = [0; 1024];
            let mut left = bytes;
            while left > 0 {
                let wanted = left.min(buffer.len());
                let Ok(len @ 1..) = far.read(&mut buffer[..wanted]) else { break };
                if near.write_all(&buffer[..len]).is_err() {
                    break;
                }
                count.fetch_add(len, Ordering::Relaxed);
                left -= len;
            }
            if left == 0 {
                let _ = tell.send(());
                // The program is dead soon; until then nothing comes.
                let _ = requests.join();
            }
            let _ = near.shutdown(Shutdown::Both);
            let _ = far.shutdown(Shutdown::Both);
        });
        Self { port: format!("tcp:{address}"), cut, passed, address, thread: Some(thread) }
    }

    /// How many bytes passed, once both ends are closed.
    pub(crate) fn end(mut self) -> usize {
        // Whoever was killed before it called: the thread still waits for a call.
        drop(TcpStream::connect(self.address));
        self.thread.take().unwrap().join().unwrap();
        self.passed.load(Ordering::Relaxed)
    }
}
