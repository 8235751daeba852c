//! Mark designs: an emblem, a maker, a line and small print, laid out in one of several styles.
//! Units are free; a drawn mark is about 2 wide. x runs right, y down.

use crate::artwork::{Artwork, Face, Icon};
use crate::drawing::{
    Arc, Bounds, Font, Ink, Setting, Shape, bounds_of, ellipse, fitted, polyline,
};
use crate::emblem::Emblem;
use crate::foot::{Foot, Stand, Stood};
use crate::frame;
use crate::random::Rng;

/// How the parts of a mark are arranged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layout {
    Stacked,
    ArcOver,
    Ring,
    Oval,
    Script,
    Boxed,
    Diamond,
    Shielded,
    Ribbon,
    Beside,
}

const LAYOUTS: [(Layout, f32); 10] = [
    (Layout::Stacked, 2.0),
    (Layout::ArcOver, 2.0),
    (Layout::Ring, 1.8),
    (Layout::Oval, 1.3),
    (Layout::Script, 1.2),
    (Layout::Boxed, 0.9),
    (Layout::Diamond, 0.5),
    (Layout::Shielded, 0.7),
    (Layout::Ribbon, 1.2),
    (Layout::Beside, 0.9),
];

#[derive(Clone, Debug)]
pub enum EmblemSource {
    Icon(Icon),
    Drawn(Emblem),
    /// Drawn with open lines where it would be solid.
    Outlined(Emblem),
    None,
}

/// A small sign added beside the country: the one thing that tells some siblings apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SmallMark {
    None,
    Dots(u8),
    Letter(char),
}

/// A date code: what is printed differs from piece to piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CodeStyle {
    None,
    MonthYear,
    Letters,
    Slashed,
}

/// Everything that makes a mark what it is; the same design always draws the same mark.
#[derive(Clone, Debug)]
pub struct Design {
    pub seed: u64,
    pub layout: Layout,
    pub emblem: EmblemSource,
    pub maker: String,
    pub line: String,
    pub country: String,
    /// A further line of small print; empty for none.
    pub extra: String,
    pub small: SmallMark,
    /// What hangs below the name in place of a country; empty for most marks.
    pub foot: Foot,
    pub code: CodeStyle,
    /// Years that a code may name, first and last.
    pub years: (u16, u16),
    pub maker_font: usize,
    pub line_font: usize,
    pub print_font: usize,
    pub weight: f32,
}

/// A drawn mark in drawing units.
#[derive(Clone, Debug)]
pub struct Drawn {
    pub shapes: Vec<Shape>,
    /// Those parts that tell this mark from its siblings.
    pub deciding: Vec<Shape>,
    pub bounds: Bounds,
    /// Box of the date code.
    pub code: Option<Bounds>,
    /// Height of the letters that tell siblings apart, in drawing units.
    pub letter: f32,
    /// The places below the name at which forms of one family differ.
    pub foot: Vec<Stood>,
}

impl Design {
    pub fn draw_from(artwork: &Artwork, rng: &mut Rng, words: Words) -> Self {
        let weights: Vec<f32> = LAYOUTS.iter().map(|l| l.1).collect();
        let layout = LAYOUTS[rng.weighted(&weights)].0;
        let emblem = if rng.chance(0.75) {
            EmblemSource::Icon(rng.pick(&artwork.icons).clone())
        } else {
            EmblemSource::Drawn(*rng.pick(artwork.split.emblems()))
        };
        let upright = [Face::Serif, Face::Sans];
        let maker_faces: &[Face] = if layout == Layout::Script {
            &[Face::Script]
        } else {
            &upright
        };
        let line_faces: &[Face] = if rng.chance(0.35) {
            &[Face::Script]
        } else {
            &[Face::Serif, Face::Sans, Face::Mono]
        };
        let code = match rng.below(5) {
            0 => CodeStyle::MonthYear,
            1 => CodeStyle::Letters,
            2 if rng.chance(0.5) => CodeStyle::Slashed,
            _ => CodeStyle::None,
        };
        Self {
            seed: rng.bits(),
            layout,
            emblem,
            maker: words.maker,
            line: words.line,
            country: words.country,
            extra: String::new(),
            small: SmallMark::None,
            foot: Foot::default(),
            code,
            years: (1930, 1989),
            maker_font: artwork.font(rng, maker_faces),
            line_font: artwork.font(rng, line_faces),
            print_font: artwork.font(rng, &upright),
            weight: rng.range(0.6, 1.5),
        }
    }

