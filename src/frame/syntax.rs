//! Finding every line that is not TOML, without the noise that one slip causes further down.
//!
//! A TOML parser that goes on after a missing bracket reports the rest of the file. So the text is
//! cut at its table headers, each block is parsed alone, and after a fault parsing goes on at the
//! next line that looks like the start of an entry.

use super::reader::Bad;
use crate::fault::Fault;
use toml::de::DeTable;

/// More faults than this in one file help nobody.
const MOST: usize = 40;

/// Syntax faults of the text, and the text with the faulty lines blanked out (same length, so that
/// places stay right). `None` if there is nothing wrong.
pub(super) fn faults(text: &str) -> Option<(Bad, String)> {
    let (_, errors) = DeTable::parse_recoverable(text);
    if errors.is_empty() {
        return None;
    }
    let mut bad = Bad::new();
    let mut clean: Vec<u8> = text.bytes().collect();
    for block in blocks(text) {
        // Blocks repeat headers ([[tube]]) and stand alone, so duplicates only show in the whole.
        let mut from = block.start;
        while bad.len() < MOST {
            let part = &text[from..block.end];
            let (_, errors) = DeTable::parse_recoverable(part);
            let Some(first) = errors.first() else { break };
            let last = from + part.trim_end().len();
            let span = first.span().unwrap_or(0..0);
            let start = (from + span.start).min(last);
            let at = start..(from + span.end).clamp(start, last.max(start));
            let resume = next_entry(text, start, block.end);
            bad.push(said(first.message(), text, at));
            // What cannot be parsed goes from the start of its entry to where parsing resumes.
            let begin = entry_start(text, start, from);
            blank(&mut clean, begin..resume);
            if resume >= block.end {
                break;
            }
            from = resume;
        }
    }
    let clean = String::from_utf8(clean).unwrap_or_default();
    // What is still wrong concerns the whole: keys and tables that are there twice.
    let (_, errors) = DeTable::parse_recoverable(&clean);
    for error in errors.iter().take(MOST) {
        bad.push(said(error.message(), text, error.span().unwrap_or(0..0)));
    }
    Some((bad, clean))
}

fn said(message: &str, text: &str, at: std::ops::Range<usize>) -> Fault {
    if message == "duplicate key" {
        let key = text.get(at.clone()).unwrap_or("");
        return Fault::new("E108", format!("`{key}` is there twice"))
            .at(at, "second one")
            .help("names must differ; rename or remove one of them");
    }
    Fault::new("E103", message.trim().replace('\n', ", "))
        .at(at, "not valid TOML from here")
        .help("look for a missing quote, bracket, comma or `=` in this line or the one before")
}

/// Byte ranges between table headers.
fn blocks(text: &str) -> Vec<std::ops::Range<usize>> {
    let mut starts = vec![0];
    starts.extend(lines(text).filter(|(_, line)| is_header(line)).map(|(at, _)| at).filter(|at| *at > 0));
    let ends = starts.iter().skip(1).copied().chain([text.len()]);
    starts.iter().copied().zip(ends).map(|(a, b)| a..b).collect()
}

fn lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.split_inclusive('\n').scan(0, |at, line| {
        let start = *at;
        *at += line.len();
        Some((start, line))
    })
}

/// `[name]` or `[[name]]`, alone on its line; a nested list such as `[0, 0, 0],` is not one.
fn is_header(line: &str) -> bool {
    let line = line.split('#').next().unwrap_or("").trim();
    let Some(inner) = line.strip_prefix('[').and_then(|l| l.strip_suffix(']')) else { return false };
    let inner = inner.strip_prefix('[').and_then(|l| l.strip_suffix(']')).unwrap_or(inner).trim();
    inner.starts_with(|c: char| c.is_ascii_alphabetic()) && !inner.contains([',', '[', ']', '='])
}

/// `key =` at the start of a line.
fn is_entry(line: &str) -> bool {
    let Some((key, _)) = line.split_once('=') else { return false };
    let key = key.trim();
    let plain = |c: char| c.is_alphanumeric() || matches!(c, '_' | '-' | '.' | '"' | '\'' | ' ');
    !key.is_empty() && key.chars().all(plain)
}

/// Where the first entry after the line of `byte` begins.
fn next_entry(text: &str, byte: usize, end: usize) -> usize {
    let after = text[byte..end].find('\n').map_or(end, |i| byte + i + 1);
    lines(&text[after..end]).find(|(_, line)| is_entry(line)).map_or(end, |(at, _)| after + at)
}

/// Where the entry begins that went wrong: the last one before `byte` up to which all is well. It may
/// lie some lines back, where a bracket was opened.
fn entry_start(text: &str, byte: usize, from: usize) -> usize {
    let until = text[byte..].find('\n').map_or(text.len(), |i| byte + i);
    let starts = lines(&text[from..until]).filter(|(_, line)| is_entry(line)).map(|(at, _)| from + at);
    let sound = |at: &usize| DeTable::parse_recoverable(&text[from..*at]).1.is_empty();
    let starts: Vec<usize> = starts.collect();
    // A list left open is noticed within its own or the next entries; looking further back would
    // make a broken file of megabytes slow.
    starts.iter().rev().take(8).copied().find(sound).unwrap_or(starts.last().copied().unwrap_or(from))
}

fn blank(bytes: &mut [u8], range: std::ops::Range<usize>) {
    for b in &mut bytes[range] {
        if *b != b'\n' {
            *b = b' ';
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(text: &str) -> Vec<(usize, &'static str)> {
        let (bad, clean) = faults(text).expect("there are faults");
        assert_eq!(clean.len(), text.len());
        bad.iter().map(|f| (crate::fault::place(text, f.at.clone().unwrap().start).0, f.code)).collect()
    }

    #[test]
    fn an_open_bracket_does_not_swallow_the_file() {
        let text = "[points]\na = [1, 2\nb = [3]\n[tubes]\nc = { d = 1\n[x]\ne = 1\n";
        // Line 2 is found out on line 3, where the next entry begins.
        assert_eq!(places(text), [(3, "E103"), (5, "E103")]);
    }

    #[test]
    fn nested_lists_are_no_headers_and_duplicates_show_in_the_whole() {
        assert!(faults("a = [\n[0, 0],\n[1, 1]\n]\n").is_none());
        assert!(is_header("[[tube]] # left") && is_header("[materials.\"x y\"]"));
        assert!(!is_header("[0, 0, 0],") && !is_header("[1]") && !is_header("x = [a]"));
        assert_eq!(places("[a]\nx = 1\n[a]\nx = 2\n"), [(3, "E108"), (4, "E108")]);
    }

    #[test]
    fn a_slip_inside_a_long_list_is_one_fault() {
        assert_eq!(places("run = [\n \"a\",\n \"b\n]\nz = 1\ny = \n"), [(3, "E103"), (6, "E103")]);
    }
}
