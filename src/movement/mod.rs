//! How the body moved: landmarks to courses in metres and degrees ([`kinematics`]), courses
//! to reps and their events ([`repetition`]).

pub mod kinematics;
pub mod repetition;
