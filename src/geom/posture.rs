//! The interior held at one stance: its basins, and what spills over which sill.
//!
//! **Floors.** A column of the union has its floor at `F = min_i F_i`, and the wet part of a column below a level
//! starts at its floor, so pools are the connected parts of `{F <= level}` in the drawing plane. For a frustum and a
//! spheroid `F_i` is convex; a bend is cut at its crest. Hence every node (primitive, or part of a bend) has
//! connected sublevel sets, and the connected parts of the union are those of a graph: a node is born at its
//! lowest point, and two nodes join at the lowest point of their intersection.
//!
//! **Basins.** The merge tree of that graph (edges by height, union-find) gives every basin and every sill,
//! loops included, in n log n. A port joins its primitives to the outside, which is born lower than everything.
//! Heights of births and joints are exact to rounding (see `meet`), so sills are.
//!
//! **Ties** are settled by ordering with the tie-broken gravity; heights and volumes use the true one.

use std::ops::Range;
use std::sync::OnceLock;

use nalgebra::Vector3;

use super::alike::Known;
use super::interior::Interior;
use super::meet::{self, Meeting};
use super::rooms::RoughRoom;
use super::shape::Solid;
use super::stance::Stance;
use super::stream::Rest;
use super::tolerance::SHALLOW_MM;

/// A primitive, or one part of a bend cut at its crest.
#[derive(Clone, Copy, Debug)]
pub(super) struct Node {
    pub(super) primitive: usize,
    pub(super) lo: f64,
    pub(super) hi: f64,
    /// Lowest point.
    pub(super) bottom_at: Vector3<f64>,
    /// Its height by the tie-broken gravity: orders.
    pub(super) bottom_order: f64,
    /// Lowest and highest height by the true gravity.
    pub(super) bottom: f64,
    pub(super) top: f64,
}

/// What lies over an edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Side {
    Node(usize),
    Port(usize),
}

/// Two nodes, or a node and the outside, that join at `at`.
#[derive(Clone, Copy, Debug)]
pub(super) struct Edge {
    order: f64,
    pub(super) height: f64,
    pub(super) at: Vector3<f64>,
    pub(super) node: usize,
    pub(super) other: Side,
}

/// The lowest place over which a basin runs on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sill {
    pub(super) height: f64,
    pub(super) at: Vector3<f64>,
    /// Where the overflow enters.
    pub(super) over: Side,
}

/// A connected hollow: everything below `sill` that hangs together.
#[derive(Clone, Debug)]
pub(super) struct Basin {
    /// The node with the lowest point.
    pub(super) bottom_node: usize,
    /// Height from which this basin is one (its bottom, or where its two parts join).
    pub(super) from: f64,
    pub(super) sill: Option<Sill>,
    pub(super) parts: Option<[usize; 2]>,
    pub(super) parent: Option<usize>,
    first: usize,
    last: usize,
}

/// The interior at a stance.
#[derive(Clone, Debug)]
pub struct Posture<'a> {
    pub(super) interior: &'a Interior,
    pub(super) up: Vector3<f64>,
    pub(super) order_up: Vector3<f64>,
    pub(super) nodes: Vec<Node>,
    /// First node of each primitive, and the number of nodes; a bend has one or two.
    first_node: Vec<usize>,
    pub(super) edges: Vec<Edge>,
    pub(super) basins: Vec<Basin>,
    /// The basin whose lowest point a node holds.
    pub(super) basin_of_bottom: Vec<Option<usize>>,
    /// Where liquid goes from a node's lowest point that is no basin of its own.
    pub(super) way_on: Vec<Option<(Side, Vector3<f64>)>>,
    /// The port at which a node's lowest point lies, if any.
    pub(super) port_at_bottom: Vec<Option<usize>>,
    /// Where the overflow of each basin rests, found when first asked for.
    pub(super) overflows: Vec<OnceLock<Option<Rest>>>,
    /// Volume of each basin at its sill, and bounds of it, found when first asked for.
    pub(super) rooms: Vec<OnceLock<f64>>,
    pub(super) rough_rooms: Vec<OnceLock<RoughRoom>>,
    /// What joints hold that are like others.
    pub(super) alike: Known,
    next: Vec<usize>,
    /// Place of each node in the lists of members: those of a basin are neighbours there.
    rank: Vec<usize>,
    /// The lowest node of each piece that has any.
    lowest: Vec<Option<usize>>,
}

