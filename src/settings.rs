//! Parameters of the algorithms, each with its reason. Limits of good form are
//! not here: they are data, in `judgement/criteria/default.toml`.

/// Frames closer than this are passed over by the pose stage, per second.
/// 60/s shows a free drop of 5 cm (0.101 s) in six frames; more would cost
/// time and add nothing a 6 Hz filter keeps. Somewhat above 60, because the
/// timestamps of phones scatter by a millisecond or two.
pub const MAX_ANALYSED_HZ: f64 = 70.0;

/// Landmark networks at work side by side, each following every n-th frame.
/// A fixed number, not that of the machine's cores: the same clip must give
/// the same numbers everywhere. Two use two cores fully; a second thread inside
/// one network gains less.
pub const LANES: usize = 2;

/// Below this frame rate a single lane follows every frame: with two, each
/// would see the person move too far between its frames.
pub const MIN_HZ_FOR_LANES: f64 = 20.0;

/// Cut-off of the zero-lag low-pass for landmarks, Hz ([Winter2009]: 6 Hz for
/// gait-like movement, from memory).
pub const CUTOFF_HZ: f64 = 6.0;
/// Cut-off for the shoulders' apparent width, Hz. It tells the lean, a slow
/// movement, by small changes that drown in noise at 6 Hz (design choice).
pub const WIDTH_CUTOFF_HZ: f64 = 3.0;
/// Gaps in tracking up to this are bridged, seconds (measurement definition).
pub const MAX_GAP_S: f64 = 0.25;
/// A point counts as seen from this height of its heat map on: from there on the reference
/// pipeline lets the map correct its place. Behind furniture it mostly falls to 0.2–0.5, on black
/// tights in full view it stays at 0.6–0.9 (people of another renderer).
pub const MIN_HEAT: f64 = 0.5;
/// Where a table of landmarks tells no heat: below this probability of its own the network
/// says that the point is hidden (design choice).
pub const MIN_VISIBILITY: f64 = 0.2;
/// The same for a wrist, whose place counts for more.
pub const MIN_WRIST_VISIBILITY: f64 = 0.5;
/// Focal length over the picture's longer side. Phones: 0.7–1.2; distance
/// absorbs the difference.
pub const FOCAL_OF_LONG_SIDE: f64 = 0.9;
/// A rise lifts the body height by at least this share of its standing value
/// (a seat at knee height gives about 0.35; design choice).
pub const MIN_EXCURSION_OF_BODY: f64 = 0.15;

/// Up to this share of the way up the seat carries, above it the stance foot (design
/// choice).
pub const SEATED_SHARE: f64 = 0.1;

/// Standard error of the scale from stature: spread of body proportions and
/// landmark bias (rendered people: −2.1 to −0.3 %; derived).
pub const SCALE_SE_STATURE: f64 = 0.03;
/// The same from the network's own guess (rendered people: −9.8 to +3.4 %).
pub const SCALE_SE_NETWORK: f64 = 0.07;
/// Hip points of pose networks lie above the joint when it is bent, by 0.03–0.05 m
/// ([Needham2021]). Half of it is taken off when seated, as part of it is the same in
/// all postures (design choice).
pub const HIP_ROW_SEATED_M: f64 = 0.02;
/// What remains of that error, metres (the other half).
pub const HIP_ROW_SE_M: f64 = 0.02;
/// Error of knee rows, metres, when fitting the tilt ratio (design choice).
pub const KNEE_ROW_SE_M: f64 = 0.015;

