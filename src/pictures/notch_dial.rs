//! Residuals of readings round the turntable: play as two circles, an off-centre notch circle as their shift.

use nalgebra::DMatrix;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::cell::TurntableGeometry;
use crate::drawing::Fault;
use crate::drawing::chart::dial::Curve;
use crate::drawing::chart::dial::Dial;
use crate::drawing::chart::dial::dial;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::GREY;
use crate::drawing::ink::OCHRE;
use crate::fit::standalone::lsq;
use crate::pictures::Picture;
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
use crate::pictures::residuals::middle;
use crate::pictures::residuals::residuals;
use crate::pictures::residuals::solved;
use crate::pictures::residuals::value;
use crate::readings::Shown;
use crate::registration::Document;
use crate::registration::ReadingDocument;

/// 95 of 100 values of chi square with two degrees of freedom are below it: −2 ln 0.05.
const TWO_AT_95: f64 = 5.991_464_547_107_98;
/// Fewer places round the circle settle no wave.
const LEAST_PLACES: usize = 6;
/// Where neighbours are farther apart, a wave there would be made up.
const WIDEST_DEG: f64 = 120.0;

/// A wave whose u some way round is more than so many times that of evenly placed readings is not told.
const WORST: f64 = 2.0;

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
    let Some((chart, sentence)) = chart(document, bench, &all, geometry) else {
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
    bench: &Bench,
    all: &Residuals<'_>,
    geometry: &Geometry,
) -> Option<(Dial, String)> {
    let table = geometry.turntable.as_ref()?;
    let half = table.sense * table.lost_motion_rad.to_degrees() / 2.0;
    let mut harmonic = harmonic(document, table);
    let mut marks: Vec<Mark> = all
        .placed
        .iter()
        .filter_map(|placed| {
            let spot = spot(placed.row, &placed.shown, half, &harmonic)?;
            Some(Mark { placed, spot })
        })
        .collect();
    if marks.is_empty() {
        return None;
    }
    let aside = all.aside.iter();
    let aside: Vec<(&Aside, Spot)> = aside
        .filter_map(|a| Some((a, spot(&a.row, &a.shown, half, &harmonic)?)))
        .collect();
    let found = match harmonic.from {
        From::Nothing => fitted(&marks, half),
        _ => None,
    };
    // What noise may make is no wave: none is drawn, and no figure said.
    let by_chance = found.as_ref().is_some_and(|w| w.chance);
    let wave = found.filter(|w| !w.chance);
    if let Some(wave) = &wave {
        harmonic = Harmonic {
            cos: wave.amplitudes.0,
            sin: wave.amplitudes.1,
            from: From::Eye,
        };
    }
    // A wave through uneven notches goes about a level of its own.
    let level = wave.as_ref().map_or(0.0, |w| w.level);
    marks.sort_by(|a, b| a.spot.at.0.total_cmp(&b.spot.at.0));
    let noted = noted(&marks, wave.as_ref().and_then(|w| w.levels));
    let u = middle(marks.iter().map(|m| m.spot.u));
    let axis = Axis {
        name: "turntable",
        unit: "deg",
        usual: u,
        doubtful: all.marked.doubtful(),
    };
    let found = solved(document, "turntable.lost_motion");
    let play = play(found, half, &noted, &axis);
    let drawn: Vec<&Placed> = marks.iter().map(|m| m.placed).collect();
    let mut sentence = all.answer(&drawn, "notch reading");
    let mut add = |text: Option<String>| {
        if let Some(text) = text {
            sentence.push(' ');
            sentence.push_str(&text);
        }
    };
    add(play.sentence.clone());
    add(all.doubt());
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
                "A wave of {size} deg once round, larger than chance makes it, is drawn for the eye only; the \
                 registration does not know it."
            )),
            "a wave once round, for the eye only",
        ),
        From::Nothing if by_chance => (
            Some("A wave once round is not seen: what there is of one is no larger than chance makes it.".to_owned()),
            "level",
        ),
        From::Nothing => (None, "level"),
    };
    add(off_centre);
    let shifted = matches!(harmonic.from, From::Solved | From::Held);
    let back = match (play.half != 0.0, shifted) {
        (true, true) => Some("half the lost motion and the notch circle's shift are put back"),
        (true, false) => Some("half the lost motion is put back"),
        (false, true) => Some("the notch circle's shift is put back"),
        (false, false) => None,
    };
    let seen = match (play.half != 0.0 && play.gap.is_some(), shifted) {
        (true, true) => ", so that the gap between rising and falling and the wave are seen",
        (true, false) => ", so that the gap between rising and falling is seen",
        (false, true) => ", so that the wave is seen",
        (false, false) => "",
    };
    add(back.map(|b| format!("In each mark {b}{seen}.")));
    let round = |shown: &Shown| matches!(shown, Shown::RoundTable { .. });
    add(no_part(document, bench, (&drawn, &aside), all, round));
    add(all.not_drawn(&drawn));
    let waves = harmonic.from != From::Nothing;
    let curve = |constant: f64, ink, dashed, words: String| Curve {
        constant,
        cos: harmonic.cos,
        sin: harmonic.sin,
        ink,
        dashed,
        words,
    };
    // Levels that the readings themselves gave have it already.
    let shift = if play.half != 0.0 { level } else { 0.0 };
    let mut curves: Vec<Curve> = [BLUE, OCHRE]
        .iter()
        .enumerate()
        .filter_map(|(k, ink)| {
            let words = match waves {
                true => format!("{}, with {harmonic_words}", play.level_words[k]),
                false => play.level_words[k].clone(),
            };
            Some(curve(play.levels[k]? + shift, *ink, k == 1, words))
        })
        .collect();
    if curves.is_empty() && waves {
        curves.push(curve(level, GREY, true, harmonic_words.to_owned()));
    }
    let put_back_words = back.map_or(String::new(), |b| format!("; {b}"));
    let chart = Dial {
        title: "Residuals of notch readings round the turntable".to_owned(),
        description: sentence.clone(),
        label: format!(
            "residual, deg, outward from the circle of zero (where the registration has the notch, less where it stood){put_back_words}"
        ),
        cloud: cloud(&marks, &aside, all, &turns(table.sense)),
        curves,
        gap: gap(&play, shift),
        usual: Some(usual(u, "deg")),
        notes: all
            .drawn_where(&drawn)
            .into_iter()
            .chain([
                "Angles are those of the notches on the platter: 0° at its x axis, counter-clockwise as seen from above \
                 (the arrow in the middle)."
                    .to_owned(),
            ])
            .collect(),
    };
    Some((chart, sentence))
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

