use super::*;

#[test]
fn every_value_of_every_material_names_its_source() {
    let wanted = [
        "e_mpa",
        "poisson",
        "yield_mpa",
        "alpha_per_k",
        "density_kg_m3",
        "specific_heat_j_kgk",
        "conductivity_w_mk",
        "emissivity",
        "composition",
        "interpass_c",
        "min_start_c",
    ];
    for m in materials() {
        for value in wanted {
            let said = m.sources.iter().find(|(v, _)| v == value);
            let (_, text) = said.unwrap_or_else(|| panic!("{}: no source for {value}", m.name));
            assert!(text.ends_with("(seen)") || text.ends_with("(from memory)"), "{}: {text}", m.name);
            assert!(text.len() > 20, "{}: {value}: source too thin: {text}", m.name);
        }
        let has_limit = m.sources.iter().any(|(v, _)| v == "cev_limit");
        assert_eq!(has_limit, m.cev_limit.is_some(), "{}", m.name);
    }
}

#[test]
fn every_value_of_every_process_and_table_names_its_source() {
    for p in processes() {
        assert_eq!(p.sources.len(), 3, "{}", p.number);
        let practice = practice(p.number).expect("every process has its practice");
        assert_eq!(practice.sources.len(), 2, "{}", p.number);
        for (_, text) in p.sources.iter().chain(&practice.sources) {
            assert!(text.ends_with("(seen)") || text.ends_with("(from memory)"), "{text}");
        }
    }
    for t in starting_tables() {
        assert!(t.source.ends_with("(seen)"), "{}", t.source);
        assert!(process(t.process).is_some());
        for pair in t.rows.windows(2) {
            assert!(pair[0].wall_mm < pair[1].wall_mm, "{} {}", t.process, t.family);
        }
        for row in &t.rows {
            for range in [row.amps, row.volts, row.cm_min, row.gas_l_min] {
                assert!(range[0] > 0.0 && range[0] <= range[1], "{} {}: {range:?}", t.process, t.family);
            }
        }
    }
}

#[test]
fn the_named_metals_and_processes_are_there() {
    for name in ["S235", "S355", "E235", "E355", "25CrMo4", "4130", "1020", "304", "316L", "6061", "6082"] {
        assert!(material(name).is_some(), "{name}");
    }
    for number in [111, 114, 121, 131, 135, 136, 138, 141, 15] {
        assert!(process(number).is_some(), "{number}");
    }
    assert_eq!(material(" s355 j2h ").map(|m| m.name.as_str()), Some("S355"));
    assert_eq!(material("SAE 4130").map(|m| m.name.as_str()), Some("25CrMo4"));
    assert_eq!(material("1.4301").map(|m| m.name.as_str()), Some("304"));
    assert_eq!(material(""), None);
    assert_eq!(material("oak"), None);
    assert_eq!(process(999), None);
}

#[test]
fn a_misspelt_name_finds_its_neighbours() {
    assert_eq!(nearest_materials("S253").first(), Some(&"S235"));
    assert_eq!(nearest_materials("25CrMo").first(), Some(&"25CrMo4"));
    assert_eq!(nearest_materials("316 L").first(), Some(&"316L"));
    assert!(nearest_materials("balsa wood").is_empty());
}

#[test]
fn names_are_not_shared() {
    let mut seen = std::collections::BTreeMap::new();
    for m in materials() {
        for n in names(m) {
            if let Some(other) = seen.insert(plain(n), &m.name) {
                panic!("{n} names both {other} and {}", m.name);
            }
        }
    }
}
