//! Short texts of the page: readings, limits, what a posture is worth.

use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::number::uncertainty;
use crate::report::places::TipFrame;
use crate::report::words::counted;

/// Decimals of a reading that show about 0.01 mm or 0.01 deg, whatever the controller counts in; the scale in
/// mm or deg for each unit of the reading.
pub fn decimals(scale: f64) -> usize {
    // A scale that was found is never quite round: 1.001 needs no more decimals than 1.
    let places = (scale.abs().log10() + 1.9).ceil();
    match places.is_finite() {
        true => places.clamp(0.0, 6.0) as usize,
        false => 2,
    }
}

/// Limits of an axis as readings, rounded to their inner side; empty where there is none.
pub fn limits(low: Option<f64>, high: Option<f64>, decimals: usize) -> String {
    let none = || "no limit".to_owned();
    let below = low.map_or_else(none, |v| short(up(v, decimals), decimals));
    let above = high.map_or_else(none, |v| short(down(v, decimals), decimals));
    match (low, high) {
        (None, None) => String::new(),
        _ => format!("{below} to {above}"),
    }
}

/// What is nearest to the arm, and whether that is far enough.
pub fn clearance(mm: f64, what: &str, needed_mm: f64) -> String {
    if mm < 0.0 {
        return format!("{} mm deep in {what} or more: NOT clear", fixed(-mm, 1));
    }
    match mm >= needed_mm {
        true => format!("{} mm to {what}: clear", fixed(down(mm, 0), 0)),
        false => format!(
            "{} mm to {what}, {} mm are needed: NOT clear",
            fixed(down(mm, 1), 1),
            short(needed_mm, 2)
        ),
    }
}

/// Rounding of what was calculated is less than this share of the last digit.
const ROUNDING: f64 = 1e-6;

/// What is nearer to its limit than this lies at it, in units of the reading.
const AT_LIMIT: f64 = 1e-9;

/// Rounded down: no room is promised that is not there.
fn down(value: f64, decimals: usize) -> f64 {
    let digits = 10.0_f64.powi(decimals as i32);
    (value * digits + ROUNDING).floor() / digits
}

/// Rounded up.
fn up(value: f64, decimals: usize) -> f64 {
    -down(-value, decimals)
}

/// A reading as a controller shows it.
pub fn reading(value: f64, decimals: usize) -> String {
    fixed(value, decimals)
}

/// The same without zeros at the end.
pub fn short(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// A reading as it is kept in a file: a hundred times finer than it is shown, and what is within the limits
/// stays within them.
pub fn kept(value: f64, limits: Option<(f64, f64)>, decimals: usize) -> String {
    let decimals = decimals + 2;
    let text = short(value, decimals);
    let rounded: f64 = text.parse().unwrap_or(value);
    match limits {
        // What lies outside stays outside.
        Some((low, high)) if value < low - AT_LIMIT || high + AT_LIMIT < value => text,
        Some((_, high)) if rounded > high => short(down(value.min(high), decimals), decimals),
        Some((low, _)) if rounded < low => short(up(value.max(low), decimals), decimals),
        _ => text,
    }
}

/// How far a reading is from the nearer of its limits; empty without limits.
pub fn room(value: f64, low: Option<f64>, high: Option<f64>, decimals: usize) -> String {
    let below = low.map(|l| (value - l, l));
    let above = high.map(|h| (h - value, h));
    // As the limits beside it are rounded.
    let inward = |limit: f64, decimals: usize| match high {
        Some(high) if limit == high => short(down(limit, decimals), decimals),
        _ => short(up(limit, decimals), decimals),
    };
    let nearest = below
        .into_iter()
        .chain(above)
        .min_by(|a, b| a.0.total_cmp(&b.0));
    match nearest {
        None => String::new(),
        Some((room, limit)) if room < 0.0 => {
            format!(
                "{} beyond its limit at {}",
                reading(-room, decimals),
                inward(limit, decimals)
            )
        }
        Some((room, limit)) => {
            format!(
                "{} to its limit at {}",
                reading(room, decimals),
                inward(limit, decimals)
            )
        }
    }
}

/// The tip's place, rounded as its uncertainty allows.
pub fn tip_at(f: &TipFrame) -> String {
    // Without a known uncertainty a tenth of a millimetre is as much as a drawing promises.
    let d = f.u95_mm.map_or(1, |u| decimals_for(u).min(2));
    format!(
        "x {}  y {}  z {} mm",
        fixed(f.x_mm, d),
        fixed(f.y_mm, d),
        fixed(f.z_mm, d)
    )
}

/// The tool's direction.
pub fn tip_direction(f: &TipFrame) -> String {
    format!(
        "elevation {}  azimuth {}  roll {} deg",
        fixed(f.elevation_deg, 2),
        fixed(f.azimuth_deg, 2),
        fixed(f.roll_deg, 2)
    )
}

/// How surely the tip is there; empty where that is not known.
pub fn within(u95_mm: Option<f64>) -> String {
    u95_mm.map_or(String::new(), |u| {
        format!("within {} mm (95 %)", uncertainty(u))
    })
}

/// How far the arm is from what is nearest to it.
#[derive(Debug, Clone, Copy)]
pub struct Room<'a> {
    /// Below 0 it stands in it, mm.
    pub clearance_mm: f64,
    /// What the cell asks for, mm.
    pub needed_mm: f64,
    /// What is nearest.
    pub to: Option<&'a str>,
}

