//! An invented bench whose true values are known.

use std::path::Path;

use nalgebra::Vector3;
use notchpin::cell;
use notchpin::cell::Belongs;
use notchpin::cell::Cell;
use notchpin::cell::Geometry;
use notchpin::diagnose::Problems;
use notchpin::parameters::Parameter;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::readings::stand::Stand;

use super::random::Noise;
use super::sheet::Sheet;
use super::sheet::commented;
use super::sheet::rounded;

/// A value that was written down wrong on purpose.
#[derive(Debug, Clone)]
pub struct Slip {
    /// File in the cell folder.
    pub file: String,
    /// Its physical line.
    pub line: usize,
    /// Column of the wrong value.
    pub column: String,
    /// What should have been written.
    pub right: String,
    /// What was written.
    pub written: String,
}

/// A demo cell as generated.
#[derive(Debug, Clone)]
pub struct Demo {
    /// Name of its folder.
    pub name: &'static str,
    /// Paths in the folder, and what stands there.
    pub files: Vec<(String, String)>,
    /// True values in the units of the files, by parameter.
    pub truth: Vec<(String, f64)>,
    /// Slips planted in the readings.
    pub slips: Vec<Slip>,
}

/// The bench.
pub struct Lab {
    pub(super) name: &'static str,
    seed: u64,
    /// The cell as its file describes it.
    pub cell: Cell,
    pub(super) true_geometry: Geometry,
    pub(super) noise: Noise,
    pub(super) demo: Demo,
    pub(super) folder: &'static str,
}

/// How the tool is to point when the tip is driven somewhere; all in degrees.
#[derive(Debug, Clone, Copy)]
pub struct Aim {
    /// Straight down is -90.
    pub elevation: f64,
    /// Where the arm has six joints.
    pub azimuth: Option<f64>,
    /// Free if not given.
    pub roll: Option<f64>,
}

/// A point to teach: name, frame, place in that frame in mm, aim, and readings of track and table.
pub type Teach<'t> = (&'t str, Belongs, [f64; 3], Aim, f64, f64);

/// The tool down or leaning, all else free.
pub fn lean(elevation: f64) -> Aim {
    Aim {
        elevation,
        azimuth: None,
        roll: None,
    }
}

impl Lab {
    /// Sets up the bench of `demo-cells/name`; `truth` gives the true value of each unknown.
    pub fn new(root: &Path, name: &'static str, seed: u64, truth: &[(&str, f64)]) -> Self {
        let path = root.join("demo-cells").join(name).join("cell.toml");
        let text = std::fs::read_to_string(&path)
            .unwrap_or_else(|e| panic!("{} cannot be read: {e}", path.display()));
        let mut problems = Problems::default();
        let cell = cell::parse("cell.toml", &text, &mut problems);
        let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
        let Some(cell) = cell.filter(|_| told.is_empty()) else {
            panic!("{name}: {}", told.join("\n"));
        };
        let mut true_geometry = cell.nominal.clone();
        for (parameter, value) in truth {
            let Some(p) = Parameter::named(&cell, parameter) else {
                panic!("{name} has no {parameter}");
            };
            p.set(&mut true_geometry, value * p.unit().in_code());
        }
        for unknown in &cell.solve {
            let known = truth.iter().any(|(p, _)| *p == unknown.name);
            assert!(known, "{name}: {} has no true value", unknown.name);
        }
        Lab {
            name,
            seed,
            cell,
            true_geometry,
            noise: Noise::new(seed),
            demo: Demo {
                name,
                files: Vec::new(),
                truth: truth.iter().map(|(p, v)| ((*p).to_owned(), *v)).collect(),
                slips: Vec::new(),
            },
            folder: "readings",
        }
    }

    /// Readings go into this folder from now on.
    pub fn goes_to(&mut self, folder: &'static str) {
        self.folder = folder;
    }

    /// Something truly changes, in the unit of the files.
    pub fn shift(&mut self, parameter: &str, by: f64) {
        let Some(p) = Parameter::named(&self.cell, parameter) else {
            panic!("{} has no {parameter}", self.name);
        };
        let value = p.get(&self.true_geometry) + by * p.unit().in_code();
        p.set(&mut self.true_geometry, value);
    }

    /// A file written as it is.
    pub fn plain(&mut self, path: &str, text: &str) {
        self.demo.files.push((path.to_owned(), text.to_owned()));
    }

