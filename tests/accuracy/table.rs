//! Errors gathered over clips, and the table made of them.

use std::fmt;

use serde_json::Value;

/// A number of a rep, how its error is stated, and what the project aims at.
struct Line {
    field: &'static str,
    name: &'static str,
    unit: &'static str,
    relative: bool,
    digits: usize,
    /// Largest mean error wanted.
    aim: f64,
    /// Largest mean error allowed: the aim, where that is reached, or less.
    budget: f64,
    /// Where the aim is not reached, the budget is none but a guard against getting worse.
    reached: bool,
    /// Where the share of truths within the stated 95 % is not as it should be: the guard
    /// against getting worse.
    stated_guard: Option<StatedGuard>,
}

/// How far stated errors may be from the true ones where they are not right.
#[derive(Clone, Copy)]
struct StatedGuard {
    /// Smallest and largest share of truths within the stated 95 %.
    share: (f64, f64),
    /// Stated over true error, root mean squares, at most: a share of 1 says nothing of how
    /// much too wide intervals are.
    times: f64,
}

impl Line {
    const fn not_reached(mut self, guard: f64) -> Self {
        (self.budget, self.reached) = (guard, false);
        self
    }

    const fn stated_not_reached(mut self, share: (f64, f64), times: f64) -> Self {
        self.stated_guard = Some(StatedGuard { share, times });
        self
    }

    /// Better than the aim, which is to stay so.
    const fn budget(mut self, budget: f64) -> Self {
        self.budget = budget;
        self
    }
}

