//! The last seconds of sound, in one piece.

/// Keeps the last `length` frames pushed, silence before the first. Every frame is written twice, so that any stretch is one slice.
#[derive(Debug)]
pub(crate) struct Memory {
    held: Vec<f32>,
    length: usize,
    at: usize,
}

impl Memory {
    pub(crate) fn new(length: usize) -> Self {
        Self { held: vec![0.0; 2 * length], length, at: 0 }
    }

    pub(crate) fn push(&mut self, sample: f32) {
        self.held[self.at] = sample;
        self.held[self.at + self.length] = sample;
        self.at = (self.at + 1) % self.length;
    }

    /// The last `count` frames, oldest first; at most what is kept.
    pub(crate) fn last(&self, count: usize) -> &[f32] {
        let end = self.at + self.length;
        &self.held[end - count.min(self.length)..end]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_frames_come_in_order_however_often_it_wrapped() {
        let mut memory = Memory::new(5);
        assert_eq!(memory.last(3), [0.0; 3]);
        for n in 1..=13_u8 {
            memory.push(f32::from(n));
        }
        assert_eq!(memory.last(4), [10.0, 11.0, 12.0, 13.0]);
        assert_eq!(memory.last(9), [9.0, 10.0, 11.0, 12.0, 13.0]);
    }
}
