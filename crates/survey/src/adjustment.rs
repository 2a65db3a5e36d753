//! Weighted least squares of one station, with the control's own uncertainty carried in.
//!
//! Each row is `e = a.x + b.c + error`, x the U unknowns of the station, c the corrections of the one control
//! point that the row sights. The control's coordinates are observations of their own with covariance
//! `C = F F'`; they are eliminated point by point (a 3 by 3 inverse each), so the answer is exactly that of the full
//! adjustment and the work grows with the number of rows only.
//! With `W` the inverse of the readings' covariance as the station sees it and `M = W - W A inv(A'WA) A'W`, every
//! figure of the report is a quotient of sums over `M`: data snooping
//! ([`crate::sources::BAARDA_1968`]).

use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

use crate::uncertainty::PointCovariance;

/// One linearised observation.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row<const U: usize> {
    /// Change of the reading with the unknowns.
    pub a: SVector<f64, U>,
    /// Change of the reading with the control point's coordinates.
    pub b: Vector3<f64>,
    /// Observed minus computed.
    pub misfit: f64,
    /// Weight: one over the variance.
    pub weight: f64,
    /// `F' b`, with F the root of the control's covariance.
    pub rooted: Vector3<f64>,
    /// Place of the observation in the set-up.
    pub observation: usize,
    /// Whether the reading is a length.
    pub is_length: bool,
}

/// The rows that sight one control point.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Group<const U: usize> {
    pub control: usize,
    pub start: usize,
    pub end: usize,
    /// Whether the control's covariance is not zero.
    pub uncertain: bool,
    /// The root F of the control's covariance.
    pub root: Matrix3<f64>,
    /// `inv(I + F'B'PBF)`.
    k: Matrix3<f64>,
    /// `A'PBF`.
    g: SMatrix<f64, U, 3>,
    /// `F'B'P e`.
    t: Vector3<f64>,
}

/// The linear system about one place, and its solution.
#[derive(Debug, Clone)]
pub(crate) struct Linear<const U: usize> {
    pub rows: Vec<Row<U>>,
    pub groups: Vec<Group<U>>,
    /// Covariance of the unknowns.
    pub cofactor: SMatrix<f64, U, U>,
    /// `v' P v` at the current place.
    pub vtpv: f64,
    /// For each row, `W A` of that row.
    pub wa: Vec<SVector<f64, U>>,
    /// For each row, `M e` (= `W e` once solved).
    pub me: Vec<f64>,
}

impl<const U: usize> Group<U> {
    pub(crate) fn new(control: usize, start: usize, end: usize, root: Matrix3<f64>) -> Self {
        Self {
            control,
            start,
            end,
            uncertain: root.iter().any(|v| *v != 0.0),
            root,
            k: Matrix3::zeros(),
            g: SMatrix::zeros(),
            t: Vector3::zeros(),
        }
    }
}

/// Returns F with `F F'` the covariance; a semi-definite one gives columns of zeros.
pub(crate) fn covariance_root(covariance: &PointCovariance) -> Matrix3<f64> {
    let c = covariance.to_matrix();
    let mut root = Matrix3::zeros();
    for j in 0..3 {
        let mut pivot: f64 = c[(j, j)];
        for k in 0..j {
            pivot -= root[(j, k)] * root[(j, k)];
        }
        if pivot <= 1e-12 * c[(j, j)] {
            continue;
        }
        root[(j, j)] = pivot.sqrt();
        for i in j + 1..3 {
            let mut value: f64 = c[(i, j)];
            for k in 0..j {
                value -= root[(i, k)] * root[(j, k)];
            }
            root[(i, j)] = value / root[(j, j)];
        }
    }
    root
}

impl<const U: usize> Linear<U> {
    pub(crate) fn empty() -> Self {
        Self {
            rows: Vec::new(),
            groups: Vec::new(),
            cofactor: SMatrix::zeros(),
            vtpv: 0.0,
            wa: Vec::new(),
            me: Vec::new(),
        }
    }

