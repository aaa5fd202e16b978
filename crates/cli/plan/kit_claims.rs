//! Who gets which copy of a part: kits and single parts, by priority.

use crate::job::Job;
use std::collections::BTreeMap;

/// Sheets whose copies may serve the same kits of one material.
///
/// Without a rule on lots all stock of a material is one pool. With it each lot is one, with the kits
/// that are to come from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Pool {
    /// Index into the shop's materials.
    pub material: usize,
    /// By line of [`Job::kits`]: kits whose parts of the material come from here; `None` for all.
    pub kits: Option<Vec<u32>>,
}

/// What the kits and single parts of an order are waiting for.
///
/// Of a part, the first copies cut go to the claims of highest priority; of the same priority, to the
/// kits as the order lists them, then to single parts. From a lot kits are served before single
/// parts.
#[derive(Debug)]
pub struct KitClaims {
    /// Pool and item: what copies are counted by.
    pub keys: Vec<(usize, usize)>,
    types: Vec<KitType>,
    singles: Vec<Single>,
    /// Priorities that occur, from the highest.
    classes: Vec<i32>,
}

/// All lines of one kit.
#[derive(Debug)]
struct KitType {
    kit: String,
    /// Class and kits of each line, in the order of serving.
    rows: Vec<(usize, u32)>,
    /// By material: the pools it is served from.
    needs: Vec<Vec<Share>>,
}

/// What a pool has to hold for its kits of one type.
#[derive(Debug)]
struct Share {
    most: u32,
    /// Key (`None` when no sheet has the part), copies a kit, and by row copies that go elsewhere first.
    items: Vec<(Option<usize>, u32, Vec<u32>)>,
}

/// Single copies that are waited for.
#[derive(Debug)]
struct Single {
    key: usize,
    class: usize,
    quantity: u32,
    /// Copies that go elsewhere first.
    ahead: u32,
}

/// Which kit the copies of a key belong to, from the first that is cut: the kit's number among those
/// of its name, or `None` for a single part.
pub type Owners = Vec<Vec<Option<u32>>>;

impl KitClaims {
    /// The claims of a job on what is placed: by pool and item, how many copies.
    pub fn new(job: &Job, pools: &[Pool], placed: &BTreeMap<(usize, usize), u32>) -> Self {
        let keys: Vec<(usize, usize)> = placed.keys().copied().collect();
        let mut classes: Vec<i32> = job.kits.iter().map(|k| k.priority).collect();
        classes.extend(job.singles.iter().map(|s| s.priority));
        classes.sort_unstable_by(|a, b| b.cmp(a));
        classes.dedup();
        let class_of = |priority: i32| classes.iter().position(|c| *c == priority).unwrap_or(0);
        let key_of = |pool: usize, item: usize| keys.binary_search(&(pool, item)).ok();
        let mut lines: Vec<usize> = (0..job.kits.len()).collect();
        lines.sort_by_key(|line| (std::cmp::Reverse(job.kits[*line].priority), *line));
        let mut types: Vec<(KitType, Vec<usize>)> = Vec::new();
        for line in lines {
            let order = &job.kits[line];
            let row = (class_of(order.priority), order.quantity);
            match types.iter_mut().find(|(t, _)| t.kit == order.kit) {
                Some((found, of_lines)) => {
                    found.rows.push(row);
                    of_lines.push(line);
                }
                None => types.push((
                    KitType {
                        kit: order.kit.clone(),
                        rows: vec![row],
                        needs: Vec::new(),
                    },
                    vec![line],
                )),
            }
        }
        // Single copies of an item of a higher priority than a class.
        let singles_above = |item: usize, class: usize| -> u32 {
            let above =
                |s: &&crate::job::SingleOrder| s.item == item && s.priority > classes[class];
            job.singles.iter().filter(above).map(|s| s.quantity).sum()
        };
        for (kit, lines) in &mut types {
            let parts = &job.kits[lines[0]].parts;
            let mut materials: Vec<usize> =
                parts.iter().map(|(i, _)| job.items[*i].material).collect();
            materials.sort_unstable();
            materials.dedup();
            for material in materials {
                let of_material = || {
                    parts
                        .iter()
                        .filter(|(i, _)| job.items[*i].material == material)
                };
                let mut shares = Vec::new();
                for (p, pool) in pools.iter().enumerate() {
                    if pool.material != material {
                        continue;
                    }
                    let most = match &pool.kits {
                        None => u32::MAX,
                        Some(kits) => lines.iter().map(|line| kits[*line]).sum(),
                    };
                    let items = of_material().map(|(item, each)| {
                        let ahead = |(class, _): &(usize, u32)| match pool.kits {
                            None => singles_above(*item, *class),
                            Some(_) => 0,
                        };
                        let ahead = kit.rows.iter().map(ahead).collect();
                        (key_of(p, *item), *each, ahead)
                    });
                    shares.push(Share {
                        most,
                        items: items.collect(),
                    });
                }
                kit.needs.push(shares);
            }
        }
        let types: Vec<KitType> = types.into_iter().map(|(t, _)| t).collect();
        let singles = singles(job, pools, &keys, &classes);
        Self {
            keys,
            types,
            singles,
            classes,
        }
    }

