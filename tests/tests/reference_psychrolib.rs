//! Moist air against psychrolib, a general-purpose library of the ASHRAE equations, run here and now.
//!
//! Needs Python 3 and, the first time, a package index. Without them the test says so on stderr and
//! passes, unless GLUEDAY_REQUIRE_PYTHON=1 forbids it.
#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::unwrap_used,
    reason = "an integration test is test code throughout; a panic here is a failing test"
)]

use std::ffi::OsStr;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use glueday::physics::air;
use serde::Deserialize;

/// The version that the results are pinned to, and its environment under `target/tmp`.
const PACKAGE: &str = "psychrolib==2.5.0";
const ENVIRONMENT: &str = "psychrolib-2.5.0";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    states: Vec<State>,
    saturation: Vec<Saturation>,
    standard: Vec<Standard>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct State {
    air_c: f64,
    rh_pct: f64,
    pressure_pa: f64,
    dew_or_frost_point_c: f64,
    vapor_pressure_pa: f64,
    humidity_ratio: f64,
    absolute_humidity_g_m3: f64,
    enthalpy_kj_kg: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Saturation {
    temperature_c: f64,
    pressure_pa: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Standard {
    altitude_m: f64,
    pressure_pa: f64,
}

#[test]
fn moist_air_agrees_with_psychrolib() {
    let document = match generate() {
        Ok(document) => document,
        Err(reason) => {
            let required = std::env::var_os("GLUEDAY_REQUIRE_PYTHON").is_some_and(|set| set == "1");
            assert!(!required, "GLUEDAY_REQUIRE_PYTHON is set, but {reason}");
            // Not `eprintln!`: the test harness would keep it to itself when the test passes.
            let _ = writeln!(
                std::io::stderr(),
                "SKIPPED moist_air_agrees_with_psychrolib: {reason} \
                 (GLUEDAY_REQUIRE_PYTHON=1 makes this an error)"
            );
            return;
        }
    };
    assert_eq!(document.states.len(), 17 * 11 * 3);
    assert_eq!((document.saturation.len(), document.standard.len()), (17, 8));
    for state in &document.states {
        compare(state);
    }
    for saturation in &document.saturation {
        let t = saturation.temperature_c;
        let pressure_pa = if t < 0.0 {
            air::saturation_vapor_pressure_over_ice_pa(t)
        } else {
            air::saturation_vapor_pressure_pa(t)
        };
        near(&format!("saturation at {t} C"), pressure_pa.unwrap(), saturation.pressure_pa, EQUAL);
    }
    for standard in &document.standard {
        let z = standard.altitude_m;
        let pressure_pa = air::standard_pressure_pa(z).unwrap();
        near(&format!("standard air at {z} m"), pressure_pa, standard.pressure_pa, EQUAL);
    }
}

/// The same equations with the same constants: only rounding differs.
const EQUAL: f64 = 1e-9;
/// psychrolib takes density by way of specific volume, whose constant 1.607858 is rounded.
const ROUNDED: f64 = 2e-6;

fn compare(state: &State) {
    let State { air_c, pressure_pa, .. } = *state;
    let rh_pct = if air_c < 0.0 {
        air::rh_over_water_pct(air_c, state.rh_pct).unwrap()
    } else {
        state.rh_pct
    };
    // psychrolib gives the frost point below 0 °C. Ours is by the Magnus form: see the module `air`.
    let point_c = air::frost_point_c(air_c, rh_pct).unwrap();
    let miss_c = (point_c - state.dew_or_frost_point_c).abs();
    let site = (5.0..=40.0).contains(&air_c) && state.rh_pct >= 20.0;
    assert!(miss_c < if site { 0.05 } else { 0.1 }, "{point_c} for {state:?}");

    let vapor_pa = air::vapor_pressure_pa(air_c, rh_pct).unwrap();
    near("vapor pressure", vapor_pa, state.vapor_pressure_pa, EQUAL);
    let ratio = air::humidity_ratio(air_c, rh_pct, pressure_pa).unwrap();
    near("humidity ratio", ratio, state.humidity_ratio, EQUAL);
    let vapor_g_m3 = air::absolute_humidity_g_m3(air_c, rh_pct).unwrap();
    near("absolute humidity", vapor_g_m3, state.absolute_humidity_g_m3, ROUNDED);
    let enthalpy_kj_kg = air::enthalpy_kj_kg(air_c, rh_pct, pressure_pa).unwrap();
    // Enthalpy passes through zero, where a relative tolerance would mean nothing.
    assert!((enthalpy_kj_kg - state.enthalpy_kj_kg).abs() < 1e-6, "{enthalpy_kj_kg} for {state:?}");
}

#[track_caller]
fn near(what: &str, value: f64, expected: f64, rel: f64) {
    assert!((value / expected - 1.0).abs() < rel, "{what}: {value} for {expected}");
}

/// The reference document, or the reason why this machine cannot make it.
///
/// A script that runs and fails, or prints something else, is a fault and panics.
fn generate() -> Result<Document, String> {
    let python = environment()?;
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("generate/psychrometrics.py");
    let json = run(python.as_os_str(), [script.as_os_str()])
        .unwrap_or_else(|reason| panic!("psychrometrics.py: {reason}"));
    Ok(serde_json::from_str(&json).expect("the script prints the document above"))
}

/// The interpreter of an environment that has psychrolib, made on first use.
fn environment() -> Result<PathBuf, String> {
    let home = Path::new(env!("CARGO_TARGET_TMPDIR")).join(ENVIRONMENT);
    let python = if cfg!(windows) { "Scripts/python.exe" } else { "bin/python3" };
    let python = home.join(python);
    let check = ["-c", "import psychrolib"];
    if run(python.as_os_str(), check.map(OsStr::new)).is_ok() {
        return Ok(python);
    }
    let make = ["-m", "venv", "--clear"].map(OsStr::new);
    run(OsStr::new("python3"), make.into_iter().chain([home.as_os_str()]))
        .map_err(|reason| format!("no Python 3 that makes environments: {reason}"))?;
    let install = ["-m", "pip", "--disable-pip-version-check", "install", "--quiet"];
    let patience = ["--retries", "1", "--timeout", "20", PACKAGE];
    run(python.as_os_str(), install.iter().chain(&patience).map(OsStr::new))
        .map_err(|reason| format!("{PACKAGE} cannot be installed: {reason}"))?;
    Ok(python)
}

/// What a program prints, or why there is none.
fn run<'a>(
    program: &OsStr,
    arguments: impl IntoIterator<Item = &'a OsStr>,
) -> Result<String, String> {
    let output = Command::new(program)
        .args(arguments)
        .output()
        .map_err(|error| format!("{} does not start: {error}", program.display()))?;
    if output.status.success() {
        return String::from_utf8(output.stdout).map_err(|error| error.to_string());
    }
    let talk = String::from_utf8_lossy(&output.stderr);
    let last = talk.trim().lines().next_back().unwrap_or("it says nothing").to_owned();
    Err(format!("{} ends with {}: {last}", program.display(), output.status))
}
