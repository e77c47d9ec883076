//! The files against the manifest.

use super::{Fault, Proof, Report};
use crate::record::files::{MANIFEST, Unreadable, sha256};
use crate::record::manifest::Manifest;
use std::collections::{BTreeMap, BTreeSet};

/// What was told about files.
pub(super) struct Listed {
    missing: BTreeSet<String>,
}

impl Listed {
    /// Whether this has been told already.
    pub(super) fn tells(&self, error: &Unreadable) -> bool {
        matches!(error, Unreadable::Missing { name } if self.missing.contains(name))
    }
}

/// Compares every file with what the manifest says of it, and the manifest with what it says of
/// itself.
pub(super) fn check(
    files: &BTreeMap<String, Vec<u8>>,
    manifest: &Manifest,
    report: &mut Report,
) -> Listed {
    let told = report.contradicted.len();
    let mut missing = BTreeSet::new();
    let mut listed = BTreeSet::from([MANIFEST]);
    if manifest.seal().ok().as_ref() != Some(&manifest.sha256) {
        report.contradicted.push(Fault::Seal);
    }
    for entry in &manifest.files {
        let name = entry.name.clone();
        listed.insert(&entry.name);
        let Some(bytes) = files.get(&name) else {
            missing.insert(name.clone());
            report.contradicted.push(Fault::FileMissing { name });
            continue;
        };
        let found = u64::try_from(bytes.len()).unwrap_or(u64::MAX);
        if found != entry.bytes {
            report.contradicted.push(Fault::Length { name, said: entry.bytes, found });
        } else if sha256(bytes) != entry.sha256 {
            report.contradicted.push(Fault::Digest { name });
        }
    }
    for name in files.keys().filter(|name| !listed.contains(name.as_str())) {
        report.contradicted.push(Fault::FileAdded { name: name.clone() });
    }
    if report.contradicted.len() == told {
        report.proven.push(Proof::Files { files: manifest.files.len() });
    }
    Listed { missing }
}
