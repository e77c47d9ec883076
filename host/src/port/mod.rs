//! Ways to reach a logger: a serial port, or a TCP port of a serial server.
//!
//! A port is opened exactly as it is named, and only that one. Everything above works on
//! [`Transport`], so that simulated lines can stand in for real ones.

mod error;
mod list;
mod serial;
mod tcp;

pub use error::PortError;
pub use list::{Access, PortInfo, access, list};
pub use serial::SerialTransport;
pub use tcp::TcpTransport;

use std::time::Duration;

/// Line speed when nothing else is asked for, with 8 data bits, no parity and 1 stop bit.
pub const BAUD: u32 = 115_200;

/// A line to a logger.
pub trait Transport {
    /// What the user called the port.
    fn name(&self) -> &str;

    /// Bits per second of the line, when it is known; a TCP port does not tell.
    fn baud(&self) -> Option<u32>;

    /// Sends all of `bytes`.
    ///
    /// # Errors
    /// [`PortError::Gone`] when the line broke, [`PortError::NotTaking`] when it accepts no bytes.
    fn write_all(&mut self, bytes: &[u8]) -> Result<(), PortError>;

    /// Waits up to `timeout` for bytes and returns how many came; 0 when none did.
    ///
    /// # Errors
    /// [`PortError::Gone`] when the line broke.
    fn read(&mut self, into: &mut [u8], timeout: Duration) -> Result<usize, PortError>;

    /// Throws away what came in so far: a pty or an adapter may hold bytes of an earlier session.
    ///
    /// # Errors
    /// [`PortError::Gone`] when the line broke.
    fn discard_input(&mut self) -> Result<(), PortError>;

    /// Time since the port was opened. Never runs backwards.
    fn elapsed(&self) -> Duration;
}

impl<T: Transport + ?Sized> Transport for Box<T> {
    fn name(&self) -> &str {
        (**self).name()
    }
    fn baud(&self) -> Option<u32> {
        (**self).baud()
    }
    fn write_all(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        (**self).write_all(bytes)
    }
    fn read(&mut self, into: &mut [u8], timeout: Duration) -> Result<usize, PortError> {
        (**self).read(into, timeout)
    }
    fn discard_input(&mut self) -> Result<(), PortError> {
        (**self).discard_input()
    }
    fn elapsed(&self) -> Duration {
        (**self).elapsed()
    }
}

/// Where a logger is to be reached.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Address {
    /// A serial port of this computer.
    Serial {
        /// As the system calls it.
        name: String,
        /// Bits per second.
        baud: u32,
    },
    /// A TCP port, written `tcp:HOST:PORT`.
    Tcp {
        /// Host name or address.
        host: String,
        /// Port number.
        port: u16,
    },
}

impl Address {
    /// Reads what the user typed: `tcp:HOST:PORT` (an IPv6 address in brackets), or else the name of
    /// a serial port, which is taken as it stands.
    ///
    /// # Errors
    /// [`PortError::BadAddress`] when `tcp:` is not followed by a host and a port number.
    pub fn parse(text: &str, baud: u32) -> Result<Self, PortError> {
        let Some(rest) = text.strip_prefix("tcp:") else {
            return Ok(Self::Serial { name: text.to_owned(), baud });
        };
        let parts = rest.rsplit_once(':').and_then(|(host, port)| {
            let bare = host.strip_prefix('[').and_then(|host| host.strip_suffix(']'));
            let host = bare.unwrap_or(host);
            // Without brackets, `::1` would lose its last group to the port.
            let plain = !host.is_empty() && (bare.is_some() || !host.contains(':'));
            port.parse().ok().filter(|port| *port != 0 && plain).map(|port| (host, port))
        });
        match parts {
            Some((host, port)) => Ok(Self::Tcp { host: host.to_owned(), port }),
            None => Err(PortError::BadAddress { text: text.to_owned() }),
        }
    }

    /// Opens the port.
    ///
    /// # Errors
    /// See [`PortError`]: each cause has its own.
    pub fn open(&self) -> Result<Box<dyn Transport>, PortError> {
        match self {
            Self::Serial { name, baud } => Ok(Box::new(SerialTransport::open(name, *baud)?)),
            Self::Tcp { host, port } => Ok(Box::new(TcpTransport::open(host, *port)?)),
        }
    }
}

impl std::fmt::Display for Address {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Serial { name, .. } => f.write_str(name),
            Self::Tcp { host, port } if host.contains(':') => write!(f, "tcp:[{host}]:{port}"),
            Self::Tcp { host, port } => write!(f, "tcp:{host}:{port}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_taken_as_typed() {
        let tcp = |host: &str, port| Address::Tcp { host: host.into(), port };
        for (text, expected) in [
            ("tcp:192.0.2.7:4001", Some(tcp("192.0.2.7", 4001))),
            ("tcp:[2001:db8::7]:4001", Some(tcp("2001:db8::7", 4001))),
            ("tcp:bridge.example:23", Some(tcp("bridge.example", 23))),
            ("tcp:bridge.example", None),
            ("tcp::4001", None),
            ("tcp:bridge.example:0", None),
            ("tcp:bridge.example:70000", None),
            ("tcp:2001:db8::7:4001", None),
            ("/dev/ttyUSB0", Some(Address::Serial { name: "/dev/ttyUSB0".into(), baud: BAUD })),
            ("com3", Some(Address::Serial { name: "com3".into(), baud: BAUD })),
            ("TCP:x:1", Some(Address::Serial { name: "TCP:x:1".into(), baud: BAUD })),
        ] {
            let address = Address::parse(text, BAUD);
            assert_eq!(address.as_ref().ok(), expected.as_ref(), "{text}");
            if let Ok(address) = address {
                assert_eq!(address.to_string(), text);
            }
        }
    }
}
