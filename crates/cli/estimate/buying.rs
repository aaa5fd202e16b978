//! What to buy for a set of orders: sheets by size, with what is in stock and what is sold together.

use super::cells::{self, Effort};
use super::choice::{self, One};
use super::money::Money;
use crate::input::{Buying, OrderFile};
use crate::job::Job;
use crate::number::plain;
use crate::paper::Paper;
use crate::rack::Rack;
use crate::read_job::{ReadJobOptions, beside, read_shop};
use crate::report::text::Page;
use crate::{Failure, Result};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

/// A buying list.
#[derive(Debug, Clone, PartialEq)]
pub struct BuyingList {
    /// The orders' names.
    pub orders: Vec<String>,
    /// Currency label.
    pub currency: String,
    /// Decimals of the currency.
    pub decimals: u32,
    /// Sizes that are taken, from stock or bought.
    pub lines: Vec<Line>,
    /// Remnants that are used as well.
    pub remnants: Vec<String>,
    /// What is paid: the sum of the lines.
    pub outlay: Money,
    /// How papers are written.
    pub paper: Paper,
    /// What was noticed when shop, rack and orders were read.
    pub notes: Vec<String>,
    /// What a list without regard to one size would have cost: the size not bought, its outlay.
    pub tried: Vec<(String, Money)>,
}

/// A size of sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its identity.
    pub sheet: String,
    /// How many the orders take.
    pub needed: u32,
    /// How many there are for these orders; `None` where they are not counted.
    pub stock: Option<u32>,
    /// How many more there are, held for other orders.
    pub held: u32,
    /// How many to buy, in the lots they are sold in.
    pub buy: u32,
    /// Price of one.
    pub price: Money,
    /// Price of all that are bought.
    pub amount: Money,
    /// How many are in stock when the orders are cut; `None` where they are not counted.
    pub left: Option<u32>,
}

/// How many to buy when so many are short: at least the least lot, in multiples.
#[must_use]
pub fn lot(short: u32, buying: Buying) -> u32 {
    if short == 0 {
        return 0;
    }
    short.max(buying.least).div_ceil(buying.multiple.max(1)) * buying.multiple.max(1)
}

/// The most whole lots that are fewer than what is short; `None` where there are none but nothing at all.
#[must_use]
fn fewer(short: u32, buying: Buying) -> Option<u32> {
    let multiple = buying.multiple.max(1);
    let most = short.checked_sub(1)? / multiple * multiple;
    (most >= lot(1, buying)).then_some(most)
}

