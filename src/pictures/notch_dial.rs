//! Residuals of readings round the turntable: play as two circles, an off-centre notch circle as their shift.

use nalgebra::DMatrix;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::cell::TurntableGeometry;
use crate::drawing::Fault;
use crate::drawing::chart::dial::Curve;
use crate::drawing::chart::dial::Dial;
use crate::drawing::chart::dial::dial;
use crate::drawing::chart::marks::Class;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::marks::Tag;
use crate::drawing::chart::scatter::Gap;
use crate::drawing::chart::scatter::Usual;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::GREY;
use crate::drawing::ink::INK;
use crate::drawing::ink::OCHRE;
use crate::fit::standalone::lsq;
use crate::pictures::Picture;
use crate::pictures::residuals::Placed;
use crate::pictures::residuals::Residuals;
use crate::pictures::residuals::USUAL;
use crate::pictures::residuals::mean;
use crate::pictures::residuals::middle;
use crate::pictures::residuals::play;
use crate::pictures::residuals::residuals;
use crate::pictures::residuals::solved;
use crate::pictures::residuals::value;
use crate::readings::Shown;
use crate::registration::Document;

/// A reading in the picture.
struct Mark<'a, 'b> {
    placed: &'b Placed<'a>,
    /// Angle on the platter and what is drawn there, degrees.
    at: (f64, f64),
    /// rising, falling, not noted.
    class: usize,
}

