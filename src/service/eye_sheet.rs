//! All marks of a lot that need the eye, made legible on one page to print.

use std::ops::ControlFlow;

use super::legible::{Ground, lay, views};
use super::opened::{Opened, now};
use super::report_page::figure;
use crate::answer::Verdict;
use crate::failure::Failure;
use crate::in_order::in_order;
use crate::library::Library;
use crate::references::References;
use crate::report::{CHOICES_SHOWN, EyeFamily, EyePictures, EyeRow, Row, Sheet, Task, eye_page};
use crate::rescue::words::{NOTES, SAY_INK, Tint, say_differences, say_photo};
use crate::rescue::{Rescue, Size};

/// A family is laid beside a photo that is to be taken again from this probability on.
pub(crate) const WORTH_LAYING: f64 = 0.1;

/// The page, and how many marks are on it.
pub(crate) fn page(
    opened: &Opened,
    sheet: &Sheet,
    references: &References,
    jobs: usize,
) -> Result<(String, usize), Failure> {
    let rows = rows(opened, sheet, references, jobs)?;
    let legend: Vec<(&str, &str)> = Tint::ALL.map(|t| (t.word(), t.says())).to_vec();
    let page = eye_page(sheet, &rows, &legend, &NOTES, &now().day());
    Ok((page, rows.len()))
}

fn rows<'a>(
    opened: &Opened,
    sheet: &'a Sheet,
    references: &References,
    jobs: usize,
) -> Result<Vec<EyeRow<'a>>, Failure> {
    let wanted = sheet
        .rows
        .iter()
        .filter_map(|row| Some((Task::of(sheet, row)?, row)));
    // Only this thread reads the cache: what is kept of a photo comes before the photo, as it is smaller.
    let work = wanted.map(|(task, row)| {
        let ground = Ground::kept(opened, &sheet.shot(row).hash, row.mark);
        (task, row, ground)
    });
    let library = &opened.library;
    let make = |(task, row, ground): (Task, &'a Row, Option<Ground>)| {
        let made = ground.map(|g| pictures(sheet, library, references, task, row, &g));
        (task, row, made.unwrap_or_default())
    };
    let mut rows = Vec::new();
    in_order(work, jobs, make, |result| {
        if let Ok((task, row, pictures)) = result {
            rows.push(EyeRow {
                task,
                row,
                commands: commands(opened, sheet, row, &pictures),
                pictures,
            });
        }
        ControlFlow::<()>::Continue(())
    })
    .map_err(|e| Failure::new(&format!("no threads to work with: {e}"), None))?;
    Ok(rows)
}

/// The families worth laying beside a mark.
fn families(sheet: &Sheet, task: Task, row: &Row) -> Vec<String> {
    let Some(mark) = sheet.mark(row) else {
        return Vec::new();
    };
    let best = mark.candidates.iter().map(|c| c.family.clone());
    match task {
        Task::Choose => best.take(CHOICES_SHOWN).collect(),
        Task::Twin => {
            let twins = mark.twins.iter().map(|t| t.family.clone());
            best.take(1).chain(twins).take(CHOICES_SHOWN).collect()
        }
        Task::Research => Vec::new(),
        Task::Again => {
            let worth = mark
                .candidates
                .iter()
                .filter(|c| c.probability >= WORTH_LAYING);
            worth.take(1).map(|c| c.family.clone()).collect()
        }
    }
}

fn pictures(
    sheet: &Sheet,
    library: &Library,
    references: &References,
    task: Task,
    row: &Row,
    ground: &Ground,
) -> EyePictures {
    let (Some(answer), Some(mark)) = (&sheet.shot(row).answer, sheet.mark(row)) else {
        return EyePictures::default();
    };
    let made: Vec<(String, Rescue)> = families(sheet, task, row)
        .into_iter()
        .filter_map(|family| {
            let laid = lay(library, references, ground, mark, &family)?;
            let made = views(ground, answer, Some(mark), Some(&laid), Size::PAGE)?;
            Some((family, made))
        })
        .collect();
    // The first family's frame, so that photo and exemplar lie alike; alone where there is none.
    let first = match made.first() {
        Some((_, first)) => Some(first.clone()),
        None => views(ground, answer, Some(mark), None, Size::PAGE),
    };
    let alone = first.and_then(|r| {
        let photo = (figure(&r.photo)?, say_photo(&r));
        Some([photo, (figure(&r.ink)?, SAY_INK.to_owned())])
    });
    let families = made.into_iter().filter_map(|(id, made)| {
        let beside = made.beside?;
        Some(EyeFamily {
            id,
            exemplar: figure(&beside.exemplar)?,
            ghost: figure(&beside.ghost)?,
            differences: figure(&beside.differences)?,
            says: say_differences(&beside.told),
        })
    });
    EyePictures {
        alone,
        families: families.collect(),
    }
}

/// The command that keeps each family as the person's word.
fn commands(opened: &Opened, sheet: &Sheet, row: &Row, pictures: &EyePictures) -> Vec<String> {
    let photo = sheet.shot(row).hash.short().to_owned();
    let number = row.mark.map_or(0, |m| m + 1).to_string();
    let many = row.marks_in_photo > 1;
    let families = pictures
        .families
        .iter()
        .filter(|_| row.holds != Verdict::Reshoot);
    let say = |f: &EyeFamily| {
        let mut words = vec!["decide", &photo, "--family", &f.id];
        if many {
            words.extend(["--mark", number.as_str()]);
        }
        opened.command(&words)
    };
    families.map(say).collect()
}
