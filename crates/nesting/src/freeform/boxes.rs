//! Upright rectangles in single precision, four abreast: what is far apart is told at once.

use wide::f32x4;

/// Blocks of four whose tests fill one word of bits.
const BLOCKS: usize = u64::BITS as usize / 4;

/// Bounds of bodies, grown by the reach of the gap: what lies outside is surely apart. Four abreast.
#[derive(Debug, Clone, Default)]
pub(super) struct Boxes {
    blocks: Vec<[f32x4; 4]>,
    len: usize,
}

/// Bounds in single precision: left, bottom, right, top.
pub(super) type Box4 = [f32; 4];

/// No box meets this one.
const NOWHERE: Box4 = [f32::MAX, f32::MAX, f32::MIN, f32::MIN];

impl Boxes {
    pub fn set(&mut self, slot: usize, to: Box4) {
        let block = &mut self.blocks[slot / 4];
        for (side, value) in block.iter_mut().zip(to) {
            side.as_mut_array()[slot % 4] = value;
        }
    }

    pub fn get(&self, slot: usize) -> Box4 {
        self.blocks[slot / 4].map(|side| side.to_array()[slot % 4])
    }

    pub fn push(&mut self, new: Box4) {
        if self.len.is_multiple_of(4) {
            self.blocks.push(NOWHERE.map(f32x4::splat));
        }
        self.set(self.len, new);
        self.len += 1;
    }

    pub fn swap_remove(&mut self, slot: usize) {
        self.len -= 1;
        let last = self.get(self.len);
        self.set(slot, last);
        self.set(self.len, NOWHERE);
        self.blocks.truncate(self.len.div_ceil(4));
    }

    /// Number of blocks of four.
    pub fn blocks(&self) -> u64 {
        self.blocks.len() as u64
    }

    /// Calls `found` with the slot of every box that has area in common with `own`, in order, until it
    /// returns false.
    #[inline]
    pub fn meeting(&self, own: Box4, mut found: impl FnMut(usize) -> bool) {
        let own = own.map(f32x4::splat);
        for (word, blocks) in self.blocks.chunks(BLOCKS).enumerate() {
            // All tests before the first branch: which block has a box that meets is guessed wrong too often.
            let mut mask = 0_u64;
            for (block, sides) in blocks.iter().enumerate() {
                let meets = sides[0].simd_lt(own[2])
                    & sides[1].simd_lt(own[3])
                    & sides[2].simd_gt(own[0])
                    & sides[3].simd_gt(own[1]);
                mask |= u64::from(meets.to_bitmask()) << (4 * block);
            }
            while mask != 0 {
                if !found(4 * BLOCKS * word + mask.trailing_zeros() as usize) {
                    return;
                }
                mask &= mask - 1;
            }
        }
    }
}

/// Bounds rounded outward, so that nothing is forgotten.
pub(super) fn rounded_out(left: f64, bottom: f64, right: f64, top: f64) -> Box4 {
    [
        (left as f32).next_down(),
        (bottom as f32).next_down(),
        (right as f32).next_up(),
        (top as f32).next_up(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn finds_what_meets_and_nothing_else(
            all in proptest::collection::vec((0..50_i32, 0..50_i32, 1..9_i32, 1..9_i32), 1..150),
            removed in 0..150_usize,
        ) {
            let mut plain: Vec<Box4> = all
                .iter()
                .map(|&(x, y, w, h)| [x, y, x + w, y + h].map(|v| v as f32))
                .collect();
            let mut boxes = Boxes::default();
            for b in &plain {
                boxes.push(*b);
            }
            let removed = removed % plain.len();
            plain.swap_remove(removed);
            boxes.swap_remove(removed);
            let own = [20.0, 20.0, 30.0, 30.0];
            let expected: Vec<usize> = (0..plain.len())
                .filter(|&i| {
                    let b = plain[i];
                    b[0] < own[2] && b[1] < own[3] && b[2] > own[0] && b[3] > own[1]
                })
                .collect();
            let mut found = Vec::new();
            boxes.meeting(own, |slot| {
                found.push(slot);
                true
            });
            prop_assert_eq!(found, expected);
        }
    }
}
