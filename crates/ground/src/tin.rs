//! A triangulated surface: measured points joined into triangles, breaklines kept as edges.

use std::collections::HashMap;

use spade::{ConstrainedDelaunayTriangulation, DelaunayTriangulation, HasPosition, Point2, Triangulation};

use crate::domain::Domain;
use crate::facet::{Affine, Facet, PlanBox, clip_convex, edges, twice_signed_area};
use crate::facet_grid::FacetGrid;
use crate::surface::{Piece, Surface};
use crate::{Vec2, Vec3};

/// A triangle on the hull thinner than this says nothing of the ground: points are measured to the millimetre. Metres.
const THINNEST_HULL_TRIANGLE_M: f64 = 1e-3;

/// Points that make no triangulated surface. Points are counted from 1 in the order given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TinError {
    /// Two points stand in the same place at different levels.
    #[error(
        "points {first} and {second} share easting {easting:.4} and northing {northing:.4} but have levels {first_level} and {second_level}; remove the wrong one, or shoot the foot and the head of a wall apart"
    )]
    TwoLevels {
        /// The earlier point.
        first: usize,
        /// The later point.
        second: usize,
        /// Their easting, metres.
        easting: f64,
        /// Their northing, metres.
        northing: f64,
        /// Level of the earlier point, metres.
        first_level: f64,
        /// Level of the later point, metres.
        second_level: f64,
    },
    /// The points make no triangle that is worth a level.
    #[error("{points} points make no triangle at least 1 mm across; add points well off the line")]
    NoTriangles {
        /// How many different points there were.
        points: usize,
    },
    /// A coordinate is not a finite number.
    #[error("point {point} is not a finite position; give its easting, northing and level in metres")]
    NotFinite {
        /// The point.
        point: usize,
    },
    /// A breakline or triangle names a point that was not given.
    #[error("{what} {index} names point {point}, and only {points} points were given; check its numbering")]
    NoSuchPoint {
        /// `breakline` or `triangle`.
        what: &'static str,
        /// Which one, counted from 1.
        index: usize,
        /// The point it names, counted from 1.
        point: usize,
        /// How many points there are.
        points: usize,
    },
    /// A breakline runs over a side of a ring that bounds the surface.
    #[error(
        "breakline {line}, from point {from} to point {to}, runs over the boundary at the side from ({easting:.3}, {northing:.3}); end it there, with a point on both"
    )]
    BreaklineCrosses {
        /// The breakline, counted from 1.
        line: usize,
        /// The point its piece starts from, counted from 1.
        from: usize,
        /// The point its piece goes to.
        to: usize,
        /// Easting of the corner where the side starts, metres.
        easting: f64,
        /// Its northing, metres.
        northing: f64,
    },
    /// The boundary and the triangles share no area.
    #[error("the boundary lies outside the points; check its order of easting and northing")]
    BoundaryOutside,
}

/// What became of the input on the way to a surface.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct TinReport {
    /// Triangles in the surface, before any boundary cut them.
    pub triangles: usize,
    /// Points given twice with the same level, and used once.
    pub repeated_points: usize,
    /// Breakline pieces left out because they cross another piece: breakline, then its first and second point,
    /// all counted from 1.
    pub dropped_breaklines: Vec<(usize, usize, usize)>,
    /// Triangles thinner than 1 mm taken off the hull; points in a near-straight line along the edge make them.
    pub thin_hull_triangles: usize,
}

/// A point on its way through the triangulation, which may put points in another order.
#[derive(Clone, Copy)]
struct Site {
    place: Point2<f64>,
    index: u32,
}

impl HasPosition for Site {
    type Scalar = f64;
    fn position(&self) -> Point2<f64> {
        self.place
    }
}

