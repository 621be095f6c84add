//! Residuals of touches, counts and heights as a view shows them, and what is said of them.

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::pictures::marked::Marked;
use crate::pictures::scene::Subject;
use crate::pictures::scene::View;
use crate::readings::Reading;
use crate::registration::Document;
use crate::report::number;

/// Radius of the 95 % ellipse of two normal errors in units of their standard deviation: √5.991 (the 95 %
/// point of chi square with two degrees of freedom is −2 ln 0.05).
pub(super) const TWO: f64 = 2.447_746_830_680_816;
/// The same of one error.
pub(super) const ONE: f64 = 1.959_963_984_540_054;

/// One reading's residuals as a view shows them.
#[derive(Debug, Clone)]
pub(super) struct Seen {
    /// File and line: `holes.csv line 6`.
    pub(super) place: String,
    /// The same where there is little room: `holes 6`.
    pub(super) brief: String,
    /// What was taken, of several: touches, counts, heights.
    pub(super) kind: &'static str,
    /// Where, mm in the view.
    pub(super) at: (f64, f64),
    /// Its residual, mm in the view.
    pub(super) off: (f64, f64),
    /// Standard deviation that the residual has along the view's two directions, mm; 0: not read, or
    /// checked by nothing.
    pub(super) sigma: (f64, f64),
    /// Largest stated u of what the view shows of it, mm.
    pub(super) u: f64,
    /// Whether other readings check any of it; else its arrow is 0 but for rounding, right or wrong.
    pub(super) checked: bool,
    /// How far off it is from what the others say, mm in the view, where that is known.
    pub(super) from_others: Option<f64>,
    /// Named as what does not fit.
    pub(super) suspect: bool,
    /// Does not fit either, but others explain it.
    pub(super) pulled: bool,
    /// A check reading: it took no part, and `sigma` is what was predicted for it.
    pub(super) check: bool,
}

impl Seen {
    /// Whether it is drawn heavier.
    pub(super) fn flagged(&self) -> bool {
        self.suspect || self.pulled
    }
    /// A length with as many decimals as its u supports.
    pub(super) fn figure(&self, mm: f64) -> String {
        millimetres(mm, self.u)
    }
    /// A suspect in words: `holes.csv line 6: 49.72 mm from what the others say`.
    fn told(&self) -> String {
        match self.from_others {
            Some(mm) => format!(
                "{}: {} from what the others say",
                self.place,
                self.figure(mm)
            ),
            None => format!("{}: {} off", self.place, self.figure(self.length())),
        }
    }
    /// What stands beside its arrow: all of a suspect, and the whole length of one that is cut.
    pub(super) fn beside(&self, cut: bool) -> Option<String> {
        let length = self.figure(self.length());
        match (self.suspect, cut, self.from_others) {
            (true, true, Some(_)) => Some(format!("{} (arrow: {length})", self.told())),
            (true, _, _) => Some(self.told()),
            (false, true, _) => Some(format!("{}: {length}", self.brief)),
            (false, false, _) => None,
        }
    }
    pub(super) fn length(&self) -> f64 {
        self.off.0.hypot(self.off.1)
    }
    /// Whether it ends outside the ellipse or bar that it has.
    pub(super) fn outside(&self) -> bool {
        self.checked && self.share() > 1.0
    }
    pub(super) fn both(&self) -> bool {
        self.sigma.0 > 0.0 && self.sigma.1 > 0.0
    }
    /// How far out, in units of the ellipse or bar: up to 1 is inside.
    pub(super) fn share(&self) -> f64 {
        let part = |off: f64, sigma: f64| if sigma > 0.0 { off / sigma } else { 0.0 };
        let size = part(self.off.0, self.sigma.0).hypot(part(self.off.1, self.sigma.1));
        size / if self.both() { TWO } else { ONE }
    }

