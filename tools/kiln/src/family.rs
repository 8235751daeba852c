//! The families of a lot: who they belong to, how they differ, what they are printed with.

use crate::artwork::Artwork;
use crate::glaze::InkTone;
use crate::mark::{CodeStyle, Design, SmallMark, Words};
use crate::random::Rng;
use crate::words::{Namer, slug};

/// How the mark is put on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Means {
    Printed,
    Impressed,
    Moulded,
}

#[derive(Clone, Debug)]
pub struct Family {
    pub id: String,
    pub name: String,
    pub design: Design,
    pub ink: InkTone,
    pub dark: bool,
    pub means: Means,
    /// Number of the group of siblings it belongs to.
    pub group: Option<usize>,
    /// Years in which the stamp is said to have been used (EDTF interval).
    pub used: String,
    /// The pair of sibling photos is told apart by this family's own parts.
    pub in_library: bool,
}

/// Shares of the families of a lot.
pub const IN_GROUPS: f32 = 0.4;
const DARK: f32 = 0.08;
const RELIEF: f32 = 0.08;

/// All families of a lot, those of the library first.
pub struct Families {
    pub known: Vec<Family>,
    pub siblings: Vec<Family>,
    pub strangers: Vec<Family>,
}

pub fn invent(
    artwork: &Artwork,
    known: usize,
    siblings: usize,
    strangers: usize,
    root: &Rng,
) -> Families {
    let mut rng = root.fork("families", 0);
    let mut namer = Namer::new(artwork.words.clone());
    let mut out = Families {
        known: Vec::new(),
        siblings: Vec::new(),
        strangers: Vec::new(),
    };
    let mut heads: Vec<Family> = Vec::new();
    let grouped = (known as f32 * IN_GROUPS) as usize;
    while out.known.len() + 1 < grouped {
        let head = single(artwork, &mut namer, &mut rng, Some(heads.len()));
        let size = (2 + rng.weighted(&[3.0, 3.0, 2.0, 1.0])).min(known - out.known.len());
        let by_sign = rng.chance(0.18);
        for k in 0..size {
            out.known
                .push(member(&head, k, by_sign, &mut namer, &mut rng));
        }
        heads.push(head);
    }
    while out.known.len() < known {
        let f = single(artwork, &mut namer, &mut rng, None);
        out.known.push(f);
    }
    for k in 0..siblings {
        let Some(head) = heads.get(k % heads.len().max(1)) else {
            break;
        };
        let mut f = member(head, 1, false, &mut namer, &mut rng);
        f.in_library = false;
        out.siblings.push(f);
    }
    for _ in 0..strangers {
        let mut f = single(artwork, &mut namer, &mut rng, None);
        f.in_library = false;
        out.strangers.push(f);
    }
    out
}

fn country(namer: &Namer, rng: &mut Rng) -> String {
    if rng.chance(0.5) {
        namer.extra(rng)
    } else {
        namer.place(rng)
    }
}

pub fn single(artwork: &Artwork, namer: &mut Namer, rng: &mut Rng, group: Option<usize>) -> Family {
    let maker = namer.maker(rng);
    let line = namer.line(&maker, rng);
    let country = country(namer, rng);
    let words = Words {
        maker: maker.clone(),
        line: line.clone(),
        country,
    };
    let mut design = Design::draw_from(artwork, rng, words);
    let dark = rng.chance(DARK);
    let means = match rng.unit() {
        u if u < RELIEF / 2.0 => Means::Impressed,
        u if u < RELIEF => Means::Moulded,
        _ => Means::Printed,
    };
    let ink = match means {
        Means::Printed if dark => InkTone::on_dark(rng),
        Means::Printed => InkTone::on_light(rng),
        _ => InkTone::None,
    };
    let from = 1890 + rng.below(80);
    let to = from + 4 + rng.below(25);
    design.years = (from as u16, to as u16);
    Family {
        id: format!("{}/{}", slug(&maker), slug(&line)),
        name: format!("{maker} {line}"),
        design,
        ink,
        dark: dark && means == Means::Printed,
        means,
        group,
        used: format!("{from}/{to}"),
        in_library: true,
    }
}

/// The `k`th member of a group: the head itself, then marks that differ in the line, in one word
/// of it, or in a small sign.
fn member(head: &Family, k: usize, by_sign: bool, namer: &mut Namer, rng: &mut Rng) -> Family {
    let mut f = head.clone();
    let maker = head.design.maker.clone();
    if by_sign {
        f.design.small = if head.design.seed.is_multiple_of(2) {
            SmallMark::Dots(1 + k as u8)
        } else {
            SmallMark::Letter(char::from(b'A' + (k as u8 * 5) % 26))
        };
        f.design.code = CodeStyle::None;
        f.id = format!(
            "{}-{}",
            head.id,
            ["first", "second", "third", "fourth", "fifth"][k % 5]
        );
        return f;
    }
    if k > 0 {
        let fresh = namer.line(&maker, rng);
        let one_word = head.design.line.split_once(' ').zip(fresh.split_once(' '));
        f.design.line = match one_word {
            Some(((first, _), (_, last)))
                if rng.chance(0.4) && !head.design.line.ends_with(last) =>
            {
                format!("{first} {last}")
            }
            _ => fresh.clone(),
        };
        f.id = format!("{}/{}", slug(&maker), slug(&fresh));
        f.name = format!("{maker} {}", f.design.line);
    }
    f
}

impl Family {
    /// Which mark this is. A mark outside the library is called by what it says: two that were drawn apart
    /// and came out the same are one.
    pub fn design_name(&self) -> String {
        match (self.in_library, self.group) {
            (true, _) => self.id.clone(),
            (false, Some(group)) => format!("sibling {group}: {}", self.name),
            (false, None) => format!("stranger: {}", self.name),
        }
    }

    /// Turns the mark into one pressed into or raised from the clay, without ink.
    pub fn press(&mut self, rng: &mut Rng) {
        self.means = if rng.chance(0.6) {
            Means::Impressed
        } else {
            Means::Moulded
        };
        self.ink = InkTone::None;
        self.dark = false;
    }
}
