//! How much of the world a view shows.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::cell::Shape;
use crate::kinematics::ArmScene;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::radical_inverse;
use crate::pictures::scene::Subject;
use crate::pictures::scene::View;
use crate::pictures::scene::shapes;

/// Around what is shown, as a share of its larger side.
const AROUND: f64 = 0.04;
/// How far keep-outs may widen the picture, as a share of the cell's larger side: one that is far off
/// must not make all else small.
const FARTHEST: f64 = 0.25;
/// Radius of a platter of which nothing is known, mm.
const PLATTER_MM: f64 = 100.0;
/// Least side of the picture, mm.
const LEAST_MM: f64 = 100.0;

#[derive(Debug, Clone, Copy)]
struct Span {
    low: (f64, f64),
    high: (f64, f64),
}

impl Span {
    fn add(&mut self, (u, v): (f64, f64)) {
        if u.is_finite() && v.is_finite() {
            self.low = (self.low.0.min(u), self.low.1.min(v));
            self.high = (self.high.0.max(u), self.high.1.max(v));
        }
    }
    fn larger(&self) -> f64 {
        (self.high.0 - self.low.0).max(self.high.1 - self.low.1)
    }
}

/// Left lower and right upper corner of a view, mm; `armless`: without room for an arm that stands upright.
pub fn of(subject: &Subject<'_>, view: View, armless: bool) -> ((f64, f64), (f64, f64)) {
    let mut span = Span {
        low: (0.0, 0.0),
        high: (0.0, 0.0),
    };
    let plate = &subject.cell.plate;
    let far = (
        plate.pitch_x_mm * (f64::from(plate.columns) - 0.5),
        plate.pitch_y_mm * (f64::from(plate.rows) - 0.5),
    );
    for x in [-0.5 * plate.pitch_x_mm, far.0] {
        for y in [-0.5 * plate.pitch_y_mm, far.1] {
            span.add(view.flat(&Vector3::new(x, y, -0.02 * far.0)));
        }
    }
    for geometry in [Some(subject.found), subject.drawn].into_iter().flatten() {
        add_axes(&mut span, subject, view, geometry, armless);
    }
    let core = span;
    let room = FARTHEST * core.larger();
    for keep_out in &subject.cell.keep_outs {
        let turns = keep_out.frame == Belongs::Platter;
        if turns || matches!(keep_out.shape, Shape::HalfSpace { .. }) {
            continue;
        }
        for (u, v) in shapes::outline(&keep_out.shape, view, None) {
            span.add((
                u.clamp(core.low.0 - room, core.high.0 + room),
                v.clamp(core.low.1 - room, core.high.1 + room),
            ));
        }
    }
    let around = AROUND * span.larger().max(LEAST_MM);
    let wide = |low: f64, high: f64| {
        let more = (LEAST_MM - (high - low)).max(0.0) / 2.0 + around;
        (low - more, high + more)
    };
    let (left, right) = wide(span.low.0, span.high.0);
    let (low, high) = wide(span.low.1, span.high.1);
    ((left, low), (right, high))
}

fn add_axes(
    span: &mut Span,
    subject: &Subject<'_>,
    view: View,
    geometry: &Geometry,
    armless: bool,
) {
    let zero = [0.0; MAX_JOINTS];
    for travel_mm in ends(subject) {
        let arm = ArmScene::new(geometry, travel_mm, &zero[..geometry.joints.len()]);
        span.add(view.flat(&arm.carriage_mm));
        span.add(view.flat(&arm.base_mm));
        // An arm stretched upward has to fit in, on its carriage.
        let shoulder = match arm.solved {
            0 => arm.base_mm,
            _ => arm.joints[0].point_mm,
        };
        if view == View::Elevation && !armless {
            let up = 0.75 * stretch_mm(geometry);
            span.add(view.flat(&(shoulder + Vector3::new(0.0, 0.0, up))));
        }
    }
    if let Some(table) = &geometry.turntable {
        let r = platter_mm(subject);
        for (x, y) in [(r, 0.0), (-r, 0.0), (0.0, r), (0.0, -r)] {
            span.add(view.flat(&(table.at_mm + Vector3::new(1.1 * x, 1.1 * y, 0.0))));
        }
    }
    for (mark, at_mm) in subject.cell.marks.iter().zip(&geometry.marks_mm) {
        if mark.frame == Belongs::Plate {
            span.add(view.flat(at_mm));
        }
    }
    for spot in subject.spots.iter().filter(|s| s.frame == Belongs::Plate) {
        span.add(view.flat(&spot.at_mm));
    }
}

