//! The examples in `SPEC.md` are what the code writes, and read back as what the text says of them.

#[cfg(test)]
mod attest;
#[cfg(test)]
mod examples;
#[cfg(test)]
mod log;
#[cfg(test)]
mod wire;

use std::collections::BTreeSet;

#[test]
fn every_example_has_a_check_and_every_check_an_example() {
    let written: BTreeSet<String> = examples::all().into_keys().collect();
    let checked: BTreeSet<String> = ["header", "torn", "resume", "unknown"]
        .into_iter()
        .chain(["signed", "signed-public-key", "signed-signature"])
        .chain(log::entries().map(|(name, _)| name))
        .chain(wire::requests().map(|(name, _, _)| name))
        .chain(wire::replies().map(|(name, _, _)| name))
        .map(String::from)
        .collect();
    assert_eq!(written, checked);
}
