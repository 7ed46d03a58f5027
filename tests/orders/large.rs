//! Frames above the size of the pull model: the order is the best of a few, by the sparse model.

use super::big::girder;
use crate::support::plans;
use holdtrue::output::{fill, text};
use holdtrue::plan::{self, Effort, Options};

#[test]
fn above_the_pull_model_whole_orders_are_compared() {
    let frame = plans::read(&girder(32));
    let options = |effort| Options { effort, ..Options::default() };
    let made = plans::plan_of(&frame, &options(Effort::Quick));
    assert!(made.passes.passes.len() > plan::PULL_LIMIT_PASSES);
    assert!(plan::audit(&made).is_empty());
    let o = &made.objective;
    let start = o.start.expect("the order by rules is judged");
    assert!(o.judged_in_full > 1 && o.full < start, "{o:?}");
    // It says what it is, and nothing is foreseen.
    assert!(made.pull.controls.is_empty());
    let said = made.remarks.iter().find(|r| r.code == "W705" && r.first).expect("a remark");
    assert!(said.text.contains("a coarser model that ranks orders only"), "{}", said.text);
    let look = text::TextLook { width: 100, colour: false, reasons: true };
    assert!(text::text(&fill::sheet(&made, ""), look).contains("ranks orders only"));
    // The rules are kept as well as without the comparison.
    let rules = plans::plan_of(&frame, &options(Effort::Rules));
    assert_ne!(rules.order.steps, made.order.steps);
    let count = |p: &plan::WeldPlan| p.order.relaxed.len();
    assert!(count(&made) <= count(&rules), "{} and {}", count(&made), count(&rules));
}

/// A branch whose seam is left open all round hangs in the air, with what it carries; the frame's size makes no
/// difference to that. The rest of the frame is sound and not named.
#[test]
fn what_hangs_in_the_air_is_refused_at_any_size() {
    for bays in [2, 32] {
        let hook = "hook = { section = \"rung\", run = [{ on = \"nw\", at = 200 }, [200, -300, 0]] }\n\
                    eye = { section = \"rung\", run = [{ on = \"hook\", at = 200 }, [500, -200, 0]] }\n[controls]\n";
        let text = girder(bays).replace("[controls]\n", hook);
        let sound = plans::read(&text);
        let plan = |frame: &_| {
            let options = Options { effort: Effort::Rules, ..Options::default() };
            let stop = std::sync::atomic::AtomicBool::new(false);
            let watch = plan::Watch { stop: &stop, progress: Box::new(|_, _| {}) };
            plan::plan(frame, plans::parts(frame), &options, &watch).map(|p| p.passes.passes.len())
        };
        let passes = plans::parts(&sound).passes.passes.len();
        assert_eq!(passes > plan::PULL_LIMIT_PASSES, bays == 32);
        if bays == 2 {
            // A large one without the hook is planned above.
            assert_eq!(plan(&sound), Ok(passes), "it holds");
        }
        let open = "[[joint]]\ntubes = [\"nw\", \"hook\"]\nopen = [\"12-6\", \"6-12\"]\n[controls]\n";
        let faults = plan(&plans::read(&text.replace("[controls]\n", open))).expect_err("it hangs");
        let said: Vec<&str> = faults.iter().map(|f| f.message.as_str()).collect();
        let moves = |name: &str| format!("`{name}` can still move when everything is tacked");
        assert_eq!(said, [moves("hook"), moves("eye")]);
        assert!(faults.iter().all(|f| f.code == "E601"));
    }
}
