use super::*;
use proptest::prelude::*;

const SITE: &str = "[site]\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\n";
const ROOMS: &str = "[[room]]\nname = \"Hall\"\n[[room]]\nname = \"Den\"\n";

fn salt() -> NewCheck {
    NewCheck {
        date: jiff::civil::date(2026, 3, 2),
        method: CheckMethod::Salt,
        reference: "75.37 %".to_owned(),
        reading: "77.47 %".to_owned(),
        temperature: Some("23.00 C".to_owned()),
    }
}

const SALT: &str = "[[probe.check]]\ndate = 2026-03-02\nmethod = \"salt\"\nreference = \"75.37 %\"\n\
                    reading = \"77.47 %\"\ntemperature = \"23.00 C\"\n";

#[track_caller]
fn add(text: &str, room: Option<&str>) -> Edited {
    add_check(text, "job.toml", room, Channel::Rh, &salt())
        .unwrap_or_else(|e| panic!("{e}\n{text}"))
}

/// What stands before and behind the addition is the old text, byte for byte, but for line ends that
/// keep the lines apart.
#[track_caller]
fn assert_only_added(old: &str, edited: &Edited, line_end: &str) {
    let added = edited.added.replace('\n', line_end);
    let (before, behind) = edited.text.split_once(&added).expect("the addition stands in the text");
    let splits = (0..=old.len()).filter_map(|at| old.split_at_checked(at));
    let kept = |(head, tail): (&str, &str)| {
        let ends = |text: &str| text.replace(line_end, "").is_empty();
        before.strip_prefix(head).is_some_and(ends) && behind.strip_suffix(tail).is_some_and(ends)
    };
    assert!(splits.into_iter().any(kept), "{}", edited.text);
}

#[test]
fn a_section_is_made_where_there_is_none() {
    let old = format!("{SITE}{ROOMS}# the end");
    let edited = add(&old, Some("Hall"));
    let made = format!("[[probe]]\nroom = \"Hall\"\nchannel = \"rh\"\n\n{SALT}");
    assert_eq!(edited.added, made);
    assert_eq!(edited.text, format!("{old}\n\n{made}"));
    let job = Job::parse(&edited.text, "job.toml").unwrap();
    let check = job.probe("Hall", Channel::Rh).unwrap().checks[0].clone();
    assert_eq!((check.reference, check.reading), (75.37, 77.47));
    assert!(job.probe("Den", Channel::Rh).is_none());
}

#[test]
fn a_check_goes_behind_those_that_are_there_and_before_what_follows() {
    let head = format!(
        "{SITE}{ROOMS}\n[[probe]] # ours\nroom = \"Hall\"\nchannel = \"rh\"\n\n[[probe.check]]\n\
         date = 2026-02-27\nmethod = \"salt\"\nreference = \"33 %\"\nreading = \"34 %\" # first\n"
    );
    let tail = "\n# of the den\n[[probe]]\nroom = \"Den\"\nchannel = \"rh\"\n[adhesive]\ntraffic = \"24 h\"\n";
    let edited = add(&format!("{head}{tail}"), Some("Hall"));
    assert_eq!(edited.text, format!("{head}\n{SALT}{tail}"));
    assert_eq!(edited.added, SALT);
    let later = NewCheck { date: jiff::civil::date(2026, 3, 9), ..salt() };
    let again = add_check(&edited.text, "job.toml", Some("Hall"), Channel::Rh, &later).unwrap();
    let later = SALT.replace("03-02", "03-09");
    assert_eq!(again.text, format!("{head}\n{SALT}\n{later}{tail}"));
    let job = Job::parse(&again.text, "job.toml").unwrap();
    assert_eq!(job.probe("Hall", Channel::Rh).unwrap().checks.len(), 3);
}

#[test]
fn sections_close_together_stay_apart() {
    let head = format!("{SITE}{ROOMS}[[probe]]\nroom = \"Hall\"\nchannel = \"rh\"\n");
    let edited = add(&format!("{head}[adhesive]\n"), Some("Hall"));
    assert_eq!(edited.text, format!("{head}\n{SALT}\n[adhesive]\n"));
}

#[test]
fn in_one_room_a_general_section_is_that_rooms() {
    for (rooms, room) in [("", None), ("[[room]]\nname = \"Hall\"\n", Some("Hall"))] {
        let old = format!("{SITE}{rooms}[[probe]]\nchannel = \"rh\"\nuncertainty = \"2.5 %\"\n");
        let edited = add(&old, room);
        assert_eq!(edited.text, format!("{old}\n{SALT}"));
    }
    assert!(add(SITE, None).added.starts_with("[[probe]]\nchannel = \"rh\"\n\n"));
}

