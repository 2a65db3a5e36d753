//! A desk: an empty folder, a register in it, and the program run as a person would.

#![allow(dead_code, reason = "each test file uses some of it")]

use coverbook::acts::{Register, system_clock};
use serde_json::Value;
use std::path::PathBuf;
use std::process::{Command, Output};
use std::sync::Arc;
use store::{Access, SqliteStore};
use tempfile::TempDir;

pub struct Desk {
    pub folder: TempDir,
}

impl Desk {
    pub fn empty() -> Desk {
        Desk {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    pub fn with_demo() -> Desk {
        let desk = Desk::empty();
        let store = SqliteStore::open_or_create(&desk.register(), Access::Append).unwrap();
        coverbook::demo::load(&Register::new(Arc::new(store), system_clock()), &mut |_| {}).unwrap();
        desk
    }

    pub fn register(&self) -> PathBuf {
        self.folder.path().join("r.db")
    }

    pub fn run(&self, arguments: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_coverbook"))
            .args(arguments)
            .current_dir(self.folder.path())
            .env("COVERBOOK_REGISTER", self.register())
            .env_remove("COVERBOOK_BY")
            .output()
            .unwrap()
    }

    #[track_caller]
    pub fn exits(&self, code: i32, arguments: &[&str]) -> Output {
        let output = self.run(arguments);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(code), "{arguments:?}: {said}");
        output
    }

    pub fn json(&self, arguments: &[&str]) -> Value {
        let output = self.exits(0, &[arguments, &["--json"]].concat());
        serde_json::from_slice(&output.stdout).unwrap()
    }

    pub fn file(&self, name: &str, text: &str) {
        std::fs::write(self.folder.path().join(name), text).unwrap();
    }
}
