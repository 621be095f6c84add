//! Plan and elevation of a cell with its arm at a point.

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::drawing::Fault;
use crate::pictures::Picture;
use crate::pictures::WIDE;
use crate::pictures::scene::Known;
use crate::pictures::scene::Scene;
use crate::pictures::scene::Spot;
use crate::pictures::scene::Subject;
use crate::pictures::scene::View;
use crate::points::tip_place;
use crate::readings::stand::Stand;
use crate::registration::Document;
use crate::report::number;
use crate::report::reach::PointDocument;
use crate::report::reach::ReachDocument;

/// What the drawings of a report show.
#[derive(Debug)]
pub struct Shown<'a> {
    bench: &'a Bench,
    found: &'a Geometry,
    /// There is a registration: what was found is not what was drawn.
    registered: bool,
    spots: Vec<Spot>,
    known: Known,
    /// The point that the arm stands at, with the readings there.
    at: Option<(String, Stand)>,
}

impl<'a> Shown<'a> {
    /// `found` is the registered geometry, or the drawing where there is no registration. The arm stands
    /// at the point of that name, else at the first one that is reached.
    pub fn new(
        bench: &'a Bench,
        found: &'a Geometry,
        document: &Document,
        reach: Option<&ReachDocument>,
        point: Option<&str>,
        stale: &[(String, Geometry)],
    ) -> Shown<'a> {
        let candidates = reach.iter().flat_map(|r| &r.points);
        let mut candidates = candidates.filter(|p| point.is_none_or(|name| p.name == name));
        let at = candidates.find_map(stand_at);
        Shown {
            bench,
            found,
            registered: reach.is_some(),
            spots: spots(bench, found, stale),
            known: Known::new(&document.parameters),
            at,
        }
    }

    /// For scenes of the same cell.
    pub fn subject(&self) -> Subject<'_> {
        Subject {
            cell: &self.bench.cell,
            found: self.found,
            drawn: self.registered.then_some(&self.bench.cell.nominal),
            spots: &self.spots,
            known: &self.known,
        }
    }

    /// The point that the arm stands at.
    pub fn point(&self) -> Option<&str> {
        self.at.as_ref().map(|(name, _)| name.as_str())
    }
}

/// The cell's points: given ones as they are given, taught ones where their readings lead.
///
/// `stale`: taught points whose readings lead elsewhere by now, with the geometry in which they were taught;
/// they stay where they were.
pub fn spots(bench: &Bench, geometry: &Geometry, stale: &[(String, Geometry)]) -> Vec<Spot> {
    let given = bench.points.iter().map(|p| Spot {
        name: p.name.clone(),
        frame: p.frame,
        at_mm: p.at_mm,
    });
    let taught = bench.taught.iter().filter_map(|p| {
        let then = stale.iter().find(|(name, _)| *name == p.name);
        let taught_in = then.map_or(geometry, |(_, then)| then);
        Some(Spot {
            name: p.name.clone(),
            frame: p.frame,
            at_mm: tip_place(taught_in, &p.stand, p.frame)?.at_mm,
        })
    });
    given.chain(taught).collect()
}

/// Readings at the best posture of a point.
fn stand_at(point: &PointDocument) -> Option<(String, Stand)> {
    let best = point.best.as_ref()?;
    let mut stand = Stand {
        track: best.track.unwrap_or(0.0),
        table: best.table.unwrap_or(0.0),
        ..Stand::default()
    };
    for (to, from) in stand.joints.iter_mut().zip(&best.joints) {
        *to = *from;
    }
    Some((point.name.clone(), stand))
}

/// Plan and elevation.
pub fn views(shown: &Shown<'_>) -> Result<Vec<Picture>, Fault> {
    [View::Plan, View::Elevation]
        .map(|view| one(shown, view))
        .into_iter()
        .collect()
}

