//! The order of `pub mod` lines in `lib.rs` is the order of dependence, and the rooms above the line
//! touch neither file, clock, screen nor socket.

use std::path::{Path, PathBuf};

fn rooms() -> Vec<String> {
    include_str!("../../src/lib.rs")
        .lines()
        .filter_map(|l| l.strip_prefix("pub mod ")?.strip_suffix(';'))
        .map(str::to_string)
        .collect()
}

/// All Rust files of a room, with their text less the lines of comments and `#[cfg(test)]` tails.
fn files(room: &str) -> Vec<(PathBuf, String)> {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    let single = src.join(format!("{room}.rs"));
    if single.exists() {
        found.push(single);
    }
    let mut folders = vec![src.join(room)];
    while let Some(folder) = folders.pop() {
        let Ok(entries) = std::fs::read_dir(&folder) else { continue };
        for e in entries {
            let path = e.expect("entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|x| x == "rs") && !path.ends_with("tests.rs") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
        .into_iter()
        .map(|p| {
            let text = std::fs::read_to_string(&p).expect("source is readable");
            let live = text.split("#[cfg(test)]").next().unwrap_or("");
            let code: String = live
                .lines()
                .filter(|l| !l.trim_start().starts_with("//"))
                .map(|l| format!("{l}\n"))
                .collect();
            (p, code)
        })
        .collect()
}

#[test]
fn a_room_uses_only_rooms_listed_above_it() {
    let rooms = rooms();
    assert!(rooms.len() > 10, "lib.rs was not understood: {rooms:?}");
    let mut wrong = Vec::new();
    for (i, room) in rooms.iter().enumerate() {
        for (path, code) in files(room) {
            for later in &rooms[i + 1..] {
                let used =
                    [format!("crate::{later}::"), format!("crate::{later};"), format!("crate::{later} ")];
                if used.iter().any(|u| code.contains(u.as_str())) {
                    wrong.push(format!("{} uses {later}", path.display()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Rooms of the shell, which may touch the outside.
const SHELL: [&str; 3] = ["journal", "web", "cli"];

#[test]
fn the_core_touches_no_file_clock_screen_or_socket() {
    let forbidden = [
        "println!",
        "eprintln!",
        "print!(",
        "dbg!",
        "std::fs",
        "std::net",
        "std::io::std",
        "std::env",
        "SystemTime",
        "Instant::now",
        "Timestamp::now",
        "std::process",
        "todo!",
        "unimplemented!",
    ];
    let mut wrong = Vec::new();
    for room in rooms().iter().filter(|r| !SHELL.contains(&r.as_str())) {
        for (path, code) in files(room) {
            wrong.extend(
                forbidden
                    .iter()
                    .filter(|w| code.contains(**w))
                    .map(|w| format!("{} has {w}", path.display())),
            );
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_room_has_its_sign() {
    for room in rooms() {
        let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
        let sign = [src.join(format!("{room}.rs")), src.join(&room).join("mod.rs")]
            .into_iter()
            .find_map(|p| std::fs::read_to_string(p).ok())
            .unwrap_or_else(|| panic!("room {room} has no file"));
        assert!(
            sign.starts_with("//!") && sign.contains("Out of bounds:"),
            "{room} does not say what must never be in it"
        );
    }
}
