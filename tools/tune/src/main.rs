//! Writes, for every photo of a lot, the features of every compared candidate: what the verdict's
//! weights are fitted on.

use std::collections::BTreeMap;
use std::error::Error;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Parser;
use footring::alignment::verifier;
use footring::examine::examine_at;
use footring::geometry::{Photo, Point, Quad};
use footring::ink::small::{self, SmallInk};
use footring::mark::cut;
use footring::mark::regions::Region;
use footring::mark::second_look;
use footring::photo::{DecodeLimits, read_photo};
use footring::references::{Detail, Reference, References, prepare_in_detail, small_ink};
use footring::verdict::model::Model;
use footring::verdict::variant;
use rayon::prelude::*;
use serde_json::{Value, json};

#[derive(Parser)]
struct Args {
    /// Library folder: the id of a family is the folder of its image below this one.
    library: PathBuf,
    /// Folder of photos.
    photos: PathBuf,
    /// JSON Lines, one object a photo.
    #[arg(long)]
    out: PathBuf,
    /// Take every k-th photo only.
    #[arg(long, default_value_t = 1)]
    every: usize,
    /// Also write each exemplar's box, one JSON object a line.
    #[arg(long)]
    boxes: Option<PathBuf>,
    /// Also write into this folder, for each photo, what the verifier reads of the candidates of its
    /// first region, in their order: four maps of one byte a pixel each. Takes 2 MB a photo.
    #[arg(long)]
    pairs: Option<PathBuf>,
    /// Also write into this folder what the imprint reads, two maps of one byte a pixel each (ink and
    /// validity): of each photo's first region as it is and `MOVED` times moved a little, and of the
    /// exemplars, in the order of `exemplars.json`.
    #[arg(long)]
    cuts: Option<PathBuf>,
    /// Also write into this folder what the second look sees, colours and inside, one byte a pixel each: of
    /// each region of each photo as it is and `MOVED` times moved a little.
    #[arg(long)]
    places: Option<PathBuf>,
    /// The lot's truth.jsonl: look at the true box of each mark instead of seeking it.
    #[arg(long)]
    given: Option<PathBuf>,
    /// Also write each photo's tone and contrast maps as PGM pictures into this folder.
    #[arg(long)]
    maps: Option<PathBuf>,
}

fn pictures(folder: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = walkdir::WalkDir::new(folder)
        .into_iter()
        .filter_map(Result::ok)
        .map(walkdir::DirEntry::into_path)
        .filter(|p| {
            p.extension().is_some_and(|e| {
                ["jpg", "jpeg", "png"]
                    .iter()
                    .any(|x| e.eq_ignore_ascii_case(x))
            })
        })
        .collect();
    files.sort();
    files
}

/// Copies of a region that are moved and sized a little otherwise, and by how much (radii).
const MOVED: u64 = 3;
const SHIFT: f64 = 0.1;
const GROWTH: f64 = 0.2;

/// Regions about one, as another day's finder may give them; the same ones each time.
fn moved(region: &Region, name: &str) -> Vec<Region> {
    let mut state = name.bytes().fold(1u64, |h, b| {
        (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3)
    });
    let mut chance = || {
        // A linear congruential generator (the constants of Knuth's MMIX, from memory); its upper bits.
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 40) as f64 / f64::from(1u32 << 23) - 1.0
    };
    (0..MOVED)
        .map(|_| {
            let (x, y) = (SHIFT * chance(), SHIFT * chance());
            Region {
                centre: Point::new(
                    region.centre.x + x * region.radius,
                    region.centre.y + y * region.radius,
                ),
                ..region.sized((GROWTH * chance()).exp())
            }
        })
        .collect()
}

/// Ink and validity, a byte a pixel.
fn bytes_of(small: &SmallInk) -> impl Iterator<Item = u8> + '_ {
    let planes = [&small.ink, &small.valid];
    planes
        .into_iter()
        .flat_map(|p| p.data().iter().map(|v| (v * 255.0).round() as u8))
}