    /// No copy cut yet.
    pub fn nothing(&self) -> Vec<u32> {
        vec![0; self.keys.len()]
    }

    /// How many numbers [`Self::open`] returns.
    pub fn width(&self) -> usize {
        (2 * self.classes.len()).saturating_sub(1).max(1)
    }

    /// What is not served by `counts` copies of each key: by class from the highest, kits and then
    /// single copies. Single copies of the lowest class are left out: nothing is to come after them.
    pub fn open(&self, counts: &[u32]) -> Vec<u32> {
        let mut open = vec![0; self.width()];
        for kit in &self.types {
            let mut done = kit.done(counts);
            for (class, quantity) in &kit.rows {
                let served = done.min(*quantity);
                done -= served;
                open[2 * class] += quantity - served;
            }
        }
        for single in &self.singles {
            if single.class + 1 < self.classes.len() {
                let served = counts[single.key].saturating_sub(single.ahead);
                open[2 * single.class + 1] += single.quantity - served.min(single.quantity);
            }
        }
        open
    }

    /// How many kits are complete with `counts` copies of each key.
    pub fn complete(&self, counts: &[u32]) -> u32 {
        self.types.iter().map(|kit| kit.done(counts)).sum()
    }

    /// Who gets the copies, when they come in the order in which `steps` (copies by key, as of a
    /// sheet) are cut. `placed` says how many of each key there are.
    pub fn owners<'a>(
        &self,
        placed: &[u32],
        steps: impl Iterator<Item = &'a Vec<(usize, u32)>>,
    ) -> Owners {
        let steps: Vec<&Vec<(usize, u32)>> = steps.collect();
        let mut owners: Owners = vec![Vec::new(); self.keys.len()];
        for kit in &self.types {
            for shares in &kit.needs {
                for (share, numbers) in shares.iter().zip(self.numbers(kit, shares, &steps)) {
                    for (key, each, ahead) in &share.items {
                        let Some(key) = key else { continue };
                        let most = placed[*key] as usize;
                        let list = &mut owners[*key];
                        let mut given = 0;
                        for number in &numbers {
                            let singles = ahead[row_of(&kit.rows, *number)].max(given);
                            list.extend(std::iter::repeat_n(None, (singles - given) as usize));
                            given = singles;
                            list.extend(std::iter::repeat_n(Some(*number), *each as usize));
                            if list.len() >= most {
                                break;
                            }
                        }
                    }
                }
            }
        }
        for (list, n) in owners.iter_mut().zip(placed) {
            list.resize(*n as usize, None);
        }
        owners
    }

    /// By share of a material: the numbers of the kits that it serves, in the order of serving. What
    /// is complete in a pool earlier becomes the kit of lower number, so that the materials of a kit
    /// come together as early as they can.
    fn numbers(
        &self,
        kit: &KitType,
        shares: &[Share],
        steps: &[&Vec<(usize, u32)>],
    ) -> Vec<Vec<u32>> {
        let total: u32 = kit.rows.iter().map(|(_, n)| n).sum();
        if let [only] = shares
            && only.most >= total
        {
            return vec![(1..=total).collect()];
        }
        // When each kit of each pool is complete; those that never are come last.
        let mut slots: Vec<(usize, usize)> = Vec::new();
        for (i, share) in shares.iter().enumerate() {
            let mut counts = self.nothing();
            let mut done = 0;
            for (step, pile) in steps.iter().enumerate() {
                for (key, n) in *pile {
                    counts[*key] += n;
                }
                let now = share.done(&counts, &kit.rows);
                slots.extend((done..now).map(|_| (step, i)));
                done = done.max(now);
            }
            slots.extend((done..share.most.min(total)).map(|_| (steps.len(), i)));
        }
        slots.sort_unstable();
        let mut numbers = vec![Vec::new(); shares.len()];
        for ((_, share), number) in slots.into_iter().zip(1..) {
            numbers[share].push(number);
        }
        numbers
    }
}

