//! Has a logger sign the head of its log, and puts that beside what was pulled.

use super::link::Moment;
use super::{Finding, Link, LinkError, Progress, PullError, PullReport, Target};
use crate::archive::{Archive, StoredAttestation, StoredBlock};
use crate::attest::{Known, Mismatch, Untrue, compare, fingerprint};
use crate::port::Transport;
use glueday_types::LoggerId;
use glueday_types::wire::{Attestation, Identity, Refusal};

/// How many blocks a log may grow between its status and its signature and still be pulled on the
/// spot; a block takes hours at the shortest interval.
const GROWTH_MAX: u32 = 64;

/// What came of having the head of a log signed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Proof {
    /// The logger has no key, and never had one.
    NoKey,
    /// The signature is true. After a pull: and over the very bytes that are held. It is kept.
    True(Box<StoredAttestation>),
    /// The signature is true, but the line did not bring the log up to there. Nothing was kept.
    Unfinished(Mismatch),
    /// Something is wrong, and nothing was kept. Each of these is an alarm.
    Alarm(Finding),
}

impl<T: Transport> Link<T> {
    /// Has the log signed that was just pulled, and keeps the attestation if it is true. When the log
    /// has grown since, the rest is pulled first. `nonce` must be random, and another one each time;
    /// `now_s` is the time, in seconds since 1970-01-01 UTC.
    ///
    /// # Errors
    /// [`PullError::Link`] when the logger does not answer: the log that was pulled is none the worse
    /// for it. [`PullError::Archive`].
    pub fn prove(
        &mut self,
        archive: &mut Archive,
        pulled: &mut PullReport,
        now_s: i64,
        nonce: [u8; 16],
        progress: &mut dyn Progress,
    ) -> Result<Proof, PullError> {
        let logger = pulled.identity.logger;
        let proof = self.sign_head(archive, &pulled.identity, now_s, nonce)?;
        let Proof::True(taken) = proof else { return Ok(self.told(pulled, proof, progress)) };
        let attestation = taken.attestation;
        let mut fits = check(archive, &attestation, logger)?;
        let grown = attestation.open_block.checked_sub(pulled.status.open_block);
        if matches!(fits, Err(Mismatch::NotHeld { .. }))
            && grown.is_some_and(|grown| grown <= GROWTH_MAX)
        {
            let target = Target {
                logger,
                oldest_block: pulled.status.oldest_block,
                open_block: attestation.open_block,
                open_len: attestation.open_len,
            };
            let at = Moment { now_s, supply_mv: pulled.status.supply_mv };
            let tally = self.collect(archive, target, at, progress, &mut pulled.findings)?;
            pulled.tally.bytes += tally.bytes;
            pulled.tally.bytes_total += tally.bytes_total;
            pulled.tally.blocks += tally.blocks;
            pulled.tally.requests += tally.requests;
            fits = check(archive, &attestation, logger)?;
        }
        if let Err(mismatch @ Mismatch::NotHeld { .. }) = fits {
            return Ok(Proof::Unfinished(mismatch));
        }
        let fits = fits
            .map_err(|mismatch| Untrue::NotThisLog { mismatch })
            .and(earlier_fit(archive, logger, now_s)?);
        match fits {
            Ok(()) => {
                archive.put_attestation(&taken)?;
                Ok(Proof::True(taken))
            }
            Err(why) => {
                let alarm = Proof::Alarm(Finding::Untrue { logger, why });
                Ok(self.told(pulled, alarm, progress))
            }
        }
    }

    /// Asks for a signature of the head of the log, and verifies it with the pinned key, or with the
    /// one that is shown while none is pinned. Keeps nothing, and looks at no block of the log.
    ///
    /// # Errors
    /// See [`Link::prove`].
    pub fn sign_head(
        &mut self,
        archive: &Archive,
        identity: &Identity,
        now_s: i64,
        nonce: [u8; 16],
    ) -> Result<Proof, PullError> {
        let logger = identity.logger;
        let pinned = archive.loggers()?.into_iter().find(|known| known.id == logger);
        let pinned = pinned.and_then(|known| known.public_key);
        let gone = |key: &[u8; 32]| {
            Proof::Alarm(Finding::KeyGone { logger, fingerprint: fingerprint(key) })
        };
        let public_key = match (pinned, identity.public_key) {
            (Some(pinned), None) => return Ok(gone(&pinned)),
            (None, None) => return Ok(Proof::NoKey),
            (Some(pinned), Some(_)) => pinned,
            (None, Some(shown)) => shown,
        };
        let attestation = match self.attest(nonce) {
            Err(LinkError::Refused { why: Refusal::NoKey, .. }) => return Ok(gone(&public_key)),
            other => other?,
        };
        let earlier: Vec<_> = archive
            .attestations(logger)?
            .into_iter()
            .map(|kept| (kept.taken_s, kept.nonce, kept.attestation))
            .collect();
        let known = Known {
            public_key: &public_key,
            shown_key: identity.public_key.as_ref(),
            logger,
            now_s,
            earlier: &earlier,
        };
        Ok(match known.judge(&nonce, &attestation) {
            Ok(()) => Proof::True(Box::new(StoredAttestation {
                logger,
                taken_s: now_s,
                nonce,
                attestation,
            })),
            Err(Untrue::WrongSignature { .. }) => {
                let besides = check(archive, &attestation, logger)?.err();
                let why = Untrue::WrongSignature { besides };
                Proof::Alarm(Finding::Untrue { logger, why })
            }
            Err(why) => Proof::Alarm(Finding::Untrue { logger, why }),
        })
    }

    /// Tells an alarm, if it is one.
    fn told(&self, pulled: &mut PullReport, proof: Proof, progress: &mut dyn Progress) -> Proof {
        if let Proof::Alarm(finding) = &proof {
            progress.found(finding);
            pulled.findings.push(finding.clone());
        }
        proof
    }
}

/// Compares an attestation with the block that is held.
fn check(
    archive: &Archive,
    attestation: &Attestation,
    logger: LoggerId,
) -> Result<Result<(), Mismatch>, PullError> {
    Ok(compare(attestation, bytes_of(&archive.blocks(logger)?, attestation.open_block)))
}

fn bytes_of(blocks: &[StoredBlock], number: u32) -> &[u8] {
    let block = blocks.iter().find(|block| block.number == number);
    block.map_or(&[], |block| block.bytes.as_slice())
}

/// Whether the attestations that were kept fit the log that is held now, as far as it is held.
fn earlier_fit(
    archive: &Archive,
    logger: LoggerId,
    now_s: i64,
) -> Result<Result<(), Untrue>, PullError> {
    let blocks = archive.blocks(logger)?;
    for kept in archive.attestations(logger)? {
        match compare(&kept.attestation, bytes_of(&blocks, kept.attestation.open_block)) {
            Ok(()) | Err(Mismatch::NotHeld { .. }) => {}
            Err(mismatch) => {
                let ago_s = now_s.saturating_sub(kept.taken_s);
                return Ok(Err(Untrue::EarlierDiffers { ago_s, mismatch }));
            }
        }
    }
    Ok(Ok(()))
}
