//! Pairs of marks to groups.

use std::collections::{BTreeMap, BTreeSet};

use super::pair::Pair;

/// Mean log-odds (natural) over the pairs of two groups from which they are one group. On four seasons of tune (seeds 60
/// to 63, easy and medium), each judged by weights fitted to the others: B-cubed precision and recall 0.992 and 0.867
/// here, 0.993 and 0.855 at 0.5, 0.993 and 0.837 at 0.8. Where a third of all marks are siblings (seed 46) 0.920 and 0.897.
pub const TOGETHER_AT: f64 = 0.3;
/// The same from which they are perhaps one and shown side by side: a choice, so that a person need not look at many.
pub const PERHAPS_AT: f64 = -1.0;
/// What a pair counts that would have been compared if both were one mark, and was not: others were likelier.
/// Between -1 and -3 the tune lots do not care.
const UNCOMPARED: f64 = -2.0;
/// A mark that is surely one with so many others has no room for the rest of a large group: each is laid over six
/// others at first, and over more only where none convinces.
const CROWD: usize = 4;

/// Marks that are one mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Their indices, ascending.
    pub marks: Vec<usize>,
    /// Parallel to them: radians by which each picture is to be turned clockwise to lie like the first.
    pub turns: Vec<f64>,
    /// Parallel to them: mean log-odds with the others it was compared with; 0 for a mark alone.
    pub ties: Vec<f64>,
}

/// Two groups that are perhaps one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Perhaps {
    /// Indices of groups, the smaller first.
    pub groups: (usize, usize),
    /// Mean log-odds (natural) over their pairs.
    pub log_odds: f64,
    /// Radians by which the second one's first mark is to be turned clockwise to lie like the first one's.
    pub turn: f64,
}

/// All marks, sorted into groups.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Grouping {
    /// Largest first, then by the first mark. Marks alone are groups of one.
    pub groups: Vec<Group>,
    /// Likeliest first.
    pub perhaps: Vec<Perhaps>,
}

/// Groups `count` marks by average linkage (Sokal and Michener 1958) over the log-odds of `pairs`, ties by
/// index.
pub fn group(count: usize, pairs: &[Pair]) -> Grouping {
    let mut links = Links::new(count, pairs);
    while let Some((kept, gone)) = links.closest() {
        links.merge(kept, gone);
    }
    let found = links.clusters.iter().map(|(&c, of)| (c, of.marks.clone()));
    let mut clusters: Vec<(usize, Vec<usize>)> = found.collect();
    clusters.sort_by(|a, b| b.1.len().cmp(&a.1.len()).then_with(|| a.1.cmp(&b.1)));
    let place: BTreeMap<usize, usize> = clusters
        .iter()
        .enumerate()
        .map(|(at, (cluster, _))| (*cluster, at))
        .collect();
    let mut perhaps: Vec<Perhaps> = links
        .all()
        .filter(|(_, log_odds)| *log_odds >= PERHAPS_AT)
        .map(|((a, b), log_odds)| {
            let (a, b) = (place[&a], place[&b]);
            Perhaps {
                groups: (a.min(b), a.max(b)),
                log_odds,
                turn: 0.0,
            }
        })
        .collect();
    perhaps.sort_by(|a, b| {
        b.log_odds
            .total_cmp(&a.log_odds)
            .then(a.groups.cmp(&b.groups))
    });
    let groups = clusters.into_iter().map(|(_, marks)| whole(marks, pairs));
    let groups: Vec<Group> = groups.collect();
    for link in &mut perhaps {
        link.turn = turn_between(&groups[link.groups.0], &groups[link.groups.1], pairs);
    }
    Grouping { groups, perhaps }
}

/// The pairs between two clusters.
#[derive(Debug, Clone, Copy, Default)]
struct Link {
    /// Sum and number of their log-odds.
    sum: f64,
    number: usize,
    /// How many of them are between two marks in a crowd.
    crowded: usize,
}

impl Link {
    fn with(self, other: Self) -> Self {
        Self {
            sum: self.sum + other.sum,
            number: self.number + other.number,
            crowded: self.crowded + other.crowded,
        }
    }
}

/// A cluster's members, and how many of them are in a crowd.
#[derive(Debug, Clone, Default)]
struct Cluster {
    marks: Vec<usize>,
    crowded: usize,
}

/// Clusters, by their smallest mark, and the links between them, both ways round.
struct Links {
    clusters: BTreeMap<usize, Cluster>,
    between: Vec<BTreeMap<usize, Link>>,
}

