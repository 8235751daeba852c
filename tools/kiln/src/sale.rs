//! The invented demo sale: phone photos of pieces that bear marks of the shipped library, of
//! strangers, and of things that are no undersides at all.

use crate::artwork::Artwork;
use crate::empty;
use crate::family::Family;
use crate::lot::{LotError, make_dir, write_file};
use crate::mark::{EmblemSource, Layout};
use crate::random::Rng;
use crate::shoot::{Extras, Order, Shot, photograph};
use crate::starter::{Stamp, stamps};
use crate::truth::{Condition, Kind, Severity, Truth};
use rayon::prelude::*;
use std::path::Path;

/// One photo of the sale.
enum Piece {
    /// Family (and variant) of the library under a condition.
    Known(&'static str, Option<&'static str>, Condition, Severity),
    /// A label lies over the line's name.
    Labelled(&'static str),
    /// A mark that the library lacks.
    Stranger(Layout, &'static str, &'static str, Condition),
    Empty(Kind),
}

use Condition::{Blur, Good, LowLight, Partial, Smudge, TiltGlare, Weak};
use Severity::{Easy, Hard, Medium};

const PIECES: [Piece; 40] = [
    Piece::Known("thornwick/tower-hedge-rose", None, Good, Easy),
    Piece::Known("thornwick/tower-hedge-rose", None, Good, Medium),
    Piece::Known("thornwick/tower-harbour-light", None, Good, Easy),
    Piece::Known("thornwick/tower-winter-barley", None, Weak, Easy),
    Piece::Known("thornwick/tower-quiet-tarn", None, Good, Easy),
    Piece::Known("thornwick/tower-quiet-tarn", None, Blur, Hard),
    Piece::Known("thornwick/tower-general", None, Good, Easy),
    Piece::Known("thornwick/tower-impressed", None, Good, Easy),
    Piece::Labelled("thornwick/tower-harbour-light"),
    Piece::Known("maldry-finch/fish-estuary", None, Good, Easy),
    Piece::Known(
        "maldry-finch/fish-estuary",
        Some("made-in-norvast"),
        Good,
        Medium,
    ),
    Piece::Known(
        "maldry-finch/fish-estuary",
        Some("oven-proof"),
        LowLight,
        Easy,
    ),
    Piece::Known("maldry-finch/fish-shingle", None, TiltGlare, Easy),
    Piece::Known("maldry-finch/fish-samphire", None, Smudge, Easy),
    Piece::Known("maldry-finch/fish-foreshore", None, Good, Easy),
    Piece::Labelled("maldry-finch/fish-samphire"),
    Piece::Known("quillhaven/script-linnet", None, Good, Easy),
    Piece::Known("quillhaven/script-dunlin", None, Weak, Medium),
    Piece::Known("quillhaven/script-plover", None, Good, Easy),
    Piece::Known("quillhaven/script-curlew", None, Smudge, Medium),
    Piece::Known("isenbrook/oval-copperplate", None, Good, Easy),
    Piece::Known("isenbrook/oval-ledger", None, Good, Easy),
    Piece::Known("isenbrook/oval-ledger", None, TiltGlare, Hard),
    Piece::Known("isenbrook/oval-foundry", None, Partial, Easy),
    Piece::Known("varnholt/sun-morning", None, Good, Easy),
    Piece::Known("varnholt/sun-noonday", None, LowLight, Medium),
    Piece::Known("varnholt/sun-dusk", None, Good, Easy),
    Piece::Known("varnholt/sun-midnight", None, Good, Easy),
    Piece::Known("peverell-moss/acorn-woodland", None, Good, Easy),
    Piece::Known("peverell-moss/acorn-lichen", Some("export"), Weak, Easy),
    Piece::Known("unattributed/knot-in-ring", None, Good, Easy),
    Piece::Stranger(Layout::Stacked, "Corbel & Wray", "Blackthorn", Good),
    Piece::Stranger(Layout::Ribbon, "Hathersedge", "Ferry Lane", Good),
    Piece::Stranger(Layout::Shielded, "Ostrander Vale", "Candlemas", Weak),
    Piece::Empty(Kind::Bare),
    Piece::Empty(Kind::Bare),
    Piece::Empty(Kind::Top),
    Piece::Empty(Kind::Top),
    Piece::Empty(Kind::CutBase),
    Piece::Empty(Kind::Receipt),
];

/// JPEG quality of the sale's photos: small, and still that of a phone's messenger.
const QUALITY: u8 = 72;

/// The photo that broke off while it was copied, and one over the share of it that arrived.
const CUT_FILE: &str = "IMG_0010.jpg";
const CUT_TO: usize = 3;

/// Writes the sale; comes back with the number of photos and of bytes.
pub fn write(artwork: &Artwork, out: &Path) -> Result<(usize, usize), LotError> {
    make_dir(out)?;
    let stamps = stamps(artwork);
    let root = Rng::new(2024);
    let mut order: Vec<usize> = (0..PIECES.len()).collect();
    root.fork("order", 0).shuffle(&mut order);
    let written: Vec<(Truth, usize)> = order
        .par_iter()
        .enumerate()
        .map(|(place, &i)| {
            let file = format!("IMG_{:04}.jpg", place + 1 + place / 9);
            let mut rng = root.fork("piece", i as u64);
            let shot = shoot(artwork, &stamps, &PIECES[i], &file, &mut rng);
            let path = out.join(&file);
            let Shot { jpeg, truth } = shot.map_err(|source| LotError::Jpeg {
                path: path.clone(),
                source,
            })?;
            write_file(&path, &jpeg)?;
            if place == 0 {
                write_file(&out.join(CUT_FILE), &jpeg[..jpeg.len() / CUT_TO])?;
            }
            Ok((truth, jpeg.len()))
        })
        .collect::<Result<_, LotError>>()?;
    let bytes = written.iter().map(|w| w.1).sum();
    let count = written.len();
    crate::lot::write_truth(
        &out.join("truth.jsonl"),
        written.into_iter().map(|w| w.0).collect(),
    )?;
    Ok((count, bytes))
}

fn shoot(
    artwork: &Artwork,
    stamps: &[Stamp],
    piece: &Piece,
    file: &str,
    rng: &mut Rng,
) -> Result<Shot, jpeg_encoder::EncodingError> {
    let mut order = Order::plain(Kind::Known, Good, Easy);
    order.extras = Extras {
        quality: Some(QUALITY),
        label_over_line: false,
        fault: None,
        removed: None,
    };
    let find = |id: &str, v: Option<&str>| {
        let found = stamps.iter().find(|s| s.family.id == id && s.variant == v);
        found.unwrap_or(&stamps[0])
    };
    match piece {
        Piece::Known(id, variant, condition, severity) => {
            let stamp = find(id, *variant);
            (order.condition, order.severity) = (*condition, *severity);
            order.siblings.clone_from(&stamp.siblings);
            let mut shot = photograph(artwork, &order, &stamp.family, file, rng)?;
            shot.truth.variant = variant.map(str::to_string);
            Ok(shot)
        }
        Piece::Labelled(id) => {
            let stamp = find(id, None);
            order.siblings.clone_from(&stamp.siblings);
            order.extras.label_over_line = true;
            photograph(artwork, &order, &stamp.family, file, rng)
        }
        Piece::Stranger(layout, maker, line, condition) => {
            (order.kind, order.condition) = (Kind::Unknown, *condition);
            let family = stranger(&stamps[0].family, *layout, maker, line, rng);
            photograph(artwork, &order, &family, file, rng)
        }
        Piece::Empty(kind) => empty::photograph(artwork, *kind, Easy, QUALITY.into(), file, rng),
    }
}

fn stranger(like: &Family, layout: Layout, maker: &str, line: &str, rng: &mut Rng) -> Family {
    let mut f = like.clone();
    f.in_library = false;
    f.id = format!("stranger/{}", crate::words::slug(maker));
    f.ink = crate::glaze::InkTone::on_light(rng);
    f.design.seed = rng.bits();
    f.design.layout = layout;
    f.design.maker = maker.to_string();
    f.design.line = line.to_string();
    f.design.emblem = EmblemSource::Drawn(*rng.pick(&[
        crate::emblem::Emblem::Bell,
        crate::emblem::Emblem::Wheat,
        crate::emblem::Emblem::Shell,
    ]));
    (f.design.maker_font, f.design.line_font) = (f.design.line_font, f.design.maker_font);
    f
}
