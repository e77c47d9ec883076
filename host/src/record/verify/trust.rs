//! Keys that are trusted for reasons outside the record.

use super::{Fault, Open, Report, Who};
use crate::attest::fingerprint;
use crate::record::evidence::{Evidence, Log};
use glueday_types::LoggerId;
use std::fmt;
use std::str::FromStr;

/// A key as somebody gives it: all of it, or its fingerprint.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyGiven {
    /// As [`fingerprint`] writes it.
    fingerprint: String,
    key: Option<[u8; 32]>,
}

/// What cannot be a key.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{given}` is no key: give the fingerprint that was shown when the logger was adopted, such as 6668-7aad-f862-bd77-6c8f, or the 64 hexadecimal digits of the public key"
)]
pub struct BadKey {
    /// What was given.
    pub given: String,
}

impl FromStr for KeyGiven {
    type Err = BadKey;

    fn from_str(text: &str) -> Result<Self, BadKey> {
        let bad = || BadKey { given: text.to_owned() };
        let digits: String =
            text.trim().chars().filter(|c| *c != '-').map(|c| c.to_ascii_lowercase()).collect();
        if !digits.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return Err(bad());
        }
        match digits.len() {
            20 => {
                let groups: Vec<&str> = digits
                    .as_bytes()
                    .chunks(4)
                    .filter_map(|group| std::str::from_utf8(group).ok())
                    .collect();
                Ok(Self { fingerprint: groups.join("-"), key: None })
            }
            64 => {
                let byte =
                    |pair: &[u8]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
                let bytes: Option<Vec<u8>> = digits.as_bytes().chunks(2).map(byte).collect();
                let key: [u8; 32] =
                    bytes.and_then(|bytes| bytes.try_into().ok()).ok_or_else(bad)?;
                Ok(Self { fingerprint: fingerprint(&key), key: Some(key) })
            }
            _ => Err(bad()),
        }
    }
}

impl fmt::Display for KeyGiven {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.fingerprint)
    }
}

impl KeyGiven {
    fn is(&self, key: &[u8; 32]) -> bool {
        match self.key {
            Some(own) => own == *key,
            None => self.fingerprint == fingerprint(key),
        }
    }
}

/// The key that an archive has pinned for a logger.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pinned {
    /// The logger.
    pub logger: LoggerId,
    /// Its key.
    pub key: [u8; 32],
}

/// All that the verifier trusts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Trust {
    /// Keys that were given.
    pub keys: Vec<KeyGiven>,
    /// Keys of an archive; none when none was given.
    pub archive: Option<Vec<Pinned>>,
}

impl Trust {
    /// The key that the archive has pinned for a logger.
    pub(super) fn pinned(&self, logger: LoggerId) -> Option<&[u8; 32]> {
        let pinned = self.archive.iter().flatten().find(|pinned| pinned.logger == logger);
        pinned.map(|pinned| &pinned.key)
    }

    /// Compares the key that the record names for a log with those that are trusted.
    pub(super) fn judge(&self, log: &Log, key: &[u8; 32], report: &mut Report) -> Who {
        let label = log.label();
        let found = fingerprint(key);
        let other = |expected: String, who| Fault::OtherKey {
            log: label.clone(),
            found: found.clone(),
            expected,
            who,
        };
        let mut who = Who::Record;
        match (&self.archive, self.pinned(log.logger)) {
            (_, Some(pinned)) if pinned == key => who = Who::Archive,
            (_, Some(pinned)) => report.contradicted.push(other(fingerprint(pinned), Who::Archive)),
            (Some(_), None) => report.open.push(Open::KeyNotInArchive { log: label.clone() }),
            (None, None) => {}
        }
        if self.keys.iter().any(|given| given.is(key)) {
            return Who::Verifier;
        }
        if !self.keys.is_empty() {
            let given: Vec<String> = self.keys.iter().map(ToString::to_string).collect();
            report.contradicted.push(other(given.join(" or "), Who::Verifier));
        } else if who == Who::Record && self.archive.is_none() {
            report.open.push(Open::KeyFromRecord { log: label, fingerprint: found });
        }
        who
    }

    /// Keys that were given and that nothing in the record is signed by.
    pub(super) fn unused(&self, evidence: &Evidence, report: &mut Report) {
        let signed = |log: &&Log| !log.attestations.is_empty();
        let signers: Vec<&[u8; 32]> =
            evidence.logs.iter().filter(signed).filter_map(|log| log.public_key.as_ref()).collect();
        for given in &self.keys {
            if !signers.iter().any(|key| given.is(key)) {
                report.contradicted.push(Fault::KeyUnused { key: given.to_string() });
            }
        }
    }
}
