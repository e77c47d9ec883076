//! The logger without its board.
#![no_std]
