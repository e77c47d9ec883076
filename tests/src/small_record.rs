//! A small record of an invented site, made without archive and command: two rooms, one with a logger
//! that signs and one with an imported file.

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    clippy::missing_panics_doc,
    reason = "only ever called by tests, with small numbers"
)]

use ed25519_dalek::{Signer as _, SigningKey};
use glueday::archive::{StoredAttestation, import_file};
use glueday::assess::Step;
use glueday::intake::Mapping;
use glueday::record::{Case, Evidence, Log, Original, PROGRAM, files, pdf};
use glueday_types::attest::Signed;
use glueday_types::{
    BLOCK_LEN, BootReason, CentiCelsius, CentiPercent, Cursor, Entry, HEADER_LEN, Header, LoggerId,
    Sample, digest,
};
use sha2::Digest as _;
use std::collections::BTreeMap;

/// The files of a record by their names.
pub type Files = BTreeMap<String, Vec<u8>>;

/// 2026-03-02 06:00:00 UTC.
pub const START_S: i64 = 1_772_431_200;
/// The logger of the hall.
pub const HALL: LoggerId = LoggerId(*b"hall-log");
/// From which the hall's logger makes its keys.
pub const SEED: [u8; 32] = [7; 32];
const INTERVAL_S: u32 = 1800;

/// The job of one room.
pub const JOB: &str = "\
[site]\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\nunits = \"metric\"\n\
[[room]]\nname = \"Hall\"\nlogger = \"hall logger\"\n";
const BATH: &str = "[[room]]\nname = \"Bath\"\nlogger = \"bath file\"\n";

/// How the log of the hall is written.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// Whose it is.
    pub logger: LoggerId,
    /// From which its keys are made.
    pub seed: [u8; 32],
    /// Samples in each block but the first, which has as many and the start.
    pub samples: u32,
    /// How many blocks.
    pub blocks: u32,
    /// `previous` of block 0.
    pub root: [u8; 32],
    /// What the numbers of entries are off by from block 2 on.
    pub skipped: u32,
    /// Added to each slab reading, in 0.01 °C.
    pub warmer: i16,
}

/// Two days, in four blocks.
pub const PLAN: Plan =
    Plan { logger: HALL, seed: SEED, samples: 24, blocks: 4, root: [0; 32], skipped: 0, warmer: 0 };

/// Blocks, each but the last one filled up with erased bytes long before it is full.
pub fn blocks(plan: &Plan) -> Vec<Vec<u8>> {
    let mut blocks: Vec<Vec<u8>> = Vec::new();
    let (mut number, mut at_s) = (0, 600);
    for block in 0..plan.blocks {
        let mut first_entry = number;
        if block >= 2 {
            first_entry += plan.skipped;
        }
        let header = Header {
            write_unit: 1,
            interval_s: INTERVAL_S as u16,
            logger: plan.logger,
            block,
            boot: 1,
            first_entry,
            previous: blocks.last().map_or(plan.root, |block| digest(block)),
        };
        let mut bytes = header.to_bytes().to_vec();
        let mut cursor = Cursor::start(&header);
        let mut append = |entry: Entry| {
            let packed = cursor.pack(&entry).unwrap();
            bytes.extend_from_slice(&packed);
            cursor.advance(&entry, &packed);
            number += 1;
        };
        if block == 0 {
            let boot =
                Entry::Boot { boot: 1, at_s: 0, reason: BootReason::PowerOn, firmware: (0, 1, 0) };
            append(boot);
            append(Entry::ClockSet { at_s: 60, utc_s: START_S + 60 });
        }
        for _ in 0..plan.samples {
            let wave = (at_s / INTERVAL_S % 48) as i16;
            append(Entry::Sample(Sample {
                at_s,
                slab: Ok(CentiCelsius(2150 + wave + plan.warmer)),
                air: Ok(CentiCelsius(2080 - wave * 2)),
                air_rh: Ok(CentiPercent(4100 + wave as u16 * 3)),
                supply: Ok(CentiCelsius(3200 + wave)),
            }));
            at_s += INTERVAL_S;
        }
        if block + 1 < plan.blocks {
            bytes.resize(BLOCK_LEN, 0xFF);
        }
        blocks.push(bytes);
    }
    blocks
}

/// A signature over the first `len` bytes of a block.
pub fn attestation(
    plan: &Plan,
    blocks: &[Vec<u8>],
    (block, len): (u32, usize),
    (nonce, uptime_s): (u8, u32),
) -> StoredAttestation {
    let written = &blocks[block as usize][..len];
    let signed = Signed {
        logger: plan.logger,
        nonce: [nonce; 16],
        open_block: block,
        open_len: len as u16,
        boot: 1,
        uptime_s,
        digest: sha2::Sha256::digest(written).into(),
    };
    let signature = SigningKey::from_bytes(&plan.seed).sign(&signed.to_bytes()).to_bytes();
    StoredAttestation {
        logger: plan.logger,
        taken_s: START_S + i64::from(uptime_s),
        nonce: [nonce; 16],
        attestation: signed.with_signature(&signature),
    }
}

