//! A site as screens show it: its state, its plan, a run's card, and the book.

mod anew;
mod book;
mod card;
mod ellipse;
mod map;
mod point;
mod state;
mod stations;

pub use book::{Who, entry_view};
pub use stations::{levels_view, station_view};

#[cfg(test)]
mod tests;
