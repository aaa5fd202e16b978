//! A logical worker: one stream of random numbers and one line of search.
//!
//! There is a fixed number of them whatever the number of threads, and they tell each other what
//! they found only between rounds, in order; so the result does not depend on the machine.

use super::fill::Filler;
use super::goal::Goals;
use super::model::Model;
use super::plan::{Board, Plan, Score};
use super::pool::Pool;
use super::ruin::{Aim, Anneal, below, unit};
use super::series;
use super::stop::Stop;
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

/// Share of the work spent on cheaper boards, while there are goals; the rest makes the most of what
/// is left over.
const ON_GOALS: f64 = 0.8;

/// The same where nothing is kept: the rest then only breaks ties.
const ON_GOALS_ALONE: f64 = 0.95;

/// Share of that which goes into runs that exchange boards by what they cost in the end; half as much
/// where nothing is kept, since prices then tell all. The rest goes into goals.
const ON_SPEND: f64 = 0.6;

/// Runs that exchange boards, if all of the budget went into them.
const SPEND_RUNS: u64 = 6;

/// Runs for goals that exchange boards on the way, if all of the budget went into them. One long run finds
/// more than two of half the length: 0.3 % of the spend on orders that were not met.
const EXCHANGING_RUNS: u64 = 1;

/// Boards added to let left-out parts in, per source: a run that needs more adds them in the next.
const SPARE_BOARDS: u32 = 4;

/// How many boards of a series are looked at together. (Large orders of many kinds, with prices, came out
/// 0.9 % dearer when they were improved so, too.)
const PART_LEAST: usize = 4;
const PART_MOST: usize = 14;

/// Spare area beyond which that is as good as certain. Little less is hopeless: boards of a series are
/// good ones.
const PART_EASY: f64 = 0.04;

/// How often other boards are drawn when those drawn could not be cheaper.
const PART_TRIES: usize = 8;

/// Work on one part at most: a large fraction of a second.
const PART_WORK: u64 = 40_000_000;

/// Work between two looks at the clock and the caller's control: well below a millisecond.
const SLICE: u64 = 100_000;

/// One line of search.
pub(super) struct Worker {
    rng: Pcg64Mcg,
    filler: Filler,
    pool: Pool,
    /// The best plan it knows.
    pub plan: Plan,
    /// Its score.
    pub score: Score,
    goals: Option<Goals>,
    run: Option<Anneal>,
    /// The boards that the run began with, where these are only a part of the plan.
    part: Option<Vec<Board>>,
    budget: u64,
    taken: u64,
    on_rests: u64,
    on_spend: u64,
    /// Whether the spend cannot be lowered any more.
    least_met: bool,
    /// Whether left-overs may be worth something.
    keeps_any: bool,
}

impl Worker {
    /// Worker number `number` of the seed, with `budget` units of work to spend.
    pub fn new(
        model: &Model,
        number: u64,
        seed: u64,
        budget: u64,
        plan: Plan,
        score: Score,
    ) -> Self {
        let state = seed ^ number.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        Self {
            rng: Pcg64Mcg::seed_from_u64(state),
            filler: Filler::default(),
            pool: Pool::new(model, budget),
            plan,
            score,
            goals: None,
            run: None,
            part: None,
            budget,
            taken: 0,
            on_rests: 0,
            on_spend: 0,
            least_met: false,
            keeps_any: model.keeps_any(),
        }
    }

    /// Work that goes into cheaper boards.
    fn on_goals(&self) -> f64 {
        let share = if self.keeps_any {
            ON_GOALS
        } else {
            ON_GOALS_ALONE
        };
        share * self.budget as f64
    }

    /// Whether its budget is used up or it has nothing more to try.
    pub fn finished(&self) -> bool {
        let rests = self.budget as f64 - self.on_goals();
        let idle =
            self.least_met || !self.keeps_any && self.goals.as_ref().is_some_and(|g| g.len() == 0);
        self.taken >= self.budget
            || idle && self.score.missing == 0.0 && self.on_rests as f64 >= rests
    }

    /// Share of its budget that is used up.
    pub fn done(&self) -> f64 {
        if self.finished() {
            1.0
        } else {
            self.taken as f64 / self.budget.max(1) as f64
        }
    }

    /// The spend is the least there can be: from now on only ties are broken.
    pub fn only_left_overs(&mut self) {
        self.least_met = true;
        self.part = None;
        self.run = self.run.take().filter(|run| run.aim() == Aim::Leave);
    }

