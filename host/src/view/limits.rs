//! The list of limits, by subject, with sources.

use super::measure::{both, bound_word, in_both};
use super::page::Page;
use super::why::{layers, origin};
use crate::job::Profile;
use crate::limits::{Layer, LimitId, ResolvedLimits};
use crate::quantity::Units;

/// The limit with which a subject begins, in the order of [`LimitId::ALL`].
const SUBJECTS: &[(LimitId, &str)] = &[
    (LimitId::AirMin, "Air"),
    (LimitId::SlabSurfaceMin, "Slab surface"),
    (LimitId::BarrierDewMargin, "Moisture barrier"),
    (LimitId::AdhesiveDewMargin, "Adhesive"),
    (LimitId::ConcreteAge, "Concrete and its moisture tests"),
    (LimitId::WoodMcMin, "Wood"),
    (LimitId::SupplyWarn, "Heating"),
    (LimitId::CoverageMin, "Evidence"),
];

/// The subject of a limit.
#[must_use]
pub fn subject(id: LimitId) -> &'static str {
    SUBJECTS.iter().rev().find(|(first, _)| *first <= id).map_or("Other", |(_, subject)| subject)
}

/// What to list, and how.
#[derive(Clone, Copy, Debug)]
pub struct Listing<'a> {
    /// Name of the site whose limits in force are listed, and the limits.
    pub in_force: Option<(&'a str, &'a ResolvedLimits)>,
    /// Whose defaults.
    pub profile: Profile,
    /// Units that come first.
    pub units: Units,
    /// These alone; all when empty.
    pub only: &'a [LimitId],
    /// Columns.
    pub width: usize,
}

/// The limits as text.
#[must_use]
pub fn list(listing: &Listing<'_>) -> String {
    let mut page = Page::new(listing.width);
    let profile = match listing.profile {
        Profile::Us => "US",
        Profile::Eu => "EU",
    };
    page.heading(&match listing.in_force {
        Some((site, _)) => format!("Limits in force for {site} ({profile} profile)"),
        None => format!("Limits as shipped ({profile} profile)"),
    });
    let mut before = "";
    for id in LimitId::ALL {
        if !listing.only.is_empty() && !listing.only.contains(id) {
            continue;
        }
        if subject(*id) != before {
            before = subject(*id);
            page.gap();
            page.heading(before);
        }
        limit(&mut page, listing, *id);
    }
    page.out
}

/// Columns of the ids.
const ID: usize = 31;

fn limit(page: &mut Page, listing: &Listing<'_>, id: LimitId) {
    let units = listing.units;
    let label = format!("  {:ID$}", id.as_str());
    let side = bound_word(id.bound());
    match listing.in_force.map(|(_, limits)| limits.get(id)) {
        Some(Some(limit)) => {
            page.labelled(
                &label,
                ID + 2,
                &format!("{side} {}", both(limit.unit, limit.value, units)),
            );
            page.text(4, &in_both(id.meaning(), units));
            let mut rows = layers(limit, units);
            if let Some((_, first)) = rows.first_mut() {
                // The value stands above.
                *first = origin(limit.layer, &limit.source, limit.status);
            }
            if limit.layer == Layer::Default && rows.len() == 1 {
                return page.text(4, &origin(limit.layer, &limit.source, limit.status));
            }
            page.pairs(4, &rows);
        }
        Some(None) => {
            page.labelled(&label, ID + 2, "not known");
            page.text(4, &in_both(id.meaning(), units));
            page.text(4, "no default: enter it in the job from the product data sheet");
        }
        None => {
            let shipped = id.shipped(listing.profile);
            match shipped.figure {
                Some(figure) => {
                    let value = both(shipped.unit, figure.value, units);
                    page.labelled(&label, ID + 2, &format!("{side} {value}"));
                    page.text(4, &in_both(id.meaning(), units));
                    page.text(4, &format!("{}: {}", figure.status, figure.source));
                }
                None => {
                    page.labelled(&label, ID + 2, "no default");
                    page.text(4, &in_both(id.meaning(), units));
                    page.text(4, "only the product data sheet can say");
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_limit_has_the_subject_that_its_name_says() {
        for (id, expected) in [
            (LimitId::AirMin, "Air"),
            (LimitId::SurfaceMax, "Slab surface"),
            (LimitId::BarrierCure, "Moisture barrier"),
            (LimitId::AdhesiveRhMax, "Adhesive"),
            (LimitId::HeatUpCure, "Adhesive"),
            (LimitId::MverMax, "Concrete and its moisture tests"),
            (LimitId::MeterReadings, "Wood"),
            (LimitId::RunInDesignTolerance, "Heating"),
            (LimitId::ProbeUnchangedMax, "Evidence"),
        ] {
            assert_eq!(subject(id), expected, "{id}");
        }
    }
}
