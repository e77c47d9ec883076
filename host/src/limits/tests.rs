use super::*;
use crate::job::{Job, Profile};
use crate::quantity::Units;

fn job(more: &str) -> Job {
    let text = format!("[site]\nname = \"Site\"\ntime-zone = \"America/Denver\"\n{more}");
    Job::parse(&text, "job.toml").unwrap_or_else(|errors| panic!("{errors}"))
}

fn limits(more: &str) -> ResolvedLimits {
    Limits::resolve(&job(more))
}

#[test]
fn every_id_reads_back_and_is_unique() {
    for (place, id) in LimitId::ALL.iter().enumerate() {
        assert_eq!(id.as_str().parse(), Ok(*id));
        assert_eq!(*id as usize, place, "{id} is not at its place in the list");
        let fits = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        assert!(id.as_str().chars().all(fits), "{id}");
    }
}

#[test]
fn an_unknown_id_gets_a_suggestion() {
    let error = "air-rh-maximum".parse::<LimitId>().unwrap_err();
    assert_eq!(error.suggestion, Some(LimitId::AirRhMax));
    assert_eq!(error.to_string(), "there is no limit `air-rh-maximum`; did you mean `air-rh-max`?");
    assert_eq!("xyz".parse::<LimitId>().unwrap_err().suggestion, None);
}

#[test]
fn every_limit_says_what_it_means_and_where_its_figure_is_from() {
    for id in LimitId::ALL {
        assert!(id.meaning().ends_with('.'), "{id}: {}", id.meaning());
        for profile in [Profile::Us, Profile::Eu] {
            let shipped = id.shipped(profile);
            assert_eq!((shipped.unit, shipped.bound), (id.unit(), id.bound()));
            if let Some(figure) = shipped.figure {
                assert!(figure.value.is_finite() && !figure.source.is_empty(), "{id}");
            }
        }
    }
}

#[test]
fn without_data_sheets_the_defaults_hold() {
    let limits = limits("");
    for (id, limit) in limits.iter() {
        let figure = id.shipped(Profile::Us).figure;
        assert_eq!(limit.map(|limit| limit.value), figure.map(|figure| figure.value), "{id}");
        assert!(limit.is_none_or(|l| l.layer == Layer::Default && l.displaced.is_empty()), "{id}");
    }
    assert!(limits.contradictions().is_empty());
}

#[test]
fn what_only_a_data_sheet_can_say_is_not_known_without_one() {
    assert_eq!(limits("").get(LimitId::BarrierCure), None);
    let limits = limits("[barrier]\nproduct = \"coat\"\ncure = \"1 d\"\n");
    let cure = limits.get(LimitId::BarrierCure).unwrap();
    assert_eq!((cure.value, cure.layer), (24.0, Layer::DataSheet(Sheet::Barrier)));
    assert_eq!(cure.source, "data sheet of the moisture barrier: coat");
}

#[test]
fn the_stricter_of_default_and_data_sheet_wins_and_names_the_other() {
    let limits = limits(
        "[wood]\nrh-min = \"35 %\"\nrh-max = \"60 %\"\n\
         [adhesive]\nair-min = \"10 C\"\nheat-up = \"14 d\"\n",
    );
    let low = limits.get(LimitId::AirRhMin).unwrap();
    assert_eq!((low.value, low.layer), (35.0, Layer::DataSheet(Sheet::Wood)));
    assert_eq!(low.displaced[0].value, 30.0);
    assert_eq!(low.displaced[0].layer, Layer::Default);
    assert_eq!(low.status, None);

    let high = limits.get(LimitId::AirRhMax).unwrap();
    assert_eq!((high.value, high.layer), (50.0, Layer::Default));
    assert_eq!(high.displaced[0].value, 60.0);
    assert_eq!(high.status, Some(Status::Published));

    assert_eq!(limits.value(LimitId::AdhesiveAirMin), Some(18.0));
    assert_eq!(limits.value(LimitId::HeatUpCure), Some(336.0));
}

