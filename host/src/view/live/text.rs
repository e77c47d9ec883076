//! `live` for people: a screen to look at, and a line for a pipe.

use super::{Line, Scene, Streak, dew_gap_min_k, streaks};
use crate::assess::{ZoneAssessment, absent, show_age};
use crate::history::Channel;
use crate::limits::LimitUnit;
use crate::view::measure::{both, in_both};
use crate::view::page::{Lead, Page};
use crate::view::text::verdict_style;
use crate::view::wrap::{columns, cut};
use crate::view::{View, blockers, local_time};

/// Blockers that are listed; a screen is not long.
const BLOCKERS_MAX: usize = 5;
/// Cells of the bar that shows how far a streak has come.
const BAR: usize = 12;

/// The whole screen, with ANSI styles.
#[must_use]
pub fn screen(scene: &Scene<'_>, every_s: i64, width: usize) -> String {
    let mut page = Page::new(width);
    headline(scene, &mut page);
    readings(scene, &mut page);
    if let Some(zone) = scene.assessment.zones.first() {
        holding(zone, scene.assessment.at_s, &mut page);
        blocking(scene, zone, &mut page);
    }
    page.gap();
    link(scene, every_s, &mut page);
    page.out
}

fn headline(scene: &Scene<'_>, page: &mut Page) {
    let (assessment, job) = (scene.assessment, scene.job);
    let is_go = assessment.is_go();
    let word = if is_go { "GO" } else { "WAIT" };
    let room = assessment.zones.first().map_or("", |zone| &zone.name);
    let at = local_time(assessment.at_s, &job.site.time_zone);
    let lead = Lead { label: "", word, style: verdict_style(is_go), after: "  " };
    page.led(&lead, 6, &format!("{}: {}, {room}, {at}", assessment.step.words(), job.site.name));
    if !is_go {
        page.text(6, &earliest(scene));
    }
}

fn earliest(scene: &Scene<'_>) -> String {
    match scene.assessment.earliest_go_s() {
        Some(at_s) => {
            let at = local_time(at_s, &scene.job.site.time_zone);
            format!("Earliest go: {at}, if conditions hold.")
        }
        None => "No date yet: something has to be done first.".to_owned(),
    }
}

fn readings(scene: &Scene<'_>, page: &mut Page) {
    page.gap();
    let Some(reading) = scene.reading else {
        page.heading("Now");
        return page.text(2, "the logger has told no reading yet");
    };
    let units = scene.job.site.units;
    let age = show_age((scene.now_s - reading.time_s).max(0));
    page.heading(&format!("Now, {age} old"));
    let mut rows: Vec<(&str, String)> = Vec::new();
    for (channel, value) in Channel::ALL.into_iter().zip(reading.values) {
        let unit = unit(channel);
        let text = value.map_or_else(|why| absent(why).to_owned(), |v| both(unit, v, units));
        rows.push((channel.name(), text));
    }
    let unknown = || "not known".to_owned();
    let dew = reading.dew_point_c().map(|c| both(LimitUnit::Celsius, c, units));
    rows.push(("dew point", dew.unwrap_or_else(unknown)));
    let gap = reading.dew_gap_k().map(|k| both(LimitUnit::Kelvin, k, units));
    let least = scene.assessment.zones.first().and_then(dew_gap_min_k);
    let least = least.map(|k| format!("; at least {}", both(LimitUnit::Kelvin, k, units)));
    rows.push(("slab above it", gap.unwrap_or_else(unknown) + &least.unwrap_or_default()));
    page.pairs(2, &rows);
}

const fn unit(channel: Channel) -> LimitUnit {
    match channel {
        Channel::AirRh => LimitUnit::PercentRh,
        Channel::Slab | Channel::Air | Channel::Supply => LimitUnit::Celsius,
    }
}

fn holding(zone: &ZoneAssessment, at_s: i64, page: &mut Page) {
    let streaks = streaks(zone, at_s);
    if streaks.is_empty() {
        return;
    }
    page.gap();
    page.heading("Has held, of the time it must");
    let times: Vec<String> = streaks
        .iter()
        .map(|s| format!("{} of {}", show_hours(s.held_h), show_hours(s.needed_h)))
        .collect();
    let widest = times.iter().map(|time| columns(time)).max().unwrap_or(0);
    // Two before, two gaps of two, and the bar with its ends.
    let room = page.width.saturating_sub(widest + BAR + 8);
    let title = streaks.iter().map(|s| columns(s.title)).max().unwrap_or(0).min(room);
    for (streak, time) in streaks.iter().zip(&times) {
        let name = cut(streak.title, title);
        let pad = title.saturating_sub(columns(&name));
        let line = format!("  {name}{:pad$}  {time:>widest$}  {}", "", bar(streak));
        page.out.push_str(line.trim_end());
        page.gap();
    }
}

