//! Seconds of movement from the timestamps of decoded frames.

use super::frame::ClipInfo;

/// The longest pause that stays one, seconds (design choice: a rest between reps, a
/// recording that was halted for a moment). What is longer is a jump of the clock.
const LONGEST_PAUSE_S: f64 = 60.0;
/// A timestamp that is less far back is that of a frame out of order, seconds (design
/// choice: players keep frames within a few of their place).
const OUT_OF_ORDER_S: f64 = 1.0;
/// What a jump of the clock counts as, seconds: longer than any gap that is bridged, so that
/// no movement is seen across it (design choice).
const JUMP_S: f64 = 1.0;

/// Follows the timestamps as long as they make sense; its time always advances, and by no
/// more than [`LONGEST_PAUSE_S`] a frame.
pub(super) struct Clock {
    seconds_per_tick: f64,
    nominal_interval_s: f64,
    first_tick: Option<i64>,
    /// From the file's time to ours, seconds; changes where the file's clock jumps.
    offset_s: f64,
    last_s: f64,
    /// Time by the last timestamp, if it led astray: the next one tells whether it was
    /// wrong by itself or the clock jumped.
    astray_s: Option<f64>,
    count: usize,
    strays: usize,
    jumps_s: Vec<f64>,
    intervals_s: Vec<f32>,
}

impl Clock {
    pub(super) fn new(time_base_s: f64, info: &ClipInfo) -> Self {
        let hz = if info.announced_hz > 0.0 { info.announced_hz } else { 30.0 };
        Self {
            seconds_per_tick: time_base_s * info.time_factor,
            nominal_interval_s: info.time_factor / hz,
            first_tick: None,
            offset_s: 0.0,
            last_s: 0.0,
            astray_s: None,
            count: 0,
            strays: 0,
            jumps_s: Vec::new(),
            intervals_s: Vec::new(),
        }
    }

    /// Index and time of the next frame. A missing timestamp, or one that does not advance
    /// or leads astray, is replaced by one nominal interval after the last. Two in a row
    /// that lead to the same place are a jump.
    pub(super) fn tick(&mut self, timestamp: Option<i64>) -> (usize, f64) {
        let index = self.count;
        self.count += 1;
        if index == 0 {
            self.first_tick = timestamp;
            return (0, 0.0);
        }
        let stamped_s = timestamp
            .zip(self.first_tick)
            .map(|(now, first)| now.saturating_sub(first) as f64 * self.seconds_per_tick)
            .map(|file_s| file_s + self.offset_s);
        let ahead_s = stamped_s.map_or(0.0, |stamped_s| stamped_s - self.last_s);
        let before_s = self.astray_s.take();
        let now_s = match stamped_s {
            Some(stamped_s) if advances(ahead_s) => stamped_s,
            Some(stamped_s) if !(-OUT_OF_ORDER_S..=0.0).contains(&ahead_s) => {
                if before_s.is_some_and(|before_s| advances(stamped_s - before_s)) {
                    self.strays -= 1;
                    self.jumps_s.push(self.last_s);
                    self.offset_s += JUMP_S - ahead_s;
                    self.last_s + JUMP_S
                } else {
                    self.strays += 1;
                    self.astray_s = Some(stamped_s);
                    self.last_s + self.nominal_interval_s
                }
            }
            _ => self.last_s + self.nominal_interval_s,
        };
        self.intervals_s.push((now_s - self.last_s) as f32);
        self.last_s = now_s;
        (index, now_s)
    }

    /// Frames so far.
    pub(super) fn count(&self) -> usize {
        self.count
    }

    /// Timestamps that were wrong by themselves.
    pub(super) fn strays(&self) -> usize {
        self.strays
    }

    /// When the file's clock jumped, back or by more than [`LONGEST_PAUSE_S`] ahead, seconds.
    pub(super) fn jumps_s(&self) -> &[f64] {
        &self.jumps_s
    }

    /// Time of the last frame, seconds.
    pub(super) fn last_s(&self) -> f64 {
        self.last_s
    }

