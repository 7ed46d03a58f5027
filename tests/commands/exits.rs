//! How the program ends, and what it says then: complete texts.

use super::bench::{Bench, Said, example, holdtrue};
use holdtrue::cli::Exit;
use std::ffi::OsString;
use std::io::{self, Write};

const SQUARE: &str = include_str!("../../examples/square.toml");

#[track_caller]
fn ends(said: Said, exit: Exit, err: &str) {
    assert_eq!(said.exit, exit, "{}", said.err);
    let trimmed = |t: &str| t.lines().map(str::trim_end).collect::<Vec<_>>().join("\n");
    assert_eq!(trimmed(said.err.trim()), trimmed(err.trim()), "\n{}", said.err);
    assert_eq!(said.text(), "", "nothing may be printed beside an error");
}

#[test]
fn the_numbers_are_the_documented_ones() {
    let numbers = [
        (Exit::Ok, 0),
        (Exit::Usage, 2),
        (Exit::BadInput, 65),
        (Exit::NoInput, 66),
        (Exit::Internal, 70),
        (Exit::CannotCreate, 73),
        (Exit::Io, 74),
        (Exit::Busy, 75),
    ];
    let help = holdtrue(["--help".into()]).well();
    let told = help.text().split("Exit codes:").nth(1).expect("the help lists them");
    for (exit, number) in numbers {
        assert_eq!(exit as u8, number);
        let told: Vec<&str> = told.split(|c: char| !c.is_ascii_digit()).collect();
        assert!(told.contains(&number.to_string().as_str()), "{number} is not in the help");
    }
}

#[test]
fn a_missing_file_is_66() {
    let words = "error: cannot read nofile.toml: No such file or directory (os error 2)";
    for command in ["plan", "check", "compare"] {
        ends(Bench::new().run(&format!("{command} @nofile.toml")), Exit::NoInput, words);
    }
}

#[test]
fn a_faulty_file_is_65_and_shows_line_column_and_word() {
    let bench = Bench::new();
    bench.file("bad.toml", SQUARE.replace("wall = 3", "wal = 3"));
    let words = r#"
error[E105]: square of section "side" has no key `wal`
 --> bad.toml:6:32
  |
6 | side = { square = { side = 40, wal = 3 }, material = "S235" }
  |                                ^^^ not a key of this table
  |
help: did you mean `wall`?
  |
6 | side = { square = { side = 40, wall = 3 }, material = "S235" }
  |                                   +

1 error in bad.toml; nothing was planned
"#;
    for command in ["plan", "check", "compare"] {
        ends(bench.run(&format!("{command} @bad.toml")), Exit::BadInput, words);
    }
}

#[test]
fn all_faults_of_a_file_come_at_once() {
    let bench = Bench::new();
    let text = SQUARE
        .replace("wall = 3", "wal = 3")
        .replace("[controls]", "[contrls]")
        .replace("600, 600", "600, nan");
    let said = bench.file("bad.toml", text).run("plan @bad.toml");
    assert_eq!(said.exit, Exit::BadInput);
    let errors = said.err.matches("error[E").count();
    assert!(errors >= 3, "{}", said.err);
    assert!(said.err.contains(&format!("\n{errors} errors")), "{}", said.err);
}

#[test]
fn a_file_that_is_not_utf_8_is_65() {
    let bench = Bench::new();
    bench.file("old.toml", b"holdtrue = 1\n[frame]\nname = \"Stra\xdfe\"\n");
    let words = r#"
error[E101]: the file is not UTF-8 text: byte 0xDF in line 3 (byte 33 of the file)
--> old.toml
 = help: save it as UTF-8; most editors offer this under "save as"

1 error in old.toml; nothing was planned
"#;
    ends(bench.run("check @old.toml"), Exit::BadInput, words);
}

#[test]
fn a_file_of_ten_megabytes_is_65() {
    let bench = Bench::new();
    bench.file("large.toml", "#".repeat(10_000_000));
    let words = r#"
error[E102]: the file is 10.0 MB; a frame file is never larger than 4 MB
--> large.toml
 = help: is this the right file? a frame of 2,000 welds fits into half a megabyte

1 error in large.toml; nothing was planned
"#;
    ends(bench.run("plan @large.toml"), Exit::BadInput, words);
}