/// Where the entries of a block end.
pub fn ends(block: &[u8]) -> Vec<usize> {
    let mut reader = glueday_types::block::Reader::new(block).unwrap();
    let mut ends = vec![HEADER_LEN];
    while reader.next().is_some() {
        ends.push(usize::from(reader.cursor().offset()));
    }
    ends
}

/// The log of the hall: signed in the middle of block 2, and short before its end.
pub fn hall(plan: &Plan) -> Log {
    let blocks = blocks(plan);
    let head = plan.blocks - 1;
    let (middle, last) = (ends(&blocks[head as usize - 1]), ends(&blocks[head as usize]));
    let at_s = |samples: u32| samples * INTERVAL_S + 900;
    let attestations = vec![
        attestation(
            plan,
            &blocks,
            (head - 1, middle[middle.len() / 2]),
            (1, at_s((2 * head - 1) * plan.samples / 2)),
        ),
        attestation(
            plan,
            &blocks,
            (head, last[last.len() - 4]),
            (2, at_s(plan.blocks * plan.samples - 3)),
        ),
    ];
    let key = SigningKey::from_bytes(&plan.seed).verifying_key();
    Log {
        logger: plan.logger,
        name: Some("hall logger".to_owned()),
        public_key: Some(key.to_bytes()),
        blocks,
        attestations,
        original: None,
        other_copies: Vec::new(),
    }
}

/// The log of the bath, from a table.
pub fn bath(warmer: i32) -> Log {
    let mut table = String::from("Time,Air C,Slab C,RH %\n");
    for hour in 0..40 {
        let (day, clock) = (2 + hour / 24, hour % 24);
        let air = 20 + warmer + hour % 3;
        table.push_str(&format!("2026-03-0{day} {clock:02}:00,{air}.5,21.25,4{}\n", hour % 7));
    }
    let mut mapping = Mapping::default();
    for column in ["time=1", "air=2[C]", "slab=3[C]", "rh=4[%]"] {
        mapping.assign(column).unwrap();
    }
    mapping.zone = Some("America/Denver".parse().unwrap());
    let made = import_file(table.as_bytes(), "bath.csv", &mapping).unwrap();
    Log {
        logger: made.log.logger,
        name: Some("bath file".to_owned()),
        public_key: None,
        blocks: made.log.blocks,
        attestations: Vec::new(),
        original: Some(Original {
            file_name: "bath.csv".to_owned(),
            bytes: table.into_bytes(),
            mapping: made.mapping,
        }),
        other_copies: Vec::new(),
    }
}

fn evidence(job_text: String, mut logs: Vec<Log>) -> Evidence {
    logs.sort_by_key(|log| log.logger.0);
    Evidence {
        program: PROGRAM.to_owned(),
        job_text,
        step: Step::GlueDown,
        at_s: START_S + i64::from(96 * INTERVAL_S),
        rooms: Vec::new(),
        logs,
    }
}

/// One room with its logger, half a day, and the step with the fewest requirements.
pub fn tiny() -> Evidence {
    let log = hall(&Plan { blocks: 2, samples: 12, ..PLAN });
    Evidence { step: Step::Service, at_s: START_S + 43_200, ..evidence(JOB.to_owned(), vec![log]) }
}

/// Two rooms.
pub fn rich() -> Evidence {
    evidence(format!("{JOB}{BATH}"), vec![hall(&PLAN), bath(0)])
}

/// The log of the hall in evidence.
pub fn hall_of(evidence: &mut Evidence) -> &mut Log {
    evidence.logs.iter_mut().find(|log| log.original.is_none()).unwrap()
}

/// The log of the bath in evidence.
pub fn bath_of(evidence: &mut Evidence) -> &mut Log {
    evidence.logs.iter_mut().find(|log| log.original.is_some()).unwrap()
}

/// The files of a record.
pub fn write(evidence: &Evidence) -> Files {
    let assessment = Case::of(evidence, files::JOB).unwrap().assess();
    let files = files::write(evidence, &assessment).unwrap();
    files.into_iter().map(|file| (file.name, file.bytes)).collect()
}

/// Its PDF.
///
/// # Errors
/// Why it cannot be drawn, in words.
pub fn draw(evidence: &Evidence) -> Result<Vec<u8>, String> {
    pdf::draw(evidence).map_err(|error| error.to_string())
}
