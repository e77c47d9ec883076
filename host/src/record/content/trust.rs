//! Limits set by the job, cautions, how far the record can be trusted, and the signatures.

use super::verdict::first_upper;
use super::{Block, Section, Telling, count};
use crate::assess::caution::{Caution, PRECEDENCE};
use crate::attest::fingerprint;
use crate::limits::{Layer, LimitId};
use crate::record::Log;
use crate::view::{in_both, layers};

impl Telling<'_> {
    /// The limits that the job sets itself, when there are any.
    pub(super) fn limits_set(&self) -> Option<Section> {
        let limits = LimitId::ALL.iter().filter_map(|id| self.case.limits.get(*id));
        let mut blocks = Vec::new();
        for limit in limits.filter(|limit| limit.layer == Layer::Override) {
            let asks = in_both(limit.id.meaning(), self.units());
            let mut facts = vec![("Asks".to_owned(), asks)];
            let rows = layers(limit, self.units());
            facts.extend(rows.into_iter().map(|(name, text)| (name.to_owned(), text)));
            blocks.push(Block::Heading(format!("Limit {}", limit.id)));
            blocks.push(Block::Facts(facts));
        }
        let heading = "Limits set by the job in place of others".to_owned();
        (!blocks.is_empty()).then_some(Section { heading, blocks })
    }

    pub(super) fn cautions(&self) -> Section {
        let tell = |it: Caution| {
            format!("{}: {} Source: {}.", first_upper(it.topic), it.text, it.citation)
        };
        let mut items: Vec<String> = self.assessment.cautions().into_iter().map(tell).collect();
        items.push(PRECEDENCE.text.to_owned());
        let heading = format!("Caution: {}", self.assessment.step.words());
        Section { heading, blocks: vec![Block::List(items)] }
    }

    pub(super) fn trust(&self) -> Section {
        let items = [
            "Where a logger has a key and its signature holds, the record shows that its log was not \
             altered since the logger wrote it: each block holds the digest of the block before, \
             and the signature covers the last one. It does not show that a probe lay where it \
             should.",
            "What the job file says is the contractor's word: dates of the work, moisture tests, \
             meter readings, checks of probes, products and their limits.",
            "A log without a key, and a file that was imported, prove no origin: whoever wrote \
             them could have written anything.",
            "The key of a logger can be read out by somebody who opens it.",
            "What was logged in a start without a clock sync has no date. It is shown and never \
             counts. Dates come from the clock of the computer that set the logger's.",
            "Go means that the requirements listed here are met, no more. Data sheets, local \
             codes and licensed trades come first.",
        ];
        let heading = "How far this can be trusted".to_owned();
        Section { heading, blocks: vec![Block::List(items.map(str::to_owned).into())] }
    }

    pub(super) fn signatures(&self) -> Section {
        let mut blocks = Vec::new();
        for log in &self.evidence.logs {
            blocks.push(Block::Heading(log.label()));
            blocks.push(self.signatures_of(log));
        }
        if blocks.is_empty() {
            blocks.push(Block::Text("There is no log, and so no signature.".to_owned()));
        }
        Section { heading: "Signatures of the loggers".to_owned(), blocks }
    }

    fn signatures_of(&self, log: &Log) -> Block {
        let Some(key) = log.public_key else {
            let text = if log.original.is_some() {
                "An imported file: it has no key and no signature."
            } else {
                "This logger showed no key: nothing proves that the log is its own."
            };
            return Block::Text(text.to_owned());
        };
        let digits: String = key.iter().map(|byte| format!("{byte:02x}")).collect();
        // In the form in which it is shown when a logger is adopted and when a record is verified.
        let mut facts = vec![
            ("Fingerprint of its key".to_owned(), fingerprint(&key)),
            ("Public key (Ed25519)".to_owned(), digits),
        ];
        let mut fact = |name: &str, text: String| facts.push((name.to_owned(), text));
        match log.attestations.last() {
            None => fact("Signatures", "none was taken".to_owned()),
            Some(last) => {
                fact(
                    "Signatures",
                    format!("{} in this file", count(log.attestations.len(), "signature")),
                );
                let it = &last.attestation;
                fact("The last was taken", self.both_clocks(last.taken_s));
                fact(
                    "It reaches up to",
                    format!(
                        "byte {} of block {}, written {} s after start {}",
                        it.open_len, it.open_block, it.uptime_s, it.boot
                    ),
                );
                let after = log.blocks.iter().filter_map(|block| number(block));
                let after = after.filter(|number| *number > it.open_block).count();
                let after = match after {
                    0 => "none".to_owned(),
                    blocks => format!("{}: no signature covers them", count(blocks, "block")),
                };
                fact("Blocks after that", after);
                fact("Whether they hold", "glueday verify tells".to_owned());
            }
        }
        Block::Facts(facts)
    }
}

/// The number of a block, where its header can be read.
fn number(block: &[u8]) -> Option<u32> {
    glueday_types::block::Reader::new(block).ok().map(|reader| reader.header().block)
}
