//! Library of the glueday program.

pub mod assess;
pub mod history;
pub mod job;
pub mod limits;
pub mod physics;
pub mod plot;
pub mod quantity;
