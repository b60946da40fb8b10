//! The courses a judgement rests on, as an open table.

use std::io::{self, Write};

use crate::judgement::uncertainty;
use crate::movement::kinematics::{Alignment, Courses, LegInPicture, Quality};
use crate::movement::repetition::Events;
use crate::record::markers::Motion;

/// Courses whose standard error is told sample by sample, and the names of those columns.
const UNCERTAIN: [(&str, &str); 3] = [
    ("pelvis_height_m", "pelvis_height_standard_error_m"),
    ("pelvis_velocity_m_s", "pelvis_velocity_standard_error_m_s"),
    ("knee_offset_m", "knee_offset_standard_error_m"),
];

/// A course: a value a sample, `None` where it is not known.
type Column = Vec<Option<f64>>;

/// Courses on a uniform time grid, ready to be written.
#[derive(Debug, Clone)]
pub struct Trajectories {
    columns: Vec<(&'static str, Column)>,
    quality: Vec<&'static str>,
    phase: Vec<&'static str>,
    rep: Vec<Option<usize>>,
    motion: Motion,
    /// The watched legs as they lie in the film's pictures; none without a film.
    pub legs: Vec<LegInPicture>,
    /// Samples per second.
    pub rate_hz: f64,
}

impl Trajectories {
    /// Gathers the courses; what is not measured stays empty.
    pub(crate) fn new(courses: &Courses, reps: &[Events], motion: Motion) -> Self {
        let Courses { tracks, stance, pelvis, trunk, feet, quality, .. } = *courses;
        let alignment = courses.alignments.iter().find(|a| a.side == stance.side);
        let known = |values: &[f64]| -> Vec<Option<f64>> {
            values
                .iter()
                .zip(&tracks.measured)
                .map(|(v, m)| (*m && v.is_finite()).then_some(*v))
                .collect()
        };
        let frontal = |values: &dyn Fn(&Alignment) -> Vec<f64>| match alignment {
            Some(a) => known(&values(a)),
            None => vec![None; tracks.count],
        };
        let time: Vec<f64> = (0..tracks.count).map(|i| i as f64 / tracks.rate_hz).collect();
        let columns = vec![
            ("time_s", time.iter().map(|t| Some(*t)).collect()),
            ("body_height_share", known(&stance.share())),
            ("pelvis_height_m", known(&pelvis.height_m)),
            ("pelvis_velocity_m_s", known(&pelvis.velocity_m_s)),
            ("knee_offset_m", frontal(&|a| a.knee_offset_m.clone())),
            ("fppa_deg", frontal(&|a| a.fppa_deg.clone())),
            ("fppa_picture_deg", frontal(&|a| a.fppa_picture_deg.clone())),
            ("knee_flexion_deg", frontal(&|a| a.knee_flexion_deg.clone())),
            ("trunk_lateral_lean_deg", known(&trunk.lateral_lean_deg)),
            ("pelvic_drop_deg", known(&trunk.pelvic_drop_deg)),
            ("free_foot_height_m", known(&feet.free_height_m)),
        ];
        let words = |q: &Quality| match q {
            Quality::Good => "good",
            Quality::Occluded => "occluded",
            Quality::OutOfFrame => "out_of_frame",
            Quality::Lost => "lost",
        };
        let (mut phase, mut rep) = (Vec::new(), Vec::new());
        for t in &time {
            let at = reps.iter().position(|r| (r.span_s().0..r.span_s().1).contains(t));
            rep.push(at.map(|i| i + 1));
            let between = if reps.iter().any(Events::from_standing) {
                ["stand", "seated"]
            } else {
                ["seated", "stand"]
            };
            phase.push(match at.map(|i| &reps[i]) {
                None => between[0],
                Some(r) if (r.seat_off_s..r.stand_s).contains(t) => "rise",
                Some(r) if (r.descent_start_s..r.seat_contact_s).contains(t) => "descent",
                Some(_) => between[1],
            });
        }
        let legs = LegInPicture::of(courses);
        Self {
            columns,
            quality: quality.iter().map(words).collect(),
            phase,
            rep,
            motion,
            legs,
            rate_hz: tracks.rate_hz,
        }
    }

    /// What goes on at a moment, by the table's own word: seated, rise, stand or descent.
    pub fn phase_at(&self, time_s: f64) -> &'static str {
        let at = (time_s * self.rate_hz).round().max(0.0) as usize;
        self.phase.get(at).or(self.phase.last()).copied().unwrap_or("seated")
    }

    /// First and last sample of a rep, seconds.
    pub fn rep_s(&self, number: usize) -> Option<(f64, f64)> {
        let own = |of: &Option<usize>| *of == Some(number);
        let (first, last) = (self.rep.iter().position(own)?, self.rep.iter().rposition(own)?);
        Some((first as f64 / self.rate_hz, last as f64 / self.rate_hz))
    }

