//! A frame of any size, as the text of a frame file: a box girder of four rails with rungs in every bay.

use std::fmt::Write;

/// A box girder with 32 passes in each of its bays; a frame of no use, but a sound one.
pub fn girder(bays: usize) -> String {
    let long = 300 * bays;
    let mut t = String::from(
        "holdtrue = 1\n[frame]\nname = \"girder\"\n[sections]\n\
         rail = { square = { side = 40, wall = 3 }, material = \"S235\" }\n\
         rung = { square = { side = 30, wall = 2 }, material = \"S235\" }\n[tubes]\n",
    );
    let rails = [("nw", 0, 0), ("sw", 400, 0), ("ne", 0, 300), ("se", 400, 300)];
    for (name, y, z) in rails {
        let _ = writeln!(t, "{name} = {{ section = \"rail\", run = [[0, {y}, {z}], [{long}, {y}, {z}]] }}");
    }
    for i in 0..bays {
        for (k, (a, b)) in [("nw", "sw"), ("ne", "se"), ("nw", "ne"), ("sw", "se")].into_iter().enumerate() {
            let at = 75 + 300 * i + 150 * (k / 2);
            let _ = writeln!(
                t,
                "rung-{}-{} = {{ section = \"rung\", run = [{{ on = \"{a}\", at = {at} }}, {{ on = \"{b}\", at = {at} }}] }}",
                i + 1,
                k + 1
            );
        }
    }
    let end = long - 10;
    t += "[controls]\n";
    for (name, a, b) in
        [("low", "nw", "sw"), ("high", "ne", "se"), ("left", "nw", "ne"), ("right", "sw", "se")]
    {
        let _ = writeln!(
            t,
            "{name} = {{ kind = \"distance\", of = [\"{a}@{end}\", \"{b}@{end}\"], tolerance = 1 }}"
        );
    }
    t += "bow = { kind = \"bow\", of = [\"nw\"], direction = \"Z\", tolerance = 2 }\n";
    t += "twist = { kind = \"twist\", of = [\"nw@10\", \"nw@";
    let _ = writeln!(t, "{end}\", \"sw@10\", \"sw@{end}\"], tolerance = 2 }}");
    t
}
