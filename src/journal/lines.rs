//! One event per line: JSON with a number and a checksum.
//!
//! ```text
//! {"format":1,"program":"…", … ,"sum":"0f3a…"}
//! {"n":1,"at":"2026-11-25T07:31:00Z","by":"terminal","event":{"what":"started"},"sum":"91c2…"}
//! {"n":2,"at":"2026-11-25T07:36:12Z","by":"terminal","event":{"what":"ticked","label":"J1a-1/1"},"sum":"…"}
//! ```
//!
//! The sum is the first 16 hex digits of the SHA-256 of the line up to, not including, `,"sum"`.

use super::words::Error;
use crate::job::{FORMAT, Header, Record};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::path::Path;

/// What is in a file.
#[derive(Debug)]
pub struct Contents {
    pub header: Header,
    pub records: Vec<Record>,
    /// Bytes after the last whole line.
    pub torn: usize,
    /// Written in a newer format (but understood).
    pub newer: bool,
}

const MARK: &str = ",\"sum\":\"";
const SUM_LENGTH: usize = 16;

/// The first line of a file.
pub fn header_line(header: &Header) -> String {
    sealed(header)
}

/// The line of a record.
pub fn record_line(record: &Record) -> String {
    sealed(record)
}

fn sealed<T: Serialize>(value: &T) -> String {
    let mut text = serde_json::to_string(value).expect("records are plain data with text keys");
    text.pop();
    let sum = sum(text.as_bytes());
    format!("{text}{MARK}{sum}\"}}\n")
}

fn sum(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().take(SUM_LENGTH / 2).map(|b| format!("{b:02x}")).collect()
}

/// Length of the whole lines.
pub fn whole_length(bytes: &[u8]) -> usize {
    bytes.iter().rposition(|&b| b == b'\n').map_or(0, |i| i + 1)
}

/// Read a file.
pub fn read(bytes: &[u8], path: &Path) -> Result<Contents, Error> {
    let whole = whole_length(bytes);
    let first_end = bytes.iter().position(|&b| b == b'\n').map(|i| i + 1);
    let Some(first_end) = first_end else { return Err(Error::NotAJob { path: path.into() }) };
    let body = match unseal(&bytes[..first_end]) {
        Ok(body) => body,
        // Nothing that looks like ours: not damage but another kind of file.
        Err(_) if !bytes.starts_with(b"{\"format\":") => return Err(Error::NotAJob { path: path.into() }),
        Err(why) => return Err(damaged(path, 1, why)),
    };
    let format = serde_json::from_str::<Format>(&body).map_err(|e| damaged(path, 1, e.to_string()))?.format;
    let newer = format > FORMAT;
    let give_up = |e: Error| if newer { Error::NewerFormat { path: path.into() } } else { e };
    let header: Header = serde_json::from_str(&body).map_err(|e| give_up(damaged(path, 1, e.to_string())))?;
    let records = read_records(&bytes[first_end..whole], 1, 1, path).map_err(give_up)?;
    Ok(Contents { header, records, torn: bytes.len() - whole, newer })
}

#[derive(Deserialize)]
struct Format {
    format: u32,
}

/// Read whole lines of records; `line` lines came before them, the first must have number `next`.
pub fn read_records(bytes: &[u8], line: usize, next: u64, path: &Path) -> Result<Vec<Record>, Error> {
    let mut records = vec![];
    for (i, text) in bytes.split_inclusive(|&b| b == b'\n').enumerate() {
        let record = one(text).and_then(|r| {
            let want = next + i as u64;
            if r.n == want { Ok(r) } else { Err(format!("record {} stands where record {want} should", r.n)) }
        });
        match record {
            Ok(r) => records.push(r),
            Err(why) => return Err(damaged(path, line + i + 1, why)),
        }
    }
    Ok(records)
}

/// One record from its line.
pub fn one(line: &[u8]) -> Result<Record, String> {
    serde_json::from_str(&unseal(line)?)
        .map_err(|e| format!("it says what this program does not understand ({e})"))
}

/// The JSON text of a line whose sum is right.
fn unseal(line: &[u8]) -> Result<String, String> {
    let text = std::str::from_utf8(line).map_err(|_| "it is not text".to_string())?;
    let text = text.strip_suffix('\n').unwrap_or(text);
    // An editor may have changed the line ends.
    let text = text.strip_suffix('\r').unwrap_or(text);
    let (body, rest) = text.rsplit_once(MARK).ok_or("it has no checksum")?;
    let given = rest.strip_suffix("\"}").ok_or("it does not end as it should")?;
    if given != sum(body.as_bytes()) {
        return Err("its checksum does not fit".into());
    }
    Ok(format!("{body}}}"))
}

fn damaged(path: &Path, line: usize, why: String) -> Error {
    Error::Damaged { path: path.into(), line, why }
}
