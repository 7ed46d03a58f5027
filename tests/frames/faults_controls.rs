//! Faults of controls, clamps and stages, and the warnings.

use super::{edited, said as said_of, says};
use holdtrue::frame::read;

/// E150
#[test]
fn a_point_on_no_tube() {
    says(
        &[
            ("c = [600, 500, 0]", "c = [600, 500, 0]\nlost = [300, 90, 0]"),
            ("of = [\"a\", \"b\"]", "of = [\"a\", \"lost\"]"),
        ],
        r####"
error[E150]: point "lost" does not lie on any tube
  --> frame.toml:16:41
   |
11 | lost = [300, 90, 0]
   | ---- the point
...
16 | width = { kind = "distance", of = ["a", "lost"], tolerance = 2 }
   |                                         ^^^^^^ nothing to measure there
   |
   = help: it misses the outside of "one" by 70.0 mm; name a place on a tube, such as "one:end" or "one@350"

1 error
"####,
    );
}

/// E112
#[test]
fn a_tube_where_a_place_is_wanted() {
    says(
        &[("of = [\"a\", \"b\"]", "of = [\"a\", \"two\"]")],
        r####"
error[E112]: "two" is a tube, not a place
  --> frame.toml:15:41
   |
15 | width = { kind = "distance", of = ["a", "two"], tolerance = 2 }
   |                                         ^^^^^ where on it?
   |
   = help: write "two:start", "two:end", "two:middle" or "two@350"

1 error
"####,
    );
}

/// E151
#[test]
fn too_few_places() {
    says(
        &[("kind = \"distance\"", "kind = \"twist\"")],
        r####"
error[E151]: `twist` needs 4 places, not 2
  --> frame.toml:15:32
   |
15 | width = { kind = "twist", of = ["a", "b"], tolerance = 2 }
   |                                ^^^^^^^^^^ 4 wanted
   |
   = help: write of = ["a", "b", "c", "d"]: the fourth against the plane of three

1 error
"####,
    );
}

/// E152
#[test]
fn a_distance_of_nothing() {
    says(
        &[("of = [\"a\", \"b\"]", "of = [\"a\", \"one:start\"]")],
        r####"
error[E152]: control "width" measures nothing: both places are the same
  --> frame.toml:15:35
   |
15 | width = { kind = "distance", of = ["a", "one:start"], tolerance = 2 }
   |                                   ^^^^^^^^^^^^^^^^^^ these places
   |
   = help: a place is a point on a tube, "tube:start", "tube:end" or "tube@350"

1 error
"####,
    );
}

/// E152
#[test]
fn a_bow_along_the_tube() {
    says(
        &[("kind = \"distance\", of = [\"a\", \"b\"]", "kind = \"bow\", of = [\"one\"], direction = \"X\"")],
        r####"
error[E152]: control "width" measures nothing: the direction runs along the tube
  --> frame.toml:15:30
   |
15 | width = { kind = "bow", of = ["one"], direction = "X", tolerance = 2 }
   |                              ^^^^^^^ these places
   |
   = help: a place is a point on a tube, "tube:start", "tube:end" or "tube@350"

1 error
"####,
    );
}

/// E153
#[test]
fn a_class_for_lengths_on_a_bow() {
    says(
        &[(
            "kind = \"distance\", of = [\"a\", \"b\"], tolerance = 2",
            "kind = \"bow\", of = [\"one\"], tolerance = \"B\"",
        )],
        r####"
error[E153]: class B does not fit this kind of control
  --> frame.toml:15:51
   |
15 | width = { kind = "bow", of = ["one"], tolerance = "B" }
   |                                                   ^^^ E to H wanted
   |
   = help: ISO 13920: A to D for lengths and angles, E to H for straightness, flatness and parallelism

1 error
"####,
    );
}

/// E160
#[test]
fn a_clock_that_is_none() {
    says(
        &[("tolerance = 2 }\n", "tolerance = 2 }\n[[joint]]\npoint = \"b\"\nopen = [\"13-3\"]\n")],
        r####"
error[E160]: "13-3" is no range on the clock
  --> frame.toml:18:9
   |
18 | open = ["13-3"]
   |         ^^^^^^ hours from and to wanted
   |
   = help: write for instance "12-3" or "10:30-1", clockwise

1 error
"####,
    );
}

/// E164
#[test]
fn more_setups_than_a_frame_is_turned_through() {
    let many = |n: usize| {
        let one = |i: usize| format!("[[setup]]\nname = \"s{i}\"\nup = \"Z\"\n");
        edited(&[(
            "tolerance = 2 }\n",
            &format!("tolerance = 2 }}\n{}", (1..=n).map(one).collect::<String>()),
        )])
    };
    assert!(read(&many(64)).is_ok());
    let text = many(66);
    let said = read(&text).expect_err("too many");
    let places: Vec<(&str, &str)> = said.iter().map(|f| (f.code, &text[f.at.clone().unwrap()])).collect();
    assert_eq!(places, [("E164", "\"s65\"")]);
    let shown = said_of(&text);
    assert_eq!(
        shown.lines().find(|l| l.starts_with("error")),
        Some("error[E164]: more than 64 setups"),
        "{shown}"
    );
    assert!(shown.contains("name = \"s65\"") && shown.contains("^^^^^ one too many"), "{shown}");
}

