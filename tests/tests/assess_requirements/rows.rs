//! A table of rows that are all run before the first failure is reported.

use glueday::assess::Outcome;

use super::assess_world::{D0, World};

/// What is expected of `clears_at`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Clears {
    /// Not looked at.
    Any,
    /// Time alone does not clear it.
    Never,
    /// At this second.
    At(i64),
}

struct Row {
    id: &'static str,
    because: &'static str,
    world: World,
    outcome: Outcome,
    clears: Clears,
}

#[derive(Default)]
pub(crate) struct Rows(Vec<Row>);

impl Rows {
    pub(crate) fn on(
        &mut self,
        mut world: World,
        id: &'static str,
        because: &'static str,
        spoil: impl FnOnce(&mut World),
        outcome: Outcome,
        clears: Clears,
    ) {
        spoil(&mut world);
        self.0.push(Row { id, because, world, outcome, clears });
    }

    pub(crate) fn ready(
        &mut self,
        id: &'static str,
        because: &'static str,
        spoil: impl FnOnce(&mut World),
        outcome: Outcome,
        clears: Clears,
    ) {
        self.on(World::ready(), id, because, spoil, outcome, clears);
    }

    /// Runs every row before it fails, so that one look shows all that is wrong.
    pub(crate) fn check(self, at_least: usize) {
        assert!(self.0.len() >= at_least, "only {} rows", self.0.len());
        let mut wrong = Vec::new();
        for row in &self.0 {
            let finding = row.world.finding(row.id);
            let clears = match row.clears {
                Clears::Any => true,
                Clears::Never => finding.clears_at_s.is_none(),
                Clears::At(time_s) => finding.clears_at_s == Some(time_s),
            };
            if finding.outcome != row.outcome || !clears {
                wrong.push(format!(
                    "{}: {}\n  wanted {:?} {:?} (day 0 + {:?} s)\n  found {finding:#?}",
                    row.id,
                    row.because,
                    row.outcome,
                    row.clears,
                    finding.clears_at_s.map(|time_s| time_s - D0),
                ));
            }
        }
        assert!(wrong.is_empty(), "{} rows fail\n{}", wrong.len(), wrong.join("\n"));
    }
}
