//! Showing quantities in the units that the reader is used to.

use serde::Serialize;

use super::kinds::{
    Altitude, Area, Length, Mass, MoistureContent, MoistureEmission, RelativeHumidity, Temperature,
    TemperatureDifference, TimeSpan,
};

/// The units to show quantities in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// °C, mm, m².
    #[default]
    Metric,
    /// °F, inches, ft²: the customary units of the United States.
    Us,
}

impl Units {
    /// A temperature to one decimal: `21.3 °C` or `70.3 °F`.
    #[must_use]
    pub fn temperature(self, temperature: Temperature) -> String {
        match self {
            Self::Metric => format!("{} °C", decimals(temperature.celsius(), 1)),
            Self::Us => format!("{} °F", decimals(temperature.fahrenheit(), 1)),
        }
    }

    /// A temperature difference to one decimal: `2.8 °C` or `5.0 °F`.
    #[must_use]
    pub fn difference(self, difference: TemperatureDifference) -> String {
        match self {
            Self::Metric => format!("{} °C", decimals(difference.kelvin(), 1)),
            Self::Us => format!("{} °F", decimals(difference.fahrenheit(), 1)),
        }
    }

    /// An area: whole units from 10 up, two decimals below (the dome of a test).
    #[must_use]
    pub fn area(self, area: Area) -> String {
        let (value, unit) = match self {
            Self::Metric => (area.square_metres(), "m²"),
            Self::Us => (area.square_feet(), "ft²"),
        };
        format!("{} {unit}", if value >= 10.0 { decimals(value, 0) } else { decimals(value, 2) })
    }

    /// A length: millimetres to at most one decimal, or inches to at most three.
    #[must_use]
    pub fn length(self, length: Length) -> String {
        match self {
            Self::Metric => format!("{} mm", trimmed(length.millimetres(), 1)),
            Self::Us => format!("{} in", trimmed(length.inches(), 3)),
        }
    }

    /// An altitude in whole metres or feet.
    #[must_use]
    pub fn altitude(self, altitude: Altitude) -> String {
        match self {
            Self::Metric => format!("{} m", decimals(altitude.metres(), 0)),
            Self::Us => format!("{} ft", decimals(altitude.feet(), 0)),
        }
    }

    /// A relative humidity to one decimal; the same in both systems.
    #[must_use]
    pub fn humidity(self, humidity: RelativeHumidity) -> String {
        format!("{} %RH", decimals(humidity.percent(), 1))
    }

    /// A moisture content to one decimal; the same in both systems.
    #[must_use]
    pub fn moisture_content(self, content: MoistureContent) -> String {
        format!("{} %MC", decimals(content.percent(), 1))
    }

    /// A length of time; the same in both systems: `30 min`, `48 h`, `28 d`.
    ///
    /// Days from three days up, when they come out whole; hours otherwise.
    #[must_use]
    pub fn time_span(self, span: TimeSpan) -> String {
        let hours = span.hours();
        if hours >= 72.0 && hours % 24.0 == 0.0 {
            format!("{} d", trimmed(span.days(), 1))
        } else if hours < 1.0 {
            format!("{} min", trimmed(hours * 60.0, 1))
        } else {
            format!("{} h", trimmed(hours, 1))
        }
    }

    /// A mass in grams to two decimals; a dish is weighed in grams in both systems.
    #[must_use]
    pub fn mass(self, mass: Mass) -> String {
        format!("{} g", decimals(mass.grams(), 2))
    }

    /// A moisture vapour emission rate to one decimal.
    ///
    /// Metric readers get the pounds of the test method as well, because limits are stated in them.
    #[must_use]
    pub fn emission(self, rate: MoistureEmission) -> String {
        let pounds = format!("{} lb/1000 ft²/24 h", decimals(rate.lb_per_1000_ft2_24h(), 1));
        match self {
            Self::Metric => format!("{} g/m²/24 h ({pounds})", decimals(rate.g_per_m2_24h(), 1)),
            Self::Us => pounds,
        }
    }
}

/// `value` with `places` decimals, and never `-0`.
fn decimals(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// `value` with at most `places` decimals.
fn trimmed(value: f64, places: usize) -> String {
    let text = decimals(value, places);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
