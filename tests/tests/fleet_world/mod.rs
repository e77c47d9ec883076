//! Forty jobs with their logs: goes, waits of many kinds, and some that cannot be judged.
//!
//! All of it is made anew from the rules below, the same each time, and put into any archive.

#![allow(dead_code)] // Each test binary uses its own part.

use crate::assess_world::{HOUR, Of, World, t};
use glueday::archive::{Archive, Kept, PullRecord};
use glueday_types::LoggerId;
use std::fmt::Write as _;
use std::path::Path;

/// How many there are.
pub(crate) const JOBS: u8 = 40;
/// The time asked about: the end of most of the logs.
pub(crate) const AT: &str = "2026-03-16T00:00:00Z";
/// When what is in the archive came there.
const STORED_S: i64 = 1_773_700_000;

/// A job: its file, and the logs of its rooms.
pub(crate) struct FleetJob {
    /// Name of the file without its ending.
    pub(crate) name: String,
    pub(crate) text: String,
    pub(crate) logs: Vec<FleetLog>,
}

/// A log by the name of its logger.
pub(crate) struct FleetLog {
    pub(crate) logger: LoggerId,
    pub(crate) name: String,
    pub(crate) blocks: Vec<Vec<u8>>,
    /// Supply voltage that its last pull told of.
    pub(crate) supply_mv: Option<u16>,
}

pub(crate) fn jobs() -> Vec<FleetJob> {
    (0..JOBS).map(job).collect()
}

/// The job of a number. Its kind is the number's rest by ten, the figures differ from job to job.
fn job(number: u8) -> FleetJob {
    let shift = f64::from(number) / 100.0;
    let mut hall = World::ready();
    for reads in &mut hall.samples {
        reads.slab = reads.slab.map(|value| value + shift);
        reads.rh = reads.rh.map(|value| value - shift);
    }
    let name = |room: &str| format!("{room} {number:02}");
    let mut rooms = vec![("Hall", Some(name("hall")))];
    let mut logs = Vec::new();
    let mut missing = None;
    match number % 10 {
        // Go.
        0 | 5 => {}
        1 => hall.set(Of::Rh, t(11, 4, 0), t(11, 9 + i64::from(number / 10), 0), 62.5),
        2 => hall.set(Of::Slab, t(13, 20, 0), t(14, 0, 0), 14.0 + shift),
        // The log ends too early.
        3 => hall.samples.retain(|reads| reads.time_s < t(12 + i64::from(number / 20), 0, 0)),
        // A second room, with a log of its own, and one without.
        4 => {
            let mut bath = World::ready();
            bath.set(Of::Air, t(13, 6, 0), t(13, 12, 0), 12.0 + shift);
            logs.push(log(number, 1, name("bath"), &bath));
            rooms.push(("Bath / \"north\" – größte", Some(name("bath"))));
            rooms.push(("Attic", None));
        }
        // A restart after which nobody set the clock.
        6 => hall.reboot(t(13, 2, 0) + i64::from(number), &[]),
        7 => hall.gap(t(12, 3, 0), HOUR * (3 + i64::from(number / 10))),
        // A block that nobody pulled, or bytes that rotted on flash.
        8 => missing = Some(number),
        // What no archive can answer: no such logger, or no job.
        _ if number % 20 == 9 => rooms[0].1 = Some(name("nobody")),
        _ => rooms.clear(),
    }
    let mut of_hall = log(number, 0, name("hall"), &hall);
    match missing {
        Some(n) if n % 20 == 8 => drop(of_hall.blocks.remove(1)),
        Some(_) => of_hall.blocks[1][1500] ^= 0x10,
        None => {}
    }
    logs.push(of_hall);
    let mut text = hall.job.replace("Test house", &format!("Mill Row {number}"));
    let mut sections = String::new();
    for (room, logger) in &rooms {
        // TOML and JSON write such texts alike.
        writeln!(sections, "[[room]]\nname = {}", serde_json::json!(room)).unwrap();
        if let Some(logger) = logger {
            writeln!(sections, "logger = \"{logger}\"").unwrap();
        }
    }
    text = text.replace("[[room]]\nname = \"Hall\"\n", &sections);
    if rooms.is_empty() {
        text = format!("[site]\nname = {number}\n");
    }
    FleetJob { name: format!("job-{number:02}"), text, logs }
}

fn log(number: u8, room: u8, name: String, world: &World) -> FleetLog {
    let logger = LoggerId([b'f', b'l', b'e', b'e', b't', 0, room, number]);
    let supply_mv = number.is_multiple_of(3).then(|| 2_400 + 20 * u16::from(number));
    FleetLog { logger, name, blocks: world.blocks_of(logger), supply_mv }
}

/// Puts all logs into an archive.
pub(crate) fn fill(archive: &mut Archive, jobs: &[FleetJob]) {
    for log in jobs.iter().flat_map(|job| &job.logs) {
        archive.adopt(log.logger, &log.name, Some([7; 32]), STORED_S).unwrap();
        let last = log.blocks.len() - 1;
        for (i, block) in log.blocks.iter().enumerate() {
            let kept = if i < last {
                archive.put_block(log.logger, block, "a test", STORED_S)
            } else {
                archive.extend_open_block(log.logger, block, "a test", STORED_S)
            };
            assert_eq!(kept.unwrap(), Kept::Stored);
        }
        let pull = PullRecord {
            logger: log.logger,
            at_s: STORED_S,
            port: "a pty".to_owned(),
            bytes: 1,
            result: PullRecord::COMPLETE.to_owned(),
            supply_mv: log.supply_mv,
        };
        archive.note_pull(&pull).unwrap();
    }
}

/// Writes the job files into a folder.
pub(crate) fn write_jobs(folder: &Path, jobs: &[FleetJob]) {
    for job in jobs {
        std::fs::write(folder.join(format!("{}.toml", job.name)), &job.text).unwrap();
    }
}
