//! A grid of square cells over plan facets: which facets may hold a position, without a scan.

use crate::Vec2;
use crate::facet::{PlanBox, edges};

/// Facets are entered this much fatter than they are, so that rounding never loses one. Metres.
const SKIN_M: f64 = 1e-6;

/// Which convex facets reach into which cell of a plan grid.
///
/// Each facet is entered row by row between its own ends in that row, so that a long thin facet costs the
/// cells it crosses and not the cells of its box.
#[derive(Debug, Clone)]
pub(crate) struct FacetGrid {
    bounds: PlanBox,
    cell_m: f64,
    columns: usize,
    rows: usize,
    starts: Vec<u32>,
    facets: Vec<u32>,
}

impl FacetGrid {
    /// Builds the grid over `count` facets; `corners_of` hands out the corners of one.
    pub(crate) fn build(count: usize, corners_of: impl Fn(usize, &mut Vec<Vec2>)) -> FacetGrid {
        let mut corners = Vec::new();
        let mut bounds: Option<PlanBox> = None;
        for id in 0..count {
            corners_of(id, &mut corners);
            if let Some(own) = PlanBox::around(corners.iter().copied()) {
                bounds = Some(bounds.map_or(own, |all| PlanBox {
                    min: all.min.inf(&own.min),
                    max: all.max.sup(&own.max),
                }));
            }
        }
        let bounds = bounds
            .unwrap_or(PlanBox {
                min: Vec2::zeros(),
                max: Vec2::zeros(),
            })
            .grown(2.0 * SKIN_M);
        let size = bounds.max - bounds.min;
        // About two facets a cell: fewer cells read more facets, more cells read more memory.
        let wanted = (count as f64 / 2.0).clamp(1.0, 16e6);
        let cell_m = (size.x * size.y / wanted)
            .sqrt()
            .max(size.max() / 16_384.0)
            .max(1e-3);
        let (columns, rows) = ((size.x / cell_m) as usize + 1, (size.y / cell_m) as usize + 1);
        let mut grid = FacetGrid {
            bounds,
            cell_m,
            columns,
            rows,
            starts: vec![0; columns * rows + 1],
            facets: Vec::new(),
        };

        let mut starts = std::mem::take(&mut grid.starts);
        for id in 0..count {
            corners_of(id, &mut corners);
            grid.cells_of(&corners, |cell| starts[cell + 1] += 1);
        }
        for cell in 0..columns * rows {
            starts[cell + 1] += starts[cell];
        }
        let mut next = starts.clone();
        let mut facets = vec![0; starts[columns * rows] as usize];
        for id in 0..count {
            corners_of(id, &mut corners);
            grid.cells_of(&corners, |cell| {
                facets[next[cell] as usize] = id as u32;
                next[cell] += 1;
            });
        }
        grid.starts = starts;
        grid.facets = facets;
        grid
    }

    /// Returns the facets entered in the cell that holds a plan position; none outside the grid.
    pub(crate) fn at(&self, p: Vec2) -> &[u32] {
        let inside = p.x >= self.bounds.min.x
            && p.x <= self.bounds.max.x
            && p.y >= self.bounds.min.y
            && p.y <= self.bounds.max.y;
        if !inside {
            return &[];
        }
        let cell = self.row(p.y) * self.columns + self.column(p.x);
        &self.facets[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }

    /// Collects, each once and in order, the facets entered in any cell that a box touches.
    pub(crate) fn collect(&self, within: &PlanBox, found: &mut Vec<u32>) {
        found.clear();
        if !self.bounds.meets(within) {
            return;
        }
        let (first, last) = (self.column(within.min.x), self.column(within.max.x));
        for row in self.row(within.min.y)..=self.row(within.max.y) {
            let start = self.starts[row * self.columns + first] as usize;
            let end = self.starts[row * self.columns + last + 1] as usize;
            found.extend_from_slice(&self.facets[start..end]);
        }
        found.sort_unstable();
        found.dedup();
    }

    fn column(&self, easting: f64) -> usize {
        (((easting - self.bounds.min.x) / self.cell_m).max(0.0) as usize).min(self.columns - 1)
    }

    fn row(&self, northing: f64) -> usize {
        (((northing - self.bounds.min.y) / self.cell_m).max(0.0) as usize).min(self.rows - 1)
    }

    fn cells_of(&self, corners: &[Vec2], mut visit: impl FnMut(usize)) {
        let Some(own) = PlanBox::around(corners.iter().copied()) else {
            return;
        };
        let own = own.grown(SKIN_M);
        let (bottom, top) = (self.row(own.min.y), self.row(own.max.y));
        for row in bottom..=top {
            let low = self.bounds.min.y + row as f64 * self.cell_m - SKIN_M;
            let high = low + self.cell_m + 2.0 * SKIN_M;
            let (mut west, mut east) = (own.max.x, own.min.x);
            if bottom == top {
                (west, east) = (own.min.x, own.max.x);
            } else {
                for (a, b) in edges(corners) {
                    let (a, b) = if a.y <= b.y { (a, b) } else { (b, a) };
                    if b.y < low || a.y > high {
                        continue;
                    }
                    for cut in [low.max(a.y), high.min(b.y)] {
                        let share = if b.y > a.y { (cut - a.y) / (b.y - a.y) } else { 0.0 };
                        let x = a.x + share * (b.x - a.x);
                        west = west.min(x);
                        east = east.max(x);
                    }
                    if a.y == b.y {
                        west = west.min(b.x);
                        east = east.max(b.x);
                    }
                }
                (west, east) = (west - SKIN_M, east + SKIN_M);
            }
            if west <= east {
                for column in self.column(west)..=self.column(east) {
                    visit(row * self.columns + column);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_thin_facet_is_entered_only_where_it_runs() {
        // One diagonal sliver among many small facets: its box covers the whole grid.
        let mut shapes: Vec<Vec<Vec2>> = (0..400)
            .map(|i| {
                let (e, n) = (f64::from(i % 20), f64::from(i / 20));
                vec![Vec2::new(e, n), Vec2::new(e + 1.0, n), Vec2::new(e, n + 1.0)]
            })
            .collect();
        shapes.push(vec![
            Vec2::new(0.0, 0.0),
            Vec2::new(20.0, 20.0),
            Vec2::new(19.9, 20.0),
        ]);
        let grid = FacetGrid::build(shapes.len(), |id, out| {
            out.clear();
            out.extend_from_slice(&shapes[id]);
        });
        let sliver_cells = grid.facets.iter().filter(|&&id| id == 400).count();
        assert!(sliver_cells < 60, "{sliver_cells}");
        let mut found = Vec::new();
        grid.collect(
            &PlanBox {
                min: Vec2::new(9.9, 9.9),
                max: Vec2::new(10.1, 10.1),
            },
            &mut found,
        );
        assert!(found.contains(&400));
        assert!(found.len() < 20);
    }
}
