//! Writes an invented dig plan on every paper: `cargo run --example dig_plan -- FOLDER`.

#[path = "../tests/fixture/mod.rs"]
mod fixture;

use coverbook_sheets::{Paper, dig_plan};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("name a folder to write to")?);
    std::fs::create_dir_all(&folder)?;
    for (name, fixture) in [("rich", fixture::rich()), ("empty", fixture::empty())] {
        for paper in Paper::ALL {
            let sheet = dig_plan(&fixture.input(), paper)?;
            let file = format!("{name}-{}", paper.name());
            std::fs::write(folder.join(format!("{file}.pdf")), sheet.pdf()?)?;
            for (i, svg) in sheet.svg().iter().enumerate() {
                std::fs::write(folder.join(format!("{file}-{}.svg", i + 1)), svg)?;
            }
        }
    }
    Ok(())
}
