//! A shipped figure, and how well its source is known.

use serde::Serialize;

use super::id::{Bound, LimitUnit};

/// What is known of a limit before any job.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Shipped {
    /// Unit of every value of this limit.
    pub unit: LimitUnit,
    /// How it binds.
    pub bound: Bound,
    /// The default; `None` when only a product data sheet can say.
    pub figure: Option<Figure>,
}

/// A shipped figure and where it comes from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Figure {
    /// The value, in the limit's unit.
    pub value: f64,
    /// How well the source is known.
    pub status: Status,
    /// The source.
    pub source: &'static str,
}

/// How well the source of a value is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Read in a publication of the body that set it.
    Published,
    /// Read where others quote the source; check the source before citing a clause.
    SecondHand,
    /// What the trade does; no publication found.
    CommonPractice,
    /// From memory; not verified.
    FromMemory,
}

impl Status {
    /// The status in words.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::SecondHand => "second hand",
            Self::CommonPractice => "common practice",
            Self::FromMemory => "from memory",
        }
    }
}

impl std::fmt::Display for Status {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.as_str())
    }
}
