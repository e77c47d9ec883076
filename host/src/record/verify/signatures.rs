//! The signatures of a log.

use super::log::Walk;
use super::trust::Trust;
use super::{Fault, Open, Proof, Report, Who};
use crate::archive::StoredAttestation;
use crate::attest::{self, Mismatch, fingerprint};
use crate::record::evidence::Log;
use crate::view::utc_time;
use glueday_types::Header;

/// How far the time that a computer noted may be from the time of the logger's own log, in seconds:
/// two computers on a site that were set by hand, an hour apart over a change of daylight saving.
const TIME_TOLERANCE_S: u64 = 2 * 3600;

/// Verifies the signatures and says what they cover.
pub(super) fn check(log: &Log, walk: &Walk, trust: &Trust, report: &mut Report) {
    let label = log.label();
    if log.original.is_some() {
        return;
    }
    let Some(key) = &log.public_key else {
        if let Some(pinned) = trust.pinned(log.logger) {
            let expected = fingerprint(pinned);
            report.contradicted.push(Fault::KeyTakenOut { log: label, expected });
        } else if log.attestations.is_empty() {
            report.open.push(Open::Unsigned { log: label });
        } else {
            report.contradicted.push(Fault::NoKey { log: label });
        }
        return;
    };
    let told = report.contradicted.len();
    let who = trust.judge(log, key, report);
    if log.attestations.is_empty() {
        match trust.pinned(log.logger) {
            Some(pinned) => {
                let expected = fingerprint(pinned);
                report.contradicted.push(Fault::KeyTakenOut { log: label, expected });
            }
            None => report.open.push(Open::Unsigned { log: label }),
        }
        return;
    }
    replays(&label, &log.attestations, report);
    let mut head: Option<(u32, u16)> = None;
    for (stored, number) in log.attestations.iter().zip(1..) {
        if let Err(fault) = one(log, key, who, number, stored) {
            report.contradicted.push(fault);
            continue;
        }
        let place = (stored.attestation.open_block, stored.attestation.open_len);
        if let Some((then_block, then_len)) = head.filter(|head| *head > place) {
            let (block, len) = place;
            let mismatch = Mismatch::BehindEarlier { block, len, then_block, then_len };
            report.contradicted.push(Fault::SignedOther { log: label.clone(), number, mismatch });
        }
        time(&label, walk, number, stored, report);
        head = head.max(Some(place));
    }
    let Some((block, len)) = head else { return };
    let is_covered = |entry: &&super::log::Placed| (entry.block, entry.from) < (block, len);
    let covered = walk.entries.iter().take_while(is_covered).count();
    if report.contradicted.len() == told {
        report.proven.push(Proof::Signed {
            log: label.clone(),
            signatures: log.attestations.len(),
            who,
            fingerprint: fingerprint(key),
            covered,
            entries: walk.entries.len(),
            block,
            len,
        });
    }
    if let Some(next) = walk.entries.get(covered) {
        let since = walk
            .utc_s(next.boot, next.at_s)
            .map_or_else(|| "undated".to_owned(), |utc_s| format!("since {}", utc_time(utc_s)));
        let entries = walk.entries.len() - covered;
        report.open.push(Open::BehindSignature { log: label, entries, since });
    }
}

/// One signature: whether it is the key's, and over this log.
fn one(
    log: &Log,
    key: &[u8; 32],
    who: Who,
    number: usize,
    stored: &StoredAttestation,
) -> Result<(), Fault> {
    let label = log.label();
    attest::verify(key, log.logger, &stored.nonce, &stored.attestation)
        .map_err(|error| Fault::Signature { log: label.clone(), number, who, error })?;
    let is_signed = |bytes: &&Vec<u8>| {
        let header = Header::from_bytes(bytes);
        header.is_ok_and(|header| header.block == stored.attestation.open_block)
    };
    let held = log.blocks.iter().find(is_signed).map_or(&[][..], Vec::as_slice);
    attest::compare(&stored.attestation, held).map_err(|mismatch| Fault::SignedOther {
        log: label,
        number,
        mismatch,
    })
}

/// A nonce is asked with once.
fn replays(label: &str, attestations: &[StoredAttestation], report: &mut Report) {
    for (index, stored) in attestations.iter().enumerate() {
        let earlier = attestations.iter().take(index);
        if let Some(first) = earlier.clone().position(|other| other.nonce == stored.nonce) {
            let (first, second) = (first + 1, index + 1);
            report.contradicted.push(Fault::Replayed { log: label.to_owned(), first, second });
        }
    }
}

/// Whether it was taken when the record says, as far as the log knows.
fn time(label: &str, walk: &Walk, number: usize, stored: &StoredAttestation, report: &mut Report) {
    let said = &stored.attestation;
    let Some(signed_s) = walk.utc_s(said.boot, said.uptime_s) else { return };
    if signed_s.abs_diff(stored.taken_s) > TIME_TOLERANCE_S {
        report.open.push(Open::SignatureTime {
            log: label.to_owned(),
            number,
            taken: utc_time(stored.taken_s),
            signed: utc_time(signed_s),
        });
    }
}
