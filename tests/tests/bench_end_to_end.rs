//! From the emulated board over a pty into an archive, with the real program.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

use glueday::archive::Archive;
use glueday_bench_tunnel::switchboard::INTERVAL_S;
use glueday_tests::emulator::{AirProbe, LineKind, Machine, Memory, PATIENCE, Pace, within};
use glueday_tests::programs::glueday;
use glueday_types::attest::Signed;
use glueday_types::block::{Item, Reader};
use glueday_types::{Entry, LoggerId, Sample, digest};
use sha2::{Digest as _, Sha256};

const LOGGER: LoggerId = LoggerId(*b"benchE2E");
const SLOTS: u32 = 16;

/// What is set at one time: slab and supply in thousandths of a degree, air in degrees, humidity in %.
#[derive(Clone, Copy, Debug)]
struct Weather {
    slab_milli_c: i32,
    supply_milli_c: i32,
    air_c: f64,
    air_rh_pct: f64,
}

const BEFORE: Weather =
    Weather { slab_milli_c: 21_437, supply_milli_c: 31_060, air_c: 20.5, air_rh_pct: 44.0 };
const AFTER: Weather =
    Weather { slab_milli_c: -3_210, supply_milli_c: 47_930, air_c: 12.34, air_rh_pct: 71.8 };

fn set(machine: &mut Machine, air: &AirProbe, weather: Weather) {
    machine.set_milli_c("slab", weather.slab_milli_c);
    machine.set_milli_c("supply", weather.supply_milli_c);
    air.set(weather.air_c, weather.air_rh_pct);
}

/// Which channels of `sample` are those of `weather`, within the resolution of their sensors (1/16 °C,
/// cut off; 0.0027 °C; 0.0019 %) and half a hundredth.
fn matching(sample: &Sample, weather: Weather) -> [bool; 4] {
    let near = |value: f64, set: f64, resolution: f64| (value - set).abs() <= resolution + 0.005;
    [
        near(sample.slab.unwrap().celsius(), f64::from(weather.slab_milli_c) / 1000.0, 0.0625),
        near(sample.supply.unwrap().celsius(), f64::from(weather.supply_milli_c) / 1000.0, 0.0625),
        near(sample.air.unwrap().celsius(), weather.air_c, 0.0027),
        near(sample.air_rh.unwrap().percent(), weather.air_rh_pct, 0.0019),
    ]
}

/// Both attestations, of `adopt` and of `pull`, are signed by the pinned key, which is that of the seed
/// that the board was given; verified here by the crate of other authors than the board's. The later
/// one is over the bytes that the archive holds.
fn is_signed(archive: &Archive, pulled: &str) {
    let logger = &archive.loggers().unwrap()[0];
    let pair = ed25519_compact::KeyPair::from_seed(ed25519_compact::Seed::new(digest(&LOGGER.0)));
    assert_eq!(logger.public_key, Some(*pair.pk));
    let kept = archive.attestations(LOGGER).unwrap();
    assert_eq!(kept.len(), 2);
    for one in &kept {
        let signed = Signed::of(LOGGER, one.nonce, &one.attestation).to_bytes();
        let signature = ed25519_compact::Signature::new(one.attestation.signature());
        assert!(pair.pk.verify(signed, &signature).is_ok(), "{one:?}");
    }
    let last = kept[1].attestation;
    let block = &archive.blocks(LOGGER).unwrap()[0].bytes;
    let written = &block[..usize::from(last.open_len)];
    assert_eq!(<[u8; 32]>::from(Sha256::digest(written)), last.digest);
    let document: serde_json::Value = serde_json::from_str(pulled).unwrap();
    let signed = &document["signed"];
    assert_eq!(signed["state"], "yes", "{signed}");
    assert_eq!(signed["open_len"], last.open_len);
    assert_eq!(signed["fingerprint"], glueday::attest::fingerprint(&pair.pk));
}

