//! Where an overflow goes.
//!
//! The merge tree knows over which sill a basin runs, not where the liquid comes to rest: that is decided by the
//! floor. A stream falls straight down through the union until it lies on a wall, slides across the bore to the
//! lowest line of that wall, and follows that line downhill until it comes over the mouth of another bore (where it
//! falls again), leaves by a port, or lies in a hollow. Every step goes downhill, so it ends. On a flat end it runs
//! straight down to the wall.
//!
//! A primitive's floor inside another primitive is no floor: a stream along a header drops into the first mouth
//! in its lowest line, and with roll passes below a mouth at the side.

use nalgebra::{Vector2, Vector3};

use super::posture::{Posture, Side};
use super::shape::{Along, Solid, root_sum};
use super::solve::quadratic;
use super::tolerance::{CONTACT_MM, SHALLOW_MM, SQUARE};

/// A point deeper than this inside a bore is over its mouth, mm: above rounding, far below any feature.
const INSIDE_MM: f64 = 1e-9;
/// Samples along a curved way between which a mouth is looked for.
const WAY_SAMPLES: usize = 48;
/// Parts in which a way through a bend is told.
const BEND_PARTS: i32 = 8;

/// Where a stream ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Rest {
    /// In a basin without parts.
    Basin(usize),
    /// Outside, by a port.
    Port(usize),
}

/// What a stream meets while it follows a wall.
enum Way {
    Mouth(usize, Vector3<f64>),
    Low(Vector3<f64>),
}

/// Nodes that a stream leaves out: those of the basin that it comes from.
struct Barred<'a>(&'a Posture<'a>, Option<usize>);

/// The way down a bore's wall from a point on it to the lowest line: steepest descent.
///
/// On a cylinder whose axis falls by `a` and whose wall falls by `across * sin(psi)` at the angle `psi` from the lowest
/// line, it is `tan(psi/2) = tan(psi0/2) exp(-kappa d)`, `kappa = across / (r a)`, `d` the way along the axis: straight
/// across in a level tube, straight along in a steep one. On a cone and a bend the values at the start are taken.
struct Spiral<'a> {
    solid: &'a Solid,
    sigma: f64,
    end: f64,
    /// Angle of the lowest line, and from there to the start.
    valley: f64,
    turn: f64,
    /// Angle left at the end of the way; below [`Self::DONE`] the lowest line is reached.
    last: f64,
    kappa: f64,
}

/// Tangent of half an angle from the lowest line, kept finite at the crest.
fn half_tan(psi: f64) -> f64 {
    (0.5 * psi).min(std::f64::consts::FRAC_PI_2 - 1e-9).tan()
}

/// Angle from the lowest line that is left of `psi` after a way of `kappa d`.
fn left_after(psi: f64, kappa_d: f64) -> f64 {
    2.0 * (half_tan(psi) * (-kappa_d).exp()).atan()
}

impl<'a> Spiral<'a> {
    /// Nearer to the lowest line than this, radians, the stream counts as on it.
    const DONE: f64 = 1e-3;

    fn new(posture: &Posture<'_>, solid: &'a Solid, sigma: f64, end: f64, from: &Vector3<f64>) -> Self {
        let slice = solid.slice(sigma);
        let un = posture.order_up.xy().dot(&slice.n);
        let across = root_sum(un, posture.order_up.z);
        let valley = (-posture.order_up.z).atan2(-un);
        let at = from.z.atan2((from.xy() - slice.centre).dot(&slice.n));
        let pi = std::f64::consts::PI;
        let turn = (at - valley + pi).rem_euclid(2.0 * pi) - pi;
        let down = match *solid {
            Solid::Frustum { e, k, .. } => (posture.order_up.xy().dot(&e) - k * across).abs(),
            // Across a bend first: its wall is steep against its way along.
            _ => 0.0,
        };
        let kappa = across / (slice.r * down);
        let last = left_after(turn.abs(), kappa * (end - sigma).abs()).max(Self::DONE.min(turn.abs()));
        Self {
            solid,
            sigma,
            end,
            valley,
            turn,
            last,
            kappa,
        }
    }

