//! Prefix beam search (Graves 2006, Hannun and others 2014) along the columns of a strip, within
//! an automaton or free. A hypothesis is a text so far; its automaton state and its last sign
//! follow from the text.

use super::super::automaton::{Automaton, State};
use super::super::glyphs::Glyphs;
use super::{Chances, DecodeSettings, MOST_READINGS};

/// Texts handed on, to be weighed exactly: more than are told, since the search's own sums leave
/// out what was pruned.
const FINALISTS: usize = 2 * MOST_READINGS;

/// The root's parent.
const NO_NODE: u32 = u32::MAX;

/// A text so far: its last sign, and the text before.
struct Node {
    parent: u32,
    class: usize,
    /// `None` in a free search.
    state: Option<State>,
    children: Vec<(usize, u32)>,
    /// Logarithms of the mass that ends in "nothing" and in the last sign.
    blank: f64,
    sign: f64,
    next_blank: f64,
    next_sign: f64,
}

impl Node {
    fn new(parent: u32, class: usize, state: Option<State>) -> Self {
        let none = f64::NEG_INFINITY;
        Self {
            parent,
            class,
            state,
            children: Vec::new(),
            blank: none,
            sign: none,
            next_blank: none,
            next_sign: none,
        }
    }

    fn total(&self) -> f64 {
        add(self.blank, self.sign)
    }
}

/// The logarithm of a sum, from the logarithms of its parts.
fn add(a: f64, b: f64) -> f64 {
    let (high, low) = if a > b { (a, b) } else { (b, a) };
    match low == f64::NEG_INFINITY {
        true => high,
        false => high + (low - high).exp().ln_1p(),
    }
}

struct Beam<'a> {
    nodes: Vec<Node>,
    live: Vec<u32>,
    glyphs: &'a Glyphs,
    codes: Option<&'a Automaton>,
}

/// The likeliest texts, best first: codes where an automaton is given, any text else.
pub(super) fn search(
    chances: &Chances,
    glyphs: &Glyphs,
    codes: Option<&Automaton>,
    settings: &DecodeSettings,
) -> Vec<String> {
    let mut beam = Beam {
        nodes: vec![Node::new(NO_NODE, 0, codes.map(Automaton::start))],
        live: vec![0],
        glyphs,
        codes,
    };
    beam.nodes[0].blank = 0.0;
    for column in chances.columns() {
        let signs: Vec<(usize, f64)> = (1..column.len())
            .filter(|&class| column[class] >= settings.least)
            .map(|class| (class, column[class].ln()))
            .collect();
        beam.advance(column, &signs);
        beam.prune(settings.beam);
    }
    beam.texts()
}

impl Beam<'_> {
    fn advance(&mut self, column: &[f64], signs: &[(usize, f64)]) {
        let mut reached = self.live.clone();
        let blank = column[0].ln();
        for at in std::mem::take(&mut self.live) {
            let node = &mut self.nodes[at as usize];
            let (total, before, last) = (node.total(), node.blank, node.class);
            node.next_blank = add(node.next_blank, total + blank);
            if last > 0 {
                node.next_sign = add(node.next_sign, node.sign + column[last].ln());
            }
            for &(class, log) in signs {
                // A sign after itself needs "nothing" between.
                let from = if class == last { before } else { total };
                if from == f64::NEG_INFINITY {
                    continue;
                }
                if let Some(child) = self.child(at, class) {
                    let child_node = &mut self.nodes[child as usize];
                    child_node.next_sign = add(child_node.next_sign, from + log);
                    reached.push(child);
                }
            }
        }
        reached.sort_unstable();
        reached.dedup();
        self.live = reached;
    }

    /// The text longer by a sign; `None` where the automaton does not go on so.
    fn child(&mut self, at: u32, class: usize) -> Option<u32> {
        let node = &self.nodes[at as usize];
        if let Some((_, child)) = node.children.iter().find(|c| c.0 == class) {
            return Some(*child);
        }
        let state = match (self.codes, node.state) {
            (Some(codes), Some(state)) => Some(codes.step(state, self.glyphs.sign(class)?)?),
            _ => None,
        };
        let child = self.nodes.len() as u32;
        self.nodes.push(Node::new(at, class, state));
        self.nodes[at as usize].children.push((class, child));
        Some(child)
    }

    /// Takes the column over and keeps the best; ties by the order in which texts were met.
    fn prune(&mut self, width: usize) {
        for &at in &self.live {
            let node = &mut self.nodes[at as usize];
            (node.blank, node.sign) = (node.next_blank, node.next_sign);
            (node.next_blank, node.next_sign) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        }
        let mut ranked: Vec<(f64, u32)> = self
            .live
            .iter()
            .map(|&at| (self.nodes[at as usize].total(), at))
            .collect();
        ranked.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        for (_, dropped) in ranked.split_off(width.min(ranked.len())) {
            let node = &mut self.nodes[dropped as usize];
            (node.blank, node.sign) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        }
        self.live = ranked.into_iter().map(|r| r.1).collect();
    }

    fn texts(&self) -> Vec<String> {
        let whole = |at: &u32| match (self.codes, self.nodes[*at as usize].state) {
            (Some(codes), Some(state)) => codes.accepts(state),
            _ => true,
        };
        let kept = self.live.iter().copied().filter(whole);
        kept.take(FINALISTS).map(|at| self.text(at)).collect()
    }

    fn text(&self, mut at: u32) -> String {
        let mut signs = Vec::new();
        while at != NO_NODE {
            let node = &self.nodes[at as usize];
            signs.extend(self.glyphs.sign(node.class));
            at = node.parent;
        }
        signs.iter().rev().map(|&s| char::from(s)).collect()
    }
}
