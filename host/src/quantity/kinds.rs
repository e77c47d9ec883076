//! The kinds of quantity.

use std::fmt;
use std::str::FromStr;

use serde::de::{self, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::parse::{Quantity, QuantityError, Unit};

/// Pounds to kilograms, exact by definition.
const KG_PER_LB: f64 = 0.453_592_37;
/// Feet to metres, exact by definition.
const M_PER_FT: f64 = 0.3048;
/// Square feet to square metres, exact.
const M2_PER_FT2: f64 = M_PER_FT * M_PER_FT;
/// International table BTU in joules (ISO 31-4).
const J_PER_BTU: f64 = 1_055.055_852_62;
/// One lb/1000 ft²/24 h in g/m²/24 h.
const G_PER_M2_24H_PER_LB: f64 = KG_PER_LB * 1000.0 / (1000.0 * M2_PER_FT2);
/// One ft²·h·°F/Btu in m²·K/W.
const M2K_PER_W_PER_R: f64 = M2_PER_FT2 * 3600.0 / 1.8 / J_PER_BTU;

macro_rules! quantity {
    (
        $(#[$doc:meta])*
        $type:ident, $name:literal, $examples:expr,
        held $make:ident / $get:ident,
        range $min:expr, $max:expr, min possible $possible:literal,
        units $units:expr
    ) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $type(f64);

        impl $type {
            /// Wraps a value in the unit that the name of this function gives.
            #[must_use]
            pub const fn $make(value: f64) -> Self {
                Self(value)
            }

            /// The value in the unit that the name of this function gives.
            #[must_use]
            pub const fn $get(self) -> f64 {
                self.0
            }
        }

        impl Quantity for $type {
            const NAME: &'static str = $name;
            const EXAMPLES: [&'static str; 2] = $examples;
            const UNITS: &'static [Unit] = $units;
            const MIN: f64 = $min;
            const MAX: f64 = $max;
            const MIN_POSSIBLE: bool = $possible;

            fn from_held(value: f64) -> Self {
                Self(value)
            }

            fn held(self) -> f64 {
                self.0
            }
        }

        impl FromStr for $type {
            type Err = QuantityError;

            fn from_str(text: &str) -> Result<Self, QuantityError> {
                Self::parse(text)
            }
        }

        impl Serialize for $type {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_f64(self.0)
            }
        }

        impl<'de> Deserialize<'de> for $type {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                deserializer.deserialize_any(TextVisitor(std::marker::PhantomData))
            }
        }
    };
}

quantity! {
    /// A temperature, held in °C.
    Temperature, "temperature", ["20 C", "68 F"],
    held from_celsius / celsius,
    // Wide enough for any site, heating circuit or probe check; outside it a unit is wrong.
    range -60.0, 150.0, min possible true,
    units &[
        Unit { spellings: &["C", "c", "degc", "celsius"], factor: 1.0, offset: 0.0 },
        Unit { spellings: &["F", "f", "degf", "fahrenheit"], factor: 1.0 / 1.8, offset: -32.0 },
    ]
}

quantity! {
    /// A difference between two temperatures, held in kelvin: 5 °F is 2.78 K.
    TemperatureDifference, "temperature difference", ["3 C", "5 F"],
    held from_kelvin / kelvin,
    range -100.0, 100.0, min possible true,
    units &[
        Unit::scaled(&["C", "c", "degc"], 1.0),
        Unit::scaled(&["F", "f", "degf"], 1.0 / 1.8),
        Unit::scaled(&["K", "k"], 1.0),
    ]
}

quantity! {
    /// A relative humidity over liquid water, held in %.
    RelativeHumidity, "relative humidity", ["45 %", "45 %RH"],
    held from_percent / percent,
    range 0.0, 100.0, min possible true,
    units &[Unit::scaled(&["%", "%rh", "percent", "rh%"], 1.0)]
}

quantity! {
    /// A moisture content of wood as a share of its dry mass, held in %.
    MoistureContent, "moisture content", ["7.5 %", "7.5 %MC"],
    held from_percent / percent,
    // Green wood of light species holds up to about twice its dry mass.
    range 0.0, 250.0, min possible true,
    units &[Unit::scaled(&["%", "%mc", "percent", "mc%"], 1.0)]
}