/// What the imprint reads of each exemplar, and their families beside it.
fn write_exemplars(args: &Args, folder: &Path) -> Result<(), Box<dyn Error>> {
    let cuts: Vec<(String, Vec<u8>)> = pictures(&args.library)
        .par_iter()
        .filter_map(|file| {
            let photo = read_photo(&std::fs::read(file).ok()?, &DecodeLimits::default()).ok()?;
            let family = file.parent()?.strip_prefix(&args.library).ok()?;
            let small = small_ink(&photo, None);
            let name = family.to_string_lossy().into_owned();
            Some((name, bytes_of(&small).collect()))
        })
        .collect();
    let families: Vec<&str> = cuts.iter().map(|c| c.0.as_str()).collect();
    std::fs::write(folder.join("exemplars.json"), json!(families).to_string())?;
    let all: Vec<u8> = cuts.iter().flat_map(|c| c.1.iter().copied()).collect();
    Ok(std::fs::write(folder.join("exemplars.bin"), all)?)
}

fn load(args: &Args) -> References {
    let references = pictures(&args.library)
        .par_iter()
        .filter_map(|file| {
            let bytes = std::fs::read(file).ok()?;
            let photo = read_photo(&bytes, &DecodeLimits::default()).ok()?;
            let family = file.parent()?.strip_prefix(&args.library).ok()?;
            // In more detail than the tool keeps where a family has one form, which alters no answer.
            let prepared = prepare_in_detail(&photo, None, Detail::Form);
            // As the tool does with its library.
            let hash = blake3::hash(&bytes).to_hex().to_string();
            // `<maker>/<family>`, or `<maker>/<family>/<variant>`.
            let names: Vec<_> = family.iter().map(|n| n.to_string_lossy()).collect();
            let (family, variant) = names.split_at(names.len().min(2));
            let variant = variant.first().map(|v| v.to_string());
            (!prepared.shows_nothing)
                .then(|| Reference::here(family.join("/"), hash, prepared).of_variant(variant))
        })
        .collect();
    References::new(references)
}

/// The true box of each photo's mark, by file name.
fn given(file: Option<&Path>) -> BTreeMap<String, Quad<Photo>> {
    let text = file.and_then(|f| std::fs::read_to_string(f).ok());
    text.iter()
        .flat_map(|t| t.lines())
        .filter_map(|line| {
            let truth: Value = serde_json::from_str(line).ok()?;
            let corners: [[f64; 2]; 4] = serde_json::from_value(truth["quad"].clone()).ok()?;
            Some((
                truth["file"].as_str()?.to_owned(),
                Quad::from_array(corners),
            ))
        })
        .collect()
}

