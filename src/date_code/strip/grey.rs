//! One channel out of three: luma, or the mixture of colours in which ink stands out from glaze where
//! luma hardly shows it.

use image::RgbImage;
use nalgebra::{Matrix3, SymmetricEigen, Vector3};

use crate::raster::Plane;

/// Luma (ITU-R BT.601).
const LUMA: Vector3<f64> = Vector3::new(0.299, 0.587, 0.114);
/// Pixels on which a mixture is worked out; larger pictures are shrunk.
const PIXELS: usize = 40_000;
/// Shares of pixels, by how much they differ from what is around them: the noise of the glaze below the
/// first, ink above the second.
const CALM: f32 = 0.5;
const STRUCK: f32 = 0.9;
/// Least noise of a channel, in grey levels 0 to 1: rounding to bytes.
const ROUNDING: f64 = 0.004;
/// A mixture is taken where the variance of ink over that of noise is so many times what it is in luma.
/// On 248 codes of two tune lots it is taken seven times, and no more are read with it, nor fewer: the
/// inks there are darker or lighter than their glaze. It is there for inks that are as light as it.
const GAIN: f64 = 2.0;

/// A picture in one channel, 0 to 1.
pub fn grey_of(rgb: &RgbImage) -> Plane {
    let weights = mixture(rgb).unwrap_or(LUMA);
    mixed(rgb, &weights)
}

/// The channels mixed with these weights, brought to 0 to 1.
fn mixed(rgb: &RgbImage, weights: &Vector3<f64>) -> Plane {
    let [r, g, b] = [0, 1, 2].map(|c| weights[c] as f32 / 255.0);
    // Negative weights push below 0.
    let shift: f64 = weights.iter().map(|w| (-w).max(0.0)).sum();
    let value = |p: &image::Rgb<u8>| {
        let [x, y, z] = p.0.map(f32::from);
        r * x + g * y + b * z + shift as f32
    };
    let data = rgb.pixels().map(value).collect();
    Plane::from_vec(rgb.width() as usize, rgb.height() as usize, data)
}

/// The weights, their absolute values adding to 1, of the mixture in which what stands out differs most
/// from noise (the linear discriminant of Fisher 1936, for two classes of one mean); `None` where luma
/// does almost as well.
fn mixture(rgb: &RgbImage) -> Option<Vector3<f64>> {
    let pixels = (rgb.width() * rgb.height()) as usize;
    let shrink = (pixels as f64 / PIXELS as f64).sqrt().ceil().max(1.0) as usize;
    let axes = [Vector3::x(), Vector3::y(), Vector3::z()];
    let away = axes.map(|axis| {
        let plane = mixed(rgb, &axis).shrink(shrink);
        // As wide as where lines are sought.
        let sigma = (plane.width().min(plane.height()) as f32 / 5.0).clamp(6.0, 32.0);
        plane.zip(&plane.blur(sigma), |a, b| a - b)
    });
    // Ink is wider than a pixel, noise is not.
    let soft = [0, 1, 2].map(|c| away[c].blur(0.8));
    let of =
        |planes: &[Plane; 3], i: usize| Vector3::from_fn(|c, _| f64::from(planes[c].data()[i]));
    let count = away[0].data().len();
    let far: Vec<f32> = (0..count).map(|i| of(&soft, i).norm() as f32).collect();
    let far = Plane::from_vec(away[0].width(), away[0].height(), far);
    let (calm, struck) = (far.quantile(CALM), far.quantile(STRUCK));
    let spread = |planes: &[Plane; 3], within: &dyn Fn(f32) -> bool| {
        let some = (0..count).filter(|&i| within(far.data()[i]));
        let (sum, n) = some.fold((Matrix3::zeros(), 0.0), |(sum, n), i| {
            let v = of(planes, i);
            (sum + v * v.transpose(), n + 1.0)
        });
        sum / f64::max(n, 1.0)
    };
    let noise = spread(&away, &|v| v <= calm) + Matrix3::identity() * ROUNDING.powi(2);
    let ink = spread(&soft, &|v| v >= struck);
    let root = noise.cholesky()?.l();
    let back = root.try_inverse()?;
    let found = SymmetricEigen::new(back * ink * back.transpose());
    let best = found
        .eigenvectors
        .column(found.eigenvalues.imax())
        .into_owned();
    let weights = back.transpose() * best;
    let weights = weights / weights.abs().sum();
    let contrast = |w: &Vector3<f64>| w.dot(&(ink * w)) / w.dot(&(noise * w));
    let worth = contrast(&weights) > GAIN * contrast(&LUMA);
    // As near to luma as it can be, so that dark stays dark.
    worth.then(|| weights * weights.dot(&LUMA).signum())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Glaze with a stroke in the middle.
    fn picture(ink: [u8; 3]) -> RgbImage {
        RgbImage::from_fn(80, 40, |x, y| {
            let noise = ((x * 7 + y * 13) % 5) as u8;
            let struck = (36..44).contains(&x) && (8..32).contains(&y);
            let colour = if struck { ink } else { [150, 150, 150] };
            image::Rgb(colour.map(|c| c + noise))
        })
    }

    fn contrast(plane: &Plane) -> f32 {
        (plane.get(40, 20) - plane.get(15, 20)).abs()
    }

    #[test]
    fn ink_as_light_as_its_glaze_shows() {
        // Of one luma with the glaze.
        let rose = picture([222, 115, 145]);
        assert!(contrast(&mixed(&rose, &LUMA)) < 0.02);
        let seen = grey_of(&rose);
        assert!(contrast(&seen) > 0.15, "{}", contrast(&seen));
        assert!(seen.data().iter().all(|v| (0.0..=1.1).contains(v)));
    }

    #[test]
    fn dark_ink_stays_in_luma() {
        let black = picture([40, 40, 40]);
        assert_eq!(grey_of(&black), mixed(&black, &LUMA));
        assert_eq!(grey_of(&RgbImage::new(0, 0)).width(), 0);
    }
}
