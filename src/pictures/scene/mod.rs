//! The cell to scale, from above (plan) and from the front (elevation): what stands still, and what moves
//! with the axes.
//!
//! Plan: x to the right, y up, seen from above. Elevation: x to the right, z up, seen along +y. What was
//! found is drawn solid, what was drawn is dashed.

mod dims;
mod extent;
mod ground;
mod key;
mod legend;
mod mover;
mod names;
mod shapes;

pub use dims::Known;
pub use key::Entry;
pub use legend::of_ground;

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::drawing::Fault;
use crate::drawing::ink::INK;
use crate::drawing::ink::LIMIT;
use crate::drawing::ink::PAPER;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::text::Area;
use crate::readings::stand::Stand;

/// From where the cell is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// From above: x to the right, y up.
    Plan,
    /// Along +y: x to the right, z up.
    Elevation,
}

impl View {
    /// As in file names and in the interface of the page.
    pub fn as_str(self) -> &'static str {
        match self {
            View::Plan => "plan",
            View::Elevation => "elevation",
        }
    }

    /// The two coordinates that it shows, mm.
    pub fn flat(self, at_mm: &Vector3<f64>) -> (f64, f64) {
        match self {
            View::Plan => (at_mm.x, at_mm.y),
            View::Elevation => (at_mm.x, at_mm.z),
        }
    }
}

/// A named place that is shown with the marks.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Its name.
    pub name: String,
    /// What it belongs to.
    pub frame: Belongs,
    /// Where, mm, in its frame.
    pub at_mm: Vector3<f64>,
}

/// What a scene is drawn from.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// The cell.
    pub cell: &'a Cell,
    /// The geometry that is drawn solid.
    pub found: &'a Geometry,
    /// The drawing's geometry, dashed; `None` where it is the same.
    pub drawn: Option<&'a Geometry>,
    /// Points of the cell.
    pub spots: &'a [Spot],
    /// Values that dimension lines are drawn for; none without a registration.
    pub known: &'a Known,
}

/// What is known beforehand of what something else draws on a scene.
#[derive(Clone, Copy)]
pub struct Over<'a> {
    /// What its marks mean, and those of the ground.
    pub key: &'a [Entry],
    /// Rooms of its marks: no name is written there.
    pub rooms: &'a [Area],
}

/// One view of a cell on a sheet.
#[derive(Debug)]
pub struct Scene<'a> {
    subject: Subject<'a>,
    view: View,
    /// The part of the sheet that the cell is drawn in.
    area: Area,
    /// What lies at its left lower corner, mm.
    low_mm: (f64, f64),
    px_per_mm: f64,
    size_px: (f64, f64),
    letters_px: f64,
    platter_mm: f64,
    /// Only what is needed to find one's way: something else is drawn on top.
    faint: bool,
}

/// Letters of all scenes, px.
const LETTERS_PX: f64 = 11.0;
/// Around the drawing where no dimension lines stand, px.
const EDGE_PX: f64 = 14.0;

