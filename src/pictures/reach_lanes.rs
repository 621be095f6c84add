//! From where along the track each point is reached.

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::drawing::Fault;
use crate::drawing::axis::plain;
use crate::drawing::chart::lanes::Lane;
use crate::drawing::chart::lanes::Lanes;
use crate::drawing::chart::lanes::lanes;
use crate::kinematics::track_reading;
use crate::pictures::Picture;
use crate::report::counted;
use crate::report::reach::PointDocument;
use crate::report::reach::ReachDocument;
use crate::report::reach::Standing;
use crate::report::reach::best_pair;
use crate::report::reach::standing;

/// Most lanes that are drawn.
const MOST: usize = 60;
/// The cautions of the report in a line: stations are positions that someone could drive to.
const CAUTION: &str = "Caution: calculated positions. Energy off and locked before reaching in; prove each new \
                       position slowly first.";

/// What the ends of intervals are found from, and what not.
const LIMITS_ONLY: &str = "by the joints' limits; clearances are looked at at the stations only";

/// From where points are reached.
#[derive(Debug, Clone, PartialEq)]
pub struct Reach {
    /// Whether there is a track, so that lanes have an axis.
    pub track: bool,
    /// Readings at the limits of travel.
    pub limits: Option<[f64; 2]>,
    /// The points.
    pub points: Vec<ReachPoint>,
}

/// One point.
#[derive(Debug, Clone, PartialEq)]
pub struct ReachPoint {
    /// Its name.
    pub name: String,
    /// plate or platter.
    pub frame: String,
    /// Whether it can be reached from any station, without a condition.
    pub reached: bool,
    /// How it stands.
    pub standing: Standing,
    /// Readings of the track between which it is reached.
    pub intervals: Vec<[f64; 2]>,
    /// Reading of the track at which it was taught.
    pub taught: Option<f64>,
    /// Reading of the track at its best station.
    pub best: Option<f64>,
    /// From where, or why not.
    pub words: String,
}

/// Fills it from what `reach` found.
pub fn of(document: &ReachDocument, bench: &Bench, geometry: &Geometry) -> Reach {
    let track = geometry.track.as_ref();
    let limits = track.and_then(|track| {
        let travel = bench.cell.track?.travel_mm?;
        let ends = [travel.low, travel.high].map(|mm| track_reading(track, mm).0);
        Some([ends[0].min(ends[1]), ends[0].max(ends[1])])
    });
    let point = |p: &PointDocument| {
        let intervals = intervals(p);
        let taught = bench.taught.iter().find(|t| p.taught && t.name == p.name);
        let best = p.best.as_ref();
        ReachPoint {
            words: words(p, &intervals),
            intervals,
            name: p.name.clone(),
            frame: p.frame.clone(),
            reached: p.reachable,
            standing: standing(p),
            taught: taught.filter(|_| track.is_some()).map(|t| t.stand.track),
            // Where it is not reached without a condition there is no best station either.
            best: best.filter(|_| p.reachable).and_then(|b| b.track),
        }
    };
    Reach {
        track: track.is_some(),
        limits,
        points: document.points.iter().map(point).collect(),
    }
}

/// Ends between which a point is reached at any table reading; single stations where only these were asked for.
pub fn intervals(point: &PointDocument) -> Vec<[f64; 2]> {
    let told = point
        .track_intervals
        .iter()
        .flat_map(|i| i.intervals.iter().copied());
    let curves = point.pairs.iter().flatten().filter_map(|curve| {
        let tracks = curve.places.iter().filter_map(|p| p.track);
        tracks.fold(None, |ends: Option<[f64; 2]>, t| {
            let [a, b] = ends.unwrap_or([t, t]);
            Some([a.min(t), b.max(t)])
        })
    });
    let mut all: Vec<[f64; 2]> = told.chain(curves).collect();
    if all.is_empty() {
        let stations = point.stations.iter().filter(|s| !s.solutions.is_empty());
        all.extend(stations.filter_map(|s| s.track).map(|t| [t, t]));
    }
    merged(all)
}

/// Intervals that meet as one, ascending.
pub fn merged(mut all: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    for i in &mut all {
        i.sort_by(f64::total_cmp);
    }
    all.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut out: Vec<[f64; 2]> = Vec::new();
    for next in all {
        match out.last_mut() {
            Some(last) if next[0] <= last[1] => last[1] = last[1].max(next[1]),
            _ => out.push(next),
        }
    }
    out
}

