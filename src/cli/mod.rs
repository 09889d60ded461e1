//! The commands: options as typed to one call each, and outcome to exit code in one place.

/// Runs the command line; the only place where an outcome becomes an exit code.
pub fn main() -> std::process::ExitCode {
    std::process::ExitCode::SUCCESS
}
