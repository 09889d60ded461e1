//! The commands: options as typed to one call each, and outcome to exit code in one place.
//!
//! 0: done (what needs a person is listed); 1: with `--strict`, done, but something needs a person; 2: what
//! was given cannot be used; 3: could not finish (disk, permission). Answers go to standard output, problems
//! to standard error.

mod check;
mod create;
mod field;
mod mark;
mod print;
mod rubric;

use crate::problem::Problem;
use crate::run::Failure;
use clap::{Parser, Subcommand};
use std::io::{ErrorKind, Write};
use std::process::ExitCode;

/// Prints magnetic-field worksheets, reads the drawn sheets back, and proposes marks against the computed field.
#[derive(Debug, Parser)]
#[command(name = "lodemark", version, about, after_help = EXAMPLE)]
struct Line {
    #[command(subcommand)]
    command: Command,
}

const EXAMPLE: &str = "\
A class from beginning to end:
  lodemark new 9b-magnets --from unlike-poles
  (write the students into 9b-magnets/roster.csv)
  lodemark print 9b-magnets
  (let them draw, put the copier's file into 9b-magnets/scans)
  lodemark mark 9b-magnets

Exit code: 0 done, 1 done but something needs a person (with --strict), 2 unusable input, 3 could not finish.";

#[derive(Debug, Subcommand)]
enum Command {
    New(create::Arguments),
    Print(print::Arguments),
    Field(field::Arguments),
    Mark(mark::Arguments),
    Check(check::Arguments),
    Rubric(rubric::Arguments),
}

/// How a command that was done ended.
enum Done {
    /// Nothing is left to do.
    Fine,
    /// Something needs a person, and the user asked to be told by the exit code.
    NeedsPerson,
}

/// Runs the command line; the only place where an outcome becomes an exit code.
pub fn main() -> ExitCode {
    let line = match Line::try_parse() {
        Ok(line) => line,
        Err(error) => {
            let code = if error.use_stderr() { UNUSABLE } else { DONE };
            // Nobody is left to tell when standard error is gone.
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    let outcome = match line.command {
        Command::New(arguments) => create::run(&arguments),
        Command::Print(arguments) => print::run(&arguments),
        Command::Field(arguments) => field::run(&arguments),
        Command::Mark(arguments) => mark::run(&arguments),
        Command::Check(arguments) => check::run(&arguments),
        Command::Rubric(arguments) => rubric::run(&arguments),
    };
    ExitCode::from(match outcome {
        Ok(Done::Fine) => DONE,
        Ok(Done::NeedsPerson) => NEEDS_PERSON,
        Err(Failure::Unusable(problems)) => {
            complain(&problems);
            UNUSABLE
        }
        Err(Failure::Stopped(problem)) => {
            complain(&[problem]);
            STOPPED
        }
    })
}

const DONE: u8 = 0;
const NEEDS_PERSON: u8 = 1;
const UNUSABLE: u8 = 2;
const STOPPED: u8 = 3;

/// A line a problem, on standard error, and the place itself where it is known.
fn complain(problems: &[Problem]) {
    let mut stderr = anstream::stderr().lock();
    for problem in problems {
        // Nobody is left to tell when standard error is gone.
        let _ = writeln!(stderr, "lodemark: {problem}");
        if let Some(excerpt) = problem.excerpt() {
            let _ = writeln!(stderr, "{excerpt}");
        }
    }
}

/// Writes an answer to standard output. A reader that has gone (`| head`) is no failure.
fn tell(text: &str) -> Result<(), Failure> {
    let mut stdout = std::io::stdout().lock();
    match stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            let what = format!("could not be written ({error})");
            Err(Failure::Stopped(Problem::of_file("standard output".as_ref(), what, "check where it goes")))
        }
        _ => Ok(()),
    }
}

/// A value as indented JSON on standard output.
fn tell_json(value: &impl serde::Serialize) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(value).map_err(|error| {
        let what = format!("cannot be written as JSON ({error})");
        Failure::Stopped(Problem::of_file("standard output".as_ref(), what, "run again without --json"))
    })?;
    tell(&format!("{text}\n"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_sound_and_every_command_has_an_example() {
        let command = Line::command();
        command.clone().debug_assert();
        for sub in command.get_subcommands() {
            let help = sub.get_after_help().map(ToString::to_string).unwrap_or_default();
            assert!(help.contains("lodemark "), "{}", sub.get_name());
        }
    }
}
