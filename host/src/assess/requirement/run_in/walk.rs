//! The search for the stages of a run-in.

use super::Stages;
use crate::assess::scene::seconds;
use crate::assess::window::Point;

/// What was found of the stages.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Found {
    /// Whether the supply was ever above the first stage.
    pub(super) hot: bool,
    /// The longest first stage.
    pub(super) first_s: i64,
    /// The longest hold at design supply that followed on a whole first stage.
    pub(super) design_s: i64,
    /// Whether both were long enough.
    pub(super) done: bool,
    /// The longest hole that ended a stage: from when on, and its length.
    pub(super) hole: Option<(i64, i64)>,
    /// The first reading.
    pub(super) begins_s: Option<i64>,
}

/// Where the run-in is.
enum At {
    /// Not in it.
    Outside,
    /// In the first stage since then.
    First(i64),
    /// The first stage is done, and the heat is on.
    Between,
    /// At design supply since then.
    Design(i64),
}

/// The search for the stages on its way through the readings.
pub(super) struct Walk<'s> {
    stages: &'s Stages<'s>,
    gap_max_s: i64,
    first_hold_s: i64,
    design_hold_s: i64,
    pub(super) found: Found,
    at: At,
    before_s: i64,
    /// Whether the last reading was warm enough for the design supply.
    is_design: bool,
}

impl<'s> Walk<'s> {
    pub(super) fn new(stages: &'s Stages<'s>, gap_max_s: i64, from_s: i64) -> Self {
        Self {
            stages,
            gap_max_s,
            first_hold_s: seconds(stages.first_hold.value),
            design_hold_s: seconds(stages.design_hold.value),
            found: Found::default(),
            at: At::Outside,
            before_s: from_s,
            is_design: false,
        }
    }

    /// Takes a later reading, with such as [`Self::stays_until`] speaks of between the last and it.
    pub(super) fn step_joined(&mut self, point: Point) {
        self.before_s = point.0;
        self.step(point);
    }

    /// Takes the next reading.
    pub(super) fn step(&mut self, (time_s, supply_c): Point) {
        let Self { stages, found, .. } = self;
        let [warm, above_first, design] = stages.sides(supply_c);
        let in_first = warm && !above_first;
        let gap_s = time_s - self.before_s;
        let is_hole = gap_s > self.gap_max_s;
        let in_stage = !matches!(self.at, At::Outside);
        if is_hole && in_stage && found.hole.is_none_or(|(_, longest_s)| gap_s > longest_s) {
            found.hole = Some((self.before_s, gap_s));
        }
        found.begins_s.get_or_insert(time_s);
        if is_hole || !warm {
            self.at = At::Outside;
        }
        (self.before_s, self.is_design) = (time_s, design);
        found.hot |= above_first;
        self.at = match self.at {
            At::Outside | At::First(_) if !in_first => At::Outside,
            At::Outside => At::First(time_s),
            At::First(from_s) => At::First(from_s),
            At::Between | At::Design(_) if !design => At::Between,
            At::Between => At::Design(time_s),
            At::Design(from_s) => At::Design(from_s),
        };
        match self.at {
            At::First(from_s) => {
                found.first_s = found.first_s.max(time_s - from_s);
                if time_s - from_s >= self.first_hold_s {
                    self.at = At::Between;
                }
            }
            At::Design(from_s) => {
                found.design_s = found.design_s.max(time_s - from_s);
                found.done |= time_s - from_s >= self.design_hold_s;
            }
            At::Outside | At::Between => {}
        }
    }

    /// Whether readings up to a time that are like the last one, without a gap, leave it where it is.
    pub(super) fn stays_until(&self, to_s: i64) -> bool {
        match self.at {
            At::First(from_s) => to_s - from_s < self.first_hold_s,
            // The first stage may just have ended, with a reading that is warm enough for the second.
            At::Between => !self.is_design,
            At::Outside | At::Design(_) => true,
        }
    }
}
