//! Skip welding with look-ahead: several orders are followed side by side, pass by pass, and the
//! ones that fall least short are kept (beam search).

use super::Score;
use super::plain::Plain;
use super::tally::{Choice, Tally};
use super::warmth::Warmth;

/// What is preferred among orders that fall equally short.
#[derive(Debug, Clone, Default)]
pub enum Wish {
    /// Skip welding: close open pairs, keep the sides level, go far away.
    #[default]
    Skip,
    /// Keep as near as the rules allow to this row: place of each pass in it, by pass index.
    Follow(Vec<usize>),
}

/// Place of each thing in a row of all of them.
pub fn place_of(row: &[usize]) -> Vec<usize> {
    let mut place = vec![0; row.len()];
    row.iter().enumerate().for_each(|(i, &p)| place[p] = i);
    place
}

/// How the beam goes about it.
pub(crate) struct Ways<'a> {
    pub wish: &'a Wish,
    pub width: usize,
    pub welders: usize,
    /// Turns beyond the fewest that may be made to avoid a shortfall.
    pub spare_turns: usize,
    pub homes: &'a [usize],
}

/// What is compared, from the front: shortfalls with what is bound to come, turns with those to
/// come, steps, waiting, passes out of their best setup, wish.
pub(crate) type Key = (Score, usize, i64, i64, i64, i64);

/// Passes left in each home and joint, and the two fullest joints of each home: from these follows
/// how much spacing must fall short whatever comes.
#[derive(Clone)]
struct Left {
    joints: usize,
    count: Vec<u32>,
    total: Vec<u32>,
}

impl Left {
    fn new(plain: &Plain, homes: &[usize], tally: &Tally) -> Self {
        let setups = plain.q.setups.max(1);
        let mut left =
            Left { joints: plain.joints, count: vec![0; setups * plain.joints], total: vec![0; setups] };
        for p in (0..plain.n()).filter(|&p| !tally.is_done(p)) {
            left.count[homes[p] * plain.joints + plain.q.passes[p].joint] += 1;
            left.total[homes[p]] += 1;
        }
        left
    }

    fn take(&mut self, home: usize, joint: usize) {
        self.count[home * self.joints + joint] -= 1;
        self.total[home] -= 1;
    }

    /// The fullest joint of a home, and the next.
    fn fullest(&self, home: usize) -> (usize, u32, u32) {
        let row = &self.count[home * self.joints..(home + 1) * self.joints];
        let (mut at, mut first, mut second) = (0, 0, 0);
        for (j, &c) in row.iter().enumerate() {
            if c > first {
                (second, first, at) = (first, c, j);
            } else if c > second {
                second = c;
            }
        }
        (at, first, second)
    }
}

/// Least shortfall of spacing among `total` passes of which `most` lie on one joint: `most − 1` gaps
/// ask for `spacing` other passes each, and only `total − most` others are there.
fn bound(most: u32, total: u32, spacing: i64) -> i64 {
    let (m, others) = (i64::from(most), i64::from(total) - i64::from(most));
    ((m - 1).max(0) * spacing - others).max(0)
}

struct State<W> {
    tally: Tally,
    left: Left,
    /// Clock before the present step, and after it.
    before: W,
    after: W,
    wait_ds: i64,
    step_wait_ds: i64,
    off_home: i64,
    wish: i64,
    hash: u64,
    way: usize,
}

