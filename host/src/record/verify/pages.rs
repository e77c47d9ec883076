//! The pages, drawn anew.

use super::{Fault, Given, Open, Proof, Report};
use crate::record::evidence::Evidence;

/// Compares the document with what the evidence gives.
pub(super) fn check(
    given: &Given<'_>,
    evidence: &Evidence,
    same_program: bool,
    report: &mut Report,
) {
    let Some(pages) = given.pages else {
        report.open.push(Open::NoPages);
        return;
    };
    if !same_program {
        let (made, this) = (evidence.program.clone(), given.program.to_owned());
        report.open.push(Open::OtherVersion { made, this });
        return;
    }
    match (pages.draw)(evidence) {
        Err(problem) => report.contradicted.push(Fault::NotDrawn { problem }),
        Ok(drawn) => match first_difference(pages.bytes, &drawn) {
            None => report.proven.push(Proof::Pages { form: pages.form, bytes: drawn.len() }),
            Some(byte) => {
                let (form, found, drawn) = (pages.form, pages.bytes.len(), drawn.len());
                report.contradicted.push(Fault::Pages { form, byte, found, drawn });
            }
        },
    }
}

/// The first byte in which the two differ, from 0.
pub(super) fn first_difference(a: &[u8], b: &[u8]) -> Option<usize> {
    if a == b {
        return None;
    }
    // Nearly all of it is the same: kilobytes at once first, then single bytes.
    let pieces = a.chunks(4096).zip(b.chunks(4096)).take_while(|(a, b)| a == b);
    let before: usize = pieces.map(|(a, _)| a.len()).sum();
    let rest = a.iter().zip(b).skip(before);
    let same = before + rest.take_while(|(a, b)| a == b).count();
    (a.len() != same || b.len() != same).then_some(same)
}
