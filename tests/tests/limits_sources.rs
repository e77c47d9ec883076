//! The shipped limits against the figures that their sources publish.
//!
//! Each row names the source of its figure. A limit may be stricter than one of its sources, never
//! looser than it claims. Texts of ASTM, EN and ISO standards were not at hand: their figures come
//! from pages that quote them, and such limits must be marked "second hand".

use glueday::job::Profile;
use glueday::limits::{LimitId, Status, TEST_AREA};
use glueday::quantity::MoistureEmission;

use Relation::{NotLooser, Same};
use Unit::{C, D, DF, F, H, N, Pct};

/// How the shipped value stands to the published one.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Relation {
    /// It is the published one.
    Same,
    /// It is as strict as the published one, or stricter.
    NotLooser,
}

/// Unit of the published figure.
#[derive(Clone, Copy, Debug)]
enum Unit {
    C,
    F,
    /// A temperature difference in °F.
    DF,
    H,
    D,
    Pct,
    N,
}

impl Unit {
    /// Written out here on purpose: the program's own conversions are what is checked.
    fn in_limit_unit(self, value: f64) -> f64 {
        match self {
            F => (value - 32.0) * 5.0 / 9.0,
            DF => value * 5.0 / 9.0,
            D => value * 24.0,
            C | H | Pct | N => value,
        }
    }
}

