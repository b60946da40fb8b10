//! What to bear in mind of an assessment, beside the quality of the film.

use crate::film_check::{Because, says};
use crate::judgement::FootWork;
use crate::judgement::criteria::Criteria;
use crate::judgement::document::{Assessment, Origin, Reason, Rep, Rung};
use crate::movement::kinematics::ScaleSource;
use crate::movement::repetition::Cycle;

/// Below this the picture does not tell clearly which leg works (design choice).
const LEG_CLEAR: f64 = 0.4;

/// One thing to bear in mind.
#[derive(Debug, Clone, PartialEq)]
pub enum Note {
    /// Sizes come from the height of the seat.
    ScaleOfSeat,
    /// Sizes come from the network's guess; how far off they may be, %.
    ScaleOfNetwork(f64),
    /// Which leg works was not clear.
    LegUnclear,
    /// Both legs work, and the figures are of the knee that went further inward.
    BothLegs,
    /// The user told another rung than the feet do.
    OtherRung {
        /// As told.
        told: Rung,
        /// By the feet.
        seen: Rung,
    },
    /// Something of this rung is not measured yet.
    NotMeasuredYet,
    /// Rows of a marker file without hips or shoulders.
    RowsMissing {
        /// How many.
        missing: usize,
        /// Of how many.
        of: usize,
    },
    /// Frames in which the person was lost.
    FramesLost {
        /// How many.
        missing: usize,
        /// Of how many.
        of: usize,
    },
    /// What had to be assumed about a marker file.
    Assumed(String),
    /// Reps were counted from stand to stand.
    StandToStand {
        /// A rest on a seat was seen.
        seat_seen: bool,
    },
    /// A descent was under way when the recording began.
    BeginsDescending,
    /// A rise was under way when the recording ended.
    EndsRising,
    /// Read from the points of a film.
    PointsOfAFilm,
    /// The file ends before it should.
    CutShort,
    /// Pieces of the file that were skipped.
    Damaged(usize),
    /// When the film's clock jumped, seconds.
    ClockJumps(Vec<f64>),
    /// Rises that the recording cut off.
    CutOff {
        /// How many.
        rises: usize,
        /// A jump of the clock may have done it.
        jumps: bool,
    },
    /// Reps in which it could not be seen whether hands helped.
    HandsHidden(Vec<usize>),
    /// Limits other than the usual.
    OtherLimits(Vec<&'static str>),
}

/// What to bear in mind; `cut_off`: rises that were not counted for it.
pub(super) fn notes(
    a: &Assessment,
    cut_off: usize,
    feet: &FootWork,
    criteria: &Criteria,
) -> Vec<Note> {
    let filming = &a.filming;
    let mut notes = Vec::new();
    let mut bear = |so: bool, note: Note| {
        if so {
            notes.push(note);
        }
    };
    bear(a.scale.source == ScaleSource::SeatHeight, Note::ScaleOfSeat);
    bear(
        a.scale.source == ScaleSource::NetworkLandmarks,
        Note::ScaleOfNetwork(100.0 * 2.0 * a.scale.relative_uncertainty),
    );
    let unclear = a.told.leg.is_none() && a.leg_clarity < LEG_CLEAR && a.rung != Rung::TwoLeg;
    bear(unclear, Note::LegUnclear);
    bear(a.leg.is_none(), Note::BothLegs);
    if let Some(told) = a.told.rung {
        bear(told != feet.rung(), Note::OtherRung { told, seen: feet.rung() });
    }
    bear(matches!(a.rung, Rung::SplitStance | Rung::Lowering), Note::NotMeasuredYet);
    let (of, missing) = (filming.analysed_frames, filming.analysed_frames - filming.tracked_frames);
    if missing > 0 && a.source == Origin::Markers {
        bear(true, Note::RowsMissing { missing, of });
    } else if missing > 0 {
        bear(!says(&a.film, Because::PersonLost), Note::FramesLost { missing, of });
    }
    for assumed in &filming.assumed {
        bear(true, Note::Assumed(assumed.clone()));
    }
    let from_standing = a.cycle == Cycle::StandToStand;
    bear(from_standing, Note::StandToStand { seat_seen: a.seat_seen });
    let descending = |r: &Rep| r.descent_start_s.is_none() && r.seat_contact_s.is_some();
    bear(from_standing && a.reps.first().is_some_and(descending), Note::BeginsDescending);
    let rising = |r: &Rep| {
        let stand = r.criteria.iter().find(|c| c.criterion == Reason::IncompleteStand);
        stand.is_some_and(|c| c.because == Some(Reason::CutOff))
    };
    bear(a.reps.last().is_some_and(rising), Note::EndsRising);
    bear(a.source == Origin::PointsOfAFilm, Note::PointsOfAFilm);
    bear(filming.cut_short, Note::CutShort);
    bear(filming.damaged > 0, Note::Damaged(filming.damaged));
    let jumps = !filming.clock_jumps_s.is_empty();
    bear(jumps, Note::ClockJumps(filming.clock_jumps_s.clone()));
    bear(cut_off > 0, Note::CutOff { rises: cut_off, jumps });
    let hidden: Vec<usize> =
        a.reps.iter().filter(|r| r.hands_used.is_none()).map(|r| r.number).collect();
    bear(!hidden.is_empty(), Note::HandsHidden(hidden));
    let limits = criteria.limits().into_iter();
    let changed: Vec<_> =
        limits.filter(|(_, limit)| limit.is_changed()).map(|(name, _)| name).collect();
    bear(!changed.is_empty(), Note::OtherLimits(changed));
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::Side;
    use crate::judgement::assess::tests::{foot_work_of, judged_as, tall};
    use crate::judgement::document::Told;
    use crate::judgement::verdict::tests::limits;
    use crate::movement::kinematics::made::Body;

    #[test]
    fn what_to_bear_in_mind_is_said_only_where_it_is_so() {
        let body = Body::USUAL;
        let told = Told { leg: Some(Side::Right), ..tall(&body) };
        let plain = judged_as(&body.recording(), &told);
        let feet = foot_work_of(&body);
        let of = |cut_off: usize, change: &dyn Fn(&mut Assessment)| {
            let mut a = plain.assessment.clone();
            change(&mut a);
            notes(&a, cut_off, &feet, &limits())
        };
        assert_eq!(of(0, &|_| {}), []);
        assert_eq!(of(2, &|_| {}), [Note::CutOff { rises: 2, jumps: false }]);
        let jump = of(1, &|a| a.filming.clock_jumps_s = vec![3.0]);
        assert_eq!(jump, [Note::ClockJumps(vec![3.0]), Note::CutOff { rises: 1, jumps: true }]);
        assert_eq!(of(0, &|a| a.filming.damaged = 3), [Note::Damaged(3)]);
        assert_eq!(of(0, &|a| a.filming.cut_short = true), [Note::CutShort]);
        let hidden = of(0, &|a| a.reps[0].hands_used = None);
        assert_eq!(hidden, [Note::HandsHidden(vec![1])]);
        let missing = |a: &mut Assessment| {
            (a.filming.analysed_frames, a.filming.tracked_frames) = (100, 90);
        };
        assert_eq!(of(0, &missing), [Note::FramesLost { missing: 10, of: 100 }]);
        let rows = of(0, &|a| {
            missing(a);
            a.source = Origin::Markers;
        });
        assert_eq!(rows, [Note::RowsMissing { missing: 10, of: 100 }]);
        let unclear = |clarity: f64, leg: Option<Side>, rung: Rung| {
            of(0, &|a| (a.leg_clarity, a.told.leg, a.rung) = (clarity, leg, rung))
        };
        assert_eq!(unclear(0.0, None, Rung::SingleLeg), [Note::LegUnclear]);
        assert_eq!(unclear(0.0, Some(Side::Right), Rung::SingleLeg), []);
        assert_eq!(unclear(1.0, None, Rung::SingleLeg), []);
        assert_eq!(unclear(0.0, None, Rung::TwoLeg), []);
        let standing = of(0, &|a| a.cycle = Cycle::StandToStand);
        assert_eq!(standing, [Note::StandToStand { seat_seen: true }]);
        let descending = of(0, &|a| {
            a.cycle = Cycle::StandToStand;
            a.reps[0].descent_start_s = None;
        });
        assert!(descending.contains(&Note::BeginsDescending));
        // From a seat it says nothing of the recording's beginning.
        assert_eq!(of(0, &|a| a.reps[0].descent_start_s = None), []);
    }
}
