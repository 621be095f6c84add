//! How an arm holds itself, in words: ahead or over its back, elbow up or down, wrist one way or the
//! other. Two postures that differ in the first, the second or the last of these are parted by a
//! singular posture: going from one to the other is a flip.

use std::fmt;

use crate::kinematics::ArmScene;
use crate::reach::Solver;

/// How an arm holds itself. What an arm of its kind cannot choose is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Bearing {
    /// The wrist is ahead of joint 1's axis (true), or behind it: over the back.
    pub ahead: Option<bool>,
    /// The elbow is above the line from shoulder to wrist.
    pub elbow_up: Option<bool>,
    /// The tool leans away from the arm (true) or back toward it.
    pub tool_outward: Option<bool>,
    /// Which way the middle one of the last three axes is bent (the sign of their triple product); of
    /// an arm whose axes are all parallel which way its elbow is.
    pub side: Option<bool>,
}

impl fmt::Display for Bearing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = |choice: Option<bool>, yes, no| choice.map(|c| if c { yes } else { no });
        let words = [
            word(self.ahead, "ahead", "over its back"),
            word(self.elbow_up, "elbow up", "elbow down"),
            word(self.tool_outward, "tool outward", "tool inward"),
            word(self.side, "bent +", "bent -"),
        ];
        let words: Vec<&str> = words.into_iter().flatten().collect();
        write!(f, "{}", words.join(", "))
    }
}

impl Solver<'_> {
    /// How the arm holds itself at joint values (rad).
    pub fn bearing(&self, values_rad: &[f64]) -> Bearing {
        let scene = ArmScene::new(self.geometry, 0.0, values_rad);
        let n = self.geometry.joints.len();
        let up = scene.base_axes.column(2);
        let upright = self.geometry.joints[0].axis.z.abs() > 0.9;
        let pitches = n >= 4 && {
            let (a, b) = (&self.geometry.joints[1], &self.geometry.joints[2]);
            a.axis.z.abs() < 0.1 && a.axis.cross(&b.axis).norm() < 1e-9
        };
        let mut bearing = Bearing {
            ahead: None,
            elbow_up: None,
            tool_outward: None,
            side: None,
        };
        if upright && pitches {
            let shoulder = &scene.joints[1];
            let elbow = scene.joints[2].point_mm - shoulder.point_mm;
            // Joint 4's own point, moved along its axis, is no wrist where that axis is the fore arm's.
            let wrist = match n {
                4 | 5 => scene.joints[3].point_mm,
                _ => scene.joints[4].point_mm,
            } - shoulder.point_mm;
            let normal = shoulder.axis;
            // Level, in the arm's plane, ahead at the zero posture of joint 1.
            let ahead = normal.cross(&up);
            let ahead = if self.drawn_ahead() < 0.0 {
                -ahead
            } else {
                ahead
            };
            let from_first = wrist + shoulder.point_mm - scene.joints[0].point_mm;
            bearing.ahead = Some(from_first.dot(&ahead) >= 0.0);
            let bent = wrist.cross(&elbow).dot(&normal);
            let straight_up = wrist.cross(&up).dot(&normal);
            bearing.elbow_up = Some(bent * straight_up >= 0.0);
            if n <= 5 {
                let z = scene.tool_axes.column(2);
                let lean = z.dot(&ahead);
                // Straight down or up the tool leans neither way.
                if lean.abs() > 0.02 {
                    let out = if bearing.ahead == Some(true) {
                        1.0
                    } else {
                        -1.0
                    };
                    bearing.tool_outward = Some(lean * out >= 0.0);
                }
            }
        }
        if n >= 6 || !(upright && pitches) {
            bearing.side = self.side(&scene, values_rad.len());
        }
        bearing
    }

    /// Whether the arm's plane is ahead (+) or behind at the drawn zero of joint 1: by the flange.
    fn drawn_ahead(&self) -> f64 {
        let (first, second) = (&self.geometry.joints[0], &self.geometry.joints[1]);
        let ahead = second.axis.cross(&nalgebra::Vector3::z());
        // Of a plane that holds the base's x, ahead is toward +x.
        match ahead.x.abs() > 1e-6 {
            true => ahead.x,
            false => (self.geometry.flange_mm - first.through_mm).dot(&ahead),
        }
    }

    fn side(&self, scene: &ArmScene, n: usize) -> Option<bool> {
        if n < 3 {
            return None;
        }
        let (a, b, c) = (
            &scene.joints[n - 3].axis,
            &scene.joints[n - 2].axis,
            &scene.joints[n - 1].axis,
        );
        if self.level.is_some() {
            let (p, q) = (&scene.joints[1].point_mm, &scene.joints[0].point_mm);
            let upper = p - q;
            let fore = scene.joints[2].point_mm - p;
            let bent = upper.cross(&fore).dot(a);
            return (bent.abs() > 1e-9).then_some(bent >= 0.0);
        }
        let bent = a.cross(b).dot(c);
        (bent.abs() > 1e-9).then_some(bent >= 0.0)
    }
}
