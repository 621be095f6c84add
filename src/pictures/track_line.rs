//! Residuals of readings along the track, so that the play of the track is seen as a gap.

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::drawing::Fault;
use crate::drawing::chart::scatter::Level;
use crate::drawing::chart::scatter::Scatter;
use crate::drawing::chart::scatter::scatter;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::OCHRE;
use crate::pictures::Picture;
use crate::pictures::directions::ACROSS;
use crate::pictures::directions::Mark;
use crate::pictures::directions::Spot;
use crate::pictures::directions::cloud;
use crate::pictures::directions::gap;
use crate::pictures::directions::no_part;
use crate::pictures::directions::noted;
use crate::pictures::directions::put_back;
use crate::pictures::directions::usual;
use crate::pictures::play::Axis;
use crate::pictures::play::play;
use crate::pictures::residuals::Aside;
use crate::pictures::residuals::Placed;
use crate::pictures::residuals::Residuals;
use crate::pictures::residuals::mean;
use crate::pictures::residuals::middle;
use crate::pictures::residuals::residuals;
use crate::pictures::residuals::solved;
use crate::pictures::residuals::value;
use crate::readings::Shown;
use crate::registration::Document;
use crate::registration::ReadingDocument;

/// A reading that sees less of the travel says nothing of the play.
const ALONG: f64 = 0.5;

/// Readings along the track; None without any.
pub fn track_line(
    document: &Document,
    bench: &Bench,
    geometry: &Geometry,
) -> Result<Option<Picture>, Fault> {
    let all = residuals(document, bench, geometry);
    let Some(chart) = chart(document, bench, &all, geometry) else {
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
    bench: &Bench,
    all: &Residuals<'_>,
    geometry: &Geometry,
) -> Option<(Scatter, String)> {
    let track = geometry.track.as_ref()?;
    let half = track.sense * track.lost_motion_mm / 2.0;
    let marks: Vec<Mark> = all
        .placed
        .iter()
        .filter_map(|placed| {
            let spot = spot(placed.row, &placed.shown, half)?;
            Some(Mark { placed, spot })
        })
        .collect();
    if marks.is_empty() {
        return None;
    }
    let aside = all.aside.iter();
    let aside: Vec<(&Aside, Spot)> = aside
        .filter_map(|a| Some((a, spot(&a.row, &a.shown, half)?)))
        .collect();
    let noted = noted(&marks, None);
    let u = middle(marks.iter().map(|m| m.spot.u));
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
    let along = |shown: &Shown| matches!(shown, Shown::AlongTrack { .. });
    add(no_part(document, bench, (&drawn, &aside), all, along));
    add(all.not_drawn(&drawn));
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
        cloud: cloud(
            &marks,
            &aside,
            all,
            &["rising (up)", "falling (down)"].map(str::to_owned),
        ),
        levels: levels.collect(),
        gap: gap(&play, 0.0),
        usual: Some(usual(u, "mm")),
        notes: all.drawn_where(&drawn).into_iter().collect(),
    };
    Some((chart, sentence))
}

/// Where a residual is drawn, if its reading is one along the track: mm.
fn spot(row: &ReadingDocument, shown: &Shown, half: f64) -> Option<Spot> {
    let Shown::AlongTrack { reading, up, share } = *shown else {
        return None;
    };
    // What sees little of the travel is drawn as it is: divided by its share it would be noise.
    if share.abs() < ALONG {
        return Some(Spot {
            at: (reading, row.residual),
            u: row.u,
            class: ACROSS,
        });
    }
    let (class, back) = put_back(up, half);
    Some(Spot {
        at: (reading, row.residual / share + back),
        u: row.u / share.abs(),
        class,
    })
}