impl Links {
    fn new(count: usize, pairs: &[Pair]) -> Self {
        let mut sure = vec![0; count];
        for p in pairs.iter().filter(|p| p.log_odds >= TOGETHER_AT) {
            sure[p.a] += 1;
            sure[p.b] += 1;
        }
        let crowded = |mark: usize| usize::from(sure[mark] >= CROWD);
        let mut between = vec![BTreeMap::new(); count];
        for p in pairs {
            let link = Link {
                sum: p.log_odds,
                number: 1,
                crowded: crowded(p.a) * crowded(p.b),
            };
            between[p.a].insert(p.b, link);
            between[p.b].insert(p.a, link);
        }
        let alone = |mark: usize| Cluster {
            marks: vec![mark],
            crowded: crowded(mark),
        };
        Self {
            clusters: (0..count).map(|mark| (mark, alone(mark))).collect(),
            between,
        }
    }

    /// Clusters with a pair between them, the smaller first, and their mean log-odds.
    fn all(&self) -> impl Iterator<Item = ((usize, usize), f64)> {
        self.clusters.keys().flat_map(move |&a| {
            let after = self.between[a].range(a + 1..);
            after.map(move |(&b, link)| ((a, b), self.mean(a, b, link)))
        })
    }

    /// The mean over the pairs, and over those that would have been compared were all one mark.
    fn mean(&self, a: usize, b: usize, link: &Link) -> f64 {
        let (a, b) = (&self.clusters[&a], &self.clusters[&b]);
        let wanted = a.marks.len() * b.marks.len() - a.crowded * b.crowded;
        let missed = wanted.saturating_sub(link.number - link.crowded) as f64;
        (link.sum + UNCOMPARED * missed) / (link.number as f64 + missed)
    }

    /// The two clusters to merge next.
    fn closest(&self) -> Option<(usize, usize)> {
        let near = self.all().filter(|(_, log_odds)| *log_odds >= TOGETHER_AT);
        // The first of equals: `max_by` would take the last.
        let best = near.reduce(|best, next| match next.1 > best.1 {
            true => next,
            false => best,
        });
        best.map(|(clusters, _)| clusters)
    }

    fn merge(&mut self, kept: usize, gone: usize) {
        let moved = self.clusters.remove(&gone).unwrap_or_default();
        let own = self.clusters.entry(kept).or_default();
        own.marks.extend(moved.marks);
        own.marks.sort_unstable();
        own.crowded += moved.crowded;
        for (other, link) in std::mem::take(&mut self.between[gone]) {
            self.between[other].remove(&gone);
            if other == kept {
                continue;
            }
            for (from, to) in [(kept, other), (other, kept)] {
                let joined = self.between[from].entry(to).or_default();
                *joined = joined.with(link);
            }
        }
    }
}

/// How the first mark of `b` is to be turned to lie like that of `a`, by the strongest pair between the two.
fn turn_between(a: &Group, b: &Group, pairs: &[Pair]) -> f64 {
    let turn_in = |group: &Group, mark: usize| {
        let at = group.marks.iter().position(|&m| m == mark);
        at.map(|at| group.turns[at])
    };
    let between = pairs.iter().filter_map(|p| {
        // How the mark of `b` is turned to lie like that of `a`, and how each is turned in its group.
        let (turn, in_a, in_b) = match (turn_in(a, p.a), turn_in(b, p.b)) {
            (Some(in_a), Some(in_b)) => (-p.turn, in_a, in_b),
            _ => (p.turn, turn_in(a, p.b)?, turn_in(b, p.a)?),
        };
        Some((p.log_odds, turn + in_a - in_b))
    });
    let strongest = between.max_by(|x, y| x.0.total_cmp(&y.0));
    strongest.map_or(0.0, |(_, turn)| turn)
}

