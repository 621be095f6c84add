//! The reach map: how much room the joints have at each station of track and table.
//!
//! Bands of margin in steps of lightness, lines of equal margin with their figures, hatched where
//! nothing is reached, limits of travel as heavy lines with strokes on the barred side, marks for
//! stations. A cell has the colour of its own station; lines are interpolated between stations.

use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::map::field::Field;
use crate::drawing::map::sheet::Sheet;
use crate::drawing::map::sheet::Span;
use crate::drawing::scale::Bands;
use crate::drawing::svg::Svg;

mod field;
mod frame;
mod key;
mod level;
mod marks;
mod sheet;

/// Most characters of a picture; a finer map is drawn on every second node, or fewer.
const MOST_BYTES: usize = 300_000;
/// Most nodes of an axis that are drawn.
const MOST_NODES: usize = 400;

/// One axis of the map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxisOf<'a> {
    /// What it shows, as `track, reading`.
    pub label: &'a str,
    /// Where values were computed: all rising or all falling.
    pub nodes: &'a [f64],
}

/// What a mark stands for; each has its own shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Most room of the whole map.
    Best,
    /// Most room on the line of what is asked for.
    Asked,
    /// More room than there, off the line.
    Elsewhere,
    Taught,
    Station,
}

impl Kind {
    const ALL: [Kind; 5] = [
        Kind::Best,
        Kind::Asked,
        Kind::Elsewhere,
        Kind::Taught,
        Kind::Station,
    ];

    /// In the key.
    fn words(self) -> &'static str {
        match self {
            Kind::Best => "best of the map",
            Kind::Asked => "best station as asked",
            Kind::Elsewhere => "another elevation",
            Kind::Taught => "taught",
            Kind::Station => "station",
        }
    }
}

/// A place in the map, in the units of the axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark<'a> {
    pub x: f64,
    pub y: f64,
    pub label: &'a str,
    pub kind: Kind,
}

/// A line across the field at one value of an axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level<'a> {
    /// In the units of its axis.
    pub at: f64,
    /// Of the axis along the sheet; else of the upright one.
    pub upright: bool,
    /// Its name, with the value.
    pub label: &'a str,
    /// In the key.
    pub key: &'a str,
}

/// What the map is to be shown on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Room {
    /// A sheet of its own, about 900 px wide.
    #[default]
    Sheet,
    /// A page of text, 720 px wide at the most.
    Page,
    /// A telephone, 360 px wide: the key stands below.
    Telephone,
}

/// What a reach map shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapPicture<'a> {
    pub title: &'a str,
    /// Lines under the picture; one that is too long is wrapped.
    pub caption: &'a [String],
    pub x: AxisOf<'a>,
    pub y: AxisOf<'a>,
    /// Row-major, y outer: the best margin in degrees at the node, None where it is not reached.
    pub values: &'a [Option<f64>],
    /// As `margin, deg`.
    pub value_label: &'a str,
    /// Limits of travel. Those that lie outside the nodes by more than a little are not in view, which
    /// the picture then says.
    pub limits_x: Option<(f64, f64)>,
    pub limits_y: Option<(f64, f64)>,
    /// Those out of view, or without room for their label, are named below the picture.
    pub marks: &'a [Mark<'a>],
    /// What is asked for, where it is one value of an axis.
    pub level: Option<Level<'a>>,
    /// What it is to be shown on.
    pub room: Room,
}

/// The map as SVG text. An axis with one node becomes a strip, and is not drawn if it has no label. A map of more than 300 kB is drawn on
/// fewer nodes, which it then says.
pub fn map(picture: &MapPicture) -> Result<String, Fault> {
    Ok(map_with_plot(picture)?.0)
}

/// Where the plot lies in the picture: from px to the values of the axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plot {
    x: Side,
    y: Side,
    /// Whether the axes were exchanged before it was drawn.
    turned: bool,
}

/// One side of a plot: a value and where it lies, and how many px a unit has.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Side {
    low: f64,
    high: f64,
    from_px: f64,
    px_per_unit: f64,
    /// The edges of the plot, px.
    edges_px: (f64, f64),
}

impl Side {
    fn of(span: &Span, edges_px: (f64, f64)) -> Side {
        Side {
            low: span.low,
            high: span.high,
            from_px: span.scale.at(span.low),
            px_per_unit: span.scale.px_per_unit(),
            edges_px,
        }
    }

    /// The value at a place; `None` outside the plot.
    fn value(&self, px: f64) -> Option<f64> {
        let (low, high) = self.edges_px;
        if !(low <= px && px <= high) {
            return None;
        }
        // One node: all of the plot is that one.
        if self.px_per_unit == 0.0 {
            return Some(self.low);
        }
        let value = self.low + (px - self.from_px) / self.px_per_unit;
        Some(value.clamp(self.low, self.high))
    }
}

