//! Times the acts at size, each beside a peer in the same run; prints a table.
//!
//! `cargo bench -p coverbook`. `COVERBOOK_BENCH_LEGS` makes the large register smaller than its 1,000,000 legs.
#![expect(clippy::print_stdout, reason = "a bench prints its figures")]
#![expect(clippy::unwrap_used, reason = "a bench that fails has nothing to say")]

use coverbook::acts::{Author, ImportAsk, ImportKind, Near, OpenSite, Register, SurfaceAsk, system_clock};
use coverbook::http;
use register::body::{Act, PointRow, PointsRecorded, RunEnd, RunLaid, SectionRow};
use register::dig::DigQuestion;
use register::service::Service;
use register::words::{Known, SurfaceKind, Touched};
use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};
use store::{Access, SqliteStore};
use survey::Decimal;
use uuid::Uuid;

const ROWS: usize = 200_000;
const LEGS_PER_RUN: usize = 20;
const DIGS: usize = 2_000;

fn main() {
    let folder = tempfile::tempdir_in(".").unwrap();
    import_beside_a_bare_insert(folder.path());
    digs_at_size(folder.path());
}

fn author() -> Author {
    Author {
        by: "Bench".into(),
        device: "bench".into(),
    }
}

fn open(path: &Path, access: Access) -> Register {
    Register::new(
        Arc::new(SqliteStore::open_or_create(path, access).unwrap()),
        system_clock(),
    )
}

fn decimal(value: f64) -> Decimal {
    format!("{value:.3}").parse().unwrap()
}

fn open_site(register: &Register) -> Uuid {
    let ask = OpenSite {
        name: "Bench".into(),
        epsg: Some(32631),
        level_datum: "bench datum".into(),
        bench_mark: "bolt".into(),
        distances: None,
        near: Near {
            easting: decimal(431_000.0),
            northing: decimal(5_712_000.0),
            level: decimal(50.0),
        },
        reach_m: Some(decimal(50_000.0)),
        level_reach_m: None,
        contact: None,
        observed_at: None,
    };
    register.open_site(ask, &author()).unwrap().0
}

fn import_beside_a_bare_insert(folder: &Path) {
    let mut file = String::from("point,easting,northing,level,touched,sigma_h_mm,sigma_v_mm,known,note\n");
    for i in 0..ROWS {
        let (e, n) = (
            430_000.0 + (i % 500) as f64 * 3.001,
            5_711_000.0 + (i / 500) as f64 * 3.003,
        );
        writeln!(
            file,
            "P{i},{e:.3},{n:.3},{:.3},outside-top,5,3,seen,bench",
            48.0 + (i % 97) as f64 / 100.0
        )
        .unwrap();
    }
    let register = open(&folder.join("import.db"), Access::Serve);
    let site = open_site(&register);
    let ask = ImportAsk {
        observed_at: Some("2031-05-03".into()),
        ..ImportAsk::new(ImportKind::Points, "bench.csv")
    };
    let began = Instant::now();
    let preview = register
        .import(site, file.as_bytes(), &ask, &author(), &mut |_| {})
        .unwrap();
    let ours = began.elapsed();
    assert!(preview.accepted, "{:?}", preview.findings.first());
    let began = Instant::now();
    let bare = rusqlite::Connection::open(folder.join("bare.db")).unwrap();
    bare.execute_batch("pragma journal_mode = wal; create table p (a, b, c, d, e, f, g, h, i)")
        .unwrap();
    bare.execute_batch("begin").unwrap();
    let mut rows = 0;
    {
        let mut insert = bare
            .prepare("insert into p values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)")
            .unwrap();
        for row in csv::Reader::from_reader(file.as_bytes()).records() {
            insert
                .execute(rusqlite::params_from_iter(row.unwrap().iter()))
                .unwrap();
            rows += 1;
        }
    }
    bare.execute_batch("commit").unwrap();
    let peer = began.elapsed();
    assert_eq!(rows as u64, preview.rows);
    println!(
        "import of {ROWS} rows, read, checked, folded and durable: {:.2} s; csv crate and a bare insert: {:.2} s; ratio {:.2}",
        ours.as_secs_f64(),
        peer.as_secs_f64(),
        ours.as_secs_f64() / peer.as_secs_f64()
    );
}

