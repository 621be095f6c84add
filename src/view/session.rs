//! One function for every request.

use std::collections::BTreeMap;

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::drawing::Fault;
use crate::kinematics::joint_reading;
use crate::readings::stand::Stand;
use crate::report;
use crate::report::Lapsed;
use crate::report::page;
use crate::units::Range;
use crate::view::Ground;
use crate::view::Refused;
use crate::view::Row;
use crate::view::SAVE_FILE;
use crate::view::ask;
use crate::view::ask::ViewName;
use crate::view::ask::Which;
use crate::view::drag::Dragged;
use crate::view::face::Face;
use crate::view::tell::AxisTold;
use crate::view::tell::CellTold;
use crate::view::tell::OnePoint;
use crate::view::tell::PointNamed;
use crate::view::tell::PointsTold;
use crate::view::tell::Residuals;
use crate::view::tell::State;
use crate::view::tell::StationTold;
use crate::view::tell::VerdictTold;
use crate::view::tell::Views;

/// Version of this interface.
const FORMAT: u32 = 1;
/// Longest part of a message about a request that is sent back, characters.
const LONGEST: usize = 300;

/// Everything made ready to answer, for one thread.
pub struct Session<'a> {
    ground: &'a Ground,
    faces: Vec<Face<'a>>,
}

/// A request in its own type. What is not JSON, has other keys or numbers that are none is refused.
pub fn parsed<T: DeserializeOwned>(body: &[u8]) -> Result<T, Refused> {
    if body.trim_ascii_start().first() != Some(&b'{') {
        return Err(Refused::bad(
            "the request is not as expected: it is no JSON object".to_owned(),
        ));
    }
    serde_json::from_slice(body).map_err(|e| {
        let why: String = e.to_string().chars().take(LONGEST).collect();
        Refused::bad(format!("the request is not as expected: {why}"))
    })
}

/// An answer as JSON.
pub fn written(answer: &impl Serialize) -> Result<String, Refused> {
    serde_json::to_string(answer)
        .map_err(|e| Refused::failed(format!("the answer cannot be written: {e}")))
}

impl<'a> Session<'a> {
    /// Makes ready.
    pub fn new(ground: &'a Ground) -> Session<'a> {
        let faces = ground.geometries().into_iter();
        Session {
            ground,
            faces: faces
                .filter_map(|which| Face::new(ground, which).ok())
                .collect(),
        }
    }

    fn face(&self, which: Which) -> Result<&Face<'a>, Refused> {
        let found = self.faces.iter().find(|f| f.which == which);
        found.ok_or_else(|| {
            Refused::missing(
                "this cell has no registration in force: ask with the geometry drawn".to_owned(),
            )
        })
    }

    /// The answer to a request by its name, as JSON; `None` where there is no such request here.
    pub fn answer(&self, name: &str, body: &[u8]) -> Option<Result<String, Refused>> {
        Some(match name {
            "cell" => self.cell().and_then(|told| written(&told)),
            "residuals" => written(self.residuals()),
            "stand" => parsed(body).and_then(|a| written(&self.stand(&a)?)),
            "drag" => parsed(body).and_then(|a| written(&self.drag(&a)?)),
            "place" => parsed(body).and_then(|a| written(&self.place(&a)?)),
            "points" => parsed(body).and_then(|a| written(&self.points(&a)?)),
            "point" => parsed(body).and_then(|a| written(&self.point(&a)?)),
            "map" => parsed(body).and_then(|a| written(&self.map(&a)?)),
            "station" => parsed(body).and_then(|a| written(&self.station(&a)?)),
            _ => return None,
        })
    }

    /// What does not change.
    pub fn cell(&self) -> Result<CellTold, Refused> {
        let cell = &self.ground.bench.cell;
        // Of the better geometry.
        let Some(first) = self.faces.first() else {
            return Err(Refused::failed("there is no geometry".to_owned()));
        };
        let mut drawings = BTreeMap::new();
        let mut start = BTreeMap::new();
        let mut sources = BTreeMap::new();
        let mut verdicts = BTreeMap::new();
        for face in &self.faces {
            let name = face.which.as_str();
            let spoilt = |f: Fault| Refused::failed(format!("a picture cannot be drawn: {f}"));
            let views = Views {
                plan: face.scene.svg(ViewName::Plan).map_err(spoilt)?,
                elevation: face.scene.svg(ViewName::Elevation).map_err(spoilt)?,
            };
            drawings.insert(name, views);
            start.insert(name, self.stood(face, (self.start(face), None))?);
            sources.insert(name, face.force.source.clone());
            let verdict = face.force.verdict.clone();
            let words = match face.which {
                Which::Registered => page::verdict(verdict.as_deref()),
                Which::Drawn => page::as_drawn(self.ground.registered.is_some()),
            };
            let lapsed = face.lapsed;
            let words = match lapsed {
                Some(lapsed) => format!("{}: {}. {words}", lapsed.word(), lapsed.why()),
                None => words.to_owned(),
            };
            let told = VerdictTold {
                verdict,
                words,
                lapsed: lapsed.map(Lapsed::word),
            };
            verdicts.insert(name, told);
        }
        Ok(CellTold {
            format: FORMAT,
            version: env!("CARGO_PKG_VERSION"),
            name: cell.name.clone(),
            geometries: self.faces.iter().map(|f| f.which.as_str()).collect(),
            sources,
            verdicts,
            axes: axes(first),
            drawings,
            start,
            points: first
                .targets
                .iter()
                .map(|t| PointNamed {
                    name: t.name.to_owned(),
                    frame: t.frame.as_str(),
                    taught: t.taught.is_some() || self.is_taught(t.name),
                })
                .collect(),
            tasks: self.ground.tasks.iter().map(|t| t.name.clone()).collect(),
            save_file: SAVE_FILE,
            caution: report::CAUTION,
        })
    }

