//! Writing a year of one-minute samples of all four channels as a table: 525,600 rows.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot start may stop")]

use std::io::Write;

use divan::Bencher;
use divan::counter::ItemsCount;
use glueday::archive::{ImportRow, import_blocks};
use glueday::export::samples::{self, Ask};
use glueday::export::{About, Format, Log, Origin, Span, sink};
use glueday_types::{CentiCelsius, CentiPercent, LoggerId};

const MINUTES: u32 = 365 * 24 * 60;

fn main() {
    divan::main();
}

/// Counts what is written and keeps none of it.
struct Count(u64);

impl Write for Count {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0 += bytes.len() as u64;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

fn year() -> Vec<Vec<u8>> {
    let hundredths = |value: u32| Ok(CentiCelsius(i16::try_from(value).unwrap()));
    let rows: Vec<ImportRow> = (0..MINUTES)
        .map(|i| {
            let noise = 2_654_435_761_u32.wrapping_mul(i) >> 28;
            ImportRow {
                utc_s: 1_609_459_200 + i64::from(i) * 60,
                slab: hundredths(1950 + i / 60 % 300 + noise),
                air: hundredths(2000 + noise),
                air_rh: Ok(CentiPercent(u16::try_from(3800 + i / 97 % 1200 + noise).unwrap())),
                supply: hundredths(2800 + noise),
                line: u64::from(i) + 2,
            }
        })
        .collect();
    import_blocks(&rows, LoggerId(*b"benchlog")).unwrap().blocks
}

fn run(bencher: Bencher<'_, '_>, format: Format) {
    let blocks = year();
    let columns = samples::columns(false, false);
    let origin = Origin { logger: "62656e63686c6f67".to_owned(), name: None, room: None };
    let ask = Ask { room: None, local: None, span: Span::default(), dated_only: false };
    bencher.counter(ItemsCount::new(MINUTES)).bench(|| {
        let mut out = Count(0);
        let log = Log::new(blocks.iter().map(Vec::as_slice));
        let mut sink = sink(format, &columns, &About::default(), &mut out).unwrap();
        let counts = samples::write(&log, &origin, &ask, sink.as_mut()).unwrap();
        sink.finish().unwrap();
        drop(sink);
        assert_eq!(counts.rows, u64::from(MINUTES));
        out.0
    });
}

#[divan::bench(sample_count = 10)]
fn csv(bencher: Bencher<'_, '_>) {
    run(bencher, Format::Csv);
}

#[divan::bench(sample_count = 10)]
fn json_lines(bencher: Bencher<'_, '_>) {
    run(bencher, Format::JsonLines);
}

#[cfg(feature = "parquet")]
#[divan::bench(sample_count = 10)]
fn parquet(bencher: Bencher<'_, '_>) {
    run(bencher, Format::Parquet);
}
