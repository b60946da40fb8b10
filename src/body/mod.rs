//! The body as the field describes it: landmarks and sides, and its proportions.

pub mod anthropometry;
mod skeleton;

pub use skeleton::*;
