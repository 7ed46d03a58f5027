//! A material of one's own: in the frame file, and in the shop's own file for every frame.

use super::bench::{Bench, array, word};
use holdtrue::cli::Exit;

/// The block of the README that shows one.
fn shown() -> &'static str {
    let blocks = include_str!("../../README.md").split("```toml\n").skip(1);
    let inside = blocks.filter_map(|b| b.split("```").next());
    inside.into_iter().find(|b| b.contains("[materials.mill-sheet-7]")).expect("the README shows one")
}

const SQUARE: &str = include_str!("../../examples/square.toml");

#[test]
fn the_material_of_the_readme_works_in_the_frame_file_and_in_the_shops() {
    let bench = Bench::new();
    let own = SQUARE.replace("\"S235\"", "\"mill-sheet-7\"");
    bench.file("own.toml", format!("{own}\n{}", shown()));
    let said = bench.run("check @own.toml --no-shop -q").well();
    assert!(said.text().contains("mill-sheet-7"), "{}", said.text());

    // The frame file alone does not know it, the shop's file does.
    bench.file("square.toml", &own).file("shop.toml", format!("format = 1\n{}", shown()));
    let said = bench.run("check @square.toml --no-shop");
    assert_eq!(said.exit, Exit::BadInput);
    assert!(said.err.contains("there is no material called \"mill-sheet-7\""), "{}", said.err);
    let said = bench.run("check @square.toml --shop @shop.toml -q").well();
    assert!(said.text().contains("mill-sheet-7"), "{}", said.text());
    let said = bench.run("materials --shop @shop.toml").well();
    let text = said.text();
    let (_, mine) = text.split_once("mill-sheet-7 (the shop's own)").expect("it is listed");
    assert!(mine.contains("yield 390 MPa"), "{mine}");
    assert!(mine.contains("yield_mpa: shop file: inspection certificate 7"), "{mine}");
    assert!(!bench.run("materials --no-shop").well().text().contains("mill-sheet-7"));

    // A job carries it in its record: nobody needs the shop's file any more.
    bench
        .run("job start @square.toml --out @a.job --effort rules --shop @shop.toml --json @plan.json -q")
        .well();
    let plan: serde_json::Value = serde_json::from_slice(&bench.bytes("plan.json")).expect("JSON");
    let remarks = array(&plan, "remarks");
    let says = |w: &&serde_json::Value| word(w, "code") == "W706";
    assert!(remarks.iter().any(|w| says(&w)), "the plan says what is in it: {remarks:#?}");
    std::fs::remove_file(bench.path("shop.toml")).expect("it is there");
    let said = bench.run("job status @a.job").well();
    assert!(said.text().contains("0 of 24 passes welded"), "{}", said.text());
}

#[test]
fn the_shops_materials_outlive_a_reset_and_their_faults_are_named() {
    let bench = Bench::new();
    bench.file("shop.toml", format!("format = 1\n[set]\ncommon = 1.2\n{}", shown()));
    bench.run("job shop reset --shop @shop.toml").well();
    let kept = String::from_utf8(bench.bytes("shop.toml")).expect("text");
    assert!(kept.contains("yield_mpa = 390") && !kept.contains("\ncommon = 1.2"), "{kept}");
    for (bad, want) in [
        ("[materials.x]\nlike = \"S3555\"\n", "S3555"),
        ("[materials.x]\nlike = \"S355\"\nyield_mpa = 390\n", "where its values come from"),
        ("[materials.x]\nlike = \"S355\"\nsource = \"y\"\nstrength = 390\n", "strength"),
        ("materials = 3\n", "materials"),
    ] {
        bench.file("shop.toml", format!("format = 1\n{bad}"));
        let said = bench.run("materials --shop @shop.toml");
        assert_eq!(said.exit, Exit::BadInput, "{bad}");
        assert!(said.err.contains(want) && said.out.is_empty(), "{bad}: {}", said.err);
    }
}
