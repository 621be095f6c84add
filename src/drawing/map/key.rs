//! The key: what bands, hatch, lines and marks mean.

use crate::drawing::ink::INK;
use crate::drawing::ink::LIMIT;
use crate::drawing::map::Kind;
use crate::drawing::map::MapPicture;
use crate::drawing::map::frame;
use crate::drawing::map::level;
use crate::drawing::map::marks;
use crate::drawing::map::sheet::LABEL_SIZE;
use crate::drawing::map::sheet::SMALL_SIZE;
use crate::drawing::map::sheet::Sheet;
use crate::drawing::scale::Bands;
use crate::drawing::svg::Fill;
use crate::drawing::svg::Look;
use crate::drawing::svg::Pen;
use crate::drawing::svg::Svg;
use crate::drawing::svg::Words;
use crate::drawing::text;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;

const BAND_HEIGHT: f64 = 21.0;
const ROW_HEIGHT: f64 = 25.0;
const SWATCH: f64 = 34.0;
/// From the key's top to the first band.
const HEAD: f64 = 26.0;

fn unreached(picture: &MapPicture) -> bool {
    picture.values.iter().any(Option::is_none)
}

fn kinds(picture: &MapPicture) -> impl Iterator<Item = Kind> {
    Kind::ALL
        .into_iter()
        .filter(|kind| picture.marks.iter().any(|m| m.kind == *kind))
}

/// Room that the key needs; a row for limits is counted whether it comes or not.
pub fn height(picture: &MapPicture, bands: Option<&Bands>) -> f64 {
    let bands = bands.map_or(0, |b| b.colours.len()) as f64;
    let rows = 1
        + usize::from(unreached(picture))
        + usize::from(picture.level.is_some())
        + kinds(picture).count();
    HEAD + bands * BAND_HEIGHT + 12.0 + rows as f64 * ROW_HEIGHT
}

pub fn draw(svg: &mut Svg, picture: &MapPicture, bands: Option<&Bands>, sheet: &Sheet) {
    let area = sheet.key;
    let thin = Pen::new(INK, 0.6);
    let write = |svg: &mut Svg, text: &str, x: f64, middle: f64, size: f64| {
        svg.words(&Words {
            text: &text::cut_to(text, size, area.right - x),
            at: (x, middle + text::MIDDLE * size),
            size_px: size,
            anchor: Anchor::Start,
            upright: false,
        });
    };
    let mut y = area.top;
    if let Some(bands) = bands {
        write(svg, picture.value_label, area.left, y + 7.0, LABEL_SIZE);
        y += HEAD;
        for colour in bands.colours.iter().rev() {
            svg.rectangle(
                &Area::new(area.left, y, SWATCH, BAND_HEIGHT),
                &Look::filled(Fill::Plain(*colour)).with_pen(thin),
            );
            y += BAND_HEIGHT;
        }
        for (k, edge) in bands.edges.values.iter().enumerate() {
            let y = y - k as f64 * BAND_HEIGHT;
            let right = area.left + SWATCH;
            svg.line((right, y), (right + 5.0, y), &Look::drawn(thin));
            write(svg, &bands.edges.label(*edge), right + 9.0, y, SMALL_SIZE);
        }
        y += 14.0;
    }
    let words_left = area.left + SWATCH + 9.0;
    let middle = area.left + SWATCH / 2.0;
    if unreached(picture) {
        svg.rectangle(
            &Area::new(area.left, y, SWATCH, ROW_HEIGHT - 8.0),
            &Look::filled(Fill::Hatch).with_pen(thin),
        );
        write(
            svg,
            "cannot be reached",
            words_left,
            y + (ROW_HEIGHT - 8.0) / 2.0,
            SMALL_SIZE,
        );
        y += ROW_HEIGHT;
    }
    y -= 2.0;
    if frame::any_limit(picture, sheet) {
        let line = y + ROW_HEIGHT / 2.0;
        svg.line(
            (area.left, line),
            (area.left + SWATCH, line),
            &Look::drawn(Pen::new(LIMIT, 2.4)),
        );
        write(svg, "limit of travel", words_left, line, SMALL_SIZE);
        y += ROW_HEIGHT;
    }
    if let Some(of) = &picture.level {
        let at = y + ROW_HEIGHT / 2.0;
        level::line(svg, (area.left, at), (area.left + SWATCH, at));
        write(svg, of.key, words_left, at, SMALL_SIZE);
        y += ROW_HEIGHT;
    }
    for kind in kinds(picture) {
        marks::shape(svg, kind, (middle, y + ROW_HEIGHT / 2.0));
        write(
            svg,
            kind.words(),
            words_left,
            y + ROW_HEIGHT / 2.0,
            SMALL_SIZE,
        );
        y += ROW_HEIGHT;
    }
}