    /// Place along the axis and angle from the lowest line at the part `l` of the way.
    fn at(&self, l: f64) -> (f64, f64) {
        let psi = self.turn.abs() + (self.last - self.turn.abs()) * l;
        let way =
            ((half_tan(self.turn.abs()) / half_tan(psi)).ln() / self.kappa).clamp(0.0, (self.end - self.sigma).abs());
        (self.sigma + way.copysign(self.end - self.sigma), psi)
    }

    /// The part of the way at which a place along the axis is reached.
    fn part_at(&self, sigma: f64) -> f64 {
        let turn = self.turn.abs();
        let psi = left_after(turn, self.kappa * (sigma - self.sigma).abs());
        let part = (turn - psi) / (turn - self.last);
        if part.is_finite() { part.clamp(0.0, 1.0) } else { 0.0 }
    }

    fn point(&self, l: f64) -> Vector3<f64> {
        let (sigma, psi) = self.at(l);
        let slice = self.solid.slice(sigma);
        let angle = self.valley + psi.copysign(self.turn);
        let p = slice.centre + slice.n * (slice.r * angle.cos());
        Vector3::new(p.x, p.y, slice.r * angle.sin())
    }
}

impl Barred<'_> {
    fn has(&self, node: usize) -> bool {
        self.1.is_some_and(|basin| self.0.within(basin, node))
    }
}

