//! Passes of one hand-made joint: a 32x1.6 branch standing on a 38x2 carrier, eight segments.
use super::cut::reach;
use super::preheat::method_a_thickness_mm;
use super::*;
use crate::frame::*;
use crate::joint::{Joint, Meet, MeetKind};
use crate::library;
use crate::seam::{Line, Position, Seam, SeamPoint, Segment};

const SEGMENT_MM: f64 = 13.0;

pub(crate) fn wish(process: u16) -> ProcedureWish {
    ProcedureWish {
        between: vec![],
        process: library::process(process).expect("in the library").clone(),
        volts: None,
        amps: None,
        speed_mm_s: None,
        leg_mm: None,
        layers: None,
        hydrogen_ml: None,
        vertical_up: None,
        interpass_c: None,
        preheat_c: None,
    }
}

/// A frame of two tubes with the joint and seam that belong to it. Branch and carrier materials as
/// named; positions of the eight segments in the one setup as given.
pub(crate) fn tee(metals: [&str; 2], wish: ProcedureWish, position: Position) -> (Frame, Joints, Seams) {
    let tube = |name: &str, section: usize, axis: Vec<DVec3>| {
        let length = axis[0].distance(axis[1]);
        Tube {
            name: name.into(),
            section,
            s: vec![0.0, length],
            height_dir: vec![DVec3::Y],
            on_run: vec![],
            bend_radius: None,
            role: Role::Tube,
            lands: [None, None],
            vented: true,
            span: 0..0,
            axis,
        }
    };
    let frame = Frame {
        name: "tee".into(),
        note: String::new(),
        up: DVec3::Z,
        forward: DVec3::X,
        materials: metals.iter().map(|m| library::material(m).expect("in the library").clone()).collect(),
        sections: vec![
            Section { name: "leg".into(), shape: Shape::Round { od: 32.0, wall: 1.6 }, material: 0 },
            Section { name: "rail".into(), shape: Shape::Round { od: 38.0, wall: 2.0 }, material: 1 },
        ],
        points: vec![],
        tubes: vec![
            tube("rail", 1, vec![DVec3::new(-300.0, 0.0, 0.0), DVec3::new(300.0, 0.0, 0.0)]),
            tube("leg", 0, vec![DVec3::ZERO, DVec3::new(0.0, 0.0, 400.0)]),
        ],
        joint_wishes: vec![],
        procedures: vec![wish],
        setups: vec![Setup { name: "as is".into(), up: DVec3::Z }],
        clamps: vec![],
        controls: vec![],
        stages: vec![],
        symmetry: SymmetryWish::None,
        rules: HouseRules {
            spacing: 2,
            distance_mm: 150.0,
            opposite: true,
            balance: true,
            max_segment_mm: 40.0,
            min_segment_mm: 15.0,
            overhead: false,
            welder_distance_mm: 500.0,
        },
        shop: Shop {
            welders: 1,
            ambient_c: 20.0,
            move_s: 20.0,
            clean_s: 30.0,
            turn_min: 3.0,
            loss_w_m2k: None,
            fit_up_mm: 0.5,
        },
        pull: PullSettings {
            c_t: 0.6,
            c_l: 0.335,
            carrier_share: 0.5,
            common_factor: 1.0,
            kind_factors: vec![],
            joint_factors: vec![],
            scatter: [0.3, 0.2, 0.15],
            lean_deg: 0.1,
        },
        wishes: OrderWishes::default(),
        coating: None,
        units: Default::default(),
        carries_people: true,
        defaults: vec![],
    };
    let mut graph = petgraph::graph::UnGraph::new_undirected();
    graph.add_node(0);
    let joints = Joints {
        joints: vec![Joint {
            name: "J1".into(),
            at: DVec3::ZERO,
            tubes: vec![(0, 300.0), (1, 0.0)],
            meets: vec![0],
            mirror: Some(0),
            side: Side::Centre,
        }],
        meets: vec![Meet {
            joint: 0,
            kind: MeetKind::Saddle,
            branch: (1, 0.0),
            carriers: vec![(0, 300.0, 1.0)],
            gap_mm: 0.0,
            open: vec![],
        }],
        graph,
        steel_mm: vec![vec![0.0]],
        symmetry: None,
    };
    let segments: Vec<Segment> = (0..8)
        .map(|k| {
            let turn = std::f64::consts::TAU * f64::from(k) / 8.0;
            let mid = SeamPoint {
                at: DVec3::new(16.0 * turn.cos(), 16.0 * turn.sin(), 19.0),
                tangent: DVec3::new(-turn.sin(), 0.0, turn.cos()),
                branch_normal: DVec3::new(turn.cos(), turn.sin(), 0.0),
                carrier_normal: DVec3::Z,
                pull: DVec3::Z,
            };
            Segment {
                line: 0,
                from_mm: SEGMENT_MM * f64::from(k),
                to_mm: SEGMENT_MM * f64::from(k + 1),
                mid,
                clock_from: "12:00".into(),
                clock_to: "1:30".into(),
                partner: Some((k as usize + 4) % 8),
                positions: vec![position],
                side: Side::Centre,
            }
        })
        .collect();
    let seams = Seams {
        seams: vec![Seam {
            name: "J1a".into(),
            joint: 0,
            kind: MeetKind::Saddle,
            angle_deg: 90.0,
            centre: DVec3::new(0.0, 0.0, 19.0),
            lines: vec![Line { samples: vec![], s: vec![] }],
            closed: true,
            length_mm: 8.0 * SEGMENT_MM,
            unwelded: vec![],
            segments,
            clock_up: (DVec3::X, "forward"),
            clock_axis: DVec3::NEG_Z,
            clock_centre: DVec3::ZERO,
            walls_mm: [1.6, 2.0],
            fillet: true,
        }],
        sealed: vec![],
    };
    (frame, joints, seams)
}

