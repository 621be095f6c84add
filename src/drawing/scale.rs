//! Colours for bands of values, from dark (low) to light (high).
//!
//! They go from blue to sand, a direction in which the common deficiencies of colour vision see
//! differences too; but what is read is the lightness, which rises evenly, so that grey print shows
//! the same. What has no value is hatched.

use crate::drawing::axis;
use crate::drawing::svg::Colour;

/// Most bands.
pub const MOST: usize = 8;

/// Chosen here: CIE L*C*h* (D65) with L* from 46 to 96, hue from 262° to 92°, chroma from 30 to 24
/// with a dip of 8 between, in equal steps.
const STOPS: [Colour; MOST] = [
    Colour([0x39, 0x71, 0x9e]),
    Colour([0x40, 0x87, 0xa4]),
    Colour([0x58, 0x9b, 0xa6]),
    Colour([0x77, 0xae, 0xa9]),
    Colour([0x96, 0xc1, 0xae]),
    Colour([0xb7, 0xd3, 0xb4]),
    Colour([0xdc, 0xe3, 0xba]),
    Colour([0xff, 0xf2, 0xc5]),
];

/// The same bands on dark paper, under light texts: CIE L*C*h* with L* from 16 to 44, the hue as above.
const DARK_STOPS: [Colour; MOST] = [
    Colour([0x00, 0x2b, 0x4c]),
    Colour([0x00, 0x36, 0x4b]),
    Colour([0x00, 0x40, 0x48]),
    Colour([0x1c, 0x49, 0x46]),
    Colour([0x32, 0x52, 0x44]),
    Colour([0x46, 0x5a, 0x43]),
    Colour([0x5b, 0x61, 0x43]),
    Colour([0x73, 0x67, 0x43]),
];

/// Each band's colour with what stands for it on dark paper.
pub fn on_dark() -> [(Colour, Colour); MOST] {
    std::array::from_fn(|k| (STOPS[k], DARK_STOPS[k]))
}

/// Bands of values with round edges and a colour each.
#[derive(Debug, Clone, PartialEq)]
pub struct Bands {
    /// Rising, one more than there are bands.
    pub edges: axis::Ticks,
    /// Dark to light.
    pub colours: Vec<Colour>,
}

impl Bands {
    /// At most [`MOST`] bands that hold all from `low` to `high`.
    pub fn new(low: f64, high: f64) -> Bands {
        let edges = axis::edges(low, high, MOST);
        let count = edges.values.len() - 1;
        Bands {
            edges,
            colours: colours(count),
        }
    }

    /// The band a value falls in; on an edge the upper one, beyond the ends the last.
    pub fn of(&self, value: f64) -> usize {
        let inner = &self.edges.values[1..self.edges.values.len() - 1];
        inner.partition_point(|edge| *edge <= value)
    }

    /// The edges between bands.
    pub fn inner(&self) -> &[f64] {
        &self.edges.values[1..self.edges.values.len() - 1]
    }
}

/// Colours for so many bands (1 to [`MOST`]), spread over the whole scale.
fn colours(count: usize) -> Vec<Colour> {
    if count <= 1 {
        return vec![STOPS[MOST / 2]];
    }
    (0..count.min(MOST))
        .map(|k| STOPS[(k * (MOST - 1) + (count - 1) / 2) / (count - 1)])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Complete protanopia, deuteranopia, tritanopia, on linear RGB: G. M. Machado, M. M. Oliveira,
    /// L. A. F. Fernandes, A physiologically-based model for simulation of color vision deficiency,
    /// IEEE Trans. Visualization and Computer Graphics 15 (2009) 1291–1298, severity 1.0. Checked
    /// against two public copies.
    const DEFICIENT: [[[f64; 3]; 3]; 3] = [
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ],
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ],
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ],
    ];

    /// IEC 61966-2-1, from the 8-bit value to linear light.
    fn linear(byte: u8) -> f64 {
        let c = f64::from(byte) / 255.0;
        if c <= 0.04045 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        }
    }

    /// CIE 15: L* from Y, with Y of linear sRGB (IEC 61966-2-1).
    fn lightness(rgb: [f64; 3]) -> f64 {
        let y = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
        if y > (6.0f64 / 29.0).powi(3) {
            116.0 * y.cbrt() - 16.0
        } else {
            (29.0f64 / 3.0).powi(3) * y
        }
    }

    fn seen(rgb: [f64; 3], matrix: &[[f64; 3]; 3]) -> [f64; 3] {
        matrix.map(|row| {
            let sum: f64 = row.iter().zip(rgb).map(|(m, c)| m * c).sum();
            sum.clamp(0.0, 1.0)
        })
    }

    #[test]
    fn the_standard_formulas_are_right() {
        // White is 100, black 0; sRGB grey 119 is L* 50.03 (0.1845 of the light, by hand:
        // 116·∛0.18447 − 16 = 50.03).
        assert!((lightness([1.0; 3]) - 100.0).abs() < 1e-9);
        assert_eq!(lightness([0.0; 3]), 0.0);
        assert!((lightness([linear(119); 3]) - 50.03).abs() < 0.01);
        // Grey stays grey for everyone: rows sum to 1.
        for row in DEFICIENT.iter().flatten() {
            assert!((row.iter().sum::<f64>() - 1.0).abs() < 2e-6);
        }
    }

    #[test]
    fn lightness_rises_for_every_eye_and_every_number_of_bands() {
        for count in 1..=MOST {
            let all: Vec<[f64; 3]> = colours(count).iter().map(|c| c.0.map(linear)).collect();
            assert_eq!(all.len(), count);
            let plain = all.iter().map(|c| lightness(*c)).collect::<Vec<_>>();
            assert!(plain.windows(2).all(|w| w[1] - w[0] > 6.0), "{plain:?}");
            for matrix in &DEFICIENT {
                let l: Vec<f64> = all.iter().map(|c| lightness(seen(*c, matrix))).collect();
                assert!(l.windows(2).all(|w| w[1] - w[0] > 5.0), "{l:?}");
            }
        }
    }

    #[test]
    fn bands_of_values() {
        let bands = Bands::new(0.0, 50.0);
        assert_eq!(bands.inner(), [10.0, 20.0, 30.0, 40.0]);
        let of: Vec<usize> = [-1.0, 0.0, 9.9, 10.0, 49.0, 50.0, 60.0]
            .iter()
            .map(|v| bands.of(*v))
            .collect();
        assert_eq!(of, [0, 0, 0, 1, 4, 4, 4]);
        assert_eq!(bands.colours[0], STOPS[0]);
        assert_eq!(bands.colours[4], STOPS[7]);
    }
}
