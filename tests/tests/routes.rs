//! The routes, called without a socket: who may ask, what they answer, and that a refusal changes nothing.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

mod common;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use common::{Demo, HOST, PERSON, trench};
use serde_json::json;

#[tokio::test]
async fn a_request_by_another_name_is_refused() {
    let demo = Demo::new();
    for host in ["evil.example", "evil.example:8017", "127.0.0.1:9999", "127.0.0.1"] {
        let request = Request::get("/api/sites")
            .header("host", host)
            .body(Body::empty())
            .unwrap();
        let answer = demo.send(request).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{host}");
        assert_eq!(answer.json()["code"], "host");
    }
    let nameless = demo
        .send(Request::get("/api/sites").body(Body::empty()).unwrap())
        .await;
    assert_eq!(nameless.status, StatusCode::FORBIDDEN);
    assert_eq!(demo.get("/api/sites").await.status, StatusCode::OK);
}

#[tokio::test]
async fn a_page_from_elsewhere_cannot_write() {
    let demo = Demo::new();
    let before = demo.head();
    let note = json!({"text": "x", "by": PERSON}).to_string();
    let path = format!("/api/sites/{}/notes", demo.site);
    for (name, value) in [
        ("origin", "http://evil.example"),
        ("origin", "null"),
        ("origin", "https://127.0.0.1:8017"),
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
    ] {
        let request = Request::post(&path)
            .header("host", HOST)
            .header("content-type", "application/json")
            .header(name, value);
        let answer = demo.send(request.body(Body::from(note.clone())).unwrap()).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{name}: {value}");
        assert_eq!(answer.json()["code"], "origin");
    }
    // A form's media type does not get in either.
    let request = Request::post(&path)
        .header("host", HOST)
        .header("content-type", "text/plain");
    let answer = demo.send(request.body(Body::from(note)).unwrap()).await;
    assert_eq!(answer.status, StatusCode::UNSUPPORTED_MEDIA_TYPE);
    assert_eq!(demo.head(), before);
}

#[tokio::test]
async fn every_response_says_what_a_browser_may_do() {
    let demo = Demo::new();
    for path in ["/", "/api/sites", "/api/none", "/none"] {
        let answer = demo.get(path).await;
        let policy = answer.header("content-security-policy");
        for part in [
            "default-src 'none'",
            "script-src 'self'",
            "frame-ancestors 'none'",
            "form-action 'none'",
        ] {
            assert!(policy.contains(part), "{path}: {policy}");
        }
        assert!(!policy.contains("unsafe"), "{path}: {policy}");
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(answer.header("referrer-policy"), "no-referrer", "{path}");
        assert_eq!(answer.header("access-control-allow-origin"), "", "{path}");
    }
    assert_eq!(demo.get("/api/sites").await.header("cache-control"), "no-store");
}

#[tokio::test]
async fn a_body_over_the_limit_is_refused() {
    let demo = Demo::new();
    let before = demo.head();
    let answer = demo
        .post("SITE/notes", &json!({"text": "x".repeat(2 << 20), "by": PERSON}))
        .await;
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(answer.json()["code"], "too-large");
    assert_eq!(demo.head(), before);
}

#[tokio::test]
async fn a_dig_is_answered_with_what_is_not_known_first() {
    let demo = Demo::new();
    let before = demo.head();
    let answer = demo.post("SITE/dig", &trench()).await;
    assert_eq!(answer.status, StatusCode::OK);
    let answer = answer.json();
    assert_eq!(answer["format"], "coverbook.dig/1");
    assert!(!answer["runs"].as_array().unwrap().is_empty());
    let says = answer["says"].as_str().unwrap();
    assert!(says.contains("searched"), "{says}");
    for word in ["safe", "clear"] {
        assert!(!says.to_lowercase().contains(word), "{says}");
    }
    assert_eq!(demo.head(), before, "a question is not journaled");
}

#[tokio::test]
async fn a_kept_dig_is_an_entry_with_the_head_it_rested_on() {
    let demo = Demo::new();
    let before = demo.head();
    let mut question = trench();
    question["keep"] = true.into();
    assert_eq!(
        demo.post("SITE/dig", &question).await.status,
        StatusCode::UNPROCESSABLE_ENTITY,
        "by nobody"
    );
    assert_eq!(demo.head(), before);
    question["by"] = PERSON.into();
    assert_eq!(demo.post("SITE/dig", &question).await.status, StatusCode::OK);
    let book = demo.get("SITE/journal?limit=1").await.json();
    let entry = &book["entries"][0];
    assert_eq!(
        (entry["kind"].as_str(), entry["by"].as_str()),
        (Some("DigPlanned"), Some(PERSON))
    );
    assert_eq!(entry["body"]["head"], before);
}