/// Lay all passes; the choices made, or none if every way ran into a rule that is never relaxed.
pub(crate) fn run<W: Warmth>(plain: &Plain, ways: &Ways, clock: &W) -> Option<Vec<Choice>> {
    let tally = Tally::new(plain);
    let todo = plain.n() - tally.laid;
    let left = Left::new(plain, ways.homes, &tally);
    let first = State {
        tally,
        left,
        before: clock.clone(),
        after: clock.clone(),
        wait_ds: 0,
        step_wait_ds: 0,
        off_home: 0,
        wish: 0,
        hash: 0,
        way: usize::MAX,
    };
    let fewest = fewest_turns_bound(plain, ways.homes, &first.tally);
    let mut beam = vec![first];
    let mut trail: Vec<(usize, Choice)> = Vec::new();
    for depth in 0..todo {
        let mut next: Vec<(Key, usize, Choice)> = Vec::new();
        for (b, state) in beam.iter().enumerate() {
            grow(plain, ways, state, b, depth, fewest, &mut next);
        }
        let by = |x: &(Key, usize, Choice), y: &(Key, usize, Choice)| {
            (x.0, x.1, x.2.pass, x.2.join).cmp(&(y.0, y.1, y.2.pass, y.2.join))
        };
        // More than are kept, since some will be the same; the rest need not be sorted.
        let enough = 8 * ways.width;
        if next.len() > enough {
            next.select_nth_unstable_by(enough, by);
            next.truncate(enough);
        }
        next.sort_unstable_by(by);
        let mut kept: Vec<(u64, usize, bool)> = Vec::new();
        let mut grown = Vec::with_capacity(ways.width);
        for (key, b, c) in next {
            let hash = beam[b].hash ^ mix(c.pass as u64);
            // Same passes laid, same pass last: the better one (it came first) is enough.
            let mark = (hash, c.pass, c.join);
            if kept.contains(&mark) {
                continue;
            }
            kept.push(mark);
            trail.push((beam[b].way, c));
            grown.push(step(plain, ways, &beam[b], c, &key, hash, trail.len() - 1));
            if grown.len() == ways.width {
                break;
            }
        }
        if grown.is_empty() {
            return None;
        }
        beam = grown;
    }
    let best = beam
        .iter()
        .min_by_key(|s| (s.tally.score(plain), s.tally.turns, s.tally.steps(), s.wait_ds, s.wish))?;
    let mut choices = Vec::with_capacity(todo);
    let mut at = best.way;
    while at != usize::MAX {
        choices.push(trail[at].1);
        at = trail[at].0;
    }
    choices.reverse();
    Some(choices)
}

/// All ways to go on from a state.
fn grow<W: Warmth>(
    plain: &Plain,
    ways: &Ways,
    state: &State<W>,
    b: usize,
    depth: usize,
    fewest: usize,
    next: &mut Vec<(Key, usize, Choice)>,
) {
    let t = &state.tally;
    let tops: Vec<_> = (0..state.left.total.len()).map(|h| state.left.fullest(h)).collect();
    let before = next.len();
    let mut home_left = false;
    let mut seen: Vec<(usize, _)> = Vec::new();
    let mut candidates: Vec<usize> = Vec::new();
    for p in (0..plain.n()).filter(|&p| t.ready(plain, p)) {
        let item = &plain.q.passes[p];
        let closes = item.partner.is_some_and(|o| t.is_done(o));
        // Passes that differ in nothing the rules can see: one of them is enough.
        let energy = plain.energy_uj[p];
        let kind =
            (item.layer, plain.sign[p], energy, plain.setup_mask[p], plain.pin[p], item.partner.is_some());
        if matches!(ways.wish, Wish::Skip) && !closes {
            // Passes stand seam by seam, so the same kind is among the last.
            if seen.iter().rev().take_while(|s| s.0 == item.seam).any(|s| s.1 == kind) {
                continue;
            }
            seen.push((item.seam, kind));
        }
        candidates.push(p);
    }
    let push = |c: Choice, next: &mut Vec<_>| {
        if t.allowed(plain, c) {
            next.push((key(plain, ways, state, &tops, c, depth), b, c));
            true
        } else {
            false
        }
    };
    let mut least_upper = i64::MAX;
    for &p in &candidates {
        if plain.fits(p, t.setup) {
            if push(Choice { pass: p, setup: t.setup, join: false }, next) {
                home_left |= ways.homes[p] == t.setup;
                let s = &next[next.len() - 1].0.0;
                let now = t.score(plain);
                least_upper = least_upper.min((0..4).map(|r| s[r] - now[r]).max().unwrap_or(0));
            }
            if ways.welders > 1 && t.now.len() < ways.welders {
                push(Choice { pass: p, setup: t.setup, join: true }, next);
            }
        }
    }
    let forced = least_upper > 0 && t.turns < fewest + ways.spare_turns;
    if !home_left || forced || next.len() == before {
        for &p in &candidates {
            if ways.homes[p] != t.setup {
                push(Choice { pass: p, setup: ways.homes[p], join: false }, next);
            }
        }
    }
    if next.len() == before {
        for &p in &candidates {
            for &s in plain.q.passes[p].setups.iter().filter(|&&s| s != t.setup) {
                push(Choice { pass: p, setup: s, join: false }, next);
            }
        }
    }
}

