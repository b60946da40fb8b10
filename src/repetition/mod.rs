//! From the course of the body's height to reps, attempts and their events.

mod events;
mod find;

pub use events::Events;
pub use find::{Attempt, Course, Found};
