//! One value of the file, turned into numbers, texts, lists and tables.

use std::ops::Range as Span;

use nalgebra::Vector3;
use toml::de::DeInteger;
use toml::de::DeValue;

use crate::cell::parse::reader::Context;
use crate::cell::parse::reader::Finding;
use crate::cell::parse::reader::TableReader;
use crate::cell::parse::reader::is_name;
use crate::cell::parse::reader::quoted;
use crate::diagnose::Severity;
use crate::units::Angle;
use crate::units::Length;
use crate::units::Range;

/// The unit that the key's suffix names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unit {
    Plain,
    Millimetres,
    Inches,
    Degrees,
}

impl Unit {
    /// To millimetres or radians.
    fn convert(self, number: f64) -> f64 {
        match self {
            Unit::Plain => number,
            Unit::Millimetres => Length::mm(number).as_mm(),
            Unit::Inches => Length::inches(number).as_mm(),
            Unit::Degrees => Angle::deg(number).as_rad(),
        }
    }
}

/// A value and where it stands.
pub(super) struct Item<'a> {
    pub(super) context: &'a Context<'a>,
    /// Dotted path of the key.
    pub(super) field: String,
    pub(super) key: String,
    pub(super) key_span: Span<usize>,
    pub(super) span: Span<usize>,
    pub(super) value: DeValue<'a>,
    pub(super) unit: Unit,
}

impl<'a> Item<'a> {
    /// Reports an error at the value.
    pub(super) fn refuse(&self, found: impl Into<String>, expected: &str, advice: &str) {
        self.report(&self.span, Severity::Error, found.into(), expected, advice);
    }

    /// Reports an error at the key.
    pub(super) fn refuse_key(&self, found: impl Into<String>, expected: &str, advice: &str) {
        self.report(
            &self.key_span,
            Severity::Error,
            found.into(),
            expected,
            advice,
        );
    }

    /// Reports at the value that something else is not there.
    pub(super) fn refuse_for_lack(&self, found: impl Into<String>, expected: &str, advice: &str) {
        self.context.report(Finding {
            span: self.span.clone(),
            severity: Severity::Error,
            absence: true,
            field: self.field.clone(),
            found: found.into(),
            expected: expected.to_owned(),
            advice: advice.to_owned(),
        });
    }

    /// Reports something at the value that a person should look at.
    pub(super) fn doubt(&self, found: impl Into<String>, expected: &str, advice: &str) {
        self.report(
            &self.span,
            Severity::Warning,
            found.into(),
            expected,
            advice,
        );
    }

    fn report(
        &self,
        span: &Span<usize>,
        severity: Severity,
        found: String,
        expected: &str,
        advice: &str,
    ) {
        self.context.report(Finding {
            span: span.clone(),
            severity,
            absence: false,
            field: self.field.clone(),
            found,
            expected: expected.to_owned(),
            advice: advice.to_owned(),
        });
    }

    /// The value as it stands in the file.
    pub(super) fn written(&self) -> String {
        self.context.written(&self.span)
    }

    fn mismatch(&self, expected: &str) {
        let (kind, advice) = match self.value {
            DeValue::String(_) => ("a text", "write it without quotes if it is a number"),
            DeValue::Integer(_) | DeValue::Float(_) => ("a number", "write what is expected"),
            DeValue::Boolean(_) => ("a yes or no", "write what is expected"),
            DeValue::Datetime(_) => ("a date or a time", "write what is expected"),
            DeValue::Array(_) => ("a list", "write it without the square brackets"),
            DeValue::Table(_) => ("a table", "write a value after `=`"),
        };
        let advice = match expected {
            "a text" => "put it in double quotes",
            "a table" => "write its keys under a line of its own in square brackets",
            _ if expected.contains("list") => "write it in square brackets, with commas between",
            _ => advice,
        };
        let found = match self.value {
            // The span of a table is that of its header, which says little.
            DeValue::Table(_) => kind.to_owned(),
            _ => format!("{kind}: {}", self.written()),
        };
        self.refuse(found, expected, advice);
    }

    /// A finite number, in mm or rad where the key names a unit.
    pub(super) fn number(&self) -> Option<f64> {
        let number = match &self.value {
            DeValue::Integer(integer) => integer_as_f64(integer),
            DeValue::Float(float) => float.as_str().parse().ok(),
            _ => {
                self.mismatch("a number");
                return None;
            }
        };
        let number = number.map(|n: f64| self.unit.convert(n));
        if let Some(number) = number.filter(|n| n.is_finite()) {
            return Some(number);
        }
        self.refuse(
            self.written(),
            "a finite number",
            "write the number that was measured or drawn, or leave the key out if it may be",
        );
        None
    }

    /// A number that passes `test`.
    fn number_that(&self, test: fn(f64) -> bool, expected: &str, advice: &str) -> Option<f64> {
        let number = self.number()?;
        if test(number) {
            return Some(number);
        }
        self.refuse(self.written(), expected, advice);
        None
    }

    pub(super) fn positive(&self) -> Option<f64> {
        self.number_that(|n| n > 0.0, "a number above 0", "write a positive number")
    }

    pub(super) fn not_negative(&self) -> Option<f64> {
        self.number_that(
            |n| n >= 0.0,
            "0 or a number above 0",
            "write it without the minus sign",
        )
    }

