//! The registers of the emulated part, and its page of shared memory.
//!
//! Addresses are those of Arm's application note 385 for the MPS2 board, and of the CMSDK peripherals
//! on it (from memory, and checked by running).

/// A word that something besides the program may change.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Register(usize);

impl Register {
    /// The register at `address`, which must be of the memory map below.
    const fn at(address: usize) -> Self {
        Self(address)
    }

    pub(crate) fn read(self) -> u32 {
        // SAFETY: the address is aligned and of a device or of memory that the linker does not use;
        // both are always there.
        unsafe { core::ptr::with_exposed_provenance::<u32>(self.0).read_volatile() }
    }

    pub(crate) fn write(self, value: u32) {
        // SAFETY: as in `read`; no value of any of these registers changes memory of the program.
        unsafe { core::ptr::with_exposed_provenance_mut::<u32>(self.0).write_volatile(value) }
    }
}

/// A serial line.
#[derive(Clone, Copy, Debug)]
pub(crate) struct UartRegisters {
    pub(crate) data: Register,
    pub(crate) state: Register,
    pub(crate) control: Register,
    pub(crate) interrupts: Register,
    pub(crate) divider: Register,
}

const fn uart(base: usize) -> UartRegisters {
    UartRegisters {
        data: Register::at(base),
        state: Register::at(base + 4),
        control: Register::at(base + 8),
        interrupts: Register::at(base + 12),
        divider: Register::at(base + 16),
    }
}

/// The line to the host.
pub(crate) const UART0: UartRegisters = uart(0x4000_4000);
/// The line to the model of the air probe.
pub(crate) const UART1: UartRegisters = uart(0x4000_5000);

/// A timer that counts down.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TimerRegisters {
    pub(crate) control: Register,
    pub(crate) value: Register,
    pub(crate) reload: Register,
    pub(crate) interrupts: Register,
}

const fn timer(base: usize) -> TimerRegisters {
    TimerRegisters {
        control: Register::at(base),
        value: Register::at(base + 4),
        reload: Register::at(base + 8),
        interrupts: Register::at(base + 12),
    }
}

/// Wakes the main loop.
pub(crate) const TIMER0: TimerRegisters = timer(0x4000_0000);
/// Ends delays.
pub(crate) const TIMER1: TimerRegisters = timer(0x4000_1000);

/// The watchdog.
pub(crate) mod watchdog {
    use super::Register;

    pub(crate) const LOAD: Register = Register::at(0x4000_8000);
    pub(crate) const CONTROL: Register = Register::at(0x4000_8008);
    pub(crate) const CLEAR: Register = Register::at(0x4000_800C);
    pub(crate) const LOCK: Register = Register::at(0x4000_8C00);
}

/// LEDs, one bit each.
pub(crate) const LEDS: Register = Register::at(0x4002_8000);
/// Seconds since the machine was switched on.
pub(crate) const SECONDS: Register = Register::at(0x4002_8010);
/// Counts up at 25 MHz while its prescaler is zero.
pub(crate) const TICKS: Register = Register::at(0x4002_8018);
/// The prescaler.
pub(crate) const TICKS_PRESCALER: Register = Register::at(0x4002_801C);

/// The two lines of the I2C bus: reads their levels, and a write of ones releases.
pub(crate) const WIRES_RELEASE: Register = Register::at(0x4002_A000);
/// A write of ones pulls low.
pub(crate) const WIRES_PULL: Register = Register::at(0x4002_A004);

/// A word behind the RAM of the program, which keeps its value over a reset and not over a loss of
/// power. It stands for the register with the cause of reset that the emulator lacks.
pub(crate) const RESET_CAUSE: Register = Register::at(0x2000_4000);

/// The word of the switchboard at this offset.
pub(crate) const fn switchboard(offset: usize) -> Register {
    Register::at(MEMORY + glueday_bench_tunnel::switchboard::PAGE_AT + offset)
}

/// Where the memory begins that holds the log.
pub(crate) const MEMORY: usize = 0x2100_0000;
