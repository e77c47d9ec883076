//! What the bench board in its emulator and the tests around it agree on.
//!
//! The emulator has no humidity sensor, no NOR flash and no cable that can be cut. The board therefore
//! keeps its log in memory that is a file of the tests, reads its wiring and settings from a page of
//! that file (the [`switchboard`]), and sends each I2C transaction for the air probe over a second
//! serial line to a model of the sensor ([`Asked`], [`Answer`]). All that is above these three is the
//! code of a real board.
#![no_std]

pub mod switchboard;
mod tunnel;

pub use tunnel::{ANSWER_FRAME_LEN_MAX, ASKED_FRAME_LEN_MAX, Answer, Asked, Clock, Outcome, read};
