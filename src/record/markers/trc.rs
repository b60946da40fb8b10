//! The TRC format: tab-separated text, five lines of header, a row a sample
//! (the format of marker trajectories most motion laboratories exchange;
//! written from published examples, there is no standard document).

use std::io::{self, Write};

use nalgebra::{Point3, Vector3};

/// A direction of the laboratory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Axis {
    X,
    Y,
    Z,
}

impl Axis {
    /// All three.
    pub const ALL: [Axis; 3] = [Axis::X, Axis::Y, Axis::Z];

    /// Unit vector.
    pub fn unit(self) -> Vector3<f64> {
        match self {
            Axis::X => Vector3::x(),
            Axis::Y => Vector3::y(),
            Axis::Z => Vector3::z(),
        }
    }
}

/// A marker file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Trc {
    /// Samples per second, by the times; by the header where there is one row.
    pub rate_hz: f64,
    /// Names as they stand in the file.
    pub names: Vec<String>,
    /// Time of each row, seconds.
    pub times_s: Vec<f64>,
    /// Places, one list a marker, one entry a row; metres as far as the header
    /// says the unit rightly.
    pub places_m: Vec<Vec<Option<Point3<f64>>>>,
    /// Unit the header names, in metres.
    pub unit_m: f64,
    /// Fewer rows than the header announces, or the last row is incomplete.
    pub cut_short: bool,
}

/// Rows nearer together than this are no two samples, seconds (design choice: a thousandth
/// of the step of the fastest cameras of laboratories).
const LEAST_STEP_S: f64 = 1e-6;
/// No marker is further from the origin of a laboratory, metres, also where the header says
/// metres for millimetres: some programs write a lost one so (design choice).
const FARTHEST_M: f64 = 1e6;

impl Trc {
    /// Understands the text of a file.
    ///
    /// # Errors
    /// What is wrong, with its line.
    pub fn parse(text: &str) -> Result<Self, String> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let ends_whole = text.ends_with(['\n', '\r']);
        let mut lines =
            text.lines().enumerate().map(|(i, l)| (i + 1, l.trim_end_matches(['\r', '\n'])));
        let mut next = |what: &str| {
            lines.next().ok_or_else(|| format!("it ends before {what}, in its header"))
        };
        let (_, first) = next("its first line")?;
        if !first.trim_start().starts_with("PathFileType") {
            return Err("line 1: it does not begin with «PathFileType», as a TRC file does".into());
        }
        let (_, keys) = next("the names of its facts")?;
        let (_, values) = next("its facts")?;
        let facts: Vec<(String, &str)> =
            cells(keys).iter().map(|k| k.trim().to_lowercase()).zip(cells(values)).collect();
        let fact =
            |name: &str| facts.iter().find(|(key, _)| key == name).map(|(_, value)| value.trim());
        let unit_m = match fact("units").map(str::to_lowercase).as_deref() {
            Some("m" | "meters" | "metres" | "meter" | "metre") => 1.0,
            Some("cm") => 0.01,
            Some("mm") => 0.001,
            Some(other) => return Err(format!("line 3: the unit «{other}» is not m, cm or mm")),
            None => return Err("lines 2 and 3: they do not name the unit (Units)".into()),
        };
        let whole = |name: &str| fact(name).and_then(|v| v.parse::<f64>().ok());
        let announced = whole("numframes");
        let (_, heads) = next("the names of its markers")?;
        let heads = cells(heads);
        if !heads.first().is_some_and(|c| c.trim().to_lowercase().starts_with("frame")) {
            return Err("line 4: it does not begin with «Frame#», as the line of names does".into());
        }
        let names: Vec<String> = heads
            .iter()
            .skip(2)
            .map(|name| name.trim())
            .filter(|name| !name.is_empty())
            .map(str::to_owned)
            .collect();
        if names.is_empty() {
            return Err("line 4: it names no marker".into());
        }
        if let Some(count) = whole("nummarkers")
            && count != names.len() as f64
        {
            return Err(format!(
                "line 4: it names {} markers, and line 3 announces {count}",
                names.len()
            ));
        }
        next("its data")?;

