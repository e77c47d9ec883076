//! A job and a history that are in order, to be spoilt one fact at a time.
//!
//! The samples go through real blocks: packed as the logger does, decoded as the program does.

#![allow(dead_code)] // Each test binary uses its own part.

mod flash;

use glueday::assess::{Assessment, Finding, Step, assess};
use glueday::history::{History, build};
use glueday::job::Job;
use glueday::limits::Limits;
use glueday_types::LoggerId;

pub(crate) const MIN: i64 = 60;
pub(crate) const HOUR: i64 = 3600;
pub(crate) const DAY: i64 = 86_400;
/// The id in the blocks.
const LOGGER: LoggerId = LoggerId(*b"worldlog");
/// Sampling interval.
pub(crate) const STEP_S: i64 = 600;
/// 2026-03-02T00:00Z, the first day of the log.
pub(crate) const D0: i64 = 1_772_409_600;

/// The job of the log: everything that gluing needs, most of it well within its limits.
const JOB: &str = r#"
[site]
name = "Test house"
time-zone = "UTC"
area = "1000 ft2"
units = "metric"

[[room]]
name = "Hall"

[concrete]
poured = 2026-01-12
thickness = "100 mm"
kind = "cement screed"
drying = "one side"

[wood]
thickness = "15 mm"
conductivity = "0.15 W/mK"

[barrier]
product = "two-part barrier"
cure = "24 h"

[adhesive]
traffic = "24 h"
sanding = "72 h"

[heating]
design-supply = "42 C"

[milestones]
delivered = 2026-03-11T00:00
barrier-rolled = 2026-03-14T00:00
"#;

/// Checks that found nothing to correct; two salts for the humidity.
const PROBES: &str = r#"
[[probe]]
channel = "slab"
[[probe.check]]
date = 2026-02-20
method = "ice"
reference = "0 C"
reading = "0 C"

[[probe]]
channel = "air"
[[probe.check]]
date = 2026-02-20
method = "comparison"
reference = "21 C"
reading = "21 C"

[[probe]]
channel = "rh"
[[probe.check]]
date = 2026-02-20
method = "salt"
reference = "33.1 %"
reading = "33.1 %"
temperature = "20 C"
[[probe.check]]
date = 2026-02-20
method = "salt"
reference = "75.5 %"
reading = "75.5 %"
temperature = "20 C"

[[probe]]
channel = "supply"
[[probe.check]]
date = 2026-02-20
method = "ice"
reference = "0 C"
reading = "0 C"
"#;

/// One in-situ test of the job; `{hole}` names it.
const HOLE: &str = r#"
[[in-situ-test]]
hole = "{hole}"
depth = "40 mm"
drilled = 2026-03-11T23:30
sealed = 2026-03-12T00:00
read = 2026-03-13T00:00
reading = "72 %"
heat = "off"
"#;

/// What the probes read at one time; `None` is a probe that does not answer.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reads {
    pub(crate) time_s: i64,
    pub(crate) slab: Option<f64>,
    pub(crate) air: Option<f64>,
    pub(crate) rh: Option<f64>,
    pub(crate) supply: Option<f64>,
}

#[derive(Clone, Debug)]
pub(crate) struct World {
    pub(crate) job: String,
    pub(crate) samples: Vec<Reads>,
    pub(crate) at_s: i64,
    pub(crate) step: Step,
    /// The starts of the logger, in order of time; a sample is of the last one before it.
    pub(crate) boots: Vec<Boot>,
    /// Changes of the sampling interval, which begins as [`STEP_S`]: when, and to how many seconds.
    pub(crate) intervals: Vec<(i64, u16)>,
}

/// One start of the logger, and what it was told of the time since. Times are by a right clock: what
/// the logger made of them is up to the syncs.
#[derive(Clone, Debug)]
pub(crate) struct Boot {
    pub(crate) number: u32,
    /// Second 0 of the logger's own count.
    pub(crate) started_s: i64,
    /// Clock syncs in the order in which they came: when, and the UTC that they told.
    pub(crate) syncs: Vec<(i64, i64)>,
}

#[derive(Clone, Copy, Debug)]
pub(crate) enum Of {
    Slab,
    Air,
    Rh,
    Supply,
}

/// Day, hour and minute of the log.
pub(crate) fn t(day: i64, hour: i64, minute: i64) -> i64 {
    D0 + day * DAY + hour * HOUR + minute * MIN
}

/// A sample in which all is well, with the small movements of a live probe.
pub(crate) fn good(time_s: i64) -> Reads {
    let moving = (time_s / STEP_S % 3) as f64 / 100.0;
    // Run in: 72 h at 23 °C, then 96 h at 42 °C, then down.
    let supply = match time_s - D0 {
        ..=259_200 => 23.0,
        259_201..=605_400 => 42.0,
        _ => 24.0,
    };
    Reads {
        time_s,
        slab: Some(20.0 + moving),
        air: Some(21.0 + moving),
        rh: Some(42.0 + moving),
        supply: Some(supply + moving),
    }
}

impl World {
    /// A fortnight of log, and every fact that gluing needs.
    pub(crate) fn ready() -> Self {
        let readings = vec!["\"7.5 %\""; 40].join(", ");
        let mut job = JOB.to_owned() + PROBES;
        for hole in ["A", "B", "C"] {
            job.push_str(&HOLE.replace("{hole}", hole));
        }
        job.push_str(&format!(
            "\n[[meter-reading]]\ndate = 2026-03-15\nof = \"wood\"\nreadings = [{readings}]\n"
        ));
        let at_s = t(14, 0, 0);
        let samples = (D0..=at_s).step_by(600).map(good).collect();
        let boots = vec![Boot { number: 1, started_s: D0, syncs: vec![(D0, D0)] }];
        Self { job, samples, at_s, step: Step::GlueDown, boots, intervals: Vec::new() }
    }

