//! Parameters of the algorithms, each with its reason. Limits of good form are
//! not here: they are data, in `criteria/default.toml`.

/// Frames closer than this are passed over by the pose stage, per second.
/// 60/s shows a free drop of 5 cm (0.101 s) in six frames; more would cost
/// time and add nothing a 6 Hz filter keeps.
pub const MAX_ANALYSED_HZ: f64 = 62.0;

/// Landmark networks at work side by side, each following every n-th frame.
/// A fixed number, not that of the machine's cores: the same clip must give
/// the same numbers everywhere. Two use two cores fully; a second thread inside
/// one network gains less.
pub const LANES: usize = 2;

/// Below this frame rate a single lane follows every frame: with two, each
/// would see the person move too far between its frames.
pub const MIN_HZ_FOR_LANES: f64 = 20.0;
