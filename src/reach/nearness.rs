//! How near a posture is to a singular one: what 1 mm of the tip costs in turns of the joints.
//!
//! The Jacobian of the conditions has the tip's place over a stated length of the arm, so that its
//! rows are of one kind (Yoshikawa 1985 takes its singular values for how well an arm can move; from
//! memory). Its smallest singular value is reported. For people the place alone speaks: the largest
//! turn of one joint that 1 mm of the tip can cost, tried in earnest both ways.

use nalgebra::DMatrix;
use nalgebra::Vector3;

use crate::kinematics::ArmScene;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::held::Held;
use crate::reach::polish::Look;
use crate::reach::polish::Place;
use crate::reach::small::Posture;

/// A posture is called nearly singular where 1 mm costs more than this, rad (1 degree).
pub const NEARLY_RAD: f64 = std::f64::consts::PI / 180.0;

/// A way, as seen from the arm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Away from joint 1's axis, level.
    Outward,
    /// Toward joint 1's axis, level.
    Inward,
    /// Up.
    Up,
    /// Down.
    Down,
    /// To the left, seen along the way from joint 1's axis to the tip.
    Left,
    /// To the right.
    Right,
}

impl Way {
    /// In words.
    pub fn as_str(self) -> &'static str {
        match self {
            Way::Outward => "outward",
            Way::Inward => "inward",
            Way::Up => "up",
            Way::Down => "down",
            Way::Left => "to the left",
            Way::Right => "to the right",
        }
    }
}

/// What makes a posture nearly singular.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// The arm is nearly stretched out.
    Stretched,
    /// The arm is nearly folded up.
    Folded,
    /// The tip or the wrist is nearly on joint 1's axis.
    OverBase,
    /// Two axes (from 0) are nearly in one line.
    InLine(usize, usize),
    /// Something else.
    Other,
}

/// How near a posture is to a singular one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearness {
    /// Smallest singular value of the Jacobian of the conditions, its places over `length_mm`.
    pub smallest: f64,
    /// That length, mm: the arm's, tool included.
    pub length_mm: f64,
    /// The way along which 1 mm costs most.
    pub way: Way,
    /// The joint (from 0) that turns most then.
    pub joint: usize,
    /// By how much, rad per mm; where the arm can go neither way, what the slopes at the posture say.
    pub cost_rad: f64,
    /// Whether the arm can go 1 mm neither this way nor back.
    pub stuck: bool,
    /// Why, where it is nearly singular.
    pub cause: Option<Cause>,
}

