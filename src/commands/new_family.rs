//! `library new`: a family made of marks that the library did not know.

use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use clap::Args;

use super::gathered::{Gathered, Stranger, as_taken, crops, told};
use super::intake::Bar;
use super::match_again::match_again;
use super::opened::{Opened, Remarks, now};
use super::subject::{Subject, Whole};
use super::{Failure, Outcome, print};
use crate::decision::{Certainty, ContentHash, Statement, Topic};
use crate::geometry::Quad;
use crate::library::FamilyId;
use crate::library::change::{self, NewExemplar};
pub(super) use crate::service::new_family::{Chosen, picture};
use crate::service::new_family::{anew, chosen_of, turn_of};
use crate::workspace::{Said, readable, readable_path};

/// What `library new` is asked to do.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  footring library new mill-lane/crown --from lusab-babad\n      A family of the group that `footring strangers` calls so, from its best picture."
)]
pub(super) struct NewArgs {
    /// The new family: MAKER/MARK, two folder names; the maker `unattributed` where nobody knows it
    #[arg(value_name = "ID")]
    id: String,

    /// A group that `footring strangers` told, or photos: a path, a file name in a lot, the first digits of
    /// a hash
    #[arg(long, value_name = "GROUP|PHOTO", required = true, num_args = 1..)]
    from: Vec<PathBuf>,

    /// Decide every mark of the groups, not only those whose pictures become exemplars
    #[arg(long)]
    whole: bool,

    /// What to call the mark [default: the second name of the id]
    #[arg(long, value_name = "NAME")]
    name: Option<String>,

    /// By how many degrees the picture is to be turned clockwise to be read, from how `strangers --html` shows the group
    /// or how the photo was taken
    #[arg(
        long,
        value_name = "DEGREES",
        default_value = "0",
        allow_negative_numbers = true
    )]
    turn: f64,

    /// The workspace [default: the nearest one from the current folder upward]
    #[arg(long, value_name = "DIR")]
    workspace: Option<PathBuf>,

    /// Photos worked on at the same time [default: one a core]
    #[arg(long, value_name = "N")]
    jobs: Option<NonZeroUsize>,
}

pub(super) fn run(args: &NewArgs) -> Result<Outcome, Failure> {
    let mut opened = Opened::new(args.workspace.as_deref(), Remarks::Errors)?;
    let id = FamilyId::parse(&args.id).map_err(|e| Failure::new(&e, None))?;
    change::new_family(&opened.library, &id, "", Vec::new())?;
    if !args.turn.is_finite() {
        return Err(Failure::new(&"--turn is no number of degrees", None));
    }
    let jobs = super::intake::jobs(args.jobs);
    let (chosen, others) = chosen(&mut opened, &args.from, jobs)?;
    let name = args.name.clone().unwrap_or_else(|| id.plain_name());
    let pictures = chosen
        .iter()
        .map(|c| picture(c, args.turn.to_radians()))
        .collect::<Option<Vec<NewExemplar>>>()
        .ok_or_else(|| Failure::new(&"a kept crop cannot be read", Some(anew())))?;
    let draft = change::new_family(&opened.library, &id, &name, pictures)?;
    let root = opened.workspace.library();
    change::carry_out(&root, draft, &now().to_string())?;
    let folder = id.folder(&root);
    print(|out| {
        writeln!(
            out,
            "{id}: {} in {}",
            exemplars_word(chosen.len()),
            readable_path(&folder)
        )
    })?;
    for one in &chosen {
        decide(&mut opened, &one.photo, one.mark, &id, ", as its exemplar")?;
    }
    for (photo, mark) in others.iter().filter(|_| args.whole) {
        decide(&mut opened, photo, *mark, &id, "")?;
    }
    drop(opened);
    let own = chosen.into_iter().map(|c| c.photo).collect();
    match_again(args.workspace.as_deref(), Some(&id), &own, jobs)
}

pub(super) fn exemplars_word(count: usize) -> String {
    match count {
        1 => "1 exemplar".to_owned(),
        n => format!("{n} exemplars"),
    }
}

/// A mark of a photo, counted from 0.
type Place = (ContentHash, usize);

