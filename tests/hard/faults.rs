//! What can go wrong around the program, and where each is tested.
//!
//! | fault | tested in |
//! |---|---|
//! | disk full: record | `jobs::disks` |
//! | disk full: standard output | `commands::exits`, and here with a real full device |
//! | folder or file that may not be read or written, a folder that is a file | here; `commands::exits` |
//! | killed at any moment | `jobs::crash` |
//! | record cut off, damaged, by a newer version | `jobs::record`; here with the whole program |
//! | clock that goes back | `jobs::stories`; here: a clock that was a day ahead |
//! | two programs on one job | `jobs::crash`, `jobs::steering` |
//! | frame file, shop file of a newer version | here; `jobs::shop` |
//! | language of the machine, names with blanks, umlauts and bytes that are no text | here |
//! | reader that goes away | `commands::exits`; here for the commands of a job |
//! | no terminal, no home directory | here |

#![cfg(unix)]

use holdtrue::job::{Event, When};
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

const SQUARE: &str = include_str!("../../examples/square.toml");

/// A folder with the square in it, and everybody may look in.
fn folder() -> (tempfile::TempDir, PathBuf) {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let path = dir.path().to_path_buf();
    std::fs::write(path.join("square.toml"), SQUARE).expect("written");
    mode(&path, 0o755);
    (dir, path)
}

fn mode(path: &Path, mode: u32) {
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("changed");
}

/// The program in a folder, with a home of its own.
fn program(folder: &Path) -> Command {
    let mut c = Command::new(env!("CARGO_BIN_EXE_holdtrue"));
    c.current_dir(folder).env("HOME", folder).env_remove("XDG_CONFIG_HOME").env_remove("CLICOLOR_FORCE");
    c.stdin(Stdio::null());
    c
}

/// The program as somebody who owns nothing: root may do everything, so it is no test of what is forbidden.
fn nobody(folder: &Path) -> Command {
    let mut c = program(folder);
    let root = Command::new("id").arg("-u").output().is_ok_and(|o| o.stdout == b"0\n");
    if root {
        // The program itself must lie where nobody may look.
        let here = folder.join("program");
        if !here.exists() {
            std::fs::copy(env!("CARGO_BIN_EXE_holdtrue"), &here).expect("copied");
            mode(&here, 0o755);
        }
        c = Command::new(here);
        c.current_dir(folder).env("HOME", folder).env_remove("XDG_CONFIG_HOME").stdin(Stdio::null());
        c.uid(65534).gid(65534);
    }
    c
}

fn say(c: &mut Command, words: &str) -> Output {
    c.args(words.split(' ')).output().expect("it runs")
}

fn err(o: &Output) -> String {
    String::from_utf8_lossy(&o.stderr).into_owned()
}

#[track_caller]
fn well(o: Output) -> String {
    assert_eq!(o.status.code(), Some(0), "{}", err(&o));
    String::from_utf8(o.stdout).expect("UTF-8")
}

/// It ends with this code, in words of its own.
#[track_caller]
fn ends(o: &Output, code: i32, words: &str) {
    let said = err(o);
    assert_eq!(o.status.code(), Some(code), "{said}");
    assert!(said.starts_with("error: ") && said.contains(words) && !said.contains("panicked"), "{said}");
}

const START: &str = "job start square.toml --effort rules --no-shop -q";

#[test]
fn a_full_device_is_a_fault_that_is_said() {
    let (_dir, path) = folder();
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full");
    let Ok(full) = full else { return };
    for words in ["check square.toml -q", "plan square.toml --effort rules -q", "materials"] {
        let to = full.try_clone().expect("a handle");
        let o = program(&path).args(words.split(' ')).stdout(to).stderr(Stdio::piped()).spawn();
        ends(&o.expect("it runs").wait_with_output().expect("it ends"), 74, "cannot write");
    }
}

