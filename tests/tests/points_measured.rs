//! Points by tape, satellite and detector through the front doors: tried, recorded, sent again, moved, verified.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::{Demo, PERSON};
use serde_json::{Value, json};

/// 50.535 m along the line between the two control points and 7.115 m to the left: by hand (431047.0, 5093031.0), where
/// the line runs 61.568 east and 52.429 south in 80.868 m.
fn by_offset(label: &str, level: Value) -> Value {
    json!({"point": label, "touched": "outside-top", "known": "seen", "measured": {
        "by": "offset", "from": "SK1", "to": "SK2", "chainage_m": "50.535", "chainage_sigma_mm": "8",
        "offset_m": "7.115", "offset_sigma_mm": "6", "side": "left", "square_sigma_deg": "0.2", "level": level}})
}

fn depth() -> Value {
    json!({"by": "depth", "surface": "Finished surface", "surface_kind": "finished-built", "depth_m": "0.450",
        "sigma_mm": "5"})
}

fn asked(points: Value, id: &str) -> Value {
    json!({"points": points, "by": PERSON, "id": id})
}

const ID: &str = "01900000-0000-7000-8000-000000000301";

fn level(card: &Value) -> f64 {
    card["at"][2].as_f64().unwrap()
}

#[tokio::test]
async fn a_taped_point_is_tried_recorded_and_moved_with_its_surface() {
    let demo = Demo::new();
    let before = demo.head();
    let body = asked(json!([by_offset("T1", depth())]), ID);
    let tried = demo.post("SITE/points/try", &body).await;
    assert_eq!(tried.status, StatusCode::OK, "{}", tried.json());
    let tried = tried.json()[0].clone();
    assert_eq!(demo.head(), before, "only tried");
    // The grid is 0.34 per mille shorter than the tape here: some 17 mm in 50 m.
    assert!(
        (tried["at"][0].as_f64().unwrap() - 431_047.0).abs() < 0.03,
        "{tried}"
    );
    assert!(
        (tried["at"][1].as_f64().unwrap() - 5_093_031.0).abs() < 0.03,
        "{tried}"
    );
    assert_eq!((&tried["entry"], &tried["known"]), (&Value::Null, &json!("seen")));
    let recorded = demo.post("SITE/points", &body).await.json()[0].clone();
    assert_eq!(recorded["at"], tried["at"]);
    let shown = demo.get("SITE/points/T1").await.json();
    assert_eq!(shown, recorded);
    let how = shown["how"].as_str().unwrap();
    assert!(
        how.starts_with(
            "taped 50.535 m along the line from SK1 to SK2, 7.115 m to the left; taped 0.450 m below"
        ),
        "{how}"
    );
    // The surface under the tape is measured again: the level follows; sent again, the entry is the one recorded.
    let anew = json!({"name": "Finished surface", "surface_kind": "finished-built", "observed_at": "2025-07-01",
        "level_m": "3.900", "sigma_v_mm": "4", "by": PERSON});
    assert_eq!(demo.post("SITE/surfaces", &anew).await.status, StatusCode::OK);
    let moved = demo.get("SITE/points/T1").await.json();
    assert!((level(&moved) - 3.45).abs() < 1e-9, "{moved}");
    let again = demo.post("SITE/points", &body).await;
    assert_eq!(again.status, StatusCode::OK, "{}", again.json());
    let mut other = body.clone();
    other["points"][0]["measured"]["offset_m"] = "7.2".into();
    assert_eq!(demo.post("SITE/points", &other).await.json()["code"], "same-id");
    assert_eq!(demo.get("SITE/verify").await.json()["holds"], true);
}

