//! Register: the journal's entries, the one fold over them, rules, checks and answers.
//!
//! Knows no files, clock, network or database: time, identity and attached bytes come in as arguments.

mod axis_words;
pub mod body;
pub mod canonical;
pub mod chain;
pub mod check;
pub mod dig;
pub mod entry;
pub mod faces;
pub mod hold;
pub mod levels;
mod plan_boxes;
pub mod rules;
pub mod run_record;
pub mod screens;
pub mod service;
pub mod site;
pub mod sizes;
pub mod station;
pub mod time;
mod unshot_words;
pub mod view;
pub mod words;
