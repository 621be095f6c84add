//! Takes the keys of a table one by one, and at the end reports what is left over or missing.

use std::cell::RefCell;
use std::ops::Range as Span;

use toml::Spanned;
use toml::de::DeTable;
use toml::de::DeValue;

use crate::cell::parse::value::Item;
use crate::cell::parse::value::Unit;
use crate::diagnose::Severity;
use crate::diagnose::nearest;

/// One problem, by its bytes in the text.
pub(super) struct Finding {
    pub(super) span: Span<usize>,
    pub(super) severity: Severity,
    /// Whether it says that something is not there (which a syntax error may have hidden).
    pub(super) absence: bool,
    pub(super) field: String,
    pub(super) found: String,
    pub(super) expected: String,
    pub(super) advice: String,
}

/// The text being read and what was found so far.
pub(super) struct Context<'a> {
    text: &'a str,
    findings: RefCell<Vec<Finding>>,
}

impl<'a> Context<'a> {
    pub(super) fn new(text: &'a str) -> Self {
        Context {
            text,
            findings: RefCell::default(),
        }
    }
    pub(super) fn report(&self, finding: Finding) {
        self.findings.borrow_mut().push(finding);
    }
    /// All findings; none are left.
    pub(super) fn take_findings(&self) -> Vec<Finding> {
        self.findings.take()
    }
    /// The text as it stands in the file, in back quotes, cut to a line's length.
    pub(super) fn written(&self, span: &Span<usize>) -> String {
        quoted(self.text.get(span.clone()).unwrap_or_default())
    }
}

/// `text` in back quotes, on one line, cut where it is long.
pub(super) fn quoted(text: &str) -> String {
    format!("`{}`", shortened(text))
}

/// `text` on one line, without control characters, cut where it is long.
fn shortened(text: &str) -> String {
    const LONGEST: usize = 60;
    let mut short: String = text
        .chars()
        .take(LONGEST)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if text.chars().nth(LONGEST).is_some() {
        short.push('…');
    }
    short
}

/// What a key's suffix says of its value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// No suffix.
    Plain,
    /// `_mm` or `_in`.
    Length,
    /// `_deg`.
    Degrees,
}

impl Kind {
    fn keys(self, stem: &str) -> Vec<(String, Unit)> {
        match self {
            Kind::Plain => vec![(stem.to_owned(), Unit::Plain)],
            Kind::Degrees => vec![(format!("{stem}_deg"), Unit::Degrees)],
            Kind::Length => vec![
                (format!("{stem}_mm"), Unit::Millimetres),
                (format!("{stem}_in"), Unit::Inches),
            ],
        }
    }
}

struct Entry<'a> {
    key: String,
    key_span: Span<usize>,
    value: Spanned<DeValue<'a>>,
}

struct Missing {
    keys: Vec<String>,
    example: String,
}

/// One table of the file.
pub(super) struct TableReader<'a> {
    context: &'a Context<'a>,
    /// Dotted path, empty for the whole file.
    pub(super) path: String,
    /// Its header.
    pub(super) span: Span<usize>,
    entries: Vec<Entry<'a>>,
    known: Vec<String>,
    missing: Vec<Missing>,
}

impl<'a> TableReader<'a> {
    pub(super) fn new(
        context: &'a Context<'a>,
        path: String,
        span: Span<usize>,
        table: DeTable<'a>,
    ) -> Self {
        let mut entries: Vec<_> = table
            .into_iter()
            .map(|(key, value)| Entry {
                key_span: key.span(),
                key: key.into_inner().into_owned(),
                value,
            })
            .collect();
        // In the order of the file, not of the alphabet.
        entries.sort_by_key(|e| e.key_span.start);
        TableReader {
            context,
            path,
            span,
            entries,
            known: Vec::new(),
            missing: Vec::new(),
        }
    }

    /// Whether the table has this key and nobody has taken it yet.
    pub(super) fn has(&self, key: &str) -> bool {
        self.entries.iter().any(|e| e.key == key)
    }

