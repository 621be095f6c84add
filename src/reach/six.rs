//! The closed forms of arms of six joints: three neighbouring axes that meet at the tip's end (or at
//! the base), or three parallel ones in the middle.

use std::f64::consts::PI;

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::frames::rot_zyx;
use crate::reach::lines::Line;
use crate::reach::lines::meeting;
use crate::reach::shoulder;
use crate::reach::small::Posture;
use crate::reach::triple;
use crate::reach::wrist;

/// Axes that miss one point by less meet exactly, mm.
const EXACT_MM: f64 = 1e-6;
/// Axes that miss one point by less nearly meet: the closed form gives places to start from, mm.
const NEARLY_MM: f64 = 2.0;

/// Which closed form.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Form {
    /// The last three axes meet at this point of the zero posture.
    Meeting(Vector3<f64>),
    /// Axes 2, 3 and 4 are parallel.
    Parallel,
}

/// A chain of six joints with a closed form.
#[derive(Debug, Clone)]
pub(super) struct Six {
    /// As solved: from the base, or from the tool where `reversed`.
    axes: [Line; 6],
    reversed: bool,
    form: Form,
    /// Whether the postures are roots but for rounding.
    pub exact: bool,
    /// Tool axes and tip at the zero posture.
    tool0: Matrix3<f64>,
    tip0: Vector3<f64>,
    /// Where a joint stands that nothing asks to stand elsewhere, rad.
    still: f64,
}

/// A chain at its zero posture, base frame: what is recognised.
#[derive(Debug, Clone)]
pub(super) struct Chain {
    pub axes: Vec<Line>,
    pub tool: Matrix3<f64>,
    pub tip: Vector3<f64>,
}

impl Chain {
    pub fn of(geometry: &Geometry) -> Self {
        let tool = &geometry.tool;
        Chain {
            axes: geometry
                .joints
                .iter()
                .map(|j| Line {
                    along: j.axis.normalize(),
                    at: j.through_mm,
                })
                .collect(),
            tool: geometry.flange_axes * rot_zyx(tool.yaw_rad, tool.pitch_rad, tool.roll_rad),
            tip: geometry.flange_mm + geometry.flange_axes * tool.at_mm,
        }
    }

    /// The chain with one joint held at a value, as a chain without it.
    pub fn holding(&self, index: usize, rad: f64) -> Self {
        let held = self.axes[index];
        let turn = held.rotation(rad);
        let mut axes = self.axes.clone();
        axes.remove(index);
        for line in &mut axes[index..] {
            line.along = turn * line.along;
            line.at = held.turn(rad, &line.at);
        }
        Chain {
            axes,
            tool: turn * self.tool,
            tip: held.turn(rad, &self.tip),
        }
    }
}

impl Six {
    /// Recognises a closed form from the axes; `None` where there is none.
    pub fn of(chain: &Chain) -> Option<Self> {
        let axes: [Line; 6] = chain.axes.clone().try_into().ok()?;
        let reversed: [Line; 6] = std::array::from_fn(|i| Line {
            along: -axes[5 - i].along,
            at: axes[5 - i].at,
        });
        let mut near = None;
        for (axes, reversed) in [(&axes, false), (&reversed, true)] {
            let Some((form, exact)) = form_of(axes) else {
                continue;
            };
            let six = Six {
                axes: *axes,
                reversed,
                form,
                exact,
                tool0: chain.tool,
                tip0: chain.tip,
                still: 0.0,
            };
            if exact {
                return Some(six);
            }
            near = near.or(Some(six));
        }
        near
    }

    /// In words, for people.
    pub fn words(&self) -> &'static str {
        match (self.form, self.reversed) {
            (Form::Meeting(_), false) => "the last three axes meet in a point",
            (Form::Meeting(_), true) => "the first three axes meet in a point",
            (Form::Parallel, false) => "axes 2, 3 and 4 are parallel",
            (Form::Parallel, true) => "axes 3, 4 and 5 are parallel",
        }
    }

    /// All postures for a tip and tool axes in the base frame, not wrapped: roots where `exact`
    /// holds, else near them. Some may be none: ends of reach are taken generously.
    pub fn postures(
        &self,
        tool: &Matrix3<f64>,
        tip: &Vector3<f64>,
        mut found: impl FnMut(Posture),
    ) {
        let mut turn = tool * self.tool0.transpose();
        let mut shift = tip - turn * self.tip0;
        if self.reversed {
            turn = turn.transpose();
            shift = -(turn * shift);
        }
        let mut give = |values: [f64; 6]| {
            let mut q = Posture::default();
            for (i, v) in values.iter().enumerate() {
                q[if self.reversed { 5 - i } else { i }] = *v;
            }
            if q.iter().all(|v| v.is_finite() && v.abs() < 8.0 * PI) {
                found(q);
            }
        };
        match self.form {
            Form::Parallel => triple::solve(&self.axes, &turn, &shift, give),
            Form::Meeting(centre) => {
                let [a, b, c, d, e, f] = self.axes;
                let goal = turn * centre + shift;
                shoulder::carry(&[a, b, c], &centre, &goal, |[q1, q2, q3]| {
                    let arm = a.rotation(q1) * b.rotation(q2) * c.rotation(q3);
                    wrist::turn(
                        &[d, e, f],
                        &arm.tr_mul(&turn),
                        self.still,
                        |[q4, q5, q6]| {
                            give([q1, q2, q3, q4, q5, q6]);
                        },
                    );
                });
            }
        }
    }
}

