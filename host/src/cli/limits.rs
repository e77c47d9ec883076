//! `limits`

use super::args::Limits as Args;
use super::question::read_job;
use super::{Answer, Failure, Talk, print_json};
use crate::job::Profile;
use crate::limits::{LimitId, LimitUnit, Limits, ResolvedLimit};
use crate::quantity::Units;
use crate::view::limits::{Listing, list, subject};
use serde::Serialize;

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    profile: Profile,
    limits: Vec<Row<'a>>,
}

#[derive(Serialize)]
struct Row<'a> {
    id: LimitId,
    subject: &'static str,
    meaning: &'static str,
    unit: LimitUnit,
    bound: crate::limits::Bound,
    shipped: Option<crate::limits::Figure>,
    in_force: Option<&'a ResolvedLimit>,
}

pub(super) fn run(args: &Args, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    let only: Vec<LimitId> = args
        .limit
        .iter()
        .map(|id| id.parse())
        .collect::<Result<_, crate::limits::UnknownLimit>>()?;
    let job = args.job.as_deref().map(read_job).transpose()?;
    let resolved = job.as_ref().map(Limits::resolve);
    let profile = match (&job, args.profile) {
        (Some(job), _) => job.site.profile,
        (None, profile) => profile.map_or_else(Profile::default, Profile::from),
    };
    let units = match (&job, profile) {
        (Some(job), _) => job.site.units,
        (None, Profile::Us) => Units::Us,
        (None, Profile::Eu) => Units::Metric,
    };
    if talk.json {
        let asked = |id: &&LimitId| only.is_empty() || only.contains(id);
        let row = |id: &LimitId| {
            let shipped = id.shipped(profile);
            Row {
                id: *id,
                subject: subject(*id),
                meaning: id.meaning(),
                unit: shipped.unit,
                bound: shipped.bound,
                shipped: shipped.figure,
                in_force: resolved.as_ref().and_then(|limits| limits.get(*id)),
            }
        };
        let limits = LimitId::ALL.iter().filter(asked).map(row).collect();
        print_json(talk, &Document { schema: 1, profile, limits })?;
        return Ok(Answer::Yes);
    }
    let site = job.as_ref().map(|job| job.site.name.as_str());
    let in_force = site.zip(resolved.as_ref());
    let listing = Listing { in_force, profile, units, only: &only, width: talk.width };
    write!(talk.out, "{}", list(&listing))?;
    Ok(Answer::Yes)
}
