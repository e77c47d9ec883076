//! The story of the demo: an invented site, day by day, and its job file.
//!
//! Day 0 is a Thursday at 8 in the morning. All of it is invented; the limits it runs into are not.

use glueday_types::MarkKind;
use jiff::civil::Weekday;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, ToSpan as _, ZonedDateTime};

/// The site's time zone.
pub(super) const ZONE: &str = "America/Denver";
/// Name of the logger, in the archive and in the job.
pub(super) const LOGGER: &str = "hall logger";
/// The first line of the job, by which it is known again.
pub(super) const FIRST_LINE: &str =
    "# The job of the demo. Site, products and figures are invented.";
/// The day, counted from day 0, on which the wood may be glued down.
const GO_DAY: i64 = 42;
/// The day on which the question is asked too early: the Monday after the wet weekend.
const WAIT_DAY: i64 = 39;
/// Day and hour of the story at which the wood came.
const DELIVERED: (i64, i64) = (34, 1);
/// Day and hour at which the last coat of the moisture barrier was rolled.
const BARRIER_ROLLED: (i64, i64) = (35, 2);

/// What happened when.
pub(super) struct Story {
    /// The logger is switched on: day 0.
    start: ZonedDateTime,
}

impl Story {
    /// The story whose day of gluing is the last Thursday, 8 in the morning, before `now_s`.
    pub(super) fn ending_at(now_s: i64) -> Option<Self> {
        let zone = TimeZone::get(ZONE).ok()?;
        let now = jiff::Timestamp::from_second(now_s).ok()?.to_zoned_datetime(zone);
        let mut go = now.with().hour(8).minute(0).second(0).subsec_nanosecond(0).build().ok()?;
        while go.weekday() != Weekday::Thursday || go.timestamp() > now.timestamp() {
            go = go.checked_sub(1.day()).ok()?;
        }
        let start = go.checked_sub(GO_DAY.days()).ok()?;
        Some(Self { start })
    }

    /// Seconds of UTC at which the logger was switched on.
    pub(super) fn start_s(&self) -> i64 {
        self.start.timestamp().as_second()
    }

    /// When the question is asked too early.
    pub(super) fn wait_s(&self) -> i64 {
        self.at(WAIT_DAY, 0).timestamp().as_second()
    }

    /// When it is asked again.
    pub(super) fn go_s(&self) -> i64 {
        self.at(GO_DAY, 0).timestamp().as_second()
    }

    /// What was marked on the logger, some minutes after it was done, in seconds of UTC.
    pub(super) fn marks(&self) -> [(MarkKind, i64); 2] {
        let done = |(days, hours)| self.at(days, hours).timestamp().as_second();
        [
            (MarkKind::Delivered, done(DELIVERED) + 4 * 60),
            (MarkKind::BarrierRolled, done(BARRIER_ROLLED) + 9 * 60),
        ]
    }

    /// So many calendar days after the start, and hours on top.
    fn at(&self, days: i64, hours: i64) -> ZonedDateTime {
        let moved = self.start.checked_add(days.days());
        let moved = moved.and_then(|t| t.checked_add(SignedDuration::from_hours(hours)));
        // Only beyond the year 9999.
        moved.unwrap_or_else(|_| self.start.clone())
    }

