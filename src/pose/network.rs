//! The only file that knows ONNX Runtime.

use std::path::Path;
use std::sync::{Mutex, PoisonError};

use image::RgbImage;
use nalgebra::Point2;
use ndarray::Array4;
use ort::environment::Environment;
use ort::session::Session;
use ort::session::builder::GraphOptimizationLevel;
use ort::value::TensorRef;

use super::assets::Assets;
use super::crop::{Outside, Pyramid};
use super::detection::{self, Seen, anchors};
use super::landmark_output::{self, Located, RawAnswer};
use super::region::Region;
use crate::error::{Error, Result};
use crate::record::landmarks::Pose;

/// Both networks, ready to run.
pub struct Networks {
    /// Finds people in a whole picture.
    pub detector: Detector,
    /// One for each lane of [`crate::pipeline`].
    pub landmarkers: Vec<Landmarker>,
}

/// The person detector.
pub struct Detector {
    session: Session,
    anchors: Vec<Point2<f64>>,
}

/// The landmark network.
pub struct Landmarker {
    session: Session,
}

/// Below this probability the landmark network sees nobody in its square
/// (reference pipeline).
const MIN_PRESENCE: f32 = 0.5;

/// The library's environment. A process may make one, once; whoever loads networks, at the
/// same time or later, shares it.
static ENVIRONMENT: Mutex<Option<Environment>> = Mutex::new(None);

fn environment(assets: &Assets) -> Result<Environment> {
    // A panic elsewhere does not make it worse.
    let mut made = ENVIRONMENT.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(environment) = &*made {
        return Ok(environment.clone());
    }
    let library = assets.quiet_library()?;
    let unusable =
        |why: String| Error::RuntimeUnusable { path: library.into(), why: one_line(&why) };
    let environment = ort::init_from(library)
        .map_err(|e| unusable(e.to_string()))?
        .with_telemetry(false)
        .build()
        .map_err(|e| unusable(e.to_string()))?;
    Ok(made.insert(environment).clone())
}

impl Networks {
    /// Loads the library, verifies the model files' checksums and loads them,
    /// the landmark network `lanes` times.
    ///
    /// # Errors
    /// [`Error::RuntimeReports`], [`Error::RuntimeUnusable`], [`Error::ModelDiffers`],
    /// [`Error::Network`].
    pub fn load(assets: &Assets, lanes: usize) -> Result<Self> {
        let environment = environment(assets)?;
        let detector = assets.verified("pose_detector")?;
        let landmarker = assets.verified("pose_landmarks_heavy")?;
        Ok(Self {
            detector: Detector { session: session(&environment, &detector)?, anchors: anchors() },
            landmarkers: (0..lanes)
                .map(|_| Ok(Landmarker { session: session(&environment, &landmarker)? }))
                .collect::<Result<_>>()?,
        })
    }
}

impl Detector {
    /// Everybody in the picture, picture pixels.
    ///
    /// # Errors
    /// [`Error::Network`].
    pub fn look(&mut self, picture: &RgbImage) -> Result<Seen> {
        let square = Region::whole_picture(picture.width(), picture.height());
        let mut values = Pyramid::new(picture).square(&square, detection::INPUT_PX, Outside::Black);
        for v in &mut values {
            *v = *v / 127.5 - 1.0;
        }
        let input = square_input(values, detection::INPUT_PX)?;
        let tensor = TensorRef::from_array_view(&input).map_err(failed)?;
        let answer = self.session.run(ort::inputs![tensor]).map_err(failed)?;
        let (_, boxes) = answer["boxes"].try_extract_tensor::<f32>().map_err(failed)?;
        let (_, scores) = answer["scores"].try_extract_tensor::<f32>().map_err(failed)?;
        Ok(detection::decode(&self.anchors, boxes, scores, &square))
    }
}

impl Landmarker {
    /// The landmarks of the person in `region`; `None` if nobody is there.
    pub(super) fn locate(
        &mut self,
        picture: &RgbImage,
        region: &Region,
    ) -> Result<Option<Located>> {
        let mut values =
            Pyramid::new(picture).square(region, landmark_output::INPUT_PX, Outside::Replicate);
        for v in &mut values {
            *v /= 255.0;
        }
        let input = square_input(values, landmark_output::INPUT_PX)?;
        let tensor = TensorRef::from_array_view(&input).map_err(failed)?;
        let answer = self.session.run(ort::inputs![tensor]).map_err(failed)?;
        let output = |name: &str| -> Result<&[f32]> {
            Ok(answer[name].try_extract_tensor::<f32>().map_err(failed)?.1)
        };
        if output("presence")?.first().is_none_or(|p| *p <= MIN_PRESENCE) {
            return Ok(None);
        }
        let raw = RawAnswer {
            landmarks: output("landmarks")?,
            world: output("world_landmarks")?,
            heatmap: output("heatmap")?,
        };
        Ok(Some(landmark_output::decode(&raw, region)))
    }

    /// The pose of the person in `region` (picture pixels), for one still
    /// picture; `None` if nobody is there.
    ///
    /// # Errors
    /// [`Error::Network`].
    pub fn pose_in(&mut self, picture: &RgbImage, region: &Region) -> Result<Option<Pose>> {
        Ok(self.locate(picture, region)?.map(|l| l.pose))
    }
}

fn session(environment: &Environment, model: &Path) -> Result<Session> {
    let build = || -> Result<Session, ort::Error> {
        Session::builder(environment)?
            // ALL: lower levels are two to three times slower on these networks.
            .with_optimization_level(GraphOptimizationLevel::All)?
            .with_intra_threads(1)?
            .with_inter_threads(1)?
            .commit_from_file(model)
    };
    build().map_err(failed)
}

fn square_input(values: Vec<f32>, side: usize) -> Result<Array4<f32>> {
    Array4::from_shape_vec((1, side, side, 3), values).map_err(|e| Error::Network(e.to_string()))
}

fn failed(error: ort::Error) -> Error {
    Error::Network(one_line(&error.to_string()))
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
