//! Residuals of readings along the track, so that the play of the track is seen as a gap.

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::drawing::Fault;
use crate::drawing::chart::marks::Class;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::marks::Tag;
use crate::drawing::chart::scatter::Gap;
use crate::drawing::chart::scatter::Level;
use crate::drawing::chart::scatter::Scatter;
use crate::drawing::chart::scatter::Usual;
use crate::drawing::chart::scatter::scatter;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::GREY;
use crate::drawing::ink::INK;
use crate::drawing::ink::OCHRE;
use crate::pictures::Picture;
use crate::pictures::play::Axis;
use crate::pictures::play::Noted;
use crate::pictures::play::play;
use crate::pictures::residuals::Placed;
use crate::pictures::residuals::Residuals;
use crate::pictures::residuals::USUAL;
use crate::pictures::residuals::mean;
use crate::pictures::residuals::middle;
use crate::pictures::residuals::residuals;
use crate::pictures::residuals::solved;
use crate::pictures::residuals::value;
use crate::readings::Shown;
use crate::registration::Document;

/// A reading that sees less of the travel says nothing of the play.
const ALONG: f64 = 0.5;

/// A reading in the picture.
struct Mark<'a, 'b> {
    placed: &'b Placed<'a>,
    /// Reading of the track, and what is drawn over it, mm.
    at: (f64, f64),
    /// u of what is drawn, mm.
    u: f64,
    /// rising, falling, not noted, across the track.
    class: usize,
}

/// Readings along the track; None without any.
pub fn track_line(
    document: &Document,
    bench: &Bench,
    geometry: &Geometry,
) -> Result<Option<Picture>, Fault> {
    let all = residuals(document, bench, geometry);
    let Some(chart) = chart(document, &all, geometry) else {
        return Ok(None);
    };
    Picture::new(
        "track-line",
        "Readings along the track",
        &chart.1,
        |width| scatter(&chart.0, width),
    )
    .map(Some)
}

/// The chart and its sentence.
pub(super) fn chart(
    document: &Document,
    all: &Residuals<'_>,
    geometry: &Geometry,
) -> Option<(Scatter, String)> {
    let track = geometry.track.as_ref()?;
    let half = track.sense * track.lost_motion_mm / 2.0;
    let marks: Vec<Mark> = all.placed.iter().filter_map(|p| mark(p, half)).collect();
    if marks.is_empty() {
        return None;
    }
    let of = |class: usize, checked: bool| -> Vec<f64> {
        let fit = marks
            .iter()
            .filter(|m| m.class == class && !m.placed.suspect && (m.placed.checked() || !checked));
        fit.map(|m| m.at.1).collect()
    };
    let noted = Noted {
        fit: [of(0, false), of(1, false)],
        checked: [of(0, true), of(1, true)],
        levels: None,
    };
    let u = middle(marks.iter().map(|m| m.u));
    let axis = Axis {
        name: "track",
        unit: "mm",
        usual: u,
        doubtful: all.marked.doubtful(),
    };
    let found = solved(document, "track.lost_motion");
    let play = play(found, half, &noted, &axis);
    let drawn: Vec<&Placed> = marks.iter().map(|m| m.placed).collect();
    let mut sentence = all.answer(&drawn, "reading");
    let mut add = |text: Option<String>| {
        if let Some(text) = text {
            sentence.push(' ');
            sentence.push_str(&text);
        }
    };
    add(play.sentence.clone());
    add(all.doubt());
    if play.half != 0.0 {
        let seen = match play.gap.is_some() {
            true => ", so that the gap is seen",
            false => "",
        };
        add(Some(format!(
            "Each residual is drawn with half the lost motion put back{seen}."
        )));
    }
    add(all.not_drawn(&drawn));
    let classes = [
        ("rising (up)", Shape::Up, BLUE),
        ("falling (down)", Shape::Down, OCHRE),
        ("direction not noted", Shape::Square, INK),
        ("counted across the track", Shape::Cross, GREY),
    ];
    let classes = classes
        .iter()
        .enumerate()
        .map(|(k, (words, shape, ink))| Class {
            words: (*words).to_owned(),
            shape: *shape,
            ink: *ink,
            points: marks
                .iter()
                .filter(|m| m.class == k)
                .map(|m| m.at)
                .collect(),
        });
    let means = noted.fit.each_ref().map(|values| mean(values));
    let mut description = sentence.clone();
    for (words, m) in ["rising", "falling"].iter().zip(means) {
        if let Some(m) = m {
            description.push_str(&format!(" Mean of {words} readings: {} mm.", value(m, u)));
        }
    }
    let levels = [BLUE, OCHRE].iter().enumerate().filter_map(|(k, ink)| {
        Some(Level {
            value: play.levels[k]?,
            ink: *ink,
            dashed: k == 1,
            words: play.level_words[k].clone(),
        })
    });
    let put_back = match play.half != 0.0 {
        true => ", half the lost motion put back",
        false => "",
    };
    let chart = Scatter {
        title: "Residuals of readings along the track".to_owned(),
        description,
        x_label: "track, reading".to_owned(),
        y_label: format!(
            "residual along the travel, mm (where the registration has it, less where it was read){put_back}"
        ),
        classes: classes.collect(),
        levels: levels.collect(),
        gap: play.levels[0]
            .zip(play.levels[1])
            .zip(play.gap.clone())
            .map(|((from, to), words)| Gap { from, to, words }),
        usual: Some(Usual {
            half: USUAL * u,
            words: format!(
                "±{} mm: 95 % of readings lie so near (1.96 u of a typical one)",
                value(USUAL * u, u)
            ),
        }),
        suspects: marks
            .iter()
            .filter(|m| m.placed.suspect)
            .map(|m| Tag {
                at: m.at,
                label: all.label(m.placed),
            })
            .collect(),
        suspect_words: "stands out".to_owned(),
        notes: all.drawn_where(&drawn).into_iter().collect(),
    };
    Some((chart, sentence))
}

/// Where a reading is drawn, if it is one along the track.
fn mark<'a, 'b>(placed: &'b Placed<'a>, half: f64) -> Option<Mark<'a, 'b>> {
    let Shown::AlongTrack { reading, up, share } = placed.shown else {
        return None;
    };
    let row = placed.row;
    // What sees little of the travel is drawn as it is: divided by its share it would be noise.
    if share.abs() < ALONG {
        return Some(Mark {
            placed,
            at: (reading, row.residual),
            u: row.u,
            class: 3,
        });
    }
    let (class, back) = match up {
        Some(true) => (0, half),
        Some(false) => (1, -half),
        None => (2, 0.0),
    };
    Some(Mark {
        placed,
        at: (reading, row.residual / share + back),
        u: row.u / share.abs(),
        class,
    })
}
