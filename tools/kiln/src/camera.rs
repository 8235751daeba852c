//! A pinhole camera over the base. Photo pixels: origin at the outer corner of the top-left one.

use crate::light::Vec3;

#[derive(Clone, Copy, Debug)]
pub struct Camera {
    pub right: Vec3,
    pub down: Vec3,
    pub forward: Vec3,
    pub eye: Vec3,
    pub focal: f32,
    pub centre: (f32, f32),
}

fn turn(axis: usize, a: f32, v: Vec3) -> Vec3 {
    let (c, s) = (a.cos(), a.sin());
    match axis {
        0 => [v[0], c * v[1] - s * v[2], s * v[1] + c * v[2]],
        _ => [c * v[0] - s * v[1], s * v[0] + c * v[1], v[2]],
    }
}

/// Where the camera stands and how it is held. Angles in radians.
#[derive(Clone, Copy, Debug)]
pub struct Pose {
    /// Place of the base plane that the optical axis meets.
    pub target: (f32, f32),
    pub tilt: f32,
    pub azimuth: f32,
    pub roll: f32,
    pub distance: f32,
    pub focal: f32,
    pub centre: (f32, f32),
}

impl Camera {
    pub fn new(pose: &Pose) -> Self {
        let place = |v| {
            let v = turn(2, pose.roll - pose.azimuth, v);
            turn(2, pose.azimuth, turn(0, pose.tilt, v))
        };
        let forward = place([0.0, 0.0, -1.0]);
        let d = pose.distance;
        Self {
            right: place([1.0, 0.0, 0.0]),
            down: place([0.0, 1.0, 0.0]),
            forward,
            eye: [
                pose.target.0 - d * forward[0],
                pose.target.1 - d * forward[1],
                -d * forward[2],
            ],
            focal: pose.focal,
            centre: pose.centre,
        }
    }

    /// Photo position of a point of space; None behind the camera.
    pub fn project(&self, p: Vec3) -> Option<(f32, f32)> {
        let d = [p[0] - self.eye[0], p[1] - self.eye[1], p[2] - self.eye[2]];
        let z = crate::light::dot(d, self.forward);
        if z < 1e-4 {
            return None;
        }
        let k = self.focal / z;
        Some((
            self.centre.0 + k * crate::light::dot(d, self.right),
            self.centre.1 + k * crate::light::dot(d, self.down),
        ))
    }

    /// The ray through a photo position, not normalised.
    pub fn ray(&self, u: f32, v: f32) -> Vec3 {
        let (a, b) = (
            (u - self.centre.0) / self.focal,
            (v - self.centre.1) / self.focal,
        );
        [0, 1, 2].map(|i| self.forward[i] + a * self.right[i] + b * self.down[i])
    }

    /// Where the ray meets the plane at height `z`; None where it looks over it.
    pub fn meet(&self, ray: Vec3, z: f32) -> Option<(f32, f32)> {
        if ray[2] > -1e-3 {
            return None;
        }
        let t = (z - self.eye[2]) / ray[2];
        Some((self.eye[0] + t * ray[0], self.eye[1] + t * ray[1]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_projected_is_met_again() {
        let cam = Camera::new(&Pose {
            target: (0.1, -0.2),
            tilt: 0.6,
            azimuth: 2.0,
            roll: 4.0,
            distance: 3.0,
            focal: 1300.0,
            centre: (800.0, 600.0),
        });
        let (u, v) = cam.project([0.3, 0.2, 0.1]).expect("in front");
        let (x, y) = cam.meet(cam.ray(u, v), 0.1).expect("below the horizon");
        assert!((x - 0.3).abs() < 1e-4 && (y - 0.2).abs() < 1e-4);
    }

    #[test]
    fn nothing_is_mirrored() {
        let pose = Pose {
            target: (0.0, 0.0),
            tilt: 0.5,
            azimuth: 1.0,
            roll: 2.0,
            distance: 3.0,
            focal: 1000.0,
            centre: (0.0, 0.0),
        };
        let cam = Camera::new(&pose);
        let p = |x, y| cam.project([x, y, 0.0]).expect("in front");
        let (o, a, b) = (p(0.0, 0.0), p(0.1, 0.0), p(0.0, 0.1));
        assert!((a.0 - o.0) * (b.1 - o.1) - (a.1 - o.1) * (b.0 - o.0) > 0.0);
    }
}