    fn is_taught(&self, name: &str) -> bool {
        self.ground.bench.taught.iter().any(|t| t.name == name)
    }

    /// Where the page begins: as the first taught point was taught, else in the middle of all limits.
    fn start(&self, face: &Face<'_>) -> Stand {
        if let Some(taught) = self.ground.bench.taught.first() {
            return taught.stand;
        }
        let mut stand = Stand::default();
        if let Some((low, high)) = face.track_limits() {
            stand.track = 0.5 * (low + high);
        }
        if let Some((low, high)) = face.table_limits() {
            stand.table = 0.0_f64.max(low).min(high);
        }
        let joints = face.force.geometry.joints.iter().zip(&face.cell.joints);
        for (reading, (joint, info)) in stand.joints.iter_mut().zip(joints) {
            let Range { low, high } = info.limits_rad;
            *reading = joint_reading(joint, 0.5 * (low + high)).0;
        }
        stand
    }

    /// A state, if all of it is made of numbers.
    fn stood(&self, face: &Face<'_>, (stand, held): Dragged) -> Result<State, Refused> {
        let read = [stand.track, stand.table];
        let mut read = read.iter().chain(&stand.joints);
        if !read.all(|r| r.is_finite()) {
            return Err(Refused::failed(
                "a reading comes out as no number: a scale of the cell may be 0".to_owned(),
            ));
        }
        Ok(face.state(&stand, held))
    }

    /// Where everything is.
    pub fn stand(&self, asked: &ask::StandAsk) -> Result<State, Refused> {
        let face = self.face(asked.geometry)?;
        let stand = asked.stand.stand(face.cell)?;
        self.stood(face, (stand, None))
    }

    /// A handle dragged.
    pub fn drag(&self, asked: &ask::DragAsk) -> Result<State, Refused> {
        let face = self.face(asked.geometry)?;
        let stand = asked.stand.stand(face.cell)?;
        let dragged = face.drag(&stand, &asked.handle, asked.view, asked.goal()?)?;
        self.stood(face, dragged)
    }

    /// The tip brought to a place.
    pub fn place(&self, asked: &ask::PlaceAsk) -> Result<State, Refused> {
        let face = self.face(asked.geometry)?;
        let stand = asked.stand.stand(face.cell)?;
        let (at_mm, elevation) = asked.place()?;
        let there = face.tip_to(&stand, asked.frame.belongs(), at_mm, elevation);
        self.stood(face, there)
    }

    /// All points, as far as they are known.
    pub fn points(&self, asked: &ask::PointsAsk) -> Result<PointsTold, Refused> {
        Ok(self.face(asked.geometry)?.points(self.ground))
    }

    /// One point.
    pub fn point(&self, asked: &ask::PointAsk) -> Result<OnePoint, Refused> {
        let face = self.face(asked.geometry)?;
        let stand = asked.stand.stand(face.cell)?;
        face.point(self.ground, ask::name(&asked.name)?, &stand)
    }

    /// The best posture at a place of a point's map.
    pub fn map(&self, asked: &ask::MapAsk) -> Result<State, Refused> {
        let face = self.face(asked.geometry)?;
        let stand = asked.stand.stand(face.cell)?;
        let name = ask::name(&asked.name)?;
        let there = face.map(self.ground, name, &stand, asked.place()?)?;
        self.stood(face, there)
    }

    /// What a place of a point's map is worth.
    pub fn station(&self, asked: &ask::MapAsk) -> Result<StationTold, Refused> {
        let face = self.face(asked.geometry)?;
        let stand = asked.stand.stand(face.cell)?;
        let name = ask::name(&asked.name)?;
        face.station(self.ground, name, &stand, asked.place()?)
    }

    /// The drawings of the report.
    pub fn residuals(&self) -> &Residuals {
        &self.ground.residuals
    }

    /// The row that would be kept of a position.
    pub fn row(&self, asked: &ask::SaveAsk) -> Result<Row, Refused> {
        self.face(asked.geometry)?.row(asked)
    }
}

/// About one millimetre or degree, in readings: a power of ten.
fn step(scale: f64) -> f64 {
    let step = 10.0_f64.powf((1.0 / scale.abs()).log10().round());
    match step.is_finite() && step > 0.0 {
        true => step,
        false => 1.0,
    }
}

fn axes(face: &Face<'_>) -> Vec<AxisTold> {
    let geometry = &face.force.geometry;
    let mut axes = Vec::new();
    let mut add = |id: String, kind, name: &str, endless: bool, scale: f64| {
        let step = step(scale);
        axes.push(AxisTold {
            id,
            kind,
            name: name.to_owned(),
            unit: "",
            endless,
            step,
            coarse: 10.0 * step,
        });
    };
    if let Some(track) = &geometry.track {
        add("track".to_owned(), "track", "track", false, track.scale_mm);
    }
    if let Some(table) = &geometry.turntable {
        let scale = table.scale_rad.to_degrees();
        let endless = face.table_limits().is_none();
        add("table".to_owned(), "table", "turntable", endless, scale);
    }
    for (k, (joint, info)) in geometry.joints.iter().zip(&face.cell.joints).enumerate() {
        let scale = joint.scale_rad.to_degrees();
        add(format!("j{}", k + 1), "joint", &info.name, false, scale);
    }
    axes
}
