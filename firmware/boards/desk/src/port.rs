//! Ports without waiting: a pty where there is one, and TCP.

use std::io::{self, Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::path::PathBuf;
use std::time::Duration;

#[cfg(unix)]
mod pty;

/// Where the logger is reached.
#[derive(Debug)]
pub struct Port(Kind);

#[derive(Debug)]
enum Kind {
    #[cfg(unix)]
    Pty(pty::Pty),
    Tcp {
        listener: TcpListener,
        name: String,
        peer: Option<TcpStream>,
    },
}

/// What came of moving bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Io {
    /// This many bytes moved, at least one.
    Moved(usize),
    /// Not now.
    Waits,
    /// There is no peer (any more).
    Gone,
}

/// Why a port cannot be opened.
#[derive(Debug, thiserror::Error)]
pub enum PortError {
    /// The operating system has no pty for us.
    #[error("cannot open a pty: {0}")]
    Pty(#[source] io::Error),
    /// The link to the pty cannot be made.
    #[error("cannot make the link {link} to the pty: {error}")]
    Link {
        /// Where it should be.
        link: PathBuf,
        /// What the operating system says.
        #[source]
        error: io::Error,
    },
    /// Something that is not a link stands where the link should be.
    #[error("{link} exists and is no link; remove it or give another name for the link to the pty")]
    NotALink {
        /// Where it should be.
        link: PathBuf,
    },
    /// The address cannot be listened on.
    #[error("cannot listen on TCP address {address}: {error}")]
    Tcp {
        /// The address.
        address: String,
        /// What the operating system says.
        #[source]
        error: io::Error,
    },
}

impl Port {
    /// Opens a pty in raw mode. With `link`, a symbolic link of that name leads to it; it is taken
    /// away when the port is dropped.
    ///
    /// # Errors
    /// See [`PortError`].
    #[cfg(unix)]
    pub fn open_pty(link: Option<&std::path::Path>) -> Result<Self, PortError> {
        Ok(Self(Kind::Pty(pty::Pty::open(link)?)))
    }

    /// Listens on a TCP address such as `127.0.0.1:0`. One peer at a time is served; another one that
    /// connects waits.
    ///
    /// # Errors
    /// See [`PortError`].
    pub fn listen_tcp(address: &str) -> Result<Self, PortError> {
        let error = |error| PortError::Tcp { address: address.to_owned(), error };
        Self::tcp(TcpListener::bind(address).map_err(error)?).map_err(error)
    }

    /// Takes over a listener.
    ///
    /// # Errors
    /// What the operating system says.
    pub fn tcp(listener: TcpListener) -> io::Result<Self> {
        listener.set_nonblocking(true)?;
        let name = listener.local_addr()?.to_string();
        Ok(Self(Kind::Tcp { listener, name, peer: None }))
    }

    /// Where it is reached: the path of the pty, or `HOST:PORT`.
    #[must_use]
    pub fn name(&self) -> &str {
        match &self.0 {
            #[cfg(unix)]
            Kind::Pty(pty) => pty.name(),
            Kind::Tcp { name, .. } => name,
        }
    }

    pub(crate) fn receive(&mut self, bytes: &mut [u8]) -> Io {
        match &mut self.0 {
            #[cfg(unix)]
            Kind::Pty(pty) => pty.receive(bytes),
            Kind::Tcp { listener, peer, .. } => {
                if peer.is_none() {
                    *peer = accept(listener);
                }
                let Some(stream) = peer else { return Io::Gone };
                let outcome = outcome(stream.read(bytes));
                if outcome == Io::Gone {
                    *peer = None;
                }
                outcome
            }
        }
    }

    pub(crate) fn send(&mut self, bytes: &[u8]) -> Io {
        match &mut self.0 {
            #[cfg(unix)]
            Kind::Pty(pty) => pty.send(bytes),
            Kind::Tcp { peer, .. } => {
                let Some(stream) = peer else { return Io::Gone };
                let outcome = outcome(stream.write(bytes));
                if outcome == Io::Gone {
                    *peer = None;
                }
                outcome
            }
        }
    }
}

fn accept(listener: &TcpListener) -> Option<TcpStream> {
    let (stream, _) = listener.accept().ok()?;
    stream.set_nonblocking(true).ok()?;
    // Without this, small replies wait for the peer's acknowledgements.
    stream.set_nodelay(true).ok()?;
    Some(stream)
}

fn outcome(result: io::Result<usize>) -> Io {
    match result {
        Ok(0) => Io::Gone,
        Ok(len) => Io::Moved(len),
        Err(error) => match error.kind() {
            io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted => Io::Waits,
            _ => Io::Gone,
        },
    }
}

/// Waits until a byte came in on one of `ports`, one that has bytes to send can take some, or
/// `timeout` is over. May return early.
#[cfg(unix)]
pub(crate) fn wait<'p>(ports: impl Iterator<Item = (&'p mut Port, bool)>, timeout: Duration) {
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use std::os::fd::{AsFd as _, BorrowedFd};

    fn fd(port: &Port) -> BorrowedFd<'_> {
        match &port.0 {
            Kind::Pty(pty) => pty.as_fd(),
            Kind::Tcp { peer: Some(peer), .. } => peer.as_fd(),
            Kind::Tcp { listener, .. } => listener.as_fd(),
        }
    }

    let mut fds: Vec<PollFd<'_>> = ports
        .map(|(port, sending)| {
            let flags = if sending { PollFlags::IN | PollFlags::OUT } else { PollFlags::IN };
            PollFd::from_borrowed_fd(fd(port), flags)
        })
        .collect();
    let timespec = Timespec::try_from(timeout).ok();
    let ready = poll(&mut fds, timespec.as_ref());
    // A pty that nobody has open is always ready with nothing but that news.
    let only_gone = fds.iter().all(|fd| {
        let events = fd.revents();
        events.is_empty() || (events.contains(PollFlags::HUP) && !events.contains(PollFlags::IN))
    });
    if ready.is_err() || (ready != Ok(0) && only_gone) {
        std::thread::sleep(timeout.min(Duration::from_millis(5)));
    }
}

/// Waits a little.
#[cfg(not(unix))]
pub(crate) fn wait<'p>(_: impl Iterator<Item = (&'p mut Port, bool)>, timeout: Duration) {
    std::thread::sleep(timeout.min(Duration::from_millis(2)));
}
