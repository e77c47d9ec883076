//! Sites of which it is known whether the step may start: some may, others are a wait for one reason.

use glueday::assess::Step;

use super::assess_world::{HOUR, MIN, Of, World, good, t};
use super::flaws::sound;
use super::site::Channels;

/// When the probes saw what stops the step.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Breach {
    pub(crate) of: Channels,
    pub(crate) from_s: i64,
    pub(crate) to_s: i64,
}

#[derive(Clone, Debug)]
pub(crate) struct Truth {
    pub(crate) name: &'static str,
    pub(crate) world: World,
    /// `None` when the step may start, or when it is stopped by time and not by a reading.
    pub(crate) breach: Option<Breach>,
    pub(crate) go: bool,
}

fn of(channel: Of) -> Channels {
    match channel {
        Of::Slab => [true, false, false, false],
        Of::Air => [false, true, false, false],
        Of::Rh => [false, false, true, false],
        Of::Supply => [false, false, false, true],
    }
}

fn breach(
    name: &'static str,
    step: Step,
    channel: Of,
    value: f64,
    from_s: i64,
    length_s: i64,
) -> Truth {
    let mut world = sound(step);
    let to_s = from_s + length_s;
    world.set(channel, from_s, to_s, value);
    Truth { name, world, breach: Some(Breach { of: of(channel), from_s, to_s }), go: false }
}

fn early(name: &'static str, step: Step, at_s: i64) -> Truth {
    let mut world = sound(step);
    world.samples.retain(|reads| reads.time_s <= at_s);
    world.at_s = at_s;
    Truth { name, world, breach: None, go: false }
}

fn edited(name: &'static str, step: Step, from: &str, to: &str) -> Truth {
    let mut world = sound(step);
    world.edit(from, to);
    Truth { name, world, breach: None, go: false }
}

/// The same site on the clock of a place that went to summer time while the log ran: 2026-03-08 at
/// 09:00Z in Denver. All its stamps are of later days, 6 h ahead of UTC.
fn denver(mut truth: Truth) -> Truth {
    let mut job = truth.world.job.replace("\"UTC\"", "\"America/Denver\"");
    for day in (9..=24_u32).rev() {
        for hour in (0..24_u32).rev() {
            let utc = format!("2026-03-{day:02}T{hour:02}:");
            let local_h = day * 24 + hour - 6;
            // Marked, so that what was moved is not moved again.
            let local = format!("2026~03-{:02}T{:02}:", local_h / 24, local_h % 24);
            job = job.replace(&utc, &local);
        }
    }
    truth.world.job = job.replace("2026~", "2026-");
    truth
}

/// The supply held its design temperature for 40 h of the 72 h asked for.
fn run_in_cut_short() -> Truth {
    let mut truth = edited("run-in cut short", Step::GlueDown, "UTC", "UTC");
    let from_s = t(4, 20, 0);
    truth.world.set(Of::Supply, from_s, t(7, 4, 0), 23.0);
    truth.world.limit("run-in-design-hold", "96 h");
    truth
}

/// From 18.3 to 21.6 °C in four hours, each in range.
fn slab_warmed_fast() -> Truth {
    let mut world = sound(Step::GlueDown);
    let (cold_s, from_s, to_s) = (t(13, 3, 0), t(13, 6, 0), world.at_s);
    for reads in world.samples.iter_mut().filter(|reads| reads.time_s >= cold_s) {
        let since_h = (reads.time_s - from_s).max(0) as f64 / HOUR as f64;
        let rise = (since_h / 4.0).min(1.0) * 3.3;
        reads.slab = good(reads.time_s).slab.map(|slab| slab - 1.7 + rise);
    }
    // Too much begins in the fourth hour.
    let breach = Breach { of: of(Of::Slab), from_s: from_s + 3 * HOUR, to_s };
    Truth { name: "slab warmed fast", world, breach: Some(breach), go: false }
}

