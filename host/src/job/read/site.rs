//! Site, rooms, concrete, heating and milestones.

use jiff::Timestamp;

use super::{Context, check_order};
use crate::job::model::{
    AirPressure, Concrete, ConcreteKind, DecisionRule, Drying, Heating, LoggerRef, Milestones,
    Profile, Site, Zone,
};
use crate::job::section::{Placed, Section, bare};
use crate::job::time::{find_zone, shown};
use crate::quantity::{Altitude, Pressure, Units};

/// The site; `None` when its name or its time zone is not known.
pub(super) fn site(root: &Section<'_>) -> Option<Site> {
    let section = root.require("site", "[site]", root.table("site"))?;
    let name = section.require("name", "\"North house\"", section.text("name"));
    let zone = section.read("time-zone", |value| match value.as_str() {
        Some(text) => find_zone(text.trim()),
        None => Err((
            format!("`time-zone` is {}, not a name", shown(value)),
            "write an IANA name such as \"America/Denver\"".to_owned(),
        )),
    });
    let zone = section.require("time-zone", "\"America/Denver\"", zone);
    let altitude = section.quantity::<Altitude>("altitude");
    let pressure = section.quantity::<Pressure>("air-pressure");
    if let (Some(_), Some(pressure)) = (&altitude, &pressure) {
        section.sink.report(
            pressure.at,
            "`altitude` and `air-pressure` are both given",
            "keep one: the altitude gives the usual pressure, a measured pressure is more exact",
        );
    }
    let air_pressure = match (altitude, pressure) {
        (Some(altitude), _) => AirPressure::Altitude(altitude.value),
        (None, Some(pressure)) => AirPressure::Measured(pressure.value),
        (None, None) => AirPressure::SeaLevel,
    };
    let area = bare(&section.quantity("area"));
    let profile = section.choice("profile", &[("us", Profile::Us), ("eu", Profile::Eu)]);
    let profile = bare(&profile).unwrap_or_default();
    let units = section.choice("units", &[("us", Units::Us), ("metric", Units::Metric)]);
    let units = bare(&units).unwrap_or(match profile {
        Profile::Us => Units::Us,
        Profile::Eu => Units::Metric,
    });
    let rules = [("simple", DecisionRule::Simple), ("guarded", DecisionRule::Guarded)];
    let decision_rule = bare(&section.choice("decision-rule", &rules)).unwrap_or_default();
    section.close();
    Some(Site {
        name: name?.value,
        time_zone: zone?.value,
        air_pressure,
        area,
        units,
        profile,
        decision_rule,
    })
}

/// The concrete; a missing section is one in which nothing is known.
pub(super) fn concrete(root: &Section<'_>) -> Concrete {
    let Some(section) = root.table("concrete") else { return Concrete::default() };
    let kinds = [
        ("cement slab", ConcreteKind::CementSlab),
        ("cement screed", ConcreteKind::CementScreed),
        ("calcium sulphate screed", ConcreteKind::CalciumSulphateScreed),
        ("calcium sulfate screed", ConcreteKind::CalciumSulphateScreed),
    ];
    let concrete =
        Concrete {
            poured: bare(&section.date("poured")),
            thickness: bare(&section.quantity("thickness")),
            kind: bare(&section.choice("kind", &kinds)),
            drying: bare(&section.choice(
                "drying",
                &[("one side", Drying::OneSide), ("both sides", Drying::BothSides)],
            )),
        };
    section.close();
    concrete
}

/// The heating.
pub(super) fn heating(root: &Section<'_>, context: &Context) -> Heating {
    let Some(section) = root.table("heating") else { return Heating::default() };
    let start = section.time("run-in-start", &context.zone);
    let end = section.time("run-in-end", &context.zone);
    check_order(section.sink, ("run-in-start", &start), ("run-in-end", &end));
    context.after_pour(&section, "run-in-start", &start);
    let heating = Heating {
        design_supply: bare(&section.quantity("design-supply")),
        run_in_start: bare(&start),
        run_in_end: bare(&end),
    };
    section.close();
    heating
}

