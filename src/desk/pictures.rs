//! Pictures by id: of a mark, of an exemplar, of a date code. A request never names a path.

use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use image::RgbImage;
use serde::Serialize;

use super::mark_id::MarkId;
use super::room::{Room, Shelf};
use crate::answer::{MarkAnswer, PhotoAnswer};
use crate::geometry::{Photo, Quad};
use crate::library::FamilyId;
use crate::photo::{self, DecodeLimits};
use crate::report::code_quad;
use crate::report::frame::{self, SharedFrame};
use crate::rescue::words::{NO_EXEMPLAR, SAY_INK, SAY_WHOLE, say_differences, say_photo};
use crate::rescue::{Rescue, Size};
use crate::service::gathered::straight;
use crate::service::legible::{Ground, lay, views};
use crate::service::report_page::{Wanted, exemplar_picture};
use crate::strangers::turned;

/// JPEG quality of views to look at closely, and of small pictures: at 90 no edge of a letter is lost.
const CLOSE_QUALITY: u8 = 90;
const SMALL_QUALITY: u8 = 84;
/// Longer side of a code's picture, in pixels: the strip fills a page's width.
const CODE_PX: f64 = 900.0;
/// Longer side of a stranger's picture, in pixels.
const STRANGER_PX: u32 = 420;
/// Memory for pictures that were made: about 100 marks with all their views.
const KEPT_BYTES: usize = 96 << 20;

/// Pictures that were made, the oldest thrown away first.
#[derive(Debug, Default)]
pub(super) struct Store(Mutex<Kept>);

#[derive(Debug, Default)]
struct Kept {
    pictures: BTreeMap<String, Arc<Vec<u8>>>,
    views: BTreeMap<String, View>,
    order: VecDeque<String>,
    bytes: usize,
}

impl Store {
    fn lock(&self) -> MutexGuard<'_, Kept> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn get(&self, key: &str) -> Option<Arc<Vec<u8>>> {
        self.lock().pictures.get(key).cloned()
    }

    fn put(&self, key: &str, jpeg: Vec<u8>) -> Arc<Vec<u8>> {
        let jpeg = Arc::new(jpeg);
        let mut kept = self.lock();
        kept.bytes += jpeg.len();
        if let Some(old) = kept.pictures.insert(key.to_owned(), jpeg.clone()) {
            kept.bytes -= old.len();
        } else {
            kept.order.push_back(key.to_owned());
        }
        while kept.bytes > KEPT_BYTES {
            let Some(oldest) = kept.order.pop_front() else {
                break;
            };
            if let Some(gone) = kept.pictures.remove(&oldest) {
                kept.bytes -= gone.len();
            }
            // A view is told only while all its pictures are here.
            if let Some((view, _)) = oldest.rsplit_once('|') {
                kept.views.remove(view);
            }
        }
        jpeg
    }

    pub(super) fn forget(&self) {
        *self.lock() = Kept::default();
    }
}

/// What can be seen of a mark.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct View {
    /// Words of the pictures that there are, as they are asked for.
    pub(super) pictures: Vec<&'static str>,
    pub(super) width: u32,
    pub(super) height: u32,
    pub(super) says_photo: String,
    pub(super) says_ink: String,
    /// Where the two differ, or why there is nothing to compare.
    pub(super) says_differences: String,
}

/// Words of the pictures of a view.
pub(super) const WHATS: [&str; 5] = ["photo", "ink", "exemplar", "both", "differences"];

fn view_key(id: &MarkId, beside: Option<&str>) -> String {
    format!("{id}|{}", beside.unwrap_or_default())
}

