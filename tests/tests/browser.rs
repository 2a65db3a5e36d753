//! The page in a real browser against a real server with the demonstration in it.
//!
//! The browser's own checks are in `browser/run.mjs`. A missing browser is a failure, never a silent skip.

#![expect(clippy::unwrap_used, reason = "a check fails by panicking")]

mod common;

use common::Demo;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;

#[test]
fn the_page_holds_in_a_browser() {
    let demo = Demo::new();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .unwrap();
    let bound = runtime.block_on(coverbook::http::bind("127.0.0.1:0")).unwrap();
    let address = bound.address;
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let register = Arc::clone(&demo.register);
    let server = runtime.spawn(async move {
        let stopped = async {
            let _ = stopped.await;
        };
        bound.serve(register, &[], stopped).await.unwrap();
    });
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("browser");
    let output = Command::new("node")
        .arg("run.mjs")
        .arg(format!("http://{address}"))
        .current_dir(&folder)
        .output()
        .expect("node could not be started; install Node 20 or newer");
    stop.send(()).unwrap();
    runtime.block_on(server).unwrap();
    assert!(
        output.status.success(),
        "{}\n{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
}
