//! The invented library that is shipped: six potteries and one mark that nobody can attribute.
//! Every maker, line, place, year and source in it is made up.

use crate::artwork::{Artwork, Face, FontFile, Split};
use crate::clean;
use crate::codes::{Stands, codes_toml};
use crate::emblem::Emblem;
use crate::family::{Family, Means};
use crate::glaze::InkTone;
use crate::lot::{LotError, make_dir, write_file};
use crate::mark::{CodeStyle, Design, EmblemSource, Layout, SmallMark};
use crate::random::Rng;
use crate::truth::Quad;
use crate::words::{WordLists, slug};
use image::ExtendedColorType;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use std::path::Path;

struct Pottery {
    name: &'static str,
    folder: &'static str,
    also: &'static str,
    place: &'static str,
    years: &'static str,
    emblem: Option<Emblem>,
    outlined: bool,
    layout: Layout,
    country: &'static str,
    maker_font: &'static str,
    line_font: &'static str,
    seed: u64,
    lines: &'static [Line],
}

struct Line {
    folder: &'static str,
    line: &'static str,
    used: &'static str,
    ink: InkTone,
    code: CodeStyle,
    means: Means,
    note: &'static str,
    variants: &'static [Variant],
}

struct Variant {
    folder: &'static str,
    country: Option<&'static str>,
    extra: &'static str,
    used: &'static str,
    note: &'static str,
}

const fn line(folder: &'static str, line: &'static str, used: &'static str, ink: InkTone) -> Line {
    Line {
        folder,
        line,
        used,
        ink,
        code: CodeStyle::None,
        means: Means::Printed,
        note: "",
        variants: &[],
    }
}

