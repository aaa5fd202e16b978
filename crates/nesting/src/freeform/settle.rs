//! All parts moved a little at the same time until none overlaps.
//!
//! Moving one part at a time is good at finding another place for it and slow at making room along a
//! chain of parts that touch. Here the sum of the squared depths of all overlaps is lowered over
//! all places at once (Imamichi, Yagiura & Nagamochi 2009), by the limited-memory method of Broyden,
//! Fletcher, Goldfarb and Shanno (Nocedal 1980).

use super::arena::{Arena, Body, Room, Trial, clamp};
use super::convex::CONTACT;
use super::nofit::NoFit;
use super::work::Work;
use panelwright_geometry::{Bounds, Point};

/// Steps remembered for the curvature.
const MEMORY: usize = 6;

/// Halvings of a step that does not lower the sum before the search ends.
const HALVINGS: usize = 8;

/// Share by which the sum has to fall within [`MEMORY`] steps, or there is no hope.
const LEAST_GAIN: f64 = 0.1;

/// Lowers `value` from `x`, in place, until it is 0, hardly falls any more or `most` steps are done.
///
/// `value` returns the value at a place and writes its gradient. Returns the last value.
pub(super) fn descend(
    x: &mut [f64],
    most: usize,
    mut value: impl FnMut(&[f64], &mut [f64]) -> f64,
) -> f64 {
    let n = x.len();
    let mut gradient = vec![0.0; n];
    let mut now = value(x, &mut gradient);
    let mut steps: Vec<(Vec<f64>, Vec<f64>, f64)> = Vec::with_capacity(MEMORY);
    let mut trail = vec![now];
    let mut next = vec![0.0; n];
    let mut next_gradient = vec![0.0; n];
    for round in 0..most {
        if now <= 0.0 {
            break;
        }
        // The two-loop recursion.
        let mut way: Vec<f64> = gradient.iter().map(|g| -g).collect();
        let mut shares = [0.0; MEMORY];
        for (k, (s, y, rho)) in steps.iter().enumerate().rev() {
            let share = rho * dot(s, &way);
            shares[k] = share;
            add(&mut way, y, -share);
        }
        let scale = steps
            .last()
            .map_or(0.3, |(s, y, _)| dot(s, y) / dot(y, y).max(1e-300));
        way.iter_mut().for_each(|w| *w *= scale);
        for (k, (s, y, rho)) in steps.iter().enumerate() {
            let share = shares[k] - rho * dot(y, &way);
            add(&mut way, s, share);
        }
        let slope = dot(&gradient, &way);
        if slope >= 0.0 {
            steps.clear();
            if round > 0 && trail.last() == Some(&now) {
                break;
            }
            continue;
        }
        let mut length = 1.0;
        let mut found = false;
        for _ in 0..HALVINGS {
            next.copy_from_slice(x);
            add(&mut next, &way, length);
            let there = value(&next, &mut next_gradient);
            if there <= now + 1e-4 * length * slope {
                let s: Vec<f64> = next.iter().zip(x.iter()).map(|(a, b)| a - b).collect();
                let y: Vec<f64> = next_gradient
                    .iter()
                    .zip(&gradient)
                    .map(|(a, b)| a - b)
                    .collect();
                let curve = dot(&s, &y);
                if curve > 1e-12 * dot(&y, &y) {
                    if steps.len() == MEMORY {
                        steps.remove(0);
                    }
                    steps.push((s, y, 1.0 / curve));
                }
                x.copy_from_slice(&next);
                gradient.copy_from_slice(&next_gradient);
                now = there;
                found = true;
                break;
            }
            length *= 0.5;
        }
        if !found {
            if steps.is_empty() {
                break;
            }
            steps.clear();
        }
        trail.push(now);
        if trail.len() > 2 * MEMORY && now > (1.0 - LEAST_GAIN) * trail[trail.len() - MEMORY] {
            break;
        }
    }
    now
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

fn add(to: &mut [f64], what: &[f64], times: f64) {
    for (t, w) in to.iter_mut().zip(what) {
        *t += times * w;
    }
}

/// How far parts may be apart to be taken for neighbours, as a share of the smallest one's size.
const REACH: f64 = 0.1;

/// Most steps of the descent.
const MOST_STEPS: usize = 60;

/// Aimed at beyond contact, so that it is reached after finitely many steps.
const SPARE: f64 = 4.0 * CONTACT;

impl Arena<'_> {
    /// Moves all bodies a little at once; true when nothing overlaps any more. On failure everything
    /// stays where it was.
    pub fn settle(&mut self, work: &mut Work) -> bool {
        let n = self.bodies.len();
        let size = self
            .bodies
            .iter()
            .map(|b| {
                let t = &self.tables.catalogue.turned[b.pose.turned];
                t.width.min(t.height)
            })
            .fold(f64::INFINITY, f64::min);
        let reach = REACH * size;
        let before = self.places();
        let mut looks = 0;
        let mut x: Vec<f64> = self.bodies.iter().flat_map(|b| [b.at.x, b.at.y]).collect();
        let mut near: Vec<(usize, usize, &NoFit)> = Vec::new();
        let mut rooms: Vec<&Room> = Vec::with_capacity(n);
        for body in &self.bodies {
            match self.room(body.bin, body.pose.turned) {
                Some(room) => rooms.push(room),
                None => return false,
            }
        }
        for bin in &self.bins {
            for (k, &i) in bin.bodies.iter().enumerate() {
                let own = bin.boxes.get(k);
                let r = reach as f32;
                bin.boxes
                    .meeting([own[0] - r, own[1] - r, own[2] + r, own[3] + r], |slot| {
                        if slot > k {
                            let j = bin.bodies[slot];
                            let b = &self.bodies[j];
                            let pair = self.pair(&self.bodies[i], b.pose.turned, b.local);
                            near.push((i, j, &*pair.whole));
                        }
                        true
                    });
            }
        }
        let left = descend(&mut x, MOST_STEPS, |x, gradient| {
            gradient.fill(0.0);
            let mut sum = 0.0;
            for &(i, j, nofit) in &near {
                let d = Point::new(x[2 * j] - x[2 * i], x[2 * j + 1] - x[2 * i + 1]);
                looks += nofit.ways_out(d, SPARE, |depth, way| {
                    sum += 0.5 * depth * depth;
                    let push = way * depth;
                    gradient[2 * j] -= push.x;
                    gradient[2 * j + 1] -= push.y;
                    gradient[2 * i] += push.x;
                    gradient[2 * i + 1] += push.y;
                });
            }
            for (i, room) in rooms.iter().enumerate() {
                let at = Point::new(x[2 * i], x[2 * i + 1]);
                let off = at - clamp(at, &room.range);
                sum += 0.5 * off.dot(off);
                gradient[2 * i] += off.x;
                gradient[2 * i + 1] += off.y;
                if !room.fit.walls.areas.is_empty() {
                    looks += room.fit.walls.ways_out(at, SPARE, |depth, way| {
                        sum += 0.5 * depth * depth;
                        let push = way * depth;
                        gradient[2 * i] -= push.x;
                        gradient[2 * i + 1] -= push.y;
                    });
                }
            }
            looks += 4;
            // What is left is less than the SPARE distance.
            if sum <= 0.5 * (SPARE * SPARE * 0.5) {
                0.0
            } else {
                sum
            }
        });
        work.add(looks);
        let ranges: Vec<Bounds> = rooms.iter().map(|r| r.range).collect();
        for i in 0..n {
            let Body { bin, pose, .. } = self.bodies[i];
            let at = clamp(Point::new(x[2 * i], x[2 * i + 1]), &ranges[i]);
            self.set(
                i,
                &Trial {
                    bin,
                    pose,
                    at,
                    cost: 0.0,
                },
            );
        }
        if left <= 0.0 && self.overlap(work) <= 0.0 {
            return true;
        }
        self.put_back(&before);
        false
    }

    /// Unweighted overlap of everything.
    fn overlap(&self, work: &mut Work) -> f64 {
        let (mut looks, mut total) = (0, 0.0);
        for (index, bin) in self.bins.iter().enumerate() {
            for (k, &i) in bin.bodies.iter().enumerate() {
                let a = &self.bodies[i];
                if let Some(room) = self.room(index, a.pose.turned) {
                    total += room.fit.walls.depth_sum(a.at, &mut looks);
                }
                bin.boxes.meeting(bin.boxes.get(k), |slot| {
                    if slot > k {
                        let b = &self.bodies[bin.bodies[slot]];
                        let nofit = &self.pair(a, b.pose.turned, b.local).whole;
                        total += nofit.depth_sum(Point::default() + (b.at - a.at), &mut looks);
                    }
                    true
                });
            }
        }
        work.add(looks);
        total
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn makes_room_along_a_row() {
        // Thirty parts of length 1, all pushed into the left half of a slot of 30.2.
        let mut x: Vec<f64> = (0..30).map(|i| 0.5 * f64::from(i)).collect();
        let left = descend(&mut x, 200, |x, gradient| {
            gradient.fill(0.0);
            let mut sum = 0.0;
            let mut push = |off: f64, from: Option<usize>, to: Option<usize>| {
                if off > 0.0 {
                    sum += 0.5 * off * off;
                    from.into_iter().for_each(|i| gradient[i] += off);
                    to.into_iter().for_each(|i| gradient[i] -= off);
                }
            };
            push(-x[0], None, Some(0));
            push(x[29] - 29.2, Some(29), None);
            for i in 0..29 {
                push(x[i] + 1.0 - x[i + 1], Some(i), Some(i + 1));
            }
            if sum < 1e-12 { 0.0 } else { sum }
        });
        assert_eq!(left, 0.0);
        assert!(x.windows(2).all(|w| w[1] - w[0] > 1.0 - 1e-5));
    }

    #[test]
    fn gives_up_where_nothing_falls() {
        let mut x = [3.0];
        let left = descend(&mut x, 1000, |_, g| {
            g[0] = 0.0;
            7.0
        });
        assert_eq!((left, x), (7.0, [3.0]));
    }
}
