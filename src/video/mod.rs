//! Clip in, upright pictures with true times out; and annotated pictures into a film.
//!
//! | What | How it is treated |
//! |---|---|
//! | containers | those that hold a film whole, by their demuxers: [`container`]; nothing a file names is opened |
//! | codecs | whatever the installed FFmpeg decodes |
//! | rotation and mirroring in the metadata | applied |
//! | variable frame rate | presentation timestamps, seconds from the first frame |
//! | clocks that jump | a gap of a second, [`clock`] |
//! | slow motion marked 30/s | [`Options::recorded_hz`] restores true time |
//! | 8 and 10 bit | converted to 8-bit RGB |
//! | HDR (HLG, PQ) | tone-mapped per channel, [`tone`] |
//! | other colour matrices than BT.601 | ignored: the pose network does not notice |
//! | non-square pixels | stretched to square |
//! | large pictures | reduced to [`Options::long_side_px`], coordinates scaled back |
//! | pictures that change in size | brought to that of the first |
//! | damaged frames | skipped and counted |
//!
//! Decoding runs in a thread of its own and hands over a bounded number of
//! frames, so memory does not grow with the length of the clip; [`Options::stop`] ends
//! it, whatever FFmpeg is at.

mod clock;
mod container;
mod decoder;
mod encoder;
mod frame;
mod tone;

pub use decoder::{FrameStream, Options, probe};
pub use encoder::FilmWriter;
pub use frame::{ClipInfo, Frame};