#[tokio::test]
async fn a_question_that_leaves_something_open_is_refused_with_the_mend() {
    let demo = Demo::new();
    let mut question = trench();
    question.as_object_mut().unwrap().remove("surface");
    let answer = demo.post("SITE/dig", &question).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        answer.json()["message"]
            .as_str()
            .unwrap()
            .contains("Finished surface")
    );
    question["deph_m"] = 1.into();
    let answer = demo.post("SITE/dig", &question).await;
    assert_eq!(answer.status, StatusCode::BAD_REQUEST);
    assert!(answer.json()["message"].as_str().unwrap().contains("deph_m"));
}

const TWO_POINTS: &str = "point,easting,northing,level,touched,run,service,outside_mm,sigma_h_mm,sigma_v_mm,known\n\
    T1,431040.000,5093010.000,3.200,outside-top,T,gas,63,5,3,seen\n\
    T2,431045.000,5093010.000,3.190,outside-top,T,gas,63,5,3,seen\n";

#[tokio::test]
async fn an_import_is_shown_before_it_is_recorded() {
    let demo = Demo::new();
    let before = demo.head();
    let shown = demo.import("as=points&file=t.csv&dry_run=1", TWO_POINTS).await;
    assert_eq!(shown.status, StatusCode::OK);
    assert_eq!(
        (&shown.json()["accepted"], &shown.json()["entries"]),
        (&json!(true), &json!(0))
    );
    assert_eq!(demo.head(), before);
    let recorded = demo.import("as=points&file=t.csv&by=Tess", TWO_POINTS).await;
    assert_eq!(recorded.status, StatusCode::OK);
    // One entry of points and one of the run.
    assert_eq!(recorded.json()["entries"], 2);
    let card = demo.get("SITE/runs/T").await.json();
    assert_eq!(
        card["vertices"][0]["measured"],
        json!(["431040.000", "5093010.000", "3.200"])
    );
}

#[tokio::test]
async fn a_refused_import_names_file_row_and_column_and_leaves_the_head_as_it_was() {
    let demo = Demo::new();
    let before = demo.head();
    let bad = format!("{TWO_POINTS}T3,43104x,5093010.000,3.180,outside-top,T,gas,63,5,3,seen\n");
    let answer = demo.import("as=points&file=t.csv&by=Tess", &bad).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        answer.json()["where"],
        json!({"file": "t.csv", "row": 4, "column": "easting"})
    );
    // What only the record can refuse is found on a dry run too: the label is taken.
    assert_eq!(
        demo.import("as=points&file=t.csv&by=Tess", TWO_POINTS)
            .await
            .status,
        StatusCode::OK
    );
    let after = demo.head();
    assert_ne!(after, before);
    let again = demo
        .import("as=points&file=t.csv&dry_run=1", TWO_POINTS)
        .await
        .json();
    assert_eq!(again["accepted"], false);
    assert!(
        again["findings"][0]["says"].as_str().unwrap().contains("T1"),
        "{again}"
    );
    let answer = demo.import("as=points&file=t.csv&by=Tess", TWO_POINTS).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(demo.head(), after);
    assert_eq!(demo.get("SITE/verify").await.json()["holds"], true);
}

#[tokio::test]
async fn sending_the_same_import_twice_changes_nothing() {
    let demo = Demo::new();
    let query =
        "as=points&file=t.csv&by=Tess&observed_at=2031-05-03&import_id=01900000-0000-7000-8000-000000000001";
    let first = demo.import(query, TWO_POINTS).await;
    assert_eq!(
        first.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&first.bytes)
    );
    let head = demo.head();
    let second = demo.import(query, TWO_POINTS).await;
    assert_eq!(second.status, StatusCode::OK);
    assert_eq!(second.json()["entries"], 2);
    assert_eq!(demo.head(), head);
    // The same id with other content is refused loudly.
    let other = demo.import(query, &TWO_POINTS.replace("3.190", "3.180")).await;
    assert_eq!(
        (other.status, other.json()["code"].clone()),
        (StatusCode::CONFLICT, json!("same-id"))
    );
    assert_eq!(demo.head(), head);
}

#[tokio::test]
async fn sending_the_same_run_twice_changes_nothing() {
    let demo = Demo::new();
    let points = TWO_POINTS
        .replace("run,service,outside_mm,", "")
        .replace("T,gas,63,", "");
    assert_eq!(
        demo.import("as=points&file=t.csv&by=Tess", &points).await.status,
        StatusCode::OK
    );
    let mut run = json!({
        "run": "T", "service": "gas", "points": ["T1", "T2"], "section": {"outside_mm": "63"},
        "ends": [{"how": "capped"}, {"how": "not-stated"}], "by": PERSON,
        "id": "01900000-0000-7000-8000-000000000002"
    });
    assert_eq!(demo.post("SITE/runs", &run).await.status, StatusCode::OK);
    let head = demo.head();
    assert_eq!(demo.post("SITE/runs", &run).await.status, StatusCode::OK);
    assert_eq!(demo.head(), head);
    run["section"]["outside_mm"] = "90".into();
    assert_eq!(demo.post("SITE/runs", &run).await.status, StatusCode::CONFLICT);
    assert_eq!(demo.head(), head);
}

