//! Faults of sections, materials and processes.

use super::says;

/// E120
#[test]
fn a_wall_that_leaves_no_hole() {
    says(
        &[("od = 40, wall = 3", "od = 40, wall = 20")],
        r####"
error[E120]: a wall of 20 mm leaves no hole in 40 mm
 --> frame.toml:5:36
  |
5 | main = { round = { od = 40, wall = 20 }, material = "S235" }
  |                         --         ^^ half the size or more
  |                         |
  |                         outside size
  |
  = help: a bar without a hole is written `solid = { … }`

1 error
"####,
    );
}

/// E121
#[test]
fn a_corner_larger_than_the_tube() {
    says(
        &[("side = 40, wall = 3", "side = 40, wall = 3, corner = 25")],
        r####"
error[E121]: an outer corner radius of 25 mm does not fit a side of 40 mm
 --> frame.toml:6:50
  |
6 | box = { square = { side = 40, wall = 3, corner = 25 }, material = "S235" }
  |                                                  ^^ outer corner radius
  |
  = help: between 0 and 20 mm; leave it out for the usual radius

1 error
"####,
    );
}

/// E122
#[test]
fn inches_for_millimetres() {
    says(
        &[("od = 40, wall = 3", "od = 1.5, wall = 0.065")],
        r####"
error[E122]: `od` of 1.5 mm is too small to weld
 --> frame.toml:5:25
  |
5 | main = { round = { od = 1.5, wall = 0.065 }, material = "S235" }
  |                         ^^^ all lengths are in mm
  |
  = help: write 38.1 if you meant inches

1 error
"####,
    );
}

/// E122
#[test]
fn an_inch_wall_only() {
    says(
        &[("od = 40, wall = 3", "od = 38.1, wall = 0.065")],
        r####"
error[E122]: `wall` of 0.065 mm is too small to weld
 --> frame.toml:5:38
  |
5 | main = { round = { od = 38.1, wall = 0.065 }, material = "S235" }
  |                                      ^^^^^ all lengths are in mm
  |
  = help: write 1.65 if you meant inches

1 error
"####,
    );
}

/// E122
#[test]
fn metres_for_millimetres() {
    says(
        &[("od = 40, wall = 3", "od = 0.04, wall = 0.003")],
        r####"
error[E122]: `od` of 0.04 mm is too small to weld
 --> frame.toml:5:25
  |
5 | main = { round = { od = 0.04, wall = 0.003 }, material = "S235" }
  |                         ^^^^ all lengths are in mm
  |
  = help: write 40 if you meant metres

1 error
"####,
    );
}

/// E123
#[test]
fn an_own_material_without_a_source() {
    says(
        &[("tolerance = 2 }\n", "tolerance = 2 }\n[materials.mine]\nlike = \"S235\"\nyield_mpa = 280\n")],
        r####"
error[E123]: material "mine" does not say where its values come from
  --> frame.toml:16:12
   |
16 | [materials.mine]
   |            ^^^^ `source` is missing here
   |
   = help: write `source = "…"`: the data sheet, certificate or standard

warning[W101]: material "mine" is never used
  --> frame.toml:16:12
   |
16 | [materials.mine]
   |            ^^^^ no section has it

1 error, 1 warning
"####,
    );
}

/// E123
#[test]
fn an_own_efficiency_without_a_source() {
    says(
        &[("tolerance = 2 }\n", "tolerance = 2 }\n[procedure]\nprocess = 135\nk = 0.7\n")],
        r####"
error[E123]: a thermal efficiency of one's own needs a source
  --> frame.toml:18:5
   |
18 | k = 0.7
   |     ^^^ where does it come from?
   |
   = help: add `k_source = "…"`, or leave out `k` for the value of EN 1011-1

1 error
"####,
    );
}

/// E161
#[test]
fn a_process_that_nobody_knows() {
    says(
        &[("tolerance = 2 }\n", "tolerance = 2 }\n[procedure]\nprocess = 137\n")],
        r####"
error[E161]: process 137 is not known
  --> frame.toml:17:11
   |
17 | process = 137
   |           ^^^ a number of ISO 4063
   |
   = help: one of 111 (stick electrode), 114 (self-shielded flux-cored wire), 121 (submerged arc, solid wire), 131 (MIG, solid wire), 132 (MIG, flux-cored wire), 133 (MIG, metal-cored wire), 135 (MAG, solid wire), 136 (MAG, flux-cored wire), 138 (MAG, metal-cored wire), 141 (TIG with filler), 142 (TIG without filler), 15 (plasma)

1 error
"####,
    );
}