/// Streets 100 m apart with six services side by side, in runs of 20 legs of 5 m.
fn build(register: &Register, site: Uuid, legs: usize) {
    let runs = legs / LEGS_PER_RUN;
    let per_row = (legs as f64 / 16_000.0).sqrt().ceil() as usize * 10;
    let mut batch = Vec::new();
    let mut points = Vec::new();
    let services = [
        Service::Water,
        Service::Gas,
        Service::ElectricLv,
        Service::Comms,
        Service::Sewer,
        Service::Stormwater,
    ];
    for i in 0..runs {
        let (lane, block) = (i % 6, i / 6);
        let (column, street) = (block % per_row, block / per_row);
        let start = (
            431_000.0 + column as f64 * 100.0,
            5_712_000.0 + street as f64 * 100.0 + lane as f64 * 0.7,
        );
        let mut labels = Vec::new();
        for v in 0..=LEGS_PER_RUN {
            let along = v as f64 * 5.0;
            let label = format!("{i}-{v}");
            points.push(PointRow {
                point: label.clone(),
                easting_m: decimal(start.0 + along),
                northing_m: decimal(start.1 + (along / 30.0).sin() * 0.4),
                level_m: decimal(49.2 - lane as f64 * 0.15 - along * 0.002),
                touched: Touched::OutsideTop,
                side_bearing_deg: None,
                sigma_h_mm: Some(decimal(10.0)),
                sigma_v_mm: Some(decimal(6.0)),
                known: Some(Known::Seen),
                fitting: None,
                bend_radius_mm: None,
                observed_at: None,
                note: None,
                same_as: None,
                measured: None,
                row: None,
            });
            labels.push(label);
        }
        batch.push(Act::RunLaid(RunLaid {
            run: format!("R{i}"),
            service: services[lane],
            points: labels,
            section: SectionRow {
                outside_mm: Some(decimal(110.0)),
                ..SectionRow::default()
            },
            ends: [RunEnd::Capped, RunEnd::Capped],
            bow_mm: None,
            owner: None,
            note: None,
            import_id: None,
        }));
        if points.len() >= 3_000 || i + 1 == runs {
            let mut acts = vec![Act::PointsRecorded(PointsRecorded {
                checks: Vec::new(),
                import: None,
                points: std::mem::take(&mut points),
            })];
            acts.append(&mut batch);
            let entries = acts.into_iter().map(Into::into).collect();
            register.append(site, &author(), entries).unwrap();
        }
    }
}

