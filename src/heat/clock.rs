//! A clock that runs through an order: when each pass starts, how hot its joint is, how long to wait.

use super::kernels::{Kernels, PassHeat};
use super::{HeatStep, Timeline};

/// Time and heat in the middle of an order. Cheap to clone, so that a scheduler can try a step.
#[derive(Debug, Clone)]
pub struct Clock<'k> {
    kernels: &'k Kernels,
    now_s: f64,
    /// Passes laid so far, in their order; those of one station are chained, so that a clone is two
    /// flat copies.
    pulses: Vec<Pulse>,
    /// Latest pulse of each station, or [`NONE`].
    latest: Vec<u32>,
    /// Joints of the last step.
    last: Vec<usize>,
    begun: bool,
}

#[derive(Debug, Clone, Copy)]
struct Pulse {
    power_w: f64,
    from_s: f64,
    to_s: f64,
    /// The pulse before it at the same station, or [`NONE`].
    before: u32,
}

/// A pulse as seen from a time.
enum Seen {
    NotYet,
    /// Seconds since its start and since its end (negative while it burns).
    Fresh(f64, f64),
    /// Seconds since its middle, and its energy, J.
    Faded(f64, f64),
}

impl Pulse {
    fn seen_from(&self, t_s: f64) -> Seen {
        let (since, age, arc) = (t_s - self.from_s, t_s - self.to_s, self.to_s - self.from_s);
        if since <= 0.0 {
            Seen::NotYet
        } else if age > FADED * arc {
            Seen::Faded(age + 0.5 * arc, self.power_w * arc)
        } else {
            Seen::Fresh(since, age)
        }
    }
}

/// End of a chain of pulses.
const NONE: u32 = u32::MAX;

/// How one step went.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidStep {
    /// Start of the arcs, s.
    pub start_s: f64,
    /// Wait for a joint to cool, after moving, cleaning and turning, s.
    pub wait_s: f64,
    /// Temperature of each pass's joint at the start, °C.
    pub before_c: Vec<f64>,
}

/// Waits are rounded up to a whole number of these, s.
const WAIT_STEP_S: f64 = 1.0;
/// A joint that has not cooled after this time never will (no loss), s.
const LONGEST_WAIT_S: f64 = 1e5;

impl<'k> Clock<'k> {
    /// A cold frame at time zero, before the first arc.
    pub fn new(kernels: &'k Kernels) -> Self {
        Clock {
            kernels,
            now_s: 0.0,
            pulses: Vec::new(),
            latest: vec![NONE; kernels.heard.len()],
            last: Vec::new(),
            begun: false,
        }
    }

    /// Seconds since the first arc.
    pub fn now_s(&self) -> f64 {
        self.now_s
    }

    /// Temperature of a joint now, °C: the mean over [`super::MEAN_OVER_MM`] of steel to each side;
    /// on a long seam, of its hottest place.
    pub fn temperature_now(&self, joint: usize) -> f64 {
        self.temperature(joint, self.now_s)
    }

    /// As [`Clock::temperature_now`] at any time: past, or future if nothing more is welded.
    pub fn temperature(&self, joint: usize, t_s: f64) -> f64 {
        let hottest = |best: f64, s: &usize| best.max(self.station_c(*s, t_s));
        self.kernels.of_joint[joint].iter().fold(f64::NEG_INFINITY, hottest)
    }

    /// Temperature at the place of a pass, °C.
    pub fn temperature_at_pass(&self, pass: usize, t_s: f64) -> f64 {
        self.station_c(self.kernels.passes[pass].station, t_s)
    }

    /// Seconds from now until a joint is at or below a limit if nothing more is welded; infinite if
    /// it never is.
    pub fn earliest(&self, joint: usize, limit_c: f64) -> f64 {
        self.until(self.now_s, limit_c, |t| self.temperature(joint, t))
    }

    /// Seconds that a pass would have to wait for its joint to cool, after moving and cleaning.
    pub fn wait_for(&self, pass: usize) -> f64 {
        let heat = &self.kernels.passes[pass];
        let ready = self.now_s + self.preparation_s(&[pass], false);
        self.until(ready, heat.limit_c, |t| self.station_c(heat.station, t))
    }

