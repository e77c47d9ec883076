//! Which serial ports there are.

use super::{BAUD, PortError, SerialTransport};
use serialport::SerialPortType;

/// A serial port of this computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PortInfo {
    /// What to call it.
    pub name: String,
    /// USB vendor id and product id, for a USB device.
    pub usb: Option<(u16, u16)>,
    /// Serial number of the USB device.
    pub serial_number: Option<String>,
    /// Product name of the USB device.
    pub product: Option<String>,
    /// Whether it can be opened now.
    pub access: Access,
}

/// Whether a port can be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Access {
    /// It can.
    Open,
    /// The user may not; with the reason.
    Denied(String),
    /// Another program has it; with the reason.
    Busy(String),
    /// It cannot, for another reason.
    Unusable(String),
}

/// The serial ports that the system lists, in order of their names, those that cannot be opened
/// included. Ptys and some adapters are not listed and can still be named.
///
/// Each port is opened for a moment to see whether that is allowed, which raises its DTR line.
///
/// # Errors
/// [`PortError::NoList`] when the system does not say.
pub fn list() -> Result<Vec<PortInfo>, PortError> {
    // The library takes this folder for granted.
    if cfg!(target_os = "linux") && !std::path::Path::new("/sys/class/tty").is_dir() {
        return Err(PortError::NoList { detail: "there is no /sys/class/tty".to_owned() });
    }
    let found = serialport::available_ports()
        .map_err(|error| PortError::NoList { detail: error.description })?;
    let mut ports: Vec<PortInfo> = found
        .into_iter()
        .map(|port| {
            let usb = match port.port_type {
                SerialPortType::UsbPort(usb) => Some(usb),
                _ => None,
            };
            PortInfo {
                access: access(&port.port_name),
                name: port.port_name,
                usb: usb.as_ref().map(|usb| (usb.vid, usb.pid)),
                serial_number: usb.as_ref().and_then(|usb| usb.serial_number.clone()),
                product: usb.and_then(|usb| usb.product),
            }
        })
        .collect();
    ports.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(ports)
}

/// Whether the serial port `name` can be opened now, by opening it.
#[must_use]
pub fn access(name: &str) -> Access {
    match SerialTransport::open(name, BAUD) {
        Ok(_) => Access::Open,
        Err(PortError::Denied { detail, .. }) => Access::Denied(detail),
        Err(PortError::Busy { detail, .. }) => Access::Busy(detail),
        Err(error) => Access::Unusable(error.to_string()),
    }
}
