//! The quick look: what each device's own readings say, by the stand-alone fits, before anything is
//! solved together. It cannot say more than that something looks wrong.

use std::sync::Arc;

use nalgebra::Vector3;

use crate::cell::Cell;
use crate::fit::alone::TrackLines;
use crate::fit::alone::notch_row;
use crate::fit::alone::track_lines;
use crate::fit::alone::turns_of;
use crate::fit::standalone::circular;
use crate::fit::standalone::rigid;
use crate::fit::standalone::turns;
use crate::readings::Taken;
use crate::readings::hints::CountHint;
use crate::readings::hints::Hints;
use crate::units::wrap_rad;

/// A residual beyond this many of its u looks wrong, after a fit that it may have pulled along.
const LOOKS_WRONG: f64 = 5.0;

/// The reading that fits a device's own line or circle worst.
#[derive(Debug, Clone, PartialEq)]
pub struct Worst {
    /// File of the reading.
    pub file: Arc<str>,
    /// Its line.
    pub line: usize,
    /// How far off, mm or rad.
    pub residual: f64,
    /// Its u, mm or rad.
    pub u: f64,
}

impl Worst {
    /// Whether it is far beyond its uncertainty.
    pub fn looks_wrong(&self) -> bool {
        self.residual.abs() > LOOKS_WRONG * self.u
    }
}

/// The track's datum from its hole counts.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackLook {
    /// Where the carriage stands at reading 0, along x and y, mm; `None` where not counted.
    pub origin_mm: [Option<f64>; 2],
    /// Direction, rad; `None` unless counted along both.
    pub yaw_rad: Option<f64>,
    /// Travel per unit of reading, mm, by the counts.
    pub scale_mm: Option<f64>,
    /// Play, mm, where both approaches were noted.
    pub lost_motion_mm: Option<f64>,
    /// The count that fits worst.
    pub worst: Option<Worst>,
}

/// The table's index from its notches.
#[derive(Debug, Clone, PartialEq)]
pub struct IndexLook {
    /// φ at reading 0, rad, with the nominal switch and scale.
    pub index_rad: f64,
    /// Play, rad, where both approaches were noted.
    pub lost_motion_rad: Option<f64>,
    /// The notch that fits worst.
    pub worst: Option<Worst>,
}

/// The turntable's centre from touches of one mark at several angles, the arm as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct CentreLook {
    /// Name of the mark.
    pub mark: String,
    /// How many touches.
    pub touches: usize,
    /// The axis at the mark's height, plate frame, mm.
    pub centre_mm: Vector3<f64>,
    /// Lean of the axis against the plate's z, rad; `None` where the touches do not hold it well.
    pub lean_rad: Option<f64>,
    /// Distance of the mark from the axis, mm.
    pub radius_mm: f64,
}

/// How the arm as drawn would have to be moved to meet the targets it touched.
#[derive(Debug, Clone, PartialEq)]
pub struct ArmLook {
    /// How many touches.
    pub touches: usize,
    /// Turn about the plate's z, rad.
    pub yaw_rad: f64,
    /// Shift of the middle of the touched targets, mm.
    pub shift_mm: Vector3<f64>,
    /// What is left between tips and targets, mm.
    pub rms_mm: f64,
}

/// Everything that the quick look found.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct QuickLook {
    /// From hole counts.
    pub track: Option<TrackLook>,
    /// From notches.
    pub index: Option<IndexLook>,
    /// From touches of marks on the platter.
    pub centres: Vec<CentreLook>,
    /// From touches.
    pub arm: Option<ArmLook>,
}

/// Looks at the readings, each device by itself.
pub fn look(cell: &Cell, taken: &[Taken]) -> QuickLook {
    let mut counts = Vec::new();
    let mut notches = Vec::new();
    let mut all = Hints::default();
    for taken in taken.iter().filter(|t| t.used()) {
        let mut own = Hints::default();
        taken.reading.hint(&cell.nominal, &mut own);
        counts.extend(own.counts.iter().map(|h| (taken, *h)));
        notches.extend(own.notches.iter().map(|h| (taken, *h)));
        all.pairs.extend(own.pairs);
        all.turns.extend(own.turns);
    }
    QuickLook {
        track: track(cell, &counts),
        index: index(cell, &notches),
        centres: centres(cell, &all),
        arm: arm(&all),
    }
}

fn worst<'a>(residuals: impl Iterator<Item = (&'a Taken, f64)>) -> Option<Worst> {
    residuals
        .map(|(taken, residual)| Worst {
            file: taken.file.clone(),
            line: taken.line,
            residual,
            u: taken.u,
        })
        .max_by(|a, b| {
            (a.residual / a.u)
                .abs()
                .total_cmp(&(b.residual / b.u).abs())
        })
}

