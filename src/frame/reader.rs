//! Taking typed values with their places out of a parsed TOML tree, collecting every fault.

use crate::fault::{Fault, Span};
use glam::DVec3;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value of the tree.
pub(super) type Val<'t> = Spanned<DeValue<'t>>;

/// Faults found so far.
pub(super) type Bad = Vec<Fault>;

/// A thing and where it stands in the file.
#[derive(Debug, Clone)]
pub(super) struct At<T> {
    /// The thing.
    pub v: T,
    /// Its place.
    pub span: Span,
}

/// A table being read. Its keys are checked against the list of allowed ones when it is opened, so
/// that a misspelt key is reported even if reading stops early.
pub(super) struct Tab<'t> {
    /// How the table is called in messages, for instance `[frame]` or `tube "left"`.
    pub place: String,
    /// Its place.
    pub span: Span,
    /// Its name, if it is the key under which the table stands (`[tubes] left = { … }`).
    pub named: Option<At<&'t str>>,
    entries: Vec<(&'t str, Span, &'t Val<'t>)>,
    keys: &'static [&'static str],
}

impl<'t> Tab<'t> {
    /// Open a table and report keys that are not in `keys`.
    pub fn open(
        table: &'t DeTable<'t>,
        span: Span,
        place: impl Into<String>,
        keys: &'static [&'static str],
        bad: &mut Bad,
    ) -> Self {
        let tab = Tab::free(table, span, place, keys);
        for (key, at, _) in &tab.entries {
            if !keys.contains(key) {
                let fault = Fault::new("E105", format!("{} has no key `{key}`", tab.place))
                    .at(at.clone(), "not a key of this table");
                bad.push(match nearest(key, keys.iter().copied()) {
                    Some(near) => fault.replace(near),
                    None => fault.help(format!("its keys are {}", keys.join(", "))),
                });
            }
        }
        tab
    }

    /// Open a table whose keys the user chooses (points, sections).
    pub fn free(
        table: &'t DeTable<'t>,
        span: Span,
        place: impl Into<String>,
        keys: &'static [&'static str],
    ) -> Self {
        let mut entries: Vec<_> = table.iter().map(|(k, v)| (k.get_ref().as_ref(), k.span(), v)).collect();
        // The tree is sorted by key; messages and defaults want the order of the file.
        entries.sort_by_key(|e| e.1.start);
        Tab { place: place.into(), span, named: None, entries, keys }
    }

    /// Entries in the order of the file: key, its place, value.
    pub fn entries(&self) -> &[(&'t str, Span, &'t Val<'t>)] {
        &self.entries
    }

    /// Is the key there?
    pub fn has(&self, key: &str) -> bool {
        self.entries.iter().any(|e| e.0 == key)
    }

    /// Place of a key, or of the table if it is not there.
    pub fn key_span(&self, key: &str) -> Span {
        self.entries.iter().find(|e| e.0 == key).map_or(self.span.clone(), |e| e.1.clone())
    }

    /// The value of a key.
    pub fn get(&self, key: &'static str) -> Option<&'t Val<'t>> {
        debug_assert!(self.keys.contains(&key), "{key} is not in the list of keys of {}", self.place);
        self.entries.iter().find(|e| e.0 == key).map(|e| e.2)
    }

    /// The value of a key that must be there.
    pub fn need(&self, key: &'static str, example: &str, bad: &mut Bad) -> Option<&'t Val<'t>> {
        let value = self.get(key);
        // A misspelt key was reported as an unknown one; that it is missing is no second fault.
        let misspelt = |e: &(&str, Span, &Val<'_>)| {
            !self.keys.contains(&e.0) && nearest(e.0, self.keys.iter().copied()) == Some(key)
        };
        if value.is_none() && !self.entries.iter().any(misspelt) {
            bad.push(
                Fault::new("E107", format!("{} lacks `{key}`", self.place))
                    .at(self.span.clone(), format!("`{key}` is missing here"))
                    .help(format!("write {example}")),
            );
        }
        value
    }

    /// Its name: the key under which it stands, or what `name` says.
    pub fn name(&self, example: &str, bad: &mut Bad) -> Option<At<&'t str>> {
        match (&self.named, self.get("name")) {
            (Some(name), None) => Some(name.clone()),
            (Some(name), Some(value)) => {
                bad.push(
                    Fault::new("E113", format!("{} has two names", self.place))
                        .at(value.span(), "second name")
                        .also(name.span.clone(), "first name")
                        .help("remove `name`; the key is the name"),
                );
                Some(name.clone())
            }
            (None, _) => text(self.need("name", example, bad)?, "`name`", bad),
        }
    }

    /// A finite number, if the key is there.
    pub fn number(&self, key: &'static str, bad: &mut Bad) -> Option<At<f64>> {
        number(self.get(key)?, &format!("`{key}`"), bad)
    }

    /// A number with a smallest and largest value, if the key is there.
    pub fn number_in(
        &self,
        key: &'static str,
        range: std::ops::RangeInclusive<f64>,
        unit: &str,
        bad: &mut Bad,
    ) -> Option<At<f64>> {
        let n = self.number(key, bad)?;
        if range.contains(&n.v) {
            return Some(n);
        }
        bad.push(out_of_range(key, n.v, n.span, &range, unit));
        None
    }

    /// A whole number with a smallest and largest value, if the key is there.
    pub fn whole_in(
        &self,
        key: &'static str,
        range: std::ops::RangeInclusive<f64>,
        unit: &str,
        bad: &mut Bad,
    ) -> Option<usize> {
        let n = self.number_in(key, range, unit, bad)?;
        if n.v.fract() != 0.0 {
            bad.push(
                Fault::new("E106", format!("`{key}` must be a whole number"))
                    .at(n.span, "has a fraction")
                    .replace(format!("{:.0}", n.v)),
            );
            return None;
        }
        Some(n.v as usize)
    }

    /// A text, if the key is there.
    pub fn text(&self, key: &'static str, bad: &mut Bad) -> Option<At<&'t str>> {
        text(self.get(key)?, &format!("`{key}`"), bad)
    }

    /// One of a few words, if the key is there.
    pub fn word(&self, key: &'static str, words: &[&'static str], bad: &mut Bad) -> Option<&'static str> {
        let said = self.text(key, bad)?;
        if let Some(w) = words.iter().find(|w| w.eq_ignore_ascii_case(said.v)) {
            return Some(w);
        }
        let fault = Fault::new("E112", format!("`{key}` cannot be \"{}\"", said.v))
            .at(said.span, "not one of the words for it");
        bad.push(match nearest(said.v, words.iter().copied()) {
            Some(w) => fault.replace(format!("\"{w}\"")),
            None => fault.help(format!("write one of {}", quoted(words))),
        });
        None
    }

    /// True or false, if the key is there.
    pub fn flag(&self, key: &'static str, bad: &mut Bad) -> Option<bool> {
        let value = self.get(key)?;
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            bad.push(wrong_type(value, &format!("`{key}`"), "true or false"));
        }
        flag
    }

    /// A list, if the key is there.
    pub fn list(&self, key: &'static str, bad: &mut Bad) -> Option<At<Vec<&'t Val<'t>>>> {
        list(self.get(key)?, &format!("`{key}`"), bad)
    }

    /// A list of texts, if the key is there.
    pub fn texts(&self, key: &'static str, bad: &mut Bad) -> Option<Vec<At<&'t str>>> {
        let items = self.list(key, bad)?;
        let what = format!("each entry of `{key}`");
        Some(items.v.into_iter().filter_map(|v| text(v, &what, bad)).collect())
    }

    /// A vector of three numbers, if the key is there.
    pub fn vector(&self, key: &'static str, bad: &mut Bad) -> Option<At<DVec3>> {
        vector(self.get(key)?, &format!("`{key}`"), bad)
    }
}