fn codes(p: &Passes) -> Vec<&'static str> {
    p.warnings.iter().map(|w| w.0).collect()
}

#[test]
fn given_settings_hold_and_are_not_called_starting_values() {
    let given = ProcedureWish {
        volts: Some(11.0),
        amps: Some(90.0),
        speed_mm_s: Some(1.5),
        leg_mm: Some(3.0),
        layers: Some(2),
        ..wish(141)
    };
    let (frame, joints, seams) = tee(["S235", "S235"], given, Position::PB);
    let p = passes(&frame, &joints, &seams);
    assert_eq!(p.settings.len(), 1);
    assert!(!p.settings[0].starting_values);
    assert_eq!(p.passes.len(), 16);
    let pass = &p.passes[11];
    assert_eq!(pass.label, "J1a-4/2");
    assert_eq!((pass.segment, pass.layer, pass.partner, pass.below), (3, 1, Some(15), Some(3)));
    assert_eq!(p.passes[3].below, None);
    assert_eq!(p.passes[3].partner, Some(7));
    // EN 1011-1: 0.6·11·90/1.5 = 396 J/mm; 13 mm at 1.5 mm/s.
    assert!((pass.heat_input_j_per_mm - 396.0).abs() < 1e-9);
    assert!((pass.energy_j - 396.0 * SEGMENT_MM).abs() < 1e-9);
    assert!((pass.arc_s - SEGMENT_MM / 1.5).abs() < 1e-12);
    // Half of a 3 mm fillet, 4.5 mm², per layer.
    assert!((pass.filler_g - 2.25 * SEGMENT_MM * 7850e-6).abs() < 1e-12);
    let sum = p.totals();
    assert!((sum.length_mm - 16.0 * SEGMENT_MM).abs() < 1e-9);
    assert!((sum.laid_g - 4.5 * 8.0 * SEGMENT_MM * 7850e-6).abs() < 1e-9);
    assert!((sum.filler_g - sum.laid_g / 0.95).abs() < 1e-9);
    assert!((sum.energy_j - 0.6 * 11.0 * 90.0 * sum.arc_s).abs() < 1e-6);
    assert!((sum.gas_l - p.settings[0].gas_l_min * sum.arc_s / 60.0).abs() < 1e-9);
    // 396 J/mm on 1.6 mm is 248 J/mm per mm of wall: more than the printed settings for sheet.
    assert!(codes(&p).contains(&"W311"));
    assert!(!codes(&p).contains(&"W313"));
}