    /// Takes over a better plan of another worker, unless the gain is only in what is left over and
    /// a run is under way.
    pub fn hear(&mut self, model: &Model, plan: &Plan, score: &Score) {
        if !score.beats(&self.score) {
            return;
        }
        let cheaper = Score {
            largest: self.score.largest,
            boards: self.score.boards,
            cutting: self.score.cutting,
            ..*score
        };
        if self.run.is_none() || cheaper.beats(&self.score) {
            self.plan = plan.clone();
            self.score = *score;
            self.goals = None;
            // A run that exchanges boards goes its own way, and one for a goal that would be cheaper
            // still goes on.
            self.run = self.run.take().filter(|run| match run.aim() {
                Aim::Spend => true,
                // What is found for some boards may be put in their place still.
                Aim::Place if self.part.is_some() => true,
                Aim::Place => run.price(model) < score.spend,
                Aim::Leave => false,
            });
        }
    }

    /// Works for `round` units, or until stopped.
    pub fn round(&mut self, model: &Model, round: u64, stop: &Stop) {
        let end = self.taken + round;
        while self.taken < end && !self.finished() && !stop.now() {
            let mut run = match self.run.take() {
                Some(run) => run,
                None => self.next_run(model),
            };
            let before = self.filler.work;
            let slice = SLICE.min(end.saturating_sub(self.taken)).max(1);
            run.run(
                model,
                &mut self.filler,
                &mut self.pool,
                &mut self.rng,
                slice,
            );
            let work = (self.filler.work - before).max(1);
            self.taken += work;
            match run.aim() {
                Aim::Leave => self.on_rests += work,
                Aim::Spend => self.on_spend += work,
                Aim::Place => {}
            }
            if run.finished() {
                self.conclude(model, run);
            } else {
                self.run = Some(run);
            }
        }
        if stop.now()
            && let Some(run) = self.run.take()
        {
            self.conclude(model, run);
        }
    }

    /// Keeps what a run found, or what can be made of the boards it met, if it is better.
    fn conclude(&mut self, model: &Model, run: Anneal) {
        let aim = run.aim();
        if let Some(part) = self.part.take() {
            if run.reached() {
                self.exchange_part(model, &part, run.best);
            }
            return;
        }
        self.keep(model, run.best);
        if aim == Aim::Spend {
            let (plan, work) = self.pool.best(model, self.plan.boards.len());
            self.taken += work;
            self.on_spend += work;
            if let Some(plan) = plan {
                self.keep(model, plan);
            }
        }
    }

    /// Puts the boards of `found` in the place of `part`, if these are still on the plan.
    fn exchange_part(&mut self, model: &Model, part: &[Board], found: Plan) {
        let mut plan = self.plan.clone();
        self.taken += plan
            .boards
            .iter()
            .map(|b| b.tree.nodes().len() as u64)
            .sum::<u64>();
        for board in part {
            let Some(at) = plan.boards.iter().position(|b| b == board) else {
                return;
            };
            plan.boards.swap_remove(at);
        }
        plan.boards.extend(found.boards);
        plan.drop_empty();
        if plan.keeps_to_supplies(model) {
            self.keep(model, plan);
        }
    }

    /// A run that looks for cheaper boards for what lies on some of a large plan: those that waste
    /// more, mostly. `None` when these could not be cheaper.
    fn part_run(&mut self, model: &Model) -> Option<Anneal> {
        let used: f64 = self.plan.boards.iter().map(|b| b.used).sum();
        let rate = self.plan.price(model) / used;
        let mut order: Vec<(f64, usize)> = self
            .plan
            .boards
            .iter()
            .enumerate()
            .map(|(b, board)| {
                let loss = model.sources[board.source].price - 0.9 * rate * board.used;
                (loss.max(0.0) * unit(&mut self.rng), b)
            })
            .collect();
        order.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        order.truncate(PART_LEAST + below(&mut self.rng, PART_MOST - PART_LEAST + 1));
        let chosen: Vec<Board> = order
            .iter()
            .map(|(_, b)| self.plan.boards[*b].clone())
            .collect();
        let mut aside = Plan {
            boards: Vec::new(),
            left: vec![0; model.pieces.len()],
        };
        for (b, board) in self.plan.boards.iter().enumerate() {
            if order.iter().all(|(_, chosen)| *chosen != b) {
                aside.boards.push(Board::new(board.source));
            }
        }
        let stock = aside.supplies_left(model);
        let part = Plan {
            boards: chosen,
            left: vec![0; model.pieces.len()],
        };
        let needed: f64 = part.boards.iter().map(|b| b.used).sum();
        let mut left = stock.clone();
        for board in &part.boards {
            let supply = &mut left[model.sources[board.source].supply];
            if *supply != u32::MAX {
                *supply -= 1;
            }
        }
        let likely = |spare: f64| (spare.max(0.0) / PART_EASY).powi(4).min(1.0);
        let mut goals = Goals::among(model, &part, needed, &left, likely);
        self.taken += 2 * goals.len() as u64 + 20 * self.plan.boards.len() as u64;
        let (goal, _) = goals.draw(&mut self.rng)?;
        let plan = goal.start(model, &part, &mut self.rng);
        let (price, before) = (plan.price(model), part.price(model));
        let budget = (self.budget / 8).min(PART_WORK);
        self.part = Some(part.boards);
        Some(
            Anneal::new(model, plan, Aim::Place, budget)
                .exchanging(0.5 * (price + before))
                .on_part(needed, stock),
        )
    }

