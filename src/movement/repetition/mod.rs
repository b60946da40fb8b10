//! From the course of the body's height to reps, attempts and their events.

mod course;
mod events;
mod find;
mod levels;
#[cfg(test)]
mod made;

pub use course::Course;
pub use events::Events;
pub use find::{Attempt, Cycle, Found};
