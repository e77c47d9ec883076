//! Runs the desk logger.
fn main() {}