#[test]
fn an_output_that_is_there_is_73_and_stays_as_it_is() {
    let bench = Bench::new();
    bench.file("frame.toml", SQUARE);
    for (option, name) in [("plan --effort rules --pdf", "a.pdf"), ("plan --effort rules --json", "a.json")]
        .into_iter()
        .chain([("draw --effort rules --out", "a.svg"), ("draw --effort rules --out", "a.png")])
    {
        bench.file(name, "yesterday's");
        let words = format!("error: {name} is already there; choose another name or say --force");
        let line = format!("{option} @{name} @frame.toml");
        ends(bench.run(&line), Exit::CannotCreate, &words);
        assert_eq!(bench.bytes(name), b"yesterday's");
        bench.run(&format!("{line} --force --quiet")).well();
        assert!(bench.bytes(name).len() > 1000, "{name}");
    }
    // Nothing half written is left beside.
    assert_eq!(bench.names(), ["a.json", "a.pdf", "a.png", "a.svg", "frame.toml"]);
    // One of two outputs that are asked for is there: the other is not written either.
    let said = bench.run("plan --effort rules --pdf @new.pdf --json @a.json @frame.toml");
    assert_eq!(said.exit, Exit::CannotCreate);
    assert!(!bench.names().contains(&"new.pdf".to_string()));
}

#[test]
fn an_output_in_a_folder_that_is_not_there_is_73() {
    let bench = Bench::new();
    let said = bench.file("frame.toml", SQUARE).run("plan --effort rules -q --json @no/a.json @frame.toml");
    assert_eq!(said.exit, Exit::CannotCreate);
    assert!(said.err.starts_with("error: cannot write no/a.json: "), "{}", said.err);
}

#[test]
fn wrong_words_are_2() {
    let words = "error: unrecognized subcommand 'foo'\n\nUsage: holdtrue [OPTIONS] <COMMAND>\n\nFor more \
                 information, try '--help'.";
    ends(Bench::new().run("foo"), Exit::Usage, words);
    for line in ["plan", "plan a b", "plan --effort hard a", "plan --welders 0 a", "draw a", "schema job2"] {
        let said = Bench::new().run(line);
        assert_eq!(said.exit, Exit::Usage, "{line}");
        assert!(said.err.starts_with("error: ") && said.out.is_empty(), "{line}: {}", said.err);
    }
    let bench = Bench::new();
    let said = bench.file("frame.toml", SQUARE).run("draw --out @a.gif @frame.toml");
    ends(said, Exit::Usage, "error: a.gif must end in .svg or .png: the ending says what to draw");
}

#[test]
fn the_help_and_every_plan_carry_the_caution() {
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let help = plain(holdtrue(["--help".into()]).well().text());
    for part in [
        "Computed numbers are not a qualified procedure",
        "qualified welder",
        "engineer's approval",
        "local codes",
    ] {
        assert!(help.contains(part), "{part}: {help}");
    }
    let bench = Bench::new();
    let text = plain(bench.file("frame.toml", SQUARE).run("plan --effort rules @frame.toml").well().text());
    assert!(text.contains("not a qualified welding procedure") && text.contains("local codes"), "{text}");
}

/// A reader that goes away after some bytes, as `head` does.
struct Gone {
    left: usize,
}

impl Write for Gone {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let n = bytes.len().min(self.left);
        self.left -= n;
        if n == 0 { Err(io::ErrorKind::BrokenPipe.into()) } else { Ok(n) }
    }
    fn flush(&mut self) -> io::Result<()> {
        if self.left == 0 { Err(io::ErrorKind::BrokenPipe.into()) } else { Ok(()) }
    }
}

/// A disk that is full.
struct Full;

