//! The quantities that a row of readings holds, and their units.

/// One of the four quantities that a row of readings holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Channel {
    /// Slab surface temperature.
    Slab,
    /// Air temperature.
    Air,
    /// Relative humidity of the air.
    Rh,
    /// Radiant supply (flow) temperature.
    Supply,
}

impl Channel {
    /// All channels, in the order in which they are reported.
    pub const ALL: [Self; 4] = [Self::Slab, Self::Air, Self::Rh, Self::Supply];

    /// The word for the channel in `--column`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Slab => "slab",
            Self::Air => "air",
            Self::Rh => "rh",
            Self::Supply => "supply",
        }
    }

    /// Lowest and highest value, in °C or %, that is believed. The bounds are ours (common practice,
    /// no source): wide enough for a frozen shell, a floor in the sun and a heating pipe under
    /// pressure, tight enough to catch error codes and temperatures in the wrong unit.
    #[must_use]
    pub fn believed(self) -> (i32, i32) {
        match self {
            Self::Slab => (-40, 70),
            Self::Air => (-40, 60),
            Self::Rh => (0, 110),
            Self::Supply => (-40, 110),
        }
    }

    /// The unit that a column without one is taken to have.
    #[must_use]
    pub fn default_unit(self) -> Unit {
        if self == Self::Rh { Unit::Percent } else { Unit::Celsius }
    }

    /// Whether `unit` measures the same kind of quantity as this channel.
    #[must_use]
    pub fn takes(self, unit: Unit) -> bool {
        matches!(unit, Unit::Percent | Unit::Fraction) == (self == Self::Rh)
    }
}

/// Unit of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Unit {
    /// Degrees Celsius.
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
    /// Percent.
    Percent,
    /// A fraction of one: 0.45 is 45 %.
    Fraction,
}

impl Unit {
    /// How the unit is written in `--column CHANNEL=COLUMN[UNIT]`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Celsius => "C",
            Self::Fahrenheit => "F",
            Self::Percent => "%",
            Self::Fraction => "fraction",
        }
    }

    /// Reads a unit as headers, cells and options write it, in any case: `C`, `°C`, `degC`, `deg C`,
    /// `Celsius`, the same with `F` and `Fahrenheit`, `%`, `%RH`, `% RH`, `RH%`, `pct`, `percent`,
    /// `fraction`.
    #[must_use]
    pub fn from_words(text: &str) -> Option<Self> {
        let mut word = text.trim().to_lowercase();
        word.retain(|c| !c.is_whitespace() && c != '.' && c != '_');
        // U+00BA, the ordinal indicator, is on many keyboards where the degree sign is not.
        let word = word.replace(['º', '˚'], "°");
        Some(match word.as_str() {
            "c" | "°c" | "℃" | "degc" | "degreec" | "degreesc" | "degcelsius" | "celsius" => {
                Self::Celsius
            }
            "f" | "°f" | "℉" | "degf" | "degreef" | "degreesf" | "degfahrenheit" | "fahrenheit" => {
                Self::Fahrenheit
            }
            "%" | "%rh" | "rh%" | "pct" | "pctrh" | "percent" => Self::Percent,
            "fraction" => Self::Fraction,
            _ => return None,
        })
    }
}
