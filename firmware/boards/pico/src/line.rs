//! The USB serial line.
//!
//! It is polled: whenever the board wakes, and while the probes wait. In between, and while the flash
//! is erased, the USB controller tells the host by itself to ask again (NAK), which the host does for
//! seconds before it gives up; nothing is lost and the port stays open.

use core::cell::RefCell;
use glueday_types::frame::FRAME_END;
use rp2040_hal::usb::UsbBus;
use usb_device::bus::UsbBusAllocator;
use usb_device::device::{
    StringDescriptors, UsbDevice, UsbDeviceBuilder, UsbDeviceState, UsbVidPid,
};
use usb_device::{LangID, UsbError};
use usbd_serial::{SerialPort, USB_CLASS_CDC};

/// An identity that is open to all for tests: good for a board that one builds for
/// oneself. Whoever hands boards out needs a number of their own. The host finds the logger by its
/// answer, not by this.
const TEST_IDENTITY: UsbVidPid = UsbVidPid(0x1209, 0x0001);

/// The longest that a device may draw before it is told otherwise, 100 mA; it draws much less.
const MAX_POWER_MA: usize = 100;

/// The line. The loop and the probes' waits share it.
pub(crate) struct Line<'a> {
    state: RefCell<State<'a>>,
}

struct State<'a> {
    device: UsbDevice<'a, UsbBus>,
    port: SerialPort<'a, UsbBus>,
    /// Whether somebody listened at the last poll.
    open: bool,
    /// Whether DTR was raised at the last poll.
    raised: bool,
    /// Whether bytes came in since nobody listened: some hosts never raise DTR.
    heard: bool,
    /// Whether nobody listened for a while since that was last asked.
    hung_up: bool,
    /// Whether what the last peer left unread is still to be ended.
    owes_end: bool,
}

impl<'a> Line<'a> {
    /// The line on `bus`; `serial` is what the host sees as its serial number. `None` when the
    /// controller has no room for it.
    pub(crate) fn new(bus: &'a UsbBusAllocator<UsbBus>, serial: &'a str) -> Option<Self> {
        let port = SerialPort::new(bus);
        let strings = StringDescriptors::new(LangID::EN)
            .manufacturer("glueday")
            .product("glueday logger")
            .serial_number(serial);
        let device = UsbDeviceBuilder::new(bus, TEST_IDENTITY)
            .strings(&[strings])
            .ok()?
            .device_class(USB_CLASS_CDC)
            // Small packets need answers within microseconds, which a board that polls does not give.
            .max_packet_size_0(64)
            .ok()?
            .max_power(MAX_POWER_MA)
            .ok()?
            .build();
        let state = State {
            device,
            port,
            open: false,
            raised: false,
            heard: false,
            hung_up: false,
            owes_end: false,
        };
        Some(Self { state: RefCell::new(state) })
    }

    /// Does what the host wants done; returns whether there was something.
    pub(crate) fn poll(&self) -> bool {
        self.state.try_borrow_mut().is_ok_and(|mut state| state.poll())
    }

    /// Whether somebody listens, and has done so without a break since this was last asked.
    pub(crate) fn has_peer(&self) -> bool {
        self.state.try_borrow_mut().is_ok_and(|mut state| {
            state.poll();
            let hung_up = core::mem::take(&mut state.hung_up);
            state.open && !hung_up
        })
    }

    /// Moves bytes that came in into `into`, and returns how many.
    pub(crate) fn receive(&self, into: &mut [u8]) -> usize {
        self.state.try_borrow_mut().map_or(0, |mut state| {
            let count = state.port.read(into).unwrap_or(0);
            state.heard |= count > 0;
            count
        })
    }

    /// Hands bytes to the controller, and returns how many it took.
    pub(crate) fn send(&self, bytes: &[u8]) -> usize {
        self.state.try_borrow_mut().map_or(0, |mut state| {
            if state.owes_end {
                match state.port.write(&[FRAME_END]) {
                    Ok(_) => state.owes_end = false,
                    Err(_) => return 0,
                }
            }
            state.port.write(bytes).unwrap_or(0)
        })
    }
}

impl State<'_> {
    fn poll(&mut self) -> bool {
        let happened = self.device.poll(&mut [&mut self.port]);
        if happened {
            // What did not fit before may fit now. That more waits is not an error.
            let _: Result<(), UsbError> = self.port.flush();
        }
        let configured = self.device.state() == UsbDeviceState::Configured;
        let raised = self.port.dtr();
        // That DTR falls ends it, whatever was heard before.
        if self.open && (!configured || (self.raised && !raised)) {
            self.hung_up = true;
            // Half a frame to the last peer may be in the controller; the next peer must see its end.
            self.owes_end = true;
            self.heard = false;
            self.drop_received();
        }
        self.raised = raised;
        self.open = configured && (raised || self.heard);
        happened
    }

    /// Drops what the last peer said and nobody took. The buffers are smaller than the bound.
    fn drop_received(&mut self) {
        let mut bytes = [0; 64];
        for _ in 0..8 {
            if self.port.read(&mut bytes).is_err() {
                return;
            }
        }
    }
}
