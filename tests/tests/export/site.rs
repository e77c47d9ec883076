//! A small site in an archive: what the tests export.

use glueday::archive::{Archive, Kept};
use glueday::history::{self, History};
use glueday_tests::programs::{Said, glueday};
use glueday_types::{
    Absent, BLOCK_LEN, BootReason, CentiCelsius, CentiPercent, Cursor, Entry, Header, LoggerId,
    MarkKind, PackError, Probe, Sample, digest,
};
use std::path::PathBuf;

/// 2026-10-24T00:00Z: the clocks of Europe go back in the night that follows.
pub(crate) const START: i64 = 1_792_800_000;
/// Sampling interval.
pub(crate) const STEP_S: u32 = 600;
/// A name with everything that a table has to quote.
pub(crate) const ROOM: &str = "Hall, \"north\" – größte";

/// A folder with an archive and a job.
pub(crate) struct Site {
    pub(crate) folder: tempfile::TempDir,
}

/// A log that is being written.
pub(crate) struct Flash {
    header: Header,
    cursor: Cursor,
    block: Vec<u8>,
    whole: Vec<Vec<u8>>,
}

impl Flash {
    pub(crate) fn new(logger: LoggerId, boot: u32) -> Self {
        let interval_s = u16::try_from(STEP_S).unwrap();
        let header = Header {
            write_unit: 1,
            interval_s,
            logger,
            block: 0,
            boot,
            first_entry: 0,
            previous: [0; 32],
        };
        let block = header.to_bytes().to_vec();
        Self { cursor: Cursor::start(&header), header, block, whole: Vec::new() }
    }

    pub(crate) fn write(&mut self, entry: &Entry) {
        let packed = match self.cursor.pack(entry) {
            Err(PackError::BlockFull) => {
                self.next_block();
                self.cursor.pack(entry)
            }
            packed => packed,
        }
        .unwrap();
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

    pub(crate) fn finish(mut self) -> Vec<Vec<u8>> {
        self.whole.push(self.block);
        self.whole
    }
}

/// Readings in hundredths at a number of the log: no two rows alike, all of them within a building.
pub(crate) fn sample(at_s: u32, i: u32) -> Sample {
    let noise = 2_654_435_761_u32.wrapping_mul(i + 1) >> 24;
    let i = i64::from(i);
    let celsius = |value: i64| Ok(CentiCelsius(i16::try_from(value).unwrap()));
    let noise = i64::from(noise);
    Sample {
        at_s,
        slab: celsius(1900 + i % 300 + noise),
        air: celsius(2000 - i % 200 + noise),
        air_rh: Ok(CentiPercent(u16::try_from(4500 + i % 1000 - noise).unwrap())),
        supply: celsius(-250 + i % 3000),
    }
}

/// Three boots: one that was never dated, two days with faults of every kind, and one more after a cut.
pub(crate) fn log(logger: LoggerId) -> Vec<Vec<u8>> {
    let mut flash = Flash::new(logger, 1);
    let boot = |boot, reason| Entry::Boot { boot, at_s: 0, reason, firmware: (1, 2, 3) };
    flash.write(&boot(1, BootReason::PowerOn));
    for i in 0..5 {
        flash.write(&Entry::Sample(sample((i + 1) * STEP_S, i)));
    }
    flash.write(&Entry::Mark { at_s: 3_100, kind: MarkKind::Delivered });
    flash.write(&boot(2, BootReason::Watchdog));
    flash.write(&Entry::ClockSet { at_s: 30, utc_s: START + 30 });
    for i in 0..288 {
        let at_s = (i + 1) * STEP_S;
        let mut sample = sample(at_s, i);
        match i {
            20..23 => sample.slab = Err(Absent::NoAnswer),
            30 => {
                (sample.air, sample.air_rh) = (Err(Absent::BadChecksum), Err(Absent::BadChecksum));
            }
            40 => sample.supply = Err(Absent::BusFault),
            50 => sample.air_rh = Err(Absent::OutOfRange),
            _ => {}
        }
        if i == 20 {
            let state = Err(Absent::NoAnswer);
            flash.write(&Entry::ProbeChanged { at_s, probe: Probe::Slab, state });
        }
        if i == 23 {
            flash.write(&Entry::ProbeChanged { at_s, probe: Probe::Slab, state: Ok(()) });
        }
        flash.write(&Entry::Sample(sample));
    }
    let end_s = 289 * STEP_S;
    flash.write(&Entry::Mark { at_s: end_s, kind: MarkKind::BarrierRolled });
    flash.write(&Entry::PowerLow { at_s: end_s + 1, supply_mv: 3_300 });
    flash.write(&Entry::SettingsChanged { at_s: end_s + 2, interval_s: 60 });
    flash.write(&boot(3, BootReason::PowerOn));
    let later = START + 3 * 86_400;
    for i in 0..10 {
        flash.write(&Entry::Sample(sample(60 * (i + 1), i)));
    }
    flash.write(&Entry::ClockSet { at_s: 700, utc_s: later });
    flash.finish()
}

/// The job: two rooms, one of them without a logger; the probes of the first read too high.
const JOB: &str = r#"
[site]
name = "Test house"
time-zone = "Europe/Berlin"
area = "100 m2"
units = "metric"

[[room]]
name = "Hall, \"north\" – größte"
logger = "hall logger"

[[room]]
name = "Bath"

[[probe]]
room = "Hall, \"north\" – größte"
channel = "slab"
[[probe.check]]
date = 2026-10-25
method = "ice"
reference = "0 C"
reading = "0.3 C"
"#;

impl Site {
    /// With the log above.
    pub(crate) fn new() -> Self {
        Self::with(&log(LoggerId(*b"export01")))
    }

