//! What the checks need besides Rust: found, installed where that is possible, or named.

use anyhow::{Context, Result, bail};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// Programs by any of their names, and the Debian package that brings them.
const PROGRAMS: [(&[&str], &str); 5] = [
    (&["node"], "nodejs"),
    (&["npm"], "npm"),
    (&["chromium", "chromium-browser", "google-chrome"], "chromium"),
    (&["pdftotext"], "poppler-utils"),
    (&["ogrinfo"], "gdal-bin"),
];

/// Makes sure that every program is there.
///
/// # Errors
/// Names what is missing where it cannot be installed from here.
pub fn ensure(with_browser: bool) -> Result<()> {
    let missing = missing(with_browser);
    if missing.is_empty() {
        return Ok(());
    }
    let names = missing.join(" ");
    if !(is_root() && on_path("apt-get")) {
        bail!(
            "missing: {names}; install these packages (Debian: apt-get install {names}) and run this again"
        );
    }
    eprintln!("xtask: installing {names}");
    run(Command::new("apt-get").args(["update", "-qq"]))?;
    run(Command::new("apt-get")
        .env("DEBIAN_FRONTEND", "noninteractive")
        .args(["install", "-y", "-qq", "--no-install-recommends"])
        .args(&missing))?;
    let still = self::missing(with_browser);
    if still.is_empty() {
        Ok(())
    } else {
        bail!("still missing after installing: {}", still.join(" "))
    }
}

/// Installs the page's packages when its lock file is another than the one they came from.
///
/// # Errors
/// A lock file that cannot be read, or npm that fails.
pub fn ensure_page(web: &Path) -> Result<()> {
    let lock = std::fs::read(web.join("package-lock.json")).context("web/package-lock.json")?;
    // The same stamp that the server's build script keeps.
    let stamp = web.join("node_modules/.coverbook-lock");
    if std::fs::read(&stamp).is_ok_and(|installed| installed == lock) {
        return Ok(());
    }
    run(Command::new("npm")
        .args(["ci", "--no-audit", "--no-fund"])
        .current_dir(web))?;
    std::fs::write(&stamp, lock).with_context(|| format!("write {}", stamp.display()))
}

/// Runs a command that shows its own output.
///
/// # Errors
/// One that cannot be started or ends badly.
pub fn run(command: &mut Command) -> Result<()> {
    let shown = format!("{command:?}");
    let status = command
        .status()
        .with_context(|| format!("could not start {shown}"))?;
    if status.success() {
        Ok(())
    } else {
        bail!("{shown} ended with {status}")
    }
}

/// Tells whether a program of that name is on the path.
pub fn on_path(name: &str) -> bool {
    let path = std::env::var_os("PATH").unwrap_or_default();
    std::env::split_paths(&path).any(|folder: PathBuf| folder.join(name).is_file())
}

fn missing(with_browser: bool) -> Vec<&'static str> {
    let is_there = |names: &[&str]| names.iter().any(|name| on_path(name));
    let given = std::env::var_os("CHROMIUM").is_some();
    PROGRAMS
        .iter()
        .filter(|(names, package)| {
            let left_out = *package == "chromium" && (!with_browser || given);
            !left_out && !is_there(names)
        })
        .map(|(_, package)| *package)
        .collect()
}

fn is_root() -> bool {
    let id = Command::new("id").arg("-u").stderr(Stdio::null()).output();
    id.is_ok_and(|output| output.stdout.trim_ascii() == b"0")
}