const POTTERIES: [Pottery; 7] = [
    Pottery {
        name: "Thornwick Pottery",
        folder: "thornwick",
        also: "Thornwick & Lea",
        place: "Thornwick Staithe",
        years: "1903/1971",
        emblem: Some(Emblem::Tower),
        outlined: false,
        layout: Layout::Ring,
        country: "Made in Norvast",
        maker_font: "LinLibertine_R.otf",
        line_font: "Gentium-I.ttf",
        seed: 41,
        lines: &[
            line(
                "tower-hedge-rose",
                "Hedge Rose",
                "1931/1958",
                InkTone::Green,
            ),
            line(
                "tower-harbour-light",
                "Harbour Light",
                "1934/1955",
                InkTone::Green,
            ),
            line(
                "tower-winter-barley",
                "Winter Barley",
                "1936/1960",
                InkTone::Brown,
            ),
            line("tower-quiet-tarn", "Quiet Tarn", "1948/1962", InkTone::Blue),
            Line {
                note: "Names the pottery and leaves the line open.",
                ..line("tower-general", "", "1925/1971", InkTone::Green)
            },
            Line {
                means: Means::Impressed,
                note: "Pressed into the clay, without ink; hard to see unless lit from the side.",
                ..line("tower-impressed", "Staithe", "1903/1924", InkTone::None)
            },
        ],
    },
    Pottery {
        name: "Maldry & Finch",
        folder: "maldry-finch",
        also: "M. & F.",
        place: "Maldry Sands",
        years: "1919/1984",
        emblem: Some(Emblem::Fish),
        outlined: false,
        layout: Layout::ArcOver,
        country: "Maldry Sands",
        maker_font: "Lato-Bold.ttf",
        line_font: "LinLibertine_RI.otf",
        seed: 12,
        lines: &[
            Line {
                code: CodeStyle::MonthYear,
                note: "Month and year below the mark from 1947 on.",
                variants: &[
                    Variant {
                        folder: "made-in-norvast",
                        country: Some("Made in Norvast"),
                        extra: "",
                        used: "1952/1966",
                        note: "The place gave way to the country.",
                    },
                    Variant {
                        folder: "oven-proof",
                        country: Some("Made in Norvast"),
                        extra: "Oven proof",
                        used: "1966/1984",
                        note: "A word added below.",
                    },
                ],
                ..line("fish-estuary", "Estuary", "1947/1984", InkTone::Blue)
            },
            Line {
                code: CodeStyle::MonthYear,
                ..line("fish-shingle", "Shingle", "1949/1971", InkTone::Black)
            },
            Line {
                code: CodeStyle::MonthYear,
                ..line("fish-samphire", "Samphire", "1951/1969", InkTone::Green)
            },
            line("fish-foreshore", "Foreshore", "1930/1946", InkTone::Grey),
        ],
    },
    Pottery {
        name: "Quillhaven",
        folder: "quillhaven",
        also: "Quillhaven Art Pottery",
        place: "Quillhaven",
        years: "1922/1959",
        emblem: None,
        outlined: false,
        layout: Layout::Script,
        country: "hand painted",
        maker_font: "Kristi.ttf",
        line_font: "LinBiolinum_R.otf",
        seed: 7,
        lines: &[
            line("script-linnet", "Linnet", "1924/1939", InkTone::Brown),
            line("script-dunlin", "Dunlin", "1926/1941", InkTone::Black),
            line("script-plover", "Plover", "1929/1950", InkTone::Red),
            line("script-curlew", "Curlew", "1933/1959", InkTone::Blue),
        ],
    },
    Pottery {
        name: "Isenbrook Works",
        folder: "isenbrook",
        also: "Isenbrook & Co.",
        place: "Lower Isenbrook",
        years: "1911/1978",
        emblem: Some(Emblem::Keyhole),
        outlined: false,
        layout: Layout::Oval,
        country: "Norvast",
        maker_font: "Cantarell-Bold.otf",
        line_font: "Lato-Medium.ttf",
        seed: 93,
        lines: &[
            Line {
                note: "Gilt mark; much weaker than the others on cream ware.",
                ..line(
                    "oval-copperplate",
                    "Copperplate",
                    "1954/1970",
                    InkTone::Gold,
                )
            },
            Line {
                code: CodeStyle::Letters,
                ..line("oval-ledger", "Ledger", "1950/1968", InkTone::Black)
            },
            Line {
                code: CodeStyle::Letters,
                ..line("oval-foundry", "Foundry", "1951/1978", InkTone::Grey)
            },
            Line {
                means: Means::Moulded,
                note: "Raised in the mould.",
                ..line("oval-moulded", "Anvil", "1911/1935", InkTone::None)
            },
        ],
    },
    Pottery {
        name: "Varnholt",
        folder: "varnholt",
        also: "Varnholt & Daughters",
        place: "Varnholt Mere",
        years: "1938/1989",
        emblem: Some(Emblem::Sun),
        outlined: false,
        layout: Layout::Boxed,
        country: "Varnholt Mere",
        maker_font: "ComicNeue-Bold.otf",
        line_font: "Comfortaa-Regular.ttf",
        seed: 64,
        lines: &[
            Line {
                code: CodeStyle::Slashed,
                ..line("sun-morning", "Morning", "1956/1977", InkTone::Black)
            },
            Line {
                code: CodeStyle::Slashed,
                ..line("sun-noonday", "Noonday", "1956/1980", InkTone::Black)
            },
            line("sun-dusk", "Dusk", "1960/1989", InkTone::Brown),
            Line {
                note: "Cream print on the dark glaze.",
                ..line("sun-midnight", "Midnight", "1962/1974", InkTone::Cream)
            },
        ],
    },
    Pottery {
        name: "Peverell Moss",
        folder: "peverell-moss",
        also: "P. Moss",
        place: "Mossgate",
        years: "1928/1966",
        emblem: Some(Emblem::Acorn),
        outlined: true,
        layout: Layout::Stacked,
        country: "Mossgate",
        maker_font: "LinLibertine_M.otf",
        line_font: "Cantarell-Regular.otf",
        seed: 29,
        lines: &[
            line("acorn-woodland", "Woodland", "1928/1947", InkTone::Green),
            line("acorn-fern-walk", "Fern Walk", "1932/1954", InkTone::Green),
            Line {
                variants: &[Variant {
                    folder: "export",
                    country: Some("Made in Norvast"),
                    extra: "",
                    used: "1949/1966",
                    note: "Country line for export.",
                }],
                ..line("acorn-lichen", "Lichen", "1937/1966", InkTone::Grey)
            },
        ],
    },
    Pottery {
        name: "",
        folder: "unattributed",
        also: "",
        place: "",
        years: "",
        emblem: Some(Emblem::Knot),
        outlined: false,
        layout: Layout::Ring,
        country: "Vitrified",
        maker_font: "BebasNeue-Regular.otf",
        line_font: "BebasNeue-Regular.otf",
        seed: 17,
        lines: &[Line {
            note: "Nobody knows whose it is; filed by what one sees.",
            ..line("knot-in-ring", "", "1920~/1950~", InkTone::Blue)
        }],
    },
];

