//! Limits: what the trade asks of slab, air, wood and heat, and where each figure comes from.
//!
//! Layers, from weak to strong: the shipped defaults, the product data sheets in the job, and the
//! job's own overrides. Between defaults and data sheets the stricter wins, whichever it is. An
//! override wins over both, may loosen, and always carries its written reason.

mod figure;
mod id;
mod meaning;
mod resolve;
mod shipped;

pub use figure::{Figure, Shipped, Status};
pub use id::{Bound, LimitId, LimitUnit, ParseValueError, UnknownLimit};
pub use resolve::{Layer, Passed, ResolvedLimit, ResolvedLimits, Sheet};
pub use shipped::TEST_AREA;

/// The limits of a job, by way of [`Limits::resolve`].
#[derive(Clone, Copy, Debug)]
pub struct Limits;

#[cfg(test)]
mod tests;
