//! Icons, fonts and words of one split, read from the artwork folder and its manifest.

use crate::drawing::{Font, Ink, Shape};
use crate::emblem::Emblem;
use crate::random::Rng;
use crate::words::WordLists;
use resvg::tiny_skia::Transform;
use resvg::usvg;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Which third of the artwork a lot draws from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, clap::ValueEnum)]
pub enum Split {
    Fit,
    Tune,
    Test,
}

impl Split {
    pub fn name(self) -> &'static str {
        match self {
            Self::Fit => "fit",
            Self::Tune => "tune",
            Self::Test => "test",
        }
    }

    pub fn emblems(self) -> &'static [Emblem] {
        match self {
            Self::Fit => &Emblem::FIT,
            Self::Tune => &Emblem::TUNE,
            Self::Test => &Emblem::TEST,
        }
    }
}

#[derive(Debug, thiserror::Error)]
pub enum ArtworkError {
    #[error("{path}: {source}; lay the artwork with `tools/artwork/fetch` or pass its place")]
    Read {
        path: PathBuf,
        source: std::io::Error,
    },
    #[error("{path}: {source}; the manifest or icon set is not the JSON that kiln reads")]
    Parse {
        path: PathBuf,
        source: serde_json::Error,
    },
    #[error("{path}: no usable {what} for the split `{split}`; run `tools/artwork/fetch`")]
    Missing {
        path: PathBuf,
        what: &'static str,
        split: &'static str,
    },
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Face {
    Serif,
    Sans,
    Script,
    Mono,
}

pub struct FontFile {
    pub face: Face,
    pub font: Font,
}

/// One drawing as it stands in one or several icon sets.
#[derive(Clone, Debug)]
pub struct Icon {
    pub drawing: String,
    bodies: Vec<String>,
}

/// Everything one split may draw with.
pub struct Artwork {
    pub split: Split,
    /// Whether tables and glazes go beyond the split's own kinds and colours, into what no split has.
    pub wide: bool,
    pub fonts: Vec<FontFile>,
    pub icons: Vec<Icon>,
    pub words: WordLists,
}

#[derive(Deserialize)]
struct Manifest {
    icons: Vec<IconEntry>,
    fonts: Vec<FontEntry>,
    words: BTreeMap<String, WordLists>,
}

#[derive(Deserialize)]
struct IconEntry {
    drawing: String,
    split: String,
    #[serde(default)]
    kind: String,
    members: Vec<String>,
}

#[derive(Deserialize)]
struct FontEntry {
    #[serde(default)]
    class: String,
    split: String,
    files: Vec<String>,
}

#[derive(Deserialize)]
struct IconSet {
    icons: BTreeMap<String, IconBody>,
    #[serde(default)]
    width: Option<f32>,
    #[serde(default)]
    height: Option<f32>,
}

#[derive(Deserialize)]
struct IconBody {
    body: String,
    #[serde(default)]
    width: Option<f32>,
    #[serde(default)]
    height: Option<f32>,
}

fn read_json<T: serde::de::DeserializeOwned>(path: &Path) -> Result<T, ArtworkError> {
    let text = std::fs::read_to_string(path).map_err(|source| ArtworkError::Read {
        path: path.to_path_buf(),
        source,
    })?;
    serde_json::from_str(&text).map_err(|source| ArtworkError::Parse {
        path: path.to_path_buf(),
        source,
    })
}

/// Weights too thin to survive a transfer print, or so heavy that counters close; left out.
const UNPRINTABLE: [&str; 4] = ["Hairline", "Thin", "ExtraLight", "Black"];

fn face_of(class: &str) -> Face {
    match class {
        "serif" => Face::Serif,
        "script" | "hand" | "handwriting" | "blackletter" => Face::Script,
        "mono" | "typewriter" => Face::Mono,
        _ => Face::Sans,
    }
}

impl Artwork {
    /// Reads what `split` may use. `folder` holds `icons/*.json` and `fonts/`; `manifest` says
    /// which drawing, design and word belongs to which split.
    pub fn load(folder: &Path, manifest: &Path, split: Split) -> Result<Self, ArtworkError> {
        let listed: Manifest = read_json(manifest)?;
        let missing = |what| ArtworkError::Missing {
            path: manifest.to_path_buf(),
            what,
            split: split.name(),
        };
        let words = listed
            .words
            .get(split.name())
            .cloned()
            .ok_or_else(|| missing("words"))?;
        let fonts = load_fonts(folder, &listed.fonts, split)?;
        let icons = load_icons(folder, &listed.icons, split)?;
        if fonts.is_empty() {
            return Err(missing("fonts"));
        }
        if icons.is_empty() {
            return Err(missing("icons"));
        }
        Ok(Self {
            split,
            wide: false,
            fonts,
            icons,
            words,
        })
    }

