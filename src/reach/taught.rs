//! From a posture to the target that leads back to it.

use std::f64::consts::FRAC_PI_2;
use std::f64::consts::PI;

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::kinematics::ArmScene;
use crate::kinematics::Direction;
use crate::kinematics::TableScene;
use crate::kinematics::direction_of;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::conditions::PlaneOf;

impl Solver<'_> {
    /// What a posture attains, as a target that leads back to it: the tip's place and the angles
    /// that an arm of this many joints can answer, in the point's own frame. Steeper than 89°, a
    /// planar arm's elevation is that of its lean within its plane, since that is what it meets.
    pub fn wanted_at(
        &self,
        frame: Belongs,
        travel_mm: f64,
        turn_rad: f64,
        values_rad: &[f64],
    ) -> Option<Wanted> {
        let n = self.geometry.joints.len();
        if values_rad.len() != n {
            return None;
        }
        let scene = ArmScene::new(self.geometry, travel_mm, values_rad);
        let (axes, origin) = match (frame, &self.geometry.turntable) {
            (Belongs::Plate, _) => (Matrix3::identity(), Vector3::zeros()),
            (Belongs::Platter, Some(table)) => {
                let table = TableScene::new(table, turn_rad);
                (table.platter_axes, table.centre_mm)
            }
            (Belongs::Platter, None) => return None,
        };
        let tool = axes.tr_mul(&scene.tool_axes);
        let heading = scene.heading().map(|h| axes.tr_mul(&h));
        let mut d = direction_of(&tool, heading);
        if self.pattern.is_some()
            && let Some(plane) = PlaneOf::new(axes.tr_mul(&scene.joints[1].axis), Vector3::z())
        {
            let psi = plane.angle(&tool.column(2).into()).abs();
            let in_plane = FRAC_PI_2 - psi;
            if in_plane.abs() > FRAC_PI_2 - PI / 180.0 {
                d.elevation_rad = in_plane;
                if Direction::is_pole(in_plane)
                    && let Some(h) = heading
                {
                    let (s, c) = h.y.atan2(h.x).sin_cos();
                    let y0 = Vector3::new(-s, c, 0.0);
                    let x0 = y0.cross(&tool.column(2));
                    let x = tool.column(0);
                    d.roll_rad = x.dot(&y0).atan2(x.dot(&x0));
                }
            }
        }
        Some(Wanted {
            frame,
            at_mm: axes.tr_mul(&(scene.tip_mm - origin)),
            elevation_rad: (n >= 4).then_some(d.elevation_rad),
            azimuth_rad: (n >= 6).then_some(d.azimuth_rad),
            roll_rad: (n >= 5).then_some(d.roll_rad),
        })
    }
}