#[test]
fn starting_values_come_from_the_printed_table() {
    let (frame, joints, seams) = tee(["S235", "S235"], wish(135), Position::PB);
    let p = passes(&frame, &joints, &seams);
    let s = &p.settings[0];
    // Panasonic, fillet, 1.6 mm: 100 to 110 A, 18 to 19.5 V, 50 to 60 cm/min, 10 to 15 l/min.
    assert!(s.starting_values && s.source.contains("Panasonic"));
    assert!((s.amps - 105.0).abs() < 1e-9 && (s.volts - 18.75).abs() < 1e-9);
    assert!((s.speed_mm_s - 55.0 / 6.0).abs() < 1e-9 && (s.gas_l_min - 12.5).abs() < 1e-9);
    assert_eq!((s.leg_mm, s.layers), (2.0, 1));
    assert!(codes(&p).contains(&"W313") && codes(&p).contains(&"W314"));
    assert!(!codes(&p).contains(&"W311") && !codes(&p).contains(&"W312"));
    // Halfway between the rows for 1.6 and 2.4 mm.
    let (frame, joints, mut seams) = tee(["S235", "S235"], wish(135), Position::PB);
    seams.seams[0].walls_mm = [2.0, 3.0];
    let s = passes(&frame, &joints, &seams).settings[0].clone();
    assert!((s.amps - 112.5).abs() < 1e-9 && (s.volts - 19.25).abs() < 1e-9);
    // Below the table the current follows the wall, above it the last row stays.
    seams.seams[0].walls_mm = [0.8, 3.0];
    assert!((passes(&frame, &joints, &seams).settings[0].amps - 52.5).abs() < 1e-9);
    seams.seams[0].walls_mm = [12.0, 12.0];
    let s = passes(&frame, &joints, &seams).settings[0].clone();
    assert!((s.amps - 135.0).abs() < 1e-9);
    // Leg 12: 72 mm² at 12.5 mm² for each layer.
    assert_eq!((s.leg_mm, s.layers), (12.0, 6));
}

#[test]
fn a_process_without_a_printed_row_keeps_to_the_usual_heat_for_the_wall() {
    for process in [111, 114, 121, 136, 138, 15] {
        let (frame, joints, seams) = tee(["S235", "S235"], wish(process), Position::PB);
        let p = passes(&frame, &joints, &seams);
        let ratio = p.passes[0].heat_input_j_per_mm / 1.6;
        assert!((ratio - 100.0).abs() < 1e-9, "{process}: {ratio}");
        assert!((p.settings[0].amps - 63.0).abs() < 0.1, "{process}");
        assert!(p.settings[0].source.contains("rule of thumb"));
    }
}

#[test]
fn the_first_procedure_that_fits_holds() {
    let special = ProcedureWish { between: vec![0, 1], leg_mm: Some(4.0), ..wish(141) };
    let (mut frame, joints, seams) = tee(["S235", "S235"], wish(135), Position::PB);
    frame.procedures.insert(0, special);
    assert_eq!(passes(&frame, &joints, &seams).settings[0].process, 141);
    frame.procedures[0].between = vec![1, 1];
    assert_eq!(passes(&frame, &joints, &seams).settings[0].process, 135);
}