    /// Takes a key that may be left out.
    pub(super) fn ask(&mut self, stem: &str, kind: Kind) -> Option<Item<'a>> {
        let mut taken: Option<Item<'a>> = None;
        for (key, unit) in kind.keys(stem) {
            let place = self.entries.iter().position(|e| e.key == key);
            self.known.push(key);
            let Some(place) = place else { continue };
            let entry = self.entries.remove(place);
            let item = self.item(entry, unit);
            match &taken {
                Some(first) => exclude(&item, first),
                None => taken = Some(item),
            }
        }
        taken
    }

    /// Takes a key that must be there; `example` is a line that would do.
    pub(super) fn need(&mut self, stem: &str, kind: Kind, example: &str) -> Option<Item<'a>> {
        let item = self.ask(stem, kind);
        if item.is_none() {
            let keys: Vec<_> = kind.keys(stem).into_iter().map(|(key, _)| key).collect();
            self.lacks(keys, example);
        }
        item
    }

    /// Says that one of these keys must be there.
    pub(super) fn lacks(&mut self, keys: Vec<String>, example: &str) {
        self.missing.push(Missing {
            keys,
            example: example.to_owned(),
        });
    }

    /// Reports an error at the table's header, about a key that is not there.
    pub(super) fn refuse(&self, key: &str, found: String, expected: &str, advice: &str) {
        self.context.report(Finding {
            span: self.span.clone(),
            severity: Severity::Error,
            absence: true,
            field: self.field(key),
            found,
            expected: expected.to_owned(),
            advice: advice.to_owned(),
        });
    }

    /// Takes all that is left: every key is a name.
    pub(super) fn rest(&mut self) -> Vec<Item<'a>> {
        let entries = std::mem::take(&mut self.entries);
        entries
            .into_iter()
            .map(|entry| self.item(entry, Unit::Plain))
            .collect()
    }

    fn item(&self, entry: Entry<'a>, unit: Unit) -> Item<'a> {
        Item {
            context: self.context,
            field: self.field(&entry.key),
            key: entry.key,
            key_span: entry.key_span,
            span: entry.value.span(),
            value: entry.value.into_inner(),
            unit,
        }
    }

    fn field(&self, key: &str) -> String {
        let key = if is_name(key) {
            shortened(key)
        } else {
            format!("\"{}\"", shortened(key))
        };
        if self.path.is_empty() {
            key
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// `[plate]`, `the file`.
    fn title(&self) -> String {
        match self.path.as_str() {
            "" => "the file".to_owned(),
            path => format!("[{path}]"),
        }
    }

    /// Reports unknown keys, each with the nearest known one, and the keys that are missing.
    pub(super) fn finish(self) {
        let mut meant = Vec::new();
        for entry in &self.entries {
            // No known key is nearly this long, and comparing takes time.
            let known = self.known.iter().map(String::as_str);
            let near = nearest(&entry.key, known.filter(|_| entry.key.len() < 64));
            let advice = match near {
                Some(near) => {
                    meant.push(near.to_owned());
                    format!("did you mean `{near}`? Correct the key, or remove it")
                }
                None => "remove the key, or move it to the table that it belongs to".to_owned(),
            };
            let known: Vec<_> = self
                .known
                .iter()
                .filter(|key| !key.ends_with("_in"))
                .map(|key| format!("`{key}`"))
                .collect();
            self.context.report(Finding {
                span: entry.key_span.clone(),
                severity: Severity::Error,
                absence: false,
                field: self.field(&entry.key),
                found: format!("the unknown key {} in {}", quoted(&entry.key), self.title()),
                expected: format!("one of {}", known.join(", ")),
                advice,
            });
        }
        // A misspelt key is one mistake, not two.
        let truly_missing = |m: &&Missing| !m.keys.iter().any(|key| meant.contains(key));
        for missing in self.missing.iter().filter(truly_missing) {
            let key = missing.keys.first().map_or("", String::as_str);
            self.context.report(Finding {
                span: self.span.clone(),
                severity: Severity::Error,
                absence: true,
                field: self.field(key),
                found: format!("no `{key}` in {}", self.title()),
                expected: format!("`{}`", missing.keys.join("` or `")),
                advice: format!("add it, for example `{}`", missing.example),
            });
        }
    }
}

/// Reports that two keys of one table exclude each other, at the one that stands later.
pub(super) fn exclude(a: &Item<'_>, b: &Item<'_>) {
    let (later, earlier) = if a.key_span.start > b.key_span.start {
        (a, b)
    } else {
        (b, a)
    };
    later.refuse_key(
        format!("both `{}` and `{}`", earlier.key, later.key),
        "only one of the two",
        "remove the one that does not hold",
    );
}

/// Names are made of ASCII letters, digits, `_` and `-`.
pub(super) fn is_name(name: &str) -> bool {
    !name.is_empty()
        && name
            .bytes()
            .all(|b| b.is_ascii_alphanumeric() || b == b'_' || b == b'-')
}
