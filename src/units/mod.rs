//! Lengths, angles, controller readings: the quantities of the bench as types.
//!
//! Files and screens use millimetres (or inches) and degrees; code uses millimetres and radians.
//! A bare `f64` in a kernel carries its unit in its name (`reach_mm`, `yaw_rad`).

use std::f64::consts::PI;
use std::f64::consts::TAU;

/// Millimetres in an inch, exact by definition of the inch.
pub const MM_PER_INCH: f64 = 25.4;

/// A length. Stored in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Length {
    mm: f64,
}

impl Length {
    /// A length given in millimetres.
    pub const fn mm(mm: f64) -> Self {
        Length { mm }
    }
    /// A length given in inches.
    pub const fn inches(inches: f64) -> Self {
        Length {
            mm: inches * MM_PER_INCH,
        }
    }
    /// The same in millimetres.
    pub const fn as_mm(self) -> f64 {
        self.mm
    }
}

/// An angle, not wrapped. Stored in radians.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Angle {
    rad: f64,
}

impl Angle {
    /// An angle given in radians.
    pub const fn rad(rad: f64) -> Self {
        Angle { rad }
    }
    /// An angle given in degrees.
    pub const fn deg(deg: f64) -> Self {
        Angle {
            rad: deg * (PI / 180.0),
        }
    }
    /// The same in radians.
    pub const fn as_rad(self) -> f64 {
        self.rad
    }
    /// The same in degrees.
    pub const fn as_deg(self) -> f64 {
        self.rad * (180.0 / PI)
    }
    /// The same direction in [−180°, 180°).
    pub fn wrapped(self) -> Self {
        Angle {
            rad: wrap_rad(self.rad),
        }
    }
}

/// Brings an angle in radians into [−π, π). This is the one place where angles are wrapped.
pub fn wrap_rad(rad: f64) -> f64 {
    if (-PI..PI).contains(&rad) {
        return rad;
    }
    let turned = (rad + PI).rem_euclid(TAU) - PI;
    // rem_euclid can round up to a full turn for tiny negative arguments.
    if turned >= PI { -PI } else { turned }
}

/// What a controller shows for an axis, in the controller's own unit. It becomes a value (travel
/// or turn) only through the law of that axis.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Reading(pub f64);

/// From which side an axis came to rest: whether its reading was rising or falling.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Approach {
    /// The reading was rising.
    Up,
    /// The reading was falling.
    Down,
    /// Nobody noted it.
    #[default]
    Unnoted,
}

impl Approach {
    /// `dir` of the law of an axis: +1 rising, −1 falling, 0 not noted.
    pub fn dir(self) -> f64 {
        match self {
            Approach::Up => 1.0,
            Approach::Down => -1.0,
            Approach::Unnoted => 0.0,
        }
    }

    /// Whether the reading was rising; `None`: not noted.
    pub fn rising(self) -> Option<bool> {
        match self {
            Approach::Up => Some(true),
            Approach::Down => Some(false),
            Approach::Unnoted => None,
        }
    }
}

/// A closed range of a value, mm or rad as its field name says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Range {
    /// Whether `value` lies in the range, ends included.
    pub fn holds(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    /// The same, where the value was worked out from a reading and may be off by rounding, 1e-9 of its unit.
    pub fn holds_nearly(self, value: f64) -> bool {
        const ROUNDING: f64 = 1e-9;
        self.low - ROUNDING <= value && value <= self.high + ROUNDING
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inch_is_25_4_mm() {
        assert_eq!(Length::inches(1.0).as_mm(), 25.4);
    }

    #[test]
    fn wrapping_keeps_the_half_open_range() {
        // By hand: 190° is −170°, −180° stays, 180° becomes −180°.
        for (from, to) in [
            (190.0, -170.0),
            (-180.0, -180.0),
            (180.0, -180.0),
            (725.0, 5.0),
        ] {
            let got = Angle::deg(from).wrapped().as_deg();
            assert!((got - to).abs() < 1e-12, "{from} -> {got}, expected {to}");
        }
        for k in -400..400 {
            let got = wrap_rad(f64::from(k) * 0.37);
            assert!((-PI..PI).contains(&got), "{got}");
        }
        assert!(wrap_rad(-PI - 1e-17) < PI);
    }
}
