//! From local times to UTC.

use std::fmt;
use std::str::FromStr;

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, Offset, TimeZone, TimeZoneDatabase};

use super::mapping::MappingError;

/// The zone of times that carry no offset of their own.
///
/// As text: an IANA name, looked up in the zone data that is built in so that a file reads the same
/// on every machine, or a fixed offset such as `+02:00`, `-0530`, `+2`, `UTC` or `UTC+2`.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone(TimeZone);

impl Zone {
    /// A fixed offset from UTC, in seconds east; `None` beyond a day.
    #[must_use]
    pub fn fixed(offset_s: i32) -> Option<Self> {
        Offset::from_seconds(offset_s).ok().map(|offset| Self(offset.to_time_zone()))
    }

    /// The zone as the library knows it.
    #[must_use]
    pub fn time_zone(&self) -> &TimeZone {
        &self.0
    }
}

impl From<TimeZone> for Zone {
    fn from(zone: TimeZone) -> Self {
        Self(zone)
    }
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.0.iana_name(), self.0.to_fixed_offset()) {
            (Some(name), _) => f.write_str(name),
            (None, Ok(offset)) => f.write_str(&offset_text(offset.seconds())),
            (None, Err(_)) => f.write_str("a zone without a name"),
        }
    }
}

impl FromStr for Zone {
    type Err = MappingError;

    fn from_str(text: &str) -> Result<Self, MappingError> {
        let text = text.trim();
        if let Some(zone) = parse_offset(text).and_then(Self::fixed) {
            return Ok(zone);
        }
        let known = TimeZoneDatabase::bundled();
        known.get(text).map(Self).map_err(|_| {
            let lower = text.to_lowercase();
            let nearest = known
                .available()
                .map(|name| {
                    (strsim::damerau_levenshtein(&lower, &name.as_str().to_lowercase()), name)
                })
                .min_by_key(|(distance, _)| *distance)
                .filter(|(distance, _)| *distance <= 4);
            let suggestion = nearest
                .map_or_else(String::new, |(_, name)| format!(" Did you mean {}?", name.as_str()));
            MappingError::Zone { given: text.to_owned(), suggestion }
        })
    }
}

/// `+02:00`, or `UTC` for no offset.
pub(super) fn offset_text(offset_s: i32) -> String {
    if offset_s == 0 {
        return "UTC".to_owned();
    }
    let sign = if offset_s < 0 { '-' } else { '+' };
    let minutes = offset_s.unsigned_abs() / 60;
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}

/// Seconds east of UTC of `Z`, `UTC`, `GMT`, `+2`, `+02`, `+0200`, `+02:00` and `UTC+2` in any case.
pub(super) fn parse_offset(text: &str) -> Option<i32> {
    let text = text.trim();
    if text.eq_ignore_ascii_case("z") {
        return Some(0);
    }
    let zone =
        text.get(..3).filter(|z| z.eq_ignore_ascii_case("utc") || z.eq_ignore_ascii_case("gmt"));
    let rest = match zone {
        Some(_) => text.get(3..)?.trim(),
        None => text,
    };
    if zone.is_some() && rest.is_empty() {
        return Some(0);
    }
    let (sign, digits) = match rest.strip_prefix('+') {
        Some(digits) => (1, digits),
        // U+2212 is what word processors make of a minus sign.
        None => (-1, rest.strip_prefix('-').or_else(|| rest.strip_prefix('\u{2212}'))?),
    };
    let (hours, minutes) = match digits.split_once(':') {
        Some((hours, minutes)) if minutes.len() == 2 => (hours, minutes),
        Some(_) => return None,
        None if digits.len() == 4 => digits.split_at_checked(2)?,
        None => (digits, "00"),
    };
    let number = |text: &str| -> Option<i32> {
        let plain = (1..=2).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
        text.parse().ok().filter(|_| plain)
    };
    let (hours, minutes) = (number(hours)?, number(minutes)?);
    (hours <= 14 && minutes < 60).then_some(sign * (hours * 3600 + minutes * 60))
}

/// What a local time is in UTC, in seconds since 1970.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Utc {
    At(i64),
    /// The clock was put back over it, so that it came twice.
    Twice {
        first: i64,
        second: i64,
    },
    /// The clock was put forward over it; `before_s` is the offset until then.
    Never {
        before_s: i32,
    },
}

/// Turns local seconds into UTC; remembers the span between two changes of the offset, because rows
/// of a log nearly always fall into the same one.
pub(super) struct Converter {
    zone: TimeZone,
    span: std::ops::Range<i64>,
    offset_s: i64,
}

impl Converter {
    pub(super) fn new(zone: &Zone) -> Self {
        Self { zone: zone.time_zone().clone(), span: 0..0, offset_s: 0 }
    }

