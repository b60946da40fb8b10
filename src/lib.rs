//! plumbrise (draft)
pub mod error;
pub mod files;
#[cfg(feature = "network")]
pub mod pipeline;
pub mod pose;
pub mod record;
pub mod settings;
#[path = "series/mod.rs"]
pub mod signal;
pub mod skeleton;
#[cfg(feature = "video")]
pub mod video;
pub use error::{Error, Result};
