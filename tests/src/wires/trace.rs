//! What went over two wires of I2C, read from their edges alone.

use super::Edge;
use std::fmt::Write;

/// Shortest times of standard mode in nanoseconds (I2C-bus specification UM10204, section 6, the
/// table of bus timing; from memory).
mod least {
    pub(super) const CLOCK_LOW: u64 = 4_700;
    pub(super) const CLOCK_HIGH: u64 = 4_000;
    pub(super) const HOLD_START: u64 = 4_000;
    pub(super) const SET_UP_START: u64 = 4_700;
    pub(super) const SET_UP_STOP: u64 = 4_000;
    pub(super) const BUS_FREE: u64 = 4_700;
    pub(super) const SET_UP_DATA: u64 = 250;
}

/// What was said, as `S 90+ 01- P`: a start, bytes in hex each with `+` or `-` for its acknowledge, a
/// stop. A start or stop after a number of bits that is no byte has that number before it, as `3:S`.
#[must_use]
pub fn said(edges: &[Edge]) -> String {
    let mut said = String::new();
    let (mut bits, mut byte) = (0, 0u32);
    for edge in edges {
        let [clock, data] = edge.levels;
        if edge.wire == 0 && edge.high {
            byte = byte << 1 | u32::from(data);
            bits += 1;
            if bits == 9 {
                let sign = if data { '-' } else { '+' };
                let _ = write!(said, "{:02X}{sign} ", byte >> 1 & 0xFF);
                (bits, byte) = (0, 0);
            }
        } else if edge.wire == 1 && clock {
            // The clock before a start or a stop is no bit.
            if bits > 1 {
                let _ = write!(said, "{}:", bits - 1);
            }
            said.push_str(if data { "P " } else { "S " });
            (bits, byte) = (0, 0);
        }
    }
    said.trim_end().to_string()
}

/// The first break of the times of standard mode, if any.
///
/// # Errors
/// Says what was too short, and when.
pub fn keeps_standard_times(edges: &[Edge]) -> Result<(), String> {
    let (mut rose, mut fell, mut changed, mut started, mut stopped) =
        (None, None, None, None::<u64>, None::<u64>);
    let check = |what: &str, from: Option<u64>, to: u64, least: u64| match from {
        Some(from) if to - from < least => {
            Err(format!("{what}: {} ns at {to} ns, at least {least}", to - from))
        }
        _ => Ok(()),
    };
    for edge in edges {
        let now = edge.at_ns;
        let [clock, data] = edge.levels;
        match (edge.wire, edge.high) {
            (0, true) => {
                check("clock low", fell, now, least::CLOCK_LOW)?;
                check("data set up", changed, now, least::SET_UP_DATA)?;
                rose = Some(now);
            }
            (0, false) => {
                check("clock high", rose, now, least::CLOCK_HIGH)?;
                check("start hold", started.take(), now, least::HOLD_START)?;
                fell = Some(now);
            }
            _ if !clock => changed = Some(now),
            _ if data => {
                check("stop set up", rose, now, least::SET_UP_STOP)?;
                stopped = Some(now);
            }
            _ => {
                check("start set up", rose, now, least::SET_UP_START)?;
                check("bus free", stopped.take(), now, least::BUS_FREE)?;
                started = Some(now);
            }
        }
    }
    Ok(())
}
