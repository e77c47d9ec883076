//! Each probe was checked against something known, lately enough and with little enough error.

use super::{Judgement, settle};
use crate::assess::correction::{CheckDay, check_days, job_channel};
use crate::assess::scene::hours;
use crate::assess::{Broken, Figure, Finding, Missing, Requirement, Scene, Step};
use crate::history::Channel;
use crate::job::{CheckMethod, ProbeCheck};
use crate::limits::{LimitId, ResolvedLimit};
use crate::physics::salt::Salt;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "probe-checks",
    title: "probes checked",
    steps: &Step::ALL,
    rule: "For each probe: the last check (ice bath, saturated salt, comparison, calibration certificate) \
           is no older than the limit, counted from the beginning of its day, and every check that was \
           in force in the time that counts, or made in it, found an error within the limit, whatever \
           is made of it. Readings are corrected by what the check found, from the beginning of its \
           day on until the next: on the line between its points, and as at the nearest beyond them; \
           what was read earlier stays as it is. A probe without a check is no evidence.",
    judge: |scene| settle(judge(scene)),
};

/// A reference of a salt check that is further than this from every salt known is told, %RH. Ours, no
/// source; the published uncertainties are up to 0.5 %RH.
const SALT_WITHIN_PCT: f64 = 1.0;

fn judge(scene: &Scene<'_>) -> Judgement {
    let age_max = scene.limit(LimitId::ProbeCheckAgeMax)?;
    let from_s = scene.time_that_counts().map_or(scene.at_s, |span| span.from_s);
    let probes = Channel::ALL
        .into_iter()
        .map(|channel| {
            Ok(Checked { channel, limit: error_max(scene, channel)?, days: days(scene, channel) })
        })
        .collect::<Result<Vec<_>, Missing>>()?;
    let never: Vec<&str> =
        probes.iter().filter(|p| p.days.is_empty()).map(|p| p.channel.name()).collect();

    let mut figures = Vec::new();
    let mut broken = Vec::new();
    let mut failed: Vec<&Checked<'_>> = Vec::new();
    for probe in &probes {
        for day in probe.in_force(from_s) {
            let figure = probe.worst(day);
            if !figure.is_met() {
                broken.push(Broken {
                    from_s: day.from_s,
                    to_s: day.from_s,
                    worst: figure.observed,
                    limit: probe.limit.id,
                });
                if !failed.iter().any(|other| other.channel == probe.channel) {
                    failed.push(probe);
                }
            }
            figures.push(figure);
        }
    }
    if !failed.is_empty() {
        let figure = figures.into_iter().filter(|f| !f.is_met()).min_by(nearer);
        let figure = figure.ok_or_else(|| none(&never))?;
        broken.sort_by_key(|b| b.from_s);
        let names = listed(failed.iter().map(|p| p.channel.name()));
        let because = format!("a check found the probe of {names} too far off");
        // Once a later check was good, what was read before it has to pass out of the time that counts.
        let back_s = scene.at_s - from_s;
        let slides = matches!(scene.step, Step::Membrane | Step::GlueDown);
        let clears_at_s = failed.iter().try_fold(scene.at_s, |latest_s, probe| {
            Some(latest_s.max(probe.good_from_s()? + back_s))
        });
        return Ok(warned(
            scene,
            &probes,
            Finding::of(figure, because)
                .with_broken(broken)
                .with_todo(
                    "mend or replace the probe and check it; what it read before is in doubt",
                )
                .with_clears_at(clears_at_s.filter(|_| slides && never.is_empty())),
        ));
    }
    if !never.is_empty() {
        return Ok(warned(scene, &probes, none(&never).into()));
    }
    let oldest = probes.iter().filter_map(|p| Some((p.days.last()?.from_s, p))).min_by_key(|o| o.0);
    let (last_s, oldest) = oldest.ok_or_else(|| none(&never))?;
    let age = Figure::new(age_max, hours(scene.at_s - last_s), 0.0);
    if !age.is_met() {
        let because =
            format!("the probe of {} was not checked for too long", oldest.channel.name());
        return Ok(warned(
            scene,
            &probes,
            Finding::of(age, because).with_todo("check the probe: `glueday probe-check`"),
        ));
    }
    let figure = figures.into_iter().min_by(nearer).unwrap_or(age);
    let finding = Finding::of(figure, "every probe was checked and found good".to_owned());
    Ok(warned(scene, &probes, finding))
}