/// A wave for the eye.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Wave {
    /// Of cos and sin of the angle, degrees.
    pub(super) amplitudes: (f64, f64),
    /// About which it goes, the play taken off, degrees.
    pub(super) level: f64,
    /// Of rising and of falling readings, where each has its own.
    pub(super) levels: Option<[f64; 2]>,
    /// Whether noise makes so large a wave or a larger one more often than in one case of twenty.
    pub(super) chance: bool,
}

/// A wave through the checked residuals that fit; none where the notches do not go round far enough.
fn fitted(marks: &[Mark<'_, '_>], half: f64) -> Option<Wave> {
    let fit = marks
        .iter()
        .filter(|m| !m.placed.suspect && m.placed.checked());
    let readings: Vec<Round> = fit
        .map(|m| Round {
            deg: m.spot.at.0,
            value: m.spot.at.1 - [half, -half, 0.0][m.spot.class],
            u: m.spot.u,
            class: m.spot.class,
        })
        .collect();
    wave(&readings)
}

/// A residual at an angle, degrees: its value with the play as the registration has it, and its u.
#[derive(Debug, Clone, Copy)]
pub(super) struct Round {
    pub(super) deg: f64,
    pub(super) value: f64,
    pub(super) u: f64,
    /// rising, falling, not noted.
    pub(super) class: usize,
}