/// Knee flexion in quiet standing on one leg, degrees (common practice, no
/// source).
pub const STANDING_FLEXION_DEG: f64 = 5.0;
/// Thigh tilt over shank tilt, mean and spread expected before looking
/// (design choice: squat descriptions give tilts 10/20 to 20/40 degrees, a
/// ratio of 2; a balanced rise over a planted foot comes nearer to 1.3).
pub const TILT_RATIO: (f64, f64) = (1.6, 0.4);
/// Tilt of the shank when seated ready to rise, degrees, mean and spread expected
/// before looking (common practice, no source: feet a little behind the knees).
pub const SEATED_SHANK_DEG: (f64, f64) = (14.0, 5.0);
/// Up to this tilt of the thigh, degrees, the seat has no say in the shank's tilt
/// (design choice).
pub const FREE_THIGH_DEG: f64 = 40.0;
/// The leg is fitted to about so many samples (design choice: time only).
pub const LEG_FIT_SAMPLES: usize = 150;
/// The foot's direction is read where the knee is bent more than this, degrees
/// (design choice).
pub const DEEP_FLEXION_DEG: f64 = 50.0;
/// Standard error of the foot's heading as seen, degrees: landmarks of heel,
/// ankle and toe each err by about 1.2 cm sideways over 0.2 m (rendered people).
pub const FOOT_AXIS_SE_DEG: f64 = 5.0;
/// Standard error of the heading read from the trunk's lean, degrees: a trunk that
/// goes 2 cm aside on a path of 0.3 m errs by 4 degrees (derived).
pub const TRUNK_PATH_SE_DEG: f64 = 4.0;
/// The trunk leans before the rise and rights itself after contact within this time,
/// seconds (design choice).
pub const TRUNK_LEAN_S: f64 = 0.9;
/// A lean that takes the shoulders less far forward tells no direction, metres
/// (design choice).
pub const MIN_TRUNK_PATH_M: f64 = 0.12;
/// FPPA is quoted where knee flexion lies in this window, degrees; deeper it
/// is ill-conditioned (the thigh points at the camera).
pub const FPPA_FLEXION_DEG: (f64, f64) = (30.0, 60.0);
/// Standard errors that stand in where the trials of `judgement/uncertainty.rs` tell none, as for
/// markers; each about what the trials find for rendered films. Square-on FPPA, degrees
/// (hand-drawn lines repeat within 2.7–3.0, [Munro2012]).
pub const FPPA_SE_DEG: f64 = 3.5;
/// Knee offset, metres (design choice: a marker set by hand within half a centimetre, and
/// the heading of the foot).
pub const KNEE_OFFSET_SE_M: f64 = 0.007;
/// Mean speed over the last tenth of the way, m/s.
pub const FINAL_SPEED_SE_M_S: f64 = 0.05;
/// The same over the descent's mean speed.
pub const FINAL_RATIO_SE: f64 = 0.15;
/// Height reached, % of the person's own rise.
pub const STAND_SE_PERCENT: f64 = 1.0;
/// Shift of the stance foot, cm.
pub const FOOT_SHIFT_SE_CM: f64 = 0.6;

/// The knee is judged once the pelvis has left this share of its way to the stand
/// behind it: nearer to the seat the seat still carries (design choice).
pub const KNEE_CLEAR_OF_SEAT: f64 = 0.15;

/// Wobble is the knee offset between these frequencies, Hz (design choice).
pub const WOBBLE_BAND_HZ: (f64, f64) = (0.7, 6.0);
/// A change of direction counts from this size, metres (design choice).
pub const WOBBLE_STEP_M: f64 = 0.005;

/// A touch of the free foot: slopes are taken over this long before and after,
/// seconds (design choice).
pub const TOUCH_SLOPE_S: f64 = 0.13;
/// The foot comes down within this time before, and goes up within twice this time
/// after, seconds (design choice).
pub const TOUCH_AROUND_S: f64 = 0.4;
/// Change of vertical speed that only the floor brings about, m/s (design choice
/// between touches in rendered clips, 0.8–1.5, and the jitter of a free foot, up to
/// 0.5; those clips are not the ones of the accuracy table).
pub const TOUCH_STOP_M_S: f64 = 0.35;
/// How far the foot comes down to touch and goes up again, metres: three standard
/// deviations of the foot's own slow error, 0.015 m (rendered clips). A foot held
/// lower than this can touch unseen.
pub const TOUCH_DIP_M: f64 = 0.05;

/// Hands, all design choices: shoulders must rise this far before a still hand
/// means anything, metres.
pub const HAND_MIN_RISE_M: f64 = 0.10;
/// A supported hand moves less than this share of the shoulders' rise.
pub const HAND_STAYS: f64 = 0.3;
/// A hand on the thigh is this near to the knee, metres.
pub const HAND_NEAR_M: f64 = 0.15;
/// A hand on the chair is this far beside the hip, metres.
pub const HAND_BESIDE_M: f64 = 0.15;