impl Write for Full {
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        Err(io::ErrorKind::StorageFull.into())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_reader_that_goes_away_ends_every_command_quietly() {
    let frame = example("square");
    let lines = [
        format!("plan --effort rules -q {frame}"),
        format!("plan --effort rules -q --why {frame}"),
        format!("plan --effort rules -q --json - {frame}"),
        format!("check -q {frame}"),
        format!("compare --effort rules -q {frame}"),
        "materials".into(),
        "processes".into(),
        "codes".into(),
        "schema plan".into(),
        "completions bash".into(),
        "man".into(),
        "--help".into(),
    ];
    for line in lines {
        let words = || std::iter::once("holdtrue").chain(line.split(' ')).map(OsString::from);
        for left in [0, 100] {
            let mut err = vec![];
            let exit = holdtrue::cli::run(words(), &mut Gone { left }, &mut err);
            assert_eq!(exit, Exit::Ok, "{line}");
            assert!(err.is_empty(), "{line}: {}", String::from_utf8_lossy(&err));
        }
        if line != "--help" {
            let mut err = vec![];
            let exit = holdtrue::cli::run(words(), &mut Full, &mut err);
            assert_eq!(exit, Exit::Io, "{line}: a full disk is a fault");
            assert!(String::from_utf8_lossy(&err).starts_with("error: cannot write: "), "{line}");
        }
    }
}

/// The colour of the real program, which alone has an environment of its own.
#[test]
fn colour_is_for_terminals_and_no_color_wins() {
    let bench = Bench::new();
    bench.file("bad.toml", SQUARE.replace("wall = 3", "wal = 3"));
    let run = |frame: String, set: &[(&str, &str)]| {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_holdtrue"));
        command.args(["plan", "--effort", "rules", &frame]);
        for name in ["NO_COLOR", "CLICOLOR_FORCE", "COLUMNS"] {
            command.env_remove(name);
        }
        let said = command.envs(set.iter().copied()).output().expect("the program runs");
        let escape = |bytes: &[u8]| bytes.contains(&0x1b);
        (said.status.code(), escape(&said.stdout), escape(&said.stderr))
    };
    let bad = || bench.path("bad.toml").display().to_string();
    let forced = ("CLICOLOR_FORCE", "1");
    assert_eq!(run(example("square"), &[]), (Some(0), false, false));
    assert!(run(example("square"), &[forced]).1);
    assert_eq!(run(example("square"), &[forced, ("NO_COLOR", "1")]), (Some(0), false, false));
    assert_eq!(run(bad(), &[]), (Some(65), false, false));
    assert_eq!(run(bad(), &[forced]), (Some(65), false, true));
    assert_eq!(run(bad(), &[forced, ("NO_COLOR", "1")]), (Some(65), false, false));
}

#[test]
fn the_checklist_is_eighty_columns_wide_and_plain_when_piped() {
    for name in super::bench::SMALL {
        let said = holdtrue(["plan", "--effort", "rules", &example(name)].map(OsString::from)).well();
        for line in said.text().lines() {
            assert!(line.chars().count() <= 80, "{name}: {line}");
            assert!(!line.contains('\u{1b}') && line.trim_end() == line, "{name}: {line:?}");
        }
    }
}

/// Every output twice, and on one thread and on two.
#[test]
fn the_same_frame_gives_the_same_bytes_again_and_on_any_number_of_threads() {
    let bench = Bench::new();
    bench.file("frame.toml", include_str!("../../examples/h-frame.toml"));
    let lines = [
        "plan --effort quick --why --pdf @x.pdf --json @x.json",
        "draw --effort rules --out @x.svg",
        "draw --effort rules --view top --out @x.png",
    ];
    let all = || {
        let said = lines.map(|line| bench.run(&format!("{line} -q --force @frame.toml")).well().out);
        let files = ["x.pdf", "x.json", "x.svg", "x.png"].map(|n| bench.bytes(n));
        said.into_iter().chain(files).collect::<Vec<_>>()
    };
    let pool = |n: usize| rayon::ThreadPoolBuilder::new().num_threads(n).build().expect("threads");
    let one = pool(1).install(all);
    assert!(one[0].len() > 1000 && one[3..].iter().all(|b| b.len() > 1000));
    for (n, other) in [(1, pool(1).install(all)), (2, pool(2).install(all))] {
        for (i, (a, b)) in one.iter().zip(&other).enumerate() {
            assert!(a == b, "output {i} differs on {n} threads");
        }
    }
    // Another seed is another plan: the search does use its dice, or says so by the same order.
    let other = bench.run("plan --effort quick --seed 2 --json - -q @frame.toml").well();
    assert!(other.out != one[4], "seed 2 is written on the plan");
}
