//! The inks of all pictures, and what stands for each of them on dark paper.
//!
//! A picture is written in the inks of light paper and can be printed as it is. A page that is shown on
//! a dark screen has [`dark_style`] beside it: a style sheet replaces the inks, the picture stays the
//! same. What an ink tells is always told by a shape, a dash or a word as well.

use crate::drawing::scale;
use crate::drawing::svg::Colour;

/// Texts, lines, marks.
pub const INK: Colour = Colour([0x17, 0x1f, 0x26]);
/// Lines that stand back: the drawing's values, grids, extension lines.
pub const GREY: Colour = Colour([0x6b, 0x74, 0x7b]);
/// The sheet.
pub const PAPER: Colour = Colour([0xff, 0xff, 0xff]);
/// Areas that stand back: under a hatch, the plate, the platter.
pub const GROUND: Colour = Colour([0xee, 0xee, 0xec]);
/// Limits, keep-outs, suspects: dark enough for grey print.
pub const LIMIT: Colour = Colour([0x8e, 0x1b, 0x1b]);
/// The arm, readings that were rising, values of before.
pub const BLUE: Colour = Colour([0x00, 0x5a, 0x94]);
/// Residuals, readings that were falling, values of after.
pub const OCHRE: Colour = Colour([0xa3, 0x4e, 0x00]);

/// Inks and what stands for them on dark paper; the bands of a map have their own.
const ON_DARK: [(Colour, Colour); 7] = [
    (INK, Colour([0xe6, 0xea, 0xed])),
    (GREY, Colour([0x97, 0xa2, 0xab])),
    (PAPER, Colour([0x14, 0x18, 0x1c])),
    (GROUND, Colour([0x26, 0x2c, 0x32])),
    (LIMIT, Colour([0xff, 0x9a, 0x8a])),
    (BLUE, Colour([0x7c, 0xc0, 0xf2])),
    (OCHRE, Colour([0xf0, 0xaa, 0x5c])),
];

/// `#171f26`.
pub fn hex(colour: Colour) -> String {
    let [r, g, b] = colour.0;
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// Rules of a style sheet that turn a picture's inks into those of dark paper. They rely on what a
/// picture is written in: attributes, which any rule of a style sheet outweighs.
pub fn dark_style() -> String {
    let inks = ON_DARK.iter().copied();
    let bands = scale::on_dark();
    let rule = |(light, dark): (Colour, Colour)| {
        let (light, dark) = (hex(light), hex(dark));
        format!(
            "svg[fill=\"{light}\"],svg [fill=\"{light}\"]{{fill:{dark}}}svg [stroke=\"{light}\"]{{stroke:{dark}}}\n"
        )
    };
    inks.chain(bands).map(rule).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// WCAG 2.2, 1.4.3 and its definition of relative luminance.
    fn contrast(a: Colour, b: Colour) -> f64 {
        let light = |c: Colour| {
            let [r, g, b] = c.0.map(|v| {
                let v = f64::from(v) / 255.0;
                if v <= 0.04045 {
                    v / 12.92
                } else {
                    ((v + 0.055) / 1.055).powf(2.4)
                }
            });
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (a, b) = (light(a), light(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn what_is_read_stands_out_on_either_paper() {
        // Black on white is 21 to 1 by definition.
        assert!((contrast(Colour([0; 3]), PAPER) - 21.0).abs() < 1e-9);
        for pick in [0, 1] {
            let of = |ink: Colour| {
                let (light, dark) = ON_DARK.iter().find(|(l, _)| *l == ink).unwrap();
                if pick == 0 { *light } else { *dark }
            };
            for ink in [INK, GREY, LIMIT, BLUE, OCHRE] {
                // 4.5 to 1 for texts; greys are read on plain paper only.
                assert!(
                    contrast(of(ink), of(PAPER)) >= 4.5,
                    "{ink:?} on paper {pick}"
                );
                let ground = contrast(of(ink), of(GROUND));
                assert!(
                    ground >= if ink == GREY { 3.0 } else { 4.5 },
                    "{ink:?} {ground}"
                );
            }
            // Texts stand on the bands of a map too.
            for (light, dark) in scale::on_dark() {
                let band = if pick == 0 { light } else { dark };
                let seen = contrast(of(INK), band);
                assert!(seen >= 3.0, "{band:?} {pick} {seen}");
            }
        }
    }

    #[test]
    fn inks_differ() {
        let all: Vec<Colour> = ON_DARK
            .iter()
            .map(|p| p.0)
            .chain(scale::on_dark().into_iter().map(|p| p.0))
            .collect();
        for (k, ink) in all.iter().enumerate() {
            assert!(!all[..k].contains(ink), "{ink:?}");
        }
    }
}
