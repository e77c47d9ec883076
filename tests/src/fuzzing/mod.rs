//! What a fuzzer feeds: each target is a plain function from bytes to nothing that panics when a
//! property is broken. `tests/fuzz/` runs them under a fuzzer, and a test runs them over the corpus.
//!
//! Bytes are read from the front, field by field, so that a small change of an input is a small change
//! of what is done, and seeds can be written by hand.

mod block;
mod csv;
mod frame;
mod input;
mod job;
mod link;
mod pull;
mod record;
pub mod seeds;
mod word;

pub use block::block;
pub use csv::csv;
pub use frame::frame;
pub use job::job;
pub use link::link;
pub use pull::pull;
pub use record::record;
pub use word::word;

/// A target: its name, and what is done with an input.
pub type Target = (&'static str, fn(&[u8]));

/// All targets. Each has a binary `tests/fuzz/fuzz_targets/NAME.rs` and seeds in
/// `tests/fuzz/corpus/NAME/`.
pub const TARGETS: [Target; 8] = [
    ("frame", frame),
    ("link", link),
    ("pull", pull),
    ("block", block),
    ("csv", csv),
    ("job", job),
    ("word", word),
    ("record", record),
];
