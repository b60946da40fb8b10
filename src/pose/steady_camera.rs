//! Does the camera stand still, and does anything move behind? Looks at the background
//! only.

use image::RgbImage;

use super::pictures::{Body, Grey, is_background};

/// Columns of the reduced picture that is compared.
const COLUMNS: usize = 96;
/// Largest shift looked for, reduced pixels.
const REACH: isize = 4;
/// A shift of more than this share of the picture's width is a moved camera
/// (design choice: at 3 m and 720 px it is about 2 cm at the person, more than
/// hand shake, less than a knock against the phone).
const MOVED: f64 = 0.015;

/// Misfit must rise by this much per cell for parts of a cell to mean anything, levels
/// (design choice: a few times what noise leaves in the mean of a thousand cells).
const MIN_SLOPE: f64 = 0.3;
/// Looks needed to tell how far the picture wanders (design choice).
const MIN_LOOKS: usize = 5;

/// A cell has changed if it leaves the range of its neighbourhood in the first look by
/// this much, levels (design choice: shaking and noise stay inside).
const CHANGED_LEVELS: f32 = 30.0;
/// Something large: this share of the background has changed (design choice: the upper body of a
/// person 1.5 times as far away as the subject is about 2 %), in so many looks on end.
const CHANGED: f64 = 0.01;
const CHANGED_LOOKS: usize = 3;
/// What stays longer than this is a change, not a movement, seconds (design choice).
const LASTING_S: f64 = 30.0;

/// Compares each look with the first.
#[derive(Default)]
pub struct Steadiness {
    first: Option<Thumb>,
    shifts: Vec<(f64, Shift)>,
    /// Time, seconds, and share of the background that has changed.
    changes: Vec<(f64, f64)>,
}

/// Where a picture lies against the first, shares of the picture's width.
struct Shift {
    /// The whole cells that decide whether the camera moved.
    size: f64,
    /// Finer than a cell, across and down; `None` where the picture does not tell.
    fine: Option<(f64, f64)>,
}

/// A reduced grey picture and which of its cells show background.
struct Thumb {
    rows: usize,
    grey: Vec<f32>,
    background: Vec<bool>,
    /// Row of the lowest hips; the whole height with nobody there.
    floor_row: usize,
}

impl Steadiness {
    pub(super) fn look(&mut self, picture: &RgbImage, time_s: f64, people: &[Body]) {
        let Some(now) = Thumb::new(picture, people) else { return };
        match &self.first {
            None => self.first = Some(now),
            Some(first) => {
                if let Some(shift) = first.shift_to(&now) {
                    if shift.size <= MOVED {
                        self.changes.push((time_s, first.changed_to(&now)));
                    }
                    self.shifts.push((time_s, shift));
                }
            }
        }
    }

    /// How far the picture wanders about its usual place while the camera is where it began:
    /// exceeded in a twentieth of the looks, shares of its width; `None` where the
    /// background does not tell.
    pub(super) fn wander(&self) -> Option<f64> {
        let moved = self.moved_s();
        let in_place = |t: f64| moved.iter().all(|(from, to)| t < *from || t > *to);
        let looks = self.shifts.iter().filter(|(time_s, _)| in_place(*time_s));
        let fine: Vec<(f64, f64)> = looks.filter_map(|(_, s)| s.fine).collect();
        if fine.len() < MIN_LOOKS {
            return None;
        }
        let (across, down): (Vec<f64>, Vec<f64>) = fine.iter().copied().unzip();
        let home = (crate::signal::median(&across)?, crate::signal::median(&down)?);
        let away: Vec<f64> = fine.iter().map(|(x, y)| (x - home.0).hypot(y - home.1)).collect();
        crate::signal::percentile(&away, 95.0)
    }

    /// Spans in which something large moves in the background, seconds.
    pub(super) fn movement_behind_s(&self) -> Vec<(f64, f64)> {
        crate::signal::runs(&self.changes, |(_, share)| *share > CHANGED)
            .into_iter()
            .filter(|run| run.len() >= CHANGED_LOOKS)
            .map(|run| (self.changes[run.start].0, self.changes[run.end - 1].0))
            .filter(|(from, to)| to - from < LASTING_S)
            .collect()
    }

    /// Spans with the camera away from where it began, seconds. One look alone
    /// is not believed.
    pub(super) fn moved_s(&self) -> Vec<(f64, f64)> {
        crate::signal::runs(&self.shifts, |(_, shift)| shift.size > MOVED)
            .into_iter()
            .filter(|run| run.len() >= 2)
            .map(|run| (self.shifts[run.start].0, self.shifts[run.end - 1].0))
            .collect()
    }
}

impl Thumb {
    fn new(picture: &RgbImage, people: &[Body]) -> Option<Self> {
        let (width, height) = (picture.width() as usize, picture.height() as usize);
        let cell = width / COLUMNS;
        let rows = height.checked_div(cell)?;
        if rows <= 2 * REACH as usize {
            return None;
        }
        let picture = Grey::of(picture, (0, 0), (COLUMNS * cell, rows * cell), cell);
        let cells = (0..rows).flat_map(|row| (0..COLUMNS).map(move |column| (column, row)));
        let grey = cells.clone().map(|(column, row)| picture.at(column, row)).collect();
        let background =
            cells.map(|(column, row)| is_background(column * cell, row * cell, people)).collect();
        let floor_px = people.iter().map(|p| p.hips_px.y).reduce(f64::max);
        let floor_row = floor_px.map_or(rows, |px| (px.max(0.0) as usize / cell).min(rows));
        Some(Self { rows, grey, background, floor_row })
    }

