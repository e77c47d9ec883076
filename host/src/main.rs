//! The glueday program.
fn main() {}
