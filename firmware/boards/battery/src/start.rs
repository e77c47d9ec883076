//! Why the logger started, and who it is.

use embassy_stm32::pac::{IWDG, RCC, iwdg};
use glueday_types::{BootReason, LoggerId, digest};

/// What reset the chip. Reading it once clears it.
///
/// A supply that falls too low cannot be told from one that is switched on: the chip sets the same
/// flag for both.
pub(crate) fn boot_reason() -> BootReason {
    let flags = RCC.csr().read();
    RCC.csr().modify(|w| w.set_rmvf(true));
    if flags.iwdgrstf() || flags.wwdgrstf() {
        BootReason::Watchdog
    } else if flags.sftrstf() || flags.oblrstf() {
        BootReason::Restart
    } else if flags.borrstf() {
        BootReason::PowerOn
    } else if flags.pinrstf() {
        // Set by every reset, because the chip pulls the pin itself; alone it was the pin.
        BootReason::ResetPin
    } else {
        BootReason::Unknown
    }
}

/// Starts the watchdog with the longest time that it has, about half a minute, before anything else
/// that could hang: the crystal may not come up.
pub(crate) fn guard() {
    IWDG.kr().write(|w| w.set_key(iwdg::vals::Key::START));
    IWDG.kr().write(|w| w.set_key(iwdg::vals::Key::ENABLE));
    IWDG.pr().write(|w| w.set_pr(iwdg::vals::Pr::DIVIDE_BY256));
}

/// The id: from the number that the maker of the chip gave it, which is longer.
pub(crate) fn logger_id() -> LoggerId {
    let [a, b, c, d, e, f, g, h, ..] = digest(&embassy_stm32::uid::uid());
    LoggerId([a, b, c, d, e, f, g, h])
}
