//! The parts in which the forms of a family differ, and which forms are alike there.

use super::forms::{Form, SIDE};
use super::measures::correlation;
use super::nearby::keep_near;
use super::pixels::{along, pixels, spots};
use super::wording::{self, Written};
use crate::ink::box_max;
use crate::raster::Plane;

/// Strokes are told by their ink over the strongest within so many pixels, or over the least that is no grain, where thin
/// lettering has as much as the rest of its line.
const LOCAL: usize = 8;
const LEAST: f32 = 0.12;
/// That share from which a form has a stroke at a pixel, and the one up to which it has none within reach (pixels of the
/// frame): forms laid over one another are a pixel or two apart.
const HAS: f32 = 0.5;
const LACKS: f32 = 0.3;
const REACH: usize = 2;
/// The same where all forms are to be bare.
const BARE_REACH: usize = 3;
/// Differences are joined along the way the mark reads, as letters are to words (pixels each way), and a little across.
const ALONG: i32 = 6;
const ACROSS: usize = 1;
/// Pixels of a part that differ, at the least, and room round it in which forms are compared.
const LEAST_SPOT: usize = 10;
const ROOM: usize = 3;
/// Ink (sum of squares) that a part has at the least, and the share of the fullest form's below which a form has none.
const LEAST_INK: f32 = 1.0;
const EMPTY: f32 = 0.15;
/// A form with less than that has ink there all the same where its strokes, each over the strongest near it, correlate so
/// much (-1 to 1) with those of a form that has, and lie at so large a share of them: one picture shows a line of small
/// print struck faintly, the next strongly. With this and the closer look, and the other constants as they were, 189 of 226
/// legible forms of clean scans are told on tune (seeds 801 and 802) and without them 177.
const FAINT: f32 = 0.45;
const MET: f32 = 0.5;
/// Forms whose strokes correlate as much (-1 to 1), blurred by so many pixels, are alike there.
const ALIKE: f32 = 0.6;
const SOFT: f32 = 1.0;
/// A form without ink in the middle of a line that it has on both sides is worn there, not another form: how far the line
/// is followed (pixels each way), the share of the fullest form's ink it must have there, and how alike the two must be.
const LINE: i32 = 30;
const LINED: f32 = 0.25;
const LINE_ALIKE: f32 = 0.3;
/// Share of what differs in a part from which forms that have other words there are parted.
const OTHER_WORDS: f32 = 0.3;
/// How often alike forms are compared again where they still differ.
const DEPTH: usize = 2;
/// Forms that are told apart at a time.
pub(super) const MOST_FORMS: usize = 12;

/// A part, and the forms by what they have there.
pub(super) struct Part {
    /// Forms that are alike, by index; those without ink last.
    pub(super) sides: Vec<Vec<usize>>,
    /// Whether the last side has no ink there.
    pub(super) empty: bool,
    /// 1 in the part and a little round it.
    pub(super) window: Plane,
    /// Pixels that differ.
    pub(super) size: usize,
}

/// The frame divided by what forms have in common.
pub(super) struct Divided {
    pub(super) parts: Vec<Part>,
    /// 1 where all forms have ink, and where none has.
    pub(super) shared: Plane,
    pub(super) bare: Plane,
}

impl Divided {
    /// Whether all forms agree at a pixel.
    pub(super) fn is_told(&self, at: usize) -> bool {
        self.shared.data()[at] + self.bare.data()[at] > 0.5
    }
}