#[tokio::test]
async fn what_cannot_be_known_that_way_is_refused_and_changes_nothing() {
    let demo = Demo::new();
    let before = demo.head();
    let detector = json!({"by": "detector", "surface": "Finished surface", "surface_kind": "finished-built",
        "depth_m": "0.9", "method": "active", "percent": "5", "constant_mm": "25", "across_mm": "100", "means": "95"});
    let at = |level: Value| {
        json!({"by": "coordinates", "easting_m": "431047", "northing_m": "5093031", "sigma_h_mm": "30",
        "level": level})
    };
    let ellipsoid = json!({"by": "receiver", "height_m": "50.1", "above": "ellipsoid", "antenna_m": "2"});
    let satellite = json!({"by": "satellite", "easting_m": "431047", "northing_m": "5093031", "fix": "fixed",
        "horizontal_mm": "14", "vertical_mm": "20", "means": "sigma", "level": ellipsoid});
    let seen = json!({"point": "D1", "touched": "centre", "known": "seen", "measured": at(detector.clone())});
    let invert = json!({"point": "D1", "touched": "invert", "measured": at(detector)});
    let height = json!({"point": "D1", "touched": "centre", "measured": satellite});
    let untold = json!({"point": "D1", "touched": "centre", "measured": {"by": "ties", "side": "left",
        "ties": [{"from": "SK1", "distance_m": "5", "sigma_mm": "5"}, {"from": "SK2", "distance_m": "5", "sigma_mm": "5"}]}});
    for (point, code) in [
        (seen, "detected-not-seen"),
        (invert, "detected-touched"),
        (height, "ellipsoid"),
        (untold, "level-missing"),
    ] {
        for path in ["SITE/points/try", "SITE/points"] {
            let answer = demo.post(path, &asked(json!([point]), ID)).await;
            assert_eq!(
                answer.status,
                StatusCode::UNPROCESSABLE_ENTITY,
                "{}",
                answer.json()
            );
            assert_eq!(answer.json()["code"], code);
        }
    }
    let mut misspelt = asked(json!([by_offset("T1", depth())]), ID);
    misspelt["points"][0]["measured"]["level"]["sigmamm"] = "5".into();
    let answer = demo.post("SITE/points", &misspelt).await;
    assert_eq!(answer.status, StatusCode::BAD_REQUEST, "{}", answer.json());
    assert_eq!(demo.get("SITE/points/T1").await.status, StatusCode::NOT_FOUND);
    assert_eq!(demo.head(), before);
}

#[tokio::test]
async fn a_file_of_offsets_and_detected_depths_makes_a_run_that_verifies() {
    let demo = Demo::new();
    let offsets = "point,touched,line_from,line_to,chainage,offset,side,tape_sigma_mm,depth,below,sigma_v_mm,known,run,service,outside_mm,material\n\
        K1,outside-top,SK1,SK2,48.0,7.0,left,8,0.45,Finished surface,5,seen,K,water,63,PE\n\
        K2,outside-top,SK1,SK2,52.0,7.0,left,8,0.46,Finished surface,5,seen,K,water,63,PE\n";
    let tried = demo
        .import("as=offsets&file=o.csv&dry_run=1", offsets)
        .await
        .json();
    assert_eq!(
        (&tried["accepted"], tried["points"].as_array().unwrap().len()),
        (&json!(true), 2),
        "{tried}"
    );
    let doubts = tried["findings"].to_string();
    assert!(doubts.contains("by eye"), "{doubts}");
    let import = "as=offsets&file=o.csv&by=Tess&import_id=01900000-0000-7000-8000-000000000302";
    assert_eq!(demo.import(import, offsets).await.json()["accepted"], true);
    let again = demo.import(import, offsets).await.json();
    assert!(
        again["says"].as_str().unwrap().contains("in the book already"),
        "{again}"
    );
    let card = demo.get("SITE/runs/K").await.json();
    assert_eq!(card["known"], "seen", "{card}");
    let detected = "point,touched,easting,northing,sigma_h_mm,depth,below,method,percent,constant_mm,across_mm,means,run,service,outside_mm\n\
        V1,centre,431046,5093030,30,0.80,Finished surface,active,5,25,100,95,V,electric-lv,50\n\
        V2,centre,431049,5093030,30,0.82,Finished surface,active,5,25,100,95,V,electric-lv,50\n";
    let imported = demo.import("as=detected&file=d.csv&by=Tess", detected).await;
    assert_eq!(imported.status, StatusCode::OK, "{}", imported.json());
    let card = demo.get("SITE/runs/V").await.json();
    assert_eq!(card["known"], "traced");
    let u95 = card["vertices"][0]["u95_v_m"].as_f64().unwrap();
    // 5 % of 0.80 m and 25 mm are 65 mm at 95 %; the surface adds its own.
    assert!(u95 >= 0.065, "{u95}");
    let seen = detected
        .replace("V1", "V3")
        .replace("V2", "V4")
        .replace(",V,", ",U,")
        .replace("means,run", "means,known,run")
        .replace(",95,U", ",95,seen,U");
    let refused = demo.import("as=detected&file=d.csv&by=Tess", &seen).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let answer = refused.json();
    assert!(
        answer["message"]
            .as_str()
            .unwrap()
            .contains("traced and never seen"),
        "{answer}"
    );
    assert_eq!(answer["where"]["row"], 2, "{answer}");
    assert_eq!(demo.get("SITE/verify").await.json()["holds"], true);
}
