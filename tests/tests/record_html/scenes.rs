//! Evidence to draw pages of.

use crate::assess_world::{Of, World, t};
use glueday::record::{Evidence, Log};
use glueday_types::LoggerId;

/// The id in the blocks of a world.
const LOGGER: LoggerId = LoggerId(*b"worldlog");
/// Names that would be markup if a page took them for it, as the job file writes them.
pub(crate) const SITE: &str = r#"<script>document.title='run'</script> & \"Söhne\" '床'"#;
pub(crate) const ROOM: &str = r#"<img src=x onerror=alert(1)> </td></table> \"Bath\""#;
pub(crate) const PRODUCT: &str = r#"</style><b>Glue</b> & <!-- co"#;

/// A text of the job file as it reads.
pub(crate) fn read(text: &str) -> String {
    text.replace("\\\"", "\"")
}

fn of(world: &World) -> Evidence {
    let mut world = world.clone();
    world.edit("name = \"Hall\"", "name = \"Hall\"\nlogger = \"hall logger\"");
    let log = Log {
        logger: LOGGER,
        name: Some("hall logger".to_owned()),
        public_key: None,
        blocks: world.blocks(),
        attestations: Vec::new(),
        original: None,
        other_copies: Vec::new(),
    };
    Evidence {
        program: "glueday test".to_owned(),
        job_text: world.job.clone(),
        step: world.step,
        at_s: world.at_s,
        rooms: Vec::new(),
        logs: vec![log],
    }
}

/// One room, go.
pub(crate) fn go() -> Evidence {
    of(&World::ready())
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
        &format!("[[room]]\nname = \"{ROOM}\"\nlogger = \"hall logger\"\n\n[concrete]"),
    );
    of(&world)
}
