//! `adopt`, killed: a logger whose clock was set has its name in the archive.

use crate::campaign::cases;
use crate::desk::{Relay, Served, desk};
use crate::held::{Held, lengths, remove};
use crate::run::{When, assert_done, below, kill, share, start};
use glueday_tests::flash::Random;
use glueday_tests::programs::glueday;
use glueday_types::{Entry, LoggerId};
use std::time::Duration;

const LOGGER: LoggerId = LoggerId(*b"killAdop");
const CASES: u64 = 40;

fn syncs(flash: &[u8]) -> usize {
    let entries = glueday_tests::log::entries(flash);
    entries.iter().filter(|(_, entry)| matches!(entry, Entry::ClockSet { .. })).count()
}

#[test]
fn adopt_killed_anywhere_sets_no_clock_without_a_name() {
    let folder = tempfile::tempdir().unwrap();
    let image = folder.path().join("logger.flash");
    let served = Served::start(desk(&image, LOGGER, 1));
    let archive = folder.path().join("killed.db");
    let flash = || std::fs::read(&image).unwrap();
    let adopt = |port: &str| start(&archive, &["adopt", "--port", port, "--name", "hall"]);
    let relay = Relay::cut_after(&served.tcp, usize::MAX);
    assert!(adopt(&relay.port).wait().unwrap().success());
    let line_bytes = relay.end();
    let (mut kills, mut named, mut set, mut wrote) = (0, 0, 0, 0);
    let all = cases("adopt_killed", CASES, |number| {
        let mut random = Random(number.wrapping_mul(0xD6E8_FEB8_6659_FD93));
        remove(&archive);
        let before = syncs(&flash());
        let killed = if number % 3 == 2 {
            // The name is the first that is written.
            let wanted = below(&mut random, 20_000);
            let mut seen = || lengths(&archive)[1].is_some_and(|len| len > wanted);
            kill(adopt(&served.tcp), When::Seen(&mut seen))
        } else {
            let bytes = 1 + below(&mut random, line_bytes as u64) as usize;
            let later = share(&mut random, Duration::from_millis(4));
            let relay = Relay::cut_after(&served.tcp, bytes);
            let killed = kill(adopt(&relay.port), When::Line(&relay.cut, later));
            relay.end();
            killed
        };
        let wrote_some = lengths(&archive)[1].is_some();
        let has_name = Held::read(&archive)
            .is_some_and(|held| held.loggers.iter().any(|l| l.1.as_deref() == Some("hall")));
        let is_set = syncs(&flash()) > before;
        assert!(has_name || !is_set, "the clock was set for a logger without a name");
        kills += u32::from(killed);
        wrote += u32::from(killed && wrote_some);
        named += u32::from(killed && has_name);
        set += u32::from(killed && is_set);
        // Another time does it, whatever was done already.
        assert!(adopt(&served.tcp).wait().unwrap().success());
        assert_done(&glueday(&archive, &["pull", "--port", &served.tcp]));
        let held = Held::read(&archive).unwrap();
        held.assert_on_flash(LOGGER, &flash());
        assert_eq!(held.loggers.len(), 1);
        assert_eq!(held.loggers[0].1.as_deref(), Some("hall"));
        assert!(!held.blocks.is_empty() && held.rest.is_empty());
        assert!(!held.attestations.is_empty());
        false
    });
    println!(
        "{kills} kills of adopt, {wrote} with the archive open, {named} with the name stored, {set} \
         with the clock set"
    );
    if all {
        assert!(kills >= 15 && wrote >= 12 && named >= 5 && set >= 3, "too few");
    }
}