const NONE: usize = usize::MAX;

impl Interior {
    /// The interior held at a stance.
    pub fn at(&self, stance: Stance) -> Posture<'_> {
        Posture::new(self, stance)
    }
}

impl<'a> Posture<'a> {
    /// Height `u . p` of a point of the apparatus, mm.
    pub fn height_of(&self, point: &Vector3<f64>) -> f64 {
        self.up.dot(point)
    }

    fn new(interior: &'a Interior, stance: Stance) -> Self {
        let (up, order_up) = (stance.up(), stance.tie_broken_up());
        let (nodes, first_node) = nodes(interior, &up, &order_up);
        let mut edges = edges(interior, &nodes, &first_node, &up, &order_up);
        // Places break what remains equal, so that the order of pieces does not count.
        edges.sort_by(|x, y| {
            let place = |e: &Edge| (e.at.x, e.at.y);
            x.order
                .total_cmp(&y.order)
                .then_with(|| place(x).0.total_cmp(&place(y).0))
                .then_with(|| place(x).1.total_cmp(&place(y).1))
        });
        let count = nodes.len();
        let lowest = lowest_of_pieces(interior, &nodes);
        let mut posture = Self {
            interior,
            up,
            order_up,
            nodes,
            first_node,
            edges,
            basins: Vec::new(),
            basin_of_bottom: vec![None; count],
            way_on: vec![None; count],
            port_at_bottom: vec![None; count],
            overflows: Vec::new(),
            rooms: Vec::new(),
            rough_rooms: Vec::new(),
            alike: Known::new(interior.alike_levels),
            next: vec![NONE; count],
            rank: vec![0; count],
            lowest,
        };
        posture.merge();
        posture.rank_members();
        posture.overflows = vec![OnceLock::new(); posture.basins.len()];
        posture.rooms = vec![OnceLock::new(); posture.basins.len()];
        posture.rough_rooms = vec![OnceLock::new(); posture.basins.len()];
        for edge in &posture.edges {
            if let Side::Port(port) = edge.other
                && edge.order <= posture.nodes[edge.node].bottom_order + SHALLOW_MM
            {
                posture.port_at_bottom[edge.node].get_or_insert(port);
            }
        }
        posture
    }

    /// Builds the merge tree.
    fn merge(&mut self) {
        let mut forest = Forest::new(self);
        for i in 0..self.edges.len() {
            let edge = self.edges[i];
            let a = forest.root(edge.node);
            let b = match edge.other {
                Side::Node(other) => forest.root(other),
                Side::Port(_) => forest.outside,
            };
            if a != b {
                self.join(&mut forest, a, b, &edge);
            }
        }
        for node in 0..self.nodes.len() {
            if forest.root(node) == node && !forest.clusters[node].outside {
                let basin = self.basin_of_cluster(&mut forest, node);
                let cluster = &forest.clusters[node];
                (self.basins[basin].first, self.basins[basin].last) = (cluster.first, cluster.last);
            }
        }
    }