/// A group with its turns, carried along the strongest pairs (Prim 1957), and its ties.
fn whole(marks: Vec<usize>, pairs: &[Pair]) -> Group {
    let inside: Vec<&Pair> = pairs
        .iter()
        .filter(|p| marks.contains(&p.a) && marks.contains(&p.b))
        .collect();
    let mut turns: BTreeMap<usize, f64> = marks.first().map(|&m| (m, 0.0)).into_iter().collect();
    let mut open: BTreeSet<usize> = marks.iter().skip(1).copied().collect();
    while !open.is_empty() {
        let crossing = inside
            .iter()
            .filter(|p| open.contains(&p.a) != open.contains(&p.b));
        let Some(p) = crossing.max_by(|x, y| x.log_odds.total_cmp(&y.log_odds)) else {
            break;
        };
        // What lies like `b` after a turn lies like the first after that of `b` as well.
        let (new, turn) = match turns.get(&p.b) {
            Some(known) => (p.a, p.turn + known),
            None => (p.b, turns[&p.a] - p.turn),
        };
        turns.insert(new, turn);
        open.remove(&new);
    }
    let tie = |mark: usize| {
        let own = inside.iter().filter(|p| p.a == mark || p.b == mark);
        let odds: Vec<f64> = own.map(|p| p.log_odds).collect();
        odds.iter().sum::<f64>() / odds.len().max(1) as f64
    };
    Group {
        turns: marks
            .iter()
            .map(|m| turns.get(m).copied().unwrap_or(0.0))
            .collect(),
        ties: marks.iter().map(|&m| tie(m)).collect(),
        marks,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(a: usize, b: usize, log_odds: f64) -> Pair {
        Pair {
            a,
            b,
            log_odds,
            turn: 0.0,
        }
    }

    fn members(grouping: &Grouping) -> Vec<Vec<usize>> {
        grouping.groups.iter().map(|g| g.marks.clone()).collect()
    }

    #[test]
    fn the_largest_group_comes_first_and_a_doubtful_link_is_told() {
        let doubtful = (TOGETHER_AT + PERHAPS_AT) / 2.0;
        let all = [
            pair(0, 4, doubtful),
            pair(1, 3, 6.0),
            pair(1, 4, PERHAPS_AT - 1.0),
            pair(2, 5, 5.0),
            pair(3, 6, 4.0),
        ];
        let grouping = group(7, &all);
        assert_eq!(
            members(&grouping),
            [vec![1, 3, 6], vec![2, 5], vec![0], vec![4]]
        );
        let [link] = grouping.perhaps.as_slice() else {
            panic!("{:?}", grouping.perhaps);
        };
        assert_eq!((link.groups, link.log_odds), ((2, 3), doubtful));
    }

    #[test]
    fn one_strong_pair_does_not_join_two_groups_that_others_keep_apart() {
        let strong = TOGETHER_AT + 3.0;
        let all = [
            pair(0, 1, strong + 1.0),
            pair(2, 3, strong + 1.0),
            pair(0, 2, strong),
            pair(0, 3, -6.0),
            pair(1, 2, -6.0),
        ];
        assert_eq!(members(&group(4, &all)), [vec![0, 1], vec![2, 3]]);
    }

    #[test]
    fn a_mark_that_others_were_likelier_than_is_held_back() {
        // 2 was laid over 1 and not over 0, which it would have been were all three one.
        let weak = TOGETHER_AT + 0.5;
        assert_eq!(
            members(&group(3, &[pair(0, 1, 6.0), pair(1, 2, weak)])),
            [vec![0, 1], vec![2]]
        );
        // Among twenty of one mark each has room for six only.
        let ring: Vec<Pair> = (0..20)
            .flat_map(|a| (1..4).map(move |k| pair(a.min((a + k) % 20), a.max((a + k) % 20), 4.0)))
            .collect();
        assert_eq!(group(20, &ring).groups.len(), 1);
    }

    #[test]
    fn nothing_and_marks_alone() {
        assert_eq!(group(0, &[]), Grouping::default());
        assert_eq!(members(&group(2, &[])), [vec![0], vec![1]]);
    }

    #[test]
    fn turns_are_carried_from_mark_to_mark() {
        let mut all = [pair(0, 1, 6.0), pair(1, 2, 5.0)];
        (all[0].turn, all[1].turn) = (0.5, 0.25);
        let found = group(3, &all);
        // 1 lies like 0 after -0.5, and 2 like 1 after -0.25.
        assert_eq!(found.groups[0].turns, [0.0, -0.5, -0.75]);
        let mut doubtful = pair(1, 3, PERHAPS_AT + 2.5);
        doubtful.turn = 0.125;
        let link = group(4, &[all[0], doubtful]).perhaps;
        // 3 lies like 1 after -0.125, and 1 like 0 after -0.5.
        let told: Vec<_> = link.iter().map(|p| (p.groups, p.turn)).collect();
        assert_eq!(told, [((0, 2), -0.625)]);
    }
}