#[test]
fn what_may_not_be_read_or_written_is_said_and_nothing_is_lost() {
    let (_dir, path) = folder();
    well(say(&mut program(&path), START));
    let record = path.join("square.job");
    let before = std::fs::read(&record).expect("the record");
    mode(&record, 0o444);
    // A record that may only be read can be looked at, not written.
    assert!(well(say(&mut nobody(&path), "job status square.job")).contains("0 of 24 passes welded"));
    let o = say(&mut nobody(&path), "job tick square.job 1");
    ends(&o, 74, "square.job");
    assert!(err(&o).to_lowercase().contains("permi"), "{}", err(&o));
    assert_eq!(std::fs::read(&record).expect("the record"), before);
    // A folder in which nothing may be made.
    for words in [
        "plan square.toml --effort rules --no-shop -q --pdf wall.pdf",
        "draw square.toml --effort rules --no-shop -q --out map.svg",
        "new rack --shape ladder",
        "job report square.job --pdf record.pdf -q",
    ] {
        ends(&say(&mut nobody(&path), words), 73, "cannot write");
    }
    ends(&say(&mut nobody(&path), &format!("{START} --out b.job")), 73, "b.job");
    let names = std::fs::read_dir(&path).expect("the folder").count();
    assert!(names <= 3, "something was left behind");
    // A frame file that may not be read, and paths that go through a file.
    mode(&path.join("square.toml"), 0o000);
    ends(&say(&mut nobody(&path), "check square.toml"), 66, "cannot read square.toml");
    mode(&path.join("square.toml"), 0o644);
    ends(&say(&mut program(&path), "check square.toml/x.toml"), 66, "cannot read");
    ends(&say(&mut program(&path), "check ."), 66, "cannot read");
    ends(
        &say(&mut program(&path), "plan square.toml -q --effort rules --pdf square.toml/x.pdf"),
        73,
        "cannot",
    );
    ends(&say(&mut program(&path), "job status ."), 66, "");
}

#[test]
fn a_clock_that_was_a_day_ahead_stops_nobody() {
    let (_dir, path) = folder();
    well(say(&mut program(&path), START));
    let (mut journal, _) = holdtrue::journal::open(&path.join("square.job")).expect("a record");
    let tomorrow = When::from_second(When::now().as_second() + 86_400).expect("a moment");
    let card = journal.job().card().clone();
    let first = card.items.iter().position(|i| i.is_pass()).expect("a pass");
    let mut events: Vec<Event> =
        card.items[..=first].iter().map(|i| Event::tick(&*i.label, Some(tomorrow))).collect();
    events.insert(first, Event::GateOpened { why: "no tape".into() });
    journal.append(&events, "ahead", tomorrow).expect("written");
    let next = well(say(&mut program(&path), "job next square.job"));
    assert!(next.starts_with("NOW "), "{next}");
    for piece in next.split("in ").skip(1) {
        let minutes = piece.split(" min").next().and_then(|n| n.parse::<f64>().ok());
        assert!(minutes.is_none_or(|m| m < 120.0), "a wait that nobody can wait for: {next}");
    }
    let o = say(&mut program(&path), &format!("job tick square.job {}", first + 2));
    assert!(well(o).contains("2 of 24 passes welded"));
    let o = say(&mut program(&path), "job status square.job");
    assert!(err(&o).contains("the clock went back"), "{}", err(&o));
    for words in ["job status square.job", "job report square.job", "job replan square.job --effort rules -q"]
    {
        let said = well(say(&mut program(&path), words));
        assert!(!said.contains("NaN") && !said.contains("inf "), "{said}");
    }
}

#[test]
fn files_of_a_newer_version_are_named_as_such() {
    let (_dir, path) = folder();
    std::fs::write(path.join("new.toml"), SQUARE.replace("holdtrue = 1", "holdtrue = 2")).expect("written");
    let o = say(&mut program(&path), "check new.toml");
    assert_eq!(o.status.code(), Some(65));
    assert!(err(&o).contains("version") || err(&o).contains("newer"), "{}", err(&o));
    std::fs::write(path.join("shop.toml"), "format = 99\n").expect("written");
    ends(&say(&mut program(&path), "plan square.toml --effort rules --shop shop.toml"), 65, "newer version");
    // A record begun by a newer version: it can be looked at; it is not written.
    well(say(&mut program(&path), START));
    let (journal, _) = holdtrue::journal::open(&path.join("square.job")).expect("a record");
    let mut header = (*journal.job().header).clone();
    header.format += 1;
    holdtrue::journal::create(&path.join("newer.job"), header).expect("written");
    let before = std::fs::read(path.join("newer.job")).expect("there");
    assert!(well(say(&mut program(&path), "job status newer.job")).contains("0 of 24"));
    ends(&say(&mut program(&path), "job tick newer.job 1 -q"), 65, "newer");
    assert_eq!(std::fs::read(path.join("newer.job")).expect("there"), before);
}