/// Makes the views of a mark beside a family, or alone.
pub(super) fn view(room: &Room, id: &MarkId, beside: Option<&str>) -> Option<View> {
    let key = view_key(id, beside);
    if let Some(view) = room.store.lock().views.get(&key) {
        return Some(view.clone());
    }
    let answer = answer(room, &id.photo)?;
    let mark = match id.mark {
        Some(at) => Some(answer.marks.get(at)?),
        None => None,
    };
    let ground = Ground::kept(&room.sources(), &id.photo, id.mark)?;
    let laid = mark.zip(beside).and_then(|(mark, family)| {
        let shelf = room.shelf();
        lay(&shelf.library, &shelf.references, &ground, mark, family)
    });
    let made = views(&ground, &answer, mark, laid.as_ref(), Size::CLOSE)?;
    let view = told(&made, mark);
    for (what, pixels) in panels(&made) {
        room.store.put(
            &format!("{key}|{what}"),
            frame::jpeg(pixels, CLOSE_QUALITY)?,
        );
    }
    room.store.lock().views.insert(key, view.clone());
    Some(view)
}

fn panels(made: &Rescue) -> Vec<(&'static str, &RgbImage)> {
    let mut all = vec![("photo", &made.photo), ("ink", &made.ink)];
    if let Some(beside) = &made.beside {
        all.push(("exemplar", &beside.exemplar));
        all.push(("both", &beside.ghost));
        all.push(("differences", &beside.differences));
    }
    all
}

fn told(made: &Rescue, mark: Option<&MarkAnswer>) -> View {
    View {
        pictures: panels(made).into_iter().map(|p| p.0).collect(),
        width: made.photo.width(),
        height: made.photo.height(),
        says_photo: match mark {
            Some(_) => say_photo(made),
            None => "The whole photo".to_owned(),
        },
        says_ink: match mark {
            Some(_) => SAY_INK.to_owned(),
            None => SAY_WHOLE.to_owned(),
        },
        says_differences: made
            .beside
            .as_ref()
            .map_or_else(|| NO_EXEMPLAR.to_owned(), |b| say_differences(&b.told)),
    }
}

/// One picture of a view.
pub(super) fn panel(
    room: &Room,
    id: &MarkId,
    beside: Option<&str>,
    what: &str,
) -> Option<Arc<Vec<u8>>> {
    let what = WHATS.into_iter().find(|w| *w == what)?;
    let key = format!("{}|{what}", view_key(id, beside));
    if let Some(kept) = room.store.get(&key) {
        return Some(kept);
    }
    room.store.lock().views.remove(&view_key(id, beside));
    view(room, id, beside)?;
    room.store.get(&key)
}

/// The last answer about a photo.
fn answer(room: &Room, photo: &crate::decision::ContentHash) -> Option<PhotoAnswer> {
    let key = room.open().key.clone();
    Some(room.sources().cache.answer(photo, &key).ok()??.answer)
}

fn made(room: &Room, key: &str, make: impl FnOnce() -> Option<RgbImage>) -> Option<Arc<Vec<u8>>> {
    if let Some(kept) = room.store.get(key) {
        return Some(kept);
    }
    let jpeg = frame::jpeg(&make()?, SMALL_QUALITY)?;
    Some(room.store.put(key, jpeg))
}

/// A mark in a small frame: that of the exemplar that the program laid over it, where `beside` names its family;
/// else its own. The whole photo where there is no mark.
pub(super) fn small(room: &Room, id: &MarkId, beside: Option<&str>) -> Option<Arc<Vec<u8>>> {
    let key = format!("small|{}", view_key(id, beside));
    made(room, &key, || {
        let ground = Ground::kept(&room.sources(), &id.photo, id.mark)?;
        let Some(at) = id.mark else {
            return Some(frame::small(&ground.pixels, frame::FRAME_PX as u32));
        };
        let answer = answer(room, &id.photo)?;
        let mark = answer.marks.get(at)?;
        let fitted = beside.and_then(|family| {
            let fitted = mark.candidates.iter().find(|c| c.family == family)?;
            let shelf = room.shelf();
            let content = Wanted::exactly(family, &fitted.exemplar);
            let own = exemplar_quad(&shelf, &content, &fitted.exemplar)?;
            Some((SharedFrame::of(&own)?, Quad::from_array(fitted.quad)))
        });
        let (frame, quad) = match fitted {
            Some(fitted) => fitted,
            None => {
                let quad = Quad::<Photo>::from_array(mark.quad);
                (SharedFrame::of(&quad)?, quad)
            }
        };
        frame::photo_mark(&ground.pixels, &ground.corners, &quad, frame)
    })
}

