//! The command line: asks the acts and prints what they say.
//!
//! Results go to stdout, messages and progress to stderr. Exit 0 done; 1 a check did not pass; 2 the input was
//! refused and nothing changed; 64 usage; 70 our own fault.

mod anew;
mod area;
mod args;
mod cover;
mod dig;
mod hold;
mod import;
mod measured;
mod output;
mod point;
mod point_args;
mod register_file;
mod run;
mod serve;
mod site;
mod table;
mod upkeep;

use crate::acts::{ActError, Weight};
use args::{Cli, Command};
use clap::Parser;
use output::Output;
use std::process::ExitCode;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ended {
    /// Done.
    Done,
    /// A check did not pass.
    NotPassed,
    /// The input was refused; what is wrong was told already.
    Refused,
}

/// Runs the program with the arguments of the process.
pub fn run() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            // Printing help to a closed pipe is no failure.
            let _ = error.print();
            return ExitCode::from(if error.use_stderr() { 64 } else { 0 });
        }
    };
    let output = Output::new(cli.json);
    let ended = match &cli.command {
        Command::Demo(args) => serve::demo(&cli, args, &output),
        Command::Serve(args) => serve::serve(&cli, args, &output),
        Command::Site(args) => site::site(&cli, args, &output),
        Command::Import(args) => import::import(&cli, args, &output),
        Command::Station(args) => measured::station(args, &output),
        Command::SetAnew(args) => anew::set_anew(&cli, args, &output),
        Command::Levels(args) => measured::levels(args, &output),
        Command::Cover(args) => cover::cover(&cli, args, &output),
        Command::Dig(args) => dig::dig(&cli, args, &output),
        Command::Hold(args) => hold::hold(&cli, args, &output),
        Command::Attach(args) => hold::attach(&cli, args, &output),
        Command::Sheet(args) => dig::sheet(&cli, args, &output),
        Command::Export(args) => upkeep::export(&cli, args, &output),
        Command::Verify(args) => upkeep::verify(&cli, args, &output),
        Command::Backup(args) => upkeep::backup(&cli, args, &output),
        Command::Restore(args) => upkeep::restore(&cli, args, &output),
        Command::Rules(args) => site::rules(&cli, args, &output),
        Command::Point(args) => point::point(&cli, args, &output),
        Command::Run(args) => run::run(&cli, args, &output),
        Command::Surface(args) => site::surface(&cli, args, &output),
        Command::Note(args) => site::note(&cli, args, &output),
        Command::Withdraw(args) => site::withdraw(&cli, args, &output),
        Command::Book(args) => site::book(&cli, args, &output),
    };
    match ended {
        Ok(Ended::Done) => ExitCode::SUCCESS,
        Ok(Ended::NotPassed) => ExitCode::from(1),
        Ok(Ended::Refused) => ExitCode::from(2),
        Err(error) => {
            output.error(&error);
            ExitCode::from(if error.weight() == Weight::Fault { 70 } else { 2 })
        }
    }
}

/// What a command comes to.
pub(crate) type Outcome = Result<Ended, ActError>;