#[test]
fn the_strictest_of_several_sheets_wins() {
    let limits = limits("[barrier]\nslab-rh-max = \"90 %\"\n[adhesive]\nslab-rh-max = \"70 %\"\n");
    let rh = limits.get(LimitId::InSituRhMax).unwrap();
    assert_eq!((rh.value, rh.layer), (70.0, Layer::DataSheet(Sheet::Adhesive)));
    let displaced: Vec<f64> = rh.displaced.iter().map(|passed| passed.value).collect();
    assert_eq!(displaced, [75.0, 90.0]);
}

#[test]
fn an_override_wins_and_keeps_its_reason() {
    let set = |value: &str| {
        limits(&format!(
            "[adhesive]\nslab-rh-max = \"80 %\"\n\
             [[limit]]\nid = \"in-situ-rh-max\"\nvalue = \"{value}\"\nreason = \"letter of 2 March\"\n"
        ))
    };
    let loose = set("85 %");
    let loose = loose.get(LimitId::InSituRhMax).unwrap();
    assert_eq!((loose.value, loose.layer, loose.loosened), (85.0, Layer::Override, true));
    assert_eq!(loose.reason.as_deref(), Some("letter of 2 March"));
    let displaced: Vec<f64> = loose.displaced.iter().map(|passed| passed.value).collect();
    assert_eq!(displaced, [75.0, 80.0]);

    let strict = set("70 %");
    let strict = strict.get(LimitId::InSituRhMax).unwrap();
    assert_eq!((strict.value, strict.loosened), (70.0, false));
    // Looser than the data sheet alone would be, but the default is stricter still.
    assert!(set("78 %").get(LimitId::InSituRhMax).unwrap().loosened);
    assert!(!set("75 %").get(LimitId::InSituRhMax).unwrap().loosened);
}

#[test]
fn overrides_are_read_in_the_unit_of_their_limit() {
    let limits = limits(
        "[[limit]]\nid = \"barrier-dew-margin\"\nvalue = \"9 F\"\nreason = \"r\"\n\
         [[limit]]\nid = \"air-max\"\nvalue = \"77 F\"\nreason = \"r\"\n\
         [[limit]]\nid = \"tests-first-area\"\nvalue = \"4\"\nreason = \"r\"\n\
         [[limit]]\nid = \"gap-max\"\nvalue = \"90 min\"\nreason = \"r\"\n\
         [[limit]]\nid = \"mver-max\"\nvalue = \"5 lb\"\nreason = \"r\"\n",
    );
    let near = |id, expected: f64| {
        let value = limits.value(id).unwrap();
        assert!((value - expected).abs() < 1e-9, "{id}: {value}");
    };
    near(LimitId::BarrierDewMargin, 5.0);
    near(LimitId::AirMax, 25.0);
    near(LimitId::TestsFirstArea, 4.0);
    near(LimitId::GapMax, 1.5);
    near(LimitId::MverMax, 5.0 * 453.592_37 / 92.903_04);
    assert!(limits.get(LimitId::GapMax).unwrap().loosened);
    assert!(!limits.get(LimitId::AirMax).unwrap().loosened);
    assert_eq!(limits.get(LimitId::MverMax).unwrap().show(Units::Us), "5.0 lb/1000 ft²/24 h");
}

#[test]
fn ranges_that_nothing_can_meet_are_found() {
    let limits = limits("[adhesive]\nsurface-min = \"23 C\"\n");
    let found: Vec<_> =
        limits.contradictions().iter().map(|(low, high)| (low.id, high.id)).collect();
    assert_eq!(found, [(LimitId::AdhesiveSurfaceMin, LimitId::LayingSurfaceMax)]);
}

#[test]
fn the_profile_changes_the_humidity_range() {
    let text = "[site]\nname = \"Site\"\ntime-zone = \"Europe/Berlin\"\nprofile = \"eu\"\n";
    let limits = Limits::resolve(&Job::parse(text, "job.toml").unwrap());
    assert_eq!(limits.value(LimitId::AirRhMax), Some(65.0));
    assert_eq!(limits.value(LimitId::AirRhMin), Some(30.0));
}

#[test]
fn bounds_know_which_value_is_stricter() {
    assert!(Bound::AtLeast.is_stricter(2.0, 1.0) && !Bound::AtLeast.is_stricter(1.0, 1.0));
    assert!(Bound::AtMost.is_stricter(1.0, 2.0) && !Bound::AtMost.is_stricter(2.0, 1.0));
    assert!(Bound::MinimumTime.is_stricter(2.0, 1.0) && Bound::Assumed.is_stricter(2.0, 1.0));
}