/// `value` as a table, or a fault.
pub(super) fn table<'t>(value: &'t Val<'t>, what: &str, bad: &mut Bad) -> Option<&'t DeTable<'t>> {
    let table = value.get_ref().as_table();
    if table.is_none() {
        bad.push(wrong_type(value, what, "a table"));
    }
    table
}

/// `value` as a list, or a fault.
pub(super) fn list<'t>(value: &'t Val<'t>, what: &str, bad: &mut Bad) -> Option<At<Vec<&'t Val<'t>>>> {
    match value.get_ref() {
        DeValue::Array(items) => Some(At { v: items.iter().collect(), span: value.span() }),
        _ => {
            bad.push(wrong_type(value, what, "a list in [ ]"));
            None
        }
    }
}

/// `value` as a text, or a fault.
pub(super) fn text<'t>(value: &'t Val<'t>, what: &str, bad: &mut Bad) -> Option<At<&'t str>> {
    match value.get_ref() {
        DeValue::String(s) => Some(At { v: s.as_ref(), span: value.span() }),
        DeValue::Integer(n) => {
            bad.push(wrong_type(value, what, "a text in quotes").replace(format!("\"{}\"", n.as_str())));
            None
        }
        _ => {
            bad.push(wrong_type(value, what, "a text in quotes"));
            None
        }
    }
}

