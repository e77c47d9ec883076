//! Short texts that people write: quantities, zones, options, ids.

use glueday::intake::{DecimalMark, Delimiter, Mapping, TimeFormat, Zone};
use glueday::limits::LimitId;
use glueday::port::{Address, BAUD};
use glueday::quantity::{
    Altitude, Area, Length, Mass, MoistureContent, MoistureEmission, Pressure, Quantity,
    RelativeHumidity, Temperature, TemperatureDifference, ThermalConductivity, ThermalResistance,
    TimeSpan,
};
use glueday_types::LoggerId;
use std::fmt::{Debug, Display};
use std::str::FromStr;

/// Any text goes to every parser of short texts: a value within its range, or an error with words.
/// What prints as text reads back from it.
pub fn word(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let text = text.as_ref();
    quantity::<Temperature>(text);
    quantity::<TemperatureDifference>(text);
    quantity::<RelativeHumidity>(text);
    quantity::<MoistureContent>(text);
    quantity::<MoistureEmission>(text);
    quantity::<Length>(text);
    quantity::<Area>(text);
    quantity::<Altitude>(text);
    quantity::<Pressure>(text);
    quantity::<Mass>(text);
    quantity::<TimeSpan>(text);
    quantity::<ThermalConductivity>(text);
    quantity::<ThermalResistance>(text);
    reads_back::<Zone>(text);
    reads_back::<Delimiter>(text);
    reads_back::<DecimalMark>(text);
    reads_back::<TimeFormat>(text);
    reads_back::<LoggerId>(text);
    let mut mapping = Mapping::default();
    if let Err(error) = mapping.assign(text) {
        assert!(!error.to_string().is_empty());
    }
    for (name, value) in mapping.to_options() {
        let mut again = Mapping::default();
        again.assign(&value).unwrap_or_else(|error| panic!("{name} {value}: {error}"));
        assert_eq!(again, mapping);
    }
    let _ = Address::parse(text, BAUD);
    for id in LimitId::ALL {
        match id.unit().parse(text) {
            Ok(value) => assert!(value.is_finite(), "{id}"),
            Err(error) => assert!(!error.problem().is_empty() && !error.fix().is_empty()),
        }
    }
}

fn quantity<Q: Quantity>(text: &str) {
    match Q::parse(text) {
        Ok(value) => {
            let slack = 1e-6 * value.held().abs();
            let range = Q::MIN - slack..=Q::MAX + slack;
            assert!(range.contains(&value.held()), "{text:?} is a {}: {}", Q::NAME, value.held());
        }
        Err(error) => assert!(!error.problem().is_empty() && !error.fix().is_empty()),
    }
}

fn reads_back<T: FromStr<Err: Display> + Display + PartialEq + Debug>(text: &str) {
    match text.parse::<T>() {
        Ok(value) => {
            let shown = value.to_string();
            match shown.parse::<T>() {
                Ok(again) => assert_eq!(again, value, "{text:?} prints as {shown:?}"),
                Err(error) => panic!("{text:?} prints as {shown:?}, which does not read: {error}"),
            }
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}
