//! Evidence to draw pages of.

use crate::assess_world::{Of, World, t};
use glueday::record::{Evidence, Log};
use glueday_types::LoggerId;

/// The loggers of the two rooms.
const HALL: LoggerId = LoggerId(*b"hall-log");
const OTHER: LoggerId = LoggerId(*b"room-log");
/// Names that would be markup if a page took them for it, as the job file writes them.
pub(crate) const SITE: &str = r#"<script>document.title='run'</script> & \"Söhne\" '床'"#;
pub(crate) const ROOM: &str = r#"<img src=x onerror=alert(1)> </td></table> \"Bath\""#;
pub(crate) const PRODUCT: &str = r#"</style><b>Glue</b> & <!-- co"#;

/// A text of the job file as it reads.
pub(crate) fn read(text: &str) -> String {
    text.replace("\\\"", "\"")
}

fn log(logger: LoggerId, name: &str, world: &World) -> Log {
    Log {
        logger,
        name: Some(name.to_owned()),
        public_key: None,
        blocks: world.blocks_of(logger),
        attestations: Vec::new(),
        original: None,
        other_copies: Vec::new(),
    }
}

fn of(world: &World, logs: Vec<Log>) -> Evidence {
    let mut world = world.clone();
    world.edit("name = \"Hall\"", "name = \"Hall\"\nlogger = \"hall logger\"");
    Evidence {
        program: "glueday test".to_owned(),
        job_text: world.job.clone(),
        step: world.step,
        at_s: world.at_s,
        rooms: Vec::new(),
        logs,
    }
}

/// One room, go.
pub(crate) fn go() -> Evidence {
    let world = World::ready();
    of(&world, vec![log(HALL, "hall logger", &world)])
}

/// Two rooms with names that are no markup, broken limits, gaps, an undated start: wait.
pub(crate) fn wait() -> Evidence {
    let mut world = World::ready();
    world.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 62.5);
    world.set(Of::Slab, t(12, 5, 0), t(12, 7, 0), 17.2);
    world.gap(t(9, 3, 0), 3 * 3600);
    world.reboot(t(6, 0, 0), &[]);
    world.reboot(t(6, 12, 0), &[(t(6, 12, 0), t(6, 12, 0))]);
    world.edit("name = \"Test house\"", &format!("name = \"{SITE}\""));
    world.edit("product = \"two-part barrier\"", &format!("product = \"{PRODUCT}\""));
    world.edit(
        "[concrete]",
        &format!("[[room]]\nname = \"{ROOM}\"\nlogger = \"second logger\"\n\n[concrete]"),
    );
    // The other room had an hour of wet air, and its logger stopped for a night.
    let mut other = World::ready();
    other.set(Of::Rh, t(13, 4, 0), t(13, 5, 0), 58.0);
    other.gap(t(10, 20, 0), 9 * 3600);
    let logs = vec![log(HALL, "hall logger", &world), log(OTHER, "second logger", &other)];
    of(&world, logs)
}
