//! Does one case with one of the broken logs: `cargo run -p glueday-ring-mutants -- NAME 'CASE'`.

use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [name, case] = &args[..] else {
        let _ = writeln!(std::io::stderr(), "glueday-ring-mutants NAME 'CASE'");
        return ExitCode::from(2);
    };
    match glueday_ring_mutants::again(name, case) {
        Ok(counts) => {
            let _ = writeln!(std::io::stdout(), "{name}: holds; {counts}");
            ExitCode::SUCCESS
        }
        Err(why) => {
            let _ = writeln!(std::io::stdout(), "{name}: {why}");
            ExitCode::FAILURE
        }
    }
}
