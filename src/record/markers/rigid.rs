//! Hidden markers of a bone, from the others on it.
//!
//! Trunk and thighs hide the front of the pelvis when somebody sits low; the
//! markers that remain on the same bone tell where the hidden one is. A gap is
//! filled from the shape the markers had right before it and right after it,
//! going over from one to the other, so that nothing leaps at its ends.

use nalgebra::{Matrix3, Point3, Vector3};

use super::PointCourse;
use crate::signal;

/// Marks as seen, and places, what at least three other courses of the same
/// bone tell.
pub(super) fn fill(cluster: &mut [PointCourse]) {
    let told: Vec<PointCourse> = cluster.to_vec();
    for (m, course) in cluster.iter_mut().enumerate() {
        for gap in signal::runs(&told[m].seen, |seen| !seen) {
            let edges = [gap.start.checked_sub(1), Some(gap.end)];
            for i in gap.clone() {
                let after = (i + 1 - gap.start) as f64 / (gap.len() + 1) as f64;
                let (mut sum, mut weights) = (Vector3::zeros(), 0.0);
                for (edge, weight) in edges.iter().zip([1.0 - after, after]) {
                    if let Some(place) = edge.and_then(|edge| carried(&told, m, edge, i)) {
                        sum += place.coords * weight;
                        weights += weight;
                    }
                }
                if weights > 0.0 {
                    course.place_m[i] = Point3::from(sum / weights);
                    course.seen[i] = true;
                }
            }
        }
    }
}

/// Place of marker `m` at sample `to`, carried there from sample `from` by the
/// rigid motion of the others: least squares by a singular value decomposition
/// (Kabsch 1976, from memory).
fn carried(cluster: &[PointCourse], m: usize, from: usize, to: usize) -> Option<Point3<f64>> {
    let seen = |c: &PointCourse, i: usize| c.seen.get(i) == Some(&true);
    if !seen(&cluster[m], from) {
        return None;
    }
    let others: Vec<(Point3<f64>, Point3<f64>)> = cluster
        .iter()
        .filter(|c| seen(c, from) && seen(c, to))
        .map(|c| (c.place_m[from], c.place_m[to]))
        .collect();
    if others.len() < 3 {
        return None;
    }
    let (befores, afters): (Vec<Vector3<f64>>, Vec<Vector3<f64>>) =
        others.iter().map(|(a, b)| (a.coords, b.coords)).unzip();
    let mean = |places: &[Vector3<f64>]| places.iter().sum::<Vector3<f64>>() / places.len() as f64;
    let (before, after) = (mean(&befores), mean(&afters));
    let spread: Matrix3<f64> =
        others.iter().map(|(a, b)| (a.coords - before) * (b.coords - after).transpose()).sum();
    let svd = spread.svd(true, true);
    // Three markers in one line leave a turn about it open.
    if svd.singular_values[1] < 1e-3 * svd.singular_values[0] {
        return None;
    }
    let (u, v) = (svd.u?, svd.v_t?.transpose());
    let handed = (v * u.transpose()).determinant().signum();
    let turn = v * Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, handed)) * u.transpose();
    Some(Point3::from(turn * (cluster[m].place_m[from].coords - before) + after))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Rotation3, Translation3};

    /// Four points of a body that turns and moves: the hidden one is found where
    /// the motion itself puts it.
    #[test]
    fn a_hidden_point_follows_the_others() {
        let body = [[0.1, 0.0, 0.0], [-0.1, 0.0, 0.0], [0.05, 0.02, -0.15], [-0.05, 0.0, -0.15]];
        let at = |p: [f64; 3], i: usize| {
            let t = i as f64 / 10.0;
            Translation3::new(t, 0.3 * t, -t)
                * Rotation3::from_euler_angles(t, 0.2 * t, 0.5 * t)
                * Point3::from(p)
        };
        let mut cluster: Vec<PointCourse> = body
            .iter()
            .map(|p| PointCourse {
                place_m: (0..10).map(|i| at(*p, i)).collect(),
                seen: vec![true; 10],
            })
            .collect();
        for i in 3..8 {
            cluster[0].place_m[i] = Point3::origin();
            cluster[0].seen[i] = false;
        }
        let mut two_hidden = cluster.clone();
        fill(&mut cluster);
        for i in 0..10 {
            assert!((cluster[0].place_m[i] - at(body[0], i)).norm() < 1e-9, "{i}");
        }
        two_hidden[1].seen[5] = false;
        fill(&mut two_hidden);
        assert!(!two_hidden[0].seen[5], "two points are not enough");
    }
}