#[test]
fn among_several_rooms_a_general_section_is_not_touched_but_its_uncertainty_goes_along() {
    let old =
        format!("{SITE}{ROOMS}[[probe]]\nuncertainty = \"2.5 %\" # sheet\nchannel = \"rh\"\n");
    let edited = add(&old, Some("Den"));
    let made = "[[probe]]\nroom = \"Den\"\nchannel = \"rh\"\nuncertainty = \"2.5 %\"\n";
    assert_eq!(edited.text, format!("{old}\n{made}\n{SALT}"));
    let job = Job::parse(&edited.text, "job.toml").unwrap();
    assert_eq!(job.probe("Den", Channel::Rh).unwrap().uncertainty, Some(2.5));
    assert!(job.probe("Hall", Channel::Rh).unwrap().checks.is_empty());
}

#[test]
fn windows_line_ends_and_a_byte_order_mark_stay() {
    let old =
        format!("\u{feff}{SITE}{ROOMS}[[probe]]\nroom = \"Hall\"\nchannel = \"rh\"\n# after\n")
            .replace('\n', "\r\n");
    let edited = add(&old, Some("Hall"));
    assert_only_added(&old, &edited, "\r\n");
    assert_eq!(edited.text.matches('\n').count(), edited.text.matches("\r\n").count());
}

#[test]
fn names_with_quotes_and_letters_of_any_script_are_quoted_right() {
    let old = format!("{SITE}[[room]]\nname = 'Süd \"A\"\\'\n[[room]]\nname = \"床\"\n");
    for room in ["Süd \"A\"\\", "床"] {
        let edited = add(&old, Some(room));
        let job = Job::parse(&edited.text, "job.toml").unwrap();
        assert_eq!(job.probe(room, Channel::Rh).unwrap().checks.len(), 1);
    }
}

#[test]
fn lists_on_one_line_are_refused() {
    let check =
        "{ date = 2026-02-27, method = \"salt\", reference = \"33 %\", reading = \"34 %\" }";
    for (text, key) in [
        ("probe = [{ channel = \"rh\" }]\n".to_owned() + SITE, "probe"),
        (format!("{SITE}[[probe]]\nchannel = \"rh\"\ncheck = [{check}]\n"), "check"),
    ] {
        let error = add_check(&text, "job.toml", None, Channel::Rh, &salt()).unwrap_err();
        assert!(matches!(error, EditError::OneLine { key: found, .. } if found == key), "{error}");
    }
}

#[test]
fn a_file_with_errors_and_a_check_that_cannot_be_are_refused() {
    let error = add_check("[site]\n", "job.toml", None, Channel::Rh, &salt()).unwrap_err();
    assert!(matches!(error, EditError::File(_)));
    let over = NewCheck { reading: "101 %".to_owned(), ..salt() };
    assert!(matches!(add_check(SITE, "j", None, Channel::Rh, &over), Err(EditError::File(_))));
    let error = add_check(SITE, "j", Some("Attic"), Channel::Rh, &salt()).unwrap_err();
    assert!(error.to_string().contains("Attic"), "{error}");
    assert!(matches!(add_check(SITE, "j", None, Channel::Slab, &salt()), Err(EditError::File(_))));
}

proptest! {
    /// Whatever stands in a file that can be read, in whatever order: it stays.
    #[test]
    fn every_other_byte_stays(
        parts in prop::sample::subsequence(vec![
            "# a note\n", "\n\n", "   \n", "[adhesive] # sheet\n  traffic = \"24 h\"\n",
            "[[probe]]\nchannel=\"rh\" # k = 2\n", "[[probe]]\nroom = 'Hall'\nchannel = \"rh\"\n",
            "[[probe.check]]\ndate = 2026-02-27\nmethod = 'salt'\nreference = \"33 %\"\nreading = \"34 %\"\n",
            "[[limit]]\nid = \"air-rh-max\"\nvalue = \"55 %\"\nreason = \"\"\"by\nletter\"\"\"\n",
            "[[probe]]\nroom = \"Den\"\nchannel = \"slab\"\nuncertainty = \"0.3 C\"",
        ], 0..9).prop_shuffle(),
        windows: bool,
        end in prop::sample::select(vec!["", "\n", "\n\n#", "\n# end\n"]),
    ) {
        let line_end = if windows { "\r\n" } else { "\n" };
        let mut old = format!("{SITE}{ROOMS}");
        for part in parts {
            old.push_str(part);
            if !old.ends_with('\n') {
                old.push('\n');
            }
        }
        let old = (old.trim_end_matches('\n').to_owned() + end).replace('\n', line_end);
        // A check before any probe, or of a slab probe by salt, is not a job file.
        prop_assume!(Job::parse(&old, "job.toml").is_ok());
        let edited = add_check(&old, "job.toml", Some("Hall"), Channel::Rh, &salt());
        let edited = edited.map_err(|error| TestCaseError::fail(format!("{error}\n{old}")))?;
        assert_only_added(&old, &edited, line_end);
    }
}
