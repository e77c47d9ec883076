//! The columns that are worked out, against published figures: psychrolib 2.5.0 (ASHRAE Handbook of
//! Fundamentals 2017) for dew point and its margin, and the Wood Handbook FPL-GTR-190 Table 4-2 for the
//! moisture equilibrium, as `fixtures/reference/points.json` holds them with their tolerances.

use crate::reference_points::{Point, points};
use crate::site::{Flash, START, Site, table};
use glueday_types::{Absent, CentiCelsius, CentiPercent, Entry, LoggerId, Sample};

/// Of a table with two decimals.
const ROUNDING: f64 = 0.005;

struct Check {
    point: Point,
    column: &'static str,
    sample: Sample,
}

fn checks() -> Vec<Check> {
    let mut checks = Vec::new();
    for point in points() {
        let (column, air, slab) = match point.quantity.as_str() {
            // Below freezing psychrolib gives the frost point.
            "dew_point_C" if point.expected.as_f64().unwrap() >= 0.0 => {
                ("dew_point_c", "T_C", None)
            }
            "dew_point_over_water_C" => ("dew_point_c", "T_C", None),
            "dew_margin_C" => ("dew_margin_k", "T_air_C", Some("T_surface_C")),
            "emc_pct_table" | "emc_pct_equation" => ("emc_pct", "T_C", None),
            "vapour_pressure_Pa" => ("vapor_pressure_pa", "T_C", None),
            _ => continue,
        };
        let celsius = |name: &str| CentiCelsius::from_celsius(point.number(name)).unwrap();
        let sample = Sample {
            at_s: 600 * (1 + u32::try_from(checks.len()).unwrap()),
            slab: slab.map_or(Err(Absent::NotFitted), |name| Ok(celsius(name))),
            air: Ok(celsius(air)),
            air_rh: Ok(CentiPercent::from_percent(point.number("RH_pct")).unwrap()),
            supply: Err(Absent::NotFitted),
        };
        checks.push(Check { point, column, sample });
    }
    checks
}

#[test]
fn derived_columns_hold_the_published_figures() {
    let checks = checks();
    let count = |column| checks.iter().filter(|check| check.column == column).count();
    assert_eq!(count("dew_margin_k"), 7);
    assert_eq!(count("emc_pct"), 49);
    assert!(count("dew_point_c") > 30, "{}", count("dew_point_c"));
    assert_eq!(count("vapor_pressure_pa"), 4);

    let mut flash = Flash::new(LoggerId(*b"export03"), 1);
    flash.write(&Entry::ClockSet { at_s: 0, utc_s: START });
    for check in &checks {
        flash.write(&Entry::Sample(check.sample));
    }
    let site = Site::with(&flash.finish());
    let rows = table(&site.export(&["--logger", "hall logger"], "log.csv"));
    assert_eq!(rows.len(), checks.len());
    for (Check { point, column, .. }, row) in checks.iter().zip(&rows) {
        let value: f64 = row[*column].parse().unwrap();
        let expected = point.expected.as_f64().unwrap();
        let rounding = if *column == "vapor_pressure_pa" { 0.05 } else { ROUNDING };
        let near = [value - rounding, value, value + rounding];
        let holds = near.iter().any(|value| point.tolerance.holds(*value, expected));
        assert!(holds, "{}: {value} for {expected} ({})", point.id, point.source);
    }
}