/// Triangulates points, and breaklines as chains of point indices (from 0), into a surface.
///
/// The triangulation is Delaunay but for the breaklines. The domain is its hull, or what a boundary leaves of it. A
/// ring of the boundary whose corners are all points is an edge of the triangles too; others cut through them.
/// # Errors
/// [`TinError`]: two levels in one place, no triangle, a value not finite, an unknown point in a breakline, a
/// breakline across a ring of points, or a boundary that leaves nothing.
pub fn triangulate(
    points: &[Vec3],
    breaklines: &[Vec<usize>],
    boundary: Option<&Domain>,
) -> Result<(Surface, TinReport), TinError> {
    let Joined {
        kept,
        triangles,
        rim,
        report,
        ..
    } = join(points, breaklines, boundary)?;
    Ok((assemble(kept, triangles, &rim, boundary)?, report))
}

/// Returns the triangles that [`triangulate`] makes, as indices of the points given (from 0), counter-clockwise.
///
/// Triangles that share no area with the boundary are left out; those it cuts are returned whole.
/// # Errors
/// As [`triangulate`].
pub fn faces(
    points: &[Vec3],
    breaklines: &[Vec<usize>],
    boundary: Option<&Domain>,
) -> Result<Vec<[usize; 3]>, TinError> {
    let joined = join(points, breaklines, boundary)?;
    let mut first_given = vec![usize::MAX; joined.kept.len()];
    for (given, &kept) in joined.index_of.iter().enumerate().rev() {
        first_given[kept] = given;
    }
    let cutter = boundary.map(Cutter::new);
    let mut faces = Vec::with_capacity(joined.triangles.len());
    for triangle in joined.triangles {
        let corners = triangle.map(|i| joined.kept[i as usize].xy());
        let is_in = match &cutter {
            None => true,
            Some(cutter) => match cutter.cut(&corners) {
                Cut::Whole => true,
                Cut::Outside => false,
                Cut::Parts(parts) => !parts.is_empty(),
            },
        };
        if is_in {
            faces.push(triangle.map(|i| first_given[i as usize]));
        }
    }
    if faces.is_empty() {
        return Err(TinError::BoundaryOutside);
    }
    // In an order that says nothing of how they were found.
    faces.iter_mut().for_each(|face| {
        let least = (0..3).min_by_key(|&i| face[i]).unwrap_or(0);
        face.rotate_left(least);
    });
    faces.sort_unstable();
    Ok(faces)
}

/// Points joined into triangles, before any boundary cuts them.
struct Joined {
    kept: Vec<Vec3>,
    /// Which kept point each given one became.
    index_of: Vec<usize>,
    triangles: Vec<[u32; 3]>,
    rim: Vec<[u32; 2]>,
    report: TinReport,
}