    /// Lay a step: prepare, wait as long as its passes need, weld.
    pub fn lay(&mut self, step: &HeatStep) -> LaidStep {
        let ready = self.now_s + self.preparation_s(&step.passes, step.turn);
        let mut wait_s: f64 = 0.0;
        for &pass in &step.passes {
            let heat = &self.kernels.passes[pass];
            wait_s = wait_s.max(self.until(ready, heat.limit_c, |t| self.station_c(heat.station, t)));
        }
        if !wait_s.is_finite() {
            // `check` has refused this frame; a number must come out all the same.
            wait_s = LONGEST_WAIT_S;
        }
        let start_s = ready + wait_s;
        let before_c = step.passes.iter().map(|&p| self.temperature_at_pass(p, start_s)).collect();
        let mut longest: f64 = 0.0;
        for &pass in &step.passes {
            let heat = self.kernels.passes[pass];
            longest = longest.max(heat.arc_s);
            let before = std::mem::replace(&mut self.latest[heat.station], self.pulses.len() as u32);
            let to_s = start_s + heat.arc_s;
            self.pulses.push(Pulse { power_w: heat.power_w, from_s: start_s, to_s, before });
        }
        if !step.passes.is_empty() {
            self.last = step.passes.iter().map(|&p| self.kernels.passes[p].joint).collect();
            self.begun = true;
        }
        self.now_s = start_s + longest;
        LaidStep { start_s, wait_s, before_c }
    }

    /// Put in a pass as it was really laid: start of the arc, arc time and net energy are given, in
    /// any order of time.
    pub fn put(&mut self, pass: usize, from_s: f64, arc_s: f64, energy_j: f64) {
        let station = self.kernels.passes[pass].station;
        // An arc of no length would be an infinite power.
        let arc_s = arc_s.max(0.1);
        let before = std::mem::replace(&mut self.latest[station], self.pulses.len() as u32);
        self.pulses.push(Pulse { power_w: energy_j / arc_s, from_s, to_s: from_s + arc_s, before });
    }

    /// Seconds from `from_s` until the place of a pass is at or below a limit if nothing more is
    /// welded; infinite if it never is.
    pub fn wait_under(&self, pass: usize, from_s: f64, limit_c: f64) -> f64 {
        let station = self.kernels.passes[pass].station;
        self.until(from_s, limit_c, |t| self.station_c(station, t))
    }

    /// Turning, moving to another joint, cleaning the layer below. The first arc of all is time
    /// zero, so nothing is counted before it.
    fn preparation_s(&self, passes: &[usize], turn: bool) -> f64 {
        let shop = &self.kernels.shop;
        let of = |p: &usize| -> &PassHeat { &self.kernels.passes[*p] };
        let mut seconds = if turn { shop.turn_s } else { 0.0 };
        if !self.begun {
            return seconds;
        }
        if passes.iter().any(|p| !self.last.contains(&of(p).joint)) {
            seconds += shop.move_s;
        }
        if passes.iter().any(|p| of(p).on_layer) {
            seconds += shop.clean_s;
        }
        seconds
    }

    /// Passes laid at a station, latest first.
    fn at(&self, station: usize) -> impl Iterator<Item = &Pulse> {
        let first = self.pulses.get(self.latest[station] as usize);
        std::iter::successors(first, |p| self.pulses.get(p.before as usize))
    }

    fn station_c(&self, station: usize, t_s: f64) -> f64 {
        let mut rise = 0.0;
        for (source, curve) in &self.kernels.heard[station] {
            for p in self.at(*source) {
                rise += match p.seen_from(t_s) {
                    Seen::Faded(age, energy_j) => energy_j * curve.rate(age),
                    Seen::Fresh(since, age) => p.power_w * (curve.integral(since) - curve.integral(age)),
                    Seen::NotYet => 0.0,
                };
            }
        }
        self.kernels.shop.ambient_c + rise
    }

    /// Mean temperature rise of each tube at a time, K.
    pub fn tube_rise_k(&self, t_s: f64) -> Vec<f64> {
        let mut held = vec![0.0; self.kernels.tube_j_k.len()];
        for (station, bundle) in self.kernels.taken.iter().enumerate() {
            for p in self.at(station) {
                match p.seen_from(t_s) {
                    Seen::Faded(age, energy_j) => bundle.add_rate(age, energy_j, &mut held),
                    Seen::Fresh(since, age) => {
                        bundle.add_integral(since, p.power_w, &mut held);
                        bundle.add_integral(age, -p.power_w, &mut held);
                    }
                    Seen::NotYet => {}
                }
            }
        }
        for (rise, capacity) in held.iter_mut().zip(&self.kernels.tube_j_k) {
            // A tube shorter than two places apart has no steel of its own in the mesh: nothing of it stretches.
            *rise = if *capacity > 0.0 { *rise / capacity } else { 0.0 };
        }
        held
    }