    fn keep(&mut self, model: &Model, mut plan: Plan) {
        plan.drop_empty();
        let score = plan.score(model);
        if score.beats(&self.score) {
            self.plan = plan;
            self.score = score;
            self.goals = None;
        }
    }

    fn next_run(&mut self, model: &Model) -> Anneal {
        if self.score.missing > 0.0 && below(&mut self.rng, 3) > 0 {
            return self.let_in(model);
        }
        if series::is_series(model, self.plan.boards.len())
            && !self.least_met
            && self.score.missing == 0.0
            && (self.taken as f64) < self.on_goals()
            && below(&mut self.rng, 8) > 0
        {
            for _ in 0..PART_TRIES {
                if let Some(run) = self.part_run(model) {
                    return run;
                }
            }
        }
        // Boards of one kind cannot be exchanged.
        let share = match (self.keeps_any, model.sources.len()) {
            (true, _) => ON_SPEND,
            (false, 0 | 1) => 0.0,
            (false, _) => 0.5 * ON_SPEND,
        };
        let due = self.on_spend as f64 <= share * self.taken as f64
            && (self.taken as f64) < self.on_goals();
        if self.score.missing > 0.0 || !self.least_met && due {
            let budget = self.budget / SPEND_RUNS;
            return Anneal::new(model, self.plan.clone(), Aim::Spend, budget);
        }
        let on_goals = self.on_goals();
        let goals = self
            .goals
            .get_or_insert_with(|| Goals::of(model, &self.plan));
        let share = 2 * goals.len() as u64;
        // Drawing and setting up is work as well.
        self.taken += share + 20 * self.plan.boards.len() as u64;
        if !self.least_met
            && (self.taken as f64) < on_goals
            && let Some((goal, times)) = goals.draw(&mut self.rng)
        {
            let plan = goal.start(model, &self.plan, &mut self.rng);
            if model.sources.len() > 1 {
                // Among boards of several kinds the run looks for the best mix itself.
                let budget = self.budget / EXCHANGING_RUNS;
                let price = plan.price(model);
                let most = price + 0.5 * (self.plan.price(model) - price);
                return Anneal::new(model, plan, Aim::Place, budget).exchanging(most);
            }
            let budget = self.budget / share.clamp(4, 6) * u64::from(1 + times.min(7));
            return Anneal::new(model, plan, Aim::Place, budget);
        }
        let budget = (0.5 * (self.budget as f64 - self.on_goals())) as u64;
        Anneal::new(model, self.plan.clone(), Aim::Leave, budget)
    }

    /// A run that lets in what is left out, on all boards that the supplies still allow.
    fn let_in(&mut self, model: &Model) -> Anneal {
        let mut plan = self.plan.clone();
        // Another sheet of the same supply may be larger, or of a better shape.
        let exchanges: Vec<(usize, usize)> = (0..plan.boards.len())
            .flat_map(|b| (0..model.sources.len()).map(move |s| (b, s)))
            .filter(|(b, s)| {
                let (old, new) = (plan.boards[*b].source, *s);
                old != new && model.sources[old].supply == model.sources[new].supply
            })
            .collect();
        if !exchanges.is_empty() && below(&mut self.rng, 2) == 0 {
            let (b, source) = exchanges[below(&mut self.rng, exchanges.len())];
            let board = std::mem::replace(&mut plan.boards[b], Board::new(source));
            board.count_into(&mut plan.left);
        }
        let mut supplies = plan.supplies_left(model);
        for (s, source) in model.sources.iter().enumerate() {
            let supply = &mut supplies[source.supply];
            let more = SPARE_BOARDS.min(*supply);
            if *supply != u32::MAX {
                *supply -= more;
            }
            plan.boards.extend((0..more).map(|_| Board::new(s)));
        }
        Anneal::new(model, plan, Aim::Place, self.budget / 16)
    }
}
