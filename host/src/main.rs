//! The glueday program.

fn main() -> std::process::ExitCode {
    glueday::cli::main()
}
