//! Library of the glueday program.

pub mod archive;
pub mod assess;
pub mod attest;
pub mod cli;
pub mod export;
pub mod history;
pub mod intake;
pub mod job;
pub mod limits;
mod memo;
pub mod physics;
pub mod plot;
pub mod port;
pub mod probe_check;
pub mod pull;
pub mod quantity;
pub mod record;
pub mod view;
