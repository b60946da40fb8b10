//! Left against right as a short report.

use jiff::civil::Date;

use super::leaflet::{Figure, Leaflet, Part, Section, Table, sources};
use super::plots::sides_plots;
use super::wording::comparison as words;
use super::wording::{CAUTIONS, plain_list};
use crate::between::sides::Comparison;

/// The comparison as a short report of that day.
pub fn comparison(c: &Comparison, date: Date) -> Leaflet {
    let notes = c.cautions.iter().filter_map(words::caution).collect();
    let sections = vec![counts(c), movement(c), rep_by_rep(c)];
    Leaflet {
        title: words::TITLE.into(),
        about: plain_list(&[c.left.session.as_str(), c.right.session.as_str()]),
        date,
        headline: words::headline(c),
        facts: vec![
            (words::EXERCISE.into(), c.rung.words().into()),
            (words::LEFT.into(), words::session(&c.left)),
            (words::RIGHT.into(), words::session(&c.right)),
            (words::INVOLVED.into(), c.involved.map_or(words::NOT_NAMED, |leg| leg.word()).into()),
        ],
        reviewed: words::reviewed(c),
        sources: sources(&sections),
        sections: sections.into_iter().filter(|s| !s.parts.is_empty()).collect(),
        notes,
        cautions: CAUTIONS.map(String::from).to_vec(),
    }
}

fn counts(c: &Comparison) -> Section {
    let table = Table {
        name: words::COUNTS.into(),
        head: vec![
            String::new(),
            words::LEFT.into(),
            words::RIGHT.into(),
            words::percent_of(c.involved),
        ],
        rows: c.symmetry.iter().map(words::count_row).collect(),
        ends_in_words: false,
    };
    Section {
        title: words::COUNTS.into(),
        parts: vec![
            Part::Table(table),
            Part::Points(vec![words::threshold(c), words::FLATTERS.into(), words::EFFORT.into()]),
        ],
    }
}

fn movement(c: &Comparison) -> Section {
    let table = Table {
        name: words::MOVEMENT.into(),
        head: words::MOVEMENT_HEAD.map(String::from).to_vec(),
        rows: c.differences.iter().map(words::measure_row).collect(),
        ends_in_words: true,
    };
    Section {
        title: words::MOVEMENT.into(),
        parts: vec![
            Part::Points(words::differing(c)),
            Part::Table(table),
            Part::Paragraph(words::HOW_TO_READ.into()),
        ],
    }
}

fn rep_by_rep(c: &Comparison) -> Section {
    let figure = |plot| Figure { plot, plain: Vec::new() };
    let figures: Vec<Figure> = sides_plots(c).into_iter().map(figure).collect();
    let parts = if figures.is_empty() { Vec::new() } else { vec![Part::Figures(figures)] };
    Section { title: words::REP_BY_REP.into(), parts }
}
