//! Coverbook: the acts of a person on a register, and the two faces over them, command line and HTTP.
//!
//! [`acts`] loads, folds, answers and appends; [`cli`] and [`http`] only ask it and show what it says.

pub mod acts;
pub mod cli;
pub mod demo;
pub mod http;
