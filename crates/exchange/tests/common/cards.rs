//! An invented run and area, as the register would show them.

use register::view::{
    CoverLeg, Down, GridView, HeadView, MapArea, MapRun, Near, RunCard, RunCardLeg, RunCardVertex, Up, Why,
};
use register::words::CheckVerdict;

/// A grid tied to EPSG:32755.
pub fn grid() -> GridView {
    GridView {
        epsg: Some(32755),
        name: "WGS 84 / UTM zone 55S".into(),
        distances: "grid".into(),
        level_datum: "site datum".into(),
        bench_mark: "BM1".into(),
    }
}

/// A head.
pub fn head() -> HeadView {
    HeadView {
        n: 12,
        hex: "ab".repeat(32),
        recorded_at: Some("2026-05-04T04:30:00.000Z".into()),
    }
}

/// Returns a why.
pub fn why(reasons: &[(&str, &str)]) -> Why {
    reasons
        .iter()
        .map(|&(name, reason)| (name.to_owned(), reason.to_owned()))
        .collect()
}

/// A vertex, measured on its outside top.
pub fn vertex(point: &str, measured: [&str; 3]) -> RunCardVertex {
    let at: [f64; 3] = measured.map(|text| text.parse().unwrap());
    RunCardVertex {
        point: point.into(),
        measured: measured.map(str::to_owned),
        how: "sighted from station S1".into(),
        touched: "outside-top".into(),
        chainage_m: Near(0.0),
        axis: [Near(at[0]), Near(at[1]), Near(at[2] - 0.055)],
        top_level_m: Near(at[2]),
        invert_level_m: None,
        u95_h_m: Some(Up(0.0122)),
        ellipse: None,
        u95_v_m: Some(Up(0.0098)),
        u95_assumed: false,
        doubts: Vec::new(),
        known: "seen".into(),
        surface_level_m: Some(Near(at[2] + 0.5989)),
        cover_m: Some(Down(0.5989)),
        cover_u95_m: Some(Up(0.0211)),
        depth_to_invert_m: None,
        observed_at: "2026-05-04T14:30:00+10:00".into(),
        by: "Person 1".into(),
        entry: 4,
        why: why(&[
            ("invert_level_m", "the wall thickness is not known"),
            ("depth_to_invert_m", "the wall thickness is not known"),
        ]),
    }
}

/// A run through vertices.
pub fn card(run: &str, vertices: Vec<RunCardVertex>) -> RunCard {
    let leg = |pair: &[RunCardVertex]| RunCardLeg {
        cover: CoverLeg {
            from: pair[0].point.clone(),
            to: pair[1].point.clone(),
            length_m: Near(1.0),
            least_cover_m: Some(Down(0.5989)),
            worst_cover_m: None,
            at_chainage_m: Some(Near(0.0)),
            riser: false,
            unshot_m: Some(Up(0.0)),
            unshot_says: None,
            fall: None,
            cover_verdict: CheckVerdict::NotProved,
            why: Why::new(),
        },
        known: "seen".into(),
    };
    RunCard {
        format: "coverbook.run/1".into(),
        run: run.into(),
        service: "sewer".into(),
        letters: "S".into(),
        section: "110 mm outside".into(),
        outside_m: Near(0.110),
        section_assumed: false,
        status: "in-use".into(),
        known: "seen".into(),
        ends: ["enters pit 1".into(), "not-stated".into()],
        owner: None,
        note: None,
        below: Some("Yard, north, finished-built, 2026-04-01".into()),
        legs: vertices.windows(2).map(leg).collect(),
        vertices,
        length_m: Near(10.0),
        bow_m: None,
        findings: vec![],
        entries: vec![5, 4],
        releases: Vec::new(),
        why: Why::new(),
    }
}

/// Two vertices 10 m apart near the invented site's middle.
pub fn plain_card(run: &str) -> RunCard {
    let vertices = vec![
        vertex("P1", ["432100.120", "5811000.50", "12.340"]),
        vertex("P2", ["432110.120", "5811000.50", "12.300"]),
    ];
    card(run, vertices)
}

/// A searched area whose ring is given clockwise, as a field sketch may have it.
pub fn area(ring: &[[f64; 2]]) -> MapArea {
    MapArea {
        area: "A1".into(),
        ring: ring.iter().map(|at| at.map(Near)).collect(),
        services: vec![],
        counts: true,
        says: "swept with a detector to 12.000 m on 2026-05-04, all found recorded".into(),
    }
}

/// The drawn axis of a run.
pub fn drawn(run: &str, line: &[[f64; 3]]) -> MapRun {
    MapRun {
        run: run.into(),
        service: "sewer".into(),
        line: line.iter().map(|at| at.map(Near)).collect(),
        width_m: Near(0.110),
        u95_h_m: vec![],
        known: "seen".into(),
        status: "in-use".into(),
        doubts: Vec::new(),
        ends: ["enters pit 1".into(), "not-stated".into()],
    }
}
