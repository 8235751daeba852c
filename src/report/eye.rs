//! The page of a lot's marks that need the eye: each made legible, grouped by what is to be done.

use maud::{Markup, PreEscaped, html as markup};

use super::html::{Figure, capitalised, image, page_with, quoted, share};
use super::words::{photos, sign};
use super::{Row, Sheet};
use crate::answer::{MarkAnswer, Verdict};
use crate::workspace::readable;

const STYLE: &str = include_str!("eye.css");

/// What a person has to do with a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Task {
    /// Several families fit.
    Choose,
    /// One fits, and so may its near-twin.
    Twin,
    /// None fits.
    Research,
    /// The photo hides the answer.
    Again,
}

impl Task {
    pub const ALL: [Self; 4] = [Self::Choose, Self::Twin, Self::Research, Self::Again];

    /// What a row asks of the person; `None` where nothing does, or the person has decided.
    pub fn of(sheet: &Sheet, row: &Row) -> Option<Self> {
        let mark = sheet.mark(row).filter(|_| row.decision.is_none())?;
        match mark.verdict {
            Verdict::Choose if mark.twins.is_empty() => Some(Self::Choose),
            Verdict::Choose => Some(Self::Twin),
            Verdict::Unknown => Some(Self::Research),
            Verdict::Reshoot => Some(Self::Again),
            _ => None,
        }
    }

    fn id(self) -> &'static str {
        match self {
            Self::Choose => "choose",
            Self::Twin => "twin",
            Self::Research => "research",
            Self::Again => "again",
        }
    }

    fn heading(self) -> &'static str {
        match self {
            Self::Choose => "Choose one",
            Self::Twin => "Tell from its near-twin",
            Self::Research => "Not in the library",
            Self::Again => "Take again",
        }
    }

    fn says(self) -> &'static str {
        match self {
            Self::Choose => {
                "Several marks of your library may be it. Look where they differ and tick one."
            }
            Self::Twin => {
                "One mark fits, and a known near-twin is not ruled out. Look for the tell."
            }
            Self::Research => {
                "No mark of your library fits. Read what can be read, and research it."
            }
            Self::Again => "Another photo may settle these. Here is what this one shows.",
        }
    }

    fn sign(self) -> &'static str {
        match self {
            Self::Choose | Self::Twin => sign(Verdict::Choose),
            Self::Research => sign(Verdict::Unknown),
            Self::Again => sign(Verdict::Reshoot),
        }
    }
}

/// A family laid beside a mark.
#[derive(Debug, Clone)]
pub struct EyeFamily {
    pub id: String,
    pub exemplar: Figure,
    pub ghost: Figure,
    pub differences: Figure,
    /// Under the differences.
    pub says: String,
}

/// The pictures of a mark.
#[derive(Debug, Clone, Default)]
pub struct EyePictures {
    /// The photo and its ink, each with what stands under it; `None` where nothing is kept of the photo.
    pub alone: Option<[(Figure, String); 2]>,
    pub families: Vec<EyeFamily>,
}

/// A mark that needs the eye.
#[derive(Debug, Clone)]
pub struct EyeRow<'a> {
    pub task: Task,
    pub row: &'a Row,
    pub pictures: EyePictures,
    /// Command lines that keep the person's word, for the families in turn.
    pub commands: Vec<String>,
}

/// What the tints of the pictures mean: a word for the style, and what is said.
pub type Legend<'a> = &'a [(&'static str, &'static str)];

