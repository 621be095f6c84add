//! Values on paper: cells in bands, the hatch, lines of equal value.

use crate::drawing::contour;
use crate::drawing::ink::INK;
use crate::drawing::ink::PAPER;
use crate::drawing::label;
use crate::drawing::map::AxisOf;
use crate::drawing::map::MapPicture;
use crate::drawing::map::sheet::PAD;
use crate::drawing::map::sheet::STRIP;
use crate::drawing::map::sheet::Sheet;
use crate::drawing::map::sheet::Span;
use crate::drawing::path::Path;
use crate::drawing::scale::Bands;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;

const FIGURE_SIZE: f64 = 10.5;
/// Open lines shorter than this look like dirt and are left out, in px.
const SPECK: f64 = 14.0;

/// Values on nodes that rise, thinned out.
#[derive(Debug)]
pub struct Field {
    pub x: Vec<f64>,
    pub y: Vec<f64>,
    /// Row-major, y outer.
    values: Vec<Option<f64>>,
}

/// Every so-many-th place and the last one, in the order in which the nodes rise.
fn kept(axis: &AxisOf, every: usize) -> Vec<usize> {
    let count = axis.nodes.len();
    let mut places: Vec<usize> = (0..count).step_by(every.max(1)).collect();
    if places.last() != Some(&(count - 1)) {
        places.push(count - 1);
    }
    if axis.nodes.first() > axis.nodes.last() {
        places.reverse();
    }
    places
}

/// Places on paper where the cells of nodes begin and end: halfway to the next node, and at the
/// outermost nodes themselves. A single node has a strip.
fn bounds(nodes: &[f64], span: &Span) -> Vec<f64> {
    if let [only] = nodes {
        let middle = span.scale.at(*only);
        let half = if span.scale.px_per_unit() < 0.0 {
            -STRIP / 2.0
        } else {
            STRIP / 2.0
        };
        return vec![middle - half, middle + half];
    }
    let at = |v: f64| span.scale.at(v);
    let mut bounds = vec![at(nodes[0])];
    bounds.extend(nodes.windows(2).map(|w| at((w[0] + w[1]) / 2.0)));
    bounds.push(at(nodes[nodes.len() - 1]));
    bounds
}

/// Rectangles of cells of one class: runs of a row, grown downward while the next row has the same run.
/// In indexes: columns from..to, rows from..to.
fn rectangles(classes: &[usize], columns: usize) -> Vec<(usize, [usize; 4])> {
    let mut done = Vec::new();
    let mut open: Vec<(usize, [usize; 4])> = Vec::new();
    for (row, line) in classes.chunks(columns).enumerate() {
        let mut next = Vec::new();
        let mut from = 0;
        for run in line.chunk_by(|a, b| a == b) {
            let to = from + run.len();
            let same = open
                .iter()
                .position(|(class, r)| *class == run[0] && r[0] == from && r[1] == to);
            let top = same.map_or(row, |k| open.swap_remove(k).1[2]);
            next.push((run[0], [from, to, top, row + 1]));
            from = to;
        }
        done.append(&mut open);
        open = next;
    }
    done.append(&mut open);
    done
}

/// A line of equal value with its figures, on paper.
#[derive(Debug)]
pub struct Drawn {
    parts: Vec<Vec<(f64, f64)>>,
    figure: String,
    rooms: Vec<Area>,
}

impl Field {
    pub fn new(picture: &MapPicture, every: usize) -> Field {
        let (columns, rows) = (kept(&picture.x, every), kept(&picture.y, every));
        let all = picture.x.nodes.len();
        let values = rows
            .iter()
            .flat_map(|j| columns.iter().map(move |i| picture.values[j * all + i]))
            .collect();
        Field {
            x: columns.iter().map(|i| picture.x.nodes[*i]).collect(),
            y: rows.iter().map(|j| picture.y.nodes[*j]).collect(),
            values,
        }
    }

