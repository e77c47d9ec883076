//! Moisture tests of the slab, and readings of the moisture meter.

use super::{Block, Row, Section, Table, Telling, count, figures, given, row, text, wide};
use crate::job::{CalciumChlorideTest, InSituTest, MeterReadings, MeterTarget};
use crate::limits::LimitUnit;
use crate::physics::concrete::emission_lb_1000ft2_24h;
use crate::quantity::MoistureEmission;
use jiff::Timestamp;

impl Telling<'_> {
    /// Slab tests, when there are any.
    pub(super) fn moisture_tests(&self) -> Option<Section> {
        let job = &self.case.job;
        let holes: Vec<Row> = job
            .in_situ_tests
            .iter()
            .filter(|test| self.concerns(test.room.as_deref()))
            .map(|test| self.hole(test))
            .collect();
        let dishes: Vec<Row> = job
            .calcium_chloride_tests
            .iter()
            .filter(|test| self.concerns(test.room.as_deref()))
            .map(|test| self.dish(test))
            .collect();
        let mut blocks = Vec::new();
        if !holes.is_empty() {
            let columns = vec![
                wide("Hole"),
                text("Room"),
                figures("Depth"),
                text("Sealed"),
                text("Read"),
                figures("RH"),
                figures("Temperature"),
                text("Heat"),
            ];
            blocks.push(Block::Heading("In-situ relative humidity (ASTM F2170)".to_owned()));
            blocks.push(Block::Table(Table { columns, rows: holes }));
        }
        if !dishes.is_empty() {
            let columns = vec![
                wide("Dish"),
                text("Room"),
                text("Opened"),
                text("Closed"),
                figures("Area"),
                figures("Gain"),
                figures("Rate"),
                text("Heat"),
            ];
            blocks.push(Block::Heading("Calcium chloride (ASTM F1869)".to_owned()));
            blocks.push(Block::Table(Table { columns, rows: dishes }));
        }
        if blocks.is_empty() {
            blocks.push(Block::Text("The job file has no moisture test of the slab.".to_owned()));
        }
        Some(Section { heading: "Moisture tests of the slab".to_owned(), blocks })
    }

    fn time(&self, time: Option<Timestamp>) -> String {
        given(time.map(|time| self.local(time.as_second())))
    }

    fn hole(&self, test: &InSituTest) -> Row {
        let units = self.units();
        row([
            test.hole.clone(),
            given(test.room.clone()),
            given(test.depth.map(|depth| units.length(depth))),
            self.time(test.sealed),
            self.time(test.read),
            given(test.reading.map(|rh| units.humidity(rh))),
            given(test.temperature.map(|t| self.show(LimitUnit::Celsius, t.celsius()))),
            heat(test.heat_on),
        ])
    }

    fn dish(&self, test: &CalciumChlorideTest) -> Row {
        let units = self.units();
        let rate = || {
            #[allow(clippy::cast_precision_loss)] // Days.
            let open_h = (test.end?.as_second() - test.start?.as_second()) as f64 / 3600.0;
            let (gain_g, area_m2) = (test.gain()?.grams(), test.area?.square_metres());
            let rate = emission_lb_1000ft2_24h(gain_g, area_m2, open_h).ok()?;
            Some(units.emission(MoistureEmission::from_lb_per_1000_ft2_24h(rate)))
        };
        row([
            test.dish.clone(),
            given(test.room.clone()),
            self.time(test.start),
            self.time(test.end),
            given(test.area.map(|area| units.area(area))),
            given(test.gain().map(|gain| units.mass(gain))),
            given(rate()),
            heat(test.heat_on),
        ])
    }

    /// Readings of the moisture meter, when there are any.
    pub(super) fn meter_readings(&self) -> Option<Section> {
        let readings = &self.case.job.meter_readings;
        let rows: Vec<Row> = readings
            .iter()
            .filter(|readings| self.concerns(readings.room.as_deref()))
            .map(|readings| self.meter(readings))
            .collect();
        let columns = vec![
            text("Day"),
            wide("Of"),
            text("Room"),
            figures("Readings"),
            figures("Lowest"),
            figures("Mean"),
            figures("Highest"),
        ];
        let block = if rows.is_empty() {
            Block::Text("The job file has no reading of a moisture meter.".to_owned())
        } else {
            Block::Table(Table { columns, rows })
        };
        Some(Section { heading: "Wood moisture by meter".to_owned(), blocks: vec![block] })
    }

    fn meter(&self, readings: &MeterReadings) -> Row {
        let units = self.units();
        let values: Vec<f64> = readings.readings.iter().map(|mc| mc.percent()).collect();
        let show =
            |value: Option<f64>| {
                given(value.map(|v| {
                    units.moisture_content(crate::quantity::MoistureContent::from_percent(v))
                }))
            };
        #[allow(clippy::cast_precision_loss)] // Dozens.
        let mean = (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64);
        let of = match readings.of {
            MeterTarget::Wood => "wood floor",
            MeterTarget::Subfloor => "wood subfloor",
        };
        let mut row = row([
            given(readings.date.map(|date| date.to_string())),
            of.to_owned(),
            given(readings.room.clone()),
            values.len().to_string(),
            show(values.iter().copied().reduce(f64::min)),
            show(mean),
            show(values.iter().copied().reduce(f64::max)),
        ]);
        let each: Vec<String> = values.iter().map(|value| format!("{value:.1}")).collect();
        row.notes.push(format!("{} in %MC: {}.", count(values.len(), "reading"), each.join(", ")));
        row
    }
}

fn heat(is_on: Option<bool>) -> String {
    given(is_on.map(|is_on| if is_on { "on" } else { "off" }.to_owned()))
}
