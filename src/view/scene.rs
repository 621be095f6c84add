//! Where things lie in the two pictures of a cell: millimetres to px and back.
//!
//! A plain stand-in for the scene of `pictures`: plate, track and arm as lines.

use nalgebra::Vector3;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::drawing::Fault;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::GREY;
use crate::drawing::ink::INK;
use crate::drawing::ink::PAPER;
use crate::drawing::ink::hex;
use crate::drawing::path::Path;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::kinematics::ArmScene;
use crate::readings::stand::Stand;
use crate::view::ask::ViewName;

/// Width of a picture, px.
const WIDTH: f64 = 720.0;
/// Air around what is drawn, mm.
const AIR_MM: f64 = 120.0;
/// Travel that is drawn where the cell does not say, mm.
const TRAVEL_MM: f64 = 1000.0;

/// Both pictures of a cell.
#[derive(Debug, Clone)]
pub struct Scene {
    low: Vector3<f64>,
    high: Vector3<f64>,
    px_per_mm: f64,
    plate_mm: (f64, f64),
    track: Option<(Vector3<f64>, Vector3<f64>)>,
}

impl Scene {
    /// Lays both pictures out for a cell as found.
    pub fn new(cell: &Cell, found: &Geometry) -> Scene {
        let plate_mm = (
            cell.plate.pitch_x_mm * f64::from(cell.plate.columns.max(2) - 1),
            cell.plate.pitch_y_mm * f64::from(cell.plate.rows.max(2) - 1),
        );
        let mut length = found.tool.at_mm.norm();
        let mut last = found.flange_mm;
        for joint in found.joints.iter().rev() {
            length += (last - joint.through_mm).norm();
            last = joint.through_mm;
        }
        let ends = cell.track.and_then(|t| t.travel_mm);
        let ends = ends.map_or([0.0, TRAVEL_MM], |t| [t.low, t.high]);
        let track = found.track.as_ref().map(|_| {
            let [a, b] = ends.map(|s| ArmScene::carriage(found, s).carriage_mm);
            (a, b)
        });
        let bases = ends.map(|s| ArmScene::carriage(found, s).base_mm);
        let reach = Vector3::repeat(length);
        let mut low = Vector3::new(0.0, 0.0, -AIR_MM);
        let mut high = Vector3::new(plate_mm.0, plate_mm.1, AIR_MM);
        for base in bases {
            low = low.inf(&(base - reach * 0.75));
            high = high.sup(&(base + reach));
        }
        low.z = low.z.max(-AIR_MM);
        Scene {
            low,
            high,
            px_per_mm: WIDTH / (high.x - low.x).max(1.0),
            plate_mm,
            track,
        }
    }

    /// The third coordinate that a view does not show, and the one that it draws upward.
    fn up(view: ViewName) -> usize {
        match view {
            ViewName::Plan => 1,
            ViewName::Elevation => 2,
        }
    }

    /// Where a place lies, px.
    pub fn to_px(&self, view: ViewName, place: &Vector3<f64>) -> (f64, f64) {
        let up = Self::up(view);
        (
            (place.x - self.low.x) * self.px_per_mm,
            (self.high[up] - place[up]) * self.px_per_mm,
        )
    }

    /// What lies at a place of the picture, mm along the directions of the view.
    pub fn to_mm(&self, view: ViewName, px: (f64, f64)) -> (f64, f64) {
        let up = Self::up(view);
        (
            self.low.x + px.0 / self.px_per_mm,
            self.high[up] - px.1 / self.px_per_mm,
        )
    }

    /// What stands still.
    pub fn svg(&self, view: ViewName) -> Result<String, Fault> {
        let up = Self::up(view);
        let height = (self.high[up] - self.low[up]) * self.px_per_mm;
        let title = match view {
            ViewName::Plan => "Plan",
            ViewName::Elevation => "Elevation",
        };
        let mut svg = Svg::new((WIDTH, height), PAPER, INK, title, "Plate and track.");
        let (w, h) = self.plate_mm;
        let depth = match view {
            ViewName::Plan => [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)],
            ViewName::Elevation => [(0.0, 0.0), (w, 0.0), (w, 0.0), (0.0, 0.0)],
        };
        let at = |(a, b): (f64, f64)| {
            let mut place = Vector3::new(a, 0.0, 0.0);
            place[up] = b;
            self.to_px(view, &place)
        };
        let mut path = Path::default();
        path.polyline(&depth.map(at), true);
        svg.path(&path, &Look::drawn(Pen::new(GREY, 1.0)));
        if let Some((a, b)) = &self.track {
            let ends = (self.to_px(view, a), self.to_px(view, b));
            svg.line(ends.0, ends.1, &Look::drawn(Pen::new(INK, 2.0)));
        }
        let text = svg.finish()?;
        Ok(match text.trim_end().strip_suffix("</svg>") {
            Some(inside) => format!("{inside}<g class=\"moving\"></g>\n</svg>\n"),
            None => text,
        })
    }

    /// The arm at its readings, as one group.
    pub fn moving(&self, view: ViewName, geometry: &Geometry, stand: &Stand) -> String {
        let n = geometry.joints.len();
        let arm = stand.arm(geometry, n);
        let mut places = vec![arm.base_mm];
        places.extend(arm.joints[..n].iter().map(|j| j.point_mm));
        places.extend([arm.flange_mm, arm.tip_mm]);
        let places: Vec<(f64, f64)> = places.iter().map(|p| self.to_px(view, p)).collect();
        let mut path = Path::default();
        path.polyline(&places, false);
        match path.is_spoilt() {
            true => "<g class=\"moving\"></g>".to_owned(),
            false => format!(
                "<g class=\"moving\"><path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"3\"/></g>",
                path.data(),
                hex(BLUE)
            ),
        }
    }
}
