//! What stands on the bench: plate, marks, track, turntable, and how arm and tool are mounted.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Mark;
use crate::cell::Mounting;
use crate::cell::PlateGrid;
use crate::cell::TrackGeometry;
use crate::cell::TrackLimits;
use crate::cell::TurntableGeometry;
use crate::cell::TurntableInfo;
use crate::cell::parse::reader::Kind;
use crate::cell::parse::reader::TableReader;
use crate::cell::parse::reader::exclude;
use crate::cell::parse::value::Item;
use crate::units::Angle;

/// More holes or notches than this are a slip of the pen.
const MOST_HOLES: u32 = 1_000_000;
const MOST_NOTCHES: u32 = 100_000;

/// `[plate]`: the grid, and the plate's tilt about x and y in rad.
pub(super) fn plate(t: &mut TableReader<'_>) -> Option<(PlateGrid, [f64; 2])> {
    let in_inches = ["pitch_in", "pitch_x_in"].iter().any(|key| t.has(key));
    let both = t.ask("pitch", Kind::Length);
    let x = t.ask("pitch_x", Kind::Length);
    let y = t.ask("pitch_y", Kind::Length);
    match (&both, &x, &y) {
        (Some(both), Some(one), _) | (Some(both), _, Some(one)) => exclude(one, both),
        (None, None, None) => {
            let keys = [
                "pitch_mm",
                "pitch_in",
                "pitch_x_mm",
                "pitch_x_in",
                "pitch_y_mm",
                "pitch_y_in",
            ];
            t.lacks(keys.map(String::from).to_vec(), "pitch_mm = 50.0");
        }
        (None, Some(_), None) => {
            t.lacks(
                vec!["pitch_y_mm".into(), "pitch_y_in".into()],
                "pitch_y_mm = 50.0",
            );
        }
        (None, None, Some(_)) => {
            t.lacks(
                vec!["pitch_x_mm".into(), "pitch_x_in".into()],
                "pitch_x_mm = 50.0",
            );
        }
        _ => {}
    }
    let both = both.map(|item| item.positive());
    let x = x.map(|item| item.positive());
    let y = y.map(|item| item.positive());
    let columns = t.need("columns", Kind::Plain, "columns = 30");
    let columns = columns.and_then(|item| item.count(MOST_HOLES));
    let rows = t.need("rows", Kind::Plain, "rows = 16");
    let rows = rows.and_then(|item| item.count(MOST_HOLES));
    let tilts = angles(t, ["tilt_x", "tilt_y"]);
    let grid = PlateGrid {
        pitch_x_mm: both.or(x)??,
        pitch_y_mm: both.or(y)??,
        columns: columns?,
        rows: rows?,
        in_inches,
    };
    Some((grid, tilts?))
}

/// `[marks]`, in the order of the file. Without a plate the places by hole are not known.
pub(super) fn marks(
    t: &mut TableReader<'_>,
    plate: Option<&PlateGrid>,
    turntable: bool,
) -> Option<Vec<(Mark, Vector3<f64>)>> {
    let mut marks = Vec::new();
    let mut complete = true;
    for item in t.rest() {
        let name = item.name();
        let place = item.table().and_then(|mut table| {
            let place = mark(&mut table, plate, turntable);
            table.finish();
            place
        });
        match (name, place) {
            (Some(name), Some((frame, in_hole, at_mm))) => {
                let mark = Mark {
                    name,
                    frame,
                    in_hole,
                };
                marks.push((mark, at_mm));
            }
            _ => complete = false,
        }
    }
    complete.then_some(marks)
}