    /// With another log.
    pub(crate) fn with(blocks: &[Vec<u8>]) -> Self {
        let site = Self { folder: tempfile::tempdir().unwrap() };
        let mut archive = Archive::open_or_create(&site.path("archive.sqlite")).unwrap();
        let logger = Header::from_bytes(&blocks[0]).unwrap().logger;
        archive.adopt(logger, "hall logger", None, START).unwrap();
        for (i, block) in blocks.iter().enumerate() {
            let kept = if i + 1 < blocks.len() {
                archive.put_block(logger, block, "a test", START).unwrap()
            } else {
                archive.extend_open_block(logger, block, "a test", START).unwrap()
            };
            assert_eq!(kept, Kept::Stored);
        }
        std::fs::write(site.path("job.toml"), JOB).unwrap();
        site
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Runs `glueday` in the folder's archive; `@name` in an argument is a file of the folder.
    pub(crate) fn run(&self, args: &[&str]) -> Said {
        let args: Vec<String> = args
            .iter()
            .map(|arg| match arg.strip_prefix('@') {
                Some(name) => self.path(name).display().to_string(),
                None => (*arg).to_owned(),
            })
            .collect();
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        glueday(&self.path("archive.sqlite"), &args)
    }

    /// Exports, and gives the bytes of `file`.
    pub(crate) fn export(&self, args: &[&str], file: &str) -> Vec<u8> {
        let out = format!("@{file}");
        let said = self.run(&[&["export"], args, &["-o", &out]].concat());
        assert_eq!(said.code, Some(0), "{}", said.err);
        std::fs::read(self.path(file)).unwrap()
    }

    /// The history of a log of the archive, by its name.
    pub(crate) fn history(&self, name: &str) -> History {
        let archive = Archive::open_read_only(&self.path("archive.sqlite")).unwrap();
        let logger = archive.find_logger(name).unwrap();
        let blocks = archive.blocks(logger.id).unwrap();
        history::build(blocks.iter().map(|block| block.bytes.as_slice()))
    }
}

/// A table of CSV: header and rows by name, read by the `csv` crate.
pub(crate) fn table(bytes: &[u8]) -> Vec<std::collections::BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(bytes);
    reader.deserialize().map(|row| row.unwrap()).collect()
}