fn key<W: Warmth>(
    plain: &Plain,
    ways: &Ways,
    state: &State<W>,
    tops: &[(usize, u32, u32)],
    c: Choice,
    depth: usize,
) -> Key {
    let t = &state.tally;
    let item = &plain.q.passes[c.pass];
    let home = ways.homes[c.pass];
    let mut score = t.score_with(plain, c);
    let mut turns = t.turns + usize::from(c.setup != t.setup);
    for (h, &(at, first, second)) in tops.iter().enumerate() {
        let (mut most, mut total) = (first, state.left.total[h]);
        if h == home {
            total -= 1;
            if at == item.joint {
                most = (first - 1).max(second);
            }
        }
        score[0] += bound(most, total, 1);
        score[1] += bound(most, total, plain.spacing);
        turns += usize::from(total > 0 && h != c.setup);
    }
    let steps = t.steps() + i64::from(!c.join);
    let clock = if c.join { &state.before } else { &state.after };
    let wait = (clock.wait_s(c.pass) * 10.0).round() as i64;
    let wait = state.wait_ds + if c.join { (wait - state.step_wait_ds).max(0) } else { wait };
    let off = state.off_home + i64::from(c.setup != home);
    (score, turns, steps, wait, off, state.wish + wish(plain, ways, t, c, depth, &state.left))
}

/// What a choice costs in the measure of the wish; small is good.
fn wish(plain: &Plain, ways: &Ways, t: &Tally, c: Choice, depth: usize, left: &Left) -> i64 {
    let item = &plain.q.passes[c.pass];
    if let Wish::Follow(place) = ways.wish {
        return (place[c.pass] as i64 - depth as i64).abs();
    }
    let diff = t.diff() + plain.sign[c.pass] * plain.energy_uj[c.pass];
    let level = if plain.balance_on { diff.abs() * 100 / plain.limit_uj.max(1) } else { 0 };
    let opens = if item.partner.is_some_and(|o| t.is_done(o)) { 0 } else { 60 };
    let near =
        t.now.iter().map(|&b| plain.steel(plain.q.passes[b].joint, item.joint)).min().unwrap_or(i64::MAX);
    let reach = (4 * plain.distance_nm).max(1);
    let walk = if c.join { 0 } else { 100 - near.min(reach) / (reach / 100).max(1) };
    // Joints with much left to weld go first, so that nothing piles up at the end.
    let pile = 20 * i64::from(left.count[ways.homes[c.pass] * left.joints + item.joint]);
    let mirrored =
        c.join && t.now.iter().any(|&b| plain.q.mirror[plain.q.passes[b].joint] == Some(item.joint));
    level + opens + walk - pile - if mirrored { 200 } else { 0 }
}

fn step<W: Warmth>(
    plain: &Plain,
    ways: &Ways,
    from: &State<W>,
    c: Choice,
    key: &Key,
    hash: u64,
    way: usize,
) -> State<W> {
    let mut tally = from.tally.clone();
    tally.lay(plain, c);
    let mut left = from.left.clone();
    left.take(ways.homes[c.pass], plain.q.passes[c.pass].joint);
    let before = if c.join { from.before.clone() } else { from.after.clone() };
    let mut after = before.clone();
    after.lay(&tally.now, c.setup);
    let waited = key.3 - from.wait_ds;
    let step_wait_ds = if c.join { from.step_wait_ds + waited } else { waited };
    State {
        tally,
        left,
        before,
        after,
        wait_ds: key.3,
        step_wait_ds,
        off_home: key.4,
        wish: key.5,
        hash,
        way,
    }
}

fn fewest_turns_bound(plain: &Plain, homes: &[usize], t: &Tally) -> usize {
    let mut seen = 0u64;
    for p in (0..plain.n()).filter(|&p| !t.is_done(p)) {
        seen |= 1 << homes[p];
    }
    (seen & !(1 << t.setup)).count_ones() as usize
}

/// A number that looks random and is always the same (splitmix64).
fn mix(x: u64) -> u64 {
    let mut z = (x + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}