fn mark(
    t: &mut TableReader<'_>,
    plate: Option<&PlateGrid>,
    turntable: bool,
) -> Option<(Belongs, bool, Vector3<f64>)> {
    let frame = match t.ask("frame", Kind::Plain) {
        None => Some(Belongs::Plate),
        Some(item) => belongs(&item, turntable, "a mark"),
    };
    let hole = t.ask("hole", Kind::Plain);
    let at = t.ask("at", Kind::Length);
    match (&hole, &at) {
        (Some(hole), Some(at)) => exclude(hole, at),
        (None, None) => {
            let keys = ["hole", "at_mm", "at_in"];
            t.lacks(keys.map(String::from).to_vec(), "hole = [3, 2]");
        }
        (Some(hole), None) if frame == Some(Belongs::Platter) => hole.refuse_key(
            "a hole of the plate for a mark of the platter",
            "`at_mm` for a mark of the platter",
            "give its place as at_mm = [x, y, z] in the platter's frame, or remove `frame`",
        ),
        _ => {}
    }
    let at = at.map(Item::vector);
    let in_hole = hole.is_some();
    let hole = hole.map(|item| hole_mm(item, plate));
    Some((frame?, in_hole, at.or(hole)??))
}

/// The frame of a mark or a keep-out; `what` is what messages call it.
pub(super) fn belongs(item: &Item<'_>, turntable: bool, what: &str) -> Option<Belongs> {
    match item.text()? {
        "plate" => Some(Belongs::Plate),
        "platter" if turntable => Some(Belongs::Platter),
        "platter" => {
            item.refuse_for_lack(
                format!("{what} of the platter in a cell without a turntable"),
                &format!("a [turntable] for {what} of the platter"),
                "add the [turntable], or say frame = \"plate\"",
            );
            None
        }
        _ => {
            item.refuse(
                item.written(),
                "\"plate\" or \"platter\"",
                "say \"platter\" for what turns with the turntable, \"plate\" for all else",
            );
            None
        }
    }
}

/// The place of a hole, z = 0.
fn hole_mm(item: Item<'_>, plate: Option<&PlateGrid>) -> Option<Vector3<f64>> {
    let seed = item.alike();
    let [column, row] = item.numbers::<2>()?;
    let plate = plate?;
    let inside = |at: f64, count: u32| (0.0..=f64::from(count) - 1.0).contains(&at);
    if !inside(column, plate.columns) || !inside(row, plate.rows) {
        seed.doubt(
            format!("the hole {}, which is not on the plate", seed.written()),
            &format!(
                "a column from 0 to {} and a row from 0 to {}",
                plate.columns - 1,
                plate.rows - 1
            ),
            "count again: the first hole is [0, 0], and the column stands before the row",
        );
    }
    let place = Vector3::new(column * plate.pitch_x_mm, row * plate.pitch_y_mm, 0.0);
    if place.iter().all(|v| v.is_finite()) {
        return Some(place);
    }
    seed.refuse(seed.written(), "a hole of the plate", "count again");
    None
}

/// Features of the carriage by name.
type Features = Vec<(String, Vector3<f64>)>;

/// `[track]`.
pub(super) fn track(t: &mut TableReader<'_>) -> Option<(TrackLimits, TrackGeometry, Features)> {
    let at_mm = t.need("at", Kind::Length, "at_mm = [150.0, 100.0, 62.0]");
    let at_mm = at_mm.and_then(Item::vector);
    let angles = angles(t, ["yaw", "pitch", "roll"]);
    let scale = t.ask("scale", Kind::Plain);
    let scale = scale.map_or(Some(1.0), |item| item.scale());
    let lost_motion = t.ask("lost_motion", Kind::Length);
    let lost_motion = lost_motion.map_or(Some(0.0), |item| item.not_negative());
    let travel = t.ask("travel", Kind::Length);
    let travel = travel.map_or(Some(None), |item| item.range().map(Some));
    let features = match t.ask("features", Kind::Plain) {
        None => Some(Vec::new()),
        Some(item) => item.table().and_then(|mut table| {
            let places = table.rest().into_iter().map(|item| {
                let name = item.name();
                let place = item.vector();
                Some((name?, place?))
            });
            // Collected first: a wrong one must not hide the next.
            let places: Vec<_> = places.collect();
            places.into_iter().collect()
        }),
    };
    let [yaw_rad, pitch_rad, roll_rad] = angles?;
    let geometry = TrackGeometry {
        mounting: Mounting {
            at_mm: at_mm?,
            yaw_rad,
            pitch_rad,
            roll_rad,
        },
        scale_mm: scale?,
        sense: scale?.signum(),
        lost_motion_mm: lost_motion?,
    };
    Some((TrackLimits { travel_mm: travel? }, geometry, features?))
}