    #[cfg(test)]
    pub(super) fn by_hand(off: (f64, f64), u: f64) -> Seen {
        Seen {
            place: "holes.csv line 6".to_owned(),
            brief: "holes 6".to_owned(),
            kind: "counts",
            at: (0.0, 0.0),
            off,
            sigma: (0.0, 0.0),
            u,
            checked: true,
            from_others: None,
            suspect: false,
            pulled: false,
            check: false,
        }
    }
}

/// Where a component of a reading lies in a view, mm, and its direction there, if the view shows it.
pub(super) fn is_seen(
    reading: &Reading,
    component: usize,
    found: &Geometry,
    view: View,
) -> Option<((f64, f64), (f64, f64))> {
    let (place, direction) = reading.seen_at(found, component)?;
    let (u, v) = view.flat(&direction);
    // The elevation shows heights only: what lies across is in the plan.
    let seen = u.hypot(v) >= 0.5 && (view == View::Plan || v.abs() >= 0.5);
    seen.then(|| (view.flat(&place), (u, v)))
}

/// The residuals of touches, counts and heights as a view shows them, one for each reading.
pub(super) fn seen(
    subject: &Subject<'_>,
    bench: &Bench,
    document: &Document,
    view: View,
) -> Vec<Seen> {
    let marked = Marked::of(document);
    let mut all: Vec<Seen> = Vec::new();
    let mut rows = document.readings.iter().peekable();
    while let Some(first) = rows.next() {
        let mut of_row = vec![first];
        while let Some(next) = rows.next_if(|r| r.file == first.file && r.line == first.line) {
            of_row.push(next);
        }
        let taken = bench
            .taken
            .iter()
            .find(|t| *t.file == *first.file && t.line == first.line);
        let Some(taken) = taken else { continue };
        let off = marked.off(&first.file, first.line);
        let mut from_others = (0.0, 0.0);
        let mut one: Option<Seen> = None;
        for (k, r) in of_row.iter().enumerate() {
            let Some((at, (u, v))) = is_seen(&taken.reading, k, subject.found, view) else {
                continue;
            };
            let one = one.get_or_insert_with(|| blank(&taken.reading, &r.file, r.line, at));
            one.off.0 += r.residual * u;
            one.off.1 += r.residual * v;
            one.u = one.u.max(r.u);
            if r.standardized.is_some() {
                let sigma = r.u * r.redundancy.max(0.0).sqrt();
                one.sigma.0 = one.sigma.0.hypot(sigma * u);
                one.sigma.1 = one.sigma.1.hypot(sigma * v);
                one.checked = true;
            }
            if let Some(off) = off.and_then(|off| off.get(k)) {
                from_others = (from_others.0 + off * u, from_others.1 + off * v);
                one.from_others =
                    Some(from_others.0.hypot(from_others.1)).filter(|f| f.is_finite());
            }
            let named = marked.stands_out(r);
            one.suspect |= named;
            one.pulled |= r.suspect && !named;
        }
        all.extend(one);
    }
    all.extend(checks(subject, bench, document, view));
    all
}

/// A reading whose residuals are still to be put in.
fn blank(reading: &Reading, file: &str, line: usize, at: (f64, f64)) -> Seen {
    let short = short(file);
    Seen {
        place: format!("{short} line {line}"),
        brief: format!("{} {line}", short.strip_suffix(".csv").unwrap_or(short)),
        kind: match reading.file() {
            "holes.csv" => "counts",
            "height.csv" => "heights",
            _ => "touches",
        },
        at,
        off: (0.0, 0.0),
        sigma: (0.0, 0.0),
        u: 0.0,
        checked: false,
        from_others: None,
        suspect: false,
        pulled: false,
        check: false,
    }
}