/// What the checks of one probe say.
struct Checked<'a> {
    channel: Channel,
    limit: &'a ResolvedLimit,
    /// The days with checks up to the time asked about.
    days: Vec<CheckDay>,
}

impl Checked<'_> {
    /// The days whose checks were in force at some time from `from_s` on.
    fn in_force(&self, from_s: i64) -> &[CheckDay] {
        let began = self.days.partition_point(|day| day.from_s <= from_s);
        self.days.get(began.saturating_sub(1)..).unwrap_or_default()
    }

    /// The largest error of a day against the limit.
    fn worst(&self, day: &CheckDay) -> Figure {
        let error = day.found.iter().map(|(_, error)| error.abs()).fold(0.0, f64::max);
        Figure::new(self.limit, error, 0.0)
    }

    /// From when on the last checks were all good; `None` when the last one was not.
    fn good_from_s(&self) -> Option<i64> {
        let good = |day: &&CheckDay| self.worst(day).is_met();
        self.days.iter().rev().take_while(good).last().map(|day| day.from_s)
    }
}

/// Which figure has less left of its limit; those of temperature and humidity have different units.
fn nearer(a: &Figure, b: &Figure) -> std::cmp::Ordering {
    let share = |figure: &Figure| figure.margin / figure.bound.abs().max(1e-9);
    share(a).total_cmp(&share(b))
}

fn error_max<'a>(scene: &Scene<'a>, channel: Channel) -> Result<&'a ResolvedLimit, Missing> {
    scene.limit(match channel {
        Channel::AirRh => LimitId::ProbeRhErrorMax,
        Channel::Slab | Channel::Air | Channel::Supply => LimitId::ProbeTemperatureErrorMax,
    })
}

fn days(scene: &Scene<'_>, channel: Channel) -> Vec<CheckDay> {
    let mut days = check_days(scene.job, &scene.zone.name, channel);
    days.retain(|day| day.from_s <= scene.at_s);
    days
}

fn none(never: &[&str]) -> Missing {
    Missing {
        because: format!("no check is entered for the probe of {}", listed(never.iter().copied())),
        todo: "check it against ice, salt or a calibrated instrument (`glueday probe-check`), or enter \
               [[probe.check]] from its calibration certificate"
            .to_owned(),
    }
}

/// `slab surface, air and supply`
fn listed<'s>(names: impl Iterator<Item = &'s str>) -> String {
    let names: Vec<&str> = names.collect();
    match names.split_last() {
        Some((last, others)) if !others.is_empty() => format!("{} and {last}", others.join(", ")),
        Some((last, _)) => (*last).to_owned(),
        None => String::new(),
    }
}

/// With what is to be known of the corrections and of checks that look odd.
fn warned(scene: &Scene<'_>, probes: &[Checked<'_>], mut finding: Finding) -> Finding {
    let corrected: Vec<&str> = probes
        .iter()
        .filter(|probe| probe.days.last().is_some_and(CheckDay::corrects))
        .map(|probe| probe.channel.name())
        .collect();
    if !corrected.is_empty() {
        let names = listed(corrected.into_iter());
        finding.warnings.push(format!("readings of {names} are corrected by their last check"));
    }
    for probe in probes {
        let entered = scene.job.probe(&scene.zone.name, job_channel(probe.channel));
        for check in entered.iter().flat_map(|probe| &probe.checks) {
            if let Some(odd) = odd_salt(check) {
                finding.warnings.push(format!("check of air RH on {}: {odd}", check.date));
            }
        }
    }
    finding
}

/// What is odd about a salt check: a jar of unknown temperature, or a humidity that no salt gives.
fn odd_salt(check: &ProbeCheck) -> Option<String> {
    if check.method != CheckMethod::Salt {
        return None;
    }
    let Some(jar) = check.temperature else {
        return Some(
            "the temperature of the jar is not entered, and the salt depends on it".into(),
        );
    };
    let known = Salt::ALL.iter().filter_map(|salt| salt.rh_pct(jar.celsius()).ok());
    let nearest = known.map(|rh_pct| (rh_pct - check.reference).abs()).min_by(f64::total_cmp);
    match nearest {
        Some(off) if off <= SALT_WITHIN_PCT => None,
        _ => Some(format!(
            "no salt that is known here gives {:.1} %RH at that temperature",
            check.reference
        )),
    }
}