    /// Seconds from `from_s` until `temperature` is at or below `limit_c`, rounded up to
    /// [`WAIT_STEP_S`].
    fn until(&self, from_s: f64, limit_c: f64, temperature: impl Fn(f64) -> f64) -> f64 {
        if temperature(from_s) <= limit_c {
            return 0.0;
        }
        if limit_c <= self.kernels.shop.ambient_c {
            return f64::INFINITY;
        }
        // Widen until cool, then halve. The first crossing is found as long as a joint does not
        // cool, warm up again from its neighbours and cool once more within one widening.
        let (mut hot, mut step) = (0.0, 5.0);
        let mut cool = step;
        while temperature(from_s + cool) > limit_c {
            hot = cool;
            step *= 1.5;
            cool += step;
            if cool > LONGEST_WAIT_S {
                return f64::INFINITY;
            }
        }
        while cool - hot > 0.1 {
            let middle = 0.5 * (cool + hot);
            if temperature(from_s + middle) > limit_c {
                hot = middle;
            } else {
                cool = middle;
            }
        }
        (cool / WAIT_STEP_S).ceil() * WAIT_STEP_S
    }
}

/// After this many times its arc time a pass counts as one moment. The error is that of the middle
/// of a curve that falls with 1/√t: less than 0.03 % of what the pass still adds.
const FADED: f64 = 10.0;
/// A frame is cold when every joint is within this of the air, K.
const COLD_K: f64 = 10.0;

impl Kernels {
    /// When each step of an order happens and how hot things are. The vectors of the timeline run
    /// over the passes in the order of the steps.
    pub fn timeline(&self, order: &[HeatStep]) -> Timeline {
        self.run(order).0
    }

    /// As [`Kernels::timeline`], with the clock at the end, which knows every joint's temperature at
    /// any time of the order.
    pub fn run(&self, order: &[HeatStep]) -> (Timeline, Clock<'_>) {
        self.run_on(Clock::new(self), order)
    }

    /// As [`Kernels::run`], going on from a clock that has heat in it already.
    pub fn run_on<'k>(&'k self, mut clock: Clock<'k>, order: &[HeatStep]) -> (Timeline, Clock<'k>) {
        let mut line = Timeline::default();
        for step in order {
            let laid = clock.lay(step);
            // The step's own heat begins at its start, so it is not in these rises yet.
            let rises = clock.tube_rise_k(laid.start_s);
            for &before in &laid.before_c {
                line.start_s.push(laid.start_s);
                line.before_c.push(before);
                line.wait_s.push(laid.wait_s);
                line.tube_rise_k.push(rises.clone());
            }
        }
        line.end_s = clock.now_s;
        line.cold_s = clock.cold_after(line.end_s);
        line.peak = clock.peak(order, &line.start_s);
        (line, clock)
    }
}

impl Clock<'_> {
    /// Seconds after `from_s` until every joint is within [`COLD_K`] of the air.
    fn cold_after(&self, from_s: f64) -> f64 {
        let limit = self.kernels.shop.ambient_c + COLD_K;
        let mut after: f64 = 0.0;
        for joint in 0..self.kernels.of_joint.len() {
            after += self.until(from_s + after, limit, |t| self.temperature(joint, t));
        }
        after
    }

    /// Highest mean temperature of a joint and which joint: looked for at the end of each arc and
    /// shortly after, when the heat has spread over the length of the mean.
    fn peak(&self, order: &[HeatStep], start_s: &[f64]) -> (f64, usize) {
        let mut peak = (self.kernels.shop.ambient_c, 0);
        let passes = order.iter().flat_map(|s| &s.passes);
        for (&pass, start) in passes.zip(start_s) {
            let heat = &self.kernels.passes[pass];
            for later in [0.0, 5.0] {
                let c = self.station_c(heat.station, start + heat.arc_s + later);
                if c > peak.0 {
                    peak = (c, heat.joint);
                }
            }
        }
        peak
    }
}
