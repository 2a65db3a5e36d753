//! The checks, in the order in which they fail soonest.

use crate::tools;
use anyhow::{Result, bail};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

/// Sets up what is missing and runs every check, telling at the end which did not hold.
///
/// # Errors
/// Something missing that cannot be installed; a check that did not hold.
pub fn test(with_browser: bool) -> Result<()> {
    let root = root();
    let web = root.join("web");
    tools::ensure(with_browser)?;
    tools::ensure_page(&web)?;
    let cargo = |arguments: &[&str]| {
        let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
        command.args(arguments).current_dir(&root);
        command
    };
    let npm = |arguments: &[&str]| {
        let mut command = Command::new("npm");
        command.args(arguments).current_dir(&web);
        command
    };
    let mut documents = cargo(&["doc", "--workspace", "--no-deps", "--quiet"]);
    documents.env("RUSTDOCFLAGS", "-D warnings");
    let tests = if tools::on_path("cargo-nextest") {
        let mut arguments = vec!["nextest", "run", "--workspace", "--no-fail-fast"];
        if !with_browser {
            arguments.extend(["-E", "not binary(browser)"]);
        }
        cargo(&arguments)
    } else {
        let mut arguments = vec![
            "test",
            "--workspace",
            "--no-fail-fast",
            "--lib",
            "--bins",
            "--tests",
        ];
        if !with_browser {
            arguments.extend(["--", "--skip", "the_page_holds_in_a_browser"]);
        }
        cargo(&arguments)
    };
    let steps: [(&str, Command); 7] = [
        ("format", cargo(&["fmt", "--all", "--check"])),
        (
            "lints",
            cargo(&[
                "clippy",
                "--workspace",
                "--all-targets",
                "--quiet",
                "--",
                "-D",
                "warnings",
            ]),
        ),
        ("page: types and lints", npm(&["run", "--silent", "check"])),
        ("page: tests", npm(&["test", "--silent"])),
        ("tests", tests),
        (
            "tests in documents",
            cargo(&["test", "--workspace", "--doc", "--no-fail-fast"]),
        ),
        ("documents", documents),
    ];
    let mut failed = Vec::new();
    for (name, mut command) in steps {
        eprintln!("\n== {name}");
        let began = Instant::now();
        match tools::run(&mut command) {
            Ok(()) => eprintln!("== {name}: held, {:.0} s", began.elapsed().as_secs_f64()),
            Err(error) => {
                eprintln!("== {name}: did not hold: {error:#}");
                failed.push(name);
            }
        }
    }
    if failed.is_empty() {
        eprintln!("\nall held");
        Ok(())
    } else {
        bail!("did not hold: {}", failed.join(", "))
    }
}

/// Returns the folder of the workspace.
fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.ancestors().nth(2).unwrap_or(here).to_owned()
}