impl BuyingList {
    /// The list of least outlay found for these orders together, which must name the same shop file. What is
    /// held for any of them is theirs, and it makes no difference which comes first. Besides
    /// the nest of least cost, each size that would be bought is tried as one that is not to be had; where more of it
    /// would have to be bought than is short, as it is sold in lots, also with the whole lots below that.
    ///
    /// # Errors
    /// Bad input; orders of different shops; parts that no sheet holds.
    pub fn of(
        orders: &[PathBuf],
        options: &ReadJobOptions,
        effort: Effort,
        cancel: &AtomicBool,
    ) -> Result<Self> {
        let no_order = || Failure::new("--buy", "there is no order", "name one");
        let first = orders.first().ok_or_else(no_order)?;
        let read = orders
            .iter()
            .map(|path| OrderFile::read(path).map(|file| (path, file)));
        let mut read = read.collect::<Result<Vec<_>>>()?;
        let whole = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_owned());
        let shop_of = |order: &Path, file: &OrderFile| whole(&beside(order, &file.shop));
        let shop_path = shop_of(first, &read[0].1);
        for (order, file) in &read {
            if shop_of(order, file) != shop_path {
                let what = format!("it is for another shop file than {}", first.display());
                return Err(Failure::in_file(
                    order,
                    "shop",
                    what,
                    "make a list for each shop",
                ));
            }
        }
        let names: Vec<String> = read.iter().map(|(_, file)| file.order.clone()).collect();
        for (i, (order, file)) in read.iter().enumerate() {
            let mut before = read[..i].iter();
            let same = |(path, other): &&(&PathBuf, OrderFile)| {
                whole(path) == whole(order) || other.order == file.order
            };
            if let Some((path, _)) = before.find(same) {
                let what = format!(
                    "the order '{}' is on the list already, by {}",
                    file.order,
                    path.display()
                );
                let advice =
                    "name each order once; two that are called the same need names of their own";
                return Err(Failure::in_file(order, "order", what, advice));
            }
        }
        let of: Vec<&str> = names.iter().map(String::as_str).collect();
        let read_shop = read_shop(&shop_path, options.rack.as_deref(), &of)?;
        let (mut shop, notes) = (read_shop.shop, read_shop.notes);
        let counted = shop.sheets.iter();
        let stock: BTreeMap<String, Option<u32>> =
            counted.map(|s| (s.id.clone(), s.stock)).collect();
        let held = match read_shop.rack.filter(|rack| rack.exists()) {
            Some(rack) => Rack::open_to_read(&rack)?.sheets_of_others(&of, &jiff::Zoned::now())?,
            None => BTreeMap::new(),
        };
        choice::in_any_number(&mut shop);
        // A search meets parts in the order of the job's items, so this is the same whichever order was named first.
        read.sort_by_cached_key(|(path, file)| (file.order.clone(), whole(path)));
        let jobs = read.into_iter().map(|(path, file)| {
            Job::on_whole_rack(file, path, shop.clone(), notes.clone(), Vec::new())
        });
        let mut jobs = jobs.collect::<Result<Vec<_>>>()?.into_iter();
        let mut job = together(jobs.next().ok_or_else(no_order)?, jobs);
        // Of a large rack, what all of the orders may profit from.
        job.leave_aside(&options.stay);
        let list = |job: Job| nested(job, &stock, effort, cancel);
        let mut best = list(job.clone())??;
        let mut tried = Vec::new();
        for line in best.lines.clone().iter().filter(|l| l.buy > 0) {
            let short = line.needed.saturating_sub(line.stock.unwrap_or(0));
            let lots = shop.rates.buying.get(&line.sheet).copied();
            let lots = lots.filter(|_| line.buy > short);
            let lots = lots.and_then(|buying| fewer(short, buying));
            for bought in [0].into_iter().chain(lots) {
                let mut with = job.clone();
                let mut sheets = with.shop.sheets.iter_mut();
                if let Some(sheet) = sheets.find(|s| s.id == line.sheet) {
                    sheet.stock = Some(line.stock.unwrap_or(0).saturating_add(bought));
                }
                // Where nothing else holds a part there is nothing to try. Any other failure is one of the list.
                let Ok(other) = list(with)? else {
                    continue;
                };
                if bought == 0 {
                    tried.push((line.sheet.clone(), other.outlay));
                }
                if other.outlay < best.outlay {
                    best = other;
                }
            }
        }
        for line in &mut best.lines {
            line.held = held.get(&line.sheet).copied().unwrap_or(0);
        }
        // Of a size that turned out not to be bought there is nothing to tell.
        let bought = |sheet: &String| best.lines.iter().any(|l| l.sheet == *sheet && l.buy > 0);
        tried.retain(|(sheet, _)| bought(sheet));
        Ok(Self {
            orders: names,
            notes: job.notes,
            tried,
            ..best
        })
    }

    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        let mut page = Page::default();
        let paper = &self.paper;
        let orders = plain(&self.orders.join(", "));
        let title = paper.say_with("estimate-buying-title", &[("orders", orders.into())]);
        page.wrapped(&title, "", "");
        page.rule('=');
        let not_counted = paper.say("estimate-buying-not-counted");
        let count = |n: Option<u32>| n.map_or(not_counted.clone(), |n| n.to_string());
        let money = |m: Money| m.words(self.decimals, paper);
        let mut rows: Vec<Vec<String>> = self
            .lines
            .iter()
            .map(|l| {
                vec![
                    plain(&l.sheet),
                    l.needed.to_string(),
                    count(l.stock),
                    l.buy.to_string(),
                    money(l.price),
                    money(l.amount),
                    count(l.left),
                ]
            })
            .collect();
        let mut sum = vec![String::new(); 7];
        (sum[0], sum[5]) = (paper.say("estimate-buying-to-pay"), money(self.outlay));
        rows.push(sum);
        let amount = plain(&self.currency);
        let heads = [
            paper.say("estimate-buying-sheet"),
            paper.say("estimate-buying-needed"),
            paper.say("estimate-buying-stock"),
            paper.say("estimate-buying-buy"),
            paper.say("estimate-buying-each"),
            amount,
            paper.say("estimate-buying-left"),
        ];
        page.table(
            &heads.each_ref().map(String::as_str),
            rows,
            &[1, 2, 3, 4, 5, 6],
        );
        if !self.remnants.is_empty() {
            let names = plain(&self.remnants.join(" "));
            let words = paper.say_with("estimate-buying-remnants", &[("names", names.into())]);
            page.wrapped(&words, "", "  ");
        }
        for (sheet, outlay) in &self.tried {
            let values = [
                ("sheet", plain(sheet).into()),
                ("amount", money(*outlay).into()),
            ];
            page.wrapped(
                &paper.say_with("estimate-buying-without", &values),
                "",
                "  ",
            );
        }
        if !self.notes.is_empty() {
            page.heading(&paper.say("noticed-reading"));
            for note in &self.notes {
                page.wrapped(&plain(note), "  - ", "    ");
            }
        }
        page.into_text()
    }

    /// For programs.
    #[must_use]
    pub fn json(&self) -> String {
        let lines: Vec<Value> = self
            .lines
            .iter()
            .map(|l| {
                json!({"sheet": l.sheet, "needed": l.needed, "stock": l.stock, "held": l.held, "buy": l.buy,
                    "price": l.price.to_f64(), "amount": l.amount.to_f64(), "left": l.left})
            })
            .collect();
        let tried: Vec<Value> = self
            .tried
            .iter()
            .map(|(sheet, outlay)| json!({"without": sheet, "outlay": outlay.to_f64()}))
            .collect();
        let value = json!({"orders": self.orders, "currency": self.currency, "sheets": lines,
            "remnants": self.remnants, "outlay": self.outlay.to_f64(), "tried": tried,
            "notes": self.notes});
        format!("{value:#}\n")
    }
}