/// The valley of the forward lean is looked for this long before the body is
/// up, seconds (design choice).
pub const VALLEY_SEARCH_S: f64 = 1.2;
/// A rise back from the valley that lasts this long ends the search, seconds (design
/// choice: longer than the wavering of a bent trunk).
pub const VALLEY_APART_S: f64 = 0.25;
/// The seated level after contact is read in this window, seconds after it: past
/// the impact, before the trunk rights itself (design choice).
pub const SEATED_LEVEL_S: (f64, f64) = (0.05, 0.25);
/// The speed at the very moment of contact is read from a parabola through the
/// unfiltered heights of this long before it, seconds (design choice: seven
/// samples at 30/s).
pub const IMPACT_FIT_S: f64 = 0.2;
/// Window of the local fit for the peak speed of a smooth descent, seconds.
/// A 6 Hz derivative reads 16–28 % too fast there.
pub const PEAK_SPEED_WINDOW_S: f64 = 0.5;
/// Below this frame rate a drop cannot be told from a landing at all, per s:
/// a 5 cm drop lasts 0.101 s and needs two frames.
pub const MIN_HZ_FOR_DROPS: f64 = 20.0;
/// Trials by which standard errors are found: 24 know a standard deviation to 15 %
/// (derived: 1/√(2·23)).
pub const TRIALS: u64 = 24;
/// Standard errors of a landmark across and down, shares of stature: lasting through
/// the clip; between sitting and standing; and wandering. Rendered people, clips that
/// are not in the accuracy table.
pub const LANDMARK_ALWAYS: (f64, f64) = (0.010, 0.017);
/// See [`LANDMARK_ALWAYS`].
pub const LANDMARK_POSTURE: (f64, f64) = (0.007, 0.017);
/// See [`LANDMARK_ALWAYS`].
pub const LANDMARK_WANDER: (f64, f64) = (0.0035, 0.0075);
/// How fast they wander, Hz (design choice: slower than a rep's phases, up to what
/// the low-pass lets through).
pub const LANDMARK_WANDER_HZ: (f64, f64) = (0.2, 2.0);
/// A phone leant against something is level to about this, degrees (design choice).
pub const CAMERA_ROLL_SE_DEG: f64 = 0.7;
/// Below this frame rate short drops under 4 cm cannot be seen, per second.
pub const HZ_FOR_SHORT_DROPS: f64 = 50.0;
/// Events are timed to about a third of a frame; below this rate they are too
/// vague to tell phases apart, per second (design choice).
pub const MIN_HZ_FOR_EVENTS: f64 = 12.0;

/// With the person followed in less than this share of the frames nothing is
/// assessed (design choice).
pub const MIN_TRACKED: f64 = 0.5;
/// Shoulder width over trunk length below which the view is from the side
/// (from the front about 0.75; derived from body proportions, cosine of the
/// turn).
pub const SIDE_VIEW_BREADTH: f64 = 0.3;
/// Below this it is not a front view either (design choice).
pub const FRONT_VIEW_BREADTH: f64 = 0.5;

/// A gap in tracking this near makes an event doubtful, seconds (design choice).
pub const GAP_MARGIN_S: f64 = 0.3;

/// The planted foot further from its place than this share of stature is not
/// the person's foot (design choice: 17 cm; a step that long ends a rep anyway).
pub const FOOT_REACH_OF_STATURE: f64 = 0.10;

/// Statures a marker file may speak for before its unit is doubted, metres
/// (children to the tallest; design choice).
pub const HUMAN_STATURE_M: std::ops::RangeInclusive<f64> = 0.8..=2.5;

/// Reps from markers: the pelvis that keeps still at its lowest for this long
/// rests on something, seconds. The turning point of a smooth squat of 2 s each
/// way is slower than 5 % of its peak speed for 0.24 s (minimum jerk; derived).
pub const SEAT_REST_S: f64 = 0.3;
/// The speed of the way down and up is looked for this far beside the stretch
/// in which the body is low, seconds (design choice).
pub const TURN_SIDE_S: f64 = 1.0;

/// A foot further forward than the other looks lower in a picture taken at knee
/// height from 3 m: by this share of the distance between them (0.45 m / 3 m).
pub const STAGGER_IN_PICTURE: f64 = 0.15;

/// Of the depth the network guesses for points no model gives, only what is slower
/// than this is taken, Hz: faster it is noise, which would shake the point's
/// height too (design choice).
pub const GUESSED_DEPTH_HZ: f64 = 1.0;

/// The annotated film is no larger than this along its longer side, pixels: enough for a
/// phone held upright, and half the time and size of a full-size one (design choice).
pub const FILM_LONG_SIDE_PX: u32 = 1280;