/// `[mount]` and `[tool]`: what is left out is 0.
pub(super) fn mounting(t: &mut TableReader<'_>) -> Option<Mounting> {
    let at_mm = t.ask("at", Kind::Length);
    let at_mm = at_mm.map_or(Some(Vector3::zeros()), Item::vector);
    let [yaw_rad, pitch_rad, roll_rad] = angles(t, ["yaw", "pitch", "roll"])?;
    Some(Mounting {
        at_mm: at_mm?,
        yaw_rad,
        pitch_rad,
        roll_rad,
    })
}

/// `[turntable]`.
pub(super) fn turntable(t: &mut TableReader<'_>) -> Option<(TurntableInfo, TurntableGeometry)> {
    let at_mm = t.need("at", Kind::Length, "at_mm = [700.0, 450.0, 95.0]");
    let at_mm = at_mm.and_then(Item::vector);
    let scale = t.ask("scale", Kind::Plain);
    let scale = scale.map_or(Some(1.0), |item| item.scale());
    let lost_motion = t.ask("lost_motion", Kind::Degrees);
    let lost_motion = lost_motion.map_or(Some(0.0), |item| item.not_negative());
    let travel = t.ask("travel", Kind::Degrees);
    let travel = travel.map_or(Some(None), |item| item.range().map(Some));
    let angles = angles(
        t,
        ["tilt_x", "tilt_y", "index", "switch", "ecc_cos", "ecc_sin"],
    );
    let notches = notches(t);
    let [
        tilt_x_rad,
        tilt_y_rad,
        index_rad,
        switch_rad,
        ecc_cos_rad,
        ecc_sin_rad,
    ] = angles?;
    let info = TurntableInfo {
        travel_rad: travel?,
        notches_rad: notches?,
    };
    let geometry = TurntableGeometry {
        at_mm: at_mm?,
        tilt_x_rad,
        tilt_y_rad,
        scale_rad: Angle::deg(scale?).as_rad(),
        sense: scale?.signum(),
        index_rad,
        lost_motion_rad: lost_motion?,
        switch_rad,
        ecc_cos_rad,
        ecc_sin_rad,
    };
    Some((info, geometry))
}

/// Nominal angles of the notches in rad: evenly spaced, listed, or none.
fn notches(t: &mut TableReader<'_>) -> Option<Vec<f64>> {
    let count = t.ask("notches", Kind::Plain);
    let listed = t.ask("notch_angles", Kind::Degrees);
    if let (Some(count), Some(listed)) = (&count, &listed) {
        exclude(count, listed);
    }
    let count = count.map(|item| item.count(MOST_NOTCHES));
    let listed = listed.map(|item| {
        let seed = item.alike();
        let angles = item.list("a list of angles in degrees")?;
        if angles.is_empty() {
            seed.refuse(
                "an empty list",
                "the angle of at least one notch",
                "remove the key if there are no notches",
            );
            return None;
        }
        let angles: Vec<_> = angles.iter().map(Item::number).collect();
        angles.into_iter().collect::<Option<Vec<f64>>>()
    });
    match (count, listed) {
        (None, None) => Some(Vec::new()),
        (Some(count), None) => {
            let count = count?;
            let angle = |k| Angle::deg(360.0 * f64::from(k) / f64::from(count)).as_rad();
            Some((0..count).map(angle).collect())
        }
        (_, Some(listed)) => listed,
    }
}

/// Angles in rad that are 0 where they are left out; every wrong one is reported.
fn angles<const N: usize>(t: &mut TableReader<'_>, stems: [&str; N]) -> Option<[f64; N]> {
    let angles = stems.map(|stem| {
        t.ask(stem, Kind::Degrees)
            .map_or(Some(0.0), |item| item.number())
    });
    let angles: Option<Vec<f64>> = angles.into_iter().collect();
    angles?.try_into().ok()
}
