use super::*;

fn options() -> Options {
    Options {
        unit: None,
        write_in: Units::Mm,
        snap_mm: 1.0,
        name: "gate \"A\"".into(),
        section: "{ square = { side = 40, wall = 3 }, material = \"S235\" }".into(),
    }
}

#[test]
fn a_table_of_points_and_bars_becomes_a_frame_that_reads() {
    let text = "# a ladder\npoint,a,0,0,0\npoint,b,900,0,0\npoint,c,0,400,0\npoint,d,900,400,0\npoint,e,300,0,0\n\
                point,f,300,400,0\nbar,rail left,c,d\nbar,rail right,a,b\nbar,rung,e,f\n";
    let made = import(text.as_bytes(), &options()).expect("sound table");
    assert!(
        made.toml.contains("rail-left = { section = \"main\", run = [\"p1\", \"p6\", \"p2\"] }"),
        "{}",
        made.toml
    );
    assert!(made.guesses.iter().any(|g| g.starts_with("2 ends lie on another tube")), "{:?}", made.guesses);
    let frame = crate::frame::read(&made.toml).expect("the text reads").value;
    assert_eq!(frame.tubes.len(), 3);
    assert_eq!(frame.name, "gate \"A\"");
}

#[test]
fn crossing_lines_are_split_and_lines_in_line_joined() {
    let text = "v 0 0 0\nv 500 0 0\nv 1000 0 0\nv 250 -300 0\nv 250 300 0\no bar\nl 1 2 3\nl 4 5\nf 1 2 3\n";
    let made = import(text.as_bytes(), &options()).expect("sound file");
    assert!(made.toml.contains("run = [\"p1\", \"p6\", \"p2\", \"p3\"]"), "{}", made.toml);
    assert_eq!(made.toml.matches("section = \"main\", run").count(), 3);
    assert!(made.guesses.iter().any(|g| g.contains("1 crossings")), "{:?}", made.guesses);
    assert!(made.guesses.iter().any(|g| g.contains("faces passed over")));
}

#[test]
fn the_unit_is_guessed_by_size_and_the_guess_is_said() {
    let text = "v 0 0 0\nv 40 0 0\nl 1 2\n";
    let made = import(text.as_bytes(), &options()).expect("sound file");
    assert!(made.toml.contains("p2 = [1016, 0, 0]"), "{}", made.toml);
    assert!(made.guesses[0].contains("inches"), "{:?}", made.guesses);
    let mm = Options { unit: Some(Unit::Mm), ..options() };
    let made = import(text.as_bytes(), &mm).expect("sound file");
    assert!(made.toml.contains("p2 = [40, 0, 0]") && made.guesses.is_empty(), "{}", made.toml);
}

#[test]
fn rubbish_is_refused_in_words_with_its_line() {
    let refuse = |text: &[u8]| import(text, &options()).expect_err("rubbish");
    assert!(refuse(b"hello").starts_with("this is neither DXF"));
    assert!(refuse(b"\0\xff\xfe\0\0").contains("not a text file"));
    assert!(refuse(b"AutoCAD Binary DXF\r\n\x1a\0").contains("save it as a text DXF"));
    assert!(refuse(b"v 1 2\nl 1 2").starts_with("line 1: a point needs three numbers"));
    assert!(refuse(b"v 0 0 0\nl 1 9").starts_with("line 2: \"9\" names no point"));
    assert!(refuse(b"point,a,0,0,x\n").starts_with("line 1: \"x\" is not a coordinate"));
    assert!(refuse(b"point,a,0,0,0\nbar,r,a,q\n").contains("\"q\", which is no point"));
    assert!(refuse(b"  0\nSECTION\n  2\nENTITIES\n  0\nLINE\n 10\n").contains("cut off"));
    assert!(refuse(b"v 0 0 0\nv 1 nan 0\n").starts_with("line 2"));
}
