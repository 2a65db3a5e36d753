//! `serve` and `demo`: the register to browsers on this machine.

use super::args::{Cli, Demo, Serve};
use super::output::Output;
use super::{Ended, Outcome, register_file};
use crate::acts::{ActError, Register, system_clock};
use crate::{demo as demo_site, http};
use std::path::PathBuf;
use std::sync::Arc;
use store::{Access, SqliteStore};

/// Serves the register.
pub(crate) fn serve(cli: &Cli, args: &Serve, output: &Output) -> Outcome {
    let register = register_file::to_serve(cli)?;
    answer(Arc::new(register), &args.listen, &args.host, output)
}

/// Loads the invented site and serves it.
pub(crate) fn demo(cli: &Cli, args: &Demo, output: &Output) -> Outcome {
    let (path, folder) = match &cli.register {
        Some(path) => (path.clone(), None),
        None => {
            let folder = std::env::temp_dir().join(format!("coverbook-demo-{}", uuid::Uuid::now_v7()));
            std::fs::create_dir_all(&folder).map_err(|error| ActError::File {
                file: folder.display().to_string(),
                why: error.to_string(),
            })?;
            (folder.join("demo.db"), Some(folder))
        }
    };
    let ended = load_and_serve(path, args, output);
    if let Some(folder) = folder {
        // It was made for this one time.
        let _ = std::fs::remove_dir_all(folder);
    }
    ended
}

fn load_and_serve(path: PathBuf, args: &Demo, output: &Output) -> Outcome {
    let store = SqliteStore::open_or_create(&path, Access::Serve)?;
    let register = Register::new(Arc::new(store), system_clock());
    if register.sites()?.is_empty() {
        demo_site::load(&register, &mut |file| output.says(&format!("reading {file}")))?;
    }
    output.says(&format!("register: {}", path.display()));
    if args.no_serve {
        return Ok(Ended::Done);
    }
    answer(Arc::new(register), &args.listen, &[], output)
}

fn answer(register: Arc<Register>, listen: &str, hosts: &[String], output: &Output) -> Outcome {
    let _ = tracing_subscriber::fmt()
        .with_writer(std::io::stderr)
        .with_env_filter(
            tracing_subscriber::EnvFilter::try_from_default_env()
                .unwrap_or_else(|_unset| tracing_subscriber::EnvFilter::new("warn")),
        )
        .try_init();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|error| ActError::Fault(format!("the server could not start: {error}")))?;
    runtime.block_on(async {
        let bound = http::bind(listen).await?;
        output.bytes(format!("http://{}\n", bound.address).as_bytes())?;
        if !bound.address.ip().is_loopback() {
            output.says("this address can be reached by others, and whoever reaches it can read and write");
        }
        output.says("stop with Ctrl+C");
        let warming = Arc::clone(&register);
        tokio::task::spawn_blocking(move || {
            if let Err(error) = warming.warm() {
                tracing::error!(%error, "a site could not be read");
            }
        });
        bound.serve(register, hosts, stop_asked()).await
    })?;
    output.says("stopped");
    Ok(Ended::Done)
}

/// Waits until the process is asked to stop.
async fn stop_asked() {
    let interrupt = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    let terminate = async {
        match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(mut signal) => {
                signal.recv().await;
            }
            Err(_unavailable) => std::future::pending::<()>().await,
        }
    };
    #[cfg(not(unix))]
    let terminate = std::future::pending::<()>();
    tokio::select! {
        () = interrupt => {}
        () = terminate => {}
    }
}
