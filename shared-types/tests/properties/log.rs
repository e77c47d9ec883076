//! Entries of any kind, and a writer that lays them into blocks.

use glueday_types::{
    Absent, BLOCK_LEN, BootReason, CentiCelsius, CentiPercent, Cursor, Entry, Header, LoggerId,
    MarkKind, PackError, Probe, Reading, Sample, digest,
};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;

pub(crate) const WRITE_UNITS: [u8; 6] = [1, 2, 4, 8, 16, 32];

fn absent() -> impl Strategy<Value = Absent> {
    select(vec![
        Absent::NotFitted,
        Absent::NoAnswer,
        Absent::BadChecksum,
        Absent::OutOfRange,
        Absent::BusFault,
        Absent::EmptyCell,
    ])
}

fn reading<T: core::fmt::Debug + Clone + 'static>(
    value: impl Strategy<Value = T> + 'static,
) -> impl Strategy<Value = Reading<T>> {
    prop_oneof![3 => value.prop_map(Ok), 1 => absent().prop_map(Err)]
}

fn celsius() -> impl Strategy<Value = Reading<CentiCelsius>> {
    reading(any::<i16>().prop_map(CentiCelsius))
}

fn any_sample() -> impl Strategy<Value = Sample> {
    let percent = reading(any::<u16>().prop_map(CentiPercent));
    (any::<u32>(), celsius(), celsius(), percent, celsius())
        .prop_map(|(at_s, slab, air, air_rh, supply)| Sample { at_s, slab, air, air_rh, supply })
}

fn any_entry() -> impl Strategy<Value = Entry> {
    let reasons = vec![
        BootReason::PowerOn,
        BootReason::Watchdog,
        BootReason::BrownOut,
        BootReason::Restart,
        BootReason::ResetPin,
        BootReason::Unknown,
    ];
    let kinds = vec![
        MarkKind::Button,
        MarkKind::Delivered,
        MarkKind::BarrierRolled,
        MarkKind::GlueStarted,
        MarkKind::GlueFinished,
        MarkKind::Sanded,
        MarkKind::HeatOn,
    ];
    let probes = select(vec![Probe::Slab, Probe::Air, Probe::Supply]);
    let state = prop_oneof![Just(Ok(())), absent().prop_map(Err)];
    prop_oneof![
        any_sample().prop_map(Entry::Sample),
        (any::<u32>(), any::<u32>(), select(reasons), any::<(u8, u8, u8)>()).prop_map(
            |(boot, at_s, reason, firmware)| Entry::Boot { boot, at_s, reason, firmware }
        ),
        any::<(u32, i64)>().prop_map(|(at_s, utc_s)| Entry::ClockSet { at_s, utc_s }),
        (any::<u32>(), select(kinds)).prop_map(|(at_s, kind)| Entry::Mark { at_s, kind }),
        any::<(u32, u16)>()
            .prop_map(|(at_s, interval_s)| Entry::SettingsChanged { at_s, interval_s }),
        (any::<u32>(), probes, state).prop_map(|(at_s, probe, state)| Entry::ProbeChanged {
            at_s,
            probe,
            state
        }),
        any::<(u32, u16)>().prop_map(|(at_s, supply_mv)| Entry::PowerLow { at_s, supply_mv }),
    ]
}

/// What happens next: anything, or (more often) a sample near the one before, some intervals later.
#[derive(Clone, Debug)]
enum Next {
    Any(Entry),
    Near { late_s: u32, changes: [i16; 4] },
}

/// Up to `most` entries, in long runs of steps with all else between.
pub(crate) fn entries(most: usize) -> impl Strategy<Value = Vec<Entry>> {
    let change = prop_oneof![8 => -200..200_i16, 1 => any::<i16>()];
    let late_s = prop_oneof![9 => Just(0), 1 => 0..3_u32];
    let near = (late_s, [change.clone(), change.clone(), change.clone(), change])
        .prop_map(|(late_s, changes)| Next::Near { late_s, changes });
    let next = prop_oneof![1 => any_entry().prop_map(Next::Any), 4 => near];
    (any_sample(), 1..2000_u16, vec(next, 0..=most)).prop_map(|(first, interval_s, script)| {
        let (mut last, mut interval_s) = (first, interval_s);
        let interval = Entry::SettingsChanged { at_s: 0, interval_s };
        let rest = script.into_iter().map(|next| match next {
            Next::Any(entry) => {
                match entry {
                    Entry::Sample(sample) => last = sample,
                    Entry::SettingsChanged { interval_s: new, .. } => interval_s = new.max(1),
                    _ => {}
                }
                entry
            }
            Next::Near { late_s, changes: [slab, air, air_rh, supply] } => {
                let warmer = |reading: Reading<CentiCelsius>, by: i16| {
                    reading.map(|t| CentiCelsius(t.0.saturating_add(by)))
                };
                last = Sample {
                    at_s: last.at_s.saturating_add(u32::from(interval_s)).saturating_add(late_s),
                    slab: warmer(last.slab, slab),
                    air: warmer(last.air, air),
                    air_rh: last.air_rh.map(|h| CentiPercent(h.0.saturating_add_signed(air_rh))),
                    supply: warmer(last.supply, supply),
                };
                Entry::Sample(last)
            }
        });
        core::iter::once(interval).chain(rest).collect()
    })
}

pub(crate) fn header(write_unit: u8) -> Header {
    Header {
        write_unit,
        interval_s: 600,
        logger: LoggerId(*b"exampleA"),
        block: 0,
        boot: 1,
        first_entry: u32::MAX - 20,
        previous: [0; 32],
    }
}

/// One block and the place where it goes on.
#[derive(Clone, Debug)]
pub(crate) struct Block {
    pub(crate) bytes: [u8; BLOCK_LEN],
    pub(crate) cursor: Cursor,
    pub(crate) header: Header,
}

impl Block {
    pub(crate) fn new(header: Header) -> Self {
        let mut block = Self { bytes: [0xFF; BLOCK_LEN], cursor: Cursor::start(&header), header };
        block.program(0, &header.to_bytes());
        block
    }

    /// Only ever onto erased bytes, as flash demands.
    pub(crate) fn program(&mut self, at: usize, bytes: &[u8]) {
        let place = &mut self.bytes[at..at + bytes.len()];
        assert!(place.iter().all(|byte| *byte == 0xFF), "programmed twice at {at}");
        place.copy_from_slice(bytes);
    }

    pub(crate) fn append(&mut self, entry: &Entry) -> Result<(), PackError> {
        let packed = self.cursor.pack(entry)?;
        assert_eq!(packed.len() % usize::from(self.header.write_unit), 0);
        self.program(usize::from(self.cursor.offset()), &packed);
        self.cursor.advance(entry, &packed);
        Ok(())
    }

    /// The block that comes when this one is full.
    pub(crate) fn successor(&self) -> Self {
        Self::new(Header {
            block: self.header.block + 1,
            boot: self.cursor.boot(),
            interval_s: self.cursor.interval_s(),
            first_entry: self.cursor.number(),
            previous: digest(&self.bytes),
            ..self.header
        })
    }
}

/// One block with as many of `entries` as fit.
pub(crate) fn block(write_unit: u8, entries: &[Entry]) -> (Block, usize) {
    let mut block = Block::new(header(write_unit));
    let fit = entries.iter().take_while(|entry| block.append(entry).is_ok()).count();
    (block, fit)
}
