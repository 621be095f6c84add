//! The marks of a chart over two values: by class, with what stands out and what took no part.

use crate::drawing::Fault;
use crate::drawing::chart::check;
use crate::drawing::chart::marks;
use crate::drawing::chart::marks::Class;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::marks::Tag;
use crate::drawing::chart::paper::Paper;
use crate::drawing::chart::paper::Sample;
use crate::drawing::ink::INK;
use crate::drawing::ink::LIMIT;
use crate::drawing::path::Path;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::text::Area;

/// Shape of what took no part.
const ASIDE: Shape = Shape::Hollow;
/// Marks without a label that a note names.
const MOST_NAMED: usize = 6;

/// Marks by what they are.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Cloud {
    /// The marks.
    pub classes: Vec<Class>,
    /// Of these, what stands out; not counted for the extent of the second value.
    pub suspects: Vec<Tag>,
    /// In the key, for those.
    pub suspect_words: String,
    /// What took no part, in none of the classes and not counted for that extent either.
    pub aside: Vec<Tag>,
    /// In the key, for those.
    pub aside_words: String,
}

/// A place on paper, and the way in which a mark lies farther out than that, if it does.
type Held = ((f64, f64), Option<(f64, f64)>);

impl Cloud {
    /// Values that the axes take; else why not.
    pub(super) fn check(&self) -> Result<(), Fault> {
        check(self.places().map(|p| p.0), "readings")?;
        check(self.places().map(|p| p.1), "residuals")?;
        check(
            self.suspects.iter().flat_map(|t| [t.at.0, t.at.1]),
            "suspects",
        )
    }

    /// Of all marks.
    pub fn places(&self) -> impl Iterator<Item = (f64, f64)> {
        let aside = self.aside.iter().map(|t| t.at);
        self.of_classes().chain(aside)
    }

    fn of_classes(&self) -> impl Iterator<Item = (f64, f64)> {
        self.classes.iter().flat_map(|c| c.points.iter().copied())
    }

    /// Second values that count for the extent: what stands out does not, or nothing else could be told
    /// apart; where all stand out or took no part, all count.
    pub(super) fn counted(&self) -> Vec<f64> {
        let out = |p: &(f64, f64)| self.suspects.iter().any(|t| t.at == *p);
        let fit: Vec<f64> = match self.suspects.is_empty() {
            true => self.of_classes().map(|p| p.1).collect(),
            false => self.of_classes().filter(|p| !out(p)).map(|p| p.1).collect(),
        };
        match fit.is_empty() {
            true => self.places().map(|p| p.1).collect(),
            false => fit,
        }
    }

    /// Draws the marks where `held` puts them, and keeps labels off; gives a note on those that lie farther
    /// out than is drawn.
    pub(super) fn draw(
        &self,
        paper: &mut Paper,
        held: impl Fn((f64, f64)) -> Held,
        taken: &mut Vec<Area>,
    ) -> Option<String> {
        let count = self.places().count();
        let r = marks::radius(count);
        let mut outside = Path::default();
        let mut put = |at: (f64, f64)| {
            let (place, way) = held(at);
            if let Some(way) = way {
                marks::farther(&mut outside, place, way);
            }
            marks::before(place, way)
        };
        for class in &self.classes {
            let at: Vec<(f64, f64)> = class.points.iter().map(|p| put(*p)).collect();
            if count <= marks::MANY {
                taken.extend(at.iter().map(|p| Area::around(*p, 2.0 * r, 2.0 * r)));
            }
            marks::draw(paper, class.shape, class.ink, &at, r);
        }
        let aside: Vec<(f64, f64)> = self.aside.iter().map(|t| put(t.at)).collect();
        if !aside.is_empty() {
            marks::draw(paper, ASIDE, INK, &aside, marks::radius(0));
        }
        let beyond = marks::beyond(&outside);
        paper.path(&outside, &Look::drawn(Pen::new(LIMIT, 1.3)));
        beyond
    }

    /// Labels what stands out, with a ring, and what took no part; gives notes on labels without room.
    pub(super) fn label(
        &self,
        paper: &mut Paper,
        held: impl Fn((f64, f64)) -> Held,
        within: &Area,
        taken: &mut Vec<Area>,
    ) -> Vec<String> {
        let on_paper = |tags: &[Tag]| -> Vec<(String, (f64, f64))> {
            let one = |t: &Tag| {
                let (place, way) = held(t.at);
                (t.label.clone(), marks::before(place, way))
            };
            tags.iter().map(one).collect()
        };
        let (out, aside) = (on_paper(&self.suspects), on_paper(&self.aside));
        let out = marks::tags(paper, &out, true, within, taken);
        let aside = marks::tags(paper, &aside, false, within, taken);
        let out = marks::unlabelled("Ringed", &out, MOST_NAMED);
        let aside = marks::unlabelled("Set aside", &aside, MOST_NAMED);
        out.into_iter().chain(aside).collect()
    }

    /// What the marks mean.
    pub(super) fn key(&self) -> Vec<(Sample, String)> {
        let drawn = self.classes.iter().filter(|c| !c.points.is_empty());
        let mut entries: Vec<(Sample, String)> = drawn
            .map(|c| (Sample::Mark(c.shape, c.ink), c.words.clone()))
            .collect();
        if !self.suspects.is_empty() {
            entries.push((Sample::Ring(LIMIT), self.suspect_words.clone()));
        }
        if !self.aside.is_empty() {
            entries.push((Sample::Mark(ASIDE, INK), self.aside_words.clone()));
        }
        entries
    }
}