fn join(points: &[Vec3], breaklines: &[Vec<usize>], boundary: Option<&Domain>) -> Result<Joined, TinError> {
    let mut report = TinReport::default();
    let (mut kept, mut index_of) = merge_repeats(points, &mut report)?;
    put_neighbours_together(&mut kept, &mut index_of);
    let mut pieces: Vec<[usize; 2]> = Vec::new();
    let mut asked: HashMap<[usize; 2], (usize, usize, usize)> = HashMap::new();
    for (line, chain) in breaklines.iter().enumerate() {
        if let Some(&bad) = chain.iter().find(|&&i| i >= points.len()) {
            return Err(TinError::NoSuchPoint {
                what: "breakline",
                index: line + 1,
                point: bad + 1,
                points: points.len(),
            });
        }
        for pair in chain.windows(2) {
            let (from, to) = (index_of[pair[0]], index_of[pair[1]]);
            let key = [from.min(to), from.max(to)];
            if from != to && !asked.contains_key(&key) {
                asked.insert(key, (line + 1, pair[0] + 1, pair[1] + 1));
                pieces.push([from, to]);
            }
        }
    }
    if let Some(boundary) = boundary {
        let sides = sides_of_points(&kept, boundary);
        refuse_crossing(&kept, &pieces, &sides, &asked)?;
        for [from, to] in sides {
            let key = [from.min(to), from.max(to)];
            // A breakline along the boundary is asked for already.
            if from != to && !asked.contains_key(&key) {
                pieces.push([from, to]);
            }
        }
    }

    let sites: Vec<Site> = (0u32..)
        .zip(&kept)
        .map(|(index, p)| Site {
            place: spade::mitigate_underflow(Point2::new(p.x, p.y)),
            index,
        })
        .collect();
    let no_triangles = TinError::NoTriangles { points: kept.len() };
    let (mut triangles, mut rim) = if pieces.is_empty() {
        let mesh = DelaunayTriangulation::<Site>::bulk_load(sites).map_err(|_cause| no_triangles.clone())?;
        taken_from(&mesh)
    } else {
        let dropped = &mut report.dropped_breaklines;
        let mesh =
            ConstrainedDelaunayTriangulation::<Site>::try_bulk_load_cdt(sites, pieces, |[from, to]| {
                dropped.extend(asked.get(&[from.min(to), from.max(to)]));
            })
            .map_err(|_cause| no_triangles.clone())?;
        taken_from(&mesh)
    };
    report.dropped_breaklines.sort_unstable();
    report.thin_hull_triangles = peel_thin_hull(&kept, &mut triangles);
    if report.thin_hull_triangles > 0 {
        rim = open_edges(&triangles)
            .into_keys()
            .map(|(from, to)| [from, to])
            .collect();
        rim.sort_unstable();
    }
    if triangles.is_empty() {
        return Err(no_triangles);
    }
    triangles.sort_unstable_by_key(|corners| corners.iter().copied().min());
    report.triangles = triangles.len();
    Ok(Joined {
        kept,
        index_of,
        triangles,
        rim,
        report,
    })
}

/// Returns the sides of those rings whose corners are all points of the surface.
fn sides_of_points(kept: &[Vec3], boundary: &Domain) -> Vec<[usize; 2]> {
    let bits = |p: Vec2| ((p.x + 0.0).to_bits(), (p.y + 0.0).to_bits());
    let at: HashMap<_, usize> = kept.iter().enumerate().map(|(i, p)| (bits(p.xy()), i)).collect();
    let mut sides = Vec::new();
    for ring in boundary.rings() {
        let corners: Option<Vec<usize>> = ring.iter().map(|p| at.get(&bits(*p)).copied()).collect();
        let Some(corners) = corners else { continue };
        sides.extend((0..corners.len()).map(|c| [corners[c], corners[(c + 1) % corners.len()]]));
    }
    sides
}

/// Refuses a breakline that crosses a side of a ring; one may end on it, or follow it.
fn refuse_crossing(
    kept: &[Vec3],
    pieces: &[[usize; 2]],
    sides: &[[usize; 2]],
    asked: &HashMap<[usize; 2], (usize, usize, usize)>,
) -> Result<(), TinError> {
    let ends = |pair: [usize; 2]| pair.map(|i| kept[i].xy());
    let grid = FacetGrid::build(sides.len(), |id, out| {
        out.clear();
        out.extend_from_slice(&ends(sides[id]));
    });
    let mut found = Vec::new();
    for &piece in pieces {
        let [a, b] = ends(piece);
        let Some(own) = PlanBox::around([a, b]) else {
            continue;
        };
        grid.collect(&own, &mut found);
        for &id in &found {
            let side = sides[id as usize];
            let [c, d] = ends(side);
            if piece.iter().any(|end| side.contains(end)) || !crosses(a, b, c, d) {
                continue;
            }
            let key = [piece[0].min(piece[1]), piece[0].max(piece[1])];
            let (line, from, to) = asked.get(&key).copied().unwrap_or_default();
            return Err(TinError::BreaklineCrosses {
                line,
                from,
                to,
                easting: c.x,
                northing: c.y,
            });
        }
    }
    Ok(())
}

