//! A simplex of up to four points, reduced to the part of it nearest the origin.

use crate::Vec3;

/// A point of a Minkowski difference, and the two points it is the difference of.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Atom {
    pub(crate) y: Vec3,
    pub(crate) on_solid: Vec3,
    pub(crate) on_leg: Vec3,
    /// Where on the leg, from 0 to 1.
    pub(crate) along: f64,
}

/// One to four atoms, and the weights that give their nearest point to the origin.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Simplex {
    atoms: [Atom; 4],
    weights: [f64; 4],
    count: usize,
}

/// A choice of corners with their weights; unused corners weigh nothing.
type Weights = [f64; 4];

impl Simplex {
    pub(crate) fn of(atom: Atom) -> Simplex {
        Simplex {
            atoms: [atom; 4],
            weights: [1.0, 0.0, 0.0, 0.0],
            count: 1,
        }
    }

    /// Returns the nearest point to the origin.
    pub(crate) fn nearest(&self) -> Vec3 {
        (0..self.count).map(|i| self.atoms[i].y * self.weights[i]).sum()
    }

    /// Returns the two points whose difference is nearest, and where on the leg.
    pub(crate) fn points(&self) -> (Vec3, Vec3, f64) {
        let mut sum = (Vec3::zeros(), Vec3::zeros(), 0.0);
        for i in 0..self.count {
            let (atom, weight) = (&self.atoms[i], self.weights[i]);
            sum.0 += atom.on_solid * weight;
            sum.1 += atom.on_leg * weight;
            sum.2 += atom.along * weight;
        }
        sum
    }

    /// Replaces the atoms by their nearest point, itself a point of the same difference.
    pub(crate) fn collapse(&mut self) {
        let (on_solid, on_leg, along) = self.points();
        *self = Simplex::of(Atom {
            y: self.nearest(),
            on_solid,
            on_leg,
            along,
        });
    }

    /// Adds an atom, keeps the face nearest the origin, and returns its nearest point.
    pub(crate) fn join(&mut self, atom: Atom) -> Vec3 {
        self.atoms[self.count] = atom;
        self.count += 1;
        let y = |i: usize| self.atoms[i].y;
        let weights = match self.count {
            2 => on_segment(y(0), y(1), [0, 1]),
            3 => on_triangle([y(0), y(1), y(2)], [0, 1, 2]),
            _ => on_tetrahedron([y(0), y(1), y(2), y(3)]),
        };
        let mut kept = 0;
        for (i, &weight) in weights.iter().enumerate().take(self.count) {
            if weight > 0.0 {
                self.atoms[kept] = self.atoms[i];
                self.weights[kept] = weight;
                kept += 1;
            }
        }
        self.count = kept.max(1);
        self.nearest()
    }
}

fn on_segment(a: Vec3, b: Vec3, index: [usize; 2]) -> Weights {
    let mut weights = [0.0; 4];
    let side = b - a;
    let length = side.norm_squared();
    let t = if length > 0.0 {
        (-a.dot(&side) / length).clamp(0.0, 1.0)
    } else {
        0.0
    };
    weights[index[0]] = 1.0 - t;
    weights[index[1]] = t;
    weights
}

fn on_triangle([a, b, c]: [Vec3; 3], index: [usize; 3]) -> Weights {
    // Inside the prism over the triangle if the origin lies on the inner side of all three edges.
    let normal = (b - a).cross(&(c - a));
    let area = normal.norm_squared();
    if area > 0.0 {
        let inner = |p: Vec3, q: Vec3| p.cross(&q).dot(&normal);
        let (u, v, w) = (inner(b, c), inner(c, a), inner(a, b));
        if u > 0.0 && v > 0.0 && w > 0.0 {
            let sum = u + v + w;
            let mut weights = [0.0; 4];
            weights[index[0]] = u / sum;
            weights[index[1]] = v / sum;
            weights[index[2]] = w / sum;
            return weights;
        }
    }
    // The newest corner is the last: a side without it was searched before.
    let points = [a, b, c];
    let at = |weights: &Weights| {
        (0..3)
            .map(|i| points[i] * weights[index[i]])
            .sum::<Vec3>()
            .norm_squared()
    };
    let sides = [
        on_segment(b, c, [index[1], index[2]]),
        on_segment(c, a, [index[2], index[0]]),
    ];
    least(&sides, at)
}

fn on_tetrahedron(y: [Vec3; 4]) -> Weights {
    let [a, b, c, d] = y;
    // Signed volumes of the four tetrahedra that the origin makes with the faces.
    let volumes = [
        b.dot(&c.cross(&d)),
        -a.dot(&c.cross(&d)),
        a.dot(&b.cross(&d)),
        -a.dot(&b.cross(&c)),
    ];
    let whole = (b - a).dot(&(c - a).cross(&(d - a)));
    let sum: f64 = volumes.iter().sum();
    if whole != 0.0 && sum != 0.0 && volumes.iter().all(|v| v * whole > 0.0) {
        return volumes.map(|v| v / sum);
    }
    let at = |weights: &Weights| (0..4).map(|i| y[i] * weights[i]).sum::<Vec3>().norm_squared();
    let faces = [
        on_triangle([a, b, d], [0, 1, 3]),
        on_triangle([a, c, d], [0, 2, 3]),
        on_triangle([b, c, d], [1, 2, 3]),
    ];
    least(&faces, at)
}

fn least(choices: &[Weights], size: impl Fn(&Weights) -> f64) -> Weights {
    let mut best = choices[0];
    let mut least = size(&best);
    for choice in &choices[1..] {
        let own = size(choice);
        if own < least {
            least = own;
            best = *choice;
        }
    }
    best
}
