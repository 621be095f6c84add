//! Whether the records of a folder are all there, as they were written and in their order.
//!
//! Each record names the one before it and its digest, and `records/list.txt` has a line for each one
//! ever written. Neither is proof against somebody who wants to deceive; both notice what happens by
//! itself: a file that was deleted, edited, renamed, or copied in from elsewhere.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;

use crate::records::Link;
use crate::records::RecordError;
use crate::records::digest_in;
use crate::records::read_as;

/// How the names of the two sorts of records begin.
pub const PREFIXES: [&str; 2] = ["registration-", "recheck-"];
/// A longer run of missing numbers is told as one.
const RUN: u64 = 5;

/// A file of the folder `records`: its name and its text, or why it cannot be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Paper {
    /// Its name.
    pub name: String,
    /// What stands in it.
    pub text: Result<String, String>,
}

/// What is wrong with a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum FaultKind {
    /// It was written once and is not there.
    Missing,
    /// It was changed after it was written.
    Edited,
    /// It is whole, but not the one that stood there.
    Replaced,
    /// It stands under another number than it was written with.
    Renamed,
    /// It was not written in this folder.
    Foreign,
    /// It cannot be read.
    Unreadable,
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fault {
    /// The record.
    pub record: String,
    /// What it is.
    pub kind: FaultKind,
    /// In a sentence.
    pub sentence: String,
    /// What to do.
    pub to_do: String,
}

/// The state of all records.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Chain {
    /// What is wrong; nothing where the chain is whole.
    pub faults: Vec<Fault>,
    /// Records of an older version, which did not name the one before.
    pub unchained: Vec<String>,
    /// What is worth knowing and no fault.
    pub notes: Vec<String>,
}

impl Chain {
    /// Whether nothing is wrong.
    pub fn whole(&self) -> bool {
        self.faults.is_empty()
    }

    fn fault(&mut self, kind: FaultKind, record: &str, sentence: String) {
        // One fault is told once, however many records notice it.
        if self.faults.iter().any(|f| f.record == record) {
            return;
        }
        self.faults.push(Fault {
            record: record.to_owned(),
            kind,
            sentence,
            to_do: to_do(kind).to_owned(),
        });
    }
}

fn to_do(kind: FaultKind) -> &'static str {
    match kind {
        FaultKind::Missing => {
            "look for it in a copy of the folder and put it back under its name; without it nobody can say \
             what was registered then"
        }
        FaultKind::Edited => {
            "put the unchanged file back from a copy of the folder; do not mend it by hand. Without a copy \
             do not rely on it, and register again if it is the newest"
        }
        FaultKind::Replaced => {
            "find out which of the two is the true one and put that back from a copy of the folder; register \
             again if it is the newest"
        }
        FaultKind::Renamed => "give it its own name again",
        FaultKind::Foreign => {
            "move it out of the folder if it belongs to another cell; register again if it is the newest"
        }
        FaultKind::Unreadable => {
            "put the file back from a copy of the folder, or read it with the version that wrote it"
        }
    }
}

/// The number in a name of this sort: four digits, more without a leading zero.
pub fn number_in(name: &str, prefix: &str) -> Option<u64> {
    let digits = name.strip_prefix(prefix)?.strip_suffix(".json")?;
    let plain = digits.bytes().all(|b| b.is_ascii_digit());
    let padded = digits.len() == 4 || (digits.len() > 4 && !digits.starts_with('0'));
    (plain && padded).then(|| digits.parse().ok()).flatten()
}

/// The lines of `list.txt`: name and digest; and those that are neither, from 1.
fn lines_of(list: &str) -> (Vec<(&str, &str)>, Vec<usize>) {
    let (mut lines, mut torn) = (Vec::new(), Vec::new());
    for (k, line) in list.lines().enumerate() {
        if line.trim().is_empty() {
            continue;
        }
        match line.trim_end().split_once(' ') {
            Some((name, sha))
                if sha.len() == 64
                    && sha.bytes().all(|b| b.is_ascii_hexdigit())
                    && PREFIXES.iter().any(|p| number_in(name, p).is_some()) =>
            {
                lines.push((name, sha));
            }
            _ => torn.push(k + 1),
        }
    }
    (lines, torn)
}

