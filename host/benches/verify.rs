//! How long a check of a record takes: twelve weeks of samples every ten minutes, signed once.

use divan::Bencher;
use ed25519_dalek::{Signer as _, SigningKey};
use glueday::archive::{ImportRow, StoredAttestation, import_blocks};
use glueday::assess::Step;
use glueday::record::pdf_files::extract;
use glueday::record::verify::{Form, Given, Pages, Trust, verify};
use glueday::record::{Evidence, Log, PROGRAM, pdf};
use glueday_types::attest::Signed;
use glueday_types::{CentiCelsius, CentiPercent, LoggerId};
use sha2::{Digest as _, Sha256};

const LOGGER: LoggerId = LoggerId(*b"benchlog");
const START_S: i64 = 1_772_431_200;
const SAMPLES: i64 = 12 * 7 * 144;
const JOB: &str = "[site]\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\n\
                   [[room]]\nname = \"Hall\"\nlogger = \"hall logger\"\n";

fn main() {
    divan::main();
}

fn record() -> Evidence {
    let rows: Vec<ImportRow> = (0..SAMPLES)
        .map(|i| {
            // A day's swing with some noise.
            let swing = i16::try_from((i % 144 - 72).abs()).unwrap_or(0);
            let noise = i16::try_from(i * 7919 % 13).unwrap_or(0);
            ImportRow {
                utc_s: START_S + i * 600,
                slab: Ok(CentiCelsius(2150 + swing + noise)),
                air: Ok(CentiCelsius(2080 - swing + noise)),
                air_rh: Ok(CentiPercent(4100 + swing.unsigned_abs() + noise.unsigned_abs())),
                supply: Ok(CentiCelsius(3200 + swing * 3)),
                line: 1,
            }
        })
        .collect();
    let blocks = import_blocks(&rows, LOGGER).map(|log| log.blocks).unwrap_or_default();
    let key = SigningKey::from_bytes(&[7; 32]);
    let nonce = [1; 16];
    let signed = Signed {
        logger: LOGGER,
        nonce,
        open_block: u32::try_from(blocks.len() - 1).unwrap_or(0),
        open_len: 4096,
        boot: 1,
        uptime_s: u32::try_from(SAMPLES * 600).unwrap_or(0),
        digest: Sha256::digest(blocks.last().map_or(&[][..], Vec::as_slice)).into(),
    };
    let attestation = signed.with_signature(&key.sign(&signed.to_bytes()).to_bytes());
    let at_s = START_S + SAMPLES * 600;
    Evidence {
        program: PROGRAM.to_owned(),
        job_text: JOB.to_owned(),
        step: Step::GlueDown,
        at_s,
        rooms: Vec::new(),
        logs: vec![Log {
            logger: LOGGER,
            name: Some("hall logger".to_owned()),
            public_key: Some(key.verifying_key().to_bytes()),
            blocks,
            attestations: vec![StoredAttestation {
                logger: LOGGER,
                taken_s: at_s,
                nonce,
                attestation,
            }],
            original: None,
            other_copies: Vec::new(),
        }],
    }
}

fn draw(evidence: &Evidence) -> Result<Vec<u8>, String> {
    pdf::draw(evidence).map_err(|error| error.to_string())
}

/// Everything that the command does with a PDF, its pages drawn anew included.
#[divan::bench]
fn twelve_weeks(bencher: Bencher<'_, '_>) {
    let pdf = draw(&record()).unwrap_or_default();
    let check = || {
        let files = extract(&pdf).unwrap_or_default();
        let pages = Some(Pages { form: Form::Pdf, bytes: &pdf, draw: &draw });
        verify(&Given { files: &files, pages, program: PROGRAM, trust: &Trust::default() })
    };
    assert!(check().is_ok_and(|report| report.holds()), "the record of the bench does not hold");
    bencher.bench_local(check);
}

/// The same from a folder, without the pages.
#[divan::bench]
fn twelve_weeks_without_pages(bencher: Bencher<'_, '_>) {
    let files = draw(&record()).ok().and_then(|pdf| extract(&pdf).ok()).unwrap_or_default();
    bencher.bench_local(|| {
        verify(&Given { files: &files, pages: None, program: PROGRAM, trust: &Trust::default() })
    });
}
