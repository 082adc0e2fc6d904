//! Pieces laid out on lengths of stock, as few lengths as can be.
//!
//! **Method.** Each piece takes its length and one cut; the last cut of a length may fall beyond its end. So pieces fit
//! when their lengths, each with a cut, are not more than the stock with a cut. First-fit decreasing gives a layout, the
//! bound L2 (Martello and Toth, *Knapsack Problems*, 1990, 8.3.2) the number below which there is none. Where they differ,
//! the numbers between are tried from the bound upwards: length by length is filled with the longest piece left and every
//! choice of others to which nothing can be added (bin completion: Korf, AAAI 2002), states that failed are remembered.
//! The trial gives up after `MOST_FILLS` fillings, so that the answer does not depend on the machine; what was settled by
//! then stands as the bound.

use std::collections::HashSet;

use thiserror::Error;

/// Fillings tried for one number of lengths.
const MOST_FILLS: usize = 30_000;
/// Lengths count to this part of a millimetre.
const PARTS_PER_MM: f64 = 1000.0;

/// A layout on lengths of stock.
#[derive(Clone, Debug, PartialEq)]
pub struct Nesting {
    /// The lengths, the fullest first.
    pub bars: Vec<Bar>,
    /// No cutting needs fewer lengths than this.
    pub bound: usize,
}

/// One length of stock.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// Indices of the pieces on it, the longest first.
    pub pieces: Vec<usize>,
    /// What is left of it, mm.
    pub offcut_mm: f64,
}

/// Why there is no layout.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum NestError {
    /// A piece is longer than the stock.
    #[error("a piece of {length_mm} mm does not fit on stock of {stock_mm} mm")]
    TooLong {
        /// Its index.
        piece: usize,
        /// Its length, mm.
        length_mm: f64,
        /// Length of the stock, mm.
        stock_mm: f64,
    },
    /// A length is not a number above 0, or the loss of a cut is below 0.
    #[error("lengths must be above 0 mm and the loss of a cut not below")]
    NoLength,
}

impl Nesting {
    /// Whether no cutting needs fewer lengths.
    pub fn is_best(&self) -> bool {
        self.bars.len() == self.bound
    }

    /// How many lengths, and what is known of fewer.
    pub fn words(&self) -> String {
        let lengths = |n: usize| {
            if n == 1 {
                "1 length".to_owned()
            } else {
                format!("{n} lengths")
            }
        };
        let count = lengths(self.bars.len());
        if self.is_best() {
            format!("{count}; no cutting needs fewer than {}", self.bound)
        } else {
            format!(
                "{count}; none needs fewer than {}, and what lies between is not settled",
                self.bound
            )
        }
    }
}

/// Lays pieces of these lengths, mm, out on stock of one length, mm; each cut loses so much, mm.
///
/// # Errors
/// When a piece is longer than the stock, or a length is none.
pub fn nest(lengths_mm: &[f64], stock_mm: f64, kerf_mm: f64) -> Result<Nesting, NestError> {
    let is_length = |mm: &f64| mm.is_finite() && *mm > 0.0 && *mm < 1e9;
    if !lengths_mm.iter().chain([&stock_mm]).all(is_length) || !(0.0..1e9).contains(&kerf_mm) {
        return Err(NestError::NoLength);
    }
    let parts = |mm: f64| (mm * PARTS_PER_MM).round() as u64;
    let kerf = parts(kerf_mm);
    let room = parts(stock_mm) + kerf;
    let mut items: Vec<(u64, usize)> = lengths_mm.iter().map(|mm| parts(*mm) + kerf).zip(0..).collect();
    if let Some(&(_, piece)) = items.iter().find(|(size, _)| *size > room) {
        return Err(NestError::TooLong {
            piece,
            length_mm: lengths_mm[piece],
            stock_mm,
        });
    }
    items.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
    let sizes: Vec<u64> = items.iter().map(|(size, _)| *size).collect();
    let mut bars = first_fit(&sizes, room);
    let least = lower_bound(&sizes, room);
    let mut bound = least;
    let mut is_settled = true;
    for count in least..bars.len() {
        match Search::new(&sizes, room).fill(count) {
            Found::Layout(layout) => {
                bars = layout;
                break;
            }
            Found::None if is_settled => bound = count + 1,
            Found::None => {}
            Found::GaveUp => is_settled = false,
        }
    }
    Ok(Nesting {
        bars: as_bars(bars, &items, room, kerf),
        bound,
    })
}

