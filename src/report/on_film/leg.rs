//! The working leg, and the plumb line from its knee to where it is allowed to fall.

use nalgebra::Point2;
use tiny_skia::{
    Color, FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, Rect, Stroke, StrokeDash,
    Transform,
};

use super::unit_px;
use crate::movement::kinematics::{LegInPicture, Plumb};

/// Blue, light blue and vermillion of a set that colour-blind eyes tell apart
/// ([Okabe2008]); shape and words say the same.
const LEG: (u8, u8, u8) = (0, 114, 178);
const ALLOWED: (u8, u8, u8) = (86, 180, 233);
const PAST: (u8, u8, u8) = (213, 94, 0);
const BLACK: (u8, u8, u8) = (0, 0, 0);
const WHITE: (u8, u8, u8) = (255, 255, 255);

/// The knee itself stays free of ink; units.
const KNEE_RING: f32 = 17.0;

/// Draws the leg at sample `at` (between two samples: in between). `past`: the knee is
/// faulted at this moment.
pub(super) fn draw(
    picture: &mut Pixmap,
    leg: &LegInPicture,
    at: f64,
    px: f64,
    limit_m: f64,
    past: bool,
) {
    let place = |course: &[Point2<f64>]| {
        let here = course.get(at as usize)?;
        let next = course.get(at as usize + 1).unwrap_or(here);
        Some((here + (next - here) * at.fract()) * px)
    };
    let (Some(hip), Some(knee), Some(ankle)) =
        (place(&leg.hip_px), place(&leg.knee_px), place(&leg.ankle_px))
    else {
        return;
    };
    if [hip, knee, ankle].iter().any(|p| !(p.x.is_finite() && p.y.is_finite())) {
        return;
    }
    let unit = unit_px(picture);
    let pen = Pen { unit };
    let ring = f64::from(KNEE_RING * unit);

    let plumb =
        leg.plumb.as_ref().and_then(|p| p.get(at.round() as usize)).filter(|p| p.is_whole());
    if let Some(plumb) = plumb {
        pen.allowed(picture, plumb, px, limit_m);
    }
    pen.foot(picture, leg.foot_px.map(|p| p * px));
    for (from, to) in [(knee, hip), (knee, ankle)] {
        let way = to - from;
        if way.norm() > ring {
            let start = from + way.normalize() * ring;
            pen.line(picture, &[start, to], 7.0, LEG, None);
        }
    }
    pen.ring(picture, knee, KNEE_RING, LEG);
    if let Some(plumb) = plumb {
        let floor = plumb.floor_px * px;
        let below = Point2::new(knee.x, knee.y + ring);
        if floor.y > below.y {
            pen.line(picture, &[below, Point2::new(knee.x, floor.y)], 3.0, WHITE, Some(10.0));
        }
        pen.bob(picture, Point2::new(knee.x, floor.y), past);
    }
}

impl Plumb {
    fn is_whole(&self) -> bool {
        [self.floor_px.x, self.floor_px.y, self.axis_px, self.px_per_m]
            .iter()
            .all(|v| v.is_finite())
    }
}

struct Pen {
    unit: f32,
}

impl Pen {
    /// A line with a dark edge, so that it shows on any ground.
    fn line(
        &self,
        picture: &mut Pixmap,
        points: &[Point2<f64>],
        width: f32,
        colour: (u8, u8, u8),
        dash: Option<f32>,
    ) {
        let mut path = PathBuilder::new();
        for (i, p) in points.iter().enumerate() {
            if i == 0 {
                path.move_to(p.x as f32, p.y as f32);
            } else {
                path.line_to(p.x as f32, p.y as f32);
            }
        }
        let Some(path) = path.finish() else { return };
        self.stroke(picture, &path, width, colour, dash);
    }

