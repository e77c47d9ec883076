//! `man` and `completions`: derived from the definition of the command line, so that nothing is told
//! twice.

use super::args::{Cli, Man as Args};
use super::{Answer, Failure, Talk, fail, store};
use clap::{Command, CommandFactory as _};
use clap_complete::Shell;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};

pub(super) fn completions(shell: Shell, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "glueday", &mut script);
    talk.out.write_all(&script)?;
    Ok(Answer::Yes)
}

pub(super) fn run(args: &Args, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    // `help` explains itself, and would double every page.
    let mut program = Cli::command().disable_help_subcommand(true);
    program.build();
    if let Some(folder) = &args.folder {
        std::fs::create_dir_all(folder)
            .or_else(|error| fail(super::told::folder(folder, &error)))?;
        let mut pages = Vec::new();
        gather(&program, &mut pages);
        for command in &pages {
            let name = Man::new((*command).clone()).get_filename();
            store::write(&folder.join(&name), &page(command)?)?;
        }
        writeln!(talk.err, "wrote {} pages into {}", pages.len(), folder.display())?;
        return Ok(Answer::Yes);
    }
    let mut command = &program;
    for word in &args.command {
        let known: Vec<&str> = command.get_subcommands().map(Command::get_name).collect();
        let Some(found) = command.find_subcommand(word) else {
            let there = match known.as_slice() {
                [] => format!("`{}` has no commands of its own", command.get_name()),
                _ => format!("there are: {}", known.join(", ")),
            };
            return fail(format!("there is no command `{}`; {there}", args.command.join(" ")));
        };
        command = found;
    }
    talk.out.write_all(&page(command)?)?;
    Ok(Answer::Yes)
}

/// A command and those under it.
fn gather<'a>(command: &'a Command, into: &mut Vec<&'a Command>) {
    into.push(command);
    for below in command.get_subcommands() {
        gather(below, into);
    }
}

/// The page of one command, with the headings that manual pages have.
fn page(command: &Command) -> std::io::Result<Vec<u8>> {
    let mut page = Vec::new();
    let man = Man::new(command.clone()).source(crate::record::PROGRAM).manual("glueday");
    man.render_title(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    man.render_options_section(&mut page)?;
    if command.has_subcommands() {
        man.render_subcommands_section(&mut page)?;
    }
    let help = command.get_after_long_help().or(command.get_after_help());
    more(&help.map(ToString::to_string).unwrap_or_default()).to_writer(&mut page)?;
    Ok(page)
}

/// What the help says behind the options, under the usual headings. Lines that are set in stand as they
/// are; what is neither an example nor an exit code is a note.
fn more(help: &str) -> Roff {
    let mut roff = Roff::new();
    let (mut as_is, mut prose) = (false, false);
    for line in help.lines() {
        let set_in = line.starts_with(' ');
        if set_in != as_is {
            roff.control(if set_in { "nf" } else { "fi" }, []);
            as_is = set_in;
        }
        match (line, line.split_once(':')) {
            ("", _) => {}
            (_, Some(("Example" | "Examples", _))) => heading(&mut roff, "EXAMPLES"),
            (_, Some(("Environment", _))) => heading(&mut roff, "ENVIRONMENT"),
            (_, Some(("Exit codes", rest))) => {
                heading(&mut roff, "EXIT STATUS");
                roff.text([roman(rest.trim())]);
            }
            _ if set_in => {
                roff.text([roman(line)]);
            }
            _ => {
                roff.control(if prose { "PP" } else { "SH" }, (!prose).then_some("NOTES"));
                roff.text([roman(line)]);
                prose = true;
            }
        }
    }
    if as_is {
        roff.control("fi", []);
    }
    roff
}

fn heading(roff: &mut Roff, name: &str) {
    roff.control("SH", [name]);
}
