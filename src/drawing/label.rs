//! Where labels go: on lines, beside marks, and never on one another.

use crate::drawing::text::Area;

/// Places tried along a line.
const TRIED: usize = 48;
/// One more label for so much more line, in px.
const EVERY_PX: f64 = 620.0;
/// Distances from a mark at which a label is tried, in px.
const DISTANCES_PX: [f64; 5] = [1.0, 10.0, 22.0, 38.0, 60.0];

fn distance(a: (f64, f64), b: (f64, f64)) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

/// Length of a line on paper.
pub fn length(points: &[(f64, f64)]) -> f64 {
    points.windows(2).map(|w| distance(w[0], w[1])).sum()
}

/// The point at a length along a line, given the lengths at its points.
fn along(points: &[(f64, f64)], reached: &[f64], at: f64) -> (f64, f64) {
    let k = reached
        .partition_point(|r| *r < at)
        .clamp(1, points.len() - 1);
    let (a, b) = (points[k - 1], points[k]);
    let span = reached[k] - reached[k - 1];
    let share = if span > 0.0 {
        ((at - reached[k - 1]) / span).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1))
}

/// Rooms for a label of this size on a line: where the line is straightest, within `within`, clear of
/// all in `taken`, to which they are added. None on a line shorter than five labels.
pub fn on_line(
    points: &[(f64, f64)],
    size: (f64, f64),
    within: &Area,
    taken: &mut Vec<Area>,
) -> Vec<Area> {
    let mut reached = vec![0.0];
    for pair in points.windows(2) {
        let so_far = reached[reached.len() - 1];
        reached.push(so_far + distance(pair[0], pair[1]));
    }
    let length = reached[reached.len() - 1];
    let half = size.0.hypot(size.1) / 2.0;
    let long_enough = length > 10.0 * half && length.is_finite();
    if !long_enough || points.len() < 2 {
        return Vec::new();
    }
    let mut tried: Vec<(f64, f64)> = (1..TRIED)
        .map(|k| length * k as f64 / TRIED as f64)
        .map(|at| {
            let ends = (
                along(points, &reached, (at - half).max(0.0)),
                along(points, &reached, (at + half).min(length)),
            );
            // From 0 (turns back) to 1 (straight), and rather near the middle of the line.
            let straight = distance(ends.0, ends.1) / (2.0 * half);
            let middle = (at / length - 0.5).abs();
            (straight - 0.2 * middle, at)
        })
        .collect();
    tried.sort_by(|a, b| b.0.total_cmp(&a.0));
    let wanted = 1 + (length / EVERY_PX) as usize;
    let mut found: Vec<Area> = Vec::new();
    for (_, at) in tried {
        let room = Area::around(along(points, &reached, at), size.0, size.1);
        let apart = found
            .iter()
            .all(|other| distance(other.centre(), room.centre()) > EVERY_PX / 3.0);
        let free = !taken.iter().any(|other| other.meets(&room));
        if apart && free && within.holds(&room) {
            taken.push(room);
            found.push(room);
            if found.len() == wanted {
                break;
            }
        }
    }
    found
}

/// Room for a label of this size beside a mark (its own room given): to the right, left, above, below,
/// at the corners, then farther off; within `within` and clear of all in `taken`, to which it is added.
/// None where there is no such place.
pub fn beside(mark: &Area, size: (f64, f64), within: &Area, taken: &mut Vec<Area>) -> Option<Area> {
    placed(mark, size, within, taken, &DISTANCES_PX)
}

fn placed(
    mark: &Area,
    size: (f64, f64),
    within: &Area,
    taken: &mut Vec<Area>,
    distances_px: &[f64],
) -> Option<Area> {
    let free = |room: &Area| within.holds(room) && !taken.iter().any(|other| other.meets(room));
    let room = places(mark, size, distances_px).find(free)?;
    taken.push(room);
    Some(room)
}

/// All rooms round a mark in which a label of this size is tried: at each distance to the right, left, above,
/// below, then at the corners.
pub fn places(mark: &Area, size: (f64, f64), distances_px: &[f64]) -> impl Iterator<Item = Area> {
    const SIDES: [(f64, f64); 8] = [
        (1.0, 0.0),
        (-1.0, 0.0),
        (0.0, -1.0),
        (0.0, 1.0),
        (1.0, -1.0),
        (1.0, 1.0),
        (-1.0, -1.0),
        (-1.0, 1.0),
    ];
    let (centre, wide, high) = (mark.centre(), mark.width(), mark.height());
    distances_px.iter().flat_map(move |off| {
        SIDES.iter().map(move |(dx, dy)| {
            let at = (
                centre.0 + dx * ((wide + size.0) / 2.0 + off),
                centre.1 + dy * ((high + size.1) / 2.0 + off),
            );
            Area::around(at, size.0, size.1)
        })
    })
}