impl Plot {
    /// The values of both axes at a place of the picture, px; `None` outside the plot. In the rim around
    /// the outermost values it is those.
    pub fn values(&self, px: (f64, f64)) -> Option<(f64, f64)> {
        let values = self.x.value(px.0).zip(self.y.value(px.1));
        values.map(|v| self.exchanged(v))
    }

    /// The same plot for one who gives and is given the value of the upright axis first.
    pub fn turned(self) -> Plot {
        Plot {
            turned: !self.turned,
            ..self
        }
    }

    fn exchanged(&self, (a, b): (f64, f64)) -> (f64, f64) {
        if self.turned { (b, a) } else { (a, b) }
    }

    /// The place of the plot that is nearest to where values lie, px.
    pub fn nearest(&self, values: (f64, f64)) -> (f64, f64) {
        let (x, y) = self.exchanged(values);
        let inside = (
            x.clamp(self.x.low, self.x.high),
            y.clamp(self.y.low, self.y.high),
        );
        let (x, y) = self.at(self.exchanged(inside));
        let within = |side: &Side, px: f64| px.max(side.edges_px.0).min(side.edges_px.1);
        (within(&self.x, x), within(&self.y, y))
    }

    /// Where values lie, px.
    pub fn at(&self, values: (f64, f64)) -> (f64, f64) {
        let at = |side: &Side, value: f64| side.from_px + (value - side.low) * side.px_per_unit;
        let (x, y) = self.exchanged(values);
        (at(&self.x, x), at(&self.y, y))
    }
}

/// The same, and where the plot lies in it.
pub fn map_with_plot(picture: &MapPicture) -> Result<(String, Plot), Fault> {
    check(picture)?;
    let most = picture.x.nodes.len().max(picture.y.nodes.len());
    let mut every = most.div_ceil(MOST_NODES).max(1);
    loop {
        let (text, plot) = drawn(picture, every)?;
        // Ends: with one step over all nodes at most two rows and columns are left.
        if text.len() <= MOST_BYTES || every >= most {
            return Ok((text, plot));
        }
        every *= 2;
    }
}

fn check(picture: &MapPicture) -> Result<(), Fault> {
    let fits = |values: &[f64]| values.iter().all(|v| v.abs() <= axis::LARGEST);
    for axis in [&picture.x, &picture.y] {
        if !fits(axis.nodes) {
            return Err(Fault::Number { place: "nodes" });
        }
        let rises = axis.nodes.windows(2).all(|w| w[0] < w[1]);
        let falls = axis.nodes.windows(2).all(|w| w[0] > w[1]);
        if axis.nodes.is_empty() || !(rises || falls) {
            return Err(Fault::Order {
                axis: axis.label.to_owned(),
            });
        }
    }
    let (columns, rows) = (picture.x.nodes.len(), picture.y.nodes.len());
    if columns.checked_mul(rows) != Some(picture.values.len()) {
        return Err(Fault::Count {
            values: picture.values.len(),
            columns,
            rows,
        });
    }
    let reached: Vec<f64> = picture.values.iter().flatten().copied().collect();
    if !fits(&reached) {
        return Err(Fault::Number { place: "values" });
    }
    for (low, high) in [picture.limits_x, picture.limits_y].into_iter().flatten() {
        if !fits(&[low, high]) {
            return Err(Fault::Number {
                place: "limits of travel",
            });
        }
    }
    if !picture.marks.iter().all(|m| fits(&[m.x, m.y])) {
        return Err(Fault::Number { place: "marks" });
    }
    if !picture.level.iter().all(|l| fits(&[l.at])) {
        return Err(Fault::Number { place: "line" });
    }
    Ok(())
}