/// Travels between which the carriage is shown, mm.
pub fn ends(subject: &Subject<'_>) -> Vec<f64> {
    match subject.cell.track.as_ref().map(|t| t.travel_mm) {
        Some(Some(travel)) => vec![travel.low, travel.high],
        _ => vec![0.0],
    }
}

/// Length of the arm from its first axis to the tip, all links in line, mm: no posture reaches farther.
pub fn stretch_mm(geometry: &Geometry) -> f64 {
    let zero = [0.0; MAX_JOINTS];
    let arm = ArmScene::new(geometry, 0.0, &zero[..geometry.joints.len()]);
    let joints = arm.joints[..arm.solved].iter().map(|j| j.point_mm);
    let places: Vec<Vector3<f64>> = joints.chain([arm.flange_mm, arm.tip_mm]).collect();
    places.windows(2).map(|w| (w[1] - w[0]).norm()).sum()
}

/// Postures that are tried first, and rounds of finer steps from the best of them.
const TRIED: usize = 512;
const ROUNDS: usize = 24;

/// How far from its first axis the tip gets over ground, within the limits of all other joints, mm: found by
/// trying, to about a thousandth. Of an arm whose first axis is not upright its whole length.
pub fn reach_mm(cell: &Cell, geometry: &Geometry) -> f64 {
    const PRIMES: [usize; 7] = [2, 3, 5, 7, 11, 13, 17];
    let n = geometry.joints.len().min(cell.joints.len());
    let limits: Vec<(f64, f64)> = cell.joints[..n]
        .iter()
        .map(|j| (j.limits_rad.low, j.limits_rad.high))
        .collect();
    let over_ground = |values: &[f64]| {
        let arm = ArmScene::new(geometry, 0.0, values);
        (arm.tip_mm - arm.joints[0].point_mm).xy().norm()
    };
    let upright = geometry.joints.first().is_some_and(|j| {
        let zero = [0.0; MAX_JOINTS];
        let base = ArmScene::new(geometry, 0.0, &zero[..n]).base_axes;
        (base * j.axis).z.abs() > 0.98
    });
    if !upright || n != geometry.joints.len() {
        return stretch_mm(geometry);
    }
    let tried = (0..TRIED).map(|k| {
        let each = limits.iter().zip(PRIMES);
        let values: Vec<f64> = each
            .map(|((low, high), base)| low + (high - low) * radical_inverse(k, base))
            .collect();
        (over_ground(&values), values)
    });
    let Some((mut best, mut values)) = tried.max_by(|a, b| a.0.total_cmp(&b.0)) else {
        return 0.0;
    };
    let mut share = 0.25;
    for _ in 0..ROUNDS {
        for (joint, (low, high)) in limits.iter().enumerate().skip(1) {
            for side in [-1.0, 1.0] {
                let mut other = values.clone();
                other[joint] = (values[joint] + side * share * (high - low)).clamp(*low, *high);
                let far = over_ground(&other);
                if far > best {
                    (best, values) = (far, other);
                }
            }
        }
        share *= 0.75;
    }
    best
}

/// How far from the centre anything is known to lie on the platter, mm.
pub fn platter_mm(subject: &Subject<'_>) -> f64 {
    let marks = subject.cell.marks.iter().zip(&subject.found.marks_mm);
    let marks = marks
        .filter(|(mark, _)| mark.frame == Belongs::Platter)
        .map(|(_, at)| at.xy().norm());
    let spots = subject.spots.iter();
    let spots = spots
        .filter(|s| s.frame == Belongs::Platter)
        .map(|s| s.at_mm.xy().norm());
    let turning = subject.cell.keep_outs.iter();
    let turning = turning
        .filter(|k| k.frame == Belongs::Platter)
        .flat_map(|k| shapes::outline(&k.shape, View::Plan, None))
        .map(|(x, y)| x.hypot(y));
    let far = marks.chain(spots).chain(turning);
    let far = far.filter(|r| r.is_finite()).fold(0.0, f64::max);
    if far > 0.0 { 1.05 * far } else { PLATTER_MM }
}