/// The list for a job on its stock; the inner failure is that its parts cannot all be cut from that.
fn nested(
    job: Job,
    stock: &BTreeMap<String, Option<u32>>,
    effort: Effort,
    cancel: &AtomicBool,
) -> Result<Result<BuyingList>> {
    let one = One::order(&job);
    let prices: BTreeMap<String, Money> = job
        .shop
        .sheets
        .iter()
        .map(|s| (s.id.clone(), Money::of(s.price)))
        .collect();
    let currency = job.shop.currency.clone();
    let (paper, rates) = (job.shop.paper, job.shop.rates.clone());
    let mut found = cells::fill(&[Ok(job)], &one, &[1], &rates, effort, cancel, &|_, _| {})?;
    let cells = match found.remove(0) {
        Ok(cells) => cells,
        Err(cannot) => return Ok(Err(cannot)),
    };
    let works = || cells[0].rack.work.values();
    let mut needed: BTreeMap<String, u32> = BTreeMap::new();
    for (id, (n, _)) in works().flat_map(|w| &w.sheets) {
        *needed.entry(id.clone()).or_default() += n;
    }
    let one_by_one = Buying {
        least: 1,
        multiple: 1,
    };
    let lines: Vec<Line> = needed
        .into_iter()
        .map(|(sheet, needed)| {
            let stock = stock.get(&sheet).copied().flatten();
            let short = needed.saturating_sub(stock.unwrap_or(0));
            let buy = lot(
                short,
                rates.buying.get(&sheet).copied().unwrap_or(one_by_one),
            );
            let price = prices.get(&sheet).copied().unwrap_or_default();
            Line {
                left: stock.map(|s| (s + buy).saturating_sub(needed)),
                amount: price.times(buy).rounded(rates.decimals),
                sheet,
                needed,
                stock,
                held: 0,
                buy,
                price,
            }
        })
        .collect();
    Ok(Ok(BuyingList {
        orders: Vec::new(),
        currency,
        paper,
        decimals: rates.decimals,
        outlay: lines.iter().map(|l| l.amount).sum(),
        lines,
        notes: Vec::new(),
        remnants: works().flat_map(|w| w.remnants.keys().cloned()).collect(),
        tried: Vec::new(),
    }))
}

/// Orders as one. Parts of the same name in kits of the same name that are the same count as one item.
fn together(mut all: Job, jobs: impl Iterator<Item = Job>) -> Job {
    for job in jobs {
        for note in job.notes {
            if !all.notes.contains(&note) {
                all.notes.push(note);
            }
        }
        let index: Vec<usize> = job
            .items
            .into_iter()
            .map(|item| {
                let same = all.items.iter().position(|i| {
                    (&i.part, &i.kit, i.material, i.machine)
                        == (&item.part, &item.kit, item.material, item.machine)
                        && i.outline == item.outline
                });
                same.unwrap_or_else(|| {
                    all.items.push(item);
                    all.items.len() - 1
                })
            })
            .collect();
        all.kits.extend(job.kits.into_iter().map(|mut kit| {
            kit.parts
                .iter_mut()
                .for_each(|(item, _)| *item = index[*item]);
            kit
        }));
        all.singles
            .extend(job.singles.into_iter().map(|mut single| {
                single.item = index[single.item];
                single
            }));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lots_are_whole() {
        let by = |least, multiple| Buying { least, multiple };
        assert_eq!(lot(0, by(10, 5)), 0);
        assert_eq!(lot(1, by(1, 1)), 1);
        assert_eq!(lot(3, by(10, 1)), 10);
        assert_eq!(lot(11, by(10, 5)), 15);
        assert_eq!(lot(3, by(1, 4)), 4);
        let below = |short, least, multiple| fewer(short, by(least, multiple));
        assert_eq!(below(6, 1, 5), Some(5));
        assert_eq!(below(5, 1, 5), None);
        assert_eq!(below(14, 10, 5), Some(10));
        assert_eq!(below(17, 10, 5), Some(15));
        assert_eq!(below(9, 10, 5), None);
        assert_eq!(below(0, 1, 1), None);
    }
}