    /// A course by its name in the table; empty where it is not known.
    pub fn column(&self, name: &str) -> Option<&[Option<f64>]> {
        self.columns.iter().find(|(n, _)| *n == name).map(|(_, values)| values.as_slice())
    }

    /// The courses whose errors are found by trials.
    pub(crate) fn uncertain(mut self) -> Vec<Column> {
        let mut take = |name: &str| {
            let found = self.columns.iter_mut().find(|(n, _)| *n == name);
            found.map_or(Vec::new(), |(_, values)| std::mem::take(values))
        };
        UNCERTAIN.iter().map(|(name, _)| take(name)).collect()
    }

    /// Adds their standard errors, from what the trials gave.
    pub(crate) fn add_errors(&mut self, trials: &[Vec<Column>]) {
        for (i, (course, name)) in UNCERTAIN.iter().enumerate() {
            let each: Vec<&[Option<f64>]> = trials.iter().map(|t| t[i].as_slice()).collect();
            let mut errors = uncertainty::course_error(&each);
            errors.resize(self.phase.len(), None);
            let known = self.column(course).unwrap_or(&[]);
            for (error, _) in errors.iter_mut().zip(known).filter(|(_, value)| value.is_none()) {
                *error = None;
            }
            self.columns.push((name, errors));
        }
    }

    /// Writes the points in three dimensions as a marker file of that name.
    ///
    /// # Errors
    /// What `out` gives.
    pub fn write_motion(&self, file_name: &str, out: &mut dyn Write) -> io::Result<()> {
        self.motion.to_trc().write(file_name, out)
    }

    /// Writes the table as CSV; unknown cells are empty.
    ///
    /// # Errors
    /// What `out` gives.
    pub fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        let mut table = csv::Writer::from_writer(out);
        let names = self.columns.iter().map(|(name, _)| *name);
        table.write_record(names.chain(["rep", "phase", "quality"]))?;
        for i in 0..self.phase.len() {
            let mut row: Vec<String> = self
                .columns
                .iter()
                .map(|(_, values)| values[i].map_or(String::new(), |v| format!("{v:.4}")))
                .collect();
            row.push(self.rep[i].map_or(String::new(), |n| n.to_string()));
            row.extend([self.phase[i].to_owned(), self.quality[i].to_owned()]);
            table.write_record(&row)?;
        }
        table.flush()
    }
}

#[cfg(test)]
mod tests {
    use crate::judgement::assess::tests::judged;
    use crate::movement::kinematics::made::{Body, RATE_HZ, near};

    #[test]
    fn courses_are_told_by_moment_rep_and_name() {
        let judged = judged(&Body::USUAL);
        let (courses, rep) = (&judged.trajectories, &judged.assessment.reps[0]);
        let words = [0.5, 2.3, 3.6, 5.0, 7.5].map(|t| courses.phase_at(t));
        assert_eq!(words, ["seated", "rise", "stand", "descent", "seated"]);
        assert_eq!(courses.phase_at(99.0), "seated");
        let (from_s, to_s) = courses.rep_s(1).unwrap();
        near(from_s, rep.seat_off_s.unwrap(), 1.0 / RATE_HZ);
        near(to_s, rep.seat_contact_s.unwrap(), 1.0 / RATE_HZ);
        assert_eq!(courses.rep_s(2), None);
        let offset_m = courses.column("knee_offset_m").unwrap();
        let peak_cm = rep.knee_offset_peak_cm.unwrap();
        assert!(offset_m.iter().flatten().any(|m| (100.0 * m - peak_cm).abs() < 0.06));
        assert_eq!(courses.column("no_such_course"), None);
        let mut text = Vec::new();
        courses.write(&mut text).unwrap();
        let text = String::from_utf8(text).unwrap();
        assert_eq!(text.lines().count(), 1 + Body::count());
        assert!(text.starts_with("time_s,") && text.contains(",1,rise,good"));
        let height_m = courses.column("pelvis_height_m").unwrap().to_vec();
        let mut with_errors = judged.trajectories;
        let trial = with_errors.clone().uncertain();
        assert!(trial.contains(&height_m), "the courses themselves, taken whole");
        with_errors.add_errors(&vec![trial; 20]);
        // Trials that say the same leave no error.
        let error_m = with_errors.column("knee_offset_standard_error_m").unwrap();
        assert_eq!(error_m.len(), Body::count());
        assert!(error_m.iter().flatten().all(|m| *m == 0.0));
        assert!(error_m.iter().any(Option::is_some));
    }
}
