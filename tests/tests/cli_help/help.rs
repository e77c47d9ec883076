//! `-h` and `--help`.

use crate::{all, path};
use clap::{ArgAction, Command, Parser as _};
use glueday::cli::args::Cli;
use glueday_tests::command_line::commands;

/// What the help says behind the options.
fn behind(command: &Command) -> String {
    let help = command.get_after_long_help().or(command.get_after_help());
    help.map(ToString::to_string).unwrap_or_default()
}

/// The lines under `Examples:`, which are set in.
fn examples(command: &Command) -> Vec<Vec<String>> {
    let text = behind(command);
    let (_, rest) = text.split_once("Example").unwrap_or_default();
    // The rest of the first line: either a colon alone, or one example.
    let (first, rest) = rest.split_once(':').unwrap_or_default();
    assert!(first.is_empty() || first == "s", "{first}");
    let lines = rest.lines().take_while(|line| line.is_empty() || line.starts_with(' '));
    let text: Vec<&str> = lines.collect();
    let mut found = commands(&text.join("\n"));
    // A pipe may lead on to another program.
    found.retain(|words| words[0] == "glueday");
    found
}

#[test]
fn every_example_is_taken_by_the_program() {
    let mut count = 0;
    for command in all() {
        let (own, examples) = (path(&command), examples(&command));
        assert!(!examples.is_empty(), "no example: {own:?}");
        for words in examples {
            if let Err(error) = Cli::try_parse_from(&words) {
                panic!("{own:?}: {words:?}\n{error}");
            }
            assert_eq!(words[1..=own.len()], own, "an example of another command");
            count += 1;
        }
    }
    assert!(count >= 45, "only {count} examples seen");
}

#[test]
fn every_help_ends_with_the_exit_codes_and_fits_80_columns() {
    for mut command in all() {
        let own = path(&command);
        let last = behind(&command).lines().last().unwrap_or_default().to_owned();
        assert!(last.contains("2 ") && last.contains("xit codes: 0 "), "{own:?}: {last}");
        command = command.term_width(80).max_term_width(80);
        let long = command.render_long_help().to_string();
        let wide = long.lines().find(|line| line.chars().count() > 80);
        // Usage is one line, and the value of the environment that the test runs in may be long.
        let may = |line: &str| line.contains("[env: ") || line.starts_with("Usage: ");
        assert!(wide.is_none_or(may), "{own:?}: {wide:?}");
        // An example that was broken could not be copied.
        for line in behind(&command).lines().filter(|line| line.starts_with("  ")) {
            assert!(long.lines().any(|shown| shown == line), "{own:?}: broken: {line}");
        }
        let short = command.render_help().to_string();
        assert!(short.lines().count() < long.lines().count(), "{own:?}: -h is not short");
        assert!(!short.contains("Examples:") || ["plot", "verify"].contains(&&*own[0]));
    }
}

/// Options whose values are quantities or times show how they are written.
#[test]
fn quantities_are_shown_with_a_unit_and_what_can_be_left_out_says_what_holds_then() {
    // Options that ask for something more when they are given, and those of which one must be given.
    let more = [
        "--key",
        "--why",
        "--salt",
        "--reference",
        "--events",
        "--archive",
        "--port",
        "--data-set",
        "--output",
    ];
    let (mut quantities, mut defaults) = (0, 0);
    for command in all() {
        let own = path(&command);
        if own.first().is_some_and(|name| ["plot", "verify"].contains(&name.as_str())) {
            continue;
        }
        let examples = examples(&command);
        for argument in
            command.get_arguments().filter(|argument| argument.get_action().takes_values())
        {
            let Some(long) = argument.get_long().map(|long| format!("--{long}")) else { continue };
            let help = argument.get_long_help().or(argument.get_help()).unwrap().to_string();
            let default = !argument.get_default_values().is_empty() || help.contains("[default");
            let value = argument.get_value_names().unwrap_or_default().first().unwrap().as_str();
            let quantity = [
                "TIME",
                "TEMPERATURE",
                "RH",
                "PRESSURE",
                "ALTITUDE",
                "MC",
                "LENGTH",
                "RESISTANCE",
                "WEIGHT",
                "AREA",
                "READING",
            ];
            if quantity.contains(&value) {
                let written = help.contains(|c: char| c.is_ascii_digit());
                let shown = examples.iter().flatten().any(|word| *word == long);
                let says = written || shown || !argument.get_default_values().is_empty();
                assert!(says, "{own:?} {long}: how is it written?");
                quantities += 1;
            }
            let many = matches!(argument.get_action(), ArgAction::Append);
            let optional = !argument.is_required_set() && !many && !more.contains(&long.as_str());
            if optional && own != ["air"] && own != ["man"] {
                assert!(default, "{own:?} {long}: what holds without it?\n{help}");
                defaults += 1;
            }
        }
    }
    assert!(quantities >= 20 && defaults >= 25, "{quantities} {defaults}");
}

#[test]
fn every_variable_of_the_environment_is_in_the_help_of_the_program() {
    let commands = all();
    let program = behind(&commands[0]);
    let mut found = 0;
    for command in &commands {
        for variable in command.get_arguments().filter_map(|argument| argument.get_env()) {
            let variable = variable.to_str().unwrap();
            assert!(program.contains(variable), "{variable}");
            found += 1;
        }
    }
    assert!(found > commands.len(), "every command takes an archive, some a port");
    assert!(program.contains("NO_COLOR") && program.contains("COLUMNS"));
}