/// A line of its own unit, errors shown with so many digits.
const fn line(
    field: &'static str,
    name: &'static str,
    (unit, digits): (&'static str, usize),
    aim: f64,
) -> Line {
    let (relative, reached, stated_guard) = (false, true, None);
    Line { field, name, unit, relative, digits, aim, budget: aim, reached, stated_guard }
}

const fn share(field: &'static str, name: &'static str, aim: f64) -> Line {
    Line { relative: true, ..line(field, name, ("%", 1), aim) }
}

/// What is not reached has its guard a twentieth above what was measured, and so have stated
/// errors that are not right; where too few truths lie within the stated intervals, three in a
/// hundred below.
const LINES: [Line; 13] = [
    line("seat_off_s", "seat-off", ("s", 3), 0.03),
    line("stand_s", "stand", ("s", 3), 0.06).not_reached(0.064),
    line("descent_start_s", "descent start", ("s", 3), 0.06),
    line("seat_contact_s", "seat contact", ("s", 3), 0.03)
        .not_reached(0.055)
        .stated_not_reached((0.90, 1.0), 1.8),
    line("rise_s", "rise time", ("s", 3), 0.08).stated_not_reached((0.90, 1.0), 1.22),
    line("descent_s", "descent time", ("s", 3), 0.08).not_reached(0.087),
    share("descent_mean_m_s", "mean descent speed", 5.0).not_reached(7.7),
    share("descent_peak_m_s", "peak descent speed", 8.0).not_reached(14.0),
    line("knee_offset_peak_cm", "knee offset", ("cm", 2), KNEE_OFFSET_CM).not_reached(0.88),
    line("fppa_peak_deg", "FPPA square-on", ("°", 2), FPPA_DEG).not_reached(3.05),
    line("fppa_picture_peak_deg", "FPPA in the picture", ("°", 2), 2.0)
        .not_reached(3.7)
        .stated_not_reached((0.90, 1.0), 1.8),
    line("trunk_lean_deg", "trunk lean", ("°", 2), 3.0).not_reached(3.3),
    line("wobble_cm", "wobble", ("cm", 2), 0.3).budget(0.15).stated_not_reached((0.77, 0.90), 0.7),
];
const YAW: Line = line("", "yaw", ("°", 1), 2.0);
/// Aims of the two measures that a knee is judged by; nearer to a limit than this the truth
/// is «too near to tell», as measuring is not meant to be finer.
const KNEE_OFFSET_CM: f64 = 0.7;
const FPPA_DEG: f64 = 2.5;
/// The same for the time that a knee must be past its limit: the aim of an event.
const EVENT_S: f64 = 0.03;
/// The same for the height of a stand, % of the rise, 3 to 5 mm (design choice: a standing
/// person sways as much).
const STAND_PERCENT: f64 = 1.0;

/// The truth lies within the stated 95 % interval in this share of the cases (design choice:
/// of 90 cases, chance takes the share of a right interval 4.6 points either way, two standard
/// deviations of a binomial).
const STATED: std::ops::RangeInclusive<f64> = 0.90..=0.99;
/// With fewer cases the share says nothing of intervals that are too wide: if they are right,
/// all of fewer than 59 lie within them one time in twenty (0.95^59 = 0.05).
const CASES_FOR_TOO_WIDE: usize = 59;
/// Nor too narrow ones: if they are right, 2 or more of 8 lie outside one time in seventeen.
const CASES_FOR_TOO_NARROW: usize = 8;

/// A fault that is found or not: none is to be missed, none found where there is none.
struct Reason {
    name: &'static str,
    /// Where that is not reached, a guard against getting worse: (missed, false alarms).
    guard: Option<(usize, usize)>,
}

const fn reason(name: &'static str) -> Reason {
    Reason { name, guard: None }
}

impl Reason {
    const fn not_reached(mut self, missed: usize, false_alarms: usize) -> Self {
        self.guard = Some((missed, false_alarms));
        self
    }
}

/// Missed are knees whose frontal angle alone is past its limit (18 to 24° in truth), drops of 5–10 cm after a quick
/// lowering at 30 frames per second, and feet put down softly.
const REASONS: [Reason; 4] = [
    reason("knee_inward").not_reached(3, 0),
    reason("drop").not_reached(5, 0),
    reason("free_foot_down").not_reached(3, 0),
    reason("incomplete_stand"),
];
/// All faultless reps are to be called clean. Not reached: one is not judged, as the camera
/// moves in it; a guard against getting worse.
const CLEAN_NOT_CALLED_CLEAN: usize = 1;
/// Views nearer to the front than this are to be judged, degrees: between the 20° to which the
/// specification judges knees and the side view, the only other of these clips.
const FRONT_DEG: f64 = 30.0;

struct Error {
    clip: String,
    rep: usize,
    /// Measured less true, in the line's unit.
    value: f64,
    /// Stated standard error in the line's unit, if one is stated.
    stated: Option<f64>,
}

#[derive(Default)]
struct Hits {
    right: usize,
    missed: Vec<String>,
    false_alarms: Vec<String>,
    grey: usize,
}

/// Everything compared.
pub struct Table {
    reps: [usize; 3],
    wrong_legs: Vec<String>,
    errors: Vec<Vec<Error>>,
    yaw: Vec<Error>,
    hits: Vec<Hits>,
    clean: Hits,
    remarks: Vec<String>,
}

impl Table {
    /// Compares each assessment with its truth.
    pub fn of(clips: &[(Value, Value)]) -> Self {
        let mut table = Self {
            reps: [0; 3],
            wrong_legs: Vec::new(),
            errors: LINES.iter().map(|_| Vec::new()).collect(),
            yaw: Vec::new(),
            hits: REASONS.iter().map(|_| Hits::default()).collect(),
            clean: Hits::default(),
            remarks: Vec::new(),
        };
        for (found, truth) in clips {
            table.add(found, truth);
        }
        table
    }

    fn add(&mut self, found: &Value, truth: &Value) {
        let clip = truth["clip"].as_str().unwrap_or("").trim_end_matches(".mp4").to_owned();
        // On two legs there is no one working leg.
        let two_leg = truth["rung"] == "two_leg";
        if !two_leg && found["leg"] != truth["leg"] {
            self.wrong_legs.push(clip.clone());
        }
        // The rung can be told with --rung: a wrong guess is shown, not counted.
        if found["rung"] != truth["rung"] {
            self.remarks.push(format!("{clip}: taken for {}", found["rung"]));
        }
        if found["view"]["kind"] == "frontal" {
            let v = |v: &Value| v.as_f64();
            if let (Some(f), Some(t)) = (v(&found["view"]["yaw_deg"]), v(&truth["yaw_deg"])) {
                let stated = v(&found["view"]["yaw_standard_error_deg"]);
                self.yaw.push(Error { clip: clip.clone(), rep: 0, value: f - t, stated });
            }
        }
        let list = |v: &Value| v["reps"].as_array().cloned().unwrap_or_default();
        let mut left = list(found);
        for (n, t) in list(truth).iter().enumerate() {
            // A rep whose beginning was lost is known by the events that were seen.
            let middle = |v: &Value| {
                let known: Vec<f64> = ["seat_off_s", "stand_s", "descent_start_s"]
                    .iter()
                    .filter_map(|event| v[event].as_f64())
                    .chain(v["seat_contact_s"].as_f64().map(|s| s - 0.2))
                    .collect();
                (!known.is_empty()).then(|| mean(known.iter().copied()))
            };
            let at = left.iter().position(|f| {
                let (from, to) = (t["seat_off_s"].as_f64(), t["seat_contact_s"].as_f64());
                middle(f).is_some_and(|m| from.is_some_and(|s| s < m) && to.is_some_and(|e| m < e))
            });
            let attempt = t["attempt"] == true;
            match at {
                Some(i) if !attempt => {
                    self.reps[0] += 1;
                    self.compare(&clip, n + 1, &left.remove(i), t, truth);
                }
                // A rep made of an attempt stays among those left over: it is extra.
                Some(_) => {}
                None if attempt => {}
                None => {
                    self.reps[1] += 1;
                    self.remarks.push(format!("{clip} {}: missed", n + 1));
                }
            }
        }
        self.reps[2] += left.len();
        for f in &left {
            self.remarks.push(format!("{clip}: extra rep at {}", f["seat_off_s"]));
        }
    }

    fn compare(&mut self, clip: &str, rep: usize, found: &Value, truth: &Value, whole: &Value) {
        // Where a rise stops short, «stand» and what hangs on it are not defined alike.
        let short = truth["stand_percent"].as_f64().is_some_and(|p| p < 97.0);
        for (line, errors) in LINES.iter().zip(&mut self.errors) {
            if short && ["stand_s", "rise_s", "descent_start_s", "descent_s"].contains(&line.field)
            {
                continue;
            }
            let (Some(f), Some(t)) = (found[line.field].as_f64(), truth[line.field].as_f64())
            else {
                continue;
            };
            let scale = if line.relative { 100.0 / t } else { 1.0 };
            let stated = found["standard_error"][line.field].as_f64().map(|s| s * scale);
            errors.push(Error { clip: clip.to_owned(), rep, value: (f - t) * scale, stated });
        }
        if found["judgement"] == "not_judged" {
            self.remarks.push(format!("{clip} {rep}: not judged {}", found["reasons"]));
        }
        let outcome = |reason: &str| {
            found["criteria"]
                .as_array()?
                .iter()
                .find(|c| c["criterion"] == reason)
                .and_then(|c| c["outcome"].as_str().map(str::to_owned))
        };
        let id = format!("{clip} {rep}");
        let truths: Vec<_> = REASONS.iter().map(|r| truly(r.name, truth, whole)).collect();
        for ((reason, true_one), hits) in REASONS.iter().zip(&truths).zip(&mut self.hits) {
            let flagged = match outcome(reason.name).as_deref() {
                Some("not_met") => true,
                Some("met") => false,
                _ => continue,
            };
            match (true_one, flagged) {
                (None, _) => hits.grey += 1,
                (Some(true), true) => hits.right += 1,
                (Some(true), false) => hits.missed.push(id.clone()),
                (Some(false), true) => hits.false_alarms.push(id.clone()),
                (Some(false), false) => {}
            }
        }
        let from_the_front = whole["yaw_deg"].as_f64().is_some_and(|yaw| yaw.abs() < FRONT_DEG);
        let faultless = truths.iter().all(|t| *t == Some(false)) && truth["hands"] == false;
        if faultless && from_the_front {
            match found["judgement"] == "clean" {
                true => self.clean.right += 1,
                false => self.clean.missed.push(format!("{id} ({})", found["reasons"])),
            }
        }
    }

    fn lines(&self) -> impl Iterator<Item = (&Line, &Vec<Error>)> {
        LINES.iter().zip(&self.errors).chain([(&YAW, &self.yaw)])
    }

    /// What is over its budget.
    pub fn broken(&self) -> Vec<String> {
        let mut broken = Vec::new();
        if self.reps[1] + self.reps[2] > 0 {
            broken.push(format!("reps: {} missed, {} extra", self.reps[1], self.reps[2]));
        }
        if !self.wrong_legs.is_empty() {
            broken.push(format!("leg wrong: {}", self.wrong_legs.join(", ")));
        }
        for (line, errors) in self.lines() {
            broken.extend(line.broken(errors));
        }
        for (reason, hits) in REASONS.iter().zip(&self.hits) {
            let (missed, alarms) = (hits.missed.len(), hits.false_alarms.len());
            let (most_missed, most_alarms) = reason.guard.unwrap_or_default();
            let list = |names: &[String]| names.join(", ");
            if missed > most_missed {
                broken.push(format!("{} missed: {}", reason.name, list(&hits.missed)));
            }
            if alarms > most_alarms {
                broken.push(format!("{} false alarm: {}", reason.name, list(&hits.false_alarms)));
            }
            if reason.guard.is_some() && missed + alarms == 0 {
                broken.push(format!("{}: reached now, which is to be said", reason.name));
            }
        }
        if self.clean.missed.len() > CLEAN_NOT_CALLED_CLEAN {
            broken.push(format!("faultless, not called clean: {}", self.clean.missed.join(", ")));
        }
        broken
    }

    /// The largest errors of each line, and what was not judged: for whoever mends it.
    pub fn details(&self) -> String {
        let mut text = String::new();
        for (line, errors) in LINES.iter().zip(&self.errors) {
            let mut sorted: Vec<&Error> = errors.iter().collect();
            sorted.sort_by(|a, b| b.value.abs().total_cmp(&a.value.abs()));
            let worst =
                sorted.iter().take(6).map(|e| format!("{} {}: {:+.3}", e.clip, e.rep, e.value));
            text += &format!("{}: {}\n", line.name, worst.collect::<Vec<_>>().join("; "));
        }
        // What a part of the error beyond the trials is set by, on other clips than these.
        for (line, errors) in self.lines() {
            let (root, stated) = root_mean_squares(errors);
            text += &format!("{}: root mean square {root:.3}, stated {stated:.3}\n", line.name);
        }
        let yaw = self.yaw.iter().map(|e| format!("{} {:+.1}", e.clip, e.value));
        text += &format!("yaw: {}\n", yaw.collect::<Vec<_>>().join("; "));
        for (reason, hits) in REASONS.iter().zip(&self.hits) {
            let (missed, alarms) = (hits.missed.join(", "), hits.false_alarms.join(", "));
            text += &format!("{}: missed {missed}; false {alarms}\n", reason.name);
        }
        text += &format!("not called clean: {}\n", self.clean.missed.join(", "));
        text + &format!("{}\n{}\n", self.wrong_legs.join(", "), self.remarks.join("\n"))
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [found, missed, extra] = self.reps;
        writeln!(f, "Reps: {found} found, {missed} missed, {extra} extra.\n")?;
        let (clean, other) = (self.clean.right, self.clean.missed.len());
        writeln!(f, "Faultless reps: {clean} called clean, {other} not.\n")?;
        writeln!(f, "| Measure | n | mean error | aim | bias | within the stated 95 % |")?;
        writeln!(f, "|---|--:|--:|--:|--:|--:|")?;
        for (line, errors) in self.lines() {
            let (d, unit, n) = (line.digits, line.unit, errors.len());
            let mean_error = mean(errors.iter().map(|e| e.value.abs()));
            let bias = mean(errors.iter().map(|e| e.value));
            let within = coverage(errors).map_or_else(
                || "–".into(),
                |share| match fault_of_stated(errors) {
                    None => format!("{:.0} %", 100.0 * share),
                    Some(fault) => format!("{:.0} %, {fault}", 100.0 * share),
                },
            );
            let (name, aim) = (line.name, line.aim);
            let reached = if mean_error > aim { ", not reached" } else { "" };
            writeln!(
                f,
                "| {name} | {n} | {mean_error:.d$} {unit} | {aim} {unit}{reached} | {bias:+.d$} {unit} | {within} |"
            )?;
        }
        writeln!(f, "\n| Reason | found | missed | false alarms | too near to tell | aim |")?;
        writeln!(f, "|---|--:|--:|--:|--:|---|")?;
        for (reason, h) in REASONS.iter().zip(&self.hits) {
            let (name, missed, alarms) = (reason.name, h.missed.len(), h.false_alarms.len());
            let aim = if missed + alarms > 0 { "not reached" } else { "reached" };
            writeln!(f, "| `{name}` | {} | {missed} | {alarms} | {} | {aim} |", h.right, h.grey)?;
        }
        Ok(())
    }
}

impl Line {
    /// What is not as it should be, or said not to be and is.
    fn broken(&self, errors: &[Error]) -> Vec<String> {
        let mut broken = Vec::new();
        let (name, unit, aim) = (self.name, self.unit, self.aim);
        let mean = mean(errors.iter().map(|e| e.value.abs()));
        if mean.is_nan() || mean > self.budget {
            broken.push(format!("{name}: {mean:.3} {unit} > {}", self.budget));
        }
        if !self.reached && mean <= aim {
            broken.push(format!("{name}: the aim is reached now, which is to be said"));
        }
        let fault = fault_of_stated(errors);
        if let Some(StatedGuard { times, .. }) = self.stated_guard {
            let (root, stated) = root_mean_squares(errors);
            if stated > times * root {
                let found = stated / root;
                broken.push(format!("{name}: stated {found:.2} times the true error, not {times}"));
            }
        }
        match (fault, self.stated_guard.map(|guard| guard.share), coverage(errors)) {
            (Some(fault), None, _) => broken.push(format!("{name}: stated intervals {fault}")),
            (None, Some(_), _) => {
                broken.push(format!("{name}: the intervals are right now, which is to be said"));
            }
            (Some(_), Some((least, most)), Some(share)) if share < least || share > most => {
                broken.push(format!("{name}: {share:.3} within, not {least} to {most}"));
            }
            _ => {}
        }
        broken
    }
}

/// Of the errors, and of what is stated for them.
fn root_mean_squares(errors: &[Error]) -> (f64, f64) {
    let square = |of: fn(&Error) -> Option<f64>| {
        mean(errors.iter().filter(|e| e.stated.is_some()).filter_map(of).map(|v| v * v)).sqrt()
    };
    (square(|e| Some(e.value)), square(|e| e.stated))
}

/// What is wrong with the intervals, if enough cases show it.
fn fault_of_stated(errors: &[Error]) -> Option<&'static str> {
    let share = coverage(errors)?;
    let cases = errors.iter().filter(|e| e.stated.is_some()).count();
    if share < *STATED.start() && cases >= CASES_FOR_TOO_NARROW {
        Some("too narrow")
    } else if share > *STATED.end() && cases >= CASES_FOR_TOO_WIDE {
        Some("too wide")
    } else {
        None
    }
}

