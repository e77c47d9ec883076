//! What happens when something happens that cannot: the board restarts, and the log says so.

use core::panic::PanicInfo;
use cortex_m_rt::{ExceptionFrame, exception};

#[panic_handler]
fn panic(info: &PanicInfo<'_>) -> ! {
    #[cfg(feature = "log")]
    defmt::error!("{}", defmt::Display2Format(info));
    #[cfg(not(feature = "log"))]
    let _ = info;
    rp2040_hal::reset()
}

#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    rp2040_hal::reset()
}
