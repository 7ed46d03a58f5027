//! A fault as text: the line of the file, the underlined word, and what to write instead.

use super::Fault;
use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Patch, Renderer, Snippet};

/// Longest line of the output, in characters.
const WIDTH: usize = 100;

/// All faults as text for a terminal, errors first, each in the order of its place in the file.
///
/// `path` is how the file is called in the text, `colour` adds terminal colours.
/// The text ends with a line that counts errors and warnings. Empty if there are no faults.
pub fn render(faults: &[Fault], source: &str, path: &str, colour: bool) -> String {
    if faults.is_empty() {
        return String::new();
    }
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    let renderer = renderer.decor_style(DecorStyle::Ascii).term_width(WIDTH);
    let mut order: Vec<&Fault> = faults.iter().collect();
    order.sort_by_key(|f| (f.is_warning(), f.at.as_ref().map_or(0, |s| s.start)));
    let mut out = String::new();
    for fault in &order {
        out.push_str(&renderer.render(&groups(fault, source, path)));
        out.push_str("\n\n");
    }
    let warnings = order.iter().filter(|f| f.is_warning()).count();
    out.push_str(&count(order.len() - warnings, warnings));
    out.push('\n');
    out
}

/// `path:line:column` of a byte in the source; lines and columns count from 1, columns in characters.
pub fn place(source: &str, byte: usize) -> (usize, usize) {
    let mut byte = byte.min(source.len());
    while !source.is_char_boundary(byte) {
        byte -= 1;
    }
    let before = &source[..byte];
    let line = before.matches('\n').count() + 1;
    let start = before.rfind('\n').map_or(0, |i| i + 1);
    (line, before[start..].chars().count() + 1)
}

fn groups<'a>(fault: &'a Fault, source: &'a str, path: &'a str) -> Vec<Group<'a>> {
    let level = if fault.is_warning() { Level::WARNING } else { Level::ERROR };
    let title = level.primary_title(fault.message.as_str()).id(fault.code);
    let mut main = match &fault.at {
        Some(at) => {
            let mut snippet = Snippet::source(source)
                .path(path)
                .annotation(AnnotationKind::Primary.span(inside(at, source)).label(said(&fault.label)));
            if let Some((span, label)) = &fault.also {
                snippet =
                    snippet.annotation(AnnotationKind::Context.span(inside(span, source)).label(said(label)));
            }
            title.element(snippet)
        }
        None => title.element(Origin::path(path)),
    };
    let mut groups = Vec::new();
    match (&fault.at, &fault.replace, &fault.help) {
        (Some(at), Some(text), help) => {
            let words = help.clone().unwrap_or_else(|| match text.starts_with('"') {
                true => format!("did you mean {text}?"),
                false => format!("did you mean `{text}`?"),
            });
            groups.push(Level::HELP.secondary_title(words).element(
                Snippet::source(source).path(path).patch(Patch::new(inside(at, source), text.as_str())),
            ));
        }
        (_, _, Some(help)) => main = main.element(Level::HELP.message(help.as_str())),
        _ => {}
    }
    groups.insert(0, main);
    groups
}

/// An empty label is no label.
fn said(label: &str) -> Option<&str> {
    (!label.is_empty()).then_some(label)
}

/// A span that surely lies in the source, on character boundaries.
fn inside(span: &super::Span, source: &str) -> super::Span {
    let fit = |mut byte: usize| {
        byte = byte.min(source.len());
        while !source.is_char_boundary(byte) {
            byte -= 1;
        }
        byte
    };
    let start = fit(span.start);
    start..fit(span.end).max(start)
}

fn count(errors: usize, warnings: usize) -> String {
    let some = |n: usize, what: &str| match n {
        1 => format!("1 {what}"),
        n => format!("{n} {what}s"),
    };
    match (errors, warnings) {
        (0, w) => some(w, "warning"),
        (e, 0) => some(e, "error"),
        (e, w) => format!("{}, {}", some(e, "error"), some(w, "warning")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_counts_lines_and_characters_from_one() {
        let text = "a = 1\nö = 2\n";
        assert_eq!(place(text, 0), (1, 1));
        assert_eq!(place(text, 6), (2, 1));
        assert_eq!(place(text, 8), (2, 2), "a letter of two bytes is one column");
        assert_eq!(place(text, 999), (3, 1));
    }

    #[test]
    fn a_fault_shows_line_word_second_place_and_replacement() {
        let text = "[sections.main]\nround = { od = 40, wall = 2 }\n[[tube]]\nsection = \"mian\"\n";
        let at = text.find("\"mian\"").unwrap();
        let fault = Fault::new("E109", "there is no section called \"mian\"")
            .at(at..at + 6, "not in [sections]")
            .also(10..14, "sections are named here")
            .replace("\"main\"");
        let got = render(&[fault], text, "frame.toml", false);
        let want = "\
error[E109]: there is no section called \"mian\"
 --> frame.toml:4:11
  |
1 | [sections.main]
  |           ---- sections are named here
...
4 | section = \"mian\"
  |           ^^^^^^ not in [sections]
  |
help: did you mean \"main\"?
  |
4 - section = \"mian\"
4 + section = \"main\"
  |

1 error
";
        assert_eq!(got, want, "{got}");
    }

    #[test]
    fn no_colour_means_no_escapes_and_a_fault_without_a_place_still_names_the_file() {
        let fault = Fault::new("E102", "the file is 12.0 MB").help("a frame file is never larger than 4 MB");
        let got = render(std::slice::from_ref(&fault), "", "big.toml", false);
        assert!(!got.contains('\u{1b}') && got.contains("big.toml") && got.contains("4 MB"), "{got}");
        assert!(render(&[fault], "", "big.toml", true).contains('\u{1b}'));
    }
}