/// The marks that become exemplars: the best of a group, and every photo that was named. And the other marks of the
/// groups.
fn chosen(
    opened: &mut Opened,
    from: &[PathBuf],
    jobs: usize,
) -> Result<(Vec<Chosen>, Vec<Place>), Failure> {
    let named: Vec<Option<ContentHash>> = from
        .iter()
        .map(|text| opened.workspace.find_photo(text).ok())
        .collect();
    // A single photo needs no groups; of several, the groups tell how they are turned to one another.
    let is_group = named.first().is_some_and(Option::is_none);
    let lone = from.len() == 1 && !is_group;
    let gathered = match lone {
        true => None,
        false => Some(Gathered::watched(opened, &[], jobs, &Bar::new())?),
    };
    let mut found: Vec<Chosen> = Vec::new();
    let mut grouped: Vec<Place> = Vec::new();
    for (text, photo) in from.iter().zip(named) {
        let more = match photo {
            Some(photo) => vec![of_photo(opened, gathered.as_ref(), photo)?],
            None => {
                let (more, marks) = of_group(opened, gathered.as_ref(), text)?;
                grouped.extend(marks);
                more
            }
        };
        for one in more {
            if !found
                .iter()
                .any(|c| c.photo == one.photo && c.mark == one.mark)
            {
                found.push(one);
            }
        }
    }
    // The first picture lies as it was taken, those of a group as its first mark was; the others like that one.
    let by_group = gathered.as_ref().filter(|_| is_group);
    if let Some(first) = found.first() {
        let taken = match by_group.and_then(|g| first_of_group(g, first)) {
            Some(leader) => {
                let crop = crops(opened, [leader]).next().flatten();
                crop.map_or(0.0, |(crop, _)| as_taken(&crop))
            }
            None => as_taken(&first.crop.0) - first.turn,
        };
        found.iter_mut().for_each(|c| c.turn += taken);
    }
    grouped.retain(|(photo, mark)| !found.iter().any(|c| c.photo == *photo && c.mark == *mark));
    Ok((found, grouped))
}

/// The earliest mark of the group that a mark belongs to.
fn first_of_group<'g>(gathered: &'g Gathered, one: &Chosen) -> Option<&'g Stranger> {
    let is_it = |m: &Stranger| m.photo == one.photo && m.mark == one.mark;
    let of = |marks: &[usize]| marks.iter().any(|&m| is_it(&gathered.marks[m]));
    let group = gathered.grouping.groups.iter().find(|g| of(&g.marks))?;
    Some(&gathered.marks[group.marks[0]])
}

fn of_photo(
    opened: &Opened,
    gathered: Option<&Gathered>,
    photo: ContentHash,
) -> Result<Chosen, Failure> {
    let subject = Subject::of(opened, photo.clone())?;
    let mark = match subject.marks.len() {
        1 => 0,
        0 => {
            let why = format!("no mark was found in {}", subject.name);
            let next = format!("copy the photo itself into {}", folder_to_fill(opened));
            return Err(Failure::new(&why, Some(next)));
        }
        found => {
            let why = format!(
                "{} has {found} marks, and it is not said which one",
                subject.name
            );
            let next = opened.command(&["strangers"]);
            return Err(Failure::new(
                &why,
                Some(format!("name its group as told by {next}")),
            ));
        }
    };
    let crop = opened.cache.crop(&photo, mark)?;
    let crop = crop.ok_or_else(|| {
        let why = format!("no picture of the mark in {} is kept", subject.name);
        Failure::new(&why, Some(anew()))
    })?;
    let lots = opened.workspace.sightings_of(&photo)?;
    Ok(Chosen {
        is_own: opened.is_own(&photo)?,
        turn: gathered.map_or(0.0, |g| turn_of(g, &photo, mark)),
        lot: lots.first().map(|s| readable(&s.lot)).unwrap_or_default(),
        crop: (crop, Quad::from_array(subject.marks[mark].quad)),
        name: subject.name,
        photo,
        mark,
    })
}

fn folder_to_fill(opened: &Opened) -> String {
    let folder = opened.workspace.library().join("MAKER").join("MARK");
    readable_path(&folder)
}

fn of_group(
    opened: &Opened,
    gathered: Option<&Gathered>,
    text: &Path,
) -> Result<(Vec<Chosen>, Vec<Place>), Failure> {
    let shown = readable_path(text);
    let groups = gathered.map(|g| (g, g.called(&text.to_string_lossy())));
    let (gathered, group) = match groups {
        Some((gathered, groups)) if groups.len() == 1 => (gathered, groups[0]),
        Some((gathered, groups)) if groups.len() > 1 => {
            let why = format!(
                "several groups begin with `{shown}`: {}",
                told(gathered, &groups)
            );
            return Err(Failure::new(&why, Some("give the whole name".to_owned())));
        }
        _ => {
            let why = format!("`{shown}` is neither a group of unknown marks nor a photo of a lot");
            let next = format!("{} lists the groups", opened.command(&["strangers"]));
            return Err(Failure::new(&why, Some(next)));
        }
    };
    let group = &gathered.grouping.groups[group];
    let marks = group.marks.iter().map(|&at| &gathered.marks[at]);
    let marks = marks.map(|m| (m.photo.clone(), m.mark)).collect();
    Ok((chosen_of(opened, gathered, group)?, marks))
}

/// Making a family of a photo says that the photo shows it.
fn decide(
    opened: &mut Opened,
    photo: &ContentHash,
    mark: usize,
    id: &FamilyId,
    more: &str,
) -> Result<(), Failure> {
    let subject = Subject::of(opened, photo.clone())?;
    let (own, attachment) = subject.own();
    let mark = NonZeroUsize::MIN.saturating_add(mark);
    let about = subject.about(Some(mark), Whole::OnlyWithoutMarks)?;
    let before = subject.replaced(&about, &Topic::Identity, &own, &attachment);
    let said = Said {
        about,
        statement: Statement::Family(id.to_string()),
        certainty: Certainty::Sure,
        replaces: before.map(|d| d.number),
    };
    let decision = opened.workspace.decide(now(), said)?;
    subject.tell(&decision, more)
}
