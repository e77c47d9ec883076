//! Format version 1: the number of each variant. If a test here fails, the code is wrong, never the
//! test: these numbers are on flash.

use crate::checks::entry_check;
use crate::v01::{HEADER, HEADER_BYTES};
use glueday_types::{
    Absent, BootReason, CentiCelsius, CentiPercent, Cursor, Entry, Found, MarkKind, Probe, Sample,
};

const ABSENT: [(Absent, u8); 6] = [
    (Absent::NotFitted, 0),
    (Absent::NoAnswer, 1),
    (Absent::BadChecksum, 2),
    (Absent::OutOfRange, 3),
    (Absent::BusFault, 4),
    (Absent::EmptyCell, 5),
];

const BOOT_REASONS: [(BootReason, u8); 6] = [
    (BootReason::PowerOn, 0),
    (BootReason::Watchdog, 1),
    (BootReason::BrownOut, 2),
    (BootReason::Restart, 3),
    (BootReason::ResetPin, 4),
    (BootReason::Unknown, 5),
];

pub(crate) const MARKS: [(MarkKind, u8); 7] = [
    (MarkKind::Button, 0),
    (MarkKind::Delivered, 1),
    (MarkKind::BarrierRolled, 2),
    (MarkKind::GlueStarted, 3),
    (MarkKind::GlueFinished, 4),
    (MarkKind::Sanded, 5),
    (MarkKind::HeatOn, 6),
];

const PROBES: [(Probe, u8); 3] = [(Probe::Slab, 0), (Probe::Air, 1), (Probe::Supply, 2)];

/// A variant that is added fails to compile here: freeze its bytes, then let it in.
fn frozen_variants(entry: &Entry) {
    match entry {
        Entry::Sample(_)
        | Entry::ClockSet { .. }
        | Entry::SettingsChanged { .. }
        | Entry::PowerLow { .. } => {}
        Entry::Boot { reason, .. } => match reason {
            BootReason::PowerOn
            | BootReason::Watchdog
            | BootReason::BrownOut
            | BootReason::Restart
            | BootReason::ResetPin
            | BootReason::Unknown => {}
        },
        Entry::Mark { kind, .. } => match kind {
            MarkKind::Button
            | MarkKind::Delivered
            | MarkKind::BarrierRolled
            | MarkKind::GlueStarted
            | MarkKind::GlueFinished
            | MarkKind::Sanded
            | MarkKind::HeatOn => {}
        },
        Entry::ProbeChanged { probe: Probe::Slab | Probe::Air | Probe::Supply, state, .. } => {
            match state {
                Ok(())
                | Err(
                    Absent::NotFitted
                    | Absent::NoAnswer
                    | Absent::BadChecksum
                    | Absent::OutOfRange
                    | Absent::BusFault
                    | Absent::EmptyCell,
                ) => {}
            }
        }
    }
}

/// `entry` has this body, and this body is `entry`.
fn has_body(entry: Entry, body: &[u8]) {
    frozen_variants(&entry);
    let mut bytes = vec![0x40 + u8::try_from(body.len()).unwrap()];
    bytes.extend_from_slice(body);
    bytes.extend_from_slice(&entry_check(&HEADER_BYTES, 64, &bytes));
    assert_eq!(&Cursor::start(&HEADER).pack(&entry).unwrap()[..], bytes, "{entry:?}");
    assert_eq!(Cursor::start(&HEADER).read(&bytes), Found::Entry(entry));
}

/// This body is of no entry of version 1.
fn is_unknown(body: &[u8]) {
    let mut bytes = vec![0x40 + u8::try_from(body.len()).unwrap()];
    bytes.extend_from_slice(body);
    bytes.extend_from_slice(&entry_check(&HEADER_BYTES, 64, &bytes));
    assert_eq!(Cursor::start(&HEADER).read(&bytes), Found::Unknown, "{body:02X?}");
}

#[test]
fn reasons_for_a_missing_value_in_each_channel() {
    for (absent, number) in ABSENT {
        for channel in 0..4 {
            let here = |at: usize| if at == channel { Err(absent) } else { Ok(()) };
            let entry = Entry::Sample(Sample {
                at_s: 1,
                slab: here(0).map(|()| CentiCelsius(1)),
                air: here(1).map(|()| CentiCelsius(2)),
                air_rh: here(2).map(|()| CentiPercent(3)),
                supply: here(3).map(|()| CentiCelsius(4)),
            });
            // Sample, at_s 1, then each channel: 0 and the value (zigzag but for humidity).
            let mut body = [0, 1, 0, 2, 0, 4, 0, 3, 0, 8];
            // 1 and the reason.
            body[2 + 2 * channel] = 1;
            body[3 + 2 * channel] = number;
            has_body(entry, &body);
        }
        // ProbeChanged, at_s 1, Slab, 1 and the reason.
        let entry = Entry::ProbeChanged { at_s: 1, probe: Probe::Slab, state: Err(absent) };
        has_body(entry, &[5, 1, 0, 1, number]);
    }
    is_unknown(&[5, 1, 0, 1, 6]);
    is_unknown(&[0, 1, 1, 6, 0, 4, 0, 3, 0, 8]);
}

#[test]
fn reasons_of_a_boot() {
    for (reason, number) in BOOT_REASONS {
        // Boot, boot 1, at_s 0, the reason, firmware 0.1.0.
        let entry = Entry::Boot { boot: 1, at_s: 0, reason, firmware: (0, 1, 0) };
        has_body(entry, &[1, 1, 0, number, 0, 1, 0]);
    }
    is_unknown(&[1, 1, 0, 6, 0, 1, 0]);
}

#[test]
fn kinds_of_mark() {
    for (kind, number) in MARKS {
        // Mark, at_s 1, the kind.
        has_body(Entry::Mark { at_s: 1, kind }, &[3, 1, number]);
    }
    is_unknown(&[3, 1, 7]);
}

#[test]
fn probes() {
    for (probe, number) in PROBES {
        // ProbeChanged, at_s 1, the probe, came back.
        has_body(Entry::ProbeChanged { at_s: 1, probe, state: Ok(()) }, &[5, 1, number, 0]);
    }
    is_unknown(&[5, 1, 3, 0]);
}

#[test]
fn kinds_of_entry_end_at_six() {
    is_unknown(&[7]);
    is_unknown(&[7, 1, 2, 3]);
    is_unknown(&[]);
    // One byte more than a Mark has.
    is_unknown(&[3, 1, 0, 0]);
}