quantity! {
    /// A length such as a thickness or a depth, held in metres.
    Length, "length", ["18 mm", "3/4 in"],
    held from_metres / metres,
    range 0.0, 1000.0, min possible false,
    units &[
        Unit::scaled(&["mm", "millimetre", "millimetres", "millimeter", "millimeters"], 0.001),
        Unit::scaled(&["cm", "centimetre", "centimetres", "centimeter", "centimeters"], 0.01),
        Unit::scaled(&["m", "metre", "metres", "meter", "meters"], 1.0),
        Unit::scaled(&["in", "inch", "inches", "\"", "''"], 0.0254),
        Unit::scaled(&["ft", "foot", "feet", "'"], M_PER_FT),
    ]
}

quantity! {
    /// An area, held in square metres.
    Area, "area", ["110 m2", "1200 ft2"],
    held from_square_metres / square_metres,
    range 0.0, 1e6, min possible false,
    units &[
        Unit::scaled(&["m2", "sqm", "sqmetre", "sqmetres", "sqmeter", "sqmeters"], 1.0),
        Unit::scaled(&["ft2", "sqft", "sf", "sqfeet", "squarefeet"], M2_PER_FT2),
        // The area under a calcium chloride dome is stated in small units.
        Unit::scaled(&["cm2", "sqcm"], 1e-4),
        Unit::scaled(&["in2", "sqin"], 0.0254 * 0.0254),
    ]
}

quantity! {
    /// A length of time, held in hours.
    TimeSpan, "length of time", ["48 h", "28 d"],
    held from_hours / hours,
    // A century: longer ones are typing errors.
    range 0.0, 876_600.0, min possible true,
    units &[
        Unit::scaled(&["h", "hr", "hrs", "hour", "hours"], 1.0),
        Unit::scaled(&["d", "day", "days"], 24.0),
        Unit::scaled(&["min", "mins", "minute", "minutes"], 1.0 / 60.0),
        Unit::scaled(&["s", "sec", "secs", "second", "seconds"], 1.0 / 3600.0),
        Unit::scaled(&["wk", "week", "weeks"], 168.0),
    ]
}

quantity! {
    /// A mass, held in kilograms.
    Mass, "mass", ["3.2 g", "0.11 oz"],
    held from_kilograms / kilograms,
    range 0.0, 1e5, min possible false,
    units &[
        Unit::scaled(&["g", "gram", "grams"], 1e-3),
        Unit::scaled(&["mg"], 1e-6),
        Unit::scaled(&["kg"], 1.0),
        Unit::scaled(&["oz"], KG_PER_LB / 16.0),
        Unit::scaled(&["lb", "lbs"], KG_PER_LB),
    ]
}

quantity! {
    /// A pressure of the air at the site (not reduced to sea level), held in pascals.
    Pressure, "air pressure", ["101.3 kPa", "1013 hPa"],
    held from_pascals / pascals,
    // From the highest towns, with a margin, to the highest pressure on record.
    range 40_000.0, 110_000.0, min possible true,
    units &[
        Unit::scaled(&["kPa", "kpa"], 1000.0),
        Unit::scaled(&["hPa", "hpa"], 100.0),
        Unit::scaled(&["mbar"], 100.0),
        Unit::scaled(&["inHg", "inhg"], 3386.389),
        Unit::scaled(&["Pa", "pa"], 1.0),
    ]
}

quantity! {
    /// A height above sea level, held in metres.
    Altitude, "altitude", ["1600 m", "5280 ft"],
    held from_metres / metres,
    range -450.0, 6000.0, min possible true,
    units &[
        Unit::scaled(&["m", "metre", "metres", "meter", "meters"], 1.0),
        Unit::scaled(&["ft", "foot", "feet", "'"], M_PER_FT),
    ]
}

quantity! {
    /// A moisture vapour emission rate (MVER) of a slab, held in g/m² per 24 h.
    ///
    /// ASTM F1869 states it in lb per 1000 ft² per 24 h, which `lb` alone means here.
    MoistureEmission, "moisture vapour emission rate", ["3 lb", "14.6 g/m2/24h"],
    held from_g_per_m2_24h / g_per_m2_24h,
    range 0.0, 1000.0, min possible true,
    units &[
        Unit::scaled(
            &["lb", "lbs", "lb/1000ft2/24h", "lbs/1000ft2/24h", "lb/1000sqft/24h", "lbs/1000sqft/24h"],
            G_PER_M2_24H_PER_LB,
        ),
        Unit::scaled(&["g/m2/24h", "g/m2/d", "g/m2d", "g/m2day"], 1.0),
    ]
}

quantity! {
    /// A thermal resistance of a layer, held in m²·K/W.
    ThermalResistance, "thermal resistance", ["0.1 m2K/W", "0.57 ft2hF/Btu"],
    held from_m2_k_per_w / m2_k_per_w,
    range 0.0, 20.0, min possible false,
    units &[
        Unit::scaled(&["m2K/W", "m2k/w", "m2c/w"], 1.0),
        Unit::scaled(&["ft2hF/Btu", "ft2hf/btu", "hft2f/btu"], M2K_PER_W_PER_R),
    ]
}