        let mut trc = Self { names, unit_m, ..Self::default() };
        trc.places_m = vec![Vec::new(); trc.names.len()];
        let rows: Vec<(usize, &str)> = lines.filter(|(_, l)| !l.trim().is_empty()).collect();
        let too_few = announced.is_some_and(|n| n > rows.len() as f64);
        for (at, (number, line)) in rows.iter().enumerate() {
            let unfinished = at + 1 == rows.len() && !ends_whole;
            // What was being written when the file was cut says nothing.
            if unfinished && (too_few || cells(line).len() < 2 + 3 * trc.names.len()) {
                trc.cut_short = true;
                break;
            }
            // A cell, even an empty one, takes a byte: a header must not make up what the rows
            // do not hold.
            if 3 * trc.names.len() * (at + 1) > text.len() {
                return Err(format!(
                    "line {number}: hardly any of the cells are there that line 4 announces"
                ));
            }
            trc.row(line).map_err(|why| format!("line {number}: {why}"))?;
        }
        trc.cut_short |= announced.is_some_and(|n| n > trc.times_s.len() as f64);
        let steps: Vec<f64> = trc.times_s.windows(2).map(|w| w[1] - w[0]).collect();
        trc.rate_hz = match crate::signal::median(&steps) {
            Some(step) => 1.0 / step,
            None => whole("datarate").unwrap_or(0.0),
        };
        Ok(trc)
    }

    fn row(&mut self, line: &str) -> Result<(), String> {
        let cells = cells(line);
        let columns = 2 + 3 * self.names.len();
        if cells.iter().skip(columns).any(|c| !c.trim().is_empty()) {
            return Err(format!("it has more than the {columns} cells the header announces"));
        }
        let cell = |i: usize| number(cells.get(i).copied().unwrap_or(""));
        let time_s = cell(1)?.ok_or("the time is missing")?;
        if let Some(before) = self.times_s.last()
            && time_s - before < LEAST_STEP_S
        {
            return Err(format!("time does not go forward ({time_s:?} s after {before:?} s)"));
        }
        let places: Vec<_> = (0..self.names.len())
            .map(|m| {
                let [x, y, z] = [0, 1, 2].map(|k| cell(2 + 3 * m + k));
                let place = match (x?, y?, z?) {
                    // Some programs write a lost marker as three zeros.
                    (Some(0.0), Some(0.0), Some(0.0)) => None,
                    (Some(x), Some(y), Some(z)) => Some(Point3::new(x, y, z) * self.unit_m),
                    _ => None,
                };
                Ok::<_, String>(place.filter(|p| p.coords.amax() < FARTHEST_M))
            })
            .collect::<Result<_, _>>()?;
        self.times_s.push(time_s);
        for (course, place) in self.places_m.iter_mut().zip(places) {
            course.push(place);
        }
        Ok(())
    }

    /// Writes it: metres, six decimals of a second, a hundredth of a millimetre in
    /// five decimals; empty cells where a place is not known.
    ///
    /// # Errors
    /// What `out` gives.
    pub fn write(&self, file_name: &str, out: &mut dyn Write) -> io::Result<()> {
        let (rows, markers, rate) = (self.times_s.len(), self.names.len(), self.rate_hz);
        writeln!(out, "PathFileType\t4\t(X/Y/Z)\t{file_name}")?;
        writeln!(
            out,
            "DataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames"
        )?;
        writeln!(out, "{rate:.4}\t{rate:.4}\t{rows}\t{markers}\tm\t{rate:.4}\t1\t{rows}")?;
        write!(out, "Frame#\tTime")?;
        for name in &self.names {
            write!(out, "\t{name}\t\t")?;
        }
        write!(out, "\n\t")?;
        for k in 1..=markers {
            write!(out, "\tX{k}\tY{k}\tZ{k}")?;
        }
        writeln!(out, "\n")?;
        for (i, time_s) in self.times_s.iter().enumerate() {
            write!(out, "{}\t{time_s:.6}", i + 1)?;
            for course in &self.places_m {
                match course.get(i).copied().flatten() {
                    Some(p) => write!(out, "\t{:.5}\t{:.5}\t{:.5}", p.x, p.y, p.z)?,
                    None => write!(out, "\t\t\t")?,
                }
            }
            writeln!(out)?;
        }
        Ok(())
    }
}

fn cells(line: &str) -> Vec<&str> {
    if line.contains('\t') { line.split('\t').collect() } else { line.split_whitespace().collect() }
}

