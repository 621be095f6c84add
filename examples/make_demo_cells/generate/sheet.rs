//! A file of readings in the making. Readings come out of the bench through the laws of the
//! library: a row is written with one number open, and the number is found at which the residual at
//! the true values equals the noise.

use nalgebra::Vector3;
use notchpin::diagnose::Problems;
use notchpin::parameters::Unknowns;
use notchpin::readings;
use notchpin::readings::Taken;

use super::lab::Aim;
use super::lab::Lab;
use super::lab::Slip;

/// A number on a scale with marks every `step`, with as many decimals as `step` is written with.
pub fn rounded(x: f64, step: &str) -> String {
    let size: f64 = step.parse().expect("a number");
    let decimals = step.split_once('.').map_or(0, |(_, d)| d.len());
    // Adding 0 turns a negative zero into zero.
    let on_scale = (x / size).round() * size + 0.0;
    let text = format!("{on_scale:.decimals$}");
    match text
        .trim_start_matches('-')
        .chars()
        .any(|c| c != '0' && c != '.')
    {
        true => text,
        false => text.trim_start_matches('-').to_owned(),
    }
}

/// Text as comment lines.
pub fn commented(text: &str) -> String {
    text.lines().map(|l| format!("# {}\n", l.trim())).collect()
}

/// Columns of a row with what stands there; the rest stays empty.
pub type Fields<'f> = [(&'f str, &'f str)];

/// A file of readings in the making.
pub struct Sheet<'a> {
    lab: &'a mut Lab,
    file: &'static str,
    columns: Vec<String>,
    text: String,
}

impl<'a> Sheet<'a> {
    /// An empty file: comment and header.
    pub fn new(lab: &'a mut Lab, file: &'static str, columns: &str, comment: &str) -> Self {
        let mut text = commented(comment);
        text.push_str(columns);
        text.push('\n');
        Sheet {
            lab,
            file,
            columns: columns.split(',').map(str::to_owned).collect(),
            text,
        }
    }

    fn line(&self, fields: &Fields<'_>) -> String {
        for (column, _) in fields {
            let known = self.columns.iter().any(|c| c == column);
            assert!(known, "{} has no column {column}", self.file);
        }
        let of = |c: &String| {
            fields
                .iter()
                .rev()
                .find(|(k, _)| k == c)
                .map_or("", |f| f.1)
        };
        let cells: Vec<&str> = self.columns.iter().map(of).collect();
        cells.join(",")
    }

    /// The row as the library understands it.
    fn take(&self, line: &str) -> Taken {
        let text = format!("{}\n{line}\n", self.columns.join(","));
        let setting = readings::Setting {
            cell: &self.lab.cell,
            solved: self
                .lab
                .cell
                .solve
                .iter()
                .map(|u| u.name.as_str())
                .collect(),
        };
        let mut problems = Problems::default();
        let taken = readings::read(
            self.file,
            self.file,
            text.as_bytes(),
            &setting,
            &mut problems,
        );
        let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
        match (taken.taken.into_iter().next(), problems.has_errors()) {
            (Some(taken), false) => taken,
            _ => panic!("{}: {line}\n{}", self.lab.name, told.join("\n")),
        }
    }

    fn residual(&self, fields: &Fields<'_>, x: f64) -> f64 {
        let line = self.line(fields).replace('?', &format!("{x:.12}"));
        let taken = self.take(&line);
        let none = Unknowns::default();
        let r = taken.reading.evaluate(&self.lab.true_geometry, &none, None);
        r.value[0]
    }

    /// The number for `?` at which the residual is `wanted`, by the secant rule from near it.
    fn open(&self, fields: &Fields<'_>, start: f64, wanted: f64) -> f64 {
        let (mut a, mut b) = (start, start + 0.5);
        let mut fa = self.residual(fields, a) - wanted;
        for _ in 0..40 {
            let fb = self.residual(fields, b) - wanted;
            if fb.abs() < 1e-10 || fb == fa {
                break;
            }
            let next = b - fb * (b - a) / (fb - fa);
            (a, fa, b) = (b, fb, next);
        }
        let left = self.residual(fields, b) - wanted;
        assert!(
            left.abs() < 1e-7,
            "{}: {:?} has no answer",
            self.lab.name,
            fields
        );
        b
    }

    fn error(&mut self, fields: &Fields<'_>, start: f64) -> f64 {
        let line = self.line(fields).replace('?', &format!("{start:.12}"));
        self.take(&line).u * self.lab.noise.normal()
    }