#[test]
fn allowed_positions_come_first_and_overhead_only_if_allowed() {
    let (mut frame, joints, mut seams) = tee(["S235", "S235"], wish(135), Position::PE);
    frame.setups.push(Setup { name: "turned".into(), up: DVec3::NEG_Z });
    for s in &mut seams.seams[0].segments {
        s.positions = vec![Position::PE, Position::PB];
    }
    let segment = seams.seams[0].segments[0].clone();
    assert_eq!(reach(&segment, false), (vec![1], true));
    assert_eq!(reach(&segment, true), (vec![1, 0], true));
    let p = passes(&frame, &joints, &seams);
    assert_eq!(p.passes[0].setups, vec![1]);
    assert!(!codes(&p).contains(&"W320"));
    for s in &mut seams.seams[0].segments {
        s.positions = vec![Position::PE, Position::PD];
    }
    let p = passes(&frame, &joints, &seams);
    assert_eq!(p.passes[0].setups, vec![1]);
    let overhead = p.warnings.iter().find(|w| w.0 == "W320").expect("no position is allowed");
    assert!(overhead.2.contains("J1a-1/1") && overhead.2.contains("J1a-8/1"));
}

#[test]
fn vertical_direction_is_forced_where_the_procedure_says_so() {
    let up = ProcedureWish { vertical_up: Some(true), ..wish(135) };
    let (frame, joints, seams) = tee(["S235", "S235"], up, Position::Vertical);
    let p = passes(&frame, &joints, &seams);
    // Segment 0 runs upwards (tangent +z), segment 4 downwards.
    assert_eq!(p.passes[0].forced_direction, vec![Some(true)]);
    assert_eq!(p.passes[4].forced_direction, vec![Some(false)]);
    let mut down = frame.clone();
    down.procedures[0].vertical_up = Some(false);
    assert_eq!(passes(&down, &joints, &seams).passes[0].forced_direction, vec![Some(false)]);
    down.procedures[0].vertical_up = None;
    assert_eq!(passes(&down, &joints, &seams).passes[0].forced_direction, vec![None]);
}

#[test]
fn metals_and_coatings_bring_their_cautions() {
    let warned = |metals, process, code: &str| {
        let (mut frame, joints, seams) = tee(metals, wish(process), Position::PB);
        frame.coating = Some("galvanized".into());
        let p = passes(&frame, &joints, &seams);
        assert!(codes(&p).contains(&"W318"));
        codes(&p).contains(&code)
    };
    assert!(warned(["25CrMo4", "25CrMo4"], 141, "W315"));
    assert!(warned(["304", "304"], 141, "W316"));
    assert!(warned(["6082", "6082"], 141, "W317"));
    assert!(warned(["304", "S235"], 141, "W319"));
    assert!(!warned(["S355", "S235"], 141, "W319"));
    assert!(warned(["6082", "6082"], 135, "W322"));
    assert!(!warned(["6082", "6082"], 131, "W322"));
    assert!(warned(["25CrMo4", "S235"], 141, "W321"));
    assert!(!warned(["304", "304"], 141, "W321"));
}

#[test]
fn limits_of_temperature() {
    let (mut frame, joints, mut seams) = tee(["6082", "S235"], wish(141), Position::PB);
    let s = passes(&frame, &joints, &seams).settings[0].clone();
    // The lower limit of the two metals.
    assert_eq!(s.interpass_c, 100.0);
    frame.procedures[0].interpass_c = Some(120.0);
    let p = passes(&frame, &joints, &seams);
    assert_eq!(p.settings[0].interpass_c, 120.0);
    assert!(codes(&p).contains(&"W324"));
    // A thick chrome-molybdenum wall is warmed, a thin one is not.
    let (mut frame, joints, _) = tee(["25CrMo4", "25CrMo4"], wish(141), Position::PB);
    assert_eq!(passes(&frame, &joints, &seams).settings[0].preheat_c, None);
    seams.seams[0].walls_mm = [3.2, 2.0];
    assert_eq!(passes(&frame, &joints, &seams).settings[0].preheat_c, Some(150.0));
    frame.procedures[0].preheat_c = Some(200.0);
    assert_eq!(passes(&frame, &joints, &seams).settings[0].preheat_c, Some(200.0));
    // A cold shop.
    frame.shop.ambient_c = 5.0;
    frame.procedures[0].preheat_c = None;
    seams.seams[0].walls_mm = [1.6, 2.0];
    assert!(codes(&passes(&frame, &joints, &seams)).contains(&"W323"));
}

