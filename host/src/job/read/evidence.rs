//! Moisture tests, meter readings, probe checks, and limits that the job sets itself.

use super::{Context, check_order};
use crate::job::model::{
    CalciumChlorideTest, Channel, CheckMethod, InSituTest, LimitOverride, MeterReadings,
    MeterTarget, Probe, ProbeCheck,
};
use crate::job::section::{Placed, Section, bare};
use crate::limits::{LimitId, LimitUnit};
use crate::physics::salt::ICE_POINT_C;
use crate::quantity::{
    Length, Mass, Quantity, RelativeHumidity, Temperature, TemperatureDifference,
};

pub(super) fn in_situ_tests(root: &Section<'_>, context: &Context) -> Vec<InSituTest> {
    root.tables("in-situ-test").into_iter().filter_map(|s| in_situ_test(s, context)).collect()
}

fn in_situ_test(section: Section<'_>, context: &Context) -> Option<InSituTest> {
    let hole = section.require("hole", "\"A1\"", section.text("hole"));
    let room = context.room(&section);
    let depth: Option<Placed<Length>> = section.quantity("depth");
    if let (Some(depth), Some(thickness)) = (&depth, context.thickness)
        && depth.value >= thickness
    {
        section.sink.report(
            depth.at,
            "`depth` goes through the concrete",
            "check it against `thickness` in [concrete]",
        );
    }
    let drilled = section.time("drilled", &context.zone);
    let sealed = section.time("sealed", &context.zone);
    let read = section.time("read", &context.zone);
    check_order(section.sink, ("drilled", &drilled), ("sealed", &sealed));
    check_order(section.sink, ("drilled", &drilled), ("read", &read));
    check_order(section.sink, ("sealed", &sealed), ("read", &read));
    for (name, time) in [("drilled", &drilled), ("sealed", &sealed), ("read", &read)] {
        context.after_pour(&section, name, time);
    }
    let reading = bare(&section.quantity("reading"));
    let temperature = bare(&section.quantity("temperature"));
    let heat_on = section.on_off("heat");
    section.close();
    Some(InSituTest {
        hole: hole?.value,
        room,
        depth: bare(&depth),
        drilled: bare(&drilled),
        sealed: bare(&sealed),
        read: bare(&read),
        reading,
        temperature,
        heat_on,
    })
}

pub(super) fn calcium_chloride_tests(
    root: &Section<'_>,
    context: &Context,
) -> Vec<CalciumChlorideTest> {
    let sections = root.tables("calcium-chloride-test").into_iter();
    sections.filter_map(|section| calcium_chloride_test(section, context)).collect()
}

fn calcium_chloride_test(section: Section<'_>, context: &Context) -> Option<CalciumChlorideTest> {
    let dish = section.require("dish", "\"1\"", section.text("dish"));
    let room = context.room(&section);
    let start = section.time("start", &context.zone);
    let end = section.time("end", &context.zone);
    check_order(section.sink, ("start", &start), ("end", &end));
    context.after_pour(&section, "start", &start);
    context.after_pour(&section, "end", &end);
    let start_weight: Option<Placed<Mass>> = section.quantity("start-weight");
    let end_weight: Option<Placed<Mass>> = section.quantity("end-weight");
    if let (Some(before), Some(after)) = (&start_weight, &end_weight)
        && after.value < before.value
    {
        section.sink.report(
            after.at,
            "`end-weight` is less than `start-weight`, but the dish takes up water",
            "check that the weights are not swapped",
        );
    }
    let area = bare(&section.quantity("area"));
    let heat_on = section.on_off("heat");
    section.close();
    Some(CalciumChlorideTest {
        dish: dish?.value,
        room,
        start: bare(&start),
        end: bare(&end),
        area,
        start_weight: bare(&start_weight),
        end_weight: bare(&end_weight),
        heat_on,
    })
}

pub(super) fn meter_readings(root: &Section<'_>, context: &Context) -> Vec<MeterReadings> {
    let mut all = Vec::new();
    for section in root.tables("meter-reading") {
        let targets = [("wood", MeterTarget::Wood), ("subfloor", MeterTarget::Subfloor)];
        let of = section.require("of", "\"wood\"", section.choice("of", &targets));
        let date = bare(&section.date("date"));
        let room = context.room(&section);
        let readings = section.quantities("readings");
        let some = (!readings.is_empty()).then_some(());
        let some = section.require("readings", "[\"7.2 %\", \"7.5 %\"]", some);
        section.close();
        if let (Some(of), Some(())) = (of, some) {
            all.push(MeterReadings { date, of: of.value, room, readings });
        }
    }
    all
}