/// The check readings as a view shows them: what each is off from what was predicted, and how sure that is.
fn checks(subject: &Subject<'_>, bench: &Bench, document: &Document, view: View) -> Vec<Seen> {
    let mut all: Vec<(&str, usize, Seen)> = Vec::new();
    // Components come one after another.
    let mut before: Option<(&str, usize, usize)> = None;
    for row in document.checks.iter().flat_map(|c| &c.rows) {
        let component = match before {
            Some((file, line, k)) if file == row.file && line == row.line => k + 1,
            _ => 0,
        };
        before = Some((&row.file, row.line, component));
        let mut taken = bench.taken.iter();
        let Some(taken) = taken.find(|t| *t.file == *row.file && t.line == row.line) else {
            continue;
        };
        let Some((at, (u, v))) = is_seen(&taken.reading, component, subject.found, view) else {
            continue;
        };
        let new = !all.iter().any(|(f, l, _)| *f == row.file && *l == row.line);
        if new {
            let blank = Seen {
                check: true,
                checked: true,
                ..blank(&taken.reading, &row.file, row.line, at)
            };
            all.push((&row.file, row.line, blank));
        }
        let Some((_, _, one)) = all.last_mut() else {
            continue;
        };
        one.off.0 += row.observed * u;
        one.off.1 += row.observed * v;
        one.u = one.u.max(row.predicted);
        one.sigma.0 = one.sigma.0.hypot(row.predicted * u);
        one.sigma.1 = one.sigma.1.hypot(row.predicted * v);
    }
    all.into_iter().map(|(_, _, one)| one).collect()
}