/// The rooms, each with its own name and logger.
pub(super) fn rooms(root: &Section<'_>, context: &Context, of_job: &Times) -> Vec<Zone> {
    let mut zones: Vec<Zone> = Vec::new();
    for section in root.tables("room") {
        let name = section.require("name", "\"Ground floor\"", section.text("name"));
        let logger = section.text("logger");
        let area = bare(&section.quantity("area"));
        let milestones = match section.table("milestones") {
            Some(own) => times(own, context, of_job).bare(),
            None => of_job.bare(),
        };
        let sink = section.sink;
        section.close();
        let Some(name) = name else { continue };
        if zones.iter().any(|zone| zone.name == name.value) {
            let problem = format!("there are two rooms named `{}`", name.value);
            sink.report(name.at, problem, "give each room a name of its own");
            continue;
        }
        let logger = logger.and_then(|placed| {
            let reference = LoggerRef::from_text(&placed.value);
            let holder = zones.iter().find(|zone| zone.logger.as_ref() == Some(&reference));
            let Some(holder) = holder else { return Some(reference) };
            let problem =
                format!("logger `{}` already stands in room `{}`", placed.value, holder.name);
            sink.report(placed.at, problem, "a logger tells about one room: name the right one");
            None
        });
        zones.push(Zone { name: name.value, logger, area, milestones });
    }
    zones
}

/// Milestones with their places in the file.
#[derive(Clone, Default)]
pub(super) struct Times {
    delivered: Option<Placed<Timestamp>>,
    barrier_rolled: Option<Placed<Timestamp>>,
    glue_started: Option<Placed<Timestamp>>,
    glue_finished: Option<Placed<Timestamp>>,
    sanded: Option<Placed<Timestamp>>,
    heat_on: Option<Placed<Timestamp>>,
}

impl Times {
    pub(super) fn bare(&self) -> Milestones {
        Milestones {
            delivered: bare(&self.delivered),
            barrier_rolled: bare(&self.barrier_rolled),
            glue_started: bare(&self.glue_started),
            glue_finished: bare(&self.glue_finished),
            sanded: bare(&self.sanded),
            heat_on: bare(&self.heat_on),
        }
    }
}

/// The milestones of the whole job.
pub(super) fn job_milestones(root: &Section<'_>, context: &Context) -> Times {
    match root.table("milestones") {
        Some(section) => times(section, context, &Times::default()),
        None => Times::default(),
    }
}

/// Milestones of one section; what it does not say, `fallback` does.
fn times(section: Section<'_>, context: &Context, fallback: &Times) -> Times {
    let time = |key, fallback: &Option<Placed<Timestamp>>| {
        section.time(key, &context.zone).or_else(|| fallback.clone())
    };
    let times = Times {
        delivered: time("delivered", &fallback.delivered),
        barrier_rolled: time("barrier-rolled", &fallback.barrier_rolled),
        glue_started: time("glue-started", &fallback.glue_started),
        glue_finished: time("glue-finished", &fallback.glue_finished),
        sanded: time("sanded", &fallback.sanded),
        heat_on: time("heat-on", &fallback.heat_on),
    };
    let delivered = ("delivered", &times.delivered);
    let rolled = ("barrier-rolled", &times.barrier_rolled);
    let started = ("glue-started", &times.glue_started);
    let finished = ("glue-finished", &times.glue_finished);
    let sanded = ("sanded", &times.sanded);
    let heat_on = ("heat-on", &times.heat_on);
    // Later steps are compared with the start too, in case the end is not filled in.
    for (first, then) in [
        (delivered, started),
        (delivered, finished),
        (rolled, started),
        (rolled, finished),
        (started, finished),
        (started, sanded),
        (started, heat_on),
        (finished, sanded),
        (finished, heat_on),
    ] {
        check_order(section.sink, first, then);
    }
    for (name, time) in [rolled, started, finished, sanded] {
        context.after_pour(&section, name, time);
    }
    section.close();
    times
}