impl Solver<'_> {
    /// How near a posture at a target is to a singular one; `None` where it does not meet the target.
    pub fn nearness(
        &self,
        wanted: &Wanted,
        travel_mm: f64,
        turn_rad: f64,
        values_rad: &[f64],
    ) -> Option<Nearness> {
        let held = self.held(wanted, travel_mm, turn_rad, values_rad)?;
        let plan = self.plan(wanted).ok()?;
        let place = Place::new(self.geometry, travel_mm, &held.task, self.free(&plan));
        let mut look = Look::new();
        place.look(&held.values, &mut look);
        let columns = self.free(&plan);
        let matrix = DMatrix::from_fn(look.rows, columns, |i, k| look.j[i][k]);
        let smallest = matrix.singular_values().min();
        let scene = ArmScene::new(self.geometry, travel_mm, values_rad);
        let linear = held.slopes(&held.values);
        let tiring = linear.map(|s| held.tiring(&s));
        let ways = tiring.map_or_else(|| self.ways(&scene), |t| vec![t, -t]);
        let mut worst: Option<(f64, usize, Vector3<f64>)> = None;
        let mut blocked = None;
        for way in ways {
            match earnest(&held, &way, columns) {
                Some((cost, joint)) if worst.is_none_or(|w| cost > w.0) => {
                    worst = Some((cost, joint, way));
                }
                Some(_) => {}
                None => blocked = Some(way),
            }
        }
        let stuck = worst.is_none();
        let (cost, joint, way) = worst.unwrap_or_else(|| {
            let way = tiring.unwrap_or_else(Vector3::z);
            let each = linear.iter().flat_map(|s| s[..columns].iter().enumerate());
            let most = each
                .map(|(i, s)| (s.dot(&way).abs(), i))
                .max_by(|a, b| a.0.total_cmp(&b.0));
            // At the singular posture itself there are no slopes.
            let (cost, joint) = most.unwrap_or((std::f64::consts::PI, columns - 1));
            (cost.max(NEARLY_RAD * 1.01), joint, way)
        });
        let cause = (cost > NEARLY_RAD).then(|| self.cause(&scene, joint, &way, blocked));
        Some(Nearness {
            smallest: if smallest.is_finite() { smallest } else { 0.0 },
            length_mm: held.task.length_mm,
            way: named(&self.ways(&scene), &way),
            joint,
            cost_rad: cost,
            stuck,
            cause,
        })
    }

    /// Outward, inward, up, down, left, right, plate frame.
    fn ways(&self, scene: &ArmScene) -> Vec<Vector3<f64>> {
        let up: Vector3<f64> = scene.base_axes.column(2).into();
        let from = scene.tip_mm - scene.joints[0].point_mm;
        let level = from - up * up.dot(&from);
        let ahead = match level.norm() > 1e-9 {
            true => level.normalize(),
            false => scene.base_axes.column(0).into(),
        };
        let left = up.cross(&ahead);
        vec![ahead, -ahead, up, -up, left, -left]
    }

    fn cause(
        &self,
        scene: &ArmScene,
        joint: usize,
        way: &Vector3<f64>,
        blocked: Option<Vector3<f64>>,
    ) -> Cause {
        let n = self.geometry.joints.len();
        // Axes in one line: each could do the other's turn.
        for a in 0..n {
            for b in a + 1..n {
                let (p, q) = (&scene.joints[a], &scene.joints[b]);
                let apart = (q.point_mm - p.point_mm).cross(&p.axis).norm();
                let lined = p.axis.cross(&q.axis).norm() < 0.2 && apart < 0.05 * self.length_mm;
                if lined && (joint == a || joint == b) {
                    return Cause::InLine(a, b);
                }
            }
        }
        let first = &scene.joints[0];
        let near = 0.15 * self.length_mm;
        let aside = |p: Vector3<f64>| (p - first.point_mm).cross(&first.axis).norm();
        let wrist = scene.joints[(n - 1).min(4)].point_mm;
        if joint == 0 && aside(scene.tip_mm).min(aside(wrist)) < near {
            return Cause::OverBase;
        }
        // The way that is closed, or that will be soon since it costs most.
        let closed = blocked.unwrap_or(*way);
        let shoulder = scene.joints.get(1).map_or(first.point_mm, |j| j.point_mm);
        let wrist = scene.joints[(n - 1).min(3)].point_mm;
        let from = if (wrist - shoulder).norm() > 1.0 {
            (wrist - shoulder).normalize()
        } else {
            (scene.tip_mm - shoulder).normalize()
        };
        match closed.dot(&from) {
            c if c > 0.7 => Cause::Stretched,
            c if c < -0.7 => Cause::Folded,
            _ => Cause::Other,
        }
    }
}

/// What 1 mm along a way really costs: the largest turn of a joint (rad) and which; `None` where the
/// arm cannot go there.
fn earnest(held: &Held, way: &Vector3<f64>, columns: usize) -> Option<(f64, usize)> {
    // In ten steps: near a singular posture one of a whole mm would jump.
    let mut q: Posture = held.values;
    for k in 1..=10 {
        q = held.follow(way * (0.1 * f64::from(k)), &q)?;
    }
    let turned = (0..columns).map(|i| ((q[i] - held.values[i]).abs(), i));
    turned.max_by(|a, b| a.0.total_cmp(&b.0))
}

fn named(ways: &[Vector3<f64>], way: &Vector3<f64>) -> Way {
    const NAMES: [Way; 6] = [
        Way::Outward,
        Way::Inward,
        Way::Up,
        Way::Down,
        Way::Left,
        Way::Right,
    ];
    let best = ways
        .iter()
        .zip(NAMES)
        .max_by(|a, b| a.0.dot(way).total_cmp(&b.0.dot(way)));
    best.map_or(Way::Outward, |(_, name)| name)
}
