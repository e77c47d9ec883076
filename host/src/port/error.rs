//! What can go wrong with a port, each cause on its own.

/// Why a port cannot be used. Each message names the port, the cause and what to do next.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PortError {
    /// The address cannot be read.
    #[error("`{text}` is no TCP address: write tcp:HOST:PORT, an IPv6 address in brackets")]
    BadAddress {
        /// What was typed.
        text: String,
    },
    /// There is no such port.
    #[error(
        "there is no port {port}: plug the logger in, and look at what `glueday ports` lists ({detail})"
    )]
    Absent {
        /// The port.
        port: String,
        /// The system's words.
        detail: String,
    },
    /// The user may not open the port.
    #[error(
        "no permission to open {port} ({detail}): give this user access to serial ports, then log in again"
    )]
    Denied {
        /// The port.
        port: String,
        /// The system's words.
        detail: String,
    },
    /// Another program has the port open.
    #[error("{port} is in use by another program ({detail}): close it there, then try again")]
    Busy {
        /// The port.
        port: String,
        /// The system's words.
        detail: String,
    },
    /// The name belongs to something that is no serial port.
    #[error("{port} is {what}, not a serial port: look at what `glueday ports` lists")]
    NotSerial {
        /// The port.
        port: String,
        /// What it is.
        what: &'static str,
    },
    /// The system refuses for another reason.
    #[error("cannot open {port}: {detail}")]
    CannotOpen {
        /// The port.
        port: String,
        /// The system's words.
        detail: String,
    },
    /// The line broke after it was open.
    #[error(
        "the connection through {port} ended ({detail}): check plug and power, then pull again"
    )]
    Gone {
        /// The port.
        port: String,
        /// The system's words.
        detail: String,
    },
    /// The port is open, but accepts no bytes.
    #[error("{port} takes no bytes: flow control holds the line, or nobody is at the other end")]
    NotTaking {
        /// The port.
        port: String,
    },
    /// The host name has no address.
    #[error("cannot find the host of {port} ({detail}): check its name and the network")]
    Unresolved {
        /// The port.
        port: String,
        /// The system's words.
        detail: String,
    },
    /// The host answered that nothing listens at the port.
    #[error("{port} refuses the connection: check the port number, and that the server runs there")]
    Refused {
        /// The port.
        port: String,
    },
    /// The host could not be reached.
    #[error("cannot reach {port} ({detail}): check the address and the network")]
    Unreachable {
        /// The port.
        port: String,
        /// The system's words.
        detail: String,
    },
    /// The list of ports cannot be had.
    #[error("the system does not list its serial ports ({detail}): name the port instead")]
    NoList {
        /// The system's words.
        detail: String,
    },
}
