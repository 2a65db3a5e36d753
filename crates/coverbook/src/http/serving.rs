//! Listening and stopping.

use super::{App, Hosts, Limits, app};
use crate::acts::{ActError, Register};
use std::net::{SocketAddr, ToSocketAddrs};
use std::sync::Arc;
use tokio::net::TcpListener;
use tokio::sync::watch;

/// A server that listens and does not answer yet.
#[derive(Debug)]
pub struct Bound {
    listener: TcpListener,
    /// Where it listens.
    pub address: SocketAddr,
}

/// Begins to listen.
///
/// # Errors
/// An address that is none, or is taken.
pub async fn bind(listen: &str) -> Result<Bound, ActError> {
    let refuse = |says: String| ActError::asked("listen", says);
    let address = listen
        .to_socket_addrs()
        .map_err(|e| {
            refuse(format!(
                "{listen:?} is no address to listen on ({e}); write 127.0.0.1:8017"
            ))
        })?
        .next()
        .ok_or_else(|| {
            refuse(format!(
                "{listen:?} is no address to listen on; write 127.0.0.1:8017"
            ))
        })?;
    let listener = TcpListener::bind(address).await.map_err(|error| {
        refuse(format!("cannot listen on {address} ({error}); stop what uses it, or choose another with --listen 127.0.0.1:0"))
    })?;
    let address = listener.local_addr().map_err(|e| refuse(e.to_string()))?;
    Ok(Bound { listener, address })
}

impl Bound {
    /// Answers until `stop` comes, then lets requests under way end.
    ///
    /// # Errors
    /// A listener that fails.
    pub async fn serve(
        self,
        register: Arc<Register>,
        extra_hosts: &[String],
        stop: impl Future<Output = ()> + Send + 'static,
    ) -> Result<(), ActError> {
        let (stopped, stopping) = watch::channel(false);
        let state = App {
            register,
            hosts: Arc::new(Hosts::of(self.address, extra_hosts)),
            limits: Limits::default(),
            stopping,
        };
        let stop = async move {
            stop.await;
            // Open event streams end too; nobody listening is no failure.
            let _ = stopped.send(true);
        };
        axum::serve(self.listener, app(state))
            .with_graceful_shutdown(stop)
            .await
            .map_err(|error| ActError::Fault(format!("the server ended: {error}")))
    }
}
