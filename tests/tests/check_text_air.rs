//! `air`: figures of tables and standards, and the way that typing errors are met.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

use glueday_tests::programs::{Said, program};
use serde_json::Value;
use std::path::Path;
use std::process::Command;

fn air(args: &[&str]) -> Said {
    let mut command = Command::new(program("glueday"));
    command.arg("air").args(args).env_remove("COLUMNS");
    Said::from(command.output().unwrap())
}

fn json(args: &[&str]) -> Value {
    let said = air(&[args, &["--json"]].concat());
    assert_eq!(said.code, Some(0), "{said:?}");
    serde_json::from_str(&said.out).unwrap()
}

#[track_caller]
fn assert_near(document: &Value, field: &str, expected: f64, within: f64) {
    let value = document[field].as_f64().unwrap_or_else(|| panic!("no {field} in {document}"));
    assert!((value - expected).abs() <= within, "{field}: {value}, not {expected}");
}

/// The text of the screen that contractors see; the file is rewritten as those of `check_text` are.
#[test]
fn the_text_is_that_of_the_file() {
    let said = air(&[
        "--temp",
        "70 F",
        "--rh",
        "45 %",
        "--slab",
        "80 F",
        "--resistance",
        "0.1 m2K/W",
        "--wood-mc",
        "8 %",
        "--species",
        "white oak",
        "--width",
        "7 1/2 in",
        "--salt",
        "NaCl",
        "--start-weight",
        "50.10 g",
        "--end-weight",
        "52.30 g",
        "--area",
        "0.486 ft2",
        "--exposure",
        "68 h",
    ]);
    assert_eq!((said.code, said.err.as_str()), (Some(0), ""));
    assert!(said.out.lines().all(|line| line.chars().count() <= 80), "{}", said.out);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/text/air.txt");
    if std::env::var_os("GLUEDAY_REWRITE_TEXTS").is_some() {
        std::fs::write(&path, &said.out).unwrap();
    }
    assert_eq!(said.out, std::fs::read_to_string(&path).unwrap_or_default());
}

#[test]
fn the_ten_fields_stay_and_are_null_without_a_surface() {
    let without = json(&["--temp", "20C", "--rh", "50%"]);
    // ASHRAE Fundamentals 2017 equations by psychrolib 2.5.0: 20 °C, 50 %RH, 101.325 kPa.
    assert_near(&without, "dew_point_c", 9.272, 0.05);
    assert_near(&without, "frost_point_c", 9.272, 0.05);
    assert_near(&without, "humidity_ratio", 0.007_262, 0.000_06);
    assert_near(&without, "absolute_humidity_g_m3", 8.643, 0.07);
    assert_near(&without, "vapor_pressure_pa", 1169.4, 0.5);
    assert_near(&without, "enthalpy_kj_kg", 38.55, 0.2);
    for field in ["rh_at_surface_pct", "emc_at_surface_pct", "surface_margin_c"] {
        assert_eq!(without[field], Value::Null);
        assert!(without["sources"].get(field).is_none());
    }
    assert!(without.get("salt_rh_pct").is_none() && without.get("equivalent_age_h").is_none());
    // Wood Handbook FPL-GTR-190 (2010) Table 4-2: 70 °F and 50 % give 9.2 %.
    assert_near(&json(&["--temp", "70F", "--rh", "50%"]), "emc_pct", 9.2, 0.07);
}