/// How far it has come, never full before it is met.
fn bar(streak: &Streak) -> String {
    let share = if streak.needed_h > 0.0 { streak.held_h / streak.needed_h } else { 1.0 };
    let most = if streak.is_met { BAR } else { BAR - 1 };
    // From 0 to BAR by the clamp.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss)]
    let full = ((share.clamp(0.0, 1.0) * BAR as f64) as usize).min(most);
    format!("[{}{}]", "#".repeat(full), "-".repeat(BAR - full))
}

fn show_hours(hours: f64) -> String {
    // Whole seconds, within what an age can be.
    #[allow(clippy::cast_possible_truncation)]
    let seconds = (hours * 3600.0).clamp(0.0, 1e12).round() as i64;
    show_age(seconds)
}

fn blocking(scene: &Scene<'_>, zone: &ZoneAssessment, page: &mut Page) {
    let blockers = blockers(zone);
    if blockers.is_empty() {
        return;
    }
    page.gap();
    page.heading("What blocks");
    let view = View::new(scene.job, scene.limits, page.width);
    for blocker in blockers.iter().take(BLOCKERS_MAX) {
        page.labelled("  - ", 4, &view.reason(blocker));
        let todo = blocker.first().and_then(|judged| judged.finding.todo.as_deref());
        if let Some(todo) = todo {
            page.text(4, &format!("Now: {}.", in_both(todo, scene.job.site.units)));
        }
    }
    let more = blockers.len().saturating_sub(BLOCKERS_MAX);
    if more > 0 {
        page.text(2, &format!("- and {more} more: glueday check"));
    }
}

fn link(scene: &Scene<'_>, every_s: i64, page: &mut Page) {
    let now_s = scene.now_s;
    let battery = scene.reading.and_then(|reading| reading.supply_mv);
    let battery = battery.map(|mv| format!(" Battery {:.2} V.", f64::from(mv) / 1000.0));
    let battery = battery.unwrap_or_default();
    let every = show_age(every_s);
    let text = match scene.line {
        Line::Waiting { port } => format!("{port}: waiting for the logger."),
        Line::Moving { port, bytes, total } => {
            format!(
                "{port}: {} of {} KiB of its log have come.",
                bytes / 1024,
                total.div_ceil(1024)
            )
        }
        Line::Up { port, at_s } => {
            let ago = show_age((now_s - at_s).max(0));
            format!("{port}: answered {ago} ago, asked every {every}.{battery}")
        }
        Line::Lost { why, since_s, tries } => {
            let since = show_age((now_s - since_s).max(0));
            format!("LINE LOST for {since}, tried {tries} times: {why}")
        }
    };
    page.text(0, &text);
    page.text(0, "q or Ctrl-C ends.");
}

/// A refresh as one line, in the units of the job.
#[must_use]
pub fn line(scene: &Scene<'_>) -> String {
    let (assessment, units) = (scene.assessment, scene.job.site.units);
    let at = local_time(assessment.at_s, &scene.job.site.time_zone);
    let verdict = if assessment.is_go() { "GO" } else { "WAIT" };
    let mut parts = vec![format!("{at} {verdict}")];
    if let Line::Lost { why, .. } = scene.line {
        parts.push(format!("line lost: {}", why.lines().next().unwrap_or_default()));
    }
    match scene.reading {
        None => parts.push("no reading".to_owned()),
        Some(reading) => {
            let mut cells: Vec<String> = Channel::ALL
                .into_iter()
                .zip(reading.values)
                .map(|(channel, value)| match value {
                    Ok(value) => format!("{} {}", channel.name(), unit(channel).show(value, units)),
                    Err(_) => format!("{} -", channel.name()),
                })
                .collect();
            let gap = reading.dew_gap_k().map(|k| LimitUnit::Kelvin.show(k, units));
            cells.push(format!("above dew point {}", gap.unwrap_or_else(|| "-".to_owned())));
            parts.push(cells.join(", "));
        }
    }
    if let Some(zone) = assessment.zones.first().filter(|_| !assessment.is_go()) {
        let blockers = blockers(zone);
        let view = View::new(scene.job, scene.limits, 120);
        let more = match blockers.len().saturating_sub(1) {
            0 => String::new(),
            more => format!(" (and {more} more)"),
        };
        parts.extend(blockers.first().map(|first| view.reason(first) + &more));
        let earliest = assessment.earliest_go_s().map_or_else(
            || "no date yet".to_owned(),
            |at_s| format!("earliest go {}", local_time(at_s, &scene.job.site.time_zone)),
        );
        parts.push(earliest);
    }
    parts.join("; ")
}
