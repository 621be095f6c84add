//! Which points the tool attains, from where, in which posture, with what margin.
use crate::cell::{Belongs, Cell, Geometry};
use nalgebra::Vector3;
pub struct Wanted { pub frame: Belongs, pub at_mm: Vector3<f64>, pub elevation_rad: Option<f64>, pub azimuth_rad: Option<f64>, pub roll_rad: Option<f64> }
#[derive(Clone)]
pub struct Solution { pub readings: Vec<f64>, pub values_rad: Vec<f64>, pub limit_margin_rad: f64, pub side_lean_rad: f64 }
#[derive(Clone)]
pub struct Station { pub track: Option<f64>, pub table: Option<f64>, pub solutions: Vec<Solution> }
pub struct Solver<'a>(&'a Cell);
impl<'a> Solver<'a> { pub fn new(cell: &'a Cell, _g: &'a Geometry) -> Self { Solver(cell) } }
pub struct Grid;
impl Grid { pub fn default_for(_c: &Cell, _g: &Geometry, _w: &Wanted) -> Result<Grid, String> { Ok(Grid) } }
pub fn recommend(_s: &Solver<'_>, _w: &Wanted, _g: &Grid) -> Result<Option<(Station, Solution)>, String> { Ok(None) }
