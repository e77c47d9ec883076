//! The log of an imported file, made from it anew.

use super::{Fault, Open, Proof, Report};
use crate::archive::import_again;
use crate::record::evidence::Log;

/// Makes the blocks from the file again and compares.
pub(super) fn check(log: &Log, report: &mut Report) {
    let Some(original) = &log.original else { return };
    let (label, file) = (log.label(), original.file_name.clone());
    report.open.push(Open::ImportOrigin { file: file.clone() });
    let made = match import_again(&original.bytes, &file, &original.mapping) {
        Ok(made) => made,
        Err(error) => {
            let problem = error.to_string();
            report.contradicted.push(Fault::ImportUnreadable { log: label, problem });
            return;
        }
    };
    // The mapping that is noted has everything decided, so that reading by it notes the same.
    if made.log.logger != log.logger || made.mapping != original.mapping {
        let found = made.log.logger;
        report.contradicted.push(Fault::ImportId { log: label, file, found });
        return;
    }
    let pairs = made.log.blocks.iter().zip(&log.blocks);
    let differs = pairs.clone().position(|(made, held)| made != held);
    let longer = made.log.blocks.len() != log.blocks.len();
    match differs.or_else(|| longer.then(|| pairs.len())) {
        Some(block) => report.contradicted.push(Fault::Import { log: label, file, block }),
        None => {
            let rows = made.intake.rows.len();
            report.proven.push(Proof::Imported { log: label, file, rows });
        }
    }
}
