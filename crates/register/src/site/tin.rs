//! A triangulated surface out of its kept points: triangulated or as given, within its rings.

use super::Frame;
use crate::body::TinBlob;
use ground::domain::{Domain, DomainError};
use ground::facet::PlanBox;
use ground::surface::Surface;
use ground::tin::{TinError, faces, from_triangles, triangulate};
use ground::{Vec2, Vec3};
use survey::Decimal;

/// How far beyond everything the plan reaches, where a surface has holes and no boundary. Metres.
const BEYOND_M: f64 = 1.0;

/// Makes the surface of a blob whose points are brought into the site frame already.
pub(super) fn surface_of(
    blob: &TinBlob,
    points: &[Vec3],
    frame: &Frame,
    within: Option<&Domain>,
) -> Result<Surface, String> {
    let rings = rings_of(blob, points, frame)?;
    if within.is_some() && rings.is_some() {
        return Err("it has a ring of its own and one beside it; give one of them".into());
    }
    let domain = rings.as_ref().or(within);
    let made = if blob.faces.is_empty() {
        triangulate(points, &breaklines(blob), domain).map(|(surface, _report)| surface)
    } else {
        from_triangles(points, &given_faces(blob), domain)
    };
    made.map_err(|error| on_grid(error, frame).to_string())
}

/// Returns the first ring that bounds the surface, in the site frame.
pub(super) fn outline_of(blob: &TinBlob, frame: &Frame) -> Option<Vec<Vec2>> {
    blob.outlines.first().map(|ring| local_ring(ring, frame))
}

fn local_ring(ring: &[[Decimal; 2]], frame: &Frame) -> Vec<Vec2> {
    let corner = |[e, n]: &[Decimal; 2]| frame.local_plan(e.to_f64(), n.to_f64());
    ring.iter().map(corner).collect()
}

impl TinBlob {
    /// Returns the triangles of the surface by point indices, counter-clockwise: as given, or as they are made.
    ///
    /// Those that a ring cuts are whole.
    ///
    /// # Errors
    /// A blob that makes no surface.
    pub fn all_faces(&self, frame: &Frame) -> Result<Vec<[u32; 3]>, String> {
        if !self.faces.is_empty() {
            return Ok(self.faces.clone());
        }
        let points: Vec<Vec3> = self
            .points
            .iter()
            .map(|[e, n, level]| frame.local(e, n, level))
            .collect();
        let domain = rings_of(self, &points, frame)?;
        let made = faces(&points, &breaklines(self), domain.as_ref());
        let made = made.map_err(|error| on_grid(error, frame).to_string())?;
        // Every index is one of a point, and those were counted in 32 bits.
        Ok(made.into_iter().map(|face| face.map(|i| i as u32)).collect())
    }
}

fn breaklines(blob: &TinBlob) -> Vec<Vec<usize>> {
    let chain = |line: &Vec<u32>| line.iter().map(|&i| i as usize).collect();
    blob.breaklines.iter().map(chain).collect()
}

fn given_faces(blob: &TinBlob) -> Vec<[usize; 3]> {
    blob.faces.iter().map(|face| face.map(|i| i as usize)).collect()
}

/// Returns what the rings of a blob leave of the plan; `None` without rings.
fn rings_of(blob: &TinBlob, points: &[Vec3], frame: &Frame) -> Result<Option<Domain>, String> {
    if blob.outlines.is_empty() && blob.holes.is_empty() {
        return Ok(None);
    }
    let local = |rings: &[Vec<[Decimal; 2]>]| -> Vec<Vec<Vec2>> {
        rings.iter().map(|ring| local_ring(ring, frame)).collect()
    };
    let (mut outlines, holes) = (local(&blob.outlines), local(&blob.holes));
    if outlines.is_empty() {
        let all = points
            .iter()
            .map(|p| p.xy())
            .chain(holes.iter().flatten().copied());
        outlines.extend(PlanBox::around(all).map(|all| all.grown(BEYOND_M).corners().to_vec()));
    }
    let outlines_used = outlines.len();
    let says = |error: DomainError| ring_says(&error, outlines_used, frame);
    Domain::with_holes(&outlines, &holes).map(Some).map_err(says)
}