/// E162
#[test]
fn a_clamp_that_holds_nothing() {
    says(
        &[("tolerance = 2 }\n", "tolerance = 2 }\n[clamps]\nstop = { point = \"a\", holds = \"\" }\n")],
        r####"
error[E162]: clamp "stop" holds nothing
  --> frame.toml:17:31
   |
17 | stop = { point = "a", holds = "" }
   |                               ^^ no direction
   |
   = help: write `holds = "XYZ"`, the directions it holds

1 error
"####,
    );
}

/// E113
#[test]
fn a_clamp_that_holds_and_pushes() {
    says(
        &[(
            "tolerance = 2 }\n",
            "tolerance = 2 }\n[clamps]\nstop = { point = \"a\", pushes = \"up\", holds = \"Z\" }\n",
        )],
        r####"
error[E113]: clamp "stop" both holds and pushes
  --> frame.toml:17:46
   |
17 | stop = { point = "a", pushes = "up", holds = "Z" }
   |                                              ^^^ a clamp holds, a stop pushes
   |
   = help: leave one of them out, or write a clamp and a stop

1 error
"####,
    );
}

/// E137
#[test]
fn a_clamp_past_the_end() {
    says(
        &[(
            "tolerance = 2 }\n",
            "tolerance = 2 }\n[clamps]\nstop = { tube = \"one\", at = 900, holds = \"Z\" }\n",
        )],
        r####"
error[E137]: 900 mm is not on "one"
  --> frame.toml:17:29
   |
17 | stop = { tube = "one", at = 900, holds = "Z" }
   |                             ^^^ it is 600.0 mm long
   |
   = help: between 0 and 600.0, measured from its start

1 error
"####,
    );
}

/// E163
#[test]
fn a_tube_in_no_stage() {
    says(
        &[("tolerance = 2 }\n", "tolerance = 2 }\n[[stage]]\nname = \"first\"\ntubes = [\"one\"]\n")],
        r####"
error[E163]: "two" belongs to no stage
  --> frame.toml:13:1
   |
13 | two = { section = "main", run = ["b", "c"] }
   | ^^^ in no `tubes` of a [[stage]]
   |
   = help: add it to the stage in which it is fitted

1 error
"####,
    );
}

/// E163
#[test]
fn a_tube_in_two_stages() {
    says(
        &[(
            "tolerance = 2 }\n",
            "tolerance = 2 }\n[[stage]]\nname = \"first\"\ntubes = [\"one\", \"two\"]\n[[stage]]\nname = \"second\"\ntubes = [\"two\"]\n",
        )],
        r####"
error[E163]: "two" is added twice
  --> frame.toml:21:10
   |
18 | tubes = ["one", "two"]
   |                 ----- first here
...
21 | tubes = ["two"]
   |          ^^^^^ again
   |
   = help: a tube belongs to one stage

1 error
"####,
    );
}

/// W101
#[test]
fn a_section_that_nothing_uses() {
    says(
        &[("[points]", "spare = { solid = { od = 12 }, material = \"S235\" }\n[points]")],
        r####"
warning[W101]: section "spare" is never used
 --> frame.toml:7:1
  |
7 | spare = { solid = { od = 12 }, material = "S235" }
  | ^^^^^ no tube has it

1 warning
"####,
    );
}

/// W102
#[test]
fn a_frame_without_controls() {
    says(
        &[("[controls]\nwidth = { kind = \"distance\", of = [\"a\", \"b\"], tolerance = 2 }\n", "")],
        r####"
warning[W102]: the frame has no control: nothing is said to come out true
--> frame.toml
 = help: add `[[control]]` with name, kind, of and tolerance for each dimension that matters

1 warning
"####,
    );
}

/// W103
#[test]
fn a_tight_bend() {
    says(
        &[(
            "two = {",
            "three = { section = \"main\", run = [\"a\", [0, 500, 0], \"c\"], bend_radius = 50 }\ntwo = {",
        )],
        r####"
warning[W103]: a bend of 50 mm is tight for 40 mm
  --> frame.toml:13:74
   |
13 | three = { section = "main", run = ["a", [0, 500, 0], "c"], bend_radius = 50 }
   |                                                                          ^^ less than 1.5 times the outside

1 warning
"####,
    );
}

/// W104
#[test]
fn a_thin_wall() {
    says(
        &[("od = 40, wall = 3", "od = 40, wall = 0.5")],
        r####"
warning[W104]: a wall of 0.5 mm is unusual
 --> frame.toml:5:36
  |
5 | main = { round = { od = 40, wall = 0.5 }, material = "S235" }
  |                                    ^^^ outside 0.8 to 40 mm

1 warning
"####,
    );
}
