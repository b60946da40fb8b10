//! Follows the subject through all frames.

use image::RgbImage;
use nalgebra::Point2;

use super::landmark_output::Located;
use super::network::Landmarker;
use super::region::Region;
use super::steady::SteadyPoint;
use super::survey::{MAX_STRAY, Survey};
use crate::error::Result;
use crate::record::landmarks::PoseFrame;
use crate::video::Frame;

/// The landmark network's view of one person, carried from frame to frame.
pub struct Tracker<'a> {
    landmarker: &'a mut Landmarker,
    survey: &'a Survey,
    carried: Option<Region>,
    centre: SteadyPoint,
    scale_point: SteadyPoint,
}

impl<'a> Tracker<'a> {
    /// A tracker that has seen no frame yet.
    pub fn new(landmarker: &'a mut Landmarker, survey: &'a Survey) -> Self {
        Self {
            landmarker,
            survey,
            carried: None,
            centre: SteadyPoint::default(),
            scale_point: SteadyPoint::default(),
        }
    }

    /// The subject's pose in the next frame, clip pixels. First looks where the
    /// last frame suggests, then where the survey saw the subject.
    ///
    /// # Errors
    /// [`crate::Error::Network`].
    pub fn follow(&mut self, frame: &Frame) -> Result<PoseFrame> {
        let scale = frame.clip_px_per_px;
        let expected =
            self.survey.subject_at(frame.time_s).map(|(hips, top)| (hips / scale, top / scale));
        let surveyed = expected.map(|(hips, top)| Region::around_body(hips, top));

        let mut found = None;
        if let Some(region) = self.carried {
            found = self.look(&frame.picture, &region, expected)?;
        }
        if found.is_none() {
            self.forget();
            if let Some(region) = surveyed {
                found = self.look(&frame.picture, &region, expected)?;
            }
        }
        let pose = found.map(|located| {
            self.carry(frame.time_s, &located);
            located.pose.scaled(scale)
        });
        Ok(PoseFrame { index: frame.index, time_s: frame.time_s, pose })
    }

    /// A pose in `region`, if it belongs to the expected person.
    fn look(
        &mut self,
        picture: &RgbImage,
        region: &Region,
        expected: Option<(Point2<f64>, Point2<f64>)>,
    ) -> Result<Option<Located>> {
        let located = self.landmarker.locate(picture, region)?;
        Ok(located.filter(|l| {
            expected.is_none_or(|(hips, top)| {
                (l.pose.hips_px() - hips).norm() < MAX_STRAY * (top - hips).norm()
            })
        }))
    }

    fn carry(&mut self, time_s: f64, located: &Located) {
        let size_px = 2.0 * (located.next_centre_px - located.next_scale_point_px).norm();
        let centre = self.centre.next(time_s, located.next_centre_px, size_px);
        let top = self.scale_point.next(time_s, located.next_scale_point_px, size_px);
        self.carried = Some(Region::around_body(centre, top));
    }

    fn forget(&mut self) {
        self.carried = None;
        self.centre = SteadyPoint::default();
        self.scale_point = SteadyPoint::default();
    }
}