#[test]
fn what_else_is_given_is_answered_as_its_source_says() {
    let air = ["--temp", "20C", "--rh", "50%"];
    let with = |more: &[&str]| json(&[&air, more].concat());
    // Greenspan 1977, table: NaCl at 20 °C, 75.47 %.
    let salt = with(&["--salt", "nacl"]);
    assert_near(&salt, "salt_rh_pct", 75.47, 0.01);
    assert_near(&salt, "salt_error_pct", 50.0 - 75.47, 0.01);
    // ASTM F1869 calculation as trade pages print it: 3 g in 72 h are 4.95 on 0.44486 ft².
    let dish = ["--start-weight", "50 g", "--end-weight", "53 g", "--exposure", "72 h"];
    let rate = with(&[&dish[..], &["--area", "0.44486 ft2"]].concat());
    assert_near(&rate, "mver_lb_1000ft2_24h", 4.95, 0.01);
    assert_near(&rate, "mver_g_m2_24h", 4.95 * 4.882_43, 0.05);
    // Arrhenius with 5000 K and 20 °C, and Nurse-Saul with datum 0 °C (ASTM C1074), at 10 °C.
    let slab = with(&["--slab", "10 C"]);
    assert_near(&slab, "equivalent_age_h", 0.548, 0.001);
    assert_near(&slab, "temperature_time_c_h", 10.0, 1e-9);
    // EN 1264-2: a floor of 29 °C in a room of 20 °C gives off 100 W/m². A film hardly insulates.
    let film = with(&["--slab", "29 C", "--resistance", "0.00001 m2K/W"]);
    assert_near(&film, "heat_flux_w_m2", 100.0, 0.2);
    assert_near(&film, "wood_surface_c", 29.0, 0.01);
    // Heat through the wood is what its surface gives off (worked by hand: 25 °C gives 52.4 W/m²,
    // so that 0.1 m²K/W on a slab of 30.24 °C has a surface of 25 °C).
    let wood = with(&["--supply", "30.24 C", "--resistance", "0.1 m2K/W"]);
    assert_near(&wood, "wood_surface_highest_c", 25.0, 0.01);
    assert_near(&wood, "heat_flux_highest_w_m2", 52.4, 0.1);
    assert!(wood.get("wood_surface_c").is_none());
    // Wood Handbook equation 13-2 and Table 13-5: white oak, plain-sawn 0.00365 for 1 %MC.
    let board = ["--wood-mc", "8 %", "--species", "White Oak", "--width", "200 mm"];
    let plain = with(&board);
    let emc = plain["emc_pct"].as_f64().unwrap();
    assert_near(&plain, "width_change_mm", 200.0 * 0.00365 * (emc - 8.0), 1e-9);
    let quarter = with(&[&board[..], &["--cut", "quarter-sawn"]].concat());
    assert_near(&quarter, "width_change_mm", 200.0 * 0.0018 * (emc - 8.0), 1e-9);
    // Each field that is there has a source.
    for document in [&salt, &rate, &slab, &film, &wood, &plain] {
        let sources = document["sources"].as_object().unwrap();
        assert!(sources.len() >= 7);
        for field in sources.keys() {
            assert!(document[field].is_f64(), "{field}");
        }
    }
}

#[test]
fn typing_errors_name_the_option_the_range_and_the_cure() {
    let temp = "-20 to 60 °C (-4 to 140 °F)";
    let cases: [(&[&str], &[&str]); 14] = [
        (&["--temp", "21 C", "--rh", "45"], &["--rh", "1 to 100 %", "write --rh \"45 %\""]),
        (&["--temp", "21 C", "--rh", "0.45"], &["--rh", "1 to 100 %", "45, not 0.45"]),
        (&["--temp", "21 C", "--rh", "0.45 %"], &["--rh", "1 to 100 %", "45, not 0.45"]),
        (&["--temp", "21 C", "--rh", "120%"], &["--rh", "1 to 100 %"]),
        (&["--temp", "21", "--rh", "45%"], &["--temp", temp, "\"21 C\"", "\"21 F\""]),
        (&["--temp", "70", "--rh", "45%"], &["--temp", temp, "write --temp \"70 F\"\n"]),
        (&["--temp", "21,5 C", "--rh", "45%"], &["--temp", temp, "\"21.5 C\""]),
        (&["--temp", "21 º", "--rh", "45%"], &["--temp", temp, "\"21 C\""]),
        (&["--temp", "200 F", "--rh", "45%"], &["--temp", temp]),
        (
            &["--temp", "21 C", "--rh", "45%", "--pressure", "84"],
            &["--pressure", "50 to 110 kPa", "\"84 kPa\""],
        ),
        (&["--temp", "21 C", "--rh", "45%", "--salt", "sugar"], &["--salt", "MgCl2", "NaCl"]),
        (
            &[
                "--temp",
                "21 C",
                "--rh",
                "45%",
                "--wood-mc",
                "8%",
                "--species",
                "oak",
                "--width",
                "7in",
            ],
            &["--species", "white oak, commercial"],
        ),
        (&["--temp", "21 C", "--rh", "45%", "--wood-mc", "8%"], &["--species", "--width"]),
        (&["--temp", "21 C", "--rh", "45%", "--resistance", "0.1 m2K/W"], &["--slab", "--supply"]),
    ];
    for (args, words) in cases {
        let said = air(args);
        assert_eq!((said.code, said.out.as_str()), (Some(2), ""), "{args:?}");
        for word in words {
            assert!(said.err.contains(word), "{args:?}: no `{word}` in {}", said.err);
        }
    }
}

#[test]
fn temperatures_and_pressures_can_be_typed_as_the_trade_does() {
    for args in [
        &["--temp=-5C", "--rh", "45%"][..],
        &["--temp", "-5C", "--rh", "45 %"],
        &["--temp", "21 °C", "--rh", "45%RH"],
        &["--temp", "70°F", "--rh", "45%", "--pressure", "84kPa"],
        &["--temp", "70 F", "--rh", "45%", "--pressure", "29.9inHg"],
        &["--temp", "70 F", "--rh", "45%", "--altitude", "5280 ft", "--slab", "-1 C"],
    ] {
        assert_eq!(air(args).code, Some(0), "{args:?}");
    }
}
