//! Serial ports.

use super::{PortError, Transport};
use serialport::{ClearBuffer, ErrorKind, SerialPort};
use std::io::{self, Read, Write};
use std::time::{Duration, Instant};

/// How long a write may wait for room.
const WRITE_WAIT: Duration = Duration::from_secs(2);

/// An open serial port. Nobody else can open it meanwhile.
pub struct SerialTransport {
    name: String,
    baud: u32,
    opened: Instant,
    port: Box<dyn SerialPort>,
}

impl SerialTransport {
    /// Opens `name`, exactly as it stands, with 8 data bits, no parity, 1 stop bit, no flow control,
    /// and for this program alone.
    ///
    /// # Errors
    /// What the system answered, see [`PortError`].
    pub fn open(name: &str, baud: u32) -> Result<Self, PortError> {
        // Boards on USB take DTR for somebody listening; not every system raises it by itself.
        match serialport::new(name, baud).timeout(WRITE_WAIT).dtr_on_open(true).open() {
            Ok(port) => Ok(Self { name: name.to_owned(), baud, opened: Instant::now(), port }),
            Err(error) => Err(open_error(name, &error)),
        }
    }

    fn gone(&self, detail: impl ToString) -> PortError {
        PortError::Gone { port: self.name.clone(), detail: detail.to_string() }
    }
}

/// The system's answer in our words.
fn open_error(name: &str, error: &serialport::Error) -> PortError {
    let (port, detail) = (name.to_owned(), error.description.clone());
    match error.kind {
        // On Unix the library uses this kind for EBUSY and for a held lock, and only for them.
        ErrorKind::NoDevice if cfg!(unix) => PortError::Busy { port, detail },
        ErrorKind::NoDevice | ErrorKind::Io(io::ErrorKind::NotFound) => {
            PortError::Absent { port, detail }
        }
        ErrorKind::Io(io::ErrorKind::PermissionDenied) => PortError::Denied { port, detail },
        _ => match std::fs::metadata(name) {
            Ok(found) if found.is_dir() => PortError::NotSerial { port, what: "a folder" },
            Ok(found) if found.is_file() => PortError::NotSerial { port, what: "a file" },
            _ => PortError::CannotOpen { port, detail },
        },
    }
}

impl Transport for SerialTransport {
    fn name(&self) -> &str {
        &self.name
    }

    fn baud(&self) -> Option<u32> {
        Some(self.baud)
    }

    fn write_all(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        self.port.set_timeout(WRITE_WAIT).map_err(|error| self.gone(error))?;
        self.port.write_all(bytes).map_err(|error| match error.kind() {
            io::ErrorKind::TimedOut => PortError::NotTaking { port: self.name.clone() },
            _ => self.gone(error),
        })
    }

    fn read(&mut self, into: &mut [u8], timeout: Duration) -> Result<usize, PortError> {
        self.port.set_timeout(timeout).map_err(|error| self.gone(error))?;
        match self.port.read(into) {
            // A tty that is readable but has no bytes was hung up.
            Ok(0) if !into.is_empty() => Err(self.gone("hung up")),
            Ok(len) => Ok(len),
            Err(error) => match error.kind() {
                io::ErrorKind::TimedOut
                | io::ErrorKind::Interrupted
                | io::ErrorKind::WouldBlock => Ok(0),
                _ => Err(self.gone(error)),
            },
        }
    }

    fn discard_input(&mut self) -> Result<(), PortError> {
        self.port.clear(ClearBuffer::Input).map_err(|error| self.gone(error))
    }

    fn elapsed(&self) -> Duration {
        self.opened.elapsed()
    }
}