/// Least squares of a level for each direction of approach and one wave. A level of its own for each: were
/// they held together, marks of one direction that are missing at some notches would imitate a wave.
pub(super) fn wave(readings: &[Round]) -> Option<Wave> {
    if !goes_round(readings) {
        return None;
    }
    let classes: Vec<usize> = (0..3)
        .filter(|class| readings.iter().any(|r| r.class == *class))
        .collect();
    let levels = classes.len();
    let design = DMatrix::from_fn(readings.len(), levels + 2, |i, j| {
        let reading = &readings[i];
        let (sin, cos) = reading.deg.to_radians().sin_cos();
        match j {
            j if j < levels => f64::from(u8::from(reading.class == classes[j])),
            j if j == levels => cos,
            _ => sin,
        }
    });
    let values: Vec<f64> = readings.iter().map(|r| r.value).collect();
    let weights: Vec<f64> = readings.iter().map(|r| (r.u * r.u).recip()).collect();
    let found = lsq::solve(&design, &values, Some(&weights)).ok()?;
    if found.dof == 0 {
        return None;
    }
    let (cos, sin) = (found.params[levels], found.params[levels + 1]);
    let of = |i: usize, j: usize| found.covariance[(levels + i, levels + j)];
    if one_sided((of(0, 0), of(0, 1), of(1, 1)), weights.iter().sum()) {
        return None;
    }
    let determinant = of(0, 0) * of(1, 1) - of(0, 1) * of(0, 1);
    let size =
        (cos * cos * of(1, 1) - 2.0 * cos * sin * of(0, 1) + sin * sin * of(0, 0)) / determinant;
    let level = |class: usize| {
        let k = classes.iter().position(|c| *c == class)?;
        Some(found.params[k])
    };
    let apart = level(0).zip(level(1)).map(|(up, down)| [up, down]);
    let one = level(0).or(level(1)).or(level(2))?;
    Some(Wave {
        amplitudes: (cos, sin),
        level: apart.map_or(one, |[up, down]| (up + down) / 2.0),
        levels: apart,
        chance: size <= TWO_AT_95,
    })
}

/// Whether a wave some way round is told much worse than by as many readings that go round evenly, of which
/// cos and sin have the variance 2 / Σw: as where rising readings lie on one side and falling on the other.
fn one_sided((cc, cs, ss): (f64, f64, f64), weights: f64) -> bool {
    // The larger eigenvalue of the covariance.
    let largest = (cc + ss) / 2.0 + ((cc - ss) / 2.0).hypot(cs);
    let even = 2.0 / weights;
    // Written so that what is not a number is refused.
    let told = largest <= WORST * WORST * even;
    !told
}

/// Whether notches tell a wave from a level: at six places at least, no two neighbours over 120° apart.
fn goes_round(readings: &[Round]) -> bool {
    let mut places: Vec<f64> = readings.iter().map(|r| r.deg.rem_euclid(360.0)).collect();
    places.sort_by(f64::total_cmp);
    places.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    if places.len() > 1 && places[0] + 360.0 - places[places.len() - 1] < 1e-6 {
        places.pop();
    }
    let Some((first, last)) = places.first().zip(places.last()) else {
        return false;
    };
    let round = first + 360.0 - last;
    let widest = places.windows(2).map(|w| w[1] - w[0]).fold(round, f64::max);
    places.len() >= LEAST_PLACES && widest <= WIDEST_DEG + 1e-6
}

/// Rising and falling readings in the key, with the turn of the platter that each belongs to.
fn turns(sense: f64) -> [String; 2] {
    let [rising, falling] = match sense < 0.0 {
        false => ["ccw", "cw"],
        true => ["cw", "ccw"],
    };
    [
        format!("rising reading (up), the platter turning {rising}"),
        format!("falling reading (down), the platter turning {falling}"),
    ]
}

/// Where a residual is drawn, if its reading is one round the table: degrees.
fn spot(row: &ReadingDocument, shown: &Shown, half: f64, harmonic: &Harmonic) -> Option<Spot> {
    let Shown::RoundTable { angle_rad, up } = *shown else {
        return None;
    };
    let (class, back) = put_back(up, half);
    let (sin, cos) = angle_rad.sin_cos();
    let wave = harmonic.cos * cos + harmonic.sin * sin;
    Some(Spot {
        at: (angle_rad.to_degrees(), row.residual + back + wave),
        u: row.u,
        class,
    })
}
