//! Bringing decisions back to the marks they were made about.
//!
//! A decision remembers where its mark lay. When the photo is looked at again, by a later version
//! or with another library, the marks found may lie a little differently, or not be found at all.

use super::{About, Decision, Topic};
use crate::geometry::{Photo, Quad};

/// Smallest overlap (intersection over union, 0 to 1) at which a region found again is still the
/// same mark. Two marks of one base lie apart and overlap by 0; a mark found again with a code
/// line added or lost, or turned by 45 degrees about its centre, keeps 0.4 or more (a square
/// against itself turned by 45 degrees has 0.71, one grown to two and a half times its area 0.4).
/// A third leaves room below that.
pub const MIN_OVERLAP: f64 = 0.33;

/// Decisions that hold for one photo, sorted to the marks found in it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Attachment {
    /// Numbers of the decisions attached to each mark, parallel to the marks.
    pub of_mark: Vec<Vec<i64>>,
    /// Numbers of the decisions about the photo as a whole.
    pub of_photo: Vec<i64>,
    /// Numbers of the decisions whose mark was not found again. They stay and are listed.
    pub unattached: Vec<i64>,
}

impl Attachment {
    /// The decision on `topic` that counts for a mark: the later of its own and the whole photo's.
    pub fn of_mark_on<'a>(
        &self,
        mark: usize,
        topic: &Topic,
        holding: &[&'a Decision],
    ) -> Option<&'a Decision> {
        let own = self.of_mark.get(mark).map_or(&[][..], Vec::as_slice);
        latest_on(topic, own.iter().chain(&self.of_photo), holding)
    }

    /// The decision on `topic` about the photo as a whole.
    pub fn of_photo_on<'a>(&self, topic: &Topic, holding: &[&'a Decision]) -> Option<&'a Decision> {
        latest_on(topic, self.of_photo.iter(), holding)
    }
}

fn latest_on<'a, 'n>(
    topic: &Topic,
    numbers: impl Iterator<Item = &'n i64>,
    holding: &[&'a Decision],
) -> Option<&'a Decision> {
    let numbers: Vec<i64> = numbers.copied().collect();
    holding
        .iter()
        .copied()
        .filter(|d| numbers.contains(&d.number) && d.statement.topic().as_ref() == Some(topic))
        .max_by_key(|d| d.number)
}

/// Sorts the decisions that hold for one photo to the `marks` found in it. Per topic each mark
/// takes at most one decision and each decision goes to at most one mark, best overlap first,
/// ties to the later decision. Decisions about pieces are left out.
pub fn attach(holding: &[&Decision], marks: &[Quad<Photo>]) -> Attachment {
    let mut attachment = Attachment {
        of_mark: vec![Vec::new(); marks.len()],
        ..Attachment::default()
    };
    let mut pairs: Vec<(f64, i64, usize, Option<Topic>)> = Vec::new();
    let mut loose: Vec<i64> = Vec::new();
    for decision in holding {
        match &decision.about {
            About::Piece(_) => {}
            About::Photo(_) => attachment.of_photo.push(decision.number),
            About::Mark(_, region) => {
                loose.push(decision.number);
                for (at, mark) in marks.iter().enumerate() {
                    let overlap = region.quad().overlap(mark);
                    if overlap >= MIN_OVERLAP {
                        let topic = decision.statement.topic();
                        pairs.push((overlap, decision.number, at, topic));
                    }
                }
            }
        }
    }
    pairs.sort_by(|a, b| b.0.total_cmp(&a.0).then(b.1.cmp(&a.1)).then(a.2.cmp(&b.2)));
    let mut taken: Vec<(usize, Option<Topic>)> = Vec::new();
    for (_, number, at, topic) in pairs {
        let slot = (at, topic);
        if loose.contains(&number) && !taken.contains(&slot) {
            loose.retain(|&n| n != number);
            attachment.of_mark[at].push(number);
            taken.push(slot);
        }
    }
    for numbers in &mut attachment.of_mark {
        numbers.sort_unstable();
    }
    attachment.unattached = loose;
    attachment
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decision::{Certainty, ContentHash, Moment, Region, Statement};

    fn about(number: i64, region: Option<Quad<Photo>>) -> Decision {
        let photo = ContentHash::of(b"photo");
        Decision {
            number,
            time: Moment::new(jiff::Timestamp::UNIX_EPOCH),
            about: match region {
                Some(quad) => About::Mark(photo, Region::new(&quad)),
                None => About::Photo(photo),
            },
            statement: Statement::Family("mill/crown".into()),
            certainty: Certainty::Sure,
            replaces: None,
        }
    }

    fn square(x: f64) -> Quad<Photo> {
        Quad::upright(x, 0.0, x + 100.0, 100.0)
    }

    #[test]
    fn a_mark_found_a_little_differently_keeps_its_decision() {
        let one = about(1, Some(square(0.0)));
        let two = about(2, Some(square(500.0)));
        let found = [square(520.0), Quad::upright(-5.0, -5.0, 110.0, 190.0)];
        let attachment = attach(&[&one, &two], &found);
        assert_eq!(attachment.of_mark, [vec![2], vec![1]]);
        assert!(attachment.unattached.is_empty());
    }

    #[test]
    fn a_mark_read_upside_down_is_the_same_mark() {
        let one = about(1, Some(square(0.0)));
        let [a, b, c, d] = square(0.0).0;
        assert_eq!(attach(&[&one], &[Quad([c, d, a, b])]).of_mark, [vec![1]]);
    }

    #[test]
    fn a_mark_that_is_gone_leaves_its_decision_listed() {
        let one = about(1, Some(square(0.0)));
        let attachment = attach(&[&one], &[square(300.0)]);
        assert_eq!(attachment.unattached, [1]);
        assert_eq!(attachment.of_mark, [Vec::<i64>::new()]);
    }

    #[test]
    fn one_mark_takes_one_decision_of_a_topic() {
        let near = about(1, Some(square(5.0)));
        let nearer = about(2, Some(square(2.0)));
        let attachment = attach(&[&near, &nearer], &[square(0.0)]);
        assert_eq!(attachment.of_mark, [vec![2]]);
        assert_eq!(attachment.unattached, [1]);
    }

    #[test]
    fn the_later_of_mark_and_photo_counts() {
        let mark = about(1, Some(square(0.0)));
        let whole = about(2, None);
        let holding = [&mark, &whole];
        let attachment = attach(&holding, &[square(0.0)]);
        let counts = attachment.of_mark_on(0, &Topic::Identity, &holding);
        assert_eq!(counts.map(|d| d.number), Some(2));
        let of_photo = attachment.of_photo_on(&Topic::Identity, &holding);
        assert_eq!(of_photo.map(|d| d.number), Some(2));
    }
}
