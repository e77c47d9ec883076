//! The logger on a desk: the same firmware library as on a board, with its NOR flash in a file, a
//! scripted climate for probes, and a pty or TCP port for its line.
//!
//! It keeps the promises of a board: each program and erase is a write to the file before the call
//! returns, so that the process may be killed at any moment; and time is virtual, so that weeks of
//! log are made in a second.
//!
//! ```no_run
//! use glueday_desk::{Desk, Port, Script, Settings};
//! use glueday_types::LoggerId;
//! use std::sync::{Arc, atomic::{AtomicBool, Ordering}};
//!
//! let settings = Settings { interval_s: 600, ..Settings::default() };
//! let script = Script::steady(7);
//! let mut desk =
//!     Desk::create_or_open("slab.img", 64, LoggerId(*b"exampleA"), Box::new(script), &settings)?;
//! desk.advance_to(14 * 86_400)?;
//!
//! let port = Port::open_pty(None)?;
//! println!("{}", port.name());
//! let stop = Arc::new(AtomicBool::new(false));
//! let thread = {
//!     let stop = Arc::clone(&stop);
//!     std::thread::spawn(move || desk.serve(vec![port], &stop).map(|()| desk))
//! };
//! // ... talk to it ...
//! stop.store(true, Ordering::Relaxed);
//! let desk = thread.join().unwrap()?;
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod climate;
mod desk;
mod line;
mod nor_file;
mod port;
mod script;

pub use climate::{Climate, scripted_probes::ScriptedProbes};
pub use desk::{Desk, DeskError, Settings};
pub use line::Pace;
pub use nor_file::{NorError, NorFile, NorFileError};
pub use port::{Port, PortError};
pub use script::{Channel, Fault, Keyframe, Script};