/// Divides the frame; the mark reads along `angle` (radians).
pub(super) fn divide(forms: &[Form], angle: f64) -> Divided {
    let inks = Inks::of(forms, angle);
    let all: Vec<usize> = (0..inks.strokes.len()).collect();
    let everywhere = Plane::filled(SIDE, SIDE, 1.0);
    let mut parts = Vec::new();
    inks.differing(&all, &everywhere, DEPTH, &mut parts);
    let off = box_max(&inks.differences(&all), BARE_REACH);
    let at_all = |f: &dyn Fn(usize, usize) -> bool| {
        let flags = (0..SIDE * SIDE).map(|at| f32::from(u8::from(all.iter().all(|&i| f(i, at)))));
        Plane::from_vec(SIDE, SIDE, flags.collect())
    };
    let around: Vec<Plane> = inks.strokes.iter().map(|s| box_max(s, 1)).collect();
    let wide: Vec<Plane> = inks
        .strokes
        .iter()
        .map(|s| box_max(s, BARE_REACH))
        .collect();
    let near_all = at_all(&|i, at| around[i].data()[at] >= HAS);
    let at_any = |at: usize| inks.strokes.iter().any(|s| s.data()[at] >= HAS);
    let shared = (0..SIDE * SIDE).map(|at| {
        let own = near_all.data()[at] > 0.5 && at_any(at) && off.data()[at] < 0.5;
        f32::from(u8::from(own))
    });
    let shared = Plane::from_vec(SIDE, SIDE, shared.collect());
    let bare = at_all(&|i, at| wide[i].data()[at] <= LACKS);
    keep_near(&mut parts, &shared, angle);
    Divided {
        parts,
        shared,
        bare,
    }
}

/// The forms' ink, as parts are sought in it.
struct Inks<'a> {
    forms: &'a [Form],
    strokes: Vec<Plane>,
    near: Vec<Plane>,
    soft: Vec<Plane>,
    /// Where two forms have other words, for each pair in order: the second by the first.
    unlike: Vec<Vec<Plane>>,
    angle: f64,
}

impl<'a> Inks<'a> {
    fn of(forms: &'a [Form], angle: f64) -> Self {
        let forms = &forms[..forms.len().min(MOST_FORMS)];
        let strokes: Vec<Plane> = forms
            .iter()
            .map(|f| {
                f.ink
                    .zip(&box_max(&f.ink, LOCAL), |v, most| v / most.max(LEAST))
            })
            .collect();
        let soft: Vec<Plane> = strokes.iter().map(|s| s.blur(SOFT)).collect();
        let letters: Vec<Plane> = soft.iter().map(|s| wording::letters(s, angle)).collect();
        let written = |i: usize| Written {
            strokes: &strokes[i],
            soft: &soft[i],
            letters: &letters[i],
        };
        let unlike = (0..forms.len()).map(|i| {
            let earlier = (0..i).map(|j| wording::unlike(&written(j), &written(i)));
            earlier.collect()
        });
        let unlike = unlike.collect();
        Self {
            forms,
            unlike,
            near: strokes.iter().map(|s| box_max(s, REACH)).collect(),
            soft,
            strokes,
            angle,
        }
    }

    /// 1 where one of these forms has a stroke and another has none.
    fn differences(&self, among: &[usize]) -> Plane {
        let flags = (0..SIDE * SIDE).map(|at| {
            let lacking = among.iter().any(|&i| self.near[i].data()[at] <= LACKS);
            let having = among.iter().any(|&i| self.strokes[i].data()[at] >= HAS);
            f32::from(u8::from(lacking && having))
        });
        let mut out = Plane::from_vec(SIDE, SIDE, flags.collect());
        for &i in among {
            for &j in among.iter().filter(|j| **j < i) {
                out = out.zip(&self.unlike[i][j], f32::max);
            }
        }
        out
    }

    /// Parts forms that are alike as a whole and have other words in much of what differs here.
    fn by_wording(&self, side: Vec<usize>, differs: &[usize]) -> Vec<Vec<usize>> {
        let least = (OTHER_WORDS * differs.len() as f32).max(LEAST_SPOT as f32);
        let same = |i: usize, j: usize| {
            let unlike = &self.unlike[i.max(j)][i.min(j)];
            let count = differs
                .iter()
                .filter(|&&at| unlike.data()[at] > 0.5)
                .count();
            (count as f32) < least
        };
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for i in side {
            match groups.iter_mut().find(|g| g.iter().all(|&j| same(i, j))) {
                Some(group) => group.push(i),
                None => groups.push(vec![i]),
            }
        }
        groups
    }