    /// Adds a row in which `?` stands for what was read, on a scale with marks every `step`.
    pub fn row(&mut self, fields: &Fields<'_>, start: f64, step: &str) {
        let error = self.error(fields, start);
        let x = self.open(fields, start, error);
        let line = self.line(fields).replace('?', &rounded(x, step));
        self.text.push_str(&line);
        self.text.push('\n');
    }

    /// Adds a hole count: whole pitches first, what is left by the rule, to marks every `step`.
    pub fn count(&mut self, fields: &Fields<'_>, step: &str) {
        let inches = self.columns.iter().any(|c| c == "gap_in");
        let (gap, unit_mm) = if inches {
            ("gap_in", 25.4)
        } else {
            ("gap_mm", 1.0)
        };
        let along = fields.iter().find(|f| f.0 == "along").expect("along").1;
        let plate = &self.lab.cell.plate;
        let pitch_mm = match along {
            "column" => plate.pitch_x_mm,
            _ => plate.pitch_y_mm,
        };
        let mut row = fields.to_vec();
        row.extend([("count", "0"), (gap, "?")]);
        let error = self.error(&row, 0.0);
        let way = self.open(&row, 0.0, error);
        let count = (way * unit_mm / pitch_mm).floor();
        let left = rounded(way - count * pitch_mm / unit_mm, step);
        let count = count.to_string();
        row.extend([("count", count.as_str()), (gap, left.as_str())]);
        let line = self.line(&row);
        self.text.push_str(&line);
        self.text.push('\n');
    }

    /// Adds a touch: the arm is driven until the tip stands at the target as well as hand and eye
    /// see it. `away` is where the tip truly stands from it along axes that do not count, mm.
    pub fn touch(&mut self, fields: &Fields<'_>, aim: Aim, away: [f64; 3]) {
        let names: Vec<String> = (1..=self.lab.cell.joints.len())
            .map(|j| format!("j{j}"))
            .collect();
        let mut row = fields.to_vec();
        row.extend(names.iter().map(|n| (n.as_str(), "0")));
        let taken = self.take(&self.line(&row));
        let readings::Reading::Touch(touch) = &taken.reading else {
            panic!("touches belong in touch.csv");
        };
        let g = &self.lab.true_geometry;
        let own = touch.target.place_mm(g);
        let place = self.lab.to_plate(touch.frame, own, &touch.stand) + touch.offset_mm;
        let noise = &mut self.lab.noise;
        let error = Vector3::from_fn(|_, _| taken.u * noise.normal());
        let at = place + error + Vector3::from(away);
        let what = format!("{fields:?}");
        let mut joints = self.lab.drive(at, aim, &touch.stand, &what);
        if let Some((left, right)) = touch.play_mm {
            // Twice: the heading changes a little with the shift to the middle of the play.
            for _ in 0..2 {
                let mut stand = touch.stand;
                stand.joints[..joints.len()].copy_from_slice(&joints);
                let arm = stand.arm(&self.lab.true_geometry, joints.len());
                let h = arm.heading().expect("an upright first joint");
                let to_left = Vector3::new(-h.y, h.x, 0.0) * ((left - right) / 2.0);
                joints = self.lab.drive(at + to_left, aim, &touch.stand, &what);
            }
        }
        let shown: Vec<String> = joints.iter().map(|x| rounded(*x, "0.01")).collect();
        row.extend(
            names
                .iter()
                .zip(&shown)
                .map(|(n, x)| (n.as_str(), x.as_str())),
        );
        let line = self.line(&row);
        self.text.push_str(&line);
        self.text.push('\n');
    }

    /// Writes something wrong in the last row on purpose.
    pub fn slip(&mut self, column: &str, written: impl Fn(&str) -> String) {
        let slot = self
            .columns
            .iter()
            .position(|c| c == column)
            .expect("a column");
        let line = self.text.lines().count();
        let last = self.text.lines().last().expect("a row").to_owned();
        let mut cells: Vec<String> = last.split(',').map(str::to_owned).collect();
        let right = cells[slot].clone();
        cells[slot] = written(&right);
        self.lab.demo.slips.push(Slip {
            file: format!("readings/{}", self.file),
            line,
            column: column.to_owned(),
            right,
            written: cells[slot].clone(),
        });
        self.text.truncate(self.text.len() - last.len() - 1);
        self.text.push_str(&cells.join(","));
        self.text.push('\n');
    }

    /// Files the sheet.
    pub fn done(self) {
        let path = format!("{}/{}", self.lab.folder, self.file);
        self.lab.plain(&path, &self.text);
    }
}
