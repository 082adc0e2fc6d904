//! Marks that would lie on each other, spread along their scale.

/// Places for marks of half-widths `half` wanted at `wanted` (ascending), each as near to where it is wanted as the
/// others let it be: they move apart in clusters about their common middle. Within `bounds` where there are any; what
/// does not fit there overlaps at the end.
pub(crate) fn spread(wanted: &[f32], half: &[f32], bounds: Option<(f32, f32)>) -> Vec<f32> {
    let mut clusters: Vec<Cluster> = Vec::new();
    for (&wanted, &half) in wanted.iter().zip(half) {
        let mut last = Cluster {
            count: 1,
            width: 2.0 * half,
            // Where the cluster's start would be wanted by this mark.
            starts: wanted - half,
        };
        while let Some(before) = clusters.pop_if(|before| before.start(bounds) + before.width > last.start(bounds)) {
            last = before.joined(&last);
        }
        clusters.push(last);
    }
    let mut places = Vec::with_capacity(wanted.len());
    for cluster in &clusters {
        let mut at = cluster.start(bounds);
        for half in &half[places.len()..places.len() + cluster.count] {
            places.push(at + half);
            at += 2.0 * half;
        }
    }
    places
}

/// The same around a circle of 360 degrees, angles ascending from -180. Nothing when they do not fit, or when one would
/// have to move by more than `most`.
pub(crate) fn spread_round(wanted: &[f32], half: &[f32], most: f32) -> Option<Vec<f32>> {
    let count = wanted.len();
    let gap = |i: usize| {
        let next = wanted[(i + 1) % count];
        (next - wanted[i]).rem_euclid(360.0)
    };
    // Cut open at the widest gap; of one mark alone the gap is the whole circle.
    let cut = (0..count)
        .max_by(|&a, &b| gap(a).total_cmp(&gap(b)))
        .map_or(0, |i| i + 1);
    let order: Vec<usize> = (0..count).map(|i| (cut + i) % count).collect();
    let unrolled = |i: usize| if i < cut { wanted[i] + 360.0 } else { wanted[i] };
    let line: Vec<f32> = order.iter().map(|&i| unrolled(i)).collect();
    let halves: Vec<f32> = order.iter().map(|&i| half[i]).collect();
    let placed = spread(&line, &halves, None);
    let (first, last) = (placed.first()?, placed.last()?);
    let fits = last + halves[count - 1] <= first - halves[0] + 360.0;
    let near = placed.iter().zip(&line).all(|(a, b)| (a - b).abs() <= most);
    let mut places = vec![0.0; count];
    for (&i, at) in order.iter().zip(&placed) {
        places[i] = at - if i < cut { 360.0 } else { 0.0 };
    }
    (fits && near).then_some(places)
}

/// Neighbours that touch.
struct Cluster {
    count: usize,
    width: f32,
    /// Sum of the starts that its marks want.
    starts: f32,
}

impl Cluster {
    #[allow(clippy::cast_precision_loss, reason = "marks are counted by the hundred")]
    fn start(&self, bounds: Option<(f32, f32)>) -> f32 {
        let start = self.starts / self.count as f32;
        bounds.map_or(start, |(low, high)| start.min(high - self.width).max(low))
    }

    #[allow(clippy::cast_precision_loss, reason = "marks are counted by the hundred")]
    fn joined(self, next: &Self) -> Self {
        Self {
            count: self.count + next.count,
            starts: self.starts + next.starts - self.width * next.count as f32,
            width: self.width + next.width,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn marks_with_room_stay_and_a_pair_moves_apart() {
        assert_eq!(spread(&[0.0, 10.0], &[2.0, 2.0], None), [0.0, 10.0]);
        assert_eq!(spread(&[5.0, 5.0], &[2.0, 2.0], None), [3.0, 7.0]);
        assert_eq!(spread(&[0.0, 1.0], &[2.0, 2.0], Some((-1.0, 30.0))), [1.0, 5.0]);
        assert_eq!(spread(&[29.0, 30.0], &[2.0, 2.0], Some((-1.0, 30.0))), [24.0, 28.0]);
    }

    #[test]
    fn a_circle_is_cut_where_there_is_room() {
        let places = spread_round(&[-179.0, -178.5, 0.0, 179.5], &[1.0; 4], 20.0).expect("there is room");
        assert!((places[1] - places[0] - 2.0).abs() < 1e-3, "{places:?}");
        assert!((places[0] + 360.0 - places[3] - 2.0).abs() < 1e-3, "{places:?}");
        assert_eq!(places[2], 0.0);
        assert_eq!(spread_round(&[0.0; 40], &[5.0; 40], 360.0), None, "no room");
        assert_eq!(spread_round(&[0.0; 10], &[5.0; 10], 20.0), None, "too far");
        assert_eq!(spread_round(&[], &[], 20.0), None);
        assert_eq!(spread_round(&[12.0], &[3.0], 1.0), Some(vec![12.0]));
    }

    proptest! {
        #[test]
        fn spread_marks_do_not_overlap_and_keep_their_order(
            mut wanted in prop::collection::vec(-170.0..170.0f32, 1..25),
            half in prop::collection::vec(0.5..5.0f32, 25),
        ) {
            wanted.sort_by(f32::total_cmp);
            let half = &half[..wanted.len()];
            let places = spread(&wanted, half, None);
            for i in 1..places.len() {
                prop_assert!(places[i] - places[i - 1] >= half[i] + half[i - 1] - 1e-2);
            }
            // A cluster stands about the middle of what it wants.
            let off: f32 = places.iter().zip(&wanted).map(|(a, b)| a - b).sum();
            prop_assert!(off.abs() < 0.1, "{}", off);
            if let Some(round) = spread_round(&wanted, half, 360.0) {
                let mut sorted: Vec<(f32, f32)> = round.iter().map(|a| a.rem_euclid(360.0)).zip(half.iter().copied()).collect();
                sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
                for pair in sorted.windows(2) {
                    prop_assert!(pair[1].0 - pair[0].0 >= pair[0].1 + pair[1].1 - 1e-2);
                }
            }
        }
    }
}
