//! What is known of the probes: their checks, and what these correct.

use super::{Block, Section, Table, Telling, figures, row, text, wide};
use crate::job::{Channel, method_name};
use crate::limits::{LimitId, LimitUnit};

/// What a channel measures, in words.
pub(super) fn name(channel: Channel) -> &'static str {
    match channel {
        Channel::Slab => "slab surface",
        Channel::Air => "air",
        Channel::Rh => "air RH",
        Channel::Supply => "supply",
    }
}

impl Telling<'_> {
    pub(super) fn probes(&self) -> Section {
        let mut rows = Vec::new();
        let probes = || {
            let all = self.case.job.probes.iter();
            all.filter(|probe| self.concerns(probe.room.as_deref()))
        };
        for probe in probes() {
            let is_rh = probe.channel == Channel::Rh;
            let value = if is_rh { LimitUnit::PercentRh } else { LimitUnit::Celsius };
            let difference = if is_rh { LimitUnit::PercentRh } else { LimitUnit::Kelvin };
            let room = probe.room.clone().unwrap_or_else(|| "all".to_owned());
            for check in &probe.checks {
                let mut row = row([
                    name(probe.channel).to_owned(),
                    room.clone(),
                    check.date.to_string(),
                    method_name(check.method).to_owned(),
                    self.show(value, check.reference),
                    self.show(value, check.reading),
                    self.signed(difference, check.error()),
                    self.age(check.date),
                ]);
                if let Some(jar) = check.temperature {
                    let jar = self.show(LimitUnit::Celsius, jar.celsius());
                    row.notes.push(format!("The jar was at {jar}."));
                }
                rows.push(row);
            }
        }
        let columns = vec![
            wide("Probe"),
            text("Room"),
            text("Day"),
            text("Against"),
            figures("Known value"),
            figures("Read"),
            figures("Error"),
            figures("Age"),
        ];
        let mut blocks = Vec::new();
        if rows.is_empty() {
            blocks.push(Block::Text("The job file has no check of a probe.".to_owned()));
        } else {
            blocks.push(Block::Table(Table { columns, rows }));
            blocks.push(Block::Text(
                "From the day of its check on, what a probe reads is corrected by the error found, \
                 between two points of a day on the straight line. The log itself is not changed."
                    .to_owned(),
            ));
        }
        blocks.push(Block::Text(self.uncertainties()));
        Section { heading: "Checks of the probes".to_owned(), blocks }
    }

    /// A difference with its sign.
    fn signed(&self, unit: LimitUnit, value: f64) -> String {
        let text = self.show(unit, value);
        if value > 0.0 { format!("+{}", text.replace("(", "(+")) } else { text }
    }

    /// Days from a check to the time asked about.
    fn age(&self, date: jiff::civil::Date) -> String {
        let begins = date.to_zoned_datetime(self.case.job.site.time_zone.clone());
        let days = begins.map(|time| (self.case.at_s - time.timestamp().as_second()) / 86_400);
        match days {
            Ok(days) if days >= 0 => format!("{days} d"),
            _ => "later".to_owned(),
        }
    }

    /// Expanded uncertainty of each probe.
    fn uncertainties(&self) -> String {
        let mut parts: Vec<String> = Vec::new();
        for (zone, _) in &self.case.rooms {
            for channel in [Channel::Slab, Channel::Air, Channel::Rh, Channel::Supply] {
                let given = self.case.job.probe(&zone.name, channel).and_then(|p| p.uncertainty);
                let (unit, assumed) = match channel {
                    Channel::Rh => (LimitUnit::PercentRh, LimitId::ProbeRhUncertainty),
                    _ => (LimitUnit::Kelvin, LimitId::ProbeTemperatureUncertainty),
                };
                let (value, from) = match given {
                    Some(value) => (Some(value), "job file"),
                    None => (self.case.limits.value(assumed), "assumed"),
                };
                let Some(value) = value else { continue };
                let part = format!("{} {} ({from})", name(channel), self.show(unit, value));
                if !parts.contains(&part) {
                    parts.push(part);
                }
            }
        }
        format!("Expanded uncertainty (k = 2) of the probes: {}.", parts.join(", "))
    }
}