    /// A font of one of the `faces`, or any where the split has none of them.
    pub fn font(&self, rng: &mut Rng, faces: &[Face]) -> usize {
        let fits: Vec<usize> = (0..self.fonts.len())
            .filter(|&i| faces.contains(&self.fonts[i].face))
            .collect();
        if fits.is_empty() {
            rng.below(self.fonts.len())
        } else {
            *rng.pick(&fits)
        }
    }
}

fn load_fonts(
    folder: &Path,
    listed: &[FontEntry],
    split: Split,
) -> Result<Vec<FontFile>, ArtworkError> {
    let mut fonts = Vec::new();
    for entry in listed.iter().filter(|e| e.split == split.name()) {
        for file in &entry.files {
            if UNPRINTABLE.iter().any(|w| file.contains(w)) {
                continue;
            }
            let path = folder.join("fonts").join(file);
            let data =
                std::fs::read(&path).map_err(|source| ArtworkError::Read { path, source })?;
            if let Some(font) = Font::new(file, data) {
                fonts.push(FontFile {
                    face: face_of(&entry.class),
                    font,
                });
            }
        }
    }
    Ok(fonts)
}

fn load_icons(
    folder: &Path,
    listed: &[IconEntry],
    split: Split,
) -> Result<Vec<Icon>, ArtworkError> {
    let mut sets: BTreeMap<&str, IconSet> = BTreeMap::new();
    let mut icons = Vec::new();
    for entry in listed
        .iter()
        .filter(|e| e.split == split.name() && e.kind != "sign")
    {
        let mut bodies = Vec::new();
        for member in &entry.members {
            let Some((set, name)) = member.split_once(':') else {
                continue;
            };
            if !sets.contains_key(set) {
                sets.insert(
                    set,
                    read_json(&folder.join("icons").join(format!("{set}.json")))?,
                );
            }
            let Some(body) = sets[set].icons.get(name) else {
                continue;
            };
            let w = body.width.or(sets[set].width).unwrap_or(24.0);
            let h = body.height.or(sets[set].height).unwrap_or(24.0);
            bodies.push(format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" \
                 viewBox=\"0 0 {w} {h}\" color=\"black\">{}</svg>",
                body.body
            ));
        }
        if !bodies.is_empty() {
            icons.push(Icon {
                drawing: entry.drawing.clone(),
                bodies,
            });
        }
    }
    Ok(icons)
}

impl Icon {
    /// A drawing without a path, for marks that are never drawn.
    #[cfg(test)]
    pub fn blank() -> Self {
        Self {
            drawing: String::new(),
            bodies: vec![String::new()],
        }
    }

    /// One member of the drawing as shapes in its own units; empty where it holds no path.
    pub fn draw(&self, rng: &mut Rng) -> Vec<Shape> {
        let body = rng.pick(&self.bodies);
        let Ok(tree) = usvg::Tree::from_str(body, &usvg::Options::default()) else {
            return Vec::new();
        };
        let mut out = Vec::new();
        collect(tree.root(), &mut out);
        out
    }
}

fn collect(group: &usvg::Group, out: &mut Vec<Shape>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(g) => collect(g, out),
            usvg::Node::Path(p) => push_path(p, out),
            usvg::Node::Image(_) | usvg::Node::Text(_) => {}
        }
    }
}

fn push_path(p: &usvg::Path, out: &mut Vec<Shape>) {
    let ts: Transform = p.abs_transform();
    let Some(path) = p.data().clone().transform(ts) else {
        return;
    };
    if let Some(fill) = p.fill()
        && fill.opacity().get() > 0.5
    {
        let ink = if fill.rule() == usvg::FillRule::EvenOdd {
            Ink::EvenOdd
        } else {
            Ink::Fill
        };
        out.push(Shape {
            path: path.clone(),
            ink,
        });
    }
    if let Some(stroke) = p.stroke() {
        out.push(Shape {
            path,
            ink: Ink::Line(stroke.width().get() * ts.get_scale().0),
        });
    }
}