/// Whether a record stands in `list.txt`, with this digest.
pub fn is_listed(list: &str, link: &Link) -> bool {
    let (lines, _) = lines_of(list);
    lines.contains(&(&link.file, &link.sha256))
}

/// What `list.txt` alone says against the newest registration: that a later one was written, or that
/// another one stood under its name. Looks at no other record.
pub fn newest_fault(list: &str, newest: &Link) -> Option<String> {
    let prefix = PREFIXES.iter().find(|p| newest.file.starts_with(**p))?;
    let number = number_in(&newest.file, prefix)?;
    let (lines, _) = lines_of(list);
    let own = || lines.iter().filter(|(name, _)| *name == newest.file);
    let later = lines.iter().filter_map(|(name, _)| number_in(name, prefix));
    if let Some(last) = later.max().filter(|last| *last > number) {
        return Some(format!(
            "{prefix}{last:04}.json was written later and is not there; {} is the newest that is left",
            newest.file
        ));
    }
    let other = own().next().is_some() && !own().any(|(_, sha)| *sha == newest.sha256);
    other.then(|| {
        format!(
            "{} is not the record that was written under that name (list.txt has another digest)",
            newest.file
        )
    })
}

/// What a record says of the one before it.
#[derive(Debug, Clone, PartialEq)]
enum Before {
    /// Nothing: an older version.
    Unsaid,
    /// It was the first one.
    None,
    /// This one.
    Link(Link),
}

#[derive(Deserialize)]
struct Head {
    #[serde(default, deserialize_with = "said")]
    predecessor: Option<Option<Link>>,
    #[serde(default)]
    against: Option<Link>,
}

/// Tells a key that is null from one that is not there.
fn said<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Option<Link>>, D::Error> {
    Option::<Link>::deserialize(from).map(Some)
}

/// A record as far as the chain goes.
struct Sheet<'a> {
    number: u64,
    name: &'a str,
    /// Its digest, which fits; `None` where it cannot be read.
    sha: Option<String>,
    before: Before,
    against: Option<Link>,
}

/// Looks at all records of a folder, and at the text of `list.txt` if it is there.
pub fn check(papers: &[Paper], list: Option<&str>) -> Chain {
    let mut chain = Chain::default();
    let (lines, torn) = lines_of(list.unwrap_or_default());
    for line in torn {
        chain.notes.push(format!(
            "list.txt, line {line} is no name with a digest: it was cut short when it was written, or edited; the \
             records themselves say what is missing"
        ));
    }
    let mut registrations = Vec::new();
    for prefix in PREFIXES {
        let mut sheets: Vec<Sheet<'_>> = papers
            .iter()
            .filter_map(|p| Some((number_in(&p.name, prefix)?, p)))
            .map(|(number, paper)| opened(number, paper, &mut chain))
            .collect();
        sheets.sort_by_key(|s| s.number);
        let of_sort = lines.iter().filter(|(n, _)| n.starts_with(prefix));
        let of_sort: Vec<(&str, &str)> = of_sort.copied().collect();
        Sorted {
            prefix,
            sheets: &sheets,
            lines: &of_sort,
        }
        .check(&mut chain);
        if prefix == PREFIXES[0] {
            registrations = sheets;
        } else {
            held_against(&sheets, &registrations, &mut chain);
        }
    }
    chain
}

fn opened<'a>(number: u64, paper: &'a Paper, chain: &mut Chain) -> Sheet<'a> {
    let name = paper.name.as_str();
    let mut sheet = Sheet {
        number,
        name,
        sha: None,
        before: Before::Unsaid,
        against: None,
    };
    let read = match &paper.text {
        Err(why) => {
            chain.fault(
                FaultKind::Unreadable,
                name,
                format!("{name} cannot be read: {why}"),
            );
            return sheet;
        }
        Ok(text) => digest_in(text).and_then(|sha| Ok((sha, read_as::<Head>(text)?))),
    };
    match read {
        Ok((sha, head)) => {
            sheet.sha = Some(sha);
            sheet.before = match head.predecessor {
                None => Before::Unsaid,
                Some(None) => Before::None,
                Some(Some(link)) => Before::Link(link),
            };
            sheet.against = head.against;
        }
        Err(e @ (RecordError::Edited | RecordError::Damaged(_))) => {
            chain.fault(FaultKind::Edited, name, format!("{name}: {e}"));
        }
        Err(e) => chain.fault(FaultKind::Unreadable, name, format!("{name}: {e}")),
    }
    sheet
}