/// Layouts as sizes turned into pieces.
fn as_bars(layout: Vec<Vec<u64>>, items: &[(u64, usize)], room: u64, kerf: u64) -> Vec<Bar> {
    let mut left: Vec<(u64, usize)> = items.to_vec();
    let mut bars: Vec<Bar> = layout
        .into_iter()
        .map(|sizes| {
            let rest = room - sizes.iter().sum::<u64>();
            let take = |size: u64| {
                let at = left.iter().position(|(other, _)| *other == size)?;
                Some(left.remove(at).1)
            };
            Bar {
                pieces: sizes.into_iter().filter_map(take).collect(),
                offcut_mm: rest.saturating_sub(kerf) as f64 / PARTS_PER_MM,
            }
        })
        .collect();
    bars.sort_by(|a, b| a.offcut_mm.total_cmp(&b.offcut_mm).then(a.pieces.cmp(&b.pieces)));
    bars
}

/// First-fit decreasing: each piece, the longest first, goes onto the first length that has room for it.
fn first_fit(sizes: &[u64], room: u64) -> Vec<Vec<u64>> {
    let mut bars: Vec<(u64, Vec<u64>)> = Vec::new();
    for &size in sizes {
        match bars.iter_mut().find(|(rest, _)| *rest >= size) {
            Some((rest, bar)) => {
                *rest -= size;
                bar.push(size);
            }
            None => bars.push((room - size, vec![size])),
        }
    }
    bars.into_iter().map(|(_, bar)| bar).collect()
}

/// The bound L2: pieces above half the stock each need a length of their own; what of the middling ones does not fit
/// beside those needs more.
fn lower_bound(sizes: &[u64], room: u64) -> usize {
    let at = |least: u64| {
        let own = sizes.iter().filter(|size| **size > room - least).count() as u64;
        let large: Vec<u64> = sizes
            .iter()
            .copied()
            .filter(|s| 2 * s > room && *s <= room - least)
            .collect();
        let small: u64 = sizes.iter().filter(|s| 2 * **s <= room && **s >= least).sum();
        let beside = large.len() as u64 * room - large.iter().sum::<u64>();
        own + large.len() as u64 + small.saturating_sub(beside).div_ceil(room)
    };
    let halves = sizes.iter().copied().filter(|size| 2 * size <= room);
    halves.chain([0]).map(at).max().unwrap_or(0) as usize
}

/// What a trial came to.
enum Found {
    Layout(Vec<Vec<u64>>),
    None,
    GaveUp,
}

/// A trial of one number of lengths.
struct Search {
    room: u64,
    /// Distinct sizes, descending.
    sizes: Vec<u64>,
    /// How many of each are left.
    left: Vec<usize>,
    /// What was left when it failed.
    failed: HashSet<Vec<usize>>,
    fills: usize,
}

impl Search {
    fn new(sizes: &[u64], room: u64) -> Self {
        let mut distinct = sizes.to_vec();
        distinct.dedup();
        Self {
            room,
            left: distinct
                .iter()
                .map(|size| sizes.iter().filter(|other| *other == size).count())
                .collect(),
            sizes: distinct,
            failed: HashSet::new(),
            fills: 0,
        }
    }

    fn fill(mut self, count: usize) -> Found {
        let mut bars = Vec::new();
        match self.fill_next(count, &mut bars) {
            true => Found::Layout(bars),
            false if self.fills > MOST_FILLS => Found::GaveUp,
            false => Found::None,
        }
    }

