//! The report: a page of summary, the reps, the set, and what it rests on.

use super::house::{Align, BODY, CAPTION, Drawn, HEADLINE, House, MM, Pictured, SMALL, Table};
use super::typeface::{Style, Text};
use crate::report::sheet::{PlotSheet, RepSheet, Sheet};

/// Shares of columns of equal width.
const FOUR: [f32; 4] = [1.0; 4];
const SIX: [f32; 6] = [1.0; 6];
/// The target is told in words.
const TOTALS: [f32; 6] = [1.0, 1.0, 1.0, 1.0, 1.0, 1.6];

pub(super) fn write(sheet: &Sheet, house: &mut House) -> Result<(), String> {
    summary(sheet, house);
    house.new_page();
    reps(sheet, house)?;
    set(sheet, house)?;
    film(sheet, house);
    basis(sheet, house);
    Ok(())
}

fn summary(sheet: &Sheet, house: &mut House) {
    house.heading(1, sheet.title);
    house.paragraph(&HEADLINE.says(&sheet.headline), 9.5, 10.0);
    house.paragraph(&BODY.says(&sheet.state), 0.0, 10.0);
    if let [facts @ .., (label, checksum)] = sheet.facts.as_slice() {
        house.facts(facts, &FOUR, BODY);
        let checksum = Style::of(7.5).quiet().says(&format!("{label}: {checksum}"));
        house.paragraph(&checksum, 10.0, 10.0);
    }
    house.list(&sheet.findings);
    house.together(|house| {
        house.rule(7.0, 2.0 * MM);
        house.facts(&sheet.totals, &TOTALS, Style::of(12.0));
        house.rule(2.0 * MM, 8.0);
    });
    house.table(&Table {
        name: None,
        head: sheet.columns.iter().map(head).collect(),
        // What is not clean is set heavier, for those who skim.
        rows: sheet.reps.iter().map(|rep| row(rep.clean, &rep.row)).collect(),
        // Numbers stand right: that of the rep, and all between verdict and reasons.
        align: (0..sheet.columns.len())
            .map(|at| match at {
                1 => Align::Left,
                _ if at + 1 == sheet.columns.len() => Align::Left,
                _ => Align::Right,
            })
            .collect(),
        last_is_wide: true,
    });
    house.points(sheet.words.review, &sheet.review);
    house.points(sheet.words.look, &sheet.look);
    house.points(sheet.words.film, &sheet.notes);
    house.points(sheet.words.cautions, &sheet.cautions);
}

fn head((name, unit): &(&str, &str)) -> Vec<Text> {
    let mut lines = vec![BODY.heavy().says(name)];
    if !unit.is_empty() {
        lines.push(CAPTION.says(unit));
    }
    lines
}

fn row(clean: bool, cells: &[String]) -> Vec<Text> {
    let style = if clean { BODY } else { BODY.heavy() };
    cells.iter().map(|cell| style.says(cell)).collect()
}

fn reps(sheet: &Sheet, house: &mut House) -> Result<(), String> {
    house.heading(2, sheet.words.reps);
    house.paragraph(&CAPTION.says(sheet.words.standard_error), 0.0, 0.0);
    sheet.reps.iter().try_for_each(|rep| house.together(|house| one_rep(sheet, rep, house)))
}

/// Drawings and pictures stand side by side, so that three reps go on a page.
fn one_rep(sheet: &Sheet, rep: &RepSheet, house: &mut House) -> Result<(), String> {
    let RepSheet { number, mark, verdict, reasons, .. } = rep;
    let why = if reasons.is_empty() { String::new() } else { format!(" – {reasons}") };
    house.rule(3.0 * MM, 2.0 * MM);
    house.heading(3, &format!("{} {number}: {mark} {verdict}{why}", sheet.words.rep));
    for said in &rep.review {
        house.paragraph(&BODY.says(said), 4.75, 7.6);
    }
    let pictures: Vec<Pictured> = rep
        .pictures
        .iter()
        .map(|picture| Pictured { jpeg: &picture.jpeg, shows: &picture.shows })
        .collect();
    house.figures(&drawn(&rep.plots), &pictures, 3, 3.0 * MM)?;
    house.facts(&rep.numbers, &SIX, Style::of(9.0));
    Ok(())
}

fn drawn(plots: &[PlotSheet]) -> Vec<Drawn<'_>> {
    plots
        .iter()
        .map(|PlotSheet { title, alternative, svg }| Drawn { title, alternative, svg })
        .collect()
}

fn set(sheet: &Sheet, house: &mut House) -> Result<(), String> {
    if !sheet.set_plots.is_empty() || !sheet.drift.is_empty() {
        house.heading(2, sheet.words.set);
        if !sheet.drift.is_empty() {
            house.together(|house| {
                house.paragraph(&BODY.says(sheet.drift_is), 0.0, 0.0);
                house.facts(&sheet.drift, &FOUR, BODY);
            });
        }
        house.figures(&drawn(&sheet.set_plots), &[], 2, 6.0 * MM)?;
    }
    house.points(sheet.words.not_judged, &sheet.not_judged);
    Ok(())
}

fn film(sheet: &Sheet, house: &mut House) {
    if sheet.film.is_empty() {
        return;
    }
    let row = |(what, grade, number): &(&str, String, String)| {
        vec![BODY.says(what), BODY.says(grade), BODY.says(number)]
    };
    house.together(|house| {
        house.heading(2, sheet.words.film_quality);
        house.table(&Table {
            name: Some(sheet.words.film_quality),
            head: Vec::new(),
            rows: sheet.film.iter().map(row).collect(),
            align: vec![Align::Left; 3],
            last_is_wide: true,
        });
    });
}

fn basis(sheet: &Sheet, house: &mut House) {
    let words = sheet.words;
    house.heading(2, words.definitions);
    for it in &sheet.definitions {
        let label = it.label.map_or(String::new(), |label| format!(" ({label})"));
        let what = SMALL.heavy().says(it.name).then(SMALL, &format!("{label}: {}", it.definition));
        let more = format!(
            "{}: {}. {}: {}. {}: {} {}: {}.",
            words.formula,
            it.formula,
            words.unit,
            it.unit,
            words.validity,
            it.validity,
            words.source,
            it.source
        );
        house.together(|house| {
            house.rule(2.0 * MM, 1.2 * MM);
            house.paragraph(&what, 0.0, 4.25);
            house.paragraph(&SMALL.quiet().says(&more), 4.25, 0.0);
        });
    }
    house.heading(2, words.limits);
    let head = [words.limit, words.value, words.source];
    house.table(&Table {
        name: Some(words.limits),
        head: head.iter().map(|name| vec![SMALL.heavy().says(name)]).collect(),
        rows: sheet
            .limits
            .iter()
            .map(|it| [&it.name, &it.value, &it.source].map(|cell| SMALL.says(cell)).to_vec())
            .collect(),
        align: vec![Align::Left; 3],
        last_is_wide: true,
    });
    house.sources(words.sources, &sheet.sources);
}
