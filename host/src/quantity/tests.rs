use proptest::prelude::*;
use serde::Deserialize;

use super::*;

/// Relative agreement to a part in a million, the precision of the conversion tables.
#[track_caller]
fn near(actual: f64, expected: f64) {
    assert!((actual - expected).abs() <= 1e-6 * expected.abs().max(1e-9), "{actual} != {expected}");
}

#[track_caller]
fn error<Q: Quantity + std::fmt::Debug>(text: &str) -> String {
    Q::parse(text).unwrap_err().to_string()
}

#[test]
fn factors_agree_with_the_published_table() {
    // NIST Special Publication 811 (2008), appendix B.8, seven digits.
    near(Length::parse("1 ft").unwrap().metres(), 0.3048);
    near(Length::parse("1 in").unwrap().metres(), 0.0254);
    near(Area::parse("1 ft2").unwrap().square_metres(), 9.290_304e-2);
    near(Area::parse("1 in2").unwrap().square_metres(), 6.4516e-4);
    near(Mass::parse("1 lb").unwrap().kilograms(), 4.535_924e-1);
    near(Mass::parse("1 oz").unwrap().kilograms(), 2.834_952e-2);
    near(Pressure::parse("29 inHg").unwrap().pascals(), 29.0 * 3.386_389e3);
    near(ThermalResistance::parse("1 ft2·h·°F/Btu").unwrap().m2_k_per_w(), 1.761_102e-1);
    near(ThermalConductivity::parse("1 Btu·in/(h·ft²·°F)").unwrap().w_per_m_k(), 1.442_279e-1);
    near(TemperatureDifference::parse("1 F").unwrap().kelvin(), 5.555_556e-1);
    // The same table: t/°C = (t/°F - 32)/1.8.
    near(Temperature::parse("212 F").unwrap().celsius(), 100.0);
    near(Temperature::parse("-40 F").unwrap().celsius(), -40.0);
    near(Temperature::parse("75 F").unwrap().celsius(), 23.888_889);
}

#[test]
fn moisture_emission_is_in_the_pounds_of_the_test_method() {
    // ASTM F1869-16a as reproduced in public: MVER = 24000 g/(453.6 A t) lb/1000 ft²/24 h, A in ft².
    // One gram from one square foot in 24 h is 1/0.09290304 g/m² in 24 h.
    let rate = MoistureEmission::from_g_per_m2_24h(1.0 / 0.092_903_04);
    assert!((rate.lb_per_1000_ft2_24h() - 24_000.0 / (453.6 * 24.0)).abs() < 1e-4);
    near(MoistureEmission::parse("3 lb").unwrap().lb_per_1000_ft2_24h(), 3.0);
    near(MoistureEmission::parse("3 lb/1000 ft²/24 h").unwrap().lb_per_1000_ft2_24h(), 3.0);
    near(MoistureEmission::parse("14.6 g/m²/24h").unwrap().g_per_m2_24h(), 14.6);
}

#[test]
fn units_are_written_in_many_ways() {
    for text in ["24 C", "24C", " 24 °C ", "24 degC", "24 c", "24.0 º C", "75.2 °F", "75.2 deg F"]
    {
        near(Temperature::parse(text).unwrap().celsius(), 24.0);
    }
    for text in ["0.75 in", "3/4 in", "3/4\"", "3/4 inch", "19.05 mm", "1.905 cm"] {
        near(Length::parse(text).unwrap().millimetres(), 19.05);
    }
    for text in ["1 1/2 in", "1-1/2 in", "1.5 inches", "3/2\u{2033}", "38.1 mm"] {
        near(Length::parse(text).unwrap().inches(), 1.5);
    }
    for text in ["1200 ft2", "1200 ft²", "1200 sq ft", "1200 sq. ft.", "1200sqft", "1200 ft^2"] {
        near(Area::parse(text).unwrap().square_feet(), 1200.0);
    }
    for text in ["28 d", "28 days", "672 h", "4 weeks", "40320 min"] {
        near(TimeSpan::parse(text).unwrap().days(), 28.0);
    }
    for text in ["45 %", "45%", "45 %RH", "45 % rh", "45 percent"] {
        near(RelativeHumidity::parse(text).unwrap().fraction(), 0.45);
    }
    near(MoistureContent::parse("7.5 %MC").unwrap().percent(), 7.5);
    near(Mass::parse("3.2 g").unwrap().grams(), 3.2);
    near(Pressure::parse("101.3 kPa").unwrap().pascals(), 101_300.0);
    near(Pressure::parse("1013 hPa").unwrap().pascals(), 101_300.0);
    near(Altitude::parse("5280 ft").unwrap().metres(), 1609.344);
    near(Altitude::parse("-10 m").unwrap().metres(), -10.0);
    near(Altitude::parse("\u{2212}10 m").unwrap().metres(), -10.0);
    near(ThermalResistance::parse("0.1 m²·K/W").unwrap().m2_k_per_w(), 0.1);
    near(ThermalConductivity::parse("0.15 W/(m·K)").unwrap().w_per_m_k(), 0.15);
}

#[test]
fn a_difference_is_never_offset() {
    near(TemperatureDifference::parse("5 F").unwrap().kelvin(), 2.777_778);
    near(TemperatureDifference::parse("3 °C").unwrap().kelvin(), 3.0);
    near(TemperatureDifference::parse("3 K").unwrap().kelvin(), 3.0);
    near(TemperatureDifference::from_kelvin(3.0).fahrenheit(), 5.4);
    // A temperature in kelvin is not what anybody reads on a site: it is taken for a mistake.
    assert_eq!(
        error::<Temperature>("293 K"),
        "`K` is not a unit of temperature: the unit can be C or F; \
         write it like \"20 C\" or \"68 F\""
    );
}

