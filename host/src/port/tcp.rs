//! TCP ports of serial servers.

use super::{PortError, Transport};
use std::io::{self, Read, Write};
use std::net::{TcpStream, ToSocketAddrs};
use std::time::{Duration, Instant};

/// How long one address of the host may take to answer.
const CONNECT_WAIT: Duration = Duration::from_secs(5);
/// How long a write may wait for room.
const WRITE_WAIT: Duration = Duration::from_secs(2);
/// The shortest wait that the system's timeout can express.
const READ_WAIT_MIN: Duration = Duration::from_millis(1);
/// How much old input is thrown away at most, so that a chattering peer cannot hold us.
const DISCARD_MAX: usize = 1 << 20;

/// An open TCP connection.
pub struct TcpTransport {
    name: String,
    opened: Instant,
    stream: TcpStream,
}

impl TcpTransport {
    /// Connects to `host` at `port`, trying each of its addresses.
    ///
    /// # Errors
    /// What the system answered for the last address, see [`PortError`].
    pub fn open(host: &str, port: u16) -> Result<Self, PortError> {
        let name = super::Address::Tcp { host: host.to_owned(), port }.to_string();
        let addresses = (host, port).to_socket_addrs().map_err(|error| PortError::Unresolved {
            port: name.clone(),
            detail: error.to_string(),
        })?;
        let mut last = PortError::Unresolved {
            port: name.clone(),
            detail: "the name has no addresses".to_owned(),
        };
        for address in addresses {
            match TcpStream::connect_timeout(&address, CONNECT_WAIT).and_then(prepare) {
                Ok(stream) => return Ok(Self { name, opened: Instant::now(), stream }),
                Err(error) if error.kind() == io::ErrorKind::ConnectionRefused => {
                    last = PortError::Refused { port: name.clone() };
                }
                Err(error) => {
                    last = PortError::Unreachable { port: name.clone(), detail: error.to_string() };
                }
            }
        }
        Err(last)
    }

    fn gone(&self, detail: impl ToString) -> PortError {
        PortError::Gone { port: self.name.clone(), detail: detail.to_string() }
    }
}

/// Requests are small and waited for: they must not be held back to be sent together.
fn prepare(stream: TcpStream) -> io::Result<TcpStream> {
    stream.set_nodelay(true)?;
    stream.set_write_timeout(Some(WRITE_WAIT))?;
    Ok(stream)
}

fn came_nothing(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut | io::ErrorKind::Interrupted
    )
}

impl Transport for TcpTransport {
    fn name(&self) -> &str {
        &self.name
    }

    fn baud(&self) -> Option<u32> {
        None
    }

    fn write_all(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        self.stream.write_all(bytes).map_err(|error| {
            if came_nothing(&error) {
                PortError::NotTaking { port: self.name.clone() }
            } else {
                self.gone(error)
            }
        })
    }

    fn read(&mut self, into: &mut [u8], timeout: Duration) -> Result<usize, PortError> {
        let timeout = timeout.max(READ_WAIT_MIN);
        self.stream.set_read_timeout(Some(timeout)).map_err(|error| self.gone(error))?;
        match self.stream.read(into) {
            Ok(0) if !into.is_empty() => Err(self.gone("closed by the other end")),
            Ok(len) => Ok(len),
            Err(error) if came_nothing(&error) => Ok(0),
            Err(error) => Err(self.gone(error)),
        }
    }

    fn discard_input(&mut self) -> Result<(), PortError> {
        let mut old = [0; 4096];
        let mut discarded = 0;
        while discarded < DISCARD_MAX {
            match self.read(&mut old, READ_WAIT_MIN)? {
                0 => break,
                len => discarded += len,
            }
        }
        Ok(())
    }

    fn elapsed(&self) -> Duration {
        self.opened.elapsed()
    }
}