pub(super) fn probes(root: &Section<'_>, context: &Context) -> Vec<Probe> {
    let mut probes: Vec<Probe> = Vec::new();
    for section in root.tables("probe") {
        let channels = [
            ("slab", Channel::Slab),
            ("air", Channel::Air),
            ("rh", Channel::Rh),
            ("supply", Channel::Supply),
        ];
        let channel = section.require("channel", "\"slab\"", section.choice("channel", &channels));
        let room = context.room(&section);
        // Without a channel nobody knows which unit the numbers have.
        let Some(channel) = channel else { continue };
        let probe = Probe {
            room,
            channel: channel.value,
            uncertainty: match channel.value {
                Channel::Rh => positive::<RelativeHumidity>(&section, "uncertainty"),
                _ => positive::<TemperatureDifference>(&section, "uncertainty"),
            },
            checks: section
                .tables("check")
                .into_iter()
                .filter_map(|check| match channel.value {
                    Channel::Rh => check_record::<RelativeHumidity>(check),
                    _ => check_record::<Temperature>(check),
                })
                .collect(),
        };
        if probes.iter().any(|p| p.channel == probe.channel && p.room == probe.room) {
            section.sink.report(
                channel.at,
                "this probe has an entry already",
                "keep one [[probe]] for each room and channel; add [[probe.check]] to it",
            );
        }
        section.close();
        probes.push(probe);
    }
    probes
}

fn positive<Q: Quantity>(section: &Section<'_>, key: &'static str) -> Option<f64> {
    let placed = section.quantity::<Q>(key)?;
    if placed.value.held() <= 0.0 {
        let fix = "write the expanded uncertainty (k = 2) of the calibration or the data sheet";
        section.sink.report(placed.at, format!("`{key}` must be more than zero"), fix);
    }
    Some(placed.value.held())
}

fn check_record<Q: Quantity>(section: Section<'_>) -> Option<ProbeCheck> {
    let methods = [
        ("ice", CheckMethod::Ice),
        ("salt", CheckMethod::Salt),
        ("comparison", CheckMethod::Comparison),
        ("certificate", CheckMethod::Certificate),
    ];
    let [example, _] = Q::EXAMPLES;
    let example = format!("\"{example}\"");
    let date = section.require("date", "2026-03-02", section.date("date"));
    let method = section.require("method", "\"salt\"", section.choice("method", &methods));
    let reference = section.quantity::<Q>("reference");
    let reference = section.require("reference", &example, reference);
    let reading = section.require("reading", &example, section.quantity::<Q>("reading"));
    let temperature = bare(&section.quantity("temperature"));
    if let Some(method) = &method {
        let is_humidity = Q::NAME == RelativeHumidity::NAME;
        let fits = match method.value {
            CheckMethod::Ice => !is_humidity,
            CheckMethod::Salt => is_humidity,
            CheckMethod::Comparison | CheckMethod::Certificate => true,
        };
        if !fits {
            let fix = "ice checks a temperature probe, salt a humidity probe";
            section.sink.report(method.at, format!("not a check of {}", Q::NAME), fix);
        }
        if let (CheckMethod::Ice, Some(reference)) = (method.value, &reference)
            && (reference.value.held() - ICE_POINT_C).abs() > 0.05
        {
            let fix = "melting ice is at 0.0 C; for any other bath write method = \"comparison\"";
            section.sink.report(reference.at, "an ice bath has another temperature", fix);
        }
    }
    section.close();
    Some(ProbeCheck {
        date: date?.value,
        method: method?.value,
        reference: reference?.value.held(),
        reading: reading?.value.held(),
        temperature,
    })
}

pub(super) fn limit_overrides(root: &Section<'_>) -> Vec<LimitOverride> {
    let mut all: Vec<LimitOverride> = Vec::new();
    for section in root.tables("limit") {
        let id = section.read("id", |value| {
            let text = value.as_str().map(str::trim).unwrap_or_default();
            text.parse::<LimitId>().map_err(|unknown| {
                let fix = match unknown.suggestion {
                    Some(id) => format!("did you mean `{id}`?"),
                    None => "`glueday limits` lists the ids of all limits".to_owned(),
                };
                (format!("there is no limit `{text}`"), fix)
            })
        });
        let id = section.require("id", "\"air-rh-max\"", id);
        let value = section.text("value");
        let value = section.require("value", "\"55 %\"", value);
        let reason = section.text("reason");
        let reason =
            section.require("reason", "\"allowed in writing by the maker on 2 March\"", reason);
        let sink = section.sink;
        section.close();
        let (Some(id), Some(value)) = (id, value) else { continue };
        if all.iter().any(|set| set.id == id.value) {
            let problem = format!("limit `{}` is set twice", id.value);
            sink.report(id.at, problem, "keep one [[limit]] for each id");
        }
        match id.value.unit().parse(&value.value) {
            Ok(held) if held < 0.0 && id.value.unit() == LimitUnit::Kelvin => {
                let problem = format!("`{}` cannot be negative", id.value);
                sink.report(value.at, problem, "write the difference without a sign");
            }
            Ok(held) => {
                if let Some(reason) = reason {
                    all.push(LimitOverride {
                        id: id.value,
                        value: held,
                        text: value.value,
                        reason: reason.value,
                    });
                }
            }
            Err(error) => {
                sink.report(value.at, format!("`value`: {}", error.problem()), error.fix());
            }
        }
    }
    all
}
