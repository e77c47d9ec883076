//! What was done and measured when, in order.

use super::{Block, Section, Table, Telling, row, text, wide};
use crate::job::{Milestones, method_name};
use jiff::Timestamp;
use jiff::civil::Date;

/// Something that happened.
struct Happening {
    time_s: i64,
    /// Whether only the day is known.
    is_day: bool,
    what: String,
    /// What of, where there may be several at one time.
    of: Vec<String>,
    room: Option<String>,
    told_by: &'static str,
}

const JOB: &str = "job file";
const LOG: &str = "log";

impl Telling<'_> {
    pub(super) fn steps(&self) -> Section {
        let mut all = Vec::new();
        self.work(&mut all);
        self.measurements(&mut all);
        for (zone, history) in &self.case.rooms {
            if let Some((first_s, last_s)) = history.span() {
                for (time_s, what) in [(first_s, "first reading"), (last_s, "last reading")] {
                    let room = Some(zone.name.clone());
                    let what = what.to_owned();
                    let of = Vec::new();
                    all.push(Happening { time_s, is_day: false, what, of, room, told_by: LOG });
                }
            }
        }
        all.push(Happening {
            time_s: self.case.at_s,
            is_day: false,
            what: format!("the time asked about: {}", self.assessment.step.words()),
            of: Vec::new(),
            room: None,
            told_by: "this record",
        });
        // Those of one time stay in the order of the work.
        all.sort_by_key(|it| it.time_s);
        let all = together(all);
        let zone = self.zone_name();
        let rows = all
            .into_iter()
            .map(|it| {
                let when = self.local(it.time_s);
                let day = when.rsplit_once(' ').map_or(when.as_str(), |(day, _)| day);
                let when = if it.is_day { day.to_owned() } else { when.clone() };
                let room = it.room.unwrap_or_else(|| "all".to_owned());
                let what = if it.of.is_empty() {
                    it.what
                } else {
                    format!("{}: {}", it.what, it.of.join(", "))
                };
                row([when, what, room, it.told_by.to_owned()])
            })
            .collect();
        let columns = vec![text("When"), wide("What"), text("Room"), text("Told by")];
        let blocks = vec![
            Block::Text(format!("Times are on the clock of the site ({zone}).")),
            Block::Table(Table { columns, rows }),
        ];
        Section { heading: "What was done when".to_owned(), blocks }
    }

    /// The steps of the work.
    fn work(&self, all: &mut Vec<Happening>) {
        let job = &self.case.job;
        let mut push = |time: Option<Timestamp>, what: &str, room: Option<&str>| {
            all.extend(time.map(|time| Happening {
                time_s: time.as_second(),
                is_day: false,
                what: what.to_owned(),
                of: Vec::new(),
                room: room.map(str::to_owned),
                told_by: JOB,
            }));
        };
        push(job.heating.run_in_start, "run-in of the heating starts", None);
        push(job.heating.run_in_end, "run-in of the heating ends", None);
        let named = |done: &Milestones| {
            [
                (done.delivered, "wood delivered"),
                (done.barrier_rolled, "moisture barrier rolled, last coat"),
                (done.glue_started, "gluing starts"),
                (done.glue_finished, "last board laid"),
                (done.sanded, "sanding starts"),
                (done.heat_on, "heat turned back up"),
            ]
        };
        let whole = named(&job.milestones);
        for (time, what) in whole {
            push(time, what, None);
        }
        for (zone, _) in &self.case.rooms {
            for ((time, what), (general, _)) in named(&zone.milestones).into_iter().zip(whole) {
                push(time.filter(|_| time != general), what, Some(&zone.name));
            }
        }
        if let Some(poured) = job.concrete.poured {
            all.extend(self.day(poured, "concrete poured".to_owned(), None));
        }
    }

    /// Tests and checks.
    fn measurements(&self, all: &mut Vec<Happening>) {
        let job = &self.case.job;
        let mut push = |time: Option<Timestamp>, what: &str, of: &str, room: &Option<String>| {
            all.extend(time.map(|time| Happening {
                time_s: time.as_second(),
                is_day: false,
                what: what.to_owned(),
                of: vec![of.to_owned()],
                room: room.clone(),
                told_by: JOB,
            }));
        };
        for test in job.in_situ_tests.iter().filter(|t| self.concerns(t.room.as_deref())) {
            push(test.sealed, "moisture test, hole sealed", &test.hole, &test.room);
            push(test.read, "moisture test, hole read", &test.hole, &test.room);
        }
        for test in job.calcium_chloride_tests.iter().filter(|t| self.concerns(t.room.as_deref())) {
            push(test.start, "moisture test, dish opened", &test.dish, &test.room);
            push(test.end, "moisture test, dish closed", &test.dish, &test.room);
        }
        for readings in job.meter_readings.iter().filter(|r| self.concerns(r.room.as_deref())) {
            let what = "moisture meter readings".to_owned();
            all.extend(readings.date.and_then(|date| self.day(date, what, readings.room.clone())));
        }
        for probe in job.probes.iter().filter(|p| self.concerns(p.room.as_deref())) {
            for check in &probe.checks {
                let what = format!("probe checked ({})", method_name(check.method));
                let mut checked = self.day(check.date, what, probe.room.clone());
                if let Some(checked) = &mut checked {
                    checked.of.push(super::probes::name(probe.channel).to_owned());
                }
                all.extend(checked);
            }
        }
    }

    /// Something of which only the day is known.
    fn day(&self, date: Date, what: String, room: Option<String>) -> Option<Happening> {
        let begins = date.to_zoned_datetime(self.case.job.site.time_zone.clone()).ok()?;
        let time_s = begins.timestamp().as_second();
        Some(Happening { time_s, is_day: true, what, of: Vec::new(), room, told_by: JOB })
    }
}

/// The same at one time in one room as one, in the order of time.
fn together(all: Vec<Happening>) -> Vec<Happening> {
    let mut together: Vec<Happening> = Vec::new();
    for mut it in all {
        let same = |other: &&mut Happening| {
            !it.of.is_empty() && (&other.what, &other.room) == (&it.what, &it.room)
        };
        let now = together.iter_mut().rev().take_while(|other| other.time_s == it.time_s);
        match now.into_iter().find(same) {
            Some(other) => {
                it.of.retain(|name| !other.of.contains(name));
                other.of.append(&mut it.of);
            }
            None => together.push(it),
        }
    }
    together
}