fn one(shown: &Shown<'_>, view: View) -> Result<Picture, Fault> {
    let (heading, sentence) = match view {
        View::Plan => ("The cell from above", plan(shown)),
        View::Elevation => ("The cell from the front", elevation(shown)),
    };
    let zero = Stand::default();
    let stand = shown.at.as_ref().map_or(&zero, |(_, stand)| stand);
    let subject = shown.subject();
    Picture::new(view.as_str(), heading, &sentence, |width| {
        Scene::new(subject, view, width).svg(heading, &sentence, Some(stand))
    })
}

/// A cell from above, as it is known before it is measured: nothing on it was found yet.
pub fn before(bench: &Bench, geometry: &Geometry) -> Result<String, Fault> {
    let spots = spots(bench, geometry, &[]);
    let known = Known::default();
    let subject = Subject {
        cell: &bench.cell,
        found: geometry,
        drawn: None,
        spots: &spots,
        known: &known,
    };
    let words =
        "Plate, track, turntable, marks and points where they are thought to be, all axes at 0.";
    let stand = Stand::default();
    Scene::new(subject, View::Plan, WIDE).svg("The cell from above", words, Some(&stand))
}

/// How far places came out from the drawing, a sentence each.
fn shifts(shown: &Shown<'_>) -> Vec<String> {
    let drawn = &shown.bench.cell.nominal;
    let mut all = Vec::new();
    if let (Some(a), Some(b)) = (&shown.found.track, &drawn.track) {
        let off = (a.mounting.at_mm - b.mounting.at_mm).norm();
        let turn = (a.mounting.yaw_rad - b.mounting.yaw_rad).to_degrees();
        all.push(format!(
            "The track's start lies {} mm from where it was drawn, its direction is {} deg off.",
            number::fixed(off, 1),
            number::fixed(turn.abs(), 2)
        ));
    }
    if let (Some(a), Some(b)) = (&shown.found.turntable, &drawn.turntable) {
        let off = (a.at_mm - b.at_mm).norm();
        all.push(format!(
            "The turntable's centre lies {} mm from where it was drawn.",
            number::fixed(off, 1)
        ));
    }
    all
}

fn plan(shown: &Shown<'_>) -> String {
    let stands = match &shown.at {
        Some((name, stand)) => {
            let mut at = Vec::new();
            if shown.found.track.is_some() {
                at.push(format!("track {}", number::fixed(stand.track, 1)));
            }
            if shown.found.turntable.is_some() {
                at.push(format!("table {}", number::fixed(stand.table, 1)));
            }
            match at.is_empty() {
                true => format!("The arm stands as at {name}."),
                false => format!("The arm stands as at {name} ({}).", at.join(", ")),
            }
        }
        None => "The arm stands with all readings at 0.".to_owned(),
    };
    let moved = match shown.registered {
        false => "This is the drawing: there is no registration.".to_owned(),
        true => format!(
            "{} Solid lines are what was found, dashed ones the drawing.",
            shifts(shown).join(" ")
        ),
    };
    let hatched = match shown.bench.cell.keep_outs.is_empty() {
        true => "",
        false => ", hatched areas keep-outs",
    };
    let from = match shown.bench.cell.track {
        Some(_) => "from anywhere on the travel",
        None => "from where it stands",
    };
    format!(
        "{moved} {stands} Crosses are marks, diamonds points{hatched}; the long dashes show how far the \
         tip gets, the arm stretched out, {from}."
    )
}

fn elevation(shown: &Shown<'_>) -> String {
    let track = shown.found.track.map(|t| t.mounting.at_mm.z);
    let table = shown.found.turntable.map(|t| t.at_mm.z);
    let mut all = Vec::new();
    if let Some(z) = track {
        all.push(format!(
            "the track starts {} mm above the plate",
            number::fixed(z, 1)
        ));
    }
    if let Some(z) = table {
        all.push(format!(
            "the platter's top lies {} mm above the plate",
            number::fixed(z, 1)
        ));
    }
    let heights = match all.is_empty() {
        true => String::new(),
        false => format!("Heights: {}. ", all.join(", ")),
    };
    let some = !shown.spots.is_empty() || !shown.bench.cell.marks.is_empty();
    let named = match some {
        true => " Marks and points are named in the view from above.",
        false => "",
    };
    format!("{heights}The same posture as above, seen along the plate's y.{named}")
}