    /// A code as it may stand on one piece; empty where the design has none.
    pub fn code_text(&self, rng: &mut Rng) -> String {
        let letter = |r: &mut Rng| char::from(b'A' + r.below(26) as u8);
        match self.code {
            CodeStyle::None => String::new(),
            CodeStyle::MonthYear => format!("{} {:02}", 1 + rng.below(12), self.year(rng)),
            CodeStyle::Letters => format!("{}{}{}", letter(rng), letter(rng), 1 + rng.below(9)),
            CodeStyle::Slashed => format!("{}/{:02}", 1 + rng.below(12), self.year(rng)),
        }
    }

    fn year(&self, rng: &mut Rng) -> u16 {
        let (first, last) = self.years;
        (first + rng.below(usize::from(last.saturating_sub(first)) + 1) as u16) % 100
    }

    pub fn draw(&self, artwork: &Artwork, code: &str) -> Drawn {
        let mut pen = Pen {
            artwork,
            design: self,
            rng: Rng::new(self.seed),
            w: 0.035 * self.weight,
            shapes: Vec::new(),
            deciding: Vec::new(),
            letter: 0.1,
            stand: None,
        };
        match self.layout {
            Layout::Stacked => pen.stacked(),
            Layout::ArcOver => pen.arc_over(),
            Layout::Ring => pen.ring(1.0),
            Layout::Oval => pen.ring(0.68),
            Layout::Script => pen.script(),
            Layout::Boxed => pen.boxed(),
            Layout::Diamond => pen.diamond(),
            Layout::Shielded => pen.shielded(),
            Layout::Ribbon => pen.ribbon(),
            Layout::Beside => pen.beside(),
        }
        pen.extra();
        pen.small_mark();
        let foot = pen.foot();
        let code = pen.code(code);
        let bounds = bounds_of(&pen.shapes);
        Drawn {
            shapes: pen.shapes,
            deciding: pen.deciding,
            bounds,
            code,
            letter: pen.letter,
            foot,
        }
    }
}

/// The words of a mark.
pub struct Words {
    pub maker: String,
    pub line: String,
    pub country: String,
}

struct Pen<'a> {
    artwork: &'a Artwork,
    design: &'a Design,
    rng: Rng,
    w: f32,
    shapes: Vec<Shape>,
    deciding: Vec<Shape>,
    letter: f32,
    /// Where the name stands, once it does.
    stand: Option<Stand>,
}