    /// Share of the background above the people's hips that has changed; light that changes
    /// everywhere alike does not count.
    fn changed_to(&self, other: &Self) -> f64 {
        let rows = self.floor_row.min(other.floor_row).min(self.rows - 1);
        let seen: Vec<usize> = (1..rows)
            .flat_map(|row| (1..COLUMNS - 1).map(move |column| row * COLUMNS + column))
            .filter(|cell| self.background[*cell] && other.background[*cell])
            .collect();
        let brighter: Vec<f64> =
            seen.iter().map(|c| f64::from(other.grey[*c] - self.grey[*c])).collect();
        let Some(everywhere) = crate::signal::median(&brighter) else { return 0.0 };
        let changed = |cell: &&usize| {
            let now = other.grey[**cell] - everywhere as f32;
            let around = [**cell - COLUMNS, **cell, **cell + COLUMNS]
                .into_iter()
                .flat_map(|middle| &self.grey[middle - 1..=middle + 1]);
            let (low, high) =
                around.fold((f32::INFINITY, f32::NEG_INFINITY), |(l, h), g| (l.min(*g), h.max(*g)));
            now < low - CHANGED_LEVELS || now > high + CHANGED_LEVELS
        };
        seen.iter().filter(changed).count() as f64 / seen.len().max(1) as f64
    }

    /// The best whole-picture shift; `None` where there is too little background or too
    /// little drawn on it to tell.
    fn shift_to(&self, other: &Self) -> Option<Shift> {
        let misfit = |dx: isize, dy: isize| -> Option<f64> {
            let (mut sum, mut count) = (0.0f64, 0usize);
            for row in REACH..self.rows as isize - REACH {
                for column in REACH..COLUMNS as isize - REACH {
                    let a = row as usize * COLUMNS + column as usize;
                    let b = (row + dy) * COLUMNS as isize + column + dx;
                    let b = usize::try_from(b).ok()?;
                    if self.background[a] && *other.background.get(b)? {
                        sum += f64::from((self.grey[a] - other.grey[b]).abs()).min(40.0);
                        count += 1;
                    }
                }
            }
            (count > COLUMNS * self.rows / 10).then(|| sum / count as f64)
        };
        let still = misfit(0, 0)?;
        let mut best = (still, 0, 0);
        for dy in -REACH..=REACH {
            for dx in -REACH..=REACH {
                if let Some(m) = misfit(dx, dy)
                    && m < best.0
                {
                    best = (m, dx, dy);
                }
            }
        }
        // A shift that explains little (light changed, a bare wall) is no shift.
        let (least, dx, dy) = if best.0 < 0.6 * still { best } else { (still, 0, 0) };
        // The misfit of a shifted picture rises by as much per cell on either side: where
        // the two slopes meet is the shift in parts of a cell.
        let vertex = |before: Option<f64>, after: Option<f64>| {
            let (before, after) = (before?, after?);
            let slope = before.max(after) - least;
            (slope > MIN_SLOPE).then(|| 0.5 * (before - after) / slope)
        };
        let across = vertex(misfit(dx - 1, dy), misfit(dx + 1, dy));
        let down = vertex(misfit(dx, dy - 1), misfit(dx, dy + 1));
        let share = |cells: f64| cells / COLUMNS as f64;
        Some(Shift {
            size: share((dx as f64).hypot(dy as f64)),
            fine: across.zip(down).map(|(x, y)| (share(dx as f64 + x), share(dy as f64 + y))),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    fn room(offset: u32) -> RgbImage {
        RgbImage::from_fn(480, 640, |x, y| {
            let checker = ((x + offset) / 60 + y / 60) % 2;
            Rgb([90 + 60 * checker as u8; 3])
        })
    }

    #[test]
    fn a_still_camera_is_still_and_a_pushed_one_is_not() {
        let mut camera = Steadiness::default();
        for look in 0..10 {
            camera.look(&room(0), look as f64, &[]);
        }
        assert!(camera.moved_s().is_empty());
        for look in 10..15 {
            camera.look(&room(15), look as f64, &[]);
        }
        assert_eq!(camera.moved_s(), vec![(10.0, 14.0)]);
    }

    /// Pictures of any size, and of several in one clip.
    #[test]
    fn every_picture_can_be_watched() {
        let sizes = [1, 2, 16, 95, 96, 97, 200, 2000];
        for width in sizes {
            let mut camera = Steadiness::default();
            for (look, height) in sizes.into_iter().cycle().take(40).enumerate() {
                let shade = |x: u32, y: u32| Rgb([((x + look as u32) / 3 * 50 + y) as u8; 3]);
                let body = Body { hips_px: [-5.0, 1e12].into(), radius_px: f64::NAN };
                camera.look(&RgbImage::from_fn(width, height, shade), look as f64, &[body]);
            }
            assert!(camera.wander().is_none_or(f64::is_finite) && camera.moved_s().len() < 40);
        }
    }

    /// A dark figure walks through a still room; afterwards the light goes down everywhere.
    #[test]
    fn somebody_behind_is_a_movement_and_a_cloud_is_not() {
        let mut camera = Steadiness::default();
        for look in 0..30u32 {
            let mut picture = room(0);
            if (10..16).contains(&look) {
                let left = 80 * (look - 10);
                image::imageops::replace(
                    &mut picture,
                    &RgbImage::from_pixel(60, 300, Rgb([20; 3])),
                    i64::from(left),
                    100,
                );
            }
            if look >= 20 {
                picture.pixels_mut().for_each(|p| p.0 = p.0.map(|c| c - 40));
            }
            camera.look(&picture, f64::from(look), &[]);
        }
        assert_eq!(camera.movement_behind_s(), vec![(10.0, 15.0)]);
        assert!(camera.wander().is_some_and(|w| w < 0.001));
    }
}