fn track(cell: &Cell, counts: &[(&Taken, CountHint)]) -> Option<TrackLook> {
    let nominal = cell.nominal.track.as_ref()?;
    let weighed: Vec<(CountHint, f64)> = counts.iter().map(|(t, h)| (*h, t.u)).collect();
    let TrackLines {
        along: fits,
        yaw_rad: yaw,
    } = track_lines(nominal, &weighed);
    if fits.iter().all(Option::is_none) {
        return None;
    }
    let mut residuals = Vec::new();
    for (along, fit) in fits.iter().enumerate() {
        let rows = counts.iter().filter(|(_, h)| h.along == along);
        if let Some(fit) = fit {
            residuals.extend(rows.zip(&fit.lsq.residuals).map(|((t, _), r)| (*t, *r)));
        }
    }
    let both = fits.iter().all(Option::is_some);
    let scale = |i: usize| fits[i].as_ref().map_or(0.0, |f| f.scale.value);
    let found_play = fits
        .iter()
        .flatten()
        .find(|f| f.lost_motion.index.is_some());
    Some(TrackLook {
        origin_mm: [0, 1].map(|i| fits[i].as_ref().map(|f| f.offset.value)),
        yaw_rad: both.then_some(yaw),
        scale_mm: both.then(|| scale(0).hypot(scale(1))),
        lost_motion_mm: found_play.map(|f| f.lost_motion.value),
        worst: worst(residuals.into_iter()),
    })
}

fn index(
    cell: &Cell,
    notches: &[(&Taken, crate::readings::hints::NotchHint)],
) -> Option<IndexLook> {
    let table = cell.nominal.turntable.as_ref()?;
    let rows: Vec<circular::NotchRow> = notches
        .iter()
        .map(|(taken, h)| notch_row(h, taken.u))
        .collect();
    let found = circular::turntable_index(&rows, table.scale_rad, table.switch_rad).ok()?;
    let play = found.lost_motion.unwrap_or(0.0);
    let residuals = notches.iter().map(|(taken, h)| {
        let turn = table.scale_rad * h.table + found.index
            - h.approach.dir() * table.scale_rad.signum() * play / 2.0;
        (*taken, wrap_rad(turn + h.angle_rad - table.switch_rad))
    });
    Some(IndexLook {
        index_rad: found.index,
        lost_motion_rad: found.lost_motion,
        worst: worst(residuals),
    })
}

fn centres(cell: &Cell, hints: &Hints) -> Vec<CentreLook> {
    let mut found = Vec::new();
    for (index, mark) in cell.marks.iter().enumerate() {
        let rows = turns_of(hints, index);
        if let Ok(axis) = turns::axis_from_turns(&rows) {
            found.push(CentreLook {
                mark: mark.name.clone(),
                touches: rows.len(),
                centre_mm: axis.centre,
                lean_rad: lean(&axis),
                radius_mm: axis.radius,
            });
        } else if let Ok(flat) = turns::centre_from_turns(&rows) {
            let height = rows.iter().map(|r| r.point.z).sum::<f64>() / rows.len() as f64;
            found.push(CentreLook {
                mark: mark.name.clone(),
                touches: rows.len(),
                centre_mm: Vector3::new(flat.centre.x, flat.centre.y, height),
                lean_rad: None,
                radius_mm: flat.mark.norm(),
            });
        }
    }
    found
}

/// Lean of the axis against z, where the touches hold it to half a degree or better.
fn lean(axis: &turns::TurnAxis) -> Option<f64> {
    let variance = axis.rss / axis.dof.max(1) as f64;
    let sd = (0.5 * axis.axis_covariance.trace() * variance).sqrt();
    (axis.dof > 2 && sd < 0.5_f64.to_radians()).then(|| axis.axis.xy().norm().atan2(axis.axis.z))
}

fn arm(hints: &Hints) -> Option<ArmLook> {
    let tips: Vec<Vector3<f64>> = hints.pairs.iter().map(|p| p.tip_mm).collect();
    let targets: Vec<Vector3<f64>> = hints.pairs.iter().map(|p| p.target_mm).collect();
    let moved = rigid::fit_about_z(&tips, &targets, None).ok()?;
    Some(ArmLook {
        touches: tips.len(),
        yaw_rad: moved.yaw,
        shift_mm: moved.target_centroid - moved.source_centroid,
        rms_mm: moved.rmsd,
    })
}