impl<'a> Scene<'a> {
    /// A view on a sheet so many px wide; all widths from 240 px on have room.
    pub fn new(subject: Subject<'a>, view: View, width_px: f64) -> Scene<'a> {
        Scene::laid(subject, view, width_px, false)
    }

    fn laid(subject: Subject<'a>, view: View, width_px: f64, faint: bool) -> Scene<'a> {
        let (low_mm, high_mm) = extent::of(&subject, view, faint);
        let (columns, rows) = dims::room(&subject, view);
        let left = EDGE_PX + columns;
        let span = (high_mm.0 - low_mm.0, high_mm.1 - low_mm.1);
        let px_per_mm = (width_px - left - EDGE_PX) / span.0;
        let height = span.1 * px_per_mm;
        let area = Area::new(left, EDGE_PX, width_px - left - EDGE_PX, height);
        Scene {
            subject,
            view,
            area,
            low_mm,
            px_per_mm,
            size_px: (width_px, area.bottom + rows + dims::SCALE_PX + EDGE_PX),
            letters_px: LETTERS_PX,
            platter_mm: extent::platter_mm(&subject),
            faint,
        }
    }

    /// The same with little on it and as high as that needs, without the arm; and room below for the scale
    /// of what is drawn on top.
    pub fn faint(subject: Subject<'a>, view: View, width_px: f64) -> Scene<'a> {
        Scene::laid(subject, view, width_px, true)
    }

    /// The same with so much more room above and below what stands still, px.
    pub fn with_room(mut self, above_px: f64, below_px: f64) -> Scene<'a> {
        self.area.bottom += above_px + below_px;
        self.size_px.1 += above_px + below_px;
        self.low_mm.1 -= below_px / self.px_per_mm;
        self
    }

    /// The view.
    pub fn view(&self) -> View {
        self.view
    }

    /// px on the sheet for a millimetre of the cell.
    pub fn px_per_mm(&self) -> f64 {
        self.px_per_mm
    }

    /// Width and height of the sheet, px.
    pub fn size_px(&self) -> (f64, f64) {
        self.size_px
    }

    /// The part of the sheet that the cell is drawn in.
    pub fn area(&self) -> Area {
        self.area
    }

    /// Radius that the platter is drawn with, mm: as far as anything is known to lie on it.
    pub fn platter_mm(&self) -> f64 {
        self.platter_mm
    }

    /// Where a place of the plate's frame lies on the sheet.
    pub fn to_px(&self, at_mm: &Vector3<f64>) -> (f64, f64) {
        let (u, v) = self.view.flat(at_mm);
        self.flat_to_px((u, v))
    }

    /// The same for the two coordinates that the view shows.
    pub fn flat_to_px(&self, (u, v): (f64, f64)) -> (f64, f64) {
        (
            self.area.left + (u - self.low_mm.0) * self.px_per_mm,
            self.area.bottom - (v - self.low_mm.1) * self.px_per_mm,
        )
    }

    /// The two coordinates that the view shows of a place on the sheet, mm.
    pub fn to_mm(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (
            self.low_mm.0 + (x - self.area.left) / self.px_per_mm,
            self.low_mm.1 + (self.area.bottom - y) / self.px_per_mm,
        )
    }

    /// The whole picture: what stands still, and the axes at `stand` (nothing moves in where there is
    /// none: an empty group `moving` waits for [`Scene::moving`]).
    pub fn svg(
        &self,
        title: &str,
        description: &str,
        stand: Option<&Stand>,
    ) -> Result<String, Fault> {
        // Without a stand it is a ground for what moves: who draws that says what it means.
        let key = stand.map_or(Vec::new(), |_| legend::entries(self));
        let over = Over {
            key: &key,
            rooms: &[],
        };
        self.svg_with(title, description, stand, &over, |_, _| Vec::new())
    }

    /// The same, with what `draw` adds on top, and what is known of that. `draw` gets the rooms of all texts so
    /// far and gives what it found no room for: sentences, for below the drawing.
    pub fn svg_with(
        &self,
        title: &str,
        description: &str,
        stand: Option<&Stand>,
        over: &Over<'_>,
        draw: impl Fn(&mut Svg, &mut Vec<Area>) -> Vec<String>,
    ) -> Result<String, Fault> {
        // Which texts find room is known once they are written: the sheet is made longer for the others.
        let (mut trial, mut rooms) = (Svg::part(&self.key()), over.rooms.to_vec());
        dims::draw(&mut trial, self, &mut rooms);
        let mut below = dims::unnamed(self, &names::names(&mut trial, self, stand, &mut rooms));
        for sentence in draw(&mut trial, &mut rooms) {
            below.extend(dims::below(self, &sentence));
        }
        let (width, height) = self.size_px;
        let lines_px = dims::longer(self, &below);
        let height = height + lines_px + key::height_px(over.key, width);
        let mut svg = Svg::named(&self.key(), (width, height), PAPER, INK, title, description);
        svg.hatch(PAPER, Pen::new(LIMIT, 0.7), 5.0);
        let mut taken = over.rooms.to_vec();
        svg.clipped(&self.area, |svg| {
            ground::draw(svg, self);
            svg.group("moving", |svg| {
                if let Some(stand) = stand {
                    mover::draw(svg, self, self.subject.found, stand);
                }
            });
        });
        dims::draw(&mut svg, self, &mut taken);
        names::names(&mut svg, self, stand, &mut taken);
        dims::write_unnamed(&mut svg, self, &below);
        draw(&mut svg, &mut taken);
        svg.group("key", |svg| {
            key::draw(svg, over.key, width, self.size_px.1 + lines_px);
        });
        svg.finish()
    }

    /// What moves, at readings of the axes in some geometry: a piece of SVG that belongs into the group
    /// `moving` of [`Scene::svg`].
    pub fn moving(&self, geometry: &Geometry, stand: &Stand) -> Result<String, Fault> {
        let mut svg = Svg::part(&self.key());
        mover::draw(&mut svg, self, geometry, stand);
        svg.finish_part()
    }

    /// Names of a picture's parts: the same for the whole and for its moving part.
    fn key(&self) -> String {
        let sort = if self.faint { "faint" } else { "full" };
        format!("scene-{sort}-{}-{}", self.view.as_str(), self.size_px.0)
    }
}

#[cfg(test)]
mod tests;
