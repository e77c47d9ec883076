//! A world's samples as the logger would have written them.

use glueday_types::{
    Absent, BLOCK_LEN, BootReason, CentiCelsius, CentiPercent, Cursor, Entry, Header, LoggerId,
    PackError, Sample, digest,
};

use super::{Boot, STEP_S, World};

/// The blocks of a log, the last one not full yet.
pub(super) fn blocks(world: &World, logger: LoggerId) -> Vec<Vec<u8>> {
    let first = world.boots.first().expect("the logger was started at least once");
    let mut flash = Flash::new(logger, first.number);
    for (i, boot) in world.boots.iter().enumerate() {
        if i > 0 {
            flash.write(&Entry::Boot {
                boot: boot.number,
                at_s: 0,
                reason: BootReason::PowerOn,
                firmware: (1, 0, 0),
            });
        }
        let until_s = world.boots.get(i + 1).map_or(i64::MAX, |next| next.started_s);
        entries(world, boot, until_s).iter().for_each(|entry| flash.write(entry));
    }
    flash.finish()
}

/// What one boot wrote up to the next. Of all at one second syncs come first, samples last.
fn entries(world: &World, boot: &Boot, until_s: i64) -> Vec<Entry> {
    let span = boot.started_s..until_s;
    let at_s = |time_s: i64| u32::try_from(time_s - boot.started_s).expect("after the boot");
    let mut timed: Vec<(i64, u8, Entry)> = Vec::new();
    for (time_s, utc_s) in &boot.syncs {
        assert!(span.contains(time_s), "a sync outside its boot");
        timed.push((*time_s, 0, Entry::ClockSet { at_s: at_s(*time_s), utc_s: *utc_s }));
    }
    for (time_s, interval_s) in &world.intervals {
        if span.contains(time_s) {
            let entry = Entry::SettingsChanged { at_s: at_s(*time_s), interval_s: *interval_s };
            timed.push((*time_s, 1, entry));
        }
    }
    let celsius = |c: Option<f64>| c.and_then(CentiCelsius::from_celsius).ok_or(Absent::NoAnswer);
    let percent = |p: Option<f64>| p.and_then(CentiPercent::from_percent).ok_or(Absent::NoAnswer);
    for reads in world.samples.iter().filter(|reads| span.contains(&reads.time_s)) {
        let sample = Sample {
            at_s: at_s(reads.time_s),
            slab: celsius(reads.slab),
            air: celsius(reads.air),
            air_rh: percent(reads.rh),
            supply: celsius(reads.supply),
        };
        timed.push((reads.time_s, 2, Entry::Sample(sample)));
    }
    timed.sort_by_key(|(time_s, kind, _)| (*time_s, *kind));
    timed.into_iter().map(|(.., entry)| entry).collect()
}

struct Flash {
    header: Header,
    cursor: Cursor,
    block: Vec<u8>,
    whole: Vec<Vec<u8>>,
}

impl Flash {
    fn new(logger: LoggerId, boot: u32) -> Self {
        let header = Header {
            write_unit: 1,
            interval_s: u16::try_from(STEP_S).expect("ten minutes"),
            logger,
            block: 0,
            boot,
            first_entry: 0,
            previous: [0; 32],
        };
        let block = header.to_bytes().to_vec();
        Self { cursor: Cursor::start(&header), header, block, whole: Vec::new() }
    }

    fn write(&mut self, entry: &Entry) {
        let packed = match self.cursor.pack(entry) {
            Ok(packed) => packed,
            Err(PackError::BlockFull) => {
                self.next_block();
                self.cursor.pack(entry).expect("an entry fits into an empty block")
            }
            Err(PackError::TooLong) => panic!("no entry is too long"),
        };
        self.cursor.advance(entry, &packed);
        self.block.extend_from_slice(&packed);
    }

    fn next_block(&mut self) {
        self.block.resize(BLOCK_LEN, 0xFF);
        self.header = Header {
            block: self.header.block + 1,
            boot: self.cursor.boot(),
            interval_s: self.cursor.interval_s(),
            first_entry: self.cursor.number(),
            previous: digest(&self.block),
            ..self.header
        };
        self.cursor = Cursor::start(&self.header);
        self.whole.push(std::mem::replace(&mut self.block, self.header.to_bytes().to_vec()));
    }

    fn finish(mut self) -> Vec<Vec<u8>> {
        self.whole.push(self.block);
        self.whole
    }
}
