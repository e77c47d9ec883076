//! What is inside the file, its digests, and how to check them.

use super::{Block, Section, Table, Telling, figures, row, text, wide};
use crate::record::files::{blocks_name, sha256};

impl Telling<'_> {
    pub(super) fn fingerprints(&self) -> Section {
        let rows = self
            .files
            .iter()
            .map(|file| {
                let mut row =
                    row([file.name.clone(), file.what.clone(), file.bytes.len().to_string()]);
                row.notes.push(format!("SHA-256 {}", sha256(&file.bytes)));
                let log = self.evidence.logs.iter().find(|log| blocks_name(log) == file.name);
                if let Some(last) = log.and_then(|log| log.blocks.last()) {
                    row.notes.push(format!("of its last block {}", sha256(last)));
                }
                row
            })
            .collect();
        let columns = vec![text("File"), wide("What it is"), figures("Bytes")];
        let mut blocks = vec![
            Block::Text(
                "To check this record: glueday verify FILE.pdf. It reads nothing but this file: it \
                 follows the chain of blocks, checks the signatures, judges and draws all of it \
                 anew, and finds every byte that was changed."
                    .to_owned(),
            ),
            Block::Text(
                "To get the files out: any PDF reader lists them as attachments, often under a \
                 paper clip."
                    .to_owned(),
            ),
            Block::Table(Table { columns, rows }),
        ];
        blocks.push(Block::Text(format!("This record was made by {}.", self.evidence.program)));
        Section { heading: "Files in this record and their fingerprints".to_owned(), blocks }
    }
}