#[test]
fn numbers_stand_beside_the_settings() {
    let (frame, joints, seams) = tee(["25CrMo4", "S235"], wish(141), Position::PB);
    let p = passes(&frame, &joints, &seams);
    let all = numbers(&frame, &joints, &seams, &p);
    assert_eq!(all.len(), 1);
    let n = &all[0];
    assert!((n.heat_for_wall_j_per_mm2 - n.heat_input_j_per_mm / 1.6).abs() < 1e-12);
    assert!((n.combined_mm - 5.6).abs() < 1e-12);
    assert_eq!(n.hydrogen_ml.0, 3.0);
    assert_eq!(n.steels.len(), 2);
    // Thin and cool: outside both methods, and it says what is.
    let outside = n.steels[0].method_b_c.clone().expect_err("out of range");
    assert!(outside.to_string().contains("thickness") && outside.to_string().contains("heat input"));
    assert!(n.steels[0].method_a_mm.is_err());
    // Annex D, thin: (4300 − 86)·1e5·(Q/d)²·(1/480² − 1/780²)·0.67.
    let q = n.heat_input_j_per_mm / 1000.0;
    let want = 4214.0e5 * (q / 1.6f64).powi(2) * (480f64.powi(-2) - 780f64.powi(-2)) * 0.67;
    assert!((n.cooling.expect("steel").t85_s - want).abs() < 1e-9 * want);
    assert_eq!(n.interpass.0, 250.0);
    assert!(n.interpass.1.contains("common practice"));

    let (frame, joints, seams) = tee(["304", "304"], wish(141), Position::PB);
    let p = passes(&frame, &joints, &seams);
    let n = &numbers(&frame, &joints, &seams, &p)[0];
    assert!(n.steels.is_empty() && n.cooling.is_none());
    assert_eq!(n.interpass.0, 150.0);

    // Thick enough and hot enough for method B: the settings take it over, rounded up to 5 °C.
    let hot = ProcedureWish { volts: Some(26.0), amps: Some(240.0), speed_mm_s: Some(5.0), ..wish(135) };
    let (frame, joints, mut seams) = tee(["S355", "S355"], hot, Position::PB);
    seams.seams[0].walls_mm = [20.0, 25.0];
    let p = passes(&frame, &joints, &seams);
    let of = numbers(&frame, &joints, &seams, &p);
    let n = &of[0];
    let tp = n.steels[0].method_b_c.clone().expect("in range");
    // 697·0.38 + 160·tanh(25/35) + 62·5^0.35 + (53·0.38 − 32)·0.9984 − 328
    assert!((tp - 132.057).abs() < 0.001, "{tp}");
    assert_eq!(p.settings[0].preheat_c, Some(135.0));
    assert!(codes(&p).contains(&"W321"));
    // Method A says nothing below 1 kJ/mm; half as fast, with twice the heat, it does.
    assert!(n.steels[0].method_a_mm.is_err());
    let hot = ProcedureWish { volts: Some(26.0), amps: Some(240.0), speed_mm_s: Some(2.5), ..wish(135) };
    let (frame, joints, seams) = tee(["S355", "S355"], hot, Position::PB);
    let n = &numbers(&frame, &joints, &seams, &passes(&frame, &joints, &seams))[0];
    assert!((n.heat_input_j_per_mm - 1996.8).abs() < 1e-9, "{}", n.heat_input_j_per_mm);
    let ce = n.steels[0].equivalents.ce;
    let want = method_a_thickness_mm(ce, n.hydrogen_ml.0, 1.9968).expect("in the table");
    assert_eq!(n.steels[0].method_a_mm.clone().expect("in the table"), want);
}
