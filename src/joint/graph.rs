//! The frame as a graph: joints are its vertices, lengths of tube between joints its edges.

use super::{Joint, Joints, Steel};
use crate::frame::Frame;
use petgraph::algo::dijkstra;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::unionfind::UnionFind;
use petgraph::visit::EdgeRef;

/// Build the graph. Vertex `i` is joint `i`.
pub(crate) fn graph(frame: &Frame, joints: &[Joint]) -> UnGraph<usize, Steel> {
    let mut graph = UnGraph::new_undirected();
    for j in 0..joints.len() {
        graph.add_node(j);
    }
    for tube in 0..frame.tubes.len() {
        let mut stops: Vec<(f64, usize)> = joints
            .iter()
            .enumerate()
            .flat_map(|(j, joint)| joint.tubes.iter().filter(|t| t.0 == tube).map(move |t| (t.1, j)))
            .collect();
        stops.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for pair in stops.windows(2) {
            let length_mm = pair[1].0 - pair[0].0;
            // the same joint twice on one tube: its two ends close a ring, or one place named twice
            if pair[0].1 != pair[1].1 || length_mm > 1.0 {
                graph.add_edge(
                    NodeIndex::new(pair[0].1),
                    NodeIndex::new(pair[1].1),
                    Steel { tube, length_mm },
                );
            }
        }
    }
    graph
}

/// Shortest way along the steel from each joint to each other, mm.
pub(crate) fn steel_mm(graph: &UnGraph<usize, Steel>) -> Vec<Vec<f64>> {
    let n = graph.node_count();
    graph
        .node_indices()
        .map(|from| {
            let ways = dijkstra(graph, from, None, |e| e.weight().length_mm);
            (0..n).map(|to| ways.get(&NodeIndex::new(to)).copied().unwrap_or(f64::INFINITY)).collect()
        })
        .collect()
}

impl Joints {
    /// Joints that hang together along the steel, each part in ascending order, the parts by their
    /// first joint.
    pub fn parts(&self) -> Vec<Vec<usize>> {
        let mut parts: Vec<Vec<usize>> = Vec::new();
        for j in 0..self.joints.len() {
            match parts.iter_mut().find(|p| self.steel_mm[p[0]][j].is_finite()) {
                Some(part) => part.push(j),
                None => parts.push(vec![j]),
            }
        }
        parts
    }

    /// For each meet: does welding it, in the order given, close a loop of tubes that already hang
    /// together? (The first meets of an order hang the tubes together; the others close loops.)
    pub fn closes_loop(&self, order: &[usize]) -> Vec<bool> {
        let tubes = 1 + self.meets.iter().flat_map(|m| m.tubes()).max().unwrap_or(0);
        let mut hang = UnionFind::<usize>::new(tubes);
        let mut closes = vec![false; self.meets.len()];
        for &m in order {
            let mut all = self.meets[m].tubes();
            let branch = all.next().expect("a meet has a branch");
            let mut joined = false;
            for carrier in all {
                joined |= hang.union(branch, carrier);
            }
            closes[m] = !joined;
        }
        closes
    }

    /// For each meet: is it a bridge, that is, would the frame fall in two without it? Meets that are
    /// not lie on a closed loop of tubes and are restrained by it.
    pub fn bridges(&self) -> Vec<bool> {
        let tubes = 1 + self.meets.iter().flat_map(|m| m.tubes()).max().unwrap_or(0);
        let parts_without = |skip: Option<usize>| {
            let mut hang = UnionFind::<usize>::new(tubes);
            let mut parts = tubes;
            for (i, m) in self.meets.iter().enumerate() {
                if Some(i) == skip {
                    continue;
                }
                for c in &m.carriers {
                    parts -= usize::from(hang.union(m.branch.0, c.0));
                }
            }
            parts
        };
        let whole = parts_without(None);
        (0..self.meets.len()).map(|m| parts_without(Some(m)) > whole).collect()
    }

    /// Joints outward from a datum joint, breadth first; among neighbours the nearer along the steel
    /// first, then by number. Joints that do not hang together with it come last.
    pub fn outward(&self, datum: usize) -> Vec<usize> {
        let mut order = Vec::new();
        let mut seen = vec![false; self.joints.len()];
        let mut ring = vec![datum];
        while !ring.is_empty() {
            ring.sort_by(|a, b| self.steel_mm[datum][*a].total_cmp(&self.steel_mm[datum][*b]).then(a.cmp(b)));
            ring.retain(|j| !std::mem::replace(&mut seen[*j], true));
            let next = ring
                .iter()
                .flat_map(|&j| self.graph.edges(NodeIndex::new(j)).map(|e| e.target().index()))
                .filter(|&j| !seen[j])
                .collect();
            order.append(&mut ring);
            ring = next;
        }
        order.extend((0..self.joints.len()).filter(|&j| !seen[j]));
        order
    }
}
