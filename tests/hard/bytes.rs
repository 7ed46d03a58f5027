//! Files that nobody meant: examples mutilated byte by byte, word by word and line by line.

use super::dice::Dice;
use super::frames::whole_line;
use super::rounds;
use holdtrue::frame;
use holdtrue::import::{Options, import};
use holdtrue::units::Units;

/// Words and numbers that go wrong.
const BAD: [&str; 36] = [
    "nan",
    "-nan",
    "inf",
    "-inf",
    "1e308",
    "-1e308",
    "1e-308",
    "1e999",
    "0",
    "-0.0",
    "-1",
    "9223372036854775807",
    "9223372036854775808",
    "0x7fffffff",
    "1_000",
    "\"\"",
    "\"\\u0000\"",
    "\"\\U0010FFFF\"",
    "[]",
    "{}",
    "[[]]",
    "true",
    "1979-05-27",
    "'''",
    "\"\"\"",
    "\u{202e}",
    "\u{feff}",
    "ſ",
    "日本",
    "\0",
    "\r",
    "=",
    "[tubes]",
    "[[tube]]",
    "holdtrue = 2",
    "run = [\"a\", \"a\"]",
];

const EXAMPLES: [&str; 4] = [
    include_str!("../../examples/square.toml"),
    include_str!("../../examples/t-joint.toml"),
    include_str!("../../examples/ladder.toml"),
    include_str!("../../examples/cargo-trike.toml"),
];

/// A file with one to six things done to it.
pub fn mutilated(dice: &mut Dice, file: &[u8], words: &[&str]) -> Vec<u8> {
    let mut out = file.to_vec();
    for _ in 0..1 + dice.below(6) {
        if out.is_empty() {
            return out;
        }
        let at = dice.below(out.len());
        match dice.below(8) {
            0 => out[at] = dice.below(256) as u8,
            1 => drop(out.remove(at)),
            2 => out.truncate(at),
            3 => {
                let to = (at + dice.below(60)).min(out.len());
                out.drain(at..to);
            }
            4 => {
                let to = (at + dice.below(200)).min(out.len());
                let piece = out[at..to].to_vec();
                let into = dice.below(out.len());
                out.splice(into..into, piece);
            }
            5 => {
                // A number, wherever one stands, becomes another.
                let Some(from) = out[at..].iter().position(u8::is_ascii_digit).map(|i| i + at) else {
                    continue;
                };
                let to = out[from..].iter().position(|b| !b.is_ascii_digit()).map_or(out.len(), |i| i + from);
                out.splice(from..to, dice.one(words).bytes());
            }
            6 => {
                // A line moves.
                let mut lines: Vec<Vec<u8>> = out.split(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
                let (i, j) = (dice.below(lines.len()), dice.below(lines.len()));
                lines.swap(i, j);
                out = lines.join(&b'\n');
            }
            _ => {
                out.splice(at..at, dice.one(words).bytes());
            }
        }
    }
    out
}

#[test]
fn mutilated_frame_files_are_answered() {
    rounds("frame files", 3000, |seed| {
        let mut dice = Dice::new(seed);
        let example = *dice.one(&EXAMPLES);
        let bytes = mutilated(&mut dice, example.as_bytes(), &BAD);
        let text = match frame::decode(&bytes) {
            Ok(text) => text,
            Err(faults) => return assert!(!faults.is_empty()),
        };
        match frame::read(text) {
            Err(faults) => assert!(!faults.is_empty(), "refused without a reason"),
            // What is still a frame goes down the whole line; the large one only now and then.
            Ok(_) if example.len() < 4000 || dice.once_in(40) => drop(whole_line(text)),
            Ok(_) => {}
        }
    });
}

const DRAWINGS: [&str; 3] = [
    "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n0\nLINE\n8\nrails\n10\n0.0\n20\n0.0\n30\n\
     0.0\n11\n1000.0\n21\n0.0\n31\n0.0\n0\nLWPOLYLINE\n8\nrungs\n90\n3\n70\n1\n10\n0.0\n20\n0.0\n10\n1000.0\n20\n0.0\n10\n\
     1000.0\n20\n600.0\n0\nPOLYLINE\n8\n0\n66\n1\n70\n8\n0\nVERTEX\n8\n0\n10\n0.0\n20\n0.0\n30\n0.0\n0\nVERTEX\n8\n0\n10\n\
     0.0\n20\n0.0\n30\n500.0\n0\nSEQEND\n0\nENDSEC\n0\nEOF\n",
    "# frame\nv 0 0 0\nv 1000 0 0\nv 1000 600 0\nv 0 600 0\ng rails\nl 1 2 3 4 1\nl -1 -2\n",
    "point,a,0,0,0\npoint,b,1000,0,0\npoint,c,1000,600,0\nbar,front,a,b\nbar,side,b,c\n",
];

#[test]
fn mutilated_drawings_are_answered() {
    rounds("drawings", 4000, |seed| {
        let mut dice = Dice::new(seed);
        let bytes = mutilated(&mut dice, dice_one(seed).as_bytes(), &BAD);
        let options = Options {
            unit: None,
            write_in: Units::Mm,
            snap_mm: 1.0,
            name: "drawing".into(),
            section: "{ round = { od = 30, wall = 2 }, material = \"S235\" }".into(),
        };
        match import(&bytes, &options) {
            Err(words) => assert!(!words.trim().is_empty(), "refused without a word"),
            // What the importer writes, the program reads: perhaps as a frame that cannot be built, never
            // as a file that is no frame file.
            Ok(made) => {
                if let Err(faults) = frame::read(&made.toml) {
                    let syntax = faults.iter().find(|f| f.code.starts_with("E0"));
                    assert!(syntax.is_none(), "{syntax:?}\n{}", made.toml);
                } else if dice.once_in(10) {
                    whole_line(&made.toml);
                }
            }
        }
    });
}

fn dice_one(seed: u64) -> &'static str {
    DRAWINGS[seed as usize % DRAWINGS.len()]
}

#[test]
fn a_drawing_that_is_sound_goes_through() {
    for drawing in DRAWINGS {
        let options = Options {
            unit: None,
            write_in: Units::Mm,
            snap_mm: 1.0,
            name: "drawing".into(),
            section: "{ round = { od = 30, wall = 2 }, material = \"S235\" }".into(),
        };
        let made = import(drawing.as_bytes(), &options).expect("sound");
        assert!(frame::read(&made.toml).is_ok(), "{}", made.toml);
    }
}