/// Says what is wrong with a ring, by its number among the boundaries or among the holes, in grid coordinates.
fn ring_says(error: &DomainError, outlines: usize, frame: &Frame) -> String {
    let name = |ring: usize| match ring.checked_sub(outlines) {
        None | Some(0) => format!("boundary {ring}"),
        Some(hole) => format!("hole {hole}"),
    };
    match error {
        DomainError::NoArea { ring } => format!(
            "{} encloses no area; give at least three corners that do not lie in one line, in order around it",
            name(*ring)
        ),
        DomainError::Crosses {
            ring,
            corner,
            easting,
            northing,
        } => format!(
            "{}: its side from corner {corner} ({:.3}, {:.3}) crosses or lies upon another side; put the corners in order \
             around the ring, and let rings touch at corners only",
            name(*ring),
            easting + frame.origin.x,
            northing + frame.origin.y
        ),
        DomainError::OutlineInside { ring } => format!(
            "{} lies inside another boundary; name it as a hole if there is no surface in it, or leave it out",
            name(*ring)
        ),
        DomainError::HoleOutside { ring } => format!(
            "{} lies outside every boundary; check its order of easting and northing, or leave it out",
            name(*ring)
        ),
        other => other.to_string(),
    }
}

/// Puts the coordinates in an error back on the site's grid.
fn on_grid(mut error: TinError, frame: &Frame) -> TinError {
    match &mut error {
        TinError::TwoLevels {
            easting, northing, ..
        }
        | TinError::BreaklineCrosses {
            easting, northing, ..
        } => {
            *easting += frame.origin.x;
            *northing += frame.origin.y;
        }
        _ => {}
    }
    error
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::{Act, SurfaceRecorded, SurfaceShape};
    use crate::entry::Attached;
    use crate::site::tests::{Book, decimal};
    use crate::site::{Change, Refusal};
    use crate::words::SurfaceKind;

    type Corner = (&'static str, &'static str);

    const OUTER: [Corner; 4] = [
        ("430990", "5711990"),
        ("431020", "5711990"),
        ("431020", "5712010"),
        ("430990", "5712010"),
    ];
    const PIT: [Corner; 4] = [
        ("431002", "5711999"),
        ("431005", "5711999"),
        ("431005", "5712001"),
        ("431002", "5712001"),
    ];

    fn ring(corners: &[Corner]) -> Vec<[Decimal; 2]> {
        corners.iter().map(|(e, n)| [decimal(e), decimal(n)]).collect()
    }

    fn blob(outlines: &[&[Corner]], holes: &[&[Corner]]) -> TinBlob {
        let points = OUTER.iter().chain(&PIT);
        TinBlob {
            points: points
                .map(|(e, n)| [decimal(e), decimal(n), decimal("10.000")])
                .collect(),
            outlines: outlines.iter().map(|corners| ring(corners)).collect(),
            holes: holes.iter().map(|corners| ring(corners)).collect(),
            ..TinBlob::default()
        }
    }

    fn record(book: &mut Book, blob: &TinBlob) -> Result<Vec<Change>, Refusal> {
        let bytes = serde_json::to_vec(blob).unwrap();
        let sha256 = crate::chain::sha256_hex(&bytes);
        let mut attached = Attached::new();
        attached.insert(sha256.clone(), bytes.into());
        let act = Act::SurfaceRecorded(SurfaceRecorded {
            surface: "yard".into(),
            surface_kind: SurfaceKind::FinishedDesign,
            shape: SurfaceShape::Tin {
                sha256,
                points: blob.points.len() as u64,
            },
            sigma_v_mm: Some(decimal("5")),
            within: None,
            import: None,
        });
        book.write_with(act, attached)
    }

    /// The bytes of a surface kept before there were rings: read, and written the same again.
    #[test]
    fn a_surface_kept_before_there_were_rings_still_reads() {
        let old = r#"{"points":[["430990","5711990","10.000"],["431020","5711990","10.00"],["431020","5712010","10"]],"breaklines":[[0,1]]}"#;
        let read: TinBlob = serde_json::from_str(old).unwrap();
        assert!(read.faces.is_empty() && read.outlines.is_empty() && read.holes.is_empty());
        assert_eq!(serde_json::to_string(&read).unwrap(), old);
        assert!(record(&mut Book::opened(), &read).is_ok());
    }

    /// Closed form: a run along northing 5712000 from easting 431000 to 431010 at 0.5 m below a flat yard, a pit from
    /// 431002 to 431005; its tube is 25 mm to either side, so 3.05 m of it has no surface above it, and not a cover
    /// of nought.
    #[test]
    fn under_a_hole_the_cover_is_unknown_and_not_nought() {
        let mut book = Book::with_a_run();
        record(&mut book, &blob(&[&OUTER], &[&PIT])).unwrap();
        let at = |e: f64| {
            let surface = &book.site.surfaces[0].surface;
            let frame = book.site.frame().unwrap();
            surface.level_at(frame.local_plan(e, 5_712_000.0))
        };
        assert_eq!(
            (at(431_001.0), at(431_003.0), at(431_025.0)),
            (Some(10.0), None, None)
        );
        let answer = book.site.check_cover(None, None).unwrap();
        let run = &answer.runs[0];
        assert!(
            (run.cover_unknown_m.0 - 3.05).abs() < 0.01,
            "{:?}",
            run.cover_unknown_m
        );
        assert!(answer.gaps.iter().any(|g| g.code == "no-surface"));
        let whole = {
            let mut book = Book::with_a_run();
            record(&mut book, &blob(&[], &[])).unwrap();
            book.site.check_cover(None, None).unwrap()
        };
        assert_eq!(whole.runs[0].cover_unknown_m.0, 0.0);
    }

    #[test]
    fn a_hole_needs_no_boundary_round_it() {
        let mut book = Book::opened();
        record(&mut book, &blob(&[], &[&PIT])).unwrap();
        let frame = book.site.frame().unwrap();
        let level = |e: f64| {
            book.site.surfaces[0]
                .surface
                .level_at(frame.local_plan(e, 5_712_000.0))
        };
        assert_eq!(
            (level(431_001.0), level(431_003.0), level(431_025.0)),
            (Some(10.0), None, None)
        );
    }

    #[test]
    fn rings_that_bound_nothing_are_refused_by_name_with_the_mend() {
        let refused = |blob: &TinBlob| record(&mut Book::opened(), blob).unwrap_err().says;
        let bow_tie = [PIT[0], PIT[2], PIT[1], PIT[3]];
        let away = [
            ("431100", "5712100"),
            ("431110", "5712100"),
            ("431110", "5712110"),
        ];
        // The bow's two halves weigh the same unless one corner is pulled out.
        let bow_tie = [bow_tie[0], bow_tie[1], bow_tie[2], ("431000", "5712001")];
        for (blob, words) in [
            (blob(&[&OUTER], &[&bow_tie]), ["hole 1", "in order around"]),
            (blob(&[&OUTER, &PIT], &[]), ["boundary", "name it as a hole"]),
            (
                blob(&[&OUTER], &[&PIT, &away]),
                ["hole 2", "outside every boundary"],
            ),
            (
                blob(&[&away], &[]),
                ["outside the points", "easting and northing"],
            ),
            (
                blob(&[&PIT], &[&OUTER]),
                ["leave nothing", "which rings are holes"],
            ),
            (blob(&[&OUTER], &[&PIT[..2]]), ["hole 1", "three corners"]),
        ] {
            let says = refused(&blob);
            assert!(words.iter().all(|word| says.contains(word)), "{says}");
        }
    }

    #[test]
    fn given_faces_stand_as_given_and_a_wrong_number_is_refused() {
        let mut given = blob(&[], &[]);
        given.faces = vec![[0, 1, 2]];
        let mut book = Book::opened();
        record(&mut book, &given).unwrap();
        assert_eq!(book.site.surfaces[0].surface.facet_count(), 1);
        let frame = book.site.frame().unwrap();
        assert_eq!(given.all_faces(&frame).unwrap(), [[0, 1, 2]]);
        given.faces.push([0, 1, 99]);
        let says = record(&mut book, &given).unwrap_err().says;
        assert!(says.contains("triangle 2 names point 100"), "{says}");
        // Without faces they are made: two triangles of the four corners and six more of the pit's, by Euler's rule
        // 2 n - 2 - h of n = 8 points with h = 4 on the hull.
        assert_eq!(blob(&[], &[]).all_faces(&frame).unwrap().len(), 10);
    }
}
