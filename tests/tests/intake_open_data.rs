//! An open data set as its logger wrote it; see `fixtures/intake/SOURCE.md` for source and licence.

use glueday::intake::{Mapping, Note, UnitFrom, read};
use glueday_types::{Absent, CentiCelsius, CentiPercent};

const FILE: &[u8] = include_bytes!("../fixtures/intake/renovation-house-indoor-air.csv");

#[test]
fn a_real_log_is_read_with_two_columns_named() {
    let mut mapping = Mapping::default();
    mapping.assign("air=T").unwrap();
    mapping.assign("rh=RH").unwrap();
    let intake = read(FILE, "indoor-air.csv", &mapping).unwrap();
    // Expected values read from the file by eye; the times turned to UTC with date(1).
    assert_eq!(intake.rows.len(), 21_365);
    for (index, utc_s, line, air, rh) in [
        (0, 1_608_297_300, 2, 1743, 3687),
        (998, 1_608_896_100, 1000, 1857, 5027),
        (21_364, 1_621_115_700, 21_366, 2024, 5365),
    ] {
        let row = intake.rows[index];
        assert_eq!((row.utc_s, row.line), (utc_s, line));
        assert_eq!((row.air, row.air_rh), (Ok(CentiCelsius(air)), Ok(CentiPercent(rh))));
        assert_eq!((row.slab, row.supply), (Err(Absent::NotFitted), Err(Absent::NotFitted)));
    }
    // Extremes found with sort(1).
    let air = intake.rows.iter().filter_map(|r| r.air.ok());
    assert_eq!(air.clone().min(), Some(CentiCelsius(621)));
    assert_eq!(air.max(), Some(CentiCelsius(2530)));
    let rh = intake.rows.iter().filter_map(|r| r.air_rh.ok());
    assert_eq!(rh.clone().min(), Some(CentiPercent(1217)));
    assert_eq!(rh.max(), Some(CentiPercent(7662)));

    let zone = |n: &Note| matches!(n, Note::ZoneFromHeader { offset_s: 7200, .. });
    assert!(intake.notes.iter().any(zone), "{:?}", intake.notes);
    let assumed = |n: &&Note| matches!(n, Note::Channel { unit_from: UnitFrom::Assumed, .. });
    assert_eq!(intake.notes.iter().filter(assumed).count(), 2, "{:?}", intake.notes);

    let again = read(FILE, "indoor-air.csv", &intake.mapping_used).unwrap();
    assert_eq!(again.rows, intake.rows);
}

#[test]
fn a_zone_with_daylight_saving_is_refused_for_a_clock_without() {
    let mut mapping = Mapping::default();
    mapping.assign("air=T").unwrap();
    mapping.zone = Some("Europe/Helsinki".parse().unwrap());
    let error = read(FILE, "indoor-air.csv", &mapping).unwrap_err().to_string();
    // The clock went forward on 2021-03-28 at 3:00.
    assert!(error.starts_with("indoor-air.csv, line "), "{error}");
    assert!(error.contains("2021-03-28 03:05:00 does not exist in Europe/Helsinki"), "{error}");
    assert!(error.contains("--zone +02:00"), "{error}");
}