quantity! {
    /// A thermal conductivity of a material, held in W/(m·K).
    ThermalConductivity, "thermal conductivity", ["0.15 W/mK", "1.04 Btu in/ft2hF"],
    held from_w_per_m_k / w_per_m_k,
    range 0.0, 500.0, min possible false,
    units &[
        Unit::scaled(&["W/mK", "w/mk", "w/mc"], 1.0),
        Unit::scaled(&["Btu in/ft2hF", "btuin/ft2hf", "btuin/hft2f"], 0.0254 / M2K_PER_W_PER_R),
    ]
}

impl Temperature {
    /// The temperature in °F.
    #[must_use]
    pub fn fahrenheit(self) -> f64 {
        self.0 * 1.8 + 32.0
    }
}

impl TemperatureDifference {
    /// The difference in °F.
    #[must_use]
    pub fn fahrenheit(self) -> f64 {
        self.0 * 1.8
    }
}

impl RelativeHumidity {
    /// The humidity as a fraction of one.
    #[must_use]
    pub fn fraction(self) -> f64 {
        self.0 / 100.0
    }
}

impl Length {
    /// The length in millimetres.
    #[must_use]
    pub fn millimetres(self) -> f64 {
        self.0 * 1000.0
    }

    /// The length in inches.
    #[must_use]
    pub fn inches(self) -> f64 {
        self.0 / 0.0254
    }
}

impl Area {
    /// The area in square feet.
    #[must_use]
    pub fn square_feet(self) -> f64 {
        self.0 / M2_PER_FT2
    }
}

impl TimeSpan {
    /// Wraps a number of days.
    #[must_use]
    pub const fn from_days(days: f64) -> Self {
        Self(days * 24.0)
    }

    /// The time in days.
    #[must_use]
    pub fn days(self) -> f64 {
        self.0 / 24.0
    }

    /// The time in seconds.
    #[must_use]
    pub fn seconds(self) -> f64 {
        self.0 * 3600.0
    }

    /// The time as a duration that can be added to a time, rounded to a millisecond.
    #[must_use]
    pub fn to_duration(self) -> jiff::SignedDuration {
        // In range: the kind spans a century at most when read, and `as` saturates otherwise.
        #[allow(clippy::cast_possible_truncation)]
        let milliseconds = (self.0 * 3_600_000.0).round() as i64;
        jiff::SignedDuration::from_millis(milliseconds)
    }
}

impl Mass {
    /// The mass in grams.
    #[must_use]
    pub fn grams(self) -> f64 {
        self.0 * 1000.0
    }
}

impl Altitude {
    /// The altitude in feet.
    #[must_use]
    pub fn feet(self) -> f64 {
        self.0 / M_PER_FT
    }
}

impl MoistureEmission {
    /// Wraps a rate in lb per 1000 ft² per 24 h, the unit of ASTM F1869.
    #[must_use]
    pub const fn from_lb_per_1000_ft2_24h(pounds: f64) -> Self {
        Self(pounds * G_PER_M2_24H_PER_LB)
    }

    /// The rate in lb per 1000 ft² per 24 h, the unit of ASTM F1869.
    #[must_use]
    pub fn lb_per_1000_ft2_24h(self) -> f64 {
        self.0 / G_PER_M2_24H_PER_LB
    }
}

/// Reads a quantity from text, and answers a bare number with the units it could have been.
struct TextVisitor<Q>(std::marker::PhantomData<Q>);

impl<Q: Quantity> Visitor<'_> for TextVisitor<Q> {
    type Value = Q;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [first, second] = Q::EXAMPLES;
        write!(f, "a {} with its unit, such as \"{first}\" or \"{second}\"", Q::NAME)
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<Q, E> {
        Q::parse(text).map_err(E::custom)
    }

    fn visit_i64<E: de::Error>(self, number: i64) -> Result<Q, E> {
        Err(E::custom(QuantityError::bare_number::<Q>(&number.to_string())))
    }

    fn visit_u64<E: de::Error>(self, number: u64) -> Result<Q, E> {
        Err(E::custom(QuantityError::bare_number::<Q>(&number.to_string())))
    }

    fn visit_f64<E: de::Error>(self, number: f64) -> Result<Q, E> {
        Err(E::custom(QuantityError::bare_number::<Q>(&number.to_string())))
    }
}