fn measure(
    file: &Path,
    references: &References,
    [maps, pairs, cuts, places]: [Option<&Path>; 4],
    given: &BTreeMap<String, Quad<Photo>>,
) -> Option<Value> {
    let bytes = std::fs::read(file).ok()?;
    let photo = read_photo(&bytes, &DecodeLimits::default()).ok()?;
    let mut times: BTreeMap<&'static str, f64> = BTreeMap::new();
    let mut observe = |stage: &'static str, time: Duration| {
        *times.entry(stage).or_default() += time.as_secs_f64() * 1e3;
    };
    let quad = given.get(file.file_name()?.to_string_lossy().as_ref());
    let found = examine_at(&photo, references, quad, &mut observe);
    if let Some(folder) = maps {
        for (name, plane, full) in [
            ("overview", &found.view.overview.light, 1.0),
            ("contrast", &found.view.contrast, 12.0),
        ] {
            let (w, h) = (plane.width(), plane.height());
            let mut out = format!("P5 {w} {h} 255\n").into_bytes();
            out.extend(
                plane
                    .data()
                    .iter()
                    .map(|v| (v / full * 255.0).clamp(0.0, 255.0) as u8),
            );
            let stem = file.file_stem()?.to_string_lossy();
            std::fs::write(folder.join(format!("{stem}-{name}.pgm")), out).ok()?;
        }
    }
    if let (Some(folder), Some(first)) = (pairs, found.examined.first()) {
        let mut out = Vec::new();
        for c in &first.compared {
            let exemplar = references.get(c.exemplar).prepared()?;
            let read = verifier::read(&first.fine, exemplar.fine(), &c.fit.map);
            out.extend(read.iter().map(|v| (v * 255.0).round() as u8));
        }
        std::fs::write(folder.join(file.file_stem()?).with_extension("bin"), out).ok()?;
    }
    if let (Some(folder), Some(first)) = (cuts, found.examined.first()) {
        let name = file.file_stem()?.to_string_lossy();
        let mut regions = moved(&first.region, &name);
        regions.insert(0, first.region.clone());
        let out: Vec<u8> = regions
            .iter()
            .flat_map(|r| {
                let small = cut::small(&photo.pixels, &found.view, r, small::SIDE);
                bytes_of(&small).collect::<Vec<u8>>()
            })
            .collect();
        std::fs::write(folder.join(&*name).with_extension("bin"), out).ok()?;
    }
    if let Some(folder) = places {
        let name = file.file_stem()?.to_string_lossy();
        let mut out = Vec::new();
        for first in found.examined.iter().map(|e| &e.region) {
            let mut regions = moved(first, &name);
            regions.insert(0, first.clone());
            for r in &regions {
                let (rgb, inside) = second_look::pixels(&photo.pixels, &found.view, r);
                out.extend_from_slice(rgb.as_raw());
                out.extend(inside.data().iter().map(|v| (v * 255.0).round() as u8));
            }
        }
        std::fs::write(folder.join(&*name).with_extension("bin"), out).ok()?;
    }
    let model = Model::default();
    let regions: Vec<Value> = found
        .examined
        .iter()
        .map(|e| {
            let candidates: Vec<Value> = e
                .compared
                .iter()
                .map(|c| {
                    json!({
                        "family": references.get(c.exemplar).family,
                        "features": c.features,
                        "score": model.score(&c.features),
                    })
                })
                .collect();
            let best = e.compared.iter().max_by(|a, b| {
                model.score(&a.features).total_cmp(&model.score(&b.features))
            });
            let forms = best.and_then(|b| variant::compare(&photo.pixels, &found, e, b, references));
            let forms = forms.map(|f| {
                let looks = f.looked.iter().map(|l| {
                    json!({
                        "part": l.part, "kinds": l.kinds, "first": l.first, "second": l.second, "empty": l.empty,
                        "seen": l.seen.numbers(),
                    })
                });
                let looks: Vec<Value> = looks.collect();
                json!({"names": f.forms, "apart": f.apart, "looks": looks, "answer": f.forms()})
            });
            json!({
                "forms": forms,
                "quad": e.region.box_at(found.view.scale, 0.0).to_array(),
                "radius": e.region.radius * found.view.scale,
                "centre": [e.region.centre.x * found.view.scale, e.region.centre.y * found.view.scale],
                "parts": e.region.parts,
                "score": e.region.score,
                "second_look": e.second_look,
                "strength": e.cut.ink.strength,
                "candidates": candidates,
            })
        })
        .collect();
    let rings: Vec<Value> = found
        .underside
        .rings
        .iter()
        .map(|r| {
            json!([
                r.ellipse.major * found.view.scale,
                r.ellipse.minor * found.view.scale,
                r.support,
                r.visible,
                r.step
            ])
        })
        .collect();
    Some(json!({
        "file": file.file_name()?.to_string_lossy(),
        "scene": [found.scene.marked, found.scene.bare, found.scene.other],
        "quality": footring::verdict::quality::quality(&found),
        "whole_view": found.whole_view,
        "in_frame": found.in_frame,
        "small_mark": found.small_mark,
        "regions": regions,
        "rings": rings,
        "size": photo.pixels.dimensions(),
        "times": times,
        "tried": found.tried.iter().map(|(e, f)| json!({"family": references.get(*e).family, "features": f})).collect::<Vec<_>>(),
    }))
}

fn main() -> Result<(), Box<dyn Error>> {
    let args = Args::parse();
    let references = load(&args);
    if let Some(file) = &args.boxes {
        let mut out = std::io::BufWriter::new(std::fs::File::create(file)?);
        for i in 0..references.len() {
            let r = references.get(i);
            writeln!(
                out,
                "{}",
                json!({"family": r.family, "quad": r.quad.to_array()})
            )?;
        }
    }
    let given = given(args.given.as_deref());
    let photos: Vec<PathBuf> = pictures(&args.photos)
        .into_iter()
        .step_by(args.every)
        .collect();
    let folders = [&args.maps, &args.pairs, &args.cuts, &args.places].map(|f| f.as_deref());
    for folder in folders.into_iter().flatten() {
        std::fs::create_dir_all(folder)?;
    }
    if let Some(folder) = &args.cuts {
        write_exemplars(&args, folder)?;
    }
    let lines: Vec<Value> = photos
        .par_iter()
        .filter_map(|f| measure(f, &references, folders, &given))
        .collect();
    let mut out = std::io::BufWriter::new(std::fs::File::create(&args.out)?);
    for line in lines {
        writeln!(out, "{line}")?;
    }
    Ok(out.flush()?)
}
