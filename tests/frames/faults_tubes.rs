//! Faults of runs, places and plates.

use super::says;

/// E130
#[test]
fn a_tube_without_length() {
    says(
        &[("run = [\"a\", \"b\"]", "run = [\"a\", [0, 0, 0]]")],
        r####"
error[E130]: "one" has a piece without length
  --> frame.toml:12:38
   |
12 | one = { section = "box", run = ["a", [0, 0, 0]] }
   |                                 ---  ^^^^^^^^^ the same place as the one before
   |                                 |
   |                                 the one before
   |
   = help: two neighbouring places of a run must differ

1 error
"####,
    );
}

/// E131
#[test]
fn a_ring_in_one_run() {
    says(
        &[("run = [\"a\", \"b\"]", "run = [\"a\", \"b\", \"c\", \"a\"]")],
        r####"
error[E131]: the run of "one" passes one place twice
  --> frame.toml:12:48
   |
12 | one = { section = "box", run = ["a", "b", "c", "a"] }
   |                                 --- here first ^^^ here again
   |
   = help: a closed ring is made of two or more tubes

1 error
"####,
    );
}

/// E132
#[test]
fn a_tube_on_a_tube() {
    says(
        &[("two = {", "three = { section = \"main\", run = [\"b\", \"a\"] }\ntwo = {")],
        r####"
error[E132]: "three" lies where "one" lies
  --> frame.toml:13:1
   |
12 | one = { section = "box", run = ["a", "b"] }
   | --- first one
13 | three = { section = "main", run = ["b", "a"] }
   | ^^^^^ same run
   |
   = help: remove one of the two

1 error
"####,
    );
}

/// E133
#[test]
fn a_corner_without_a_bend() {
    says(
        &[("two = {", "three = { section = \"main\", run = [\"a\", [0, 300, 0], \"c\"] }\ntwo = {")],
        r####"
error[E133]: "three" turns by 72 degrees but has no bend
  --> frame.toml:13:41
   |
13 | three = { section = "main", run = ["a", [0, 300, 0], "c"] }
   |                                         ^^^^^^^^^^^ corner without a bend radius
   |
   = help: write `bend_radius = …` (mm to the centre line) if the tube is bent, or make two tubes that meet here

1 error
"####,
    );
}

/// E133
#[test]
fn a_bend_that_does_not_fit() {
    says(
        &[(
            "two = {",
            "three = { section = \"main\", run = [\"a\", [0, 60, 0], \"c\"], bend_radius = 200 }\ntwo = {",
        )],
        r####"
error[E133]: a bend of radius 200 mm does not fit here
  --> frame.toml:13:41
   |
13 | three = { section = "main", run = ["a", [0, 60, 0], "c"], bend_radius = 200 }
   |                                         ^^^^^^^^^^                      --- bend radius
   |                                         |
   |                                         takes 101.3 mm of each side, only 60.0 mm is there
   |
   = help: at this corner at most 118.4 mm

1 error
"####,
    );
}

/// E134
#[test]
fn a_whole_frame_in_metres() {
    says(
        &[("[600, 0, 0]", "[0.6, 0, 0]"), ("[600, 500, 0]", "[0.6, 0.5, 0]")],
        r####"
error[E134]: the whole frame is 0.6 mm long
  --> frame.toml:12:1
   |
12 | one = { section = "box", run = ["a", "b"] }
   | ^^^ all lengths are in mm
   |
   = help: if metres were meant, write 600 for 0.600; if inches, 15.2

error[E152]: control "width" measures nothing: both places are the same
  --> frame.toml:15:35
   |
15 | width = { kind = "distance", of = ["a", "b"], tolerance = 2 }
   |                                   ^^^^^^^^^^ these places
   |
   = help: a place is a point on a tube, "tube:start", "tube:end" or "tube@350"

2 errors
"####,
    );
}

/// E134
#[test]
fn a_frame_as_long_as_a_bridge() {
    says(
        &[("[600, 500, 0]", "[600, 500000, 0]")],
        r####"
error[E134]: the whole frame is 500 m long
  --> frame.toml:12:1
   |
12 | one = { section = "box", run = ["a", "b"] }
   | ^^^ all lengths are in mm
   |
   = help: a one-off frame of more than 100 m is beyond this program; is one point wrong by a factor of 1000?

1 error
"####,
    );
}

/// E135
#[test]
fn a_run_of_one_place() {
    says(
        &[("run = [\"a\", \"b\"]", "run = [\"a\"]")],
        r####"
error[E135]: tube "one" has 1 place in its run
  --> frame.toml:12:32
   |
12 | one = { section = "box", run = ["a"] }
   |                                ^^^^^ two or more wanted
   |
   = help: a run goes from the tube's start to its end: `run = ["a", "b"]`

1 error
"####,
    );
}