/// The map on every so-many-th node.
fn drawn(picture: &MapPicture, every: usize) -> Result<(String, Plot), Fault> {
    let field = Field::new(picture, every);
    let range = picture.values.iter().flatten().fold(None, |range, v| {
        let (low, high) = range.unwrap_or((*v, *v));
        Some((f64::min(low, *v), f64::max(high, *v)))
    });
    let bands = range.map(|(low, high)| Bands::new(low, high));
    let mut sheet = Sheet::new(picture, &field, bands.as_ref());
    if range.is_none() {
        let count = picture.values.len();
        sheet.note(format!("None of the {count} stations can be reached."));
    }
    if every > 1 {
        sheet.note(format!(
            "Drawn coarser than computed: one row and column in {every}, of {} × {} stations.",
            picture.x.nodes.len(),
            picture.y.nodes.len()
        ));
    }
    frame::note_limits(picture, &mut sheet);
    frame::keep_clear(picture, &mut sheet);
    field.keep_clear(&mut sheet);
    let level = level::place(picture, &mut sheet);
    let placed = marks::place(picture, &mut sheet);
    let lines = bands
        .as_ref()
        .map(|bands| field.lines(bands, &mut sheet))
        .unwrap_or_default();
    let mut svg = sheet.start(picture, &description(picture, range));
    svg.group("field", |svg| field.fill(svg, bands.as_ref(), &sheet));
    svg.group("lines", |svg| field::draw_lines(svg, &lines));
    svg.group("axes", |svg| frame::axes(svg, picture, &sheet));
    svg.group("limits", |svg| frame::limits(svg, picture, &sheet));
    if let Some(level) = &level {
        svg.group("line", |svg| level::draw(svg, level));
    }
    svg.group("marks", |svg| marks::draw(svg, &placed));
    svg.group("key", |svg| key::draw(svg, picture, bands.as_ref(), &sheet));
    svg.group("notes", |svg| sheet.write_notes(svg));
    let plot = Plot {
        x: Side::of(&sheet.x, (sheet.plot.left, sheet.plot.right)),
        y: Side::of(&sheet.y, (sheet.plot.top, sheet.plot.bottom)),
        turned: false,
    };
    Ok((Svg::finish(svg)?, plot))
}