    /// Parts in which these forms differ inside `within`.
    fn differing(&self, among: &[usize], within: &Plane, depth: usize, out: &mut Vec<Part>) {
        let differences = self.differences(among).zip(within, f32::min);
        let joined = along(&box_max(&differences, ACROSS), self.angle, ALONG);
        for spot in spots(&joined) {
            let mut differs = spot.clone();
            differs.retain(|&at| differences.data()[at] > 0.5);
            if differs.len() < LEAST_SPOT {
                continue;
            }
            let mut window = Plane::filled(SIDE, SIDE, 0.0);
            spot.iter().for_each(|&at| window.data_mut()[at] = 1.0);
            let window = box_max(&window, ROOM);
            let Some((sides, empty)) = self.sides(among, &window, &differs) else {
                continue;
            };
            let inked = sides.len() - usize::from(empty);
            let again: Vec<Vec<usize>> = sides[..inked]
                .iter()
                .filter(|s| s.len() > 1)
                .cloned()
                .collect();
            out.push(Part {
                sides,
                empty,
                window: window.clone(),
                size: differs.len(),
            });
            if depth > 0 {
                for side in again {
                    self.differing(&side, &window, depth - 1, out);
                }
            }
        }
    }

    /// How alike two forms are at these pixels: the correlation of their strokes.
    fn like(&self, i: usize, j: usize, at: &[usize]) -> f32 {
        let soft = [&self.soft[i], &self.soft[j]].map(Plane::data);
        correlation(at.iter().map(|&at| (soft[0][at], soft[1][at])))
    }

    /// Whether a form with little ink in a window has faintly what another has there.
    fn is_faintly(&self, i: usize, j: usize, inside: &[usize], differs: &[usize]) -> bool {
        let own = differs
            .iter()
            .filter(|&&at| self.strokes[j].data()[at] >= HAS);
        let met = own.clone().filter(|&&at| self.near[i].data()[at] > LACKS);
        let share = met.count() as f32 / own.count().max(1) as f32;
        share >= MET && self.like(i, j, inside) > FAINT
    }