/// `touches, counts and heights`, of what is seen; what a view is made for first.
pub(super) fn kinds(seen: &[Seen], view: View) -> String {
    let order = match view {
        View::Plan => ["touches", "counts", "heights"],
        View::Elevation => ["heights", "touches", "counts"],
    };
    let there: Vec<&str> = order
        .into_iter()
        .filter(|kind| seen.iter().any(|s| s.kind == *kind))
        .collect();
    match &there[..] {
        [] => "readings".to_owned(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Most of those outside that are named.
const NAMED: usize = 5;

/// Those that end farthest outside, by file and line: `holes.csv line 6, touch.csv line 9 and 2 more`.
fn outermost(outside: &[&Seen]) -> String {
    let mut order = outside.to_vec();
    order.sort_by(|a, b| b.share().total_cmp(&a.share()));
    let named: Vec<&str> = order.iter().take(NAMED).map(|s| s.place.as_str()).collect();
    let more = match order.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    format!("{}{more}", named.join(", "))
}

/// What the check readings say; nothing where there are none.
fn of_checks(checks: &[&Seen]) -> Option<String> {
    let outside: Vec<&Seen> = checks.iter().copied().filter(|s| s.outside()).collect();
    let (are, they) = match checks.len() {
        0 => return None,
        1 => ("One check reading, which took no part, is", "it ends"),
        _ => ("check readings, which took no part, are", "all end"),
    };
    let count = match checks.len() {
        1 => String::new(),
        n => format!("{n} "),
    };
    let how = match outside.len() {
        0 => format!("{they} inside what was predicted"),
        1 if checks.len() == 1 => {
            format!(
                "it ends outside what was predicted: {}",
                outermost(&outside)
            )
        }
        1 => format!(
            "one ends outside what was predicted: {}",
            outermost(&outside)
        ),
        n => format!(
            "{n} end outside what was predicted: {}",
            outermost(&outside)
        ),
    };
    Some(format!("{count}{are} drawn with a diamond; {how}."))
}

/// A file's name without its folder.
fn short(file: &str) -> &str {
    file.rsplit('/').next().unwrap_or(file)
}

fn millimetres(mm: f64, sigma: f64) -> String {
    let decimals = number::decimals_for(sigma).min(2);
    format!("{} mm", number::fixed(mm, decimals))
}

/// How they lie, in sentences: what does not fit first.
///
/// `common`: why none is marked, where what does not fit has something in common.
pub(super) fn sentence(seen: &[Seen], view: View, common: Option<&str>) -> String {
    let (checks, seen): (Vec<&Seen>, Vec<&Seen>) = seen.iter().partition(|s| s.check);
    let checked: Vec<&Seen> = seen.iter().copied().filter(|s| s.checked).collect();
    let out: Vec<&Seen> = checked.iter().copied().filter(|s| s.outside()).collect();
    let outside = out.len();
    let suspects: Vec<&Seen> = seen.iter().copied().filter(|s| s.suspect).collect();
    let noun = |n: usize| match (view, n) {
        (View::Plan, 1) => "arrow",
        (View::Plan, _) => "arrows",
        (View::Elevation, 1) => "height",
        (View::Elevation, _) => "heights",
    };
    let mut said: Vec<String> = Vec::new();
    let named: Vec<String> = suspects.iter().take(4).map(|s| s.told()).collect();
    match suspects.len() {
        0 => {}
        1 => said.push(format!("One reading does not fit: {}.", named[0])),
        n => said.push(format!(
            "{n} readings do not fit (ringed): {}{}.",
            named.join("; "),
            if n > 4 { "; and more" } else { "" }
        )),
    }
    let pulled = seen.iter().filter(|s| s.pulled).count();
    said.extend(common.filter(|_| pulled > 0).map(str::to_owned));
    match pulled {
        0 => {}
        n if common.is_some() => said.push(format!(
            "{n} off beyond chance for it {} drawn heavier.",
            if n == 1 { "is" } else { "are" }
        )),
        1 => said.push("1 more is off beyond chance and may be pulled along.".to_owned()),
        n => said.push(format!(
            "{n} more are off beyond chance and may be pulled along."
        )),
    }
    let n = checked.len();
    let named = outermost(&out);
    let usual = match (n, outside) {
        (1, 0) => "ends inside its ellipse or bar".to_owned(),
        (_, 0) => "all end inside their ellipse or bar".to_owned(),
        (_, 1) => format!(
            "one ends outside its ellipse or bar (square at its foot: {named}); about 1 in 20 does so by chance"
        ),
        _ => format!(
            "end outside their ellipse or bar (square at the foot: {named}); about 1 in 20 does so by chance"
        ),
    };
    let of = match n == seen.len() {
        true => noun(n).to_owned(),
        false => format!("{} that others check", noun(n)),
    };
    match (n, outside) {
        (0, _) => {}
        (1, 0) => said.push(format!("The one {of} {usual}.")),
        (_, 0 | 1) => said.push(format!("Of {n} {of} {usual}.")),
        (_, k) => said.push(format!("Of {n} {of} {k} {usual}.")),
    }
    let all = checked.is_empty();
    match (seen.len() - n, all) {
        (0, _) => {}
        (1, true) => said.push(format!(
            "Nothing checks the one {}: it says nothing, right or wrong.",
            noun(1)
        )),
        (k, true) => said.push(format!(
            "Nothing checks any of {k} {}: they say nothing, right or wrong.",
            noun(k)
        )),
        (1, false) => said.push("One more is checked by nothing and has no ellipse.".to_owned()),
        (k, false) => said.push(format!(
            "{k} more are checked by nothing and have no ellipse."
        )),
    }
    let worst = checked
        .iter()
        .max_by(|a, b| a.length().total_cmp(&b.length()));
    if let Some(w) = worst {
        let part = match suspects.is_empty() && pulled == 0 {
            true => "",
            false => "; what does not fit took part and pulls at all arrows",
        };
        said.push(format!(
            "The largest is {} at {}{part}.",
            w.figure(w.length()),
            w.place
        ));
    }
    said.extend(of_checks(&checks));
    said.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(x: f64, y: f64) -> Seen {
        Seen {
            sigma: (0.2, 0.2),
            ..Seen::by_hand((x, y), 0.25)
        }
    }

    #[test]
    fn what_nothing_checks_is_neither_inside_nor_outside() {
        let unchecked = || Seen {
            sigma: (0.0, 0.0),
            checked: false,
            ..one(1e-13, 0.0)
        };
        assert_eq!(
            sentence(&[unchecked(), unchecked()], View::Plan, None),
            "Nothing checks any of 2 arrows: they say nothing, right or wrong."
        );
        // 2.448 · 0.2 = 0.4896 mm is the ellipse's radius.
        let mixed = [one(0.3, 0.0), one(0.0, 0.5), unchecked()];
        assert_eq!(
            sentence(&mixed, View::Elevation, None),
            "Of 2 heights that others check one ends outside its ellipse or bar (square at its foot: \
             holes.csv line 6); about 1 in 20 does so by chance. One more is checked by nothing and has no ellipse. The largest is 0.50 mm at holes.csv line 6."
        );
        assert_eq!(
            sentence(&[one(0.48, 0.0), one(0.0, 0.1)], View::Plan, None),
            "Of 2 arrows all end inside their ellipse or bar. The largest is 0.48 mm at holes.csv line 6."
        );
    }

    #[test]
    fn a_suspect_is_told_by_what_the_others_say_and_its_arrow_by_its_length() {
        let named = Seen {
            suspect: true,
            from_others: Some(49.72),
            ..one(-37.8, 0.0)
        };
        let told = "holes.csv line 6: 49.72 mm from what the others say";
        assert_eq!(named.beside(false).as_deref(), Some(told));
        let cut = format!("{told} (arrow: 37.80 mm)");
        assert_eq!(named.beside(true), Some(cut));
        let said = sentence(std::slice::from_ref(&named), View::Plan, None);
        assert!(
            said.starts_with(&format!("One reading does not fit: {told}.")),
            "{said}"
        );
        assert!(
            said.ends_with(
                "The largest is 37.80 mm at holes.csv line 6; what does not fit took part and pulls at all arrows."
            ),
            "{said}"
        );
        // Others have a figure where they are cut.
        let pulled = Seen {
            pulled: true,
            ..one(3.0, 4.0)
        };
        assert_eq!(pulled.beside(true).as_deref(), Some("holes 6: 5.00 mm"));
        assert_eq!(pulled.beside(false), None);
    }

    #[test]
    fn up_to_five_that_end_outside_are_named_the_farthest_first() {
        // The ellipse's radius is 2.448 · 0.2 = 0.4896 mm: from 0.5 mm on they end outside.
        let at = |line: usize, mm: f64| Seen {
            place: format!("touch.csv line {line}"),
            ..one(mm, 0.0)
        };
        let mut all = vec![at(2, 0.48), at(3, 0.5), at(4, 0.9)];
        let said = sentence(&all, View::Plan, None);
        assert!(
            said.starts_with(
                "Of 3 arrows 2 end outside their ellipse or bar (square at the foot: touch.csv line 4, touch.csv \
                 line 3); about"
            ),
            "{said}"
        );
        all.extend((5..10).map(|line| at(line, line as f64)));
        let said = sentence(&all, View::Plan, None);
        let named = "touch.csv line 9, touch.csv line 8, touch.csv line 7, touch.csv line 6, touch.csv line 5 and 2 \
                     more)";
        assert!(said.contains(named), "{said}");
    }

    #[test]
    fn check_readings_are_told_apart() {
        let check = |line: usize, mm: f64| Seen {
            place: format!("touch.csv line {line}"),
            check: true,
            ..one(mm, 0.0)
        };
        let said = sentence(
            &[one(0.1, 0.0), check(7, 0.48), check(8, 0.5)],
            View::Plan,
            None,
        );
        assert_eq!(
            said,
            "The one arrow ends inside its ellipse or bar. The largest is 0.10 mm at holes.csv line 6. 2 check \
             readings, which took no part, are drawn with a diamond; one ends outside what was predicted: touch.csv \
             line 8."
        );
    }

    #[test]
    fn a_heading_names_what_is_there() {
        let of = |kind| Seen {
            kind,
            ..one(0.1, 0.0)
        };
        assert_eq!(
            kinds(&[of("touches"), of("touches")], View::Plan),
            "touches"
        );
        let all = [of("counts"), of("heights"), of("touches")];
        assert_eq!(kinds(&all, View::Plan), "touches, counts and heights");
        assert_eq!(kinds(&all[1..], View::Elevation), "heights and touches");
    }
}