    fn stroke(
        &self,
        picture: &mut Pixmap,
        path: &Path,
        width: f32,
        colour: (u8, u8, u8),
        dash: Option<f32>,
    ) {
        let edge = if colour == WHITE { BLACK } else { WHITE };
        let mut stroke = Stroke {
            width: (width + 4.0) * self.unit,
            line_cap: if dash.is_some() { LineCap::Butt } else { LineCap::Round },
            line_join: LineJoin::Round,
            ..Stroke::default()
        };
        picture.stroke_path(path, &ink(edge, 200), &stroke, Transform::identity(), None);
        stroke.width = width * self.unit;
        stroke.dash = dash.and_then(|d| StrokeDash::new(vec![d * self.unit; 2], 0.0));
        picture.stroke_path(path, &ink(colour, 255), &stroke, Transform::identity(), None);
    }

    fn ring(&self, picture: &mut Pixmap, centre: Point2<f64>, radius: f32, colour: (u8, u8, u8)) {
        let path = PathBuilder::from_circle(centre.x as f32, centre.y as f32, radius * self.unit);
        if let Some(path) = path {
            self.stroke(picture, &path, 4.0, colour, None);
        }
    }

    /// Where the foot points: a line from the heel beyond the toes with a head.
    fn foot(&self, picture: &mut Pixmap, [heel, toe]: [Point2<f64>; 2]) {
        let way = toe - heel;
        if way.norm() < 1.0 {
            return;
        }
        let tip = toe + way * 0.6;
        let along = way.normalize() * f64::from(13.0 * self.unit);
        let aside = nalgebra::Vector2::new(-along.y, along.x) * 0.6;
        self.line(picture, &[heel, tip], 4.0, LEG, None);
        self.line(picture, &[tip - along + aside, tip, tip - along - aside], 4.0, LEG, None);
    }

    /// The floor over which the plumb line may fall: a band from the outer to the inner
    /// limit, closed by a post at the inner one.
    fn allowed(&self, picture: &mut Pixmap, plumb: &Plumb, px: f64, limit_m: f64) {
        let row = (plumb.floor_px.y * px) as f32;
        let column = |offset_m: f64| ((plumb.axis_px + offset_m * plumb.px_per_m) * px) as f32;
        let (outer, inner) = (column(-limit_m), column(limit_m));
        let half = 9.0 * self.unit;
        let band = Rect::from_ltrb(outer.min(inner), row - half, outer.max(inner), row + half);
        if let Some(band) = band {
            picture.fill_rect(band, &ink(ALLOWED, 150), Transform::identity(), None);
        }
        let post = |x: f32, half: f32| {
            [
                Point2::new(f64::from(x), f64::from(row - half)),
                Point2::new(f64::from(x), f64::from(row + half)),
            ]
        };
        self.line(picture, &post(outer, half), 2.0, WHITE, None);
        self.line(picture, &post(inner, 2.2 * half), 4.0, WHITE, None);
    }

    /// The end of the plumb line: a dot, a filled diamond where the knee is faulted.
    fn bob(&self, picture: &mut Pixmap, at: Point2<f64>, past: bool) {
        let (x, y) = (at.x as f32, at.y as f32);
        let r = self.unit * if past { 15.0 } else { 8.0 };
        let path = if past {
            let mut diamond = PathBuilder::new();
            diamond.move_to(x, y - r);
            diamond.line_to(x + r, y);
            diamond.line_to(x, y + r);
            diamond.line_to(x - r, y);
            diamond.close();
            diamond.finish()
        } else {
            PathBuilder::from_circle(x, y, r)
        };
        let Some(path) = path else { return };
        let (fill, edge) = if past { (PAST, WHITE) } else { (WHITE, BLACK) };
        picture.fill_path(&path, &ink(fill, 255), FillRule::Winding, Transform::identity(), None);
        let stroke = Stroke { width: 3.0 * self.unit, ..Stroke::default() };
        picture.stroke_path(&path, &ink(edge, 255), &stroke, Transform::identity(), None);
    }
}

fn ink((r, g, b): (u8, u8, u8), opacity: u8) -> Paint<'static> {
    let mut paint = Paint { anti_alias: true, ..Paint::default() };
    paint.set_color(Color::from_rgba8(r, g, b, opacity));
    paint
}
