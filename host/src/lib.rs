//! Library of the glueday program.

pub mod physics;