/// `value` as a finite number, or a fault.
pub(super) fn number(value: &Val<'_>, what: &str, bad: &mut Bad) -> Option<At<f64>> {
    let n = match value.get_ref() {
        DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|n| n as f64),
        DeValue::Float(f) => f.as_str().parse::<f64>().ok(),
        DeValue::String(s) => {
            bad.push(number_in_quotes(value, what, s));
            return None;
        }
        _ => {
            bad.push(wrong_type(value, what, "a number"));
            return None;
        }
    };
    match n {
        Some(n) if n.is_finite() => Some(At { v: n, span: value.span() }),
        _ => {
            bad.push(
                Fault::new("E110", format!("{what} must be a finite number"))
                    .at(value.span(), "not a number that can be measured"),
            );
            None
        }
    }
}

/// A number written as text: say what to write, also if it bears a unit.
fn number_in_quotes(value: &Val<'_>, what: &str, said: &str) -> Fault {
    let fault = wrong_type(value, what, "a number");
    match crate::units::mm_from_words(said) {
        Some(mm) => fault.replace(format!("{}", (mm * 1e4).round() / 1e4)),
        None => fault,
    }
}

/// `value` as three numbers, or a fault.
pub(super) fn vector(value: &Val<'_>, what: &str, bad: &mut Bad) -> Option<At<DVec3>> {
    let items = match value.get_ref() {
        DeValue::Array(items) if items.len() == 3 => items,
        DeValue::Array(items) => {
            let got = items.len();
            bad.push(
                Fault::new("E106", format!("{what} needs three numbers, not {got}"))
                    .at(value.span(), "three numbers wanted")
                    .help("write [x, y, z] in mm"),
            );
            return None;
        }
        _ => {
            bad.push(wrong_type(value, what, "three numbers [x, y, z]"));
            return None;
        }
    };
    let before = bad.len();
    let n: Vec<f64> = items.iter().filter_map(|v| number(v, what, bad)).map(|n| n.v).collect();
    (bad.len() == before).then(|| At { v: DVec3::new(n[0], n[1], n[2]), span: value.span() })
}

/// What a value is, in plain words.
pub(super) fn type_word(value: &Val<'_>) -> &'static str {
    match value.get_ref() {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true/false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

pub(super) fn wrong_type(value: &Val<'_>, what: &str, want: &str) -> Fault {
    Fault::new("E106", format!("{what} must be {want}, not {}", type_word(value)))
        .at(value.span(), format!("{want} wanted"))
}

pub(super) fn out_of_range(
    key: &str,
    got: f64,
    at: Span,
    range: &std::ops::RangeInclusive<f64>,
    unit: &str,
) -> Fault {
    let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
    Fault::new("E111", format!("`{key}` cannot be {got}{unit}")).at(at, "out of range").help(format!(
        "between {} and {}{unit}",
        range.start(),
        range.end()
    ))
}

/// A name that nothing bears, with the nearest that exists.
pub(super) fn unknown<'n>(
    kind: &str,
    said: &At<&str>,
    names: impl Iterator<Item = &'n str> + Clone,
    listed_in: &str,
) -> Fault {
    let fault = Fault::new("E109", format!("there is no {kind} called \"{}\"", said.v))
        .at(said.span.clone(), format!("not in {listed_in}"));
    match nearest(said.v, names.clone()) {
        Some(near) => fault.replace(format!("\"{near}\"")),
        None => {
            let some: Vec<&str> = names.take(12).collect();
            match some.is_empty() {
                true => fault.help(format!("{listed_in} is empty")),
                false => fault.help(format!("there are {}", quoted(&some))),
            }
        }
    }
}

/// The candidate that the user most likely meant, if one is near.
pub(super) fn nearest<'n>(said: &str, among: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    let low = said.to_lowercase();
    let mut best: Option<(f64, &str)> = None;
    for name in among {
        let other = name.to_lowercase();
        let edits = strsim::damerau_levenshtein(&low, &other);
        let longest = low.chars().count().max(other.chars().count());
        // One slip in three letters, or a name begun right and broken off. Of two letters none may
        // differ: P1 is not a slip for P2.
        let near = edits == 0 || (longest > 2 && edits * 3 <= longest);
        let shortest = low.chars().count().min(other.chars().count());
        let begun = shortest >= 3 && (other.starts_with(&low) || low.starts_with(&other));
        let score = edits as f64 / longest.max(1) as f64;
        if (near || begun) && best.is_none_or(|b| score < b.0) {
            best = Some((score, name));
        }
    }
    best.map(|b| b.1)
}

/// `"a", "b", "c"`.
pub(super) fn quoted(words: &[&str]) -> String {
    words.iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(", ")
}