fn words(point: &PointDocument, intervals: &[[f64; 2]]) -> String {
    if let Some(why) = &point.refused {
        return format!("cannot be reached: {why}");
    }
    if !point.reachable {
        return match standing(point) {
            Standing::Pairs => at_pairs(point, intervals),
            Standing::TooNear => too_near(point),
            Standing::Between => format!(
                "only between the stations that were looked at: track {}",
                spans(intervals)
            ),
            Standing::Reached | Standing::Nowhere | Standing::Refused => {
                "cannot be reached from any station that was looked at".to_owned()
            }
        };
    }
    let mut parts: Vec<String> = Vec::new();
    if !intervals.is_empty() {
        // Of a point of the platter each place of the track has table angles of its own.
        let some = match point.best.as_ref().and_then(|b| b.table) {
            Some(_) => ", at some table angle",
            None => "",
        };
        parts.push(format!("track {}{some}", spans(intervals)));
    }
    if let Some(best) = &point.best {
        let station: Vec<String> = [("track", best.track), ("table", best.table)]
            .iter()
            .filter_map(|(name, v)| Some(format!("{name} {}", tenths((*v)?))))
            .collect();
        if !station.is_empty() {
            parts.push(format!("best at {}", station.join(", ")));
        }
    }
    parts.join("; ")
}

fn tenths(value: f64) -> String {
    plain((value * 10.0).round() / 10.0)
}