#[test]
fn a_resolved_limit_serialises_with_unit_and_layer() {
    let limits = limits("[wood]\nrh-min = \"35 %\"\n");
    let json = serde_json::to_value(limits.get(LimitId::AirRhMin).unwrap()).unwrap();
    assert_eq!(json["id"], "air-rh-min");
    assert_eq!(json["unit"], "%RH");
    assert_eq!(json["bound"], "at-least");
    assert_eq!(json["layer"], serde_json::json!({ "data-sheet": "wood" }));
    assert_eq!(json["displaced"][0]["status"], "published");
}

#[test]
fn every_value_of_a_data_sheet_reaches_its_limit() {
    // Each stricter than the default, and each another number, so that no two can be mixed up.
    type Key = (&'static str, &'static str, LimitId, f64);
    let sheets: &[(&str, &[Key])] = &[
        (
            "wood",
            &[
                ("air-min", "18.5 C", LimitId::AirMin, 18.5),
                ("air-max", "26.1 C", LimitId::AirMax, 26.1),
                ("rh-min", "31 %", LimitId::AirRhMin, 31.0),
                ("rh-max", "49 %", LimitId::AirRhMax, 49.0),
                ("surface-max", "26.2 C", LimitId::SurfaceMax, 26.2),
                ("acclimation", "73 h", LimitId::Acclimation, 73.0),
            ],
        ),
        (
            "barrier",
            &[
                ("surface-min", "15.5 C", LimitId::BarrierSurfaceMin, 15.5),
                ("surface-max", "27.5 C", LimitId::BarrierSurfaceMax, 27.5),
                ("air-min", "16.5 C", LimitId::BarrierAirMin, 16.5),
                ("air-max", "28.5 C", LimitId::BarrierAirMax, 28.5),
                ("rh-min", "21 %", LimitId::BarrierRhMin, 21.0),
                ("rh-max", "79 %", LimitId::BarrierRhMax, 79.0),
                ("dew-margin", "3.1 C", LimitId::BarrierDewMargin, 3.1),
                ("slab-rh-max", "74 %", LimitId::InSituRhMax, 74.0),
                ("mver-max", "14 g/m2/24h", LimitId::MverMax, 14.0),
                ("cure", "25 h", LimitId::BarrierCure, 25.0),
            ],
        ),
        (
            "adhesive",
            &[
                ("surface-min", "15.6 C", LimitId::AdhesiveSurfaceMin, 15.6),
                ("surface-max", "27.6 C", LimitId::AdhesiveSurfaceMax, 27.6),
                ("air-min", "18.6 C", LimitId::AdhesiveAirMin, 18.6),
                ("air-max", "28.6 C", LimitId::AdhesiveAirMax, 28.6),
                ("rh-min", "32 %", LimitId::AdhesiveRhMin, 32.0),
                ("rh-max", "69 %", LimitId::AdhesiveRhMax, 69.0),
                ("dew-margin", "3.2 C", LimitId::AdhesiveDewMargin, 3.2),
                ("slab-rh-max", "73 %", LimitId::InSituRhMax, 73.0),
                ("mver-max", "13 g/m2/24h", LimitId::MverMax, 13.0),
                ("traffic", "26 h", LimitId::TrafficCure, 26.0),
                ("sanding", "74 h", LimitId::SandingCure, 74.0),
                ("heat-up", "8 d", LimitId::HeatUpCure, 192.0),
            ],
        ),
    ];
    for (section, keys) in sheets {
        let mut text = format!("[{section}]\n");
        keys.iter().for_each(|(key, value, ..)| text += &format!("{key} = \"{value}\"\n"));
        let limits = limits(&text);
        for (key, _, id, expected) in *keys {
            let limit = limits.get(*id).unwrap();
            assert_eq!(limit.value, *expected, "[{section}] {key}");
            assert!(matches!(limit.layer, Layer::DataSheet(_)), "[{section}] {key}");
        }
        let moved = limits.iter().filter(|(_, l)| l.is_some_and(|l| l.layer != Layer::Default));
        assert_eq!(moved.count(), keys.len(), "[{section}]");
    }
}
