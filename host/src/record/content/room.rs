//! One room: its log, its chart, its requirements, and what broke them.

use super::verdict::first_upper;
use super::{
    Block, Cell, ChartOf, Row, Section, Table, Telling, count, figures, row, text, unit, wide,
};
use crate::assess::{Judged, Outcome, ZoneAssessment, corrected};
use crate::history::{Channel, History};
use crate::job::Zone;
use crate::limits::{Layer, LimitId, LimitUnit};
use crate::view::{Cells, View, limits_of, origin, words};

/// How many broken spans of one requirement are listed.
const SPANS_MAX: usize = 24;

impl Telling<'_> {
    pub(super) fn room(&self, room: usize) -> Vec<Section> {
        let (Some((zone, history)), Some(judged)) =
            (self.zone(room), self.assessment.zones.get(room))
        else {
            return Vec::new();
        };
        let name = &zone.name;
        let word = if judged.is_go() { "Go" } else { "Wait" };
        let mut head = vec![Block::Facts(self.log_facts(zone, history))];
        head.push(Block::Chart(self.chart(room, history, judged)));
        head.extend(self.readings(zone, history));
        let mut sections = vec![Section { heading: format!("Room {name}: {word}"), blocks: head }];
        sections.push(Section {
            heading: format!("Room {name}: requirements"),
            blocks: self.requirements(judged),
        });
        if let Some(broken) = self.broken(judged) {
            let heading = format!("Room {name}: when limits were broken");
            sections.push(Section { heading, blocks: broken });
        }
        sections
    }

    fn chart(&self, room: usize, history: &History, judged: &ZoneAssessment) -> ChartOf {
        let at_s = self.case.at_s;
        let first_s = history.span().map_or(at_s - 86_400, |span| span.0);
        let (from_s, to_s) = (first_s.min(at_s - 1), at_s);
        let alt = format!(
            "Chart of room {} from {} to {}: temperatures of slab, air, dew point and supply, \
             humidity of the air, the limits, and a strip for each requirement. The verdict is {}.",
            judged.name,
            self.local(from_s),
            self.local(to_s),
            if judged.is_go() { "go" } else { "wait" }
        );
        ChartOf { room, from_s, to_s, alt }
    }

    fn log_facts(&self, zone: &Zone, history: &History) -> Vec<(String, String)> {
        let mut facts = Vec::new();
        let mut fact = |name: &str, text: String| facts.push((name.to_owned(), text));
        if let Some(area) = zone.area {
            fact("Area", self.units().area(area));
        }
        let log = zone.logger.as_ref().and_then(|reference| self.evidence.log(reference));
        let logger = match (log, &zone.logger) {
            (Some(log), _) if log.original.is_some() => format!("{}, imported file", log.label()),
            (Some(log), _) => log.label(),
            (None, Some(reference)) => format!("{reference}: its log is not in this record"),
            (None, None) => "the job file names no logger for this room".to_owned(),
        };
        fact("Logger", logger);
        match history.span() {
            Some((first_s, last_s)) => {
                fact("First reading", self.both_clocks(first_s));
                fact("Last reading", self.both_clocks(last_s));
                fact("Readings", count(history.len(), "sample"));
                let after = history.len() - history.range(i64::MIN, self.case.at_s).len();
                if after > 0 {
                    let after = count(after, "sample");
                    let text =
                        format!("{after}, in the log of this record; the verdict has none of them");
                    fact("After the time asked about", text);
                }
            }
            None => fact("Readings", "no dated reading".to_owned()),
        }
        facts
    }

    /// Extremes and last values of the probes, in both units, which a chart has not.
    fn readings(&self, zone: &Zone, history: &History) -> Vec<Block> {
        let history = corrected(&self.case.job, zone, history);
        let until = history.range(i64::MIN, self.case.at_s);
        if until.is_empty() {
            return Vec::new();
        }
        let rows = Channel::ALL.map(|channel| {
            let limit_unit = match channel {
                Channel::AirRh => LimitUnit::PercentRh,
                Channel::Slab | Channel::Air | Channel::Supply => LimitUnit::Celsius,
            };
            let values: Vec<f64> =
                until.clone().filter_map(|i| history.value(channel, i).ok()).collect();
            let show = |value: Option<f64>| {
                value.map_or_else(|| "none".to_owned(), |value| self.show(limit_unit, value))
            };
            row([
                channel.name().to_owned(),
                show(values.iter().copied().reduce(f64::min)),
                show(values.iter().copied().reduce(f64::max)),
                show(values.last().copied()),
                (until.len() - values.len()).to_string(),
            ])
        });
        let columns = vec![
            wide("Probe"),
            figures("Lowest"),
            figures("Highest"),
            figures("Last"),
            figures("Missing readings"),
        ];
        let name = &zone.name;
        let head = format!(
            "What the probes of room {name} read up to the time asked about, corrected by their checks:"
        );
        vec![Block::Text(head), Block::Table(Table { columns, rows: rows.into() })]
    }

    fn requirements(&self, judged: &ZoneAssessment) -> Vec<Block> {
        let rows: Vec<Row> = judged.judged.iter().map(|judged| self.requirement(judged)).collect();
        let tightened = judged
            .judged
            .iter()
            .any(|j| j.finding.figure.as_ref().is_some_and(|figure| figure.guard > 0.0));
        let columns = vec![
            wide("Requirement"),
            text("Outcome"),
            figures("Found"),
            figures("Limit"),
            figures("To spare"),
            unit("Unit"),
        ];
        let mut head =
            "A requirement without evidence counts as not met. Two figures with a stroke \
             between them are one, in the two units given."
                .to_owned();
        if tightened {
            head.push_str(
                " Limits with a star are tightened by the expanded uncertainty (k = 2) of the probes \
                 (guarded acceptance, JCGM 106).",
            );
        }
        let mut blocks = vec![Block::Text(head), Block::Table(Table { columns, rows })];
        let mut notes: Vec<String> = Vec::new();
        for warning in judged.judged.iter().flat_map(|judged| &judged.finding.warnings) {
            let warning = first_upper(&self.prose(warning)) + ".";
            if !notes.contains(&warning) {
                notes.push(warning);
            }
        }
        if !notes.is_empty() {
            blocks.push(Block::Heading("Notes".to_owned()));
            blocks.push(Block::List(notes));
        }
        blocks
    }

    fn requirement(&self, judged: &Judged) -> Row {
        let finding = &judged.finding;
        let title = Cell::from(judged.requirement.title.to_owned());
        let outcome =
            Cell { text: words(finding.outcome).to_owned(), outcome: Some(finding.outcome) };
        let mut cells = vec![title, outcome];
        let figures = match &finding.figure {
            Some(figure) => {
                let shown = Cells::of(figure, judged, self.units());
                let limit = shown.limit(false).trim_end().to_owned();
                [shown.found, limit, shown.spare, shown.unit]
            }
            None => ["", "", "", ""].map(str::to_owned),
        };
        cells.extend(figures.map(Cell::from));
        let mut notes = vec![self.because(judged)];
        notes.extend(limits_of(judged).into_iter().filter_map(|id| self.source(judged, id)));
        Row { cells, notes }
    }

    /// Why it stands so, and what is to be done.
    fn because(&self, judged: &Judged) -> String {
        let finding = &judged.finding;
        let mut text = first_upper(&self.prose(&finding.because)) + ".";
        if finding.outcome == Outcome::Met {
            return text;
        }
        if let Some(clears_s) = finding.clears_at_s {
            text.push_str(&format!(" Clears {}, if conditions hold.", self.local(clears_s)));
        }
        if let Some(todo) = &finding.todo {
            let todo = first_upper(&self.prose(todo));
            text.push_str(&format!(" {todo}."));
        }
        text
    }

    /// Where a limit comes from.
    fn source(&self, judged: &Judged, id: LimitId) -> Option<String> {
        let limit = self.case.limits.get(id)?;
        // The figure has the source of what was in force when it was judged.
        let figure = judged.finding.figure.as_ref().filter(|figure| figure.limit == id);
        let from = match figure {
            Some(figure) => origin(figure.layer, &figure.source, figure.status),
            None => origin(limit.layer, &limit.source, limit.status),
        };
        let value = match figure {
            Some(figure) if figure.guard == 0.0 => String::new(),
            _ => format!(" {}", self.show(limit.unit, limit.value)),
        };
        let reason = match (&limit.layer, &limit.reason) {
            (Layer::Override, Some(reason)) => format!(". Reason given: {reason}"),
            _ => String::new(),
        };
        Some(format!("Limit {id}{value}: {from}{reason}."))
    }

    /// The spans in which limits were broken.
    fn broken(&self, judged: &ZoneAssessment) -> Option<Vec<Block>> {
        let view = View::new(&self.case.job, &self.case.limits, usize::MAX);
        let mut blocks = Vec::new();
        for judged in judged.judged.iter().filter(|judged| !judged.finding.broken.is_empty()) {
            let broken = &judged.finding.broken;
            let hidden = broken.len().saturating_sub(SPANS_MAX);
            let mut items: Vec<String> = Vec::new();
            if hidden > 0 {
                items.push(format!("{hidden} earlier: see assessment.json in this file."));
            }
            items.extend(broken.iter().skip(hidden).map(|span| view.broken(span, judged) + "."));
            blocks.push(Block::Heading(first_upper(judged.requirement.title)));
            blocks.push(Block::List(items));
        }
        (!blocks.is_empty()).then_some(blocks)
    }
}