/// The single copies that a job waits for.
fn singles(job: &Job, pools: &[Pool], keys: &[(usize, usize)], classes: &[i32]) -> Vec<Single> {
    let mut singles = Vec::new();
    for (class, priority) in classes.iter().enumerate() {
        for (key, (pool, item)) in keys.iter().enumerate() {
            // From a lot kits are served first, so nothing waits for single copies there.
            if pools[*pool].kits.is_some() {
                continue;
            }
            let of_item = || job.singles.iter().filter(|s| s.item == *item);
            let here = of_item().filter(|s| s.priority == *priority);
            let quantity: u32 = here.map(|s| s.quantity).sum();
            if quantity == 0 {
                continue;
            }
            let kits = job.kits.iter().filter(|k| k.priority >= *priority);
            let kits: u32 = kits
                .flat_map(|k| k.parts.iter().map(|(i, each)| (*i, each * k.quantity)))
                .filter(|(i, _)| i == item)
                .map(|(_, n)| n)
                .sum();
            let above = of_item().filter(|s| s.priority > *priority);
            singles.push(Single {
                key,
                class,
                quantity,
                ahead: kits + above.map(|s| s.quantity).sum::<u32>(),
            });
        }
    }
    singles
}

impl KitType {
    /// How many kits are complete.
    fn done(&self, counts: &[u32]) -> u32 {
        let total: u32 = self.rows.iter().map(|(_, n)| n).sum();
        let of_material = |shares: &Vec<Share>| -> u32 {
            let done = shares.iter().map(|share| share.done(counts, &self.rows));
            done.fold(0, u32::saturating_add)
        };
        self.needs.iter().map(of_material).fold(total, u32::min)
    }
}

/// The row of the kit with this number, counted from 1.
fn row_of(rows: &[(usize, u32)], number: u32) -> usize {
    let mut left = number;
    for (row, (_, quantity)) in rows.iter().enumerate() {
        if left <= *quantity {
            return row;
        }
        left -= quantity;
    }
    rows.len().saturating_sub(1)
}

impl Share {
    /// How many kits the pool can serve.
    fn done(&self, counts: &[u32], rows: &[(usize, u32)]) -> u32 {
        let total: u32 = rows.iter().map(|(_, n)| n).sum();
        let mut done = self.most.min(total);
        for (key, each, ahead) in &self.items {
            let have = key.map_or(0, |key| counts[key]);
            done = done.min(have / each);
            while done > 0 && have < each * done + ahead[row_of(rows, done)] {
                done -= 1;
            }
        }
        done
    }
}

#[cfg(test)]
pub mod testing {
    //! Jobs that are nothing but numbers.

    use super::*;
    use crate::job::{Item, KitOrder, Shop, SingleOrder};
    use panelwright_geometry::Outline;
    use panelwright_nesting::Turn;
    use rand::RngExt;
    use rand_pcg::Pcg64Mcg;

    /// A job of kits (how many, priority, copies of each item from the first) and single parts
    /// (item, how many, priority). Each kit is of a name of its own.
    pub fn job(kits: &[(u32, i32, &[u32])], singles: &[(usize, u32, i32)], items: usize) -> Job {
        let item = |i: usize| Item {
            part: format!("part {i}"),
            kit: "kit".to_owned(),
            label: String::new(),
            outline: Outline::rectangle(100.0, 50.0),
            quantity: 1,
            material: 0,
            machine: 0,
            finish_on_router: false,
            turn: Turn::Quarter,
            grain_deg: None,
            good_faces: 0,
        };
        let shop = Shop {
            name: String::new(),
            currency: String::new(),
            paper: crate::paper::Paper::default(),
            labels: crate::input::LabelStock::default(),
            materials: Vec::new(),
            machines: Vec::new(),
            sheets: Vec::new(),
            remnants: Vec::new(),
            ..Shop::default()
        };
        let kits = kits
            .iter()
            .enumerate()
            .map(|(k, (quantity, priority, each))| KitOrder {
                kit: format!("kit {k}"),
                quantity: *quantity,
                priority: *priority,
                parts: each
                    .iter()
                    .copied()
                    .enumerate()
                    .filter(|(_, n)| *n > 0)
                    .collect(),
            });
        let singles = singles
            .iter()
            .map(|(item, quantity, priority)| SingleOrder {
                item: *item,
                quantity: *quantity,
                priority: *priority,
            });
        Job {
            order: String::new(),
            due: None,
            kits: kits.collect(),
            singles: singles.collect(),
            shop,
            items: (0..items).map(item).collect(),
            notes: Vec::new(),
            text_left: Vec::new(),
        }
    }

    /// All stock in one pool.
    pub fn one_pool() -> Vec<Pool> {
        vec![Pool {
            material: 0,
            kits: None,
        }]
    }