/// The form, and whether it holds exactly.
fn form_of(axes: &[Line; 6]) -> Option<(Form, bool)> {
    let [a, b, c, d, e, f] = axes;
    let apart = |p: &Line, q: &Line| (p.at - q.at).cross(&p.along).norm() > EXACT_MM;
    if b.parallel(c) && b.parallel(d) && apart(b, c) && apart(c, d) {
        return Some((Form::Parallel, true));
    }
    let turns = !d.parallel(e) && !e.parallel(f);
    // Axes 1 and 2 in one line would move nothing apart.
    let carries = !a.parallel(b) || apart(a, b);
    if turns && carries {
        let (centre, miss) = meeting([d, e, f])?;
        if miss < NEARLY_MM {
            return Some((Form::Meeting(centre), miss < EXACT_MM));
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reach::numeric::same;

    /// Any chain by the product of exponentials, written here once more and plainly.
    fn forward(chain: &Chain, q: &Posture) -> (Matrix3<f64>, Vector3<f64>) {
        let (mut turn, mut tip) = (chain.tool, chain.tip);
        for (i, line) in chain.axes.iter().enumerate().rev() {
            turn = line.rotation(q[i]) * turn;
            tip = line.turn(q[i], &tip);
        }
        (turn, tip)
    }

    fn unit(random: &mut fastrand::Rng) -> Vector3<f64> {
        let mut part = || 2.0 * random.f64() - 1.0;
        Vector3::new(part(), part(), part()).normalize()
    }

    fn place(random: &mut fastrand::Rng) -> Vector3<f64> {
        unit(random) * (50.0 + 250.0 * random.f64())
    }

    fn chains(random: &mut fastrand::Rng, kind: usize) -> Chain {
        let mut axes: Vec<Line> = (0..6)
            .map(|_| Line {
                along: unit(random),
                at: place(random),
            })
            .collect();
        let centre = place(random);
        let meet = |axes: &mut Vec<Line>, from: usize| {
            for line in &mut axes[from..from + 3] {
                line.at = centre + line.along * 17.0;
            }
        };
        match kind {
            0 => meet(&mut axes, 3),
            1 => {
                // Axes 1 and 2 meet, 2 and 3 are parallel: as arms are usually built.
                meet(&mut axes, 3);
                axes[1].at = axes[0].at;
                axes[2].along = -axes[1].along;
            }
            2 => {
                meet(&mut axes, 3);
                axes[1].along = axes[0].along;
            }
            3 => meet(&mut axes, 0),
            4 | 5 => {
                let h = axes[2].along;
                axes[1].along = h;
                axes[3].along = -h;
                if kind == 5 {
                    axes[4].at = axes[5].at;
                }
            }
            _ => {
                let h = axes[2].along;
                axes[3].along = -h;
                axes[4].along = h;
                axes[1].at = axes[0].at;
            }
        }
        Chain {
            axes,
            tool: crate::frames::rot_about(&unit(random), 1.0),
            tip: place(random),
        }
    }

    /// From a posture to the pose and back: the posture is among those found, and all are roots.
    #[test]
    fn every_closed_form_finds_the_posture_that_a_pose_was_made_of() {
        let mut random = fastrand::Rng::with_seed(6);
        for kind in 0..7 {
            let (mut lost, mut wrong, mut most) = (0, 0, 0);
            for _ in 0..2000 {
                let chain = chains(&mut random, kind);
                let six = Six::of(&chain).expect("a closed form");
                assert!(six.exact, "kind {kind}");
                let mut q = Posture::default();
                for v in &mut q[..6] {
                    *v = (2.0 * random.f64() - 1.0) * PI;
                }
                let (tool, tip) = forward(&chain, &q);
                let mut found = Vec::new();
                six.postures(&tool, &tip, |p| found.push(p));
                lost += usize::from(!found.iter().any(|p| same(p, &q, 6, 1e-5)));
                most = most.max(found.len());
                for p in &found {
                    let (t, at) = forward(&chain, p);
                    wrong += usize::from((t - tool).abs().max() > 1e-4 || (at - tip).norm() > 0.1);
                }
            }
            // A posture beside a double root is found less exactly; Newton's steps follow later.
            assert!(lost <= 2, "kind {kind}: {lost} of 2000 lost");
            assert!(wrong <= 20, "kind {kind}: {wrong} wrong");
            assert!(most >= 6, "kind {kind}: never more than {most} postures");
        }
    }
}
