//! A frame with two axes, and what can be drawn into it, as SVG.
//!
//! Lines and words take the colour of the text around the drawing (`currentColor`,
//! black on paper); what has a colour of its own also has a class, by which a page gives
//! it another at night.

use std::fmt::Write;

use crate::report::font;
use crate::shown;

/// Width of every drawing, in its own units.
pub(super) const WIDTH: f64 = 340.0;
/// Words over lines: a rim in the colour of the ground keeps them apart.
const RIM: &str = "class=\"rim\" stroke=\"#fff\" stroke-width=\"3\" stroke-linejoin=\"round\" paint-order=\"stroke\"";
/// Size of the words.
const FONT: f64 = 11.5;
const LEFT: f64 = 38.0;
const RIGHT: f64 = 8.0;

/// Where a value lies along an axis.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    from: f64,
    to: f64,
    /// From tick to tick.
    step: f64,
}

impl Axis {
    /// From one value to another.
    pub fn new(from: f64, to: f64) -> Self {
        Self { from, to, step: step(from, to) }
    }

    /// Around all values and at least those, to whole steps.
    pub fn around(values: impl Iterator<Item = f64>, at_least: (f64, f64)) -> Self {
        let (from, to) = values
            .filter(|v| v.is_finite())
            .fold(at_least, |(low, high), v| (low.min(v), high.max(v)));
        let step = step(from, to);
        let (from, to) = ((from / step + 1e-9).floor() * step, (to / step - 1e-9).ceil() * step);
        Self { from, to, step }
    }

    fn ticks(self) -> Vec<(f64, String)> {
        let step = self.step;
        let digits = (-(step.log10() + 1e-9).floor()).max(0.0) as usize;
        let first = (self.from / step - 1e-9).ceil() as i64;
        let last = (self.to / step + 1e-9).floor() as i64;
        (first..=last)
            .map(|i| {
                let value = i as f64 * step;
                (value, format!("{value:.digits$}").replace('-', "−"))
            })
            .collect()
    }

    fn share(self, value: f64) -> f64 {
        ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0)
    }
}

/// 1, 2 or 5 times a power of ten: three to six of them make the axis.
fn step(from: f64, to: f64) -> f64 {
    let rough = (to - from).max(1e-9) / 3.0;
    let unit = 10f64.powf(rough.log10().floor());
    [5.0, 2.0, 1.0].into_iter().find(|m| m * unit <= rough).unwrap_or(1.0) * unit
}

/// A drawing under construction, of one or more frames one above the other.
pub(super) struct Drawing {
    svg: String,
    height: f64,
}

/// A frame with axes, from `top` to `bottom` of its drawing.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    /// Across.
    pub x: Axis,
    /// Up.
    pub y: Axis,
    top: f64,
    bottom: f64,
}

impl Frame {
    /// Column of a value.
    pub fn column(&self, x: f64) -> f64 {
        LEFT + self.x.share(x) * (WIDTH - LEFT - RIGHT)
    }

    /// Row of a value.
    pub fn row(&self, y: f64) -> f64 {
        self.bottom - self.y.share(y) * (self.bottom - self.top)
    }
}

impl Drawing {
    /// An empty one of that height.
    pub fn new(height: f64) -> Self {
        let svg = format!(
            "<g font-family=\"{}, system-ui, sans-serif\" font-size=\"{FONT}\" \
             fill=\"currentColor\">",
            font::FAMILY
        );
        Self { svg, height }
    }

    /// Adds a frame: ticks, faint lines and the unit on top of the upright axis; names
    /// along the level axis where `named`.
    pub fn frame(&mut self, (top, bottom): (f64, f64), x: Axis, y: Axis, unit: &str) -> Frame {
        let frame = Frame { x, y, top, bottom };
        let (left, right) = (LEFT, WIDTH - RIGHT);
        for (value, name) in y.ticks() {
            let row = frame.row(value);
            self.put(format_args!(
                "<path class=\"grid\" d=\"M{left} {row:.1}H{right}\" stroke=\"#b8bec4\" \
                 stroke-width=\".6\"/><text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{name}</text>",
                left - 5.0,
                row + 4.0
            ));
        }
        self.put(format_args!(
            "<text x=\"2\" y=\"{:.1}\" font-weight=\"600\">{unit}</text>",
            top - 9.0
        ));
        frame
    }

