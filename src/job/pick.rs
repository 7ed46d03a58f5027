//! What a person types to tick lines: numbers, ranges, labels, seams, joints.

use super::card::Item;
use super::check::{Refused, find};
use super::state::{Job, Standing};

/// The lines that were picked, in the order they were named.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Picked {
    /// Labels, each once.
    pub labels: Vec<String>,
    /// Things to tell: lines in a range that are done already and are passed over.
    pub notices: Vec<String>,
}

/// Read `"3,5-7 J7a-2/1"`: line numbers and ranges of the sheet in force, labels, seams (`J7a`) and
/// joints (`J7`: their open passes in the order of the sheet). A range backwards (`7-5`) was welded
/// backwards. Commas and blanks separate; case does not matter.
///
/// # Errors
/// Everything that is wrong with it, at once.
pub fn parse_ticks(job: &Job, text: &str) -> Result<Picked, Vec<Refused>> {
    let mut picked = Picked::default();
    let mut wrong = vec![];
    let mut words = 0;
    for word in text.split(|c: char| c == ',' || c == ';' || c.is_whitespace()).filter(|w| !w.is_empty()) {
        words += 1;
        match one_word(job, word) {
            Ok((labels, notices)) => {
                picked.notices.extend(notices);
                for l in labels {
                    if !picked.labels.contains(&l) {
                        picked.labels.push(l);
                    }
                }
            }
            Err(r) => wrong.push(r),
        }
    }
    if words == 0 {
        wrong.push(Refused::new(
            "no line was named",
            "name lines by number, range or label: 3,5-7 or J7a-2/1",
        ));
    }
    if wrong.is_empty() { Ok(picked) } else { Err(wrong) }
}

type Lines = (Vec<String>, Vec<String>);

fn one_word(job: &Job, word: &str) -> Result<Lines, Refused> {
    let word = word.trim_start_matches('#');
    if let Some(number) = number(word) {
        return Ok((vec![line(job, number)?.label.clone()], vec![]));
    }
    if let Some((a, b)) = word.split_once(['-', '–', '—', '…']).or_else(|| word.split_once(".."))
        && let (Some(a), Some(b)) = (number(a), number(b.trim_start_matches('#')))
    {
        return range(job, a, b);
    }
    if let Some(label) = find(word, job.labels()) {
        return Ok((vec![label.to_string()], vec![]));
    }
    let at: Vec<&Item> = job
        .card()
        .items
        .iter()
        .filter(|i| i.is_pass())
        .filter(|i| [i.seam(), i.joint()].into_iter().flatten().any(|n| same_name(n, word)))
        .collect();
    if at.is_empty() {
        let names = job.labels().chain(job.known().flat_map(|i| [i.seam(), i.joint()]).flatten());
        return Err(Refused::new(
            format!("there is no line \"{word}\" in this job"),
            did_you_mean(word, names),
        ));
    }
    let open: Vec<String> =
        at.iter().filter(|i| job.standing(&i.label) != Standing::Done).map(|i| i.label.clone()).collect();
    if open.is_empty() {
        return Err(Refused::new(
            format!("every pass of {word} is ticked already"),
            "use `redo` for a pass that was laid again",
        ));
    }
    Ok((open, vec![]))
}

fn number(word: &str) -> Option<usize> {
    (!word.is_empty() && word.bytes().all(|b| b.is_ascii_digit())).then(|| word.parse().unwrap_or(usize::MAX))
}

fn line(job: &Job, number: usize) -> Result<&Item, Refused> {
    let items = &job.card().items;
    items.iter().find(|i| i.number == number).ok_or_else(|| {
        let last = items.iter().map(|i| i.number).max().unwrap_or(0);
        let shown = if number == usize::MAX { "so high".to_string() } else { number.to_string() };
        Refused::new(
            format!("there is no line {shown} on the sheet of revision {}", job.revision()),
            format!("its lines go from 1 to {last}"),
        )
    })
}

fn range(job: &Job, a: usize, b: usize) -> Result<Lines, Refused> {
    line(job, a)?;
    line(job, b)?;
    let mut labels = vec![];
    let mut done = vec![];
    let within = a.min(b)..=a.max(b);
    let mut items: Vec<&Item> = job.card().items.iter().filter(|i| within.contains(&i.number)).collect();
    if a > b {
        items.reverse();
    }
    for item in items {
        if job.standing(&item.label) == Standing::Done {
            done.push(item.number.to_string());
        } else {
            labels.push(item.label.clone());
        }
    }
    if labels.is_empty() {
        return Err(Refused::new(format!("lines {a} to {b} are all ticked already"), "nothing more to do"));
    }
    let notices = if done.is_empty() {
        vec![]
    } else {
        vec![format!("already ticked, passed over: line {}", done.join(", "))]
    };
    Ok((labels, notices))
}

/// Names are typed with gloves on: case does not matter.
pub(super) fn same_name(a: &str, b: &str) -> bool {
    a == b || a.to_lowercase() == b.to_lowercase()
}

/// "did you mean …", if anything comes near.
pub(super) fn did_you_mean<'a>(word: &str, names: impl Iterator<Item = &'a str>) -> String {
    let word = word.to_lowercase();
    let mut near: Vec<(usize, &str)> = names
        .map(|n| (strsim::damerau_levenshtein(&n.to_lowercase(), &word), n))
        .filter(|(d, n)| *d <= 1 + n.chars().count() / 4)
        .collect();
    near.sort();
    near.dedup();
    match near.as_slice() {
        [] => "the sheet and `status` list the names".into(),
        [first, rest @ ..] => {
            let also = rest.iter().take_while(|r| r.0 == first.0).take(2).map(|r| format!(" or {}", r.1));
            format!("did you mean {}{}?", first.1, also.collect::<String>())
        }
    }
}
