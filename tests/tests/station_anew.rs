//! A station set anew over HTTP: tried without recording, recorded with the control put right for it, sent again.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::{Demo, PERSON};
use serde_json::{Value, json};

/// The newest setting of the demo's station as its author wrote it, ready to be sent again.
async fn standing(demo: &Demo) -> Value {
    let stations = demo.get("SITE/stations").await.json();
    let entry = stations[0]["entries"]
        .as_array()
        .unwrap()
        .last()
        .unwrap()
        .as_u64()
        .unwrap();
    let journal = demo
        .get(&format!("SITE/journal?before={}&limit=1", entry + 1))
        .await
        .json();
    let mut body = journal["entries"][0]["body"].clone();
    for of_the_entry in ["kind", "v", "id", "by", "device", "observed_at", "import"] {
        body.as_object_mut().unwrap().remove(of_the_entry);
    }
    body["saw"] = json!(entry);
    body
}

/// The control of the demo carried 50 mm east, 20 mm south and 30 mm up.
async fn carried(demo: &Demo) -> Value {
    let map = demo.get("SITE/map").await.json();
    let points: Vec<Value> = map["control"]
        .as_array()
        .unwrap()
        .iter()
        .map(|c| {
            let at: Vec<f64> = c["at"]
                .as_array()
                .unwrap()
                .iter()
                .map(|v| v.as_f64().unwrap())
                .collect();
            json!({"point": c["point"], "easting_m": format!("{:.3}", at[0] + 0.05),
                "northing_m": format!("{:.3}", at[1] - 0.02), "level_m": format!("{:.3}", at[2] + 0.03)})
        })
        .collect();
    json!({"points": points})
}

/// Easting of the first point of a run.
async fn axis(demo: &Demo, run: &str) -> f64 {
    let card = demo.get(&format!("SITE/runs/{run}")).await.json();
    card["vertices"][0]["axis"][0].as_f64().unwrap()
}

#[tokio::test]
async fn what_better_control_would_move_is_told_and_then_moves_once() {
    let demo = Demo::new();
    let mut body = standing(&demo).await;
    let station = body["station"].as_str().unwrap().to_owned();
    body["control"] = carried(&demo).await;
    let before = demo.head();
    let tried = demo.post("SITE/stations/try-anew", &body).await;
    let text = String::from_utf8_lossy(&tried.bytes).into_owned();
    assert_eq!(tried.status, StatusCode::OK, "{text}");
    assert_eq!(demo.head(), before, "a trial was recorded");
    let view = tried.json();
    // Carried along with its control, everything moves by as much as the control did (closed form); a point whose
    // level comes from a level book keeps that.
    let plan = 0.05f64.hypot(0.02);
    assert!(
        (view["largest_plan"]["plan_m"].as_f64().unwrap() - plan).abs() < 0.002,
        "{text}"
    );
    assert_eq!(view["station_level_m"], json!(0.03));
    assert!(view["moved"].as_u64().unwrap() > 0 && !view["runs"].as_array().unwrap().is_empty());
    let run = view["runs"][0]["run"].as_str().unwrap().to_owned();
    let stood = axis(&demo, &run).await;

    let id = json!("01900000-0000-7000-8000-000000000301");
    body["id"] = id;
    body["by"] = json!(PERSON);
    body["control"]["id"] = json!("01900000-0000-7000-8000-000000000302");
    let set = demo.post("SITE/stations", &body).await;
    assert_eq!(
        set.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&set.bytes)
    );
    let head = demo.head();
    let set = set.json();
    assert_eq!(
        set["at"], view["after"]["at"],
        "what was tried is what was recorded"
    );
    let revisions = set["revisions"].as_array().unwrap();
    assert_eq!(revisions.len(), 2);
    assert_eq!(
        revisions[0]["at"], view["before"]["at"],
        "the old state stays readable"
    );
    let by = axis(&demo, &run).await - stood;
    assert!((by - 0.05).abs() < 0.002, "the run moved {by} m east");
    let journal = demo.get("SITE/journal?limit=2").await.json();
    let says = journal["entries"][0]["says"].as_str().unwrap();
    assert!(
        says.starts_with(&format!("Set again station {station}")) && says.contains("(entry "),
        "{says}"
    );

    // Sent again, as a phone does that heard no answer: both entries are there, and nothing is added.
    let again = demo.post("SITE/stations", &body).await;
    assert_eq!(
        again.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&again.bytes)
    );
    assert_eq!(demo.head(), head);
    assert_eq!(demo.get("SITE/verify").await.json()["holds"], true);
}

#[tokio::test]
async fn a_trial_that_cannot_be_read_or_names_nothing_is_refused() {
    let demo = Demo::new();
    let mut body = standing(&demo).await;
    body["control"] = json!({"points": [{"point": "nowhere", "easting_m": "431000.000"}]});
    let refused = demo.post("SITE/stations/try-anew", &body).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        refused.json()["message"]
            .as_str()
            .unwrap()
            .contains("nowhere is not recorded yet")
    );
    body["control"] = json!([]);
    assert_eq!(
        demo.post("SITE/stations/try-anew", &body).await.status,
        StatusCode::BAD_REQUEST
    );
    body.as_object_mut().unwrap().remove("control");
    body["station"] = json!("ST99");
    assert_eq!(
        demo.post("SITE/stations/try-anew", &body).await.status,
        StatusCode::NOT_FOUND
    );
}