fn digs_at_size(folder: &Path) {
    let legs: usize = std::env::var("COVERBOOK_BENCH_LEGS")
        .ok()
        .and_then(|v| v.parse().ok())
        .unwrap_or(1_000_000);
    let path = folder.join("digs.db");
    let began = Instant::now();
    let site = {
        let register = open(&path, Access::Serve);
        let site = open_site(&register);
        let surface = SurfaceAsk {
            name: "Ground".into(),
            kind: SurfaceKind::FinishedBuilt,
            id: None,
            observed_at: None,
            level_m: Some(decimal(50.0)),
            points: Vec::new(),
            within: None,
            sigma_v_mm: Some(decimal(5.0)),
        };
        register.record_surface(site, surface, &author()).unwrap();
        build(&register, site, legs);
        site
    };
    println!(
        "{legs} legs recorded through the acts in {:.0} s",
        began.elapsed().as_secs_f64()
    );
    let side = (legs as f64 / 16_000.0).sqrt() * 1000.0;
    let question = |i: usize| {
        // Spread by the golden ratio; four in five across a street.
        let share = |i: usize, by: f64| (i as f64 * by).fract();
        let e = 431_000.0 + share(i, 0.618_033_988_75) * side * 0.9 + 20.0;
        let street = (share(i, 0.754_877_666_25) * side * 0.9 / 100.0).floor() * 100.0;
        let n = 5_712_000.0 + street + if i.is_multiple_of(5) { 50.0 } else { 1.0 };
        DigQuestion {
            area: Some(vec![[e, n], [e + 6.0, n], [e + 6.0, n + 4.0], [e, n + 4.0]]),
            depth_m: Some(1.2),
            ..DigQuestion::default()
        }
    };
    // As the command line does it: nothing at hand.
    let mut cold = Vec::new();
    for i in 0..20 {
        let began = Instant::now();
        let register = open(&path, Access::Read);
        let answer = register.dig(site, &question(i)).unwrap();
        cold.push(began.elapsed());
        std::hint::black_box(answer);
    }
    println!("dig on {legs} legs, register opened for it: {}", told(cold));
    let register = Arc::new(open(&path, Access::Serve));
    let began = Instant::now();
    register.warm().unwrap();
    println!(
        "register of {legs} legs folded and packed: {:.2} s",
        began.elapsed().as_secs_f64()
    );
    let mut warm = Vec::new();
    let mut found = 0;
    for i in 0..DIGS {
        let question = question(i);
        let began = Instant::now();
        let answer = register.dig(site, &question).unwrap();
        warm.push(began.elapsed());
        found += answer.runs.len();
    }
    println!(
        "dig on {legs} legs, register open: {}; {:.1} runs an answer",
        told(warm),
        found as f64 / DIGS as f64
    );
    over_http(register, site, &|i| serde_json::to_string(&question(i)).unwrap());
}

fn over_http(register: Arc<Register>, site: Uuid, question: &dyn Fn(usize) -> String) {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .enable_all()
        .build()
        .unwrap();
    let bound = runtime.block_on(http::bind("127.0.0.1:0")).unwrap();
    let address = bound.address;
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let server = runtime.spawn(async move {
        let stopped = async {
            let _ = stopped.await;
        };
        bound.serve(register, &[], stopped).await.unwrap();
    });
    let mut connection = BufReader::new(TcpStream::connect(address).unwrap());
    connection.get_ref().set_nodelay(true).unwrap();
    let mut ask = |method: &str, path: &str, body: &str| {
        let request = format!(
            "{method} {path} HTTP/1.1\r\nhost: {address}\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{body}",
            body.len()
        );
        let began = Instant::now();
        connection.get_mut().write_all(request.as_bytes()).unwrap();
        let mut length = 0;
        loop {
            let mut line = String::new();
            connection.read_line(&mut line).unwrap();
            if let Some(value) = line.to_ascii_lowercase().strip_prefix("content-length:") {
                length = value.trim().parse().unwrap();
            }
            if line == "\r\n" {
                break;
            }
        }
        let mut body = vec![0; length];
        connection.read_exact(&mut body).unwrap();
        began.elapsed()
    };
    let empty: Vec<Duration> = (0..DIGS).map(|_| ask("GET", "/api/services", "")).collect();
    let path = format!("/api/sites/{site}/dig");
    let digs: Vec<Duration> = (0..DIGS).map(|i| ask("POST", &path, &question(i))).collect();
    println!("a small route over HTTP: {}", told(empty));
    println!("the same digs over HTTP: {}", told(digs));
    drop(connection);
    stop.send(()).unwrap();
    runtime.block_on(server).unwrap();
}

fn told(mut times: Vec<Duration>) -> String {
    times.sort_unstable();
    let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize].as_secs_f64() * 1000.0;
    format!("median {:.3} ms, p99 {:.3} ms", at(0.5), at(0.99))
}
