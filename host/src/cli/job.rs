//! `job`

use super::args::Job as Args;
use super::question::read_job;
use super::{Answer, Failure, Talk, print_json, store};
use crate::job::Job;

pub(super) fn run(args: &Args, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    match args {
        Args::New { file, site, zone, units, logger } => {
            let units = (*units).into();
            let text = match logger {
                Some(logger) => Job::template_with_logger(site, zone, units, logger),
                None => Job::template(site, zone, units),
            };
            // Before anything is written: a zone that is misspelt is told here.
            Job::parse(&text, &file.display().to_string())?;
            store::create(file, text.as_bytes())?;
            writeln!(
                talk.err,
                "wrote {}: fill it in, then run: glueday job check {}",
                file.display(),
                file.display()
            )?;
            Ok(Answer::Yes)
        }
        Args::Check { file } => {
            let job = read_job(file)?;
            if talk.json {
                print_json(talk, &job)?;
            } else {
                writeln!(talk.out, "{}: no errors", file.display())?;
                writeln!(talk.out, "site: {}", job.site.name)?;
                for zone in &job.zones {
                    let logger = match &zone.logger {
                        Some(crate::job::LoggerRef::Name(name)) => name.clone(),
                        Some(crate::job::LoggerRef::Id(id)) => {
                            glueday_types::LoggerId(*id).to_string()
                        }
                        None => "no logger named".to_owned(),
                    };
                    writeln!(talk.out, "room: {}, logger: {logger}", zone.name)?;
                }
                writeln!(
                    talk.out,
                    "tests: {} in-situ RH, {} calcium chloride; meter readings: {}",
                    job.in_situ_tests.len(),
                    job.calcium_chloride_tests.len(),
                    job.meter_readings.iter().map(|r| r.readings.len()).sum::<usize>()
                )?;
                writeln!(talk.out, "limits set by the job: {}", job.limit_overrides.len())?;
            }
            Ok(Answer::Yes)
        }
    }
}