/// Whether the reason holds in truth; `None` nearer to its limit than measuring is meant to
/// be exact. Nothing of it is the program's own.
fn truly(reason: &str, truth: &Value, whole: &Value) -> Option<bool> {
    let number = |v: &Value, name: &str| v[name].as_f64();
    let past =
        |value: f64, limit: f64, near: f64| ((value - limit).abs() > near).then_some(value > limit);
    match reason {
        // Limits of specification: half the foot's breadth for 0.10 s, or 15 degrees.
        "knee_inward" => {
            let limit_cm = 2.75 * number(whole, "stature_m")?;
            let far = past(number(truth, "knee_offset_peak_cm")?, limit_cm, KNEE_OFFSET_CM);
            let long = past(number(truth, "knee_past_limit_s")?, 0.10, EVENT_S);
            let offset = match (far, long) {
                (Some(false), _) | (Some(true), Some(false)) => Some(false),
                (Some(true), Some(true)) => Some(true),
                _ => None,
            };
            // Not seen square-on, there is no angle.
            let angle = number(truth, "fppa_peak_deg")
                .map_or(Some(false), |fppa| past(fppa, 15.0, FPPA_DEG));
            match (offset, angle) {
                (Some(true), _) | (_, Some(true)) => Some(true),
                (Some(false), Some(false)) => Some(false),
                _ => None,
            }
        }
        // A free fall of 5 cm must be seen; nothing else must be called a drop.
        "drop" => match number(truth, "dropped_m")? {
            d if d >= 0.05 => Some(true),
            0.0 => Some(false),
            _ => None,
        },
        "free_foot_down" => Some(!truth["touched_s"].as_array()?.is_empty()),
        "incomplete_stand" => past(92.0, number(truth, "stand_percent")?, STAND_PERCENT),
        _ => None,
    }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0usize), |(s, n), v| (s + v, n + 1));
    if count == 0 { f64::NAN } else { sum / count as f64 }
}

/// Share of errors within 1.96 of their stated standard errors.
fn coverage(errors: &[Error]) -> Option<f64> {
    let stated = errors.iter().filter_map(|e| Some(e.value.abs() <= 1.96 * e.stated?));
    let within: Vec<bool> = stated.collect();
    let inside = within.iter().filter(|w| **w).count();
    (!within.is_empty()).then(|| inside as f64 / within.len() as f64)
}