/// The parts of a line outside all rooms. A closed line has its first point repeated.
pub fn without(points: &[(f64, f64)], rooms: &[Area]) -> Vec<Vec<(f64, f64)>> {
    let mut parts = vec![points.to_vec()];
    for room in rooms {
        parts = parts.iter().flat_map(|part| outside(part, room)).collect();
    }
    parts
}

fn outside(points: &[(f64, f64)], room: &Area) -> Vec<Vec<(f64, f64)>> {
    let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut part: Vec<(f64, f64)> = Vec::new();
    for pair in points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let at = |t: f64| (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
        let Some((enters, leaves)) = inside(a, b, room) else {
            if part.is_empty() {
                part.push(a);
            }
            part.push(b);
            continue;
        };
        if enters > 0.0 {
            if part.is_empty() {
                part.push(a);
            }
            part.push(at(enters));
        }
        parts.push(std::mem::take(&mut part));
        if leaves < 1.0 {
            part = vec![at(leaves), b];
        }
    }
    parts.push(part);
    parts.retain(|p| p.len() > 1);
    parts
}

/// Shares of the way from a to b between which it is inside the room (Liang and Barsky's clipping).
fn inside(a: (f64, f64), b: (f64, f64), room: &Area) -> Option<(f64, f64)> {
    let (mut enters, mut leaves) = (0.0f64, 1.0f64);
    for (from, by, low, high) in [
        (a.0, b.0 - a.0, room.left, room.right),
        (a.1, b.1 - a.1, room.top, room.bottom),
    ] {
        if by == 0.0 {
            if from <= low || from >= high {
                return None;
            }
            continue;
        }
        let (one, other) = ((low - from) / by, (high - from) / by);
        enters = enters.max(one.min(other));
        leaves = leaves.min(one.max(other));
    }
    (enters < leaves).then_some((enters, leaves))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_broken_where_its_label_stands() {
        // A line along y = 0 from 0 to 100, a room from 40 to 60.
        let points = [(0.0, 0.0), (50.0, 0.0), (100.0, 0.0)];
        let room = Area::around((50.0, 0.0), 20.0, 10.0);
        assert_eq!(
            without(&points, &[room]),
            [[(0.0, 0.0), (40.0, 0.0)], [(60.0, 0.0), (100.0, 0.0)]]
        );
        let far = Area::around((50.0, 30.0), 20.0, 10.0);
        assert_eq!(without(&points, &[far]), [points.to_vec()]);
        assert!(without(&points, &[Area::new(-1.0, -1.0, 200.0, 2.0)]).is_empty());
    }

    #[test]
    fn labels_keep_clear() {
        let paper = Area::new(0.0, -50.0, 200.0, 100.0);
        let line = [(0.0, 0.0), (200.0, 0.0)];
        let mut taken = Vec::new();
        let first = on_line(&line, (20.0, 10.0), &paper, &mut taken);
        // Straight everywhere: the middle wins.
        assert_eq!(first, [Area::around((100.0, 0.0), 20.0, 10.0)]);
        let second = on_line(&line, (20.0, 10.0), &paper, &mut taken);
        assert!(second.len() == 1 && !second[0].meets(&first[0]));
        // A short line has none.
        assert!(on_line(&line, (70.0, 10.0), &paper, &mut taken).is_empty());
        assert!(on_line(&[(1.0, 1.0)], (7.0, 1.0), &paper, &mut taken).is_empty());
    }

    #[test]
    fn a_mark_in_the_corner_has_its_label_inside() {
        let paper = Area::new(0.0, 0.0, 100.0, 100.0);
        let mark = Area::around((96.0, 4.0), 8.0, 8.0);
        let mut taken = vec![mark];
        // Right does not fit; left does: it ends 1 px before the mark.
        let room = beside(&mark, (30.0, 8.0), &paper, &mut taken).unwrap();
        assert_eq!((room.right, room.centre().1), (91.0, 4.0));
        // Left is taken now, above does not fit, below sticks out at the right; the corner is free.
        let next = beside(&mark, (30.0, 8.0), &paper, &mut taken).unwrap();
        assert_eq!((next.right, next.top), (91.0, 9.0));
        assert_eq!(beside(&mark, (130.0, 8.0), &paper, &mut taken), None);
    }
}
