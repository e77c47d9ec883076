//! `limits`

use super::args::Limits as Args;
use super::question::read_job;
use super::{Answer, Failure, Talk, print_json};
use crate::job::Profile;
use crate::limits::{LimitId, LimitUnit, Limits, ResolvedLimit};
use crate::quantity::Units;
use crate::view::text::layer_words;
use serde::Serialize;

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    limits: Vec<Row<'a>>,
}

#[derive(Serialize)]
struct Row<'a> {
    id: LimitId,
    meaning: &'static str,
    unit: LimitUnit,
    shipped: Option<crate::limits::Figure>,
    in_force: Option<&'a ResolvedLimit>,
}

pub(super) fn run(args: &Args, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    let job = args.job.as_deref().map(read_job).transpose()?;
    let resolved = job.as_ref().map(Limits::resolve);
    let profile = job.as_ref().map_or_else(Profile::default, |job| job.site.profile);
    let units = job.as_ref().map_or(Units::Metric, |job| job.site.units);
    let rows: Vec<Row<'_>> = LimitId::ALL
        .iter()
        .map(|id| {
            let shipped = id.shipped(profile);
            Row {
                id: *id,
                meaning: id.meaning(),
                unit: shipped.unit,
                shipped: shipped.figure,
                in_force: resolved.as_ref().and_then(|limits| limits.get(*id)),
            }
        })
        .collect();
    if talk.json {
        print_json(talk, &Document { schema: 1, limits: rows })?;
        return Ok(Answer::Yes);
    }
    for row in &rows {
        writeln!(talk.out, "{}", row.id)?;
        writeln!(talk.out, "    {}", row.meaning)?;
        match row.shipped {
            Some(figure) => {
                let value = row.unit.show(figure.value, units);
                writeln!(talk.out, "    {value} [{}: {}]", figure.status, figure.source)?;
            }
            None => writeln!(talk.out, "    from the product data sheet only")?,
        }
        let Some(limit) = row.in_force else { continue };
        if limit.layer != crate::limits::Layer::Default {
            let value = row.unit.show(limit.value, units);
            writeln!(
                talk.out,
                "    here {value} [{}: {}]",
                layer_words(limit.layer),
                limit.source
            )?;
            if let Some(reason) = &limit.reason {
                writeln!(talk.out, "    because: {reason}")?;
            }
        }
    }
    Ok(Answer::Yes)
}
