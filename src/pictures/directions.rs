//! What the pictures along the track and round the turntable share: marks of readings that came with the
//! axis rising or falling, the gap that the play makes between them, and those that were set aside.

use std::collections::BTreeSet;

use crate::bench::Bench;
use crate::drawing::chart::cloud::Cloud;
use crate::drawing::chart::marks::Class;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::marks::Tag;
use crate::drawing::chart::scatter::Gap;
use crate::drawing::chart::scatter::Usual;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::GREY;
use crate::drawing::ink::INK;
use crate::drawing::ink::OCHRE;
use crate::drawing::svg::Colour;
use crate::pictures::aside;
use crate::pictures::play::Noted;
use crate::pictures::play::Play;
use crate::pictures::residuals::Aside;
use crate::pictures::residuals::Placed;
use crate::pictures::residuals::Residuals;
use crate::pictures::residuals::USUAL;
use crate::pictures::residuals::place;
use crate::pictures::residuals::value;
use crate::readings::Shown;
use crate::registration::Document;

/// rising, falling, not noted; and what sees little of the travel.
const CLASSES: [(&str, Shape, Colour); 4] = [
    ("rising (up)", Shape::Up, BLUE),
    ("falling (down)", Shape::Down, OCHRE),
    ("direction not noted", Shape::Square, INK),
    ("counted across the track", Shape::Cross, GREY),
];
/// The place of the last of them.
pub(super) const ACROSS: usize = 3;

/// Where a residual is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spot {
    /// Reading of the axis, and what is drawn there, in the picture's units.
    pub(super) at: (f64, f64),
    /// u of what is drawn.
    pub(super) u: f64,
    /// Its place in the list of classes.
    pub(super) class: usize,
}

/// A reading in the picture.
#[derive(Debug)]
pub(super) struct Mark<'a, 'b> {
    pub(super) placed: &'b Placed<'a>,
    pub(super) spot: Spot,
}

/// The class of a direction, and what is put back of half the play.
pub(super) fn put_back(up: Option<bool>, half: f64) -> (usize, f64) {
    match up {
        Some(true) => (0, half),
        Some(false) => (1, -half),
        None => (2, 0.0),
    }
}

/// What is drawn of the readings that fit, by direction; `levels` as something else than the mean tells them.
pub(super) fn noted(marks: &[Mark<'_, '_>], levels: Option<[f64; 2]>) -> Noted {
    let of = |class: usize, checked: bool| -> Vec<f64> {
        let fit = marks.iter().filter(|m| {
            m.spot.class == class && !m.placed.suspect && (m.placed.checked() || !checked)
        });
        fit.map(|m| m.spot.at.1).collect()
    };
    Noted {
        fit: [of(0, false), of(1, false)],
        checked: [of(0, true), of(1, true)],
        levels,
    }
}

/// The marks of the picture; `aside` are those set aside, `directions` rising and falling in the key.
pub(super) fn cloud(
    marks: &[Mark<'_, '_>],
    aside: &[(&Aside<'_>, Spot)],
    all: &Residuals<'_>,
    directions: &[String; 2],
) -> Cloud {
    let classes = CLASSES.iter().enumerate();
    let classes = classes.map(|(k, (words, shape, ink))| Class {
        words: directions
            .get(k)
            .cloned()
            .unwrap_or_else(|| (*words).to_owned()),
        shape: *shape,
        ink: *ink,
        points: marks
            .iter()
            .filter(|m| m.spot.class == k)
            .map(|m| m.spot.at)
            .collect(),
    });
    let suspects = marks.iter().filter(|m| m.placed.suspect);
    let suspects = suspects.map(|m| Tag {
        at: m.spot.at,
        label: all.label(m.placed),
    });
    let set_aside = aside.iter().map(|(a, spot)| Tag {
        at: spot.at,
        label: format!(
            "{}: set aside, {} {} from what the others say",
            place(&a.row),
            value(a.row.residual.abs(), a.row.u),
            a.row.unit
        ),
    });
    Cloud {
        classes: classes.collect(),
        suspects: suspects.collect(),
        suspect_words: "stands out".to_owned(),
        aside: set_aside.collect(),
        aside_words: "set aside: took no part".to_owned(),
    }
}

/// What took no part, of the readings that the picture shows.
pub(super) fn no_part(
    document: &Document,
    bench: &Bench,
    (drawn, aside): (&[&Placed<'_>], &[(&Aside<'_>, Spot)]),
    all: &Residuals<'_>,
    shows: impl Fn(&Shown) -> bool,
) -> Option<String> {
    let files: BTreeSet<&str> = drawn.iter().map(|p| p.row.file.as_str()).collect();
    let drawn: Vec<_> = aside.iter().map(|(a, _)| a.place).collect();
    let shows = |r: &_| shows(&all.shown(r));
    aside::told(document, bench, shows, &files, &drawn)
}

/// The dimension between the levels of the two directions, `shift` farther out.
pub(super) fn gap(play: &Play, shift: f64) -> Option<Gap> {
    let (from, to) = play.levels[0].zip(play.levels[1])?;
    Some(Gap {
        from: from + shift,
        to: to + shift,
        words: play.gap.clone()?,
    })
}

/// How near 95 of 100 readings lie, by the u of a typical one.
pub(super) fn usual(u: f64, unit: &str) -> Usual {
    Usual {
        half: USUAL * u,
        words: format!(
            "±{} {unit}: 95 % of readings lie so near (1.96 u of a typical one)",
            value(USUAL * u, u)
        ),
    }
}