type Row = (LimitId, Profile, Relation, f64, Unit, &'static str);

const US: Profile = Profile::Us;
const EU: Profile = Profile::Eu;

#[rustfmt::skip]
const PUBLISHED: &[Row] = &[
    // Air.
    (LimitId::AirMin, US, Same, 18.0, C, "TKB leaflet July 2004, cl. 4.11, quoted on a contractor page"),
    (LimitId::AirMin, US, NotLooser, 60.0, F, "NWFA, Hardwood Floors 2018-07-02"),
    (LimitId::AirMax, US, Same, 80.0, F, "NWFA, Hardwood Floors 2018-07-02"),
    (LimitId::AirRhMin, US, Same, 30.0, Pct, "NWFA, Hardwood Floors 2018-07-02"),
    (LimitId::AirRhMax, US, Same, 50.0, Pct, "NWFA, Hardwood Floors 2018-07-02"),
    (LimitId::AirRhMax, US, NotLooser, 65.0, Pct, "TKB leaflet July 2004, cl. 4.11 (preferred)"),
    (LimitId::AirRhMin, EU, Same, 30.0, Pct, "EN 15251 by way of the vdp leaflet 08/2016"),
    (LimitId::AirRhMax, EU, Same, 65.0, Pct, "EN 15251 by way of the vdp leaflet 08/2016"),
    (LimitId::Acclimation, US, Same, 3.0, D, "trade page quoting NWFA (at least 3 days)"),
    // Slab surface.
    (LimitId::SlabSurfaceMin, US, Same, 15.0, C, "TKB leaflet July 2004, cl. 4.11"),
    (LimitId::LayingSurfaceMin, US, Same, 18.0, C, "TKB leaflet July 2004"),
    (LimitId::LayingSurfaceMax, US, Same, 22.0, C, "TKB leaflet July 2004"),
    (LimitId::LayingHoldBefore, US, Same, 3.0, D, "TKB leaflet July 2004"),
    (LimitId::LayingHoldAfter, US, Same, 7.0, D, "TKB leaflet July 2004"),
    (LimitId::HeatUpCure, US, Same, 7.0, D, "TKB leaflet July 2004"),
    (LimitId::SurfaceMax, US, Same, 80.0, F, "NWFA 2019, Hardwood Floors 2020-01-30"),
    (LimitId::SurfaceMax, US, NotLooser, 27.0, C, "UK guideline complementing BS 8201"),
    (LimitId::SurfaceAbsoluteMax, US, Same, 29.0, C, "EN 1264-2, occupied zone, training page"),
    (LimitId::SurfaceAbsoluteMax, US, Same, 29.0, C, "vdp leaflet 08/2016"),
    (LimitId::SurfaceAbsoluteMax, US, NotLooser, 33.0, C, "EN 1264-2, bathrooms"),
    (LimitId::SurfaceChangeMax, US, Same, 5.0, DF, "US trade pages (common practice)"),
    (LimitId::SurfaceChangeWarn, US, Same, 1.0, C, "UK trade pages (common practice)"),
    // Barrier and adhesive.
    (LimitId::BarrierDewMargin, US, Same, 3.0, C, "coating practice citing ISO 8502-4"),
    (LimitId::AdhesiveDewMargin, US, Same, 3.0, C, "coating practice citing ISO 8502-4"),
    (LimitId::AdhesiveDewMargin, US, NotLooser, 5.0, DF, "US slab practice (common practice)"),
    (LimitId::BarrierRhMax, US, Same, 85.0, Pct, "coating practice citing ISO 8502-4 and 12944-7"),
    (LimitId::BarrierSurfaceMin, US, Same, 15.0, C, "TKB leaflet July 2004, cl. 4.11"),
    (LimitId::AdhesiveSurfaceMin, US, Same, 15.0, C, "TKB leaflet July 2004, cl. 4.11"),
    (LimitId::AdhesiveAirMin, US, Same, 18.0, C, "TKB leaflet July 2004, cl. 4.11"),
    (LimitId::AdhesiveRhMax, US, Same, 75.0, Pct, "TKB leaflet July 2004, cl. 4.11 (at most)"),
    // Moisture tests.
    (LimitId::TestConditions, US, Same, 48.0, H, "ASTM F1869 and F2170 conditioning, public summaries"),
    (LimitId::TestsFirstArea, US, Same, 3.0, N, "ASTM F2170-09 cl. 10.1, public summary"),
    (LimitId::TestsFurtherArea, US, Same, 1.0, N, "ASTM F2170-09 cl. 10.1, public summary"),
    (LimitId::InSituDepthOneSide, US, Same, 40.0, Pct, "ASTM F2170-09, public summary"),
    (LimitId::InSituDepthBothSides, US, Same, 20.0, Pct, "ASTM F2170-09, public summary"),
    (LimitId::InSituWait, US, Same, 24.0, H, "trade press on ASTM F2170-18 (February 2018)"),
    (LimitId::InSituRhMax, US, Same, 75.0, Pct, "NWFA guidelines, trade press"),
    (LimitId::ChlorideAirMin, US, Same, 65.0, F, "ASTM F1869 conditioning, public instructions"),
    (LimitId::ChlorideAirMax, US, Same, 85.0, F, "ASTM F1869 conditioning, public instructions"),
    (LimitId::ChlorideRhMin, US, Same, 40.0, Pct, "ASTM F1869 conditioning (50 ± 10 %RH)"),
    (LimitId::ChlorideRhMax, US, Same, 60.0, Pct, "ASTM F1869 conditioning, public instructions"),
    (LimitId::ChlorideExposureMin, US, Same, 60.0, H, "ASTM F1869, public instructions"),
    (LimitId::ChlorideExposureMax, US, Same, 72.0, H, "ASTM F1869, public instructions"),
    // Wood.
    (LimitId::McDifferenceMax, US, Same, 2.0, Pct, "trade article 2018 citing NWFA, 3 in and wider"),
    (LimitId::McDifferenceMax, US, NotLooser, 4.0, Pct, "trade article 2018 citing NWFA, under 3 in"),
    (LimitId::MeterReadings, US, Same, 40.0, N, "NWFA, Hardwood Floors 2019-02-26"),
    (LimitId::WoodMcMin, US, Same, 6.0, Pct, "NWFA milling range, trade press"),
    (LimitId::WoodMcMax, US, Same, 9.0, Pct, "NWFA milling range, trade press"),
    // Heating.
    (LimitId::SupplyMax, US, Same, 55.0, C, "DIN 18560-2, trade press"),
    (LimitId::SupplyWarn, US, Same, 45.0, C, "UK and French practice, 40 to 45 °C (common practice)"),
    (LimitId::RunInAgeCement, US, Same, 21.0, D, "EN 1264-4, two German pages"),
    (LimitId::RunInAgeCalciumSulphate, US, Same, 7.0, D, "EN 1264-4, German page"),
    (LimitId::RunInFirstMin, US, Same, 20.0, C, "EN 1264-4 cl. 4.2.4, German page"),
    (LimitId::RunInFirstMax, US, Same, 25.0, C, "EN 1264-4 cl. 4.2.4, German page"),
    (LimitId::RunInFirstHold, US, Same, 3.0, D, "EN 1264-4 cl. 4.2.4, German page"),
    (LimitId::RunInDesignHold, US, Same, 4.0, D, "EN 1264-4 cl. 4.2.4, German page"),
];

#[test]
fn shipped_values_are_those_of_their_sources() {
    for &(id, profile, relation, published, unit, source) in PUBLISHED {
        let shipped = id.shipped(profile);
        let figure = shipped.figure.unwrap_or_else(|| panic!("{id} has no figure: {source}"));
        let published = unit.in_limit_unit(published);
        let fits = match relation {
            Same => (figure.value - published).abs() < 1e-9,
            NotLooser => !shipped.bound.is_stricter(published, figure.value),
        };
        assert!(fits, "{id}: shipped {}, published {published} ({source})", figure.value);
    }
}

#[test]
fn every_limit_with_a_publication_is_in_the_table() {
    for id in LimitId::ALL {
        let Some(figure) = id.shipped(US).figure else { continue };
        let is_published = matches!(figure.status, Status::Published | Status::SecondHand);
        let in_table = PUBLISHED.iter().any(|row| row.0 == *id && row.2 == Same);
        assert!(in_table || !is_published, "{id} claims {} without a row", figure.source);
    }
}

#[test]
fn quoted_standards_are_marked_second_hand_and_practice_as_practice() {
    for id in LimitId::ALL {
        let Some(figure) = id.shipped(US).figure else { continue };
        let quoted = ["EN 1264", "DIN ", "ISO ", "TKB", "F2170", "F1869"];
        if quoted.iter().any(|name| figure.source.contains(name)) {
            assert_eq!(figure.status, Status::SecondHand, "{id}: {}", figure.source);
        }
        if figure.source.contains("no source") || figure.source.contains("no association") {
            assert_eq!(figure.status, Status::CommonPractice, "{id}: {}", figure.source);
        }
    }
}

#[test]
fn figures_without_a_publication_are_those_of_the_trade() {
    // Common practice, no source.
    for (id, value) in [
        (LimitId::ConcreteAge, 28.0 * 24.0),
        (LimitId::ConcreteEquivalentAge, 28.0 * 24.0),
        (LimitId::ConditionsBeforeDelivery, 5.0 * 24.0),
        (LimitId::CoverageMin, 95.0),
        (LimitId::GapMax, 1.0),
    ] {
        let figure = id.shipped(US).figure.unwrap();
        assert_eq!((figure.value, figure.status), (value, Status::CommonPractice), "{id}");
    }
    // From memory: 3 lb/1000 ft²/24 h for glued wood; 1 lb = 453.59237 g, 1 ft² = 0.09290304 m².
    let mver = LimitId::MverMax.shipped(US).figure.unwrap();
    assert!((mver.value - 3.0 * 453.592_37 / 92.903_04).abs() < 1e-9);
    assert_eq!(mver.status, Status::FromMemory);
}

#[test]
fn one_group_of_tests_stands_for_1000_square_feet() {
    // ASTM F2170 and F1869: 1000 ft², which they round to 100 m².
    assert!((TEST_AREA.square_feet() - 1000.0).abs() < 1e-9);
    assert!(TEST_AREA.square_metres() < 100.0);
}

#[test]
fn emission_follows_the_worked_examples_of_the_method() {
    // ASTM F1869-16a, its own examples as reproduced on a public page: 3 g in 72 h over 0.44486 ft²
    // give 4.95 lb/1000 ft²/24 h, over 0.486 ft² 4.54.
    for (area_ft2, expected) in [(0.444_86, 4.95), (0.486, 4.54)] {
        let g_per_m2_24h = 3.0 / (area_ft2 * 0.092_903_04) / 3.0;
        let rate = MoistureEmission::from_g_per_m2_24h(g_per_m2_24h).lb_per_1000_ft2_24h();
        assert!((rate - expected).abs() < 0.02, "{rate}");
    }
}
