//! What came of a check, in the figures that go into the job file.

use super::plan::{Method, Plan};
use super::steady::Window;
use crate::job::{Channel, NewCheck};
use crate::physics::OutOfRange;
use crate::quantity::{Quantity, QuantityError, RelativeHumidity, Temperature, Units};
use jiff::civil::Date;

/// A figure as it is written, and what that means.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// With its unit, such as `"75.37 %"`.
    pub text: String,
    /// In °C or %RH, as whoever reads the text gets it.
    pub value: f64,
}

/// The result of a check.
///
/// The figures are worked out from what is written, so that everybody who reads the job file gets the
/// same error to the last digit.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// What the probe should have read.
    pub reference: Written,
    /// What it read: the mean over the watched time.
    pub reading: Written,
    /// Temperature of the jar.
    pub temperature: Option<Written>,
    /// Reading less reference, in K or %RH.
    pub error: f64,
    /// The highest error that the job allows, either way.
    pub limit: f64,
    /// Whether the error is within the limit. Exactly at the limit is.
    pub within: bool,
}

/// Why a steady reading makes no check.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum OutcomeError {
    /// The reference is not known there.
    #[error(transparent)]
    Reference(#[from] OutOfRange),
    /// A figure cannot stand in a job file.
    #[error(transparent)]
    Figure(#[from] QuantityError),
}

impl Outcome {
    /// What a steady window comes to under a limit. Temperatures are written in `units`, but for a
    /// comparison in the unit in which its reference was `typed`, and that as it was typed.
    ///
    /// # Errors
    /// [`OutcomeError`] when there is no reference at the temperature of the jar.
    pub fn of(
        plan: &Plan,
        window: &Window,
        limit: f64,
        units: Units,
        typed: Option<&str>,
    ) -> Result<Self, OutcomeError> {
        let units = match typed {
            Some(text) if text.to_ascii_lowercase().contains('f') => Units::Us,
            Some(_) => Units::Metric,
            None => units,
        };
        let written = |value: f64| match plan.channel() {
            Channel::Rh => read_back::<RelativeHumidity>(format!("{} %", two_places(value))),
            _ => temperature(value, units),
        };
        let reference = plan.reference(window.temperature_c)?;
        let reference = match (plan.method(), typed) {
            (Method::Comparison(value), Some(text)) => {
                Written { text: text.trim().to_owned(), value }
            }
            _ => written(reference)?,
        };
        let reading = written(window.reading)?;
        let error = reading.value - reference.value;
        Ok(Self {
            temperature: window.temperature_c.map(|c| temperature(c, units)).transpose()?,
            error,
            limit,
            // The last digit of a unit conversion must not decide.
            within: error.abs() <= limit + 1e-9,
            reference,
            reading,
        })
    }

    /// What goes into the job file on this day.
    #[must_use]
    pub fn to_check(&self, plan: &Plan, date: Date) -> NewCheck {
        NewCheck {
            date,
            method: plan.check_method(),
            reference: self.reference.text.clone(),
            reading: self.reading.text.clone(),
            temperature: self.temperature.as_ref().map(|written| written.text.clone()),
        }
    }
}

fn temperature(celsius: f64, units: Units) -> Result<Written, OutcomeError> {
    read_back::<Temperature>(match units {
        Units::Metric => format!("{} C", two_places(celsius)),
        Units::Us => {
            format!("{} F", two_places(Temperature::from_celsius(celsius).fahrenheit()))
        }
    })
}

fn read_back<Q: Quantity>(text: String) -> Result<Written, OutcomeError> {
    Ok(Written { value: Q::parse(&text)?.held(), text })
}

/// Two decimals, as the logger has them, and never `-0.00`.
fn two_places(value: f64) -> String {
    let text = format!("{value:.2}");
    if text == "-0.00" { "0.00".to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::salt::Salt;

    fn window(reading: f64, temperature_c: Option<f64>) -> Window {
        Window { samples: 16, span_s: 900, reading, temperature_c, ..Window::default() }
    }

    fn outcome(plan: &Plan, window: &Window, typed: Option<&str>) -> Outcome {
        let limit = if plan.is_humidity() { 3.0 } else { 0.5 };
        Outcome::of(plan, window, limit, Units::Metric, typed).unwrap()
    }

    /// NaCl at 23 °C: 75.516 + 0.9161 - 1.4043 + 0.3465 = 75.37 % (Greenspan 1977, polynomial).
    #[test]
    fn a_salt_check_by_hand() {
        let plan = Plan::new(Channel::Rh, Method::Salt(Salt::SodiumChloride), 900).unwrap();
        let found = outcome(&plan, &window(77.4725, Some(23.004)), None);
        assert_eq!(found.reference.text, "75.37 %");
        assert_eq!(found.reading.text, "77.47 %");
        assert_eq!(found.temperature.as_ref().unwrap().text, "23.00 C");
        assert!((found.error - 2.10).abs() < 1e-9 && found.within);
    }

    #[test]
    fn exactly_at_the_limit_is_within_and_a_hundredth_more_is_not() {
        let plan = Plan::new(Channel::Slab, Method::Ice, 900).unwrap();
        for (reading, within) in [(0.5, true), (-0.5, true), (0.51, false), (-0.51, false)] {
            let found = outcome(&plan, &window(reading, None), None);
            assert_eq!((found.within, found.error), (within, reading), "{reading}");
        }
        let found = outcome(&plan, &window(-0.004, None), None);
        assert_eq!((found.reading.text.as_str(), found.error), ("0.00 C", 0.0));
    }

    #[test]
    fn ice_is_written_in_the_units_of_the_job() {
        let plan = Plan::new(Channel::Slab, Method::Ice, 900).unwrap();
        let found = Outcome::of(&plan, &window(0.25, None), 0.5, Units::Us, None).unwrap();
        assert_eq!(
            (found.reference.text.as_str(), found.reading.text.as_str()),
            ("32.00 F", "32.45 F")
        );
        assert!((found.error - 0.25).abs() < 1e-9 && found.temperature.is_none());
    }

    /// 68.5 °F is 20.28 °C; 20.55 °C is 68.99 °F.
    #[test]
    fn a_comparison_keeps_the_unit_in_which_it_was_typed() {
        let plan = Plan::new(Channel::Air, Method::Comparison(36.5 / 1.8), 900).unwrap();
        let found = outcome(&plan, &window(20.55, None), Some(" 68.5 F "));
        assert_eq!(
            (found.reference.text.as_str(), found.reading.text.as_str()),
            ("68.5 F", "68.99 F")
        );
        assert!((found.error - 0.49 / 1.8).abs() < 1e-9);
        let plan = Plan::new(Channel::Air, Method::Comparison(20.3), 900).unwrap();
        let found =
            Outcome::of(&plan, &window(20.55, None), 0.5, Units::Us, Some("20.3 C")).unwrap();
        assert_eq!(found.reading.text, "20.55 C");
        let plan = Plan::new(Channel::Rh, Method::Comparison(45.0), 900).unwrap();
        let found = outcome(&plan, &window(44.1, None), Some("45 %RH"));
        assert_eq!(
            (found.reference.text.as_str(), found.reading.text.as_str()),
            ("45 %RH", "44.10 %")
        );
    }

    #[test]
    fn what_cannot_stand_in_a_job_file_is_an_error() {
        let plan = Plan::new(Channel::Rh, Method::Comparison(99.0), 900).unwrap();
        let over = Outcome::of(&plan, &window(100.4, None), 3.0, Units::Metric, Some("99 %"));
        assert!(matches!(over, Err(OutcomeError::Figure(_))));
        let plan = Plan::new(Channel::Rh, Method::Salt(Salt::SodiumChloride), 900).unwrap();
        let cold = Outcome::of(&plan, &window(75.0, Some(3.0)), 3.0, Units::Metric, None);
        assert!(matches!(cold, Err(OutcomeError::Reference(_))));
    }
}