/// The map in a few sentences, for readers who do not see it.
fn description(picture: &MapPicture, range: Option<(f64, f64)>) -> String {
    let ends = |axis: &AxisOf| {
        let (first, last) = (axis.nodes.first(), axis.nodes.last());
        let [first, last] = [first, last].map(|v| axis::plain(v.copied().unwrap_or_default()));
        if first == last {
            format!("{} at {first}", axis.label)
        } else {
            format!("{} from {first} to {last}", axis.label)
        }
    };
    let reached = picture.values.iter().flatten().count();
    let axes = [&picture.x, &picture.y].into_iter();
    let axes: Vec<String> = axes.filter(|a| !a.label.is_empty()).map(ends).collect();
    let mut text = format!(
        "Map of {} over {}. {reached} of {} stations can be reached.",
        picture.value_label,
        axes.join(" and "),
        picture.values.len()
    );
    if let Some((low, high)) = range {
        let [low, high] = [low, high].map(|v| axis::fixed(v, 1));
        text.push_str(&format!(" {} from {low} to {high}.", picture.value_label));
    }
    if let Some(level) = &picture.level {
        let at = axis::plain(level.at);
        text.push_str(&format!(" A line across at {at}: {}.", level.label));
    }
    for mark in picture.marks {
        let at = [(&picture.x, mark.x), (&picture.y, mark.y)].into_iter();
        let at: Vec<String> = at
            .filter(|(axis, _)| !axis.label.is_empty())
            .map(|(_, v)| axis::plain(v))
            .collect();
        let kind = mark.kind.words();
        text.push_str(&format!(" {} ({kind}) at {}.", mark.label, at.join(", ")));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 900 of the track on the width of the plot less its rim on both sides, rows from below.
    #[test]
    fn a_place_of_the_plot_gives_the_values_that_are_drawn_there() {
        let nodes = [0.0, 450.0, 900.0];
        let rows = [0.0, 90.0];
        let picture = MapPicture {
            title: "t",
            caption: &[],
            x: AxisOf {
                label: "x",
                nodes: &nodes,
            },
            y: AxisOf {
                label: "y",
                nodes: &rows,
            },
            values: &[Some(1.0), Some(2.0), None, Some(3.0), Some(1.5), None],
            value_label: "margin, deg",
            limits_x: None,
            limits_y: None,
            marks: &[],
            level: None,
            room: Room::Sheet,
        };
        let (text, plot) = map_with_plot(&picture).unwrap();
        assert_eq!(text, map(&picture).unwrap());
        let (left, below) = plot.at((0.0, 0.0));
        let (right, above) = plot.at((900.0, 90.0));
        assert!((right - left - (610.0 - 2.0 * sheet::PAD)).abs() < 1e-9);
        assert!((below - above - (440.0 - 2.0 * sheet::PAD)).abs() < 1e-9);
        let middle = plot.values((0.5 * (left + right), 0.25 * below + 0.75 * above));
        let (x, y) = middle.unwrap();
        assert!((x - 450.0).abs() < 1e-9 && (y - 67.5).abs() < 1e-9);
        // In the rim the outermost values; beside the plot none; what is no number is nowhere.
        assert_eq!(plot.values((left - 5.0, below + 5.0)), Some((0.0, 0.0)));
        assert_eq!(plot.values((left - 20.0, below)), None);
        assert_eq!(plot.values((f64::NAN, below)), None);
    }

    /// By hand: 180 degrees on 440 px less 15 px of rim on both sides: -90 lies on the lower end of the axis.
    #[test]
    fn the_line_of_what_is_asked_for_lies_at_its_value() {
        let (tracks, rows) = ([0.0, 900.0], [-90.0, 0.0, 90.0]);
        let mark = |x, kind| Mark {
            x,
            y: -90.0,
            label: "best: 2.0 deg",
            kind,
        };
        let marks = [mark(450.0, Kind::Asked)];
        let values = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0].map(Some);
        let picture = MapPicture {
            title: "t",
            caption: &[],
            x: AxisOf {
                label: "x",
                nodes: &tracks,
            },
            y: AxisOf {
                label: "elevation",
                nodes: &rows,
            },
            values: &values,
            value_label: "margin, deg",
            limits_x: None,
            limits_y: None,
            marks: &marks,
            level: Some(Level {
                at: -90.0,
                upright: false,
                label: "asked for: -90 deg",
                key: "elevation asked for",
            }),
            room: Room::Sheet,
        };
        let (svg, plot) = map_with_plot(&picture).unwrap();
        let (_, low) = plot.at((0.0, -90.0));
        let (_, high) = plot.at((0.0, 90.0));
        assert!((low - high - (440.0 - 2.0 * sheet::PAD)).abs() < 1e-9);
        // Dashed lines: that one, and its sample in the key, which lies elsewhere.
        let dashed = dashed_lines(&svg);
        assert_eq!(dashed.len(), 2, "{dashed:?}");
        let across: Vec<&[f64; 4]> = dashed.iter().filter(|l| l[2] - l[0] > 600.0).collect();
        assert_eq!(across.len(), 1);
        assert!((across[0][1] - low).abs() < 0.01 && (across[0][3] - low).abs() < 0.01);
        for words in [
            "asked for: -90 deg",
            "elevation asked for",
            "best station as asked",
        ] {
            assert!(svg.contains(&format!(">{words}<")), "{words}");
        }
        assert!(svg.contains("A line across at \u{2212}90: asked for: -90 deg."));
        // Out of view it is told and not drawn.
        let far = Level {
            at: -500.0,
            ..picture.level.unwrap()
        };
        let svg = map(&MapPicture {
            level: Some(far),
            ..picture
        });
        let svg = svg.unwrap();
        assert!(svg.contains("Outside the picture: asked for"));
        assert!(dashed_lines(&svg).iter().all(|l| l[2] - l[0] < 600.0));
    }

    /// Ends of the dashed lines: x1, y1, x2, y2.
    fn dashed_lines(svg: &str) -> Vec<[f64; 4]> {
        let lines = svg.split("<line ").skip(1);
        let lines = lines.map(|l| &l[..l.find("/>").unwrap()]);
        let dashed = lines.filter(|l| l.contains("stroke-dasharray"));
        let number = |l: &str, name: &str| {
            let from = l.find(&format!("{name}=\"")).unwrap() + name.len() + 2;
            let text = &l[from..];
            text[..text.find('"').unwrap()].parse::<f64>().unwrap()
        };
        dashed
            .map(|l| ["x1", "y1", "x2", "y2"].map(|name| number(l, name)))
            .collect()
    }

    /// By hand: one node of the upright axis and no label: the rows lie along the sheet, 180 degrees on 610 px
    /// less the rim; one who asks for track and row is given them in that order.
    #[test]
    fn a_plot_whose_axes_were_exchanged_answers_as_if_they_were_not() {
        let picture = MapPicture {
            title: "t",
            caption: &[],
            x: AxisOf {
                label: "elevation",
                nodes: &[-90.0, 0.0, 90.0],
            },
            y: AxisOf {
                label: "",
                nodes: &[0.0],
            },
            values: &[Some(1.0), Some(2.0), None],
            value_label: "margin, deg",
            limits_x: None,
            limits_y: None,
            marks: &[],
            level: None,
            room: Room::Sheet,
        };
        let (svg, plot) = map_with_plot(&picture).unwrap();
        let plot = plot.turned();
        let (low, middle) = plot.at((0.0, -90.0));
        let (high, _) = plot.at((0.0, 90.0));
        assert!((high - low - (610.0 - 2.0 * sheet::PAD)).abs() < 1e-9);
        assert_eq!(plot.values((low, middle)), Some((0.0, -90.0)));
        assert_eq!(plot.nearest((0.0, -400.0)), plot.at((0.0, -90.0)));
        // What has no axis is not named either.
        assert!(svg.contains("over elevation from \u{2212}90 to 90. 2 of 3 stations"));
    }
}