    fn join(&mut self, forest: &mut Forest, a: usize, b: usize, edge: &Edge) {
        // `a` holds `edge.node`; `b` holds the other side.
        let deep = |forest: &Forest, c: usize| {
            !forest.clusters[c].outside && edge.order - forest.clusters[c].bottom > SHALLOW_MM
        };
        let sides = [(a, edge.other), (b, Side::Node(edge.node))];
        let is_deep = [deep(forest, a), deep(forest, b)];
        let outside = forest.clusters[a].outside || forest.clusters[b].outside;
        // The one that is taken up; where both have the same bottom, `unite` keeps the first.
        let (lower, higher) = if forest.clusters[a].bottom <= forest.clusters[b].bottom {
            (a, b)
        } else {
            (b, a)
        };
        let mut closed = [None; 2];
        for k in 0..2 {
            let (cluster, over) = sides[k];
            if is_deep[k] && (is_deep[1 - k] || forest.clusters[sides[1 - k].0].outside) {
                let basin = self.basin_of_cluster(forest, cluster);
                let held = &forest.clusters[cluster];
                self.basins[basin].sill = Some(Sill {
                    height: edge.height,
                    at: edge.at,
                    over,
                });
                (self.basins[basin].first, self.basins[basin].last) = (held.first, held.last);
                closed[k] = Some(basin);
            } else if !forest.clusters[cluster].outside && !is_deep[k] {
                // No hollow of its own: what falls there goes on over the edge.
                let bottom = forest.clusters[cluster].bottom_node;
                if cluster == higher && self.basin_of_bottom[bottom].is_none() {
                    self.way_on[bottom] = Some((over, edge.at));
                }
            }
        }
        let parent = match closed {
            [Some(x), Some(y)] if !outside => {
                let id = self.basins.len();
                self.basins.push(Basin {
                    bottom_node: forest.clusters[lower].bottom_node,
                    from: edge.height,
                    sill: None,
                    parts: Some([x, y]),
                    parent: None,
                    first: NONE,
                    last: NONE,
                });
                (self.basins[x].parent, self.basins[y].parent) = (Some(id), Some(id));
                Some(id)
            }
            _ => None,
        };
        forest.unite(a, b, parent, &mut self.next);
    }

    /// The open basin of a cluster; made when the cluster turns out to be one.
    fn basin_of_cluster(&mut self, forest: &mut Forest, cluster: usize) -> usize {
        if let Some(basin) = forest.clusters[cluster].basin {
            return basin;
        }
        let bottom_node = forest.clusters[cluster].bottom_node;
        let id = self.basins.len();
        self.basins.push(Basin {
            bottom_node,
            from: self.nodes[bottom_node].bottom,
            sill: None,
            parts: None,
            parent: None,
            first: NONE,
            last: NONE,
        });
        self.basin_of_bottom[bottom_node] = Some(id);
        forest.clusters[cluster].basin = Some(id);
        id
    }

    /// Nodes of a basin, those that only its highest level reaches included.
    pub(super) fn members(&self, basin: usize) -> impl Iterator<Item = usize> + '_ {
        let Basin { first, last, .. } = self.basins[basin];
        let mut at = first;
        std::iter::from_fn(move || {
            if at == NONE {
                return None;
            }
            let node = at;
            at = if node == last { NONE } else { self.next[node] };
            Some(node)
        })
    }

    /// Numbers the nodes along the lists of members.
    fn rank_members(&mut self) {
        let mut heads = vec![true; self.nodes.len()];
        for &next in self.next.iter().filter(|&&n| n != NONE) {
            heads[next] = false;
        }
        let mut rank = 0;
        for head in (0..self.nodes.len()).filter(|&n| heads[n]) {
            let mut node = head;
            while node != NONE {
                self.rank[node] = rank;
                rank += 1;
                node = self.next[node];
            }
        }
    }

    /// Whether a node is a member of a basin that reaches below its sill.
    pub(super) fn within(&self, basin: usize, node: usize) -> bool {
        let Basin { first, last, sill, .. } = self.basins[basin];
        let ranked = self.rank[first] <= self.rank[node] && self.rank[node] <= self.rank[last];
        ranked && sill.is_none_or(|s| self.nodes[node].bottom < s.height)
    }

    /// The node of a primitive that holds a place on it.
    pub(super) fn node_at(&self, primitive: usize, at: &Vector3<f64>) -> usize {
        let nodes = self.nodes_of(primitive);
        if nodes.len() == 1 {
            return nodes.start;
        }
        let sigma = self.interior.solids[primitive].sigma_of(&at.xy());
        if sigma <= self.nodes[nodes.start].hi {
            nodes.start
        } else {
            nodes.start + 1
        }
    }

    /// The nodes of a primitive.
    pub(super) fn nodes_of(&self, primitive: usize) -> Range<usize> {
        self.first_node[primitive]..self.first_node[primitive + 1]
    }

    /// The piece of a node.
    pub(super) fn piece_of(&self, node: usize) -> usize {
        self.interior.primitives()[self.nodes[node].primitive].piece
    }

    /// The piece that holds the lowest point of a basin.
    pub(super) fn piece_of_basin(&self, basin: usize) -> usize {
        self.piece_of(self.basins[basin].bottom_node)
    }

    /// The lowest node of a piece, if the piece has any.
    pub(super) fn lowest_node(&self, piece: usize) -> Option<usize> {
        self.lowest.get(piece).copied().flatten()
    }
}