    /// Usual time from frame to frame.
    pub(super) fn median_interval_s(&mut self) -> f64 {
        let middle = self.intervals_s.len() / 2;
        if self.intervals_s.is_empty() {
            return self.nominal_interval_s;
        }
        f64::from(*self.intervals_s.select_nth_unstable_by(middle, f32::total_cmp).1)
    }
}

fn advances(by_s: f64) -> bool {
    by_s > 0.0 && by_s <= LONGEST_PAUSE_S
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 30 frames per second, a tick a millisecond, recorded `slower` times as fast.
    fn clock(slower: f64) -> Clock {
        let info = ClipInfo {
            width_px: 1,
            height_px: 1,
            announced_frames: None,
            announced_hz: 30.0,
            time_factor: 1.0 / slower,
            hdr: false,
            recorded_at: None,
        };
        Clock::new(0.001, &info)
    }

    /// Times that the stamps lead to, milliseconds.
    fn times(clock: &mut Clock, stamps: impl IntoIterator<Item = i64>) -> Vec<i64> {
        let ms = |(_, time_s): (usize, f64)| (1000.0 * time_s).round() as i64;
        stamps.into_iter().map(|stamp| ms(clock.tick(Some(stamp)))).collect()
    }

    #[test]
    fn the_clock_follows_timestamps_and_survives_bad_ones() {
        let mut clock = clock(8.0);
        assert_eq!(clock.tick(Some(100)), (0, 0.0));
        let (_, t) = clock.tick(Some(133));
        assert!((t - 0.033 / 8.0).abs() < 1e-12, "slow motion: file time / 8");
        let (_, repeated) = clock.tick(Some(133));
        assert!((repeated - t - 1.0 / 240.0).abs() < 1e-12);
        let (index, unstamped) = clock.tick(None);
        assert!((unstamped - repeated - 1.0 / 240.0).abs() < 1e-12 && index == 3);
    }

    #[test]
    fn a_pause_stays_a_pause_and_frames_out_of_order_are_no_jump() {
        let mut clock = clock(1.0);
        let stamps = [0, 33, 67, 60_000, 60_033, 60_000, 60_100];
        assert_eq!(times(&mut clock, stamps), [0, 33, 67, 60_000, 60_033, 60_066, 60_100]);
        assert!(clock.jumps_s().is_empty() && clock.strays() == 0);
    }

    /// One wrong timestamp, near the greatest there is or before the first, moves nothing.
    #[test]
    fn a_single_timestamp_that_leaps_is_wrong() {
        for wrong in [1_500_000, i64::MAX, -2_000, i64::MIN] {
            let mut clock = clock(1.0);
            let told = times(&mut clock, [0, 33, 67, wrong, 133, 167]);
            assert_eq!(told, [0, 33, 67, 100, 133, 167], "{wrong}");
            assert!(clock.jumps_s().is_empty() && clock.strays() == 1);
        }
    }

    /// A clock that goes on elsewhere, as after a fault or where clips were joined: a gap of
    /// a second, then its own pace again.
    #[test]
    fn a_clock_that_goes_on_elsewhere_has_jumped() {
        for elsewhere in [1_500_000, 1_500_000_000, -40_000] {
            let mut clock = clock(1.0);
            let stamps = [0, 33, 67, 100].into_iter();
            let stamps = stamps.chain([0, 33, 67, 100].map(|stamp| elsewhere + stamp));
            let told = times(&mut clock, stamps);
            assert_eq!(told, [0, 33, 67, 100, 133, 1133, 1167, 1200], "{elsewhere}");
            assert_eq!((clock.jumps_s().len(), clock.strays()), (1, 0));
        }
    }

    /// Whatever the timestamps: time advances, and by no more than the longest pause a frame.
    #[test]
    fn time_advances_whatever_the_timestamps_say() {
        let mut clock = clock(1.0);
        let mut state = 1u64;
        let mut last_s = -1.0;
        for _ in 0..20_000 {
            // Numbers without a pattern (Knuth's MMIX generator), of every size.
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            let (_, time_s) = clock.tick(Some((state as i64) >> (state % 61)));
            assert!(time_s > last_s && time_s - last_s <= LONGEST_PAUSE_S + 1e-6, "{time_s}");
            last_s = time_s;
        }
        assert!(clock.median_interval_s() > 0.0);
    }
}
