//! Library of the glueday program.

pub mod job;
pub mod limits;
pub mod quantity;
