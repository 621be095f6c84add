//! Charts at both widths, with what is hard; and places on paper worked out by hand.

mod bars;
mod dial;
mod lanes;
mod multiples;
mod scatter;
mod shifts;
mod strips;

use crate::drawing::Fault;
use crate::drawing::chart::cloud::Cloud;
use crate::drawing::chart::marks::Class;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::marks::Tag;
use crate::drawing::tests::readback::Element;
use crate::drawing::tests::readback::sound;

const WIDTHS: [f64; 2] = [720.0, 360.0];

/// 60 characters, without a place to break and with what must be escaped.
const LONG: &str = "foot_<left>_&_\"right\"_of_the_carriage_that_somebody_named_so";

/// Sound at both widths, with letters that can be read, nothing cut, and not too long.
fn fine(draw: impl Fn(f64) -> Result<String, Fault>) -> Vec<Vec<Element>> {
    let one = |width: f64| {
        let svg = draw(width).unwrap();
        assert!(svg.len() < 150_000, "{} bytes at {width}", svg.len());
        let all = sound(&svg);
        assert_eq!(all[0].number("width"), width);
        for text in all.iter().filter(|e| e.name == "text") {
            assert!(text.number("font-size") >= 10.5, "{text:?}");
            assert!(!text.text.contains('…'), "cut: {text:?}");
        }
        all
    };
    WIDTHS.iter().map(|w| one(*w)).collect()
}

fn class(shape: Shape, ink: crate::drawing::svg::Colour, points: Vec<(f64, f64)>) -> Class {
    Class {
        words: format!("{shape:?} of {LONG}"),
        shape,
        ink,
        points,
    }
}

fn cloud(classes: Vec<Class>, suspects: Vec<Tag>) -> Cloud {
    Cloud {
        classes,
        suspects,
        suspect_words: "stands out".to_owned(),
        aside: Vec::new(),
        aside_words: "set aside".to_owned(),
    }
}

/// Places that look like noise, the same every time.
fn noise(count: usize, size: f64) -> Vec<(f64, f64)> {
    (0..count)
        .map(|k| {
            let k = k as f64;
            (
                900.0 * (0.618_034 * k).fract(),
                size * ((k * 12.9898).sin() * 43_758.545).fract(),
            )
        })
        .collect()
}

/// Where the figures of an axis stand: what is written there and the place of its middle.
fn figures(all: &[Element], anchor: &str) -> Vec<(f64, f64, f64)> {
    all.iter()
        .filter(|e| e.name == "text" && e.get("text-anchor") == Some(anchor))
        .filter_map(|e| {
            let value = e.text.replace('−', "-").parse().ok()?;
            Some((value, e.number("x"), e.number("y")))
        })
        .collect()
}
