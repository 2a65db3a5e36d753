//! The project's chores: `cargo xtask test` sets up what is missing and checks everything.

mod steps;
mod tools;

use std::process::ExitCode;

const USAGE: &str = "cargo xtask test [--quick]

test     install what is missing (Debian packages when root, the page's packages), then check the format, the
         lints, every test, the documents and the page
--quick  leave out the browser";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let ended = match words.as_slice() {
        ["test"] => steps::test(true),
        ["test", "--quick"] => steps::test(false),
        _ => {
            eprintln!("{USAGE}");
            return ExitCode::from(64);
        }
    };
    match ended {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("xtask: {error:#}");
            ExitCode::FAILURE
        }
    }
}
