//! Each rule over time a second time, slow and to the letter, against what `assess` says on random logs.
//!
//! The rules are written here from their texts (`REQUIREMENT.rule`). They look at plain lists of
//! readings that the tests made, try every start, every pair and every end, and share nothing with
//! the code that judges.

#[cfg(test)]
mod acclimation;
#[cfg(test)]
mod agree;
#[cfg(test)]
#[path = "../assess_world/mod.rs"]
mod assess_world;
#[cfg(test)]
mod case;
#[cfg(test)]
mod concrete_age;
#[cfg(test)]
mod coverage;
#[cfg(test)]
mod cure;
#[cfg(test)]
mod dew_margin;
#[cfg(test)]
mod probes;
#[cfg(test)]
mod run_in;
#[cfg(test)]
mod slab_surface;
#[cfg(test)]
mod surface_change;
#[cfg(test)]
mod suspicions;
#[cfg(test)]
mod test_conditions;
#[cfg(test)]
mod wood_surface;
