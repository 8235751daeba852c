//! A family made of marks that the library did not know.

use super::gathered::{Gathered, Stranger, crops, straight};
use super::opened::{Opened, now};
use crate::decision::ContentHash;
use crate::failure::Failure;
use crate::geometry::{Photo, Quad};
use crate::library::FamilyId;
use crate::library::change::{self, Content, NewExemplar};
use crate::report::{file_stem, frame};
use crate::strangers::{Group, exemplars, turned};
use crate::workspace::KeptCrop;

/// JPEG quality of exemplars that had to be turned: as that of the kept crops.
const EXEMPLAR_QUALITY: u8 = 92;

/// A mark that becomes an exemplar.
pub(crate) struct Chosen {
    pub(crate) photo: ContentHash,
    pub(crate) name: String,
    pub(crate) lot: String,
    pub(crate) mark: usize,
    pub(crate) crop: (KeptCrop, Quad<Photo>),
    /// Radians by which its picture is to be turned clockwise to lie like the first one's.
    pub(crate) turn: f64,
    /// The photo is the person's own.
    pub(crate) is_own: bool,
}

/// Makes a family of marks that a person picked from the strangers: the best of them become its exemplars.
/// Gives how many. Nothing is decided here.
pub(crate) fn write_of_strangers(
    opened: &Opened,
    id: &FamilyId,
    name: &str,
    picked: &[(ContentHash, usize)],
    turn: f64,
) -> Result<usize, Failure> {
    change::new_family(&opened.library, id, "", Vec::new())?;
    let Ok(gathered) = Gathered::kept(opened)? else {
        let why = "the unknown marks have changed since they were compared";
        return Err(Failure::new(&why, Some("compare them again".to_owned())));
    };
    let is_picked = |at: usize| {
        let m = &gathered.marks[at];
        picked
            .iter()
            .any(|(p, mark)| m.photo == *p && m.mark == *mark)
    };
    // How pictures are turned to one another is known within a group: exemplars come from the largest part.
    let parts = gathered.grouping.groups.iter().map(|g| {
        let own = (0..g.marks.len()).filter(|&at| is_picked(g.marks[at]));
        let own: Vec<usize> = own.collect();
        Group {
            marks: own.iter().map(|&at| g.marks[at]).collect(),
            turns: own.iter().map(|&at| g.turns[at]).collect(),
            ties: own.iter().map(|&at| g.ties[at]).collect(),
        }
    });
    let of = parts
        .rev()
        .max_by_key(|g| g.marks.len())
        .filter(|g| !g.marks.is_empty());
    let Some(of) = of else {
        return Err(Failure::new(
            &"none of these marks is among the strangers any more",
            None,
        ));
    };
    let mut chosen = chosen_of(opened, &gathered, &of)?;
    let first = chosen.first().map_or(0.0, |c| c.turn);
    chosen.iter_mut().for_each(|c| c.turn -= first);
    let pictures = chosen.iter().map(|c| picture(c, turn.to_radians()));
    let pictures = pictures
        .collect::<Option<Vec<NewExemplar>>>()
        .ok_or_else(|| Failure::new(&"a kept crop cannot be read", Some(anew())))?;
    let draft = change::new_family(&opened.library, id, name, pictures)?;
    change::carry_out(&opened.workspace.library(), draft, &now().to_string())?;
    Ok(chosen.len())
}

pub(crate) fn anew() -> String {
    "run the intake of its folder again".to_owned()
}

/// How the picture of a mark is turned to lie like the first one of its group.
pub(crate) fn turn_of(gathered: &Gathered, photo: &ContentHash, mark: usize) -> f64 {
    let own = |m: &Stranger| m.photo == *photo && m.mark == mark;
    let Some(at) = gathered.marks.iter().position(own) else {
        return 0.0;
    };
    let groups = gathered.grouping.groups.iter();
    let turns = groups.flat_map(|g| g.marks.iter().zip(&g.turns));
    turns
        .filter(|(m, _)| **m == at)
        .map(|(_, turn)| *turn)
        .sum()
}

/// The best marks of a group, with their pictures.
pub(crate) fn chosen_of(
    opened: &Opened,
    gathered: &Gathered,
    group: &Group,
) -> Result<Vec<Chosen>, Failure> {
    let blurs: Vec<Option<f64>> = group
        .marks
        .iter()
        .map(|&m| gathered.marks[m].blur)
        .collect();
    let best = exemplars(group, &gathered.pairs, &blurs);
    let strangers: Vec<&Stranger> = best.iter().map(|&m| &gathered.marks[m]).collect();
    let kept: Vec<Option<_>> = crops(opened, strangers.iter().copied()).collect();
    let chosen = strangers.iter().zip(kept).map(|(s, crop)| {
        let why = || {
            Failure::new(
                &format!("no picture of the mark in {} is kept", s.name),
                Some(anew()),
            )
        };
        Ok(Chosen {
            is_own: opened.is_own(&s.photo)?,
            photo: s.photo.clone(),
            name: s.name.clone(),
            lot: s.lot.clone(),
            mark: s.mark,
            crop: crop.ok_or_else(why)?,
            turn: turn_of(gathered, &s.photo, s.mark),
        })
    });
    chosen.collect()
}

/// The exemplar's picture: the kept crop as it is, or turned.
pub(crate) fn picture(chosen: &Chosen, turn: f64) -> Option<NewExemplar> {
    let (upright, quad) = straight(&chosen.crop)?;
    let made = turned(&upright.pixels, &quad, turn + chosen.turn);
    let bytes = match made.pixels.dimensions() == upright.pixels.dimensions() && made.quad == quad {
        true => chosen.crop.0.jpeg.clone(),
        false => frame::jpeg(&made.pixels, EXEMPLAR_QUALITY)?,
    };
    let stem = chosen
        .name
        .rsplit_once('.')
        .map_or(chosen.name.as_str(), |n| n.0);
    let whose = match chosen.is_own {
        true => "own photo",
        false => "photo of somebody else's",
    };
    Some(NewExemplar {
        file: format!("{}.jpg", file_stem(stem)),
        content: Content::Bytes(bytes),
        quad: Some(made.quad),
        source: Some(format!("{whose} {}, {}", chosen.name, chosen.lot)),
        photo: Some(chosen.photo.to_string()),
    })
}