impl Pen<'_> {
    fn font(&self, i: usize) -> &Font {
        &self.artwork.fonts[i].font
    }

    fn add(&mut self, shapes: Vec<Shape>) {
        self.shapes.extend(shapes);
    }

    fn decide(&mut self, shapes: Vec<Shape>, letter: f32) {
        self.letter = letter;
        self.deciding.extend(shapes.iter().cloned());
        self.shapes.extend(shapes);
    }

    fn fit(&self, font: usize, text: &str, size: f32, spacing: f32, most: f32) -> Setting {
        let wide = self
            .font(font)
            .width(text, Setting { size, spacing })
            .max(1e-6);
        Setting {
            size: size * (most / wide).min(1.0),
            spacing,
        }
    }

    fn emblem(&mut self, cx: f32, cy: f32, size: f32) {
        let raw = match &self.design.emblem {
            EmblemSource::Icon(icon) => icon.draw(&mut self.rng),
            EmblemSource::Drawn(kind) => kind.draw(&mut self.rng, self.w * 2.0),
            EmblemSource::Outlined(kind) => {
                let mut shapes = kind.draw(&mut self.rng, self.w * 2.0);
                for s in shapes.iter_mut().filter(|s| s.ink == Ink::Fill) {
                    s.ink = Ink::Line(self.w * 1.6);
                }
                shapes
            }
            EmblemSource::None => return,
        };
        let placed = fitted(&raw, cx, cy, size);
        self.add(placed);
    }

    fn maker_text(&self, upper: bool) -> String {
        if upper {
            self.design.maker.to_uppercase()
        } else {
            self.design.maker.clone()
        }
    }

    /// Maker text centred on a line; comes back with the height used.
    fn maker(&mut self, cx: f32, base: f32, size: f32, most: f32) -> f32 {
        let upper = self.rng.chance(0.6) && self.design.layout != Layout::Script;
        let text = self.maker_text(upper);
        let set = self.fit(self.design.maker_font, &text, size, 0.04, most);
        let s = self.font(self.design.maker_font).line(&text, cx, base, set);
        self.add(s);
        set.size
    }

    fn line(&mut self, cx: f32, base: f32, size: f32, most: f32) -> f32 {
        let quoted = self.rng.chance(0.25);
        self.stand = Some(Stand {
            x: cx,
            base,
            most: most * 0.85,
        });
        if self.design.line.is_empty() {
            return size;
        }
        let text = if quoted {
            format!("\"{}\"", self.design.line)
        } else {
            self.design.line.clone()
        };
        let set = self.fit(self.design.line_font, &text, size, 0.0, most);
        let s = self.font(self.design.line_font).line(&text, cx, base, set);
        self.decide(s, set.size * 0.5);
        set.size
    }

    fn country(&mut self, cx: f32, base: f32, size: f32, most: f32) -> f32 {
        let text = self.design.country.clone();
        let set = self.fit(self.design.print_font, &text, size, 0.06, most);
        let s = self.font(self.design.print_font).line(&text, cx, base, set);
        self.add(s);
        set.size
    }

    fn bottom(&self) -> f32 {
        bounds_of(&self.shapes).bottom
    }

    fn stacked(&mut self) {
        let size = self.rng.range(0.8, 1.2);
        self.emblem(0.0, -size / 2.0, size);
        let mut y = 0.3;
        let m = self.rng.range(0.26, 0.36);
        y += self.maker(0.0, y, m, 2.0) * 0.35;
        if self.rng.chance(0.3) {
            let s = polyline(&[(-0.5, y), (0.5, y)], self.w);
            self.add(s);
        }
        let l = self.rng.range(0.24, 0.36);
        y += l * 0.85;
        self.line(0.0, y, l, 1.9);
        self.country(0.0, y + 0.26, 0.17, 1.5);
    }

    fn arc_over(&mut self) {
        let r = self.rng.range(0.78, 0.95);
        let text = self.maker_text(true);
        let set = self.fit(self.design.maker_font, &text, 0.26, 0.1, r * 2.9);
        let arc = Arc {
            rx: r,
            ry: r,
            cy: 0.0,
            lower: false,
        };
        let s = self.font(self.design.maker_font).arc(&text, arc, set);
        self.add(s);
        let size = self.rng.range(0.95, 1.2);
        self.emblem(0.0, -0.1, size);
        let y = 0.55 + size * 0.2;
        self.line(0.0, y, 0.32, 1.9);
        self.country(0.0, y + 0.27, 0.17, 1.6);
    }

    fn ring(&mut self, squash: f32) {
        let (w, rich) = (self.w, self.rng.chance(0.6));
        let mut s = frame::ring(self.artwork.split, squash, w, rich);
        let inner = self.rng.range(0.58, 0.66);
        if self.rng.chance(0.7) {
            s.extend(ellipse(0.0, 0.0, inner, inner * squash, Ink::Line(w)));
        }
        self.add(s);
        let band = (0.93 - inner) * if squash < 0.9 { 0.72 } else { 0.85 };
        self.ring_text(squash, inner, band);
        let size = inner * if squash < 0.9 { 0.95 } else { 1.25 };
        self.emblem(0.0, 0.0, size);
        self.below_ring(squash);
    }

    fn ring_text(&mut self, squash: f32, inner: f32, band: f32) {
        let mean = (1.0 + squash) / 2.0;
        let base = inner + (0.95 - inner) * 0.27;
        let text = self.maker_text(true);
        let set = self.fit(
            self.design.maker_font,
            &text,
            band * 1.2,
            0.08,
            mean * base * 2.9,
        );
        let arc = Arc {
            rx: base,
            ry: base * squash,
            cy: 0.0,
            lower: false,
        };
        let s = self.font(self.design.maker_font).arc(&text, arc, set);
        self.add(s);
        let outer = inner + (0.95 - inner) * 0.74;
        let text = self.design.country.to_uppercase();
        let set = self.fit(
            self.design.print_font,
            &text,
            band,
            0.08,
            mean * outer * 2.2,
        );
        let arc = Arc {
            rx: outer,
            ry: outer * squash,
            cy: 0.0,
            lower: true,
        };
        let s = self.font(self.design.print_font).arc(&text, arc, set);
        self.add(s);
    }

    fn below_ring(&mut self, squash: f32) {
        let size = self.rng.range(0.26, 0.34);
        self.line(0.0, squash + size * 1.0, size, 1.9);
    }

    fn script(&mut self) {
        let size = self.maker(0.0, 0.0, self.rng.clone().range(0.45, 0.6), 2.0);
        if self.rng.chance(0.6) {
            let y = size * 0.3;
            let s = polyline(
                &[
                    (-0.8, y + 0.03),
                    (-0.2, y - 0.02),
                    (0.3, y),
                    (0.85, y - 0.04),
                ],
                self.w,
            );
            self.add(s);
        }
        let y = size * 0.3 + 0.36;
        self.line(0.0, y, 0.3, 1.8);
        self.country(0.0, y + 0.25, 0.16, 1.5);
    }

    fn boxed(&mut self) {
        self.maker(0.0, 0.0, 0.3, 1.75);
        self.line(0.0, 0.36, 0.3, 1.75);
        self.country(0.0, 0.62, 0.16, 1.6);
        if self.rng.chance(0.7) {
            self.emblem(0.0, -0.65, 0.62);
        }
        let b = bounds_of(&self.shapes).grow(0.12);
        let double = self.rng.chance(0.4);
        let s = frame::boxed(self.artwork.split, b, self.w, double);
        self.add(s);
    }

    fn diamond(&mut self) {
        let h = self.rng.range(0.75, 1.0);
        let s = frame::lozenge(self.artwork.split, h, self.w);
        self.add(s);
        self.emblem(0.0, -0.38 * h, 0.5 * h);
        self.maker(0.0, 0.08, 0.24, 1.4);
        self.country(0.0, 0.3, 0.14, 0.95);
        self.line(0.0, h + 0.3, 0.3, 1.9);
    }

    fn shielded(&mut self) {
        let s = frame::shield(self.artwork.split, self.w);
        self.add(s);
        self.emblem(0.0, -0.35, 0.62);
        self.maker(0.0, 0.2, 0.22, 1.25);
        self.country(0.0, 0.42, 0.14, 0.9);
        self.line(0.0, 1.28, 0.32, 1.9);
    }

    fn ribbon(&mut self) {
        let size = self.rng.range(0.85, 1.15);
        self.emblem(0.0, -size / 2.0 - 0.05, size);
        let (top, low) = (0.05, 0.42);
        let solid = self.rng.chance(0.5);
        let ink = if solid { Ink::Fill } else { Ink::Line(self.w) };
        let mut s = frame::ribbon(self.artwork.split, top, low, ink);
        let text = self.maker_text(true);
        let set = self.fit(self.design.maker_font, &text, 0.3, 0.05, 1.65);
        let base = (top + low) / 2.0 + set.size * 0.35;
        let mut letters = self
            .font(self.design.maker_font)
            .line(&text, 0.0, base, set);
        if solid {
            letters.iter_mut().for_each(|l| l.ink = Ink::Erase);
        }
        s.extend(letters);
        self.add(s);
        self.line(0.0, 0.8, 0.32, 1.9);
        self.country(0.0, 1.06, 0.17, 1.6);
    }

    fn beside(&mut self) {
        let size = self.rng.range(0.8, 1.0);
        self.emblem(-0.85, 0.1, size);
        let cx = 0.4;
        self.maker(cx, -0.08, 0.3, 1.4);
        self.line(cx, 0.26, 0.28, 1.4);
        self.country(cx, 0.5, 0.16, 1.3);
    }

    fn extra(&mut self) {
        if self.design.extra.is_empty() {
            return;
        }
        let text = self.design.extra.clone();
        let y = self.bottom() + 0.24;
        let set = self.fit(self.design.print_font, &text, 0.18, 0.05, 1.6);
        let s = self.font(self.design.print_font).line(&text, 0.0, y, set);
        self.add(s);
    }

    fn small_mark(&mut self) {
        let (y, w) = (self.bottom() + 0.14, self.w);
        match self.design.small {
            SmallMark::None => {}
            SmallMark::Dots(n) => {
                for i in 0..n {
                    let x = (f32::from(i) - f32::from(n - 1) / 2.0) * 0.16;
                    let s = ellipse(x, y - 0.02, 0.03 + w * 0.4, 0.03 + w * 0.4, Ink::Fill);
                    self.decide(s, 0.12);
                }
            }
            SmallMark::Letter(c) => {
                let set = Setting {
                    size: 0.24,
                    spacing: 0.0,
                };
                let s = self
                    .font(self.design.print_font)
                    .line(&c.to_string(), 0.0, y + 0.08, set);
                self.decide(s, 0.16);
            }
        }
    }

    fn foot(&mut self) -> Vec<Stood> {
        let Some(stand) = self.stand else {
            return Vec::new();
        };
        let font = self.font(self.design.print_font);
        let (ink, places) = self.design.foot.draw(font, &stand, self.w);
        self.add(ink);
        places
    }

    fn code(&mut self, text: &str) -> Option<Bounds> {
        if text.is_empty() {
            return None;
        }
        let y = self.bottom() + 0.22;
        let set = Setting {
            size: 0.19,
            spacing: 0.05,
        };
        let x = self.rng.range(-0.3, 0.3);
        let s = self.font(self.design.print_font).line(text, x, y, set);
        let b = bounds_of(&s);
        self.add(s);
        Some(b)
    }
}