/// Limits of good filming; where there are two, good up to the first, to be filmed again
/// past the second. A landmark nearer to the picture's edge than this share of its longer
/// side counts as out of it (design choice: half of what landmarks err by).
pub const FILM_EDGE_SHARE: f64 = 0.004;
/// Share of the looks with a foot, knee, hip or shoulder out of the picture (design
/// choice: one look in fifty is a slip; a rep is not judged with a tenth of it unseen, so
/// with more than that there is little left to judge).
pub const FILM_OUT_OF_VIEW: (f64, f64) = (0.02, 0.15);
/// A rise reaches this share of the way up (design choice: as for a full rise).
pub const FILM_RISE_SHARE: f64 = 0.8;
/// Turn of the body that is corrected for well, degrees (design choice: the correction of
/// the frontal angle is then about 10 degrees at 60 of flexion, twice its error).
pub const FILM_YAW_GOOD_DEG: f64 = 8.0;
/// Roll of the camera, degrees. 1° moves a knee 0.42 m above the ankle 0.7 cm sideways,
/// which is its own error ([`KNEE_OFFSET_SE_M`]); 3.5° half of the usual limit (derived).
pub const FILM_ROLL_DEG: (f64, f64) = (1.5, 3.5);
/// Height of the lens, metres: knee to hip height, 0.6–1 m, is common practice, no source;
/// widened by what the height is known to.
pub const FILM_HEIGHT_GOOD_M: (f64, f64) = (0.35, 1.25);
/// Beyond, the leg is seen from so far above or below that its bend is foreshortened
/// (design choice).
pub const FILM_HEIGHT_USABLE_M: (f64, f64) = (0.1, 1.6);
/// Standard error of the tangent under which the planted foot is seen: heel and toe rows
/// err by 1 % of stature against each other (rendered people, `scripts/render/tuning.toml`).
pub const FOOT_SLANT_SE: f64 = 0.075;
/// Relative standard error of [`FOCAL_OF_LONG_SIDE`]: 0.7–1.2 evenly spread (derived).
pub const FOCAL_SE: f64 = 0.16;
/// Wander of the picture, cm at the person, exceeded in a twentieth of the looks: up to two
/// standard errors of the knee ([`KNEE_OFFSET_SE_M`]); past 4.7 cm, the usual limit of the
/// knee for somebody of usual stature, the sway hides what is looked for (derived).
pub const FILM_WANDER_CM: (f64, f64) = (1.4, 4.7);
/// Share of the clip with the camera away from where it began (design choice: reps in it
/// are not judged).
pub const FILM_MOVED_SHARE: f64 = 0.2;
/// Distance of the camera, metres: 2–4 is common practice, no source; widened by what it
/// is known to.
pub const FILM_DISTANCE_GOOD_M: (f64, f64) = (1.7, 5.0);
/// Nearer, a knee 0.3 m ahead of the ankle looks a third larger (derived, 0.3/(1.2 − 0.3)).
pub const FILM_DISTANCE_LEAST_M: f64 = 1.2;
/// Pixels of stature. The landmark network takes 256 over 1.25 bodies, 205 a body
/// (derived): with fewer the picture holds less than the network can use; with half of
/// that landmarks err by whole percents of the stature (design choice).
pub const FILM_STATURE_PX: (f64, f64) = (205.0, 105.0);
/// Luma (0–255) of the brightest parts of the picture: below, the film is dark (design
/// choice).
pub const FILM_BRIGHTEST: (f64, f64) = (110.0, 60.0);
/// Luma of the brighter parts of trunk and face of a person against the light (design choice).
pub const FILM_PERSON_LIGHT: (f64, f64) = (55.0, 30.0);
/// Against the light: the surroundings are this many times as bright as the person (design
/// choice).
pub const FILM_BACKLIT_TIMES: f64 = 2.5;
/// Width of the strongest edges at the person, shares of stature: landmarks err by about
/// 1 % of it ([`LANDMARK_ALWAYS`]); twice that blurs a knee by half its limit (derived).
pub const FILM_EDGE_WIDTH: (f64, f64) = (0.010, 0.020);
/// A rest on the seat lasts this long, seconds (design choice).
pub const FILM_REST_S: f64 = 0.6;
/// Distance between places of rest on the seat, sideways, metres (design choice: people
/// sit down within a hand's breadth; more is another place or another chair's place).
pub const FILM_SEAT_SHIFT_M: (f64, f64) = (0.08, 0.20);
/// The quick check looks at the body's landmarks in every look that comes this long after
/// the last, seconds: every second look of the survey, whose looks are 0.2 s apart or a
/// little more.
pub const GLIMPSE_INTERVAL_S: f64 = 0.35;