    /// `local_s` counts as if the local clock had always shown UTC.
    #[inline]
    pub(super) fn utc(&mut self, local_s: i64) -> Option<Utc> {
        if self.span.contains(&local_s) {
            return Some(Utc::At(local_s - self.offset_s));
        }
        let found = self.zone.to_ambiguous_timestamp(civil(local_s)?).offset();
        Some(match found {
            AmbiguousOffset::Unambiguous { offset } => {
                self.remember(local_s, offset);
                Utc::At(local_s - i64::from(offset.seconds()))
            }
            AmbiguousOffset::Fold { before, after } => Utc::Twice {
                first: local_s - i64::from(before.seconds()),
                second: local_s - i64::from(after.seconds()),
            },
            AmbiguousOffset::Gap { before, .. } => Utc::Never { before_s: before.seconds() },
        })
    }

    fn remember(&mut self, local_s: i64, offset: Offset) {
        self.offset_s = i64::from(offset.seconds());
        // One time only, should the edges not be found.
        self.span = local_s..local_s + 1;
        let Ok(now) = Timestamp::from_second(local_s - self.offset_s) else { return };
        let Ok(just_after) = Timestamp::from_second(local_s - self.offset_s + 1) else { return };
        // The shorter of the two local readings of a change bounds what is unambiguous.
        let end = self.zone.following(now).next().map_or(i64::MAX, |change| {
            let at = change.timestamp().as_second();
            at + self.offset_s.min(i64::from(change.offset().seconds()))
        });
        let start = self.zone.preceding(just_after).next().map_or(i64::MIN, |change| {
            let at = change.timestamp().as_second();
            let before = Timestamp::from_second(at - 1)
                .map_or(i64::MAX, |t| i64::from(self.zone.to_offset(t).seconds()));
            at.saturating_add(self.offset_s.max(before))
        });
        if (start..end).contains(&local_s) {
            self.span = start..end;
        }
    }
}

/// Local seconds as a date and time.
pub(super) fn civil(local_s: i64) -> Option<DateTime> {
    Timestamp::from_second(local_s).ok().map(|t| Offset::UTC.to_datetime(t))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offsets_are_read_in_every_common_spelling() {
        for (text, expected) in [
            ("Z", Some(0)),
            ("utc", Some(0)),
            ("GMT", Some(0)),
            ("+2", Some(7200)),
            ("+02", Some(7200)),
            ("+0200", Some(7200)),
            ("+02:00", Some(7200)),
            ("UTC+2", Some(7200)),
            ("UTC -05:30", Some(-19_800)),
            ("\u{2212}03:30", Some(-12_600)),
            ("+14:00", Some(50_400)),
            ("+15", None),
            ("+02:60", None),
            ("+2:0", None),
            ("2", None),
            ("UTC2", None),
            ("+", None),
            ("", None),
        ] {
            assert_eq!(parse_offset(text), expected, "{text:?}");
        }
    }

    #[test]
    fn a_misspelt_zone_is_refused_with_the_nearest_name() {
        let error = "Europe/Helsinky".parse::<Zone>().unwrap_err().to_string();
        assert!(error.contains("Did you mean Europe/Helsinki?"), "{error}");
        let error = "nowhere at all, really".parse::<Zone>().unwrap_err().to_string();
        assert!(!error.contains("Did you mean"), "{error}");
    }

    #[test]
    fn zones_print_as_they_are_given() {
        for text in ["Europe/Helsinki", "+02:00", "-05:30", "UTC"] {
            assert_eq!(text.parse::<Zone>().unwrap().to_string(), text);
        }
    }

    /// The remembered span must give what the library gives without it, at every quarter of an hour
    /// of three years in zones with whole, half and negative changes, and in any order.
    #[test]
    fn the_remembered_offset_is_the_right_one() {
        for name in ["Europe/Helsinki", "America/New_York", "Australia/Lord_Howe", "Europe/Dublin"]
        {
            let zone: Zone = name.parse().unwrap();
            let mut kept = Converter::new(&zone);
            let from = 1_577_836_800; // 2020-01-01
            let times = (0..3 * 366 * 96).map(|i| from + i * 900);
            let shuffled = (0..20_000).map(|i: i64| from + i * 7919 * 900 % (1096 * 86_400));
            for local_s in times.chain(shuffled) {
                let fresh = Converter::new(&zone).utc_uncached(local_s);
                assert_eq!(kept.utc(local_s), fresh, "{name} {}", civil(local_s).unwrap());
            }
        }
    }

    impl Converter {
        fn utc_uncached(&self, local_s: i64) -> Option<Utc> {
            let seconds = |o: Offset| i64::from(o.seconds());
            Some(match self.zone.to_ambiguous_timestamp(civil(local_s)?).offset() {
                AmbiguousOffset::Unambiguous { offset } => Utc::At(local_s - seconds(offset)),
                AmbiguousOffset::Fold { before, after } => Utc::Twice {
                    first: local_s - seconds(before),
                    second: local_s - seconds(after),
                },
                AmbiguousOffset::Gap { before, .. } => Utc::Never { before_s: before.seconds() },
            })
        }
    }
}
