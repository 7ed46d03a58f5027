//! `new`: a starter frame, from options or from questions.

use super::args::{Common, NewArgs};
use super::exit::{Exit, Stop};
use super::files;
use crate::library;
use crate::start::{self, Profile, SHAPES, Shape, Wish};
use crate::units::{Units, trim};
use std::io::{BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

pub fn run(a: &NewArgs, common: &Common, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let wish = match (a.shape, &a.name) {
        (Some(shape), Some(name)) => {
            from_options(a, shape.into(), name, common.units.map_or(Units::Mm, Into::into))?
        }
        _ if std::io::stdin().is_terminal() => ask(a, common, &mut std::io::stdin().lock(), err)?,
        (None, _) => {
            let shapes: Vec<String> =
                SHAPES.iter().map(|s| format!("  {:9} {}", s.word(), s.about())).collect();
            return Err(usage(format!("say which shape: --shape SHAPE, one of\n{}", shapes.join("\n"))));
        }
        (_, None) => return Err(usage("say the name of the frame: holdtrue new NAME --shape SHAPE")),
    };
    let text = start::frame_file(&wish).map_err(usage)?;
    let path = a.out.clone().unwrap_or_else(|| PathBuf::from(format!("{}.toml", slug(&wish.name))));
    files::write(&path, text.as_bytes(), common.force, out)?;
    if path != Path::new("-") && !common.quiet {
        let shown = match path.display().to_string() {
            s if s.contains(' ') => format!("\"{s}\""),
            s => s,
        };
        writeln!(err, "wrote {shown}; it can be planned as it is. Next:")?;
        writeln!(err, "  holdtrue check {shown} --out frame.png    what was understood, and a drawing")?;
        writeln!(err, "  holdtrue plan {shown} --pdf wall.pdf      the order of work, on paper")?;
        writeln!(err, "Open the file in any editor to change it; `holdtrue format` explains every key.")?;
    }
    Ok(())
}

fn usage(words: impl Into<String>) -> Stop {
    Stop::new(Exit::Usage, format!("error: {}", words.into()))
}

fn from_options(a: &NewArgs, shape: Shape, name: &str, units: Units) -> Result<Wish, Stop> {
    let mut wish = Wish::usual(shape, name.trim_end_matches(".toml"), units);
    for (key, said) in [("length", &a.length), ("width", &a.width), ("height", &a.height)] {
        if let Some(said) = said {
            wish.measures.insert(key.into(), length(key, said, units).map_err(usage)?);
        }
    }
    if let Some(n) = a.rungs {
        wish.measures.insert("rungs".into(), n.into());
    }
    if let Some(said) = &a.section {
        wish.section = Profile::read(said, units).map_err(usage)?;
    }
    if let Some(said) = &a.second {
        wish.second = Some(Profile::read(said, units).map_err(usage)?);
    }
    if let Some(said) = &a.wall {
        let wall = length("wall", said, units).map_err(usage)?;
        wish.section = wish.section.with_wall(wall).map_err(usage)?;
    }
    if let Some(said) = &a.material {
        wish.material = material(said).map_err(usage)?;
    }
    if let Some(n) = a.process {
        wish.process = process(n).map_err(usage)?;
    }
    Ok(wish)
}

fn length(what: &str, said: &str, units: Units) -> Result<f64, String> {
    units.read(said).ok_or_else(|| {
        format!("{what} \"{said}\" is no length: write for instance 1200, \"4 ft\" or \"47 1/4 in\"")
    })
}

fn material(said: &str) -> Result<String, String> {
    let known = library::materials();
    let is = |name: &str| name.eq_ignore_ascii_case(said.trim());
    let found = known.iter().find(|m| is(&m.name) || m.aliases.iter().any(|a| is(a)));
    found.map(|m| m.name.clone()).ok_or_else(|| {
        let names: Vec<&str> = known.iter().map(|m| m.name.as_str()).collect();
        format!(
            "there is no built-in material \"{said}\": {}; put your own in the file later",
            names.join(", ")
        )
    })
}

fn process(number: u16) -> Result<u16, String> {
    let known = library::processes();
    if known.iter().any(|p| p.number == number) {
        return Ok(number);
    }
    let names: Vec<String> = known.iter().map(|p| format!("{} ({})", p.number, p.name)).collect();
    Err(format!("there is no process {number}: {}", names.join(", ")))
}

/// A file name from the name of a frame.
fn slug(name: &str) -> String {
    let plain: String =
        name.trim().chars().map(|c| if c.is_alphanumeric() || "._-".contains(c) { c } else { '-' }).collect();
    let parts: Vec<&str> = plain.split('-').filter(|p| !p.is_empty()).collect();
    match parts.join("-") {
        s if s.trim_matches('.').is_empty() => "frame".into(),
        s => s,
    }
}

/// Ask line by line; Enter takes what stands in brackets. What the options say already is not asked.
fn ask(a: &NewArgs, common: &Common, input: &mut dyn BufRead, err: &mut dyn Write) -> Result<Wish, Stop> {
    let mut talk = Talk { input, err };
    writeln!(talk.err, "A starter frame. Enter takes what stands in brackets.")?;
    let units = match common.units {
        Some(u) => u.into(),
        None => talk.until("Unit, mm or inch", "mm", |s| match s.to_lowercase().as_str() {
            "mm" => Ok(Units::Mm),
            "inch" | "in" | "inches" => Ok(Units::Inch),
            _ => Err("mm or inch".into()),
        })?,
    };
    let shape = match a.shape {
        Some(shape) => shape.into(),
        None => {
            for (i, s) in SHAPES.iter().enumerate() {
                writeln!(talk.err, "  {} {:9} {}", i + 1, s.word(), s.about())?;
            }
            talk.until("Shape, by number or word", "ladder", |s| {
                let by_number = s.parse::<usize>().ok().and_then(|n| SHAPES.get(n.wrapping_sub(1)));
                by_number
                    .or(SHAPES.iter().find(|x| x.word().eq_ignore_ascii_case(s)))
                    .copied()
                    .ok_or_else(|| "a number or a word of the list".into())
            })?
        }
    };
    let name = match &a.name {
        Some(name) => name.trim_end_matches(".toml").to_string(),
        None => talk.until("Name of the frame", shape.word(), |s| Ok(s.to_string()))?,
    };
    let mut wish = from_options(a, shape, &name, units)?;
    for m in shape.measures() {
        if wish.measures.contains_key(m.key) {
            continue;
        }
        let or = trim(m.usual(units) / if m.length { units.mm() } else { 1.0 }, 0);
        let unit = if m.length { format!(", {}", units.word()) } else { String::new() };
        let value = talk.until(&format!("{}{unit}", capital(m.about)), &or, |s| {
            let v = if m.length {
                length("it", s, units)?
            } else {
                s.parse::<u32>().map(f64::from).map_err(|_| "a whole number".to_string())?
            };
            let say = |x: f64| if m.length { units.length(x) } else { trim(x, 0) };
            match (m.least..=m.most).contains(&v) {
                true => Ok(v),
                false => Err(format!("between {} and {}", say(m.least), say(m.most))),
            }
        })?;
        wish.measures.insert(m.key.into(), value);
    }
    if a.section.is_none() {
        let usual = wish.section.words(units);
        wish.section = talk.until("Section of the main tubes", &usual, |s| Profile::read(s, units))?;
    }
    if a.material.is_none() {
        wish.material = talk.until("Material", "S235", material)?;
    }
    if a.process.is_none() {
        let usual = wish.process.to_string();
        wish.process = talk.until("Process (135 MAG, 141 TIG, 111 stick)", &usual, |s| {
            s.parse().map_err(|_| "its number".to_string()).and_then(process)
        })?;
    }
    Ok(wish)
}

fn capital(words: &str) -> String {
    let mut c = words.chars();
    c.next().map_or(String::new(), |f| f.to_uppercase().chain(c).collect())
}

struct Talk<'a> {
    input: &'a mut dyn BufRead,
    err: &'a mut dyn Write,
}

