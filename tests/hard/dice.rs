//! Chance that is the same everywhere.

/// splitmix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", 2014).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15))
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// 0 to n − 1.
    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    /// One of these.
    pub fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }

    /// Between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// True once in `n` times.
    pub fn once_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}

#[test]
fn dice_fall_as_published() {
    // The first outputs of splitmix64 from seed 1234567, as widely used to check it (from memory).
    let mut dice = Dice(1234567);
    assert_eq!([dice.next(), dice.next()], [6457827717110365317, 3203168211198807973]);
}