/// E136
#[test]
fn tubes_placed_on_each_other() {
    says(
        &[(
            "two = {",
            "three = { section = \"main\", run = [\"a\", { on = \"four\", at = 10 }] }\nfour = { section = \"main\", run = [\"c\", { on = \"three\", at = 10 }] }\ntwo = {",
        )],
        r####"
error[E136]: "three", "four" are placed on each other in a circle
  --> frame.toml:13:1
   |
13 | three = { section = "main", run = ["a", { on = "four", at = 10 }] }
   | ^^^^^ its place depends on itself
   |
   = help: give one of them points of its own

1 error
"####,
    );
}

/// E137
#[test]
fn a_place_past_the_end() {
    says(
        &[("two = {", "three = { section = \"main\", run = [\"c\", { on = \"one\", at = 700 }] }\ntwo = {")],
        r####"
error[E137]: 700 mm is 100.0 mm past the end of "one"
  --> frame.toml:13:60
   |
13 | three = { section = "main", run = ["c", { on = "one", at = 700 }] }
   |                                                            ^^^ "one" is 600.0 mm long
   |
   = help: between 0 and 600.0, measured from its start

1 error
"####,
    );
}

/// E137
#[test]
fn an_offset_beside_the_face() {
    says(
        &[(
            "two = {",
            "three = { section = \"main\", run = [\"c\", { on = \"one\", at = 300, face = \"left\", offset = 30 }] }\ntwo = {",
        )],
        r####"
error[E137]: an offset of 30 mm lies beside the face of "one"
  --> frame.toml:13:72
   |
13 | three = { section = "main", run = ["c", { on = "one", at = 300, face = "left", offset = 30 }] }
   |                                                                        ^^^^^^ the face reaches 20.0 mm to each side
   |
   = help: the offset is measured across the face from the tube's centre line

1 error
"####,
    );
}

/// E138
#[test]
fn a_height_along_the_tube() {
    says(
        &[("run = [\"a\", \"b\"]", "run = [\"a\", \"b\"], height = \"X\"")],
        r####"
error[E138]: `height` runs along the tube
  --> frame.toml:12:53
   |
12 | one = { section = "box", run = ["a", "b"], height = "X" }
   |                                                     ^^^ along the tube's axis
   |
   = help: name a direction square to the tube: the one in which the section's height stands

1 error
"####,
    );
}

/// E139
#[test]
fn a_face_the_tube_does_not_have() {
    says(
        &[(
            "two = {",
            "three = { section = \"main\", run = [\"c\", { on = \"one\", at = 300, face = \"front\" }] }\ntwo = {",
        )],
        r####"
error[E139]: "one" has no such face: the tube itself runs that way
  --> frame.toml:13:72
   |
13 | three = { section = "main", run = ["c", { on = "one", at = 300, face = "front" }] }
   |                                                                        ^^^^^^^ which face?
   |
   = help: write another one of top, bottom, left, right, front, back

1 error
"####,
    );
}

/// E140
#[test]
fn up_and_forward_on_one_line() {
    says(
        &[("name = \"test\"", "name = \"test\"\nup = \"X\"\nforward = \"-X\"")],
        r####"
error[E140]: `up` and `forward` are the same line
 --> frame.toml:5:11
  |
5 | forward = "-X"
  |           ^^^^ along the other one
  |
  = help: `up` points to the sky in use, `forward` to the front: they stand square to each other

1 error
"####,
    );
}

/// E141
#[test]
fn a_direction_without_length() {
    says(
        &[("name = \"test\"", "name = \"test\"\nup = [0, 0, 0]")],
        r####"
error[E141]: `up` points nowhere
 --> frame.toml:4:6
  |
4 | up = [0, 0, 0]
  |      ^^^^^^^^^ has no length
  |
  = help: write an axis such as "Z", or three numbers of which one is not zero

1 error
"####,
    );
}

/// E113
#[test]
fn a_plate_neither_on_a_tube_nor_in_space() {
    says(
        &[("tolerance = 2 }\n", "tolerance = 2 }\n[plates]\npad = { size = [60, 30], thickness = 5 }\n")],
        r####"
error[E113]: plate "pad" needs either `on` or `centre`
  --> frame.toml:17:1
   |
17 | pad = { size = [60, 30], thickness = 5 }
   | ^^^ neither is there
   |
   = help: a plate on a tube: `on`, `at`, `face`; a plate in space: `centre`, `normal`, `along`

1 error
"####,
    );
}
