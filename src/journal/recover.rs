//! Saving what can be read of a damaged record, into a new file.

use super::disk::{Disk, RealDisk};
use super::lines;
use super::words::Error;
use crate::job::{Event, Record};
use std::collections::BTreeMap;
use std::path::Path;

/// What came out of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Recovered {
    /// Records saved.
    pub kept: usize,
    /// Lines that could not be read, by number.
    pub lost: Vec<usize>,
}

/// Write every readable line of a damaged record to a new file, renumbered, with a note at each place
/// where lines are missing. The damaged file is left as it is.
///
/// # Errors
/// The first line (frame and plan) is damaged, `to` exists, or the disk says no.
pub fn recover(from: &Path, to: &Path) -> Result<Recovered, Error> {
    let bytes = RealDisk
        .open(from, false)
        .and_then(|mut f| f.read_all())
        .map_err(|e| Error::io(from, "read the record", e))?;
    let (text, done) = saved(&bytes, from)?;
    RealDisk.create_new(to, text.as_bytes()).map_err(|e| Error::io(to, "write the recovered record", e))?;
    Ok(done)
}

fn saved(bytes: &[u8], path: &Path) -> Result<(String, Recovered), Error> {
    let first = bytes.iter().position(|&b| b == b'\n').map_or(0, |i| i + 1);
    let header = lines::read(&bytes[..first], path)?.header;
    let mut text = lines::header_line(&header);
    let mut done = Recovered { kept: 0, lost: vec![] };
    let mut new_number: BTreeMap<u64, u64> = BTreeMap::new();
    let (mut n, mut at) = (0, header.began);
    let mut put = |mut record: Record, n: &mut u64| {
        *n += 1;
        new_number.insert(record.n, *n);
        record.n = *n;
        if let Event::Withdrawn { n: withdrawn } = &record.event {
            match new_number.get(withdrawn) {
                Some(&m) => record.event = Event::Withdrawn { n: m },
                // What it took back is lost anyway.
                None => {
                    record.event =
                        Event::Note { text: format!("recovered: took back lost record {withdrawn}") }
                }
            }
        }
        text.push_str(&lines::record_line(&record));
    };
    let body = &bytes[first..lines::whole_length(bytes).max(first)];
    for (i, line) in body.split_inclusive(|&b| b == b'\n').enumerate() {
        match lines::one(line) {
            Ok(record) => {
                at = record.at;
                put(record, &mut n);
                done.kept += 1;
            }
            Err(why) => {
                let number = i + 2;
                done.lost.push(number);
                // Number 0 is no record's: nothing can refer to a note about a lost line.
                let words = format!("recovered: line {number} could not be read ({why})");
                put(
                    Record {
                        n: 0,
                        at,
                        by: "recover".into(),
                        id: String::new(),
                        event: Event::Note { text: words },
                    },
                    &mut n,
                );
            }
        }
    }
    Ok((text, done))
}
