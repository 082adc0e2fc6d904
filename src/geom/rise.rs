//! How high a volume stands in one piece: what lies below a height, the piece's extent and sill, the height of a volume.
//!
//! What lies below a height is found by walking, from the node with the piece's lowest point, over every join that is
//! not higher. The volume grows with the height, and steps up where another hollow joins. The height of a volume is
//! bracketed between the piece's lowest point and a limit and halved there; the error is that of the bracket,
//! [`LEVEL_MM`].

use super::pools::Below;
use super::posture::{Posture, Side};
use super::tolerance::LEVEL_MM;

/// One piece at one stance, made ready to be asked about many heights.
#[derive(Clone, Debug)]
pub struct Sounding<'a> {
    posture: &'a Posture<'a>,
    /// The node with the piece's lowest point; none when the piece has no bore.
    start: Option<usize>,
    /// For each node, where its joins begin in `joins`; the last entry is their number.
    first: Vec<usize>,
    /// The other node of each join, and its height.
    joins: Vec<(usize, f64)>,
}

impl Posture<'_> {
    /// Makes a piece ready to be asked about heights.
    pub fn sounding(&self, piece: usize) -> Sounding<'_> {
        let pairs = self.edges.iter().filter_map(|edge| match edge.other {
            Side::Node(other) => Some((edge.node, other, edge.height)),
            Side::Port(_) => None,
        });
        let mut first = vec![0; self.nodes.len() + 1];
        for (a, b, _) in pairs.clone() {
            first[a + 1] += 1;
            first[b + 1] += 1;
        }
        for i in 1..first.len() {
            first[i] += first[i - 1];
        }
        let mut next = first.clone();
        let mut joins = vec![(0, 0.0); first.last().copied().unwrap_or(0)];
        for (a, b, height) in pairs {
            for (node, other) in [(a, b), (b, a)] {
                joins[next[node]] = (other, height);
                next[node] += 1;
            }
        }
        Sounding {
            posture: self,
            start: self.lowest_node(piece),
            first,
            joins,
        }
    }

    /// The connected part of the interior below a height that holds a piece's lowest point; nothing when the
    /// height lies below that point. Ports do not let anything out here.
    pub fn below(&self, piece: usize, height: f64) -> Below {
        self.sounding(piece).below(height)
    }

    /// Heights of a piece's lowest and highest point, mm; none when it has no bore.
    pub fn extent(&self, piece: usize) -> Option<(f64, f64)> {
        let own = (0..self.nodes.len()).filter(|&node| self.piece_of(node) == piece);
        let heights = own.map(|node| (self.nodes[node].bottom, self.nodes[node].top));
        heights.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }

    /// Height at which the hollow at a piece's lowest point runs over, hollows of the same piece that join it before
    /// counted in, mm. None when that point is no hollow or nothing can run out.
    pub fn sill_of_piece(&self, piece: usize) -> Option<f64> {
        let basin = self.lowest_node(piece).and_then(|node| self.basin_of_bottom[node])?;
        self.basins[self.vessel(basin, piece)].sill.map(|sill| sill.height)
    }
}

impl Sounding<'_> {
    /// As [`Posture::below`].
    pub fn below(&self, height: f64) -> Below {
        let mut found = Below::default();
        let Some(start) = self.start else {
            return found;
        };
        let mut seen = vec![false; self.posture.nodes.len()];
        let mut open = vec![start];
        seen[start] = true;
        while let Some(node) = open.pop() {
            let (volume, surface) = self.posture.wet(node, height);
            found.volume += volume;
            found.free_surface += surface;
            for &(other, join) in &self.joins[self.first[node]..self.first[node + 1]] {
                if join <= height && !seen[other] {
                    seen[other] = true;
                    open.push(other);
                }
            }
        }
        found
    }

    /// The height, mm, below which the piece and what joins it hold a volume, mm3. None when the volume is not more
    /// than nothing, or stands higher than `limit`, a height in mm.
    pub fn height_of(&self, volume: f64, limit: f64) -> Option<f64> {
        let mut low = self.posture.nodes[self.start?].bottom;
        let mut high = limit;
        if !(volume > 0.0 && high > low && self.below(high).volume >= volume) {
            return None;
        }
        while high - low > LEVEL_MM {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if self.below(middle).volume < volume {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(high)
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector2;

    use crate::geom::{Interior, Port, Primitive, Shape, Stance};

    /// A cup of 10 mm radius and 40 mm height, open at its top.
    fn cup() -> Interior {
        let shape = Shape::Frustum {
            from: Vector2::new(0.0, 0.0),
            to: Vector2::new(0.0, 40.0),
            r_from: 10.0,
            r_to: 10.0,
        };
        let port = Port {
            piece: 0,
            at: Vector2::new(0.0, 40.0),
            heading: std::f64::consts::FRAC_PI_2,
            r: 10.0,
        };
        Interior::new(vec!["cup".into()], vec![Primitive { piece: 0, shape }], vec![port]).unwrap()
    }

    #[test]
    fn the_height_of_a_volume_is_where_that_volume_stands() {
        let cup = cup();
        let area = std::f64::consts::PI * 100.0;
        let upright = cup.at(Stance::default());
        assert_eq!(upright.extent(0), Some((0.0, 40.0)));
        assert_eq!(upright.sill_of_piece(0), Some(40.0));
        let height = upright.sounding(0).height_of(area * 12.5, 40.0).unwrap();
        assert!((height - 12.5).abs() < 1e-6, "{height}");
        let tilted = cup.at(Stance::new(25.0, 0.0));
        let sill = tilted.sill_of_piece(0).unwrap();
        let height = tilted.sounding(0).height_of(3000.0, sill).unwrap();
        let below = tilted.below(0, height).volume;
        assert!((below - 3000.0).abs() < 1e-3, "{below}");
    }

    #[test]
    fn a_volume_without_room_has_no_height() {
        let cup = cup();
        let upright = cup.at(Stance::default());
        assert_eq!(upright.sounding(0).height_of(1e6, 40.0), None);
        assert_eq!(upright.sounding(0).height_of(0.0, 40.0), None);
        assert_eq!(upright.sounding(0).height_of(f64::NAN, 40.0), None);
        assert_eq!(upright.sounding(0).height_of(100.0, -5.0), None);
        assert_eq!(upright.extent(7), None);
        let over = cup.at(Stance::new(180.0, 0.0));
        assert_eq!(over.sill_of_piece(0), None, "upside down it is no hollow");
    }
}
