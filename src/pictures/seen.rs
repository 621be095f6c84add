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
    /// File and line.
    pub(super) place: String,
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
            (false, true, _) => Some(length),
            (false, false, _) => None,
        }
    }
    pub(super) fn length(&self) -> f64 {
        self.off.0.hypot(self.off.1)
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
            at: (0.0, 0.0),
            off,
            sigma: (0.0, 0.0),
            u,
            checked: true,
            from_others: None,
            suspect: false,
            pulled: false,
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
            let one = one.get_or_insert_with(|| Seen {
                place: format!("{} line {}", short(&r.file), r.line),
                at,
                off: (0.0, 0.0),
                sigma: (0.0, 0.0),
                u: 0.0,
                checked: false,
                from_others: None,
                suspect: false,
                pulled: false,
            });
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
    all
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
    let checked: Vec<&Seen> = seen.iter().filter(|s| s.checked).collect();
    let outside = checked.iter().filter(|s| s.share() > 1.0).count();
    let suspects: Vec<&Seen> = seen.iter().filter(|s| s.suspect).collect();
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
    let usual = match (n, outside) {
        (1, 0) => "ends inside its ellipse or bar",
        (_, 0) => "all end inside their ellipse or bar",
        (_, 1) => "one ends outside its ellipse or bar; about 1 in 20 does so by chance",
        _ => "end outside their ellipse or bar; about 1 in 20 does so by chance",
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
            "Of 2 heights that others check one ends outside its ellipse or bar; about 1 in 20 does so by chance. \
             One more is checked by nothing and has no ellipse. The largest is 0.50 mm at holes.csv line 6."
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
        assert_eq!(pulled.beside(true).as_deref(), Some("5.00 mm"));
        assert_eq!(pulled.beside(false), None);
    }
}
