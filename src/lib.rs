//! plumbrise (draft)
pub mod anthropometry;
mod assess;
pub mod assessment;
pub mod criteria;
pub mod error;
pub mod files;
pub mod judgement;
pub mod kinematics;
#[cfg(feature = "network")]
pub mod pipeline;
pub mod pose;
pub mod record;
pub mod repetition;
pub mod report;
pub mod session;
pub mod settings;
pub mod signal;
pub mod skeleton;
pub mod trajectory;
#[cfg(feature = "video")]
pub mod video;
#[cfg(feature = "cli")]
pub mod cli;
pub use assess::assess;
pub use error::{Error, Result};