/// The page. `day` is printed as the day of making.
pub fn eye_page(
    sheet: &Sheet,
    rows: &[EyeRow<'_>],
    legend: Legend<'_>,
    notes: &[&str],
    day: &str,
) -> String {
    let of = |task: Task| rows.iter().filter(move |r| r.task == task);
    let head = markup! {
        header {
            h1 { (sheet.lot) ": to look at" }
            p.told {
                (rows.len()) (if rows.len() == 1 { " mark" } else { " marks" })
                " of " (photos(sheet.shots.len())) " · sheet of " (day)
            }
            nav aria-label="What to do" {
                ul {
                    @for task in Task::ALL.into_iter().filter(|t| of(*t).next().is_some()) {
                        li { a href={ "#" (task.id()) } {
                            span.sign aria-hidden="true" { (task.sign()) }
                            span { (task.heading()) } " " b { (of(task).count()) }
                        } }
                    }
                }
            }
        }
    };
    let body = markup! {
        @if rows.is_empty() { p { "Nothing in this lot needs your eye." } }
        @else {
            section.legend {
                ul { @for (word, says) in legend { li { span class={ "tint " (word) } {} (says) } } }
                @for note in notes { p { (note) } }
            }
        }
        @for task in Task::ALL.into_iter().filter(|t| of(*t).next().is_some()) {
            section id=(task.id()) {
                h2 { span.sign aria-hidden="true" { (task.sign()) } (task.heading()) }
                p { (task.says()) }
                @for row in of(task) { (article(sheet, row)) }
            }
        }
    };
    let style = markup! { style { (PreEscaped(STYLE)) } };
    page_with(&format!("{} · to look at", sheet.lot), &style, &head, &body)
}

fn article(sheet: &Sheet, eye: &EyeRow<'_>) -> Markup {
    let (row, shot) = (eye.row, sheet.shot(eye.row));
    markup! {
        article.eye {
            div.pictures {
                @match &eye.pictures.alone {
                    Some(figures) => {
                        @for (figure, says) in figures { (captioned(figure, says)) }
                    }
                    None => { p { "No picture is kept, and the photo is out of reach." } }
                }
                div.says {
                    p.name { (shot.name) }
                    @if let (Some(mark), true) = (row.mark, row.marks_in_photo > 1) {
                        p.file { "mark " (mark + 1) " of " (row.marks_in_photo) }
                    }
                    ul.why {
                        @for reason in sheet.reasons(row) {
                            li { (capitalised(&readable(&reason.text))) }
                        }
                    }
                    @if let Some(mark) = sheet.mark(row) { (twins(sheet, mark)) }
                    p.file { "photo " (row.shot + 1) " of " (sheet.shots.len()) (neighbours(sheet, row)) }
                }
            }
            @for (at, family) in eye.pictures.families.iter().enumerate() {
                (beside(sheet, eye, family, eye.commands.get(at)))
            }
            p.tick { (last_tick(eye.task)) }
        }
    }
}

fn last_tick(task: Task) -> &'static str {
    match task {
        Task::Choose => "☐ none of these\u{2003}☐ I cannot tell",
        Task::Twin => "☐ I cannot tell",
        Task::Research => "☐ it is: ______________________________",
        Task::Again => "☐ taken again",
    }
}

fn beside(sheet: &Sheet, eye: &EyeRow<'_>, family: &EyeFamily, command: Option<&String>) -> Markup {
    let name = readable(&sheet.family_name(&family.id));
    let mark = sheet.mark(eye.row);
    let fitted = mark.and_then(|m| m.candidates.iter().find(|c| c.family == family.id));
    markup! {
        div.beside {
            p.tick {
                "☐ " b { (name) }
                @if let Some(candidate) = fitted { ", " (share(candidate.probability)) }
                @if let Some(command) = command { span.command { " · " code { (command) } } }
            }
            div.pictures {
                (captioned(&family.exemplar, "from your library, laid in the same place"))
                (captioned(&family.ghost, "pale: the library's mark; dark: the photo's ink over it"))
                (captioned(&family.differences, &quoted(&family.says)))
            }
        }
    }
}

/// What tells the first family from those that are taken for it.
fn twins(sheet: &Sheet, mark: &MarkAnswer) -> Markup {
    markup! {
        @for twin in &mark.twins {
            p.yours {
                "Near-twin: " (readable(&sheet.family_name(&twin.family))) ". "
                @match &twin.tell {
                    Some(tell) => { "Look for this: " (readable(tell)) "." }
                    None => { "Your library does not say what tells them apart." }
                }
            }
        }
    }
}

fn captioned(figure: &Figure, says: &str) -> Markup {
    markup! {
        figure {
            div.frame { (image(figure, says)) }
            figcaption { (capitalised(says)) }
        }
    }
}

/// `: after IMG_6.jpg, before IMG_8.jpg`.
fn neighbours(sheet: &Sheet, row: &Row) -> String {
    let name = |at: Option<usize>| at.and_then(|i| sheet.shots.get(i)).map(|s| s.name.as_str());
    let before = name(row.shot.checked_sub(1)).map(|n| format!("after {n}"));
    let after = name(Some(row.shot + 1)).map(|n| format!("before {n}"));
    let both: Vec<String> = before.into_iter().chain(after).collect();
    match both.is_empty() {
        true => String::new(),
        false => format!(": {}", both.join(", ")),
    }
}
