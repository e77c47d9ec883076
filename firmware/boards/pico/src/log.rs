//! Log lines over the debug probe.

use defmt_rtt as _;

// SAFETY: one read of a register that only counts.
defmt::timestamp!("{=u32:us}", unsafe {
    (*rp2040_hal::pac::TIMER::ptr()).timerawl().read().bits()
});
