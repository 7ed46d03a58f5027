//! Faults of reading: what is no TOML, no known key, no number, no name.

use super::says;

/// E103
#[test]
fn a_missing_quote_and_a_missing_bracket_are_both_found() {
    says(
        &[("\"test\"", "\"test"), ("c = [600, 500, 0]", "c = [600, 500, 0")],
        r####"
error[E103]: invalid basic string, expected `"`
 --> frame.toml:3:13
  |
3 | name = "test
  |             ^ not valid TOML from here
  |
  = help: look for a missing quote, bracket, comma or `=` in this line or the one before

error[E103]: unclosed array, expected `]`
  --> frame.toml:10:17
   |
10 | c = [600, 500, 0
   |                 ^ not valid TOML from here
   |
   = help: look for a missing quote, bracket, comma or `=` in this line or the one before

2 errors
"####,
    );
}

/// E104
#[test]
fn a_file_without_version() {
    says(
        &[("holdtrue = 1\n", "")],
        r####"
error[E104]: the file does not say which version of the frame file it is
 --> frame.toml:1:1
  |
1 | [frame]
  | ^^^^^^^ the first line
  |
  = help: write `holdtrue = 1` as the first line

1 error
"####,
    );
}

/// E104
#[test]
fn a_newer_version() {
    says(
        &[("holdtrue = 1", "holdtrue = 2")],
        r####"
error[E104]: the file has version 2; this program reads version 1
 --> frame.toml:1:12
  |
1 | holdtrue = 2
  |            ^ newer than this program
  |
  = help: use a newer holdtrue, or write the file for version 1

1 error
"####,
    );
}

/// E105
#[test]
fn a_misspelt_key() {
    says(
        &[("section = \"box\"", "secton = \"box\"")],
        r####"
error[E105]: tube "one" has no key `secton`
  --> frame.toml:12:9
   |
12 | one = { secton = "box", run = ["a", "b"] }
   |         ^^^^^^ not a key of this table
   |
help: did you mean `section`?
   |
12 | one = { section = "box", run = ["a", "b"] }
   |             +

1 error
"####,
    );
}

/// E105
#[test]
fn a_key_of_no_table() {
    says(
        &[("name = \"test\"", "name = \"test\"\ncolour = \"red\"")],
        r####"
error[E105]: [frame] has no key `colour`
 --> frame.toml:4:1
  |
4 | colour = "red"
  | ^^^^^^ not a key of this table
  |
  = help: its keys are name, units, note, up, forward, symmetry, coating, carries_people, vented

1 error
"####,
    );
}

/// E106
#[test]
fn a_number_in_quotes_with_a_unit() {
    says(
        &[("side = 40", "side = \"1 1/2 in\"")],
        r####"
error[E106]: `side` must be a number, not a text
 --> frame.toml:6:27
  |
6 | box = { square = { side = "1 1/2 in", wall = 3 }, material = "S235" }
  |                           ^^^^^^^^^^ a number wanted
  |
help: did you mean `38.1`?
  |
6 - box = { square = { side = "1 1/2 in", wall = 3 }, material = "S235" }
6 + box = { square = { side = 38.1, wall = 3 }, material = "S235" }
  |

1 error
"####,
    );
}

/// E106
#[test]
fn two_numbers_for_a_point() {
    says(
        &[("[600, 500, 0]", "[600, 500]")],
        r####"
error[E106]: point "c" needs three numbers, not 2
  --> frame.toml:10:5
   |
10 | c = [600, 500]
   |     ^^^^^^^^^^ three numbers wanted
   |
   = help: write [x, y, z] in mm

1 error
"####,
    );
}

/// E106
#[test]
fn one_bracket_too_few() {
    says(
        &[("tolerance = 2 }\n", "tolerance = 2 }\n[clamp]\nname = \"stop\"\n")],
        r####"
error[E106]: `clamp` is a list of tables
  --> frame.toml:16:2
   |
16 | [clamp]
   |  ^^^^^ one bracket too few
   |
   = help: write `[[clamp]]` above each one

1 error
"####,
    );
}

/// E107
#[test]
fn a_tube_without_a_run() {
    says(
        &[(", run = [\"a\", \"b\"]", "")],
        r####"
error[E107]: tube "one" lacks `run`
  --> frame.toml:12:1
   |
12 | one = { section = "box" }
   | ^^^ `run` is missing here
   |
   = help: write `run = ["a", "b"]`, two or more places

1 error
"####,
    );
}

/// E107
#[test]
fn a_file_without_frame_and_sections() {
    says(
        &[(
            "[frame]\nname = \"test\"\n[sections]\nmain = { round = { od = 40, wall = 3 }, material = \"S235\" }\nbox = { square = { side = 40, wall = 3 }, material = \"S235\" }\n",
            "",
        )],
        r####"
error[E107]: the file lacks `[frame]`
--> frame.toml
 = help: write `[frame]` and under it `name = "my frame"`

error[E107]: the file lacks `[sections]`
--> frame.toml
 = help: write `[sections]` and under it `main = { square = { side = 40, wall = 3 }, material = "S235" }`

2 errors
"####,
    );
}

/// E108
#[test]
fn a_key_that_is_there_twice() {
    says(
        &[("two = {", "one = {")],
        r####"
error[E108]: `one` is there twice
  --> frame.toml:13:1
   |
13 | one = { section = "main", run = ["b", "c"] }
   | ^^^ second one
   |
   = help: names must differ; rename or remove one of them

1 error
"####,
    );
}

/// E108
#[test]
fn two_tubes_of_one_name() {
    says(
        &[("[controls]", "[[tube]]\nname = \"one\"\nsection = \"box\"\nrun = [\"a\", \"c\"]\n[controls]")],
        r####"
error[E108]: two things are called "one"
  --> frame.toml:15:8
   |
12 | one = { section = "box", run = ["a", "b"] }
   | --- first one
...
15 | name = "one"
   |        ^^^^^ second one
   |
   = help: tubes, plates and bars share one list of names; rename one of them

1 error
"####,
    );
}

/// E109
#[test]
fn a_section_that_is_not_there() {
    says(
        &[("section = \"main\"", "section = \"mian\"")],
        r####"
error[E109]: there is no section called "mian"
  --> frame.toml:13:19
   |
13 | two = { section = "mian", run = ["b", "c"] }
   |                   ^^^^^^ not in [sections]
   |
help: did you mean "main"?
   |
13 - two = { section = "mian", run = ["b", "c"] }
13 + two = { section = "main", run = ["b", "c"] }
   |

1 error
"####,
    );
}

/// E109
#[test]
fn a_material_that_nobody_knows() {
    says(
        &[("od = 40, wall = 3 }, material = \"S235\"", "od = 40, wall = 3 }, material = \"S253JR\"")],
        r####"
error[E109]: there is no material called "S253JR"
 --> frame.toml:5:52
  |
5 | main = { round = { od = 40, wall = 3 }, material = "S253JR" }
  |                                                    ^^^^^^^^ neither built in nor in [materials]
  |
help: did you mean "S235"?
  |
5 - main = { round = { od = 40, wall = 3 }, material = "S253JR" }
5 + main = { round = { od = 40, wall = 3 }, material = "S235" }
  |

1 error
"####,
    );
}

/// E109
#[test]
fn a_point_that_is_not_there() {
    says(
        &[("run = [\"b\", \"c\"]", "run = [\"b\", \"corner\"]")],
        r####"
error[E109]: there is no point called "corner"
  --> frame.toml:13:39
   |
13 | two = { section = "main", run = ["b", "corner"] }
   |                                       ^^^^^^^^ not in [points]
   |
   = help: there are "a", "b", "c"

1 error
"####,
    );
}

/// E110
#[test]
fn a_number_that_is_none() {
    says(
        &[("[600, 500, 0]", "[600, nan, inf]")],
        r####"
error[E110]: point "c" must be a finite number
  --> frame.toml:10:11
   |
10 | c = [600, nan, inf]
   |           ^^^ not a number that can be measured

error[E110]: point "c" must be a finite number
  --> frame.toml:10:16
   |
10 | c = [600, nan, inf]
   |                ^^^ not a number that can be measured

2 errors
"####,
    );
}

/// E111
#[test]
fn a_negative_tolerance() {
    says(
        &[("tolerance = 2", "tolerance = -2")],
        r####"
error[E111]: `tolerance` cannot be -2 mm
  --> frame.toml:15:59
   |
15 | width = { kind = "distance", of = ["a", "b"], tolerance = -2 }
   |                                                           ^^ out of range
   |
   = help: between 0.001 and 1000 mm

1 error
"####,
    );
}

/// E111
#[test]
fn more_welders_than_fit() {
    says(
        &[("tolerance = 2 }\n", "tolerance = 2 }\n[shop]\nwelders = 40\n")],
        r####"
error[E111]: `welders` cannot be 40
  --> frame.toml:17:11
   |
17 | welders = 40
   |           ^^ out of range
   |
   = help: between 1 and 4

1 error
"####,
    );
}

/// E112
#[test]
fn a_word_that_is_none() {
    says(
        &[("kind = \"distance\"", "kind = \"distanse\"")],
        r####"
error[E112]: `kind` cannot be "distanse"
  --> frame.toml:15:18
   |
15 | width = { kind = "distanse", of = ["a", "b"], tolerance = 2 }
   |                  ^^^^^^^^^^ not one of the words for it
   |
help: did you mean "distance"?
   |
15 - width = { kind = "distanse", of = ["a", "b"], tolerance = 2 }
15 + width = { kind = "distance", of = ["a", "b"], tolerance = 2 }
   |

1 error
"####,
    );
}

/// E112
#[test]
fn a_direction_that_is_none() {
    says(
        &[("name = \"test\"", "name = \"test\"\nup = \"sky\"")],
        r####"
error[E112]: `up` cannot be "sky"
 --> frame.toml:4:6
  |
4 | up = "sky"
  |      ^^^^^ not a direction
  |
  = help: write an axis such as "Z" or "-Y", or three numbers [x, y, z]

1 error
"####,
    );
}

/// E113
#[test]
fn two_shapes() {
    says(
        &[("round = { od = 40, wall = 3 }", "round = { od = 40, wall = 3 }, solid = { od = 40 }")],
        r####"
error[E113]: section "main" has two shapes
 --> frame.toml:5:41
  |
5 | main = { round = { od = 40, wall = 3 }, solid = { od = 40 }, material = "S235" }
  |          ----- first shape              ^^^^^ second shape
  |
  = help: a section has one shape; make two sections

1 error
"####,
    );
}

/// E114
#[test]
fn a_name_with_a_colon() {
    says(
        &[("one = {", "\"one:left\" = {")],
        r####"
error[E114]: "one:left" cannot be the name of a tube: `:`, `@` and quotes have a meaning in places such as "rail:start"
  --> frame.toml:12:1
   |
12 | "one:left" = { section = "box", run = ["a", "b"] }
   | ^^^^^^^^^^ this name

1 error
"####,
    );
}