/// Artwork of the shipped library: fonts by name, no icons.
pub fn artwork(fonts: &Path) -> Result<Artwork, crate::artwork::ArtworkError> {
    let mut names: Vec<&str> = POTTERIES
        .iter()
        .flat_map(|p| [p.maker_font, p.line_font])
        .collect();
    names.extend(["Lato-Regular.ttf", "Kristi.ttf"]);
    names.sort_unstable();
    names.dedup();
    let mut loaded = Vec::new();
    for name in names {
        let path = fonts.join("fonts").join(name);
        let data = std::fs::read(&path)
            .map_err(|source| crate::artwork::ArtworkError::Read { path, source })?;
        let face = if name == "Kristi.ttf" {
            Face::Script
        } else {
            Face::Sans
        };
        loaded.extend(crate::drawing::Font::new(name, data).map(|font| FontFile { face, font }));
    }
    let own = |list: &[&str]| list.iter().map(|s| (*s).to_string()).collect::<Vec<_>>();
    Ok(Artwork {
        split: Split::Fit,
        wide: false,
        fonts: loaded,
        icons: Vec::new(),
        words: WordLists {
            potteries: own(&[
                "Corbel & Wray",
                "Hathersedge",
                "Lund Brothers",
                "Ostrander Vale",
            ]),
            lines: own(&[
                "Paper Moon",
                "Blackthorn",
                "Ferry Lane",
                "Candlemas",
                "Oat Field",
            ]),
            places: own(&["Norvast", "Wrayby", "Hathersedge", "Lundmark"]),
            extras: own(&["Fine ware", "Oven proof", "Vitrified"]),
        },
    })
}

fn font(artwork: &Artwork, name: &str) -> usize {
    artwork
        .fonts
        .iter()
        .position(|f| f.font.name == name)
        .unwrap_or(0)
}

/// First and last year of an EDTF interval of years.
fn years(used: &str) -> (u16, u16) {
    let year = |s: &str| s.trim_matches('~').parse().unwrap_or(1950);
    used.split_once('/')
        .map_or((1950, 1950), |(a, b)| (year(a), year(b)))
}

fn family(artwork: &Artwork, p: &Pottery, l: &Line) -> Family {
    let design = Design {
        seed: p.seed,
        layout: p.layout,
        emblem: match p.emblem {
            Some(kind) if p.outlined => EmblemSource::Outlined(kind),
            Some(kind) => EmblemSource::Drawn(kind),
            None => EmblemSource::None,
        },
        maker: p.name.to_string(),
        line: l.line.to_string(),
        country: p.country.to_string(),
        extra: String::new(),
        small: SmallMark::None,
        foot: crate::foot::Foot::default(),
        code: l.code,
        years: years(l.used),
        maker_font: font(artwork, p.maker_font),
        line_font: font(artwork, p.line_font),
        print_font: font(artwork, "Lato-Regular.ttf"),
        weight: 1.0,
    };
    let name = match (p.name, l.line) {
        ("", _) => "Knot in a ring".to_string(),
        (maker, "") => format!("{maker}, general stamp"),
        (maker, line) => format!("{maker} {line}"),
    };
    Family {
        id: format!("{}/{}", p.folder, l.folder),
        name,
        design,
        ink: l.ink,
        dark: l.ink == InkTone::Cream,
        means: l.means,
        group: None,
        used: l.used.to_string(),
        in_library: true,
    }
}

/// One stamp of the shipped library, with the variant it is where it is one.
pub struct Stamp {
    pub family: Family,
    pub variant: Option<&'static str>,
    pub siblings: Vec<String>,
}

/// All stamps: families first met, each followed by its variants.
pub fn stamps(artwork: &Artwork) -> Vec<Stamp> {
    let mut out = Vec::new();
    for p in &POTTERIES {
        for l in p.lines {
            let family = family(artwork, p, l);
            let alike = |o: &&Line| o.folder != l.folder && o.means == l.means;
            let siblings: Vec<String> = p
                .lines
                .iter()
                .filter(alike)
                .map(|o| format!("{}/{}", p.folder, o.folder))
                .collect();
            for v in l.variants {
                let mut f = family.clone();
                f.design.extra = v.extra.to_string();
                f.design.years = years(v.used);
                if let Some(country) = v.country {
                    f.design.country = country.to_string();
                }
                let siblings = siblings.clone();
                out.push(Stamp {
                    family: f,
                    variant: Some(v.folder),
                    siblings,
                });
            }
            out.push(Stamp {
                family,
                variant: None,
                siblings,
            });
        }
    }
    out
}