    /// Ticks and unit below a frame.
    pub fn level_axis(&mut self, frame: &Frame, unit: &str, whole: bool) {
        let bottom = frame.bottom;
        self.put(format_args!(
            "<path d=\"M{LEFT} {bottom}H{}\" stroke=\"currentColor\" stroke-width=\"1\"/>",
            WIDTH - RIGHT
        ));
        let last = WIDTH - RIGHT - 7.0 * unit.chars().count() as f64;
        for (value, name) in frame.x.ticks() {
            let column = frame.column(value);
            if whole && value.fract().abs() > 1e-6 {
                continue;
            }
            let name = if whole { format!("{value:.0}") } else { name };
            self.put(format_args!("<path d=\"M{column:.1} {bottom}v4\" stroke=\"currentColor\"/>"));
            if column < last - 8.0 {
                self.put(format_args!(
                    "<text x=\"{column:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{name}</text>",
                    bottom + 16.0
                ));
            }
        }
        self.put(format_args!(
            "<text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\" font-weight=\"600\">{unit}</text>",
            WIDTH - RIGHT,
            bottom + 16.0
        ));
    }

    /// A course with its standard error around it; a gap where a value is missing.
    pub fn course(&mut self, frame: &Frame, points: &[(f64, Option<f64>, Option<f64>)]) {
        for run in points.split(|p| p.1.is_none()).filter(|run| run.len() > 1) {
            let place = |x: f64, y: f64| (frame.column(x), frame.row(y));
            let known: Vec<_> =
                run.iter().filter_map(|(x, y, e)| Some((*x, (*y)?, (*e)?))).collect();
            if known.len() > 1 {
                let upper = known.iter().map(|(x, y, e)| place(*x, y + e));
                let lower = known.iter().rev().map(|(x, y, e)| place(*x, y - e));
                let d = path(upper.chain(lower));
                self.put(format_args!(
                    "<path class=\"error\" d=\"{d}Z\" fill=\"#0072b2\" fill-opacity=\".22\"/>"
                ));
            }
            let d = path(run.iter().filter_map(|(x, y, _)| Some(place(*x, (*y)?))));
            self.put(format_args!(
                "<path class=\"course\" d=\"{d}\" fill=\"none\" stroke=\"#0072b2\" \
                 stroke-width=\"2\" stroke-linejoin=\"round\"/>"
            ));
        }
    }

    /// Everything up to `y` is allowed: a tinted ground and a dashed line with its name.
    pub fn allowed(&mut self, frame: &Frame, y: f64, name: &str) {
        self.ground(frame.row(y), frame.bottom);
        self.limit(frame, y, name, false);
    }

    /// A dashed line with its name, at its beginning or at its end.
    pub fn limit(&mut self, frame: &Frame, y: f64, name: &str, at_end: bool) {
        let row = frame.row(y);
        let (column, anchor) =
            if at_end { (WIDTH - RIGHT - 3.0, "end") } else { (LEFT + 3.0, "start") };
        self.put(format_args!(
            "<path class=\"limit\" d=\"M{LEFT} {row:.1}h{}\" \
             stroke=\"#d55e00\" stroke-width=\"1.6\" stroke-dasharray=\"6 3\"/>\
             <text {RIM} x=\"{column:.1}\" y=\"{:.1}\" text-anchor=\"{anchor}\">{name}</text>",
            WIDTH - LEFT - RIGHT,
            row - 4.0
        ));
    }

    /// A tinted ground from one value to another, with its name above the frame.
    pub fn band(&mut self, frame: &Frame, (low, high): (f64, f64), name: &str) {
        self.ground(frame.row(high), frame.row(low));
        let (column, row) = (WIDTH - RIGHT - 64.0, frame.top - 21.0);
        self.put(format_args!(
            "<rect class=\"allowed\" x=\"{column:.1}\" y=\"{row:.1}\" width=\"14\" height=\"12\" \
             fill=\"#56b4e9\" fill-opacity=\".3\"/><text x=\"{:.1}\" y=\"{:.1}\">{name}</text>",
            column + 19.0,
            row + 10.0
        ));
    }

    fn ground(&mut self, from: f64, to: f64) {
        self.put(format_args!(
            "<rect class=\"allowed\" x=\"{LEFT}\" y=\"{from:.1}\" width=\"{}\" height=\"{:.1}\" \
             fill=\"#56b4e9\" fill-opacity=\".16\"/>",
            WIDTH - LEFT - RIGHT,
            to - from
        ));
    }

    /// An upright line at a moment.
    pub fn moment(&mut self, frame: &Frame, x: f64) {
        self.put(format_args!(
            "<path d=\"M{:.1} {:.1}V{:.1}\" stroke=\"currentColor\" stroke-width=\".9\" \
             stroke-dasharray=\"2 2\"/>",
            frame.column(x),
            frame.top - 4.0,
            frame.bottom
        ));
    }

    /// A word above a frame, over a span; left out where it does not fit.
    pub fn span_name(&mut self, frame: &Frame, (from, to): (f64, f64), name: &str) {
        let (a, b) = (frame.column(from), frame.column(to));
        if b - a > 6.2 * name.chars().count() as f64 {
            self.put(format_args!(
                "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{name}</text>",
                (a + b) / 2.0,
                frame.top - 9.0
            ));
        }
    }

