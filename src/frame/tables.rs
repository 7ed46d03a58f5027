//! The tables of one kind, in their long and their short form.

use super::reader::{At, Bad, Tab, list, table};
use crate::fault::Fault;

/// The tables of `[[kind]]`, or of `[kinds]` where the key is the name, each called by its name.
pub(super) fn tables<'t>(
    top: &Tab<'t>,
    kind: &'static str,
    keys: &'static [&'static str],
    bad: &mut Bad,
) -> Vec<Tab<'t>> {
    let mut tabs = Vec::new();
    match top.get(kind) {
        Some(value) if value.get_ref().is_table() => bad.push(
            Fault::new("E106", format!("`{kind}` is a list of tables"))
                .at(top.key_span(kind), "one bracket too few")
                .help(format!("write `[[{kind}]]` above each one")),
        ),
        Some(value) => {
            for item in list(value, &format!("`{kind}`"), bad).map_or(Vec::new(), |l| l.v) {
                let Some(t) = table(item, &format!("each `{kind}`"), bad) else { continue };
                let name = t.get("name").and_then(|n| n.get_ref().as_str().map(str::to_string));
                let place = name.map_or(format!("this [[{kind}]]"), |n| format!("{kind} \"{n}\""));
                tabs.push(Tab::open(t, item.span(), place, keys, bad));
            }
        }
        None => {}
    }
    let Some((_, short)) = SHORT.iter().find(|s| s.0 == kind) else { return tabs };
    let Some(value) = top.get(short) else { return tabs };
    let Some(all) = table(value, &format!("`{short}`"), bad) else { return tabs };
    for (name, span, value) in Tab::free(all, value.span(), *short, &[]).entries() {
        let place = format!("{kind} \"{name}\"");
        let Some(t) = table(value, &place, bad) else { continue };
        let mut tab = Tab::open(t, span.clone(), place, keys, bad);
        tab.named = Some(At { v: *name, span: span.clone() });
        tabs.push(tab);
    }
    tabs.sort_by_key(|t| t.span.start);
    tabs
}

/// Kinds that have a short form: a table in which the key is the name.
const SHORT: [(&str, &str); 4] =
    [("tube", "tubes"), ("plate", "plates"), ("control", "controls"), ("clamp", "clamps")];

/// `1 place`, `3 places`.
pub(super) fn count(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}