/// Longest side of a shipped scan, in pixels: 60 KB hold it.
const SCAN: f32 = 430.0;

/// Writes the library to `out`.
pub fn write(artwork: &Artwork, out: &Path) -> Result<usize, LotError> {
    let mut count = 0;
    for p in &POTTERIES {
        let dir = out.join(p.folder);
        make_dir(&dir)?;
        if !p.name.is_empty() {
            write_file(&dir.join("maker.toml"), maker_text(p).as_bytes())?;
        }
        for l in p.lines {
            write_stamp(artwork, p, l, &dir)?;
            count += 1;
        }
    }
    Ok(count)
}

const SOURCE: &str = "Card index of the Wrayby Crockery Society (invented)";

fn maker_text(p: &Pottery) -> String {
    format!(
        "# An invented pottery.\nnames = [\"{}\"]\nalso_called = [\"{}\"]\n\
         plants = [{{ place = \"{}\", years = \"{}\" }}]\nsources = [\"{SOURCE}\"]\n",
        p.name, p.also, p.place, p.years
    )
}

fn write_stamp(artwork: &Artwork, p: &Pottery, l: &Line, dir: &Path) -> Result<(), LotError> {
    let family = family(artwork, p, l);
    let folder = dir.join(l.folder);
    make_dir(&folder)?;
    if !l.line.is_empty() {
        let lines = dir.join("lines");
        make_dir(&lines)?;
        let text = format!(
            "name = \"{}\"\nmade = \"{}\"\nforms = [\"plate\", \"saucer\", \"bowl\"]\n\
             sources = [\"{SOURCE}\"]\n",
            l.line, l.used
        );
        write_file(
            &lines.join(format!("{}.toml", slug(l.line))),
            text.as_bytes(),
        )?;
    }
    write_file(&folder.join("mark.toml"), mark_text(&family, l).as_bytes())?;
    let at = save_scan(artwork, &family, &folder)?;
    // The pictures of variants are laid out otherwise, so corners would not hold for them.
    let stands = match at.filter(|_| l.variants.is_empty()) {
        Some(at) => Stands::At(at, "mark.png"),
        None => Stands::Below,
    };
    if let Some(text) = codes_toml(&family.design, &stands, SOURCE) {
        write_file(&folder.join("codes.toml"), text.as_bytes())?;
    }
    for v in l.variants {
        let inner = folder.join(v.folder);
        make_dir(&inner)?;
        let mut f = family.clone();
        f.design.extra = v.extra.to_string();
        f.design.years = years(v.used);
        if let Some(country) = v.country {
            f.design.country = country.to_string();
        }
        let text = format!(
            "name = \"{}, {}\"\nused = \"{}\"\nnotes = [\"{}\"]\n",
            f.name, v.folder, v.used, v.note
        );
        write_file(&inner.join("mark.toml"), text.as_bytes())?;
        save_scan(artwork, &f, &inner)?;
    }
    Ok(())
}

fn mark_text(f: &Family, l: &Line) -> String {
    let mut out = format!("name = \"{}\"\n", f.name);
    if !l.line.is_empty() {
        out += &format!("line = \"{}\"\n", slug(l.line));
    }
    out += &format!("used = \"{}\"\nink = \"{}\"\n", l.used, l.ink.word());
    if !l.note.is_empty() {
        out += &format!("notes = [\"{}\"]\n", l.note);
    }
    out + &format!("sources = [\"{SOURCE}\"]\n")
}

/// Writes a scan; comes back with the corners of its code, where it carries one.
fn save_scan(artwork: &Artwork, f: &Family, folder: &Path) -> Result<Option<Quad>, LotError> {
    let seed =
        f.id.bytes()
            .chain(f.design.country.bytes())
            .fold(7u64, |h, b| h.wrapping_mul(31).wrapping_add(u64::from(b)));
    let clean::Scan { image, code, .. } = clean::flat(artwork, f, SCAN, &mut Rng::new(seed));
    let mut bytes = Vec::new();
    let path = folder.join("mark.png");
    let encoder =
        PngEncoder::new_with_quality(&mut bytes, CompressionType::Best, FilterType::Adaptive);
    image::ImageEncoder::write_image(
        encoder,
        image.as_raw(),
        image.width(),
        image.height(),
        ExtendedColorType::Rgb8,
    )
    .map_err(|source| LotError::Png {
        path: path.clone(),
        source,
    })?;
    write_file(&path, &bytes)?;
    Ok(code)
}