    /// A ring with a word beside it.
    pub fn ring(&mut self, frame: &Frame, (x, y): (f64, f64), name: &str) {
        let (column, row) = (frame.column(x), frame.row(y));
        let left = column > WIDTH * 0.7;
        let (anchor, aside) = if left { ("end", -7.0) } else { ("start", 7.0) };
        self.put(format_args!(
            "<circle cx=\"{column:.1}\" cy=\"{row:.1}\" r=\"4\" fill=\"none\" stroke=\"currentColor\" \
             stroke-width=\"1.6\"/><text {RIM} x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"{anchor}\" \
             font-weight=\"600\">{name}</text>",
            column + aside,
            (row - 5.0).max(frame.top + 8.0)
        ));
    }

    /// A sign with an error bar.
    pub fn sign(&mut self, frame: &Frame, sign: Sign, (x, y): (f64, f64), error: Option<f64>) {
        let column = frame.column(x);
        if let Some(error) = error {
            self.put(format_args!(
                "<path d=\"M{column:.1} {:.1}V{:.1}\" stroke=\"currentColor\" stroke-width=\"1\"/>",
                frame.row(y - error),
                frame.row(y + error)
            ));
        }
        self.draw(sign, column, frame.row(y));
    }

    /// The sign of what is not known, at the foot of a frame.
    pub fn unknown(&mut self, frame: &Frame, x: f64) {
        self.draw(Sign::Unknown, frame.column(x), frame.bottom - 7.0);
    }

    /// A sign with its meaning, above a frame.
    pub fn key(&mut self, frame: &Frame, column: f64, sign: Sign, meaning: &str) {
        let row = frame.top - 13.0;
        self.draw(sign, column, row);
        self.put(format_args!(
            "<text x=\"{:.1}\" y=\"{:.1}\">{meaning}</text>",
            column + 8.0,
            row + 4.0
        ));
    }

    fn draw(&mut self, sign: Sign, column: f64, row: f64) {
        let at = format!("transform=\"translate({column:.1} {row:.1})\" stroke-width=\"1.4\"");
        match sign {
            Sign::Dot => self.put(format_args!(
                "<circle {at} class=\"sign\" r=\"3.6\" fill=\"#0072b2\" stroke=\"#0072b2\"/>"
            )),
            Sign::Diamond => self.put(format_args!(
                "<path {at} class=\"past\" d=\"M0-5.6 5.6 0 0 5.6-5.6 0Z\" fill=\"#d55e00\" stroke=\"#d55e00\"/>"
            )),
            Sign::Up => self.put(format_args!(
                "<path {at} class=\"sign\" d=\"M0-4.6 4.6 3.6H-4.6Z\" fill=\"#0072b2\" stroke=\"#0072b2\"/>"
            )),
            Sign::Down => self.put(format_args!(
                "<path {at} d=\"M0 4.6 4.6-3.6H-4.6Z\" fill=\"none\" stroke=\"currentColor\"/>"
            )),
            Sign::Unknown => self.put(format_args!(
                "<text x=\"{column:.1}\" y=\"{:.1}\" text-anchor=\"middle\">?</text>",
                row + 4.0
            )),
        }
    }

    fn put(&mut self, piece: std::fmt::Arguments) {
        // Writing into memory does not fail.
        let _ = self.svg.write_fmt(piece);
    }

    /// The SVG file; `name` is what a screen reader says.
    pub fn finish(self, name: &str) -> String {
        let Self { svg, height } = self;
        let name = shown::in_xml(name);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" \
             width=\"{WIDTH}\" height=\"{height}\" role=\"img\" aria-label=\"{name}\">{svg}</g></svg>"
        )
    }
}

/// What a value of a rep is drawn as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sign {
    Dot,
    Diamond,
    Up,
    Down,
    Unknown,
}

fn path(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut d = String::new();
    for (i, (x, y)) in points.enumerate() {
        let _ = write!(d, "{}{x:.1} {y:.1}", if i == 0 { "M" } else { "L" });
    }
    d
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_end_at_whole_steps_and_have_three_to_seven_ticks() {
        for (from, to) in [(0.0, 0.37), (-1.2, 5.3), (0.0, 22.0), (0.8, 0.81), (-0.6, 0.5)] {
            let axis = Axis::around([from, to].into_iter(), (from, to));
            assert!(axis.from <= from && axis.to >= to, "{axis:?}");
            let ticks = axis.ticks();
            assert!((3..=9).contains(&ticks.len()), "{from} {to}: {ticks:?}");
            assert!((ticks[0].0 - axis.from).abs() < 1e-9, "{ticks:?}");
        }
    }
}
