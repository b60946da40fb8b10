//! A short report: of two sides, of weeks.

use super::house::{Align, BODY, Drawn, HEADLINE, House, MM, Table};
use crate::report::leaflet::{self, Leaflet, Part};
use crate::report::wording::headings::{LEAFLET, WORDS};

pub(super) fn write(it: &Leaflet, house: &mut House) -> Result<(), String> {
    house.heading(1, &it.title);
    let day = it.date.strftime("%-d %B %Y");
    house.paragraph(&BODY.quiet().says(&format!("{}, {day}", it.about)), 8.5, 9.5);
    house.paragraph(&HEADLINE.says(&it.headline), 9.5, 10.0);
    house.facts(&it.facts, &[1.0; 3], BODY);
    house.paragraph(&BODY.says(&it.reviewed), 9.5, 9.5);
    for section in &it.sections {
        house.heading(2, &section.title);
        section.parts.iter().try_for_each(|part| write_part(part, house))?;
    }
    house.points(LEAFLET.notes, &it.notes);
    house.points(WORDS.cautions, &it.cautions);
    house.sources(WORDS.sources, &it.sources);
    Ok(())
}

fn write_part(part: &Part, house: &mut House) -> Result<(), String> {
    match part {
        Part::Paragraph(text) => house.paragraph(&BODY.says(text), 6.65, 6.65),
        Part::Points(texts) => house.list(texts),
        Part::Table(it) => house.table(&table(it)),
        Part::Figures(figures) => {
            let drawings: Vec<Drawn> = figures
                .iter()
                .map(|figure| Drawn {
                    title: &figure.plot.title,
                    alternative: &figure.plot.alternative,
                    svg: &figure.plot.svg,
                })
                .collect();
            house.figures(&drawings, &[], 2, 6.0 * MM)?;
        }
    }
    Ok(())
}

fn table(it: &leaflet::Table) -> Table<'_> {
    let last = it.head.len().saturating_sub(1);
    let left = |at| at == 0 || (it.ends_in_words && at == last);
    Table {
        name: Some(&it.name),
        head: it.head.iter().map(|cell| vec![BODY.heavy().says(cell)]).collect(),
        rows: it.rows.iter().map(|row| row.iter().map(|cell| BODY.says(cell)).collect()).collect(),
        align: (0..=last).map(|at| if left(at) { Align::Left } else { Align::Right }).collect(),
        last_is_wide: it.ends_in_words,
    }
}