    /// Sums the normal equations and returns the step, or `None` when they do not determine it.
    pub(crate) fn step(&mut self) -> Option<SVector<f64, U>> {
        let mut normal = SMatrix::<f64, U, U>::zeros();
        let mut right = SVector::<f64, U>::zeros();
        self.vtpv = 0.0;
        for group in &mut self.groups {
            let rows = &self.rows[group.start..group.end];
            for row in rows {
                // The lower triangle is enough.
                for j in 0..U {
                    let pa = row.weight * row.a[j];
                    for i in j..U {
                        normal[(i, j)] += pa * row.a[i];
                    }
                    right[j] += pa * row.misfit;
                }
                self.vtpv += row.weight * row.misfit * row.misfit;
            }
            if group.uncertain {
                let mut s = Matrix3::identity();
                group.g = SMatrix::zeros();
                group.t = Vector3::zeros();
                for row in rows {
                    let pb = row.rooted * row.weight;
                    s += pb * row.rooted.transpose();
                    group.g += row.a * pb.transpose();
                    group.t += pb * row.misfit;
                }
                group.k = s.try_inverse()?;
                let gk = group.g * group.k;
                normal -= gk * group.g.transpose();
                right -= gk * group.t;
                self.vtpv -= group.t.dot(&(group.k * group.t));
            }
        }
        for j in 0..U {
            for i in j + 1..U {
                normal[(j, i)] = normal[(i, j)];
            }
        }
        // Scaled to a unit diagonal, so that metres and radians compare.
        let mut scale = SVector::<f64, U>::zeros();
        for i in 0..U {
            if normal[(i, i)] <= 0.0 {
                return None;
            }
            scale[i] = 1.0 / normal[(i, i)].sqrt();
        }
        for i in 0..U {
            for j in 0..U {
                normal[(i, j)] *= scale[i] * scale[j];
            }
        }
        let cholesky = normal.cholesky()?;
        if (0..U).any(|i| cholesky.l_dirty()[(i, i)] < 1e-7) {
            return None;
        }
        let mut cofactor = cholesky.inverse();
        for i in 0..U {
            for j in 0..U {
                cofactor[(i, j)] *= scale[i] * scale[j];
            }
        }
        self.cofactor = cofactor;
        Some(cofactor * right)
    }

    /// Moves the misfits to the solved place, to first order.
    pub(crate) fn apply(&mut self, step: &SVector<f64, U>) {
        for row in &mut self.rows {
            row.misfit -= row.a.dot(step);
        }
    }

    /// Computes `W A`, `M e` and `v'Pv` at the solved place.
    pub(crate) fn finish(&mut self) {
        self.vtpv = 0.0;
        self.wa.clear();
        self.me.clear();
        for group in &mut self.groups {
            let rows = &self.rows[group.start..group.end];
            if group.uncertain {
                group.t = Vector3::zeros();
                for row in rows {
                    group.t += row.rooted * (row.weight * row.misfit);
                }
            }
            let kt = group.k * group.t;
            for row in rows {
                if group.uncertain {
                    let kb = group.k * row.rooted;
                    self.wa.push((row.a - group.g * kb) * row.weight);
                    self.me.push(row.weight * (row.misfit - row.rooted.dot(&kt)));
                } else {
                    self.wa.push(row.a * row.weight);
                    self.me.push(row.weight * row.misfit);
                }
                self.vtpv += row.weight * row.misfit * row.misfit;
            }
            if group.uncertain {
                self.vtpv -= group.t.dot(&kt);
            }
        }
    }

    /// Returns the diagonal of M for a row of a group.
    pub(crate) fn m_diagonal(&self, group: &Group<U>, k: usize) -> f64 {
        let row = &self.rows[k];
        let mut m = row.weight;
        if group.uncertain {
            m -= row.weight * row.weight * row.rooted.dot(&(group.k * row.rooted));
        }
        m - self.wa[k].dot(&(self.cofactor * self.wa[k]))
    }

    /// Returns `(c'Me, c'Mc, c'Wc)` for an error that shifts each row by `column(row)` times one size.
    pub(crate) fn one_error(&self, column: impl Fn(&Row<U>, &Group<U>) -> f64) -> (f64, f64, f64) {
        let mut seen = 0.0;
        let mut own = 0.0;
        let mut moved = SVector::<f64, U>::zeros();
        for group in &self.groups {
            let mut shared = Vector3::zeros();
            for k in group.start..group.end {
                let row = &self.rows[k];
                let c = column(row, group);
                if c == 0.0 {
                    continue;
                }
                seen += c * self.me[k];
                own += row.weight * c * c;
                moved += self.wa[k] * c;
                shared += row.rooted * (row.weight * c);
            }
            if group.uncertain {
                own -= shared.dot(&(group.k * shared));
            }
        }
        (seen, own - moved.dot(&(self.cofactor * moved)), own)
    }

    /// Returns `(B'Me, B'MB, B'WB)` of a group's control point.
    pub(crate) fn control_error(&self, group: &Group<U>) -> (Vector3<f64>, Matrix3<f64>, Matrix3<f64>) {
        let mut seen = Vector3::zeros();
        let mut own = Matrix3::zeros();
        let mut moved = SMatrix::<f64, U, 3>::zeros();
        let mut shared = Matrix3::zeros();
        for k in group.start..group.end {
            let row = &self.rows[k];
            seen += row.b * self.me[k];
            own += row.b * (row.b * row.weight).transpose();
            moved += self.wa[k] * row.b.transpose();
            shared += row.rooted * (row.b * row.weight).transpose();
        }
        if group.uncertain {
            own -= shared.transpose() * (group.k * shared);
        }
        (seen, own - moved.transpose() * (self.cofactor * moved), own)
    }
}