    /// Starts a file of readings.
    pub fn sheet(&mut self, file: &'static str, columns: &str, comment: &str) -> Sheet<'_> {
        Sheet::new(self, file, columns, comment)
    }

    /// The cell, with its true values beside it.
    pub fn finish(mut self) -> Demo {
        let number = |v: f64| serde_json::Value::from(v);
        let truth: serde_json::Map<String, serde_json::Value> = self
            .demo
            .truth
            .iter()
            .map(|(p, v)| (p.clone(), number(*v)))
            .collect();
        let slips: Vec<_> = self
            .demo
            .slips
            .iter()
            .map(|s| {
                serde_json::json!({"file": s.file, "line": s.line, "column": s.column,
                    "right": s.right, "written": s.written})
            })
            .collect();
        let i = &self.cell.instruments;
        let deg = |rad: f64| (rad.to_degrees() * 1e9).round() / 1e9;
        let document = serde_json::json!({
            "about": "Invented. The values from which the readings of this cell were made, in mm and degrees.",
            "cell": self.name,
            "seed": self.seed,
            "noise": {"holes_mm": i.holes_mm, "notch_deg": deg(i.notch_rad), "touch_mm": i.touch_mm,
                "attitude_deg": deg(i.attitude_rad), "height_mm": i.height_mm,
                "law": "normal, one standard deviation; then rounded as written in the files"},
            "true_values": truth,
            "slips": slips,
        });
        let text = serde_json::to_string_pretty(&document).expect("plain values");
        self.plain("truth.json", &(text + "\n"));
        self.demo
    }

    /// Joint readings with the tip at a place of the plate, mm, at the true values.
    pub(super) fn drive(
        &self,
        at_mm: Vector3<f64>,
        aim: Aim,
        stand: &Stand,
        what: &str,
    ) -> Vec<f64> {
        let solver = Solver::new(&self.cell, &self.true_geometry);
        let wanted = Wanted {
            frame: Belongs::Plate,
            at_mm,
            elevation_rad: Some(aim.elevation.to_radians()),
            azimuth_rad: aim.azimuth.map(f64::to_radians),
            roll_rad: aim.roll.map(f64::to_radians),
        };
        if let Some(refusal) = solver.refusal(&wanted) {
            panic!("{}: {what}: {refusal}", self.name);
        }
        let g = &self.true_geometry;
        let mut found = Vec::new();
        solver.solve(&wanted, stand.travel_mm(g), stand.turn_rad(g), &mut found);
        let Some(best) = found.first() else {
            panic!("{}: {what}: {at_mm:?} is out of reach", self.name);
        };
        let margin = best.limit_margin_rad.to_degrees();
        assert!(
            margin > 3.0,
            "{}: {what}: near a limit: {margin}",
            self.name
        );
        best.readings.clone()
    }

    /// A place in its own frame, carried to the plate.
    pub(super) fn to_plate(
        &self,
        frame: Belongs,
        at_mm: Vector3<f64>,
        stand: &Stand,
    ) -> Vector3<f64> {
        match (frame, stand.turntable(&self.true_geometry)) {
            (Belongs::Platter, Some(t)) => t.platter_axes * at_mm + t.centre_mm,
            _ => at_mm,
        }
    }

    /// A file of taught points, read off the controller at the true values.
    pub fn taught(&mut self, comment: &str, points: &[Teach<'_>]) {
        let n = self.cell.joints.len();
        let mut text = commented(comment);
        let track = self.cell.nominal.track.is_some();
        text.push_str(if track {
            "name,frame,track,table"
        } else {
            "name,frame,table"
        });
        (1..=n).for_each(|j| text.push_str(&format!(",j{j}")));
        text.push('\n');
        for (name, frame, at, aim, s, phi) in points {
            let stand = Stand {
                track: *s,
                table: *phi,
                ..Stand::default()
            };
            let at = self.to_plate(*frame, Vector3::from(*at), &stand);
            let joints = self.drive(at, *aim, &stand, name);
            let table = match frame {
                Belongs::Platter => phi.to_string(),
                Belongs::Plate => String::new(),
            };
            text.push_str(&format!("{name},{},", frame.as_str()));
            if track {
                text.push_str(&format!("{s},"));
            }
            text.push_str(&table);
            for joint in joints {
                text.push_str(&format!(",{}", rounded(joint, "0.01")));
            }
            text.push('\n');
        }
        self.plain("taught.csv", &text);
    }
}
