//! Invented cells with readings made from drawn true values: other geometry and other noise each.

use crate::layout::toml;
use crate::made::Draw;
use crate::made::Made;
use crate::made::Rows;
use crate::made::strings;
use nalgebra::Vector3;
use notchpin::cell::Belongs;
use notchpin::cell::Cell;
use notchpin::cell::Geometry;
use notchpin::diagnose::Problems;
use notchpin::parameters::Parameter;
use notchpin::parameters::Unknowns;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::readings;
use notchpin::readings::stand::Stand;

const U: [f64; 5] = [0.3, 0.1, 0.4, 0.1, 0.4];

/// Whether lengths of a cell's readings stand in inches.
pub struct Style {
    pub inches: bool,
    pub six: bool,
    pub table: f64,
    pub track: f64,
}

/// The cell with this number; `None` where its targets are out of its reach.
pub fn cell(number: u64) -> Option<Made> {
    let mut draw = Draw(fastrand::Rng::with_seed(0xCE11 + number * 7919));
    let style = Style {
        inches: number % 5 == 3,
        six: number % 6 == 5,
        table: *draw.one_of(&[1.0, -1.0, 1.0, 0.5]),
        track: *draw.one_of(&[1.0, -1.0, 1.0, 2.0]),
    };
    let toml = toml(number, &mut draw, &style);
    let mut problems = Problems::default();
    let cell = notchpin::cell::parse("cell.toml", &toml, &mut problems)
        .unwrap_or_else(|| panic!("{:?}\n{toml}", problems.iter().next()));
    let mut truth = cell.nominal.clone();
    for unknown in &cell.solve {
        let p = Parameter::named(&cell, &unknown.name).unwrap();
        let one = p.unit().in_code();
        let off = match (unknown.tolerance, unknown.name.as_str()) {
            (Some(t), _) => t * draw.normal().clamp(-2.5, 2.5),
            (None, "track.lost_motion") => draw.between(0.6, 3.5),
            (None, "turntable.lost_motion") => draw.between(0.4, 1.0),
            (None, "turntable.index") => draw.between(-8.0, 8.0),
            (None, "track.yaw") => draw.between(-0.8, 0.8),
            // Now and then a device stands in the next hole.
            (None, "track.x" | "track.y") if number % 8 == 7 => {
                cell.plate.pitch_x_mm + draw.between(-2.0, 2.0)
            }
            (None, _) => draw.between(-6.0, 6.0),
        };
        p.set(&mut truth, p.get(&cell.nominal) + off * one);
    }
    let mut bench = Maker {
        cell: &cell,
        truth: &truth,
        draw,
        style,
        nearest: number % 2 == 1,
    };
    let tables = vec![
        bench.holes(),
        bench.notches(),
        bench.touches()?,
        bench.attitudes(),
        bench.heights(),
    ];
    Some(Made { toml, tables })
}

struct Maker<'a> {
    cell: &'a Cell,
    truth: &'a Geometry,
    draw: Draw,
    style: Style,
    nearest: bool,
}