impl Talk<'_> {
    /// Ask until the answer is understood.
    fn until<T>(
        &mut self,
        question: &str,
        or: &str,
        understood: impl Fn(&str) -> Result<T, String>,
    ) -> Result<T, Stop> {
        loop {
            write!(self.err, "{question} [{or}]: ")?;
            self.err.flush()?;
            let mut line = String::new();
            let read = self.input.read_line(&mut line);
            if read.map_err(|e| Stop::new(Exit::NoInput, format!("error: cannot read the answer: {e}")))? == 0
            {
                return Err(Stop::new(Exit::NoInput, "\nerror: no more answers; nothing was written"));
            }
            let said = line.trim();
            match understood(if said.is_empty() { or } else { said }) {
                Ok(value) => return Ok(value),
                Err(why) => writeln!(self.err, "  not understood: {why}")?,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::args::Cli;
    use clap::Parser;

    fn asked(words: &[&str], answers: &str) -> (Result<Wish, Stop>, String) {
        let cli = Cli::try_parse_from([&["holdtrue", "new"], words].concat()).expect("sound words");
        let super::super::Command::New(a) = &cli.command else { panic!("not new") };
        let mut said = Vec::new();
        let wish = ask(a, &cli.common, &mut answers.as_bytes(), &mut said);
        (wish, String::from_utf8(said).expect("UTF-8"))
    }

    #[test]
    fn enter_takes_the_defaults_and_nonsense_is_asked_again() {
        let (wish, said) = asked(&[], "\n6\nyard gate\n1500\nhigh\n9\n1200\n5\nround\n50x3\n\n\n");
        let wish = wish.expect("all answered");
        assert_eq!((wish.shape, wish.name.as_str(), wish.units), (Shape::Gate, "yard gate", Units::Mm));
        assert_eq!(
            (wish.measures["length"], wish.measures["height"], wish.measures["rungs"]),
            (1500.0, 1200.0, 5.0)
        );
        assert_eq!(wish.section, Profile::Box { height: 50.0, width: 50.0, wall: 3.0 });
        assert_eq!(said.matches("not understood").count(), 3, "{said}");
        assert!(said.contains("Width of the gate outside, mm [1200]: "), "{said}");
        start::frame_file(&wish).expect("it plans");
    }

    #[test]
    fn inches_are_asked_in_inches() {
        let (wish, said) = asked(&["--shape", "ladder"], "inch\nrack\n4 ft\n19 1/2\n\n\n\n\n");
        let wish = wish.expect("all answered");
        assert_eq!((wish.measures["length"], wish.measures["width"]), (1219.2, 495.3));
        assert!(said.contains("Width over both rails, inch [20]: "), "{said}");
        start::frame_file(&wish).expect("it plans");
    }

    #[test]
    fn the_end_of_the_answers_writes_nothing() {
        let (wish, _) = asked(&[], "mm\n1\n");
        assert_eq!(wish.expect_err("the answers end").exit, Exit::NoInput);
    }

    #[test]
    fn file_names_are_plain() {
        assert_eq!(
            [slug("Yard gate / north"), slug(" é 1"), slug("///"), slug("a.b")],
            ["Yard-gate-north", "é-1", "frame", "a.b"]
        );
    }
}
