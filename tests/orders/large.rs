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