/// Union-find over the nodes and, last, the outside.
struct Forest {
    above: Vec<usize>,
    clusters: Vec<Cluster>,
    outside: usize,
}

/// A connected set of nodes and its list.
#[derive(Clone, Copy)]
struct Cluster {
    basin: Option<usize>,
    outside: bool,
    bottom: f64,
    bottom_node: usize,
    first: usize,
    last: usize,
    size: usize,
}

impl Forest {
    fn new(posture: &Posture<'_>) -> Self {
        let outside = posture.nodes.len();
        let mut clusters: Vec<Cluster> = posture
            .nodes
            .iter()
            .enumerate()
            .map(|(i, n)| Cluster {
                basin: None,
                outside: false,
                bottom: n.bottom_order,
                bottom_node: i,
                first: i,
                last: i,
                size: 1,
            })
            .collect();
        clusters.push(Cluster {
            basin: None,
            outside: true,
            bottom: f64::NEG_INFINITY,
            bottom_node: NONE,
            first: NONE,
            last: NONE,
            size: 1,
        });
        Self {
            above: (0..=outside).collect(),
            clusters,
            outside,
        }
    }

    fn root(&mut self, mut x: usize) -> usize {
        while self.above[x] != x {
            self.above[x] = self.above[self.above[x]];
            x = self.above[x];
        }
        x
    }

    /// Unites two clusters; `parent` is the basin of both when two basins joined, otherwise the lower one's stays.
    fn unite(&mut self, a: usize, b: usize, parent: Option<usize>, next: &mut [usize]) {
        let (ca, cb) = (self.clusters[a], self.clusters[b]);
        let (low, high) = if ca.bottom <= cb.bottom { (ca, cb) } else { (cb, ca) };
        let outside = ca.outside || cb.outside;
        if !outside {
            next[low.last] = high.first;
        }
        let united = Cluster {
            basin: if outside { None } else { parent.or(low.basin) },
            outside,
            bottom: low.bottom,
            bottom_node: low.bottom_node,
            first: low.first,
            last: high.last,
            size: ca.size + cb.size,
        };
        let (root, child) = if ca.size >= cb.size { (a, b) } else { (b, a) };
        self.above[child] = root;
        if child == self.outside || root == self.outside {
            self.outside = root;
        }
        self.clusters[root] = united;
    }
}

fn nodes(interior: &Interior, up: &Vector3<f64>, order_up: &Vector3<f64>) -> (Vec<Node>, Vec<usize>) {
    let mut nodes = Vec::with_capacity(interior.solids.len() + 8);
    let mut first_node = Vec::with_capacity(interior.solids.len() + 1);
    for (primitive, solid) in interior.solids.iter().enumerate() {
        first_node.push(nodes.len());
        let (lo, hi) = solid.range();
        let mut push = |lo: f64, hi: f64| {
            let bottom_at = solid.lowest(order_up, lo, hi);
            nodes.push(Node {
                primitive,
                lo,
                hi,
                bottom_at,
                bottom_order: order_up.dot(&bottom_at),
                bottom: up.dot(&bottom_at),
                top: highest(solid, lo, hi, up),
            });
        };
        match solid.crest(order_up) {
            Some(crest) => {
                push(lo, crest);
                push(crest, hi);
            }
            None => push(lo, hi),
        }
    }
    first_node.push(nodes.len());
    (nodes, first_node)
}

