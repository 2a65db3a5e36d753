//! Builds the page into `OUT_DIR/web`, where it is embedded from.
//!
//! `SKIP_WEB=1` writes a placeholder page instead, for editors and machines without Node.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

fn main() -> Result<(), Box<dyn Error>> {
    let web = PathBuf::from(env::var("CARGO_MANIFEST_DIR")?).join("../../web");
    let out = PathBuf::from(env::var("OUT_DIR")?).join("web");
    println!("cargo:rerun-if-env-changed=SKIP_WEB");
    for watched in ["src", "build.mjs", "package.json", "package-lock.json"] {
        println!("cargo:rerun-if-changed={}", web.join(watched).display());
    }
    if env::var_os("SKIP_WEB").is_some_and(|value| value == "1") {
        return placeholder(&out);
    }
    install(&web)?;
    run("node", &["build.mjs", &out.display().to_string()], &web)
}

/// Installs the page's packages when the lock file differs from the one they were installed by.
fn install(web: &Path) -> Result<(), Box<dyn Error>> {
    let lock = fs::read(web.join("package-lock.json"))?;
    let stamp = web.join("node_modules/.coverbook-lock");
    if fs::read(&stamp).is_ok_and(|installed| installed == lock) {
        return Ok(());
    }
    run("npm", &["ci", "--no-audit", "--no-fund"], web)?;
    fs::write(&stamp, lock)?;
    Ok(())
}

fn run(program: &str, arguments: &[&str], folder: &Path) -> Result<(), Box<dyn Error>> {
    let output = Command::new(program).args(arguments).current_dir(folder).output().map_err(|error| {
        format!("the page is built with Node, and {program} could not be started ({error}); install Node 20 or newer, or set SKIP_WEB=1 to build without the page")
    })?;
    if output.status.success() {
        return Ok(());
    }
    let said = [output.stdout, output.stderr].concat();
    Err(format!(
        "{program} {} failed:\n{}",
        arguments.join(" "),
        String::from_utf8_lossy(&said)
    )
    .into())
}

fn placeholder(out: &Path) -> Result<(), Box<dyn Error>> {
    let _ = fs::remove_dir_all(out);
    fs::create_dir_all(out)?;
    let page = "<!doctype html>\n<html lang=\"en-GB\"><meta charset=\"utf-8\"><title>Coverbook</title>\n<p>This program was built without its page (SKIP_WEB=1). The same answers come from the command line.</p></html>\n";
    fs::write(out.join("index.html"), page)?;
    Ok(())
}
