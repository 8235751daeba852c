//! A small pseudo-random generator of our own, so that a seed gives the same bytes everywhere.
//! SplitMix64 (Steele, Lea, Flood 2014).

/// A stream of pseudo-random numbers. Forking by label keeps streams independent of the order in
/// which other streams are used.
#[derive(Clone, Debug)]
pub struct Rng {
    state: u64,
}

fn scramble(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

impl Rng {
    pub fn new(seed: u64) -> Self {
        Self {
            state: scramble(seed.wrapping_add(0x9E37_79B9_7F4A_7C15)),
        }
    }

    /// A stream that depends on this stream's seed state, `label` and `index` alone.
    pub fn fork(&self, label: &str, index: u64) -> Self {
        let mut h = self.state ^ 0xCBF2_9CE4_8422_2325;
        for b in label.bytes() {
            h = (h ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01B3);
        }
        Self::new(scramble(h).wrapping_add(scramble(index.wrapping_add(1))))
    }

    pub fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        scramble(self.state)
    }

    /// Uniform in [0, 1).
    pub fn unit(&mut self) -> f32 {
        (self.next() >> 40) as f32 / (1u64 << 24) as f32
    }

    /// Uniform in [low, high).
    pub fn range(&mut self, low: f32, high: f32) -> f32 {
        low + (high - low) * self.unit()
    }

    /// Uniform in 0..count; 0 where `count` is 0.
    pub fn below(&mut self, count: usize) -> usize {
        if count == 0 {
            0
        } else {
            (self.next() >> 11) as usize % count
        }
    }

    pub fn chance(&mut self, probability: f32) -> bool {
        self.unit() < probability
    }

    pub fn sign(&mut self) -> f32 {
        if self.chance(0.5) { 1.0 } else { -1.0 }
    }

    pub fn angle(&mut self) -> f32 {
        self.range(0.0, std::f32::consts::TAU)
    }

    /// Near-normal with unit variance: the sum of four uniform 16-bit numbers.
    pub fn normal(&mut self) -> f32 {
        let z = self.next();
        let sum = (z & 0xFFFF) + ((z >> 16) & 0xFFFF) + ((z >> 32) & 0xFFFF) + (z >> 48);
        (sum as f32 - 131_070.0) * (1.0 / 37_837.2)
    }

    /// One of `items`.
    ///
    /// # Panics
    /// Where `items` is empty, which is a bug of the caller.
    pub fn pick<'a, T>(&mut self, items: &'a [T]) -> &'a T {
        &items[self.below(items.len())]
    }

    /// An index drawn in proportion to `weights`.
    pub fn weighted(&mut self, weights: &[f32]) -> usize {
        let mut at = self.unit() * weights.iter().sum::<f32>();
        for (i, w) in weights.iter().enumerate() {
            at -= w;
            if at < 0.0 {
                return i;
            }
        }
        weights.len().saturating_sub(1)
    }

    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Rng;

    #[test]
    fn forks_do_not_depend_on_what_was_drawn_elsewhere() {
        let root = Rng::new(7);
        let mut other = root.fork("a", 0);
        other.next();
        assert_eq!(root.fork("b", 3).next(), Rng::new(7).fork("b", 3).next());
    }

    #[test]
    fn normal_has_unit_variance() {
        let mut rng = Rng::new(1);
        let n = 20_000;
        let sum: f32 = (0..n).map(|_| rng.normal().powi(2)).sum();
        assert!((sum / n as f32 - 1.0).abs() < 0.05);
    }
}