    /// The claims of [`job`] on so many copies of each item, all in one pool.
    pub fn claims(
        kits: &[(u32, i32, &[u32])],
        singles: &[(usize, u32, i32)],
        placed: &[u32],
    ) -> KitClaims {
        let job = job(kits, singles, placed.len());
        let placed = placed
            .iter()
            .enumerate()
            .map(|(item, n)| ((0, item), *n))
            .collect();
        KitClaims::new(&job, &one_pool(), &placed)
    }

    /// A small order of two kits and a single part, in two classes, spread over sheets at random.
    pub fn random_case(
        random: &mut Pcg64Mcg,
        sheets: usize,
    ) -> (KitClaims, Vec<Vec<(usize, u32)>>) {
        let each: Vec<u32> = (0..3).map(|_| random.random_range(1..=3)).collect();
        let (a, b) = (random.random_range(1..=4), random.random_range(1..=3));
        let spare = random.random_range(0..3);
        let priority = random.random_range(0..2);
        let other = [0, 0, 0, 1, 2];
        let kits: [(u32, i32, &[u32]); 2] = [(a, 0, &each), (b, priority, &other)];
        let placed = [a * each[0] + spare, a * each[1], a * each[2], b, 2 * b];
        let mut piles = vec![vec![0; placed.len()]; sheets];
        for (item, n) in placed.iter().enumerate() {
            for _ in 0..*n {
                piles[random.random_range(0..sheets)][item] += 1;
            }
        }
        let piles = piles.into_iter().map(|counts: Vec<u32>| {
            counts
                .into_iter()
                .enumerate()
                .filter(|(_, n)| *n > 0)
                .collect()
        });
        let single = random.random_range(-1..3);
        let singles: &[(usize, u32, i32)] = &[(0, spare, single)];
        let singles = if spare > 0 { singles } else { &[] };
        (claims(&kits, singles, &placed), piles.collect())
    }
}

#[cfg(test)]
mod tests {
    use super::testing::{claims, job, one_pool};
    use super::*;

    #[test]
    fn a_kit_is_complete_with_its_scarcest_part() {
        let claims = claims(&[(3, 0, &[1, 4])], &[(0, 1, 0)], &[4, 12]);
        let complete = |counts: [u32; 2]| claims.complete(&counts);
        assert_eq!(complete([1, 3]), 0);
        assert_eq!(complete([1, 4]), 1);
        assert_eq!(complete([4, 11]), 2);
        assert_eq!(complete([4, 12]), 3);
    }

    #[test]
    fn a_single_part_of_higher_priority_comes_before_a_kit() {
        for (priority, complete, open) in [
            (5, 0, vec![0, 0, 2]),
            (0, 1, vec![1]),
            (-1, 1, vec![1, 0, 0]),
        ] {
            let claims = claims(&[(2, 0, &[1])], &[(0, 1, priority)], &[3]);
            assert_eq!(claims.complete(&[1]), complete, "{priority}");
            assert_eq!(claims.open(&[1]), open, "{priority}");
        }
    }

    #[test]
    fn copies_go_to_kits_in_turn_and_the_rest_is_single() {
        let job = job(&[(2, 0, &[2, 1])], &[(0, 1, 0)], 2);
        let placed = BTreeMap::from([((0, 0), 5), ((0, 1), 2)]);
        let claims = KitClaims::new(&job, &one_pool(), &placed);
        let step = vec![(0, 5), (1, 2)];
        let owners = claims.owners(&[5, 2], std::iter::once(&step));
        assert_eq!(owners[0], [Some(1), Some(1), Some(2), Some(2), None]);
        assert_eq!(owners[1], [Some(1), Some(2)]);
    }

    #[test]
    fn lots_serve_whole_kits_and_the_earliest_is_the_first() {
        // Two kits from each of two lots; the second lot is cut first.
        let job = job(&[(3, 0, &[1, 2])], &[], 2);
        let pool = |kits| Pool {
            material: 0,
            kits: Some(vec![kits]),
        };
        let placed = BTreeMap::from([((0, 0), 2), ((0, 1), 4), ((1, 0), 1), ((1, 1), 2)]);
        let claims = KitClaims::new(&job, &[pool(2), pool(1)], &placed);
        let steps = [vec![(2, 1), (3, 2)], vec![(0, 2)], vec![(1, 4)]];
        let owners = claims.owners(&[2, 4, 1, 2], steps.iter());
        assert_eq!(owners[2], [Some(1)]);
        assert_eq!(owners[3], [Some(1), Some(1)]);
        assert_eq!(owners[0], [Some(2), Some(3)]);
        assert_eq!(owners[1], [Some(2), Some(2), Some(3), Some(3)]);
        // A copy of each lot makes no kit.
        assert_eq!(claims.complete(&[1, 0, 0, 2]), 0);
        assert_eq!(claims.complete(&[1, 2, 0, 0]), 1);
    }
}
