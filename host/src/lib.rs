//! Library of the glueday program.

pub mod archive;
pub mod port;
pub mod pull;
