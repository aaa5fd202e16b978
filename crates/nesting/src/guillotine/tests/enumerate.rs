//! Everything that can be sawn from a small sheet, by trying every cut at whole millimetres.

use std::collections::HashMap;

/// A part: sides, most copies, whether it may be turned.
pub(super) type Kind = (i64, i64, u32, bool);

/// What can be had from pieces of whole millimetres. A set of contents is a bit set: bit number n is
/// the content with the copies that n stands for, counted in mixed radix.
pub(super) struct Sawn {
    kinds: Vec<Kind>,
    kerf: i64,
    /// A last cut that takes a part to its size is no stage.
    free_trim: bool,
    strides: Vec<u32>,
    contents: u32,
    endless: HashMap<(i64, i64), u64>,
    staged: HashMap<(usize, i64, i64, u32), u64>,
}

impl Sawn {
    /// For kinds of which there are fewer than 64 contents.
    pub fn new(kinds: &[Kind], kerf: i64, free_trim: bool) -> Self {
        let mut strides = Vec::new();
        let mut contents = 1;
        for kind in kinds {
            strides.push(contents);
            contents *= kind.2 + 1;
        }
        assert!(contents <= 64, "the bits suffice");
        Self {
            kinds: kinds.to_vec(),
            kerf,
            free_trim,
            strides,
            contents,
            endless: HashMap::new(),
            staged: HashMap::new(),
        }
    }

    /// Copies of each kind in content `n`.
    pub fn copies(&self, n: u32) -> Vec<u32> {
        let each = self.kinds.iter().zip(&self.strides);
        each.map(|(kind, stride)| n / stride % (kind.2 + 1))
            .collect()
    }

    /// The number of the content with all copies.
    pub fn all(&self) -> u32 {
        self.contents - 1
    }

    fn both(&self, a: u64, b: u64) -> u64 {
        let mut both = a | b;
        for m in (0..self.contents).filter(|m| a >> m & 1 == 1) {
            for n in (0..self.contents).filter(|n| b >> n & 1 == 1) {
                let (x, y) = (self.copies(m), self.copies(n));
                let fits = |i: usize| x[i] + y[i] <= self.kinds[i].2;
                if (0..x.len()).all(fits) {
                    both |= 1 << (m + n);
                }
            }
        }
        both
    }

    /// Nothing, or one part for which `fits` says yes of its sides as it lies.
    fn single(&self, fits: impl Fn(i64, i64) -> bool) -> u64 {
        let mut set = 1;
        for (kind, stride) in self.kinds.iter().zip(&self.strides) {
            let (w, h, most, turns) = *kind;
            if most > 0 && (fits(w, h) || turns && fits(h, w)) {
                set |= 1 << stride;
            }
        }
        set
    }

    /// All contents of `w` x `h` by any cuts.
    pub fn endless(&mut self, w: i64, h: i64) -> u64 {
        if w <= 0 || h <= 0 {
            return 1;
        }
        if let Some(known) = self.endless.get(&(w, h)) {
            return *known;
        }
        let mut set = self.single(|a, b| (a, b) == (w, h));
        for at in 1..w {
            let (one, other) = (self.endless(at, h), self.endless(w - at - self.kerf, h));
            set |= self.both(one, other);
        }
        for at in 1..h {
            let (one, other) = (self.endless(w, at), self.endless(w, h - at - self.kerf));
            set |= self.both(one, other);
        }
        self.endless.insert((w, h), set);
        set
    }

    /// All contents of `w` x `h` by `stages` stages, the first of them along `axis`.
    pub fn staged(&mut self, axis: usize, w: i64, h: i64, stages: u32) -> u64 {
        if w <= 0 || h <= 0 {
            return 1;
        }
        if stages == 0 {
            let free = self.free_trim;
            return self.single(|a, b| {
                (a, b) == (w, h)
                    || free && axis == 0 && b == h && a <= w
                    || free && axis == 1 && a == w && b <= h
            });
        }
        if let Some(known) = self.staged.get(&(axis, w, h, stages)) {
            return *known;
        }
        let mut set = self.staged(1 - axis, w, h, stages - 1);
        for at in 1..[w, h][axis] {
            let rest = [w, h][axis] - at - self.kerf;
            let (one, other) = if axis == 0 {
                (
                    self.staged(1, at, h, stages - 1),
                    self.staged(0, rest, h, stages),
                )
            } else {
                (
                    self.staged(0, w, at, stages - 1),
                    self.staged(1, w, rest, stages),
                )
            };
            set |= self.both(one, other);
        }
        self.staged.insert((axis, w, h, stages), set);
        set
    }

    /// All contents of a sheet under a limit on stages.
    pub fn of_sheet(&mut self, w: i64, h: i64, stages: Option<u32>) -> u64 {
        match stages {
            None => self.endless(w, h),
            Some(n) => self.staged(0, w, h, n) | self.staged(1, w, h, n),
        }
    }

    /// The most that a content of `set` is worth.
    pub fn most(&self, set: u64, values: &[f64]) -> f64 {
        (0..self.contents)
            .filter(|n| set >> n & 1 == 1)
            .map(|n| {
                let copies = self.copies(n);
                copies
                    .iter()
                    .zip(values)
                    .map(|(n, v)| f64::from(*n) * v)
                    .sum()
            })
            .fold(0.0, f64::max)
    }

    /// The least cost of sheets (their contents and cost) for all copies; infinite when there is none.
    pub fn least(&self, sheets: &[(u64, f64)]) -> f64 {
        let mut least = vec![f64::INFINITY; self.contents as usize];
        least[0] = 0.0;
        for have in 0..self.contents {
            let so_far = least[have as usize];
            for (set, cost) in sheets {
                for more in (1..self.contents).filter(|n| set >> n & 1 == 1) {
                    let (x, y) = (self.copies(have), self.copies(more));
                    if (0..x.len()).all(|i| x[i] + y[i] <= self.kinds[i].2) {
                        let to = &mut least[(have + more) as usize];
                        *to = to.min(so_far + cost);
                    }
                }
            }
        }
        least[self.all() as usize]
    }
}