/// Up to four intervals.
fn spans(intervals: &[[f64; 2]]) -> String {
    let told: Vec<String> = intervals
        .iter()
        .take(4)
        .map(|[a, b]| match a == b {
            true => format!("at {}", tenths(*a)),
            false => inward(*a, *b),
        })
        .collect();
    let more = match intervals.len() - told.len() {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    format!("{}{more}", told.join(", "))
}

/// The condition of a point that is met at pairs only, and the pair with most room.
fn at_pairs(point: &PointDocument, intervals: &[[f64; 2]]) -> String {
    let mut text = Standing::Pairs.words().to_owned();
    if !intervals.is_empty() {
        text.push_str(&format!(
            ": track {}, each with a table angle of its own",
            spans(intervals)
        ));
    }
    if let Some(best) = best_pair(point) {
        let track = best.track.map(|r| format!("track {}, ", tenths(r)));
        text.push_str(&format!(
            "; most room near {}table {}",
            track.unwrap_or_default(),
            tenths(best.table)
        ));
    }
    text
}

/// What is too near where there is most room.
fn too_near(point: &PointDocument) -> String {
    let text = Standing::TooNear.words().to_owned();
    let each = point.stations.iter().flat_map(|s| &s.solutions);
    let known = each.filter_map(|s| Some((s.clearance_mm?, s.clearance_to.as_deref()?)));
    match known.max_by(|a, b| a.0.total_cmp(&b.0)) {
        Some((mm, to)) => format!(
            "{text}: at best {} mm to {to}; {} mm are asked for",
            tenths(mm),
            tenths(point.clearance_needed_mm)
        ),
        None => text,
    }
}

/// `500 to 760`, in tenths, rounded so that both ends lie inside; in thousandths where tenths do not fit.
fn inward(low: f64, high: f64) -> String {
    // What is a tenth but for the last bits stays it.
    let rounded = |scale: f64| {
        let (a, b) = (low * scale, high * scale);
        ((a - 1e-6).ceil() / scale, (b + 1e-6).floor() / scale)
    };
    let ends = [10.0, 1000.0].map(rounded);
    match ends.into_iter().find(|(a, b)| a < b) {
        Some((a, b)) => format!("{} to {}", plain(a), plain(b)),
        None => plain((low + high) / 2.0),
    }
}

/// The picture; None without points.
pub fn reach_lanes(reach: &Reach) -> Result<Option<Picture>, Fault> {
    if reach.points.is_empty() {
        return Ok(None);
    }
    let (chart, sentence) = chart(reach);
    Picture::new(
        "reach-lanes",
        "From where the points are reached",
        &sentence,
        |width| lanes(&chart, width),
    )
    .map(Some)
}

/// The chart and its sentence.
pub(super) fn chart(reach: &Reach) -> (Lanes, String) {
    let all = reach.points.len();
    let mut sentence = standings(reach);
    let (points, hidden) = chosen(reach);
    if reach.track
        && let Some(shared) = common(reach)
    {
        let all = match reach.points.iter().any(|p| p.standing.partly()) {
            true => "all that are reached without a condition",
            false => "all of them that can be reached",
        };
        sentence.push_str(&match shared {
            Some([low, high]) if low < high => format!(
                " With the track from {} {all} are reached from one place, {LIMITS_ONLY}.",
                inward(low, high)
            ),
            Some([at, _]) => format!(
                " Only with the track at {} {all} are reached from one place, {LIMITS_ONLY}.",
                plain(at)
            ),
            None => format!(" No single place of the track reaches {all}."),
        });
    }
    let mut notes = vec![CAUTION.to_owned()];
    if reach.track {
        notes.insert(
            0,
            format!("Where points are reached from is meant {LIMITS_ONLY}."),
        );
    }
    if hidden > 0 {
        notes.insert(
            0,
            format!(
                "{} of {all} points are drawn: those that cannot be reached, and those with the shortest way to be reached from.",
                points.len()
            ),
        );
    }
    let table = reach.points.iter().any(|p| p.frame == "platter");
    if reach.track && table {
        notes.insert(
            0,
            "A point of the platter is drawn where it is reached at some angle of the table."
                .to_owned(),
        );
    }
    let mut description = sentence.clone();
    for p in points.iter().filter(|p| !p.words.is_empty()) {
        description.push_str(&format!(" {}: {}.", p.name, p.words));
    }
    let lanes = points
        .iter()
        .map(|p| Lane {
            name: format!("{} ({})", p.name, p.frame),
            reached: p.reached,
            condition: p.standing.partly(),
            intervals: p.intervals.clone(),
            taught: p.taught,
            best: p.best,
            words: p.words.clone(),
        })
        .collect();
    let chart = Lanes {
        title: "From where the points are reached".to_owned(),
        description,
        label: reach.track.then(|| "track, reading".to_owned()),
        limits: reach.limits,
        lanes,
        notes,
    };
    (chart, sentence)
}

/// How many points are reached, which not, and which under what condition.
fn standings(reach: &Reach) -> String {
    let all = reach.points.len();
    let of = |f: &dyn Fn(&ReachPoint) -> bool| -> Vec<&str> {
        let points = reach.points.iter().filter(|p| !p.reached && f(p));
        points.map(|p| p.name.as_str()).collect()
    };
    let listed = |names: &[&str]| {
        let more = match names.len().saturating_sub(4) {
            0 => String::new(),
            n => format!(" and {n} more"),
        };
        format!("{}{more}", names[..names.len().min(4)].join(", "))
    };
    let not = of(&|p| !p.standing.partly());
    let mut parts = Vec::new();
    match (not.len(), all) {
        (0, _) => {}
        (1, 1) => parts.push(format!("{} cannot be reached.", not[0])),
        (n, all) if n == all => {
            parts.push(format!("None of {} can be reached.", counted(all, "point")));
        }
        (n, all) => parts.push(format!(
            "{n} of {all} points cannot be reached: {}.",
            listed(&not)
        )),
    }
    for condition in [Standing::Pairs, Standing::TooNear, Standing::Between] {
        let names = of(&|p| p.standing == condition);
        let words = condition.words();
        match (names.len(), all) {
            (0, _) => {}
            (1, 1) => parts.push(format!("{} is reached {words}.", names[0])),
            (1, all) => parts.push(format!(
                "1 of {all} points is reached {words}: {}.",
                names[0]
            )),
            (n, all) => parts.push(format!(
                "{n} of {all} points are reached {words}: {}.",
                listed(&names)
            )),
        }
    }
    match (parts.is_empty(), all) {
        (true, 1) => "The point can be reached.".to_owned(),
        (true, n) => format!("All {n} points can be reached."),
        (false, _) => parts.join(" "),
    }
}

/// The points that are drawn, in their order, and how many are not.
fn chosen(reach: &Reach) -> (Vec<&ReachPoint>, usize) {
    let mut order: Vec<usize> = (0..reach.points.len()).collect();
    if order.len() > MOST {
        let length = |p: &ReachPoint| -> f64 {
            match p.reached {
                true => p.intervals.iter().map(|[a, b]| b - a).sum(),
                false => -1.0,
            }
        };
        order.sort_by(|a, b| length(&reach.points[*a]).total_cmp(&length(&reach.points[*b])));
        order.truncate(MOST);
        order.sort_unstable();
    }
    let hidden = reach.points.len() - order.len();
    (order.iter().map(|k| &reach.points[*k]).collect(), hidden)
}

/// The widest interval that all reached points share, which may be a single place; `Some(None)`: they share
/// none. None where fewer than two have intervals.
fn common(reach: &Reach) -> Option<Option<[f64; 2]>> {
    let lists: Vec<&Vec<[f64; 2]>> = reach
        .points
        .iter()
        .filter(|p| p.reached && !p.intervals.is_empty())
        .map(|p| &p.intervals)
        .collect();
    if lists.len() < 2 {
        return None;
    }
    let mut left: Vec<[f64; 2]> = lists[0].clone();
    for list in &lists[1..] {
        let cut = |a: &[f64; 2]| -> Vec<[f64; 2]> {
            let parts = list.iter().map(|b| [a[0].max(b[0]), a[1].min(b[1])]);
            parts.filter(|p| p[0] <= p[1]).collect()
        };
        left = left.iter().flat_map(cut).collect();
    }
    let widest = left
        .into_iter()
        .max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])));
    Some(widest)
}