/// A number; `None` for an empty cell and for the many ways of writing «not a
/// number».
fn number(cell: &str) -> Result<Option<f64>, String> {
    let cell = cell.trim();
    if cell.is_empty() {
        return Ok(None);
    }
    if cell.contains(',') {
        return Err(format!("«{cell}» has a decimal comma; decimal points are needed"));
    }
    match cell.parse::<f64>() {
        Ok(value) => Ok(value.is_finite().then_some(value)),
        Err(_) if cell.to_lowercase().contains("nan") || cell.contains("#IND") => Ok(None),
        Err(_) => Err(format!("«{cell}» is not a number")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Written by hand after the published layout.
    const HAND: &str = "PathFileType\t4\t(X/Y/Z)\ta.trc\r\n\
        DataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames\r\n\
        100\t100\t3\t2\tmm\t100\t1\t3\r\n\
        Frame#\tTime\tP:LASI\t\t\tRASI\t\t\r\n\
        \t\tX1\tY1\tZ1\tX2\tY2\tZ2\r\n\
        \r\n\
        1\t0.00\t1\t2\t3\t-4.5\t5\t6e1\r\n\
        2\t0.01\t\t\t\tNaN\tNaN\tNaN\r\n\
        3\t0.02\t0\t0\t0\t7\t8\t9\r\n";

    #[test]
    fn a_file_by_hand_reads() {
        let trc = Trc::parse(HAND).unwrap();
        assert_eq!(trc.names, ["P:LASI", "RASI"]);
        assert!((trc.rate_hz - 100.0).abs() < 1e-9 && !trc.cut_short);
        let left = &trc.places_m[0];
        assert!((left[0].unwrap() - Point3::new(0.001, 0.002, 0.003)).norm() < 1e-12);
        assert_eq!((left[1], left[2]), (None, None));
        assert!((trc.places_m[1][0].unwrap() - Point3::new(-0.0045, 0.005, 0.06)).norm() < 1e-12);
        assert_eq!(trc.places_m[1][1], None);
    }

    #[test]
    fn what_is_written_reads_back() {
        let mut trc = Trc::parse(HAND).unwrap();
        let mut bytes = Vec::new();
        trc.write("motion.trc", &mut bytes).unwrap();
        let again = Trc::parse(&String::from_utf8(bytes).unwrap()).unwrap();
        // To the hundredth of a millimetre that is written.
        for (a, b) in trc.places_m.iter().flatten().zip(again.places_m.iter().flatten()) {
            assert_eq!(a.is_some(), b.is_some());
            assert!(a.zip(*b).is_none_or(|(a, b)| (a - b).norm() < 2e-5));
        }
        trc.places_m.clone_from(&again.places_m);
        assert_eq!(again, Trc { unit_m: 1.0, rate_hz: again.rate_hz, ..trc });
    }

    #[test]
    fn mistakes_are_named_with_their_line() {
        let wrong = |from: &str, to: &str| Trc::parse(&HAND.replace(from, to)).unwrap_err();
        assert!(wrong("PathFileType", "Path").contains("line 1"));
        assert!(wrong("\tmm\t", "\tinch\t").contains("«inch»"));
        assert!(wrong("Units", "Size").contains("unit"));
        assert!(wrong("Frame#", "x").contains("line 4"));
        assert!(wrong("3\t2\tmm", "3\t5\tmm").contains("announces 5"));
        assert!(wrong("-4.5", "-4,5").contains("line 7: «-4,5» has a decimal comma"));
        assert!(wrong("3\t0.02", "3\t0.01").contains("line 9: time does not go forward"));
        assert!(wrong("6e1", "north").contains("line 7: «north»"));
        assert!(wrong("7\t8\t9", "7\t8\t9\t10").contains("line 9: it has more"));
        assert!(Trc::parse("").is_err() && Trc::parse("PathFileType\t4").is_err());
    }

    /// What a header announces is not made up: neither frames nor markers.
    #[test]
    fn memory_follows_the_rows_there_are() {
        let trc = Trc::parse(&HAND.replace("100\t100\t3\t", "100\t100\t1000000000\t")).unwrap();
        assert!(trc.cut_short && trc.times_s.len() == 3);
        assert!(Trc::parse(&HAND.replace("\t2\tmm", "\t1000000\tmm")).is_err());
        // Markers by name, and rows that hold nothing of them.
        let names = "M\t\t\t".repeat(2000);
        let rows: String = (0..2000).map(|i| format!("{i}\t{}\n", f64::from(i) / 100.0)).collect();
        let header = "PathFileType\t4\nUnits\nmm\nFrame#\tTime\t";
        let error = Trc::parse(&format!("{header}{names}\n\n{rows}")).unwrap_err();
        assert!(error.contains("hardly any of the cells"), "{error}");
        // Editors cut empty cells off the ends of lines: that is no fault.
        let cut = HAND.replace("2\t0.01\t\t\t\tNaN\tNaN\tNaN", "2\t0.01");
        assert_eq!(Trc::parse(&cut), Trc::parse(HAND));
    }

    #[test]
    fn times_and_places_that_are_none() {
        let with = |from: &str, to: &str| Trc::parse(&HAND.replace(from, to));
        for (time, says) in [
            ("3\tNaN", "line 9: the time is missing"),
            ("3\tinf", "line 9: the time is missing"),
            ("3\t", "line 9: the time is missing"),
            ("3\t0.005", "line 9: time does not go forward"),
            ("3\t0.01000000000001", "line 9: time does not go forward"),
        ] {
            let error = with("3\t0.02", time).unwrap_err();
            assert!(error.contains(says), "{time}: {error}");
        }
        // Before zero is as good as after it.
        let before = HAND.replace("\t0.00\t", "\t-0.02\t").replace("\t0.01\t", "\t-0.01\t");
        let trc = Trc::parse(&before.replace("3\t0.02", "3\t0.00")).unwrap();
        assert!((trc.rate_hz - 100.0).abs() < 1e-9 && trc.times_s[0] == -0.02);
        // A lost marker as some programs write it.
        for lost in ["1e12", "-1e308", "1e400"] {
            let trc = with("7\t8\t9", &format!("{lost}\t8\t9")).unwrap();
            assert_eq!(trc.places_m[1][2], None, "{lost}");
        }
    }

    /// Cut anywhere: refused or read as far as it goes, never a panic; cut in
    /// the last row, that row is left out.
    #[test]
    fn cut_files() {
        for end in 0..HAND.len() {
            let _ = Trc::parse(&HAND[..end]);
        }
        let trc = Trc::parse(&HAND[..HAND.len() - 6]).unwrap();
        assert!(trc.cut_short && trc.times_s.len() == 2);
        let without_row = HAND.split("3\t0.02").next().unwrap();
        assert!(Trc::parse(without_row).unwrap().cut_short);
    }
}
