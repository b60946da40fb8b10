//! How bright the person and the surroundings are.

use image::RgbImage;

use super::{Body, is_background};
use crate::signal;

/// Every so many pixels across and down are looked at: plenty for percentiles. This and
/// the next are design choices.
const STEP: usize = 12;
/// Trunk and face: this far to either side of the hips and up from them, shares of the
/// body's radius. Hardly any background is in it.
const CORE: (f64, f64) = (0.18, 0.75);

/// Luma, 0 black to 255 white, of one picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Light {
    /// Brighter parts of the person's trunk and face (90th percentile): what the light
    /// falls on, as dark clothes and dark skin say little about the light.
    pub person: f64,
    /// Middle of the surroundings.
    pub surroundings: f64,
    /// Brightest parts of the picture (95th percentile).
    pub brightest: f64,
}

/// Reads the light on one person among `people`; `None` where too little of the person
/// or of the surroundings is in the picture.
pub fn read(picture: &RgbImage, person: &Body, people: &[Body]) -> Option<Light> {
    let (mut on_person, mut around, mut all) = (Vec::new(), Vec::new(), Vec::new());
    for v in (0..picture.height() as usize).step_by(STEP) {
        for u in (0..picture.width() as usize).step_by(STEP) {
            let [r, g, b] = picture.get_pixel(u as u32, v as u32).0.map(f64::from);
            let luma = 0.299 * r + 0.587 * g + 0.114 * b;
            all.push(luma);
            let aside = (u as f64 - person.hips_px.x).abs() / person.radius_px.max(1.0);
            let above = (person.hips_px.y - v as f64) / person.radius_px.max(1.0);
            if aside < CORE.0 && (0.0..CORE.1).contains(&above) {
                on_person.push(luma);
            } else if is_background(u, v, people) {
                around.push(luma);
            }
        }
    }
    if on_person.len() < 20 || around.len() < 20 {
        return None;
    }
    Some(Light {
        person: signal::percentile(&on_person, 90.0)?,
        surroundings: signal::median(&around)?,
        brightest: signal::percentile(&all, 95.0)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;
    use nalgebra::Point2;

    /// A grey body before a bright wall: each is read as it was drawn.
    #[test]
    fn person_and_wall_are_told_apart() {
        let body = Body { hips_px: Point2::new(150.0, 200.0), radius_px: 150.0 };
        let picture = RgbImage::from_fn(300, 400, |x, y| {
            let inside = body.reach(f64::from(x), f64::from(y)) < 1.0;
            Rgb([if inside { 60 } else { 220 }; 3])
        });
        let light = read(&picture, &body, &[body]).unwrap();
        assert!((light.person - 60.0).abs() < 0.5 && (light.surroundings - 220.0).abs() < 0.5);
        assert!((light.brightest - 220.0).abs() < 0.5);
        let away = Body { hips_px: Point2::new(-900.0, 200.0), radius_px: 150.0 };
        assert_eq!(read(&picture, &away, &[away]), None);
    }
}