/// The key of the board outlives its power; a damaged one is not replaced, and the program says so.
#[test]
fn the_key_is_kept_and_never_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), SLOTS, LOGGER);
    let air = AirProbe::default();
    let archive = folder.path().join("archive.sqlite");
    let run = |command: &dyn Fn(&str) -> Vec<String>| {
        let mut machine = Machine::start(&memory, &air, Pace::Real, LineKind::Pty);
        machine.go();
        let arguments = command(machine.port());
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let said = glueday(&archive, &arguments);
        machine.pause();
        said
    };
    let adopt =
        |port: &str| ["adopt", "--port", port, "--name", "bench"].map(String::from).to_vec();
    let pull = |port: &str| ["pull", "--port", port].map(String::from).to_vec();
    let adopted = run(&adopt);
    assert_eq!(adopted.code, Some(0), "{adopted:?}");
    let sector = memory.key_sector();
    assert_eq!(&sector[..5], b"GlKy\x01");
    // Another seed is offered, as a random source would: the key stays.
    memory.set_seed(&[0x99; 32]);
    let pulled = run(&pull);
    assert!(pulled.out.contains("signed up to block 0"), "{pulled:?}");
    assert!(!pulled.err.contains("ALARM"), "{pulled:?}");
    assert_eq!(memory.key_sector(), sector);

    let mut damaged = sector.clone();
    damaged[20] ^= 1;
    memory.set_key_sector(&damaged);
    let pulled = run(&pull);
    assert_eq!(pulled.code, Some(0), "{pulled:?}");
    let fingerprint = adopted.out.split("key ").nth(1).unwrap().split(',').next().unwrap();
    assert!(pulled.err.contains("ALARM") && pulled.err.contains(fingerprint), "{pulled:?}");
    assert!(pulled.out.contains("moved"), "the log is pulled all the same: {pulled:?}");
    assert_eq!(memory.key_sector(), damaged, "the sector was touched");
    let kept = Archive::open_read_only(&archive).unwrap().attestations(LOGGER).unwrap();
    assert_eq!(kept.len(), 2);

    memory.set_key_sector(&sector);
    let pulled = run(&pull);
    assert!(pulled.out.contains("signed up to block 0"), "{pulled:?}");
    let kept = Archive::open_read_only(&archive).unwrap().attestations(LOGGER).unwrap();
    assert_eq!(kept.len(), 3);
}

#[test]
fn what_the_probes_are_set_to_comes_into_the_archive() {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), SLOTS, LOGGER);
    memory.set(INTERVAL_S, 1);
    let air = AirProbe::default();
    let mut machine = Machine::start(&memory, &air, Pace::Real, LineKind::Pty);
    set(&mut machine, &air, BEFORE);
    machine.go();

    let archive = folder.path().join("archive.sqlite");
    let port = machine.port().to_owned();
    let adopted = glueday(&archive, &["adopt", "--port", &port, "--name", "bench"]);
    assert_eq!(adopted.code, Some(0), "{adopted:?}");
    let wait_for = |count: usize| {
        let wanted = air.measurements() + count;
        within(PATIENCE, "samples", || air.measurements() >= wanted);
    };
    wait_for(2);
    set(&mut machine, &air, AFTER);
    wait_for(4);
    let pulled = glueday(&archive, &["--json", "pull", "--port", &port]);
    assert_eq!(pulled.code, Some(0), "{pulled:?}");
    machine.pause();

    let flash = memory.flash();
    let archive = Archive::open_read_only(&archive).unwrap();
    is_signed(&archive, &pulled.out);
    let blocks = archive.blocks(LOGGER).unwrap();
    assert_eq!(blocks.len(), 1);
    assert!(flash.starts_with(&blocks[0].bytes), "the archive holds other bytes than the flash");
    let entries: Vec<Entry> = Reader::new(&blocks[0].bytes)
        .unwrap()
        .map(|item| match item {
            Item::Entry { entry, .. } => entry,
            other => panic!("{other:?}"),
        })
        .collect();
    assert!(entries.iter().any(|entry| matches!(entry, Entry::ClockSet { .. })));
    let samples: Vec<Sample> = entries
        .iter()
        .filter_map(|entry| match entry {
            Entry::Sample(sample) => Some(*sample),
            _ => None,
        })
        .collect();
    // Each channel is first the one and then the other; they need not change in the same second.
    for channel in 0..4 {
        let is_after: Vec<bool> = samples
            .iter()
            .map(|sample| {
                let (before, after) = (matching(sample, BEFORE), matching(sample, AFTER));
                assert!(before[channel] != after[channel], "channel {channel}: {sample:?}");
                after[channel]
            })
            .collect();
        assert!(is_after.is_sorted(), "channel {channel}: {is_after:?}");
        let after = is_after.iter().filter(|after| **after).count();
        assert!(after >= 2 && is_after.len() - after >= 2, "channel {channel}: {is_after:?}");
    }
    // One a second, none missing.
    for pair in samples.windows(2) {
        assert_eq!(pair[1].at_s, pair[0].at_s + 1);
    }
    assert_eq!(air.too_early(), 0);
}