#[test]
fn names_in_any_language_and_any_locale_give_the_same() {
    let (_dir, root) = folder();
    let odd = std::ffi::OsStr::from_bytes(b"byte \xff");
    let mut sheets = vec![];
    for (folder, locale) in [
        ("B\u{e4}nke & R\u{e4}der (2)".into(), "C"),
        ("\u{65e5}\u{672c} \u{43b}".into(), "de_DE.UTF-8"),
        (odd.to_owned(), "tr_TR.UTF-8"),
    ] as [(std::ffi::OsString, &str); 3]
    {
        let path = root.join(folder);
        std::fs::create_dir(&path).expect("made");
        let mut name = std::ffi::OsString::from("gr\u{f6}\u{df}e \u{142} ");
        name.push(path.file_name().expect("a name"));
        let frame = path.join(&name).with_added_extension("toml");
        std::fs::write(&frame, SQUARE).expect("written");
        let run = |words: &str, file: &Path| {
            let mut c = program(&path);
            c.env("LANG", locale).env("LC_ALL", locale).env("COLUMNS", "80");
            let mut typed = words.split(' ');
            let two: Vec<&str> = typed.by_ref().take(if words.starts_with("job") { 2 } else { 1 }).collect();
            well(c.args(two).arg(file).args(typed).output().expect("it runs"))
        };
        run("check", &frame);
        sheets.push(run("plan --effort rules --no-shop -q --pdf wall.pdf --json p.json", &frame));
        assert!(path.join("wall.pdf").exists() && path.join("p.json").exists());
        run("job start --effort rules --no-shop -q", &frame);
        let record = path.join(&name).with_added_extension("job");
        run("job tick 1", &record);
        run("job measure width 600,5", &record);
        run("job report --pdf record.pdf -q", &record);
        run("import --out b.toml", &{
            let drawing = path.join("d \u{e9}.csv");
            std::fs::write(&drawing, "point,a,0,0,0\npoint,b,500,0,0\nbar,\u{fc} 1,a,b\n").expect("written");
            drawing
        });
    }
    assert!(sheets.windows(2).all(|w| w[0] == w[1]), "the language of the machine is on the sheet");
}

#[test]
fn without_a_terminal_nothing_asks_and_nothing_hangs() {
    let (_dir, path) = folder();
    well(say(&mut program(&path), START));
    let bare = || {
        let mut c = program(&path);
        c.env_remove("TERM").env_remove("COLUMNS");
        c
    };
    let o = say(&mut bare(), "new");
    assert_eq!(o.status.code(), Some(2), "{}", err(&o));
    assert!(err(&o).contains("--shape"), "{}", err(&o));
    assert!(well(say(&mut bare(), "job run square.job")).contains("NOW "));
    well(say(&mut bare(), "plan square.toml --effort quick --no-shop"));
    // Whoever reads goes away: no command of a job has anything to say to that.
    for words in ["job status square.job", "job report square.job", "job next square.job", "format"] {
        let mut child = bare()
            .args(words.split(' '))
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("runs");
        drop(child.stdout.take());
        let o = child.wait_with_output().expect("it ends");
        assert_eq!((o.status.code(), err(&o).as_str()), (Some(0), ""), "{words}");
    }
}

#[test]
fn without_a_home_everything_works_but_keeping() {
    let (_dir, path) = folder();
    mode(&path, 0o777);
    let plan = "plan square.toml --effort rules -q";
    let here = well(say(&mut nobody(&path), plan));
    // None is named (a user without one has /nonexistent), it is not there, it is a file.
    for home in [None, Some("/nonexistent/at/all"), Some("square.toml")] {
        let homeless = || {
            let mut c = nobody(&path);
            c.env_remove("HOME");
            if let Some(home) = home {
                c.env("HOME", if home.starts_with('/') { home.into() } else { path.join(home) });
            }
            c
        };
        assert_eq!(well(say(&mut homeless(), plan)), here, "{home:?}");
        let job = format!(
            "{}.job",
            home.map_or("none", |h| if h.starts_with('/') { "not-there" } else { "a-file" })
        );
        well(say(&mut homeless(), &format!("{START} --out {job}")));
        well(say(&mut homeless(), &format!("job measure {job} width 600 -q")));
        let o = say(&mut homeless(), &format!("job finish {job} --keep"));
        assert!(matches!(o.status.code(), Some(66 | 73 | 74)), "{home:?} {:?} {}", o.status, err(&o));
        let said = [o.stdout, o.stderr].map(|b| String::from_utf8_lossy(&b).into_owned()).concat();
        assert!(!said.contains("panicked") && said.contains("error: "), "{said}");
        // It can be kept elsewhere all the same.
        well(say(&mut homeless(), &format!("job finish {job} --keep --shop kept-{job}.toml")));
    }
}