    /// Glued on the 14th day from 8 to 16 h, asked about on the 22nd.
    pub(crate) fn glued(step: Step) -> Self {
        let mut world = Self::ready();
        world.edit(
            "barrier-rolled = 2026-03-14T00:00",
            "barrier-rolled = 2026-03-14T00:00\nglue-started = 2026-03-16T08:00\n\
             glue-finished = 2026-03-16T16:00",
        );
        world.until(t(22, 0, 0));
        world.step = step;
        world
    }

    /// Goes on with good samples, to be asked about at their end, or is asked about earlier.
    pub(crate) fn until(&mut self, at_s: i64) {
        let from_s = self.samples.last().map_or(D0, |last| last.time_s + STEP_S);
        let from_s = D0 + (from_s - D0 + STEP_S - 1) / STEP_S * STEP_S;
        self.samples.extend((from_s..=at_s).step_by(600).map(good));
        self.at_s = at_s;
    }

    /// Replaces every `from` in the job, which must be there.
    pub(crate) fn edit(&mut self, from: &str, to: &str) {
        assert!(self.job.contains(from), "the job has no `{from}`");
        self.job = self.job.replace(from, to);
    }

    /// Replaces the first `from` in the job.
    pub(crate) fn edit_first(&mut self, from: &str, to: &str) {
        assert!(self.job.contains(from), "the job has no `{from}`");
        self.job = self.job.replacen(from, to, 1);
    }

    pub(crate) fn add(&mut self, text: &str) {
        self.job.push_str(text);
    }

    /// Sets a limit by the job.
    pub(crate) fn limit(&mut self, id: &str, value: &str) {
        self.add(&format!("\n[[limit]]\nid = \"{id}\"\nvalue = \"{value}\"\nreason = \"test\"\n"));
    }

    /// Sets a channel from one time to another, both included; there must be a sample.
    pub(crate) fn set(&mut self, of: Of, from_s: i64, to_s: i64, value: impl Into<Option<f64>>) {
        let value = value.into();
        let mut any = false;
        for sample in &mut self.samples {
            if (from_s..=to_s).contains(&sample.time_s) {
                any = true;
                match of {
                    Of::Slab => sample.slab = value,
                    Of::Air => sample.air = value,
                    Of::Rh => sample.rh = value,
                    Of::Supply => sample.supply = value,
                }
            }
        }
        assert!(any, "no sample to set");
    }

    /// Takes the samples between two away and moves the second, so that so long a gap begins at
    /// `from_s`.
    pub(crate) fn gap(&mut self, from_s: i64, length_s: i64) {
        let end_s = from_s + length_s;
        self.samples.retain(|sample| sample.time_s <= from_s || sample.time_s >= end_s);
        if !self.samples.iter().any(|sample| sample.time_s == end_s) {
            let at = self.samples.partition_point(|sample| sample.time_s < end_s);
            let mut moved = self.samples[at];
            moved.time_s = end_s;
            self.samples.insert(at, moved);
        }
    }

    pub(crate) fn start_log_at(&mut self, from_s: i64) {
        self.samples.retain(|sample| sample.time_s >= from_s);
    }

    /// Starts the logger anew at a time, with these syncs after it.
    pub(crate) fn reboot(&mut self, started_s: i64, syncs: &[(i64, i64)]) {
        let last = self.boots.last().expect("a first boot");
        assert!(last.started_s < started_s, "boots come in order of time");
        let number = last.number + 1;
        self.boots.push(Boot { number, started_s, syncs: syncs.to_vec() });
    }

    /// The syncs of the first boot, instead of the one at its second 0.
    pub(crate) fn first_syncs(&mut self, syncs: &[(i64, i64)]) {
        self.boots[0].syncs = syncs.to_vec();
    }

    /// The samples that some sync of their boot dates.
    fn dated(&self) -> usize {
        let dated = |time_s: i64| {
            let boot = self.boots.iter().rev().find(|boot| boot.started_s <= time_s);
            boot.is_some_and(|boot| !boot.syncs.is_empty())
        };
        self.samples.iter().filter(|sample| dated(sample.time_s)).count()
    }

    /// The log as it stands on flash.
    pub(crate) fn blocks(&self) -> Vec<Vec<u8>> {
        self.blocks_of(LOGGER)
    }

    /// The same, as another logger would have written it.
    pub(crate) fn blocks_of(&self, logger: LoggerId) -> Vec<Vec<u8>> {
        flash::blocks(self, logger)
    }

    pub(crate) fn history(&self) -> History {
        let blocks = self.blocks();
        build(blocks.iter().map(Vec::as_slice))
    }

    pub(crate) fn assessment(&self) -> Assessment {
        let job = match Job::parse(&self.job, "job.toml") {
            Ok(job) => job,
            Err(errors) => panic!("the job does not parse: {errors:?}\n{}", self.job),
        };
        let history = self.history();
        assert_eq!(history.len(), self.dated(), "every sample of a boot with a sync is dated");
        assert!(history.damaged.is_empty());
        let zone = job.zone("Hall").expect("the room");
        assess(&job, &Limits::resolve(&job), &[(zone, &history)], self.step, self.at_s)
    }

    pub(crate) fn finding(&self, id: &str) -> Finding {
        let assessment = self.assessment();
        let judged = assessment.zones[0].judged.iter().find(|judged| judged.requirement.id == id);
        judged.unwrap_or_else(|| panic!("no requirement {id} for this step")).finding.clone()
    }
}