/// For each piece its lowest node, the first of several as low.
fn lowest_of_pieces(interior: &Interior, nodes: &[Node]) -> Vec<Option<usize>> {
    let mut lowest: Vec<Option<usize>> = vec![None; interior.pieces().len()];
    for (n, node) in nodes.iter().enumerate() {
        let piece = interior.primitives()[node.primitive].piece;
        if let Some(kept) = lowest.get_mut(piece)
            && kept.is_none_or(|kept| node.bottom_order < nodes[kept].bottom_order)
        {
            *kept = Some(n);
        }
    }
    lowest
}

fn highest(solid: &Solid, lo: f64, hi: f64, up: &Vector3<f64>) -> f64 {
    up.dot(&solid.lowest(&-up, lo, hi))
}

fn edges(
    interior: &Interior,
    nodes: &[Node],
    first_node: &[usize],
    up: &Vector3<f64>,
    order_up: &Vector3<f64>,
) -> Vec<Edge> {
    let parts = |primitive: usize| first_node[primitive]..first_node[primitive + 1];
    let at_end = |primitive: usize, end: usize| {
        if end == 0 {
            parts(primitive).start
        } else {
            parts(primitive).end - 1
        }
    };
    let mut edges = Vec::with_capacity(interior.links.len() + interior.openings.len() + 8);
    let mut push = |node: usize, other: Side, at: Vector3<f64>| {
        edges.push(Edge {
            order: order_up.dot(&at),
            height: up.dot(&at),
            at,
            node,
            other,
        });
    };
    for link in &interior.links {
        match &link.meeting {
            Meeting::Disc { disc, ends } => push(
                at_end(link.a, ends[0]),
                Side::Node(at_end(link.b, ends[1])),
                disc.lowest(order_up),
            ),
            Meeting::Overlap => {
                let (a, b) = (&interior.solids[link.a], &interior.solids[link.b]);
                for i in parts(link.a) {
                    for j in parts(link.b) {
                        let (na, nb) = (&nodes[i], &nodes[j]);
                        let rim = link.rim.as_ref();
                        let at = meet::lowest_common(a, (na.lo, na.hi), b, (nb.lo, nb.hi), order_up, rim);
                        if let Some(at) = at {
                            push(i, Side::Node(j), at);
                        }
                    }
                }
            }
        }
    }
    for (primitive, solid) in interior.solids.iter().enumerate() {
        let parts = parts(primitive);
        if parts.len() == 2 {
            // Both parts of a bend join at the lowest point of the slice at its crest; a full ring's also at its start.
            let crest = nodes[parts.start].hi;
            push(
                parts.start,
                Side::Node(parts.start + 1),
                solid.lowest(order_up, crest, crest),
            );
            if solid.range().1 >= std::f64::consts::TAU {
                push(
                    parts.start,
                    Side::Node(parts.start + 1),
                    solid.lowest(order_up, 0.0, 0.0),
                );
            }
        }
    }
    for opening in &interior.openings {
        let port = Side::Port(opening.port);
        match opening.end {
            Some(end) => push(at_end(opening.primitive, end), port, opening.disc.lowest(order_up)),
            None => {
                for i in parts(opening.primitive) {
                    let part = (nodes[i].lo, nodes[i].hi);
                    if let Some(at) =
                        meet::lowest_on_disc(&opening.disc, &interior.solids[opening.primitive], part, order_up)
                    {
                        push(i, port, at);
                    }
                }
            }
        }
    }
    edges
}
