//! An order as the events that the pull model follows: what was done before, tacks, passes with the
//! warmth of the tubes, clamps that are opened for a reading.

use super::judge::Judge;
use crate::distort::{Event, Model};
use crate::heat::Timeline;
use crate::sequence::{Order, Step};

impl Judge<'_> {
    /// What happens before the first pass of the order that is still to be laid.
    pub fn before(&self) -> Vec<Event> {
        let mut events = self.underway.map_or(vec![], |u| u.events.clone());
        if self.underway.is_some() {
            // Whatever was warm when the last pass was laid is not known to be so now.
            events.push(Event::Warm(vec![]));
        }
        events.extend(self.tacks.iter().cloned());
        events
    }

    /// Every tack that holds or is to be laid.
    pub fn all_tacks(&self) -> Vec<Event> {
        let laid = self.underway.iter().flat_map(|u| &u.events).filter(|e| matches!(e, Event::Tack(_)));
        laid.chain(&self.tacks).cloned().collect()
    }

    /// What an order still has to lay, as the pull model takes it.
    pub fn rest(&self, model: &Model, order: &Order) -> Vec<Event> {
        self.weld_out(model, &order.steps, &self.timeline(&order.steps))
    }

    /// The events of an order's passes that are still to be laid, with the warmth of the tubes at each
    /// step.
    pub(super) fn weld_out(&self, model: &Model, steps: &[Step], timeline: &Timeline) -> Vec<Event> {
        let mut first = 0;
        let mut rise = Vec::with_capacity(steps.len());
        for s in steps {
            rise.push(timeline.tube_rise_k.get(first).cloned().unwrap_or_default());
            first += s.passes.len();
        }
        let plain: Vec<(usize, Vec<(usize, bool)>)> =
            steps.iter().map(|s| (s.setup, s.passes.iter().map(|l| (l.pass, l.forward)).collect())).collect();
        // What was done already happened in its own way; see `before`.
        let done = self.done().min(plain.len());
        let events = model.events_after(done, self.underway.map_or(0, |u| u.setup), &plain, &rise);
        self.opened(events, steps[..done].iter().map(|s| s.passes.len()).sum())
    }

    /// The same events with the clamps that are opened on the way; `laid` passes come before them.
    fn opened(&self, events: Vec<Event>, mut laid: usize) -> Vec<Event> {
        if self.openings.is_empty() {
            return events;
        }
        let first = laid;
        let mut due = self.openings.iter().filter(|o| o.after >= first).peekable();
        let mut out = Vec::new();
        for e in events.into_iter().map(Some).chain([None]) {
            // A clamp that is released with the last pass is off before the reading.
            while let Some(o) = due.next_if(|o| o.after <= laid && !matches!(e, Some(Event::Release { .. })))
            {
                out.extend(o.clamps.iter().map(|&clamp| Event::Release { clamp }));
                out.extend(o.clamps.iter().map(|&clamp| Event::Clamp { clamp, to_nominal: false }));
            }
            laid += match &e {
                Some(Event::Pass { .. }) => 1,
                Some(Event::Together(list)) => list.len(),
                _ => 0,
            };
            out.extend(e);
        }
        out
    }

    /// The events of an order, tacks first.
    pub(super) fn events(&self, model: &Model, steps: &[Step], timeline: &Timeline) -> Vec<Event> {
        let mut events = self.before();
        events.extend(self.weld_out(model, steps, timeline));
        events
    }

    /// What happens until so many passes of an order are laid, clamps as they then are.
    pub(super) fn until(&self, model: &Model, order: &Order, timeline: &Timeline, laid: usize) -> Vec<Event> {
        let mut steps: Vec<Step> = Vec::new();
        let mut left = laid;
        for s in &order.steps {
            if left == 0 {
                break;
            }
            let mut s = s.clone();
            s.passes.truncate(left);
            left -= s.passes.len();
            steps.push(s);
        }
        self.events(model, &steps, timeline)
    }
}