/// `cos · cos α + sin · sin α`, degrees, and where it is from.
struct Harmonic {
    cos: f64,
    sin: f64,
    from: From,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum From {
    Solved,
    Held,
    /// Fitted to the residuals, for the eye.
    Eye,
    Nothing,
}

/// Readings round the turntable; None without any.
pub fn notch_dial(
    document: &Document,
    bench: &Bench,
    geometry: &Geometry,
) -> Result<Option<Picture>, Fault> {
    let all = residuals(document, bench, geometry);
    let Some((chart, sentence)) = chart(document, &all, geometry) else {
        return Ok(None);
    };
    Picture::new(
        "notch-dial",
        "Notches round the turntable",
        &sentence,
        |width| dial(&chart, width),
    )
    .map(Some)
}

/// The chart and its sentence.
pub(super) fn chart(
    document: &Document,
    all: &Residuals<'_>,
    geometry: &Geometry,
) -> Option<(Dial, String)> {
    let table = geometry.turntable.as_ref()?;
    let half = table.sense * table.lost_motion_rad.to_degrees() / 2.0;
    let mut harmonic = harmonic(document, table);
    let mut marks: Vec<Mark> = all
        .placed
        .iter()
        .filter_map(|p| mark(p, half, &harmonic))
        .collect();
    if marks.is_empty() {
        return None;
    }
    if harmonic.from == From::Nothing {
        harmonic = fitted(&marks, half);
    }
    marks.sort_by(|a, b| a.at.0.total_cmp(&b.at.0));
    let of = |class: usize| -> Vec<f64> {
        let fit = marks
            .iter()
            .filter(|m| m.class == class && !m.placed.suspect);
        fit.map(|m| m.at.1).collect()
    };
    let (up, down) = (of(0), of(1));
    let u = middle(marks.iter().map(|m| m.placed.row.u));
    let found = solved(document, "turntable.lost_motion");
    let play = play(found, half, (&up, &down), "deg", u, "turntable");
    let drawn: Vec<&Placed> = marks.iter().map(|m| m.placed).collect();
    let mut sentence = all.answer(&drawn, "notch reading");
    let mut add = |text: Option<String>| {
        if let Some(text) = text {
            sentence.push(' ');
            sentence.push_str(&text);
        }
    };
    add(play.sentence.clone());
    add(all.doubt(document));
    let size = value(harmonic.cos.hypot(harmonic.sin), u);
    let (off_centre, harmonic_words) = match harmonic.from {
        From::Solved => (
            Some(format!("The notch circle is off centre by {size} deg.")),
            "the notch circle off centre, as found",
        ),
        From::Held => (
            Some(format!(
                "The notch circle is taken to be off centre by {size} deg, as cell.toml holds it."
            )),
            "the notch circle off centre, as held",
        ),
        From::Eye => (
            Some(format!(
                "A wave of {size} deg once round is drawn for the eye only{}; the registration does not know it.",
                chance(&harmonic, u, marks.len())
            )),
            "a wave once round, for the eye only",
        ),
        From::Nothing => (None, "level"),
    };
    add(off_centre);
    let back = match (
        play.half != 0.0,
        matches!(harmonic.from, From::Solved | From::Held),
    ) {
        (true, true) => Some("half the lost motion and the notch circle's shift are put back"),
        (true, false) => Some("half the lost motion is put back"),
        (false, true) => Some("the notch circle's shift is put back"),
        (false, false) => None,
    };
    add(back.map(|b| format!("In what is drawn {b}, so that they are seen.")));
    add(all.not_drawn(&drawn));
    let classes = [
        ("rising (up)", Shape::Up, BLUE),
        ("falling (down)", Shape::Down, OCHRE),
        ("direction not noted", Shape::Square, INK),
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
    let wave = harmonic.from != From::Nothing;
    let curve = |constant: f64, ink, dashed, words: String| Curve {
        constant,
        cos: harmonic.cos,
        sin: harmonic.sin,
        ink,
        dashed,
        words,
    };
    let mut curves: Vec<Curve> = [BLUE, OCHRE]
        .iter()
        .enumerate()
        .filter_map(|(k, ink)| {
            let words = match wave {
                true => format!("{}, with {harmonic_words}", play.level_words[k]),
                false => play.level_words[k].clone(),
            };
            Some(curve(play.levels[k]?, *ink, k == 1, words))
        })
        .collect();
    if curves.is_empty() && wave {
        let values: Vec<f64> = marks.iter().map(|m| m.at.1).collect();
        let level = match harmonic.from {
            From::Eye => mean(&values).unwrap_or(0.0),
            _ => 0.0,
        };
        curves.push(curve(level, GREY, true, harmonic_words.to_owned()));
    }
    let gap = play.levels[0]
        .zip(play.levels[1])
        .zip(play.gap.clone())
        .map(|((from, to), words)| Gap { from, to, words });
    let put_back = back.map_or(String::new(), |b| format!("; {b}"));
    let chart = Dial {
        title: "Residuals of notch readings round the turntable".to_owned(),
        description: sentence.clone(),
        label: format!(
            "residual, deg, outward from the circle of zero (where the registration has the notch, less where it stood){put_back}"
        ),
        classes: classes.collect(),
        curves,
        gap,
        usual: Some(Usual {
            half: USUAL * u,
            words: format!(
                "±{} deg: 95 % of readings lie so near (1.96 u of a typical one)",
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
        notes: vec![
            "Angles are those of the notches on the platter: 0° at its x axis, counter-clockwise as seen from above."
                .to_owned(),
        ],
    };
    Some((chart, sentence))
}

/// Amplitudes of a wave through noise are Rayleigh distributed about u √(2/n); 95 % are below 2.45 times that.
fn chance(harmonic: &Harmonic, u: f64, count: usize) -> &'static str {
    let usual = 2.45 * u * (2.0 / count as f64).sqrt();
    match harmonic.cos.hypot(harmonic.sin) <= usual {
        true => ", no larger than chance may make it",
        false => "",
    }
}

/// What the registration takes the notch circle's shift to be, as it shows in a residual: with its sign turned.
fn harmonic(document: &Document, table: &TurntableGeometry) -> Harmonic {
    let known = ["turntable.ecc_cos", "turntable.ecc_sin"];
    let from = if known.iter().any(|name| solved(document, name).is_some()) {
        From::Solved
    } else if table.ecc_cos_rad != 0.0 || table.ecc_sin_rad != 0.0 {
        From::Held
    } else {
        From::Nothing
    };
    Harmonic {
        cos: -table.ecc_cos_rad.to_degrees(),
        sin: -table.ecc_sin_rad.to_degrees(),
        from,
    }
}

/// A wave through the residuals that fit; none where they do not settle one.
fn fitted(marks: &[Mark<'_, '_>], half: f64) -> Harmonic {
    let fit: Vec<&Mark> = marks.iter().filter(|m| !m.placed.suspect).collect();
    let nothing = Harmonic {
        cos: 0.0,
        sin: 0.0,
        from: From::Nothing,
    };
    // Each direction has a level of its own, unless the play is known.
    let apart = half == 0.0 && [0, 1].iter().all(|c| fit.iter().any(|m| m.class == *c));
    let levels = if apart { 2 } else { 1 };
    let design = DMatrix::from_fn(fit.len(), levels + 2, |i, j| {
        let mark = fit[i];
        let (sin, cos) = mark.at.0.to_radians().sin_cos();
        match j {
            0 => 1.0,
            1 if apart => [1.0, -1.0, 0.0][mark.class],
            j if j == levels => cos,
            _ => sin,
        }
    });
    let values: Vec<f64> = fit
        .iter()
        .map(|m| m.at.1 - [half, -half, 0.0][m.class])
        .collect();
    match lsq::solve(&design, &values, None) {
        Ok(found) if found.dof > 0 => Harmonic {
            cos: found.params[levels],
            sin: found.params[levels + 1],
            from: From::Eye,
        },
        _ => nothing,
    }
}

/// Where a reading is drawn, if it is one round the table.
fn mark<'a, 'b>(placed: &'b Placed<'a>, half: f64, harmonic: &Harmonic) -> Option<Mark<'a, 'b>> {
    let Shown::RoundTable { angle_rad, up } = placed.shown else {
        return None;
    };
    let (class, back) = match up {
        Some(true) => (0, half),
        Some(false) => (1, -half),
        None => (2, 0.0),
    };
    let (sin, cos) = angle_rad.sin_cos();
    let wave = harmonic.cos * cos + harmonic.sin * sin;
    Some(Mark {
        placed,
        at: (angle_rad.to_degrees(), placed.row.residual + back + wave),
        class,
    })
}
