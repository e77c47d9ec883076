//! Log lines: through defmt where a board has a transport for it, nowhere otherwise.

/// A line about something that is as it should be.
macro_rules! info {
    ($text:literal $(, $value:expr)* $(,)?) => {{
        #[cfg(feature = "defmt")]
        defmt::info!($text $(, $value)*);
        #[cfg(not(feature = "defmt"))]
        { $(let _ = &$value;)* }
    }};
}

/// A line about something that somebody should look at.
macro_rules! warning {
    ($text:literal $(, $value:expr)* $(,)?) => {{
        #[cfg(feature = "defmt")]
        defmt::warn!($text $(, $value)*);
        #[cfg(not(feature = "defmt"))]
        { $(let _ = &$value;)* }
    }};
}

pub(crate) use {info, warning};