    /// The job file.
    pub(super) fn job(&self) -> String {
        let time = |days, hours| self.at(days, hours).strftime("%Y-%m-%dT%H:%M").to_string();
        let date = |days| self.at(days, 0).strftime("%Y-%m-%d").to_string();
        let poured = date(-80);
        let (sealed, read) = (time(26, 1), time(29, 2));
        let delivered = time(DELIVERED.0, DELIVERED.1);
        let barrier = time(BARRIER_ROLLED.0, BARRIER_ROLLED.1);
        let metered = date(36);
        let holes: String = [("A1", "68.5"), ("A2", "70.2"), ("A3", "71.4")]
            .iter()
            .map(|(hole, reading)| {
                format!(
                    "[[in-situ-test]]\nhole = \"{hole}\"\nroom = \"Hall\"\ndepth = \"52 mm\"\n\
                     drilled = {sealed}\nsealed = {sealed}\nread = {read}\n\
                     reading = \"{reading} %\"\ntemperature = \"20.1 C\"\nheat = \"on\"\n\n"
                )
            })
            .collect();
        let checked = date(-6);
        let probes: String = [
            ("slab", &[("ice", "0.0 C", "0.1 C", "")][..]),
            ("air", &[("ice", "0.0 C", "0.0 C", "")]),
            (
                "rh",
                &[
                    ("salt", "33.1 %", "33.4 %", "temperature = \"20.2 C\"\n"),
                    ("salt", "75.5 %", "76.3 %", "temperature = \"20.4 C\"\n"),
                ],
            ),
            ("supply", &[("ice", "0.0 C", "0.2 C", "")]),
        ]
        .iter()
        .map(|(channel, checks)| {
            let checks: String = checks
                .iter()
                .map(|(method, reference, reading, jar)| {
                    format!(
                        "[[probe.check]]\ndate = {checked}\nmethod = \"{method}\"\n\
                         reference = \"{reference}\"\nreading = \"{reading}\"\n{jar}"
                    )
                })
                .collect();
            format!("\n[[probe]]\nchannel = \"{channel}\"\n{checks}")
        })
        .collect();
        let readings: Vec<String> =
            (0..40).map(|i| format!("\"{:.1} %\"", 7.4 + 0.1 * f64::from(i * 7 % 9))).collect();
        let readings = readings.join(", ");
        format!(
            "{FIRST_LINE}\n\
             [site]\n\
             name = \"Lot 7, Alder Lane\"\n\
             time-zone = \"{ZONE}\"\n\
             altitude = \"1600 m\"\n\
             area = \"90 m2\"\n\
             units = \"us\"\n\n\
             [[room]]\n\
             name = \"Hall\"\n\
             logger = \"{LOGGER}\"\n\
             area = \"90 m2\"\n\n\
             [concrete]\n\
             poured = {poured}\n\
             thickness = \"120 mm\"\n\
             kind = \"cement slab\"\n\
             drying = \"one side\"\n\n\
             # Drilled only after the heating pipes had been located and marked.\n\
             {holes}\
             [wood]\n\
             product = \"engineered oak plank\"\n\
             species = \"white oak\"\n\
             width = \"190 mm\"\n\
             thickness = \"15 mm\"\n\
             resistance = \"0.10 m2K/W\"\n\
             rh-min = \"30 %\"\n\
             rh-max = \"50 %\"\n\
             acclimation = \"72 h\"\n\n\
             [[meter-reading]]\n\
             date = {metered}\n\
             of = \"wood\"\n\
             room = \"Hall\"\n\
             readings = [{readings}]\n\n\
             [barrier]\n\
             product = \"two-part moisture barrier\"\n\
             surface-min = \"10 C\"\n\
             surface-max = \"29 C\"\n\
             air-min = \"10 C\"\n\
             air-max = \"32 C\"\n\
             rh-min = \"20 %\"\n\
             rh-max = \"85 %\"\n\
             cure = \"24 h\"\n\n\
             [adhesive]\n\
             product = \"moisture-curing wood floor adhesive\"\n\
             surface-min = \"15 C\"\n\
             surface-max = \"27 C\"\n\
             air-min = \"15 C\"\n\
             air-max = \"32 C\"\n\
             rh-min = \"30 %\"\n\
             rh-max = \"70 %\"\n\
             traffic = \"24 h\"\n\
             sanding = \"72 h\"\n\
             heat-up = \"7 d\"\n\n\
             [heating]\n\
             design-supply = \"42 C\"\n\n\
             [milestones]\n\
             delivered = {delivered}\n\
             barrier-rolled = {barrier}\n\
             {probes}"
        )
    }
}

/// What the probes see: days since the start, then slab, air, air RH and supply; in between in a
/// straight line. A small swing from day to night and the noise of the probes come on top.
pub(super) const WEATHER: &[(f64, [f64; 4])] = &[
    // The shell is closed, the heat is off.
    (0.0, [14.5, 15.5, 55.0, 15.0]),
    (2.0, [14.5, 15.5, 55.0, 15.0]),
    // Run-in, first stage: supply at 24 °C for more than three days.
    (2.1, [15.5, 16.0, 54.0, 24.0]),
    (3.5, [18.5, 18.5, 50.0, 24.0]),
    (5.6, [19.5, 19.0, 48.0, 24.0]),
    // Second stage: design maximum for more than four days.
    (6.6, [24.0, 21.0, 43.0, 41.6]),
    (8.0, [28.0, 23.0, 38.0, 41.6]),
    (11.2, [28.5, 23.5, 36.0, 41.6]),
    // Cooled down to what keeps the room.
    (13.5, [23.0, 21.5, 40.0, 27.0]),
    (16.0, [20.3, 20.6, 42.0, 26.0]),
    (36.0, [20.2, 20.5, 41.0, 26.0]),
    // A wet weekend with the doors open: the second Saturday after the wood came.
    (37.1, [20.0, 20.2, 43.0, 26.5]),
    (37.3, [19.8, 19.6, 57.0, 26.8]),
    (37.9, [19.7, 19.4, 62.0, 27.0]),
    (38.3, [19.8, 19.7, 58.0, 27.0]),
    // Doors shut and the air dried: back in range on Sunday night.
    (38.6, [20.0, 20.3, 45.0, 26.5]),
    (39.5, [20.2, 20.5, 42.0, 26.0]),
    (60.0, [20.2, 20.5, 41.0, 26.0]),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Job;

    #[test]
    fn the_job_of_every_season_is_without_errors() {
        // A story over each of the changes of daylight saving, and one over none.
        for now in ["2026-03-31T12:00Z", "2026-07-01T12:00Z", "2026-11-25T12:00Z"] {
            let now_s = now.parse::<jiff::Timestamp>().unwrap().as_second();
            let story = Story::ending_at(now_s).unwrap();
            let job = Job::parse(&story.job(), "job.toml").unwrap();
            assert!(story.start_s() < story.wait_s());
            assert!(story.wait_s() < story.go_s());
            assert!(story.go_s() <= now_s);
            assert!(now_s - story.go_s() < 7 * 86_400 + 3_600);
            let go = jiff::Timestamp::from_second(story.go_s()).unwrap();
            let local = go.to_zoned_datetime(job.site.time_zone.clone());
            assert_eq!((local.weekday(), local.hour()), (Weekday::Thursday, 8), "{now}");
        }
    }
}