/// What a posture is worth, in a few words.
pub fn worth(limit_margin_deg: f64, room: Option<Room<'_>>, u95_mm: Option<f64>) -> String {
    let mut words = vec![match limit_margin_deg < 0.0 {
        true => format!("beyond a limit by {} deg", fixed(-limit_margin_deg, 1)),
        false => format!("margin {} deg", fixed(down(limit_margin_deg, 0), 0)),
    }];
    if let Some(room) = room {
        words.push(clearance(
            room.clearance_mm,
            room.to.unwrap_or("what is nearest"),
            room.needed_mm,
        ));
    }
    if u95_mm.is_some() {
        words.push(within(u95_mm));
    }
    words.join("; ")
}

/// What stretches of the track do not say, of an arm with bodies or without.
pub fn stretches_note(bodies: bool) -> &'static str {
    match bodies {
        true => {
            "Stretches of the track are those of the joints' limits. Clearances are looked at at the stations of a \
             grid, not between them."
        }
        false => {
            "Stretches of the track are those of the joints' limits. The cell file tells no bodies of the arm: \
             clearances are not looked at."
        }
    }
}

/// How the map of a point was made.
pub const MAP: &str = "The best station of the list is looked for on another grid than this map; both may differ a \
                       little.";

/// Stretches of the track, rounded to their inner side.
pub fn stretches(intervals: &[[f64; 2]], decimals: usize) -> String {
    let each = intervals.iter().map(|[a, b]| {
        let (low, high) = (up(*a, decimals), down(*b, decimals));
        match low < high {
            true => format!("{} to {}", short(low, decimals), short(high, decimals)),
            // Shorter than the last digit.
            false => short(0.5 * (a + b), decimals),
        }
    });
    let each: Vec<String> = each.collect();
    match each.is_empty() {
        true => String::new(),
        false => format!("track {}", each.join(", ")),
    }
}

/// What became of a task, in a sentence: how many steps, the points of those that cannot be done, how many ways
/// between are not proved clear, and from which track readings.
pub fn task(
    steps: usize,
    undone: &[&str],
    blocked: usize,
    stations: &[f64],
    decimals: usize,
) -> String {
    if !undone.is_empty() {
        return format!(
            "{} of {steps} steps cannot be done ({}); `notchpin task` says why.",
            undone.len(),
            undone.join(", ")
        );
    }
    if blocked > 0 {
        return format!(
            "Every step can be done, but {} between steps cannot be proved clear; `notchpin task` says where.",
            counted(blocked, "way")
        );
    }
    let places: Vec<String> = stations.iter().map(|s| short(*s, decimals)).collect();
    match places.is_empty() {
        true => format!("All {} can be done.", counted(steps, "step")),
        false => format!(
            "All {} can be done, from track {}.",
            counted(steps, "step"),
            places.join(", ")
        ),
    }
}

/// That something is nearer than it must be.
pub fn too_near(mm: f64, body: &str, what: &str, needed_mm: f64) -> String {
    match mm < 0.0 {
        true => format!("{body} stands in {what}, {} mm deep or more", fixed(-mm, 1)),
        false => format!(
            "{body} is {} mm from {what}, and {} mm are needed",
            fixed(down(mm, 1), 1),
            short(needed_mm, 2)
        ),
    }
}

/// That an axis is beyond its limits, all in readings.
pub fn beyond(axis: &str, reading: &str, limits: &str) -> String {
    format!("{axis} reads {reading}, outside its limits of {limits}")
}

/// Where the tip is in the other geometry at the same readings, plate frame and platter frame, mm; and how
/// surely the registered one of both is known.
pub fn elsewhere(
    drawn: bool,
    by_mm: &[f64; 3],
    by_platter_mm: Option<&[f64; 3]>,
    u95_mm: Option<f64>,
) -> String {
    let d = u95_mm.map_or(1, |u| decimals_for(u).min(2));
    let far = |by: &[f64; 3]| fixed(by.iter().map(|v| v * v).sum::<f64>().sqrt(), d);
    let [x, y, z] = by_mm.map(|v| signed(v, d));
    let who = match drawn {
        true => "As drawn",
        false => "As registered",
    };
    let platter = by_platter_mm.map_or(String::new(), |by| {
        format!(", and {} mm on the platter", far(by))
    });
    format!(
        "{who} the tip would be {} mm from here at the same readings (x {x}  y {y}  z {z}){platter}",
        far(by_mm)
    )
}

fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    match text.starts_with('-') || text.chars().all(|c| matches!(c, '0' | '.')) {
        true => text,
        false => format!("+{text}"),
    }
}

/// What the nominal geometry is worth, beside a registration or without one.
pub fn as_drawn(registered: bool) -> &'static str {
    match registered {
        true => {
            "Shown as drawn, for comparison: the machine stands as registered, as far as that is known."
        }
        false => verdict(None),
    }
}

/// The verdict of the record in force, in a sentence.
pub fn verdict(verdict: Option<&str>) -> &'static str {
    match verdict {
        Some("accepted") => "The registration in force was accepted.",
        Some(_) => {
            "Look: this registration's verdict was look, not accepted: places and radii may both be wrong."
        }
        None => {
            "Not registered: everything is as drawn, and how far that is off is not known. \
             `notchpin register` makes a registration."
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn room_is_told_of_the_nearer_limit() {
        // By hand: 900 − 850 = 50 is less than 850 − 0.
        assert_eq!(
            room(850.0, Some(0.0), Some(900.0), 2),
            "50.00 to its limit at 900"
        );
        assert_eq!(
            room(-1.5, Some(0.0), Some(900.0), 2),
            "1.50 beyond its limit at 0"
        );
        assert_eq!(room(10.0, None, None, 2), "");
    }

    /// By hand: what is not far enough is never told as clear, and no distance is rounded up.
    #[test]
    fn what_is_not_clear_is_told_as_such() {
        let told = |clearance_mm: f64| {
            let room = Room {
                clearance_mm,
                needed_mm: 20.0,
                to: Some("column"),
            };
            worth(41.9, Some(room), None)
        };
        assert_eq!(
            told(-12.0),
            "margin 41 deg; 12.0 mm deep in column or more: NOT clear"
        );
        assert_eq!(
            told(19.97),
            "margin 41 deg; 19.9 mm to column, 20 mm are needed: NOT clear"
        );
        assert_eq!(told(20.0), "margin 41 deg; 20 mm to column: clear");
        assert_eq!(told(23.9), "margin 41 deg; 23 mm to column: clear");
        assert_eq!(worth(-0.3, None, None), "beyond a limit by 0.3 deg");
        assert_eq!(
            too_near(19.97, "the forearm", "column", 20.0),
            "the forearm is 19.9 mm from column, and 20 mm are needed"
        );
    }

    #[test]
    fn stretches_are_told_in_order() {
        assert_eq!(
            stretches(&[[0.0, 512.25], [600.0, 600.0]], 2),
            "track 0 to 512.25, 600"
        );
        assert_eq!(stretches(&[], 2), "");
    }

    /// By hand: of an inch thousandths are 0.0254 mm, ten-thousandths 0.0025; of a radian 0.0057 deg.
    #[test]
    fn a_reading_has_as_many_decimals_as_its_unit_asks_for() {
        assert_eq!(decimals(1.0), 2);
        assert_eq!(decimals(-1.0012), 2);
        assert_eq!(decimals(0.9991), 2);
        assert_eq!(decimals(25.4), 4);
        assert_eq!(decimals(1.0_f64.to_degrees()), 4);
        // A thousand counts for a millimetre.
        assert_eq!(decimals(0.001), 0);
        assert_eq!(decimals(0.0), 2);
        assert_eq!(short(1200.0, 0), "1200");
        assert_eq!(kept(1.234_567_8, None, 4), "1.234568");
    }

    /// By hand: what is told of limits and stretches lies within them, and so does what is kept.
    #[test]
    fn rounding_goes_inward() {
        assert_eq!(limits(Some(-1.006), Some(2.008), 2), "-1 to 2");
        assert_eq!(limits(None, Some(900.0), 2), "no limit to 900");
        assert_eq!(stretches(&[[0.001, 0.129]], 2), "track 0.01 to 0.12");
        assert_eq!(stretches(&[[0.321, 0.322]], 2), "track 0.32");
        // 0.1 + 0.2 is a little more than 0.3 and is told as 0.3.
        assert_eq!(limits(Some(0.1 + 0.2), Some(0.9), 1), "0.3 to 0.9");
        let limits = Some((-1.000_04, 1.000_08));
        assert_eq!(kept(1.000_08, limits, 2), "1");
        assert_eq!(kept(-1.000_04, limits, 2), "-1");
        assert_eq!(kept(1.000_17, Some((0.0, 1.000_17)), 2), "1.0001");
        // What lies outside is not brought in.
        assert_eq!(kept(1.000_18, Some((0.0, 1.000_17)), 2), "1.0002");
        assert_eq!(kept(0.5, limits, 2), "0.5");
    }
}
