//! Where things lie in the two pictures of a cell, as the page shows them: the scenes of a report.

use nalgebra::Vector3;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::drawing::Fault;
use crate::pictures::WIDE;
use crate::pictures::scene;
use crate::pictures::scene::Known;
use crate::pictures::scene::Spot;
use crate::pictures::scene::Subject;
use crate::pictures::scene::View;
use crate::readings::stand::Stand;
use crate::view::ask::ViewName;

/// Both pictures of a cell in one geometry.
#[derive(Debug)]
pub struct Scene<'a> {
    plan: scene::Scene<'a>,
    elevation: scene::Scene<'a>,
    registered: bool,
}

impl<'a> Scene<'a> {
    /// Lays both pictures out. `drawn` is what is shown dashed beside the geometry, where that is
    /// another one.
    pub fn new(
        cell: &'a Cell,
        found: &'a Geometry,
        drawn: Option<&'a Geometry>,
        (spots, known): (&'a [Spot], &'a Known),
    ) -> Scene<'a> {
        let subject = Subject {
            cell,
            found,
            drawn,
            spots,
            known,
        };
        Scene {
            plan: scene::Scene::new(subject, View::Plan, WIDE),
            elevation: scene::Scene::new(subject, View::Elevation, WIDE),
            registered: drawn.is_some(),
        }
    }

    fn of(&self, view: ViewName) -> &scene::Scene<'a> {
        match view {
            ViewName::Plan => &self.plan,
            ViewName::Elevation => &self.elevation,
        }
    }

    /// Where a place lies, px.
    pub fn to_px(&self, view: ViewName, place: &Vector3<f64>) -> (f64, f64) {
        self.of(view).to_px(place)
    }

    /// What lies at a place of the picture, mm along the directions of the view.
    pub fn to_mm(&self, view: ViewName, px: (f64, f64)) -> (f64, f64) {
        self.of(view).to_mm(px)
    }

    /// Radius that the platter is drawn with, mm.
    pub fn platter_mm(&self) -> f64 {
        self.plan.platter_mm()
    }

    /// What stands still.
    pub fn svg(&self, view: ViewName) -> Result<String, Fault> {
        let title = match view {
            ViewName::Plan => "The cell from above",
            ViewName::Elevation => "The cell from the front",
        };
        let description = match self.registered {
            true => {
                "What was found is drawn solid, what was drawn is dashed. The readings below say how \
                     the axes stand."
            }
            false => "The cell as drawn. The readings below say how the axes stand.",
        };
        self.of(view).svg(title, description, None)
    }

    /// What moves, at readings of the axes.
    pub fn moving(
        &self,
        view: ViewName,
        geometry: &Geometry,
        stand: &Stand,
    ) -> Result<String, Fault> {
        self.of(view).moving(geometry, stand)
    }
}
