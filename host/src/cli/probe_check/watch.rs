//! Follows a connected logger until the probe is at rest, and tells how it goes.

use super::super::{Failure, Talk, fail};
use super::report::{amount, show_span};
use crate::assess::absent;
use crate::job::channel_name;
use crate::port::Transport;
use crate::probe_check::{DRIFT_SHARE, Judge, Method, Plan, Restart, State, Window};
use crate::pull::Link;
use crate::quantity::{RelativeHumidity, Temperature, Units};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::time::{Duration, Instant};

/// How often the latest sample is asked for: 60 bytes each time, a quarter of a 9600 baud line.
const POLL_EVERY: Duration = Duration::from_millis(250);
/// How often a line is written where there is no progress bar, in seconds of the logger.
const TALK_EVERY_S: u64 = 600;

pub(super) struct Watch<'a> {
    pub(super) plan: &'a Plan,
    pub(super) units: Units,
    pub(super) give_up_s: u32,
    /// Sampling interval during the check, when it is not the logger's own.
    pub(super) interval_s: Option<u16>,
}

impl Watch<'_> {
    /// The watched time of a probe at rest. The sampling interval is set back, whatever happened.
    pub(super) fn until_steady<T: Transport>(
        &self,
        link: &mut Link<T>,
        talk: &mut Talk<'_>,
    ) -> Result<Window, Failure> {
        let own_s = link.status()?.interval_s;
        let interval_s = self.interval_s.unwrap_or(own_s);
        let longest_s = self.plan.interval_max_s();
        if interval_s > longest_s {
            return fail(format!(
                "a sample every {} leaves fewer than four in {}: give --interval \"1 min\", which sets the \
                 old interval again at the end, or a longer --watch",
                show_span(interval_s.into()),
                show_span(self.plan.watch_s()),
            ));
        }
        if interval_s == own_s {
            return self.follow(link, talk);
        }
        writeln!(
            talk.err,
            "the logger samples every {} during the check and every {} again after it; if the check is \
             broken off by force, set it with `glueday adopt` and its --interval",
            show_span(interval_s.into()),
            show_span(own_s.into()),
        )?;
        let outcome = link
            .set_interval(interval_s)
            .map_err(Failure::from)
            .and_then(|_| self.follow(link, talk));
        if let Err(error) = link.set_interval(own_s) {
            writeln!(
                talk.err,
                "WARNING: the old interval could not be set again ({error}): the logger goes on with a \
                 sample every {} instead of {}; set it with `glueday adopt` and its --interval",
                show_span(interval_s.into()),
                show_span(own_s.into()),
            )?;
        }
        outcome
    }

    fn follow<T: Transport>(
        &self,
        link: &mut Link<T>,
        talk: &mut Talk<'_>,
    ) -> Result<Window, Failure> {
        writeln!(
            talk.err,
            "watching until the probe is at rest for {}; giving up after {}",
            show_span(self.plan.watch_s()),
            show_span(self.give_up_s)
        )?;
        let bar = self.bar(talk);
        let found = self.poll(link, talk, &bar);
        bar.finish_and_clear();
        found
    }

    fn poll<T: Transport>(
        &self,
        link: &mut Link<T>,
        talk: &mut Talk<'_>,
        bar: &ProgressBar,
    ) -> Result<Window, Failure> {
        let mut judge = Judge::new(self.plan.settings());
        let mut clock = Clock::default();
        let began = Instant::now();
        let (mut window, mut restart, mut told_s) = (Window::default(), None, 0);
        loop {
            let (boot, uptime_s, sample) = link.latest()?;
            clock.tick(boot, uptime_s);
            if let Some(sample) = sample {
                if let (Method::Salt(_), Ok(air)) = (self.plan.method(), sample.air) {
                    // Refused at once: waiting would only show it later.
                    self.plan.reference(Some(air.celsius()))?;
                }
                match judge.feed(boot, &sample) {
                    State::Steady(window) => return Ok(window),
                    State::Watching(now) if now.samples > 0 => {
                        (window, restart) = (now, None);
                        self.show(&window, bar);
                    }
                    State::Watching(_) => {}
                    State::Restarted(why) => {
                        if restart != Some(why) {
                            say(talk, bar, &format!("started over: {}", self.describe(why)))?;
                        }
                        (window, restart) = (Window::default(), Some(why));
                        bar.set_position(0);
                    }
                }
            }
            // By the clock of the logger, and by ours in case that one stands still.
            let give_up_s = u64::from(self.give_up_s);
            if clock.passed_s >= give_up_s || began.elapsed().as_secs() >= give_up_s {
                let after = show_span(self.give_up_s);
                return fail(format!("gave up after {after}: {}", self.unrest(&window, restart)));
            }
            if !talk.progress && clock.passed_s >= told_s + TALK_EVERY_S && window.samples > 0 {
                told_s = clock.passed_s;
                say(talk, bar, &self.describe_window(&window))?;
            }
            std::thread::sleep(POLL_EVERY);
        }
    }

    fn bar(&self, talk: &Talk<'_>) -> ProgressBar {
        let target =
            if talk.progress { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
        let bar = ProgressBar::with_draw_target(Some(self.plan.watch_s().into()), target);
        // The template is a constant; an error in it would only cost the looks of the bar.
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {msg}") {
            bar.set_style(style);
        }
        bar
    }

    fn show(&self, window: &Window, bar: &ProgressBar) {
        bar.set_position(window.quiet_s.into());
        bar.set_message(self.describe_window(window));
    }

    fn describe_window(&self, window: &Window) -> String {
        let jar = window
            .temperature_c
            .map(|c| format!(" at {}", self.units.temperature(Temperature::from_celsius(c))));
        format!(
            "{}{}, at rest for {} of {}",
            self.reading(window.latest),
            jar.unwrap_or_default(),
            show_span(window.quiet_s),
            show_span(self.plan.watch_s())
        )
    }

    fn reading(&self, value: f64) -> String {
        if self.plan.is_humidity() {
            self.units.humidity(RelativeHumidity::from_percent(value))
        } else {
            self.units.temperature(Temperature::from_celsius(value))
        }
    }

    fn describe(&self, why: Restart) -> String {
        match why {
            Restart::Rebooted => "the logger started again; see to its power".to_owned(),
            Restart::Gap(gap_s) => format!("there was no sample for {}", show_span(gap_s)),
            Restart::Absent(channel, reason) => {
                format!(
                    "{}: {}; see to the probe and its cable",
                    channel_name(channel),
                    absent(reason)
                )
            }
        }
    }

    /// Why the probe is not at rest, by how much, and what to do.
    fn unrest(&self, window: &Window, restart: Option<Restart>) -> String {
        if let Some(why) = restart {
            return self.describe(why);
        }
        if window.samples == 0 {
            return "the logger took no sample".to_owned();
        }
        let settings = self.plan.settings();
        let humidity = self.plan.is_humidity();
        let name = channel_name(self.plan.channel());
        let shown = self.reading(window.latest);
        if !window.plausible {
            if humidity && window.latest > 100.0 {
                return format!(
                    "{name} reads {shown}: over 100 % is dew on the sensor; let it dry"
                );
            }
            return format!(
                "{name} reads {shown}, too far off for a probe that is where it should be: put it there and \
                 repeat; if it is there, replace it"
            );
        }
        let todo = match self.plan.method() {
            Method::Ice => "stir, pour off water, add ice, and repeat",
            Method::Salt(_) => "see that the jar is sealed and the salt wet, and give it more time",
            Method::Comparison(_) => "go where it is steady, out of sun and draught, and repeat",
        };
        let reading = Moved {
            what: name,
            humidity,
            spread: window.reading_spread,
            drift: window.reading_drift,
            todo,
        };
        let jar = Moved {
            what: "the temperature of the jar",
            humidity: false,
            spread: window.temperature_spread_k.unwrap_or_default(),
            drift: window.temperature_drift_k.unwrap_or_default(),
            todo: "stand jar and logger where the temperature stays, out of sun and draught, and repeat",
        };
        let of_jar =
            settings.temperature_spread_max.and_then(|most| self.moved(&jar, most, window));
        of_jar.or_else(|| self.moved(&reading, settings.reading_spread_max, window)).unwrap_or_else(
            || {
                format!(
                    "it was at rest for {} only, not for {}: repeat with a longer --give-up",
                    show_span(window.quiet_s),
                    show_span(self.plan.watch_s())
                )
            },
        )
    }

    /// By how much something moved that should have rested; `None` when it did rest.
    fn moved(&self, moved: &Moved<'_>, most: i32, window: &Window) -> Option<String> {
        let most = f64::from(most) / 100.0;
        let shown = |value| amount(value, moved.humidity, self.units);
        let an_hour = |value: f64, over_s: u32| shown(value * 3600.0 / f64::from(over_s.max(1)));
        let how = if moved.spread > most + 1e-9 {
            let over = show_span(window.span_s);
            format!("moved by {} in {over} (at most {})", shown(moved.spread), shown(most))
        } else if window.span_s >= self.plan.watch_s() && moved.drift > most * DRIFT_SHARE + 1e-9 {
            format!(
                "drifts by {} an hour (at most {})",
                an_hour(moved.drift, window.span_s),
                an_hour(most * DRIFT_SHARE, self.plan.watch_s())
            )
        } else {
            return None;
        };
        Some(format!("{} {how}: {}", moved.what, moved.todo))
    }
}

/// Something that may have moved over the watched time, in K or %RH.
struct Moved<'a> {
    what: &'a str,
    humidity: bool,
    spread: f64,
    drift: f64,
    todo: &'a str,
}

fn say(talk: &mut Talk<'_>, bar: &ProgressBar, text: &str) -> Result<(), Failure> {
    bar.suspend(|| writeln!(talk.err, "{text}"))?;
    Ok(())
}

/// Seconds that the logger counted, over its boots.
#[derive(Default)]
struct Clock {
    last: Option<(u32, u32)>,
    passed_s: u64,
}

impl Clock {
    fn tick(&mut self, boot: u32, uptime_s: u32) {
        let passed_s = match self.last {
            Some((of, last_s)) if of == boot => uptime_s.saturating_sub(last_s),
            Some(_) => uptime_s,
            None => 0,
        };
        self.passed_s += u64::from(passed_s);
        self.last = Some((boot, uptime_s));
    }
}