    /// The scale of an axis.
    pub(super) fn scale(&self) -> Option<f64> {
        self.number_that(
            |n| n != 0.0,
            "a scale other than 0",
            "write how much the axis moves for one unit of its reading, with its sign",
        )
    }

    /// A whole number of at least 1 and at most `most`.
    pub(super) fn count(&self, most: u32) -> Option<u32> {
        let expected = format!("a whole number from 1 to {most}");
        match &self.value {
            DeValue::Integer(integer) => {
                let count = i64::from_str_radix(integer.as_str(), integer.radix()).ok();
                let count = count.and_then(|n| u32::try_from(n).ok());
                if let Some(count) = count.filter(|n| (1..=most).contains(n)) {
                    return Some(count);
                }
                self.refuse(self.written(), &expected, "write how many there are");
            }
            DeValue::Float(_) => {
                self.refuse(
                    self.written(),
                    &expected,
                    "write it without a decimal point",
                );
            }
            _ => self.mismatch(&expected),
        }
        None
    }

    pub(super) fn text(&self) -> Option<&str> {
        if let DeValue::String(text) = &self.value {
            return Some(text);
        }
        self.mismatch("a text");
        None
    }

    /// The key, where keys are names that people choose.
    pub(super) fn name(&self) -> Option<String> {
        if is_name(&self.key) {
            return Some(self.key.clone());
        }
        self.refuse_key(
            format!("the name {}", quoted(&self.key)),
            EXPECTED_NAME,
            "choose another name, and use it in the readings too",
        );
        None
    }

    /// The elements of a list.
    pub(super) fn list(self, expected: &str) -> Option<Vec<Item<'a>>> {
        let DeValue::Array(_) = &self.value else {
            self.mismatch(expected);
            return None;
        };
        let DeValue::Array(array) = self.value else {
            return None;
        };
        let element = |value: toml::Spanned<DeValue<'a>>| Item {
            context: self.context,
            field: self.field.clone(),
            key: self.key.clone(),
            key_span: self.key_span.clone(),
            span: value.span(),
            value: value.into_inner(),
            unit: self.unit,
        };
        Some(array.into_iter().map(element).collect())
    }

    /// Exactly `N` numbers; every wrong one is reported.
    pub(super) fn numbers<const N: usize>(self) -> Option<[f64; N]> {
        let expected = format!("a list of {N} numbers");
        if let DeValue::Array(array) = &self.value
            && array.len() != N
        {
            let found = match array.len() {
                1 => format!("1 number: {}", self.written()),
                n => format!("{n} numbers: {}", self.written()),
            };
            let advice = format!("write {N} numbers in square brackets, with commas between");
            self.refuse(found, &format!("{N} numbers"), &advice);
            return None;
        }
        let numbers: Vec<_> = self.list(&expected)?.iter().map(Item::number).collect();
        let numbers: Option<Vec<f64>> = numbers.into_iter().collect();
        numbers?.try_into().ok()
    }

    pub(super) fn vector(self) -> Option<Vector3<f64>> {
        self.numbers::<3>().map(Vector3::from)
    }

    /// A direction, made a unit vector.
    pub(super) fn direction(self) -> Option<Vector3<f64>> {
        let seed = self.alike();
        let vector = self.vector()?;
        // Divided by the largest component first: nothing over- or underflows.
        let largest = vector.amax();
        if largest > 0.0 {
            return Some((vector / largest).normalize());
        }
        seed.refuse(
            seed.written(),
            "a direction, that is not all of x, y and z 0",
            "write which way it points, for example [0, 0, 1]",
        );
        None
    }

    /// Two limits, the lower first.
    pub(super) fn range(self) -> Option<Range> {
        let seed = self.alike();
        let [low, high] = self.numbers::<2>()?;
        if low < high {
            return Some(Range { low, high });
        }
        let advice = if low > high {
            "the limits are upside down: swap them"
        } else {
            "the limits are equal, which leaves no room to move: write how far it can go"
        };
        seed.refuse(
            seed.written(),
            "the lower limit, then the upper limit",
            advice,
        );
        None
    }

    /// The same place with no value, to report at when the value is gone.
    pub(super) fn alike(&self) -> Item<'a> {
        Item {
            context: self.context,
            field: self.field.clone(),
            key: self.key.clone(),
            key_span: self.key_span.clone(),
            span: self.span.clone(),
            value: DeValue::Boolean(false),
            unit: self.unit,
        }
    }

    /// The keys of a table.
    pub(super) fn table(self) -> Option<TableReader<'a>> {
        match self.value {
            DeValue::Table(table) => {
                Some(TableReader::new(self.context, self.field, self.span, table))
            }
            _ => {
                self.mismatch("a table");
                None
            }
        }
    }
}

/// What a name must look like.
pub(super) const EXPECTED_NAME: &str = "a name of letters (a to z, A to Z), digits, `_` and `-`";

fn integer_as_f64(integer: &DeInteger<'_>) -> Option<f64> {
    match integer.radix() {
        10 => integer.as_str().parse().ok(),
        // A number this long is not meant as a measure; rounding to a double is what TOML allows.
        radix => i128::from_str_radix(integer.as_str(), radix)
            .ok()
            .map(|n| n as f64),
    }
}