    /// Bands and hatch, one path each.
    pub fn fill(&self, svg: &mut Svg, bands: Option<&Bands>, sheet: &Sheet) {
        // Class 0 is not reached; k + 1 is band k.
        let class = |v: &Option<f64>| match (v, bands) {
            (Some(v), Some(bands)) => bands.of(*v) + 1,
            _ => 0,
        };
        let classes: Vec<usize> = self.values.iter().map(class).collect();
        let (x, y) = (bounds(&self.x, &sheet.x), bounds(&self.y, &sheet.y));
        let count = bands.map_or(0, |b| b.colours.len());
        let mut paths = vec![Path::default(); count + 1];
        for (class, [left, right, low, high]) in rectangles(&classes, self.x.len()) {
            paths[class].rectangle(&Area {
                left: x[left].min(x[right]),
                right: x[left].max(x[right]),
                top: y[low].min(y[high]),
                bottom: y[low].max(y[high]),
            });
        }
        for (class, path) in paths.iter().enumerate() {
            let fill = match (class.checked_sub(1), bands) {
                (Some(band), Some(bands)) => Fill::Plain(bands.colours[band]),
                _ => Fill::Hatch,
            };
            svg.path(path, &Look::filled(fill).crisp());
        }
    }

    /// Keeps texts off a strip, which they would hide.
    pub fn keep_clear(&self, sheet: &mut Sheet) {
        if !sheet.x.single && !sheet.y.single {
            return;
        }
        let (x, y) = (bounds(&self.x, &sheet.x), bounds(&self.y, &sheet.y));
        sheet.taken.push(Area {
            left: x[0],
            right: x[x.len() - 1],
            top: y[0].min(y[y.len() - 1]),
            bottom: y[0].max(y[y.len() - 1]),
        });
    }

    /// Lines between bands, broken where figures stand.
    pub fn lines(&self, bands: &Bands, sheet: &mut Sheet) -> Vec<Drawn> {
        let within = sheet.plot.grown(-PAD);
        let mut all: Vec<Drawn> = Vec::new();
        for level in bands.inner() {
            let figure = bands.edges.label(*level);
            let size = (
                text::width_of(&figure, FIGURE_SIZE) + 5.0,
                FIGURE_SIZE * 1.25,
            );
            let mut rooms = Vec::new();
            let mut parts = Vec::new();
            for line in contour::contour(&self.x, &self.y, &self.values, *level) {
                let mut points = line.points;
                if line.closed {
                    points.extend(points.first().copied());
                }
                let points: Vec<_> = points.iter().map(|p| sheet.at(p.0, p.1)).collect();
                if !line.closed && label::length(&points) < SPECK {
                    continue;
                }
                rooms.extend(label::on_line(&points, size, &within, &mut sheet.taken));
                parts.push(points);
            }
            all.push(Drawn {
                parts,
                figure,
                rooms,
            });
        }
        // A figure breaks lines of other levels too that pass close by.
        let every: Vec<Area> = all.iter().flat_map(|line| line.rooms.clone()).collect();
        for line in &mut all {
            let whole = std::mem::take(&mut line.parts);
            line.parts = whole
                .iter()
                .flat_map(|part| label::without(part, &every))
                .collect();
        }
        all
    }
}

/// Lines first, figures on pale ground above them.
pub fn draw_lines(svg: &mut Svg, lines: &[Drawn]) {
    let mut path = Path::default();
    for part in lines.iter().flat_map(|l| &l.parts) {
        path.polyline(part, false);
    }
    svg.path(&path, &Look::drawn(Pen::new(INK, 0.9)));
    for line in lines {
        for room in &line.rooms {
            let plate = room.grown(-0.5);
            svg.rectangle(&plate, &Look::filled(Fill::Plain(PAPER)).faint(0.7));
            let (x, y) = room.centre();
            svg.words(&Words {
                text: &line.figure,
                at: (x, y + text::MIDDLE * FIGURE_SIZE),
                size_px: FIGURE_SIZE,
                anchor: Anchor::Middle,
                upright: false,
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_of_one_class_are_merged() {
        // 1 1 2
        // 1 1 2
        // 0 1 2
        let found = rectangles(&[1, 1, 2, 1, 1, 2, 0, 1, 2], 3);
        let mut found = found;
        found.sort_unstable();
        assert_eq!(
            found,
            [
                (0, [0, 1, 2, 3]),
                (1, [0, 2, 0, 2]),
                (1, [1, 2, 2, 3]),
                (2, [2, 3, 0, 3]),
            ]
        );
    }

    #[test]
    fn thinning_keeps_both_ends_and_turns_falling_nodes() {
        let axis = |nodes| AxisOf { label: "", nodes };
        assert_eq!(kept(&axis(&[0.0, 1.0, 2.0, 3.0]), 2), [0, 2, 3]);
        assert_eq!(kept(&axis(&[3.0, 2.0, 1.0]), 1), [2, 1, 0]);
        assert_eq!(kept(&axis(&[3.0]), 5), [0]);
    }
}
