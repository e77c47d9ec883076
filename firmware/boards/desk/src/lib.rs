//! The logger on a desk.