/// Tells whether two segments cross in a point inside both.
fn crosses(a: Vec2, b: Vec2, c: Vec2, d: Vec2) -> bool {
    let side = |p, q, r| twice_signed_area(&[p, q, r]);
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

/// Takes the triangles and the edges of the hull out of a triangulation, by the points' own numbers.
fn taken_from<T: Triangulation<Vertex = Site>>(mesh: &T) -> (Vec<[u32; 3]>, Vec<[u32; 2]>) {
    let triangles = mesh
        .inner_faces()
        .map(|face| face.vertices().map(|v| v.data().index))
        .collect();
    let rim = mesh
        .convex_hull()
        .map(|edge| edge.vertices().map(|v| v.data().index))
        .collect();
    (triangles, rim)
}

/// Puts points that lie near each other near in memory, along a curve of ever smaller quarters (Morton's order).
fn put_neighbours_together(points: &mut Vec<Vec3>, index_of: &mut [usize]) {
    let Some(bounds) = PlanBox::around(points.iter().map(|p| p.xy())) else {
        return;
    };
    let step = (bounds.max - bounds.min).max() / 65_535.0;
    let spread = |v: f64| {
        (0..16).fold(0u32, |code, bit| {
            code | ((v / step) as u32 >> bit & 1) << (2 * bit)
        })
    };
    let code = |p: &Vec3| spread(p.x - bounds.min.x) | spread(p.y - bounds.min.y) << 1;
    let mut order: Vec<(u32, u32)> = (0u32..).zip(points.iter()).map(|(i, p)| (code(p), i)).collect();
    order.sort_unstable();
    let mut place = vec![0; points.len()];
    for (new, &(_, old)) in order.iter().enumerate() {
        place[old as usize] = new;
    }
    *points = order.iter().map(|&(_, old)| points[old as usize]).collect();
    for index in index_of {
        *index = place[*index];
    }
}

/// Makes a surface of given triangles (point indices from 0), as a design file brings them.
///
/// Triangles may stand on one another (a wall): the lower one is the surface. Those without area are left out.
/// # Errors
/// [`TinError`], as for [`triangulate`].
pub fn from_triangles(
    points: &[Vec3],
    triangles: &[[usize; 3]],
    boundary: Option<&Domain>,
) -> Result<Surface, TinError> {
    if let Some(bad) = points.iter().position(|p| !p.iter().all(|c| c.is_finite())) {
        return Err(TinError::NotFinite { point: bad + 1 });
    }
    let mut turned = Vec::with_capacity(triangles.len());
    for (t, triangle) in triangles.iter().enumerate() {
        if let Some(&bad) = triangle.iter().find(|&&i| i >= points.len()) {
            return Err(TinError::NoSuchPoint {
                what: "triangle",
                index: t + 1,
                point: bad + 1,
                points: points.len(),
            });
        }
        let [a, b, c] = triangle.map(|i| i as u32);
        let corners = triangle.map(|i| points[i].xy());
        let area = twice_signed_area(&corners);
        if area != 0.0
            && Affine::through(points[triangle[0]], points[triangle[1]], points[triangle[2]]).is_some()
        {
            turned.push(if area > 0.0 { [a, b, c] } else { [a, c, b] });
        }
    }
    if turned.is_empty() {
        return Err(TinError::NoTriangles { points: points.len() });
    }
    // The foot and the head of a wall are one place in plan: the edge between their triangles is no rim.
    let mut places = HashMap::new();
    let place_of: Vec<u32> = (0u32..)
        .zip(points)
        .map(|(i, p)| {
            *places
                .entry(((p.x + 0.0).to_bits(), (p.y + 0.0).to_bits()))
                .or_insert(i)
        })
        .collect();
    let in_plan: Vec<[u32; 3]> = turned.iter().map(|t| t.map(|i| place_of[i as usize])).collect();
    let mut rim: Vec<[u32; 2]> = open_edges(&in_plan)
        .into_keys()
        .map(|(from, to)| [from, to])
        .collect();
    // In an order that does not depend on the map, so that every run answers in the same order.
    rim.sort_unstable();
    assemble(points.to_vec(), turned, &rim, boundary)
}

/// Merges points given twice; returns the points kept and, for each given one, which it became.
fn merge_repeats(points: &[Vec3], report: &mut TinReport) -> Result<(Vec<Vec3>, Vec<usize>), TinError> {
    if let Some(bad) = points.iter().position(|p| !p.iter().all(|c| c.is_finite())) {
        return Err(TinError::NotFinite { point: bad + 1 });
    }
    let mut order: Vec<usize> = (0..points.len()).collect();
    let place = |i: usize| (points[i].x + 0.0, points[i].y + 0.0);
    order.sort_unstable_by(|&i, &j| {
        place(i)
            .0
            .total_cmp(&place(j).0)
            .then(place(i).1.total_cmp(&place(j).1))
            .then(i.cmp(&j))
    });
    let mut first_of: Vec<usize> = (0..points.len()).collect();
    for pair in order.windows(2) {
        let (i, j) = (first_of[pair[0]], pair[1]);
        if place(i) == place(j) {
            if points[i].z != points[j].z {
                return Err(TinError::TwoLevels {
                    first: i + 1,
                    second: j + 1,
                    easting: points[i].x,
                    northing: points[i].y,
                    first_level: points[i].z,
                    second_level: points[j].z,
                });
            }
            first_of[j] = i;
            report.repeated_points += 1;
        }
    }
    let mut kept = Vec::with_capacity(points.len());
    let mut index_of = vec![0; points.len()];
    for i in 0..points.len() {
        if first_of[i] == i {
            index_of[i] = kept.len();
            kept.push(points[i]);
        } else {
            // The first of a place comes earlier in the order given, so its own index is known.
            index_of[i] = index_of[first_of[i]];
        }
    }
    Ok((kept, index_of))
}

/// Edges that belong to one triangle only, with that triangle.
fn open_edges(triangles: &[[u32; 3]]) -> HashMap<(u32, u32), usize> {
    let mut open = HashMap::with_capacity(triangles.len() / 8);
    // An edge and its opposite meet within the neighbourhood in a Delaunay mesh, so the map stays small on average.
    for (t, &[a, b, c]) in triangles.iter().enumerate() {
        for (from, to) in [(a, b), (b, c), (c, a)] {
            if open.remove(&(to, from)).is_none() {
                open.insert((from, to), t);
            }
        }
    }
    open
}

/// Takes thin triangles off the hull until the rim is made of triangles worth a level; returns how many.
fn peel_thin_hull(points: &[Vec3], triangles: &mut Vec<[u32; 3]>) -> usize {
    let before = triangles.len();
    let is_thin = |corners: &[u32; 3]| {
        let corners = corners.map(|i| points[i as usize].xy());
        let longest = edges(&corners).map(|(a, b)| (b - a).norm()).fold(0.0, f64::max);
        twice_signed_area(&corners) < THINNEST_HULL_TRIANGLE_M * longest
    };
    if !triangles.iter().any(is_thin) {
        return 0;
    }
    loop {
        let mut thin: Vec<usize> = open_edges(triangles)
            .into_values()
            .filter(|&t| is_thin(&triangles[t]))
            .collect();
        if thin.is_empty() {
            return before - triangles.len();
        }
        thin.sort_unstable();
        thin.dedup();
        for &t in thin.iter().rev() {
            triangles.swap_remove(t);
        }
    }
}

fn assemble(
    points: Vec<Vec3>,
    triangles: Vec<[u32; 3]>,
    rim: &[[u32; 2]],
    boundary: Option<&Domain>,
) -> Result<Surface, TinError> {
    let mut rims: Vec<[Vec2; 2]> = rim
        .iter()
        .map(|edge| edge.map(|i| points[i as usize].xy()))
        .collect();
    let Some(boundary) = boundary else {
        return Ok(Surface::of_parts(points, triangles, Vec::new(), rims));
    };
    let cutter = Cutter::new(boundary);
    let (mut whole, mut pieces) = (Vec::new(), Vec::new());
    for triangle in triangles {
        let corners = triangle.map(|i| points[i as usize].xy());
        let parts = match cutter.cut(&corners) {
            Cut::Whole => {
                whole.push(triangle);
                continue;
            }
            Cut::Outside => continue,
            Cut::Parts(parts) => parts,
        };
        let [a, b, c] = triangle.map(|i| points[i as usize]);
        let Some(plane) = Affine::through(a, b, c) else {
            continue;
        };
        pieces.extend(parts.into_iter().map(|corners| Piece { corners, plane }));
    }
    if whole.is_empty() && pieces.is_empty() {
        return Err(TinError::BoundaryOutside);
    }
    rims.extend(cutter.sides);
    Ok(Surface::of_parts(points, whole, pieces, rims))
}

/// A boundary made ready to cut many triangles.
struct Cutter<'a> {
    sides: Vec<[Vec2; 2]>,
    side_grid: FacetGrid,
    parts: &'a [[Vec2; 3]],
    part_grid: FacetGrid,
}