#[test]
fn a_number_without_a_unit_names_the_units_it_could_have() {
    assert_eq!(
        error::<Temperature>("75"),
        "`75` has no unit; a temperature needs one: the unit can be C or F; \
         write it like \"20 C\" or \"68 F\""
    );
    let text = error::<Length>("18");
    for unit in ["mm", "cm", "m", "in", "ft"] {
        assert!(text.contains(unit), "{text}");
    }
}

#[test]
fn what_cannot_be_is_refused() {
    for text in ["130 %", "-1 %", "100.1 %RH"] {
        assert!(error::<RelativeHumidity>(text).contains("not a possible"), "{text}");
    }
    assert!(error::<Area>("0 m2").contains("not a possible area"));
    assert!(error::<Length>("0 mm").contains("not a possible length"));
    assert!(error::<Temperature>("-300 C").contains("not a possible"));
    assert!(error::<Pressure>("1013 kPa").contains("not a possible"));
    assert!(error::<TimeSpan>("-1 h").contains("not a possible"));
    assert!(RelativeHumidity::parse("100 %").is_ok());
    assert!(RelativeHumidity::parse("0 %").is_ok());
    assert!(TimeSpan::parse("0 h").is_ok());
}

#[test]
fn unclear_numbers_are_refused() {
    assert!(error::<Area>("1,200 ft2").contains("comma"));
    assert!(error::<Length>("0,75 in").contains("comma"));
    for text in ["", "C", "%", "abc", "- C", "1 2 C", "1.2.3 C", "1/0 in", "1/2/3 in", "+-3 C"] {
        assert!(Length::parse(text).is_err(), "{text}");
        assert!(Temperature::parse(text).is_err(), "{text}");
    }
    // Rust reads these as numbers, people do not.
    for text in ["inf C", "nan C", "1e3 C", "infinity"] {
        assert!(Temperature::parse(text).is_err(), "{text}");
    }
}

#[test]
fn toml_text_is_read_and_bare_numbers_are_explained() {
    #[derive(Debug, Deserialize)]
    struct File {
        air: Temperature,
    }
    let read = |text: &str| toml::from_str::<File>(text);
    near(read("air = \"75 F\"").unwrap().air.celsius(), 23.888_889);
    for text in ["air = 75", "air = 75.5"] {
        let message = read(text).unwrap_err().to_string();
        assert!(message.contains("has no unit") && message.contains("C or F"), "{message}");
    }
    assert!(read("air = true").unwrap_err().to_string().contains("a temperature with its unit"));
}

#[test]
fn quantities_serialise_as_the_number_held() {
    let json = serde_json::to_string(&Temperature::from_celsius(21.5)).unwrap();
    assert_eq!(json, "21.5");
    assert_eq!(serde_json::to_string(&TimeSpan::from_days(2.0)).unwrap(), "48.0");
}

#[test]
fn values_are_shown_in_either_system() {
    let (metric, us) = (Units::Metric, Units::Us);
    let t = Temperature::from_celsius(21.34);
    assert_eq!((metric.temperature(t), us.temperature(t)), ("21.3 °C".into(), "70.4 °F".into()));
    let zero = Temperature::from_celsius(-0.04);
    assert_eq!(metric.temperature(zero), "0.0 °C");
    let d = TemperatureDifference::from_kelvin(3.0);
    assert_eq!((metric.difference(d), us.difference(d)), ("3.0 °C".into(), "5.4 °F".into()));
    let a = Area::parse("1200 ft2").unwrap();
    assert_eq!((metric.area(a), us.area(a)), ("111 m²".into(), "1200 ft²".into()));
    let dome = Area::parse("0.445 ft2").unwrap();
    assert_eq!((metric.area(dome), us.area(dome)), ("0.04 m²".into(), "0.45 ft²".into()));
    let l = Length::parse("5/8 in").unwrap();
    assert_eq!((metric.length(l), us.length(l)), ("15.9 mm".into(), "0.625 in".into()));
    assert_eq!(metric.length(Length::parse("100 mm").unwrap()), "100 mm");
    for (text, shown) in [
        ("48 h", "48 h"),
        ("28 d", "28 d"),
        ("90 min", "1.5 h"),
        ("30 min", "30 min"),
        ("73 h", "73 h"),
    ] {
        assert_eq!(metric.time_span(TimeSpan::parse(text).unwrap()), shown);
    }
    let rate = MoistureEmission::parse("3 lb").unwrap();
    assert_eq!(us.emission(rate), "3.0 lb/1000 ft²/24 h");
    assert_eq!(metric.emission(rate), "14.6 g/m²/24 h (3.0 lb/1000 ft²/24 h)");
    assert_eq!(us.altitude(Altitude::from_metres(1609.344)), "5280 ft");
    assert_eq!(us.humidity(RelativeHumidity::from_percent(45.04)), "45.0 %RH");
    assert_eq!(metric.mass(Mass::parse("3.2 g").unwrap()), "3.20 g");
}

proptest! {
    #[test]
    fn no_text_panics_and_every_value_is_in_range(text in "\\PC{0,24}") {
        if let Ok(value) = Temperature::parse(&text) {
            prop_assert!((-60.1..=150.1).contains(&value.celsius()));
        }
        if let Ok(value) = Length::parse(&text) {
            prop_assert!(value.metres() > 0.0);
        }
    }

    #[test]
    fn both_scales_name_the_same_temperature(celsius in -50.0..140.0_f64) {
        let c = Temperature::parse(&format!("{celsius:.6} C")).unwrap().celsius();
        let f = Temperature::parse(&format!("{:.6} F", celsius * 9.0 / 5.0 + 32.0)).unwrap().celsius();
        prop_assert!((c - f).abs() < 2e-6);
    }
}