    /// The forms by what they have in a window, and whether the last have nothing; `None` where all are alike.
    fn sides(
        &self,
        among: &[usize],
        window: &Plane,
        differs: &[usize],
    ) -> Option<(Vec<Vec<usize>>, bool)> {
        let inside = pixels(window);
        let ink = |i: usize, at: &[usize]| -> f32 {
            at.iter()
                .map(|&at| self.forms[i].ink.data()[at].powi(2))
                .sum()
        };
        let fullest = among.iter().map(|&i| ink(i, &inside)).fold(0.0, f32::max);
        if fullest < LEAST_INK {
            return None;
        }
        let (weak, mut inked): (Vec<usize>, Vec<usize>) = among
            .iter()
            .partition(|&&i| ink(i, &inside) < EMPTY * fullest);
        let (faint, mut empty): (Vec<usize>, Vec<usize>) = weak.into_iter().partition(|&i| {
            inked
                .iter()
                .any(|&j| self.is_faintly(i, j, &inside, differs))
        });
        let line = along(window, self.angle, LINE).zip(window, |l, w| l * (1.0 - w));
        let line = pixels(&line);
        let along_line = among.iter().map(|&i| ink(i, &line)).fold(0.0, f32::max);
        if along_line > LINED * fullest {
            empty.retain(|&i| {
                let goes_on = ink(i, &line) > LINED * along_line
                    && inked.iter().any(|&j| self.like(i, j, &line) > LINE_ALIKE);
                !goes_on
            });
        }
        inked.extend(faint);
        inked.sort_unstable();
        let mut sides: Vec<Vec<usize>> = Vec::new();
        for i in inked {
            let mean = |side: &Vec<usize>| {
                side.iter().map(|&j| self.like(i, j, &inside)).sum::<f32>() / side.len() as f32
            };
            let nearest = sides
                .iter_mut()
                .map(|s| (mean(s), s))
                .max_by(|a, b| a.0.total_cmp(&b.0));
            match nearest {
                Some((fit, side)) if fit >= ALIKE => side.push(i),
                _ => sides.push(vec![i]),
            }
        }
        let sides = sides.into_iter().flat_map(|s| self.by_wording(s, differs));
        let mut sides: Vec<Vec<usize>> = sides.collect();
        let has_empty = !empty.is_empty();
        sides.extend(has_empty.then_some(empty));
        (sides.len() > 1).then_some((sides, has_empty))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bars of ink: left, top, right and bottom in pixels.
    fn form(bars: &[[usize; 4]]) -> Form {
        let mut ink = Plane::filled(SIDE, SIDE, 0.0);
        for [left, top, right, bottom] in bars {
            for y in *top..*bottom {
                (*left..*right).for_each(|x| ink.set(x, y, 1.0));
            }
        }
        Form { variant: None, ink }
    }

    /// Upright strokes in a row, as letters are.
    fn word(left: usize, top: usize, letters: &[usize]) -> Vec<[usize; 4]> {
        let letters = letters.iter().enumerate();
        letters
            .map(|(i, high)| [left + 7 * i, top, left + 7 * i + 3, top + high])
            .collect()
    }

    const NAME: [usize; 4] = [60, 60, 220, 80];

    fn sides(forms: &[Form]) -> Vec<(Vec<Vec<usize>>, bool)> {
        let found = divide(forms, 0.0).parts.into_iter();
        found.map(|p| (p.sides, p.empty)).collect()
    }

    #[test]
    fn what_one_form_has_more_is_a_part() {
        let country = word(80, 100, &[8, 5, 8, 8, 5]);
        let with: Vec<_> = [NAME].into_iter().chain(country).collect();
        let forms = [form(&[NAME]), form(&with)];
        assert_eq!(sides(&forms), [(vec![vec![1], vec![0]], true)]);
        let divided = divide(&forms, 0.0);
        assert!(divided.shared.get(100, 70) > 0.5 && divided.bare.get(10, 10) > 0.5);
    }

    #[test]
    fn another_word_in_its_place_is_another_side() {
        let with = |strokes: &[usize]| {
            let strokes = strokes.iter().map(|at| [80 + at, 100, 82 + at, 108]);
            form(&[NAME].into_iter().chain(strokes).collect::<Vec<_>>())
        };
        let one = [0, 5, 14, 19, 23, 33, 38, 47, 52, 60];
        let other = [3, 10, 12, 21, 28, 30, 41, 44, 55, 57];
        let found = sides(&[with(&one), with(&one), with(&other)]);
        assert!(
            found.contains(&(vec![vec![0, 1], vec![2]], false)),
            "{found:?}"
        );
    }

    #[test]
    fn a_line_struck_faintly_is_the_same_line_and_bare_glaze_is_none() {
        let mark = [&[NAME], word(80, 100, &[8, 5, 8, 8, 5]).as_slice()].concat();
        let (full, mut faint) = (form(&mark), form(&mark));
        for at in 90 * SIDE..SIDE * SIDE {
            faint.ink.data_mut()[at] *= 0.3;
        }
        assert_eq!(
            sides(&[full, form(&[NAME]), faint]),
            [(vec![vec![0, 2], vec![1]], true)]
        );
    }

    #[test]
    fn edges_a_pixel_apart_and_specks_are_no_parts() {
        let moved = NAME.map(|v| v + 2);
        assert!(sides(&[form(&[NAME]), form(&[moved, [90, 90, 93, 93]])]).is_empty());
    }

    #[test]
    fn a_gap_in_a_worn_line_is_no_part() {
        let line = word(40, 100, &[8; 30]);
        let worn: Vec<[usize; 4]> = [&line[..7], &line[23..]].concat();
        let with = |word: &[[usize; 4]]| form(&[&[NAME], word].concat());
        assert!(sides(&[with(&line), with(&worn)]).is_empty());
    }

    #[test]
    fn what_lies_far_from_the_mark_is_no_part() {
        let stain = [10, 250, 40, 270];
        assert!(sides(&[form(&[NAME]), form(&[NAME, stain])]).is_empty());
    }
}
