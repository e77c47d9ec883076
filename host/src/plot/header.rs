//! The band at the top: where, the question, the verdict and why.

use super::Chart;
use super::canvas::{Align, Canvas, Rect, Type};
use super::font;
use super::theme::Theme;
use crate::assess::{Outcome, Step};

/// The band, with its lines broken to fit.
pub(super) struct Header {
    word: &'static str,
    is_go: bool,
    lines: Vec<(String, Type)>,
    verdict: Type,
}

impl Header {
    pub(super) fn new(chart: &Chart<'_>, width: f64, theme: &Theme) -> Self {
        let is_go = chart.zone.is_go();
        let word = if is_go { "Go" } else { "Wait" };
        let body = theme.body();
        let is_wide = width > 900.0 * theme.unit;
        let verdict = body.times(if is_wide { 2.7 } else { 2.1 }).bold().color(theme.on_verdict);
        let room = width - box_width(verdict) - body.em * 1.6;
        let mut lines = Vec::new();
        let mut add = |text: &str, kind: Type, lines_max: usize| {
            let wrapped = font::wrap(text, kind.em, kind.bold, room, lines_max);
            lines.extend(wrapped.into_iter().map(|line| (line, kind)));
        };
        let place = format!("{}: {}", chart.job.site.name, chart.zone.name);
        add(&place, body.times(1.2).bold(), 2);
        add(&question(chart), body, 2);
        if let Some(reason) = reason(chart) {
            add(&reason, body.bold(), if is_wide { 2 } else { 3 });
        }
        if let Some(todo) = first_open(chart).and_then(|judged| judged.finding.todo.as_deref()) {
            add(&format!("To do: {todo}."), body, if is_wide { 2 } else { 3 });
        }
        if let Some(earliest) = earliest(chart) {
            add(&earliest, body, 2);
        }
        Self { word, is_go, lines, verdict }
    }

    /// Height of the band.
    pub(super) fn height(&self) -> f64 {
        let lines: f64 = self.lines.iter().map(|(_, kind)| kind.em * 1.35).sum();
        lines.max(self.verdict.em * 1.5) + self.verdict.em * 0.25
    }

    pub(super) fn draw(&self, canvas: &mut Canvas, area: Rect, theme: &Theme) {
        let em = self.verdict.em;
        let ground = if self.is_go { theme.go } else { theme.wait };
        let stop = area.x0 + box_width(self.verdict);
        canvas.fill(Rect { x1: stop, ..area }, ground);
        let (x, y) = Rect { x1: stop, ..area }.middle();
        canvas.text((x, y + em * 0.36), self.word, self.verdict, Align::Center);
        canvas.frame(area, ground, (2.0 * theme.unit).round());
        let lines: f64 = self.lines.iter().map(|(_, kind)| kind.em * 1.35).sum();
        let mut y = area.y0 + (area.height() - lines) / 2.0;
        for (line, kind) in &self.lines {
            canvas.text((stop + theme.body().em * 0.8, y + kind.em), line, *kind, Align::Left);
            y += kind.em * 1.35;
        }
    }
}

fn box_width(verdict: Type) -> f64 {
    font::width("Wait", verdict.em, true) + verdict.em * 0.7
}

/// A time on the clock of the site, to read.
pub(super) fn local(chart: &Chart<'_>, time_s: i64) -> String {
    match jiff::Timestamp::from_second(time_s) {
        Ok(time) => chart.job.local(time).strftime("%a %-d %b %Y at %H:%M %Z").to_string(),
        Err(_) => "beyond the calendar".to_owned(),
    }
}

/// A length of time, to two digits or so.
pub(super) fn length(seconds: i64) -> String {
    match seconds {
        ..120 => format!("{seconds} s"),
        120..7_200 => format!("{} min", seconds / 60),
        7_200..172_800 => format!("{} h", (seconds + 1_800) / 3_600),
        _ => format!("{} d", (seconds + 43_200) / 86_400),
    }
}

pub(super) fn question(chart: &Chart<'_>) -> String {
    let at = local(chart, chart.assessment.at_s);
    match chart.assessment.step {
        Step::Service => format!("Has the floor been kept within its limits, as of {at}?"),
        step => format!("May we {} on {at}?", step.words()),
    }
}

pub(super) fn first_open<'a>(chart: &Chart<'a>) -> Option<&'a crate::assess::Judged> {
    chart.zone.judged.iter().find(|judged| judged.finding.outcome != Outcome::Met)
}

/// Why it is a wait, or how much is met.
pub(super) fn reason(chart: &Chart<'_>) -> Option<String> {
    let judged = &chart.zone.judged;
    let Some(first) = first_open(chart) else {
        return Some(match judged.len() {
            0 => "No requirement was judged, so nothing is shown to be met.".to_owned(),
            1 => "The one requirement is met.".to_owned(),
            count => format!("All {count} requirements are met."),
        });
    };
    let open = judged.iter().filter(|judged| judged.finding.outcome != Outcome::Met).count();
    let why = match first.finding.outcome {
        Outcome::NoEvidence => "no evidence, ",
        Outcome::NotMet | Outcome::Met => "",
    };
    let more = if open > 1 { format!(" (and {} more)", open - 1) } else { String::new() };
    let title = capitalised(first.requirement.title);
    Some(format!("{title}: {why}{}{more}.", first.finding.because))
}

/// The text with a capital at the start.
pub(super) fn capitalised(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// When it can be a go.
pub(super) fn earliest(chart: &Chart<'_>) -> Option<String> {
    if chart.zone.is_go() || chart.zone.judged.is_empty() {
        return None;
    }
    Some(match chart.zone.earliest_go_s(chart.assessment.at_s) {
        Some(time_s) => {
            format!("Earliest go: {}, if conditions hold.", local(chart, time_s))
        }
        None => "Earliest go: not known, since waiting alone does not bring it.".to_owned(),
    })
}