#[tokio::test]
async fn a_field_nobody_knows_is_refused_and_not_dropped() {
    let demo = Demo::new();
    let run = json!({
        "run": "T", "service": "gas", "points": ["G1-1", "G1-2"], "section": {"outsidemm": "63"},
        "ends": [{"how": "capped"}, {"how": "capped"}], "by": PERSON
    });
    let answer = demo.post("SITE/runs", &run).await;
    assert_eq!(answer.status, StatusCode::BAD_REQUEST);
    assert!(
        answer.json()["message"]
            .as_str()
            .unwrap()
            .contains("section.outsidemm")
    );
}

#[tokio::test]
async fn markup_in_a_label_stays_text_in_json() {
    let demo = Demo::new();
    let evil = "<img src=x onerror=alert(1)>";
    let points = TWO_POINTS.replace("T1,", &format!("{evil},"));
    let shown = demo.import("as=points&file=t.csv&by=Tess", &points).await;
    assert_eq!(shown.status, StatusCode::OK);
    assert_eq!(shown.header("content-type"), "application/json");
    assert_eq!(shown.json()["points"][0]["point"], evil);
    let card = demo.get("SITE/runs/T").await;
    assert_eq!(card.header("content-type"), "application/json");
    assert_eq!(card.json()["vertices"][0]["point"], evil);
}

#[tokio::test]
async fn surfaces_searches_rules_and_withdrawals_are_recorded_by_hand() {
    let demo = Demo::new();
    let surface = json!({"name": "Lid", "surface_kind": "finished-built", "observed_at": "2031-05-03T12:00:00Z",
        "level_m": "4.200", "sigma_v_mm": "3", "by": PERSON});
    let view = demo.post("SITE/surfaces", &surface).await.json();
    let lid = view["surfaces"]
        .as_array()
        .unwrap()
        .iter()
        .find(|s| s["name"] == "Lid")
        .unwrap()
        .clone();
    // 95 % of a level: 1.959964 x 3 mm, rounded up.
    assert_eq!(
        (lid["level_m"].as_f64(), lid["u95_m"].as_f64()),
        (Some(4.2), Some(0.006))
    );
    let area = json!({"area": "pit", "ring": [["431040", "5093010"], ["431042", "5093010"], ["431042", "5093012"]],
        "services": null, "method": "hand pit", "level_m": "2.5", "outcome": "all-found-recorded",
        "observed_at": "2031-05-03", "by": PERSON});
    assert_eq!(demo.post("SITE/searched", &area).await.status, StatusCode::OK);
    let adopted = demo
        .post(
            "SITE/rules",
            &json!({"id": "gb-site-practice", "confirmed": [], "by": PERSON}),
        )
        .await;
    assert_eq!(adopted.json()["rules"]["id"], "gb-site-practice");
    let entry = lid["entry"].as_u64().unwrap();
    let blank = demo
        .post(
            "SITE/withdraw",
            &json!({"entry": entry, "reason": " ", "by": PERSON}),
        )
        .await;
    assert_eq!(blank.status, StatusCode::UNPROCESSABLE_ENTITY);
    let view = demo
        .post(
            "SITE/withdraw",
            &json!({"entry": entry, "reason": "wrong lid", "by": PERSON}),
        )
        .await
        .json();
    assert!(
        view["surfaces"]
            .as_array()
            .unwrap()
            .iter()
            .all(|s| s["name"] != "Lid")
    );
    assert_eq!(demo.get("SITE/verify").await.json()["holds"], true);
}

#[tokio::test]
async fn a_new_site_is_opened_and_its_name_taken_once() {
    let demo = Demo::new();
    let site = json!({"name": "North jetty", "epsg": null, "level_datum": "jetty datum", "bench_mark": "bolt J1",
        "near": {"easting": "100", "northing": "200", "level": "4"}, "by": PERSON, "contact": null});
    let opened = demo.post("/api/sites", &site).await;
    assert_eq!(
        opened.status,
        StatusCode::OK,
        "{}",
        String::from_utf8_lossy(&opened.bytes)
    );
    assert_eq!(opened.json()["head"]["n"], 1);
    assert_eq!(demo.post("/api/sites", &site).await.json()["code"], "name-taken");
    assert_eq!(demo.get("/api/sites").await.json().as_array().unwrap().len(), 2);
    // The other site's grid is tied to nothing, so a dig says that it could not be asked.
    let answer = demo.post("SITE/dig", &trench()).await.json();
    assert_eq!(answer["not_compared"][0]["site"], "North jetty");
}

