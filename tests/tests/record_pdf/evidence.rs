//! Evidence to draw records of.

use crate::assess_world::{Of, World, t};
use glueday::archive::{ImportRow, StoredAttestation, import_blocks};
use glueday::record::{CopyOfBlock, Evidence, Log, Original};
use glueday_types::wire::Attestation;
use glueday_types::{CentiCelsius, CentiPercent, LoggerId};

/// The id in the blocks of a world.
pub(crate) const LOGGER: LoggerId = LoggerId(*b"worldlog");

/// The evidence of a world, whose hall has its logger.
pub(crate) fn of(world: &World) -> Evidence {
    let mut world = world.clone();
    world.edit("name = \"Hall\"", "name = \"Hall\"\nlogger = \"hall logger\"");
    let log = Log {
        logger: LOGGER,
        name: Some("hall logger".to_owned()),
        public_key: Some([0xAB; 32]),
        blocks: world.blocks(),
        attestations: vec![signature()],
        original: None,
        other_copies: Vec::new(),
    };
    Evidence {
        program: "glueday test".to_owned(),
        job_text: world.job.clone(),
        step: world.step,
        at_s: world.at_s,
        rooms: Vec::new(),
        logs: vec![log],
    }
}

/// A signature that no logger made: drawing does not judge it.
fn signature() -> StoredAttestation {
    StoredAttestation {
        logger: LOGGER,
        taken_s: t(13, 0, 0),
        nonce: [7; 16],
        attestation: Attestation {
            open_block: 2,
            open_len: 345,
            boot: 1,
            uptime_s: 6_789,
            digest: [1; 32],
            signature_r: [2; 32],
            signature_s: [3; 32],
        },
    }
}

/// A world with everything that a record has words for: broken limits, gaps, a restart, an undated
/// start, an override, another copy of a block.
pub(crate) fn spoilt() -> Evidence {
    let mut world = World::ready();
    world.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 62.5);
    world.set(Of::Slab, t(12, 5, 0), t(12, 7, 0), 17.2);
    world.gap(t(9, 3, 0), 3 * 3600);
    world.reboot(t(6, 0, 0), &[]);
    world.reboot(t(6, 12, 0), &[(t(6, 12, 0), t(6, 12, 0))]);
    world.add(
        "\n[[limit]]\nid = \"air-rh-max\"\nvalue = \"55 %\"\nreason = \"the maker wrote so in May\"\n",
    );
    let mut evidence = of(&world);
    let block = evidence.logs[0].blocks[0].clone();
    evidence.logs[0].other_copies.push(CopyOfBlock {
        number: 0,
        bytes: block,
        seen_s: t(12, 0, 0),
    });
    evidence
}

/// Twelve weeks at ten minutes, with the noise of real probes, and the job of a world.
pub(crate) fn twelve_weeks() -> Evidence {
    let mut noise = 12_345_u64;
    let mut next = |spread: i64| {
        // Knuth's MMIX generator.
        noise =
            noise.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (noise >> 33) as i64 % (2 * spread + 1) - spread
    };
    let rows: Vec<ImportRow> = (0..12 * 7 * 144_i64)
        .map(|i| {
            let mut celsius = |base: i64, spread| Ok(CentiCelsius((base + next(spread)) as i16));
            let (slab, air, supply) = (celsius(2000, 6), celsius(2050, 15), celsius(2600, 30));
            let air_rh = Ok(CentiPercent((4200 + next(60)) as u16));
            ImportRow {
                utc_s: t(-70, 0, 0) + i * 600,
                slab,
                air,
                air_rh,
                supply,
                line: i as u64 + 2,
            }
        })
        .collect();
    let world = World::ready();
    let mut evidence = of(&world);
    evidence.logs[0].blocks = import_blocks(&rows, LOGGER).unwrap().blocks;
    evidence.at_s = t(13, 23, 50);
    evidence
}

/// A log that came from a file.
pub(crate) fn imported() -> Evidence {
    let mut evidence = of(&World::ready());
    let log = &mut evidence.logs[0];
    (log.public_key, log.attestations) = (None, Vec::new());
    log.original = Some(Original {
        file_name: "hall (ä).csv".to_owned(),
        bytes: b"time,air\r\n1,2\r\n".to_vec(),
        mapping: "[]".to_owned(),
    });
    evidence
}