impl Maker<'_> {
    /// Residuals of a row at the true values, as the library understands it.
    fn residual(&self, file: &'static str, header: &[String], row: &[String]) -> [f64; 3] {
        let text = format!("{}\n{}\n", header.join(","), row.join(","));
        let setting = readings::Setting {
            cell: self.cell,
            solved: Vec::new(),
        };
        let mut problems = Problems::default();
        let rows = readings::read(file, file, text.as_bytes(), &setting, &mut problems);
        let taken = rows.taken.first().unwrap_or_else(|| {
            panic!(
                "{}\n{text}\n{}",
                problems.iter().next().unwrap(),
                self.cell.name
            )
        });
        let none = Unknowns::default();
        taken.reading.evaluate(self.truth, &none, None).value
    }

    fn tracks(&self) -> Vec<String> {
        [40.0, 240.0, 450.0, 660.0, 860.0]
            .iter()
            .map(|v| format!("{:.0}", v / self.style.track))
            .collect()
    }

    fn holes(&mut self) -> Rows {
        let gap = if self.style.inches {
            "gap_in"
        } else {
            "gap_mm"
        };
        let header = strings(&[
            "feature", "along", "from", "count", gap, "track", "approach",
        ]);
        let grid = self.cell.plate;
        let mut rows = Vec::new();
        let tracks = self.tracks();
        for (k, track) in tracks.iter().enumerate() {
            for along in ["column", "row"] {
                let feature = *self.draw.one_of(&["left_foot", "right_foot", "front"]);
                let from = *self.draw.one_of(&["", "", "pin_a", "pin_b"]);
                for approach in ["up", "down"] {
                    if k % 2 == 1 && along == "row" && approach == "down" {
                        continue;
                    }
                    let mut row = strings(&[feature, along, from, "0", "0", track, approach]);
                    let way =
                        self.residual("holes.csv", &header, &row)[0] + U[0] * self.draw.normal();
                    let pitch = if along == "column" {
                        grid.pitch_x_mm
                    } else {
                        grid.pitch_y_mm
                    };
                    // Some people count to the nearest hole: then the gap may be negative.
                    let count = match self.nearest {
                        true => (way / pitch).round(),
                        false => (way / pitch).floor(),
                    };
                    let left = way - count * pitch;
                    row[3] = format!("{count:.0}");
                    row[4] = match self.style.inches {
                        true => format!("{:.3}", left / 25.4),
                        false => format!("{left:.1}"),
                    };
                    rows.push(row);
                }
            }
        }
        Rows {
            file: "holes.csv",
            header,
            rows,
        }
    }

    fn notches(&mut self) -> Rows {
        let header = strings(&["notch", "table", "approach"]);
        let table = self.truth.turntable.as_ref().unwrap();
        let scale = table.scale_rad;
        let count = self.cell.turntable.as_ref().unwrap().notches_rad.len();
        let mut rows = Vec::new();
        for notch in 0..count {
            for approach in ["ccw", "cw"] {
                let mut reading = 0.0;
                let mut row = strings(&[&notch.to_string(), "0", approach]);
                for _ in 0..2 {
                    row[1] = format!("{reading:.6}");
                    reading -= self.residual("notch.csv", &header, &row)[0] / scale;
                }
                reading += (U[1] * self.draw.normal()).to_radians() / scale;
                row[1] = format!("{reading:.2}");
                rows.push(row);
            }
        }
        Rows {
            file: "notch.csv",
            header,
            rows,
        }
    }

    fn touches(&mut self) -> Option<Rows> {
        let n = self.cell.joints.len();
        let unit = if self.style.inches { "in" } else { "mm" };
        let one = if self.style.inches { 25.4 } else { 1.0 };
        let mut header = strings(&["target", "track", "table"]);
        header.extend((1..=n).map(|j| format!("j{j}")));
        header.extend(["dx", "dy", "dz"].map(|d| format!("{d}_{unit}")));
        let grid = self.cell.plate;
        let solver = Solver::new(self.cell, self.truth);
        let mut rows = Vec::new();
        let mut targets: Vec<(String, Belongs)> = Vec::new();
        for name in ["pin_a", "pin_b", "pin_c", "post", "pin_a", "pin_b"] {
            targets.push((name.to_owned(), Belongs::Plate));
        }
        let mark = |name: &str| self.cell.marks.iter().position(|m| m.name == name).unwrap();
        for name in ["pin_a", "pin_b", "pin_c"] {
            // A hole three pitches or so beside a pin.
            let at = self.cell.nominal.marks_mm[mark(name)];
            let c = (at.x / grid.pitch_x_mm).round() + f64::from(self.draw.0.i32(-2..=2));
            let r = (at.y / grid.pitch_y_mm).round() + f64::from(self.draw.0.i32(-2..=2));
            targets.push((format!("{c}:{r}"), Belongs::Plate));
        }
        for name in ["spigot", "spigot", "dot", "spigot", "dot", "dot"] {
            targets.push((name.to_owned(), Belongs::Platter));
        }
        for (target, frame) in targets {
            let offset: Vector3<f64> = match self.draw.0.u8(..3) {
                0 => Vector3::zeros(),
                _ => Vector3::from_fn(|i, _| {
                    let most = [14.0, 14.0, 30.0][i];
                    let low = if i == 2 { 5.0 } else { -most };
                    self.draw.between(low, most)
                }),
            };
            let written: Vec<String> = offset
                .iter()
                .map(|v| match self.style.inches {
                    true => format!("{:.3}", v / one),
                    false => format!("{v:.1}"),
                })
                .collect();
            let offset = Vector3::from_fn(|i, _| written[i].parse::<f64>().unwrap() * one);
            let mut done = None;
            for _ in 0..60 {
                let track = (self.draw.between(20.0, 880.0) / self.style.track).round();
                let table = match frame {
                    Belongs::Platter => {
                        (self.draw.between(-170.0, 170.0) / self.style.table).round()
                    }
                    Belongs::Plate => 0.0,
                };
                let stand = Stand {
                    track,
                    table,
                    ..Stand::default()
                };
                let place = match target.split_once(':') {
                    Some((c, r)) => Vector3::new(
                        c.parse::<f64>().unwrap() * grid.pitch_x_mm,
                        r.parse::<f64>().unwrap() * grid.pitch_y_mm,
                        0.0,
                    ),
                    None => self.truth.marks_mm[mark(&target)],
                };
                let place = match (frame, stand.turntable(self.truth)) {
                    (Belongs::Platter, Some(t)) => t.platter_axes * place + t.centre_mm,
                    _ => place,
                };
                let error = Vector3::from_fn(|_, _| U[2] * self.draw.normal());
                let wanted = Wanted {
                    frame: Belongs::Plate,
                    at_mm: place + offset + error,
                    elevation_rad: Some(self.draw.between(-90.0, -65.0).to_radians()),
                    azimuth_rad: None,
                    roll_rad: None,
                };
                let mut found = Vec::new();
                let travel = track * self.style.track;
                solver.solve(&wanted, travel, 0.0, &mut found);
                if let Some(best) = found.into_iter().find(|s| s.limit_margin_rad > 0.06) {
                    done = Some((track, table, best.readings));
                    break;
                }
            }
            let (track, table, joints) = done?;
            let on_platter = match frame {
                Belongs::Platter => format!("{table}"),
                Belongs::Plate => String::new(),
            };
            let mut row = vec![target, format!("{track}"), on_platter];
            row.extend(joints.iter().map(|j| format!("{j:.2}")));
            row.extend(written);
            rows.push(row);
        }
        Some(Rows {
            file: "touch.csv",
            header,
            rows,
        })
    }

    fn attitudes(&mut self) -> Rows {
        let n = self.cell.joints.len();
        let mut header = strings(&["kind", "body", "axis", "toward", "by", "angle_deg", "track"]);
        header.extend((1..=n).map(|j| format!("j{j}")));
        let mut rows = Vec::new();
        for (kind, body, axis, toward) in [
            ("level", "j2", "x", ""),
            ("level", "j2", "x", ""),
            ("level", "j3", "x", ""),
            ("level", "j3", "x", ""),
            ("plumb", "tool", "-z", "ahead"),
            ("plumb", "tool", "-z", "ahead"),
            ("plumb", "tool", "-z", "left"),
        ] {
            let (low, high) = (-60.0, 60.0);
            let j1 = self.draw.between(low, high).round();
            let j2 = match body {
                "j2" => self.draw.between(-25.0, 25.0),
                _ => self.draw.between(-60.0, -20.0),
            }
            .round();
            let j3 = match body {
                "j3" => -j2 + self.draw.between(-15.0, 15.0).round(),
                _ => self.draw.between(60.0, 100.0).round(),
            };
            let down = 90.0 - j2 - j3 + self.draw.between(-12.0, 12.0).round();
            let mut joints = vec![j1, j2, j3];
            if self.style.six {
                joints.push(0.0);
            }
            joints.extend([down, self.draw.between(-30.0, 30.0).round()]);
            let track = self.tracks()[self.draw.0.usize(..5)].clone();
            let mut row = strings(&[kind, body, axis, toward, "square", "0", &track]);
            row.extend(joints.iter().map(|j| format!("{j}")));
            let angle = self.residual("attitude.csv", &header, &row)[0].to_degrees();
            row[5] = format!("{:.2}", angle + U[3] * self.draw.normal());
            rows.push(row);
        }
        Rows {
            file: "attitude.csv",
            header,
            rows,
        }
    }

    fn heights(&mut self) -> Rows {
        let n = self.cell.joints.len();
        let unit = if self.style.inches {
            "height_in"
        } else {
            "height_mm"
        };
        let one = if self.style.inches { 25.4 } else { 1.0 };
        let mut header = strings(&["of", "over", unit, "track"]);
        header.extend((1..=n).map(|j| format!("j{j}")));
        let mut rows = Vec::new();
        for (of, over) in [
            ("j2", ""),
            ("j3", ""),
            ("j3", "j2"),
            ("tip", ""),
            ("tip", ""),
            ("j3", ""),
        ] {
            let mut joints = vec![
                self.draw.between(-60.0, 60.0).round(),
                self.draw.between(-60.0, -15.0).round(),
                self.draw.between(50.0, 90.0).round(),
            ];
            joints.resize(n, 0.0);
            joints[n - 2] = self.draw.between(10.0, 50.0).round();
            let track = self.tracks()[self.draw.0.usize(..5)].clone();
            let mut row = strings(&[of, over, "0", &track]);
            row.extend(joints.iter().map(|j| format!("{j}")));
            let height = self.residual("height.csv", &header, &row)[0] + U[4] * self.draw.normal();
            row[2] = match self.style.inches {
                true => format!("{:.3}", height / one),
                false => format!("{height:.1}"),
            };
            rows.push(row);
        }
        Rows {
            file: "height.csv",
            header,
            rows,
        }
    }
}