#[tokio::test]
async fn what_leaves_as_a_file_carries_its_type() {
    let demo = Demo::new();
    let geojson = demo.get("SITE/export?to=geojson").await;
    assert_eq!(geojson.header("content-type"), "application/geo+json");
    assert!(geojson.header("content-disposition").starts_with("attachment"));
    assert!(!geojson.json()["features"].as_array().unwrap().is_empty());
    let csv = demo.get("SITE/export?to=csv").await;
    assert!(csv.bytes.starts_with(b"point,easting,northing,level"));
    assert_eq!(
        demo.get("SITE/export?to=docx").await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    let sheet = demo
        .post(
            "SITE/sheet",
            &json!({"kind": "dig", "paper": "A4", "question": trench()}),
        )
        .await;
    assert_eq!(sheet.header("content-type"), "application/pdf");
    assert!(sheet.bytes.starts_with(b"%PDF-"));
}

#[tokio::test]
async fn the_contract_names_every_route_that_answers() {
    let demo = Demo::new();
    let document = demo.get("/api/openapi.json").await.json();
    let paths = document["paths"].as_object().unwrap();
    for path in [
        "/api/sites",
        "/api/sites/{id}",
        "/api/sites/{id}/map",
        "/api/sites/{id}/runs/{run}",
        "/api/sites/{id}/cover",
        "/api/sites/{id}/runs/{run}/separation",
        "/api/sites/{id}/journal",
        "/api/sites/{id}/verify",
        "/api/sites/{id}/dig",
        "/api/sites/{id}/import",
        "/api/sites/{id}/runs",
        "/api/sites/{id}/surfaces",
        "/api/sites/{id}/searched",
        "/api/sites/{id}/rules",
        "/api/rules",
        "/api/sites/{id}/withdraw",
        "/api/sites/{id}/notes",
        "/api/sites/{id}/sheet",
        "/api/sites/{id}/export",
        "/api/sites/{id}/events",
        "/api/services",
    ] {
        assert!(paths.contains_key(path), "{path} is not in the contract");
    }
    for view in [
        "DigAnswer",
        "CoverAnswer",
        "SiteMap",
        "RunCard",
        "ImportPreview",
        "VerifyView",
        "ErrorView",
    ] {
        assert!(document["components"]["schemas"][view].is_object(), "{view}");
    }
}

#[tokio::test]
async fn one_runs_separation_is_what_the_check_of_all_says_of_it() {
    let demo = Demo::new();
    let path = format!("/api/sites/{}/cover?surface=Finished%20surface", demo.site);
    let all = demo.get(&path).await.json();
    let all = all["separation"]["places"].as_array().unwrap();
    assert!(all.len() > 10);
    let told = |places: &[serde_json::Value], run: &str| {
        let mine = places
            .iter()
            .filter(|place| place["runs"].as_array().unwrap().contains(&json!(run)));
        let mut mine: Vec<String> = mine
            .map(|place| {
                let mut runs: Vec<_> = place["runs"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(|r| r.to_string())
                    .collect();
                runs.sort();
                format!(
                    "{runs:?} {} {} {}",
                    place["kind"], place["verdict"], place["gap_m"]
                )
            })
            .collect();
        mine.sort();
        mine
    };
    for (run, meets) in [("HV1", true), ("E05", true), ("S3", true), ("G1", false)] {
        let path = format!("/api/sites/{}/runs/{run}/separation", demo.site);
        let alone = demo.get(&path).await.json();
        let alone = alone["places"].as_array().unwrap();
        assert_eq!(told(alone, run), told(all, run), "{run}");
        assert_eq!(alone.len(), told(all, run).len(), "{run}");
        assert_eq!(!alone.is_empty(), meets, "{run}");
    }
    let none = demo
        .get(&format!("/api/sites/{}/runs/none/separation", demo.site))
        .await;
    assert!(none.status.is_client_error());
}

#[tokio::test]
async fn unknown_routes_and_sites_are_not_there() {
    let demo = Demo::new();
    assert_eq!(demo.get("/api/nothing").await.status, StatusCode::NOT_FOUND);
    assert_eq!(demo.get("/../Cargo.toml").await.status, StatusCode::NOT_FOUND);
    let answer = demo
        .get("/api/sites/01900000-0000-7000-8000-000000000000/map")
        .await;
    assert_eq!(answer.status, StatusCode::NOT_FOUND);
    assert_eq!(demo.get("SITE/runs/none").await.status, StatusCode::NOT_FOUND);
}