/// The records of one sort.
struct Sorted<'a> {
    prefix: &'static str,
    sheets: &'a [Sheet<'a>],
    lines: &'a [(&'a str, &'a str)],
}

impl Sorted<'_> {
    fn named(&self, name: &str) -> Option<&Sheet<'_>> {
        self.sheets.iter().find(|s| s.name == name)
    }

    fn with(&self, sha: &str) -> Option<&Sheet<'_>> {
        self.sheets.iter().find(|s| s.sha.as_deref() == Some(sha))
    }

    fn lists(&self, name: &str, sha: &str) -> bool {
        self.lines.contains(&(name, sha))
    }

    fn check(&self, chain: &mut Chain) {
        self.renamed(chain);
        for (place, sheet) in self.sheets.iter().enumerate() {
            self.link(place, sheet, chain);
        }
        self.listed(chain);
        self.gaps(chain);
    }

    /// What a record says of the one before it.
    fn link(&self, place: usize, sheet: &Sheet<'_>, chain: &mut Chain) {
        let name = sheet.name;
        let link = match &sheet.before {
            Before::Link(link) => link,
            Before::None if sheet.number != 1 && sheet.sha.is_some() => {
                let first = format!("{}0001.json", self.prefix);
                let known = sheet
                    .sha
                    .as_ref()
                    .is_some_and(|sha| self.lists(&first, sha));
                let (kind, tail) = match known {
                    true => (FaultKind::Renamed, "its name was changed".to_owned()),
                    false => (FaultKind::Foreign, "list.txt does not know it".to_owned()),
                };
                let told = format!(
                    "{name} was written as the first record of a folder, as {first}; {tail}"
                );
                chain.fault(kind, name, told);
                return;
            }
            Before::None => return,
            Before::Unsaid => {
                if place > 0 && sheet.sha.is_some() {
                    chain.unchained.push(name.to_owned());
                }
                return;
            }
        };
        let same = self.with(&link.sha256);
        match (self.named(&link.file), same) {
            (_, Some(same)) if same.name != link.file => {
                let told = format!(
                    "{} is the record that stood before {name} as {}: its name was changed",
                    same.name, link.file
                );
                chain.fault(FaultKind::Renamed, same.name, told);
            }
            (_, Some(same)) if same.number >= sheet.number => {
                let told = format!(
                    "{name} names {} as the one before it, which has a later number: names were changed",
                    same.name
                );
                chain.fault(FaultKind::Renamed, name, told);
            }
            (_, Some(same)) => {
                let between = self.sheets[..place].iter();
                for other in between.filter(|s| s.number > same.number) {
                    let after = match &other.before {
                        Before::Link(link) => sheet.sha.as_ref() == Some(&link.sha256),
                        _ => false,
                    };
                    let (kind, told) = match after {
                        true => (
                            FaultKind::Renamed,
                            format!(
                                "{} was written after {name}, which has a later number: names were changed",
                                other.name
                            ),
                        ),
                        false => (
                            FaultKind::Foreign,
                            format!(
                                "{} was not there when {name} was written after {}: it was put in later",
                                other.name, same.name
                            ),
                        ),
                    };
                    chain.fault(kind, other.name, told);
                }
            }
            (None, None) => {
                let told = format!(
                    "{} is missing: {name} names it as the one before it",
                    link.file
                );
                chain.fault(FaultKind::Missing, &link.file, told);
            }
            (Some(there), None) => match &there.sha {
                // That it is damaged has been said.
                None => {}
                Some(sha)
                    if self.lists(&link.file, sha) && !self.lists(&link.file, &link.sha256) =>
                {
                    let told = format!(
                        "{name} follows a {} that was never in this folder: it comes from another one",
                        link.file
                    );
                    chain.fault(FaultKind::Foreign, name, told);
                }
                Some(_) => {
                    let told = format!(
                        "{} is not the record that {name} was written after: its digest fits itself, but {name} \
                         has another one for it",
                        link.file
                    );
                    chain.fault(FaultKind::Replaced, &link.file, told);
                }
            },
        }
    }

    /// Records that `list.txt` has under another name.
    fn renamed(&self, chain: &mut Chain) {
        for (name, sha) in self.lines {
            if let Some(other) = self.with(sha).filter(|s| s.name != *name) {
                let told = format!("{} was written as {name}: its name was changed", other.name);
                chain.fault(FaultKind::Renamed, other.name, told);
            }
        }
    }

    /// What `list.txt` says of names.
    fn listed(&self, chain: &mut Chain) {
        let mut by_name: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
        for (name, sha) in self.lines {
            by_name.entry(name).or_default().insert(sha);
        }
        for (name, shas) in &by_name {
            let here = self.named(name);
            let gone: Vec<&&str> = shas.iter().filter(|sha| self.with(sha).is_none()).collect();
            match here {
                None if !gone.is_empty() => {
                    let told = format!("{name} is missing: list.txt says that it was written");
                    chain.fault(FaultKind::Missing, name, told);
                }
                Some(Sheet { sha: Some(sha), .. }) if !shas.contains(sha.as_str()) => {
                    let told = format!(
                        "{name} is not the record that was written under that name: its digest fits itself, but \
                         list.txt has another one for it"
                    );
                    chain.fault(FaultKind::Replaced, name, told);
                }
                Some(Sheet { sha: Some(_), .. }) if !gone.is_empty() => {
                    let told = format!(
                        "another {name} is missing: list.txt says that one was written under that name before \
                         this one, so it was deleted"
                    );
                    chain.fault(FaultKind::Missing, name, told);
                }
                _ => {}
            }
        }
    }

    /// Numbers that are not there.
    fn gaps(&self, chain: &mut Chain) {
        let mut last = 0;
        for sheet in self.sheets {
            let (first, end) = (last + 1, sheet.number);
            last = sheet.number;
            let name = |n: u64| format!("{}{n:04}.json", self.prefix);
            if first >= end {
                continue;
            }
            let before = first.checked_sub(1).filter(|n| *n > 0).map(name);
            let told_of =
                |record: &str, chain: &Chain| chain.faults.iter().any(|f| f.record == record);
            match &sheet.before {
                Before::Unsaid if sheet.sha.is_some() => chain.notes.push(format!(
                    "numbers are missing before {}; it is of an older version, which does not say what stood there",
                    sheet.name
                )),
                Before::Link(link) if Some(&link.file) == before.as_ref() && !told_of(&link.file, chain) => {
                    let told = format!(
                        "{} follows {} and was written as {}: its name was changed",
                        sheet.name,
                        link.file,
                        name(first)
                    );
                    chain.fault(FaultKind::Renamed, sheet.name, told);
                }
                // Its own name was changed: what is missing before that name says nothing.
                _ if chain.faults.iter().any(|f| f.record == sheet.name && f.kind == FaultKind::Renamed) => {}
                _ if end - first > RUN => {
                    let told = format!("{} to {} are missing", name(first), name(end - 1));
                    chain.fault(FaultKind::Missing, &name(first), told);
                }
                _ => {
                    for n in first..end {
                        let told = format!("{} is missing: later numbers are there", name(n));
                        chain.fault(FaultKind::Missing, &name(n), told);
                    }
                }
            }
        }
    }
}

/// Rechecks name the registration that they were held against.
fn held_against(rechecks: &[Sheet<'_>], registrations: &[Sheet<'_>], chain: &mut Chain) {
    for recheck in rechecks {
        let Some(link) = &recheck.against else {
            continue;
        };
        let there = registrations.iter().find(|s| s.name == link.file);
        match there {
            None => {
                let told = format!(
                    "{} is missing: {} was held against it",
                    link.file, recheck.name
                );
                chain.fault(FaultKind::Missing, &link.file, told);
            }
            Some(Sheet { sha: Some(sha), .. }) if *sha != link.sha256 => {
                let told = format!(
                    "{} is not the record that {} was held against: it has another digest for it",
                    link.file, recheck.name
                );
                chain.fault(FaultKind::Replaced, &link.file, told);
            }
            _ => {}
        }
    }
}