/// The box of an exemplar, without reading its picture.
fn exemplar_quad(
    shelf: &Shelf,
    wanted: &Wanted,
    content: &str,
) -> Option<Quad<frame::ExemplarPhoto>> {
    let id = FamilyId::parse(wanted.family()).ok()?;
    let family = shelf.library.find(&id)?;
    let reference = shelf.references.find(family.id.as_str(), content)?;
    Some(Quad::from_array(reference.quad.to_array()))
}

/// An exemplar of a family in its own frame: the one with this content, or the first.
pub(super) fn exemplar(room: &Room, family: &str, content: Option<&str>) -> Option<Arc<Vec<u8>>> {
    let key = format!("exemplar|{family}|{}", content.unwrap_or_default());
    made(room, &key, || {
        let shelf = room.shelf();
        let wanted = match content {
            Some(content) => Wanted::exactly(family, content),
            None => Wanted::any(family),
        };
        let (picture, quad) = exemplar_picture(&shelf.library, &shelf.references, &wanted)?;
        Some(frame::exemplar(&picture, &quad)?.1)
    })
}

/// The place of a date code, straightened and enlarged.
pub(super) fn code(room: &Room, id: &MarkId, at: usize) -> Option<Arc<Vec<u8>>> {
    let key = format!("code|{id}|{at}");
    made(room, &key, || {
        let answer = answer(room, &id.photo)?;
        let date = answer.marks.get(id.mark?)?.dates.get(at)?;
        let quad = code_quad(date)?;
        let ground = Ground::kept(&room.sources(), &id.photo, id.mark)?;
        let frame = SharedFrame::sized(&quad, CODE_PX)?;
        frame::photo_mark(&ground.pixels, &ground.corners, &quad, frame)
    })
}

/// A mark that the library does not know, turned clockwise by so many degrees.
pub(super) fn stranger(room: &Room, id: &MarkId, degrees: f64) -> Option<Arc<Vec<u8>>> {
    let degrees = degrees.rem_euclid(360.0);
    if !degrees.is_finite() {
        return None;
    }
    let key = format!("stranger|{id}|{degrees:.0}");
    made(room, &key, || {
        let at = id.mark?;
        let answer = answer(room, &id.photo)?;
        let quad = Quad::<Photo>::from_array(answer.marks.get(at)?.quad);
        let crop = room.sources().cache.crop(&id.photo, at).ok()??;
        let (picture, quad) = straight(&(crop, quad))?;
        let w = picture.pixels.width();
        let pixels = frame::small(&picture.pixels, 3 * STRANGER_PX);
        let k = f64::from(pixels.width()) / f64::from(w.max(1));
        let quad = Quad::from_array(quad.to_array().map(|[x, y]| [x * k, y * k]));
        let turned = turned(&pixels, &quad, degrees.to_radians());
        let (w, h) = turned.pixels.dimensions();
        let whole = Quad::upright(0.0, 0.0, f64::from(w), f64::from(h));
        let shown = frame::photo_mark(
            &turned.pixels,
            &whole,
            &turned.quad,
            SharedFrame::of(&turned.quad)?,
        )?;
        Some(frame::small(&shown, STRANGER_PX))
    })
}

/// A whole photo, small.
pub(super) fn whole(room: &Room, photo: &crate::decision::ContentHash) -> Option<Arc<Vec<u8>>> {
    let key = format!("whole|{photo}");
    if let Some(kept) = room.store.get(&key) {
        return Some(kept);
    }
    if let Some(jpeg) = room.sources().cache.thumbnail(photo).ok().flatten() {
        return Some(room.store.put(&key, jpeg));
    }
    let original = room.sources().original(photo)?;
    made(room, &key, || {
        let read = photo::read_photo(&original, &DecodeLimits::default()).ok()?;
        Some(frame::small(&read.pixels, 720))
    })
}