impl Posture<'_> {
    /// Where the overflow of a basin first lies in a hollow, full or not.
    pub(super) fn overflow(&self, basin: usize) -> Option<Rest> {
        *self.overflows[basin].get_or_init(|| self.find_overflow(basin))
    }

    fn find_overflow(&self, basin: usize) -> Option<Rest> {
        let sill = self.basins[basin].sill?;
        match sill.over {
            Side::Port(port) => Some(Rest::Port(port)),
            Side::Node(node) => {
                // Downhill of the sill nothing leads back, so what belongs to the basin is left out of the way.
                let barred = Barred(self, Some(basin));
                self.stream(node, sill.at, &barred).or_else(|| self.rest_by_tree(node))
            }
        }
    }

    /// Where liquid given at the lowest point of a node lies.
    pub(super) fn rest_from_bottom(&self, node: usize) -> Option<Rest> {
        if let Some(basin) = self.basin_of_bottom[node] {
            return Some(Rest::Basin(basin));
        }
        self.stream(node, self.nodes[node].bottom_at, &Barred(self, None))
            .or_else(|| self.rest_by_tree(node))
    }

    /// Where liquid at a point of a primitive lies.
    pub(super) fn rest_from(&self, primitive: usize, at: Vector3<f64>) -> Option<Rest> {
        let node = self.node_at(primitive, &at);
        self.stream(node, at, &Barred(self, None))
            .or_else(|| self.rest_by_tree(node))
    }

    /// Where a node's lowest point drains to by the merge tree alone, over the edges by which one bottom after the
    /// other was taken up: what is known without the floor. Reached only if a stream stalls on a floor level to the
    /// last digit.
    fn rest_by_tree(&self, node: usize) -> Option<Rest> {
        let mut node = node;
        for _ in 0..=self.nodes.len() {
            if let Some(basin) = self.basin_of_bottom[node] {
                return Some(Rest::Basin(basin));
            }
            match self.way_on[node]?.0 {
                Side::Port(port) => return Some(Rest::Port(port)),
                Side::Node(next) => node = next,
            }
        }
        None
    }

    /// The way of what runs over the sill of a basin: where it goes on at each corner, and where it first lies.
    pub(super) fn overflow_way(&self, basin: usize) -> Option<(Vec<Vector3<f64>>, Rest)> {
        let sill = self.basins[basin].sill?;
        let mut way = vec![sill.at];
        let rest = match sill.over {
            Side::Port(port) => Rest::Port(port),
            Side::Node(node) => {
                let barred = Barred(self, Some(basin));
                self.stream_noting(node, sill.at, &barred, |node, from, to| {
                    way.extend(self.along_bend(node, &from, &to));
                    way.push(to);
                })?
            }
        };
        Some((way, rest))
    }

    /// Points between two on the floor of a bend, so that the way follows it; none in a straight bore.
    fn along_bend(&self, node: usize, from: &Vector3<f64>, to: &Vector3<f64>) -> Vec<Vector3<f64>> {
        let solid = &self.interior.solids[self.nodes[node].primitive];
        let Solid::Bend { .. } = solid else {
            return Vec::new();
        };
        let [a, b] = [from, to].map(|p| solid.sigma_of(&p.xy()));
        let parts = (1..BEND_PARTS).map(|i| f64::from(i) / f64::from(BEND_PARTS));
        parts.map(|l| self.valley_at(solid, a + (b - a) * l)).collect()
    }

    /// Follows a stream from a point of a node downhill, leaving out the nodes that are `barred`.
    fn stream(&self, node: usize, from: Vector3<f64>, barred: &Barred<'_>) -> Option<Rest> {
        self.stream_noting(node, from, barred, |_, _, _| ())
    }

    /// The same; `note` is told each leg of the way: the node in which it lies, where it begins and ends.
    fn stream_noting(
        &self,
        node: usize,
        from: Vector3<f64>,
        barred: &Barred<'_>,
        mut note: impl FnMut(usize, Vector3<f64>, Vector3<f64>),
    ) -> Option<Rest> {
        let (mut node, mut at) = (node, from);
        for _ in 0..4 * self.nodes.len() + 64 {
            let above = at;
            (node, at) = self.fall(node, at, barred);
            note(node, above, at);
            let way = self.way(node, &at, barred);
            let (Way::Mouth(_, end) | Way::Low(end)) = &way;
            note(node, at, *end);
            match way {
                Way::Mouth(into, place) => (node, at) = (into, place),
                Way::Low(low) => {
                    if let Some(port) = self.port_at_bottom[node] {
                        return Some(Rest::Port(port));
                    }
                    if let Some(into) = self.lower_neighbour(node, &low, barred) {
                        (node, at) = (into, low);
                        continue;
                    }
                    if let Some(basin) = self.basin_of_bottom[node] {
                        return Some(Rest::Basin(basin));
                    }
                    match self.way_on[node]? {
                        (Side::Port(port), _) => return Some(Rest::Port(port)),
                        // Where rounding leads it back, only the tree knows the way on.
                        (Side::Node(into), _) if barred.has(into) => return None,
                        (Side::Node(into), place) => (node, at) = (into, place),
                    }
                }
            }
        }
        None
    }

    /// Straight down through the union to its wall.
    fn fall(&self, node: usize, from: Vector3<f64>, barred: &Barred<'_>) -> (usize, Vector3<f64>) {
        let (mut node, mut at) = (node, from);
        let down = -self.order_up;
        for _ in 0..64 {
            let mut best = (node, self.exit(node, &at, &down));
            for other in self.neighbours_at(node, &at) {
                if !barred.has(other) && self.holds(other, &at) {
                    let way = self.exit(other, &at, &down);
                    if way > best.1 + INSIDE_MM {
                        best = (other, way);
                    }
                }
            }
            if best.1 <= INSIDE_MM {
                break;
            }
            at += down * best.1;
            node = self.node_at(self.nodes[best.0].primitive, &at);
            if barred.has(node) {
                node = best.0;
            }
        }
        (node, at)
    }

    /// Nodes that meet a node between two places along it, in the order in which they lie there.
    fn neighbours(&self, node: usize, a: f64, b: f64) -> impl DoubleEndedIterator<Item = (usize, (f64, f64))> + '_ {
        let primitive = self.nodes[node].primitive;
        let (lo, hi) = (a.min(b) - CONTACT_MM, a.max(b) + CONTACT_MM);
        self.interior.touching[primitive].iter().flat_map(move |&l| {
            let (other, reach) = self.interior.links[l].from(primitive);
            let near = reach.0 <= hi && reach.1 >= lo;
            self.nodes_of(other).filter(move |_| near).map(move |n| (n, reach))
        })
    }

    /// The same at the place nearest to a point.
    fn neighbours_at(&self, node: usize, at: &Vector3<f64>) -> impl Iterator<Item = usize> + '_ {
        let sigma = self.interior.solids[self.nodes[node].primitive].sigma_of(&at.xy());
        self.neighbours(node, sigma, sigma).map(|(n, _)| n)
    }

    /// Whether a node contains a point, its surface included.
    fn holds(&self, node: usize, p: &Vector3<f64>) -> bool {
        let solid = &self.interior.solids[self.nodes[node].primitive];
        solid.outside(p) <= CONTACT_MM && self.in_part(node, p)
    }

    /// Whether a point lies strictly inside a node.
    fn inside(&self, node: usize, p: &Vector3<f64>) -> bool {
        self.interior.solids[self.nodes[node].primitive].outside(p) < -INSIDE_MM && self.in_part(node, p)
    }

    fn in_part(&self, node: usize, p: &Vector3<f64>) -> bool {
        let n = &self.nodes[node];
        let solid = &self.interior.solids[n.primitive];
        if !matches!(solid, Solid::Bend { .. }) {
            return true;
        }
        let sigma = solid.sigma_of(&p.xy());
        sigma >= n.lo - INSIDE_MM && sigma <= n.hi + INSIDE_MM
    }

    /// How far a ray from a point of a node stays within its primitive, mm.
    fn exit(&self, node: usize, from: &Vector3<f64>, dir: &Vector3<f64>) -> f64 {
        let solid = &self.interior.solids[self.nodes[node].primitive];
        let plane: Vector2<f64> = dir.xy();
        if let Some(Along { q, hi, .. }) = solid.along(&from.xy(), &plane) {
            let c = [
                q[0] - from.z * from.z,
                q[1] - 2.0 * from.z * dir.z,
                q[2] - dir.z * dir.z,
            ];
            // On the wall to rounding and going out: a cone steeper than the ray would be met again from outside.
            if c[0] <= 0.0 && c[1] < 0.0 {
                return 0.0;
            }
            // The far end of the stretch that begins here: where the square falls through zero.
            let leaves = quadratic(c[2], c[1], c[0]).find(|t| *t > 0.0 && c[1] + 2.0 * c[2] * t < 0.0);
            let still = c[2] == 0.0 && c[1] == 0.0 && c[0] >= 0.0;
            let wall = leaves.unwrap_or(if still || c[2] > 0.0 { f64::INFINITY } else { 0.0 });
            return wall.min(hi).max(0.0);
        }
        let step = solid.widest() / 16.0;
        let outside = |t: f64| solid.outside(&(from + dir * t));
        let mut t = 0.0;
        while outside(t + step) <= 0.0 {
            t += step;
        }
        let (mut inside, mut out) = (t, t + step);
        for _ in 0..50 {
            let mid = 0.5 * (inside + out);
            if outside(mid) <= 0.0 { inside = mid } else { out = mid }
        }
        inside
    }

    /// Down along the wall of a node from a point on it.
    fn way(&self, node: usize, from: &Vector3<f64>, barred: &Barred<'_>) -> Way {
        let n = &self.nodes[node];
        let solid = &self.interior.solids[n.primitive];
        let others = |a: f64, b: f64| -> Vec<(usize, (f64, f64))> {
            self.neighbours(node, a, b).filter(|(k, _)| !barred.has(*k)).collect()
        };
        if let Solid::Spheroid { .. } = solid {
            // The floor over the straight line to the lowest point: a convex function with its least value there.
            let floor = |l: f64| {
                let p = from + (n.bottom_at - from) * l;
                p - self.order_up * self.exit(node, &p, &-self.order_up)
            };
            let others: Vec<_> = others(n.lo, n.hi).into_iter().map(|(k, _)| (k, (0.0, 1.0))).collect();
            return self
                .first_mouth(solid.widest(), &others, floor)
                .unwrap_or(Way::Low(n.bottom_at));
        }
        let sigma = solid.sigma_of(&from.xy());
        let end = solid.sigma_of(&n.bottom_at.xy());
        let mut valley_from = sigma;
        let mut from = *from;
        if let Some(rim) = self.down_the_end(solid, &from) {
            let others = self.parts(&others(sigma, sigma), (sigma, sigma), |_| 0.0);
            let start = from;
            if let Some(mouth) = self.first_mouth(solid.widest(), &others, |l| start + (rim - start) * l) {
                return mouth;
            }
            from = rim;
        }
        if (self.valley_at(solid, sigma) - from).norm() > CONTACT_MM {
            let spiral = Spiral::new(self, solid, sigma, end, &from);
            let reached = spiral.at(1.0).0;
            let others = self.parts(&others(sigma, reached), (sigma, reached), |s| spiral.part_at(s));
            if let Some(mouth) = self.first_mouth(solid.widest(), &others, |l| spiral.point(l)) {
                return mouth;
            }
            valley_from = reached;
        }
        let mouth = if let Solid::Frustum { .. } = solid {
            let mut others = others(valley_from, end);
            if end < valley_from {
                others.reverse();
            }
            self.mouth_in_line(solid, valley_from, end, &others)
        } else {
            let part = |s: f64| (s - sigma) / (end - sigma);
            let others = self.parts(&others(sigma, end), (sigma, end), part);
            self.first_mouth(solid.widest(), &others, |l| {
                self.valley_at(solid, sigma + (end - sigma) * l)
            })
        };
        mouth.unwrap_or(Way::Low(n.bottom_at))
    }

    /// Where a stream that lies on the flat end of a bore comes to the wall, straight down the end; nothing for a point
    /// that lies on the wall, or on an end that is level.
    fn down_the_end(&self, solid: &Solid, from: &Vector3<f64>) -> Option<Vector3<f64>> {
        let sigma = solid.sigma_of(&from.xy());
        let slice = solid.slice(sigma);
        let at = Vector2::new((from.xy() - slice.centre).dot(&slice.n), from.z);
        if at.norm() >= slice.r - CONTACT_MM {
            return None;
        }
        let down = -Vector2::new(self.order_up.xy().dot(&slice.n), self.order_up.z);
        let down = down.try_normalize(SQUARE)?;
        let along = quadratic(1.0, 2.0 * at.dot(&down), at.norm_squared() - slice.r * slice.r).last()?;
        let rim = at + down * along;
        let p = slice.centre + slice.n * rim.x;
        Some(Vector3::new(p.x, p.y, rim.y))
    }

    /// The lowest point of the slice at `sigma`.
    fn valley_at(&self, solid: &Solid, sigma: f64) -> Vector3<f64> {
        solid.lowest(&self.order_up, sigma, sigma)
    }

    /// The parts of a way from one place along a bore to another over which other bores are met; `part` tells the part at
    /// which a place is reached. All of a way that goes straight across.
    fn parts(
        &self,
        others: &[(usize, (f64, f64))],
        (from, to): (f64, f64),
        part: impl Fn(f64) -> f64,
    ) -> Vec<(usize, (f64, f64))> {
        let is_across = (to - from).abs() <= CONTACT_MM;
        let along = |place: f64| {
            let place = place.clamp(from.min(to), from.max(to));
            part(place).clamp(0.0, 1.0)
        };
        let of = |&(other, (a, b)): &(usize, (f64, f64))| {
            // As wide as bores may lie apart and still touch.
            let (x, y) = (along(a - CONTACT_MM), along(b + CONTACT_MM));
            let parts = if is_across { (0.0, 1.0) } else { (x.min(y), x.max(y)) };
            (other, parts)
        };
        let mut parts: Vec<_> = others.iter().map(of).collect();
        parts.sort_by(|x, y| x.1.0.total_cmp(&y.1.0));
        parts
    }

    /// First point of a curved way, in a bore that is `widest` at its widest, that lies inside another bore; of each other
    /// bore over which parts of the way it is met.
    fn first_mouth(
        &self,
        widest: f64,
        others: &[(usize, (f64, f64))],
        way: impl Fn(f64) -> Vector3<f64>,
    ) -> Option<Way> {
        let mut first: Option<(f64, usize)> = None;
        // A short way is not sampled closer than a long one.
        let spacing = widest / WAY_SAMPLES as f64;
        for &(other, (a, b)) in others {
            if first.is_some_and(|(best, _)| a >= best) {
                continue;
            }
            let within = |l: f64| self.inside(other, &way(l));
            let samples = ((way(b) - way(a)).norm() / spacing)
                .ceil()
                .clamp(2.0, WAY_SAMPLES as f64);
            let at = |i: usize| a + (b - a) * i as f64 / samples;
            let Some(i) = (0..=samples as usize).find(|&i| within(at(i))) else {
                continue;
            };
            let (mut out, mut inside) = (at(i.saturating_sub(1)), at(i));
            for _ in 0..40 {
                let mid = 0.5 * (out + inside);
                if within(mid) { inside = mid } else { out = mid }
            }
            if first.is_none_or(|(best, _)| inside < best) {
                first = Some((inside, other));
            }
        }
        first.map(|(l, other)| Way::Mouth(other, way(l)))
    }

    /// First point of the lowest line of a frustum, from `sigma` to `end`, that lies inside another bore.
    fn mouth_in_line(&self, solid: &Solid, sigma: f64, end: f64, others: &[(usize, (f64, f64))]) -> Option<Way> {
        let Solid::Frustum { o, e, n, r0, k, .. } = *solid else {
            return None;
        };
        let un = self.order_up.xy().dot(&n);
        let across = root_sum(un, self.order_up.z);
        let (cos, sin) = (-un / across, -self.order_up.z / across);
        let (base, line) = (o + n * (r0 * cos), e + n * (k * cos));
        let point = |s: f64| {
            let p = base + line * s;
            Vector3::new(p.x, p.y, (r0 + k * s) * sin)
        };
        let forward = end >= sigma;
        let mut first: Option<(f64, usize)> = None;
        for &(other, reach) in others {
            // Beyond a mouth already found, nearer to the start.
            if first.is_some_and(|(best, _)| if forward { reach.0 > best } else { reach.1 < best }) {
                continue;
            }
            let mut marks = vec![sigma, end];
            match self.interior.solids[self.nodes[other].primitive].along(&base, &line) {
                Some(Along { q, lo, hi }) => {
                    let s2 = sin * sin;
                    marks.extend(quadratic(
                        q[2] - k * k * s2,
                        q[1] - 2.0 * r0 * k * s2,
                        q[0] - r0 * r0 * s2,
                    ));
                    marks.extend([lo, hi]);
                }
                None => marks.extend((0..=WAY_SAMPLES).map(|i| sigma + (end - sigma) * i as f64 / WAY_SAMPLES as f64)),
            }
            marks.retain(|s| *s >= sigma.min(end) && *s <= sigma.max(end));
            marks.sort_by(|x, y| if forward { x.total_cmp(y) } else { y.total_cmp(x) });
            let entry = marks.windows(2).find_map(|w| {
                let length = (w[1] - w[0]).abs();
                let inside = length > CONTACT_MM && self.inside(other, &point(0.5 * (w[0] + w[1])));
                // A little past the lip, so that the fall begins inside.
                inside.then(|| w[0] + (w[1] - w[0]).signum() * (0.5 * length).min(10.0 * CONTACT_MM))
            });
            if let Some(s) = entry
                && first.is_none_or(|(best, _)| if forward { s < best } else { s > best })
            {
                first = Some((s, other));
            }
        }
        first.map(|(s, other)| Way::Mouth(other, point(s)))
    }

    /// The lowest of the nodes that hold a point and go deeper.
    fn lower_neighbour(&self, node: usize, low: &Vector3<f64>, barred: &Barred<'_>) -> Option<usize> {
        let height = self.order_up.dot(low);
        self.neighbours_at(node, low)
            .filter(|&k| !barred.has(k) && self.holds(k, low) && self.nodes[k].bottom_order < height - SHALLOW_MM)
            .min_by(|&x, &y| self.nodes[x].bottom_order.total_cmp(&self.nodes[y].bottom_order))
    }
}