/// What a boundary leaves of a triangle.
enum Cut {
    Whole,
    Outside,
    Parts(Vec<Vec<Vec2>>),
}

impl Cutter<'_> {
    fn new(boundary: &Domain) -> Cutter<'_> {
        let sides: Vec<[Vec2; 2]> = boundary
            .rings()
            .iter()
            .flat_map(|ring| edges(ring).map(|(a, b)| [a, b]))
            .collect();
        let side_grid = FacetGrid::build(sides.len(), |id, out| {
            out.clear();
            out.extend_from_slice(&sides[id]);
        });
        let parts = boundary.triangles();
        let part_grid = FacetGrid::build(parts.len(), |id, out| {
            out.clear();
            out.extend_from_slice(&parts[id]);
        });
        Cutter {
            sides,
            side_grid,
            parts,
            part_grid,
        }
    }

    /// Cuts a triangle whose corners run counter-clockwise.
    fn cut(&self, corners: &[Vec2; 3]) -> Cut {
        let Some(own) = PlanBox::around(*corners) else {
            return Cut::Outside;
        };
        let mut found = Vec::new();
        self.side_grid.collect(&own, &mut found);
        if !found.iter().any(|&id| enters(self.sides[id as usize], corners)) {
            let middle = (corners[0] + corners[1] + corners[2]) / 3.0;
            let held = self.part_grid.at(middle).iter().any(|&id| {
                let part = Facet {
                    corners: &self.parts[id as usize],
                    plane: Affine::level(0.0),
                };
                part.holds(middle, 0.0)
            });
            return if held { Cut::Whole } else { Cut::Outside };
        }
        self.part_grid.collect(&own, &mut found);
        let shared = found
            .iter()
            .map(|&id| clip_convex(corners, &self.parts[id as usize]));
        Cut::Parts(shared.filter(|part| !part.is_empty()).collect())
    }
}

/// Tells whether a side runs through the inside of a triangle; along an edge or to a corner it does not.
///
/// One line that parts them is enough, and it is along an edge of the triangle or along the side (separating axes).
fn enters([a, b]: [Vec2; 2], corners: &[Vec2; 3]) -> bool {
    let beside_an_edge = edges(corners).any(|(from, to)| {
        twice_signed_area(&[from, to, a]) <= 0.0 && twice_signed_area(&[from, to, b]) <= 0.0
    });
    let across = corners.map(|corner| twice_signed_area(&[a, b, corner]));
    !beside_an_edge && !across.iter().all(|t| *t >= 0.0) && !across.iter().all(|t| *t <= 0.0)
}