/// The barrier was rolled in order, got damp two days later, and then all was well for four days.
fn damp_barrier_long_ago() -> Truth {
    let mut truth = breach(
        "dew on the barrier days ago, 3 h",
        Step::GlueDown,
        Of::Rh,
        95.0,
        t(13, 6, 0),
        3 * HOUR,
    );
    truth.world.until(t(18, 0, 0));
    truth
}

/// Tests of the concrete are read at the temperature that the floor will have.
fn tests_in_the_cold() -> Truth {
    let mut truth =
        breach("tests read in the cold, 6 h", Step::GlueDown, Of::Slab, 8.0, t(10, 2, 0), 6 * HOUR);
    truth.world.until(t(15, 0, 0));
    truth
}

/// All of them.
pub(crate) fn truths() -> Vec<Truth> {
    use Step::{GlueDown, HeatUp, Membrane, Sanding, Service, Traffic};
    let go = |step: Step| Truth { name: step.as_str(), world: sound(step), breach: None, go: true };
    let mut truths: Vec<Truth> = Step::ALL.into_iter().map(go).collect();
    truths.push(Truth { name: "glue-down in Denver", ..denver(go(GlueDown)) });
    truths.extend([
        breach("slab cold, 6 h", GlueDown, Of::Slab, 12.0, t(13, 6, 0), 6 * HOUR),
        breach("slab cold, 2 h", GlueDown, Of::Slab, 12.0, t(13, 15, 0), 2 * HOUR),
        breach("slab cold, one sample", GlueDown, Of::Slab, 12.0, t(13, 15, 0), 0),
        breach("air cold, 6 h", GlueDown, Of::Air, 12.0, t(13, 2, 0), 6 * HOUR),
        breach(
            "acclimation broken by damp air, 6 h",
            GlueDown,
            Of::Rh,
            70.0,
            t(13, 10, 0),
            6 * HOUR,
        ),
        breach("damp air, half an hour", GlueDown, Of::Rh, 70.0, t(13, 10, 0), 30 * MIN),
        breach("dew under the barrier, 6 h", Membrane, Of::Rh, 95.0, t(13, 4, 0), 6 * HOUR),
        breach("dew under the adhesive, 3 h", GlueDown, Of::Rh, 95.0, t(13, 20, 0), 3 * HOUR),
        breach("supply too hot, 6 h", GlueDown, Of::Supply, 60.0, t(13, 8, 0), 6 * HOUR),
        breach("cold in the cure, 6 h", Traffic, Of::Slab, 12.0, t(14, 18, 0), 6 * HOUR),
        breach("air cold in the cure, 6 h", HeatUp, Of::Air, 12.0, t(14, 10, 0), 6 * HOUR),
        breach("supply hot in the cure, 3 h", Sanding, Of::Supply, 60.0, t(15, 8, 0), 3 * HOUR),
        breach("floor in service too warm, 3 h", Service, Of::Slab, 30.0, t(17, 6, 0), 3 * HOUR),
        slab_warmed_fast(),
        early("adhesive not cured for traffic", Traffic, t(15, 10, 0)),
        early("adhesive not cured for sanding", Sanding, t(16, 20, 0)),
        early("adhesive not cured for heat", HeatUp, t(19, 20, 0)),
        early("barrier not cured", GlueDown, t(12, 20, 0)),
        edited(
            "acclimation too short",
            GlueDown,
            "delivered = 2026-03-11T00:00",
            "delivered = 2026-03-14T12:00",
        ),
        edited("concrete too young", GlueDown, "poured = 2026-01-12", "poured = 2026-02-24"),
        run_in_cut_short(),
        damp_barrier_long_ago(),
        tests_in_the_cold(),
    ]);
    let cold = breach("slab cold in Denver, 6 h", GlueDown, Of::Slab, 12.0, t(13, 6, 0), 6 * HOUR);
    truths.push(denver(cold));
    truths
}