    /// Fills the next length and all after it.
    fn fill_next(&mut self, bars_left: usize, bars: &mut Vec<Vec<u64>>) -> bool {
        let Some(longest) = self.left.iter().position(|count| *count > 0) else {
            return true;
        };
        let total: u64 = self
            .sizes
            .iter()
            .zip(&self.left)
            .map(|(size, count)| size * *count as u64)
            .sum();
        let Some(waste) = (bars_left as u64 * self.room).checked_sub(total) else {
            return false;
        };
        if self.failed.contains(&self.left) {
            return false;
        }
        self.left[longest] -= 1;
        let mut bar = vec![self.sizes[longest]];
        let rest = self.room - self.sizes[longest];
        let is_found = self.complete(longest, rest, waste, bars_left, &mut bar, bars);
        self.left[longest] += 1;
        if !is_found && self.fills <= MOST_FILLS {
            self.failed.insert(self.left.clone());
        }
        is_found
    }

    /// Adds pieces of the sizes from `from` on to a length in every way to which nothing can be added.
    fn complete(
        &mut self,
        from: usize,
        rest: u64,
        waste: u64,
        bars_left: usize,
        bar: &mut Vec<u64>,
        bars: &mut Vec<Vec<u64>>,
    ) -> bool {
        let next = (from..self.sizes.len()).find(|k| self.left[*k] > 0 && self.sizes[*k] <= rest);
        let Some(next) = next else {
            let is_full = !self
                .sizes
                .iter()
                .zip(&self.left)
                .any(|(size, count)| *count > 0 && *size <= rest);
            if !is_full || rest > waste {
                return false;
            }
            self.fills += 1;
            if self.fills > MOST_FILLS {
                return false;
            }
            bars.push(bar.clone());
            if self.fill_next(bars_left - 1, bars) {
                return true;
            }
            bars.pop();
            return false;
        };
        let size = self.sizes[next];
        let most = self.left[next].min((rest / size) as usize);
        for count in (0..=most).rev() {
            self.left[next] -= count;
            bar.extend(std::iter::repeat_n(size, count));
            let is_found = self.complete(next + 1, rest - size * count as u64, waste, bars_left, bar, bars);
            self.left[next] += count;
            if is_found {
                return true;
            }
            bar.truncate(bar.len() - count);
            if self.fills > MOST_FILLS {
                return false;
            }
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn count(lengths: &[f64], stock: f64, kerf: f64) -> (usize, usize) {
        let nesting = nest(lengths, stock, kerf).unwrap();
        (nesting.bars.len(), nesting.bound)
    }

    /// Worked out by hand.
    #[test]
    fn small_cases() {
        assert_eq!(count(&[], 1500.0, 1.0), (0, 0));
        assert_eq!(count(&[1500.0], 1500.0, 1.0), (1, 1));
        // Two halves fit without a cut's loss and no longer with it.
        assert_eq!(count(&[750.0, 750.0], 1500.0, 0.0), (1, 1));
        assert_eq!(count(&[750.0, 750.0], 1500.0, 1.0), (2, 2));
        assert_eq!(count(&[749.5, 749.5], 1500.0, 1.0), (1, 1));
        // 3 + 3 + 4 twice; first-fit decreasing takes 4 + 4 first and needs a third length.
        assert_eq!(count(&[4.0, 4.0, 3.0, 3.0, 3.0, 3.0], 10.0, 0.0), (2, 2));
        // The sum asks for 2, but three are longer than half.
        assert_eq!(count(&[6.0, 6.0, 6.0], 10.0, 0.0), (3, 3));
        // Lengths that the sum fills to the last: 7 + 3 thrice.
        assert_eq!(count(&[7.0, 7.0, 7.0, 3.0, 3.0, 3.0], 10.0, 0.0), (3, 3));
        // The sum asks for 2 lengths (20 of 20), but only two pieces of 4 fit on one.
        assert_eq!(count(&[4.0; 5], 10.0, 0.0), (3, 3));
    }

    #[test]
    fn words_and_offcuts() {
        let nesting = nest(&[400.0, 1000.0, 300.0], 1500.0, 1.0).unwrap();
        assert_eq!(nesting.words(), "2 lengths; no cutting needs fewer than 2");
        assert_eq!(nesting.bars[0].pieces, [1, 0]);
        // 1500 - 1000 - 400 - 2 cuts; 1500 - 300 - 1 cut.
        assert_eq!((nesting.bars[0].offcut_mm, nesting.bars[1].offcut_mm), (98.0, 1199.0));
        assert_eq!(
            nest(&[10.0, 1501.0], 1500.0, 1.0),
            Err(NestError::TooLong {
                piece: 1,
                length_mm: 1501.0,
                stock_mm: 1500.0
            })
        );
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(nest(&[bad], 1500.0, 1.0), Err(NestError::NoLength));
            assert_eq!(nest(&[1.0], bad, 1.0), Err(NestError::NoLength));
        }
        let unsettled = Nesting {
            bound: 1,
            ..nesting.clone()
        };
        assert!(unsettled.words().contains("not settled"), "{}", unsettled.words());
    }

    /// The fewest lengths by trying every partition.
    fn by_force(sizes: &[u64], room: u64, bars: &mut Vec<u64>) -> usize {
        let Some((first, rest)) = sizes.split_first() else {
            return bars.len();
        };
        let mut least = usize::MAX;
        for i in 0..bars.len() {
            if bars[i] + first <= room {
                bars[i] += first;
                least = least.min(by_force(rest, room, bars));
                bars[i] -= first;
            }
        }
        bars.push(*first);
        least = least.min(by_force(rest, room, bars));
        bars.pop();
        least
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn layouts_hold_and_are_the_best(lengths in proptest::collection::vec(5u64..60, 0..8), kerf in 0u64..3) {
            let mm: Vec<f64> = lengths.iter().map(|mm| *mm as f64).collect();
            let nesting = nest(&mm, 60.0, kerf as f64).unwrap();
            let mut seen: Vec<usize> = nesting.bars.iter().flat_map(|bar| bar.pieces.clone()).collect();
            seen.sort_unstable();
            prop_assert!(seen.into_iter().eq(0..mm.len()));
            for bar in &nesting.bars {
                let pieces: f64 = bar.pieces.iter().map(|piece| mm[*piece]).sum();
                let cuts = bar.pieces.len() as f64 - f64::from(u8::from(bar.offcut_mm == 0.0));
                prop_assert!(pieces + cuts * kerf as f64 + bar.offcut_mm <= 60.0 + 1e-9);
            }
            let sizes: Vec<u64> = lengths.iter().map(|mm| mm + kerf).collect();
            let best = by_force(&sizes, 60 + kerf, &mut Vec::new());
            prop_assert_eq!((nesting.bars.len(), nesting.bound), (best, best));
        }

    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(12))]

        #[test]
        fn bounds_hold_for_many_pieces(lengths in proptest::collection::vec(40.0f64..700.0, 1..60)) {
            let nesting = nest(&lengths, 1500.0, 1.0).unwrap();
            let sum: f64 = lengths.iter().map(|mm| mm + 1.0).sum();
            let with_cut = |mm: f64| ((mm + 1.0) * PARTS_PER_MM).round() as u64;
            let mut sizes: Vec<u64> = lengths.iter().map(|mm| with_cut(*mm)).collect();
            sizes.sort_unstable_by(|a, b| b.cmp(a));
            prop_assert!(nesting.bound as f64 >= (sum / 1501.0 - 1e-6).ceil());
            prop_assert!(nesting.bound <= nesting.bars.len());
            prop_assert!(nesting.bars.len() <= first_fit(&sizes, with_cut(1500.0)).len());
        }
    }
}
