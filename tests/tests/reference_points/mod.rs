//! Reader of `fixtures/reference/points.json`: values from outside the project, each with its source.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde_json::{Map, Value};

/// Quantities that `reference_protocol.rs` answers for; all others belong to `reference_physics.rs`.
pub(crate) const PROTOCOL: &[(&str, usize)] = &[
    ("cobs_encode_hex", 5),
    ("cobs_encode_long", 3),
    ("crc_check_hex", 5),
    ("ed25519", 1),
    ("postcard_f32_hex", 1),
    ("postcard_f64_hex", 1),
    ("postcard_str_hex", 1),
    ("postcard_tuple_hex", 1),
    ("postcard_varint_i16_hex", 6),
    ("postcard_varint_i32_hex", 3),
    ("postcard_varint_u16_hex", 5),
    ("postcard_varint_u32_hex", 1),
    ("sha256_hex", 2),
];

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(rename = "meta")]
    _meta: Value,
    points: Vec<Point>,
}

/// One value, what it is of, and where it comes from.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Point {
    pub(crate) id: String,
    pub(crate) quantity: String,
    pub(crate) inputs: Map<String, Value>,
    pub(crate) expected: Value,
    pub(crate) tolerance: Tolerance,
    pub(crate) source: String,
    #[serde(rename = "status")]
    _status: Status,
    #[serde(rename = "note")]
    _note: Option<String>,
    /// The same value by another library or equation.
    #[serde(default)]
    pub(crate) xcheck: Map<String, Value>,
    /// The value and uncertainty of a printed table, where `expected` is by an equation.
    pub(crate) table: Option<Value>,
    /// Whether the rule that comes with the point is met.
    pub(crate) passes: Option<bool>,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Tolerance {
    abs: Option<f64>,
    rel: Option<f64>,
}

/// How sure the value is: computed, seen in a page that quotes its source, or from memory.
#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum Status {
    Computed,
    Seen,
    Memory,
}

impl Point {
    pub(crate) fn number(&self, input: &str) -> f64 {
        self.inputs.get(input).and_then(Value::as_f64).unwrap_or_else(|| {
            panic!("{}: no number {input:?} among its inputs", self.id);
        })
    }

    pub(crate) fn text(&self, input: &str) -> &str {
        self.inputs.get(input).and_then(Value::as_str).unwrap_or_else(|| {
            panic!("{}: no text {input:?} among its inputs", self.id);
        })
    }
}

impl Tolerance {
    /// Whether a value is as near to the expected one as the point asks for.
    pub(crate) fn holds(self, value: f64, expected: f64) -> bool {
        let width = match (self.abs, self.rel) {
            (Some(abs), None) => abs,
            (None, Some(rel)) => rel * expected.abs(),
            _ => panic!("a tolerance is either absolute or relative"),
        };
        (value - expected).abs() <= width
    }
}

/// All points of the file.
pub(crate) fn points() -> Vec<Point> {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/reference/points.json");
    let text = std::fs::read_to_string(path).expect("points.json is part of the sources");
    let file: File = serde_json::from_str(&text).expect("points.json has the form above");
    file.points
}

/// Whether a quantity is in a list such as [`PROTOCOL`].
pub(crate) fn listed(list: &[(&str, usize)], quantity: &str) -> bool {
    list.iter().any(|(name, _)| *name == quantity)
}

/// Panics unless exactly the listed quantities were checked, each as often as listed.
pub(crate) fn assert_counts(checked: &BTreeMap<String, usize>, expected: &[(&str, usize)]) {
    let expected: BTreeMap<String, usize> =
        expected.iter().map(|(name, count)| ((*name).to_owned(), *count)).collect();
    assert_eq!(*checked, expected, "points checked of each quantity, and points that there are");
}
