//! What is said of the play of an axis, and how it is drawn: found, held, or only seen in the readings.

use crate::pictures::residuals::SUSPECT;
use crate::pictures::residuals::USUAL;
use crate::pictures::residuals::mean;
use crate::pictures::residuals::value;

/// What is known of a lost motion, and how it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Play {
    /// Half of it, with the sign that the rising readings have on paper; 0 where none is taken into account.
    pub half: f64,
    /// Level of the rising and of the falling readings.
    pub levels: [Option<f64>; 2],
    /// `lost motion 0.85 ± 0.07 mm`; None where only one direction was read.
    pub gap: Option<String>,
    /// In a sentence.
    pub sentence: Option<String>,
    /// In the key, for the two levels.
    pub level_words: [String; 2],
}

/// What is drawn of the readings that fit, half the play put back: of rising and of falling ones.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Noted {
    /// All of them.
    pub fit: [Vec<f64>; 2],
    /// Those that other readings check; the others lie where the registration has them, right or wrong.
    pub checked: [Vec<f64>; 2],
    /// Where the two directions lie, if something else than the mean tells it.
    pub levels: Option<[f64; 2]>,
}

impl Noted {
    /// Which direction is missing, in words.
    fn unseen(&self) -> Option<&'static str> {
        match [0, 1].map(|k: usize| self.fit[k].is_empty()) {
            [false, false] => None,
            [false, true] => Some("no falling reading that fits is"),
            [true, false] => Some("no rising reading that fits is"),
            [true, true] => Some("neither a rising nor a falling reading that fits is"),
        }
    }

    /// How far rising lie above falling readings, and u of that.
    fn apart(&self, usual: f64) -> Option<(f64, f64)> {
        let [up, down] = &self.checked;
        let difference = mean(up)? - mean(down)?;
        let u = usual * (1.0 / up.len() as f64 + 1.0 / down.len() as f64).sqrt();
        Some((difference, u))
    }
}

/// Of which axis a play is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis<'a> {
    /// track or turntable.
    pub name: &'a str,
    /// Of its residuals.
    pub unit: &'a str,
    /// u of a typical one.
    pub usual: f64,
    /// Whether readings that do not fit took part.
    pub doubtful: bool,
}

/// The play of an axis: what the registration found, or what it holds, or else what the readings show.
/// `half` of it in the unit of the residuals, with the sign that rising readings have on paper.
pub fn play(found: Option<(f64, f64)>, half: f64, noted: &Noted, axis: &Axis<'_>) -> Play {
    if let Some((lost, u)) = found {
        return found_play((lost, u), half, noted, axis);
    }
    if half != 0.0 {
        return held_play(half, noted, axis);
    }
    let Axis {
        name, unit, usual, ..
    } = *axis;
    let [up, down] = &noted.checked;
    let means = match (noted.levels, mean(up), mean(down)) {
        (Some(levels), _, _) => levels.map(Some),
        (None, Some(a), Some(b)) => [Some(a), Some(b)],
        _ => [None, None],
    };
    let gap = means[0]
        .zip(means[1])
        .map(|(a, b)| value((a - b).abs(), usual));
    Play {
        half: 0.0,
        levels: means,
        sentence: gap.as_ref().map(|g| {
            format!(
                "Rising and falling differ by {g} {unit} on average; no play of the {name} is solved for."
            )
        }),
        gap: gap.map(|g| format!("difference {g} {unit}")),
        level_words: ["mean of rising".to_owned(), "mean of falling".to_owned()],
    }
}

/// The levels of the directions that were read, and whether both were.
fn levels(half: f64, noted: &Noted) -> ([Option<f64>; 2], bool) {
    let read = [0, 1].map(|k: usize| !noted.fit[k].is_empty());
    let levels = [read[0].then_some(half), read[1].then_some(-half)];
    (levels, read[0] && read[1])
}

/// How far apart the readings lie, in the sense of the play, where that is not what is said of it.
fn otherwise(lost: (f64, f64), half: f64, noted: &Noted, axis: &Axis<'_>) -> Option<String> {
    let (difference, u) = noted.apart(axis.usual)?;
    let sense = if half * lost.0 < 0.0 { -1.0 } else { 1.0 };
    let apart = sense * difference;
    ((apart - lost.0).abs() > SUSPECT * u.hypot(lost.1)).then(|| {
        let round = if apart < 0.0 {
            ", the other way round"
        } else {
            ""
        };
        format!(
            "about {} {} apart{round}",
            value(apart.abs(), axis.usual),
            axis.unit
        )
    })
}

fn found_play(lost: (f64, f64), half: f64, noted: &Noted, axis: &Axis<'_>) -> Play {
    let (name, unit) = (axis.name, axis.unit);
    let words = format!(
        "{} ± {} {unit}",
        value(lost.0, lost.1),
        value(lost.1, lost.1)
    );
    let otherwise = match axis.doubtful || lost.0 < 0.0 {
        true => otherwise(lost, half, noted, axis),
        false => None,
    };
    let below = lost.0 < -USUAL * lost.1;
    let mut sentence = match noted.unseen() {
        Some(missing) => {
            format!("The play of the {name}, {words}, is not seen here: {missing} drawn.")
        }
        None if below => format!("The registration says {words} for the play of the {name}."),
        None if otherwise.is_some() => format!(
            "The registration says {words} for the play of the {name}; the rising and falling readings \
             that fit lie {}: it is probably wrong.",
            otherwise.as_deref().unwrap_or_default()
        ),
        None if lost.0 < 0.0 => {
            format!("The play of the {name}, {words}, is none as far as can be told.")
        }
        None => {
            format!("Rising and falling differ by {words}, which is the play of the {name}.")
        }
    };
    if below {
        sentence.push_str(" Play cannot be below zero: look at how the approaches were noted.");
        if let Some(apart) = otherwise.as_ref().filter(|_| noted.unseen().is_none()) {
            sentence.push_str(&format!(
                " Rising and falling readings that fit lie {apart}."
            ));
        }
    }
    let doubt = match (below, otherwise.is_some()) {
        (true, _) => ": cannot be",
        (false, true) => ": probably wrong",
        _ => "",
    };
    let (levels, both) = levels(half, noted);
    Play {
        half,
        levels,
        gap: both.then(|| format!("lost motion {words}{doubt}")),
        sentence: Some(sentence),
        level_words: [
            "rising, as found".to_owned(),
            "falling, as found".to_owned(),
        ],
    }
}

fn held_play(half: f64, noted: &Noted, axis: &Axis<'_>) -> Play {
    let (name, unit) = (axis.name, axis.unit);
    let size = 2.0 * half.abs();
    let lost = format!("{} {unit}", value(size, axis.usual));
    let sentence = match (noted.unseen(), otherwise((size, 0.0), half, noted, axis)) {
        (Some(missing), _) => format!(
            "The play of the {name} that cell.toml holds, {lost}, is not seen here: {missing} drawn."
        ),
        (None, Some(apart)) => format!(
            "Rising and falling are taken to differ by {lost}, the play that cell.toml holds; those that \
             fit lie {apart}: look at what is held."
        ),
        (None, None) => format!(
            "Rising and falling are taken to differ by {lost}, the play that cell.toml holds."
        ),
    };
    let (levels, both) = levels(half, noted);
    Play {
        half,
        levels,
        gap: both.then(|| format!("lost motion {lost}, held")),
        sentence: Some(sentence),
        level_words: ["rising, as held".to_owned(), "falling, as held".to_owned()],
    }
}
